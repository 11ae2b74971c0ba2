"""Edits: what each does, what it leaves alone, what it refuses and in which words."""

import copy

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.model import edits, rules
from rackwright.model.diff import difference
from rackwright.model.edits import EditError, InUse
from rackwright.model.equipment import Equipment
from rackwright.model.lines import Cabinet, Line, Spare, Stock
from rackwright.model.mains import Circuit, Supply
from rackwright.model.racks import Amplifier, Channel, Feed, Rack, Socket
from rackwright.model.rig import Rig, Targets
from rackwright.units import Current, Length
from strategies import rigs

from .rigs import DUO, EQUIPMENT, FOUR, QUAD, RIG, SUB, put, things

TEN_METRES = Length.parse("10 m")
NEW = [
    (Circuit(id="P9", breaker=Current.parse("32 A")), None),
    (Feed(id="fill"), None),
    (Rack(id="R9", height=4), None),
    (Amplifier(id="A9", model="duo", unit=5), "R1"),
    (Socket(id="R1-9", connector="two", poles=("A1.2",)), "R1"),
    (Line(id="L9", source="R1-2", to="W2", cable="flex-2", length=TEN_METRES), None),
    (Cabinet(id="W9", model="wedge"), None),
]


def refused(*args, **kwargs):
    """What an edit says that it refuses."""
    with pytest.raises(EditError) as refusal:
        args[0](*args[1:], **kwargs)
    return str(refusal.value)


# --- add and remove -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("item", "rack"), NEW)
def test_add_puts_it_last_and_remove_takes_it_away_again(item, rack):
    after = edits.add(RIG, item, rack)
    assert things(after)[item.id] is item
    assert set(things(after)) - set(things(RIG)) == {item.id}
    assert edits.remove(after, item.id) == RIG


def test_add_into_a_rack():
    after = edits.add(RIG, Amplifier(id="A9", model="duo", unit=5), "R1")
    assert [a.id for a in after.racks[0].amplifiers] == ["A1", "A2", "A9"]


@pytest.mark.parametrize(
    ("item", "rack", "message"),
    [
        (Amplifier(id="A9", model="duo", unit=5), None, "Amplifier A9 needs a rack to go into. Name one."),
        (
            Amplifier(id="A9", model="duo", unit=5),
            "R7",
            'There is no rack "R7". Did you mean "R2"? There are: R1, R2.',
        ),
        (
            Amplifier(id="A9", model="mono", unit=5),
            "R1",
            'R1 A9: There is no amplifier model "mono". There are: duo, quad, trio.',
        ),
        (
            Amplifier(id="A9", model="duo", unit=0),
            "R1",
            "R1 A9: Unit 0 is outside 1 to 999. Write one such as 1.",
        ),
        (
            Cabinet(id="A1", model="wedge"),
            None,
            'The id "A1" is taken by an amplifier already. Give one of the two another id: each is the only one of its '
            "name on the crew's tape.",
        ),
        (
            Line(id="L9", source="R2-1", to="W1", cable="flex-2", length=TEN_METRES),
            None,
            "W1 is fed twice, by L3 and L9. Unplug one: a second line would join two amplifier outputs at the cabinet.",
        ),
    ],
)
def test_add_refuses_what_would_break_a_rule(item, rack, message):
    assert refused(edits.add, RIG, item, rack) == message


