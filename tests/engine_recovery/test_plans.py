"""What a plan promises: the rig it leads to, what it never does, which plans are shown; on the shipped presets and small rigs."""

import gc
import math
import weakref

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

import rigs
from rackwright.engine.assess import assess
from rackwright.engine.recovery import Plan, apply, fail, in_turn, is_partial, recover, sequence
from rackwright.engine.recovery.choices import Choices
from rackwright.engine.recovery.choices.handling import Handling
from rackwright.engine.recovery.plan import short
from rackwright.engine.recovery.planner import task_of
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.lines import Spare
from rackwright.model.night import Rewiring
from rackwright.model.places import PolePair
from rackwright.model.rig import Rig
from rackwright.model.rules import check
from rackwright.units import Current, Length, LimiterSetting

from . import brute
from .conftest import Recovered
from .small import failures, rigs_to_break

CASES = [
    ("small-room", "A1.1"),
    ("hall", "A1.1"),
    ("hall", "A9.1"),
    ("hall", "A10"),
    ("hall", "P5"),
    ("hall", "R3"),
    ("hall", "C1/1"),
    ("outdoor-stage", "A1.1"),
    ("outdoor-stage", "A13.2+A11.3"),
    ("outdoor-stage", "A1"),
    ("outdoor-stage", "R5"),
    ("outdoor-stage", "P7"),
    ("outdoor-stage", "SUB-L1.upper=shorted"),
    ("faults", "A1.1"),
    ("faults", "P1"),
]


@pytest.fixture(scope="module", params=CASES, ids="-".join)
def planned(
    request: pytest.FixtureRequest, presets: dict[str, Rig], recovered: Recovered
) -> tuple[Rig, Rig, tuple[Plan, ...]]:
    """The rig, the rig with what has failed, and the plans."""
    preset, names = request.param
    rig = presets[preset]
    return rig, fail(rig, names.split("+")), recovered(preset, *names.split("+")).plans


class TestEveryPlan:
    def test_leads_to_the_rig_it_promises(self, planned):
        _, broken, plans = planned
        for plan in plans:
            after = apply(broken, plan.moves)
            assert after == plan.rig
            assert check(after) == ()
            told = assess(after)
            assert told.findings == plan.assessment.findings
            assert told.sections == plan.assessment.sections

    def test_brings_no_stop_and_makes_none_graver(self, planned):
        _, broken, plans = planned
        known = {(f.code, f.at): f.excess for f in assess(broken).findings if f.severity == "stop"}
        for plan in plans:
            for finding in plan.assessment.findings:
                if finding.severity == "stop":
                    assert finding.excess <= known[finding.code, finding.at] + 1e-3

    def test_gives_each_section_its_own_programme_and_polarity_and_none_louder(self, planned):
        """No feed of the presets is declared to stand in for another; half a step of 1 dB is what nobody hears."""
        rig, _, plans = planned
        before = assess(rig)
        for plan in plans:
            for name, section in plan.assessment.sections.items():
                if section.channel is None:
                    continue
                was = before.sections[name]
                assert plan.assessment.channels[section.channel].feed == before.channels[was.channel].feed
                assert section.polarity == was.polarity
                assert section.gain <= was.gain + 0.5 + 1e-6

    def test_puts_nothing_on_what_is_dead(self, planned):
        _, broken, plans = planned
        stood = assess(broken)
        for plan in plans:
            for name, section in plan.assessment.sections.items():
                if section.patched and section.patched != stood.sections[name].patched:
                    assert plan.assessment.channels[section.patched].outage is None


def test_the_first_is_the_first_in_order_and_the_last_is_to_leave_it(planned):
    _, _, plans = planned
    moving = [plan.criteria for plan in plans if plan.moves]
    assert moving == sorted(moving)
    assert plans[-1].moves == ()
    assert "most complete" in plans[0].roles
    assert "leave it" in plans[-1].roles


