"""A venue's facts apart from the rig: split and joined it is as it was; elsewhere, what has no match is told."""

import pytest
from hypothesis import given
from msgspec.structs import replace

from rackwright.engine.recovery import fail, failed
from rackwright.model import rules
from rackwright.model.edits import change
from rackwright.model.lines import Cabinet, Line
from rackwright.model.mains import PHASES, Circuit
from rackwright.model.racks import Rack
from rackwright.model.readings import Reading
from rackwright.model.rig import Rig, Venue
from rackwright.model.venue import join, settled, split
from rackwright.model.venue_facts import LineLength, Position, Reach, VenueFacts
from rackwright.model.venue_ids import matched, proposed
from rackwright.store import venues
from rackwright.store.toml.read import RigFileError
from rackwright.units import Current, Length
from shipped import preset
from strategies import rigs


@given(rigs(cabinets=3))
def test_split_and_joined_a_rig_is_as_it_was_but_for_tonight(rig) -> None:
    rig = replace(rig, night=())
    venue, bare = split(rig)
    assert join(bare, venue).rig == replace(
        rig,
        **{
            key: tuple(replace(thing, state="ok") for thing in getattr(rig, key))
            for key in ("boards", "circuits", "loads")
        },
        supply=replace(rig.supply, failed_phases=()),
    )
    assert settled(settled(rig)) == settled(rig)


@given(rigs(cabinets=3))
def test_a_bare_rig_keeps_the_rules_and_knows_no_mains(rig) -> None:
    _, bare = split(replace(rig, night=()))
    assert rules.check(bare) == ()
    assert bare.boards == bare.circuits == bare.loads == ()
    assert not any(amplifier.circuit for amplifier in bare.amplifiers())
    assert not any(cabinet.position for cabinet in bare.cabinets)


@given(rigs(cabinets=3))
def test_a_venue_file_gives_the_venue_back(rig) -> None:
    venue, _ = split(replace(rig, night=()), "The old mill")
    assert (venue.rig, venue.venue.name) == (rig.name, "The old mill")
    assert venues.loads(venues.dumps(venue)) == venue


@given(rigs(cabinets=3))
def test_what_has_no_match_is_told_and_nothing_dangles(rig) -> None:
    rig = replace(rig, night=())
    venue, _ = split(rig)
    other = replace(venue, lines=venue.lines[1:], readings=(), positions=(), mains=())
    joined = join(rig, other)
    assert rules.check(joined.rig) == ()
    for known in venue.lines[:1]:
        assert f"Line {known.line} keeps its own length: measure it." in joined.unmatched
    for kind, things in (("cabinet", rig.cabinets), ("amplifier", rig.amplifiers())):
        told = [told for told in joined.unmatched if told.lower().startswith(kind)]
        assert len(told) == bool(things)
        assert all(thing.id in sentence for sentence in told for thing in things)
    emptied = join(replace(rig, lines=(), readings=()), venue)
    assert emptied.rig.readings == ()
    also = [told for told in emptied.unmatched if told.startswith("The venue also knows line")]
    assert len(also) == bool(venue.lines)
    assert all(known.line in told for told in also for known in venue.lines)


def test_a_run_to_another_cabinet_is_not_taken_for_the_line_of_its_id() -> None:
    """Two rigs name their lines from L1 on: the length and the reading of one would be false for the other."""
    feet, own = Length.parse("90 ft"), Length.parse("7 m")
    rig = Rig(name="other", lines=(Line(id="L1", source="R1-1", to="TOP", cable="c", length=own),))
    venue = VenueFacts(lines=(LineLength(line="L1", to="SUB", length=feet),))
    joined = join(rig, venue)
    assert joined.rig.lines[0].length == own
    assert [told for told in joined.unmatched if "L1" in told] == [
        "Line L1 leads to another cabinet at the venue, so it keeps its own length: measure it."
    ]
    both = replace(venue, lines=(*venue.lines, LineLength(line="L1", to="TOP", length=Length.parse("8 m"))))
    assert join(rig, both).rig.lines[0].length.text == "8 m"
    assert not any("L1" in told for told in join(rig, both).unmatched)


MEASURED = Rig(
    name="first",
    venue=Venue(name="Mill"),
    lines=(Line(id="L1", source="R1-1", to="TOP", cable="flex", length=Length.parse("20 m")),),
    cabinets=(Cabinet(id="TOP", model="box"),),
    readings=(
        Reading(
            line="L1", ohms="5 ohm", polarity="yes", model="box", cable="flex", length=Length.parse("20 m")
        ),
    ),
)


def test_readings_prove_the_rig_that_they_were_taken_on_and_no_other() -> None:
    """The second rig's line is alike in all that a reading states: it is another cable to another box all the same."""
    facts, bare = split(MEASURED)
    assert join(bare, facts).rig.readings == MEASURED.readings
    joined = join(replace(bare, name="second"), facts)
    assert joined.rig.readings == ()
    assert any("Its readings prove nothing" in said for said in joined.unmatched)
    assert any("of the rig first" in said for said in joined.unmatched)
    by_hand = replace(facts, rig="", readings=tuple(replace(r, model="") for r in facts.readings))
    assert join(bare, by_hand).rig.readings == ()


