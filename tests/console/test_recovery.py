"""A failure mid-show, by keys: the plans at once, one taken as one edit, its list, the return."""

import datetime
import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from msgspec.structs import replace

import rigs
from rackwright.console import leftovers
from rackwright.console.rows import recovery as view
from rackwright.console.rows import rehearsal
from rackwright.console.screens.night_list import ListTable
from rackwright.console.screens.plans import Plans
from rackwright.console.terminal.glyphs import ASCII
from rackwright.console.widgets.pane import Pane
from rackwright.engine import cautions, recovery
from rackwright.engine.recovery import (
    Recovery,
    Rehearsal,
    baseline,
    fail,
    failed,
    in_turn,
    pending,
    recover,
    stages,
)
from rackwright.engine.recovery.night import found, tick
from rackwright.model import edits
from rackwright.model.night import NightList, Step
from rackwright.model.rig import Rig
from rackwright.store import night_log, rig_file
from rackwright.store.night_log import Event
from rackwright.units import Trim
from shipped import preset

from .hand import Hand, opened


def bare(rig: Rig) -> Rig:
    return replace(rig, night=())


async def lose(hand: Hand, name: str, *then: str) -> None:
    """Have it fail; keys that leave its plans, typed right behind, end the search for better ones."""
    await hand.find(name)
    await hand.burst("f", *(["f"] if "." in name else []), *then)


async def test_the_best_plan_is_taken_ticked_off_and_returned_under_the_edit_lock() -> None:
    async with opened(preset="hall") as hand:
        before = hand.rig
        await hand.press("L")
        await lose(hand, "A9.1")
        best = recover(fail(before, ["A9.1"])).best
        assert "A9.1 failed: MON-1.low silent" in hand.words
        assert best.first in hand.words
        assert best.steps[0].words.partition(".")[0] in hand.words
        await hand.press("enter")
        assert bare(hand.rig) == best.rig
        for number in range(len(best.steps)):
            assert f"{number} of {len(best.steps)} done" in hand.text
            await hand.press("enter" if number % 2 else "space")
        assert "All done." in hand.words
        await hand.press("b", "b")
        assert bare(hand.rig) == before
        (returned,) = hand.rig.lists
        assert returned.steps[0].words.partition(" (")[0] in hand.words
        await hand.press(*["enter"] * (len(returned.steps) + 2))
        assert hand.rig == before
        assert "All done: the rig is as before the failure. Press esc to close." in hand.words
        await hand.press("escape")
        assert "EDIT LOCK" in hand.foot
        await hand.press("s")
        assert "Marks, plans and ticks are kept as you make them; press L, then s saves" in hand.words


async def test_in_a_small_window_plans_and_list_say_of_which_failure_they_are() -> None:
    """The frame goes first where there is little room; what it alone tells stays."""
    async with opened(preset="hall", size=(60, 20)) as hand:
        await lose(hand, "A9.1")
        assert hand.text.splitlines()[0].strip("━ ") == "A9.1 failed: MON-1.low silent"
        await hand.press("enter")
        assert re.match(r"\W*A9\.1, 0 of \d done", hand.text.splitlines()[0])


async def test_what_the_first_plan_is_worth_is_said_whole_in_a_narrow_window() -> None:
    async with opened(preset="small-room", size=(60, 24)) as hand:
        await hand.find("A1")
        await hand.press("f")
        assert isinstance(hand.screen, Plans)
        assert hand.screen.found is not None
        assert hand.screen.found.told in hand.words
        await hand.press("z")
        assert "z does nothing here: esc closes the plans." in hand.words


