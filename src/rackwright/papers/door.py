"""The sheet for the racks' doors: what is in each rack, and on its back, if this fails, do that; by the first plans found, so as to be written in a moment."""

import itertools
from collections.abc import Iterable, Iterator

from msgspec.structs import replace

from rackwright.engine import cautions, recovery
from rackwright.engine.assess import Assessed
from rackwright.engine.recovery import Rehearsed
from rackwright.papers.document import Block, PageBreak, Sheet, Table, Words
from rackwright.papers.phrases import PLANNING, REPATCHING, listed, rack_title
from rackwright.papers.racks import rack_drawing
from rackwright.units import NOTHING
from rackwright.workers import Workers

ASK = Words(
    "Mark it failed in the console for every step in order, and for a better plan where there is one. "
    "First be sure that it is what has failed, and not the load on it."
)


def door_sheet(assessment: Assessed) -> Sheet:
    """Each rack's page, and as its back what may fail of it, of what feeds it and of what hangs on it, with the plan for that."""
    blocks: list[Block] = []
    with Workers() as workers:
        found = recovery.by_rack(assessment, workers.answers)
    for name, failures in found.items():
        rack = assessment.index.racks[name]
        table = Table(
            heading=f"If it fails: {rack_title(rack)}",
            part=("rack", name),
            heads=("if this fails", "do this, in order", "time", "stays silent"),
            rows=tuple(_rows(assessment, failures)),
            right=frozenset({"time"}),
        )
        front = replace(rack_drawing(assessment, rack), instead=())
        blocks += [
            PageBreak(front=True),
            REPATCHING,
            front,
            PageBreak(),
            Words(cautions.SMOKE, True),
            REPATCHING,
            PLANNING,
            ASK,
            table,
        ]
    return Sheet(name="door", title="Rack doors", blocks=tuple(blocks))


def _rows(assessment: Assessed, failures: Iterable[Rehearsed]) -> Iterator[tuple[str, ...]]:
    """A row for each plan, named after all that it is for; of one kind one after the other."""
    for (kind, *told), alike in itertools.groupby(failures, lambda failure: _told(assessment, failure)):
        names = [failure.name for failure in alike]
        yield f"{kind}{'s' if len(names) > 1 else ''} {listed(names)}", *told


def _told(assessment: Assessed, failure: Rehearsed) -> tuple[str, ...]:
    """What kind of thing fails, and what is said of it."""
    plan = failure.plan
    time = f"{plan.seconds:.0f} s" if plan.moves else NOTHING
    silent = recovery.as_called(assessment, plan.silent, len(plan.silent)) or NOTHING
    return failure.kind, recovery.in_short(plan.moves) or plan.first, time, silent
