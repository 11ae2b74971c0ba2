"""Stock and lines from a spreadsheet: a row each, of a line as few columns as are known, its length alone for one.

A row stands for the line of its id, or for a new one; what it leaves blank stays as it was. Writes nothing.
"""

from collections.abc import Collection, Sequence
from typing import Any

from msgspec.structs import replace

from rackwright.model import rules
from rackwright.model.equipment import CableModel, Equipment
from rackwright.model.lines import Line, Stock
from rackwright.model.rig import Rig
from rackwright.model.rules import Problem, check_stock
from rackwright.store.spreadsheet import columns
from rackwright.store.spreadsheet.cells import Cells, Trouble
from rackwright.store.spreadsheet.columns import Column, targets
from rackwright.store.toml.encode import plain
from rackwright.units.safe_text import safe

TARGETS = {
    "stock": targets(Stock),
    "lines": tuple(each._replace(required=each.key in ("id", "length")) for each in targets(Line)),
}
"""Kind of list → the columns it may have. Of lines those needed are what tells the kind: a line that is known needs only its id."""
_LINK = "link of "


def read_stock(
    cells: Cells, taken: Sequence[Column], cables: Collection[str], troubles: list[Trouble]
) -> tuple[Stock, ...]:
    """The stock that the rows say; what is wrong is added to the troubles. `cables` are the ids that there are."""
    rows = [_values(row, taken, troubles) for row in cells.rows]
    built, problems = columns.decoded("stock", rows, Stock)
    stock = tuple(built.values())
    found = columns.with_breaches(problems, check_stock(stock, sorted(cables)), [*built])
    _add(troubles, found, cells, taken)
    return stock


def read_lines(
    cells: Cells, taken: Sequence[Column], rig: Rig, library: Equipment, troubles: list[Trouble]
) -> Rig:
    """The rig with the lines as the rows say; what is wrong is added to the troubles. Cables that it lacks come from the library."""
    known = {safe(line.id): line for line in rig.lines}
    lacking = sorted({"from", "to", "cable", "length"} - {column.key for column in taken})
    at = next(column.position for column in taken if column.key == "id")
    rows, first = [], dict[str, int]()
    for row in cells.rows:
        values = _values(row, taken, troubles)
        name = str(values.get("id", ""))
        if name in first:
            reason = f"{name} is in row {first[name]} already. Delete one of the two rows."
            troubles.append(Trouble(row[0], -1, reason))
        first.setdefault(name, row[0])
        if isinstance(begins := values.get("from"), str) and begins.startswith(_LINK):
            values["from"] = begins.removeprefix(_LINK)
        if name and name not in known and lacking:
            reason = f'The rig has no line "{name}". Correct it, or add the columns that a new line needs: {", ".join(lacking)}.'
            troubles.append(Trouble(row[0], at, reason))
        rows.append({**plain(known[name]), **values, "id": known[name].id} if name in known else values)
    built, problems = columns.decoded("lines", rows, Line)
    _add(troubles, [p for p in problems if p.path[-1] not in lacking], cells, taken)
    wrong = bool(troubles)
    number = {line.id: i for i, line in built.items()}
    said = {line.id: line for line in built.values()}
    unread = {known[name].id for name in first if name in known} - said.keys()
    kept = (said.pop(line.id, line) for line in rig.lines if line.id not in unread)
    lines = (*kept, *said.values())
    changed = _carrying(replace(rig, lines=lines), library.cables)
    for problem in rules.check(changed):
        place = problem.path[1] if problem.path[0] == "lines" else None
        if isinstance(place, int) and lines[place].id in number:
            problem = replace(problem, path=("lines", number[lines[place].id], *problem.path[2:]))
            _add(troubles, (problem,), cells, taken)
        elif not wrong:
            troubles.append(Trouble(cells.rows[0][0], -1, str(problem)))
    return changed


def _carrying(rig: Rig, cables: Sequence[CableModel]) -> Rig:
    """The rig with the cables that its lines are of, those it lacks from those."""
    held = {cable.id for cable in rig.equipment.cables}
    lacking = {line.cable for line in rig.lines} - held
    more = tuple(cable for cable in cables if cable.id in lacking)
    return (
        replace(rig, equipment=replace(rig.equipment, cables=(*rig.equipment.cables, *more))) if more else rig
    )


def _values(
    row: tuple[int, Sequence[str]], taken: Sequence[Column], troubles: list[Trouble]
) -> dict[str, Any]:
    return {column.key: value for column, value in columns.values(row, taken, troubles)}


def _add(troubles: list[Trouble], problems: Sequence[Problem], cells: Cells, taken: Sequence[Column]) -> None:
    for problem in problems:
        line = cells.rows[columns.number_in(problem, 1)][0] if cells.rows else 1
        columns.add(troubles, replace(problem, path=problem.path[1:]), line, taken)
