"""Stock and lines from a spreadsheet: a row each, of a line as few columns as are known, its length alone for one.

A row stands for the line of its id, or for a new one; what it leaves blank stays as it was. Writes nothing.
"""

from collections.abc import Collection, Sequence
from typing import Any

from msgspec.structs import replace

from rackwright.model import rules
from rackwright.model.equipment import CableModel, Equipment
from rackwright.model.index import Index
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
    rows = [(row[0], _values(row, taken, troubles)) for row in cells.rows]
    built, problems = columns.decoded("stock", rows, Stock)
    stock = tuple(built.values())
    found = columns.with_breaches(problems, check_stock(stock, sorted(cables)), [*built])
    _add(troubles, found, cells, taken, {"cable", "length"})
    return stock


def read_lines(
    cells: Cells,
    taken: Sequence[Column],
    rig: Rig,
    library: Equipment,
    troubles: list[Trouble],
    elsewhere: Collection[str] = (),
) -> Rig:
    """The rig with the lines as the rows say, but for rows of those ids; what is wrong is added to the troubles.

    Cables that it lacks come from the library.
    """
    known = {safe(line.id): line for line in rig.lines}
    needed = {"id", "from", "to", "cable", "length"}
    lacking = sorted(needed - {"id"} - {column.key for column in taken})
    at = next((column.position for column in taken if column.key == "id"), -1)
    if at >= 0 and elsewhere:
        passed = {safe(name) for name in elsewhere}
        cells = cells._replace(rows=tuple(row for row in cells.rows if row[1][at] not in passed))
    rows, first = [], dict[str, int]()
    for row in cells.rows:
        values = _values(row, taken, troubles)
        name = str(values.get("id", ""))
        if name in first:
            reason = f"{name} is in row {first[name]} already. Delete one of the two rows."
            troubles.append(Trouble(row[0], -1, reason))
        elif name:
            first[name] = row[0]
        if isinstance(begins := values.get("from"), str) and begins.startswith(_LINK):
            values["from"] = begins.removeprefix(_LINK)
        if name and name not in known and lacking:
            reason = f'The rig has no line "{name}". Correct it, or add the columns that a new line needs: {", ".join(lacking)}.'
            troubles.append(Trouble(row[0], at, reason))
        entry = {**plain(known[name]), **values, "id": known[name].id} if name in known else values
        rows.append((row[0], entry))
    built, problems = columns.decoded("lines", rows, Line)
    numbers = {line.id: number for number, line in reversed(built.items())}
    said = {line.id: built[numbers[line.id]] for line in built.values()}
    kept = (said.pop(line.id, line) for line in rig.lines)
    changed = _carrying(replace(rig, lines=(*kept, *said.values())), library.cables)
    found = list(rules.check(changed))
    of_lines = [problem for problem in found if problem.path[0] == "lines"]
    places = [numbers.get(line.id, -1) for line in changed.lines]
    again = [number for number, line in built.items() if numbers[line.id] != number]
    of_again = rules.check_lines([built[number] for number in again], Index(changed))
    problems = columns.with_breaches(problems, of_lines, places)
    problems = columns.with_breaches(problems, of_again, again)
    mine = [problem for problem in problems if problem.path[1] != -1]
    _add(troubles, mine, cells, taken, needed)
    if not troubles:
        troubles += [Trouble(cells.rows[0][0], -1, str(problem)) for problem in found]
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


def _add(
    troubles: list[Trouble],
    problems: Sequence[Problem],
    cells: Cells,
    taken: Sequence[Column],
    needed: Collection[str],
) -> None:
    """Add what is wrong with the rows, but for what stands in columns that are needed and missing as a whole."""
    missing = {*needed} - {column.key for column in taken}
    for problem in problems:
        if problem.path[-1] not in missing:
            line = cells.rows[columns.number_in(problem, 1)][0] if cells.rows else 1
            columns.add(troubles, replace(problem, path=problem.path[1:]), line, taken)
