"""A failure mid-show, by keys: the plans at once, one taken as one edit, its checklist, the way back."""

from msgspec.structs import replace

from rackwright.console import document
from rackwright.engine.recovery import fail, failed, recover
from rackwright.model.rig import Rig

from .hand import Hand, opened


def bare(rig: Rig) -> Rig:
    return replace(rig, checklists=())


async def lose(hand: Hand, name: str) -> None:
    await hand.find(name)
    await hand.press("f")


async def test_the_best_plan_is_taken_ticked_off_and_taken_back_under_the_edit_lock() -> None:
    async with opened(preset="hall") as hand:
        before = hand.rig
        await hand.press("L")
        await lose(hand, "A9.1")
        best = recover(fail(before, ["A9.1"])).best
        assert "A9.1 failed: MON-1.low silent" in hand.words
        assert best.title in hand.words
        assert best.checklist[0].words.partition(".")[0] in hand.words
        await hand.press("enter")
        assert bare(hand.rig) == best.rig
        for number in range(len(best.checklist)):
            assert f"{number} of {len(best.checklist)} done" in hand.text
            await hand.press("enter" if number % 2 else "space")
        assert "All done." in hand.words
        await hand.press("b", "b")
        assert bare(hand.rig) == before
        assert best.way_back[0].words in hand.words
        await hand.press("delete", "y")
        assert hand.rig == before
        assert "EDIT LOCK" in hand.foot


async def test_arrows_compare_the_plans_and_the_second_can_be_taken() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        before = hand.rig
        await lose(hand, "A9.1")
        plans = recover(fail(before, ["A9.1"])).plans
        shown = [hand.words]
        await hand.press("down")
        shown.append(hand.words)
        assert shown[0] != shown[1]
        assert all("before failed after" in words for words in shown)
        await hand.press("enter")
        assert bare(hand.rig) == plans[1].rig
        await hand.press("escape")
        assert f"list 0 of {len(plans[1].checklist)}" in hand.foot


async def test_a_plan_is_one_edit_that_undo_takes_back_even_under_the_lock() -> None:
    async with opened(preset="hall") as hand:
        before = hand.rig
        await hand.press("L")
        await lose(hand, "A9.1")
        await hand.press("enter", "enter", "escape", "u", "u")
        assert hand.rig == fail(before, ["A9.1"])
        await hand.press("u")
        assert hand.rig == before
        await hand.press("U", "U", "U")
        assert hand.rig.checklists[0].ticked == 1


async def test_amplifiers_circuits_and_racks_fail_as_a_whole() -> None:
    async with opened(preset="hall") as hand:
        before = hand.rig
        for name in ("A3", "P5", "R1"):
            await lose(hand, name)
            assert set(failed(hand.rig)) == set(failed(fail(before, [name])))
            assert "before failed after" in hand.words
            await hand.press("escape", "u")
            assert hand.rig is before


async def test_what_nothing_hangs_on_asks_for_no_plan() -> None:
    async with opened(preset="hall") as hand:
        unused = next(f.at for f in hand.session.assessment.findings if f.code == "channel-unused")
        await lose(hand, unused)
        assert f"{unused} marked failed: nothing is silent." in hand.text


async def test_the_checklist_is_there_after_a_crash() -> None:
    async with opened(preset="hall") as hand:
        await lose(hand, "A9.1")
        await hand.press("enter", "enter")
        left = hand.rig
        hand.workplace.document.close()
    (found,) = document.leftovers()
    assert found.rig() == left
    async with opened() as hand:
        await hand.press("enter")
        assert "Press R to continue it." in hand.words
        await hand.press("R")
        assert f"1 of {len(left.checklists[0].steps)} done" in hand.text


async def test_a_failed_channel_with_a_plan_asks_whether_it_is_mended() -> None:
    async with opened(preset="hall") as hand:
        before = hand.rig
        await lose(hand, "A9.1")
        await hand.press("enter", "escape", "f")
        assert "its list is" in hand.words
        await hand.press("b")
        assert bare(hand.rig) == before


async def test_recover_with_nothing_failed_says_how_to_begin() -> None:
    async with opened(preset="hall") as hand:
        await hand.press("R")
        assert "Nothing has failed." in hand.text


async def test_a_half_done_list_opens_at_its_first_open_step_and_enter_unticks_none() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await lose(hand, "A9.1")
        await hand.press("enter", "enter", "enter", "escape", "R", "enter")
        assert [step.done for step in hand.rig.checklists[0].steps[:4]] == [True, True, True, False]
        await hand.press("home", "enter")
        assert "Step 1 is ticked. Press space to untick it." in hand.words
        assert hand.rig.checklists[0].ticked == 3
        await hand.press("space")
        assert [step.done for step in hand.rig.checklists[0].steps[:4]] == [False, True, True, False]


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


async def test_a_return_is_offered_only_where_it_is_that_of_the_list() -> None:
    async with opened(preset="hall") as hand:
        for name in ("A9", "A1.1", "A1.2", "A4.2"):
            await lose(hand, name)
            await hand.press("enter")
            assert f"{name}: " in hand.words
            await hand.press("escape")
        rig = hand.rig
        await lose(hand, "A1.1")
        assert (
            "A1.1 is marked failed, and its list is: A1.1: share a channel. Its return can't be taken now."
            in hand.words
        )
        assert 'Take the return of the later list "A1.2: share a channel" first' in hand.words
        await hand.press("b", "c", "b")
        assert 'Take the return of the later list "A1.2: share a channel" first' in hand.words
        assert hand.rig == rig
        await hand.press("escape")
        await lose(hand, "A4.2")
        assert "b A4.2 is repaired and tested: take the return" in hand.words
        await hand.press("b")
        assert failed(hand.rig) == ("A1.1", "A1.2")


async def test_a_list_for_several_failures_says_so_before_its_return() -> None:
    async with opened(preset="hall") as hand:
        await lose(hand, "A1.1")
        await hand.press("escape")
        await lose(hand, "A4.2")
        await hand.press("enter", "escape")
        await lose(hand, "A1.1")
        assert "b A1.1 and A4.2 are repaired and tested: take the return" in hand.words


async def test_keys_typed_ahead_of_the_plans_reach_them() -> None:
    async with opened(preset="hall") as hand:
        before = hand.rig
        await hand.find("A9.1")
        await hand.burst("f", "down", "enter", "enter")
        plan = recover(fail(before, ["A9.1"])).plans[1]
        assert bare(hand.rig) == plan.rig
        assert hand.rig.checklists[0].ticked == 1
