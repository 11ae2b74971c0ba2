"""`assess` as a whole: what an earlier assessment saves is never seen, and what is not driven has no figure."""

import math
from collections.abc import Callable, Mapping

import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn
from msgspec.structs import replace

import rigs
import shipped
from rackwright.engine.assess import assess
from rackwright.engine.results import Assessment
from rackwright.model.mains import Board, Load, Measured, SupplyCable
from rackwright.model.racks import Amplifier, Rack, Socket
from rackwright.model.rig import Rig, Targets
from rackwright.model.rules import check
from rackwright.units import (
    ConductorSize,
    Current,
    Frequency,
    Length,
    Level,
    LimiterSetting,
    Mass,
    Power,
    ResidualCurrent,
    Resistance,
    Temperature,
    Voltage,
)
from rigs import SOUND, amplifier, cabinet, changed, line, rig, socket, without

from . import drawn

Edit = Callable[[DrawFn, Rig], Rig]


PARTS = (*Assessment.__struct_fields__, "cables")


def same(ours: Assessment, theirs: Assessment) -> None:
    """Both say the same of everything, in the same order."""
    for part in PARTS:
        assert _in_order(getattr(ours, part)) == _in_order(getattr(theirs, part)), part


def _in_order(told: object) -> object:
    return list(told.items()) if isinstance(told, Mapping) else told


# Edits, each one that the console will have. One that breaks the rules of a rig is not made.


def _line_edit(draw: DrawFn, rig: Rig) -> Rig:
    chosen = draw(st.sampled_from(rig.lines))
    change = draw(
        st.fixed_dictionaries({}, optional={"length": drawn.lengths, "cores_per_pole": st.integers(1, 4)})
        | st.fixed_dictionaries({"cable": st.sampled_from([c.id for c in rig.equipment.cables])})
        | st.fixed_dictionaries({"poles": st.lists(st.integers(1, 2), max_size=2).map(tuple)})
    )
    return changed(rig, chosen.id, **change)


def _line_moved(draw: DrawFn, rig: Rig) -> Rig:
    ends = [*(s.id for s in rig.sockets()), *(c.id for c in rig.cabinets)]
    return changed(rig, draw(st.sampled_from(rig.lines)).id, source=draw(st.sampled_from(ends)))


def _line_removed(draw: DrawFn, rig: Rig) -> Rig:
    return without(rig, draw(st.sampled_from(rig.lines)).id)


def _line_added(draw: DrawFn, rig: Rig) -> Rig:
    unfed = [c.id for c in rig.cabinets if c.id not in {run.to for run in rig.lines}]
    if not unfed:
        return rig
    ends = [*(s.id for s in rig.sockets()), *(c.id for c in rig.cabinets)]
    to, source = draw(st.sampled_from(unfed)), draw(st.sampled_from(ends))
    added = draw(drawn.lines(rig, _unused(rig, "L"), source, to))
    place = draw(st.integers(0, len(rig.lines)))
    return replace(rig, lines=(*rig.lines[:place], added, *rig.lines[place:]))


def _socket_edit(draw: DrawFn, rig: Rig) -> Rig:
    chosen = draw(st.sampled_from(rig.sockets()))
    poles = st.lists(drawn.poles(rig.amplifiers()), max_size=4).map(tuple)
    return changed(rig, chosen.id, poles=draw(poles))


def _socket_removed(draw: DrawFn, rig: Rig) -> Rig:
    chosen = draw(st.sampled_from(rig.sockets())).id
    return without(rig, chosen, *(run.id for run in rig.lines if run.source == chosen))


def _socket_added(draw: DrawFn, rig: Rig) -> Rig:
    poles = tuple(draw(st.lists(drawn.poles(rig.amplifiers()), max_size=2)))
    return _racked(draw, rig, socket(_unused(rig, "S"), *poles))


def _feed_edit(draw: DrawFn, rig: Rig) -> Rig:
    volts = st.none() | st.sampled_from(["30 V", "80 V", "140 V"]).map(LimiterSetting.parse)
    edges = st.sampled_from(["20 Hz", "60 Hz", "90 Hz", "1.2 kHz", "18 kHz"]).map(Frequency.parse)
    change = draw(
        st.fixed_dictionaries({"band": st.tuples(edges, edges)})
        | st.fixed_dictionaries({"polarity": st.sampled_from(["normal", "inverted"])})
        | st.fixed_dictionaries({"limiter_rms": volts, "limiter_peak": volts})
    )
    return changed(rig, draw(st.sampled_from(rig.feeds)).id, **change)


