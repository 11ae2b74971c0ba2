"""What is selected in one pane is selected in all: by arrows, by id, from a finding, with the mouse."""

import itertools

import pytest

from rackwright.console.narrowing import choices
from rackwright.console.screens.pages import FindingsList
from rackwright.console.widgets.dialog import Picker
from rackwright.console.widgets.pane import Pane
from rackwright.model import edits

from .hand import opened


async def test_a_channel_lights_up_its_lines_and_cabinets() -> None:
    async with opened(preset="hall") as hand:
        await hand.find("A1.1")
        assert hand.session.place == "A1.1"
        assert hand.lit("lines") >= {"R1-1", "R1-1/1", "C1", "SUB-L1.upper"}
        assert "C2" not in hand.lit("lines")
        assert "Channel A1.1" in hand.text


async def test_a_section_lights_up_its_channel_and_all_on_the_way() -> None:
    async with opened(preset="hall") as hand:
        await hand.press("2")
        for _ in hand.pane("lines").rows:
            if hand.session.place == "SUB-L2.lower":
                break
            await hand.press("down")
        assert hand.session.place == "SUB-L2.lower"
        assert "A1.4" in hand.lit("racks")
        assert "A1.1" not in hand.lit("racks")
        assert {"R1-2", "C2", "SUB-L2"} <= hand.lit("lines")
        assert "Section SUB-L2.lower" in hand.text


async def test_what_lights_up_is_marked_by_a_sign_too() -> None:
    async with opened(preset="small-room", size=(140, 45)) as hand:
        await hand.find("TOP-L1")
        lit = [line for line in hand.text.splitlines() if "1 top-low" in line]
        assert lit[0].startswith("│·")


async def test_moving_lays_nothing_out_anew_though_the_results_have_other_lines() -> None:
    """A layout takes as long as all else that a key does."""
    async with opened(preset="hall", size=(140, 45)) as hand:
        await hand.press("end", "home", "down")
        layouts: list[object] = []
        hand.workplace.screen_layout_refresh_signal.subscribe(hand.workplace, layouts.append)
        lengths = set()
        for _ in range(7):
            await hand.press("down")
            lengths.add(len(hand.pane("results").rows))
        assert len(lengths) > 1
        assert not layouts


async def test_home_end_and_pages_move_in_a_pane() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await hand.press("end")
        last = hand.session.place
        assert last == hand.pane("racks").rows[-1].place or not hand.pane("racks").rows[-1].selectable
        await hand.press("home")
        assert hand.session.place == "R1"
        await hand.press("pagedown")
        assert hand.pane("racks").cursor > 10
        await hand.press("pageup", "pageup")
        assert hand.session.place == "R1"


async def test_find_goes_to_a_thing_and_brings_its_pane_forward() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        for name, front in (
            ("A5.2", "racks"),
            ("SUB-R1", "lines"),
            ("A1", "racks"),
            ("C9", "lines"),
            ("TOP-R1.high", "lines"),
            ("R2-1", "lines"),
        ):
            await hand.burst("/", *name, "enter")
            assert hand.session.place == name
            assert hand.pane(front).has_focus
            assert hand.pane(front).place == name
            assert "▶" in hand.text


async def test_find_knows_all_that_the_panes_show() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        rows = [row for pane in ("racks", "lines") for row in hand.pane(pane).rows if row.selectable]
        shown = {row.place for row in rows}
        assert {"R1-1/1", "L1"} <= shown
        await hand.press("/")
        assert isinstance(hand.screen, Picker)
        assert shown <= {option.value for option in hand.screen.options}
        await hand.burst(*"R1-1/1", "enter")
        assert hand.session.place == hand.pane("lines").place == "R1-1/1"


async def test_find_takes_the_id_that_is_typed_before_words_that_hold_it() -> None:
    async with opened(preset="hall") as hand:
        await hand.press("/")
        await hand.type("sub-l")
        assert "rack Stage left: subs" not in hand.words.partition("sub-l")[2].partition("enter OK")[0]
        await hand.press("enter")
        assert hand.session.place == "SUB-L1"


