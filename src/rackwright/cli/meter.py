"""`meter`: the sheet of what a meter should show on every line, and what a filled sheet says.

Reads and writes the sheet as CSV. What a reading means is `engine.meter_check`'s to say.
"""

import csv
import datetime
import difflib
import io
import re
import shlex
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, TypeAlias

import click

from rackwright.cli.opening import Refusal, opened
from rackwright.cli.options import coil_temperature
from rackwright.cli.page import Page, Span, emit
from rackwright.cli.report import REPORT_FORMAT, json_text
from rackwright.cli.saving import see_that_it_is_free, tell_saved, write
from rackwright.cli.words import FILE, RIG
from rackwright.engine import cautions
from rackwright.engine.meter_check import OPEN, Checked, checked, clean, pair_tests, progress
from rackwright.engine.meter_check.kept_readings import measured
from rackwright.model.edits import EditError, note_reading
from rackwright.model.index import Index
from rackwright.model.readings import Reading, as_kept, stamp
from rackwright.model.rig import Rig
from rackwright.papers import identity
from rackwright.papers.meter_check import coils, limits, written
from rackwright.store import spreadsheet
from rackwright.store.safe import atomic_write
from rackwright.store.spreadsheet import (
    LONGEST_FIGURE,
    CsvError,
    may_be_thousands,
    read_cells,
    shown,
    thousands,
)
from rackwright.store.sweep_file import SweepError, read_sweep
from rackwright.units import QuantityError, Resistance, Temperature, figure
from rackwright.units.safe_text import safe

COLUMNS = (
    "line", "pair", "from", "to", "expected_ohm", "lowest_ohm", "highest_ohm",
    "reading", "leads", "coil", "polarity", "heard", "when", "note",
)  # fmt: skip
PAPER = ("rack", "should be heard", "expected", "limits", "found")
"""Columns of the paper sheet's CSV besides, which say what the program knows already."""
FORMER = {"polarity_ok": "polarity", "sounded": "heard", "should_sound": "should_be_heard"}
"""What columns were called once."""
TICKS = {
    **dict.fromkeys(("y", "yes", "ok", "x", "1", "true"), "yes"),
    **dict.fromkeys(("n", "no", "0", "false"), "no"),
    **dict.fromkeys(("", "-", "–", "—"), ""),
}


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
    tested, notes = filled(source.rig, readings, hot) if readings is not None else (source.rig, ())
    for sweep in sweeps:
        tested = _swept(tested, sweep, hot)

    found = checked(Index(tested), hot.value if hot is not None else None)
    page = sheet_page(tested, found, hot)
    if notes:
        page.gap()
    for note in notes:
        page.say(note)
    if sheet is not None:
        _write_sheet(sheet, found, source.rig)
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
    when = stamp(datetime.datetime.now())
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
            limits(item), item.reading.ohms if item.reading else "", *_ticks(item),
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
    return item.status if item.status == "not proved" else f"{item.verdict}{_and_sweep(item)}"


def _and_sweep(item: Checked) -> str:
    if item.sweep is None or item.sweep.deviations:
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


# --- the sheet as CSV -----------------------------------------------------------------------------------


