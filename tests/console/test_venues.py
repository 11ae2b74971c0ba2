"""The key for venues: a rig taken to one and back, and a venue's facts kept for the next time."""

import re

from rackwright.console.widgets.pane import Pane
from rackwright.engine.assess import assess
from rackwright.model.venue import join, split
from rackwright.store import venues
from shipped import preset

from .hand import Hand, opened


async def choose_venue(hand: Hand, name: str) -> None:
    await hand.press("V")
    await hand.pick("apply")
    await hand.pick(name)


async def test_a_rig_is_taken_to_a_venue_after_a_look_at_what_changes_and_back() -> None:
    async with opened(preset="hall", size=(100, 120)) as hand:
        before = hand.rig
        await choose_venue(hand, "cellar")
        assert re.search("warn A3.*: each is on no circuit", hand.words)
        assert "C26 keep their own lengths: measure them." in hand.words
        assert "Bar manager" in hand.words
        await hand.press("escape")
        assert hand.rig is before
        await choose_venue(hand, "tannery")
        await hand.press("enter")
        assert hand.rig == join(before, venues.load("tannery")).rig
        assert "Tannery is applied" in hand.text
        await choose_venue(hand, "tannery")
        assert "has the facts of Tannery already" in hand.words
        await hand.press("u")
        assert hand.rig is before


async def test_what_a_venue_brings_is_told_to_its_last_word() -> None:
    async with opened(preset="outdoor-stage", size=(80, 200)) as hand:
        await choose_venue(hand, "tannery")
        there = join(hand.rig, venues.load("tannery")).rig
        warned = [each for each in assess(there).findings if each.at == "P2" and each.severity == "warn"]
        assert max(len(each.message) for each in warned) > 80
        assert all(each.message in hand.words for each in warned)


async def test_notes_take_more_lines_as_they_are_typed_where_the_window_has_them() -> None:
    for height, seen in ((16, False), (24, True), (60, True)):
        async with opened(preset="small-room", size=(140, height)) as hand:
            await hand.press("V")
            await hand.pick("close")
            await hand.fill("Mill", None)
            for number in range(8):
                await hand.type(f"note {number}")
                await hand.press("ctrl+j")
            await hand.press("down")
            assert ("note 0" in hand.text) == seen
            assert "note 7" in hand.text


async def test_what_a_venue_was_is_kept_with_notes_and_never_written_over_unasked() -> None:
    async with opened(preset="small-room") as hand:
        await hand.press("V")
        await hand.pick("save")
        await hand.press("enter")
        assert "Fill in: Venue's name." in hand.words
        await hand.fill("The old mill", "Door 2 m wide.", "Ask for the miller.")
        assert "Fill in" not in hand.words
        await hand.press("enter")
        assert "2 circuits, 4 line lengths, 4 positions" in hand.words
        kept = venues.load("the-old-mill")
        assert (kept.notes, kept.venue.contacts) == ("Door 2 m wide.", "Ask for the miller.")
        assert (kept.lines, kept.circuits) == (split(hand.rig)[0].lines, hand.rig.circuits)

        await hand.find("C2")
        await hand.paste("44 m")
        for answer, length in (("escape", "15 m"), ("o", "44 m")):
            await hand.press("V")
            await hand.pick("save")
            assert "Ask for the miller." in hand.words
            await hand.press("enter")
            assert "This rig's facts of The old mill are saved already." in hand.words
            await hand.press(answer)
            assert venues.load("the-old-mill").lines[1].length.text == length

        await hand.press("o", "d")
        while hand.screen.query_one("#start", Pane).place != "venue The old mill":
            await hand.press("down")
        assert "The old mill saved, no night closed yet" in hand.words
        await hand.press("enter")
        told = (
            "As found by Small room",
            "4 line lengths",
            "Door 2 m wide.",
            "Ask for the miller.",
            "V applies",
        )
        assert all(known in hand.words for known in told)


async def test_the_facts_of_two_rigs_at_one_venue_stand_side_by_side() -> None:
    for name in ("small-room", "hall"):
        async with opened(preset=name) as hand:
            await hand.press("V")
            await hand.pick("save")
            await hand.fill("The old mill")
            await hand.press("enter")
            assert hand.rig.venue.name == "The old mill"
            assert "at The old mill" in hand.text
            own = venues.load("the-old-mill", hand.rig.name)
            assert (own.rig, own.circuits) == (hand.rig.name, hand.rig.circuits)
    assert sorted(kept.title for kept in venues.listed() if kept.origin == "yours") == [
        "The old mill, as found by Hall, three racks",
        "The old mill, as found by Small room",
    ]


async def test_what_others_noted_of_a_venue_is_kept_by_the_rig_that_is_taken_there() -> None:
    """Cautions among it: what may not hang, what must not be switched off."""
    async with opened(preset="hall") as hand:
        await choose_venue(hand, "tannery")
        await hand.press("enter", "V")
        await hand.pick("save")
        await hand.press("enter")
        own = venues.of_rig("Tannery", hand.rig.name)
        assert own is not None
        assert own.facts is not None
        assert "Nothing may hang from the old beams." in own.facts.notes


async def test_a_venue_that_does_not_fit_is_refused_and_the_edit_lock_holds() -> None:
    venues.folder().mkdir(parents=True)
    (venues.folder() / "odd.toml").write_text('[[circuits]]\nid = "C1"\nbreaker = "16 A"\n')
    async with opened(preset="small-room") as hand:
        before = hand.rig
        await choose_venue(hand, "odd")
        assert "does not fit the rig" in hand.words
        await hand.press("L", "V")
        assert "edit lock" in hand.words
        assert hand.rig is before


async def test_what_has_another_id_at_the_venue_is_asked_once_and_kept() -> None:
    venues.keep(split(preset("small-room"), "The old mill")[0], "the-old-mill")
    async with opened(preset="small-room", size=(100, 80)) as hand:
        await hand.edit("SUB-L1", "id", "S1")
        await choose_venue(hand, "the-old-mill")
        assert "Other ids at the venue S1 is SUB-L1 there: the same position" in hand.words
        assert "Cabinet S1 has no position here" not in hand.words
        await hand.press("m")
        assert "Cabinet S1 has no position here" in hand.words
        await hand.press("m", "enter")
        assert "The old mill is applied" in hand.text
        assert [(each.known, each.here) for each in venues.load("the-old-mill").matches] == [("SUB-L1", "S1")]
        await hand.press("u")
        await choose_venue(hand, "the-old-mill")
        assert "Other ids at the venue" not in hand.words
        assert "Cabinet S1 has no position here" not in hand.words