def test_a_joined_rig_knows_its_venue_and_its_title_says_it() -> None:
    facts, bare = split(MEASURED)
    assert (bare.title, join(bare, facts).rig.title) == ("first", "first at Mill")


def test_an_empty_venue_and_an_empty_rig_match() -> None:
    assert join(Rig(name="bare"), VenueFacts()).unmatched == ()


@given(rigs(cabinets=3))
def test_no_failure_goes_with_the_facts_or_comes_with_them(rig) -> None:
    """Also out of a file that says one: a circuit that was dead once is not dead at every later show."""
    mains = (*rig.boards, *rig.circuits, *rig.loads)
    dark = replace(rig, night=(), supply=replace(rig.supply, failed_phases=PHASES))
    dead = fail(dark, [thing.id for thing in (*mains, *rig.racks, *rig.cabinets)])
    facts, _ = split(dead)
    assert "failed" not in venues.dumps(facts)
    marked = replace(facts, boards=dead.boards, circuits=dead.circuits, loads=dead.loads, supply=dead.supply)
    there = join(dead, marked)
    assert {*failed(there.rig)} - {*PHASES} == {*failed(dead)} - {*PHASES} - {thing.id for thing in mains}
    assert "Phases L1, L2, L3 failed at the venue before: not carried over." in there.unmatched


def test_what_the_venue_does_not_say_of_a_cabinet_stays_and_reach_is_the_venues_alone() -> None:
    """A file by hand often gives positions only; circuits of another place can't be reached."""
    wedge = Cabinet(id="W", model="box", side="left", role="monitor", access="flown", links_to=("TOP",))
    rack = Rack(id="R1", height=4, reaches=("P9",))
    rig = replace(MEASURED, cabinets=(*MEASURED.cabinets, wedge), racks=(rack,))
    facts = VenueFacts(
        circuits=(Circuit(id="P1", breaker=Current.parse("16 A")),),
        positions=(Position(cabinet="W", position="pit", access="ground", links_to=("TOP", "GONE")),),
        reaches=(Reach(thing="R1", circuits=("P1",)),),
    )
    there = join(rig, facts).rig
    assert there.cabinets[1] == replace(wedge, position="pit", access="ground")
    assert there.racks[0].reaches == ("P1",)
    assert join(rig, VenueFacts()).rig.racks[0].reaches == ()
    with pytest.raises(RigFileError, match="P7"):
        venues.loads(venues.dumps(replace(facts, reaches=(Reach(thing="R1", circuits=("P7",)),))))


def renamed(rig: Rig, names: dict[str, str]) -> Rig:
    """The rig with other ids for some of its things, and another name."""
    for old, new in names.items():
        rig = change(rig, old, id=new)
    return replace(rig, name="Renamed")


class TestOtherIds:
    """A rig whose ids are not those that the venue knows: by position, by model, by what a line leads to; asked once."""

    names = {"SUB-L1": "S1", "TOP-R1": "T2", "C1": "X1", "A1": "AMP"}

    def facts(self) -> VenueFacts:
        return split(preset("small-room"), "Mill")[0]

    def proposals(self, rig: Rig, facts: VenueFacts) -> dict[str, tuple[str, str]]:
        return {each.known: (each.here, each.why) for each in proposed(rig, facts)}

    def test_what_stands_in_the_same_place_is_proposed_and_taken_once_agreed(self) -> None:
        here, facts = renamed(preset("small-room"), self.names), self.facts()
        assert self.proposals(here, facts) == {
            "SUB-L1": ("S1", "the same position"),
            "TOP-R1": ("T2", "the same position"),
            "C1": ("X1", "the line to S1"),
            "A1": ("AMP", "the same position"),
        }
        far = replace(facts, lines=tuple(replace(each, length=Length.parse("99 m")) for each in facts.lines))
        lengths = [line.length.text for line in join(here, far).rig.lines]
        assert lengths == ["5 m", "99 m", "99 m", "15 m"]
        agreed = matched(here, far, proposed(here, far), True)
        there = join(here, agreed)
        assert {line.length.text for line in there.rig.lines} == {"99 m"}
        assert [each.circuit for each in there.rig.amplifiers()] == ["P1", "P2"]
        assert all(each.position for each in there.rig.cabinets)
        assert not [told for told in there.unmatched if "also knows" in told or "on no circuit" in told]

    def test_it_is_asked_once_whatever_the_answer_and_kept_in_the_file(self) -> None:
        here, facts = renamed(preset("small-room"), self.names), self.facts()
        for agreed in (True, False):
            said = matched(here, facts, proposed(here, facts), agreed)
            assert venues.loads(venues.dumps(said)) == said
            assert proposed(here, said) == ()
            assert (join(here, said).rig == join(here, facts).rig) != agreed
        assert proposed(preset("small-room"), facts) == ()

    def test_by_model_only_where_as_many_are_left_on_either_side(self) -> None:
        here, facts = renamed(preset("small-room"), self.names), self.facts()
        moved = replace(here, cabinets=tuple(replace(each, position="") for each in here.cabinets))
        found = self.proposals(moved, facts)
        assert (found["SUB-L1"], found["TOP-R1"]) == (("S1", "the same model"), ("T2", "the same model"))
        fewer = replace(facts, positions=tuple(each for each in facts.positions if each.cabinet != "SUB-L1"))
        assert "SUB-L1" not in self.proposals(moved, fewer)
