"""American wire gauge against ASTM B258 as tabled by others, and the sizes on either side of a metric one."""

import math

import pytest
from fluids.piping import t_from_gauge
from hypothesis import given
from hypothesis import strategies as st

from rackwright.units import ConductorSize, gauge_area, gauge_name, neighbours
from rackwright.units.gauge import LARGEST, SMALLEST, gauge_diameter

GAUGES = range(LARGEST, SMALLEST + 1)
INCH = 0.0254


@pytest.mark.parametrize("gauge", GAUGES)
def test_diameter_against_the_table_in_fluids(gauge):
    """fluids.piping, American wire gauge from Machinery's Handbook (2012): inches to four decimals."""
    tabled = t_from_gauge(gauge if gauge >= 0 else {-1: 0.5, -2: 0.33, -3: 0.25}[gauge], True, "AWG")
    assert gauge_diameter(gauge) == pytest.approx(tabled, abs=0.00005 * INCH * 1.2)


def test_the_two_diameters_that_define_the_series():
    """ASTM B258: 4/0 is 0.4600 in and 36 is 0.0050 in."""
    assert gauge_diameter(-3) == pytest.approx(0.46 * INCH, rel=1e-6)
    assert gauge_diameter(36) == pytest.approx(0.005 * INCH, rel=1e-6)


@pytest.mark.parametrize(
    ("gauge", "circular_mils"),
    # NBS Handbook 100 (1966), areas of the gauge table, from memory.
    [
        (-3, 211600),
        (0, 105600),
        (8, 16510),
        (10, 10380),
        (12, 6530),
        (14, 4110),
        (16, 2580),
        (18, 1620),
        (20, 1020),
    ],
)
def test_area_against_nbs_handbook_100(gauge, circular_mils):
    assert gauge_area(gauge) == pytest.approx(circular_mils * 506.7075e-12, rel=0.003)


@pytest.mark.parametrize(("gauge", "square_millimetres"), [(10, 5.26), (12, 3.31), (13, 2.62), (14, 2.08)])
def test_area_in_square_millimetres(gauge, square_millimetres):
    """ASTM B258, to three figures."""
    assert gauge_area(gauge) * 1e6 == pytest.approx(square_millimetres, abs=0.005)


def test_two_and_a_half_square_millimetres_is_thirteen_or_fourteen_gauge_and_nowhere_near_ten():
    """ASTM B258: 14 AWG is 2.08 mm², 13 AWG 2.62 mm², and 10 AWG twice as much, 5.26 mm²."""
    size = ConductorSize.parse("2.5 mm2")
    assert neighbours(size.value) == (14, 13)
    assert size.equivalent() == "14 to 13 AWG"
    assert gauge_area(14) < size.value < gauge_area(13)
    assert gauge_area(10) / size.value > 2


@pytest.mark.parametrize(
    ("text", "equivalent"),
    [
        ("10 AWG", "5.26 mm²"),
        ("12 AWG", "3.31 mm²"),
        ("4/0 AWG", "107 mm²"),
        ("5.26 mm2", "as 10 AWG"),
        ("4 mm2", "12 to 11 AWG"),
        ("35 mm2", "2 to 1 AWG"),
    ],
)
def test_the_same_size_in_the_other_system(text, equivalent):
    assert ConductorSize.parse(text).equivalent() == equivalent


def test_the_ends_of_the_range():
    assert neighbours(gauge_area(-3) * 1.2) == (LARGEST, LARGEST)
    assert neighbours(gauge_area(24) / 1.2) == (SMALLEST, SMALLEST)


@given(st.floats(math.log(gauge_area(24)), math.log(gauge_area(-3))).map(math.exp))
def test_neighbours_enclose_the_area(area):
    thinner, thicker = neighbours(area)
    assert thinner - thicker in (0, 1)
    assert gauge_area(thinner) * 0.995 <= area <= gauge_area(thicker) * 1.006


@given(st.sampled_from(GAUGES))
def test_a_name_reads_back_as_its_gauge(gauge):
    assert ConductorSize.parse(gauge_name(gauge)).gauge == gauge
