"""A loudspeaker section as a load: impedance over frequency, alignment with a source, a hot coil.

Holds the electrical side of one section on its own. Not the network it hangs in.
"""

import functools
import math
from typing import TypeAlias, TypeVar

import numpy as np
import numpy.typing as npt

from rackwright.engine.conductor import TEMPERATURE_COEFFICIENT
from rackwright.model.equipment import Driver, Section

Array: TypeAlias = npt.NDArray[np.float64]
ComplexArray: TypeAlias = npt.NDArray[np.complex128]
S = TypeVar("S", complex, ComplexArray)

POINTS_PER_OCTAVE = 24

LOWEST_MODULUS = 0.8
"""An impedance's lowest modulus over its nominal value. Source: IEC 60268-5, not under 80 % of rated."""

REFERENCE = 2.83
"""V at which a sensitivity is stated."""

AUDIBLE = (20.0, 20e3)
"""Hz; the band taken where no feed says otherwise."""


@functools.lru_cache(maxsize=512)
def frequencies(low: float, high: float) -> Array:
    """Frequencies in Hz from `low` to `high`, both included, 24 an octave or finer, by definition evenly in octaves. Shape (n,), n ≥ 5.

    >>> len(frequencies(20.0, 40.0))
    25
    """
    count = max(5, math.ceil(POINTS_PER_OCTAVE * math.log2(high / low)) + 1)
    grid = np.geomspace(low, high, count)
    grid.setflags(write=False)
    return grid


@functools.lru_cache(maxsize=4096)
def admittance(section: Section, low: float, high: float, bare: float = 1.0) -> ComplexArray:
    """1/impedance in S of `section` at `frequencies(low, high)`, read-only. Shape (n,).

    By definition, 1/Z as of `impedance`.

    >>> round(float(abs(admittance(sub, 35.5, 71.0)[0])), 3)
    0.137
    """
    result = 1 / impedance(section, frequencies(low, high), bare)
    result.setflags(write=False)
    return result


def impedance(section: Section, frequency: Array, bare: float = 1.0) -> ComplexArray:
    """Complex impedance in Ω at `frequency` (Hz, shape (n,)), its capacitor included: Z + 1/(jωC). Shape (n,).

    From the driver's data, sealed or in free air [1]_, vented [2]_; with none `bare` × the nominal resistance.
    `impedance_at` is the same at one frequency.

    >>> np.round(np.abs(impedance(sub, np.array([21.3, 35.5, 57.4]))), 2).tolist()
    [56.55, 7.31, 50.79]

    .. [1] Small, "Direct-Radiator Loudspeaker System Analysis", JAES 20(5), 1972.
    .. [2] Small, "Vented-Box Loudspeaker Systems Part I", JAES 21(5), 1973.
    """
    return _impedance(section, np.asarray(2j * np.pi * frequency), bare)


def impedance_at(section: Section, frequency: float, bare: float = 1.0) -> complex:
    """Complex impedance in Ω at one `frequency` (Hz), as of `impedance`.

    Sources: those of `impedance` [1]_.

    >>> round(abs(impedance_at(sub, 35.5)), 2)
    7.31

    .. [1] Small, JAES 20(5), 1972, and 21(5), 1973.
    """
    return _impedance(section, complex(0.0, 2 * math.pi * frequency), bare)


def past_capacitor(section: Section, frequency: float) -> complex:
    """The voltage at a section past its capacitor over the one before it, at `frequency` (Hz): 1 − 1/(jωC·Z).

    Z includes the capacitor [1]_.

    >>> past_capacitor(sub, 1000.0)  # it has none
    (1+0j)

    .. [1] Ohm's law and Kirchhoff's, with complex impedances.
    """
    if section.capacitor is None:
        return 1 + 0j
    s = complex(0.0, 2 * math.pi * frequency)
    return 1 - 1 / (s * section.capacitor.value * _impedance(section, s, 1.0))


