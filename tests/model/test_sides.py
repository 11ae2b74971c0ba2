"""Copies on the other side: what names left names right, and what has no other side is shared or counted on."""

import pytest
from msgspec.structs import replace

from rackwright.model import edits, rules
from rackwright.model.lines import Cabinet, Line
from rackwright.model.mains import Circuit
from rackwright.model.racks import Amplifier, Channel, Feed, Rack, Socket
from rackwright.model.rig import Rig
from rackwright.units import Current, Length
from shipped import preset

from .test_edits import EQUIPMENT

AMPLIFIER, LOUDSPEAKER, CABLE = (
    EQUIPMENT.amplifiers[0], EQUIPMENT.loudspeakers[0], EQUIPMENT.cables[0],
)  # fmt: skip
TEN = Length.parse("10 m")
LEFT = Rig(
    name="one side",
    equipment=EQUIPMENT,
    circuits=(
        Circuit(id="P-SL1", breaker=Current.parse("16 A")),
        Circuit(id="P-SR1", breaker=Current.parse("16 A")),
        Circuit(id="P3", breaker=Current.parse("16 A")),
    ),
    feeds=(Feed(id="top-left", side="left"), Feed(id="top-right", side="right"), Feed(id="sub")),
    racks=(
        Rack(
            id="R1",
            name="Stage left",
            height=6,
            amplifiers=(
                Amplifier(
                    id="A1", model=AMPLIFIER.id, unit=3, circuit="P-SL1",
                    channels=(Channel(feed="top-left"), Channel(feed="sub")),
                ),
            ),
            sockets=(Socket(id="R1-1", connector=LOUDSPEAKER.connector, poles=("-A1.1",)),),
        ),
    ),
    cabinets=(
        Cabinet(id="TOP-L1", model=LOUDSPEAKER.id, side="left", position="left of the bar"),
        Cabinet(id="TOP-L2", model=LOUDSPEAKER.id, side="left"),
    ),
    lines=(
        Line(id="C1", source="R1-1", to="TOP-L1", cable=CABLE.id, length=TEN),
        Line(id="C2", source="TOP-L1", to="TOP-L2", cable=CABLE.id, length=TEN),
    ),
)  # fmt: skip


def test_a_rack_goes_over_with_its_patch_its_lines_and_its_cabinets():
    after, names = edits.to_other_side(LEFT, ["R1"])
    assert rules.check(after) == rules.check(LEFT)
    assert names == ("R2",)
    left, right = after.racks
    assert left is LEFT.racks[0]
    (amplifier,) = right.amplifiers
    assert (right.name, right.height) == ("Stage right", 6)
    assert (amplifier.id, amplifier.unit, amplifier.circuit) == ("A2", 3, "P-SR1")
    assert [channel.feed for channel in amplifier.channels] == ["top-right", "sub"]
    assert [(s.id, s.poles) for s in right.sockets] == [("R1-2", ("-A2.1",))]
    assert [(c.id, c.side, c.position) for c in after.cabinets[2:]] == [
        ("TOP-R1", "right", "right of the bar"), ("TOP-R2", "right", ""),
    ]  # fmt: skip
    assert [(n.source, n.to, n.length) for n in after.lines[2:]] == [
        ("R1-2", "TOP-R1", TEN), ("TOP-R1", "TOP-R2", TEN),
    ]  # fmt: skip
    assert (after.feeds, after.circuits) == (LEFT.feeds, LEFT.circuits)


def test_right_goes_left_where_nothing_says_left():
    mirrored, names = edits.to_other_side(LEFT, ["TOP-L1"])
    assert names == ("TOP-R1",)
    only_right = edits.remove(mirrored, "TOP-L1", with_dependents=True)
    again, names = edits.to_other_side(only_right, ["TOP-R1"])
    assert names == ("TOP-L1",)
    assert next(c for c in again.cabinets if c.id == "TOP-L1") == LEFT.cabinets[0]


def test_an_id_that_is_taken_over_there_counts_on():
    once, _ = edits.to_other_side(LEFT, ["TOP-L1"])
    assert edits.to_other_side(once, ["TOP-L1"])[1] == ("TOP-R2",)


