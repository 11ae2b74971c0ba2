"""Resistance of copper conductors: by size, length and temperature.

Holds what a cable is worth in ohms. Not which cable a line is made of, nor what flows in it.
"""

import functools

from rackwright.units import ConductorSize

IEC_60228_CLASS_5 = {
    0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95,
    6.0: 3.30, 10.0: 1.91, 16.0: 1.21, 25.0: 0.780, 35.0: 0.554,
}  # fmt: skip
"""Maximum resistance at 20 °C of flexible plain copper conductors: mm² → Ω/km. Source: IEC 60228, class 5."""

RESISTIVITY = 17.241e-9
"""Of annealed copper at 20 °C, Ω·m. Source: IEC 60028, 100 % IACS."""

TEMPERATURE_COEFFICIENT = 0.00393
"""Of the resistance of copper at 20 °C, per kelvin. Source: IEC 60028; NBS Handbook 100."""

STRANDING = 1.02
"""Resistance of a stranded conductor over a solid one of the same gauge: common practice, no source."""

CONTACTS = 2
"""Contacts in series of one mated connector: there and back."""

WORN = 10.0
"""Resistance of a worn or dirty contact over a good one's: common practice, no source."""


class SizeError(ValueError):
    """A metric size outside the table."""


def gauge_resistance(area: float) -> float:
    """Resistance in Ω/m at 20 °C of a solid conductor of `area` (m²): ρ/A [1]_.

    >>> round(gauge_resistance(3.3088e-6) * 304.8, 3)  # 12 AWG, Ω per 1000 ft
    1.588

    .. [1] ASTM B258 for the diameters, IEC 60028 for ρ; NBS Handbook 100 prints the same.
    """
    return RESISTIVITY / area


@functools.lru_cache(maxsize=1024)
def resistance_per_metre(size: ConductorSize) -> float:
    """Resistance of one core in Ω/m at 20 °C.

    A metric size takes the maximum of its class [1]_; a size between two entries the resistance–area product of the
    next smaller entry. A gauge takes a solid conductor's resistance × 1.02 for its strands (common practice, no source).
    Raises SizeError for a metric size under 0.5 or over 35 mm².

    >>> round(resistance_per_metre(ConductorSize.parse("2.5 mm2")), 5)
    0.00798

    .. [1] IEC 60228, class 5, plain copper.
    """
    if size.gauge is not None:
        return gauge_resistance(size.value) * STRANDING
    area = round(size.value * 1e6, 6)
    entries = [entry for entry in IEC_60228_CLASS_5 if entry <= area]
    if not entries or area > max(IEC_60228_CLASS_5):
        raise SizeError(f"{size} is outside 0.5 to 35 mm²")
    entry = max(entries)
    return IEC_60228_CLASS_5[entry] * entry / area / 1000


def at_temperature(resistance: float, temperature: float) -> float:
    """Resistance in Ω at `temperature` (°C) of copper that has `resistance` (Ω) at 20 °C [1]_.

    R = R20 · (1 + 0.00393 (T − 20)), good from about −50 to 150 °C.

    >>> round(at_temperature(10.0, 70.0), 3)
    11.965

    .. [1] IEC 60028; NBS Handbook 100.
    """
    return resistance * (1 + TEMPERATURE_COEFFICIENT * (temperature - 20))


def loop_resistance(size: ConductorSize, length: float, cores_per_pole: int, temperature: float) -> float:
    """Resistance in Ω of a pair there and back: twice `length` (m), over the cores in parallel for each pole.

    R = 2·l·r/n at that temperature (°C) [1]_. Raises SizeError as resistance_per_metre does.

    >>> round(loop_resistance(ConductorSize.parse("2.5 mm2"), 50.0, 1, 20.0), 3)
    0.798

    .. [1] IEC 60228, class 5; IEC 60028.
    """
    return at_temperature(resistance_per_metre(size) * 2 * length / cores_per_pole, temperature)