@pytest.mark.parametrize(
    "seed",
    [
        0,
        1,
        2,
        9698,
        20040,
        20817,
        20955,
        21580,
        21680,
        21712,
        22586,
        22735,
        22903,
        920036,
        920062,
        980293,
        990386,
        1110377,
    ],
)
def test_no_plan_of_two_moves_is_better(seed):
    """Against all moves in all orders; of many more rigs when run on request, of which some that once had better ones stand here."""
    rig, names = brute.small(seed)
    value, _ = brute.best(rig, names, depth=2)
    assert tuple(recover(rig, names).best.criteria[:5]) <= value


def test_an_amplifier_that_takes_its_breaker_along_costs_three_moves_and_nothing_is_lost(recovered):
    best = recovered("hall", "A1", "P1").best
    assert sorted(move.kind for move in best.moves) == ["amplifier", "circuit", "circuit"]
    assert best.full


def test_a_spare_amplifier_of_higher_gain_is_trimmed(recovered):
    """amp-4ch-250 has 26 dB, its spare 32 dB: 6 dB down on every channel."""
    best = recovered("hall", "A10").best
    assert [(move.at, move.new) for move in best.moves if move.kind == "trim"] == [
        (f"A10.{number}", "-6 dB") for number in (1, 2, 3, 4)
    ]
    assert best.full


def test_no_monitor_is_sent_to_the_audience_where_a_rack_of_monitors_dies(recovered):
    for preset, name in (("hall", "R3"), ("outdoor-stage", "R5")):
        best = recovered(preset, name).best
        assert best.moves == ()
        assert set(best.silent) == set(recovered(preset, name).lost)


def test_a_spare_channel_is_the_best_plan_and_proven_so(recovered):
    found = recovered("hall", "A9.1")
    assert {(move.kind, move.at, move.new) for move in found.best.moves} == {
        ("repatch", "R3-1/1", "A11.4"),
        ("feed", "A11.4", "mix1-low"),
    }
    assert found.best.roles == ("most complete", "now")
    assert found.proven


def test_a_player_s_monitor_is_not_turned_down_because_another_is_silent(recovered):
    best = recovered("outdoor-stage", "MON-3.high=shorted").best
    assert best.silent == ("MON-3.high",)
    assert best.criteria.change == 0
    assert is_partial(best.assessment)  # taken off, it is no less blown


def test_nothing_is_turned_down_to_even_the_sides():
    """A shorted woofer on the left takes its channel along: the one on the right comes back on another, as loud as it was."""
    rig = rigs.rig(
        rigs.amplifier("A1", "sub"),
        rigs.amplifier("A2", "sub", unit=3),
        rigs.socket("S1", "A1.1"),
        rigs.socket("S2", "A1.1"),
        rigs.line("L1", "S1", "LEFT"),
        rigs.line("L2", "S2", "RIGHT"),
        rigs.cabinet("LEFT", "woofer", "first", side="left"),
        rigs.cabinet("RIGHT", "woofer", "first", side="right"),
    )
    best = recover(rig, ["LEFT.cone=shorted"]).best
    assert best.silent == ("LEFT.cone",)
    assert best.criteria.change == 0


def test_a_pair_is_bridged_beside_an_empty_socket_that_is_patched_to_its_second_half():
    """The weak amplifier's one channel is not loud enough for the woofer, bridged it is: the empty S9 comes off first."""
    rig = rigs.rig(
        rigs.amplifier("A1", "sub"),
        rigs.amplifier("A2", "sub", "sub", model="weak", unit=3),
        rigs.socket("S1", "A1.1"),
        rigs.socket("S9", "A2.2", connector="two"),
        rigs.line("L1", "S1", "SUB1"),
        rigs.cabinet("SUB1", "woofer", "first"),
        equipment=brute.EQUIPMENT,
    )
    best = recover(rig, ["A1"]).best
    assert best.full
    assert {(move.kind, move.at, move.new) for move in best.moves} >= {
        ("mode", "A2.1", "bridged"),
        ("repatch", "S9/1", ""),
    }


