"""Limits of drivers: limiter settings, levels, headroom, a protective capacitor."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.engine import protection
from rackwright.units import Power
from rigs import section

LOW = section("cone", "low", "8 ohm", "800 W", "30 Hz")


def test_limiters_of_a_section_worked_by_hand():
    """√(800 W · 8 Ω) = 80 V rms; peak power 4 × 800 W: √(3200 W · 8 Ω) = 160 V peak.

    Continuous power is rated with noise of 6 dB crest factor (IEC 60268-5, AES2): peak volts are twice the rms.
    """
    assert protection.limiter_rms(LOW) == pytest.approx(80)
    assert protection.limiter_peak(LOW) == pytest.approx(160)
    crest = 20 * math.log10(protection.limiter_peak(LOW) / protection.limiter_rms(LOW))
    assert crest == pytest.approx(6, abs=0.03)


def test_peak_power_is_four_times_continuous():
    """Common practice, no source."""
    assert protection.peak_power(LOW) == 3200


def test_powers_of_the_data_sheet_take_the_place_of_the_rule():
    stated = replace(LOW, peak=Power.parse("5 kW"))
    assert protection.peak_power(stated) == 5000
    assert protection.limiter_peak(stated) == pytest.approx(200)
    assert protection.limiter_rms(stated) == pytest.approx(80)


@pytest.mark.parametrize(
    ("volts", "gain", "dbu"),
    [
        # 0 dBu is the voltage of 1 mW in 600 Ω, √0.6 V = 0.7746 V, and +4 dBu 1.228 V, as IEC and AES use it: from memory.
        (math.sqrt(0.6), 0, 0),
        (1.228, 0, 4),
        (0.3162 * math.sqrt(0.6), 0, -10),
        # By hand: 20 log10(80 V / 0.7746 V) = 40.28 dB, less 32 dB of gain.
        (80, 32, 8.28),
        (160, 32, 14.30),
    ],
)
def test_level_at_the_input_in_dbu(volts, gain, dbu):
    assert protection.input_level(volts, gain) == pytest.approx(dbu, abs=0.005)


@given(st.floats(-20, 24), st.floats(0, 50))
def test_level_at_the_input_is_the_inverse_of_amplifying_it(dbu, gain):
    volts = 0.7746 * 10 ** ((dbu + gain) / 20)
    assert protection.input_level(volts, gain) == pytest.approx(dbu, abs=1e-9)


@pytest.mark.parametrize(("watts", "decibels"), [(800, 0), (1600, 3.01), (400, -3.01), (80, -10)])
def test_headroom_is_power_at_hand_over_the_continuous_rating(watts, decibels):
    assert protection.headroom(watts, LOW) == pytest.approx(decibels, abs=0.005)


def test_protective_capacitor_turns_over_an_octave_under_the_band():
    """Common practice, no source: C = 1/(2πfZ) with f an octave under a band from 1.2 kHz; by hand 16.6 µF at 16 Ω."""
    horn = section("horn", "high", "16 ohm", "100 W", "1 kHz")
    capacitor = protection.protective_capacitor(horn, 1200.0)
    assert capacitor == pytest.approx(16.58e-6, rel=1e-3)
    reactance_at_the_band = 1 / (2 * math.pi * 1200 * capacitor)
    assert reactance_at_the_band == pytest.approx(16 / 2)
