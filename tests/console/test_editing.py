"""Edits in place: what a form says while it is typed in, and what the keys of the workplace make of the rig."""

import itertools
import re
from typing import Any

import pytest
from msgspec.structs import replace

from rackwright.console.forms.defaults import ADDABLE, proposed
from rackwright.console.rows import results
from rackwright.console.rows.consequence import foreseen
from rackwright.console.screens.amplifier_position import AmplifierPosition
from rackwright.console.terminal.glyphs import ASCII, UNICODE, Glyphs
from rackwright.console.widgets.fields import FieldError, Measure, Share, Words
from rackwright.console.widgets.form import KEPT, ChoiceBox, Form, Line, LineBox
from rackwright.console.widgets.pane import Pane
from rackwright.engine.finding import Finding, grouped
from rackwright.model import edits
from rackwright.units import ConductorSize, Frequency, LimiterSetting

from .hand import Hand, opened


def line(hand: Hand, name: str) -> tuple[str, str]:
    """A line's cable and length."""
    found = hand.session.assessment.index.lines[name]
    return found.cable, found.length.text


async def open_length(hand: Hand, name: str) -> None:
    """The form of a line, the cursor on its length."""
    await hand.find(name)
    await hand.press("enter")


# --- a form ---


async def test_a_form_shows_what_it_would_do_while_it_is_typed_in() -> None:
    async with opened(preset="small-room") as hand:
        before = hand.rig
        await open_length(hand, "C2")
        assert "No change." in hand.text
        await hand.write("300 ft")
        assert "= 91.44 m" in hand.text
        assert "+ warn" in hand.text
        assert "SUB-R1" in hand.text.partition("+ warn")[2].partition("\n")[0]
        assert hand.rig is before
        await hand.press("enter")
        assert line(hand, "C2") == ("flex-4x2.5", "300 ft")
        assert "0 warnings" not in hand.foot
        assert "undo edit C2" in hand.foot


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII], ids=["colour", "ascii without colour"])
async def test_the_field_that_the_keys_go_to_is_seen_though_it_is_empty(
    glyphs: Glyphs, monkeypatch: pytest.MonkeyPatch
) -> None:
    if glyphs.ascii:
        monkeypatch.setenv("NO_COLOR", "1")
    async with opened(size=(80, 24), glyphs=glyphs) as hand:
        await hand.burst("n")
        for keys, name in (((*"afeed", "enter"), "limiter_rms"), (("P",), "notes"), (("S", "ctrl+u"), "")):
            await hand.burst(*keys)
            if name:
                await hand.field(name)
                assert isinstance(hand.screen, Form)
                bold = {line.label.removesuffix(" *") for line in hand.screen.query(Line) if line.here}
                assert bold == {next(f.label for f in hand.screen.fields if f.name == name)}
            box = hand.app.focused
            assert box is not None
            [(_, caret, _)] = hand.strips()[box.region.y].crop(box.region.x, box.region.x + 1)
            assert caret is not None
            assert caret.reverse, keys
            inks = [each for each in (caret.color, caret.bgcolor) if each is not None]
            assert all(ink.is_default for ink in inks), (
                "the terminal's own two, turned round, differ on any ground"
            )
            await hand.press("escape")


async def test_all_that_a_form_would_do_can_be_read_a_page_at_a_time() -> None:
    async with opened(preset="faults", size=(80, 24)) as hand:
        await hand.find("A1")
        await hand.press("enter")
        await hand.field("model")
        await hand.choose("2ch-250ab")
        first = hand.words
        read, left = first, -1
        while found := re.search(r"page down: (\d+) more line", hand.words):
            left = int(found[1])
            await hand.press("pagedown")
            read += hand.words
        assert left > 0
        assert "page up: back" in hand.words
        form = hand.screen
        assert isinstance(form, Form)
        for row in form.told:
            last = "".join(text for text, _ in row.parts).split()[-1]
            assert last in read
        for _ in range(20):
            await hand.press("pageup")
        await hand.field("model")
        assert hand.words == first


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (100, 30), (200, 60)])
@pytest.mark.parametrize(("near", "kind"), [("A1", "amplifier"), ("SUB-L1", "cabinet")])
async def test_what_a_form_cuts_of_a_choice_stands_whole_below_it_and_nothing_moves(
    size: tuple[int, int], near: str, kind: str
) -> None:
    async with opened(preset="small-room", size=size) as hand:
        await hand.find(near)
        await hand.add(kind)
        await hand.field("model")
        form = hand.screen
        assert isinstance(form, Form)
        box = form.boxes["model"]
        assert isinstance(box, ChoiceBox)
        places = set()
        for _ in box.options:
            await hand.press("right")
            told = next(option.words for option in box.options if option.value == box.value)
            assert " ".join(told.split()) in hand.words, "in its line, or below"
            assert "left/right/space/letter choose" in hand.words
            places.add(form.query_one("#fields").region.offset)
        assert len(places) == 1, "nothing moves"
        await hand.press("escape")
        await hand.find("A1.1")
        await hand.press("enter")
        assert hand.screen.query_one("#whole").size.height == 0, "nothing is cut"


@pytest.mark.parametrize("keys", ["A1 enter", "C1 enter", "SUB-L1 enter", "A1 a amplifier", "A1 a feed"])
async def test_no_field_hides_and_no_finding_is_cut_while_lines_of_the_window_are_free(keys: str) -> None:
    place, *more = keys.split()
    async with opened(preset="hall", size=(60, 20)) as hand:
        await hand.find(place)
        await (hand.add(more[1]) if more[1:] else hand.press("enter"))
        form, scrolled = hand.screen, 0
        assert isinstance(form, Form)
        for key in (*["down"] * len(form.fields), "enter"):
            if isinstance(form.focused, LineBox):
                await hand.write("300 ft")
            elif isinstance(form.focused, ChoiceBox):
                await hand.press("right")
            for step in ("", key):
                await hand.press(*[step] * bool(step))
                assert hand.screen is form, "refused at the end"
                line = form.focused.parent if form.focused else None
                assert isinstance(line, Line)
                assert form.can_view_entire(line), "with what is said of it"
                assert "enter apply" in hand.words
                if form.query_one("#fields").max_scroll_y > 0 or "page down" in hand.words:
                    scrolled += 1
                    assert form.size.height - form.query_one(".box").region.height <= KEPT, hand.text
        assert scrolled


