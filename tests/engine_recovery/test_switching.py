"""Switching on and off as a list: every amplifier once, no group past where its breaker may trip, boards outermost."""

import pytest

from rackwright.engine import recovery
from rackwright.engine.assess import assess
from rackwright.model import edits
from rackwright.model.mains import Board
from rackwright.model.rig import Rig
from rackwright.store import presets, rig_file
from rackwright.units import Current

LOWER_EDGE = {"B": 3, "C": 5, "D": 10}
"""Times its rating that a breaker holds at once. Source: IEC 60898-1, from memory."""


def fed(name: str) -> Rig:
    """A preset with its first circuit on the second of two boards."""
    found = presets.find(name)
    assert found is not None
    rig = edits.add(rig_file.load(found.path), Board(id="MAIN", rating=Current.parse("125 A")))
    rig = edits.add(rig, Board(id="SUB", source="MAIN"))
    return edits.change(rig, rig.circuits[0].id, board="SUB")


@pytest.mark.parametrize("name", ["hall", "outdoor-stage"])
def test_all_comes_on_group_after_group_and_goes_off_the_other_way(name: str) -> None:
    rig = fed(name)
    now = assess(rig)
    for on in (True, False):
        made = recovery.with_switching(rig, now, on)
        (listed,) = made.lists
        groups = [step.at for step in listed.steps if step.at]
        plugged_in = [a.id for a in rig.amplifiers() if a.circuit]
        assert sorted(name for group in groups for name in group) == sorted(plugged_in)
        wheres = [step.where for step in listed.steps]
        amplifiers = next(i for i, step in enumerate(listed.steps) if step.at)
        order = [wheres.index("MAIN"), wheres.index("SUB"), amplifiers]
        assert order == sorted(order, reverse=not on)
        assert recovery.with_switching(made, now, on) is made
        assert not recovery.under_way(made)
        if not on:
            continue
        for group in groups:
            (circuit,) = {now.index.circuits[now.index.amplifiers[name].circuit] for name in group}
            inrush = sum(
                now.index.amplifier_models[now.index.amplifiers[n].model].inrush.value for n in group
            )
            assert inrush <= LOWER_EDGE[circuit.curve] * circuit.breaker.value


def test_what_is_dead_is_not_switched_on() -> None:
    rig = recovery.fail(fed("hall"), ["SUB"])
    (listed,) = recovery.with_switching(rig, assess(rig), True).lists
    first = rig.circuits[0].id
    dead = {a.id for a in rig.amplifiers() if a.circuit == first}
    assert dead
    assert not dead & {name for step in listed.steps for name in step.at}
    assert not any("SUB" in step.words for step in listed.steps)
