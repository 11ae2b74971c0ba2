"""The results pane: it begins at its heading, its top is reached again, its bars fill towards the limit; what is added is seen."""

import pytest

from console.hand import opened, shipped
from rackwright.console.rows.results import _figure, _finding, bar, rows
from rackwright.console.terminal.glyphs import UNICODE
from rackwright.engine.assess import assess
from rackwright.engine.figures import Figure, Limit, Shown
from rackwright.engine.finding import Finding, grouped
from rackwright.engine.workings import explain


async def test_results_longer_than_the_pane_begin_at_their_heading_and_go_back_there() -> None:
    async with opened(preset="faults", size=(80, 24)) as hand:
        await hand.press("3")
        pane = hand.pane("results")
        assert len(pane.rows) > pane.content_region.height
        heading = "".join(text for text, _ in pane.rows[0].parts).strip()
        for back in ("home", "pageup", "up"):
            assert heading in hand.text
            await hand.press("end")
            assert heading not in hand.text.replace(hand.text.splitlines()[0], "")
            await hand.burst(*[back] * (1 if back == "home" else len(pane.rows)))
        assert heading in hand.text


async def test_no_key_acts_on_a_figure_out_of_sight() -> None:
    async with opened(preset="faults", size=(80, 24)) as hand:
        await hand.press("3", "home")
        pane = hand.pane("results")
        for _ in pane.rows:
            if pane.place:
                assert pane.scroll_offset.y <= pane.cursor < pane.scroll_offset.y + pane.content_region.height
            await hand.press("down")
        assert pane.scroll_offset.y + pane.content_region.height >= len(pane.rows)


@pytest.mark.parametrize(
    ("limit", "values"),
    [
        (Limit("at most", 10.0, ""), (1.0, 5.0, 9.9, 10.0, 10.1)),
        (Limit("at least", 10.0, ""), (100.0, 20.0, 10.1, 10.0, 9.9)),
    ],
)
def test_bars_fill_towards_the_limit(limit: Limit, values: tuple[float, ...]) -> None:
    *inside, past = ("".join(text for text, _ in bar(limit, value, UNICODE, "warn")) for value in values)
    full = [bar.count(UNICODE.full) for bar in inside]
    assert full == sorted(full)
    assert full[0], "a tenth isn't nothing"
    assert [bar.strip(UNICODE.full + " ") == "" for bar in inside] == [False, False, False, True]
    assert past.split()[-1] in ("over", "under")
    assert len({len(bar) for bar in (*inside, past)}) == 1


@pytest.mark.parametrize("number", [1.0, 123.0, 1234.0, 12345.0, 123456.0])
def test_every_figure_takes_the_whole_width_and_no_more(number: float) -> None:
    figure = Figure("heat", "heat_btu_h", "Heat into the room", "BTU/h")
    for limit in (None, Limit("at most", 2 * number, "")):
        for assumed in (False, True):
            (row, *_) = _figure(Shown(figure, number, limit, assumed), {}, 40, UNICODE, "")
            assert sum(len(text) for text, _ in row.parts) == 40


@pytest.mark.parametrize(
    "limit", [None, Limit("at most", 20.0, "its breaker"), Limit("at most", 5.0, "its breaker")]
)
@pytest.mark.parametrize("width", [40, 70])
def test_a_figure_that_rests_on_an_assumed_one_says_so_with_a_limit_or_without(
    limit: Limit | None, width: int
) -> None:
    figure = Figure("heavy_current", "heavy_a", "Current, driven hard", "A")
    for assumed in (False, True):
        rows = _figure(Shown(figure, 10.0, limit, assumed), {}, width, UNICODE, "")
        assert ("assumed" in " ".join(text for row in rows for text, _ in row.parts)) is assumed


async def test_what_is_added_is_shown_where_it_stands() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        for kind in ("rack", "socket", "feed", "circuit"):
            await hand.add(kind)
            await hand.press("enter")
            name = hand.session.place
            assert f"{name} is added." in hand.text
            pane = hand.workplace.panes[hand.workplace.front]
            shown = "\n".join(hand.text.splitlines()[1:-3])
            assert name in shown.replace(f"{name} is added.", "")
            assert pane.id == "results" or pane.place == name


def test_findings_that_say_the_same_of_several_places_are_told_once() -> None:
    at = ("A1.1", "A2.1", "A2.2")
    hot = [Finding("hot", "stop", each, f"{each} is hot.", "Cool it.") for each in at]
    other = Finding("hot", "stop", "A3.1", "A3.1 is hot.", "Leave it.")
    found = grouped([hot[0], other, *hot[1:]])
    assert found == [tuple(hot), (other,)]
    told = ["".join(text for text, _ in row.parts) for group in found for row in _finding(group, 60)]
    assert told == [
        "stop A1.1, A2.1 and A2.2: each is hot.",
        "     Cool it.",
        "stop A3.1 is hot.",
        "     Leave it.",
    ]


def test_findings_are_told_apart_by_other_names_that_have_their_places_in_them() -> None:
    """What is left of "A1 beside A11" without A1 is left of "A2 beside A21" without A2, too."""
    for other in ("{}1", "{}.1", "{}-1", "X{}", "X.{}", "X-{}"):
        found = [Finding("by", "warn", at, f"{at} is beside {other.format(at)}.", "") for at in ("A1", "A2")]
        assert len(grouped(found)) == 2


async def test_a_loss_has_no_sign_but_its_name() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("C1")
        await hand.paste("1 m")
        assert " 0.03 dB" in hand.row("lines", "SUB-L1.left")
        await hand.paste("30 m")
        assert " 0.53 dB" in hand.row("lines", "SUB-L1.left")


async def test_no_heading_stands_over_nothing_and_none_twice() -> None:
    preset = shipped("outdoor-stage")
    assert preset
    assessment = assess(preset.rig)
    for place, told in (("A13", "A13.4"), ("DELAY-L1.low", "DELAY-L1.low")):
        shown = ["".join(text for text, _ in row.parts) for row in rows(assessment, place, 78, UNICODE)]
        assert told not in shown
    spare = ["".join(text for text, _ in row.parts) for row in rows(assessment, "R1-12", 78, UNICODE)]
    assert spare == ["Socket R1-12", "No channel plays through it."]


@pytest.mark.parametrize("name", ["hall", "small-club"])
def test_every_figure_of_a_feed_has_a_working(name: str) -> None:
    preset = shipped(name)
    assert preset
    assessment = assess(preset.rig)
    for feed in assessment.index.feeds:
        figures = [row for row in rows(assessment, feed, 78, UNICODE) if row.figure]
        assert figures
        for row in figures:
            assert explain(assessment, row.place, row.figure)


@pytest.mark.parametrize("width", [36, 41, 42, 44, 65, 66, 78])
def test_two_blanks_part_a_label_from_its_figure(width: int) -> None:
    preset = shipped("outdoor-stage")
    assert preset
    assessment = assess(preset.rig)
    for place in ("", "A1", "A1.1", "SUB-L1.left", "R1", "P1", "sub"):
        for row in rows(assessment, place, width, UNICODE):
            if row.figure and (label := row.parts[0][0]):
                gap = len(row.parts[1][0]) - len(row.parts[1][0].lstrip())
                assert gap >= 2, label