async def test_pages_home_and_end_go_through_the_fields_where_a_text_does_not_take_them() -> None:
    async with opened(preset="hall", size=(80, 18)) as hand:
        await hand.find("A1")
        await hand.press("enter")
        boxes = list(hand.screen.query("LineBox, ChoiceBox"))
        shown = hand.screen.query_one("#fields").size.height
        assert len(boxes) > shown
        await hand.field("model")
        await hand.press("end")
        assert hand.app.focused is boxes[-1]
        await hand.field("mode0")
        await hand.press("home")
        assert hand.app.focused is boxes[0]
        seen = []
        for key in ("pagedown", "pageup"):
            for _ in range(20):  # what the form tells is read on first
                await hand.press(key)
                seen.append(boxes.index(hand.app.focused))
        steps = {abs(a - b) for a, b in itertools.pairwise(seen)}
        assert (max(seen), seen[-1]) == (len(boxes) - 1, 0)
        assert 1 < max(steps) < shown


async def test_a_form_left_with_escape_changes_nothing() -> None:
    async with opened(preset="small-room") as hand:
        before = hand.rig
        await open_length(hand, "C2")
        await hand.write("300 ft")
        await hand.press("escape")
        assert hand.rig is before
        assert not hand.session.history.undoes


async def test_a_field_that_cant_be_read_says_why_and_holds_the_form_open() -> None:
    async with opened(preset="small-room") as hand:
        before = hand.rig
        await open_length(hand, "C2")
        await hand.write("25 kg")
        assert "25 kg" in hand.text
        assert "= 25" not in hand.text
        await hand.press("enter")
        assert isinstance(hand.screen, Form)
        assert hand.app.focused is hand.screen.boxes["length"]
        assert hand.rig is before
        await hand.write("25 m")
        await hand.press("enter")
        assert line(hand, "C2")[1] == "25 m"


async def test_an_edit_that_brings_a_finding_can_be_made_all_the_same() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("A2")
        await hand.press("enter")
        await hand.field("unit")
        await hand.write("1")
        assert "warn A2 and A1 are in the same unit of R1." in hand.words
        await hand.press("enter")
        assert [a.unit for a in hand.rig.amplifiers()] == [1, 1]
        assert "1 warning" in hand.foot


async def test_a_choice_turns_with_left_and_right_and_opens_with_a_letter() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("A1.1")
        await hand.press("enter")
        assert "‹ sub ›" in hand.text
        await hand.press("right")
        assert "‹ top-low ›" in hand.text
        await hand.press("left", "left")
        assert "‹ no feed ›" in hand.text
        await hand.choose("top-high")
        assert "‹ top-high ›" in hand.text
        await hand.press("enter")
        assert hand.rig.racks[0].amplifiers[0].channels[0].feed == "top-high"


@pytest.mark.parametrize(
    ("keys", "phase"),
    [([*"five", "down"], "L1-L2-L3"), (["l", "down", "tab"], "L2"), (["l", "3", "enter", "down"], "L3")],
)
async def test_a_choice_is_typed_and_gone_on_from_as_a_line_is(keys: list[str], phase: str) -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await hand.add("circuit")
        form = hand.screen
        assert isinstance(form, Form)
        await hand.field("phase")
        await hand.burst(*"five", "up")
        assert "‹ L1-L2-L3 ›" in hand.words
        assert form.focused is form.boxes["id"], "the field above"
        await hand.field("phase")
        await hand.burst(*keys)
        assert f"‹ {phase} ›" in hand.words
        await hand.type("25 A")
        await hand.press("enter")
        assert (hand.rig.circuits[-1].phase, str(hand.rig.circuits[-1].breaker)) == (phase, "25 A")


async def test_what_is_typed_on_a_choice_and_begins_none_is_told_in_its_line_and_leaves_the_form() -> None:
    async with opened(size=(80, 24)) as hand:
        await hand.burst("n", *"aci", "enter")
        assert "choose" not in hand.words
        await hand.press("down")
        assert "left/right/space/letter choose" in hand.words
        await hand.type("252.52")
        assert 'no "2": press space' in hand.words
        assert "New circuit" in hand.words
        await hand.press("down", "up")
        assert 'no "2"' not in hand.words
        await hand.choose("l3")
        assert "‹ L3 ›" in hand.words
        await hand.press("escape", "y")
        await hand.add("rack")
        await hand.press("enter")
        await hand.add("amplifier")
        assert hand.words.count("‹ none yet: add one later ›") == 3
        await hand.press("enter")
        await hand.add("feed")
        await hand.press("enter")
        await hand.add("amplifier")
        assert hand.words.count("‹ no feed ›") == 2


async def test_a_form_asks_for_the_channels_that_the_chosen_model_has() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("A1")
        await hand.press("enter")
        await hand.field("model")
        assert "Feed of channel 4" in hand.text
        await hand.choose("amp-2ch-1800")
        assert "Feed of channel 2" in hand.text
        assert "Feed of channel 3" not in hand.text


async def test_what_refers_to_a_thing_follows_its_new_id() -> None:
    async with opened(preset="small-room") as hand:
        for old, new in ("A1", "AMP-1"), ("SUB-L1", "SUB-HL1"), ("R1-1", "PANEL-1"):
            await hand.edit(old, "id", new)
            assert hand.session.place == new
            assert new in hand.text
        assert hand.rig.racks[0].sockets[0].poles == ("AMP-1.1", "AMP-1.2")
        assert (hand.rig.lines[0].source, hand.rig.lines[0].to) == ("PANEL-1", "SUB-HL1")


async def test_an_id_that_is_taken_is_refused() -> None:
    async with opened(preset="small-room") as hand:
        before = hand.rig
        await hand.edit("A1", "id", "A2")
        assert isinstance(hand.screen, Form)
        assert hand.rig is before


# --- patching and connecting ---


async def test_a_pole_pair_is_turned_and_says_so() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("R1-1")
        await hand.press("down", "r")
        assert hand.rig.racks[0].sockets[0].poles[0] == "-A1.1"
        assert "reversed" in hand.row("lines", "R1-1/1")
        assert "−A1.1" in hand.row("lines", "SUB-L1.left")
        await hand.press("r")
        assert hand.rig.racks[0].sockets[0].poles[0] == "A1.1"


