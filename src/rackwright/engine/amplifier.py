"""An amplifier channel as a source: rated points, the limit between them, output resistance, open voltage.

Holds what one channel, or a bridged pair, can do. Not what is connected to it, nor what it takes from
the mains.
"""

import itertools
import math
from typing import NamedTuple

from rackwright.model.equipment import AmplifierModel, Rating

OPEN_VOLTAGE_CEILING = 1.15
"""Highest open-circuit voltage worked out from ratings, over the highest rated voltage: common practice, no source."""

BRIDGED_GAIN = 20 * math.log10(2)
"""dB by which a bridged pair's gain is over one channel's: the same input, twice the voltage."""


class Point(NamedTuple):
    """A rated point: load in Ω, voltage in V rms, current in A rms."""

    load: float
    voltage: float
    current: float


def _point(load: float, power: float) -> Point:
    """V = √(P·Z), I = V/Z."""
    voltage = math.sqrt(power * load)
    return Point(load, voltage, voltage / load)


def rated_points(model: AmplifierModel, bridged: bool = False) -> tuple[Point, ...]:
    """The rated points of a channel, or of a bridged pair, the highest load first.

    V = √(P·Z), I = V/Z [1]_. Bridged, where the data sheet gives none: each half sees half the load, P(Z) = 2·P(Z/2).

    >>> [round(point.voltage, 2) for point in rated_points(amp, bridged=False)]
    [93.81, 84.85, 72.11]

    .. [1] Ohm's law and Joule's, with the load as a resistor: IEC 60268-3 rates output power so.
    """
    if not bridged:
        return _points(model.ratings)
    if model.bridged:
        return _points(model.bridged)
    single = _points(model.ratings)
    return tuple(Point(2 * p.load, 2 * p.voltage, p.current) for p in single)


def _points(ratings: tuple[Rating, ...]) -> tuple[Point, ...]:
    points = [_point(rating.load.value, rating.power.value) for rating in ratings]
    return tuple(sorted(points, reverse=True))


def limit_voltage(points: tuple[Point, ...], load: float) -> float:
    """Voltage in V rms at which a channel limits into `load` (Ω, above zero).

    Between two rated loads the limit lies on the straight line that joins them in the V–I plane, where the
    load line V = Z·I meets it. Above the highest rated load the voltage stays at that rating's; below the
    lowest the current does. Common practice, no source: a sagging supply. `points` as `rated_points` gives them.

    >>> points = (Point(8.0, 93.81, 11.73), Point(4.0, 84.85, 21.21), Point(2.0, 72.11, 36.06))
    >>> round(limit_voltage(points, 6.3), 2), round(limit_voltage(points, 16.0), 2), round(limit_voltage(points, 1.6), 2)
    (91.21, 93.81, 57.7)
    """
    if load >= points[0].load:
        return points[0].voltage
    for high, low in itertools.pairwise(points):
        if load >= low.load:
            rise, run = low.voltage - high.voltage, low.current - high.current
            along = (load * high.current - high.voltage) / (rise - load * run)
            return high.voltage + along * rise
    return points[-1].current * load


def lowest_load(points: tuple[Point, ...]) -> float:
    """The lowest rated load in Ω, by the data sheet.

    >>> lowest_load((Point(8.0, 80.0, 10.0), Point(4.0, 72.0, 18.0)))
    4.0
    """
    return points[-1].load


def output_resistance(model: AmplifierModel, bridged: bool = False) -> float:
    """Output resistance in Ω: rated load / damping factor [1]_; of a bridged pair, both halves in series.

    >>> output_resistance(amp, bridged=False), output_resistance(amp, bridged=True)
    (0.02, 0.04)

    .. [1] IEC 60268-3 defines the damping factor so.
    """
    single = model.damping_factor.load.value / model.damping_factor.value
    return 2 * single if bridged else single


def open_voltage(model: AmplifierModel, bridged: bool = False) -> float:
    """Voltage in V rms with nothing connected; bridged, twice one channel's.

    As the data sheet states it; else the two highest rated loads extrapolated to no current, at least the
    highest rated voltage and at most 1.15 times it. Common practice, no source.

    >>> round(open_voltage(amp, bridged=False), 2)
    104.88
    """
    if bridged:
        return 2 * open_voltage(model)
    if model.open_voltage is not None:
        return model.open_voltage.value
    points = rated_points(model)
    highest = max(point.voltage for point in points)
    if len(points) == 1:
        return highest
    first, second = points[:2]
    if second.current == first.current:  # nothing between them leads to no current: the safe side for touch
        return OPEN_VOLTAGE_CEILING * highest
    slope = (first.voltage - second.voltage) / (second.current - first.current)
    return min(max(first.voltage + slope * first.current, highest), OPEN_VOLTAGE_CEILING * highest)


def gain(model: AmplifierModel, bridged: bool = False) -> float:
    """Voltage gain in dB; a bridged pair's is 20 log10(2) = 6.02 dB more: the same input, twice the voltage [1]_.

    >>> gain(amp, bridged=False), round(gain(amp, bridged=True), 2)
    (32.0, 38.02)

    .. [1] IEC 60268-3: gain.
    """
    return model.gain.value + (BRIDGED_GAIN if bridged else 0.0)
