"""The night: plans taken, repaired in any order, returned; at the end the rig is the first one, trims and limiters included."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.engine import recovery
from rackwright.engine.assess import assess
from rackwright.engine.recovery import (
    fail,
    failed,
    go_back,
    keep,
    pending,
    planned,
    put_away,
    recover,
    repair,
    sequence,
    take,
    tick,
    to_return,
    unplanned,
)
from rackwright.engine.recovery.rewiring import difference
from rackwright.engine.recovery.transition import Transition
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.rig import Rig
from rackwright.model.venue import for_next_time
from rackwright.store.rig_file import dumps, loads
from rackwright.units import LimiterSetting, Trim

from .small import rigs_to_break
from .test_sequence import carried_out

WHEN = "2026-05-01 21:40"


@pytest.fixture(scope="module")
def hall(presets: dict[str, Rig]) -> Rig:
    return presets["hall"]


def planned_for(rig: Rig, *names: str, number: int = 0) -> Rig:
    """The rig with those failed and a plan taken."""
    broken = fail(rig, names)
    plan = recover(broken, planned=planned(broken)).plans[number]
    return take(broken, unplanned(broken), plan.moves, plan.title, WHEN)


def bare(rig: Rig) -> Rig:
    return replace(rig, night=())


def test_a_plan_tells_what_it_costs_and_not_what_an_earlier_one_did(hall: Rig) -> None:
    broken = fail(hall, ["A9.1"])
    quickest = recover(broken).plans[1]
    assert any("maximum level lower on" in each for each in quickest.costs)
    taken = take(broken, ["A9.1"], quickest.moves, quickest.title)
    both = fail(taken, ["MON-2.high"])
    assert recover(both, planned=planned(taken)).best.costs == ("Silent: MON-2.high.",)


def test_what_an_older_plan_left_is_left_by_a_later_one(hall: Rig) -> None:
    """A monitor whose channel failed was left silent: no plan for a sub is about it, and none stays once the sub is repaired."""
    broken = fail(hall, ["A9.1"])
    decided = take(broken, ["A9.1"], (), "leave it", WHEN)
    both = fail(decided, ["A1.1"])
    plans = recover(both, planned=planned(both)).plans
    assert [plan.silent for plan in plans[:-1]] == [("MON-1.low",)] * (len(plans) - 1)
    for plan in plans:
        assert not {move.at for move in plan.moves} & {"A9", "R3-1/1"}
    assert plans[-1].costs[0].endswith(", and 1 from before.")
    more = fail(decided, ["MON-1"])
    assert recover(more, planned=planned(more)).just_lost == ("MON-1.high",)


@pytest.mark.parametrize(
    "name", ["A1.1", "A9.1", "A9", "P5", "R1", "C1", "TOP-L1.high=shorted", "L1", "top-left"]
)
def test_a_plan_and_its_return_survive_a_file_and_give_the_first_rig_back(hall: Rig, name: str) -> None:
    if name == "top-left":
        name = hall.feeds[1].id
    taken = loads(dumps(planned_for(hall, name)))
    assert taken.lists[0].failed == failed(fail(hall, [name]))
    assert recovery.baseline(taken) == hall
    back = loads(dumps(go_back(repair(taken, taken.lists[0].failed), WHEN)))
    assert bare(back) == hall


def test_a_return_is_ticked_off_and_then_nothing_is_left_of_the_night(hall: Rig) -> None:
    back = go_back(repair(planned_for(hall, "A9.1"), ["A9.1"]), WHEN)
    (returned,) = back.lists
    assert returned.returns
    for number in range(len(returned.steps)):
        back = tick(back, returned.id, number)
    assert back == hall


def test_what_is_repaired_waits_for_its_return_and_is_silent_until_then(hall: Rig) -> None:
    taken = planned_for(hall, "A9.1")
    waiting = repair(taken, ["A9.1"])
    assert pending(waiting) == ("A9.1",)
    assert to_return(waiting)
    assert bare(waiting) == bare(taken)
    assert not to_return(taken)
    with pytest.raises(EditError, match="Nothing is repaired"):
        go_back(taken)


def test_a_channel_that_was_tried_after_its_repair_is_turned_down_before_anything_is_patched_to_it(
    hall: Rig,
) -> None:
    """Whoever repaired it has turned it up to hear whether it works."""
    back = go_back(repair(planned_for(hall, "A1.1", number=1), ["A1.1"]), WHEN)
    steps = back.lists[0].steps
    down, up = (
        next(n for n, step in enumerate(steps) if step.kind == kind and "A1.1" in step.at)
        for kind in ("turn down", "turn up")
    )
    assert down < min(n for n, step in enumerate(steps) if step.words.startswith("Re-patch")) < up


def test_the_night_log_says_once_that_a_return_is_one(hall: Rig) -> None:
    marked = recovery.mark(hall, ["A9.1"], WHEN)
    repaired = repair(
        recovery.take(marked, ["A9.1"], recovery.recover(marked, proof=False).best.moves, "now", WHEN),
        ["A9.1"],
    )
    told = [(each.event, each.words) for each in recovery.happened(repaired, recovery.go_back(repaired))]
    assert ("return", "A9.1") in told


def test_what_has_no_plan_works_at_once(hall: Rig) -> None:
    assert repair(fail(hall, ["A9.1", "C1"]), ["C1"]) == fail(hall, ["A9.1"])


@given(st.data())
def test_whatever_fails_and_is_repaired_in_whatever_order_the_rig_ends_as_it_began(
    data: st.DataObject,
) -> None:
    rig = data.draw(rigs_to_break())
    first = rig
    for name in rig.feeds[:1]:
        first = rig = edits.change(rig, name.id, limiter_rms=LimiterSetting.parse("40 V"))
    standing = sequence.Standing()
    for _ in range(data.draw(st.integers(1, 4))):
        open_ = [
            name
            for each in rig.lists
            if not each.returns
            for name in each.failed
            if name not in each.repaired
        ]
        if open_ and data.draw(st.booleans()):
            names = [data.draw(st.sampled_from(open_))]
            before, rig = rig, repair(rig, names)
            if data.draw(st.booleans()):
                rig = go_back(rig, WHEN)
                standing = done(before, rig, standing)
            continue
        before = rig
        broken = recovery.mark(rig, [data.draw(st.sampled_from(whatever(rig)))])
        if not unplanned(broken):
            continue
        plans = recover(broken, planned=planned(broken), proof=False).plans
        rig = loads(dumps(chosen(broken, data.draw(st.sampled_from(plans)))))
        standing = done(broken, rig, standing, unplanned(broken))
    left = [name for each in rig.lists for name in each.failed]
    for name in data.draw(st.permutations(sorted({*left}))):
        rig = repair(rig, [name])
        if to_return(rig):
            before, rig = rig, go_back(rig, WHEN)
            standing = done(before, rig, standing)
    assert bare(rig) == first
    assert not standing.off
    assert not standing.pulled
    assert not standing.down & {
        name for name, branch in assess(first).branches.items() if branch.live and branch.sections
    }


def whatever(rig: Rig) -> list[str]:
    """Everything of a rig that can fail, of every kind."""
    index = assess(rig).index
    names = [
        *index.channels,
        *(f"{channel}=input" for channel in index.channels),
        *index.amplifiers,
        *index.circuits,
    ]
    names += [
        *index.racks,
        *index.sockets,
        *index.pole_pairs,
        *index.lines,
        *(f"{line}/1" for line in index.lines),
    ]
    names += [
        *index.cabinets,
        *index.sections,
        *(f"{section}=shorted" for section in index.sections),
        *index.feeds,
        "L1",
    ]
    return sorted({*names})


def chosen(broken: Rig, plan: recovery.Plan) -> Rig:
    return take(broken, unplanned(broken), difference(broken, plan.rig), plan.title, WHEN)


def done(
    before: Rig, after: Rig, standing: sequence.Standing, fresh: tuple[str, ...] = ()
) -> sequence.Standing:
    """What stands made safe after the steps between those, each carried out by hand."""
    then, now = assess(before), assess(after)
    actions = sequence.actions(Transition(then, now, fresh), difference(before, after))
    return carried_out(then, now, actions, standing)


def test_repairs_in_another_order_than_the_failures_leave_the_other_plans_in_force(hall: Rig) -> None:
    rig = hall
    for name in ("A9", "A1.1", "A1.2", "A4.2"):
        rig = planned_for(rig, name)
    assert [each.failed for each in rig.lists] == [("A9",), ("A1.1",), ("A1.2",), ("A4.2",)]
    back = go_back(repair(rig, ["A1.1"]), WHEN)
    assert failed(back) == ("A1.2", "A4.2")
    assert [each.failed for each in back.lists if not each.returns] == [("A9",), ("A1.2",), ("A4.2",)]
    silent = [name for name, section in assess(back).sections.items() if section.channel is None]
    assert not silent
    for name in ("A9", "A4.2", "A1.2"):
        back = go_back(repair(back, [name]), WHEN)
    assert bare(back) == hall


def test_a_spare_that_fails_in_its_turn_has_a_plan_and_a_return_of_its_own(hall: Rig) -> None:
    first = planned_for(hall, "A9")
    broken = fail(first, ["A9.1"])
    assert (unplanned(broken), planned(broken)) == (("A9.1",), ())
    second = planned_for(first, "A9.1")
    assert second.lists[1].title.startswith("A9.1: ")
    assert not to_return(first)
    back = go_back(repair(second, ["A9.1"]), WHEN)
    assert bare(back) == bare(first)
    assert bare(go_back(repair(back, ["A9"]), WHEN)) == hall


def test_a_spare_of_the_same_model_comes_out_again(hall: Rig) -> None:
    """No figure tells the two apart, the tape on them does."""
    broken = fail(hall, ["A1"])
    plan = next(
        plan for plan in recover(broken).plans if any(move.kind == "amplifier" for move in plan.moves)
    )
    (move,) = [move for move in plan.moves if move.kind == "amplifier"]
    assert move.old == move.new
    back = go_back(repair(take(broken, ["A1"], plan.moves, plan.title, WHEN), ["A1"]), WHEN)
    assert any(
        step.words.startswith("Take the spare amp-4ch-1200 out of unit 1 and put A1,")
        for step in back.lists[0].steps
    )
    assert bare(back) == hall


def test_a_plan_that_is_kept_is_the_baseline_from_then_on(hall: Rig) -> None:
    taken = planned_for(hall, "A1.1", number=1)
    kept = keep(taken, ["A1.1"], WHEN)
    assert failed(kept) == ()
    assert recovery.baseline(kept) == bare(kept)
    assert bare(kept).racks == recovery.repaired(taken).racks
    assert not to_return(kept)


def test_an_edit_by_hand_is_for_tonight_or_for_good(hall: Rig) -> None:
    taken = planned_for(hall, "A9.1")

    def edit(rig: Rig) -> Rig:
        return edits.change(rig, "A1.1", trim=Trim.parse("-3 dB"))

    assert recovery.is_rewiring(taken, edit(taken))
    assert not recovery.is_rewiring(taken, edits.change(taken, "C1", length=taken.lines[1].length))
    tonight = recovery.by_hand(taken, edit, "trim of A1.1", WHEN, tonight=True)
    good = recovery.by_hand(taken, edit)
    assert bare(go_back(repair(tonight, ["A9.1"]), WHEN)) == hall
    assert bare(go_back(repair(good, ["A9.1"]), WHEN)) == edit(hall)
    more = planned_for(tonight, "A1.2")
    still = go_back(repair(more, ["A9.1"]), WHEN)
    trims = [channel.trim.value for channel in still.amplifiers()[0].channels]
    assert trims[0] == -3.0


def test_what_the_return_needs_is_not_removed_for_good(hall: Rig) -> None:
    amplifier = hall.amplifiers()[0]
    other = next(model.id for model in hall.equipment.amplifiers if model.id != amplifier.model)
    rare = replace(hall.equipment.amplifiers[0], id="rare")
    rig = edits.change(edits.with_equipment(hall, rare), amplifier.id, model="rare")
    tonight = recovery.by_hand(
        rig, lambda rig: edits.change(rig, amplifier.id, model=other, mode="dual"), "swap", tonight=True
    )
    with pytest.raises(EditError, match=f"rare is in use by {amplifier.id}"):
        recovery.by_hand(tonight, lambda rig: edits.without_equipment(rig, "amplifiers", "rare"))


def test_what_the_failed_line_and_its_spare_read_is_kept_until_the_return(presets: dict[str, Rig]) -> None:
    stage = presets["outdoor-stage"]
    taken = planned_for(edits.note_reading(stage, "C1", 1, ohms="5.7 ohm"), "C1")
    assert "C1" not in {line.id for line in taken.lines}
    measured = loads(dumps(edits.note_reading(taken, "C1-SPARE", 1, ohms="5.8 ohm")))
    assert [each.id for each in measured.readings] == ["C1/1", "C1-SPARE/1"]
    for later in (go_back(repair(measured, ["C1"]), WHEN), for_next_time(measured)):
        assert [each.id for each in loads(dumps(later)).readings] == ["C1/1"]


def test_the_clock_of_a_list_runs_from_the_failure_not_from_the_plan(hall: Rig) -> None:
    marked = recovery.mark(hall, ["A9.1"], "2026-05-01 21:37")
    taken = loads(dumps(take(marked, ["A9.1"], recover(marked, proof=False).best.moves, "plan", WHEN)))
    assert recovery.begun(taken, taken.lists[0]) == "2026-05-01 21:37"
    assert repair(marked, ["A9.1"]) == hall


def test_what_has_failed_is_named_in_words(hall: Rig) -> None:
    taken = planned_for(hall, "A9.1=input")
    assert taken.lists[0].title.startswith("the signal lead of A9.1: ")
    assert recovery.in_words(hall, "TOP-L1.high=shorted") == "TOP-L1.high (shorted)"


def test_ticks_are_kept_and_taken_off(hall: Rig) -> None:
    taken = planned_for(hall, "A9.1")
    ticked = loads(dumps(tick(taken, "1", 1)))
    assert [step.done for step in ticked.lists[0].steps[:3]] == [False, True, False]
    assert tick(ticked, "1", 1) == taken


def test_a_list_in_force_is_not_removed(hall: Rig) -> None:
    with pytest.raises(EditError, match="is in force: repair it and take the return"):
        put_away(planned_for(hall, "A9.1"), "1")


def test_a_baseline_that_breaks_the_rules_is_told_when_the_file_is_read(hall: Rig) -> None:
    text = dumps(planned_for(hall, "A1.1", number=1))
    head, table, rest = text.partition("[[night]]")
    with pytest.raises(Exception, match="as it was before the failure breaks a rule"):
        loads(head + table + rest.replace('model = "amp-4ch-1200"', 'model = "amp-9"', 1))


def test_what_a_spare_stands_in_for_is_not_noted_as_working_until_it_is(hall: Rig) -> None:
    def noted(before: Rig, after: Rig) -> list[str]:
        events = [each.event for each in recovery.happened(before, after) if each.place == "A9"]
        return [each for each in events if each in ("spare stands in", "working")]

    broken = fail(hall, ["A9"])
    taken = planned_for(hall, "A9")
    back = go_back(repair(taken, ["A9"]), WHEN)
    assert noted(broken, taken) == ["spare stands in"]
    assert noted(taken, back) == ["working"]


def test_what_has_two_plans_is_searched_for_once_where_one_of_its_failures_is_repaired(hall: Rig) -> None:
    """The plan for now, then that for the interval, in which a spare comes in: it is not what failed."""
    names = ("A9", "P5")
    once = planned_for(hall, *names)
    broken = fail(hall, names)
    twice = take(broken, names, (), "leave it", WHEN)
    plan = recover(twice).best
    assert any(move.kind == "amplifier" for move in plan.moves)
    twice = take(twice, names, plan.moves, plan.title, WHEN)
    backs = [go_back(repair(rig, ["P5"]), WHEN) for rig in (once, twice)]
    assert bare(backs[0]) == bare(backs[1])
    assert {bare(go_back(repair(back, ["A9"]), WHEN)) == hall for back in backs} == {True}


def test_a_channel_that_was_taken_off_and_left_down_is_turned_up_with_its_return(hall: Rig) -> None:
    """Its twin's mute comes back in one list with what is muted at the desk."""
    broken = fail(hall, ["TOP-L1.high=shorted"])
    found = recover(broken)
    twins = next(plan for plan in found.plans if plan.kinds == ("mute the opposite",))
    muted = take(broken, found.failed, twins.moves, twins.title, WHEN)
    linked = next(plan for plan in recover(muted).plans if any(move.kind == "line" for move in plan.moves))
    both = take(muted, found.failed, linked.moves, linked.title, WHEN)
    standing = sequence.Standing()
    for before, after, fresh in ((broken, muted, found.failed), (muted, both, found.failed)):
        standing = done(before, after, standing, fresh)
    standing = done(repair(both, found.failed), go_back(repair(both, found.failed), WHEN), standing)
    assert not standing.down
