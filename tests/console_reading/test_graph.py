"""The graph: which channels it shows, what its keys do, how before and now stand side by side."""

import math
from itertools import product

import numpy as np
import pytest

import rigs
from rackwright.console.screens.graph import Graph, channels_of
from rackwright.console.terminal.glyphs import ASCII, UNICODE
from rackwright.console.widgets.dialog import styled
from rackwright.engine.assess import assess
from rackwright.engine.kick import pictured
from rackwright.engine.meter_check import modulus, pair_tests
from rackwright.model.edits import note_reading
from rackwright.units import Length

from .app import Alone

ASSESSED = assess(rigs.SOUND)
LONGER = assess(rigs.changed(rigs.SOUND, "L1", length=Length.parse("100 m")))
CHAIN = assess(
    rigs.rig(
        rigs.amplifier("A1", "sub"),
        rigs.socket("S1", "A1.1"),
        rigs.line("L1", "S1", "SUB1", "30 m"),
        rigs.line("L2", "SUB1", "SUB2", "30 m"),
        *(rigs.cabinet(f"SUB{number}", "double", "joined") for number in (1, 2)),
    )
)
SIZES = [(80, 24), (140, 45)]


@pytest.mark.parametrize(
    ("place", "channels"),
    [
        ("", ["A1.1", "A1.2", "A2.1", "A2.2"]),
        ("R1", ["A1.1", "A1.2", "A2.1", "A2.2"]),
        ("P1", ["A1.1", "A1.2", "A2.1", "A2.2"]),
        ("A1", ["A1.1", "A1.2"]),
        ("A1.2", ["A1.2"]),
        ("S2", ["A2.1", "A2.2"]),
        ("S2/2", ["A2.2"]),
        ("L1", ["A1.1", "A1.2"]),
        ("TOP1", ["A2.1", "A2.2"]),
        ("TOP1.horn", ["A2.2"]),
        ("sub", ["A1.1", "A1.2"]),
        ("no such place", []),
    ],
)
def test_the_channels_behind_a_place(place, channels):
    assert channels_of(ASSESSED, place) == channels


def test_a_channel_with_nothing_connected_is_left_out():
    bare = assess(rigs.without(rigs.SOUND, "SUB1", "L1"))
    assert channels_of(bare, "A1") == []


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("glyphs", [UNICODE, ASCII])
async def test_shows_impedance_with_its_limits_and_the_band(size, glyphs):
    app = Alone(Graph(ASSESSED, "A1.1", glyphs))
    async with app.run_test(size=size):
        shown, ohm = app.text(), "ohm" if glyphs.ascii else "Ω"
        assert f"Impedance at the terminals in {ohm}" in shown
        assert f"lowest rated load 2 {ohm}" in shown
        assert f"1.6 {ohm}" in shown
        assert "band of sub, 32 Hz to 90 Hz" in shown
        assert "\n".join(app.lines()).isascii() == glyphs.ascii
        assert "?" not in shown


@pytest.mark.parametrize("size", SIZES)
async def test_keys_choose_the_view(size):
    app = Alone(Graph(ASSESSED, "A1.1", UNICODE))
    async with app.run_test(size=size):
        for key, impedance, level in [("l", False, True), ("i", True, False), ("b", True, True)]:
            await app.press(key)
            assert ("Impedance at" in app.text()) == impedance
            assert ("Level at" in app.text()) == level
        await app.press("tab")
        assert "Level at" not in app.text()
        await app.press("escape")
        assert app.given == [None]


async def test_a_sweep_that_was_measured_is_drawn_over_the_model_s_curve_from_any_place_on_its_channel():
    at = np.geomspace(20, 200, 60)
    (test,) = [each for each in pair_tests(ASSESSED.index) if each.id == "L1/1"]
    points = tuple(
        (f, z, 0.0)
        for f, z in zip(at.tolist(), modulus(ASSESSED.index, test, at / 1.2).tolist(), strict=True)
    )
    measured = assess(note_reading(rigs.SOUND, "L1", 1, sweep=points))
    app = Alone(Graph(measured, "SUB1.upper", UNICODE))
    async with app.run_test(size=(80, 24)):
        await app.press("s")
        said = " ".join(app.text().split())
        assert "L1/1 to SUB1" in said
        assert "measured" in said
        assert "by the model" in said
        assert "Sweep: the peak at 21" in said
    app = Alone(Graph(measured, "A1.2", UNICODE))
    async with app.run_test(size=(80, 24)):
        await app.press("s")
        assert "No impedance sweep of a line behind A1.2 yet" in app.text()


async def test_left_and_right_go_through_the_channels():
    app = Alone(Graph(ASSESSED, "TOP1", UNICODE))
    async with app.run_test(size=(80, 24)):
        assert "Channel A2.1" in app.text()
        await app.press("right")
        assert "Channel A2.2" in app.text()
        assert "band of high, 1200 Hz to 18 kHz" in app.text()
        await app.press("right")
        assert "Channel A2.1" in app.text()
        await app.press("left")
        assert "Channel A2.2" in app.text()


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII])
async def test_a_kept_state_is_drawn_beside_and_named(glyphs):
    app = Alone(Graph(ASSESSED, "A1.1", glyphs, LONGER))
    async with app.run_test(size=(80, 24)):
        for key in "il":
            await app.press(key)
            assert " now" in app.text()
            assert " before" in app.text()


async def test_a_kept_state_that_is_the_same_is_said_to_be():
    app = Alone(Graph(ASSESSED, "A1.1", UNICODE, ASSESSED))
    async with app.run_test(size=(80, 24)):
        assert "Before: the same." in app.text()
        await app.press("l")
        assert "before the same" in app.text()


