"""`linetest`: the sheet of what a meter should show on every line, and what a filled sheet says.

Reads and writes the sheet as CSV. What a reading means is `engine.line_test`'s to say.
"""

import csv
import datetime
import io
import shlex
from collections.abc import Mapping
from typing import TYPE_CHECKING

import click

from rackwright.cli.page import Page, Span

if TYPE_CHECKING:
    from rackwright.engine.line_test import Checked, Reach
    from rackwright.model.rig import Rig

CAUTION = "Amplifiers off and their outputs unplugged before a meter touches a line: an output can hurt, and it kills the meter."

COLUMNS = (
    "line", "pair", "from", "to", "expected_ohm", "lowest_ohm", "highest_ohm",
    "reading", "leads", "polarity_ok", "sounded", "when", "note",
)  # fmt: skip
YES = frozenset({"y", "yes", "ok", "x", "1", "true"})


@click.command()
@click.argument("rig")
@click.option("--csv", "sheet", metavar="OUT", help="Write a sheet to fill in. Never overwrites.")
@click.option("--readings", metavar="FILE", help="Judge the readings of a filled sheet.")
@click.option("--apply", "target", metavar="OUT", help="Keep those readings in the rig, written to OUT.")
def linetest(rig: str, sheet: str | None, readings: str | None, target: str | None) -> int:
    """What a meter should show on every line, and what its readings say.

    Measured at the near end of each line, its plug pulled, amplifiers off. Exit status 0: every reading is as
    expected; 1: not every one is; 3: a file can't be used.
    """
    if target is not None and readings is None:
        raise click.UsageError("--apply keeps the readings of a sheet: name it with --readings.")
    from rackwright.cli.commands import _see_that_it_is_free, _tell_saved, _write, opened

    source = opened(rig)
    if target is not None:
        _see_that_it_is_free(target, source.file)
    tested = filled(source.rig, readings) if readings is not None else source.rig

    from rackwright.engine.line_test import checked
    from rackwright.model.index import Index

    found = checked(Index(tested))
    page = sheet_page(tested, found)
    if sheet is not None:
        _write_sheet(sheet, found)
        page.gap()
        page.say("Wrote:")
        page.to_copy(sheet)
        page.say("Fill in the readings and have them judged:")
        page.to_copy(f"rackwright linetest {shlex.quote(rig)} --readings {shlex.quote(sheet)}")
    if target is not None:
        aside = _write(tested, target)
        _tell_saved(page, target, aside)
    page.print()
    said = [item.judgement for item in found if item.judgement is not None]
    return 0 if all(judgement.as_expected for judgement in said) else 1


def sheet_page(rig: "Rig", found: "tuple[Checked, ...]") -> Page:
    """Expected reading and limits of every pole pair, what was read, and what explains it."""
    from rackwright.engine.line_test import progress

    page = Page()
    page.heading(f"Line test: {rig.name}")
    if not found:
        page.say("There is no line to test yet.")
        return page
    page.say(Span(CAUTION, "warn"))
    page.say(f"{progress(found)}. Measure at the near end, its plug pulled, all behind it plugged in.")
    page.gap()
    rows = [
        (
            item.test.line, str(item.test.pair), item.test.source, item.test.to, str(item.test.expected),
            limits(item.test.expected), item.reading.ohms if item.reading else "",
            item.judgement.verdict if item.judgement else "",
        )
        for item in found
    ]  # fmt: skip
    heads = ("line", "pair", "from", "to", "expected", "limits", "reading", "verdict")
    page.table(heads, rows, right=("pair", "expected", "reading"), whole=("line", "from", "to", "limits"))
    for item in found:
        if item.judgement is not None and not item.judgement.as_expected:
            _explain(page, item)
    return page


def _explain(page: Page, item: "Checked") -> None:
    judgement, reading = item.judgement, item.reading
    if judgement is None or reading is None:
        return
    page.heading(
        f"{item.test.line} pair {item.test.pair}: {reading.ohms} where {item.test.expected} is expected"
    )
    for explanation in judgement.explanations:
        page.say(f"{explanation.words}.", first="- ")
    if not judgement.explanations:
        page.say("No single fault explains it.", first="- ")
    if judgement.next_test is not None:
        page.say(f"Next: {judgement.next_test.sentence}")
    if item.caution:
        page.say(Span(item.caution, "warn"))


def limits(expected: "Reach") -> str:
    """What a meter may show, in words."""
    from rackwright.engine.line_test import OPEN
    from rackwright.units import figure

    low, high = expected.limits
    return "open" if low >= OPEN else f"{figure(low)} to {figure(high)} Ω"


# --- the sheet as CSV -----------------------------------------------------------------------------------


