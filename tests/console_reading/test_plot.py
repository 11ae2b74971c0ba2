"""The plot in text: what stands where."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rackwright.console.rows import plot
from rackwright.console.rows.plot import Curve, Line, Plot, Scale
from rackwright.console.rows.row import width_of
from rackwright.console.terminal.glyphs import ASCII, UNICODE

X = plot.decades(20, 200)
Y = Scale(0, 10, 5)


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
    shown = lines(Plot(plot.decades(10, 400), Y, (curve(*points),)), width=88)
    notch = plot.GUTTER + round(79 * math.log(frequency / 10) / math.log(40))
    assert shown[-2][notch] == "+"
    peaks = [column for column, sign in enumerate(shown[0]) if sign == "*"]
    assert not peaks or peaks == [notch]
    assert any(line[notch] == "*" for line in shown[:5])


@pytest.mark.parametrize("glyphs", [ASCII, UNICODE])
def test_curves_are_told_apart_without_colour(glyphs):
    now, before = curve((20, 8), (200, 8), mark="n"), curve((20, 2), (200, 2), mark="b", faint=True)
    shown = lines(Plot(X, Y, (now, before)), glyphs=glyphs)
    upper, lower = (
        [line[plot.GUTTER :] for line in part if line[plot.GUTTER :].strip()]
        for part in (shown[:6], shown[6:-2])
    )
    assert "n" in upper[0]
    assert "b" in lower[0]
    assert upper[0].replace("n", "") != lower[0].replace("b", "")
    assert plot.sample(now, 0, glyphs)[0] != plot.sample(before, 1, glyphs)[0]


def test_a_line_is_named_where_no_curve_is_in_the_way():
    limit = Line(5, "5 rated", "warn", "╌-")
    shown = lines(Plot(X, Y, (curve((60, 5), (200, 5)),), (limit,)))
    (row,) = [line for line in shown if "rated" in line]
    assert row.index("rated") < row.index("*")
    assert row.count("*") > 20


SCALES = st.one_of(
    st.lists(st.floats(0.1, 5000), min_size=1, max_size=5).map(plot.doublings),
    st.builds(plot.down_from_zero, st.floats(-200, 0), st.integers(3, 12), st.floats(0, 20)),
    st.just(Scale(-1, 1, 0.5)),
)


@given(SCALES, st.integers(2, 60))
def test_every_value_has_its_row_and_marks_stand_evenly_at_their_own_values(scale, rows):
    drawn = Plot(X, scale, (curve((20, scale.low), (200, scale.high)),))
    shown = lines(drawn, height=rows + 2)[:-2]
    rungs = scale.rungs(rows)
    for value in (scale.low, scale.high):
        assert -0.5 - 1e-9 <= rungs.row(scale.at(value)) <= rows - 0.5 + 1e-9
    marks = {row: line[: plot.GUTTER - 2].strip() for row, line in enumerate(shown)}
    marked = [row for row, words in marks.items() if words]
    assert len({after - before for before, after in pairwise(marked)}) <= 1
    for row in marked:
        value = float(marks[row].replace("−", "-"))
        assert rungs.row(scale.at(value)) == pytest.approx(row, abs=0.02)


def test_what_a_small_plot_leaves_out_is_every_second_mark():
    shown = lines(Plot(X, plot.doublings([1.6, 60]), ()), height=7)
    assert [words for line in shown[:-2] if (words := line[: plot.GUTTER - 2].strip())] == [
        "64",
        "16",
        "4",
        "1",
        "0.25",
    ]


@pytest.mark.parametrize(
    ("width", "labels"),
    [
        (38, "Hz 20 50 100 200"),
        (88, "Hz 20 30 40 50 60 80 100 200"),
    ],
)
def test_further_frequencies_are_named_where_all_have_room(width, labels):
    assert lines(Plot(X, Y, ()), width=width)[-1].split() == labels.split()


@given(st.floats(-200, 0), st.integers(3, 12), st.floats(0, 20))
def test_decibels_are_marked_at_about_as_many_round_figures(lowest, steps, highest):
    scale = plot.down_from_zero(lowest, steps, highest)
    assert scale.low <= lowest
    assert scale.high >= highest
    assert (scale.high - scale.low) / scale.step <= steps
    assert scale.step in (1, 2, 5) or scale.step * 10 in (1, 2, 5) or scale.step / 10 in (1, 2, 5, 10)


def test_in_plain_characters_a_later_curve_does_not_hide_the_first():
    now = curve((20, 5), (200, 5))
    shown = "".join(lines(Plot(X, Y, (now, now._replace(faint=True)))))
    assert shown.count("*") == 60 - plot.GUTTER