def test_a_cabinets_line_leaves_the_next_free_socket():
    """One that is not wired yet, but rather one of the feed of that side; never one that plays another feed."""

    def source(rig: Rig) -> str:
        after, _ = edits.to_other_side(rig, ["TOP-L1"])
        return next(line.source for line in after.lines if line.to == "TOP-R1")

    rig = edits.duplicate(LEFT, "R1-1")
    assert source(rig) == "R1-1"
    rig = edits.patch(rig, "R1-2", 1, "")
    assert source(rig) == "R1-2"
    rig = edits.change(edits.duplicate(rig, "A1"), "A2.1", feed="top-right")
    rig = edits.patch(edits.duplicate(rig, "R1-2"), "R1-3", 1, "A2.1")
    assert source(rig) == "R1-3"


def test_a_cabinets_line_leaves_the_rack_that_its_like_over_there_hangs_on():
    """Of the shipped hall, whose racks R1 and R2 have a socket each that nothing is patched to; where none is free, beside its like."""

    def sources(rig: Rig, *names: str) -> list[str]:
        after, copies = edits.to_other_side(rig, names)
        return [next(line.source for line in after.lines if line.to == copy) for copy in copies]

    hall = preset("hall")
    assert sources(hall, "TOP-L1") == ["R2-9"]
    assert sources(hall, "SUB-R2") == ["R1-9"]
    assert sources(edits.remove(hall, "TOP-R1", with_dependents=True), "TOP-L1") == ["R2-5"]
    assert sources(hall, "TOP-L1", "TOP-L2", "TOP-L3") == ["R2-9", "R2-6", "R2-7"]
    assert sources(hall, "MON-1") == ["R3-11"]  # its like plays another mix


@pytest.mark.parametrize(("name", "copy"), [("RL", "RR"), ("RL1", "RR1"), ("SL", "SR"), ("HR", "HL")])
def test_a_letter_for_the_side_stands_after_one_for_rack_stage_or_house(name, copy):
    renamed = edits.change(LEFT, "TOP-L1", id=name, position="", side="")
    assert edits.to_other_side(renamed, [name])[1] == (copy,)


@pytest.mark.parametrize("name", ["A1", "P3", "R1-1"])
def test_what_tells_no_side_is_refused_with_what_to_do(name):
    with pytest.raises(edits.EditError, match="tells its side"):
        edits.to_other_side(LEFT, [name])


def test_a_counted_letter_is_no_side():
    rig = replace(LEFT, racks=(replace(LEFT.racks[0], name=""),))
    with pytest.raises(edits.EditError, match="Nothing of R1"):
        edits.to_other_side(replace(rig, lines=()), ["R1"])


def test_copies_of_an_amplifier_go_round_the_circuits_with_the_fewest_things_on_them():
    def circuits(rig: Rig) -> list[str]:
        return [amplifier.circuit for amplifier in rig.amplifiers()]

    tall = edits.change(LEFT, "R1", height=40)
    rig, names = edits.duplicate_times(tall, "A1", 5)
    assert names == ("A2", "A3", "A4", "A5", "A6")
    assert circuits(rig) == ["P-SL1", "P-SR1", "P3", "P3", "P-SL1", "P-SR1"]
    within = edits.change(tall, "R1", reaches=("P-SL1", "P3"))
    assert circuits(edits.duplicate(within, "A1")) == ["P-SL1", "P3"]


def test_the_copy_of_a_socket_takes_the_next_free_channels_of_its_feeds():
    rig = edits.change(edits.change(LEFT, "R1", height=40), "A1.2", feed="top-left")
    rig = edits.duplicate(rig, "A1")
    poles = [s.poles for s in edits.duplicate_times(rig, "R1-1", 4)[0].racks[0].sockets]
    assert poles[:3] == [("-A1.1",), ("-A1.2",), ("-A2.1",)]
    assert poles[3] == ("-A2.2",)
    assert not any(poles[4])  # no channel is left: never two sockets on one in silence


@pytest.mark.parametrize("rack", [0, 1])
def test_sockets_of_a_bare_rack_are_patched_amplifier_by_amplifier_as_the_shipped_hall_is(rack):
    hall = preset("hall")
    there = hall.racks[rack]
    first, *others = there.sockets
    bare = replace(there, sockets=())
    racks = tuple(bare if each.id == bare.id else each for each in hall.racks)
    rig = replace(hall, racks=racks, lines=(), readings=())
    poles = edits.poles_for_new(rig, bare, None, first.connector)
    assert poles == first.poles
    rig = edits.add(rig, Socket(id=first.id, connector=first.connector, poles=poles), bare.id)
    rig = edits.duplicate_times(rig, first.id, len(others))[0]
    assert [s.poles for s in rig.racks[rack].sockets] == [s.poles for s in there.sockets]
