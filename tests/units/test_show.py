"""Figures as shown: three significant digits, no exponent, the usual prefix."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rackwright.units import (
    ConductorSize,
    Length,
    Power,
    QuantityError,
    Temperature,
    figure,
    of_si,
    reading,
    told_apart,
)
from rackwright.units.formatting import fixed, whole_percent


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (1752.04, "1750"),
        (0.0519, "0.0519"),
        (0.05194, "0.0519"),
        (4.2, "4.2"),
        (4.0, "4"),
        (104.88, "105"),
        (99.96, "100"),
        (999.6, "1000"),
        (0.9996, "1"),
        (1e-6, "0.000001"),
        (123456.0, "123000"),
        (0.0, "0"),
        (-0.0, "0"),
        (-2.346, "−2.35"),
        (math.inf, "∞"),
        (-math.inf, "−∞"),
        (math.nan, "—"),
    ],
)
def test_figure(value, text):
    assert figure(value) == text


def test_more_digits_where_asked_for():
    assert figure(93.8083, 4) == "93.81"


def _side(value, limit):
    """−1 under the limit, 0 at it, 1 over it."""
    return 0 if math.isclose(value, limit) else 1 if value > limit else -1


def _read(text):
    number, _, unit = text.replace("−", "-").partition(" ")
    return float(number) * {"k": 1e3, "m": 1e-3, "µ": 1e-6}.get(unit[:-1][:1], 1)


@given(
    st.floats(0.05, 2e4),
    st.one_of(st.floats(-0.02, 0.02), st.floats(-1e-4, 1e-4), st.just(0.0)),
    st.sampled_from(["Ω", "dB", "A", "W", "VA", "V", "%", ""]),
    st.sampled_from([2, 3]),
)
def test_a_figure_is_never_told_on_the_other_side_of_its_limit(limit, off, unit, digits):
    value = limit * (1 + (off if abs(off) > 1e-6 else 0.0))
    told, bound = told_apart(value, limit, unit, digits)
    assert _side(_read(told), _read(bound)) == _side(value, limit)


@given(st.floats(-0.02, 0.02), st.sampled_from([0.8, 1.0]))
def test_a_share_is_never_told_as_a_limit_that_it_is_not_at(off, limit):
    share = limit + (off if abs(off) > 1e-5 else 0.0)
    told = _read(whole_percent(share, 0.8, 1.0))
    assert _side(told, 100 * limit) == _side(share, limit)


def test_more_digits_than_usual_only_beside_a_limit():
    assert told_apart(20.04, 20.0, "", 2) == ("20.04", "20")
    assert told_apart(20.6, 20.0, "", 2) == ("21", "20")
    assert told_apart(0.503, 0.5, "dB") == ("0.503 dB", "0.5 dB")
    assert [fixed(each, 2, 0.5) for each in (0.503, 0.5, 0.514)] == ["0.503", "0.50", "0.51"]
    assert [whole_percent(each, 0.8, 1.0) for each in (0.803, 0.8, 0.814)] == ["80.3 %", "80 %", "81 %"]


@given(st.floats(1e-9, 1e9), st.sampled_from([1, -1]))
def test_figure_is_within_half_of_its_last_digit(size, sign):
    shown = figure(sign * size).replace("−", "-")
    assert float(shown) == pytest.approx(sign * size, rel=0.0051)
    assert len(shown.replace(".", "").replace("-", "").strip("0")) <= 3


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (None, "W", "—"),
        (1752.0, "W", "1750 W"),
        (17520.0, "W", "17.5 kW"),
        (40e3, "VA", "40 kVA"),
        (33.2e-6, "F", "33.2 µF"),
        (20e3, "Hz", "20 kHz"),
        (85.94, "V", "85.9 V"),
        (0.0032, "Ω", "3.2 mΩ"),
        (0.42, "Ω", "0.42 Ω"),
        (0.0, "Ω", "0 Ω"),
        (6.74e-7, "A", "under 0.001 A"),
        (0.001, "A", "0.001 A"),
        (0.00341, "dB", "under 0.01 dB"),
        (0.7043, "dB", "0.7 dB"),
        (1620.0, "VA", "1.62 kVA"),
        (-0.0539, "dB", "−0.05 dB"),
        (0.00759, "s", "7.59 ms"),
        (0.25, "s", "0.25 s"),
        (33e-6, "", "0.000033"),
        (1.4e-3, "H", "1.4 mH"),
        (80e-6, "H", "80 µH"),
        (19.04, "", "19"),
        (math.inf, "W", "∞ W"),
    ],
)
def test_reading(value, unit, text):
    assert reading(value, unit) == text


@pytest.mark.parametrize(
    ("kind", "value", "text"),
    [
        (Length, 25, "25 m"),
        (Length, 24.384, "24.384 m"),
        (Length, 1234.5678, "1234.57 m"),
        (Power, 1e6, "1000000 W"),
        (ConductorSize, 2.5e-6, "2.5 mm2"),
        (Temperature, 30, "30 degC"),
        (Temperature, -12.5, "-12.5 degC"),
    ],
)
def test_written_from_si(kind, value, text):
    assert of_si(kind, value).text == text


@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf])
def test_no_quantity_of_a_value_that_is_out_of_bounds(value):
    with pytest.raises(QuantityError):
        of_si(Length, value)
