"""The line test on the screen: readings typed, judged at once, kept, undone; ticks; leads; small and plain windows."""

import pytest

from console.hand import Hand, opened
from rackwright.console.glyphs import ASCII
from rackwright.model.rig import Reading


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
        assert kept(hand, "L1/1").ohms == "5.7 ohm"
        assert kept(hand, "L1/1").when
        assert hand.screen.place == "L1/2"
        await hand.press("up")
        assert "as expected (or wrong pair, other cable)" in hand.words
        assert "Next: Unplug SUB-L1, bridge pair 1" in hand.words


async def test_a_fault_is_told_below_at_once() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i", "o", "enter", "up")
        assert kept(hand, "L1/1").ohms == "open"
        assert "1 amiss" in hand.text
        assert "open in L1 or its plugs; or open in SUB-L1" in hand.words


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
        assert kept(hand, "L1/1").ohms == "5R7"


async def test_undo_takes_a_reading_back_and_delete_clears_it() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i", "6", "enter", "u")
        assert not hand.rig.readings
        await hand.press("U", "up", "delete")
        assert not hand.rig.readings
        await hand.press("escape")
        assert "Racks" in hand.text


async def test_space_ticks_polarity_and_c_the_cabinet_that_sounded() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i", "space", "c", "enter")
        assert kept(hand, "L1/1").polarity_ok
        assert kept(hand, "L1/1").sounded == ("SUB-L1",)
        await hand.press("c")
        await hand.pick("SUB-R1")
        assert "Sounded: SUB-R1, expected SUB-L1" in hand.words
        await hand.press("space")
        assert not kept(hand, "L1/1").polarity_ok


async def test_leads_are_taken_off_what_is_measured_from_then_on() -> None:
    """7 Ω with leads of 1.3 Ω is 5.7 Ω, within the limits; without, it is above them."""
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i", "7", "enter", "down", "z")
        await hand.type("1.3")
        await hand.press("enter")
        assert "leads 1.3 ohm taken off" in hand.text
        await hand.press("7", "enter")
        assert "2 of 8 measured, 1 amiss" in hand.text
        assert kept(hand, "L1/2").lead_resistance.value == pytest.approx(1.3)


async def test_a_reading_amiss_keeps_its_row_and_is_told_at_the_foot_afterwards() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("i", "o", "enter")
        assert "Next: Unplug SUB-L1 and measure pair 1 at its input." in hand.words
        await hand.press("enter")
        assert "L1 pair 2: type what the meter shows" in hand.words
        await hand.press("escape")
        assert "line test 1 amiss" in hand.foot
        await hand.press("u")
        assert "amiss" not in hand.foot


async def test_a_locked_rig_takes_no_reading() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("L", "i", "6", "enter")
        assert not hand.rig.readings
        assert "show lock is on" in hand.words


async def test_it_is_drawn_in_ascii() -> None:
    async with opened(preset="small-room", size=(80, 24), glyphs=ASCII) as hand:
        await hand.press("i", "6", "enter", "up")
        assert hand.text.isascii()
        assert "5.69 ohm" in hand.text


async def test_a_small_window_says_so() -> None:
    async with opened(preset="small-room", size=(70, 20)) as hand:
        await hand.press("i")
        assert "at least 80" in hand.text