@pytest.mark.parametrize(("limiter", "full"), [("", False), ("54 V", False), ("50 V", True)])
def test_terminals_take_a_load_that_an_rms_limiter_holds_to_their_rating_and_no_other(limiter, full):
    """11.5 A at full power, 6.63 A of it lasting when driven hard, onto terminals of 6.5 A; 50 V / 8.1676 Ω = 6.12 A."""
    rig = rigs.rig(
        rigs.amplifier("A1", "sub"),
        rigs.amplifier("A2", "sub", model="quad", unit=3),
        rigs.socket("S1", "A1.1"),
        rigs.line("L1", "S1", "SUB1"),
        rigs.cabinet("SUB1", "woofer", "first"),
    )
    rig = rigs.changed(rig, "quad", max_current=Current.parse("6.5 A"))
    if limiter:
        rig = rigs.changed(rig, "sub", limiter_rms=LimiterSetting.parse(limiter))
    assert recover(rig, ["A1"]).best.full == full


def test_the_quickest_plan_is_not_slower_than_the_most_complete(recovered):
    for plan in recovered("faults", "C5").plans:
        assert "quickest" not in plan.roles or "most complete" in plan.roles


def test_a_column_that_more_rows_are_put_on_is_no_other_s():
    """Two channels handled by the same moves, each given a feed: what the one is turned down for is not counted for the other."""
    handling = Handling(Choices(task_of(*brute.small(20016))).costs.patching)
    reason = next(iter(handling.columns.moves))
    shared = handling._any([reason])
    assert handling._any([reason]) == shared
    assert len({shared, handling._own([reason]), handling._own([reason])}) == 3


def test_a_programme_goes_as_soon_as_nobody_holds_it():
    """In a rehearsal, else thousands of objects of hundreds of programmes would wait for the collector."""
    gc.disable()
    try:
        choices = Choices(task_of(*brute.small(20016)))
        choices.best()
        held = [
            weakref.ref(each) for each in (choices, choices.program, choices.level, choices.costs.patching)
        ]
        del choices
        assert [each() for each in held] == [None] * 4
    finally:
        gc.enable()


def test_moves_that_were_refused_do_not_come_again():
    """However many ways the programme has to put the same moves together."""
    rig, names = brute.small(20016)
    choices, seen = Choices(task_of(rig, names)), set()
    while (promise := choices.best()) and promise.moves and len(seen) < 8:
        moves = frozenset(move for move in promise.moves if move.kind != "trim")
        assert moves not in seen
        seen.add(moves)
        choices.without(promise.done)
    assert seen


@pytest.mark.parametrize(
    ("preset", "name", "first"),
    [("outdoor-stage", "C3", "silence"), ("outdoor-stage", "C5", "silence"), ("hall", "A1.1", "seconds")],
)
def test_the_programme_knows_all_that_a_list_takes(presets, preset, name, first):
    """The ways to a cabinet and back to the rack, and what is turned up again: else plan after plan that only seems quicker is tried."""
    task = task_of(presets[preset], [name])
    promise = Choices(task, wide=False).best(first=first)
    assert promise
    after = assess(apply(task.index.rig, promise.moves), task.broken)
    taken = sequence.lasting(sequence.steps_of(task.change.to(after), promise.moves), after.index.rig)
    assert promise.figures[4] == pytest.approx(taken, abs=5)


def test_the_quick_plan_stands_beside_the_complete_one(recovered):
    found = recovered("hall", "A1.1")
    complete, quick = found.plans[:2]
    assert complete.full
    assert "quickest" in quick.roles
    assert quick.criteria.seconds < complete.criteria.seconds
    assert len(quick.moves) == 1


