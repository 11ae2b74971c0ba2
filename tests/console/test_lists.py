"""The selected row is seen in every list: marked and reversed on the cells of the screen, it alone, wherever it goes."""

import importlib
import pkgutil

import pytest
from textual.screen import Screen

import rackwright.console
from console.hand import Hand, opened
from rackwright.console.terminal.glyphs import ASCII, UNICODE, Glyphs
from rackwright.console.widgets.dialog import nearest
from rackwright.console.widgets.fields import Option
from rackwright.console.widgets.form import Form
from rackwright.console.widgets.pane import Pane

LISTS: dict[str, tuple[str, str | None, str, tuple[str, ...]]] = {
    "the start": ("Start", None, "", ()),
    "racks": ("Workplace", "hall", "", ("down",)),
    "lines": ("Workplace", "hall", "", ("2", "down")),
    "results": ("Workplace", "hall", "A1.1", ("3",)),
    "channels with a warning": ("Workplace", "faults", "A1.1", ()),
    "findings": ("FindingsList", "faults", "", ("v",)),
    "adding": ("Picker", "hall", "", ("a",)),
    "finding": ("Picker", "hall", "", ("/",)),
    "commands": ("Picker", "hall", "", ("ctrl+p",)),
    "tables": ("Picker", "hall", "", ("t",)),
    "rigs to compare with": ("Picker", "hall", "", ("=",)),
    "a choice of a form": ("Picker", "hall", "A1", ("enter", "down", "space")),
    "feeds": ("FeedTable", "hall", "", ("t", "enter")),
    "mains": ("MainsTree", "hall", "", ("M",)),
    "equipment of a rig": ("RigEquipment", "hall", "", ("t", *"equip", "enter")),
    "equipment to take": ("Picker", "hall", "", ("t", *"equip", "enter", "a")),
    "parts of a loudspeaker": (
        "PartsTable",
        "hall",
        "",
        ("t", *"equip", "enter", "down", "down", "down", "enter", "up", "up", "space"),
    ),
    "the library": ("Library", "hall", "", ("t", *"library", "enter")),
    "spares": ("Spares", "hall", "", ("t", *"spares", "enter")),
    "kinds of spares": ("Picker", "hall", "", ("t", *"spares", "enter", "a")),
    "stock": ("OwnedStock", "hall", "", ("t", *"stock", "enter", "a", "down", *"20m", "enter")),
    "meter": ("MeterCheck", "hall", "", ("i",)),
    "plans": ("Plans", "hall", "A1.1", ("f", "f")),
    "columns": ("Columns", "hall", "C1", ("E",)),
    "what is heard": ("DiagnosisScreen", "hall", "TOP-R1.high", ("h",)),
    "what may have failed": ("DiagnosisScreen", "hall", "TOP-R1.high", ("h", "s", "tab")),
    "states of the rig": ("HistoryTable", "hall", "A1.2", ("r", "f", "escape", "H")),
    "states to compare with": ("Moments", "hall", "A1.2", ("r", "f", "escape", "=", *"moment", "enter")),
    "a list": ("ListTable", "hall", "A1.2", ("f", "f", "enter")),
}
"""The screen that each is on, the rig, what is selected, and the keys that lead there."""
LISTLESS = {
    "ConsoleScreen", "RigScreen", "Dialog", "Page", "FlowingPage", "HelpPage", "Prompt", "Question", "Graph", "SweepGraph", "TableScreen", "RigTable", "EntryTable",
    "RehearsalTable", "AmplifierPosition", "Form", "EquipmentForm", "Foreseen", "Comparison", "PastNight", "ReadyPage", "TooSmall", "Trouble",
}  # fmt: skip
"""Screens with no list of their own, and what several lists share."""


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII], ids=["colour", "ascii without colour"])
@pytest.mark.parametrize("preset", [None, "hall", "faults"])
async def test_the_selected_row_is_seen(
    preset: str | None, glyphs: Glyphs, monkeypatch: pytest.MonkeyPatch
) -> None:
    if glyphs.ascii:
        monkeypatch.setenv("NO_COLOR", "1")
    async with opened(preset=preset, size=(80, 24), glyphs=glyphs) as hand:
        for name, (kind, of, place, keys) in LISTS.items():
            if of != preset:
                continue
            if of is not None:
                hand.workplace.go_to(place)
            await hand.burst(*keys)
            assert type(hand.screen).__name__ == kind, name
            before = selected(hand)
            await hand.press("down")
            after = selected(hand)
            assert before != after or sum(row.selectable for row in acting(hand).rows) == 1, name
            assert not hand.screen.query(
                "OptionList, DataTable, ListView, Tree, Select, RadioSet, SelectionList"
            )
            while of is not None and hand.screen is not hand.workplace:
                await hand.press("escape")


