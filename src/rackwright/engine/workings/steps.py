"""What a working is made of: steps with their sources, and the error where there is nothing to show.

Holds no formula.
"""

import cmath
import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from rackwright.engine.limits import COMMON
from rackwright.model.equipment import AmplifierModel
from rackwright.units import figure, floored, reading
from rackwright.units.wording import listed

DIGITS = 4
"""Of a number that is put in: one more than of a result, so that a calculator gives that to its last digit."""


class Step(NamedTuple):
    """One step: what is calculated, the formula in symbols, the numbers put in, the result."""

    what: str
    formula: str
    numbers: str
    value: float
    unit: str
    source: str
    cap: bool = False
    """Whether it is the most that something may be set to: written, it is not rounded up."""
    angle: float | None = None
    """Degrees, where the value is the modulus of something that has one."""

    @property
    def result(self) -> str:
        """The result to three figures with its unit and its angle, if any."""
        return self._to(3)

    @property
    def operand(self) -> str:
        """The result as it is put into another step."""
        return self._to(DIGITS)

    def _to(self, digits: int) -> str:
        if self.angle is not None:
            return polar(cmath.rect(self.value, math.radians(self.angle)), self.unit, digits)
        return reading(floored(self.value, digits) if self.cap else self.value, self.unit, digits)


class Working(NamedTuple):
    """The working of one figure of one place."""

    place: str
    label: str
    steps: tuple[Step, ...]

    @property
    def value(self) -> float:
        """The figure, as reported."""
        return self.steps[-1].value


class NoWorkingError(Exception):
    """There is no such place or figure, or nothing to work out there; the message says what there is."""


IEC_60228 = "IEC 60228, class 5"
ASTM_B258 = "ASTM B258 and IEC 60028"
COPPER = "IEC 60028"
OHM = "Ohm's law"
SMALL_1972 = "Small, JAES 20(5), 1972"
SCHROEDER = "Schroeder, JASA 37, 409, 1965"
SMALL_1973 = "Small, JAES 21(5), 1973"
RIG = "from the rig file"
ARITHMETIC, ADDED = "arithmetic", "all of these added"


def number(value: float, digits: int = DIGITS) -> str:
    """A number that is put in."""
    return figure(value, digits)


def operand(value: float | None, unit: str, digits: int = DIGITS) -> str:
    """A number that is put in, with its unit."""
    return reading(value, unit, digits)


def polar(value: complex, unit: str = "", digits: int = DIGITS) -> str:
    """A complex value by modulus and angle: `7.314 Ω ∠ −18.21°`."""
    return f"{reading(abs(value), unit, digits)} ∠ {figure(math.degrees(cmath.phase(value)), digits)}°"


def stated(value: object, usual: object) -> str:
    """Whose a value of the rig is that has a default: nothing tells whether the file states the usual one."""
    return f"usual, {COMMON}" if value == usual else RIG


ASSUMED = f"assumed, {COMMON}"
"""The source of a figure of an amplifier that no data sheet says."""


def data_sheet(model: str) -> str:
    """The source of a figure that stands in an equipment entry."""
    return f"data sheet of {model}"


def whose(model: AmplifierModel, *names: str) -> str:
    """The source of figures of an amplifier, each of which may be assumed, of several with their names."""
    assumed, stated = ([n for n in names if (n in model.assumed) is which] for which in (True, False))
    found = [(stated, data_sheet(model.id)), (assumed, ASSUMED)]
    told = [(part, source) for part, source in found if part]
    return "; ".join(f"{_words(part)}: {source}" if len(names) > 1 else source for part, source in told)


def assumed_too(model: AmplifierModel, *names: str) -> str:
    """What follows another source where one of these figures of an amplifier is assumed."""
    assumed = [name for name in names if name in model.assumed]
    return f"; {_words(assumed)}: {ASSUMED}" if assumed else ""


def _words(names: Sequence[str]) -> str:
    return listed(names).replace("_", " ")


def final(steps: Iterable[Step]) -> float:
    """The result of the last step."""
    *_, last = steps
    return last.value


def terms(parts: Iterable[tuple[str, float]], unit: str, sign: str = " + ") -> str:
    """Named parts with their values: `A1 4.213 A + A2 1.108 A`."""
    return sign.join(f"{name} {operand(value, unit)}".lstrip() for name, value in parts)