async def test_arrows_compare_the_plans_and_the_second_can_be_taken() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        before = hand.rig
        await lose(hand, "A9.1")
        plans = recover(fail(before, ["A9.1"])).plans
        shown = [hand.words]
        await hand.press("down")
        shown.append(hand.words)
        assert shown[0] != shown[1]
        assert all(f"{plan.seconds:.0f} s" in words for plan, words in zip(plans, shown, strict=False))
        await hand.press("enter")
        assert bare(hand.rig) == plans[1].rig
        await hand.press("escape")
        assert f"list 0 of {len(plans[1].steps)}" in hand.foot
        assert "silent" not in hand.foot
        await hand.press("u", "R", "end", "enter", "escape")
        assert "some stay silent" in hand.foot


async def test_of_every_plan_the_caution_and_the_first_moves_are_seen_and_nothing_of_it_is_cut() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        for name in ("A1", "A9.1", "P5", "TOP-R1.high"):
            await lose(hand, name)
            found = hand.screen.found  # type: ignore[attr-defined]
            for plan in found.plans:
                assert cautions.SMOKE in hand.words
                assert all(f"[ ] {number}." in hand.text for number in (1, 2)[: len(plan.steps)])
                assert "…" not in hand.text
                assert all(word in hand.words for word in f"{plan.opening} {plan.shown_as}".split())
                await hand.press("down")
            await hand.press("escape", "u")


async def test_the_first_plan_takes_few_bytes_from_the_key() -> None:
    """0.3 s of a link of 9 600 B/s; the frames of the screen alone are a third of it."""
    async with opened(preset="hall", size=(80, 24), painted=True) as hand:
        sent: list[str] = []
        less = hand.app.painting.less
        await hand.find("A9")
        with patch.object(hand.app.painting, "less", lambda frame: sent.append(less(frame)) or sent[-1]):
            await hand.press("f")
        assert "[ ] 1." in hand.text
        assert len("".join(sent).encode()) < 2900


async def test_the_head_names_what_failed_last_and_what_fell_silent_for_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(recovery, "recover", lambda rig, **more: recover(rig, **more | {"proof": False}))
    async with opened(preset="hall", size=(80, 24)) as hand:
        await lose(hand, "A1.1", "escape")
        await lose(hand, "A9.1")
        assert hand.words.startswith("A9.1 and A1.1 failed: ")
        await hand.press("end", "enter", "escape")
        assert hand.rig.lists[-1].title == "A9.1 and A1.1: leave it off"
        await lose(hand, "MON-2.high")
        assert "MON-2.high failed: MON-2.high silent, " in hand.words
        assert "from before" in hand.words


async def test_what_is_left_as_it_is_opens_no_list_and_is_noted(tmp_path: Path) -> None:
    path = tmp_path / "hall.toml"
    rig_file.save(preset("hall"), path)
    async with opened(path, size=(80, 24)) as hand:
        await lose(hand, "MON-2.high")
        assert "No steps. Take it, and the night log notes it as decided." in hand.words
        await hand.press("enter")
        assert hand.screen is hand.workplace
        assert "Decided and noted in the night log: MON-2.high left as it is." in hand.words
        await hand.press("f")
        assert failed(hand.rig) == ()
        assert "MON-2.high is marked working again." in hand.words
        assert not hand.rig.lists
    events = [event.event for event in night_log.read(night_log.path_of(path))]
    assert events[:2] == ["failed", "decided"]


async def test_what_a_spare_stands_in_for_is_returned_where_the_spare_is() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        before = hand.rig
        await lose(hand, "A1", "enter", "escape", "f")
        assert "A spare stands in for A1. 5 of 5 steps are not ticked: the return counts" in hand.words
        await hand.press("f")
        assert failed(hand.rig) == ("A1",)
        await hand.press("escape", "u", "f", "b")
        assert bare(hand.rig) == before


async def test_a_line_that_a_spare_stands_in_for_is_returned_where_the_spare_lies() -> None:
    async with opened(preset="outdoor-stage", size=(80, 24)) as hand:
        before = hand.rig
        await hand.find("C78")
        await hand.press("f", "f", "enter", "escape")
        assert failed(hand.rig) == ()
        await hand.find("C78-SPARE")
        await hand.press("f")
        assert "A spare stands in for C78." in hand.words
        await hand.press("b")
        assert bare(hand.rig) == before