@pytest.mark.parametrize(
    ("preset", "name", "kind"),
    [
        ("outdoor-stage", "A1.3", "use another channel"),  # both loads go to a spare one
        ("hall", "A1.1", "share a channel"),
        ("outdoor-stage", "MON-1.high=shorted", "take off what has failed"),
        ("hall", "TOP-L1.high=shorted", "mute the opposite"),
    ],
)
def test_a_plan_is_called_by_what_it_does(recovered, preset, name, kind):
    assert (kind,) in [plan.kinds for plan in recovered(preset, name).plans]


def test_the_level_lost_by_doubling_up_is_that_of_the_voltages(recovered):
    """20 log10 of the section's voltage before over after: IEC 60027-3, a level difference of field quantities."""
    found = recovered("hall", "A1.1")
    plan = next(plan for plan in found.plans if plan.kinds == ("share a channel",))
    name = plan.levels[0].section
    before, after = (told.sections[name].voltage for told in (found.before, plan.assessment))
    assert plan.levels[0].loss == pytest.approx(20 * math.log10(before / after))
    assert plan.levels[0].feed == "sub"


def test_a_dead_circuit_s_amplifiers_go_to_circuits_that_bear_them_and_where_the_lead_reaches(presets):
    stage = presets["outdoor-stage"]
    racks = tuple(replace(rack, reaches=()) for rack in stage.racks)
    best = recover(replace(stage, racks=racks), ["P7"]).best
    assert {move.kind for move in best.moves} == {"circuit"}
    assert best.silent == ()
    assert [text for text in best.unsure if "mains lead of A7 reaches" in text]
    racks = tuple(replace(rack, reaches=("P2", "P7")) for rack in stage.racks)
    near = recover(replace(stage, racks=racks), ["P7"]).best
    assert {move.new for move in near.moves if move.kind == "circuit"} == {"P2"}
    assert near.unsure == ()


def test_a_feed_is_only_played_in_place_of_another_where_that_is_declared():
    rig = rigs.rig(
        rigs.amplifier("A1", "mid", "high"),
        rigs.socket("S1", "A1.1", "A1.2"),
        rigs.line("L1", "S1", "TOP"),
        rigs.cabinet("TOP", "top", "straight"),
    )
    other = replace(next(f for f in rig.feeds if f.id == "mid"), id="other")
    rig = replace(rig, feeds=(*rig.feeds, other))
    assert recover(rig, ["mid"]).best.moves == ()
    declared = replace(rig, feeds=(*rig.feeds[:-1], replace(other, substitute_for=("mid",))))
    best = recover(declared, ["mid"]).best
    assert [(move.kind, move.at, move.new) for move in best.moves] == [("feed", "A1.1", "other")]
    assert best.like == (("TOP.mid", "other"),)


def test_a_link_is_only_made_to_what_a_cable_reaches_and_never_to_what_hangs(presets):
    """The broken line is replaced by none as long; a spare of 5 m links where it may."""
    hall = presets["hall"]
    spares = (Spare(cable="flex-4x2.5", length=Length.parse("5 m"), count=1),)
    hall = replace(hall, spares=spares)
    bare = tuple(replace(cabinet, links_to=()) for cabinet in hall.cabinets)

    def told(**more: object) -> set[str]:
        cabinets = tuple(replace(c, **more) if c.id == "TOP-L1" else c for c in bare)
        plans = recover(replace(hall, cabinets=cabinets), ["C5"]).plans
        return {move.new for plan in plans for move in plan.moves if move.kind == "line"}

    assert told(links_to=("TOP-L3",)) == {"TOP-L3"}
    assert told(access="flown") == set()


@pytest.mark.parametrize(("cable", "fits"), [("4x2.5", True), ("8x4", False), ("2x2.5", False)])
def test_a_spare_line_has_the_plugs_for_where_it_goes(cable, fits):
    """As many cores as the line that broke, or one for each pole: a lead of eight goes into no connector of four."""
    spares = (Spare(cable=cable, length=Length.parse("10 m"), count=1),)
    best = recover(replace(rigs.SOUND, spares=spares), ["L2"]).best
    assert [move.kind for move in best.moves] == ["line"] * fits


