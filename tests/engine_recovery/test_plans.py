"""What a plan promises, on the shipped presets: the rig it leads to, the way back, the order of its steps, what it costs."""

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

import rigs
from rackwright.engine.assess import assess
from rackwright.engine.recovery import Plan, apply, fail, failed, recover, repaired
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.rig import Rig
from rackwright.model.rules import check
from rackwright.store.rig_file import load

from .small import failures, rigs_to_break

FOLDER = Path(__file__).parents[2] / "presets"
CASES = [
    ("small-room", "A1.1"),
    ("hall", "A1.1"),
    ("hall", "A9.1"),
    ("hall", "A3"),
    ("hall", "P5"),
    ("outdoor-stage", "A1.1"),
    ("outdoor-stage", "A8.1"),
    ("outdoor-stage", "A13.2"),
    ("outdoor-stage", "A1"),
    ("outdoor-stage", "R5"),
    ("outdoor-stage", "P7"),
    ("faults", "A1.1"),
    ("faults", "P1"),
]


@pytest.fixture(scope="module")
def presets() -> dict[str, Rig]:
    return {name: load(FOLDER / f"{name}.toml") for name in ("small-room", "hall", "outdoor-stage", "faults")}


@pytest.mark.parametrize("preset", sorted(path.stem for path in FOLDER.glob("*.toml")))
def test_whatever_fails_has_plans(preset):
    """Amplifiers, racks, circuits, and of each amplifier one of its channels, the next with the next: of many every fifth."""
    rig = load(FOLDER / f"{preset}.toml")
    before = assess(rig)
    of = [[b.id for b in before.branches.values() if b.amplifier.id == a.id] for a in rig.amplifiers()]
    channels = [each[number % len(each)] for number, each in enumerate(of)]
    names = [*channels, *(thing.id for thing in (*rig.amplifiers(), *rig.racks, *rig.circuits))]
    for name in names[:: 5 if len(names) > 30 else 1]:
        assert recover(rig, [name], before, width=2, exact=0).plans, name


@pytest.mark.parametrize("failure", ["A3.2", "A3.3", "A4.2", "A4.3"])
def test_of_two_neighbours_as_near_the_link_comes_from_the_first_of_the_rig(presets, failure):
    """Plans are the same each time, in whatever order Python's sets of names come out."""
    plan = next(p for p in recover(presets["hall"], [failure]).plans if p.kinds == ("link to a neighbour",))
    (move,) = plan.moves
    names = [cabinet.id for cabinet in presets["hall"].cabinets]
    assert names.index(move.new) == names.index(move.place) - 1


@pytest.fixture(scope="module", params=CASES, ids="-".join)
def planned(request: pytest.FixtureRequest, presets: dict[str, Rig]) -> tuple[Rig, str, tuple[Plan, ...]]:
    """The rig, what fails, and the plans for it: found once for all that is asked of them."""
    preset, name = request.param
    return presets[preset], name, recover(presets[preset], [name]).plans


class TestEveryPlan:
    def test_leads_to_the_rig_it_promises(self, planned):
        rig, name, plans = planned
        for plan in plans:
            after = apply(fail(rig, [name]), plan.moves)
            assert after == plan.rig
            assert check(after) == ()
            told = assess(after)
            assert told.findings == plan.assessment.findings
            assert told.sections == plan.assessment.sections
            assert told.circuits == plan.assessment.circuits

    def test_has_a_way_back_that_gives_the_rig_as_before(self, planned):
        rig, _, plans = planned
        for plan in plans:
            assert apply(plan.rig, plan.back) == rig

    def test_brings_no_stop(self, planned):
        rig, name, plans = planned
        known = {(f.code, f.at) for f in assess(fail(rig, [name])).findings if f.severity == "stop"}
        for plan in plans:
            assert {(f.code, f.at) for f in plan.assessment.findings if f.severity == "stop"} <= known


def test_a_spare_channel_is_the_best_plan_and_proven_so(presets):
    found = recover(presets["hall"], ["A9.1"])
    assert [move.words for move in found.best.moves] == [
        "Give A11.4 the feed mix1-low.",
        "Re-patch pole pair 1 of R3-1 from A9.1 to A11.4.",
    ]
    assert found.best.rank == (0.0, 0.0, 2, 0)
    assert found.proven


def test_three_kinds_of_plan_are_told_for_a_sub_channel(presets):
    for preset in ("hall", "outdoor-stage"):
        kinds = {plan.kinds for plan in recover(presets[preset], ["A1.1"]).plans}
        assert len(kinds) >= 3


def test_what_matters_less_is_given_up_where_that_frees_a_channel(presets):
    plans = recover(presets["hall"], ["A9.1"]).plans
    plan = next(plan for plan in plans if plan.kinds == ("mute low-priority cabinets",))
    assert plan.silent == ("FILL-1.full", "FILL-2.full")
    assert plan.assessment.sections["MON-1.low"].channel == "A11.1"


def test_the_level_lost_by_doubling_up_is_that_of_the_voltages(presets):
    """20 log10 of the section's voltage before over after: IEC 60027-3, a level difference of field quantities."""
    found = recover(presets["small-room"], ["A1.1"])
    plan, name = found.best, found.best.levels[0].section
    before, after = (told.sections[name].voltage for told in (found.before, plan.assessment))
    assert plan.levels[0].loss == pytest.approx(20 * math.log10(before / after))
    assert plan.levels[0].feed == "sub"


