"""Limits that keep drivers whole: power ratings, limiter settings, headroom, a protective capacitor.

Holds what a section can bear and what follows for the amplifier's limiters. Not what it gets: that is
the network's.
"""

import math

from rackwright.model.equipment import Section
from rackwright.model.racks import PeakScale
from rackwright.units import LimiterSetting

PEAK = 4.0
"""Peak power over continuous, where not stated: common practice, no source."""

DBU = 0.7746
"""V rms at 0 dBu: √0.6 V, what 1 mW makes in 600 Ω. Source: ITU-R V.574, from memory."""


def peak_power(section: Section) -> float:
    """Peak power in W: as stated, else 4 × continuous: common practice, no source.

    Continuous is rated with noise of 6 dB crest factor, whose peaks have four times its mean power [1]_.

    >>> peak_power(sub)
    3200.0

    .. [1] IEC 60268-5; AES2.
    """
    return section.peak.value if section.peak is not None else PEAK * section.continuous.value


def limiter_rms(section: Section) -> float:
    """Highest rms voltage in V for a section: √(P_continuous·Z nominal), as its power is rated [1]_.

    >>> limiter_rms(sub)
    80.0

    .. [1] IEC 60268-5: rated noise voltage and power.
    """
    return math.sqrt(section.continuous.value * section.nominal.value)


def limiter_peak(section: Section) -> float:
    """Highest peak voltage in V peak for a section: √(P_peak·Z nominal), `peak_power` being V²/Z at that peak [1]_.

    >>> limiter_peak(sub)
    160.0

    .. [1] IEC 60268-5: rated noise voltage and power.
    """
    return math.sqrt(peak_power(section) * section.nominal.value)


def input_level(voltage: float, gain: float) -> float:
    """Level in dBu [1]_ at an amplifier's input that gives `voltage` (V) at its output: 20 log10(V/0.7746) − gain (dB).

    >>> round(input_level(80.0, 32.0), 2)
    8.28

    .. [1] ITU-R V.574: 0 dBu is √0.6 V, from memory.
    """
    return 20 * math.log10(voltage / DBU) - gain


def sine_level(level: float) -> float:
    """What a processor calibrated in the rms of a sine shows at a level of `level` dBu peak: 20 log10(√2) = 3.01 dB less.

    By definition of rms: that of a sine is its peak over √2.

    >>> round(sine_level(14.3), 2)
    11.29
    """
    return level - 20 * math.log10(math.sqrt(2))


def behind(voltage: float, gain: float, other: float) -> float:
    """V at an output of `other` dB, where one of `gain` dB gives `voltage` (V): one output of the processor drives both.

    By definition of the decibel: V · 10^((other − gain)/20).

    >>> round(behind(80.0, 32.0, 38.0), 1)
    159.6
    """
    return voltage * 10 ** ((other - gain) / 20)


def set_voltage(
    setting: LimiterSetting,
    gain: float,
    stated_gain: float | None = None,
    peak_scale: PeakScale | None = None,
) -> float:
    """V (V peak for a peak limiter) that a limiter comes to at an output of `gain` (dB, trim included).

    In dBu: 0.7746 V · 10^((level + gain)/20), a peak limiter on the sine scale √2 times as much. In volts: as stated, or
    where `stated_gain` (dB) tells for which output, what goes `behind` this one. `peak_scale` is None for an
    rms limiter [1]_.

    >>> round(set_voltage(LimiterSetting.parse("8.28 dBu"), 32.0), 1)
    80.0

    .. [1] ITU-R V.574: 0 dBu is √0.6 V, from memory.
    """
    if setting.in_dbu:
        volts = DBU * 10 ** ((setting.value + gain) / 20)
        return volts * math.sqrt(2) if peak_scale == "sine" else volts
    return setting.value if stated_gain is None else behind(setting.value, stated_gain, gain)


def headroom(power: float, section: Section) -> float:
    """Power at hand in a section over its continuous rating [1]_, in dB: 10 log10(P/P_continuous).

    >>> round(headroom(1600.0, sub), 2)
    3.01

    .. [1] IEC 60268-5; AES2: noise of 6 dB crest factor.
    """
    return 10 * math.log10(power / section.continuous.value)


def corner(section: Section) -> float | None:
    """Hz under which the capacitor of a section takes more than 3 dB from it: f = 1/(2πCZ), Z nominal; None without one.

    By definition of the corner of a high-pass of the first order.

    >>> corner(sub) is None  # it has no capacitor
    True
    """
    return 1 / (2 * math.pi * section.capacitor.value * section.nominal.value) if section.capacitor else None


def turnover(section: Section, band_start: float) -> float:
    """Hz at which a protective capacitor turns over: an octave under where its section plays.

    That is the start of its feed's band (Hz), or its own lowest where a feed goes lower. Common practice, no source.

    >>> horn = hall.branches["A4.1"].models[0]
    >>> turnover(horn, 1500.0), turnover(horn, 40.0) == horn.lowest.value / 2
    (750.0, True)
    """
    return max(band_start, section.lowest.value) / 2


def protective_capacitor(section: Section, band_start: float) -> float:
    """Capacitance in F to put in series with a high section that has a channel of its own.

    C = 1/(2πfZ) with f where it turns over, for a feed that starts at `band_start` (Hz). Common practice, no source.

    >>> horn = hall.branches["A4.1"].models[0]
    >>> round(1e6 * protective_capacitor(horn, 1200.0), 1)
    16.6
    """
    return 1 / (2 * math.pi * turnover(section, band_start) * section.nominal.value)