async def test_a_section_that_hung_on_another_channel_is_compared_with_it():
    moved = rigs.changed(rigs.SOUND, "S1", poles=("A1.2", "A1.1"))
    app = Alone(Graph(ASSESSED, "SUB1.upper", UNICODE, assess(moved)))
    async with app.run_test(size=(80, 24)):
        await app.press("l")
        assert "SUB1.upper" in app.text()
        assert "before the same" in app.text()


def test_sections_at_one_level_share_a_curve_and_the_selected_come_first():
    rows = Graph(CHAIN, "SUB2", UNICODE).rows(76, 18)
    level = Graph(CHAIN, "SUB2", UNICODE)
    level.view = "level"
    legend = "\n".join("".join(text for text, _ in row.parts) for row in level.rows(76, 18)[-4:])
    assert legend.index("1⠒⠒⠒ SUB2.upper and SUB2.lower") < legend.index("2⠒⠒⠒ SUB1.upper and SUB1.lower")
    assert len(rows) == 18


@pytest.mark.parametrize("view", ["impedance", "level", "both"])
@pytest.mark.parametrize("kept", [None, LONGER, CHAIN], ids=["alone", "longer", "chain"])
def test_fits_the_room_it_has(view, kept):
    for place, glyphs in product(["", "A1", "TOP1", "SUB1.upper", "nowhere"], [UNICODE, ASCII]):
        graph = Graph(ASSESSED, place, glyphs, kept)
        graph.view = view
        for width, height in ((76, 18), (136, 39), (200, 60)):
            rows = graph.rows(width, height)
            assert len(rows) <= height
            assert all(len(line) <= width for line in styled(rows, glyphs).plain.splitlines())


async def test_says_so_where_there_is_nothing_to_plot():
    app = Alone(Graph(assess(rigs.without(rigs.SOUND, "SUB1", "L1")), "A1.1", UNICODE))
    async with app.run_test(size=(80, 24)):
        assert "nothing to plot" in app.text()
        await app.press("l", "right", "b", "escape")
        assert app.given == [None]


@pytest.mark.parametrize("kept", [None, LONGER])
async def test_a_window_too_small_to_work_in_does_no_harm(kept):
    app = Alone(Graph(ASSESSED, "A1", UNICODE, kept))
    async with app.run_test(size=(140, 45)):
        await app.press("b")
        for size in [(12, 4), (3, 2), (80, 24)]:
            await app.resize(*size)
        assert "Impedance at" in app.text()


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("glyphs", [UNICODE, ASCII])
async def test_shows_a_kick_with_what_can_be_heard_of_the_wiring(size, glyphs):
    app = Alone(Graph(CHAIN, "SUB2.upper", glyphs, kept=assess(rigs.SOUND)))
    async with app.run_test(size=size):
        await app.press("k")
        shown = app.text()
        assert "SUB2.upper at a kick of 32 Hz: sound pressure, highest 1" in shown
        for wiring in (
            "as wired: D ",
            "on its own pair: D ",
            "ideal source: ",
            "all 4 of A1 chained on one pair",
        ):
            assert wiring in shown
        assert "rings on whatever the cable" in " ".join(shown.split())
        await app.press("m")
        assert "cone motion, highest 1" in app.text()


def test_the_sentence_under_a_kick_speaks_of_the_chain_and_of_what_is_left_out():
    """Level lost in a resistance by Ohm's law, 8 Ω behind R: 20·log10((8 + R)/8)."""
    found = pictured(CHAIN, "A1.1", "A1")
    assert found is not None
    assert found.apart_and_chained is not None
    own, chained = found.apart_and_chained
    assert chained.resistance == pytest.approx(4 * own.resistance)
    lost = 20 * math.log10((8 + chained.resistance) / (8 + own.resistance))
    change = float(f"{1000 * chained.decay:.3g}") - float(
        f"{1000 * own.decay:.3g}"
    )  # of what is shown above it
    words = "longer" if change > 0 else "shorter"
    assert f"{lost:.1f} dB less level, {abs(change):.1f} ms {words} decay" in found.remark
    assert "common practice, no source" in found.remark
    assert "without inductance and filters" in found.remark


@pytest.mark.parametrize("size", SIZES)
async def test_a_kick_compared_keeps_the_ideal_source_and_says_its_remark_to_the_end(size):
    found = pictured(ASSESSED, "A1.1", "A1", LONGER)
    app = Alone(Graph(ASSESSED, "A1", UNICODE, kept=LONGER))
    async with app.run_test(size=size):
        await app.press("k")
        shown = app.text()
        assert "before: D " in shown
        assert "ideal source: " in shown
        assert found.remark in " ".join(shown.split())


@pytest.mark.parametrize(("width", "height"), [(76, 18), (76, 14), (56, 13)])
def test_both_views_stand_side_by_side_in_a_low_window_on_the_same_lines(width, height):
    graph = Graph(ASSESSED, "A1.1", UNICODE)
    graph.view = "both"
    shown = styled(graph.rows(width, height), UNICODE).plain.splitlines()
    assert shown[0].startswith("Impedance at")
    assert "Level at" in shown[0]
    (axis,) = [line for line in shown if "└" in line]
    assert axis.count("└") == 2
    assert shown.index(axis) >= 7


def test_what_has_no_room_under_a_graph_is_seen_to_be_cut():
    graph = Graph(CHAIN, "SUB2.upper", UNICODE)
    graph.view = "kick"
    for height, whole in ((40, True), (14, False)):
        shown = styled(graph.rows(76, height), UNICODE).plain
        assert ("without inductance and filters." in shown) == whole
        assert shown.rstrip().endswith("…") != whole
