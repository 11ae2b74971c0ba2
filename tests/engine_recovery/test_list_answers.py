"""A question of a list answered with yes or no: what is marked, what stays off, what comes back, and what is never asked again."""

import pytest
from msgspec.structs import replace

from rackwright.engine import recovery
from rackwright.engine.assess import assess
from rackwright.engine.recovery import recover
from rackwright.model.edits import EditError
from rackwright.model.night import Step, StepKind
from rackwright.model.rig import Rig
from rackwright.store.rig_file import load, save
from shipped import preset

WHEN = "2026-05-01 21:40"


def taken(rig: Rig, name: str, role: str = "most complete") -> Rig:
    """With that failed, and the plan of that role taken."""
    marked = recovery.mark(rig, [name], WHEN)
    plan = next(plan for plan in recover(marked, proof=False).plans if role in plan.roles)
    return recovery.take(marked, [name], plan.moves, plan.title, WHEN)


def asked(rig: Rig) -> list[int]:
    return [number for number, step in enumerate(rig.lists[-1].steps) if step.kind == "check"]


def ticked_to(rig: Rig, number: int) -> Rig:
    for step in range(number):
        rig = recovery.tick(rig, rig.lists[-1].id, step)
    return rig


def silent(rig: Rig) -> set[str]:
    return {name for name, section in assess(rig).sections.items() if section.channel is None}


@pytest.mark.parametrize(
    ("rig", "name", "load"),
    [("hall", "A1.1", "C1/1"), ("outdoor-stage", "A21.1", "C77/3"), ("outdoor-stage", "A5.1", "C15/1")],
)
def test_a_load_that_is_it_stays_off_and_its_channel_works_again(rig: str, name: str, load: str) -> None:
    """The second asks it of an amplifier that is off, a neighbour being silent with it; the third of two loads at once: the good one
    goes back."""
    before = preset(rig)
    after = taken(before, name)
    [number] = asked(after)
    after = ticked_to(after, number)
    asked_for = recovery.loads_asked(after, "1", number)[name]
    sections = asked_for[load]
    stopped = recovery.is_the_load(after, "1", number, [load], sections, WHEN)
    assert recovery.failed(stopped) == tuple(f"{each}=shorted" for each in sections)
    assert silent(stopped) - silent(before) == {*sections}
    steps = stopped.lists[-1].steps
    off = {name for step in steps if step.kind in ("switch off", "pull mains") for name in step.at}
    assert off == {name for step in steps if step.kind in ("start", "switch on") for name in step.at}
    assert all(step.done for step in steps[: number + 1])
    put_back = [step.words for step in steps if step.words.startswith("Patch pole pair")]
    assert len(put_back) == len(asked_for) - 1
    every = [each for own in asked_for.values() for each in own]
    both = recovery.is_the_load(after, "1", number, [*asked_for], every, WHEN)
    assert silent(both) - silent(before) == {*every}
    back = recovery.go_back(recovery.repair(stopped, recovery.failed(stopped)))
    while back.lists:
        back = recovery.tick(back, back.lists[-1].id, back.lists[-1].following)
    assert back == before


@pytest.mark.parametrize(
    ("role", "good", "back"),
    [("quickest", {"C1/2"}, []), ("most complete", {"C2/1", "C1/2", "C2/2"}, ["C2"])],
)
def test_a_line_unplugged_to_look_goes_back_if_it_is_another_and_its_load_is_known_to_be_good(
    role: str, good: set[str], back: list[str]
) -> None:
    """Two channels asked about at once: the one that it is not stays failed, and nothing of it is asked again."""
    before = preset("outdoor-stage")
    marked = recovery.mark(recovery.mark(before, ["A1.1"], WHEN), ["A1.2"], WHEN)
    plan = next(plan for plan in recover(marked, proof=False).plans if role in plan.roles)
    after = recovery.take(marked, ["A1.1", "A1.2"], plan.moves, plan.title, WHEN)
    [number] = asked(after)
    after = ticked_to(after, number)
    stopped = recovery.is_the_load(after, "1", number, ["C1/1"], ["SUB-L1.upper"], WHEN)
    assert set(recovery.failed(stopped)) == {"A1.2", "SUB-L1.upper=shorted"}
    assert silent(stopped) - silent(before) == {"SUB-L1.upper", "SUB-L1.lower", "SUB-L2.lower"}
    assert {*stopped.failures["A1.2"].good} == good
    words = [step.words for step in stopped.lists[-1].steps if step.words.startswith("Plug line")]
    assert [said.split()[2] for said in words] == back


def test_what_is_muted_when_a_question_is_answered_with_yes_is_unmuted() -> None:
    after = taken(preset("hall"), "A9.1", "quickest")
    steps = after.lists[-1].steps
    [number], [mute] = asked(after), [i for i, step in enumerate(steps) if step.kind == "mute"]
    [(load, sections)] = recovery.loads_asked(after, "1", number)["A9.1"].items()
    for ticked in (False, True):
        for step in (0, mute) if ticked else ():
            after = recovery.tick(after, "1", step)
        stopped = recovery.is_the_load(after, "1", number, [load], sections, WHEN)
        unmuted = [step.at for step in stopped.lists[-1].steps if step.kind == "unmute"]
        assert unmuted == ([steps[mute].at] if ticked else [])


