"""A channel over frequency: the impedance that its amplifier sees, and the level that each section gets.

Holds the curves behind the lowest impedance and the level ripple, wider than the band those are judged in. A
section without driver data is a resistor of its nominal impedance here. Holds no plot.
"""

from typing import NamedTuple

import numpy as np

from rackwright.engine import loudspeaker, network
from rackwright.engine.channel import Branch
from rackwright.engine.loudspeaker import Array, ComplexArray
from rackwright.engine.network import Solution
from rackwright.model.equipment import Section

AROUND = 2.0
"""How far the curves go past each end of the band, as a factor: an octave."""


class Lowest(NamedTuple):
    """Where an impedance is lowest."""

    frequency: float
    """Hz."""
    modulus: float
    """Ω."""


def frequencies_around(band: tuple[float, float]) -> Array:
    """Frequencies in Hz over `band` and an octave each side, 24 an octave or finer. Shape (n,).

    Those inside the band are the very ones that the lowest impedance and the ripple are reckoned at.
    """
    low, high = band
    below = loudspeaker.frequencies(low / AROUND, low)[:-1]
    above = loudspeaker.frequencies(high, high * AROUND)[1:]
    return np.concatenate([below, loudspeaker.frequencies(low, high), above])


def impedance_modulus(branch: Branch, frequency: Array) -> Array:
    """|Z| in Ω at a channel's terminals, cable included, at `frequency` (Hz, shape (n,)). Shape (n,).

    The branch has to have a section. Sources: those of `loudspeaker.impedance`; the network by Ohm's law.
    """
    return 1 / np.abs(_solution(branch, frequency).admittance)


def section_levels(branch: Branch, frequency: Array) -> tuple[Array, ...]:
    """20·log10 |V_section/E| in dB of each section, in the order of `branch.sections`, each of shape (n,).

    E is the voltage behind the amplifier's output resistance Ro: V_terminal = E/(1 + Ro·Y), so that a level is never
    over 0 dB. `frequency` in Hz, shape (n,).
    """
    solution = _solution(branch, frequency)
    drop = np.abs(1 + branch.output.resistance * solution.admittance)
    return tuple([20 * np.log10(np.abs(transfer) / drop) for transfer in solution.transfers])


def lowest(frequency: Array, modulus: Array, band: tuple[float, float]) -> Lowest:
    """Where `modulus` (Ω) is lowest inside `band` (Hz, both ends included); both arrays of shape (n,)."""
    inside = np.flatnonzero((frequency >= band[0]) & (frequency <= band[1]))
    at = inside[np.argmin(modulus[inside])]
    return Lowest(float(frequency[at]), float(modulus[at]))


def undescribed(branch: Branch) -> tuple[str, ...]:
    """The sections with no driver data, which the curves take as resistors."""
    pairs = zip(branch.sections, branch.models, strict=True)
    return tuple([result.id for result, model in pairs if model.driver is None])


def _solution(branch: Branch, frequency: Array) -> Solution[ComplexArray]:
    def admittance(section: Section) -> ComplexArray:
        return np.asarray(1 / loudspeaker.impedance(section, frequency))

    return network.solve_over(branch.nodes, admittance, len(frequency))