async def test_that_all_is_done_is_seen_below_a_list_that_is_longer_than_the_screen() -> None:
    async with opened(preset="hall", size=(80, 16)) as hand:
        await lose(hand, "A1", "enter")
        steps = len(hand.rig.lists[0].steps)
        assert len(hand.screen.query_one(Pane).rows) > 20
        await hand.press(*["enter"] * steps)
        assert "All done. Press esc to close" in hand.words
        await hand.press("enter", "space")
        assert hand.rig.lists[0].ticked == steps
        await hand.press("up", "space")
        assert hand.rig.lists[0].ticked == steps - 1
        await hand.press("b", "b")
        (back,) = hand.rig.lists
        await hand.press(*["enter"] * (len(back.steps) - 1))
        assert hand.screen.query_one(Pane).scroll_offset.y > 0
        await hand.press("enter")
        assert "All done: the rig is as before the failure. Press esc to close." in hand.words


async def test_a_plan_is_one_edit_that_undo_undoes_even_under_the_lock_and_no_undo_unticks() -> None:
    async with opened(preset="hall") as hand:
        before = hand.rig
        await hand.press("L")
        await lose(hand, "A9.1", "enter", "enter", "escape", "u")
        assert bare(hand.rig) == fail(before, ["A9.1"])
        await hand.press("u")
        assert hand.rig == before
        await hand.press("U", "U")
        assert hand.rig.lists[0].ticked == 1
        await lose(hand, "A1.1", "enter", "escape", "R", "enter", "enter", "escape", "u", "u")
        assert [each.ticked for each in hand.rig.lists] == [2]


async def test_amplifiers_circuits_and_racks_fail_as_a_whole() -> None:
    async with opened(preset="hall") as hand:
        before = hand.rig
        for name in ("A3", "P5", "R1"):
            await lose(hand, name)
            assert set(failed(hand.rig)) == set(failed(fail(before, [name])))
            assert "Before Failed After" in hand.words
            await hand.press("escape", "u")
            assert hand.rig is before


async def test_no_better_plans_are_looked_for_once_they_are_left(monkeypatch: pytest.MonkeyPatch) -> None:
    """A proof that takes its time would share the processor with what is done next."""
    told: list[str] = []

    def slow(*given: Any, between: Callable[[], None], **more: Any) -> Iterator[Recovery]:
        found = in_turn(*given, **more)
        for which in ("first", "others"):
            yield next(found)
            told.append(which)
        for _ in range(20_000):
            time.sleep(0.001)
            between()
        told.append("proof")
        yield next(found)

    monkeypatch.setattr(recovery, "in_turn", slow)
    async with opened(preset="hall") as hand:
        await hand.find("A9")
        await hand.burst("f", "escape")
        assert "A9 stays marked failed" in hand.words
    assert "proof" not in told