async def test_a_finding_leads_to_its_place() -> None:
    async with opened(preset="faults") as hand:
        await hand.press("v")
        assert isinstance(hand.screen, FindingsList)
        assert "3 stops, 22 warnings" in hand.text
        await hand.press("down", "enter")
        assert hand.session.place == "A3.1"
        assert hand.pane("racks").place == "A3.1"
        assert "2.67 Ω" in hand.text


async def test_the_list_of_findings_is_left_without_going_anywhere() -> None:
    async with opened(preset="faults") as hand:
        await hand.find("A1.1")
        await hand.press("v", "down", "down", "escape")
        assert hand.session.place == "A1.1"


async def test_a_click_selects_and_a_double_click_edits() -> None:
    async with opened(preset="small-room", size=(140, 45)) as hand:
        await hand.click("racks", "A1.3")
        assert hand.session.place == "A1.3"
        await hand.click("lines", "C2", times=2)
        assert "Line C2" in hand.words
        assert "enter apply" in hand.words
        await hand.press("escape")
        assert hand.session.place == "C2"


async def test_a_double_click_on_a_figure_shows_its_working() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("A1.1")
        await hand.click("results", "A1.1", times=2)
        assert "source:" in hand.words


async def test_the_whole_rig_can_be_selected_again() -> None:
    async with opened(preset="hall") as hand:
        assert hand.title == "Hall, three racks"
        await hand.find("A1.1")
        assert hand.title.startswith("Channel A1.1")
        await hand.press("escape")
        assert hand.session.place == ""
        assert hand.title == "Hall, three racks"


async def test_circuits_and_feeds_can_be_selected_too() -> None:
    async with opened(preset="hall") as hand:
        for name, said in ("P1", "Circuit P1"), ("top-mid", "Feed top-mid"):
            await hand.burst("/", *name, "enter")
            assert hand.session.place == name
            assert said in hand.text
            if name == "P1":
                assert {"A1", "A2"} <= hand.lit("racks")


async def test_find_takes_feeds_models_and_findings_and_chooses_all_that_it_shows() -> None:
    async with opened(preset="faults") as hand:
        stops = [each for each in hand.session.assessment.findings if each.severity == "stop"]
        await hand.press("/")
        await hand.pick("stop")
        assert hand.session.place == stops[0].at
        first = hand.rig.cabinets[0]
        alike = [c.id for c in hand.rig.cabinets if c.model == first.model]
        await hand.press("/")
        await hand.type(f"cabinet {first.model}")
        await hand.press("tab")
        assert list(hand.session.chosen) == alike
        assert f"{len(alike)} are chosen" in hand.text


async def test_findings_are_gone_through_without_a_list() -> None:
    async with opened(preset="faults", size=(80, 24)) as hand:
        places = list(dict.fromkeys(each.at for each in hand.session.assessment.findings if each.at))
        for place in places[:3]:
            await hand.press("n")
            assert hand.session.place == place
            assert f"{places.index(place) + 1} of {len(places)} places: " in hand.text
        await hand.press("N")
        assert hand.session.place == places[1]
        await hand.press("N", "N")
        assert hand.session.place == places[-1]


async def test_what_panes_are_narrowed_to_is_seen_from_its_start_wherever_they_stood() -> None:
    async with opened(preset="outdoor-stage", size=(200, 60)) as hand:
        await hand.find("TOP-R12")
        panes = hand.pane("racks"), hand.pane("lines")
        assert any(pane.scroll_offset.y for pane in panes)
        await hand.press("O")
        await hand.pick("top-mid")
        assert [pane.scroll_offset.y for pane in panes] == [0, 0]
        await hand.press("O")
        assert [pane.scroll_offset.y for pane in panes] == [0, 0]


async def test_panes_are_narrowed_to_what_needs_care_or_to_a_side_and_show_what_is_gone_to() -> None:
    async with opened(preset="faults", size=(80, 24)) as hand:
        racks_pane, lines_pane = hand.pane("racks"), hand.pane("lines")

        def shown(pane: Pane) -> set[str]:
            return {row.place for row in pane.rows} - {""}

        everything = shown(racks_pane)
        found = {each.at for each in hand.session.assessment.findings if each.severity != "note"}
        await hand.press("O", "enter")
        assert everything & found <= shown(racks_pane) < everything
        assert "only stops and warnings" in hand.foot
        await hand.press("O")
        assert shown(racks_pane) == everything
        await hand.press("O")
        await hand.pick("right")
        assert {"TOP-R", "TOP-R.mid", "R2-6", "R2-6/1", "C6"} <= shown(lines_pane)
        assert {"A4", "A4.3", "R2"} <= shown(racks_pane)
        assert not {"TOP-L", "SUB-L1", "R1-1"} & shown(lines_pane)
        await hand.find("SUB-L1")
        assert "SUB-L1" in shown(lines_pane)
        assert "only" not in hand.foot