def _amplifier_edit(draw: DrawFn, rig: Rig) -> Rig:
    chosen = draw(st.sampled_from(rig.amplifiers()))
    other = draw(drawn.amplifiers(chosen.id))
    key = draw(st.sampled_from(["model", "unit", "mode", "channels", "circuit"]))
    return changed(rig, chosen.id, **{key: getattr(other, key)})


def _amplifier_removed(draw: DrawFn, rig: Rig) -> Rig:
    chosen = draw(st.sampled_from(rig.amplifiers())).id
    for panel in rig.sockets():
        poles = tuple("" if pole.lstrip("-").startswith(f"{chosen}.") else pole for pole in panel.poles)
        rig = changed(rig, panel.id, poles=poles)
    return without(rig, chosen)


def _amplifier_added(draw: DrawFn, rig: Rig) -> Rig:
    return _racked(draw, rig, draw(drawn.amplifiers(_unused(rig, "A"))))


def _amplifier_moved(draw: DrawFn, rig: Rig) -> Rig:
    chosen = draw(st.sampled_from(rig.amplifiers()))
    return _racked(draw, without(rig, chosen.id), chosen)


def _racked(draw: DrawFn, rig: Rig, thing: Amplifier | Socket) -> Rig:
    rack = draw(st.sampled_from(rig.racks))
    key = "amplifiers" if isinstance(thing, Amplifier) else "sockets"
    return changed(rig, rack.id, **{key: (*getattr(rack, key), thing)})


def _cabinet_edit(draw: DrawFn, rig: Rig) -> Rig:
    chosen = draw(st.sampled_from(rig.cabinets))
    other = draw(drawn.cabinets(chosen.id))
    return changed(rig, chosen.id, model=other.model, wiring=other.wiring)


def _cabinet_removed(draw: DrawFn, rig: Rig) -> Rig:
    chosen = draw(st.sampled_from(rig.cabinets)).id
    return without(rig, chosen, *(run.id for run in rig.lines if chosen in (run.source, run.to)))


def _cabinet_added(draw: DrawFn, rig: Rig) -> Rig:
    added = draw(drawn.cabinets(_unused(rig, "C")))
    return replace(rig, cabinets=(*rig.cabinets, added))


def _rack_edit(draw: DrawFn, rig: Rig) -> Rig:
    return changed(rig, draw(st.sampled_from(rig.racks)).id, height=draw(st.integers(1, 20)))


def _rack_added(draw: DrawFn, rig: Rig) -> Rig:
    return replace(rig, racks=(Rack(id=_unused(rig, "R"), height=4), *rig.racks))


def _targets_edit(draw: DrawFn, rig: Rig) -> Rig:
    loss = Level.parse(draw(st.sampled_from(["0.1 dB", "0.5 dB", "2 dB"])))
    targets = Targets(
        damping_factor=draw(st.floats(1, 100)), cable_loss=loss, heavy_duty=draw(st.floats(0.01, 1))
    )
    return replace(rig, targets=targets)


def _ambient_edit(draw: DrawFn, rig: Rig) -> Rig:
    ambient = Temperature.parse(f"{draw(st.integers(-10, 60))} degC")
    return replace(rig, supply=replace(rig.supply, ambient=ambient))


def _supply_edit(draw: DrawFn, rig: Rig) -> Rig:
    change = draw(
        st.fixed_dictionaries({"voltage": st.sampled_from(["120 V", "230 V"]).map(Voltage.parse)})
        | st.fixed_dictionaries({"rules": st.sampled_from(["iec", "us"])})
    )
    return replace(rig, supply=replace(rig.supply, **change))


def _circuit_edit(draw: DrawFn, rig: Rig) -> Rig:
    amperes = st.integers(6, 63).map(lambda value: Current.parse(f"{value} A"))
    change = draw(
        st.fixed_dictionaries({"breaker": amperes, "curve": st.sampled_from("BCD")})
        | st.fixed_dictionaries({"phase": st.sampled_from(["L1", "L2", "L3", "L1-L2"])})
        | st.fixed_dictionaries({"board": st.sampled_from(["", *(board.id for board in rig.boards)])})
        | st.fixed_dictionaries({"rcd": drawn.guards, "supply_cable": drawn.supply_cables})
        | st.fixed_dictionaries({"measured": st.none() | st.builds(Measured, current=amperes)})
    )
    return changed(rig, draw(st.sampled_from(rig.circuits)).id, **change)


