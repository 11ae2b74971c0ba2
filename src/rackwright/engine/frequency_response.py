"""A channel over frequency: the impedance that its amplifier sees, and the level that each section gets.

Holds the curves, wider than the band, and what is read off them inside it: where the impedance is lowest, how far levels
spread, what is lost at the top. A section without driver data is a resistor. Holds no plot, and no full power.
"""

import functools
import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from msgspec import Struct

from rackwright.engine import loudspeaker, network
from rackwright.engine.loudspeaker import LOWEST_MODULUS, Array, ComplexArray
from rackwright.engine.network import Node, Solution
from rackwright.model.equipment import Section

AROUND = 2.0
"""How far the curves go past each end of the band, as a factor: an octave."""
CLOSER = 16
"""How many times closer than the frequencies of the band an extreme is looked at: 0.2 % apart."""


class Circuit(Struct, frozen=True, gc=False):
    """A channel's wiring behind the output of its amplifier, and the band that it is sent."""

    roots: tuple[Node, ...]
    output_resistance: float
    """Ω."""
    band: tuple[float, float]
    """Hz."""

    @property
    def sections(self) -> tuple[Section, ...]:
        """In the order in which it is solved."""
        return tuple(network.sections_of(self.roots))

    def worn(self, times: float) -> "Circuit":
        """The same with contacts of so many times the resistance."""
        return Circuit(tuple([root.worn(times) for root in self.roots]), self.output_resistance, self.band)


class At(NamedTuple):
    """A value at a frequency."""

    frequency: float
    """Hz."""
    value: float


class Ripple(NamedTuple):
    """Where in the band a section's level is highest and lowest, in dB under the amplifier's own voltage."""

    highest: At
    lowest: At

    @property
    def spread(self) -> float:
        """dB."""
        return self.highest.value - self.lowest.value


def frequencies_around(band: tuple[float, float]) -> Array:
    """Frequencies in Hz over `band` and an octave each side, 24 an octave or finer: common practice, no source. Shape (n,).

    Those inside the band are the very ones from which the lowest impedance and the ripple are looked for.

    >>> found = frequencies_around((100.0, 1000.0))
    >>> round(float(found[0]), 6), round(float(found[-1]), 6)
    (50.0, 2000.0)
    """
    low, high = band
    below = loudspeaker.frequencies(low / AROUND, low)[:-1]
    above = loudspeaker.frequencies(high, high * AROUND)[1:]
    return np.concatenate([below, loudspeaker.frequencies(low, high), above])


def impedance_modulus(circuit: Circuit, frequency: Array) -> Array:
    """|Z| in Ω at a channel's terminals, cable included, at `frequency` (Hz, shape (n,)). Shape (n,).

    Sections by `loudspeaker.impedance`, in their network of cables [1]_.

    >>> np.round(impedance_modulus(branch.circuit, np.array([21.3, 35.5])), 1).tolist()
    [56.7, 7.5]

    .. [1] Ohm's law and Kirchhoff's, with complex impedances.
    """
    return 1 / np.abs(_solved(circuit, frequency).admittance)


def section_levels(circuit: Circuit, frequency: Array) -> Array:
    """20·log10 |V_section/E| in dB of each of n sections, in the order of the circuit. Shape (n, m).

    E is the voltage behind the amplifier's output resistance Ro: V_terminal = E/(1 + Ro·Y) [1]_. Of a section behind a
    capacitor what is left past that. `frequency` in Hz, shape (m,).

    >>> np.round(section_levels(branch.circuit, np.array([21.3, 35.5])), 2).tolist()
    [[-0.03, -0.22]]

    .. [1] Ohm's law and Kirchhoff's, with complex impedances.
    """
    solution = _solved(circuit, frequency)
    drop = np.abs(1 + circuit.output_resistance * solution.admittance)
    moduli = np.abs(np.array(solution.transfers)) / drop
    for at, section in enumerate(circuit.sections):
        if section.capacitor is not None:
            moduli[at] *= [abs(loudspeaker.past_capacitor(section, f)) for f in frequency.tolist()]
    return np.asarray(20 * np.log10(moduli))


