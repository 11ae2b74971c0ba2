"""The cautions and small words that several sheets share."""

from collections.abc import Iterable

from rackwright.engine import cautions
from rackwright.model.racks import Rack
from rackwright.papers.document import Words
from rackwright.units.formatting import NOTHING

REPATCHING = Words(cautions.REPATCHING, True)
PLANNING = Words(cautions.PLANNING, True)

TICKED = ("out", "back")
"""Columns to tick when something goes on the truck, and when it is back there after the show."""


def listed(names: Iterable[str]) -> str:
    """`L1, L2`; a dash where there is none."""
    return ", ".join(names) or NOTHING


def counted(count: int, what: str) -> str:
    """`no difference`, `1 difference`, `2 differences`."""
    return f"no {what}" if count == 0 else f"1 {what}" if count == 1 else f"{count} {what}s"


def rack_title(rack: Rack) -> str:
    """`R1, Stage left`."""
    return f"{rack.id}, {rack.name}" if rack.name else rack.id
