"""How long a breaker carries a current, and where it may trip at once."""

import math
from typing import Literal, NamedTuple, TypeAlias

Rules: TypeAlias = Literal["iec", "us"]
Curve: TypeAlias = Literal["B", "C", "D"]


BANDS: dict[Curve, tuple[float, float]] = {"B": (3.0, 5.0), "C": (5.0, 10.0), "D": (10.0, 20.0)}
"""Instantaneous tripping over the rated current: holds below the first, trips at once at the second.

Source: IEC 60898-1, from memory.
"""


def band(rating: float, curve: Curve, rules: Rules) -> tuple[float, float] | None:
    """A, up to which a device of rated current `rating` (A) does not trip at once, and from which it does [1]_; None by UL 489,
    which has no bands.

    >>> band(16.0, "C", "iec")
    (80.0, 160.0)

    .. [1] IEC 60898-1, from memory: B from 3 to 5, C from 5 to 10, D from 10 to 20 times the rated current.
    """
    lower, upper = BANDS[curve]
    return (lower * rating, upper * rating) if rules == "iec" else None


RATINGS: dict[Rules, tuple[float, ...]] = {
    "iec": (6, 8, 10, 13, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125),
    "us": (15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200),
}
"""A, the rated currents that breakers are made for. Source: IEC 60898-1 (preferred values) and NEC 240.6(A), from memory."""


def largest_made(most: float, rules: Rules) -> float | None:
    """A, the largest rated current up to `most` (A) that breakers are made for [1]_; None where all are larger.

    >>> largest_made(27.3, "iec"), largest_made(27.3, "us"), largest_made(4.0, "iec")
    (25, 25, None)

    .. [1] IEC 60898-1 and NEC 240.6(A), from memory.
    """
    return max((each for each in RATINGS[rules] if each <= most), default=None)


class Endurance(NamedTuple):
    """How long a breaker carries a current: a range, never a promise."""

    shortest: float
    """s for which it holds; 0 where it may trip at once."""
    longest: float
    """s by when it has tripped; infinite where it may never."""
    words: str


def endurance(current: float, breaker: float, curve: Curve, rules: Rules) -> Endurance:
    """How long a breaker of rated current `breaker` (A) carries `current` (A): a range [1]_.

    >>> endurance(20.0, 16.0, "C", "iec").words
    'may trip within an hour, or not at all'

    .. [1] IEC 60898-1 up to 125 A, IEC 60947-2 above; UL 489 under US rules; from memory.
    """
    if current <= breaker:
        return Endurance(math.inf, math.inf, "carries it")
    if rules == "us":
        return _moulded(current / breaker, breaker)
    if breaker > LARGEST_MINIATURE:
        return _industrial(current / breaker)
    return _miniature(current / breaker, breaker, *BANDS[curve])


LARGEST_MINIATURE = 125.0
"""A, up to which IEC 60898-1 goes: from memory."""


def _industrial(over: float) -> Endurance:
    """IEC 60947-2, from memory: holds 1.05 for two hours and trips within two at 1.30; its band is set by hand."""
    if over >= 1.30:
        return Endurance(0.0, 7200.0, "trips within two hours, perhaps within minutes")
    if over > 1.05:
        return Endurance(0.0, math.inf, "may trip within two hours, or not at all")
    return Endurance(7200.0, math.inf, "may trip, though hardly within two hours")


def _miniature(over: float, breaker: float, lower: float, upper: float) -> Endurance:
    """Conventional currents of IEC 60898-1, from memory, `over` being the current over the rated one.

    Holds 1.13 for an hour and trips within one at 1.45 (two hours above 63 A); at 2.55 trips after more than
    a second and within one minute (two above 32 A).
    """
    hours, minutes = (1 if breaker <= 63 else 2), (1 if breaker <= 32 else 2)
    hour, minute = _time(hours, "hour"), _time(minutes, "minute")
    if over >= upper:
        return Endurance(0.0, 0.1, "trips at once")
    if over >= lower:
        return Endurance(0.0, 60.0 * minutes, f"may trip at once, and does within {minute}")
    if over >= 2.55:
        return Endurance(0.1, 60.0 * minutes, f"trips within {minute}")
    if over >= 1.45:
        return Endurance(1.0, 3600.0 * hours, f"trips within {hour}, perhaps within minutes")
    if over > 1.13:
        return Endurance(1.0, math.inf, f"may trip within {hour}, or not at all")
    return Endurance(3600.0 * hours, math.inf, f"may trip, though hardly within {hour}")


def _moulded(over: float, breaker: float) -> Endurance:
    """Calibration of UL 489, from memory: trips within an hour at 1.35 (two above 50 A), within minutes at 2."""
    hours = 1 if breaker <= 50 else 2
    minutes = next((m for size, m in ((30, 2), (50, 4), (100, 6), (150, 8)) if breaker <= size), 10)
    if over >= 2.0:
        return Endurance(0.0, 60.0 * minutes, f"trips within {minutes} minutes, perhaps at once")
    if over >= 1.35:
        return Endurance(0.0, 3600.0 * hours, f"trips within {_time(hours, 'hour')}, perhaps within minutes")
    return Endurance(0.0, math.inf, f"may trip within {_time(hours, 'hour')}, or not at all")


def _time(count: int, unit: str) -> str:
    return f"{'an' if unit == 'hour' else 'a'} {unit}" if count == 1 else f"two {unit}s"


def breaker_source(rules: Rules) -> str:
    """The standard that `endurance` goes by, from memory.

    >>> breaker_source("us")
    'UL 489, from memory'
    """
    return "IEC 60898-1, from memory" if rules == "iec" else "UL 489, from memory"
