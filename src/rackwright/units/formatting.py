"""Figures for a person: three significant digits, the unit's usual prefix."""

import functools
import math
from decimal import ROUND_FLOOR, Decimal
from typing import TypeVar

from rackwright.units.quantities import ConductorSize
from rackwright.units.quantity import Quantity

Q = TypeVar("Q", bound=Quantity)

_PREFIXED = {"W": 10_000, "VA": 1000, "Hz": 10_000}
"""Unit → from what on it is written with a k."""
NOTHING = "–"
"""What a table has where there is no figure."""
LEAST = 0.001
"""Less of a current, a voltage or a power is nothing that anybody measures on a rig, and is only said to be under it."""
_ALL = 12
"""Significant digits that are more than any figure is told apart from its limit by."""
_LEAST = dict.fromkeys(("A", "V", "W", "VA"), LEAST) | {"dB": 0.01}


def figure(value: float, digits: int = 3) -> str:
    """`value` to `digits` significant digits, never in exponent form, no trailing zeros beyond them.

    1752.04 is `1750`, 0.0519 is `0.0519`, 4.2 is `4.2`.
    """
    if digits == 3 and 1e-4 <= value < 999.5:
        return f"{value:.3g}"
    if not math.isfinite(value):
        return "∞" if value > 0 else "−∞" if value < 0 else "—"
    if value == 0:
        return "0"
    exponent = math.floor(math.log10(abs(value)))
    rounded = round(value, digits - 1 - exponent)
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(rounded))))
    text = f"{rounded:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return text.replace("-", "−")


def on_a_meter(value: float) -> str:
    """Three digits, a 0 at the end too, so that those of one column compare: 5.7 is `5.70`."""
    return f"{value:#.3g}".removesuffix(".") if 0.1 <= value < 999.5 else figure(value)


def reading(value: float | None, unit: str, digits: int = 3) -> str:
    """A figure with its unit and a fitting prefix: `1750 W`, `17.5 kW`, `85.9 V`, `3.2 mΩ`; a `ratio` as `29 %`; `—` for None.

    A current, voltage, power or level under LEAST is said to be so.
    """
    if value is None:
        return "—"
    size = abs(value)
    if 0 < value < _LEAST.get(unit, 0):
        return f"under {_LEAST[unit]} {unit}"
    if unit == "dB" and size < 1:  # nobody hears less than a hundredth
        value = round(value, max(2, digits - 1))
    if size >= _PREFIXED.get(unit, math.inf) and math.isfinite(value):
        return f"{figure(value / 1000, digits)} k{unit}"
    if unit == "F" and size:
        return f"{figure(value * 1e6, digits)} µF"
    if unit in ("Ω", "H", "s") and 0 < size < (1 if unit == "H" else 0.1):
        scale, prefix = (1e6, "µ") if size < 1e-4 and unit == "H" else (1e3, "m")
        return f"{figure(value * scale, digits)} {prefix}{unit}"
    if unit == "ratio":
        return f"{figure(100 * value, digits)} %"
    return f"{figure(value, digits)} {unit}".rstrip()


@functools.lru_cache(4096)
def told_apart(value: float, limit: float, unit: str, digits: int = 3) -> tuple[str, str]:
    """A figure and the limit it is held against, to as many digits more as show on which side of it the figure is.

    20.04 beside 20 is `20.04`, not `20`; a figure at its limit reads as it.
    """
    for n in range(digits, _ALL):
        told = reading(value, unit, n), reading(limit, unit, n)
        apart = told[0] != told[1] and f"{value:.{n}g}" != f"{limit:.{n}g}"
        if apart or math.isclose(value, limit):
            return told
    return reading(value, unit, digits), reading(limit, unit, digits)


def short(value: float | None) -> str:
    """A figure for a table; a dash where there is none."""
    return NOTHING if value is None else figure(value)


def capped(value: float | None) -> str:
    """The most that something may be set to, for a table: never rounded up."""
    return short(None if value is None else floored(value))


def percent(share: float | None) -> str:
    """A share as a percentage without its sign."""
    return short(None if share is None else 100 * share)


def fixed(value: float, decimals: int, *limits: float) -> str:
    """`value` to so many decimals; to more where it would else read as a limit that it is past or short of."""
    apart = [limit for limit in limits if not math.isclose(value, limit)]
    texts = ((f"{value:.{places}f}", places) for places in range(decimals, decimals + 4))
    told = (text for text, places in texts if all(text != f"{limit:.{places}f}" for limit in apart))
    return next(told, f"{value:.{decimals}f}")


def whole_percent(share: float, *limits: float) -> str:
    """A share as a percentage: `29 %`; with decimals where it would else read as a limit, `80.3 %`."""
    return f"{fixed(100 * share, 0, *(100 * limit for limit in limits))} %"


def change_percent(before: float, after: float) -> str:
    """By how much a figure moved: `−12 %`."""
    return f"{(after / before - 1) * 100:+.0f} %".replace("-", "−")


def signed_db(value: float) -> str:
    """A level above or below another, to a tenth: `+0.6 dB`."""
    return f"{value:+.1f} dB".replace("-", "−")


def change_db(before: float, after: float) -> str:
    """By how much a voltage moved, 20·log10 of the ratio: `−1.2 dB`."""
    return signed_db(20 * math.log10(after / before))


def distance(before: float | None, after: float | None) -> float:
    """How far a figure moved as a ratio; one that came or went moved farthest."""
    return abs(math.log(after / before)) if before and after else math.inf


def floored(value: float, digits: int = 3) -> float:
    """The largest number of so many significant digits that is not over `value`: 48.99 gives 48.9, −2.243 gives −2.25.

    Advice is written so: typed back as a person reads it, it must not be over what it was given for.
    """
    if not value or not math.isfinite(value):
        return value
    place = Decimal(1).scaleb(math.floor(math.log10(abs(value))) - digits + 1)
    return float(Decimal(value + 1e-12 * abs(value)).quantize(place, ROUND_FLOOR))


def of_si(kind: type[Q], value: float) -> Q:
    """The quantity of `kind` whose SI value is `value`, its text written to six significant digits.

    Raises QuantityError where the value is out of the kind's bounds.
    """
    if issubclass(kind, ConductorSize):
        return kind.parse(f"{_six_digits(value * 1e6)} mm2")
    unit = kind.examples[0].partition(" ")[2]
    factor, offset = kind.spellings[unit]
    return kind.parse(f"{_six_digits((value - offset) / factor)} {unit}")


def _six_digits(number: float) -> str:
    """Six significant digits, never in exponent form."""
    return format(Decimal(f"{number:.6g}"), "f")