async def test_a_rehearsal_goes_no_further_once_it_is_left(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[Rehearsal] = []

    def slow(*_: Any, between: Callable[[], None], **__: Any) -> Iterator[Rehearsal]:
        for _ in range(20_000):
            time.sleep(0.001)
            between()
        told.append(Rehearsal(failures=(), stage="proof", done=1, total=1))
        yield told[0]

    monkeypatch.setattr(recovery, "stages", slow)
    async with opened(preset="small-room") as hand:
        await hand.burst("F", "escape")
        assert hand.screen is hand.workplace
    assert not told


async def test_a_rehearsal_of_what_does_not_play_says_so(tmp_path: Path) -> None:
    rig_file.save(rigs.rig(rigs.amplifier("A1", "mid", "")), tmp_path / "idle.toml")
    async with opened(tmp_path / "idle.toml") as hand:
        await hand.press("F")
        assert "Nothing plays that a failure could silence." in hand.words
        await hand.press("enter", "escape")
        assert hand.screen is hand.workplace


async def test_what_nothing_hangs_on_asks_for_no_plan() -> None:
    async with opened(preset="hall") as hand:
        unused = next(f.at for f in hand.session.assessment.findings if f.code == "channel-unused")
        await lose(hand, unused)
        assert f"{unused} marked failed: nothing is silent." in hand.text


async def test_the_list_is_there_after_a_crash() -> None:
    async with opened(preset="hall") as hand:
        await lose(hand, "A9.1", "enter", "enter")
        left = hand.rig
        hand.workplace.document.close()
    (found,) = leftovers.leftovers()
    assert found.rig() == left
    async with opened() as hand:
        await hand.press("enter")
        assert "Press R to continue it." in hand.words
        await hand.press("R")
        assert f"1 of {len(left.lists[0].steps)} done" in hand.text


async def test_a_failed_channel_with_a_plan_asks_whether_it_is_repaired_and_returned_now() -> None:
    async with opened(preset="hall") as hand:
        before = hand.rig
        await lose(hand, "A9.1", "enter", "escape", "f")
        assert "its list is" in hand.words
        await hand.press("b")
        assert bare(hand.rig) == before


async def test_a_return_may_wait_for_the_interval_and_stands_at_the_foot_until_then() -> None:
    async with opened(preset="hall", size=(100, 30)) as hand:
        before = hand.rig
        await lose(hand, "A9.1", "enter", "escape", "f", "l")
        assert "A9.1 is repaired. The return is pending for the interval: press R then." in hand.words
        await hand.press("down")
        assert "A9.1 repaired, return in the interval" in hand.foot
        await hand.press("R", "enter")
        assert "The return silences 1 section that plays, for up to" in hand.words
        await hand.press("l")
        assert pending(hand.rig) == ("A9.1",)
        await hand.press("R", "enter", "b")
        assert bare(hand.rig) == before


async def test_a_plan_may_be_kept_as_it_is() -> None:
    async with opened(preset="hall") as hand:
        await lose(hand, "A1.1", "down", "enter", "escape")
        wired = hand.rig
        await hand.press("f", "k")
        assert failed(hand.rig) == ()
        assert hand.rig.sockets() == wired.sockets()
        assert baseline(hand.rig) == bare(hand.rig)


async def test_a_step_out_of_order_asks() -> None:
    async with opened(preset="hall") as hand:
        await lose(hand, "A9.1", "enter", "down", "space")
        assert "Step 1 is not done: Turn channel" in hand.words
        assert hand.rig.lists[0].ticked == 0
        await hand.press("y")
        assert [step.done for step in hand.rig.lists[0].steps[:2]] == [False, True]


async def test_an_edit_by_hand_asks_whether_it_is_for_tonight() -> None:
    async with opened(preset="hall") as hand:
        before = hand.rig
        await lose(hand, "A9.1", "enter", "escape")
        hand.workplace.editor.make(
            "trim of A1.1", lambda rig: edits.change(rig, "A1.1", trim=Trim.parse("-3 dB"))
        )
        await hand.settle()
        assert "Is this for tonight or for good: trim of A1.1?" in hand.words
        await hand.press("t")
        assert hand.rig.amplifiers()[0].channel(0).trim.value == -3.0
        await lose(hand, "A9.1", "b")
        assert bare(hand.rig) == before


async def test_beside_the_steps_each_figure_of_a_plan_has_its_whole_name() -> None:
    async with opened(preset="hall", size=(110, 30)) as hand:
        await hand.find("A9.1")
        await hand.press("f", "f")
        for name in (
            "Silent sections",
            "mix1-low, quietest",
            "Lowest damping there",
            "Most loaded circuit",
        ):
            assert f"{name} " in hand.text


async def test_recover_with_nothing_failed_says_how_to_begin() -> None:
    async with opened(preset="hall") as hand:
        await hand.press("R")
        assert "Nothing has failed." in hand.text


async def test_a_half_done_list_opens_at_its_first_open_step_and_enter_unticks_none() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await lose(hand, "A9.1", "enter", "enter", "enter", "escape", "R", "enter")
        assert [step.done for step in hand.rig.lists[0].steps[:4]] == [True, True, True, False]
        await hand.press("home", "enter")
        assert "Step 1 is ticked. Press space to untick it." in hand.words
        assert hand.rig.lists[0].ticked == 3
        await hand.press("space")
        assert [step.done for step in hand.rig.lists[0].steps[:4]] == [False, True, True, False]


async def test_what_is_left_failed_says_which_key_marks_it_working() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        before = hand.rig
        await hand.find("A9")
        await hand.press("f", "escape")
        assert "A9 stays marked failed. Press R for the plans, or f on it to mark it working." in hand.words
        await hand.press("down", "up")
        assert "f working" in hand.foot
        await hand.press("f")
        assert hand.rig == before
        assert "f working" not in hand.foot


async def test_returns_come_in_any_order() -> None:
    async with opened(preset="hall") as hand:
        for name in ("A9", "A1.1", "A1.2"):
            await lose(hand, name, "enter")
            assert f"{name}: " in hand.words
            await hand.press("escape")
        for name, left in (("A1.1", ("A1.2",)), ("A1.2", ())):
            await lose(hand, name, "b", "escape")
            assert failed(hand.rig) == left
        await hand.press("R")
        assert "A9: " in hand.words


async def test_a_list_for_several_failures_is_returned_whole_or_for_one_of_them() -> None:
    async with opened(preset="hall") as hand:
        before = hand.rig
        await lose(hand, "A1.1", "escape")
        await lose(hand, "A4.2", "down", "enter", "b")
        assert "b A4.2 and A1.1 are repaired and tested: return now" in hand.words
        await hand.press("escape", "escape")
        await lose(hand, "A1.1")
        assert "b A1.1 is repaired and tested: return now" in hand.words
        await hand.press("b", "escape")
        assert failed(hand.rig) == ("A4.2",)
        await lose(hand, "A4.2", "b")
        assert bare(hand.rig) == before


async def test_what_is_returned_besides_is_said_where_a_return_is_taken() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        for name in ("A9.1", "A4.2"):
            await lose(hand, name, "enter", "escape")
        await lose(hand, "A9.1", "l")
        await lose(hand, "A4.2")
        assert "b A4.2 is repaired and tested: return now, with A9.1" in hand.words


async def test_keys_typed_ahead_of_the_plans_reach_them() -> None:
    async with opened(preset="hall") as hand:
        before = hand.rig
        await hand.find("A9.1")
        await hand.burst("f", "f", "down", "enter", "enter")
        plan = recover(fail(before, ["A9.1"])).plans[1]
        assert bare(hand.rig) == plan.rig
        assert hand.rig.lists[0].ticked == 1


async def test_what_is_continued_are_the_lists_that_are_not_done() -> None:
    async with opened(preset="hall") as hand:
        for name in ("A9.1", "A1.1"):
            await lose(hand, name, "enter", "escape")
        hand.session.tick(lambda rig: all_ticked(rig, "1"))
        await hand.press("R")
        assert "A1.1: " in hand.words
        assert "Continue which?" not in hand.words
        await hand.press("escape")
        hand.session.tick(lambda rig: all_ticked(rig, "2"))
        await hand.press("R")
        assert "Every list is done. Look at which?" in hand.words


def all_ticked(rig: Rig, name: str) -> Rig:
    while not (taken := found(rig, name)).done:
        rig = tick(rig, name, taken.following)
    return rig


async def test_what_steps_really_took_is_offered_at_the_lists_end_and_kept_by_one_key(tmp_path: Path) -> None:
    path = tmp_path / "hall.toml"
    rig_file.save(preset("hall"), path)
    start = datetime.datetime.now()
    times = [(start + datetime.timedelta(seconds=35 * n)).isoformat(timespec="seconds") for n in range(4)]
    events = [
        Event(time=time, by="AB", event="done", list="9", step=number, takes="repatch")
        for number, time in enumerate(times)
    ]
    night_log.append(night_log.path_of(path), events)
    async with opened(path) as hand:
        await lose(hand, "A9.1", "enter")
        assert "The night log goes on noting AB." in hand.words
        hand.session.tick(lambda rig: all_ticked(rig, "1"))
        await hand.press("escape", "R")
        assert "Re-patch a pole pair: took 35 s, median of 3; planned 20 s." in hand.words
        assert hand.words.count("keep times") == 1
        hand.session.lock_edits(True)
        hand.screen.redraw()
        assert "With the edit lock off, press t to keep" in hand.words
        assert "t keep times" not in hand.foot
        hand.session.lock_edits(False)
        await hand.press("escape", "R")
        assert "median of" not in hand.words, "it is offered once a night"
        await hand.press("t")
        assert hand.rig.targets.times.repatch.value == 35.0
        assert "median of" not in hand.words


async def test_initials_are_asked_once_and_stand_in_the_log_beside_the_file(tmp_path: Path) -> None:
    path = tmp_path / "hall.toml"
    rig_file.save(preset("hall"), path)
    async with opened(path) as hand:
        await lose(hand, "A9.1", "enter")
        assert "Your initials, for the night log" in hand.words
        await hand.press("A", "B", "enter", "enter", "escape", "R")
        assert "Your initials" not in hand.words
        hand.workplace.document.close()
    async with opened() as hand:  # after the link was lost
        await hand.press("enter", "R")
        assert "The night log goes on noting AB. Press i for other initials." in hand.words
    log = night_log.read(night_log.path_of(path))
    assert [(event.by, event.event) for event in log] == [("", "failed"), ("", "plan"), ("AB", "done")]


async def test_a_rehearsal_shows_the_worst_first_and_each_plan_with_its_steps_under_the_edit_lock(
    tmp_path: Path,
) -> None:
    rig = rigs.rig(
        rigs.amplifier("A1", "mid", "high"),
        rigs.amplifier("A2", "", "", unit=3),
        rigs.socket("S1", "A1.1", "A1.2"),
        rigs.line("L1", "S1", "TOP"),
        rigs.cabinet("TOP", "top", "straight"),
    )
    rig_file.save(rig, tmp_path / "one.toml")
    async with opened(tmp_path / "one.toml", size=(80, 24)) as hand:
        await hand.press("L", "F")
        rehearsed = [*stages(rig)][-1]
        for width in range(35, 80):
            heading = "".join(text for text, _ in rehearsal.failures(rehearsed, width, ASCII)[0].parts)
            assert heading.rstrip().endswith(("Takes", "What to do"))
            assert len(heading) <= width
        found = rehearsed.failures
        for proven, sure in (
            (True, "No plan of the moves searched is better."),
            (False, "A better plan may exist."),
        ):
            rows = rehearsal.told(replace(found[0], proven=proven), hand.session.assessment, 79)
            assert any(sure in text for row in rows for text, _ in row.parts)
        shown = [row.place for row in hand.screen.query_one(Pane).rows if row.place]
        assert shown == [failure.name for failure in found]
        assert {"A1", "A1.1", "P1", "R1", "L1"} <= {*shown}
        await hand.press(*["down"] * shown.index("A1"), "enter")
        assert "If amplifier A1 fails" in hand.words
        assert found[shown.index("A1")].plan.steps[0].words.partition(" (")[0] in hand.words
        await hand.resize(60, 24)
        assert re.search(r"power the amplifier down before\W+plugging, unplugging or patching", hand.text)
        await hand.press("escape")
        assert "Weight" in hand.text
        await hand.press("escape")
        assert "EDIT LOCK" in hand.foot


async def test_what_a_plan_leaves_silent_is_planned_for_again_once_its_list_is_done() -> None:
    """The plan for now is taken, that for the interval when it comes; both are returned together."""
    async with opened(preset="hall", size=(80, 24)) as hand:
        before = hand.rig
        await hand.find("A9.1")
        await hand.press("f", "f", "end", "enter")
        hand.session.tick(lambda rig: all_ticked(rig, "1"))
        await hand.press("escape", "R")
        assert "plans again for A9.1: 1 silent" in hand.words
        await hand.press("enter")
        assert "A9.1 failed: MON-1.low silent" in hand.words
        await hand.press("enter")
        assert [each.failed for each in hand.rig.lists] == [("A9.1",), ("A9.1",)]
        assert hand.session.assessment.sections["MON-1.low"].channel is not None
        hand.session.tick(lambda rig: all_ticked(rig, "2"))
        await hand.press("escape", "R")
        assert "plans again" not in hand.words
        await hand.press("escape", "f", "b")
        assert bare(hand.rig) == before


async def test_a_list_that_is_back_is_gone_on_with_at_its_first_open_step() -> None:
    """Where the console in control is lost and comes again it opens the file as it was saved before it recovers the rest."""
    async with opened(preset="hall", size=(80, 24)) as hand:
        await lose(hand, "A9.1", "enter", "enter", "enter")
        screen, with_list = hand.screen, hand.rig
        assert isinstance(screen, ListTable)
        for rig in (replace(with_list, night=()), with_list):
            hand.session.tick(lambda _, rig=rig: rig)
            screen.redraw()
            await hand.settle()
        assert screen.place == "2"


async def test_a_channel_that_drives_one_more_costs_the_racks_no_column() -> None:
    """At 80 columns, the night that a channel of three tops is dead and its load is shared out."""
    async with opened(preset="outdoor-stage", size=(80, 24)) as hand:
        await lose(hand, "A10.2", "enter", "escape")
        assert "TOP-R1, TOP-R2, TOP-R3 +1" in hand.text
        assert "Drives" in hand.text


async def test_a_question_is_answered_by_one_key_and_what_follows_is_said() -> None:
    """Yes: the load stays off, its channel works, the rest of the list is not done; u undoes it. No goes on."""
    async with opened(preset="hall", size=(80, 24)) as hand:
        before = hand.rig
        await hand.press("L")
        await lose(hand, "A1.1", "enter")
        first = hand.rig
        await hand.press("y")
        assert "This step asks nothing: enter ticks it." in hand.words
        await hand.press("enter")
        assert "enter no: go on" in hand.words
        assert "y yes: stop" in hand.words
        await hand.press("y")
        assert failed(hand.rig) == ("SUB-L1.upper=shorted",)
        assert "SUB-L1.upper marked shorted: C1/1 stays off. Press R" in hand.words
        await hand.press("u")
        assert hand.rig.lists[0].failed == ("A1.1",)
        assert hand.rig.lists[0].moves == first.lists[0].moves
        await hand.press("R", "enter")
        assert "y yes: stop" not in hand.words
        await hand.press("u", "u")
        assert bare(hand.rig) == bare(before)


async def test_what_plays_again_when_it_is_switched_on_ends_its_list() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        before = hand.rig
        await lose(hand, "A8", "enter")
        await hand.press("y")
        assert "A8 works again: the rest of the list is not done." in hand.words
        assert bare(hand.rig) == before


async def test_a_circuit_that_was_reset_works_again_and_its_amplifier_stays_failed() -> None:
    async with opened(preset="faults", size=(80, 24)) as hand:
        await hand.find("A4")
        await hand.press("space")
        await hand.find("P2")
        await hand.press("space", "f", "enter", "y")
        assert "P2 works again: the rest of the list is not done. Press R: plans for A4." in hand.words
        assert failed(hand.rig) == ("A4",)


async def test_what_nothing_hangs_on_is_in_no_plan_and_no_return_waits_for_it() -> None:
    async with opened(preset="outdoor-stage", size=(80, 24)) as hand:
        before = hand.rig
        await lose(hand, "D4")
        assert "D4 marked failed: nothing is silent." in hand.words
        await hand.press("R")
        assert "D4 marked failed: there is nothing to plan for it." in hand.words
        await lose(hand, "A17.4")
        assert "A17.4 failed: SIDE-TOP-R2.high silent" in hand.words
        await hand.press("enter")
        assert [each.failed for each in hand.rig.lists] == [("A17.4",)]
        await hand.press("escape")
        await hand.find("D4")
        await hand.press("f")
        assert "D4 is marked working again." in hand.words
        await hand.find("A17.4")
        await hand.press("f", "b")
        assert bare(hand.rig) == before


async def test_a_list_says_which_one_before_it_is_to_be_finished_first() -> None:
    """It begins where that ends: A3's mains lead lies unplugged until the first list is done."""
    async with opened(preset="hall", size=(80, 24)) as hand:
        await lose(hand, "P2", "enter")
        await hand.press("enter", "enter", "escape")
        await lose(hand, "A3", "enter")
        assert "First finish P2: plug in elsewhere: 2 of 7 done." in hand.words
        await hand.press("escape", "R")
        assert hand.words.index("list 1 P2") < hand.words.index("list 2 A3")
        hand.session.tick(lambda rig: all_ticked(rig, "1"))
        await hand.press("escape", "R")
        assert "0 of" in hand.words
        assert "First finish" not in hand.words


def test_a_list_says_how_long_ago_it_began() -> None:
    """To the second, and of what an earlier version noted to the minute."""
    shown = NightList(id="1", title="A1.1: share a channel", steps=(Step(words="Mute A1"),))
    began = datetime.datetime(2026, 5, 1, 21, 40)
    for seconds, told in ((50, "under 1 min gone"), (70, "about 1 min gone"), (600, "about 10 min gone")):
        first, *_ = view.title(shown, "2026-05-01 21:40", began + datetime.timedelta(seconds=seconds))
        assert first.endswith(told)
        first, *_ = view.title(shown, "2026-05-01 21:40:40", began + datetime.timedelta(seconds=40 + seconds))
        assert first.endswith(told)


async def test_what_fails_and_what_is_taken_is_noted_to_the_second_and_shown_to_the_minute() -> None:
    async with opened(preset="hall", size=(140, 45)) as hand:
        await lose(hand, "A9.1", "enter")
        for when in (hand.rig.failures["A9.1"].when, hand.rig.lists[0].when):
            assert datetime.datetime.fromisoformat(when).strftime("%Y-%m-%d %H:%M:%S") == when
        await hand.press("b")
        assert f"since {when[: len('2026-05-01 21:40')]}." in hand.words
        await hand.press("escape", "escape", "H")
        assert "mark A9.1 failed" in hand.words
        assert not re.search(r"\d:\d\d:\d\d", hand.words)


async def test_the_foot_of_a_list_offers_one_key_for_a_step() -> None:
    """Done where it is open, untick where it is ticked: two keys that tick were one too many to choose from."""
    async with opened(preset="hall", size=(80, 24)) as hand:
        await lose(hand, "A9.1", "enter")
        await hand.press("enter", "home")
        assert ("enter" in hand.foot, "space untick" in hand.foot) == (False, True)
        await hand.press("down")
        assert ("enter done" in hand.foot, "space" in hand.foot) == (True, False)
        await hand.press("space", "up")
        assert ("enter" in hand.foot, "space untick" in hand.foot) == (False, True)
        await hand.press("down")
        for _ in range(4):
            await hand.press("enter")
        assert "All done." in hand.words
        assert ("enter" in hand.foot, "space" in hand.foot) == (False, False)
