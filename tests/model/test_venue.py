"""A venue's facts apart from the rig: split and joined it is as it was; elsewhere, what has no match is told."""

from hypothesis import given, settings
from msgspec.structs import replace

from rackwright.model import rules
from rackwright.model.venue import Venue, join, split
from rackwright.store import venues
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
    emptied = join(replace(rig, lines=(), readings=()), venue)
    assert emptied.rig.readings == ()
    for run in venue.runs:
        assert f"The venue knows line {run.line}, which the rig has not." in emptied.unmatched


def test_an_empty_venue_and_an_empty_rig_match() -> None:
    from rackwright.model.rig import Rig

    assert join(Rig(name="bare"), Venue()).unmatched == ()
