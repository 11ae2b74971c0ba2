"""The start of an installed program: a rig in three questions, and a preset's notes in full before it is opened."""

from console.hand import opened
from rackwright.console.screens.start import Start
from rackwright.store import presets


async def test_three_questions_lead_to_a_rig_that_runs() -> None:
    async with opened(size=(80, 24)) as hand:
        await hand.press("enter")
        assert "1 of 3: What do you have?" in hand.text
        assert "26 loudspeakers, 3 racks" in hand.text
        await hand.pick("small room")
        assert "2 of 3: On which mains?" in hand.text
        await hand.press("escape")
        assert "1 of 3" in hand.text
        await hand.pick("small room")
        await hand.pick("120")
        assert "3 of 3: At which venue?" in hand.text
        await hand.press("enter")
        supply, found = hand.rig.supply, hand.session.assessment
        assert (supply.voltage.text, supply.frequency.text, supply.rules) == ("120 V", "60 Hz", "us")
        assert all(section.channel for section in found.sections.values())
        assert found.count("stop") == 0
        assert hand.session.path is None


async def test_the_venue_of_the_third_question_is_applied_and_what_was_answered_shows_what_comes_of_it() -> (
    None
):
    async with opened(size=(80, 24)) as hand:
        await hand.press("enter")
        await hand.pick("hall")
        assert "230 V: no problems" in hand.text
        assert "120 V, 60 Hz" in hand.text
        await hand.press("enter")
        await hand.pick("tannery")
        assert hand.rig.venue.name == "Tannery"
        assert len(hand.rig.cabinets) == 26


async def test_leaving_the_first_question_leads_back_to_the_start_and_an_empty_rig_can_be_had() -> None:
    async with opened(size=(80, 24)) as hand:
        await hand.press("enter", "escape")
        assert isinstance(hand.screen, Start)
        await hand.press("enter")
        await hand.pick("empty")
        await hand.press("enter", "enter")
        assert hand.rig.racks == ()


async def test_a_presets_notes_are_read_in_full_on_the_start() -> None:
    notes = presets.find("faults").notes.splitlines()
    async with opened(size=(80, 24)) as hand:
        assert "space notes" not in hand.words, "no preset, no notes"
        await hand.press("down", "down")
        assert "space notes" in hand.words
        assert notes[0][:60] in hand.text
        assert "space shows the rest" in hand.text
        assert notes[-1][-40:] not in hand.words
        await hand.press("space")
        await hand.press("end")
        assert notes[-1][-40:].strip() in hand.words
        await hand.press("escape", "up", "up")
        assert "u undoes it" in hand.text