async def test_turning_a_pole_pair_moves_no_pane() -> None:
    """All would be drawn anew, and the racks go where there is room for all three but for a word."""
    async with opened(preset="hall", size=(144, 45)) as hand:
        await hand.find("R1-1")
        await hand.press("2", "down")
        before = [pane.region for pane in hand.workplace.panes]
        await hand.press("r")
        assert [pane.region for pane in hand.workplace.panes] == before
        assert all(pane.display for pane in hand.workplace.panes)


async def test_a_pole_pair_is_patched_to_nothing() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("R1-1")
        await hand.press("down", "p", "enter")
        assert hand.rig.racks[0].sockets[0].poles == ("A1.1", "A1.2"), "begins on what drives it"
        await hand.press("p")
        await hand.pick("not wired")
        assert hand.rig.racks[0].sockets[0].poles == ("", "A1.2")
        assert "not wired" in hand.row("lines", "R1-1/1")
        assert "silent" in hand.row("lines", "SUB-L1.left")


async def test_a_line_is_given_both_its_ends_anew() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("C4")
        await hand.press("delete")
        await hand.find("C3")
        await hand.press("c")
        await hand.pick("R1-4")
        await hand.pick("TOP-R1")
        moved = hand.session.assessment.index.lines["C3"]
        assert (moved.source, moved.to) == ("R1-4", "TOP-R1")
        assert "Not connected" in hand.text


async def test_a_cabinet_is_linked_from_a_cabinet() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("TOP-L1")
        await hand.add("cabinet")
        await hand.press("enter")
        await hand.find("TOP-L1")
        await hand.press("c")
        await hand.pick("TOP-L2")
        await hand.press("enter")
        last = hand.rig.lines[-1]
        assert (last.source, last.to) == ("TOP-L1", "TOP-L2")
        assert hand.session.assessment.sections["TOP-L2.high"].channel == "A2.2"


# --- duplicate, remove, move ---


async def test_a_rack_is_duplicated_with_all_in_it() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("R1")
        await hand.press("d")
        first, second = hand.rig.racks
        assert second.id == hand.session.place == "R2"
        assert [a.model for a in second.amplifiers] == [a.model for a in first.amplifiers]
        assert {a.id for a in second.amplifiers}.isdisjoint({a.id for a in first.amplifiers})
        assert len(second.sockets) == len(first.sockets)
        assert "R1 is duplicated as R2." in hand.text
        assert hand.pane("racks").place == "R2"


async def test_a_cabinet_is_duplicated_with_its_line() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("SUB-R1")
        await hand.press("d")
        assert hand.session.place == "SUB-R2"
        index = hand.session.assessment.index
        copy, run = index.cabinets["SUB-R2"], index.line_to["SUB-R2"]
        assert (copy.model, copy.wiring) == ("sub-double-15", "split")
        assert (run.cable, run.length.text) == ("flex-4x2.5", "15 m")


async def test_to_remove_what_is_in_use_is_asked_first() -> None:
    async with opened(preset="small-room") as hand:
        before = hand.rig
        await hand.find("A1")
        await hand.press("delete")
        assert "A1 is in use" in hand.text
        assert "R1-1" in hand.text
        await hand.press("escape")
        assert hand.rig is before
        await hand.press("delete", "y")
        assert [a.id for a in hand.rig.amplifiers()] == ["A2"]
        assert not any("A1" in pole for s in hand.rig.sockets() for pole in s.poles)
        await hand.press("u")
        assert hand.rig == before


async def test_what_is_not_in_use_goes_without_asking() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("C4")
        await hand.press("delete")
        assert [n.id for n in hand.rig.lines] == ["C1", "C2", "C3"]
        assert "undo remove C4" in hand.foot


async def test_an_amplifier_is_moved_with_the_arrows() -> None:
    async with opened(preset="hall") as hand:
        await hand.find("A1")
        await hand.press("m")
        assert isinstance(hand.screen, AmplifierPosition)
        for neighbour in ("R2 Stage right", "A6 amp-4ch-1200"):
            assert neighbour in hand.text
        await hand.press("up")
        assert "clashes with A2" in hand.text
        await hand.press("up", "enter")
        assert hand.session.assessment.index.amplifiers["A1"].unit == 3
        assert hand.session.place == "A1"
        await hand.press("m", "right", *["up"] * 5, "enter")
        index = hand.session.assessment.index
        assert (index.rack_of["A1"].id, index.amplifiers["A1"].unit) == ("R2", 8)
        assert "undo move A1" in hand.foot


async def test_all_chosen_amplifiers_are_moved_as_far_apart_as_they_are() -> None:
    async with opened(preset="hall") as hand:
        for name in ("A2", "A1"):
            await hand.find(name)
            await hand.press("space")
        assert "move 2" in hand.foot
        await hand.press("m", "right", *["up"] * 9)
        assert "Move A1 and A2" in hand.text
        assert "clashes" not in hand.text
        await hand.press("enter")
        index = hand.session.assessment.index
        assert [(index.rack_of[a].id, index.amplifiers[a].unit) for a in ("A1", "A2")] == [
            ("R2", 7),
            ("R2", 8),
        ]
        assert hand.session.chosen == ("A2", "A1")


async def test_a_move_is_left_with_escape() -> None:
    async with opened(preset="hall") as hand:
        before = hand.rig
        await hand.find("A1")
        await hand.press("m", "up", "up", "escape")
        assert hand.rig is before


# --- several at once ---


async def choose_lines(hand: Hand, *names: str) -> None:
    for name in names:
        await hand.find(name)
        await hand.press("space")


async def test_cable_and_length_of_several_lines_in_one_form() -> None:
    async with opened(preset="small-room") as hand:
        await choose_lines(hand, "C1", "C3")
        assert "2 chosen" in hand.foot
        await hand.press("e")
        assert "2 lines at once" in hand.text
        assert "as it is" in hand.text
        await hand.field("cable")
        await hand.choose("flex-4x4")
        await hand.field("length")
        await hand.write("12.5 m")
        await hand.press("enter")
        assert [line(hand, name) for name in ("C1", "C2", "C3")] == [
            ("flex-4x4", "12.5 m"),
            ("flex-4x2.5", "15 m"),
            ("flex-4x4", "12.5 m"),
        ]
        await hand.press("u")
        assert line(hand, "C1") == ("flex-4x2.5", "5 m")
        assert line(hand, "C3") == ("flex-4x2.5", "10 m")


