"""What covers for a section that no move brings back: its neighbours turned up within limits, or its opposite twin muted."""

import itertools
import math

import pytest
from msgspec.structs import replace

import rigs
from rackwright.engine.assess import assess
from rackwright.engine.recovery import (
    Plan,
    criteria,
    fail,
    go_back,
    is_partial,
    planned,
    recover,
    repair,
    take,
    unplanned,
)
from rackwright.engine.recovery.every_failure import Asked, Rehearser
from rackwright.engine.recovery.planner import task_of
from rackwright.model import edits
from rackwright.model.rig import Rig
from rackwright.units import LimiterSetting, Trim

WHEN = "2026-05-01 21:40"


def stacks(count: int, trim: str = "-6 dB", limiter: str | None = None, model: str = "woofer") -> Rig:
    """So many subs a side, each on a channel of its own, the left ones of L0, L1 … on S0, S1 …, all trimmed."""
    wiring = {"woofer": "first", "top": "turned"}[model]
    feed = {"woofer": "sub", "top": "high"}[model]
    names = [f"{side}{i}" for side in "LR" for i in range(count)]
    things = [
        rigs.amplifier(f"A{n}", *[feed] * len(names[4 * n : 4 * n + 4]), model="quad", unit=1 + n)
        for n in range(math.ceil(len(names) / 4))
    ]
    for i, name in enumerate(names):
        things += [
            rigs.socket(f"S-{name}", f"A{i // 4}.{i % 4 + 1}"),
            rigs.line(f"C-{name}", f"S-{name}", name),
            rigs.cabinet(name, model, wiring, side="left" if name[0] == "L" else "right"),
        ]
    rig = rigs.rig(*things)
    for i in range(len(names)):
        rig = edits.change(rig, f"A{i // 4}.{i % 4 + 1}", trim=Trim.parse(trim))
    return edits.change(rig, feed, limiter_rms=LimiterSetting.parse(limiter) if limiter else None)


def trims(plan: Plan) -> dict[str, str]:
    return {move.at: move.new for move in plan.moves if move.kind == "trim"}


@pytest.mark.parametrize(
    ("count", "model", "trim", "up"),
    [
        (4, "woofer", "-6 dB", "-4 dB"),  # 20 lg 4/3 is 2.499 dB, down to a half: lows add up in phase
        (2, "woofer", "-8 dB", "-2 dB"),  # 20 lg 2 is 6.02 dB, and 6 dB is the most
        (2, "top", "-6 dB", "-3 dB"),  # 10 lg 2 is 3.01 dB: highs add up in power
        (4, "woofer", "-1 dB", "0 dB"),  # no further than the trim goes
    ],
)
def test_the_neighbours_come_up_by_what_their_side_lacks(count: int, model: str, trim: str, up: str) -> None:
    """Two equal sources are 6 dB louder than one in phase, 3 dB in power: from memory, any handbook of acoustics."""
    found = recover(stacks(count, trim, "28 V" if model == "top" else None, model), ["C-L0"])
    best, bare = found.best, found.plans[-1]
    assert (best.roles, bare.moves) == (("most complete", "cover"), ())
    assert trims(best) == {f"A0.{number}": up for number in range(2, count + 1)}
    assert best.criteria.balance < bare.criteria.balance
    assert best.title == "Turn neighbours up"
    assert is_partial(best.assessment)


@pytest.mark.parametrize(
    ("limiter", "up"), [(None, "-4 dB"), ("12.2 dBu", "-4 dB"), ("12.5 dBu", "-4.5 dB"), ("14 dBu", None)]
)
def test_they_come_up_no_further_than_their_drivers_stand(limiter: str | None, up: str | None) -> None:
    """√(800 W · 8 Ω) is 80 V, which 26 dB of gain make of 14.28 dBu from the processor; 28 dB of 12.28, 27.5 dB of 12.78."""
    best = recover(stacks(4, limiter=limiter), ["C-L0"]).best
    assert trims(best) == ({f"A0.{number}": up for number in (2, 3, 4)} if up else {})


def test_they_come_up_no_further_than_their_amplifier_clips() -> None:
    """√(1100 W · 8 Ω) is 93.8 V, which 26 dB of gain make of 15.66 dBu from the processor, 27.5 dB of 14.16, 28 dB of 13.66."""
    rig = edits.change(stacks(4), "sub", limiter_peak=LimiterSetting.parse("14 dBu"))
    assert trims(recover(rig, ["C-L0"]).best) == {f"A0.{number}": "-4.5 dB" for number in (2, 3, 4)}


