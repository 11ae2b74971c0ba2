"""The window at any size and any moment, and terminals that can do little."""

import itertools
from types import SimpleNamespace
from typing import Any, cast

import pytest

from rackwright.console.app import Console
from rackwright.console.related import related
from rackwright.console.terminal.glyphs import ASCII, UNICODE, Glyphs
from rackwright.console.widgets.form import Form
from rackwright.console.widgets.screen import ConsoleScreen
from rackwright.console.widgets.status import Foot

from .hand import Hand, opened, quiet

TOO_SMALL = "Make the window at least 60 × 16"


def fits(hand: Hand, width: int, height: int) -> None:
    """The screen fills the window and no more."""
    strips = hand.strips()
    assert len(strips) == height
    assert {strip.cell_length for strip in strips} == {width}


async def test_as_many_panes_as_show_each_name_and_figure_in_full() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        for size, shown in ((80, 24), 1), ((98, 30), 2), ((110, 30), 2), ((144, 45), 3), ((200, 60), 4):
            await hand.resize(*size)
            panes = [hand.pane(name) for name in ("racks", "lines", "results", "rear")]
            seen = [pane for pane in panes if pane.display]
            assert len(seen) == shown
            assert sum(pane.outer_size.width for pane in seen) == size[0]
            for pane in seen:
                assert not [row for row in pane.rows if any("…" in text for text, _ in row.parts)]
            fits(hand, *size)


async def test_the_rear_panel_takes_no_column_from_the_racks_and_is_not_there_without_sockets() -> None:
    async with opened(preset="hall", size=(110, 30)) as hand:
        for size in ((110, 30), (200, 60)):
            await hand.resize(*size)
            assert hand.text.splitlines()[1].split()[1:5] == ["Racks", "Drives", "Load", "Headroom"]
    async with opened(size=(200, 60)) as hand:
        await hand.press("n")
        assert not hand.pane("rear").display


async def test_names_of_columns_stay_over_their_figures_and_stand_over_nothing_else() -> None:
    async with opened(preset="outdoor-stage", size=(80, 24)) as hand:
        for keys, name in (("t", "enter"), "Id"), (("M",), "Phase"), (("i",), "Line"):
            await hand.press(*keys, "end")
            assert hand.text.splitlines()[1].split()[1] == name
            await hand.press("escape")
        await hand.press("1", "home")
        racks = hand.pane("racks")
        for _ in range(len(racks.rows)):
            first, second = ("".join(cell.text for cell in racks.render_line(y)).split() for y in (0, 1))
            assert not {"Band", "Load", "Rating"} & {*first} or (
                second and second[0] not in ("Feeds", "Circuits", "Phases")
            )
            await hand.press("down")


async def test_a_page_names_the_keys_that_act_and_a_list_cuts_no_name() -> None:
    async with opened(preset="faults", size=(110, 35)) as hand:
        await hand.press("v")
        assert "warn SUB-L1.upper +1 " in hand.text
        await hand.press("escape", "=")
        await hand.pick("faults")
        assert "arrows" not in hand.words
        await hand.press("escape", "?")
        assert "arrows scroll" in hand.words
        await hand.type("cabinet")
        assert "arrows scroll" not in hand.words
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("v")
        assert "enter go there" not in hand.words


async def test_what_is_wrong_with_a_field_stands_where_it_takes_fewer_lines() -> None:
    async with opened(preset="small-room", size=(60, 24)) as hand:
        await hand.find("C1")
        await hand.press("enter")
        await hand.field("length")
        await hand.write("25 kg")
        assert '25 kg "25 kg" is a weight, not a length. Write a length such as "25 m"' in hand.words
        assert (
            next(line for line in hand.text.splitlines() if "Length" in line).rstrip("┃ ").endswith("25 kg")
        )