async def test_a_field_left_empty_leaves_each_thing_its_own() -> None:
    async with opened(preset="small-room") as hand:
        await choose_lines(hand, "C1", "C2")
        await hand.press("e")
        await hand.field("cable")
        await hand.choose("flex-4x4")
        await hand.press("enter")
        assert [line(hand, name) for name in ("C1", "C2")] == [("flex-4x4", "5 m"), ("flex-4x4", "15 m")]


async def test_a_feed_for_several_channels() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("A1.1")
        await hand.press("space", "space", "space")
        assert hand.session.chosen == ("A1.1", "A1.2", "A1.3")
        await hand.press("e")
        await hand.choose("top-low")
        await hand.press("enter")
        assert [c.feed for c in hand.rig.racks[0].amplifiers[0].channels] == ["top-low"] * 3 + ["sub"]


async def test_what_several_differ_in_stays_as_it_is_unless_it_is_chosen() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        hand.session.apply("any circuit", lambda rig: edits.change(rig, "R1", reaches=()))
        before, circuits = hand.rig, [a.circuit for a in hand.rig.amplifiers()]
        assert len(set(circuits)) > 1
        await choose_lines(hand, "A1", "A2")
        await hand.press("e")
        assert "‹ as it is ›" in hand.text
        assert "No change." in hand.text
        await hand.press("enter")
        assert hand.rig is before
        await hand.press("M", "m")
        assert "‹ as it is ›" in hand.text
        await hand.press("enter")
        assert hand.rig is before
        await hand.press("m")
        await hand.choose("P2")
        await hand.press("enter")
        assert [a.circuit for a in hand.rig.amplifiers()] == ["P2", "P2"]


async def test_things_of_two_kinds_are_not_edited_at_once() -> None:
    async with opened(preset="small-room") as hand:
        await choose_lines(hand, "C1", "SUB-L1")
        await hand.press("e")
        assert "Choose things of one kind only" in hand.text


async def test_lengths_are_pasted_one_for_all_or_one_a_line() -> None:
    async with opened(preset="small-room") as hand:
        await choose_lines(hand, "C1", "C2", "C4")
        await hand.paste("11 m\n22 m\n33 ft\n")
        assert [n.length.text for n in hand.rig.lines] == ["11 m", "22 m", "10 m", "33 ft"]
        assert "undo paste 3 lengths" in hand.foot
        await hand.paste("12 18 20")
        assert [line.length.value for line in hand.rig.lines] == [12, 18, 10, 20]
        await hand.paste("7.5 m")
        assert [n.length.text for n in hand.rig.lines] == ["7.5 m", "7.5 m", "10 m", "7.5 m"]


async def test_what_cant_be_pasted_is_told_and_changes_nothing() -> None:
    async with opened(preset="small-room") as hand:
        await choose_lines(hand, "C1", "C2", "C4")
        before = hand.rig
        for pasted, said in (
            ("1 m\n2 m", "2 lengths for 3 lines. One for all, or 3 such as 12, 18, 20"),
            ("ten", "ten"),
        ):
            await hand.paste(pasted)
            assert said in hand.text
            assert hand.rig is before


# --- undo ---


async def test_undo_goes_back_to_the_start_and_redo_forth_and_the_foot_says_what() -> None:
    async with opened(preset="small-room", size=(160, 30)) as hand:
        first = hand.rig
        await hand.find("SUB-R1")
        await hand.press("d")
        await hand.find("A1.1")
        await hand.press("f", "f", "escape")
        await hand.find("C1")
        await hand.press("delete", "g")
        last = hand.rig
        assert "undo remove C1" in hand.foot
        await hand.press("u")
        assert "Undone: remove C1." in hand.text
        assert "undo mark A1.1 failed" in hand.foot
        assert "redo remove C1" in hand.foot
        await hand.press("u", "u")
        assert hand.rig == first
        assert "undo" not in hand.foot
        await hand.press("u")
        assert "Nothing to undo." in hand.text
        await hand.press("U", "U", "U")
        assert hand.rig == last
        await hand.press("U")
        assert "Nothing to redo." in hand.text
        await hand.press("u")
        await hand.find("A1.2")
        await hand.press("f", "f", "escape")
        assert "redo" not in hand.foot


async def test_keys_that_come_all_at_once_find_a_list_as_large_as_it_will_be() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        for keys in (("t", "down", "down", "down"), ("/", "down", "down"), ("a", "end")):
            await hand.press(*keys)
            at = hand.screen.query_one(Pane).nth
            await hand.press("escape")
            await hand.burst(*keys)
            assert hand.screen.query_one(Pane).nth == at, keys
            await hand.press("escape")


async def test_keys_that_come_all_at_once_do_what_they_do_one_by_one() -> None:
    async with opened(preset="small-room") as hand:
        await hand.burst("/", *"C1", "enter", "enter", "end", "ctrl+u", *"44", "space", "m", "enter")
        assert line(hand, "C1")[1] == "44 m"
        assert hand.rig.racks[0].amplifiers[0].channels[0].state == "ok"


# --- marks, and forms that meet a hand halfway ---


async def test_a_bare_length_takes_the_unit_that_stood_there_and_enter_takes_what_was_meant() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("C1")
        await hand.press("enter")
        await hand.write("12")
        assert "= 12 m" in hand.text
        await hand.press("enter", "enter")
        await hand.write("40 ft")
        await hand.press("enter", "enter")
        await hand.write("50")
        assert "= 15.24 m" in hand.text
        await hand.press("enter")
        assert line(hand, "C1")[1] == "50 ft"
        await hand.find("sub")
        await hand.press("enter")
        await hand.field("limiter_rms")
        await hand.press("ctrl+u", "enter", "enter")
        await hand.field("limiter_rms")
        await hand.write("56")
        await hand.press("enter")
        assert isinstance(hand.screen, Form)
        assert hand.screen.text_of("limiter_rms") == "56 V"
        await hand.press("enter")
        assert str(hand.rig.feeds[0].limiter_rms) == "56 V"


