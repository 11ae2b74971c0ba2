"""An impedance sweep of a line against the model's curve: its peaks, the dip between them, its lowest.

It finds what direct current can't: a dead high driver behind a capacitor, a blocked port, a leak. Sections without driver data
have no curve, and nothing is judged there. Reads no file and draws nothing.
"""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple, TypeAlias

import numpy as np
from msgspec import Struct

from rackwright.engine import loudspeaker, network
from rackwright.engine.hot_coils import heated_section
from rackwright.engine.loudspeaker import Array, ComplexArray
from rackwright.engine.meter_check.meter import PairTest, runs_behind
from rackwright.model.equipment import Section
from rackwright.model.index import Index
from rackwright.units import reading
from rackwright.units.formatting import whole_percent

Sweep: TypeAlias = Sequence[tuple[float, float, float]]
"""Hz, Ω, degrees, in the order of frequency."""

FREQUENCY_SHARE, LOWEST_SHARE, HEIGHT_SHARE = 0.10, 0.15, 0.25
"""How far peaks and the dip between them may be off in frequency, the lowest impedance, and peaks in height. Common practice,
no source."""

COARSE = 2.0
"""By what factor the lowest impedance may be off where sections are taken at their nominal impedance. Common practice, no
source."""

SWING = 1.2
"""By what factor an impedance rises and falls at what counts as a peak or a dip: less is noise. Common practice, no source."""

PER_OCTAVE = 48
"""Points at which the two curves are compared."""


class Extreme(NamedTuple):
    """A peak or a dip of an impedance."""

    frequency: float
    """Hz."""
    modulus: float
    """Ω."""


class Shape(NamedTuple):
    """What is compared of an impedance curve."""

    peaks: tuple[Extreme, ...]
    dips: tuple[Extreme, ...]
    """Between the peaks; with a vented box the first is near its tuning, fb."""
    lowest: Extreme


class SweepJudgement(Struct, frozen=True):
    """What a sweep says of a pole pair."""

    deviations: tuple[str, ...]
    """What is off, each with its figure, the limit and what to look at."""
    undescribed: tuple[str, ...]
    """Sections without driver data: with one of them there is no curve to judge by, and only what is dead or shorted is found."""

    @property
    def verdict(self) -> str:
        """In a few words."""
        if self.deviations:
            return "; ".join(self.deviations)
        if self.undescribed:
            return f"peaks not judged: no driver data of {' and '.join(self.undescribed)}"
        return "as the model's"


def judge_sweep(index: Index, test: PairTest, sweep: Sweep) -> SweepJudgement:
    """A sweep held against the curve of its line, each peak and dip against the one in the same place of the order.

    How far each may be off: common practice, no source.

    >>> from rackwright.engine.meter_check.meter import pair_test
    >>> test, frequency = pair_test(index, line, 0), np.geomspace(15, 200, 100)
    >>> ohms = modulus(index, test, frequency)
    >>> judge_sweep(index, test, [(f, z, 0.0) for f, z in zip(frequency, ohms)]).verdict
    "as the model's"
    """
    sections = tuple(network.sections_of(_nodes(index, test)))
    if not sections:
        return SweepJudgement((), ())
    bare = tuple(dict.fromkeys(section.id for section in sections if section.driver is None))
    frequency = _grid(sweep)
    expected = shape(frequency, modulus(index, test, frequency))
    found = shape(frequency, _resampled(sweep, frequency))
    return SweepJudgement(tuple(_deviations(found, expected, bool(bare))), bare)


def modulus(index: Index, test: PairTest, frequency: Array) -> Array:
    """|Z| in Ω at the near end of a line's pole pair by the model, at `frequency` (Hz, shape (n,)). Shape (n,).

    The network by Ohm's law, coils at the temperature of the test [1]_. Sources: those of `loudspeaker.impedance`.

    >>> from rackwright.engine.meter_check.meter import pair_test
    >>> np.round(modulus(index, pair_test(index, line, 0), np.array([21.3, 35.5])), 1).tolist()
    [56.9, 7.7]

    .. [1] IEC 60028.
    """

    def admittance(section: Section) -> ComplexArray:
        hot = heated_section(section, test.coil_temperature)
        return np.asarray(1 / loudspeaker.impedance(hot, frequency))

    nodes = _nodes(index, test)
    with np.errstate(divide="ignore"):  # nothing connected: infinite
        return np.asarray(1 / np.abs(network.solve_over(nodes, admittance, frequency).admittance))


def _nodes(index: Index, test: PairTest) -> tuple[network.Node, ...]:
    """What the near end of a pole pair leads to."""
    return tuple(run.node for run in runs_behind(index, index.lines[test.line], test.pair - 1))


