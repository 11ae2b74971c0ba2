"""`meter`: the sheet of what a meter should show on every line, and what a filled sheet says.

The sheet as CSV is in `papers.readings`. What a reading means is `engine.meter_check`'s to say.
"""

import datetime
import shlex
from collections.abc import Sequence
from typing import Any

import click

from rackwright.cli.opening import Refusal, opened
from rackwright.cli.options import coil_temperature
from rackwright.cli.page import Page, Span, emit
from rackwright.cli.report import REPORT_FORMAT, json_text
from rackwright.cli.saving import see_that_it_is_free, tell_saved, write, write_text
from rackwright.cli.words import FILE, RIG
from rackwright.engine import cautions
from rackwright.engine.meter_check import OPEN, Checked, checked, clean, pair_tests, progress
from rackwright.engine.meter_check.kept_readings import measured
from rackwright.model.edits import note_reading
from rackwright.model.index import Index
from rackwright.model.night import moment
from rackwright.model.readings import Reading
from rackwright.model.rig import Rig
from rackwright.papers import identity
from rackwright.papers.meter_check import coils, limits
from rackwright.papers.readings import filled, sheet_text
from rackwright.store.spreadsheet.cells import CsvError
from rackwright.store.sweep_file import SweepError, read_sweep
from rackwright.units import Temperature


@click.command()
@click.argument("rig", type=RIG)
@click.option("--csv", "sheet", metavar="OUT", type=FILE, help="Write a sheet to fill in. Never overwrites.")
@click.option("--readings", metavar="FILE", type=FILE, help="Judge the readings of a filled sheet.")
@click.option("--coil", metavar="TEMPERATURE", help="Of the voice coils after a show; else that of the air.")
@click.option(
    "--sweep",
    "sweeps",
    multiple=True,
    metavar="PAIR=FILE",
    help="Judge an impedance sweep of a pole pair, as C1/1=FILE.",
)
@click.option("--apply", "target", metavar="OUT", help="Save those readings with the rig, in the file OUT.")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
def command(
    rig: str,
    sheet: str | None,
    readings: str | None,
    coil: str | None,
    sweeps: Sequence[str],
    target: str | None,
    as_json: bool,
) -> int:
    """Show what a meter should read on every line, and judge readings.

    Measure at the near end of each line, its plug pulled, amplifiers off.
    """
    if target is not None and readings is None and not sweeps:
        raise click.UsageError("--apply saves readings and sweeps: name them with --readings or --sweep.")
    hot = coil_temperature(coil)
    source = opened(rig)
    if target is not None:
        see_that_it_is_free(target, source.file)
    try:
        tested, notes = filled(source.rig, readings, hot) if readings is not None else (source.rig, ())
    except CsvError as error:
        raise Refusal(str(error)) from None
    for sweep in sweeps:
        tested = _swept(tested, sweep, hot)

    found = checked(Index(tested), hot.value if hot is not None else None)
    page = sheet_page(tested, found, hot)
    if notes:
        page.gap()
    for note in notes:
        page.say(note)
    if sheet is not None:
        write_text(sheet, sheet_text(found, identity.words(source.rig)))
        page.gap()
        page.say("Wrote:")
        page.to_copy(sheet)
        page.say("Fill in the readings, then check them:")
        page.to_copy(f"rackwright meter {shlex.quote(rig)} --readings {shlex.quote(sheet)}")
    if target is not None:
        aside = write(tested, target)
        tell_saved(page, target, aside)
    if as_json:
        emit(json_text(meter_report(tested, found, notes)))
    else:
        page.print()
    return 0 if clean(found) else 1


def _swept(rig: Rig, text: str, hot: Temperature | None) -> Rig:
    """The rig with the sweep of a pole pair, named as `C1/1=FILE`. Raises Refusal."""
    pairs = {test.id: test for test in pair_tests(Index(rig))}
    name, _, path = text.partition("=")
    if name not in pairs or not path:
        known = ", ".join(list(pairs)[:3]) or "none: it has no line"
        raise click.BadParameter(
            f'"{text}" names no pole pair and its file. Write one as C1/1=FILE; this rig has {known} …',
            param_hint="--sweep",
        )
    try:
        points = read_sweep(path)
    except SweepError as error:
        raise Refusal(str(error)) from None
    when = moment(datetime.datetime.now())
    test = pairs[name]
    return note_reading(rig, test.line, test.pair, sweep=points, when=when, coil_temperature=hot)