async def test_in_60_columns_keys_figures_and_verdicts_are_whole() -> None:
    async with opened(preset="hall", size=(60, 24)) as hand:
        await hand.press("M")
        heads = next(line for line in hand.text.splitlines() if "Rating" in line)
        assert heads.split() == ["Rating", "Programme", "Driven", "hard"]
        assert "amp-4ch-1200 " in hand.text, "a name runs into the room of a bar that is not there"
        assert "esc close" in hand.foot
        await hand.press("escape", "i")
        assert "Heard Verdict" in hand.words
        assert "Expected 5.79 Ω, limits 5.23 to 6.34 Ω" in hand.words
        assert "esc close" in hand.foot
        await hand.press("escape", "ctrl+p")
        assert "…  l " in next(line for line in hand.text.splitlines() if "Set the limiters" in line)
        await hand.press("escape")
        await hand.find("A1.1")
        await hand.press("g", "k")
        assert "sound pressure, highest 1" in hand.words


async def test_at_the_start_names_and_keys_are_whole_in_60_columns() -> None:
    async with opened(size=(60, 24)) as hand:
        assert "Open-air stage, generator" in hand.text
        assert hand.text.rstrip().endswith("esc quit")


async def test_at_the_start_what_a_new_user_needs_ends_where_it_ends_or_in_a_sign() -> None:
    for height, end in ((20, "link drops."), (16, "… ? shows every key")):
        async with opened(size=(60, height)) as hand:
            assert hand.text.splitlines()[-2].endswith(end)


async def test_a_form_fits_the_window_that_it_is_open_in() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await hand.press("t")
        await hand.pick("my equipment")
        await hand.press("a")
        for width in (60, 80, 140):
            await hand.resize(width, 30)
            fits(hand, width, 30)
            damping, below = next(
                lines for lines in itertools.pairwise(hand.text.splitlines()) if "Damping factor" in lines[0]
            )
            assert "needed" in damping
            assert "such as 400 at 8 Ω" in damping + below
            assert hand.text.count("needed") == 5


async def test_what_a_form_would_do_is_wrapped_anew_in_another_window() -> None:
    """It ends with the key to the rest of it, which what is cut would hide."""
    shown = []
    for width in (60, 80, 140):
        async with opened(preset="faults", size=(width, 24)) as hand:
            await hand.find("A1")
            await hand.press("enter")
            await hand.field("model")
            await hand.choose("2ch-250ab")
            assert "page down: " in hand.text
            await hand.resize(60, 24)
            shown.append(hand.text)
    assert "page down: " in shown[0]
    assert len(set(shown)) == 1


async def test_where_two_panes_fit_results_stay_beside_racks_or_lines() -> None:
    async with opened(preset="hall", size=(110, 30)) as hand:
        for key, beside in (("2", "lines"), ("3", "lines"), ("1", "racks"), ("3", "racks")):
            await hand.press(key)
            assert {pane for pane in ("racks", "lines", "results") if hand.pane(pane).display} == {
                beside,
                "results",
            }
        await hand.press("1", "2")
        assert hand.text.splitlines()[0].startswith("┏━ 2 Lines ━")
        assert "1 Racks" in hand.text


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII], ids=["unicode", "ascii"])
async def test_where_there_is_room_the_rear_panel_shows_what_is_on_the_sockets(glyphs: Glyphs) -> None:
    async with opened(preset="hall", size=(200, 60), glyphs=glyphs) as hand:
        rear = hand.pane("rear")
        for place, rack, other, selected in (
            ("A8.1", "R2", "R1", ""),
            ("R3-1/1", "R3", "R2", "1 A9.1 mix1-low"),
        ):
            await hand.find(place)
            told = {"".join(text for text, _ in row.parts) for row in rear.rows}
            assert any(f"{rack}-1 4-pole" in line for line in told)
            assert not any(f"{other}-1 4-pole" in line for line in told)
            parts = [part for row in rear.rows for part in row.parts]
            assert [text for text, style in parts if style == "here"] == ([selected] if selected else [])
            assert (f"{glyphs.dot} ", "") in parts
            assert ((f"{glyphs.cursor} ", "") in parts) is bool(selected)
        await hand.press("tab", "tab", "tab")
        assert hand.pane("lines").has_focus, "the rear panel is only for reading"
        assert glyphs is UNICODE or hand.text.isascii()


async def test_in_a_narrow_window_keys_go_from_pane_to_pane() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        for key, title in (
            ("2", "Lines"),
            ("3", "Results"),
            ("1", "Racks"),
            ("tab", "Lines"),
            ("shift+tab", "Racks"),
        ):
            await hand.press(key)
            assert title in hand.text.splitlines()[0]
            assert hand.pane(title.lower()).has_focus