@pytest.mark.parametrize(
    ("name", "dependents", "message"),
    [
        (
            "P1",
            ["A1", "A2"],
            "P1 is in use: amplifier A1 is plugged into it, amplifier A2 is plugged into it. "
            "Undo that first, or remove P1 with all that depends on it.",
        ),
        (
            "sub",
            ["A1.1", "A1.2"],
            "sub is in use: channel A1.1 plays it, channel A1.2 plays it. "
            "Undo that first, or remove sub with all that depends on it.",
        ),
        (
            "A1",
            ["R1-1", "R1-1", "R2-1"],
            "A1 is in use: A1.1 drives pole pair 1 of R1-1, A1.2 drives pole pair 2 of R1-1, A1.1 drives pole pair 1 of "
            "R2-1. Undo that first, or remove A1 with all that depends on it.",
        ),
        (
            "R1-1",
            ["L1"],
            "R1-1 is in use: line L1 starts at R1-1. Undo that first, or remove R1-1 with all that depends on it.",
        ),
        (
            "SUB-L1",
            ["L1", "L2"],
            "SUB-L1 is in use: line L1 leads to SUB-L1, line L2 starts at SUB-L1. "
            "Undo that first, or remove SUB-L1 with all that depends on it.",
        ),
        (
            "R1",
            ["A1", "A2", "R1-1", "R1-2", "R2-1", "L1", "L3"],
            "R1 is in use: amplifier A1 is in it, amplifier A2 is in it, socket R1-1 is in it, socket R1-2 is in it, "
            "A1.1 drives pole pair 1 of R2-1, line L1 starts at R1-1 and 1 more. "
            "Undo that first, or remove R1 with all that depends on it.",
        ),
    ],
)
def test_remove_says_what_depends_on_it(name, dependents, message):
    with pytest.raises(InUse) as refusal:
        edits.remove(RIG, name)
    assert [d.id for d in refusal.value.dependents] == dependents
    assert refusal.value.dependents == edits.dependents(RIG, name)
    assert str(refusal.value) == message


@pytest.mark.parametrize("name", ["L1", "L2", "W2", "A3"])
def test_remove_what_nothing_refers_to(name):
    assert set(things(RIG)) - set(things(edits.remove(RIG, name))) == {name}


@pytest.mark.parametrize(
    ("name", "gone"),
    [
        ("P1", {"P1"}),
        ("sub", {"sub"}),
        ("A1", {"A1"}),
        ("R1-1", {"R1-1", "L1"}),
        ("SUB-L1", {"SUB-L1", "L1", "L2"}),
        ("R1", {"R1", "A1", "A2", "R1-1", "R1-2", "L1", "L3"}),
    ],
)
def test_remove_with_dependents(name, gone):
    after = edits.remove(RIG, name, with_dependents=True)
    assert set(things(RIG)) - set(things(after)) == gone
    assert rules.check(after) == ()


def test_removing_with_dependents_unpatches_and_clears():
    without = {name: things(edits.remove(RIG, name, with_dependents=True)) for name in ("P1", "sub", "A1")}
    assert [without["P1"][name].circuit for name in ("A1", "A2", "A3")] == ["", "", "P2"]
    assert without["sub"]["A1"].channels == (Channel(), Channel(state="failed"))
    assert without["A1"]["R1-1"].poles == ("", "")
    assert without["A1"]["R2-1"].poles == ("",)
    assert without["A1"]["R1-2"].poles == ("A2.1",)


# --- change -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "fields"),
    [
        ("P1", {"phase": "L3", "supply_cable": None}),
        ("sub", {"polarity": "inverted"}),
        ("R1", {"name": "Stage right", "height": 12}),
        ("A1", {"model": "quad", "mode": ("dual", "bridged"), "unit": 5}),
        ("R1-1", {"poles": ("A2.2", "")}),
        ("L1", {"length": TEN_METRES, "cable": "flex-2", "poles": (2,), "source": "R1-2"}),
        ("SUB-L1", {"wiring": "joined", "priority": 3}),
    ],
)
def test_change_sets_those_fields_and_no_other(name, fields):
    before, after = things(RIG), things(edits.change(RIG, name, **fields))
    assert after[name] == replace(before[name], **fields)
    racks = {"R1", "R2"}
    assert all(after[other] == before[other] for other in before if other != name and other not in racks)


@pytest.mark.parametrize(
    ("old", "holders"),
    [
        ("P1", ["A1", "A2"]),
        ("sub", ["A1"]),
        ("R2", []),
        ("A1", ["R1-1", "R2-1"]),
        ("R1-1", ["L1"]),
        ("SUB-L1", ["L1", "L2"]),
        ("L1", []),
    ],
)
def test_a_new_id_is_followed_by_all_that_refers_to_it(old, holders):
    after = edits.change(RIG, old, id="NEW")
    assert [d.id for d in edits.dependents(after, "NEW")] == [d.id for d in edits.dependents(RIG, old)]
    changed = {name for name, thing in things(after).items() if thing != things(RIG).get(name)}
    assert changed - {"R1", "R2"} == {"NEW", *holders} - {"R1", "R2"}
    assert edits.change(after, "NEW", id=old) == RIG


