"""The undo list on the screen: walked with what each edit did, gone back to, compared with; and what else a rig is compared with."""

from pathlib import Path

from console.hand import Hand, opened
from rackwright.console.screens.history import HistoryTable
from rackwright.console.widgets.pane import Pane
from rackwright.store import presets


def listed(hand: Hand) -> list[str]:
    """The rows of the list, without the time."""
    rows = hand.screen.query_one("#table", Pane).rows
    return [
        " ".join(w for w in row.parts[0][0].split() + row.parts[1][0].split() if ":" not in w) for row in rows
    ]


async def edited(hand: Hand) -> None:
    """Three edits, the last undone."""
    await hand.find("C2")
    await hand.paste("60 m")
    await hand.find("SUB-R1")
    await hand.press("d")
    await hand.find("A1")
    await hand.press("f", "escape", "u")


async def test_the_undo_list_is_walked_with_effects_and_leads_to_any_state() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("H")
        assert "the undo list is empty" in hand.text
        before = hand.rig
        await edited(hand)
        now = hand.rig
        await hand.press("H")
        assert listed(hand) == [
            "undone mark A1 failed",
            "now duplicate SUB-R1",
            "paste 1 length",
            "the first state",
        ]
        assert "SUB-R2" in hand.text  # what the edit under the cursor added
        assert "enter" not in hand.foot, "it leads to where the rig is"
        await hand.press("down")
        assert "enter go there" in hand.foot
        assert "C2" in hand.text
        assert "60 m" in hand.text
        await hand.press("down", "enter")
        assert hand.rig == before
        assert "Undone: duplicate SUB-R1 and paste 1 length." in hand.text
        await hand.press("home", "down", "enter")
        assert hand.rig == now
        assert "Redone: paste 1 length and duplicate SUB-R1." in hand.text


async def test_figures_and_differences_are_shown_from_a_state_of_the_undo_list() -> None:
    async with opened(preset="small-room", size=(110, 30)) as hand:
        await edited(hand)
        await hand.press("=")
        await hand.pick("moment")
        assert isinstance(hand.screen, HistoryTable)
        before = hand.rig
        await hand.press("end", "enter")
        assert hand.rig is before, "who compares goes nowhere"
        assert "From the first state to this rig" in hand.text
        assert "60 m" in hand.words
        await hand.press("k", "escape")
        assert "comparing with the first state" in hand.foot
        await hand.find("C2")
        assert "→" in hand.row("results", "C2")


async def test_the_edit_lock_holds_in_the_undo_list() -> None:
    async with opened(preset="small-room") as hand:
        await edited(hand)
        before = hand.rig
        await hand.press("L", "H", "end", "enter")
        assert hand.rig is before
        assert "The edit lock is on" in hand.text


async def test_a_rig_is_compared_with_any_file_and_one_that_cant_be_read_is_told(tmp_path: Path) -> None:
    presets.copy_out("hall", tmp_path / "other.toml")
    (tmp_path / "bad.toml").write_text("racks = 3\n")
    async with opened(preset="small-room") as hand:
        await hand.press("=")
        await hand.pick("another file")
        await hand.write(str(tmp_path / "bad.toml"))
        await hand.press("enter")
        assert "bad.toml" in hand.words
        await hand.write(str(tmp_path / "other.toml"))
        await hand.press("enter")
        assert "From other.toml to this rig" in hand.text
        await hand.press("k")
        assert "comparing with other.toml" in hand.foot
        await hand.press("k")
        assert "comparing" not in hand.foot


async def test_a_rig_is_compared_with_what_it_was_before_tonights_failures() -> None:
    async with opened(preset="hall") as hand:
        await hand.find("A1.1")
        await hand.press("f", "f", "escape", "=")
        await hand.pick("tonight")
        assert "From before tonight to this rig" in hand.text
        assert "A1.1" in hand.words