async def test_with_little_room_frames_go_and_what_fails_is_read_marked_and_ticked() -> None:
    """Under a multiplexer's status line, or in half a window."""
    async with opened(preset="hall", size=(80, 24)) as hand:
        for place, size in zip(
            ("A9.1", "A9.2", "A9.3", "A9.4", "A5.1"),
            ((79, 24), (80, 23), (80, 20), (60, 24), (60, 16)),
            strict=True,
        ):
            await hand.find(place)
            await hand.resize(*size)
            fits(hand, *size)
            lines = hand.text.splitlines()
            assert any(line.startswith("▶") for line in lines), "the row that keys act on is there"
            assert not any("┃" in line or "│" in line for line in lines)
            assert "? help" in lines[-1]
            assert ("stop" in lines[-2]) is (size[1] >= 20)
            await hand.press("f", *(["f"] if "." in place else []))
            fits(hand, *size)
            assert f"{place} failed" in hand.words or "1. " in hand.words
            await hand.press("enter")
            done = hand.rig.lists[-1].ticked
            assert f"[ ] {done + 1}." in hand.words
            await hand.press("enter")
            assert hand.rig.lists[-1].ticked == done + 1
            fits(hand, *size)
            await hand.press("escape", "escape")


@pytest.mark.parametrize("keys", [(), ("a",), ("t", "enter"), ("f",), ("enter",)], ids=str)
async def test_where_nothing_can_be_seen_no_key_acts(keys: tuple[str, ...]) -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await hand.find("A3.2")
        await hand.press(*keys)
        rig, screen = hand.rig, hand.screen
        for size in ((59, 24), (80, 15), (1, 1)):
            await hand.resize(*size)
            fits(hand, *size)
            assert size[0] < 40 or TOO_SMALL in hand.words
            await hand.burst("f", "d", "delete", "y", "enter", "u", "r", "escape", "down", "3")
            await hand.paste("3 m")
            await hand.resize(80, 24)
            assert (hand.rig, hand.screen) == (rig, screen)
            assert hand.session.place == "A3.2"


async def test_begun_in_a_window_too_small_it_shows_the_rig_once_there_is_room() -> None:
    async with opened(preset="hall", size=(30, 8)) as hand:
        assert "Make the" in hand.words
        await hand.resize(80, 24)
        assert "1 Racks" in hand.text
        await hand.resize(30, 8)
        await hand.press("ctrl+q")
        assert not hand.app.is_running


async def test_another_window_loses_nothing() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await hand.find("A3.2")
        rig = hand.rig
        for size in ((40, 10), (70, 20)):
            await hand.resize(*size)
        await hand.resize(140, 45)
        assert hand.rig is rig
        assert hand.session.place == "A3.2"
        assert "Channel A3.2" in hand.text


SCREENS = {
    "workplace": (),
    "form": ("enter",),
    "picker": ("a",),
    "findings": ("v",),
    "help": ("?",),
    "graph": ("g",),
    "tables": ("t", "enter"),
    "equipment": ("t", "down", "down", "down", "enter"),
    "question": ("delete",),
    "moving": ("m",),
    "save as": ("S",),
}


async def test_each_screen_takes_any_size_at_any_moment() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        for name, keys in SCREENS.items():
            await hand.find("A1")
            await hand.burst(*keys)
            screen = hand.screen
            for size in ((20, 5), (110, 30), (80, 24)):
                await hand.resize(*size)
                fits(hand, *size)
            assert hand.screen is screen, name
            await hand.press("escape", "escape")
            assert hand.screen is hand.workplace