def _impedance(section: Section, s: S, bare: float) -> S:
    driver = section.driver
    if driver is None:
        z = 0 * s + bare * section.nominal.value
    elif driver.box == "vented":
        z = _vented(driver, section.dc_resistance.value, s)
    else:
        z = _direct(driver, section.dc_resistance.value, s)
    return z if section.capacitor is None else z + 1 / (s * section.capacitor.value)


def _direct(driver: Driver, re: float, s: S) -> S:
    """Sealed or free air, driver values as mounted, s = jω.

    Z = Re + jωLe + Res/(1 + jQms(f/fs − fs/f)), Res = Re·Qms/Qes.
    Source: Small, "Direct-Radiator Loudspeaker System Analysis", JAES 20(5), 1972.
    """
    ws, res = 2 * math.pi * driver.fs.value, re * driver.qms / driver.qes
    return re + s * driver.le.value + res / (1 + driver.qms * (s / ws + ws / s))


def _vented(driver: Driver, re: float, s: S) -> S:
    """Vented box, driver values in free air, s = jω.

    Re and Le in series with the parallel of Res, Cmes = Qes/(2πfs·Re), Lces = Re/(2πfs·Qes) and the box
    branch Lceb = Lces/α, Cmep = 1/((2πfb)²·Lceb), Rel = 2πfb·Lceb/QL in series.
    Source: Small, "Vented-Box Loudspeaker Systems Part I", JAES 21(5), 1973.
    """
    if driver.alpha is None or driver.fb is None:
        raise ValueError("a vented box needs alpha and fb")
    ws, wb = 2 * math.pi * driver.fs.value, 2 * math.pi * driver.fb.value
    res = re * driver.qms / driver.qes
    cmes, lces = driver.qes / (ws * re), re / (ws * driver.qes)
    lceb = lces / driver.alpha
    cmep, rel = 1 / (wb**2 * lceb), wb * lceb / driver.ql
    box = s * lceb + 1 / (s * cmep) + rel
    motional = 1 / (1 / res + s * cmes + 1 / (s * lces) + 1 / box)
    return re + s * driver.le.value + motional


def level(sensitivity: float, voltage: float) -> float:
    """Level in dB at 1 m of a section of `sensitivity` (dB there for 2.83 V) at `voltage` (V): L = S + 20·log10(V/2.83).

    2.83 V is 1 W into 8 Ω; nothing is said of another distance [1]_.

    >>> round(level(98.0, 80.0), 1)
    127.0

    .. [1] IEC 60268-5: characteristic sensitivity level.
    """
    return sensitivity + 20 * math.log10(voltage / REFERENCE)


def q_total(driver: Driver, dc_resistance: float, source_resistance: float) -> float:
    """Total Q with `source_resistance` (Ω) in series with the coil's `dc_resistance` (Ω).

    Qes' = Qes (Re + R)/Re; Qts' = Qes'·Qms/(Qes' + Qms) [1]_. Without Le, as all small-signal parameters.

    >>> round(q_total(sub.driver, 5.4, 0.0), 3), round(q_total(sub.driver, 5.4, 0.5), 3)
    (0.359, 0.39)

    .. [1] Small, "Direct-Radiator Loudspeaker System Analysis", JAES 20(5), 1972.
    """
    qes = driver.qes * (dc_resistance + source_resistance) / dc_resistance
    return qes * driver.qms / (qes + driver.qms)


def hot_resistance(dc_resistance: float, temperature: float, reference: float = 20.0) -> float:
    """DC resistance in Ω of a voice coil at `temperature` (°C), given it at `reference` (°C).

    R·(1 + 0.00393 (T − T0)), copper [1]_.

    >>> round(hot_resistance(5.4, 60.0), 2)
    6.25

    .. [1] IEC 60028.
    """
    return dc_resistance * (1 + TEMPERATURE_COEFFICIENT * (temperature - reference))