def test_the_opposite_twin_is_muted_where_more_of_its_kind_plays_on_its_side() -> None:
    for count, muted in ((4, [("unplug", "R2")]), (1, [])):
        plans = recover(stacks(count, "0 dB"), [f"C-L{count // 2}"]).plans
        covers = [plan for plan in plans if plan.roles == ("cover",)]
        assert [(m.kind, m.at) for plan in covers for m in plan.moves] == muted
        for plan in covers:
            assert plan.criteria.balance == 0
            assert plan.title == "Mute the opposite"
            assert plan.silent == ("L2.cone", "R2.cone")
            assert [(step.where, step.words) for step in plan.steps if step.kind == "move"] == [
                ("rack R1", "Pull line C-R2 to R2, out of socket S-R2. Let its end touch nothing.")
            ]
        assert plans[0].roles == ("most complete", "leave it")


def test_the_list_says_to_turn_up_slowly_and_the_return_turns_down_again() -> None:
    rig = taken(stacks(4), "C-L0")
    words = [step.words for step in rig.lists[0].steps]
    assert [text.split(" from ")[1] for text in words] == [
        "−6 dB to −4 dB, slowly: it plays. Watch its clip and limiter lamps."
    ] * 3
    (back,) = go_back(repair(rig, ["C-L0"]), WHEN).lists
    assert [step.words.split(" from ")[1] for step in back.steps if step.kind == "move"] == [
        "−4 dB to −6 dB."
    ] * 3


def test_a_rehearsal_covers_as_the_night_does() -> None:
    rig = stacks(4)
    line = Rehearser(assess(rig)).rehearsed(Asked(("C-L0",), "line"))
    assert line.plan.moves == recover(rig, ["C-L0"]).best.moves != ()


def test_of_a_twin_no_more_is_muted_than_is_silent_opposite(presets: dict[str, Rig]) -> None:
    (cover,) = (plan for plan in recover(presets["hall"], ["TOP-L1.high"]).plans if plan.roles == ("cover",))
    assert cover.silent == ("TOP-L1.high", "TOP-R1.high")


def test_no_trims_of_the_neighbours_that_are_no_defect_are_better() -> None:
    """All of them in steps of 0.5 dB, tried one by one."""
    rig = stacks(3, "-4 dB", "8 dBu")
    task = task_of(rig, ["C-L0"])
    tried = []
    for trims in itertools.product([f"{-step / 2:g} dB" for step in range(9)], repeat=2):
        after = task.broken.index.rig
        for number, trim in zip((2, 3), trims, strict=True):
            after = edits.change(after, f"A0.{number}", trim=Trim.parse(trim))
        if criteria.refusal(task, found := assess(after)) is None:
            tried.append(criteria.judged(task, found, (), 0.0)[:2])
    assert len(tried) == 8 * 8  # no further than 3.5 dB up: 20 lg 3/2 is 3.52
    assert recover(rig, ["C-L0"]).best.criteria[:2] == min(tried)


def test_a_later_failure_is_planned_for_beside_what_covers() -> None:
    """What is turned up stays so, and what fails then comes back as loud as before the night."""
    rig = rigs.changed(stacks(4), "S-R3", connector="four")
    rig = replace(
        rig,
        racks=tuple(
            replace(r, amplifiers=(*r.amplifiers, rigs.amplifier("A9", "sub", unit=9))) for r in rig.racks
        ),
    )
    rig = edits.change(rig, "A9.1", trim=Trim.parse("-6 dB"))
    first = taken(rig, "C-L0")
    second = recover(fail(first, ["A0.2"]), planned=planned(first), proof=False).best
    changes = {
        name: second.assessment.sections[name].gain - assess(rig).sections[name].gain
        for name in ("L1.cone", "L2.cone", "R0.cone")
    }
    assert second.silent == ("L0.cone",)
    assert changes == pytest.approx({"L1.cone": 0.0, "L2.cone": 2.0, "R0.cone": 0.0})


@pytest.mark.parametrize("number", [0, 1])
@pytest.mark.parametrize("order", [("C-L0", "C-R3"), ("C-R3", "C-L0")])
def test_covers_go_with_their_failures_in_any_order(number: int, order: tuple[str, ...]) -> None:
    """Turned up (the first plan) or the twin muted (the second): at the end the rig is as it was, in between nothing is louder than
    what is still silent allows."""
    rig = stacks(4)
    both = taken(taken(rig, "C-L0", number), "C-R3", number)
    back = go_back(repair(both, order[:1]), WHEN)
    left = fail(rig, order[1:])
    task = task_of(left)
    after = assess(replace(back, night=()))
    assert max(task.changes(after).values()) <= 2.5
    assert criteria.judged(task, after, (), 0.0).balance < criteria.judged(task, task.broken, (), 0.0).balance
    assert replace(go_back(repair(back, order[1:]), WHEN), night=()) == rig


def taken(rig: Rig, name: str, number: int = 0) -> Rig:
    broken = fail(rig, [name])
    plan = recover(broken, planned=planned(broken)).plans[number]
    return take(broken, unplanned(broken), plan.moves, plan.title, WHEN)
