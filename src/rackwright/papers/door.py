"""The sheet for the racks' doors: if this fails, do that, a table a rack; by the first plans found, so as to be written in a moment."""

from rackwright.engine import cautions, recovery
from rackwright.engine.assess import Assessed
from rackwright.engine.recovery import Rehearsed
from rackwright.papers.document import Sheet, Table, Words
from rackwright.papers.phrases import PLANNING, REPATCHING, rack_title
from rackwright.units import NOTHING

MOST_MOVES = 6
"""Moves told of one plan."""
ASK = Words(
    "Mark it failed in the console for every step in order, and for a better plan where there is one. "
    "First be sure that it is what has failed, and not the load on it."
)


def door_sheet(assessment: Assessed) -> Sheet:
    """Each rack with what may fail of it, of what feeds it and of what hangs on it, and the plan for that."""
    failures, racks = recovery.by_rack(assessment), assessment.index.racks
    tables = (
        Table(
            heading=rack_title(racks[name]),
            part=("rack", name),
            heads=("if this fails", "do this, in order", "time", "stays silent"),
            rows=tuple(map(_row, of)),
            right=frozenset({"time"}),
        )
        for name, of in failures.items()
    )
    return Sheet(
        name="door",
        title="If it fails",
        blocks=(Words(cautions.SMOKE, True), REPATCHING, PLANNING, ASK, *tables),
    )


def _row(failure: Rehearsed) -> tuple[str, ...]:
    plan = failure.plan
    moves = [recovery.short(move) for move in plan.moves]
    more = len(moves) - MOST_MOVES
    told = "; ".join(moves[:MOST_MOVES]) + (f"; and {more} more: see the console" if more > 0 else "")
    time = f"{plan.seconds:.0f} s" if moves else NOTHING
    silent = recovery.few(plan.silent) if plan.silent else NOTHING
    return f"{failure.kind} {failure.name}", told or "Do nothing", time, silent
