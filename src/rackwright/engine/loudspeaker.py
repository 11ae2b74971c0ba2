"""A loudspeaker section as a load: impedance over frequency, alignment with a source, a hot coil.

Holds the electrical side of one section on its own. Not the network it hangs in.
"""

import functools
import math
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from rackwright.engine.conductor import TEMPERATURE_COEFFICIENT
from rackwright.model.equipment import Driver, Section

Array: TypeAlias = npt.NDArray[np.float64]
ComplexArray: TypeAlias = npt.NDArray[np.complex128]

POINTS_PER_OCTAVE = 24

LOWEST_MODULUS = 0.8
"""An impedance's lowest modulus over its nominal value. Source: IEC 60268-5, not under 80 % of rated."""

AUDIBLE = (20.0, 20e3)
"""Hz; the band taken where no feed says otherwise."""


@functools.lru_cache(maxsize=512)
def frequencies(low: float, high: float) -> Array:
    """Frequencies in Hz from `low` to `high`, both included, 24 an octave or finer. Shape (n,), n ≥ 2."""
    count = max(2, math.ceil(POINTS_PER_OCTAVE * math.log2(high / low)) + 1)
    grid = np.geomspace(low, high, count)
    grid.setflags(write=False)
    return grid


@functools.lru_cache(maxsize=4096)
def admittance(section: Section, low: float, high: float) -> ComplexArray:
    """1/impedance in S of `section` at `frequencies(low, high)`, read-only. Shape (n,)."""
    result = 1 / impedance(section, frequencies(low, high))
    result.setflags(write=False)
    return result


def impedance(section: Section, frequency: Array) -> ComplexArray:
    """Complex impedance in Ω at `frequency` (Hz, shape (n,)), shape (n,).

    With no driver data the nominal resistance.
    """
    if section.driver is None:
        return np.full(frequency.shape, section.nominal.value, dtype=np.complex128)
    if section.driver.box == "vented":
        return _vented(section.driver, section.dc_resistance.value, frequency)
    return _direct(section.driver, section.dc_resistance.value, frequency)


def _direct(driver: Driver, re: float, f: Array) -> ComplexArray:
    """Sealed or free air, driver values as mounted.

    Z = Re + jωLe + Res/(1 + jQms(f/fs − fs/f)), Res = Re·Qms/Qes.
    Source: Small, "Direct-Radiator Loudspeaker System Analysis", JAES 20(5), 1972.
    """
    fs, res = driver.fs.value, re * driver.qms / driver.qes
    motional = res / (1 + 1j * driver.qms * (f / fs - fs / f))
    return np.asarray(re + 2j * np.pi * f * driver.le.value + motional)


def _vented(driver: Driver, re: float, f: Array) -> ComplexArray:
    """Vented box, driver values in free air.

    Re and Le in series with the parallel of Res, Cmes = Qes/(2πfs·Re), Lces = Re/(2πfs·Qes) and the box
    branch Lceb = Lces/α, Cmep = 1/((2πfb)²·Lceb), Rel = 2πfb·Lceb/QL in series.
    Source: Small, "Vented-Box Loudspeaker Systems Part I", JAES 21(5), 1973.
    """
    if driver.alpha is None or driver.fb is None:
        raise ValueError("a vented box needs alpha and fb")
    s = 2j * np.pi * f
    ws, wb = 2 * math.pi * driver.fs.value, 2 * math.pi * driver.fb.value
    res = re * driver.qms / driver.qes
    cmes, lces = driver.qes / (ws * re), re / (ws * driver.qes)
    lceb = lces / driver.alpha
    cmep, rel = 1 / (wb**2 * lceb), wb * lceb / driver.ql
    box = s * lceb + 1 / (s * cmep) + rel
    motional = 1 / (1 / res + s * cmes + 1 / (s * lces) + 1 / box)
    return np.asarray(re + s * driver.le.value + motional)


def q_total(driver: Driver, dc_resistance: float, source_resistance: float) -> float:
    """Total Q with `source_resistance` (Ω) in series with the coil's `dc_resistance` (Ω).

    Qes' = Qes (Re + R)/Re; Qts' = Qes'·Qms/(Qes' + Qms). Source: Small 1972.
    """
    qes = driver.qes * (dc_resistance + source_resistance) / dc_resistance
    return qes * driver.qms / (qes + driver.qms)


def hot_resistance(dc_resistance: float, temperature: float, reference: float = 20.0) -> float:
    """DC resistance in Ω of a voice coil at `temperature` (°C), given it at `reference` (°C).

    Copper, 0.393 % per kelvin. Source: IEC 60028.
    """
    return dc_resistance * (1 + TEMPERATURE_COEFFICIENT * (temperature - reference))