def test_renaming_an_amplifier_keeps_the_sign_of_its_pole_pairs():
    after = things(edits.change(RIG, "A1", id="AMP"))
    assert after["R1-1"].poles == ("AMP.1", "-AMP.2")
    assert after["R2-1"].poles == ("AMP.1",)


def test_change_nothing_and_the_rig_is_the_very_same():
    assert edits.change(RIG, "A1", model="duo", unit=1) is RIG
    assert edits.change_settings(RIG, name="Harbour shed") is RIG
    assert edits.with_equipment(RIG, DUO) is RIG
    assert edits.change(RIG, "A1.1", state="ok") is RIG
    assert edits.change(RIG, "A2.2", state="ok") is RIG
    assert edits.patch(RIG, "R1-2", 2, "") is RIG


@pytest.mark.parametrize(
    ("name", "fields", "message"),
    [
        ("A8", {"unit": 3}, 'There is no thing "A8". Did you mean "A3"? There are: P1, P2, sub, full, R1, R2, A1, A2 and 11 more.'),
        (
            "L1",
            {"lenght": TEN_METRES},
            'There is no field of L1 "lenght". Did you mean "length"? '
            "There are: id, source, to, cable, length, poles, cores_per_pole, state and 1 more.",
        ),
        ("L1", {"length": "10 m"}, "L1: length can't be '10 m'. Expected `object`, got `str`."),
        ("P1", {"phase": "L4"}, "P1: phase can't be 'L4'. Invalid enum value 'L4'."),
        ("A1", {"unit": "3"}, "A1: unit can't be '3'. Expected `int`, got `str`."),
        ("A3", {"id": "A1"}, 'The id "A1" is taken by an amplifier already. Give one of the two another id: each is the only one of its name on the crew\'s tape.'),
        ("A1", {"circuit": "P7"}, 'R1 A1: There is no circuit "P7". Did you mean "P2"? There are: P1, P2.'),
        ("R1-1", {"connector": "two"}, "R1-1 has 2 pole pairs and two has 1. List 1 at most."),
        ("SUB-L1", {"model": "wedge"}, 'SUB-L1: There is no wiring of wedge "split". There are: whole.'),
        ("A1.3", {"feed": "sub"}, "A1 has 2 channels, so there is no A1.3. Name one from A1.1 to A1.2."),
        ("A1.1", {"feed": "subs"}, 'R1 A1: There is no feed "subs". Did you mean "sub"? There are: sub, full.'),
        ("A1.x", {"feed": "sub"}, '"A1.x" is not a channel. Write one such as "A1.1".'),
        ("A8.1", {"feed": "sub"}, 'There is no amplifier "A8". Did you mean "A3"? There are: A1, A2, A3.'),
    ],
)  # fmt: skip
def test_change_refuses(name, fields, message):
    assert refused(edits.change, RIG, name, **fields) == message


def test_changing_several_is_all_or_nothing():
    after = things(edits.change(RIG, ["L1", "L2", "L3"], length=TEN_METRES))
    assert {after[name].length for name in ("L1", "L2", "L3")} == {TEN_METRES}
    fed = edits.change(RIG, ["A1.1", "A3.2"], feed="full")
    assert [a.channel(i).feed for a, i in ((fed.amplifiers()[0], 0), (fed.amplifiers()[2], 1))] == [
        "full"
    ] * 2
    refused(edits.change, RIG, ["L1", "L99"], length=TEN_METRES)


def test_change_settings():
    supply, targets = Supply(rules="us"), Targets(damping_factor=30)
    after = edits.change_settings(RIG, name="Quay", notes="", supply=supply, targets=targets)
    assert after == replace(RIG, name="Quay", notes="", supply=supply, targets=targets)
    assert "Damping factor 0" in refused(edits.change_settings, RIG, targets=Targets(damping_factor=0))


# --- channels and pole pairs --------------------------------------------------------------------------


def test_change_names_as_many_channels_as_it_needs():
    after = things(edits.change(RIG, "A3.3", feed="sub"))["A3"]
    assert after.channels == (Channel(), Channel(), Channel(feed="sub"))


