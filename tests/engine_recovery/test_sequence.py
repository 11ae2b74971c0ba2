"""The steps of a list: whatever fails, carried out by hand they lead to the rig meant, with nothing live handled and nothing left."""

import itertools
from collections.abc import Iterator, Sequence

import pytest
from msgspec.structs import replace

import rigs
from rackwright.engine import recovery
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.finding import Finding
from rackwright.engine.meter_check.meter import pair_test
from rackwright.engine.recovery import fail, failed, hear, mark, recover, repaired, sequence
from rackwright.engine.recovery.failure import place_of
from rackwright.engine.recovery.rewiring import apply, difference
from rackwright.engine.recovery.sequence import Action, Standing
from rackwright.engine.recovery.transition import Transition
from rackwright.model import edits
from rackwright.model.index import Index
from rackwright.model.lines import Spare
from rackwright.model.night import StepKind
from rackwright.model.rig import MoveTimes
from rackwright.units import Length

FAILURES = [
    ("hall", ("A1.1",)), ("hall", ("P1",)), ("hall", ("A9",)), ("hall", ("A1", "P1")), ("small-room", ("A1",)),
    ("outdoor-stage", ("A14",)), ("outdoor-stage", ("A13.2", "A11.3")), ("outdoor-stage", ("R5",)),
]  # fmt: skip


def carried_out(then: Assessed, now: Assessed, actions: tuple[Action, ...], was: Standing) -> Standing:
    """What is down, off and unplugged after those steps, done one by one by somebody who has eyes."""
    down, off, pulled, muted = set(was.down), set(was.off), set(was.pulled), set[str]()
    rig, change = then.index.rig, Transition(then, now)
    for step, moves in actions:
        at = set(step.at)
        match step.kind:
            case "mute":
                muted |= at
            case "unmute":
                assert at <= muted
                muted -= at
            case "turn down":
                down |= at
            case "turn up":
                assert at <= down
                amplifiers = {now.branches[name].amplifier.id for name in at}
                assert not amplifiers & off, "brought up with its amplifier off"
                assert all(now.branches[name].live for name in at), "brought up dead"
                down -= at
            case "switch off":
                off |= at
            case "pull mains":
                off |= at
                pulled |= at
            case "plug mains":
                assert at <= pulled
                pulled -= at
            case "start" | "switch on":
                assert at <= off
                off -= at
                pulled -= at
                assert len(at) == 1, "several amplifiers started at once"
                down |= {name for name, branch in now.branches.items() if branch.amplifier.id in at}
        for move in moves:
            if move.kind in ("mode", "amplifier", "circuit"):
                amplifier = then.index.channels[move.at].amplifier if move.kind == "mode" else move.at
                assert amplifier in off or step.kind == "start"
            for state in (then, now):
                for name in change.handled(move):
                    branch = state.branches.get(name)
                    if branch is None or branch.feed is None or branch.second_of_bridge:
                        continue
                    assert name in down or branch.amplifier.id in off or branch.feed.id in muted, (
                        "handled live"
                    )
        rig = apply(rig, moves)
    assert difference(rig, now.index.rig) == ()
    assert not muted
    return Standing(frozenset(down), frozenset(off), frozenset(pulled))


def unsafe(broken: Assessed, after: Assessed, done: Sequence[Action]) -> Iterator[Finding]:
    """The stops that stand at some step and in neither rig, each step assessed with what is silent in it.

    Stops of what is muted or off at that step don't count: nothing comes out of it.
    """
    known = {(f.code, f.at) for each in (broken, after) for f in each.findings if f.severity == "stop"}
    swapped = {move.at for _, moves in done for move in moves if move.kind == "amplifier"}
    still = failed(after.index.rig)
    works = [name for name in failed(broken.index.rig) if name not in still]
    index = broken.index
    rig = repaired(
        index.rig, [name for name in works if index.thing_at(place_of(index, name)) not in swapped]
    )
    prior: Assessed = after
    was = sequence.standing(broken)
    down, off, outputs = set(was.down), set(was.off), set[str]()
    for step, moves in done:
        held: dict[StepKind, tuple[set[str], bool]] = {
            "mute": (outputs, True), "unmute": (outputs, False), "turn down": (down, True), "turn up": (down, False),
            "switch off": (off, True), "pull mains": (off, True), "switch on": (off, False), "start": (off, False),
        }  # fmt: skip
        if step.kind in held:
            things, silent = held[step.kind]
            (things.update if silent else things.difference_update)(step.at)
        rig = apply(rig, moves)
        prior = assess(rig, prior)
        for finding in prior.findings:
            if finding.severity != "stop":
                break
            section = prior.sections.get(finding.at)
            branch = prior.branches.get((section.patched or "") if section else finding.at)
            hushed = branch is not None and (
                branch.id in down or branch.amplifier.id in off or branch.result.feed in outputs
            )
            if (finding.code, finding.at) not in known and not hushed and finding.at not in off:
                yield finding


