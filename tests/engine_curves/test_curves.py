"""Curves over frequency against circuit solutions, nodal analysis, and the figures that are read off them."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import rigs
from engine import nodal
from rackwright.engine import frequency_response
from rackwright.engine.assess import assess
from rackwright.engine.channel import Branch, band_of
from rackwright.units import Frequency

FINE = np.geomspace(15, 120, 4001)
OUTPUT = 8 / 400
"""Ω: the invented amplifier's damping factor of 400 at 8 Ω (IEC 60268-3)."""
LINE = 2 * 50 * 7.98e-3 + 4 * 2e-3
"""Ω of 50 m of 2.5 mm², IEC 60228 class 5, there and back, and four contacts of 2 mΩ."""


def branch_of(rig, channel: str = "A1.1") -> Branch:
    return assess(rig).branches[channel]


def one_sub(feed: str = "sub") -> Branch:
    """One vented woofer at the end of 50 m."""
    return branch_of(
        rigs.rig(
            rigs.amplifier("A1", feed),
            rigs.socket("S1", "A1.1"),
            rigs.line("L1", "S1", "SUB1", "50 m"),
            rigs.cabinet("SUB1", "double", "split"),
        )
    )


CHAIN = rigs.rig(
    rigs.amplifier("A1", "sub"),
    rigs.socket("S1", "A1.1"),
    rigs.line("L1", "S1", "W1", "25 m"),
    rigs.line("L2", "W1", "W2", "10 m"),
    rigs.line("L3", "W2", "W3", "40 m", "8x4"),
    *(rigs.cabinet(f"W{number}", "woofer") for number in (1, 2, 3)),
)
"""Three woofers without driver data, linked one to the next."""


def bands(low: float = 20, high: float = 5000):
    """Bands that start from `low` to `high` Hz."""
    return st.tuples(st.floats(low, high), st.floats(1.05, 40)).map(lambda pair: (pair[0], pair[0] * pair[1]))


@given(bands())
def test_frequencies_span_the_band_and_an_octave_each_side(band):
    found = frequency_response.frequencies_around(band)
    assert found[0] == pytest.approx(band[0] / 2)
    assert found[-1] == pytest.approx(band[1] * 2)
    steps = np.log2(found[1:] / found[:-1])
    assert steps.min() > 0
    assert steps.max() <= 1 / 24 + 1e-9
    assert all(np.isclose(found, end).any() for end in band)


# From an independent solution of the circuit of Small (JAES 21(5), 1973), its frequencies read to about 0.1 Hz. Where
# the modulus has an extreme the impedance is all but real, so that the line's resistance simply adds to it.
EXTREMES = [(15, 30, np.argmax, 56.6, 21.3), (45, 80, np.argmax, 50.8, 57.4), (25, 50, np.argmin, 7.31, 35.5)]


@pytest.mark.parametrize(("low", "high", "extreme", "ohms", "frequency"), EXTREMES)
def test_a_vented_sub_has_its_two_peaks_and_the_dip_between_through_the_line(
    low, high, extreme, ohms, frequency
):
    inside = FINE[(low <= FINE) & (high >= FINE)]
    modulus = frequency_response.impedance_modulus(one_sub(), inside)
    at = extreme(modulus)
    assert inside[at] == pytest.approx(frequency, abs=0.15)
    assert modulus[at] == pytest.approx(ohms + LINE, rel=2e-3)


@pytest.mark.parametrize(("low", "high", "extreme", "ohms", "frequency"), EXTREMES)
def test_level_at_an_extreme_is_that_of_a_voltage_divider(low, high, extreme, ohms, frequency):
    # V = E·Z/(Z + R), Kirchhoff's voltage law.
    (level,) = frequency_response.section_levels(one_sub(), np.array([frequency]))
    assert level[0] == pytest.approx(20 * math.log10(ohms / (ohms + LINE + OUTPUT)), abs=0.01)


def test_resistors_are_flat_and_agree_with_lcapy():
    branch = branch_of(CHAIN)
    frequency = frequency_response.frequencies_around(band_of(branch.feed))
    solved = nodal.solve_by_lcapy(nodal.circuit(CHAIN, "A1.1", False))
    np.testing.assert_allclose(
        frequency_response.impedance_modulus(branch, frequency), solved.load(), rtol=1e-6
    )
    levels = frequency_response.section_levels(branch, frequency)
    assert [section.id for section in branch.sections] == ["W1.cone", "W2.cone", "W3.cone"]
    for section, level in zip(branch.sections, levels, strict=True):
        expected = 20 * math.log10(solved.voltages["section", section.id])
        np.testing.assert_allclose(level, expected, rtol=1e-6)


@given(bands(20, 400))
def test_the_lowest_in_the_band_and_the_spread_there_are_the_reported_figures(band):
    low, high = (Frequency("as drawn", end) for end in band)
    rig = rigs.changed(
        rigs.rig(
            rigs.amplifier("A1", "sub"),
            rigs.socket("S1", "A1.1"),
            rigs.line("L1", "S1", "SUB1", "50 m"),
            rigs.line("L2", "SUB1", "SUB2", "10 m"),
            rigs.cabinet("SUB1", "double", "joined"),
            rigs.cabinet("SUB2", "double", "joined"),
        ),
        "sub",
        band=(low, high),
    )
    branch = branch_of(rig)
    frequency = frequency_response.frequencies_around(band)
    found = frequency_response.lowest(
        frequency, frequency_response.impedance_modulus(branch, frequency), band
    )
    assert found.modulus == pytest.approx(branch.result.load_minimum, rel=1e-9)
    assert band[0] * (1 - 1e-9) <= found.frequency <= band[1] * (1 + 1e-9)
    inside = (frequency >= band[0] * (1 - 1e-9)) & (frequency <= band[1] * (1 + 1e-9))
    for section, level in zip(
        branch.sections, frequency_response.section_levels(branch, frequency), strict=True
    ):
        assert level[inside].max() - level[inside].min() == pytest.approx(section.ripple, abs=1e-9)
        assert level.max() <= 0


def test_sections_without_driver_data_are_named():
    assert frequency_response.undescribed(branch_of(CHAIN)) == ("W1.cone", "W2.cone", "W3.cone")
    assert frequency_response.undescribed(one_sub()) == ()