def test_change_trims_nothing():
    rig = put(RIG, ("racks", 0, "amplifiers", 1, "channels"), (Channel(feed="full"), Channel()))
    after = things(edits.change(rig, "A2.1", feed=""))["A2"]
    assert after.channels == (Channel(), Channel())


def test_change_leaves_what_is_not_given():
    after = things(edits.change(RIG, ["A1.1", "A1.2"], feed="full"))["A1"]
    assert after.channels == (Channel(feed="full"), Channel(feed="full", state="failed"))


def test_mark_several_channels():
    after = things(edits.change(RIG, ["A1.1", "A2.1"], state="failed"))
    assert after["A1"].channels[0] == Channel(feed="sub", state="failed")
    assert after["A2"].channels == (Channel(feed="full", state="failed"),)


def test_patch():
    assert things(edits.patch(RIG, "R1-1", 1, "-A3.4"))["R1-1"].poles == ("-A3.4", "-A1.2")
    assert things(edits.patch(RIG, "R1-2", 2, "A2.2"))["R1-2"].poles == ("A2.1", "A2.2")
    assert things(edits.patch(RIG, "R1-1", 1, ""))["R1-1"].poles == ("", "-A1.2")


@pytest.mark.parametrize(
    ("socket", "pair", "pole", "message"),
    [
        ("R1-1", 3, "A1.1", "R1-1 has no pole pair 3. Name one from 1 to 2."),
        ("R1-1", 0, "A1.1", "R1-1 has no pole pair 0. Name one from 1 to 2."),
        ("SUB-L1", 1, "A1.1", 'There is no socket "SUB-L1". There are: R1-1, R1-2, R2-1.'),
        (
            "R1-1",
            1,
            "A1.1+A2.1",
            "Two channels, A1.1 and A2.1, drive pole pair 1 of R1-1. Name one: joining two outputs destroys both.",
        ),
        (
            "R1-1",
            1,
            "A1.3",
            "A1 has 2 channels, and A1.3 would be number 3. Name a channel from A1.1 to A1.2.",
        ),
    ],
)
def test_patch_refuses(socket, pair, pole, message):
    assert refused(edits.patch, RIG, socket, pair, pole).endswith(message)


# --- lines --------------------------------------------------------------------------------------------


def connect(rig, source, to, cable):
    return edits.add(rig, Line(id="L8", source=source, to=to, cable=cable, length=TEN_METRES))


def test_connecting_refuses_a_loop_and_a_second_feed():
    assert "fed twice" in refused(connect, RIG, "R1-1", "W1", "flex-2")
    unfed = edits.remove(RIG, "L1")
    assert "run in a loop" in refused(connect, unfed, "SUB-L2", "SUB-L1", "flex-4")


def test_reconnect_either_end():
    assert things(edits.change(RIG, "L1", source="R1-2"))["L1"] == replace(RIG.lines[0], source="R1-2")
    assert things(edits.change(RIG, "L3", to="W2"))["L3"] == replace(RIG.lines[2], to="W2")


# --- amplifiers in racks ------------------------------------------------------------------------------


def test_move_amplifier_within_its_rack_and_to_another():
    within = edits.move_amplifier(RIG, "A1", "R1", 5)
    assert [(a.id, a.unit) for a in within.racks[0].amplifiers] == [("A1", 5), ("A2", 3)]
    across = edits.move_amplifier(RIG, "A1", "R2", 1)
    assert [[a.id for a in rack.amplifiers] for rack in across.racks] == [["A2"], ["A3", "A1"]]
    assert things(across)["A1"] == replace(things(RIG)["A1"], unit=1)
    assert across.sockets() == RIG.sockets()


def test_amplifiers_move_together_as_far_apart_as_they_are_those_of_other_racks_next_above():
    apart = edits.units_from(RIG, ("A3", "A2", "A1"), 2)
    low, high = (things(RIG)[name].unit for name in ("A1", "A2"))
    heights = {model.id: model.height for model in RIG.equipment.amplifiers}
    above = 2 + high - low + heights[things(RIG)["A2"].model]
    assert apart == {"A1": 2, "A2": 2 + high - low, "A3": above}
    moved = edits.move_amplifiers(RIG, ("A3", "A2", "A1"), "R2", 2)
    assert {a.id: a.unit for a in moved.racks[1].amplifiers} == apart