def sheet_text(found: tuple[Checked, ...], paper: str = "") -> str:
    """The sheet as CSV, with the readings that are kept already, and in each row what it is of."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow((*COLUMNS, identity.COLUMN))
    for item in found:
        expected = item.test.expected
        *said, note = written(item)
        ohms = (expected.likely, *item.limits)
        figures = ["open"] * 3 if expected.likely >= OPEN else [figure(each) for each in ohms]
        writer.writerow(
            map(
                spreadsheet.cell,
                (
                    item.test.line,
                    str(item.test.pair),
                    item.test.source,
                    item.test.to,
                    *figures,
                    *said,
                    item.reading.when if item.reading else "",
                    note,
                    paper,
                ),
            )
        )
    return out.getvalue()


def _write_sheet(path: str, found: tuple[Checked, ...], rig: Rig) -> None:
    see_that_it_is_free(path, None)
    paper = identity.header_of(rig, datetime.datetime.now(), identity.revision(rig)).words
    try:
        atomic_write.write(path, sheet_text(found, paper).encode())
    except atomic_write.SaveError as error:
        raise Refusal(str(error)) from None


def filled(rig: Rig, path: str, hot: Temperature | None = None) -> tuple[Rig, tuple[str, ...]]:
    """The rig with the readings of a filled sheet, and what else there is to say of the sheet.

    `hot` is the coils' temperature where a row states none. Whatever can't be read for sure is told, each with its row and
    column, and nothing is read of a sheet of another rig or venue. Raises Refusal.
    """
    try:
        sheet = read_cells(path, "the readings")
    except CsvError as error:
        raise Refusal(str(error)) from None
    heads = [FORMER.get(name, name) for name in (head.lower().replace(" ", "_") for head in sheet.heads)]
    problems = [(line, reason) for line, reason in sheet.troubles]
    problems += _wrong_heads(heads)
    papers = (
        {row[heads.index(identity.COLUMN)] for _, row in sheet.rows} if identity.COLUMN in heads else set()
    )
    earlier = _recognised(rig, path, sorted(papers))
    rows = [
        (line, cells)
        for line, row in sheet.rows
        if any((cells := dict(zip(reversed(heads), reversed(row), strict=True))).get(head) for head in SAID)
    ]
    if {"line", "pair"} <= {*heads}:
        rig = _with_rows(rig, rows, sheet.delimiter, problems, hot)
    if problems:
        told = (
            safe(f"  row {line}{reason}" if reason.startswith(",") else f"  row {line}: {reason}")
            for line, reason in sorted(problems)
        )
        raise Refusal("\n".join((f"{path} can't be used, and nothing of it is:", *told)))
    known = {*COLUMNS, *(head.replace(" ", "_") for head in PAPER), identity.COLUMN}
    unread = [head for head, name in zip(sheet.heads, heads, strict=True) if head and name not in known]
    return rig, (*earlier, *([f"Columns not read: {', '.join(unread)}."] if unread else []))


def _recognised(rig: Rig, path: str, papers: Sequence[str]) -> list[str]:
    """What to say where a sheet is of an earlier revision. Raises Refusal where it is of another rig or venue."""
    notes = []
    for words in papers:
        of = identity.read(words)
        if of is None:
            continue
        if of.title != identity.title(rig):
            raise Refusal(
                f"{path} is of another rig or venue: {of.title}, revision {of.revision}. This is {identity.title(rig)}. "
                f"Nothing of it is used. If the readings are this rig's all the same, delete the column {identity.COLUMN}."
            )
        if of.digest != identity.revision(rig):
            notes.append(
                f"The sheet is of revision {of.revision} of {of.date}; the rig was changed since, or is another state of it. "
                "Check that lines which were changed are tested again."
            )
    return notes


SAID = ("reading", "polarity", "heard", "note")
"""Columns that say something of a pole pair; leads and a date alone do not."""

Problems: TypeAlias = list[tuple[int, str]]
"""Row and what is wrong there; where it begins with a comma, it names the column first."""


def _wrong_heads(heads: Sequence[str]) -> Problems:
    """Columns that are missing, that a former and a present name both stand for, and names that are surely slips."""
    missing = [head for head in ("line", "pair", "reading") if head not in heads]
    found = [
        f'There is no column "{head}". Write a new sheet: rackwright meter RIG --csv OUT' for head in missing
    ]
    twice = [name for former, name in FORMER.items() if heads.count(name) > 1]
    found += [f"Two columns mean {name}. Delete one of them." for name in twice]
    known = [*COLUMNS, *(head.replace(" ", "_") for head in PAPER)]
    for head in heads:
        near = difflib.get_close_matches(head, known, n=1, cutoff=0.8) if head not in known else []
        found += [f'There is no column "{head}". Did you mean "{near[0]}"?'] if near else []
    return [(1, reason) for reason in found]


def _with_rows(
    rig: Rig,
    rows: Iterable[tuple[int, Mapping[str, str]]],
    delimiter: str,
    problems: Problems,
    hot: Temperature | None,
) -> Rig:
    """The rig with what the rows say; what they say wrong is added to the problems."""
    known = {test.id for test in pair_tests(Index(rig))}
    # an id that steers is written out in the sheet
    written = {safe(line.id): line.id for line in rig.lines}
    cabinets = {safe(cabinet.id): cabinet.id for cabinet in rig.cabinets}
    first: dict[str, int] = {}
    for row, cells in rows:
        line = written.get(cells["line"], cells["line"])
        place = f"{line}/{cells['pair']}"
        fields, wrong = _fields(cells, delimiter)
        if hot is not None and "ohms" in fields:
            fields = {"coil_temperature": hot, **fields}
        if (heard := cells.get("heard", "")).casefold() not in TICKS:
            fields |= {"heard": "", "heard_from": tuple(_cabinets(heard, cabinets))}
        problems += [(row, f", column {head}: {reason}") for head, reason in wrong]
        if place not in known:
            problems.append(
                (row, f"The rig has no pole pair {place}. Write line and pair as the sheet has them.")
            )
        elif place in first:
            problems.append((row, f"{place} is in row {first[place]} already. Delete one of the two rows."))
        elif not wrong:
            try:
                rig = note_reading(rig, line, int(cells["pair"]), **fields)
            except EditError as error:
                problems.append((row, str(error)))
        first.setdefault(place, row)
    return rig


def _fields(cells: Mapping[str, str], delimiter: str) -> tuple[dict[str, object], list[tuple[str, str]]]:
    """The fields of a reading that a row fills in, and the columns with what is wrong in each."""
    fields: dict[str, object] = {"when": cells.get("when") or stamp(datetime.datetime.now())}
    wrong = []
    for head, field in (("reading", "ohms"), ("leads", "lead_resistance")):
        cell = cells.get(head, "")
        try:
            if len(cell) > LONGEST_FIGURE:
                wrong.append((head, f'"{shown(cell)}" is not a number. Write what the meter shows, in ohms.'))
            elif may_be_thousands(cell) and BARE.fullmatch(cell):
                wrong.append((head, thousands(cell)))
            elif cell:
                fields[field] = as_kept(cell) if head == "reading" else Resistance.parse(as_kept(cell))
        except QuantityError as error:
            wrong.append((head, str(error)))
    if coil := cells.get("coil"):
        try:
            fields["coil_temperature"] = Temperature.parse(f"{coil} degC" if BARE.fullmatch(coil) else coil)
        except QuantityError as error:
            wrong.append(("coil", str(error)))
    if split := _split_by_a_comma(cells, delimiter):
        wrong.append(("leads", split))
    for head in ("polarity", "heard"):
        cell = cells.get(head, "")
        if tick := TICKS.get(cell.casefold()):
            fields |= {head: tick} if head == "polarity" else {"heard": tick, "heard_from": ()}
        elif tick is None and head == "polarity":
            wrong.append((head, f'"{shown(cell)}" is neither yes nor no. Leave it blank if not tested.'))
    if note := cells.get("note"):
        fields["note"] = note
    return fields, wrong


def _cabinets(cell: str, known: Mapping[str, str]) -> Iterator[str]:
    """The ids in a cell, of cabinets heard where another should be: between commas, semicolons or blanks, where no id holds them."""
    ids = "|".join(re.escape(name) for name in sorted(known, key=len, reverse=True))
    for name in re.findall(rf"(?:{ids}|[^\s,;]+)(?=[\s,;]|$)", cell):
        yield known.get(name, name)


BARE = re.compile(r"[\d.,]+")


def _split_by_a_comma(cells: Mapping[str, str], delimiter: str) -> str:
    """What to ask where reading and leads may be one figure that its decimal comma has split: 5,7; empty where not."""
    reading, leads = cells.get("reading", ""), cells.get("leads", "")
    if delimiter != "," or not (reading.isdecimal() and leads.isdecimal()) or not leads.strip("0"):
        return ""
    return (
        f'reading "{reading}" and leads "{leads}" may be one figure with a decimal comma. Write {reading}.{leads} as the '
        f"reading, or {leads}.0 as the leads."
    )