async def test_no_branch_of_a_narrowed_tree_ends_at_what_is_hidden() -> None:
    async with opened(preset="faults", size=(200, 60)) as hand:
        for told in choices(hand.session.assessment):
            await hand.press("O")
            await hand.pick(told)
            texts = ["".join(text for text, _ in row.parts) for row in hand.pane("lines").rows]
            for line, below in itertools.pairwise([*texts, ""]):
                going_on = {at for at, sign in enumerate(line) if sign in "├│"}
                assert going_on <= {at for at, sign in enumerate(below) if sign in "├│└"}, (told, line)
            await hand.press("O")


async def test_no_key_chooses_or_edits_what_the_panes_are_narrowed_past() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        left = [each.id for each in hand.rig.cabinets if each.side == "left"]
        await hand.press("O")
        await hand.pick("left")
        await hand.find(left[0])
        await hand.press("*")
        await hand.pick("every cabinet")
        assert list(hand.session.chosen) == left
        await hand.press("escape", "/")
        await hand.type("cabinet")
        await hand.press("tab")
        assert set(hand.session.chosen) == {*left}
        await hand.press("escape", "/")
        await hand.type("SUB-R")
        await hand.press("tab")
        assert hand.session.chosen == ()
        assert "None of them is shown" in hand.text
        await hand.press("E")
        assert [row.place for row in hand.screen.query_one(Pane).rows if row.place] == left


async def test_how_many_of_those_chosen_are_not_shown_is_said() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await hand.press("/")
        await hand.type("cabinet sub-double-18")
        await hand.press("tab", "O")
        await hand.pick("left")
        assert "8 chosen  4 of them not shown" in hand.foot


@pytest.mark.parametrize(
    ("pane", "name", "next_to_it"),
    [
        ("lines", "C2", "C3"),
        ("lines", "C4", "C3"),
        ("lines", "SUB-L1", "SUB-R1"),
        ("racks", "A1", "A2"),
        ("racks", "R1", "sub"),
    ],
)
async def test_what_stands_next_to_what_is_removed_is_selected_then_what_undo_brings_back(
    pane: str, name: str, next_to_it: str
) -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find(name)
        await hand.press("delete")
        if "in use" in hand.text:
            await hand.press("y")
        for key, expected in (("", next_to_it), ("u", name), ("U", next_to_it)):
            await hand.press(*key)
            assert hand.session.place == hand.pane(pane).place == expected, f"after {key or 'del'}"
            assert hand.workplace.panes[hand.workplace.front].id == pane
            assert any("▶" in line and expected in line for line in hand.text.splitlines())


async def test_the_cursor_is_next_to_an_addition_that_is_undone() -> None:
    async with opened(preset="small-room") as hand:
        for name, copy in (("A1", "A3"), ("SUB-L1", "SUB-L2"), ("R1", "R2"), ("C4", "C4")):
            await hand.find(name)
            await hand.press("d")
            pane = hand.workplace.panes[hand.workplace.front]
            assert hand.session.place == pane.place == copy
            await hand.press("u")
            beside = hand.session.place
            assert beside
            assert beside == pane.place
            assert beside[0] == name[0], "of its kind"
            await hand.press("U")
            assert hand.session.place == pane.place


async def test_where_another_console_removes_what_is_selected_nothing_is() -> None:
    """A key that was on its way must not act on something else than was selected."""
    async with opened(preset="small-room") as hand:
        await hand.find("C4")
        session = hand.session
        session.follow(edits.remove(session.rig, "C4"), session.saved, False)
        hand.workplace.redraw()
        await hand.settle()
        assert session.place == hand.pane("lines").place == ""
