"""The shipped venues, and the user's beside them: a rig of the presets opens at each, and none is written over unasked."""

import re

import pytest
from msgspec.structs import replace

from rackwright.engine.assess import assess
from rackwright.model import rules
from rackwright.model.rig import Rig, Venue
from rackwright.model.venue import join
from rackwright.model.venue_facts import VenueFacts
from rackwright.store import venues
from rackwright.store.safe.atomic_write import SaveError
from shipped import preset


def called(name: str, rig: str = "") -> VenueFacts:
    return VenueFacts(venue=Venue(name=name), rig=rig)


def stops(rig: Rig) -> int:
    return sum(finding.severity == "stop" for finding in assess(rig).findings)


@pytest.mark.parametrize("name", ["hall", "small-room"])
@pytest.mark.parametrize("venue", ["tannery", "cellar"])
def test_a_preset_rig_opens_at_each_shipped_venue_with_no_new_stop(name: str, venue: str) -> None:
    rig = preset(name)
    there = join(rig, venues.load(venue)).rig
    assert rules.check(there) == ()
    assert stops(there) <= stops(rig)


@pytest.mark.parametrize(("name", "venue"), [("hall", "tannery"), ("small-room", "cellar")])
def test_the_venue_made_for_a_preset_knows_all_of_it_and_is_another_place(name: str, venue: str) -> None:
    rig = preset(name)
    joined = join(rig, venues.load(venue))
    assert joined.unmatched == ()
    assert joined.rig.circuits != rig.circuits
    lengths = [{line.id: line.length.value for line in each.lines} for each in (rig, joined.rig)]
    assert lengths[0] != lengths[1]


def test_two_rigs_that_share_ids_find_each_their_own_runs_at_one_venue() -> None:
    there = {name: join(preset(name), venues.load("tannery")).rig.lines for name in ("hall", "small-room")}
    assert {name: (lines[1].to, lines[1].length.text) for name, lines in there.items()} == {
        "hall": ("SUB-L2", "15 m"),
        "small-room": ("SUB-R1", "20 m"),
    }


def test_each_shipped_venue_says_that_it_is_invented_and_leaves_notes_and_contacts() -> None:
    shipped = venues.listed()
    assert [kept.name for kept in shipped] == ["cellar", "tannery"]
    for kept in shipped:
        assert kept.facts is not None
        assert kept.origin == "shipped"
        assert kept.first_note.startswith("Invented for the demo.")
        assert re.search(r"\w", kept.facts.venue.contacts)


def test_the_users_venue_stands_before_a_shipped_one_and_a_broken_one_is_told() -> None:
    venues.keep(called("Ours"), "tannery")
    (venues.folder() / "odd.toml").write_text("circuits = 3\n")
    found = {kept.name: kept for kept in venues.listed()}
    assert (found["tannery"].origin, found["tannery"].title) == ("yours", "Ours")
    assert venues.load("tannery").venue.name == "Ours"
    assert found["odd"].facts is None
    assert "circuits" in found["odd"].error
    assert venues.names() == ("cellar", "odd", "tannery")


def test_a_venue_is_written_over_only_where_told_to() -> None:
    path = venues.keep(called("First"), "mill")
    with pytest.raises(SaveError):
        venues.keep(called("Second"), "mill")
    assert venues.load("mill").venue.name == "First"
    assert venues.keep(called("Second"), "mill", over=True) == path
    assert venues.load("mill").venue.name == "Second"


def test_a_name_stands_for_the_facts_that_this_rig_found_at_that_venue() -> None:
    venues.keep(called("Mill", "first"), "mill")
    venues.keep(called("Mill", "second"), "mill-second")
    assert venues.load("mill", "second").rig == "second"
    assert venues.load("mill", "third").rig == "first"


def test_the_notes_of_a_venue_are_the_rigs_own_else_another_rigs_before_the_shipped() -> None:
    shipped = venues.load("tannery").notes
    assert venues.notes_of("Tannery", "first") == shipped
    venues.keep(replace(called("Tannery", "second"), notes="theirs"), "tannery-second")
    assert venues.notes_of("Tannery", "first") == "theirs"
    venues.keep(called("Tannery", "first"), "tannery-first")
    assert venues.notes_of("Tannery", "first") == ""
    assert venues.notes_of("", "first") == ""


def test_a_venue_file_of_the_first_version_is_read() -> None:
    text = """
format = 1
venue = "Mill"
contacts = "Ask for the miller."
notes = "Door 2 m wide."
runs = [ { line = "L1", to = "TOP", length = "12 m" } ]
places = [ { cabinet = "TOP", position = "left" } ]
circuits = [ { id = "P1", breaker = "16 A", feed = { length = "9 m", size = "4 mm2" } } ]
hookups = [ { amplifier = "A1", circuit = "P1" } ]
readings = [ { line = "L1", ohms = "5 ohm", polarity_ok = true, sounded = ["TOP"] } ]
"""
    facts = venues.loads(text)
    assert (facts.venue.name, facts.venue.contacts, facts.rig) == ("Mill", "Ask for the miller.", "")
    assert (facts.lines[0].length.text, facts.positions[0].position, facts.mains[0].circuit) == (
        "12 m",
        "left",
        "P1",
    )
    assert (facts.readings[0].polarity, facts.readings[0].heard_from) == ("yes", ("TOP",))
    assert facts.circuits[0].supply_cable is not None
    assert "supply_cable = " in venues.dumps(facts)
    assert venues.loads(venues.dumps(facts)) == facts
