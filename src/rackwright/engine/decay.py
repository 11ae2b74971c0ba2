"""A loudspeaker section in time: how long it sounds on after a burst, and what cone and air do at a kick.

Holds the acoustic side of one section behind one source resistance, as a system of the second or the fourth order
without the coil's inductance and the processor's filters. Not the network that makes that resistance.
"""

import functools
import math
from typing import NamedTuple

import numpy as np

from rackwright.engine.loudspeaker import Array, ComplexArray, q_total
from rackwright.model.equipment import Driver, Section

CYCLES = 10
"""Of the burst that decay is measured after."""
FALL = 0.01
"""What is left of the energy at the end of the decay: −20 dB."""
KICK_CYCLES = 4
"""Of the windowed burst that stands for a kick. Common practice, no source."""
_APART = 1e-3
"""How near two poles may come, as a share of their size, before their residues drown in rounding."""
_NUDGE = 1e-5


class System(NamedTuple):
    """A section from the voltage behind its source resistance to what it does: polynomials in s·`time`, highest first."""

    pressure: tuple[float, ...]
    motion: tuple[float, ...]
    """Of the cone."""
    denominator: tuple[float, ...]
    time: float
    """s, 1/ω0."""


class Kick(NamedTuple):
    """What a kick makes of a section; each of shape (n,)."""

    time: Array
    """s from the start of the kick."""
    signal: Array
    """The kick itself, 1 at its greatest."""
    pressure: Array
    """Sound pressure, 1 where a signal far above resonance gives 1."""
    motion: Array
    """Cone displacement, 1 where a steady voltage of 1 gives 1."""


def system(driver: Driver, dc_resistance: float, source_resistance: float) -> System:
    """The section as a high-pass, its coil of `dc_resistance` (Ω) behind `source_resistance` (Ω).

    Sealed, or free air, with Q = `q_total`, T = 1/ωs: pressure s²T²/(s²T² + sT/Q + 1), cone motion the same under 1 [1]_.

    Vented, with T0² = 1/(ωs·ωb), h = fb/fs, QT = `q_total`: pressure s⁴T0⁴/(s⁴T0⁴ + a1·s³T0³ + a2·s²T0² + a3·sT0 + 1),
    a1 = 1/(√h·QT) + √h/QL, a2 = (α + 1)/h + h + 1/(QL·QT), a3 = 1/(√h·QL) + √h/QT; cone motion the same under
    s²Tb² + sTb/QL + 1 [2]_.

    Raises ValueError for a vented box without its tuning.

    >>> system(sub.driver, 5.4, 0.5).denominator[0], round(1000 * system(sub.driver, 5.4, 0.5).time, 2)
    (1, 4.55)

    .. [1] Small, "Direct-Radiator Loudspeaker System Analysis", JAES 20(5), 1972.
    .. [2] Small, "Vented-Box Loudspeaker Systems Part I", JAES 21(5), 1973.
    """
    q = q_total(driver, dc_resistance, source_resistance)
    angular = 2 * math.pi * driver.fs.value
    if driver.box != "vented":
        return System((1, 0, 0), (1,), (1, 1 / q, 1), 1 / angular)
    if driver.alpha is None or driver.fb is None:
        raise ValueError("a vented box needs alpha and fb")
    h, ql = driver.fb.value / driver.fs.value, driver.ql
    root = math.sqrt(h)
    denominator = (
        1,
        1 / (root * q) + root / ql,
        (driver.alpha + 1) / h + h + 1 / (ql * q),
        1 / (root * ql) + root / q,
        1,
    )
    # s·Tb in units of s·T0: Tb = 1/ωb, T0 = 1/√(ωs·ωb), so that Tb = T0/√h.
    return System((1, 0, 0, 0, 0), (1 / h, 1 / (root * ql), 1), denominator, 1 / (root * angular))


def burst_frequency(driver: Driver, band_low: float | None) -> float:
    """Hz of the burst: the feed's lower edge; with no feed fs, or fb of a vented box. Common practice, no source.

    >>> burst_frequency(sub.driver, None), burst_frequency(sub.driver, 40.0)
    (36.0, 40.0)
    """
    if band_low is not None:
        return band_low
    return driver.fb.value if driver.box == "vented" and driver.fb is not None else driver.fs.value


