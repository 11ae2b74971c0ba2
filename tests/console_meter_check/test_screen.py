"""The meter check on the screen: readings typed, judged at once, kept, undone; ticks; leads; small and plain windows."""

from pathlib import Path

import pytest

from console.hand import Hand, opened
from rackwright.console.terminal.glyphs import ASCII
from rackwright.engine.meter_check import checked
from rackwright.model import edits
from rackwright.model.index import Index
from rackwright.model.readings import Reading


def kept(hand: Hand, name: str) -> Reading:
    return next(reading for reading in hand.rig.readings if reading.id == name)


async def test_a_reading_is_typed_judged_kept_and_the_cursor_goes_on() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i")
        assert "0 of 8 measured" in hand.text
        await hand.type("5.7")
        assert "5.7_" in hand.text
        await hand.press("enter")
        assert "1 of 8 measured" in hand.text
        assert kept(hand, "C1/1").ohms == "5.7 ohm"
        assert kept(hand, "C1/1").when
        assert hand.screen.place == "C1/2"
        await hand.press("up")
        assert "C1 pole pair 1: as expected." in hand.words
        assert "Next:" not in hand.words


async def test_a_fault_is_told_below_at_once() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i", "o", "enter", "up")
        assert kept(hand, "C1/1").ohms == "open"
        assert "1 wrong" in hand.text
        assert "open in C1 or its plugs; or open in SUB-L1" in hand.words


async def test_a_unit_is_taken_and_nonsense_is_refused() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i")
        await hand.type("4.7.1")
        await hand.press("enter")
        assert not hand.rig.readings
        assert "Write the meter's figure" in hand.words
        await hand.press("escape")
        await hand.type("5R7")
        await hand.press("enter")
        assert kept(hand, "C1/1").ohms == "5R7"


async def test_undo_takes_a_reading_back_and_delete_clears_it() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i", "6", "enter", "u")
        assert not hand.rig.readings
        await hand.press("U", "up", "delete")
        assert not hand.rig.readings
        await hand.press("escape")
        assert "Racks" in hand.text


async def test_space_goes_through_the_three_values_of_polarity_and_a_no_is_a_fault() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i", "space")
        assert kept(hand, "C1/1").polarity == "yes"
        assert "1 wrong" not in hand.text
        await hand.press("space")
        assert kept(hand, "C1/1").polarity == "no"
        assert "C1 pole pair 1: polarity reversed." in hand.words
        assert "1 wrong" in hand.text
        await hand.press("space")
        assert not hand.rig.readings


async def test_c_notes_which_driver_was_heard() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i", "c", "enter")
        assert kept(hand, "C1/1").heard == "yes"
        await hand.press("c")
        await hand.pick("SUB-R1")
        assert "C1 pole pair 1: heard from SUB-R1, expected SUB-L1." in hand.words
        await hand.press("c")
        await hand.pick("no:")
        assert "C1 pole pair 1: not heard as it should be." in hand.words


async def test_pairs_that_may_be_exchanged_are_not_proved_until_a_driver_is_heard() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        low, high = (item for item in checked(Index(hand.rig)) if item.test.line == "C3")
        between = f"{(low.test.expected.likely + high.test.expected.likely) / 2:.2f}"
        await hand.press("i", *["down"] * 4)
        for _ in range(2):
            await hand.type(between)
            await hand.press("enter")
        await hand.press("up")
        assert "not proved" in hand.text
        assert "Touch a small battery to pole pair 2 of C3" in hand.words
        await hand.press("c", "enter")
        assert "not proved" not in hand.text


async def test_a_reading_of_a_line_that_was_changed_since_is_no_proof() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i")
        await hand.type("5.7")
        await hand.press("enter", "escape")
        await hand.find("C1")
        await hand.paste("40 m")
        await hand.press("i")
        assert "0 of 8 measured" in hand.text
        assert "test again" in hand.text
        assert "Before: 5.7 Ω on" in hand.words


async def test_leads_are_subtracted_from_what_is_measured_from_then_on() -> None:
    """7 Ω with leads of 1.3 Ω is 5.7 Ω, within the limits; without, it is above them."""
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i", "7", "enter", "down", "z")
        await hand.type("1.3")
        await hand.press("enter")
        assert "leads 1.3 Ω subtracted" in hand.text
        await hand.press("7", "enter")
        assert "2 of 8 measured, 1 wrong" in hand.text
        assert kept(hand, "C1/2").lead_resistance.value == pytest.approx(1.3)