@pytest.mark.parametrize(
    ("thing", "changes", "begins"),
    [
        ("sub", {}, "band"),
        ("sub", {"band": (Frequency.parse("10 Hz"), Frequency.parse("90 Hz")), "limiter_rms": None}, "band"),
        ("sub", {"limiter_rms": LimiterSetting.parse("99 V")}, "limiter_rms"),
        ("A2", {"unit": 1}, "unit"),
        ("A2", {}, "circuit"),
    ],
)
async def test_a_form_begins_on_the_field_that_a_finding_is_about(
    thing: str, changes: dict[str, Any], begins: str
) -> None:
    async with opened(preset="small-room") as hand:
        hand.session.apply("change", lambda rig: edits.change(rig, thing, **changes))
        await hand.find(thing)
        await hand.press("enter")
        assert isinstance(hand.screen, Form)
        assert hand.app.focused is hand.screen.boxes[begins]


async def test_a_refused_enter_says_which_fields_and_those_needed_are_marked() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("t")
        await hand.pick("my")
        await hand.press("a")
        assert "Channels                      needed                 such as 2 " in hand.text
        assert "Gain                          assumed 32 dB          used for limiters" in hand.text
        assert "Name                          not stated " in hand.text
        assert "yellow" not in colours(hand, "such as 2"), "nobody has had the time to fill it in"
        await hand.press("enter")
        assert "Fill in: Id, Channels, Height, rack units and 2 more." in hand.words
        assert colours(hand, "such as 2") == {"yellow"}


def colours(hand: Hand, words: str) -> set[str]:
    """Those that words have wherever they stand on the screen."""
    found = [part for strip in hand.strips() for part in strip if words in part.text and part.style]
    return {part.style.color.name if part.style and part.style.color else "" for part in found}


@pytest.mark.parametrize("kind", ADDABLE)
async def test_the_form_of_anything_new_begins_at_its_top(kind: str) -> None:
    async with opened(preset="small-room") as hand:
        await hand.add("cabinet")
        await hand.press("enter")
        await hand.add(kind)
        form = hand.screen
        assert isinstance(form, Form)
        assert hand.app.focused is next(iter(form.boxes.values()))


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII])
async def test_the_label_of_the_field_that_has_the_cursor_is_a_bar_pointing_at_it(glyphs: Glyphs) -> None:
    async with opened(preset="small-room", size=(80, 24), glyphs=glyphs) as hand:
        await hand.add("feed")
        for name, label in (
            ("id", "Id"),
            ("band", "Band"),
            ("polarity", "Polarity"),
            ("limiter_rms", "Rms limiter"),
        ):
            await hand.field(name)
            bars = [
                (part.text.rstrip(), after.text[:1])
                for strip in hand.strips()
                for part, after in itertools.pairwise(strip)
                if part.style and part.style.reverse and part.text.startswith(label)
            ]
            assert [(found.startswith(label), sign) for found, sign in bars] == [(True, glyphs.cursor)]


async def test_one_form_adds_amplifiers_alike_on_the_next_units_and_circuits() -> None:
    async with opened(preset="small-room") as hand:
        await hand.edit("R1", "height", "12")
        before = len(hand.rig.racks[0].amplifiers)
        await hand.add("amplifier")
        await hand.press("up")
        await hand.write("3")
        await hand.press("enter")
        new = hand.rig.racks[0].amplifiers[before:]
        assert len({a.id for a in new}) == len({a.unit for a in new}) == 3
        assert len({(a.model, a.mode) for a in new}) == 1


async def test_an_amplifier_goes_where_it_brings_no_warning_and_the_form_says_where_copies_go() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.edit("R1", "height", "12")
        await hand.edit("R1", "reaches", "")
        hand.session.apply("a B curve", lambda rig: edits.change(rig, "P2", curve="B"))
        await hand.find("A2")
        await hand.add("amplifier")
        assert "‹ P1 ›" in hand.text
        assert "Inrush" not in hand.words
        await hand.press("escape")
        await hand.add("circuit")
        await hand.field("times")
        await hand.write("2")
        await hand.press("enter")
        await hand.find("A2")
        await hand.add("amplifier")
        await hand.field("times")
        await hand.write("2")
        assert "A3 on P3; A4 on P4" in hand.words
        await hand.press("escape", "y")
        await hand.add("socket")
        await hand.field("times")
        await hand.write("2")
        assert "R1-5: not wired; R1-6: not wired" in hand.words


async def test_a_form_for_several_cabinets_says_on_which_side_each_is_and_adds_one_on_each() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("TOP-R1")
        await hand.add("cabinet")
        await hand.field("id")
        await hand.write("OUT-L")
        await hand.field("side")
        await hand.choose("left")
        await hand.field("times")
        await hand.write("2")
        assert "OUT-L left; OUT-L2 left" in hand.words
        await hand.field("side")
        await hand.choose("each")
        assert "OUT-L left; OUT-L2 left; OUT-R right; OUT-R2 right" in hand.words
        await hand.press("enter")
        assert "OUT-L and 3 more are added." in hand.words
        new = {each.id: each.side for each in hand.rig.cabinets[-4:]}
        assert new == {"OUT-L": "left", "OUT-L2": "left", "OUT-R": "right", "OUT-R2": "right"}
        await hand.press("u")
        assert not new.keys() & {each.id for each in hand.rig.cabinets}


async def test_a_circuit_that_is_chosen_for_several_new_amplifiers_is_for_all_of_them() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.edit("R1", "height", "12")
        await hand.edit("R1", "reaches", "")
        await hand.add("circuit")
        await hand.field("times")
        await hand.write("2")
        await hand.press("enter")
        await hand.find("A2")
        await hand.add("amplifier")
        await hand.field("circuit")
        await hand.choose("P4")
        await hand.field("times")
        await hand.write("2")
        assert "A4 on" not in hand.words
        await hand.press("enter")
        assert [(a.id, a.circuit) for a in hand.rig.amplifiers()][2:] == [("A3", "P4"), ("A4", "P4")]