@pytest.mark.parametrize(("preset", "names"), FAILURES)
def test_the_steps_of_every_plan_and_its_return_are_safe_and_complete(presets, recovered, preset, names):
    found = recovered(preset, *names)
    for plan in found.plans:
        moves = difference(found.broken.index.rig, plan.rig)
        there = [*sequence.actions(Transition(found.broken, plan.assessment, names), moves)]
        left = carried_out(found.broken, plan.assessment, there, Standing())
        assert (left.off, left.pulled) == sequence.standing(plan.assessment)[1:]
        assert not list(unsafe(found.broken, plan.assessment, there))
        back = difference(plan.rig, presets[preset])
        actions = sequence.actions(Transition(plan.assessment, found.before), back)
        after = carried_out(plan.assessment, found.before, actions, left)
        assert not after.off
        assert not after.pulled
        playing = {b.id for b in found.before.branches.values() if b.live and b.sections}
        assert not after.down & playing


@pytest.mark.parametrize("name", ["P1", "L1"])
def test_what_made_a_circuit_or_a_phase_go_dead_is_asked_first(presets, name):
    for plan in recover(presets["hall"], [name], proof=False).plans:
        said = plan.steps[0].words
        assert said.startswith(f"Find out why {name} went dead")
        elsewhere = any(move.kind == "circuit" for move in plan.moves)
        assert ("before plugging its amplifiers in elsewhere" in said) == elsewhere


def test_a_board_that_no_amplifier_hangs_on_is_not_asked_about_before_a_line_is_replaced(presets):
    plan = recover(presets["outdoor-stage"], ["D4", "C58"], proof=False).best
    assert not any("D4" in step.words for step in plan.steps)


def test_a_step_says_where_what_from_what_to_what_and_how_long_who_is_silent(recovered):
    found = recovered("hall", "A1.1")
    plan = next(plan for plan in found.plans if "now" in plan.roles)
    dead, check, down, patch, up = sequence.steps(found.broken, plan.assessment, plan.moves, ["A1.1"])
    assert (dead.kind, dead.where, dead.quiet) == ("turn down", "rack R1", "")
    assert check.words.startswith(
        "Is it the load? Take pole pair 1 of socket R1-1 off A1.1 and look whether A1.1 recovers."
    )
    assert down.quiet == "SUB-L1.lower silent for about 26 s"
    assert patch.words == (
        "Re-patch pole pair 1 of socket R1-1 from channel A1.1 to channel A1.2 (unit 1). It leads to SUB-L1."
    )
    assert up.words == "Turn channel A1.2 (unit 1) up slowly, to 0 dB: SUB-L1."


def test_what_plays_is_silent_for_its_own_move_alone_and_never_for_a_check(presets):
    found = recover(presets["outdoor-stage"], ["A10.3"])
    steps = found.best.steps
    quiet = [step.quiet for step in steps if step.quiet]
    assert [text.count("high") for text in quiet] == [
        3,
        3,
        3,
    ]  # the load of a channel that takes one on, at a time
    [check] = [step for step in steps if step.kind == "check"]
    assert check.words.startswith(
        "Is it the load? Take pole pair 2 of sockets R4-7, R4-8 and R4-9 off A10.3 and look whether A10.3 recovers."
    )
    assert steps.index(check) < next(i for i, step in enumerate(steps) if step.quiet)
    # A line carries what plays, too: only a plug that is moved, with all on it turned down, is unplugged for the check.
    steps = recover(presets["outdoor-stage"], ["A1.1"], proof=False).best.steps
    assert not any("nplug" in step.words for step in steps)


