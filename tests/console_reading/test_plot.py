"""The plot in text: what stands where."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rackwright.console.rows import plot
from rackwright.console.rows.plot import Axis, Curve, Line, Plot
from rackwright.console.rows.row import width_of
from rackwright.console.terminal.glyphs import ASCII, UNICODE

X = plot.decades(20, 200)
Y = Axis(0, 10, ((0, "0"), (5, "5"), (10, "10")))


def lines(drawn: Plot, width=60, height=13, glyphs=ASCII) -> list[str]:
    return ["".join(text for text, _ in row.parts) for row in plot.rows(drawn, width, height, glyphs)]


def curve(*points: tuple[float, float], **more) -> Curve:
    return Curve([x for x, _ in points], [y for _, y in points], "curve", **more)


@pytest.mark.parametrize("glyphs", [ASCII, UNICODE])
@given(
    st.lists(st.floats(0, 10), min_size=2, max_size=40),
    st.integers(20, 150),
    st.integers(4, 50),
)
def test_takes_just_the_room_it_is_given(glyphs, values, width, height):
    step = (200 / 20) ** (1 / (len(values) - 1))
    points = [(20 * step**i, y) for i, y in enumerate(values)]
    drawn = Plot(X, Y, (curve(*points, mark="n"),), (Line(2, "2 rated", "warn", "╌-"),), (50, 100))
    rows = plot.rows(drawn, width, height, glyphs)
    assert len(rows) == height
    assert all(width_of(row) <= width + 3 for row in rows[-1:])
    assert all(width_of(row) == width for row in rows[:-1])
    if glyphs.ascii:
        assert "".join(lines(drawn, width, height)).isascii()


def test_a_flat_curve_lies_in_the_row_of_its_value():
    shown = lines(Plot(X, Y, (curve((20, 5), (200, 5)),)))
    (row,) = [line for line in shown if line.lstrip().startswith("5")]
    assert row.count("*") == 60 - plot.GUTTER
    assert sum("*" in line for line in shown) == 1


def test_a_curve_is_unbroken_however_steep():
    shown = lines(Plot(X, Y, (curve((20, 0), (90, 0), (90.1, 10), (200, 10)),)))
    assert all("*" in line for line in shown[:-2])


@pytest.mark.parametrize("frequency", [20, 50, 100, 200])
def test_a_peak_stands_over_its_tick(frequency):
    # Ticks and curve go by the same axis: the notch and the peak are in one column.
    low, high = frequency * 0.999, frequency * 1.001
    points = [(10, 0), (low, 0), (frequency, 10), (high, 0), (400, 0)]
    shown = lines(Plot(plot.decades(10, 400), Y, (curve(*points),)), width=87)
    notch = plot.GUTTER + round(79 * math.log(frequency / 10) / math.log(40))
    assert shown[-2][notch] == "+"
    peaks = [column for column, sign in enumerate(shown[0]) if sign == "*"]
    assert not peaks or peaks == [notch]
    assert any(line[notch] == "*" for line in shown[:5])


@pytest.mark.parametrize("glyphs", [ASCII, UNICODE])
def test_curves_are_told_apart_without_colour(glyphs):
    now, before = curve((20, 8), (200, 8), mark="n"), curve((20, 2), (200, 2), mark="b", faint=True)
    shown = lines(Plot(X, Y, (now, before)), glyphs=glyphs)
    upper, lower = "".join(shown[:6]), "".join(shown[6:-2])
    assert "n" in upper
    assert "b" in lower
    inks = [set(part) - set("nb |+│┤0123456789") for part in (upper, lower)]
    assert inks[0] != inks[1]
    assert plot.sample(now, 0, glyphs)[0] != plot.sample(before, 1, glyphs)[0]


def test_a_line_is_named_where_no_curve_is_in_the_way():
    limit = Line(5, "5 rated", "warn", "╌-")
    shown = lines(Plot(X, Y, (curve((60, 5), (200, 5)),), (limit,)))
    (row,) = [line for line in shown if "rated" in line]
    assert row.index("rated") < row.index("*")
    assert row.count("*") > 20


@given(st.lists(st.floats(0.05, 5000), min_size=1, max_size=5))
def test_doublings_have_room_for_all(values):
    axis = plot.doublings(values)
    assert axis.low <= min(values)
    assert max(values) <= axis.high
    assert [value for value, _ in axis.ticks] == pytest.approx(
        [2**i * axis.low for i in range(len(axis.ticks))]
    )


@given(st.floats(-200, 0), st.integers(3, 12))
def test_decibels_go_down_from_zero_past_the_lowest(lowest, steps):
    axis = plot.down_from_zero(lowest, steps)
    assert axis.high == 0
    assert axis.low <= lowest
    assert len(axis.ticks) <= steps + 1


@given(st.floats(-50, 0), st.floats(0.01, 20), st.integers(3, 12))
def test_decibels_over_zero_have_room_too(lowest, highest, steps):
    axis = plot.down_from_zero(lowest, steps, highest)
    assert axis.low <= lowest
    assert axis.high >= highest
    assert len(axis.ticks) <= steps + 3
