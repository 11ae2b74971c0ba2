"""The meter check's sheet as CSV: written to be filled in, and read when it comes back, from CSV or a workbook.

What a reading means is `engine.meter_check`'s to say.
"""

import datetime
import difflib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from rackwright.engine.meter_check import OPEN, Checked, PairTest, checked, pair_tests
from rackwright.model.edits import EditError, note_reading
from rackwright.model.equipment import Equipment
from rackwright.model.index import Index
from rackwright.model.lines import Stock
from rackwright.model.night import moment
from rackwright.model.readings import Reading, as_kept, temperature_of
from rackwright.model.rig import Rig
from rackwright.model.rules import check_readings
from rackwright.papers import identity
from rackwright.papers.meter_check import written
from rackwright.store.spreadsheet import export
from rackwright.store.spreadsheet.cells import (
    LONGEST_FIGURE,
    CsvError,
    Trouble,
    csv_text,
    may_be_thousands,
    read_cells,
    sentences,
    shown,
    thousands,
)
from rackwright.store.spreadsheet.sheet import READINGS, papers
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


def sheet_text(found: tuple[Checked, ...], paper: str = "") -> str:
    """The sheet as CSV, with the readings that are kept already, and in each row what it is of."""
    rows: list[Sequence[str]] = [(*COLUMNS, identity.COLUMN)]
    for item in found:
        expected = item.test.expected
        *said, note = written(item)
        ohms = (expected.likely, *item.limits)
        figures = ["open"] * 3 if expected.likely >= OPEN else [figure(each) for each in ohms]
        test, when = item.test, item.reading.when if item.reading else ""
        rows.append((test.line, str(test.pair), test.source, test.to, *figures, *said, when, note, paper))
    return csv_text(rows)


def exported(kind: str, known: Equipment, stock: Sequence[Stock], rig: Rig | None) -> str:
    """What there is of one of `spreadsheet.sheet.KINDS` as CSV; of lines and readings those of the rig."""
    if rig is not None and kind == READINGS:
        return sheet_text(checked(Index(rig)), identity.words(rig))
    if rig is not None and kind == "lines":
        return export.lines_csv(rig.lines, identity.words(rig))
    return export.stock_csv(stock) if kind == "stock" else export.equipment_csv(kind, known)


def filled(
    rig: Rig, path: str, hot: Temperature | None = None, worksheet: str = ""
) -> tuple[Rig, tuple[str, ...]]:
    """The rig with the readings of a filled sheet, and what else there is to say of the sheet.

    `hot` is the coils' temperature where a row states none. Whatever can't be read for sure is told, each with its row and
    column, and nothing is read of a sheet of another rig or venue. Raises CsvError.
    """
    sheet = read_cells(path, "the readings", worksheet)
    heads = [FORMER.get(name, name) for name in (head.lower().replace(" ", "_") for head in sheet.heads)]
    lost = (
        each for each in sheet.lost if heads[each.column : each.column + 1] and heads[each.column] in COLUMNS
    )
    problems = [*sheet.troubles, *lost, *_wrong_heads(heads)]
    earlier = identity.recognised(rig, path, papers(sheet))
    rows = [
        (line, told)
        for line, row in sheet.rows
        if any((told := dict(zip(reversed(heads), reversed(row), strict=True))).get(head) for head in SAID)
    ]
    rig = _with_rows(rig, rows, heads, sheet.delimiter, problems, hot)
    if problems:
        wrong = (safe(f"  {each}") for each in sentences(sorted(problems), sheet.heads))
        raise CsvError("\n".join((f"{path} can't be used, so nothing was taken from it:", *wrong)))
    known = {*COLUMNS, *(head.replace(" ", "_") for head in PAPER), identity.COLUMN}
    unread = [head for head, name in zip(sheet.heads, heads, strict=True) if head and name not in known]
    return rig, (*earlier, *([f"Columns not read: {', '.join(unread)}."] if unread else []))


