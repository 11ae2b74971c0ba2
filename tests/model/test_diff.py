"""The difference of two rigs: each kind of change in its words, and nothing missed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.model import edits
from rackwright.model.diff import Change, difference
from rackwright.model.lines import Line
from rackwright.model.mains import Circuit, SupplyCable
from rackwright.model.racks import Channel, Rack
from rackwright.model.rig import Rig
from rackwright.units import ConductorSize, Current, Frequency, Length, Resistance, Voltage
from strategies import rigs

from .rigs import DUO, RIG, UPPER, put, things

AMPLIFIER = ("racks", 0, "amplifiers", 0)
SOCKET = ("racks", 0, "sockets", 0)
SPEAKER = ("equipment", "loudspeakers", 0)


def sentences(before, after):
    return [str(change) for change in difference(before, after)]


@pytest.mark.parametrize(
    ("path", "value", "told"),
    [
        (("name",), "Quay", ["rig name: Harbour shed → Quay"]),
        (("notes",), "Door is\nstage left.", ["rig notes: none → Door is stage left."]),
        (("supply", "voltage"), Voltage.parse("120 V"), ["supply voltage: 230 V → 120 V"]),
        (("supply", "phases"), 3, ["supply phases: not stated → 3"]),
        (("supply", "source_impedance"), Resistance.parse("0.35 ohm"), ["supply loop impedance: not stated → 0.35 Ω"]),
        (("supply", "rating"), Current.parse("63 A"), ["supply intake rating per phase: not stated → 63 A"]),
        (("supply", "rules"), "us", ["supply mains rules: IEC rules → US rules"]),
        (("racks", 0, "height"), 20, ["R1 height: 6 rack units → 20 rack units"]),
        (("targets", "damping_factor"), 30.0, ["targets lowest damping factor: 20 → 30"]),
        (("circuits", 0, "phase"), "L2", ["P1 phase: L1 → L2"]),
        (("circuits", 0, "supply_cable", "length"), Length.parse("40 m"), ["P1 supply cable length: 30 m → 40 m"]),
        (("circuits", 0, "supply_cable"), None, ["P1 supply cable: 30 m, 2.5 mm² → not stated"]),
        (
            ("circuits", 1, "supply_cable"),
            SupplyCable(length=Length.parse("9 m"), size=ConductorSize.parse("12 AWG")),
            ["P2 supply cable: not stated → 9 m, 12 AWG"],
        ),
        (
            ("feeds", 0, "band"),
            (Frequency.parse("35 Hz"), Frequency.parse("90 Hz")),
            ["sub band: 32 Hz to 90 Hz → 35 Hz to 90 Hz"],
        ),
        (
            ("feeds", 0, "band"),
            (Frequency.parse("32 Hz"), Frequency.parse("0.09 kHz")),
            ["sub band: 32 Hz to 90 Hz → 32 Hz to 0.09 kHz (same value)"],
        ),
        (("racks", 0, "name"), "Left", ["R1 name: Stage left → Left"]),
        ((*AMPLIFIER, "unit"), 5, ["A1 lowest rack unit: 1 → 5"]),
        ((*AMPLIFIER, "mode"), "bridged", ["A1 mode: dual → bridged"]),
        ((*AMPLIFIER, "mode"), ("dual",), ["A1 mode: dual → dual (written differently)"]),
        ((*AMPLIFIER, "channels", 1, "feed"), "full", ["A1.2 feed: sub → full"]),
        ((*AMPLIFIER, "channels", 1), Channel(feed="sub"), ["Channel A1.2: failed → working"]),
        (
            (*AMPLIFIER, "channels"),
            (Channel(feed="sub"),),
            ["A1.2 feed: sub → none", "Channel A1.2: failed → working"],
        ),
        (("racks", 0, "amplifiers", 1, "channels"), (Channel(feed="full"), Channel()), ["A2 channels: 1 listed → 2 listed"]),
        ((*SOCKET, "poles"), ("-A1.1", "-A1.2"), ["R1-1 pole pair 1: A1.1 → A1.1 reversed"]),
        ((*SOCKET, "poles"), ("A1.1", ""), ["R1-1 pole pair 2: A1.2 reversed → not wired"]),
        (("racks", 0, "sockets", 1, "poles"), ("A2.1", "A2.2"), ["R1-2 pole pair 2: not wired → A2.2"]),
        (("racks", 0, "sockets", 1, "poles"), ("A2.1", ""), ["R1-2 pole pairs: 1 listed → 2 listed"]),
        (("lines", 0, "from"), "R1-2", ["L1 from: R1-1 → R1-2"]),
        (("lines", 0, "poles"), (2, 1), ["L1 order of pole pairs: straight → 2, 1"]),
        (("lines", 0, "cores_per_pole"), 2, ["L1 cores per pole: 1 → 2"]),
        (("lines", 2, "length"), Length.parse("30 m"), ["L3 length: 80 ft → 30 m"]),
        (("lines", 2, "length"), Length.parse("24.384 m"), ["L3 length: 80 ft → 24.384 m (same value)"]),
        (("cabinets", 0, "wiring"), "joined", ["SUB-L1 wiring: split → joined"]),
        (("equipment", "amplifiers", 0, "efficiency"), 0.7, ["duo efficiency: 80 % → 70 %"]),
        (("equipment", "amplifiers", 0, "damping_factor", "value"), 200, ["duo damping factor: 400 → 200"]),
        (
            ("equipment", "amplifiers", 0, "ratings"),
            DUO.ratings[:1],
            ["duo rated power, channel: 1100 W into 8 Ω, 1800 W into 4 Ω → 1100 W into 8 Ω"],
        ),
        ((*SPEAKER, "sections", 1, "driver", "qms"), 5.0, ["sub-double lower driver mechanical Q: 6.5 → 5"]),
        ((*SPEAKER, "sections", 1, "lowest"), Frequency.parse("30 Hz"), ["sub-double lower lowest frequency: 28 Hz → 30 Hz"]),
        (
            (*SPEAKER, "wirings", "joined"),
            (("lower", "upper"), ()),
            ["sub-double wiring joined: upper + lower → lower + upper | nothing"],
        ),
        ((*SPEAKER, "wirings", "one"), (("upper",),), ["sub-double wiring one: not stated → upper"]),
        (("equipment", "connectors", 0, "shrouded"), False, ["four shrouded: yes → no"]),
        (("equipment", "cables", 1, "cores"), 8, ["flex-2 cores: 2 → 8"]),
    ],
)  # fmt: skip
def test_changed(path, value, told):
    assert sentences(RIG, put(RIG, path, value)) == told


@pytest.mark.parametrize(
    ("rig", "told"),
    [
        (
            edits.add(
                RIG, Line(id="L4", source="R2-1", to="W2", cable="flex-2", length=Length.parse("12 m"))
            ),
            "Added line L4: from R2-1, to W2, cable flex-2, length 12 m",
        ),
        (
            edits.add(RIG, Circuit(id="P9", breaker=Current.parse("16 A"))),
            "Added circuit P9: phase L1, breaker 16 A",
        ),
        (edits.add(RIG, Rack(id="R3", height=8)), "Added rack R3: height 8 rack units"),
        (
            edits.duplicate(RIG, "A1"),
            "Added amplifier A4: rack R1, model duo, lowest rack unit 5, circuit P2, channels sub, sub",
        ),
        (edits.duplicate(RIG, "R2-1"), "Added socket R2-2: rack R2, connector two, poles not wired"),
        (edits.duplicate(RIG, "W2"), "Added cabinet W3: model wedge, priority 2"),
        (edits.duplicate(RIG, "full"), "Added feed full2: rms limiter 60 V"),
        (
            edits.with_equipment(RIG, replace(DUO, id="duo-2")),
            "Added amplifier model duo-2: Two channels (demo)",
        ),
    ],
)
def test_added_and_removed(rig, told):
    assert sentences(RIG, rig) == [told]
    assert sentences(rig, RIG) == [told.replace("Added", "Removed")]


def test_a_section_of_a_loudspeaker_comes_and_goes():
    more = put(
        RIG,
        (*SPEAKER, "sections"),
        (*RIG.equipment.loudspeakers[0].sections, replace(UPPER, id="third", driver=None)),
    )
    assert sentences(RIG, more) == [
        "Added section sub-double third: kind low, nominal impedance 8 Ω, DC resistance 5.4 Ω, continuous power 800 W, "
        "lowest frequency 28 Hz, highest frequency 200 Hz"
    ]
    assert sentences(more, RIG)[0].startswith("Removed section sub-double third")


def test_moved_to_another_rack():
    rig = edits.move_amplifier(RIG, "A1", "R2", 2)
    assert difference(RIG, rig) == (
        Change("moved", "amplifier", "A1", "rack", "R1 unit 1", "R2 unit 2", "Moved amplifier A1 from R1 unit 1 to R2 unit 2"),
    )  # fmt: skip
    rig = edits.add(edits.remove(RIG, "R2-1"), RIG.racks[1].sockets[0], "R1")
    assert sentences(RIG, rig) == ["Moved socket R2-1 from R2 to R1"]


def test_moved_and_changed():
    rig = edits.change(edits.move_amplifier(RIG, "A1", "R2", 2), "A1.1", state="failed")
    assert sentences(RIG, rig) == [
        "Moved amplifier A1 from R1 unit 1 to R2 unit 2",
        "Channel A1.1: working → failed",
    ]


def test_what_a_change_holds():
    (change,) = difference(RIG, edits.change(RIG, "A1.2", feed="full"))
    assert change == Change("changed", "channel", "A1.2", "feed", "sub", "full", "A1.2 feed: sub → full")


def test_another_order():
    rig = replace(RIG, lines=(RIG.lines[2], *RIG.lines[:2]))
    assert sentences(RIG, rig) == ["Order of lines: L1, L2, L3 → L3, L1, L2"]
    rig = put(RIG, ("racks", 0, "sockets"), RIG.racks[0].sockets[::-1])
    assert sentences(RIG, rig) == ["Order of sockets of R1: R1-1, R1-2 → R1-2, R1-1"]
    assert sentences(RIG, replace(RIG, racks=RIG.racks[::-1])) == ["Order of racks: R1, R2 → R2, R1"]


def test_a_renamed_thing_is_one_removed_and_one_added():
    assert [(c.kind, c.id) for c in difference(RIG, edits.change(RIG, "W2", id="W9"))] == [
        ("removed", "W2"),
        ("added", "W9"),
    ]


def test_changes_come_in_the_order_of_the_rig_file():
    rig = edits.change(
        edits.change(edits.change(RIG, "W2", priority=3), "R1-1", poles=()), "sub", polarity="inverted"
    )
    rig = edits.change_settings(
        edits.with_equipment(edits.change(rig, "A1", unit=5), replace(DUO, name="")), name="Quay"
    )
    assert [(c.what, c.id) for c in difference(RIG, rig)] == [
        ("rig", ""),
        ("feed", "sub"),
        ("amplifier", "A1"),
        ("socket", "R1-1"),
        ("socket", "R1-1"),
        ("cabinet", "W2"),
        ("amplifier model", "duo"),
    ]


def test_a_long_text_is_quoted_in_full_but_for_what_is_the_same_before_and_after():
    notes = " ".join(f"Door {number} is stage left." for number in range(9))
    with_notes = replace(RIG, notes=notes)
    assert sentences(RIG, with_notes) == [f"rig notes: none → {notes}"]
    other = replace(RIG, notes=notes.replace("Door 4 is", "The loading bay, from eight on, is"))
    assert sentences(with_notes, other) == [
        "rig notes: … is stage left. Door 4 is stage left. … → "
        "… is stage left. The loading bay, from eight on, is stage left. …"
    ]
    longer = replace(RIG, notes=f"{notes} Ring first.")
    assert sentences(with_notes, longer) == ["rig notes: … is stage left. → … is stage left. Ring first."]


TEXTS = st.lists(st.sampled_from(("door", "left", "bay", "at")), min_size=20, max_size=40).map(" ".join)


@given(TEXTS, TEXTS, TEXTS, TEXTS)
def test_what_a_sentence_quotes_put_in_place_of_it_makes_one_long_text_the_other(start, old, new, end):
    before, after = (f"{start} {text} {end}" for text in (old, new))
    for sentence in sentences(replace(RIG, notes=before), replace(RIG, notes=after)):
        was, _, now = sentence.removeprefix("rig notes: ").partition(" → ")
        was, now = (text.removeprefix("… ").removesuffix(" …") for text in (was, now))
        places = range(len(before) - len(was) + 1)
        assert any(
            before[:i] + now + before[i + len(was) :] == after for i in places if before[i:].startswith(was)
        )


@given(rigs())
def test_no_difference_of_a_rig_and_itself(rig):
    assert difference(rig, rig) == ()
    assert difference(rig, replace(rig)) == ()


@st.composite
def pairs(draw):
    """Two rigs that are alike in much: drawn apart, or one shuffled, or one with parts of the other."""
    first, second = draw(rigs()), draw(rigs())
    parts = {
        name: getattr(second, name)
        for name in (
            "name",
            "notes",
            "supply",
            "targets",
            "feeds",
            "circuits",
            "racks",
            "cabinets",
            "equipment",
        )
        if draw(st.booleans())
    }
    shuffled = {
        name: tuple(draw(st.permutations(getattr(first, name)))) for name in ("racks", "lines", "cabinets")
    }
    return draw(
        st.sampled_from(
            [(first, second), (first, replace(first, **parts)), (first, replace(first, **shuffled))]
        )
    )


@given(pairs())
def test_empty_for_equal_rigs_only_and_the_same_from_the_other_side(pair):
    before, after = pair
    there, back = difference(before, after), difference(after, before)
    assert (there == ()) == (before == after)
    assert all(len(str(change).splitlines()) == 1 for change in there)
    mirrored = {"added": "removed", "removed": "added", "changed": "changed", "moved": "moved"}
    assert sorted((mirrored[c.kind], c.what, c.id, c.key, c.before, c.after) for c in there) == sorted(
        (c.kind, c.what, c.id, c.key, c.after, c.before) for c in back
    )


@given(rigs())
def test_from_nothing_every_thing_is_added_once(rig):
    added = [c.id for c in difference(Rig(name=rig.name, equipment=rig.equipment), rig) if c.kind == "added"]
    assert sorted(added) == sorted(
        [*things(rig), *(listed.id for listed in (*rig.spares, *rig.stock, *rig.readings))]
    )