async def test_the_circuit_of_a_new_amplifier_follows_the_model_until_one_is_chosen() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        for name, fields in (
            ("R1", {"height": 12, "reaches": ()}),
            ("A2", {"unit": 2}),
            ("P2", {"curve": "B"}),
        ):
            hand.session.apply("", lambda rig, name=name, fields=fields: edits.change(rig, name, **fields))
        await hand.find("A2")
        await hand.add("amplifier")
        await hand.field("model")
        await hand.choose("2ch-550")
        assert "‹ P2 ›" in hand.text, "where the amplifier is that it is like"
        await hand.choose("2ch-1800")
        assert "‹ P1 ›" in hand.text
        assert "Inrush" not in hand.words
        await hand.field("circuit")
        await hand.press("right")
        assert "‹ P2 ›" in hand.text
        assert "Inrush" in hand.words
        await hand.field("model")
        await hand.choose("2ch-250ab")
        await hand.choose("2ch-1800")
        assert "‹ P2 ›" in hand.text, "chosen by hand"


async def test_the_unit_of_a_new_amplifier_is_one_where_the_chosen_model_fits() -> None:
    async with opened(preset="outdoor-stage", size=(80, 24)) as hand:
        await hand.find("R5")
        await hand.add("amplifier")
        form = hand.screen
        assert isinstance(form, Form)
        await hand.field("model")
        await hand.choose("4ch-600")
        assert form.text_of("unit") == "4", "one unit is free between others"
        await hand.press("escape")
        await hand.find("R1")
        await hand.add("amplifier")
        form = hand.screen
        assert isinstance(form, Form)
        await hand.field("model")
        await hand.choose("2ch-1800")
        assert form.text_of("unit") == "7"
        await hand.field("unit")
        await hand.write("8")
        await hand.field("model")
        await hand.choose("4ch-600")
        assert form.text_of("unit") == "8", "filled in by hand"


async def test_the_role_of_a_new_cabinet_is_that_of_the_model_in_this_rig() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        hand.session.apply("", lambda rig: edits.change(rig, ("SUB-L1", "SUB-R1"), role="monitor"))
        model = hand.session.assessment.index.cabinets["SUB-L1"].model
        await hand.find("TOP-L1")
        await hand.add("cabinet")
        await hand.field("model")
        assert "‹ audience ›" in hand.text
        await hand.choose(model)
        assert "‹ monitor ›" in hand.text
        await hand.choose("wedge")
        assert "‹ monitor ›" in hand.text, "none stands in this rig: by its name"
        await hand.choose("front-fill")
        assert "‹ fill ›" in hand.text
        await hand.choose("passive-12")
        assert "‹ audience ›" in hand.text, "its name says nothing"
        await hand.field("role")
        await hand.choose("fill")
        await hand.field("model")
        await hand.choose(model)
        assert "‹ fill ›" in hand.text, "chosen by hand"


async def test_every_verb_acts_on_all_that_is_chosen_and_they_stay_chosen() -> None:
    async with opened(preset="small-room", size=(140, 45)) as hand:
        poles = ("R1-1/1", "R1-1/2")
        await choose_lines(hand, *poles)
        here = hand.session.place
        await hand.press("r")
        assert "r reverse 2" in hand.foot
        assert hand.rig.racks[0].sockets[0].poles == ("-A1.1", "-A1.2")
        await hand.press("p")
        await hand.pick("A1.3, A1.4")
        assert hand.rig.racks[0].sockets[0].poles == ("A1.3", "A1.4")
        assert (hand.session.chosen, hand.session.place) == (poles, here)
        await hand.press("escape")
        await choose_lines(hand, "SUB-L1", "SUB-R1")
        await hand.press("d")
        assert "SUB-L1 and SUB-R1 are duplicated as SUB-L2 and SUB-R2." in hand.text
        assert hand.session.chosen == ("SUB-L1", "SUB-R1")
        await hand.press("delete", "y")
        assert [c.id for c in hand.rig.cabinets if c.id.startswith("SUB")] == ["SUB-L2", "SUB-R2"]
        await choose_lines(hand, "SUB-L2", "A1")
        await hand.press("r")
        assert "Here a cabinet and an amplifier are chosen." in hand.words
        await choose_lines(hand, "R1-1/1")
        await hand.press("r")
        assert "Here a cabinet and an amplifier are chosen too." in hand.words


async def test_several_are_offered_pole_pairs_and_channels_that_say_which_are_free() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("R1-4/1")
        await hand.press("p")
        await hand.pick("not wired")
        await choose_lines(hand, "A1.1", "A1.2")
        await hand.press("p")
        assert "R1-1/1, R1-1/2 one each: A1.1, line to SUB-L1; A1.2, line to SUB-L1" in hand.words
        assert "R1-3/2, R1-4/1 one each: A2.2, line to TOP-L1; not wired, line to TOP-R1" in hand.words
        await hand.press("escape", "escape")
        await choose_lines(hand, "R1-1/1", "R1-1/2")
        await hand.press("p")
        assert "A1.4, A2.1 one each: sub, drives SUB-R1; top-low, drives TOP-L1" in hand.words


async def test_a_range_and_all_that_are_alike_are_chosen() -> None:
    async with opened(preset="hall", size=(140, 45)) as hand:
        await hand.find("A1.1")
        await hand.press("*")
        await hand.pick("feed")
        feed = hand.session.assessment.branches["A1.1"].result.feed
        branches = hand.session.assessment.branches
        listed = [row.place for row in hand.pane("racks").rows if row.place in branches]
        playing = [name for name in listed if branches[name].result.feed == feed]
        assert list(hand.session.chosen) == playing
        assert hand.session.place == "A1.1"
        await hand.press("escape")
        await hand.find("A1.1")
        await hand.press("space", "down", "down", ",")
        assert hand.session.chosen[:3] == ("A1.1", "A1.2", "A1.3")
        await hand.press("escape")
        await hand.find("A1.3")
        await hand.press("space")
        await hand.find("A1.1")
        await hand.press(",")
        assert hand.session.chosen == ("A1.1", "A1.2", "A1.3"), "a range has its own order"
        await hand.press("escape")
        await hand.find("A1.2")
        await hand.press("space", "*")
        await hand.pick("every channel")
        assert list(hand.session.chosen) == listed
        await hand.press("escape")
        await hand.find("TOP-L1.high")
        await hand.press("*")
        await hand.pick("feed")
        assert "TOP-R1.high" in hand.session.chosen
        assert "TOP-R1.mid" not in hand.session.chosen


