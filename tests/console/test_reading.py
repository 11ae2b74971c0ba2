"""What the console tells of a rig besides its panes: workings, the graph, before and now, differences."""

import re

from rackwright.console.screens.graph import Graph
from rackwright.console.widgets.dialog import Page
from rackwright.engine.cautions import PLANNING

from .hand import Hand, opened


async def to_figure(hand: Hand, figure: str) -> None:
    """In the results, the cursor on the first figure of that name."""
    await hand.press("3", "home")
    pane = hand.pane("results")
    for _ in pane.rows:
        if pane.row is not None and pane.row.figure == figure:
            return
        await hand.press("down")
    raise AssertionError(f"no {figure}:\n{hand.text}")


# --- why ---


async def test_a_figure_shows_its_formula_its_numbers_and_its_source() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("A1.1")
        await to_figure(hand, "load_minimum")
        shown = "".join(text for text, _ in hand.pane("results").row.parts)
        await hand.press("w")
        assert isinstance(hand.screen, Page)
        assert "A1.1: L" in hand.text
        assert "source:" in hand.text
        value = shown.partition("Ω")[0].split()[-1]
        await hand.press("end")
        assert f"= {value} Ω" in hand.text
        await hand.press("escape")
        assert hand.pane("results").has_focus


async def test_enter_on_a_figure_shows_its_working_too() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("A1.1")
        await to_figure(hand, "load_nominal")
        await hand.press("enter")
        assert "source:" in hand.text


async def test_why_elsewhere_leads_to_the_figures() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("A1.1")
        await hand.press("w")
        assert hand.pane("results").has_focus
        assert "w or enter shows its working" in hand.text


# --- the graph ---


async def test_in_a_small_window_the_kick_names_every_curve_and_in_one_of_80_columns_says_its_remark_to_the_end() -> (
    None
):
    async with opened(preset="small-room", size=(60, 20)) as hand:
        await hand.find("A1.2")
        await hand.press("g", "k")
        assert all(name in hand.words for name in ("as wired", "chained on one pair", "ideal source"))
        assert "the kick ends" in hand.words
        await hand.resize(80, 20)
        assert hand.words.partition(" i impedance")[0].endswith("without inductance and filters.")


async def test_the_graph_plots_what_is_selected_and_says_its_lowest() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("A1.1")
        await hand.press("g")
        assert isinstance(hand.screen, Graph)
        assert "Impedance at the terminals" in hand.text
        assert "Lowest in the band" in hand.text
        assert any("⠁" <= sign <= "⣿" for sign in hand.text)
        await hand.press("escape")
        assert hand.session.place == "A1.1"


# --- before and now ---


async def test_a_kept_state_shows_each_figure_before_and_now() -> None:
    async with opened(preset="small-room", size=(140, 45)) as hand:
        await hand.find("C2")
        await hand.press("k")
        assert "Comparing:" in hand.text
        assert "comparing" in hand.foot
        assert "→" not in "".join(text for text, _ in hand.pane("results").row.parts)
        await hand.paste("60 m")
        await hand.find("SUB-R1")
        changed = [row for row in hand.text.splitlines() if "→" in row and "Damping factor" in row]
        assert changed
        before, now = changed[0].partition("Damping factor")[2].split("→")
        assert float(before.split()[-1]) > float(now.split()[0])
        await hand.press("k")
        assert "→" not in hand.text
        assert "comparing" not in hand.foot


async def test_a_figure_compared_has_the_unit_of_each_side_where_these_differ() -> None:
    async with opened(preset="small-room", size=(110, 30)) as hand:
        await hand.find("C3")
        assert "Loop resistance 0.174 Ω" in hand.words
        await hand.press("k")
        await hand.paste("8 m")
        assert re.search(r"Loop resistance 0\.174 → 0\.\d+ Ω", hand.words)
        await hand.paste("4 m")
        assert re.search(r"Loop resistance 0\.174 Ω → [\d.]+ mΩ", hand.words)


async def test_separate_runs_can_be_judged_against_a_chain() -> None:
    """Keep two subs on runs of their own, link them, and read what the chain costs."""
    async with opened(preset="small-room") as hand:
        await hand.find("SUB-R1")
        await hand.press("k")
        await hand.find("C2")
        await hand.press("c")
        await hand.pick("SUB-L1")
        await hand.pick("SUB-R1")
        assert hand.session.assessment.sections["SUB-R1.left"].channel == "A1.1"
        await hand.find("A1.1")
        loads = [row for row in hand.text.splitlines() if "Load, nominal" in row]
        assert "8 → 4 Ω" in loads[0]


# --- differences ---


async def test_differences_from_the_preset_list_each_change() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("C2")
        await hand.paste("60 m")
        await hand.press("=")
        await hand.pick("small-room")
        assert "From preset small-room to this rig" in hand.text
        assert "1 changed" in hand.text
        assert "C2" in hand.text
        assert "60 m" in hand.text


async def test_nothing_differs_from_the_preset_just_opened() -> None:
    async with opened(preset="hall") as hand:
        await hand.press("=")
        await hand.pick("hall")
        assert "No differences." in hand.text


async def test_the_caution_stands_where_figures_are_explained() -> None:
    async with opened(preset="small-room") as hand:
        for key in ("v", "?"):
            await hand.press(key)
            await hand.press("end")
            assert " ".join(PLANNING.split()) in hand.words
            await hand.press("escape")


async def test_one_page_says_whether_the_rig_is_ready_for_doors_and_leads_on() -> None:
    async with opened(preset="faults", size=(80, 36)) as hand:
        await hand.press("W")
        assert "Not yet: 4 of 5 points are open." in hand.words
        for told in (
            "open 3 stops, ",
            "open not saved",
            "pole pairs proved by a meter",
            "open papers not written",
        ):
            assert told in hand.words, told
        await hand.press("R")
        assert "Not yet" in hand.words, "no list is open, so that its key leads nowhere"
        await hand.press("v")
        assert "Findings: 3 stops" in hand.words
        await hand.press("w")
        assert "Poles crossed Two pole pairs of a cabinet are exchanged" in hand.words
        assert "What to do" in hand.words