def test_move_amplifier_refuses_a_rack_or_a_unit_that_is_not_there():
    assert refused(edits.move_amplifier, RIG, "A1", "R3", 1) == (
        'There is no rack "R3". Did you mean "R2"? There are: R1, R2.'
    )
    assert "Unit 0 is outside 1 to 999" in refused(edits.move_amplifier, RIG, "A1", "R2", 0)


@pytest.mark.parametrize(
    ("rack", "height", "unit"),
    [("R1", 1, 5), ("R1", 2, 5), ("R1", 3, None), ("R2", 1, 1), ("R2", 3, 1), ("R2", 4, None)],
)
def test_next_free_unit(rack, height, unit):
    """R1 has 6 units, 1 to 4 taken; R2 has 4 units, the fourth taken."""
    assert edits.next_free_unit(RIG, rack, height) == unit


# --- ids ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("like", "name"),
    [
        ("SUB-L1", "SUB-L3"),
        ("W1", "W3"),
        ("X1", "X2"),
        ("X09", "X10"),
        ("X007", "X008"),
        ("X99", "X100"),
        ("R1-1", "R1-3"),
        ("sub", "sub2"),
        ("7", "8"),
        ("A1", "A4"),
    ],
)
def test_next_id_follows_the_pattern_of_the_crew(like, name):
    assert edits.next_id(RIG, like) == name


def test_next_id_makes_no_other_id_read_as_a_pole_pair():
    rig = edits.add(RIG, Feed(id="R1-3/2"))
    assert edits.next_id(rig, "R1-1") == "R1-4"
    assert "R1-4" in things(edits.duplicate(rig, "R1-1"))


@given(rigs(), st.text("ab-019", min_size=1, max_size=6).filter(lambda like: not like.startswith("-")))
def test_next_id_is_free_and_fit_to_be_used(rig, like):
    name = edits.next_id(rig, like)
    assert name not in things(rig)
    assert rules.check(edits.add(rig, Feed(id=name))) == ()


# --- duplicates ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "copy_id"), [("P1", "P3"), ("sub", "sub2"), ("R1-1", "R1-3"), ("W1", "W3")])
def test_duplicate_stands_after_the_original(name, copy_id):
    after = edits.duplicate(RIG, name)
    names = list(things(after))
    assert names[names.index(name) + 1] == copy_id == edits.next_id(RIG, name)
    unpatched = {"poles": ()} if name == "R1-1" else {}
    assert replace(things(after)[copy_id], id=name, **unpatched) == replace(things(RIG)[name], **unpatched)


def test_duplicate_a_cabinet_with_its_line_from_the_same_source():
    after = things(edits.duplicate(RIG, "SUB-L2"))
    assert after["SUB-L3"] == replace(things(RIG)["SUB-L2"], id="SUB-L3")
    assert after["L4"] == replace(things(RIG)["L2"], id="L4", to="SUB-L3")


def test_the_copied_line_leaves_the_next_free_socket_of_its_kind():
    rack, socket, line = next(
        (rack, socket, line)
        for line in RIG.lines
        for rack in RIG.racks
        for socket in rack.sockets
        if line.source == socket.id
    )
    copy_id = edits.next_id(RIG, line.to)
    other = next(model.id for model in RIG.equipment.connectors if model.id != socket.connector)
    taken = {line.source for line in RIG.lines}
    full = replace(
        RIG, racks=tuple(replace(r, sockets=tuple(s for s in r.sockets if s.id in taken)) for r in RIG.racks)
    )
    for connector, source in ((socket.connector, "FREE"), (other, socket.id)):
        rig = edits.add(full, Socket(id="FREE", connector=connector), rack=rack.id)
        copied = edits.duplicate(rig, line.to)
        assert next(line.source for line in copied.lines if line.to == copy_id) == source


def test_duplicate_a_cabinet_that_nothing_feeds():
    assert set(things(edits.duplicate(RIG, "W2"))) - set(things(RIG)) == {"W3"}