def test_a_dead_circuit_s_amplifiers_go_to_circuits_that_bear_them(presets):
    found = recover(presets["outdoor-stage"], ["P7"])
    assert {move.kind for move in found.best.moves} == {"circuit"}
    assert found.best.silent == ()
    assert all(
        circuit.heavy_current <= circuit.breaker for circuit in found.best.assessment.circuits.values()
    )
    assert any("switch it off" in step.words for step in found.best.steps)


def test_an_amplifier_with_bare_posts_is_switched_off_before_a_wire_of_it_is_touched(presets):
    stage = presets["outdoor-stage"]
    models = tuple(
        replace(model, terminals="exposed") if model.id == "amp-2ch-900ab" else model
        for model in stage.equipment.amplifiers
    )
    stage = replace(stage, equipment=replace(stage.equipment, amplifiers=models))
    found = recover(stage, ["A14.2"])
    plan = next(p for p in found.plans if any(m.kind == "pole" and "A14.2" in m.old for m in p.moves))
    words = [step.words for step in plan.steps]
    assert "Turn every channel of A14 (unit 5) down, then switch it off." in words
    assert "Switch A14 (unit 5) on, with nothing else at the same time." in words
    assert any(line.startswith("Turn channel A14.1") and "up slowly" in line for line in words)


def test_a_limiter_that_would_be_too_high_is_told_with_what_to_set_it_to():
    """√(P·Z) of the section that bears least: 100 W into 16 Ω is 40 V, 20 log10(40/0.7746) − 32 dB is 2.26 dBu."""
    free = rigs.feed("high", "1.2 kHz", "18 kHz", limiter_rms=rigs.Voltage.parse("70 V"))
    rig = rigs.rig(
        rigs.amplifier("A1", "high", "high"),
        rigs.amplifier("A2", "high", "", unit=3),
        rigs.socket("S1", "A1.1", "A1.2"),
        rigs.socket("S2", "A2.1"),
        rigs.line("L1", "S1", "TOP1"),
        rigs.line("L2", "S2", "BIG"),
        rigs.cabinet("TOP1", "top", "turned"),
        rigs.cabinet("BIG", "stout-horn"),
        feeds=(*rigs.FEEDS[:2], free, rigs.FEEDS[3]),
        equipment=replace(rigs.EQUIPMENT, loudspeakers=(*rigs.EQUIPMENT.loudspeakers, _stout_horn())),
    )
    rig = rigs.changed(rig, "S1", poles=("A1.1",))
    plan = next(p for p in recover(rig, ["A1.1"]).plans if p.kinds == ("share a channel",))
    (limiter,) = plan.limiters
    assert (limiter.channels, limiter.feed) == (("A2.1",), "high")
    assert limiter.rms == pytest.approx(40.0)
    assert limiter.rms_dbu == pytest.approx(2.26, abs=0.005)
    assert limiter.was_rms == 70.0
    rms, _ = [step.words for step in plan.steps if "limiter" in step.words]
    assert (
        rms == "Set the rms limiter of the processor output of feed high to 2.25 dBu (40 V at channel A2.1)."
    )


def test_a_limiter_is_one_step_for_all_channels_of_one_gain_and_goes_back_once(presets):
    """A20 has two channels of one feed, its spare four of 32 dB where the others have 29 dB."""
    best = recover(presets["outdoor-stage"], ["A20"]).best
    rms, _ = [step.words for step in best.steps if "limiter" in step.words]
    assert rms.startswith("Set the rms limiter of the processor output of feed delay-mid to 3.0")


def _stout_horn():
    horn = rigs.section("horn", "high", "16 ohm", "400 W", "1 kHz")
    return rigs.LoudspeakerModel(
        id="stout-horn", connector="four", sections=(horn,), wirings={"only": (("horn",),)}
    )


def test_what_is_marked_in_the_rig_counts_and_is_mended_by_the_way_back(presets):
    marked = edits.change(presets["hall"], "A9.1", state="failed")
    found = recover(marked)
    assert found.failed == ("A9.1",)
    assert found.lost == ("MON-1.low",)
    assert apply(found.best.rig, found.best.back) == presets["hall"]


def test_a_spare_s_count_goes_down_with_its_use_and_up_again_on_the_way_back(presets):
    plan = next(p for p in recover(presets["hall"], ["A1.1"]).plans if p.kinds == ("link to a neighbour",))
    assert [spare.count for spare in plan.rig.spares] == [1, 1, 1]
    assert [spare.count for spare in apply(plan.rig, plan.back).spares] == [2, 1, 1]


def test_nothing_is_planned_where_a_channel_that_drives_nothing_fails(presets):
    found = recover(presets["hall"], ["A11.4"])
    assert found.lost == ()
    assert [plan.moves for plan in found.plans] == [()]


def test_what_can_t_fail_is_refused(presets):
    with pytest.raises(EditError, match='Nothing called "SUB-Q1" can fail'):
        recover(presets["hall"], ["SUB-Q1"])
    with pytest.raises(EditError, match=r'Nothing called "A1\.9" can fail'):
        recover(presets["hall"], ["A1.9"])


@given(st.data())
def test_any_plan_can_be_taken_back(data):
    rig = data.draw(rigs_to_break(cabinets=4))
    names = data.draw(failures(rig))
    for plan in recover(rig, names, exact=0).plans:
        assert apply(fail(rig, names), plan.moves) == plan.rig
        assert check(plan.rig) == ()
        assert apply(plan.rig, plan.back) == rig


@given(st.data())
def test_sound_takes_back_every_failure(data):
    rig = data.draw(rigs_to_break())
    names = data.draw(failures(rig))
    broken = fail(rig, names)
    assert failed(broken) or not rig.amplifiers()
    assert failed(repaired(broken)) == ()
    assert assess(repaired(broken)).sections == assess(rig).sections