def sheet_text(found: "tuple[Checked, ...]") -> str:
    """The sheet as CSV, with the readings that are kept already."""
    from rackwright.engine.line_test import OPEN
    from rackwright.store import spreadsheet
    from rackwright.units import figure

    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for item in found:
        expected = item.test.expected
        ohms = (expected.likely, *expected.limits)
        figures = ["open"] * 3 if expected.likely >= OPEN else [figure(each) for each in ohms]
        writer.writerow(
            map(
                spreadsheet.cell,
                (item.test.line, str(item.test.pair), item.test.source, item.test.to, *figures, *_kept(item)),
            )
        )
    return out.getvalue()


def _kept(item: "Checked") -> list[str]:
    if item.reading is None:
        return [""] * 6
    kept = item.reading
    leads = kept.lead_resistance.text if kept.lead_resistance.value else ""
    return [kept.ohms, leads, "yes" if kept.polarity_ok else "", " ".join(kept.sounded), kept.when, kept.note]


def _write_sheet(path: str, found: "tuple[Checked, ...]") -> None:
    from rackwright.cli.commands import Refusal

    try:
        with open(path, "x", encoding="utf-8", newline="") as file:
            file.write(sheet_text(found))
    except FileExistsError:
        raise Refusal(f"{path} exists already and is not touched. Name a new file.") from None
    except OSError as error:
        raise Refusal(f"{path} can't be written: {error.strerror or error}.") from None


def filled(rig: "Rig", path: str) -> "Rig":
    """The rig with the readings of a filled sheet; every row that can't be used is told. Raises Refusal."""
    from rackwright.cli.commands import Refusal
    from rackwright.store import files

    try:
        text = files.read(path).decode("utf-8-sig")
    except (OSError, ValueError) as error:
        raise Refusal(f"{path} can't be read: {getattr(error, 'strerror', None) or error}.") from None
    rows = csv.DictReader(io.StringIO(text), delimiter=_delimiter(text))
    heads = {(head or "").strip().lower() for head in rows.fieldnames or ()}
    if not {"line", "pair", "reading"} <= heads:
        raise Refusal(
            f"{path} has no columns line, pair and reading. Write one: rackwright linetest RIG --csv OUT"
        )
    return _with_rows(rig, path, rows)


def _with_rows(rig: "Rig", path: str, rows: "csv.DictReader[str]") -> "Rig":
    from rackwright.cli.commands import Refusal
    from rackwright.engine.line_test import pair_tests
    from rackwright.model.edit import EditError, note_reading
    from rackwright.model.index import Index
    from rackwright.store import spreadsheet
    from rackwright.units import QuantityError
    from rackwright.units.safe_text import safe

    known = {test.id for test in pair_tests(Index(rig))}
    # an id that steers is written out in the sheet
    written = {safe(line.id): line.id for line in rig.lines}
    problems = []
    for row in rows:
        cells = {
            head.strip().lower().replace(" ", "_"): spreadsheet.read((cell or "").strip())
            for head, cell in row.items()
            if head
        }
        cells["line"] = written.get(cells.get("line", ""), cells.get("line", ""))
        place = f"{cells.get('line', '')}/{cells.get('pair', '')}"
        try:
            if fields := _fields(cells):
                if place not in known:
                    raise EditError(f"The rig has no pole pair {place}")
                rig = note_reading(rig, cells["line"], int(cells["pair"]), **fields)
        except (EditError, QuantityError) as error:
            problems.append(f"  row {rows.line_num}: {error}")
    if problems:
        raise Refusal("\n".join((f"{path} can't be used:", *map(safe, problems))))
    return rig


def _fields(cells: Mapping[str, str]) -> dict[str, object]:
    """The fields of a reading that a row fills in; none where it has nothing filled in. Raises QuantityError."""
    from rackwright.model.readings import as_kept, stamp
    from rackwright.units import Resistance

    said = ("reading", "polarity_ok", "sounded", "note")
    if not any(cells.get(head) for head in said):
        return {}
    return {
        "ohms": as_kept(cells.get("reading", "")),
        "lead_resistance": Resistance.parse(as_kept(cells.get("leads", "")) or "0 ohm"),
        "polarity_ok": cells.get("polarity_ok", "").casefold() in YES,
        "sounded": tuple(cells.get("sounded", "").replace(",", " ").split()),
        "when": cells.get("when") or stamp(datetime.datetime.now()),
        "note": cells.get("note", ""),
    }


def _delimiter(text: str) -> str:
    """A semicolon where a spreadsheet of a country with decimal commas wrote it."""
    first = text.partition("\n")[0]
    return max((",", ";", "\t"), key=first.count)