async def test_a_wrong_reading_keeps_its_row_and_is_told_at_the_foot_afterwards() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i", "o", "enter")
        assert "Next: Unplug SUB-L1 and measure pole pair 1 at its input." in hand.words
        await hand.press("enter")
        assert "C1 pole pair 2: type what the meter shows" in hand.words
        await hand.press("escape")
        assert "meter check: 1 wrong" in hand.foot
        await hand.press("u")
        assert "wrong" not in hand.foot


async def test_a_locked_rig_takes_no_reading() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("L", "i", "6", "enter")
        assert not hand.rig.readings
        assert "edit lock is on" in hand.words


async def test_who_only_reads_is_not_asked_for_a_reading() -> None:
    async with opened(preset="small-room") as hand:
        await hand.press("i")
        assert "type what the meter shows" in hand.words
        hand.session.held_by = "ann has it"
        hand.screen.redraw()
        await hand.settle()
        assert "type what" not in hand.words


async def test_it_is_drawn_in_ascii() -> None:
    async with opened(preset="small-room", size=(80, 24), glyphs=ASCII) as hand:
        await hand.press("i", "6", "enter", "up")
        assert hand.text.isascii()
        assert "5.91 ohm" in hand.text


async def test_a_name_that_is_cut_in_ascii_moves_no_column() -> None:
    async with opened(preset="small-room", size=(90, 24), glyphs=ASCII) as hand:
        hand.session.apply("", lambda rig: edits.change(rig, "C1", id="C1-left-of-stage"))
        await hand.press("i")
        rows = [line for line in hand.text.splitlines() if line.startswith("|") and " ohm" in line]
        assert "..." in rows[0]
        assert len({line.index(" ohm") for line in rows}) == 1


async def test_in_a_small_window_it_is_there_all_the_same() -> None:
    async with opened(preset="small-room", size=(70, 20)) as hand:
        await hand.press("i", "6")
        assert "6_" in hand.text


async def test_coils_are_as_hot_as_is_stated_and_readings_keep_it() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i")
        assert "coils at 30 °C" in hand.words
        await hand.press("t")
        await hand.type("60")
        await hand.press("enter")
        assert "coils at 60 °C" in hand.text.splitlines()[0]
        await hand.type("6.6")
        await hand.press("enter", "up")
        assert "C1 pole pair 1: as expected." in hand.words
        hot = kept(hand, "C1/1").coil_temperature
        assert hot is not None
        assert hot.value == 60


async def test_after_something_has_failed_the_coils_are_asked_for() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("A1.1")
        await hand.press("f", "f", "escape", "i")
        assert "Temperature of the voice coils" in hand.text
        await hand.press("escape")
        assert "coils at 30 °C" in hand.words


async def test_a_sweep_is_read_judged_and_drawn_over_the_model_s_curve(tmp_path: Path) -> None:
    path = tmp_path / "flat.txt"
    path.write_text("\n".join(f"{20 * 1.2**n:.1f} 40 0" for n in range(30)))
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i", "g")
        assert "Press s to read one" in hand.words
        await hand.press("s")
        await hand.type(f"{tmp_path}/none.txt")
        await hand.press("enter")
        assert "can't be read" in hand.words
        await hand.write("~nobody-of-that-name/none.txt")
        await hand.press("enter")
        assert "~nobody-of-that-name/none.txt can't be read" in hand.words
        await hand.write(str(path))
        await hand.press("enter")
        assert "C1 pole pair 1: sweep: the lowest impedance is 40 Ω" in hand.words
        assert "sweep …" in hand.text, "a verdict too long for its column ends with a phrase"
        await hand.press("g")
        assert "measured" in hand.words
        assert "by the model" in hand.words
        assert "look for a dead driver" in hand.words
        await hand.press("escape", "delete")
        assert not hand.rig.readings


async def test_a_reading_that_drifted_is_told_with_what_it_was() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        was = "2020-05-01 14:30"
        hand.session.apply("earlier", lambda rig: edits.note_reading(rig, "C1", 1, ohms="5.6 ohm", when=was))
        await hand.press("i")
        await hand.type("6.2")
        await hand.press("enter", "up")
        assert "drifted" in hand.text
        assert f"more than it should by the reading of {was}" in hand.words
        assert "5.35 to 5.87" in hand.words