@pytest.mark.parametrize(("glyphs", "sign"), [(UNICODE, "▶"), (ASCII, ">")])
async def test_the_unit_that_is_tried_is_marked_and_reversed_in_its_rack(glyphs: Glyphs, sign: str) -> None:
    async with opened(preset="hall", size=(80, 24), glyphs=glyphs) as hand:
        await hand.find("A1")
        await hand.press("m")
        for keys, unit in (((), " 1"), (("up", "up"), " 3"), (("right",), " 3")):
            await hand.press(*keys)
            (row,) = [strip for strip in hand.strips() if f"{sign} " in strip.text]
            here = "".join(text for text, style, _ in row if style is not None and style.reverse)
            assert here.startswith(f"{unit} A1")
            assert row.text.index(f"{sign} {unit} A1") + 2 == row.text.index(here)


@pytest.mark.parametrize(("glyphs", "signs"), [(UNICODE, "▶●"), (ASCII, ">*")])
async def test_the_selected_row_tells_too_whether_it_is_chosen(glyphs: Glyphs, signs: str) -> None:
    async with opened(preset="small-room", size=(80, 24), glyphs=glyphs) as hand:
        await hand.find("C2")
        await hand.press("space", "up")
        assert hand.session.place == "C2"
        assert selected(hand)[1].startswith(signs)
        await hand.press("down")
        assert not selected(hand)[1].startswith(signs)


async def test_up_from_the_top_of_a_list_to_pick_from_goes_to_its_end_and_down_back() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("/")
        pane = acting(hand)
        await hand.press("up")
        assert pane.nth == len(pane.rows) - 1 > 0
        selected(hand)
        await hand.press("down")
        assert pane.nth == 0
        await hand.type("nothing of that name")
        await hand.press("up", "down")
        assert hand.screen.query(Pane).first().nth == -1


async def test_typing_in_a_list_finds_ids_and_names_by_how_words_begin_the_nearest_first() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("/")
        await hand.type("sub")
        shown = [option.value for option in hand.screen.shown]
        assert shown[:3] == ["sub", "SUB-L1", "SUB-R1"], "what is called so, what begins so, what tells of it"
        assert shown.index("SUB-R1") < shown.index("A1.1") < len(shown), "the channel plays it"
        assert "nothing matches" not in hand.text
        await hand.press("escape", "/")
        await hand.type("ub")
        assert hand.screen.shown, "at last what only stands within an id"
        assert all("ub" in option.value.lower() for option in hand.screen.shown)
        await hand.press("escape")
        await hand.find("SUB-L1")
        await hand.press("enter")
        assert isinstance(hand.screen, Form)
        await hand.field("model")
        await hand.press("space")
        await hand.type("mo")
        assert "(demo)" in hand.text
        assert {option.value.partition("-")[0] for option in hand.screen.shown} == {"spot", "wedge"}, (
            "what is for monitors, not all that is a demo"
        )
        await hand.press("backspace")
        found = [option.value.partition("-")[0] for option in hand.screen.shown]
        assert {"spot", "wedge"} == {*found[: found.index("top")]}, "what it is for before what has a mid"


def test_what_only_stands_within_an_id_is_found_where_nothing_begins_so() -> None:
    options = (Option("spot-6", "a wedge"), Option("top-8"), Option("box-1", "a top"))
    assert [each.value for each in nearest("t", options)] == ["top-8", "box-1"]
    assert [each.value for each in nearest("pot", options)] == ["spot-6"]


async def test_enter_is_offered_where_anything_matches_only() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("slash")
        assert "enter OK" in hand.words
        await hand.type("zzz")
        assert "nothing matches" in hand.words
        assert "enter OK" not in hand.words
        await hand.press("backspace", "backspace", "backspace")
        assert "enter OK" in hand.words


async def test_what_a_list_cuts_stands_whole_below_it_under_the_cursor() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("SUB-L1")
        await hand.press("enter")
        await hand.field("model")
        whole = "bi-amped: mid 8 Ω 400 W, high 16 Ω 80 W – Bi-amped double 10 inch top for stacks and arrays (demo)"
        await hand.press("space")
        assert "16 Ω 80 W – Bi-amped do…" in hand.text
        assert whole not in hand.words
        await hand.type("top-biamp-2")
        assert f"top-biamp-2x10: {whole}" in hand.words
        await hand.resize(130, 24)
        assert f"top-biamp-2x10 {whole}" in hand.words
        assert f"top-biamp-2x10: {whole}" not in hand.words