def _board_edit(draw: DrawFn, rig: Rig) -> Rig:
    chosen = draw(st.sampled_from(rig.boards)).id
    other = draw(drawn.boards(chosen, tuple(board.id for board in rig.boards)))
    key = draw(st.sampled_from(["source", "rating", "phase", "rcd", "supply_cable", "state"]))
    return changed(rig, chosen, **{key: getattr(other, key)})


def _load_edit(draw: DrawFn, rig: Rig) -> Rig:
    return replace(rig, loads=(draw(drawn.loads([circuit.id for circuit in rig.circuits])),))


def _phase_lost(draw: DrawFn, rig: Rig) -> Rig:
    failed = draw(st.sampled_from([(), ("L1",), ("L1", "L2")]))
    return replace(rig, supply=replace(rig.supply, failed_phases=failed))


def _equipment_edit(draw: DrawFn, rig: Rig) -> Rig:
    """A data sheet corrected."""
    amperes = Current.parse(f"{draw(st.integers(1, 40))} A")
    watts = Power.parse(f"{draw(st.integers(100, 1200))} W")
    cones = tuple(replace(section, continuous=watts) for section in rigs.WOOFER.sections)
    name, key, value = draw(
        st.sampled_from(
            [
                ("duo", "max_current", amperes),
                ("duo", "idle_power", watts),
                ("duo", "weight", Mass.parse("20 kg")),
                ("duo", "height", 3),
                ("duo", "terminals", "exposed"),
                ("4x2.5", "max_current", amperes),
                ("four", "max_current", amperes),
                ("four", "contact_resistance", Resistance.parse("20 mohm")),
                ("four", "shrouded", False),
                ("woofer", "sections", cones),
            ]
        )
    )
    return changed(rig, name, **{key: value})


def _lines_reordered(draw: DrawFn, rig: Rig) -> Rig:
    return replace(rig, lines=tuple(draw(st.permutations(rig.lines))))


def _sockets_reordered(draw: DrawFn, rig: Rig) -> Rig:
    rack = draw(st.sampled_from(rig.racks))
    return changed(rig, rack.id, sockets=tuple(draw(st.permutations(rack.sockets))))


def _others_reordered(draw: DrawFn, rig: Rig) -> Rig:
    key = draw(st.sampled_from(["racks", "cabinets", "feeds", "circuits", "boards"]))
    return replace(rig, **{key: tuple(draw(st.permutations(getattr(rig, key))))})


def _noted(draw: DrawFn, rig: Rig) -> Rig:
    return replace(rig, notes=draw(st.text(max_size=5)))


def _unused(rig: Rig, letter: str) -> str:
    taken = {thing.id for thing in (*rig.racks, *rig.amplifiers(), *rig.sockets(), *rig.lines, *rig.cabinets)}
    return next(name for i in range(100) if (name := f"{letter}{i}") not in taken)


def _always(rig: Rig) -> bool:
    return True


EDITS: dict[Edit, Callable[[Rig], object]] = {
    **dict.fromkeys([_line_edit, _line_moved, _line_removed, _lines_reordered], lambda rig: rig.lines),
    **dict.fromkeys([_socket_edit, _socket_removed, _sockets_reordered], Rig.sockets),
    **dict.fromkeys([_amplifier_edit, _amplifier_removed, _amplifier_moved], Rig.amplifiers),
    **dict.fromkeys([_cabinet_edit, _cabinet_removed], lambda rig: rig.cabinets),
    **dict.fromkeys([_line_added, _socket_added, _amplifier_added, _cabinet_added], _always),
    **dict.fromkeys([_feed_edit, _rack_edit, _rack_added, _targets_edit, _ambient_edit], _always),
    _board_edit: lambda rig: rig.boards,
    **dict.fromkeys([_load_edit, _phase_lost], _always),
    **dict.fromkeys([_supply_edit, _circuit_edit, _equipment_edit, _others_reordered, _noted], _always),
}
"""Edit → what it needs to have something to act on."""