@pytest.mark.parametrize(
    ("done", "back"),
    [
        ([], []),
        (["switch off"], ["switch on", "turn up"]),
        (["pull mains"], ["start", "turn up"]),
        (["pull mains", "plug mains"], ["switch on", "turn up"]),
        (["pull mains", "start"], ["turn up"] * 3),
        (["pull mains", "start", "turn up"], []),
        (["pull mains", "plug mains", "switch on", "turn up"], []),
    ],
)
def test_an_amplifier_comes_back_by_what_is_left_to_do_of_it(done: list[StepKind], back: list[str]) -> None:
    """Off, with its plug pulled or not, its channels turned down, or on again as far as the list was ticked."""
    after = taken(preset("hall"), "A1.1")
    question = after.lists[-1].steps[asked(after)[0]]
    at = {"turn up": ("A1.1", "A1.2", "A1.3", "A1.4")}
    steps = [Step(kind=kind, words=kind, at=at.get(kind, ("A1",)), done=True) for kind in done]
    own = replace(after.lists[-1], steps=(*steps, question))
    after = replace(after, night=(replace(after.night[0], lists=(own,)),))
    [(load, sections)] = recovery.loads_asked(after, "1", len(done))["A1.1"].items()
    stopped = recovery.is_the_load(after, "1", len(done), [load], sections, WHEN)
    assert [step.kind for step in stopped.lists[-1].steps if not step.done] == back


def test_what_plays_again_after_it_was_switched_off_and_on_needs_no_list() -> None:
    before = preset("hall")
    after = taken(before, "A8")
    assert after.lists[-1].steps[asked(after)[0]].words.endswith("If it plays again, stop here.")
    assert recovery.loads_asked(after, "1", 0) == {}
    assert recovery.plays_again(after, "1", 0) == before


def test_a_plan_that_rests_on_another_is_not_stopped_below_it() -> None:
    rig = taken(taken(preset("hall"), "A1.1", "now"), "A1.2", "now")
    [number] = [i for i, step in enumerate(rig.lists[0].steps) if step.kind == "check"]
    with pytest.raises(EditError, match="Another plan rests on"):
        recovery.is_the_load(rig, "1", number, ["C1/1"], ["SUB-L1.lower"])


@pytest.mark.parametrize("name", ["A1.1", "A8", "P4"])
def test_what_was_answered_with_no_is_not_asked_again_in_the_same_night(name: str, tmp_path) -> None:
    """Not of the plan taken instead, once the first is undone, nor from the rig's file."""
    before = recovery.mark(preset("hall"), [name], WHEN)
    first = recover(before, proof=False).best
    rig = recovery.take(before, [name], first.moves, first.title, WHEN)
    questions = asked(rig)
    assert questions
    for number in questions:
        rig = recovery.tick(rig, "1", number)
    undone = recovery.with_ticks_of(before, rig)
    save(undone, tmp_path / "rig.toml")
    for again in (undone, load(tmp_path / "rig.toml")):
        plan = recover(again, proof=False).best
        assert not asked(recovery.take(again, [name], plan.moves, plan.title, WHEN))
    for number in questions:
        rig = recovery.tick(rig, "1", number)
    open_ = recovery.with_ticks_of(before, rig)
    assert asked(recovery.take(open_, [name], first.moves, first.title, WHEN)), "no longer ticked, it is open"


def test_what_was_found_out_of_a_later_failure_is_not_known_of_an_earlier_one_of_the_same_thing() -> None:
    """Undone back to where it had failed before, when nobody knew yet that its load is good."""
    before = preset("hall")
    first = recovery.mark(before, ["A1.1"], WHEN)
    heard = recovery.hear(before, {"unplug C1": "protect"})
    for when, known in ((f"{WHEN}:30", False), (WHEN, True)):
        later = recovery.mark(heard, ["A1.1"], when)
        assert later.failures["A1.1"].good
        undone = recovery.with_ticks_of(first, later)
        assert bool(undone.failures["A1.1"].good) == known


def test_what_hangs_on_a_circuit_that_holds_after_a_reset_comes_back_one_at_a_time() -> None:
    """It was switched off before the reset, so that it does not start all at once."""
    before = preset("hall")
    after = taken(before, "P4")
    assert (
        after.lists[-1]
        .steps[0]
        .words.endswith("with all that hangs on it switched off. If it holds, stop here.")
    )
    back = recovery.plays_again(after, "1", 0)
    assert recovery.failed(back) == ()
    kinds = [(step.kind, step.at) for step in back.lists[-1].steps]
    assert [at for kind, at in kinds if kind == "switch on"] == [("A7",), ("A8",)]
    assert {name for kind, at in kinds if kind == "turn up" for name in at} == {
        f"A{a}.{n}" for a in (7, 8) for n in range(1, 5)
    }
    while back.lists:
        back = recovery.tick(back, back.lists[-1].id, back.lists[-1].following)
    assert back == before