def test_duplicate_a_line_to_the_next_cabinet_that_waits_for_one():
    after = edits.duplicate(RIG, "L3")
    assert things(after)["L4"] == replace(things(RIG)["L3"], id="L4", to="W2")
    assert refused(edits.duplicate, after, "L3") == (
        "No other wedge waits for a line like L3. "
        "Add a cabinet first, or duplicate W1: its line comes with it."
    )


def test_duplicate_a_line_from_a_cabinet_in_a_chain():
    rig = edits.add(RIG, Cabinet(id="SUB-R1", model="sub-double"))
    assert things(edits.duplicate(rig, "L2"))["L4"] == replace(things(RIG)["L2"], id="L4", to="SUB-R1")


def test_duplicate_a_line_does_not_close_a_loop():
    headless = edits.remove(RIG, "L1")
    assert "No other sub-double waits" in refused(edits.duplicate, headless, "L2")


def test_duplicate_an_amplifier_into_the_next_free_unit():
    after = things(edits.duplicate(RIG, "A1"))
    assert after["A4"] == replace(
        things(RIG)["A1"],
        id="A4",
        unit=5,
        circuit="P2",  # P1 has two amplifiers on it, P2 one
        channels=(Channel(feed="sub"), Channel(feed="sub")),
    )
    full = edits.duplicate(RIG, "A1")
    assert refused(edits.duplicate, full, "A1") == (
        "R1 has no 2 free units together for a copy of A1. Move an amplifier, or make the rack higher."
    )


def test_duplicate_a_rack_with_its_patch():
    after = edits.duplicate(RIG, "R1")
    assert [rack.id for rack in after.racks] == ["R1", "R3", "R2"]
    rack = after.racks[1]
    assert [a.id for a in rack.amplifiers] == ["A4", "A5"]
    assert [(s.id, s.poles) for s in rack.sockets] == [("R3-1", ("A4.1", "-A4.2")), ("R3-2", ("A5.1",))]
    assert (rack.name, rack.height) == ("Stage left", 6)
    assert rack.amplifiers[0].channels == (Channel(feed="sub"), Channel(feed="sub"))
    assert (after.lines, after.cabinets) == (RIG.lines, RIG.cabinets)


def test_a_copied_rack_keeps_poles_from_elsewhere_and_skips_ids_that_are_taken():
    rig = edits.add(RIG, Cabinet(id="R3-1", model="wedge"))
    rack = things(edits.duplicate(rig, "R2"))["R3"]
    assert [(s.id, s.poles) for s in rack.sockets] == [("R2-2", ("A1.1",))]


# --- equipment ----------------------------------------------------------------------------------------


def test_with_equipment_adds_and_replaces():
    louder = replace(DUO, name="Louder")
    small = replace(FOUR, id="small")
    cable = replace(EQUIPMENT.cables[0], id="flex-8", cores=8)
    after = edits.with_equipment(RIG, louder, small, cable)
    assert after.equipment.cables == (*EQUIPMENT.cables, cable)
    assert after.equipment.amplifiers[0] is louder
    assert after.equipment.connectors == (*EQUIPMENT.connectors, small)
    assert after.equipment.loudspeakers == EQUIPMENT.loudspeakers


def test_with_equipment_refuses_what_the_rig_can_not_go_on_with():
    assert refused(edits.with_equipment, RIG, replace(DUO, channels=1)) == (
        "A1 lists 2 channels and duo has 1. List 1 at most."
    )
    assert refused(edits.with_equipment, Rig(name=""), SUB) == (
        'sub-double: There is no connector "four". There is none yet: add a connector of that id first.'
    )
    assert edits.with_equipment(Rig(name=""), SUB, FOUR).equipment == Equipment(
        loudspeakers=(SUB,), connectors=(FOUR,)
    )


def test_a_model_can_be_used_only_once_the_rig_carries_it():
    bare = put(put(RIG, ("equipment", "amplifiers"), (DUO,)), ("racks", 1, "amplifiers"), ())
    assert 'no amplifier model "quad"' in refused(edits.change, bare, "A1", model="quad")
    assert edits.change(edits.with_equipment(bare, QUAD), "A1", model="quad")