@st.composite
def edited(draw: DrawFn, before: Rig) -> Rig:
    """The rig after one edit that its rules let through."""
    edit = draw(st.sampled_from([edit for edit, things in EDITS.items() if things(before)]))
    after = edit(draw, before)
    return before if check(after) else after


@given(drawn.fed(), st.data())
def test_an_earlier_assessment_changes_nothing(any_rig, data):
    """Over a row of edits, each assessed with the one before at hand, as the console does."""
    prior = assess(any_rig)
    for _ in range(data.draw(st.integers(3, 9))):
        any_rig = data.draw(edited(any_rig))
        alone = assess(any_rig)
        prior = assess(any_rig, prior)
        same(prior, alone)


@given(drawn.fed(), drawn.fed())
def test_the_assessment_of_quite_another_rig_changes_nothing(one, other):
    same(assess(one, assess(other)), assess(one))


@given(drawn.fed(), st.data())
def test_going_back_gives_what_there_was(any_rig, data):
    """Undo: the assessment of the rig before serves after several edits at once, and the other way round."""
    before = assess(any_rig)
    after = any_rig
    for _ in range(3):
        after = data.draw(edited(after))
    later = assess(after, before)
    same(later, assess(after))
    same(assess(any_rig, later), before)


SHARED = rig(
    amplifier("A1", "sub", "sub"),
    amplifier("A2", "full", "mid", unit=3),
    socket("S1", "A1.1", "-A2.2"),
    socket("S2", "A1.1"),
    socket("S3", "A2.1"),
    line("L1", "S1", "C1", "60 m"),
    line("L2", "S1", "C2", "70 m"),
    line("L3", "C2", "C3", "30 m"),
    line("L4", "S2", "C4", "50 m"),
    line("L5", "S3", "C5", "40 m"),
    cabinet("C1", "double", "joined"),
    cabinet("C2", "double", "joined"),
    cabinet("C3", "double"),
    cabinet("C4", "woofer"),
    cabinet("C5", "wedge"),
)
"""A channel on two sockets, one of them split and linked on."""

(PANEL,) = SHARED.racks

ONE_EDIT = {
    "line longer": changed(SHARED, "L3", length=Length.parse("31 m")),
    "line of other cable": changed(SHARED, "L1", cable="4x12"),
    "line of more cores": changed(SHARED, "L1", cores_per_pole=2),
    "line crossed": changed(SHARED, "L3", poles=(2, 1)),
    "line moved to another socket": changed(SHARED, "L4", source="S3"),
    "line moved to a link": changed(SHARED, "L4", source="C3"),
    "line taken out": without(SHARED, "L3"),
    "line added": replace(
        without(SHARED, "L5"), lines=(*without(SHARED, "L5").lines, line("L9", "S2", "C5"))
    ),
    "lines in another order": replace(SHARED, lines=SHARED.lines[::-1]),
    "pole pair re-patched": changed(SHARED, "S2", poles=("A1.2",)),
    "pole pair turned": changed(SHARED, "S2", poles=("-A1.1",)),
    "pole pair not wired": changed(SHARED, "S2", poles=()),
    "socket of another kind": changed(SHARED, "S2", connector="eight"),
    "socket added": changed(SHARED, "R1", sockets=(*PANEL.sockets, socket("S4", "A1.2"))),
    "socket taken out": without(SHARED, "S2", "L4"),
    "sockets in another order": changed(SHARED, "R1", sockets=PANEL.sockets[::-1]),
    "feed of another band": changed(SHARED, "sub", band=(Frequency.parse("20 Hz"), Frequency.parse("90 Hz"))),
    "feed turned": changed(SHARED, "mid", polarity="inverted"),
    "feed limited": changed(SHARED, "full", limiter_rms=LimiterSetting.parse("90 V"), limiter_at="A1.1"),
    "channel of another feed": changed(SHARED, "A1", channels=amplifier("A1", "mid", "sub").channels),
    "channel failed": changed(SHARED, "A1", channels=amplifier("A1", "sub", "sub", failed=(1,)).channels),
    "pair bridged": changed(SHARED, "A1", mode="bridged"),
    "pair in parallel": changed(SHARED, "A2", mode="parallel"),
    "amplifier of another model": changed(SHARED, "A1", model="stout"),
    "amplifier in another place": changed(SHARED, "A2", unit=2),
    "amplifier added": changed(SHARED, "R1", amplifiers=(*PANEL.amplifiers, amplifier("A3", "sub", unit=5))),
    "amplifier taken out": without(changed(changed(SHARED, "S3", poles=()), "S1", poles=("A1.1",)), "A2"),
    "amplifiers in another order": changed(SHARED, "R1", amplifiers=PANEL.amplifiers[::-1]),
    "cabinet of another wiring": changed(SHARED, "C3", wiring="joined"),
    "cabinet of another model": changed(SHARED, "C4", model="top", wiring=""),
    "cabinet added": replace(SHARED, cabinets=(*SHARED.cabinets, cabinet("C6"))),
    "cabinet taken out": without(SHARED, "C3", "L3"),
    "cabinets in another order": replace(SHARED, cabinets=SHARED.cabinets[::-1]),
    "rack lower": changed(SHARED, "R1", height=3),
    "rack added": replace(SHARED, racks=(*SHARED.racks, Rack(id="R2", height=4))),
    "targets": replace(SHARED, targets=Targets(damping_factor=2)),
    "heavy duty": replace(
        changed(SHARED, "4x2.5", max_current=Current.parse("15 A")), targets=Targets(heavy_duty=1)
    ),
    "warm cables": replace(SHARED, supply=replace(SHARED.supply, ambient=Temperature.parse("45 degC"))),
    "rating of a cable": changed(SHARED, "4x2.5", max_current=Current.parse("15 A")),
    "contact of a connector": changed(SHARED, "four", contact_resistance=Resistance.parse("9 mohm")),
    "power of a section": changed(
        SHARED,
        "woofer",
        sections=tuple(replace(s, continuous=Power.parse("90 W")) for s in rigs.WOOFER.sections),
    ),
    "weight of an amplifier": changed(SHARED, "duo", weight=Mass.parse("20 kg")),
    "height of an amplifier": changed(SHARED, "duo", height=3),
}