async def test_what_another_console_does_may_come_while_a_screen_is_only_opening(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        told: list[str] = []
        monkeypatch.setattr(hand.workplace.document.notes, "take_reports", lambda: told[-1])
        opening = Console.push_screen

        def opens(app: Console, *args: Any, **options: Any) -> Any:
            shown = opening(app, *args, **options)
            told.append(f"MK: step {len(told) + 1} done")
            hand.workplace.follow()
            hand.app.tell("while it opens")
            return shown

        monkeypatch.setattr(Console, "push_screen", opens)
        for keys in (*SCREENS.values(), ("M",), ("h",), ("i",), ("E",), ("f", "f", "R"), ("R",)):
            await hand.find("A1.1")
            await hand.burst(*keys)
            while hand.screen is not hand.workplace:
                await hand.press("escape")
        assert len(told) > 12


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII], ids=["unicode", "ascii"])
async def test_the_cursor_never_blinks(glyphs: object) -> None:
    async with opened(preset="small-room", size=(80, 24), glyphs=glyphs) as hand:
        await hand.find("C1")
        for keys in (("enter",), ("S",), ("/",), ("P",)):
            await hand.press(*keys)
            assert hand.app.focused.cursor_blink is False
            await hand.press("escape")


async def test_nothing_on_an_ascii_terminal_is_anything_else() -> None:
    async with opened(preset="hall", size=(80, 24), glyphs=ASCII) as hand:
        for pane in ("1", "2", "3"):
            await hand.press(pane)
            assert hand.text.isascii(), hand.text
        for place in ("", "A1", "A1.1", "R1-1", "R1-1/1", "C1", "SUB-L1", "SUB-L1.upper", "P1", "sub"):
            hand.workplace.go_to(place)
            await hand.press("3")
            assert hand.text.isascii(), hand.text


async def test_what_is_selected_and_lit_stays_in_view_in_a_long_rig() -> None:
    async with opened(preset="outdoor-stage", size=(140, 45)) as hand:
        await hand.find("MON-12")
        assert "▶" in hand.text
        assert "MON-12" in hand.text
        lit = related(hand.session.assessment, "MON-12") & {row.place for row in hand.pane("racks").rows}
        top = hand.pane("racks").scroll_offset.y
        in_view = hand.pane("racks").rows[top : top + 41]
        assert any(row.place in lit for row in in_view)


@pytest.mark.parametrize("size", [(60, 16), (60, 20), (80, 24)])
async def test_what_is_said_leaves_the_cursor_in_sight_and_shows_where_it_is_cut(
    size: tuple[int, int],
) -> None:
    async with opened(preset="hall", size=size) as hand:
        await hand.press("1")
        for _ in range(size[1] + 2):
            await hand.press("down")
            hand.screen.say("A sentence of many words. " * 20)
            await hand.settle()
            assert [line for line in hand.text.splitlines() if "▶" in line]
            assert [line for line in hand.text.splitlines() if line.rstrip(" │┃┘┛").endswith(" …")]


async def test_a_pane_that_was_out_of_sight_is_drawn_for_its_width() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        for _ in range(2):
            await hand.find("C2")
            await hand.press("k", "enter", "escape")
            await hand.find("A1")
            assert "amp-4ch-600" in hand.text


async def test_nothing_of_the_panes_is_left_round_a_dialog() -> None:
    async with opened(preset="hall", size=(140, 30)) as hand:
        for keys in (("a",), ("enter",), ("/",)):
            await hand.find("A1")
            await hand.press(*keys)
            box = hand.screen.query_one(".box").region
            for y, strip in enumerate(hand.strips()):
                inside = box.y <= y < box.bottom
                beside = (strip.crop(0, box.x), strip.crop(box.right)) if inside else (strip,)
                assert not "".join(part.text for part in beside).strip(), (keys, y)
            await hand.press("escape")