def test_amplifiers_of_a_dead_circuit_come_back_rack_by_rack(presets):
    steps = recover(presets["outdoor-stage"], ["P6"], proof=False).best.steps
    places = [step.where for step in steps if step.where.startswith("rack")]
    assert len({*places}) > 1
    assert len({*places}) == len([i for i, place in enumerate(places) if i == 0 or places[i - 1] != place])


def test_what_plays_on_comes_back_before_the_next_is_silent(presets):
    rig = presets["outdoor-stage"]
    found = recover(rig, ["A7.1"], proof=False)
    back = sequence.steps(found.best.assessment, found.before, difference(found.best.rig, rig))
    for steps in (found.best.steps, back):
        quiet = [i for i, step in enumerate(steps) if step.quiet]
        assert all(
            any(step.kind == "turn up" for step in steps[one:other])
            for one, other in itertools.pairwise(quiet)
        )
        assert max(step.silent_for for step in steps) < 90  # all three were silent for two minutes


def test_a_spare_is_brought_and_set_before_anything_is_silent_for_it(presets):
    rig = presets["outdoor-stage"]
    found = recover(rig, ["A16.3"], proof=False)
    _, check, bring, off, swap, *_ = found.best.steps
    assert check.words.startswith("Is it the load? Take pole pair 1 of socket")  # the spare may take it on
    assert bring.words.startswith("Bring the spare amp-4ch-1200 to unit 2 and set it as A16 is set")
    assert (bring.kind, bring.quiet, swap.quiet) == ("prepare", "", "")
    assert 0 < off.silent_for < bring.seconds + off.seconds + swap.seconds


def test_a_new_line_is_laid_before_its_output_is_muted():
    kept = {"length": Length.parse("10 m"), "cable": "4x2.5"}
    rig = rigs.rig(
        rigs.amplifier("A1", "sub", "", model="duo"), rigs.cabinet("C1", "woofer"), rigs.cabinet("C2", "woofer"),
        rigs.socket("S1", "A1.1", "A1.1"), rigs.line("L1", "S1", "C1"), rigs.line("L2", "C1", "C2"), spares=(Spare(count=1, **kept),),
    )  # fmt: skip
    found = recover(rig, ["L2"], proof=False)
    kinds = [step.kind for step in found.best.steps]
    assert kinds == ["prepare", "mute", "move", "unmute"]
    assert (
        found.best.steps[1].silent_for == 36.0
    )  # mute, two plugs, unmute: the 30 s of laying it are not in it


def test_a_link_is_laid_first_then_its_outputs_are_muted_for_the_plugs_alone(presets):
    steps = recover(presets["outdoor-stage"], ["C78"], proof=False).best.steps
    assert [step.kind for step in steps] == ["prepare", *["mute"] * 3, "move", *["unmute"] * 3]
    assert max(step.silent_for for step in steps) < 60  # it was over three minutes


@pytest.mark.parametrize("known", ["answer", "unplugged", "reading", "nothing"])
def test_a_load_that_read_good_or_played_since_the_failure_is_not_tested_again(presets, known):
    rig = presets["hall"]
    if known == "answer":
        rig = hear(rig, {"swap R1-1": "moves"})
    if known == "unplugged":
        rig = hear(rig, {"unplug C1": "protect"})
    rig = mark(rig, ["A1.1"], "2026-05-01 21:40")
    if known == "reading":
        expected = pair_test(Index(rig), Index(rig).lines["C1"], 0).expected
        likely = f"{expected.likely:.2f} ohm"
        rig = edits.note_reading(rig, "C1", 1, ohms=likely, when="2026-05-01 21:42")
    plan = next(plan for plan in recover(rig, proof=False).plans if "now" in plan.roles)
    asked = [step for step in plan.steps if step.kind == "check"]
    assert bool(asked) == (known == "nothing")