def told_alike(rig, after):
    """The assessments of a rig and of it after an edit, each the same with the other as the earlier one."""
    assert not check(after)
    before, alone = assess(rig), assess(after)
    same(assess(after, before), alone)
    same(assess(rig, alone), before)
    return before, alone


@pytest.mark.parametrize("name", ONE_EDIT)
def test_one_edit_is_told_as_without_the_earlier_assessment(name):
    before, alone = told_alike(SHARED, ONE_EDIT[name])
    assert any(_in_order(getattr(alone, part)) != _in_order(getattr(before, part)) for part in PARTS), (
        "tells nothing"
    )


SUPPLY_CABLE = SupplyCable(
    length=Length.parse("80 m"), size=ConductorSize.parse("6 mm2"), conductor_class="cord"
)
FED = replace(
    changed(changed(SHARED, "A1", circuit="P1"), "A2", circuit="P2"),
    boards=(
        Board(id="D1", supply_cable=SUPPLY_CABLE, rcd=ResidualCurrent.parse("300 mA")),
        Board(id="D2", source="D1", supply_cable=SUPPLY_CABLE),
        Board(id="D3", source="D1"),
        Board(id="D4"),
    ),
    circuits=(
        rigs.circuit("P1", "63 A", feed=("20 m", "2.5 mm2"), board="D2"),
        rigs.circuit("P2", "32 A", board="D1"),
        rigs.circuit("P3", "16 A", board="D3"),
        rigs.circuit("P4", "16 A", "L2", board="D4"),
    ),
    loads=(Load(id="LIGHTS", circuit="P3", power=Power.parse("1 kW")),),
)
"""Two boards on a third, each with what takes something, and one beside them."""

