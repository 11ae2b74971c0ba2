"""A season played with keys: two rigs, three venues, a failure on the second night; what was known then is there when it comes round."""

from pathlib import Path

from rackwright.console.widgets.pane import Pane
from rackwright.model.rig import Rig
from rackwright.model.venue import for_next_time
from rackwright.store import nights, venues
from rackwright.store.rig_file import save
from shipped import preset

from .hand import Hand, opened

FOUND = {
    "length of C1": "21 m",
    "position of SUB-L1": "on the pier",
    "reading": ("C1/1", "6.1 ohm"),
    "measured": ["2.3 A", None],
}


async def go(hand: Hand, name: str) -> None:
    """Select a thing with / and its id."""
    await hand.burst("/", *name, "enter")
    assert hand.session.place == name


async def edit(hand: Hand, name: str, field: str, text: str) -> None:
    """Write into one field of the form of a thing."""
    await go(hand, name)
    await hand.press("enter")
    await hand.field(field)
    await hand.write(text)
    await hand.press("enter")


def known(rig: Rig) -> dict[str, object]:
    """What was found out on the second night, as it stands in a rig, in words and figures of that night."""
    (reading,) = rig.readings
    return {
        "length of C1": rig.lines[0].length.text,
        "position of SUB-L1": next(each.position for each in rig.cabinets if each.id == "SUB-L1"),
        "reading": (reading.id, reading.ohms),
        "measured": [each.measured and each.measured.current.text for each in rig.circuits],
    }


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
        await edit(hand, "C1", "length", "17 m")
        await ends(hand, "The old mill", "2027-05-01", "Door 2 m.")
        await hand.press("q")

    async with opened("room.toml", size=(80, 24)) as hand:
        before = hand.rig
        await edit(hand, "C1", "length", "21 m")
        await edit(hand, "SUB-L1", "position", "on the pier")
        await hand.press("i")
        await hand.type("6.1")
        await hand.press("enter", "escape")
        await hand.press("M")
        while hand.screen.place != "P1":
            await hand.press("down")
        await hand.press("c")
        await hand.fill("2.3 A")
        await hand.press("enter", "escape")
        await go(hand, "A1.1")
        await hand.press("f", "f", "enter")  # marked failed, and the first plan is taken
        await hand.type("KT")
        await hand.press("enter")
        (taken,) = hand.rig.lists
        await hand.press(*["enter"] * len(taken.steps), "escape")
        assert hand.rig.lists[0].done
        assert hand.rig.sockets()[0].poles != before.sockets()[0].poles
        await ends(hand, "Harbour shed", "2027-05-02", "P2: bar fridge.", "Ask Kit.")
        second = hand.rig
        assert known(second) == FOUND
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
        await go(hand, "A1.1")
        await hand.press("f", "b")
        assert "Your initials" in hand.words
        await hand.press("enter")
        (returned,) = hand.rig.lists
        await hand.press(*["enter"] * len(returned.steps), "escape")
        assert not hand.rig.night
        await edit(hand, "C1", "length", "9 m")
        await hand.press("s", "q")

    async with opened(size=(100, 100)) as hand:
        told = await look_back(hand, "Harbour shed", "2027-05-02")
        for words in (
            "P2: bar fridge.",
            "failed: A1.1",
            f"plan: {taken.title}",
            *(f"KT done: rack R1: {step.words}" for step in taken.steps),
            "Failed at the end A1.1",
            "P1 (16 A): 2.3 A",
            "1 of 8 measured",
            "Ask Kit.",
            "What differs in room.toml today",
        ):
            assert words in told
        await hand.press("enter")
        assert hand.rig == for_next_time(second)
        assert known(hand.rig) == FOUND
        assert hand.rig.sockets()[0].poles == before.sockets()[0].poles  # the plan was of that night
        assert hand.rig.amplifiers()[0].channel(0).state == "failed"
        assert hand.session.path is None
        assert hand.session.kept is not None
        await edit(hand, "C1", "length", "30 m")
        await hand.press("=")
        await hand.pick("kept")
        assert "C1" in hand.words
        await hand.press("escape", "o", "d")
        await look_back(hand, "Harbour shed", "2027-05-02")
        await hand.press("t")
        assert hand.session.path == Path("room.toml").absolute()
        assert known(hand.rig) == FOUND
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
