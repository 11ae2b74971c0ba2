"""A season played with keys: two rigs, three venues, a failure on the second night; what was known then is there when it comes round."""

from pathlib import Path

from rackwright.console.widgets.pane import Pane
from rackwright.model.venue import for_next_time
from rackwright.store import nights, venues
from rackwright.store.rig_file import save
from shipped import preset

from .hand import Hand, opened


async def ends(hand: Hand, venue: str, date: str, notes: str, contacts: str = "") -> None:
    """Close the night with V, and save."""
    await hand.press("V")
    await hand.pick("close")
    await hand.fill(venue, date, notes, contacts)
    await hand.press("enter")
    assert f"The night of {date} at {venue} is closed" in hand.words
    await hand.press("s")


async def look_back(hand: Hand, venue: str, night: str) -> str:
    """From the start to what is known of a night, all of it."""
    while hand.screen.query_one("#start", Pane).place != f"venue {venue}":
        await hand.press("down")
    await hand.press("enter")
    await hand.pick(night)
    return hand.words


async def test_nothing_known_on_night_two_is_missing_on_night_four() -> None:
    save(preset("small-room"), "room.toml")
    save(preset("small-club"), "club.toml")
    async with opened("room.toml", size=(80, 24)) as hand:
        await hand.edit("C1", "length", "17 m")
        await ends(hand, "The old mill", "2027-05-01", "Door 2 m.")
        await hand.press("q")

    async with opened("room.toml", size=(80, 24)) as hand:
        await hand.edit("C1", "length", "21 m")
        await hand.edit("SUB-L1", "position", "on the pier")
        await hand.press("i")
        await hand.type("6.1")
        await hand.press("enter", "escape")
        await hand.press("M")
        while hand.screen.place != "P1":
            await hand.press("down")
        await hand.press("c")
        await hand.fill("2.3 A")
        await hand.press("enter", "escape")
        await hand.find("A1.1")
        await hand.press("f", "f", "escape")
        await ends(hand, "Harbour shed", "2027-05-02", "P2: bar fridge.", "Ask Kit.")
        second = hand.rig
        await hand.press("q")
    assert not Path("room.night.jsonl").exists()

    async with opened("club.toml", size=(80, 24)) as hand:
        await ends(hand, "Harbour shed", "2027-05-03", "Stairs.", "Kiosk.")
        await hand.press("V")
        await hand.pick("close")
        assert "Stairs" not in hand.words  # the night there is closed: the next is at another venue
        assert "Kiosk" not in hand.words
        await hand.press("escape")
        await ends(hand, "The cellar club", "2027-05-04", "")
        await hand.press("q")
    async with opened("room.toml", size=(80, 24)) as hand:  # another venue, and what failed is repaired
        await hand.find("A1.1")
        await hand.press("f")
        assert "A1.1 is marked working again" in hand.words
        await hand.edit("C1", "length", "9 m")
        await hand.press("s", "q")

    async with opened(size=(100, 60)) as hand:
        told = await look_back(hand, "Harbour shed", "2027-05-02")
        for known in (
            "P2: bar fridge.",
            "failed: A1.1",
            "Failed at the end A1.1",
            "P1 (16 A): 2.3 A",
            "1 of 8 measured",
            "Ask Kit.",
            "What differs in room.toml today",
        ):
            assert known in told
        await hand.press("enter")
        assert hand.rig == for_next_time(second)
        assert hand.session.path is None
        assert hand.session.kept is not None
        await hand.edit("C1", "length", "30 m")
        await hand.press("=")
        await hand.pick("kept")
        assert "C1" in hand.words
        await hand.press("escape", "o", "d")
        await look_back(hand, "Harbour shed", "2027-05-02")
        await hand.press("t")
        assert hand.session.path == Path("room.toml").absolute()
        assert hand.rig.lines[0].length.text == "21 m"
        assert hand.rig.readings == second.readings
        assert hand.rig.amplifiers()[0].channel(0).state == "ok"
    assert [night.closed.venue for night in nights.past()] == [
        "The cellar club",
        "Harbour shed",
        "Harbour shed",
        "The old mill",
    ]
    assert {kept.title for kept in venues.listed() if kept.origin == "yours"} == {
        "Harbour shed, as found by Small club, split phase",
        "Harbour shed, as found by Small room",
        "The cellar club, as found by Small club, split phase",
        "The old mill, as found by Small room",
    }