ONE_EDIT_OF_THE_TREE = {
    "a circuit moved to the board above": changed(FED, "P3", board="D1"),
    "an amplifier moved to a board beside": changed(FED, "A2", circuit="P3"),
    "a longer line": changed(FED, "L5", length=Length.parse("90 m")),
    "a circuit on another phase": changed(FED, "P3", phase="L2"),
    "all circuits on one phase": changed(FED, "P4", phase="L1"),
    "a load line to line": changed(FED, "P3", phase="L1-L2"),
    "a circuit line to line": changed(FED, "P1", phase="L1-L2"),
    "a board fed from elsewhere": changed(FED, "D2", source=""),
    "a board's cable": changed(FED, "D1", supply_cable=None),
    "a board failed": changed(FED, "D3", state="failed"),
    "a load": changed(FED, "LIGHTS", power=Power.parse("2 kW")),
    "a load elsewhere": changed(FED, "LIGHTS", circuit="P1"),
    "a guard": changed(FED, "P2", rcd=ResidualCurrent.parse("30 mA")),
    "boards in another order": replace(FED, boards=FED.boards[::-1]),
    "circuits in another order": replace(FED, circuits=FED.circuits[::-1]),
    "a circuit measured": changed(FED, "P1", measured=Measured(current=Current.parse("9 A"))),
    "a name": changed(FED, "LIGHTS", position="☃"),
}


@pytest.mark.parametrize("name", ONE_EDIT_OF_THE_TREE)
def test_one_edit_of_the_tree_is_told_as_without_the_earlier_assessment(name):
    after = ONE_EDIT_OF_THE_TREE[name]
    _, alone = told_alike(FED, after)
    same(assess(after, assess(FED, alone)), alone)


def test_what_is_on_no_circuit_counts_at_the_intake_as_it_changes():
    before = changed(FED, "A2", circuit="")
    after = changed(before, "L5", length=Length.parse("90 m"))
    same(assess(after, assess(before)), assess(after))
    assert assess(after).supply != assess(before).supply


def test_a_plain_assessment_is_taken_as_none():
    told = assess(SOUND)
    same(assess(SOUND, replace(told)), told)


def test_feeds_and_supply_cables_that_an_edit_leaves_alone_are_not_judged_again():
    before = shipped.assessed("outdoor-stage")
    was = before.index.rig
    after = assess(rigs.changed(was, was.lines[0].id, length=Length.parse("77 m")), before)
    anew = {b.feed.id for name, b in after.branches.items() if b.feed and b is not before.branches[name]}
    judged = {now.feed.id for now, then in zip(after.played, before.played, strict=True) if now is not then}
    assert 0 < len(judged) < len(after.played)
    assert judged <= anew
    carrying = {name for name, cable in after.cables.items() if cable is not before.cables[name]}
    assert len(carrying) < len(after.cables)
    assert all(after.cables[name].current != before.cables[name].current for name in carrying)


NOT_DRIVEN = (
    "channel",
    "polarity",
    "voltage",
    "power",
    "limited_power",
    "loss",
    "source_resistance",
    "damping_factor",
    "headroom",
)
NOT_DRIVEN += ("q_total", "q_total_ideal", "ripple", "decay", "decay_ideal", "level", "band_top_loss")
NOT_DRIVEN += ("damping_factor_worn", "loss_worn", "advised_capacitor")


@given(drawn.wired())
def test_a_section_that_nothing_drives_has_no_figure(any_rig):
    for result in assess(any_rig).sections.values():
        if result.channel is None:
            assert all(getattr(result, figure) is None for figure in NOT_DRIVEN)
        else:
            assert result.power > 0
            assert result.damping_factor > 0


@given(drawn.wired())
def test_everything_is_told_once_in_the_order_of_the_rig(any_rig):
    told = assess(any_rig)
    models = {model.id: model for model in (*any_rig.equipment.amplifiers, *any_rig.equipment.loudspeakers)}
    assert list(told.channels) == [
        f"{amp.id}.{n}" for amp in any_rig.amplifiers() for n in range(1, models[amp.model].channels + 1)
    ]
    assert list(told.sections) == [
        f"{c.id}.{s.id}" for c in any_rig.cabinets for s in models[c.model].sections
    ]
    assert list(told.racks) == [rack.id for rack in any_rig.racks]
    for key, result in told.sections.items():
        assert key == result.id
        if result.channel is not None:
            assert told.channels[result.channel].state == "ok"
            assert told.channels[result.channel].feed


def test_a_sound_rig_drives_each_section_from_its_channel():
    told = assess(SOUND)
    assert {name: section.channel for name, section in told.sections.items()} == {
        "SUB1.upper": "A1.1",
        "SUB1.lower": "A1.2",
        "TOP1.mid": "A2.1",
        "TOP1.horn": "A2.2",
    }
    assert {name: channel.feed for name, channel in told.channels.items()} == {
        "A1.1": "sub",
        "A1.2": "sub",
        "A2.1": "mid",
        "A2.2": "high",
    }
    assert [section.polarity for section in told.sections.values()] == [1, 1, 1, 1]