@pytest.mark.parametrize(
    ("near", "kind", "typed", "told"),
    [
        ("A1", "amplifier", "amp-2ch-1800", "2 ch, 2 U, 1100/1800/2600 W at 8/4/2 Ω, exposed term"),
        ("A1", "amplifier", "amp-4ch-600", "4 ch, 1 U, 400/600 W at 8/4 Ω, shrouded term"),
        ("SUB-L1", "cabinet", "wedge-biamp-15", "bi-amped: low 8 Ω 400 W, high 8 Ω 90 W"),
        ("SUB-L1", "cabinet", "sub-double-18", "  upper 8 Ω 800 W, lower 8 Ω 800 W"),
    ],
)
async def test_the_list_of_models_shows_at_80_columns_what_one_is_chosen_by(
    near: str, kind: str, typed: str, told: str
) -> None:
    """The words and figures of the demo catalogue's entries."""
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find(near)
        await hand.add(kind)
        await hand.field("model")
        await hand.press("space")
        (row,) = [line for line in hand.text.splitlines() if f" {typed} " in line]
        assert told in row


def acting(hand: Hand) -> Pane:
    """The list that the keys act on: the one."""
    panes = [pane for pane in hand.screen.query(Pane) if pane.rows and pane.has_focus == pane.can_focus]
    return max(panes, key=lambda pane: pane.has_focus)


def selected(hand: Hand) -> tuple[int, str]:
    """The row of the screen that is marked and reversed from end to end, and its text. Fails where there is not one."""
    pane = acting(hand)
    sign = "▶" if hand.app.glyphs is UNICODE else ">"
    left, top, _, height = pane.content_region
    width = pane.scrollable_content_region.width
    rows = [strip.crop(left, left + width) for strip in hand.strips()[top : top + height]]
    marked = [(y, row.text) for y, row in enumerate(rows) if row.text.startswith(sign)]
    assert len(marked) == 1, hand.text
    y, text = marked[0]
    styles = [style for _, style, _ in rows[y]]
    assert all(style is not None and style.reverse for style in styles), hand.text
    assert all(style.color is None or style.color.is_default for style in styles if style), "on one ground"
    return y, text


async def test_a_step_is_reversed_whole() -> None:
    """However many lines its words take; the mark stands before the first of them."""
    async with opened(preset="hall", size=(60, 24)) as hand:
        await hand.find("A9.1")
        await hand.press("f", "f", "enter", "enter")
        pane, (y, _) = acting(hand), selected(hand)
        lines = sum(row.place == pane.place for row in pane.rows)
        assert lines > 1
        strips = hand.strips()[pane.content_region.y + y :][: lines + 1]
        inked = [all(style and style.reverse for _, style, _ in strip.crop(3, 50)) for strip in strips]
        assert inked == [True] * lines + [False]


async def test_a_bar_is_inked_in_its_colour_under_the_cursor_too() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await hand.press("M", "down")
        inks = set()
        for strip in hand.strips()[1:-3]:
            for text, style, _ in strip:
                if style is not None and "█" in text:
                    inks.add((style.reverse, style.bgcolor if style.reverse else style.color))
        assert {reverse for reverse, _ in inks} == {None, True}, "some of them under the cursor"
        assert len({ink for _, ink in inks}) == 1


def test_every_screen_with_a_list_is_tried() -> None:
    for module in pkgutil.walk_packages(rackwright.console.__path__, "rackwright.console."):
        importlib.import_module(module.name)
    ours = {kind.__name__ for kind in _below(Screen) if kind.__module__.startswith("rackwright.")}
    tried = {kind for kind, *_ in LISTS.values()}
    assert ours - tried == LISTLESS, "a new list goes into LISTS"


def _below(kind: type) -> set[type]:
    return {kind, *(found for child in kind.__subclasses__() for found in _below(child))}


async def test_a_list_in_which_nothing_matches_stays_at_enter() -> None:
    """The keys after it would act on what was selected before."""
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("C1")
        await hand.burst("/", *"zzqq", "enter", "d")
        assert "zzqqd" in hand.text
        assert not hand.session.history.begun
        await hand.press("escape")
        assert hand.screen is hand.workplace