async def test_lines_are_laid_to_all_chosen_cabinets_in_order() -> None:
    async with opened(preset="small-room") as hand:
        for name in ("C1", "C2"):
            await hand.find(name)
            await hand.press("delete")
        await choose_lines(hand, "SUB-L1", "SUB-R1")
        await hand.press("c")
        assert "in which they were chosen" not in hand.words
        await hand.press("escape", "escape")
        await choose_lines(hand, "SUB-R1", "SUB-L1")
        await hand.press("c")
        assert "In the order in which they were chosen, not as on the screen." in hand.words
        assert "such as 12, 18" in hand.words
        await hand.write("12 18")
        assert "SUB-R1 12 m, SUB-L1 18 m" in hand.words
        await hand.press("enter")
        new = {n.to: (n.source, n.length.text) for n in hand.rig.lines}
        assert (new["SUB-R1"], new["SUB-L1"]) == (("R1-1", "12 m"), ("R1-2", "18 m"))
        await hand.press("u", "c", "up", "up", "right")
        assert "each linked from the one before" in hand.words
        await hand.press("enter")
        assert {n.to: n.source for n in hand.rig.lines}["SUB-L1"] == "SUB-R1"


async def test_limiters_are_set_as_advised_for_all_chosen_feeds() -> None:
    async with opened(preset="small-room") as hand:
        rig = hand.rig
        bare = tuple(replace(feed, limiter_rms=None, limiter_peak=None) for feed in rig.feeds)
        hand.session.apply("forget limiters", lambda rig: replace(rig, feeds=bare))
        for name in ("sub", "top-high"):
            await hand.find(name)
            await hand.press("space")
        await hand.press("l")
        set_now = {feed.id: (feed.limiter_rms, feed.limiter_peak) for feed in hand.rig.feeds}
        assert [name for name, (rms, peak) in set_now.items() if rms and peak] == ["sub", "top-high"]
        assert set_now["sub"][0].text == "69.2 V"
        assert "Set as advised: sub 69.2 V rms" in hand.text
        assert "undo limit sub and top-high" in hand.foot
        rig = hand.rig
        await hand.press("l")
        assert "Every limiter of sub and top-high is as advised already." in hand.words
        assert hand.rig is rig


async def test_an_edit_that_changes_nothing_says_so() -> None:
    async with opened(preset="small-room") as hand:
        rig = hand.rig
        await hand.find("C2")
        await hand.paste(rig.lines[1].length.text)
        assert hand.rig is rig
        assert "Nothing changes: paste 1 length." in hand.words


async def test_the_limiters_of_all_feeds_are_set_with_one_key_in_their_table_and_draw_no_warning() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        bare = tuple(replace(feed, limiter_rms=None, limiter_peak=None) for feed in hand.rig.feeds)
        hand.session.apply("forget limiters", lambda rig: replace(rig, feeds=bare))
        await hand.press("t")
        await hand.pick("feeds")
        assert "l limiters A all limiters" in hand.words
        await hand.press("A")
        assert all(feed.limiter_rms and feed.limiter_peak for feed in hand.rig.feeds)
        assert "too high" not in results_of_sub(hand)
        too_high = LimiterSetting.parse("99 V")
        hand.session.apply("higher", lambda rig: edits.change(rig, "sub", limiter_rms=too_high))
        assert "  set to 99 V, too high" in results_of_sub(hand)


def results_of_sub(hand: Hand) -> str:
    """The results of the feed sub."""
    rows = results.rows(hand.session.assessment, "sub", 60, UNICODE)
    return "\n".join(text for row in rows for text, _ in row.parts)


async def test_the_second_channel_of_a_new_amplifier_is_proposed_the_feed_of_the_first() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("A2")
        await hand.press("a")
        await hand.pick("amplifier")
        assert isinstance(hand.screen, Form)
        await hand.field("feed0")
        await hand.choose("top-low")
        assert [hand.screen.text_of(f"feed{n}") for n in range(4)] == ["top-low", "top-low", "", ""]
        assert hand.text.count("follows") == 1
        assert "‹ top-low ›  follows Feed of channel 1" in hand.text
        await hand.field("feed1")
        await hand.choose("top-high")
        assert "follows" not in hand.text
        await hand.field("feed0")
        await hand.choose("sub")
        assert hand.screen.text_of("feed1") == "top-high"
        assert "follows" not in hand.text


async def test_side_and_position_of_a_new_cabinet_follow_the_side_that_its_id_tells() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await hand.find("TOP-L1")
        await hand.add("cabinet")
        form, like = hand.screen, next(each for each in hand.rig.cabinets if each.id == "TOP-L1")
        assert isinstance(form, Form)
        there = like.position.replace("left", "right")
        for field, text, side, position in (
            ("id", "TOP-R9", "right", there),
            ("id", "TOP-9", "left", like.position),
            ("position", "on the roof", "left", "on the roof"),
            ("id", "TOP-R9", "right", "on the roof"),
        ):
            await hand.field(field)
            await hand.write(text)
            assert (form.text_of("side"), form.text_of("position")) == (side, position)
        assert "‹ right ›  follows Id" in hand.text


async def test_what_changes_with_another_field_says_so_until_it_is_changed_by_hand() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("SUB-R1")
        await hand.add("cabinet")
        assert "follows" not in hand.text, "what is proposed from the start follows nothing"
        await hand.field("model")
        await hand.choose("wedge")
        told = {line.split()[1] for line in hand.text.splitlines() if "follows Model" in line}
        assert told == {"Id", "Wiring", "Priority,", "Position", "Side", "Role"}
        await hand.field("id")
        await hand.write("STAGE")
        told = {line.split()[1] for line in hand.text.splitlines() if "follows Model" in line}
        assert told == {"Wiring", "Priority,", "Position", "Side", "Role"}