def test_sections_behind_no_line_have_no_figure():
    told = assess(without(SOUND, "L1"))
    for name in ("SUB1.upper", "SUB1.lower"):
        assert told.sections[name].channel is None
        assert told.sections[name].patched is None
        assert told.sections[name].voltage is None
    assert told.sections["TOP1.mid"].channel == "A2.1"


def test_an_unused_channel_has_no_load():
    channel = assess(without(SOUND, "L1", "SUB1")).channels["A1.1"]
    assert channel.sections == 0
    assert channel.load_nominal is channel.load_terminal is channel.load_minimum is None
    assert channel.voltage is channel.current is channel.power is channel.limiter_rms is None
    assert channel.open_voltage > 100
    assert channel.lowest_load == 2


def test_a_failed_channel_leaves_its_sections_silent_and_says_which():
    told = assess(changed(SOUND, "A1", channels=amplifier("A1", "sub", "sub", failed=(1,)).channels))
    upper, lower = told.sections["SUB1.upper"], told.sections["SUB1.lower"]
    assert (upper.channel, upper.patched, upper.voltage) == (None, "A1.1", None)
    assert (lower.channel, lower.patched) == ("A1.2", "A1.2")
    assert told.channels["A1.1"].state == "failed"
    assert told.channels["A1.2"].state == "ok"


def test_a_channel_with_no_feed_leaves_its_sections_silent():
    told = assess(changed(SOUND, "A1", channels=amplifier("A1", "", "sub").channels))
    assert (told.sections["SUB1.upper"].channel, told.sections["SUB1.upper"].patched) == (None, "A1.1")


BRIDGE = rig(
    amplifier("A1", "sub", mode="bridged"),
    socket("S1", "A1.1"),
    line("L1", "S1", "C1"),
    cabinet("C1", "woofer"),
)


def test_a_bridge_stands_under_its_first_channel_at_twice_the_voltage():
    """By hand: 8.1676 Ω seen by each half as 4.0838 Ω, on the line from 8 Ω to 4 Ω: 2·85.18 V = 170.4 V."""
    told = assess(BRIDGE)
    first, second = told.channels["A1.1"], told.channels["A1.2"]
    assert round(first.voltage, 1) == 170.4
    assert first.open_voltage == 2 * assess(SOUND).channels["A1.1"].open_voltage
    assert first.output_resistance == 2 * assess(SOUND).channels["A1.1"].output_resistance
    assert (first.mode, first.lowest_load) == ("bridged", 4)
    assert told.sections["C1.cone"].channel == "A1.1"
    assert (second.sections, second.voltage, second.feed) == (0, None, "sub")


def test_one_failed_half_fails_the_bridge():
    told = assess(changed(BRIDGE, "A1", channels=amplifier("A1", "sub", "", failed=(2,)).channels))
    assert told.channels["A1.1"].state == "failed"
    assert told.sections["C1.cone"].channel is None


def test_a_parallel_pair_plays_the_feed_of_its_first_channel():
    told = assess(changed(SOUND, "A2", mode="parallel"))
    assert told.channels["A2.2"].feed == "mid"
    assert told.sections["TOP1.horn"].channel == "A2.2"
    # Each half drives its own load: parallel joins inputs, not outputs.
    assert told.channels["A2.2"].load_nominal == 16
    assert told.channels["A2.2"].open_voltage == told.channels["A2.1"].open_voltage


def test_a_mode_for_each_pair():
    """The first pair of four channels bridged, the second not."""
    quad = rig(
        amplifier("A1", "sub", "", "sub", "sub", model="quad", mode=("bridged", "dual")),
        socket("S1", "A1.1", "A1.3", "A1.4", connector="eight"),
        line("L1", "S1", "C1"),
        cabinet("C1"),
    )
    told = assess(quad)
    assert [told.channels[f"A1.{n}"].mode for n in (1, 2, 3, 4)] == ["bridged", "bridged", "dual", "dual"]
    assert told.sections["C1.upper"].voltage > 1.5 * told.sections["C1.lower"].voltage