def sheet_page(rig: Rig, found: tuple[Checked, ...], hot: Temperature | None = None) -> Page:
    """Expected reading and limits of every pole pair, what was read, and what explains it."""
    page = Page()
    page.heading(f"Meter check: {rig.title}")
    if not found:
        page.say("There is no line to check yet.")
        return page
    page.say(Span(cautions.METER, "caution"))
    page.say(f"{progress(found)}. Measure at the near end, its plug pulled, all behind it plugged in.")
    page.say(f"{coils(rig, hot)}.{'' if hot else ' After a show state the coils with --coil.'}")
    page.gap()
    rows = [
        (
            item.test.line, str(item.test.pair), item.test.source, item.test.to, str(item.test.expected),
            limits(item).removesuffix("\u00a0Ω"), item.reading.ohms if item.reading else "", *_ticks(item),
            _verdict(item),
        )
        for item in found
    ]  # fmt: skip
    heads = (
        "line",
        "pair",
        "from",
        "to",
        "expected",
        "limits ohm",
        "reading",
        "polarity",
        "heard",
        "verdict",
    )
    page.table(heads, rows, right=("pair", "expected", "reading"))
    for item in found:
        _explain(page, item)
    return page


def _verdict(item: Checked) -> str:
    """In a column's few words; what is wrong or not proved is said in full below."""
    if item.earlier is not None:
        return "line changed since: test again"
    if item.sweep is not None and item.sweep.deviations:
        return "; ".join((*item.wrong[: -len(item.sweep.deviations)], "sweep differs"))
    return item.status if item.status == "not proved" else f"{item.verdict}{_and_sweep(item)}"


def _and_sweep(item: Checked) -> str:
    if item.sweep is None:
        return ""
    return f"{'; ' if item.verdict else ''}sweep {'fits' if not item.sweep.undescribed else 'fits in part'}"


def _ticks(item: Checked) -> tuple[str, str]:
    """Polarity and what was heard: yes, no, or a dash where nobody tested."""
    kept = item.reading
    return (kept.polarity or "–", kept.heard or "–") if kept is not None else ("–", "–")


def _explain(page: Page, item: Checked) -> None:
    """What is wrong with a pole pair, or not proved, and what to do; nothing of one that is neither."""
    judgement, reading = item.judgement, item.reading
    if reading is None or item.status not in ("wrong", "not proved", "drifted"):
        return
    page.heading(f"{item.test.line} pole pair {item.test.pair}: {item.verdict}")
    if item.drift:
        page.say(Span(item.drift, "warn"))
    if item.proof:
        page.say(Span(item.proof, "warn"))
    if "polarity reversed" in item.wrong:
        page.say("Fix: find the plug or socket with its two poles exchanged, then test the polarity again.")
    if judgement is None or judgement.as_expected:
        if item.caution:
            page.say(Span(item.caution, "warn"))
        return
    page.say(f"It reads {reading.ohms} where {item.test.expected} is expected.")
    for explanation in judgement.explanations:
        page.say(f"{explanation.words}.", first="- ")
    if not judgement.explanations:
        page.say("No single fault explains it.", first="- ")
    if judgement.next_test is not None:
        page.say(f"Next: {judgement.next_test.sentence}")
    if item.caution:
        page.say(Span(item.caution, "warn"))


def meter_report(rig: Rig, found: tuple[Checked, ...], notes: Sequence[str] = ()) -> dict[str, Any]:
    """The report of `meter` as plain data; an ohm that is null is an open circuit's, or one that was not measured."""
    return {
        "format": REPORT_FORMAT,
        "rig": rig.name,
        "caution": cautions.METER,
        "progress": str(progress(found)),
        "notes": notes,
        "pairs": [_pair_report(item) for item in found],
    }


def _pair_report(item: Checked) -> dict[str, Any]:
    test, judgement = item.test, item.judgement
    is_open = test.expected.likely >= OPEN
    lowest, highest = item.limits
    return {
        "line": test.line,
        "pair": test.pair,
        "from": test.source,
        "to": test.to,
        "cabinets": test.cabinets,
        "expected_open": is_open,
        "expected_ohm": None if is_open else test.expected.likely,
        "lowest_ohm": lowest,
        "highest_ohm": None if is_open else highest,
        "coil_degc": test.coil_temperature,
        "reading": _reading_report(item.reading),
        "earlier": _reading_report(item.earlier),
        "status": item.status,
        "verdict": item.verdict,
        "wrong": item.wrong,
        "drift": item.drift,
        "proof": item.proof,
        "caution": item.caution,
        "explanations": [
            {"kind": each.kind, "words": each.words} for each in (judgement.listed if judgement else ())
        ],
        "next_test": judgement.next_test.sentence if judgement and judgement.next_test else None,
    }


def _reading_report(kept: Reading | None) -> dict[str, Any] | None:
    """A kept reading: as typed, and in Ω with its leads taken off."""
    if kept is None:
        return None
    ohms = measured(kept)
    return {
        "as_read": kept.ohms,
        "measured_ohm": None if ohms is None or ohms > OPEN else ohms,
        "leads_ohm": kept.lead_resistance.value,
        "polarity": kept.polarity or None,
        "heard": kept.heard or None,
        "heard_from": kept.heard_from,
        "when": kept.when or None,
        "note": kept.note,
        "sweep_points": len(kept.sweep),
    }
