"""The cautions and small words that several sheets share."""

from collections.abc import Iterable

from rackwright.engine import cautions
from rackwright.papers.document import Words
from rackwright.units import figure, floored

NOTHING = "–"

POWER_DOWN = Words(f"{cautions.POWER_DOWN} {cautions.MUTING}", True)
LOOSE_ENDS = Words(cautions.LOOSE_ENDS, True)
PLANNING = Words(cautions.PLANNING, True)


def listed(names: Iterable[str]) -> str:
    """`L1, L2`; a dash where there is none."""
    return ", ".join(names) or NOTHING


def short(value: float | None) -> str:
    """A figure for a table; a dash where there is none."""
    return NOTHING if value is None else figure(value)


def capped(value: float | None) -> str:
    """The most that something may be set to, for a table: never rounded up."""
    return short(None if value is None else floored(value))


def percent(share: float | None) -> str:
    """A share as a percentage without its sign."""
    return short(None if share is None else 100 * share)
