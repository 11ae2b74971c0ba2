"""A venue's facts apart from the rig: split and joined it is as it was; elsewhere, what has no match is told."""

from hypothesis import given, settings
from msgspec.structs import replace

from rackwright.model import rules
from rackwright.model.rig import Line, Reading, Rig
from rackwright.model.venue import Place, Venue, VenueRun, join, renewed, split
from rackwright.store import venues
from rackwright.units import Length
from strategies import rigs

few = settings(max_examples=10)
"""A whole rig takes long to draw."""


@few
@given(rigs(cabinets=3))
def test_split_and_joined_a_rig_is_as_it_was(rig) -> None:
    venue, bare = split(rig)
    assert join(bare, venue).rig == rig


@few
@given(rigs(cabinets=3))
def test_a_bare_rig_keeps_the_rules_and_knows_no_mains(rig) -> None:
    _, bare = split(rig)
    assert rules.check(bare) == ()
    assert bare.circuits == ()
    assert not any(amplifier.circuit for amplifier in bare.amplifiers())
    assert not any(cabinet.position for cabinet in bare.cabinets)


@few
@given(rigs(cabinets=3))
def test_a_venue_file_gives_the_venue_back(rig) -> None:
    venue, _ = split(rig, "The old mill", "House electrician: by the stage door.")
    assert venues.loads(venues.dumps(venue)) == venue


@few
@given(rigs(cabinets=3))
def test_what_has_no_match_is_told_and_nothing_dangles(rig) -> None:
    venue, _ = split(rig)
    other = replace(venue, runs=venue.runs[1:], readings=(), places=(), hookups=())
    joined = join(rig, other)
    assert rules.check(joined.rig) == ()
    for run in venue.runs[:1]:
        assert f"Line {run.line} keeps its own length: measure it." in joined.unmatched
    for kind, things in (("cabinet", rig.cabinets), ("amplifier", rig.amplifiers())):
        told = [told for told in joined.unmatched if told.lower().startswith(kind)]
        assert len(told) == bool(things)
        assert all(thing.id in sentence for sentence in told for thing in things)
    emptied = join(replace(rig, lines=(), readings=()), venue)
    assert emptied.rig.readings == ()
    also = [told for told in emptied.unmatched if told.startswith("The venue also knows line")]
    assert len(also) == bool(venue.runs)
    assert all(run.line in told for told in also for run in venue.runs)


def test_a_run_to_another_cabinet_is_not_taken_for_the_line_of_its_id() -> None:
    """Two rigs name their lines from L1 on: the length and the reading of one would be false for the other."""
    feet, own = Length.parse("90 ft"), Length.parse("7 m")
    rig = Rig(name="other", lines=(Line(id="L1", source="R1-1", to="TOP", cable="c", length=own),))
    venue = Venue(
        runs=(VenueRun(line="L1", to="SUB", length=feet),), readings=(Reading(line="L1", ohms="5 ohm"),)
    )
    joined = join(rig, venue)
    assert (joined.rig.lines[0].length, joined.rig.readings) == (own, ())
    assert [told for told in joined.unmatched if "L1" in told] == [
        "Line L1 leads to another cabinet at the venue, so it keeps its own length: measure it."
    ]
    both = replace(venue, runs=(*venue.runs, VenueRun(line="L1", to="TOP", length=Length.parse("8 m"))))
    assert join(rig, both).rig.lines[0].length.text == "8 m"
    assert not any("L1" in told for told in join(rig, both).unmatched)


def test_a_venue_renewed_by_another_rig_still_knows_the_first() -> None:
    own, other = Length.parse("7 m"), Length.parse("9 m")
    known = Venue(
        notes="old",
        runs=(VenueRun(line="L1", to="SUB", length=own), VenueRun(line="L2", to="TOP", length=own)),
        places=(Place(cabinet="SUB", position="left"),),
    )
    now = Venue(
        notes="new",
        runs=(VenueRun(line="L1", to="BOX", length=other), VenueRun(line="L2", to="TOP", length=other)),
    )
    both = renewed(known, now)
    assert both.notes == "new"
    assert {(run.line, run.to): run.length for run in both.runs} == {
        ("L1", "BOX"): other,
        ("L2", "TOP"): other,
        ("L1", "SUB"): own,
    }
    assert both.places == known.places


def test_a_venue_renewed_with_nothing_written_keeps_its_notes_and_contacts() -> None:
    known = Venue(notes="Door 2 m wide.", contacts="Ask for the miller.")
    both = renewed(known, Venue(notes=" ", contacts=""))
    assert (both.notes, both.contacts) == (known.notes, known.contacts)


def test_an_empty_venue_and_an_empty_rig_match() -> None:
    assert join(Rig(name="bare"), Venue()).unmatched == ()