def test_each_of_two_findings_of_a_kind_at_one_place_is_told() -> None:
    def at(*told: str) -> list[Finding]:
        return [Finding("hot", "warn", "A1.1", message, "Turn it down.") for message in told]

    def signs(before: list[Finding], after: list[Finding]) -> list[str]:
        return [f"{row.parts[0][0][0]} {row.parts[1][0]}" for row in foreseen(before, after)]

    rms, peak = "A1.1 rms is 9 V.", "A1.1 peak is 12 V."
    assert sorted(signs([], at(rms, peak))) == sorted([f"+ {rms}", f"+ {peak}"])
    assert sorted(signs(at(rms, peak), [])) == sorted([f"− {rms}", f"− {peak}"])
    assert signs(at(rms, peak), at(rms, "A1.1 peak is 13 V.")) == ["~ A1.1 peak is 13 V."]
    assert signs(at(rms, peak), at("A1.1 peak is 13 V.")) == ["~ A1.1 peak is 13 V.", f"− {rms}"]
    assert signs(at(rms), at("A1.1 and A1.2 are 9 V.")) == ["~ A1.1 and A1.2 are 9 V."]


async def test_a_form_says_once_what_its_values_would_bring_at_several_places() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("A2")
        await hand.add("amplifier")
        await hand.field("model")
        await hand.choose("4ch-600")
        assert hand.text.count("drives nothing") == 1
        assert "A3.1, A3.2, A3.3 and A3.4: each drives nothing" in hand.words
        await hand.press("escape")
        before = hand.session.assessment
        hand.session.apply("add", lambda rig: edits.duplicate_times(rig, "A2", 1)[0])
        after = hand.session.assessment
        come, go = foreseen(before.findings, after.findings), foreseen(after.findings, before.findings)
        assert [row.parts[0][0][0] for row in come] == ["+"] * len(come)
        assert [row.parts[1][0] for row in go] == [row.parts[1][0] for row in come]
        assert len(come) == len(grouped([f for f in after.findings if f not in before.findings]))


async def test_a_new_feed_beside_a_loudspeaker_that_has_none_is_proposed_its_band() -> None:
    async with opened(preset="small-room") as hand:
        hand.session.apply("no feed", lambda rig: edits.change(rig, "A1.1", feed=""))
        model = next(m for m in hand.rig.equipment.loudspeakers if m.id == "sub-double-15")
        for near in ("SUB-L1", "A1.1", f"SUB-L1.{model.sections[0].id}"):
            start, end = proposed(hand.workplace.editor.options, "feed", near).band
            assert start == model.sections[0].lowest
            assert end == (model.sections[0].highest or Frequency.parse("20 kHz"))


async def test_a_new_feed_begins_where_the_last_one_ends_where_that_leaves_it_an_octave() -> None:
    async with opened(size=(80, 24)) as hand:
        await hand.press("n")
        for name, typed, told in (
            ("sub", "35-90", "20 Hz to 20 kHz"),
            ("mid", "-1.6k", "90 Hz to 20 kHz"),
            ("high", "-18k", "1.6 kHz to 20 kHz"),
            ("mon", "80-", "20 Hz to 20 kHz"),
        ):
            await hand.add("feed")
            assert told in hand.text
            await hand.fill(name, typed)
            await hand.press("enter")
        assert [(f.band[0].value, f.band[1].value) for f in hand.rig.feeds] == [
            (35, 90), (90, 1600), (1600, 18000), (80, 20000),
        ]  # fmt: skip
        ends = Frequency.parse("60 Hz"), Frequency.parse("90 Hz")
        hand.session.apply("shorter", lambda rig: edits.change(rig, "mon", band=ends))
        await hand.add("feed")
        assert "20 Hz to 20 kHz" in hand.text, "another begins at 90 Hz already"


def test_a_size_in_mm2_typed_as_a_bare_number_is_read_back_in_mm2() -> None:
    size = Measure("size", "Size", ConductorSize)
    assert (size.note("2.5"), size.note("2.5 mm2"), size.note("12 AWG")) == ("= 2.5 mm²", "", "3.31 mm²")


async def test_a_label_of_two_lines_that_an_edge_of_the_form_cuts_tells_so() -> None:
    fields = [Words(str(n), "Longer than the column of labels") for n in range(9)]
    async with opened(preset="small-room", size=(60, 20)) as hand:
        await hand.app.push_screen(Form("Any", fields, {}, UNICODE))
        cut = 0
        for lines in (19, 20):
            await hand.resize(60, lines)
            cut += hand.text.count("Longer than the column…")
        assert cut == 1, "a list of an odd number of lines cuts one of the two"
        await hand.resize(60, 40)
        assert "column…" not in hand.text
        assert hand.text.count("  of labels") == 9


async def test_what_is_wrong_with_a_field_is_seen_whole_wherever_it_stands_in_a_low_window() -> None:
    async with opened(preset="hall", size=(60, 20)) as hand:
        await hand.press("t")
        await hand.pick("Settings")
        assert isinstance(hand.screen, Form)
        for field in hand.screen.fields:
            if isinstance(field, Measure):
                await hand.write("25 qq")
                with pytest.raises(FieldError) as wrong:
                    field.read("25 qq")
                assert {*str(wrong.value).split()} <= {*hand.words.split()}, field.label
            await hand.press("tab")


def test_a_field_shows_a_quantity_with_its_signs_and_gives_it_as_files_have_it() -> None:
    size = Measure("size", "Size", ConductorSize)
    assert size.write(ConductorSize.parse("2.5 mm2")) == "2.5 mm²"
    assert size.read("4 mm²").text == size.read("4 mm2").text == "4 mm2"
    as_written = ConductorSize.parse("2.5mm²")
    assert size.after(as_written).read(size.write(as_written)) == as_written, "left as it was, it stays so"


def test_a_part_of_the_whole_is_shown_in_per_cent_and_typed_either_way() -> None:
    dip = Share("generator_dip", "Generator voltage dip", 0, 0.3)
    assert dip.write(0.05) == "5 %"
    assert [dip.read(text) for text in ("5 %", "5%", "5", "0.05", "0,05")] == [0.05] * 5
    assert (dip.note("5 %"), dip.note("0.05")) == ("", "= 5 %")
    with pytest.raises(FieldError, match="from 0 % to 30 %"):
        dip.read("31 %")


@pytest.mark.parametrize("width", [60, 80, 110, 140, 200])
async def test_a_refusal_parts_no_quantity_from_its_unit(width: int) -> None:
    async with opened(preset="small-room", size=(width, 30)) as hand:
        await hand.find("C1")
        await hand.press("enter")
        await hand.field("length")
        await hand.write("25 kg")
        assert "80 ft" in hand.text, "not parted at the end of a line"