@functools.lru_cache(maxsize=65536)
def lowest_modulus(circuit: Circuit) -> At:
    """Lowest |Z| in Ω at the terminals over the band, both ends included, and where: each to 0.01 %.

    A section without driver data is a resistor of 0.8 × nominal [1]_. Where all are, |Z| of resistors behind the resistance
    and inductance of cables never falls with frequency, so that it is lowest where the band begins.

    >>> lowest = lowest_modulus(branch.circuit)
    >>> round(lowest.value, 2), round(lowest.frequency, 1)
    (7.48, 35.5)

    .. [1] IEC 60268-5: not under 80 % of the rated impedance.
    """
    kinds = {id(section): section for section in circuit.sections}

    def seen(frequency: float) -> float:
        each = {
            kind: 1 / loudspeaker.impedance_at(section, frequency, LOWEST_MODULUS)
            for kind, section in kinds.items()
        }
        return abs(network.admittance_at(circuit.roots, each, frequency))

    if all(section.driver is None and section.capacitor is None for section in kinds.values()):
        return At(circuit.band[0], 1 / seen(circuit.band[0]))
    over = {
        kind: loudspeaker.admittance(section, *circuit.band, LOWEST_MODULUS)
        for kind, section in kinds.items()
    }
    frequency = loudspeaker.frequencies(*circuit.band)
    found = _highest(frequency, np.abs(network.admittance_over(circuit.roots, over, frequency)), seen)
    return At(found.frequency, 1 / found.value)


@functools.lru_cache(maxsize=4096)
def ripples(circuit: Circuit) -> tuple[Ripple, ...]:
    """Where in the band the level of each section, as of `section_levels`, is highest and lowest, by definition: each to 0.01 %.

    >>> round(ripples(branch.circuit)[0].spread, 2)
    0.19
    """
    frequency = loudspeaker.frequencies(*circuit.band)
    return tuple(
        [
            _ripple(circuit, place, frequency, row)
            for place, row in enumerate(section_levels(circuit, frequency))
        ]
    )


def _ripple(circuit: Circuit, place: int, frequency: Array, levels: Array) -> Ripple:
    def level(at: float) -> float:
        return float(section_levels(circuit, np.array([at]))[place, 0])

    lowest = _highest(frequency, -levels, lambda at: -level(at))
    return Ripple(_highest(frequency, levels, level), At(lowest.frequency, -lowest.value))


@functools.lru_cache(maxsize=4096)
def band_top_losses(circuit: Circuit) -> tuple[float, ...]:
    """dB lost in cables between the terminals and each section at the top of the band, inductance included.

    20·log10 |V_terminal/V_section| by definition of a level, a capacitor being the section's own.

    >>> [round(lost, 3) for lost in band_top_losses(branch.circuit)]
    [0.103]
    """
    transfers = _solved(circuit, np.array(circuit.band[1:])).transfers
    return tuple([-20 * math.log10(abs(transfer[0])) for transfer in transfers])


def _solved(circuit: Circuit, frequency: Array) -> Solution[ComplexArray]:
    def admittance(section: Section) -> ComplexArray:
        return 1 / loudspeaker.impedance(section, frequency)

    return network.solve_over(circuit.roots, admittance, frequency)


def _highest(frequency: Array, values: Array, at: Callable[[float], float]) -> At:
    """Where a curve through `values` at `frequency` (Hz; each of shape (n,)) is highest; `at` gives its value anywhere.

    The frequencies are evenly apart on a logarithmic scale. At each of its peaks a parabola through three points tells how
    far up it goes; the highest is then looked at from nearer by.
    """
    inner = values[1:-1]
    peaks = np.flatnonzero((inner >= values[:-2]) & (inner >= values[2:])) + 1
    ends = At(float(frequency[0]), float(values[0])), At(float(frequency[-1]), float(values[-1]))
    best, found = max(ends, key=lambda end: end.value), None
    for peak in {1, *peaks.tolist(), len(values) - 2}:
        three = values[peak - 1 : peak + 2].tolist()
        offset, more = _parabola(*three)
        if abs(offset) <= 1 and three[1] + more > best.value:
            best, found = At(float(frequency[peak]), three[1] + more), three
    if found is None:
        return best
    apart = math.log(float(frequency[1] / frequency[0]))
    place, step, three = math.log(best.frequency), apart, found
    for _ in range(4):
        place += step * _parabola(*three)[0]
        step = apart / CLOSER
        three = [at(math.exp(place + side * step)) for side in (-1, 0, 1)]
        if abs(_parabola(*three)[0]) <= 1:
            break
    offset, more = _parabola(*three)
    best = At(math.exp(place + step * offset), three[1] + more)
    inside = frequency[0] <= best.frequency <= frequency[-1]
    return max(best, *ends, key=lambda each: each.value) if inside else max(ends, key=lambda end: end.value)


def _parabola(before: float, here: float, after: float) -> tuple[float, float]:
    """How far beside the middle of three points the parabola through them is highest, in steps, and by how much.

    Four steps at most; none where it has no highest point.
    """
    bend = 2 * here - before - after
    if bend <= 0:
        return 0.0, 0.0
    return max(-4.0, min(4.0, (after - before) / 2 / bend)), (after - before) ** 2 / 8 / bend
