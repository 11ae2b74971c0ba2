"""Moves between two rigs: found, made, and made back again."""

import pytest

from rackwright.engine.recovery import fail
from rackwright.engine.recovery.rewiring import apply, difference
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.units import LimiterSetting, Trim


@pytest.mark.parametrize(
    ("preset", "name"),
    [("hall", "A1.1"), ("hall", "A9"), ("hall", "P1"), ("small-room", "A1"), ("outdoor-stage", "A14")],
)
def test_the_moves_of_every_plan_lead_there_and_back(presets, recovered, preset, name):
    broken = fail(presets[preset], [name])
    for plan in recovered(preset, name).plans:
        there = difference(broken, plan.rig)
        alike = [
            move for move in plan.moves if move.old == move.new
        ]  # a spare of the model that it is in place of
        assert bool(there) == (len(plan.moves) > len(alike))
        assert difference(apply(broken, there), plan.rig) == ()
        back = difference(plan.rig, broken)
        assert difference(apply(plan.rig, back), broken) == ()


def test_trims_limiters_feeds_and_modes_are_moves(presets):
    before = presets["hall"]
    feed = before.feeds[0].id
    after = edits.change(before, feed, limiter_rms=LimiterSetting.parse("50 V"))
    after = edits.change(after, "A1.1", trim=Trim.parse("-6 dB"))
    after = edits.change(after, "A2", mode=("bridged", *["dual"] * 1))
    moves = difference(before, after)
    assert [(m.kind, m.at) for m in moves] == [("mode", "A2.1"), ("trim", "A1.1"), ("limiter rms", feed)]
    assert difference(apply(before, moves), after) == ()


def test_a_move_is_refused_where_its_thing_was_changed_since(presets):
    before = presets["hall"]
    after = edits.change(before, "A1.1", trim=Trim.parse("-6 dB"))
    since = edits.change(before, "A1.1", trim=Trim.parse("-3 dB"))
    with pytest.raises(EditError, match=r"A1\.1 has been changed since"):
        apply(since, difference(before, after))
    elsewhere = edits.change(before, "A1.2", trim=Trim.parse("-3 dB"))
    assert difference(apply(elsewhere, difference(before, after)), after) == difference(elsewhere, before)
