"""A plan taken: the checklist kept with the rig, its ticks, and the way back, also when more has failed since."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.engine.recovery import (
    fail,
    failed,
    go_back,
    named,
    planned,
    put_away,
    recover,
    take,
    tick,
    unplanned,
)
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.rig import Rig
from rackwright.store.rig_file import dumps, load, loads

from .small import failures, rigs_to_break

FOLDER = Path(__file__).parents[2] / "presets"
WHEN = "2026-05-01 21:40"


@pytest.fixture(scope="module")
def hall() -> Rig:
    return load(FOLDER / "hall.toml")


def bare(rig: Rig) -> Rig:
    return replace(rig, checklists=())


def best(rig: Rig, *names: str) -> Rig:
    broken = fail(rig, names)
    return take(recover(broken, planned=planned(broken)).best, WHEN)


@pytest.mark.parametrize("name", ["A1.1", "A9.1", "A3", "P5", "R1"])
def test_the_way_back_survives_a_file_and_gives_the_rig_before_the_failure(hall: Rig, name: str) -> None:
    taken = loads(dumps(best(hall, name)))
    assert taken.checklists[0].steps[0].kind == "quiet"
    assert bare(go_back(taken, "1")) == hall


@given(st.data())
def test_any_plan_taken_can_be_taken_back(data: st.DataObject) -> None:
    rig = data.draw(rigs_to_break())
    for plan in recover(rig, data.draw(failures(rig)), exact=0).plans:
        taken = take(plan, WHEN)
        assert bare(taken) == plan.rig
        assert bare(go_back(taken, taken.checklists[-1].id)) == rig


def test_the_way_back_has_its_own_list_and_no_way_back_of_its_own(hall: Rig) -> None:
    taken = best(hall, "A9.1")
    back = go_back(taken, "1")
    assert back.checklists[0].steps == taken.checklists[0].way_back
    with pytest.raises(EditError, match="no return plan"):
        go_back(back, "1")


def test_ticks_are_kept_and_taken_off(hall: Rig) -> None:
    taken = best(hall, "A9.1")
    ticked = loads(dumps(tick(taken, "1", 1)))
    assert [step.done for step in ticked.checklists[0].steps[:3]] == [False, True, False]
    assert tick(ticked, "1", 1) == taken


def test_a_second_failure_leaves_the_first_one_failed_on_its_way_back(hall: Rig) -> None:
    first = best(hall, "A9.1")
    assert planned(first) == ("A9.1",)
    second = best(first, "A1.1")
    one, other = second.checklists
    assert (one.failed, other.failed) == (("A9.1",), ("A1.1",))
    told = " ".join(step.words for step in other.way_back)
    assert "A1.1" in told
    assert "Mark A9.1 working" not in told
    assert "Mute A9.1" not in " ".join(step.words for step in other.steps)
    back = go_back(second, other.id)
    assert failed(back) == ("A9.1",)
    assert bare(back) == bare(first)
    assert bare(go_back(back, one.id)) == hall


def test_the_first_may_be_mended_first_where_the_plans_do_not_meet(hall: Rig) -> None:
    second = best(best(hall, "A9.1"), "A1.1")
    back = go_back(go_back(second, "1"), "2")
    assert bare(back) == hall


def night(hall: Rig, *names: str) -> Rig:
    rig = hall
    for name in names:
        rig = best(rig, name)
    return rig


def test_each_list_is_for_what_it_was_taken_for_also_where_a_spare_works_in_its_place(hall: Rig) -> None:
    lists = night(hall, "A9", "A1.1", "A1.2", "A4.2").checklists
    assert [checklist.title for checklist in lists] == [
        "A9: use a spare",
        "A1.1: share a channel",
        "A1.2: share a channel",
        "A4.2: share a channel",
    ]
    assert [checklist.failed for checklist in lists[1:]] == [("A1.1",), ("A1.2",), ("A4.2",)]
    assert lists[0].failed == ("A9",)


def test_a_list_is_named_for_what_failed_also_where_its_spare_has_more_channels() -> None:
    taken = night(load(FOLDER / "outdoor-stage.toml"), "A14")
    assert taken.checklists[0].title == "A14: use a spare"


def test_a_return_that_a_later_plan_stands_in_the_way_of_names_that(hall: Rig) -> None:
    rig = night(hall, "A9", "A1.1", "A1.2", "A4.2")
    with pytest.raises(
        EditError,
        match=r'R1-1 has been changed since.*return of the later list "A1.2: share a channel" first',
    ):
        go_back(rig, "2")
    assert failed(go_back(rig, "1")) == ("A1.1", "A1.2", "A4.2")
    back = go_back(go_back(go_back(rig, "4"), "3"), "2")
    assert bare(go_back(back, "1")) == hall


def test_a_spare_that_fails_in_its_turn_has_a_plan_and_a_return_of_its_own(hall: Rig) -> None:
    first = best(hall, "A9")
    broken = fail(first, ["A9.1"])
    assert (unplanned(broken), planned(broken)) == (("A9.1",), ())
    second = take(recover(broken, planned=planned(broken)).best, WHEN)
    assert second.checklists[1].title.startswith("A9.1: ")
    with pytest.raises(EditError, match=r'A9\.1 failed again .* return of the later list "A9\.1: .*" first'):
        go_back(second, "1")
    assert bare(go_back(go_back(second, "2"), "1")) == hall


def test_what_was_changed_since_is_not_overwritten(hall: Rig) -> None:
    taken = best(hall, "A1.1")
    moved = taken.checklists[0].after.sockets[0]
    changed = edits.patch(taken, moved.id, 1, "A11.4")
    with pytest.raises(EditError, match="has been changed since"):
        go_back(changed, "1")


def test_the_way_back_to_what_has_been_removed_is_refused(hall: Rig) -> None:
    plans = recover(hall, ["P1"]).plans
    taken = take(next(plan for plan in plans if plan.kinds == ("share a channel",)), WHEN)
    with pytest.raises(EditError, match=r"A1.*remove the list"):
        go_back(edits.remove(taken, "A1", with_dependents=True), "1")


def test_a_list_names_what_failed_also_once_it_is_removed(hall: Rig) -> None:
    assert named(edits.remove(hall, "A3", with_dependents=True), ("A3.1", "A1.2")) == ("A1.2", "A3.1")


def test_a_list_put_away_is_gone(hall: Rig) -> None:
    taken = best(hall, "A9.1")
    assert put_away(taken, "1") == bare(taken)
    with pytest.raises(EditError, match="no list 1"):
        tick(put_away(taken, "1"), "1", 0)