async def test_what_a_key_sets_off_is_painted_when_the_key_is_done_and_not_put_off_for_ever(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async with opened(preset="small-room", size=(80, 24), painted=True) as hand:
        frames: list[str] = []
        monkeypatch.setattr(hand.app.painting, "less", lambda frame: frames.append(frame) or "")
        for place, at_a_key in (("C2", False), ("A1", True)):
            hand.app.at_a_key = True
            hand.workplace.go_to(place)
            await quiet(hand.app)
            for _ in range(ConsoleScreen.PATIENCE + 2):
                hand.screen._on_timer_update()
            assert not frames
            hand.app.at_a_key = at_a_key
            for _ in range(ConsoleScreen.LOOKS_AHEAD + 1):
                hand.screen._on_timer_update()
            assert len(frames) == 1
            frames.clear()
        hand.app.at_a_key = False


async def test_headings_of_columns_stay_over_what_is_scrolled_under_them() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        seen = set()
        for key in (*["down"] * 20, *["pagedown"] * 6, *["up"] * 20, *["pageup"] * 6):
            await hand.press(key)
            _, heading, *rest = hand.text.splitlines()
            seen.add(heading.split()[1])
            assert any(line.startswith("┃▶") for line in rest), "the cursor is under the heading"
        assert seen == {"Racks", "Feeds"}
        assert hand.session.place == "R1"


async def test_a_slim_window_cuts_no_heading_and_no_key() -> None:
    async with opened(preset="outdoor-stage", size=(60, 24)) as hand:
        await hand.find("SUB-L1.upper")
        await hand.press("h", "s")
        assert "Affects" in hand.text
        await hand.resize(110, 35)
        assert "Affects" in hand.text
        await hand.resize(60, 24)
        await hand.press("escape")
        await hand.press("t", "enter")
        assert "Lim. peak" in hand.text
        await hand.press("escape", "v")
        assert "esc close" in hand.text


async def test_in_a_slim_window_hints_end_between_keys_and_a_failed_feed_is_marked() -> None:
    async with opened(preset="outdoor-stage", size=(60, 24)) as hand:
        await hand.find("A1")
        await hand.press("enter")
        assert "left/right/space/letter choose" in hand.text
        await hand.press("escape")
        await hand.find("top-high")
        await hand.press("f", "escape", "t")
        await hand.pick("Feeds")
        assert next(line for line in hand.text.splitlines() if "top-high" in line).rstrip().endswith("failed")
        fits(hand, 60, 24)


async def test_the_rear_panel_is_narrowed_with_the_others() -> None:
    async with opened(preset="hall", size=(200, 60)) as hand:
        rear = hand.pane("rear")
        assert any("SUB-L1" in text for row in rear.rows for text, _ in row.parts)
        await hand.press("O")
        await hand.pick("mix1-low")
        seen = " ".join(text for row in rear.rows for text, _ in row.parts)
        assert "MON-1" in seen
        assert "MON-2" in seen
        assert "SUB-L1" not in seen
        assert "MON-3" not in seen
        await hand.press("O")
        assert any("SUB-L1" in text for row in rear.rows for text, _ in row.parts)


async def test_in_80_columns_the_foot_shows_the_key_that_connects_what_has_no_line() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("SUB-L1")
        await hand.press("space")
        assert "c connect" not in hand.foot, "it has a line"
        await hand.press("escape")
        await hand.add("cabinet")
        await hand.press("enter", "space")
        assert "c connect 1" in hand.foot


async def test_all_boxes_of_a_form_begin_at_one_column_in_a_window_that_gets_slim_and_broad_again() -> None:
    async with opened(preset="small-room", size=(60, 24)) as hand:
        await hand.find("SUB-L1")
        await hand.press("enter")
        assert isinstance(hand.screen, Form)
        for columns in (60, 80, 60):
            await hand.resize(columns, 24)
            assert len({box.region.x for box in hand.screen.boxes.values()}) == 1


async def test_a_dialog_is_no_broader_than_what_stands_in_it_asks_for() -> None:
    """Common practice, no source: a box mostly empty has its ends read as belonging to nothing."""
    broad = {}
    for preset in ("hall", "faults"):
        async with opened(preset=preset, size=(200, 60)) as hand:
            await hand.press("v")
            broad[preset] = hand.screen.query_one(".box").outer_size.width
    assert broad["hall"] < broad["faults"] < 200


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII], ids=["unicode", "ascii"])
def test_a_line_that_is_cut_ends_in_a_sign_with_a_blank_before_it(glyphs: Glyphs) -> None:
    parts = [
        ("2 stops", "stop"),
        ("  ", ""),
        ("circuits ", "dim"),
        ("P1 31 %", ""),
        ("  ", ""),
        ("P3 9 %", ""),
    ]
    for width in range(12, 35):
        line = Foot.render_line(
            cast(Foot, SimpleNamespace(parts=parts, glyphs=glyphs, size=SimpleNamespace(width=width))), 0
        )
        whole = "".join(text for text, _ in parts)
        assert line.cell_length <= width
        assert line.text == whole or (line.text.endswith(glyphs.spelt(" …")) and len(whole) > width)