@pytest.mark.parametrize(
    ("kind", "old", "new", "set_to"),
    [
        ("rms", "70 V", "40 V", "2.25 dBu (40 V at channel A1.1)"),
        ("rms", "7 dBu", "2.2 dBu", "2.2 dBu"),
        ("peak", "140 V", "80 V", "5.26 dBu sine (80 V at channel A1.1)"),
        ("peak", "10 dBu", "5.2 dBu", "5.2 dBu sine"),
    ],
)
@pytest.mark.parametrize("watts", ["1100 W", "150 W"])
def test_a_limiter_comes_down_to_what_bears_least_on_its_feed(kind, old, new, set_to, watts):
    """√(P·Z) of the section that takes least: 100 W into 16 Ω is 40 V, four times the power in its peaks 80 V. Behind 32 dB that is
    20 log10(V/0.7746) − 32 dBu, rounded down, 3.01 dB less on a scale of sines (ITU-R V.574, from memory). No further for an
    amplifier that clips before: 150 W into 8 Ω are 34.6 V, and others on the feed have more."""
    free = rigs.feed("high", "1.2 kHz", "18 kHz", **{f"limiter_{kind}": LimiterSetting.parse(old)})
    stand_in = replace(free, substitute_for=("top",))
    own = rigs.feed("top", "1.2 kHz", "18 kHz", limiter_rms=LimiterSetting.parse("40 V"))
    horn = rigs.section("horn", "high", "16 ohm", "400 W", "1 kHz")
    stout = rigs.LoudspeakerModel(
        id="stout-horn", connector="four", sections=(horn,), wirings={"only": (("horn",),)}
    )
    rig = rigs.rig(
        rigs.amplifier("A1", "top"),
        rigs.amplifier("A2", "high", unit=3),
        rigs.socket("S1", "A1.1"),
        rigs.socket("S2", "A2.1"),
        rigs.line("L1", "S1", "TOP1"),
        rigs.line("L2", "S2", "BIG"),
        rigs.cabinet("TOP1", "top", "turned"),
        rigs.cabinet("BIG", "stout-horn"),
        feeds=(*rigs.FEEDS[:2], stand_in, own, rigs.FEEDS[3]),
        equipment=replace(rigs.EQUIPMENT, loudspeakers=(*rigs.EQUIPMENT.loudspeakers, stout)),
    )
    best = recover(rigs.changed(rig, "duo", ratings=rigs.ratings(("8 ohm", watts))), ["top"]).best
    assert [(move.at, move.old, move.new) for move in best.moves if move.kind == f"limiter {kind}"] == [
        ("high", old, new)
    ]
    assert f"limiter of the processor output of feed high to {set_to}." in " ".join(
        step.words for step in best.steps
    )
    assert any("limited early" in text for text in best.costs) == (kind == "rms")


def test_what_is_marked_in_the_rig_counts(presets):
    found = recover(edits.change(presets["hall"], "A9.1", state="failed"))
    assert found.failed == ("A9.1",)
    assert found.lost == ("MON-1.low",)


def test_nothing_is_planned_where_a_channel_that_drives_nothing_fails(recovered):
    found = recovered("hall", "A11.4")
    assert found.lost == ()
    assert [plan.moves for plan in found.plans] == [()]


def test_what_can_t_fail_is_refused(presets):
    with pytest.raises(EditError, match='Nothing called "SUB-Q1" can fail'):
        recover(presets["hall"], ["SUB-Q1"])


def test_a_search_is_ended_by_what_is_raised_between_two_solves(presets):
    solves = iter([None, None])
    with pytest.raises(StopIteration):
        recover(presets["hall"], ["A9.1"], between=lambda: next(solves))


