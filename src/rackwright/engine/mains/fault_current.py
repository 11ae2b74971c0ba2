"""What flows when a mains cable is shorted at its far end, and whether the breaker at its near end trips at once.

Holds the loop and the verdict against the breaker's instantaneous band. Not the tripping times of an RCD, nor the share
of cables and sources that is reactance: resistances are added to the stated impedance, so that the current comes out low.
"""

from collections.abc import Iterable
from typing import NamedTuple

from rackwright.engine.conductor import at_temperature, resistance_per_metre
from rackwright.engine.finding import Severity
from rackwright.engine.mains.breaker import Curve, Rules, band
from rackwright.units import ConductorSize

LOWEST_VOLTAGE = 0.95
"""Share of the nominal voltage that drives a fault at least: the factor C_min of BS 7671 and IEC 60909-0, from memory."""

PERSONS = 0.030
"""A, rating up to which an RCD counts as protecting persons. Source: IEC 60364-4-41, from memory."""


class Loop(NamedTuple):
    """A cable on the way, conductors at the temperature of its class."""

    line: float
    """Ω, of the line conductor; the neutral is alike."""
    earth: float
    """Ω, of the earth conductor."""


def loop(size: ConductorSize, earth: ConductorSize | None, length: float, temperature: float) -> Loop:
    """Of a cable of `length` (m) with conductors at `temperature` (°C); its earth of the same size unless given.

    R = R20·L at that temperature, as `conductor` has it [1]_. Raises SizeError as resistance_per_metre does.

    >>> from rackwright.units import ConductorSize
    >>> round(loop(ConductorSize.parse("2.5 mm2"), None, 30.0, 60.0).line, 4)
    0.277

    .. [1] IEC 60228, class 5; IEC 60028.
    """
    line, back = (
        at_temperature(resistance_per_metre(each) * length, temperature) for each in (size, earth or size)
    )
    return Loop(line, back)


class FaultCurrent(NamedTuple):
    """What flows at the far end, at least; where no source impedance is stated, at best."""

    earth: float
    """A, from line to earth."""
    neutral: float
    """A, from line to neutral."""
    at_best: bool
    loop: float
    """Ω, of line and earth with what is before them, warm: what is measured cold lies under it."""


def at_far_end(voltage: float, source_impedance: float | None, loops: Iterable[Loop]) -> FaultCurrent:
    """I = 0.95·V / (Z_source + Σ loops) [1]_, `voltage` (V) to neutral, the impedance (Ω) that of the loop at the intake.

    >>> round(at_far_end(230.0, 0.35, [Loop(0.277, 0.277)]).earth, 1)
    241.7

    .. [1] BS 7671 and IEC 60909-0: the factor C_min, from memory.
    """
    way, source = list(loops), source_impedance or 0.0
    earth = source + sum([each.line + each.earth for each in way])
    neutral = source + sum([2 * each.line for each in way])
    volts = LOWEST_VOLTAGE * voltage
    infinite = float("inf")
    return FaultCurrent(
        volts / earth if earth else infinite,
        volts / neutral if neutral else infinite,
        source_impedance is None,
        earth,
    )


def severity(
    current: float, breaker: float, curve: Curve, rules: Rules, rcd: float | None
) -> Severity | None:
    """How grave a fault current (A) is for a breaker (A), given the rating of an RCD before it (A); None where it trips at once.

    Under the lower edge of the band it does not trip at once, under the upper it may not. An RCD for persons acts on
    earth faults only. UL 489 has no bands: no verdict [1]_.

    >>> severity(241.7, 16.0, "C", "iec", None), severity(140.0, 16.0, "C", "iec", None), severity(70.0, 16.0, "C", "iec", 0.03)
    (None, 'warn', 'warn')

    .. [1] IEC 60898-1; UL 489; from memory.
    """
    edges = band(breaker, curve, rules)
    if edges is None or current >= edges[1]:
        return None
    saved = rcd is not None and rcd <= PERSONS
    if current < edges[0]:
        return "warn" if saved else "stop"
    return "note" if saved else "warn"
