"""The shipped venues, and the user's beside them: a rig of the presets opens at each, and none is written over unasked."""

import re

import pytest

from rackwright.engine.assess import assess
from rackwright.model import rules
from rackwright.model.rig import Rig
from rackwright.model.venue import Venue, join
from rackwright.store import presets, venues
from rackwright.store.atomic import SaveError
from rackwright.store.rigfile import load


def preset(name: str) -> Rig:
    found = presets.find(name)
    assert found is not None
    return load(found.path)


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
        assert kept.venue is not None
        assert kept.origin == "shipped"
        assert kept.first_note.startswith("Invented for the demo.")
        assert re.search(r"\w", kept.venue.contacts)


def test_the_users_venue_stands_before_a_shipped_one_and_a_broken_one_is_told() -> None:
    venues.keep(Venue(venue="Ours"), "tannery")
    (venues.folder() / "odd.toml").write_text("circuits = 3\n")
    found = {kept.name: kept for kept in venues.listed()}
    assert (found["tannery"].origin, found["tannery"].title) == ("yours", "Ours")
    assert venues.load("tannery").venue == "Ours"
    assert found["odd"].venue is None
    assert "circuits" in found["odd"].error
    assert venues.names() == ("cellar", "odd", "tannery")


def test_a_venue_is_written_over_only_where_told_to() -> None:
    path = venues.keep(Venue(venue="First"), "mill")
    with pytest.raises(SaveError):
        venues.keep(Venue(venue="Second"), "mill")
    assert venues.load("mill").venue == "First"
    assert venues.keep(Venue(venue="Second"), "mill", over=True) == path
    assert venues.load("mill").venue == "Second"