# --- the check ----------------------------------------------------------------------------------------


def test_a_breach_that_was_there_before_stands_in_no_way():
    broken = put(RIG, ("lines", 2, "cable"), "lost")
    assert edits.change(broken, "A1", unit=5)
    assert "Unit 0 is outside 1 to 999" in refused(edits.change, broken, "A1", unit=0)
    assert 'no cable "lost"' in refused(edits.change, broken, "L1", cable="lost")


def test_unchecked_leaves_the_rules_to_the_caller():
    assert rules.check(edits.unchecked(edits.patch)(RIG, "R1-1", 1, "A9.1"))
    assert edits.unchecked(edits.patch)(RIG, "R1-1", 1, "A2.1") == edits.patch(RIG, "R1-1", 1, "A2.1")


def test_equipment_that_only_a_spare_or_the_stock_is_of_is_in_use():
    spare, owned = Spare(amplifier="trio"), Stock(cable="flex-2", length=TEN_METRES)
    rig = replace(RIG, racks=RIG.racks[:1], lines=RIG.lines[:2], spares=(spare,), stock=(owned,))
    assert "in use by spare trio." in refused(edits.without_equipment, rig, "amplifiers", "trio")
    assert "stock flex-2 10 m" in refused(edits.without_equipment, rig, "cables", "flex-2")
    bare = replace(rig, spares=())
    assert "trio" not in {
        entry.id for entry in edits.without_equipment(bare, "amplifiers", "trio").equipment.amplifiers
    }


def new_things(rig):
    """A new thing of each kind that `rig` has the equipment and the place for, and its rack."""
    equipment, racks = rig.equipment, [rack.id for rack in rig.racks]
    cabinet = Cabinet(id="N3", model=equipment.loudspeakers[0].id)
    loose = [Circuit(id="N1", breaker=Current.parse("32 A")), Feed(id="N2"), cabinet, Rack(id="N4", height=4)]
    held = [
        Amplifier(id="N5", model=equipment.amplifiers[0].id, unit=5),
        Socket(id="N6", connector=equipment.connectors[0].id),
    ]
    fed = {line.to for line in rig.lines}
    lines = [
        Line(id="N7", source=socket.id, to=box.id, cable=equipment.cables[0].id, length=TEN_METRES)
        for socket in rig.sockets()[:1]
        for box in rig.cabinets
        if box.id not in fed
    ]
    return [(item, None) for item in (*loose, *lines)] + [(item, rack) for item in held for rack in racks]


@st.composite
def edits_of(draw, rig):
    """An edit of `rig` at random, sensible or not: (function, positional arguments, keyword arguments)."""
    channels = [f"{a.id}.{i + 1}" for a in rig.amplifiers() for i in range(2)]
    name = st.sampled_from([*things(rig), *channels, "nothing"])
    entries = rig.equipment.entries()
    model = st.sampled_from([entry.id for entry in entries])
    cable = st.sampled_from([entry.id for entry in rig.equipment.cables])
    feed = st.sampled_from(["", *(feed.id for feed in rig.feeds)])
    some, one = st.lists(name, max_size=3), st.fixed_dictionaries
    pole = st.sampled_from(["", "x", *channels, *(f"-{channel}" for channel in channels)])
    return draw(
        st.one_of(
            st.sampled_from([(edits.add, args, {}) for args in new_things(rig)]),
            st.tuples(st.just(edits.remove), st.tuples(name, st.booleans()), one({})),
            st.tuples(st.just(edits.duplicate), st.tuples(name), one({})),
            st.tuples(
                st.just(edits.change), st.tuples(name), one({"id": name | st.sampled_from(["N8", "N9"])})
            ),
            st.tuples(st.just(edits.change), st.tuples(name), one({"model": model})),
            st.tuples(st.just(edits.change), st.tuples(some), one({"length": st.just(TEN_METRES)})),
            st.tuples(st.just(edits.change), st.tuples(some), one({"feed": feed})),
            st.tuples(
                st.just(edits.change), st.tuples(name), one({"state": st.sampled_from(["ok", "failed"])})
            ),
            st.tuples(st.just(edits.patch), st.tuples(name, st.integers(0, 3), pole), one({})),
            st.tuples(st.just(edits.move_amplifier), st.tuples(name, name, st.integers(0, 5)), one({})),
            st.tuples(st.just(connect), st.tuples(name, name, cable), one({})),
            st.tuples(st.just(edits.change), st.tuples(name), one({"source": name, "to": name})),
            st.tuples(st.just(edits.change_settings), st.just(()), one({"name": st.text(max_size=3)})),
            st.sampled_from([(edits.with_equipment, (replace(entry, name="new"),), {}) for entry in entries]),
            st.sampled_from(
                [(edits.with_equipment, (replace(e, channels=1),), {}) for e in rig.equipment.amplifiers]
            ),
        )
    )


