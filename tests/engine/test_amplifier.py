"""An amplifier channel against its rated points."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.engine import amplifier
from rackwright.model.equipment import DampingRating
from rackwright.units import Impedance, Voltage
from rigs import DUO, ratings


@pytest.mark.parametrize(
    ("load", "voltage"),
    # Worked by hand from 8 Ω 1100 W, 4 Ω 1800 W, 2 Ω 2600 W: V = √(P·Z), I = V/Z at each rated point, and where
    # the load line V = Z·I cuts the straight line between two of them.
    [(16, 93.81), (8, 93.81), (6.3, 91.21), (4, 84.85), (2.667, 77.97), (2, 72.11), (1.6, 57.69)],
)
def test_limit_voltage_of_the_example_worked_by_hand(load, voltage):
    assert amplifier.limit_voltage(amplifier.rated_points(DUO), load) == pytest.approx(voltage, abs=0.005)


def test_open_voltage_of_the_example_worked_by_hand():
    """93.81 V at 11.73 A and 84.85 V at 21.21 A extrapolate to 104.88 V at 0 A."""
    assert amplifier.open_voltage(DUO) == pytest.approx(104.88, abs=0.005)


def test_ratings_stand_in_any_order():
    turned = replace(DUO, ratings=DUO.ratings[::-1])
    assert amplifier.rated_points(turned) == amplifier.rated_points(DUO)


def test_rated_points_give_the_rated_power():
    for point, watts in zip(amplifier.rated_points(DUO), (1100, 1800, 2600), strict=True):
        assert point.voltage * point.current == pytest.approx(watts)
        assert point.voltage / point.current == pytest.approx(point.load)


def test_bridged_is_two_channels_each_into_half_the_load():
    """By hand: P_bridged(16) = 2·1100 W, P_bridged(8) = 2·1800 W, P_bridged(4) = 2·2600 W."""
    points = amplifier.rated_points(DUO, bridged=True)
    assert [point.load for point in points] == [16, 8, 4]
    assert [point.voltage * point.current for point in points] == pytest.approx([2200, 3600, 5200])
    assert amplifier.lowest_load(points) == 2 * amplifier.lowest_load(amplifier.rated_points(DUO))
    assert amplifier.open_voltage(DUO, bridged=True) == pytest.approx(2 * 104.88, abs=0.01)


@given(st.floats(0.5, 50))
def test_bridged_limits_at_twice_the_voltage_of_one_channel_into_half_the_load(load):
    bridged = amplifier.limit_voltage(amplifier.rated_points(DUO, bridged=True), load)
    assert bridged == pytest.approx(2 * amplifier.limit_voltage(amplifier.rated_points(DUO), load / 2))


def test_a_bridged_rating_of_the_data_sheet_takes_the_place_of_the_derived_ones():
    rated = replace(DUO, bridged=ratings(("8 ohm", "3200 W")))
    (point,) = amplifier.rated_points(rated, bridged=True)
    assert (point.load, point.voltage) == (8, pytest.approx(160))
    assert amplifier.lowest_load(amplifier.rated_points(rated, bridged=True)) == 8


def test_a_bridged_pair_has_twice_the_gain_in_volts():
    """20 log10 2 = 6.02 dB."""
    assert amplifier.gain(DUO) == 32
    assert amplifier.gain(DUO, bridged=True) == pytest.approx(38.02, abs=0.005)


def test_output_resistance_is_the_rated_load_over_the_damping_factor():
    """IEC 60268-3: 8 Ω / 400 = 20 mΩ; a bridge has both halves in series."""
    assert amplifier.output_resistance(DUO) == pytest.approx(0.02)
    assert amplifier.output_resistance(DUO, bridged=True) == pytest.approx(0.04)
    stated_at_four = replace(DUO, damping_factor=DampingRating(value=200, load=Impedance.parse("4 ohm")))
    assert amplifier.output_resistance(stated_at_four) == pytest.approx(0.02)


class TestOpenVoltage:
    """How it is calculated is common practice, no source."""

    def test_is_held_to_fifteen_percent_over_the_highest_rated(self):
        # By hand: 89.44 V at 11.18 A and 63.25 V at 15.81 A would extrapolate to 152.7 V.
        limited = replace(DUO, ratings=ratings(("8 ohm", "1000 W"), ("4 ohm", "1000 W")))
        assert amplifier.open_voltage(limited) == pytest.approx(1.15 * math.sqrt(8000))

    def test_is_the_rated_one_where_there_is_a_single_rating(self):
        single = replace(DUO, ratings=ratings(("8 ohm", "1000 W")))
        assert amplifier.open_voltage(single) == pytest.approx(math.sqrt(8000))

    def test_is_taken_from_the_two_highest_loads(self):
        # The 2 Ω point, held back by current, would give another slope.
        held = replace(DUO, ratings=ratings(("8 ohm", "1100 W"), ("4 ohm", "1800 W"), ("2 ohm", "1000 W")))
        assert amplifier.open_voltage(held) == pytest.approx(104.88, abs=0.005)

    def test_of_two_ratings_at_one_current_is_the_most_it_may_be(self):
        """800 W at 8 Ω and 400 W at 4 Ω are both 10 A: no line through them meets I = 0."""
        held = replace(DUO, ratings=ratings(("8 ohm", "800 W"), ("4 ohm", "400 W")))
        assert amplifier.open_voltage(held) == pytest.approx(1.15 * 80)

    def test_of_the_data_sheet_is_taken_as_it_stands(self):
        stated = replace(DUO, open_voltage=Voltage.parse("150 V"))
        assert amplifier.open_voltage(stated) == 150
        assert amplifier.open_voltage(stated, bridged=True) == 300

    def test_is_never_under_the_rated_one(self):
        # A stiff supply whose data sheet rounds: 80 V at 8 Ω, 80.5 V at 4 Ω.
        rounded = replace(DUO, ratings=ratings(("8 ohm", "800 W"), ("4 ohm", "1620 W")))
        assert amplifier.open_voltage(rounded) == pytest.approx(math.sqrt(1620 * 4))


@st.composite
def well_behaved(draw):
    """Rated points of a sagging supply, as (V, I): the voltage falls and the current rises from one to the next."""
    count = draw(st.integers(1, 4))
    voltage, current = draw(st.floats(20, 150)), draw(st.floats(1, 20))
    points = [(voltage, current)]
    for _ in range(count - 1):
        voltage *= draw(st.floats(0.6, 0.99))
        current *= draw(st.floats(1.05, 2.5))
        points.append((voltage, current))
    assume(points[-1][0] / points[-1][1] > 0.2)
    return points


def _points_of(pairs):
    """The engine's points for the (V, I) pairs, by way of a data sheet's loads and powers."""
    typed = [(f"{v / i:.9f} ohm", f"{v * i:.9f} W") for v, i in pairs]
    return amplifier.rated_points(replace(DUO, ratings=ratings(*typed)))


loads = st.floats(math.log(0.2), math.log(500)).map(math.exp)


@given(well_behaved(), loads)
def test_the_limit_lies_on_the_line_through_the_rated_points(pairs, load):
    voltage = amplifier.limit_voltage(_points_of(pairs), load)
    current = voltage / load
    # The outline of the limit in the V–I plane: level above the first point, upright below the last.
    outline = [(pairs[0][0], 0.0), *pairs, (0.0, pairs[-1][1])]
    distances = [_distance((voltage, current), *ends) for ends in itertools.pairwise(outline)]
    assert min(distances) < 1e-5


def _distance(point, start, end):
    point, start, end = map(np.array, (point, start, end))
    along = np.clip(np.dot(point - start, end - start) / np.dot(end - start, end - start), 0, 1)
    return np.linalg.norm(point - (start + along * (end - start)))


@given(well_behaved(), loads, st.floats(1, 3))
def test_a_higher_load_never_limits_lower(pairs, load, times):
    points = _points_of(pairs)
    assert amplifier.limit_voltage(points, load * times) >= amplifier.limit_voltage(points, load) * (1 - 1e-9)


@given(well_behaved(), loads)
def test_the_limit_does_not_jump(pairs, load):
    points = _points_of(pairs)
    for place in (load, *(v / i for v, i in pairs)):
        below, above = (amplifier.limit_voltage(points, place * step) for step in (1 - 1e-7, 1 + 1e-7))
        assert below == pytest.approx(above, rel=1e-5)


@given(well_behaved(), st.floats(0.05, 1))
def test_under_the_lowest_rated_load_the_current_stays_at_its_rating(pairs, share):
    points = _points_of(pairs)
    load = amplifier.lowest_load(points) * share
    assert amplifier.limit_voltage(points, load) / load == pytest.approx(pairs[-1][1], rel=1e-6)