def test_a_broken_link_is_pulled_at_both_ends(presets):
    found = recover(presets["outdoor-stage"], ["C83"], proof=False)
    [laid] = [step for step in found.best.steps if step.kind == "move"]
    assert "Pull line C83 out of DELAY-R1 and DELAY-R2 first." in laid.words
    then = found.best.assessment
    back = sequence.steps(then, found.before, difference(then.index.rig, found.before.index.rig))
    [pulled] = [step for step in back if step.kind == "move"]
    assert pulled.words.startswith("Pull line C83-SPARE out of DELAY-R1 and DELAY-R2")


def test_a_way_is_walked_once_and_a_second_pair_of_hands_shortens_it(presets):
    rig, names = presets["outdoor-stage"], ["A13.2", "A1.1"]
    broken = assess(fail(rig, names))
    plan = recover(rig, names, proof=False).best
    moves = difference(broken.index.rig, plan.rig)
    places = [step.where for step in sequence.steps(broken, plan.assessment, moves)]
    assert len({*places}) == len([i for i, place in enumerate(places) if i == 0 or places[i - 1] != place])
    alone = sequence.lasting(sequence.steps(broken, plan.assessment, moves), rig)
    two = replace(broken.index.rig, targets=replace(rig.targets, crew=2))
    assert sequence.lasting(sequence.steps(assess(two), plan.assessment, moves), two) < alone
    assert recover(replace(rig, targets=two.targets), names, proof=False).best.seconds < plan.seconds


def test_a_song_gap_is_said_only_of_what_one_covers(presets, recovered):
    """30 s, common practice, no source; what goes silent until the return does so in a moment."""
    found = [plan for name in ("A1.1", "A10.3", "A1") for plan in recovered("outdoor-stage", name).plans]
    steps = [step for plan in found for step in plan.steps if step.quiet]
    told = {recovery.gap(step.silent_for): step.silent_for for step in steps}
    assert {*told} == {"in a song gap", "between acts or in the interval"}
    assert all(
        (step.silent_for <= 30) == (recovery.gap(step.silent_for) == "in a song gap") for step in steps
    )
    assert all("min" not in step.quiet for step in steps if recovery.gap(step.silent_for) == "in a song gap")


def test_a_time_is_offered_only_where_it_differs_by_more_than_ticks_are_noted_to():
    """Ticks are noted to 1 s: a mute of 3 s that took 2 s may have taken 3 s."""
    times = MoveTimes()
    for took, told in ((2, 0), (4, 0), (6, 1)):
        assert len(recovery.times_taken(times, [("mute", float(took))] * 3)) == told


def test_a_healthy_channel_on_a_dead_feed_is_turned_up_again_after_its_amplifier_was_off(presets):
    """Once the feed is back nobody is sent to the rack: FILL-1 would stay silent."""
    rig = presets["hall"]
    swapped = recover(rig, ["A11"], proof=False).best
    then, now = assess(fail(swapped.rig, ["front"])), assess(fail(rig, ["front"]))
    back = sequence.steps(then, now, difference(then.index.rig, now.index.rig))
    turned_up = {name for step in back if step.kind == "turn up" for name in step.at}
    assert {"A11.1", "A11.2", "A11.3"} <= turned_up
    [last] = [step for step in back if step.kind == "turn up"]
    assert last.words.endswith(": GAL-1 and GAL-2."), "only what plays is said to play"


def test_a_trim_is_set_slowly_only_where_the_channel_plays_meanwhile(presets):
    """Of a channel that is turned down, or that its output was taken off, nothing is heard."""
    rig = presets["hall"]
    for name in ("A10.3", "A8.1", "A11"):
        found = recover(rig, [name], proof=False)
        for plan in found.plans:
            for then, now in ((found.broken, plan.assessment), (plan.assessment, found.before)):
                down = set[str]()
                for action in sequence.actions(
                    Transition(then, now), difference(then.index.rig, now.index.rig)
                ):
                    step = action.step
                    down |= {*step.at} if step.kind == "turn down" else set()
                    down -= {*step.at} if step.kind == "turn up" else set()
                    if "it plays" in step.words:
                        assert not down & {*step.at}
                        assert now.branches[step.at[0]].sections