def attempt(rig, function, args, kwargs):
    """The rig after an edit, or the same rig where the edit is refused."""
    try:
        return function(rig, *args, **kwargs)
    except EditError as refusal:
        assert str(refusal)[-1] in '.?"'  # noqa: PT017
        return rig


@given(rigs(), st.data())
def test_any_sequence_of_edits(rig, data):
    """No edit mutates its rig, breaks a rule, says nothing of a change, or rebuilds a thing that it leaves equal."""
    for _ in range(3):
        kept = copy.deepcopy(rig)
        after = attempt(rig, *data.draw(edits_of(rig)))
        assert rig == kept
        assert rules.check(after) == ()
        old, new = things(rig), things(after)
        assert all(new[name] is old[name] for name in old if new.get(name) == old[name])
        assert (after is rig) == (after == rig)
        assert bool(difference(rig, after)) == (after != rig)
        rig = after


@given(rigs(), st.data())
def test_added_and_removed_again_is_the_same_rig(rig, data):
    item, rack = data.draw(st.sampled_from(new_things(rig)))
    assert edits.remove(edits.add(rig, item, rack), item.id) == rig


@given(rigs(), st.data())
def test_marked_failed_and_ok_again_is_the_same_rig(rig, data):
    """Of a channel that the amplifier lists; one that it does not list comes to be listed, and at rest."""
    counts = {model.id: model.channels for model in rig.equipment.amplifiers}
    channels = [(a, i) for a in rig.amplifiers() for i in range(counts[a.model])]
    sound = [(a, i) for a, i in channels if a.channel(i).state == "ok"]
    assume(sound)
    amplifier, index = data.draw(st.sampled_from(sound))
    name = f"{amplifier.id}.{index + 1}"
    failed = edits.change(rig, name, state="failed")
    assert things(failed)[amplifier.id].channel(index) == replace(amplifier.channel(index), state="failed")
    mended = things(edits.change(failed, name, state="ok"))[amplifier.id]
    listed = max(len(amplifier.channels), index + 1)
    assert mended == replace(amplifier, channels=tuple(amplifier.channel(i) for i in range(listed)))
    assert index >= len(amplifier.channels) or edits.change(failed, name, state="ok") == rig


@given(rigs(), st.data())
def test_a_renamed_thing_named_back_is_the_same_rig(rig, data):
    assume(things(rig))
    name = data.draw(st.sampled_from(sorted(things(rig))))
    assert edits.change(edits.change(rig, name, id="N1"), "N1", id=name) == rig


@given(rigs(), st.data())
def test_a_copied_rack_does_within_itself_what_the_first_does(rig, data):
    assume(rig.racks)
    rack = data.draw(st.sampled_from(rig.racks))
    copied = things(edits.duplicate(rig, rack.id))[edits.next_id(rig, rack.id)]
    ours = {a.id: i for i, a in enumerate(rack.amplifiers)}
    theirs = {a.id: i for i, a in enumerate(copied.amplifiers)}

    def patched(socket, positions):
        poles = (text.rpartition(".") for text in socket.poles)
        return [
            (name[:1] == "-", positions.get(name.removeprefix("-")), channel) for name, _, channel in poles
        ]

    assert [patched(s, ours) for s in rack.sockets] == [patched(s, theirs) for s in copied.sockets]
    assert [(a.unit, a.model, a.circuit, a.mode) for a in rack.amplifiers] == [
        (a.unit, a.model, a.circuit, a.mode) for a in copied.amplifiers
    ]
