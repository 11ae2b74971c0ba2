"""Conductors against the standards' own tables."""

import math

import pytest
from fluids.piping import t_from_gauge
from hypothesis import given
from hypothesis import strategies as st

from rackwright.engine.conductor import (
    CONTACTS,
    STRANDING,
    SizeError,
    at_temperature,
    gauge_resistance,
    loop_resistance,
    resistance_per_metre,
)
from rackwright.units import ConductorSize, gauge_area

FOOT = 0.3048

# IEC 60228, conductors of class 5, plain copper wires: nominal area in mm², maximum resistance at 20 °C in Ω/km.
IEC_60228_CLASS_5 = [
    ("0.5 mm2", 39.0),
    ("0.75 mm2", 26.0),
    ("1 mm2", 19.5),
    ("1.5 mm2", 13.3),
    ("2.5 mm2", 7.98),
    ("4 mm2", 4.95),
    ("6 mm2", 3.30),
    ("10 mm2", 1.91),
    ("16 mm2", 1.21),
    ("25 mm2", 0.780),
    ("35 mm2", 0.554),
]

# NBS Handbook 100, Copper Wire Tables (1966): gauge, Ω per 1000 ft at 20 °C, solid annealed copper.
NBS_HANDBOOK_100 = [(8, 0.6282), (10, 0.9989), (12, 1.588), (14, 2.525), (16, 4.016), (18, 6.385)]


@pytest.mark.parametrize(("size", "per_kilometre"), IEC_60228_CLASS_5)
def test_metric_size_has_the_maximum_resistance_of_iec_60228_class_5(size, per_kilometre):
    assert resistance_per_metre(ConductorSize.parse(size)) * 1000 == pytest.approx(per_kilometre, rel=1e-9)


@pytest.mark.parametrize(("gauge", "per_thousand_feet"), NBS_HANDBOOK_100)
def test_solid_gauge_agrees_with_nbs_handbook_100(gauge, per_thousand_feet):
    # Four figures are printed; one unit of the last is allowed.
    last_figure = 10.0 ** (math.floor(math.log10(per_thousand_feet)) - 3)
    solid = gauge_resistance(gauge_area(gauge)) * 1000 * FOOT
    assert solid == pytest.approx(per_thousand_feet, abs=last_figure)


@pytest.mark.parametrize(("gauge", "per_thousand_feet"), NBS_HANDBOOK_100)
def test_a_cable_of_a_gauge_is_two_percent_over_solid(gauge, per_thousand_feet):
    """Strands run longer than the cable: common practice, no source."""
    assert STRANDING == 1.02
    cable = resistance_per_metre(ConductorSize.parse(f"{gauge} AWG")) * 1000 * FOOT
    assert cable == pytest.approx(1.02 * per_thousand_feet, rel=5e-4)


@pytest.mark.parametrize(
    ("size", "in_handbook"),
    [("4/0 AWG", 0.25), ("3/0 AWG", 0.33), ("2/0 AWG", 0.5), ("1/0 AWG", 0.0)]
    + [(f"{gauge} AWG", float(gauge)) for gauge in range(1, 25)],
)
def test_gauge_diameter_agrees_with_the_table_in_fluids(size, in_handbook):
    """`fluids` tabulates Machinery's Handbook (2012), in inches to four decimals; it counts 2/0 as 1/2, and so on."""
    diameter = 2 * math.sqrt(ConductorSize.parse(size).value / math.pi) / 0.0254
    assert diameter == pytest.approx(t_from_gauge(in_handbook, SI=False, schedule="AWG"), abs=5.1e-5)


def test_ten_gauge_has_half_the_resistance_of_two_and_a_half_square_millimetres():
    """ASTM B258: 10 AWG is 5.26 mm²; that it equals 2.5 mm² is often said, and out by a factor of two."""
    gauge = resistance_per_metre(ConductorSize.parse("10 AWG"))
    metric = resistance_per_metre(ConductorSize.parse("2.5 mm2"))
    assert metric / gauge == pytest.approx(2.4, abs=0.1)


@pytest.mark.parametrize(
    ("size", "per_kilometre"),
    # By hand: the resistance–area product of the next smaller entry of IEC 60228, over the area.
    [("3 mm2", 7.98 * 2.5 / 3), ("2 mm2", 13.3 * 1.5 / 2), ("5.26 mm2", 4.95 * 4 / 5.26)],
)
def test_a_size_between_entries_keeps_the_product_of_the_smaller(size, per_kilometre):
    assert resistance_per_metre(ConductorSize.parse(size)) * 1000 == pytest.approx(per_kilometre)


@given(st.integers(500, 35000).map(lambda thousandths: thousandths / 1000))
def test_any_metric_size_is_worth_between_plain_copper_and_a_sixth_more(area):
    size = ConductorSize.parse(f"{area} mm2")
    assert 1 <= resistance_per_metre(size) * size.value / 17.241e-9 < 7 / 6


@pytest.mark.parametrize("area", [0.49e-6, 35.1e-6])
def test_a_metric_size_outside_the_table_is_an_error(area):
    with pytest.raises(SizeError, match=r"0\.5 to 35 mm²"):
        resistance_per_metre(ConductorSize("as typed", area))


def test_a_gauge_needs_no_table():
    assert resistance_per_metre(ConductorSize.parse("4/0 AWG")) < resistance_per_metre(
        ConductorSize.parse("24 AWG")
    )


@pytest.mark.parametrize(
    ("celsius", "ratio"),
    [
        (20, 1.0),
        (30, 1.0393),  # IEC 60028: 0.00393 per kelvin at 20 °C
        (120, 1.393),
        (-10, 0.8821),
        (
            25,
            1.018 / 0.9989,
        ),  # 10 AWG, Ω per 1000 ft at 25 °C over that at 20 °C: NBS Handbook 100, from memory
        (65, (234.5 + 65) / (234.5 + 20)),  # the inferred absolute zero of copper, −234.5 °C: from memory
    ],
)
def test_copper_warms_as_iec_60028_says(celsius, ratio):
    assert at_temperature(1.0, celsius) == pytest.approx(ratio, rel=6e-4)


@pytest.mark.parametrize(
    ("size", "metres", "cores", "celsius", "ohms"),
    # By hand from the tables above: there and back, cores in parallel, warmed.
    [
        ("2.5 mm2", 20, 1, 20, 2 * 20 * 7.98e-3),
        ("2.5 mm2", 20, 2, 20, 20 * 7.98e-3),
        ("4 mm2", 50, 1, 30, 2 * 50 * 4.95e-3 * 1.0393),
        ("12 AWG", 100 * FOOT, 1, 20, 2 * 0.1588 * 1.02),
    ],
)
def test_a_loop_is_there_and_back(size, metres, cores, celsius, ohms):
    loop = loop_resistance(ConductorSize.parse(size), metres, cores, celsius)
    assert loop == pytest.approx(ohms, rel=5e-4)


def test_a_mated_connector_has_a_contact_there_and_one_back():
    assert CONTACTS == 2
