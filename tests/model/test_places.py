"""Places as written, looked up among what a rig has."""

from msgspec.structs import replace

from rackwright.model import edits
from rackwright.model.index import Index
from rackwright.model.places import ChannelPlace, PolePair, SectionPlace, Thing
from rackwright.model.rules import check

from .rigs import RIG

SLASHED = edits.change(edits.change(edits.change(RIG, "R1-1", id="R1/1"), "A1", id="A/1"), "R1", id="R/1-")


def test_each_is_found_as_the_crew_writes_it():
    index = Index(SLASHED)
    for place in (
        ChannelPlace("A/1", 1),
        PolePair("R1/1", 0),
        *index.sections.values(),
        Thing("socket", "R1/1"),
        Thing("rack", "R/1-"),
        Thing("circuit", "P1"),
    ):
        assert index.place(str(place)) == place
        assert index.thing_at(str(place)) == place.thing
    assert str(ChannelPlace("A/1", 1)) == "A/1.2"
    assert str(PolePair("R1/1", 0)) == "R1/1/1"
    assert isinstance(next(iter(index.sections.values())), SectionPlace)


def test_what_the_rig_has_not_is_no_place():
    index = Index(SLASHED)
    assert [index.place(name) for name in ("", "A/1.9", "R1/1/3", "R1/1/x", "R1", "-A/1.1")] == [None] * 6


def test_an_index_made_from_another_knows_the_places_of_its_own_rig():
    index = Index(edits.change(RIG, "A1", id="B1"), Index(RIG))
    assert index.place("A1.1") is None
    assert index.place("B1.1") == ChannelPlace("B1", 0)


def test_an_id_that_reads_as_a_pole_pair_is_refused():
    (rack, *racks) = RIG.racks
    rig = replace(RIG, racks=(replace(rack, id="R1-1/2"), *racks))
    (problem,) = check(rig)
    assert problem.wrong == 'The id "R1-1/2" reads as pole pair 2 of R1-1'
    assert problem.path == ("racks", 0, "id")
