"""Everything on one page, for a rig small enough: racks, lines, circuits and limiters, as the other sheets have them."""

from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from rackwright.engine.assess import Assessed
from rackwright.model.lines import Stock
from rackwright.model.rig import Rig
from rackwright.papers.cover import verdict
from rackwright.papers.document import Block, Sheet, Table
from rackwright.papers.lines import line_tables
from rackwright.papers.mains import circuit_table
from rackwright.papers.phrases import PLANNING, REPATCHING
from rackwright.papers.processor import limiter_table
from rackwright.papers.racks import front_table

MOST_LINES, MOST_RACKS, MOST_CIRCUITS, MOST_FEEDS = 10, 2, 4, 6


def is_small(rig: Rig) -> bool:
    """Whether a page in letters that can be read takes all of it."""
    return (
        len(rig.lines) <= MOST_LINES
        and len(rig.racks) <= MOST_RACKS
        and len(rig.circuits) <= MOST_CIRCUITS
        and len(rig.feeds) <= MOST_FEEDS
    )


def single_sheet(assessment: Assessed, stock: Sequence[Stock]) -> Sheet:
    """The tables that a plug, a knob or a breaker is found in."""
    blocks: tuple[Block, ...] = (*verdict(assessment), REPATCHING, PLANNING, *_tables(assessment, stock))
    return Sheet(name="page", title="The whole rig", blocks=blocks)


def _tables(assessment: Assessed, stock: Sequence[Stock]) -> Iterator[Table]:
    racks = (front_table(assessment, rack) for rack in assessment.index.rig.racks)
    lines = (table for table in line_tables(assessment, stock) if table.rows)
    yield from (replace(table, name="racks") for table in racks)
    yield from (replace(table, name="lines") for table in lines)
    yield circuit_table(assessment)
    yield limiter_table(assessment)