def test_a_section_on_two_channels_is_told_from_the_one_that_sounds():
    strapped = changed(SOUND, "SUB1", wiring="strapped")
    half_dead = changed(strapped, "A1", channels=amplifier("A1", "sub", "sub", failed=(1,)).channels)
    assert assess(strapped).sections["SUB1.upper"].channel == "A1.1"
    assert assess(half_dead).sections["SUB1.upper"].channel == "A1.2"


def test_polarity_is_of_feed_and_patch_together():
    turned = changed(SOUND, "S1", poles=("-A1.1", "A1.2"))
    assert assess(turned).sections["SUB1.upper"].polarity == -1
    assert assess(turned).sections["SUB1.lower"].polarity == 1
    both = changed(turned, "sub", polarity="inverted")
    assert assess(both).sections["SUB1.upper"].polarity == 1
    assert assess(both).sections["SUB1.lower"].polarity == -1


def test_a_rack_is_the_sum_of_its_amplifiers():
    (rack,) = assess(SOUND).racks.values()
    assert (rack.units_used, rack.units, rack.weight) == (4, 12, 28)


def test_an_empty_rig_has_nothing_to_say():
    told = assess(Rig(name="bare", equipment=rigs.EQUIPMENT))
    assert (told.channels, told.sections, told.runs, told.racks, told.findings) == ({}, {}, {}, {}, ())


def test_limiters_are_those_of_the_weakest_section():
    """By hand: √(500 W·12 Ω) = 77.5 V of a wedge beside √(800 W·8 Ω) = 80 V; 20 log10(77.5/0.7746) − 32 = 8.0 dBu."""
    shared = rig(
        amplifier("A1", "full"),
        socket("S1", "A1.1"),
        line("L1", "S1", "C1", cable="2x2.5"),
        line("L2", "S1", "C2"),
        cabinet("C1", "wedge"),
        cabinet("C2", "woofer"),
    )
    channel = assess(shared).channels["A1.1"]
    assert (round(channel.limiter_rms, 1), round(channel.limiter_peak, 1)) == (77.5, 154.9)
    assert (round(channel.limiter_rms_dbu, 1), round(channel.limiter_peak_dbu, 1)) == (8.0, 14.0)


def test_a_horn_alone_on_its_channel_is_given_a_capacitor():
    """Common practice, no source: 1/(2π·600 Hz·16 Ω) = 16.6 µF for a feed from 1.2 kHz; of a lower one its own lowest counts."""
    told = assess(SOUND)
    assert round(told.sections["TOP1.horn"].advised_capacitor * 1e6, 1) == 16.6
    assert told.sections["TOP1.mid"].advised_capacitor is None
    low = replace(
        SOUND, feeds=tuple(replace(f, band=(Frequency.parse("90 Hz"), f.band[1])) for f in SOUND.feeds)
    )
    horn = next(s for model in low.equipment.loudspeakers for s in model.sections if s.id == "horn")
    advised = assess(low).sections["TOP1.horn"].advised_capacitor
    assert advised == pytest.approx(1 / (2 * math.pi * horn.lowest.value / 2 * horn.nominal.value))
    shared = replace(
        SOUND,
        cabinets=(*SOUND.cabinets, cabinet("TOP2", "top")),
        lines=(*SOUND.lines, line("L3", "TOP1", "TOP2")),
    )
    assert assess(shared).sections["TOP1.horn"].advised_capacitor is None


def test_alignment_follows_the_source_resistance():
    """By hand: 0.1876 Ω before 5.4 Ω make Qes 0.38 into 0.3932, Qts 0.3590 into 0.3708."""
    upper = assess(SOUND).sections["SUB1.upper"]
    assert (round(upper.q_total_ideal, 4), round(upper.q_total, 4)) == (0.3590, 0.3708)
    assert upper.decay < upper.decay_ideal
    assert assess(SOUND).sections["TOP1.mid"].q_total is None


def test_lines_are_told_pole_pair_by_pole_pair():
    told = assess(changed(SOUND, "L2", poles=(2, 1)))
    assert [(run.far, run.near, run.channel) for run in told.runs["L2"]] == [(1, 2, "A2.2"), (2, 1, "A2.1")]
    assert all(run.current > 0 for runs in told.runs.values() for run in runs)