@given(st.data())
def test_plans_are_the_same_each_time(data):
    rig = data.draw(rigs_to_break(cabinets=2))
    names = data.draw(failures(rig))
    first, second = (recover(rig, names) for _ in (1, 2))
    assert [plan.moves for plan in first.plans] == [plan.moves for plan in second.plans]


@pytest.mark.parametrize("name", ["A9.1", "A1.1", "P5"])
def test_the_first_plan_comes_before_the_others_and_its_proof_before_theirs(presets, recovered, name):
    rig = fail(presets["hall"], [name])
    first, others, proof, whole = in_turn(rig)
    assert first.plans[0].criteria.silence < first.plans[-1].criteria.silence
    assert [plan.roles for plan in first.plans] == [("most complete",), ("leave it",)]
    for told, asked in ((others, recover(rig, proof=False)), (whole, recovered("hall", name))):
        assert [(p.roles, p.criteria) for p in told.plans] == [(p.roles, p.criteria) for p in asked.plans]
        assert told.proven == asked.proven
    assert (proof.best.moves, proof.proven) == (whole.best.moves, whole.proven)


def test_nothing_is_solved_again_for_the_proof(presets):
    rig, solves, at_once = fail(presets["hall"], ["A1.1"]), [], []
    assert list(in_turn(rig, between=lambda: solves.append(1)))
    recover(rig, between=lambda: at_once.append(1))
    assert len(solves) == len(at_once) > 0


@pytest.mark.parametrize("spares", [2, 5, 8])
def test_of_equal_channels_and_sockets_the_first_of_the_rig_is_taken(spares: int) -> None:
    """recovery.md: ties go by the rig's order."""
    numbers = range(2, 2 + spares)
    rig = rigs.rig(
        rigs.amplifier("A1", "sub", "mid"), rigs.socket("S1", "A1.1", "A1.2"),
        *(rigs.amplifier(f"A{i}", "", "", unit=2 * i - 1) for i in numbers), *(rigs.socket(f"S{i}", "", "") for i in numbers),
        rigs.cabinet("C1"), rigs.line("L1", "S1", "C1"),
    )  # fmt: skip
    for name in ("A1.1", "A1.2"):
        [patch, _] = recover(rig, [name]).best.moves
        assert (patch.kind, patch.new) == ("repatch", "A2.1")
    plug = next(move for move in recover(rig, ["S1"]).best.moves if move.kind == "plug")
    assert plug.new == "S2"


@pytest.mark.parametrize("name", ["A7.1", "A7.4", "A8.3", "A9.2"])
def test_what_could_change_places_goes_in_the_order_of_the_rig(presets, name: str) -> None:
    """The first pole pair on the first channel: what is read aloud and walked along a rack goes one way."""
    rig = presets["outdoor-stage"]
    first = next(in_turn(fail(rig, [name]))).best
    at = {
        str(PolePair(s.id, k)): number for number, s in enumerate(rig.sockets()) for k in range(len(s.poles))
    }
    patched = sorted(
        (at[move.at], move.new) for move in first.moves if move.kind == "repatch" and move.old == name
    )
    assert len(patched) > 1
    assert [new for _, new in patched] == sorted(new for _, new in patched)


def test_of_equal_feeds_that_of_what_is_lost_is_taken(presets):
    """A spare channel is given what was lost, not what may stand in for it where both would be as quick, and as good."""
    rig = presets["outdoor-stage"]
    [lost] = [a.channel(2).feed for a in rig.amplifiers() if a.id == "A13"]
    best = next(in_turn(fail(rig, ["A13.3"]))).best
    assert [move.new for move in best.moves if move.kind == "feed"] == [lost]


def test_a_channel_to_be_reversed_has_a_minus_before_it():
    assert short(Rewiring(kind="repatch", at="R1-1/1", new="-A1.1")) == "Re-patch R1-1/1 to −A1.1"