@functools.lru_cache(maxsize=4096)
def decay(section: Section, source_resistance: float, band_low: float | None = None) -> float | None:
    """Time in s in which the sound of `section` falls by 20 dB after a burst has stopped.

    None without driver data, and behind a series capacitor, which makes another system of it.

    A sine of 10 cycles at `burst_frequency` stops at a zero crossing. What counts is the energy of the sound pressure
    still to come, integrated backwards [1]_, against what is left at the stop. `source_resistance` in Ω, 0 for the ideal.

    >>> [round(1000 * decay(sub, ohms, 36.0), 1) for ohms in (0.0, 0.19, 0.5)]
    [33.8, 33.2, 32.3]

    .. [1] Schroeder, "New Method of Measuring Reverberation Time", JASA 37, 409, 1965.
    """
    driver = section.driver
    if driver is None or section.capacitor is not None:
        return None
    made = system(driver, section.dc_resistance.value, source_resistance)
    poles = _poles(made)
    frequency = burst_frequency(driver, band_low)
    angular = 2 * math.pi * frequency * made.time
    length = CYCLES / frequency / made.time
    left = _residues(made.pressure, poles, {angular: 1.0}) * (np.exp(poles * length) - 1)
    energies = np.outer(left, left) / -np.add.outer(poles, poles)
    rates = np.add.outer(poles, poles)

    def energy(time: float) -> float:
        return float((energies * np.exp(rates * time)).sum().real)

    aim, late = FALL * energy(0.0), 1.0
    while energy(late) > aim:
        late *= 2
    early = 0.0
    while late - early > 1e-9 * late:
        middle = (early + late) / 2
        early, late = (middle, late) if energy(middle) > aim else (early, middle)
    return late * made.time


def kick(
    driver: Driver, dc_resistance: float, source_resistance: float, frequency: float, time: Array
) -> Kick:
    """Cone motion and sound pressure at a kick, at `time` (s, shape (n,)) from its start.

    The kick is 4 cycles of `frequency` (Hz) under a Hann window, a sum of three sines that all end at a zero crossing.
    Its response follows from the poles of `system`, in closed form. Resistances in Ω.

    Hann's window on a tone for a kick: common practice, no source; the system [1]_.

    >>> made = kick(sub.driver, 5.4, 0.2, 36.0, np.array([0.05, 0.1]))
    >>> np.round(made.pressure, 2).tolist()
    [0.51, 0.33]

    .. [1] Small, as of `system`.
    """
    made = system(driver, dc_resistance, source_resistance)
    at, length = time / made.time, KICK_CYCLES / frequency / made.time
    angular = 2 * math.pi * frequency * made.time
    sines = {
        angular: 0.5,
        angular * (1 + 1 / KICK_CYCLES): -0.25,
        angular * (1 - 1 / KICK_CYCLES): -0.25,
    }
    signal = sum((level * np.sin(each * at) for each, level in sines.items()), np.zeros_like(at))
    return Kick(
        time,
        np.where(at <= length, signal, 0.0),
        _response(made, made.pressure, sines, at, length),
        _response(made, made.motion, sines, at, length),
    )


def _response(
    made: System, numerator: tuple[float, ...], sines: dict[float, float], at: Array, length: float
) -> Array:
    """What a sum of sines that lasts from 0 to `length` makes at `at`, times in units of the system's own."""
    poles = _poles(made)
    residues = _residues(numerator, poles, sines)

    def free(since: Array) -> Array:
        """The poles' part of a sum of sines that goes on for ever from 0."""
        late = np.maximum(since, 0.0)
        return np.asarray((residues * np.exp(np.outer(late, poles))).sum(axis=1).real)

    driven = np.zeros_like(at)
    for angular, level in sines.items():
        steady = np.polyval(numerator, 1j * angular) / np.polyval(made.denominator, 1j * angular)
        driven += level * (steady * np.exp(1j * angular * at)).imag
    return np.where(at <= length, driven + free(at), free(at) - free(at - length))


def _poles(made: System) -> ComplexArray:
    """Roots of the denominator, none of them twice: at such a damping it is taken a hundred-thousandth beside it."""
    order = len(made.denominator) - 1
    for nudge in (0.0, _NUDGE):
        nudged = [c * (1 + nudge) if 0 < i < order else c for i, c in enumerate(made.denominator)]
        poles = np.asarray(np.roots(nudged), dtype=np.complex128)
        gaps = np.abs(np.subtract.outer(poles, poles)) + 2 * np.eye(order)
        if gaps.min() > _APART:
            break
    return poles


def _residues(numerator: tuple[float, ...], poles: ComplexArray, sines: dict[float, float]) -> ComplexArray:
    """At each pole, of the transfer function times the transform Σ a·ω/(s² + ω²) of the sines."""
    gaps = np.subtract.outer(poles, poles) + np.eye(len(poles))
    driven = sum((level * each / (poles**2 + each**2) for each, level in sines.items()), 0j * poles)
    return np.asarray(np.polyval(numerator, poles) / gaps.prod(axis=1) * driven)