def _grid(sweep: Sweep) -> Array:
    low, high = sweep[0][0], sweep[-1][0]
    return np.geomspace(low, high, max(2, round(PER_OCTAVE * math.log2(high / low)) + 1))


def _resampled(sweep: Sweep, frequency: Array) -> Array:
    """The sweep at `frequency` (Hz), straight between its points on both logarithmic axes."""
    at, ohms = np.array([(f, z) for f, z, _ in sweep]).T
    return np.asarray(np.exp(np.interp(np.log(frequency), np.log(at), np.log(ohms))))


def shape(frequency: Array, ohms: Array) -> Shape:
    """Peaks, the dips between them, and the lowest of an impedance (Ω) over `frequency` (Hz); both of shape (n,).

    A peak is by definition where it has risen by `SWING` and falls by as much again, a dip the reverse.

    >>> shape(np.geomspace(10, 80, 4), np.array([5.0, 9.0, 6.0, 8.0])).peaks
    (Extreme(frequency=20.0, modulus=9.0),)
    """
    moduli: list[float] = ohms.tolist()  # floats are faster one by one than an array
    turns: list[int] = []
    top = bottom = 0
    rising = 0
    for i, z in enumerate(moduli):
        top = i if z > moduli[top] else top
        bottom = i if z < moduli[bottom] else bottom
        if rising >= 0 and z * SWING < moduli[top]:
            turns.append(top)
            rising, bottom = -1, i
        elif rising <= 0 and z > moduli[bottom] * SWING:
            turns.append(bottom)
            rising, top = 1, i
    inner = [i for i in turns if 0 < i < len(moduli) - 1]
    found = [Extreme(round(float(frequency[i]), 9), moduli[i]) for i in inner]
    peaks = [n for n, i in enumerate(inner) if moduli[i] >= max(moduli[i - 1], moduli[i + 1])]
    dips = tuple(found[(a + b) // 2] for a, b in pairwise(peaks))
    least = int(np.argmin(ohms))
    return Shape(tuple(found[i] for i in peaks), dips, Extreme(float(frequency[least]), moduli[least]))


def _deviations(found: Shape, expected: Shape, coarse: bool) -> list[str]:
    lowest, right = found.lowest.modulus, expected.lowest.modulus
    hint = (
        "look for a dead driver, a bad contact or a cabinet missing"
        if lowest > right
        else "look for a cabinet too many or a shorted coil"
    )
    if coarse and right / COARSE < lowest < right * COARSE:
        return []
    said = [_off("the lowest impedance is", "Ω", lowest, right, LOWEST_SHARE, hint)]
    if coarse:
        return said
    if len(found.peaks) != len(expected.peaks):
        hint = (
            "look for a blocked port, a dead driver or a cabinet missing"
            if len(found.peaks) < len(expected.peaks)
            else "look for a leak, another cabinet or another wiring"
        )
        said += [f"{_peaks(found)} where {_peaks(expected)} {_are(expected)} expected: {hint}"]
    else:
        said += [
            _off(f"the peak at {reading(right.frequency, 'Hz')} is at", "Hz", each.frequency, right.frequency, FREQUENCY_SHARE, _TUNING)
            for each, right in zip(found.peaks, expected.peaks, strict=True)
        ]  # fmt: skip
        said += [
            _off(f"the peak at {reading(right.frequency, 'Hz')} is", "Ω", each.modulus, right.modulus, HEIGHT_SHARE, _HEIGHT)
            for each, right in zip(found.peaks, expected.peaks, strict=True)
        ]  # fmt: skip
        said += [
            _off("the dip between the peaks, fb, is at", "Hz", each.frequency, right.frequency, FREQUENCY_SHARE, _PORT)
            for each, right in zip(found.dips, expected.dips, strict=True)
        ]  # fmt: skip
    return [each for each in said if each]


_TUNING = "look for a leak, a loose cone or another driver"
_HEIGHT = "look for a leak or a damaged driver"
_PORT = "look for a blocked port, a leak or another cabinet"


def _peaks(of: Shape) -> str:
    if not of.peaks:
        return "no peak"
    places = " and ".join(reading(peak.frequency, "Hz") for peak in of.peaks)
    return f"{'one peak' if len(of.peaks) == 1 else f'{len(of.peaks)} peaks'} at {places}"


def _are(of: Shape) -> str:
    return "are" if len(of.peaks) > 1 else "is"


def _off(what: str, unit: str, found: float, expected: float, share: float, hint: str) -> str:
    """What to tell of a figure; empty within its share of what is expected."""
    if abs(found - expected) <= share * expected:
        return ""
    return (
        f"{what} {reading(found, unit)}, over ±{whole_percent(share)} from {reading(expected, unit)}: {hint}"
    )