SAID = ("reading", "polarity", "heard", "note")
"""Columns that say something of a pole pair; leads and a date alone do not."""


def _wrong_heads(heads: Sequence[str]) -> list[Trouble]:
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
    return [Trouble(1, -1, reason) for reason in found]


_HEADS = {"ohms": "reading", "lead_resistance": "leads", "coil_temperature": "coil", "heard_from": "heard"}
"""A field of a reading → the column that says it, where that is called otherwise."""


def _with_rows(
    rig: Rig,
    rows: Iterable[tuple[int, Mapping[str, str]]],
    heads: Sequence[str],
    delimiter: str,
    problems: list[Trouble],
    hot: Temperature | None,
) -> Rig:
    """The rig with what the rows say; all that is wrong with each is added to the problems."""
    index = Index(rig)
    placed, known = {"line", "pair"} <= {*heads}, {test.id: test for test in pair_tests(index)}
    # an id that steers is written out in the sheet
    written = {safe(line.id): line.id for line in rig.lines}
    cabinets = {safe(cabinet.id): cabinet.id for cabinet in rig.cabinets}
    drivers = {safe(str(place)): str(place) for place in index.sections.values()}
    first: dict[str, int] = {}
    for row, told in rows:
        line = written.get(told.get("line", ""), told.get("line", ""))
        place = f"{line}/{told.get('pair', '')}"
        fields, wrong = _fields(told, delimiter)
        if hot is not None and "ohms" in fields:
            fields = {"coil_temperature": hot, **fields}
        if (heard := told.get("heard", "")).casefold() not in TICKS:
            names = tuple(_names(heard, {**drivers, **cabinets}))
            fields |= (
                _from(names, known[place], index) if place in known else {"heard": "", "heard_from": names}
            )
        found = check_readings([Reading(line=line, **fields)], index.lines, index.cabinets)
        breaches = [(str(problem.path[2]), str(problem)) for problem in found]
        said = {"line", *(head for head, _ in wrong)}
        wrong += [(head, reason) for key, reason in breaches if (head := _HEADS.get(key, key)) not in said]
        if placed and place not in known:
            reason = f"The rig has no pole pair {place}. Write line and pair as the sheet has them."
            wrong.append(("line", reason))
        problems += [Trouble(row, heads.index(head), reason) for head, reason in wrong]
        if placed and place in first:
            reason = f"{place} is in row {first[place]} already. Delete one of the two rows."
            problems.append(Trouble(row, -1, reason))
        elif placed and not wrong:
            try:
                rig = note_reading(rig, line, int(told["pair"]), **fields)
            except EditError as error:
                problems.append(Trouble(row, -1, str(error)))
        first.setdefault(place, row)
    return rig


def _fields(cells: Mapping[str, str], delimiter: str) -> tuple[dict[str, Any], list[tuple[str, str]]]:
    """The fields of a reading that a row fills in, and the columns with what is wrong in each."""
    fields: dict[str, Any] = {"when": cells.get("when") or moment(datetime.datetime.now())}
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
            fields["coil_temperature"] = temperature_of(coil)
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


def _from(names: Sequence[str], test: PairTest, index: Index) -> dict[str, Any]:
    """Where what was heard sounds: yes where these drivers should, no where others of the same cabinets do, else the cabinets."""
    found = tuple(
        dict.fromkeys(
            index.sections[name].cabinet if name in index.sections and name not in index.cabinets else name
            for name in names
        )
    )
    if found == tuple(names):
        return {"heard": "", "heard_from": found}
    if {*names} == {*test.sections}:
        return {"heard": "yes", "heard_from": ()}
    return (
        {"heard": "no", "heard_from": ()}
        if {*found} <= {*test.cabinets}
        else {"heard": "", "heard_from": found}
    )


def _names(cell: str, known: Mapping[str, str]) -> Iterator[str]:
    """The ids in a cell, of what was heard where another should be: between commas, semicolons or blanks, where no id holds them."""
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
