"""Switching on and off as a list: everything once, no group past where a device may trip, boards outermost, amplifiers innermost."""

import math
from typing import Any

import pytest

from rackwright.engine import recovery
from rackwright.engine.assess import Assessed, assess
from rackwright.model import edits
from rackwright.model.mains import Board
from rackwright.model.rig import Rig
from rackwright.units import Current
from shipped import preset

LOWER_EDGE = {"B": 3, "C": 5, "D": 10}
"""Times its rating that a breaker holds at once. Source: IEC 60898-1, from memory."""


def fed(name: str) -> Rig:
    """A preset with its first circuit on the second of two boards."""
    rig = edits.add(preset(name), Board(id="MAIN", rating=Current.parse("125 A")))
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
        loads = [load.id for load in rig.loads if load.circuit]
        assert sorted(name for group in groups for name in group) == sorted([*plugged_in, *loads])
        wheres = [step.where for step in listed.steps]
        first = {
            kind: next(i for i, step in enumerate(listed.steps) if step.at and step.at[0] in kind)
            for kind in map(tuple, (loads, plugged_in))
            if kind
        }
        order = [wheres.index("MAIN"), wheres.index("SUB"), *first.values()]
        assert order == sorted(order, reverse=not on)
        assert recovery.with_switching(made, now, on) is made
        assert not recovery.under_way(made)
        for group in groups if on else ():
            (circuit,) = {(now.index.amplifiers.get(n) or now.index.loads[n]).circuit for n in group}
            inrush = sum(held(now, name) for name in group)
            for device, rating in devices(rig, circuit):
                assert inrush < LOWER_EDGE[device.curve] * rating.value


def held(now: Assessed, name: str) -> float:
    """A rms; no load of a preset states an inrush."""
    own = now.index.amplifiers.get(name)
    model = now.index.amplifier_models[own.model] if own else None
    return model.inrush.value / (1 if model.inrush_kind == "rms" else math.sqrt(2)) if model else 0.0


def devices(rig: Rig, name: str) -> list[tuple[Any, Current]]:
    """What may trip on the way to a circuit, with its rating."""
    boards = {board.id: board for board in rig.boards}
    (circuit,) = (each for each in rig.circuits if each.id == name)
    way: list[tuple[Any, Current | None]] = [(circuit, circuit.breaker), (rig.supply, rig.supply.rating)]
    at = circuit.board
    while at:
        way.append((boards[at], boards[at].rating))
        at = boards[at].source
    return [(device, rating) for device, rating in way if rating]


def test_a_group_stays_under_the_band_of_the_board_before_it() -> None:
    rig = edits.change(fed("hall"), "MAIN", rating=Current.parse("25 A"), curve="B")
    now = assess(rig)
    tight = [
        step
        for step in recovery.with_switching(rig, now, True).lists[0].steps
        if "MAIN may trip" in step.words
    ]
    assert tight
    assert all(sum(held(now, name) for name in step.at) < 75 for step in tight)


def test_what_is_dead_is_not_switched_on() -> None:
    rig = recovery.fail(fed("hall"), ["SUB"])
    (listed,) = recovery.with_switching(rig, assess(rig), True).lists
    first = rig.circuits[0].id
    dead = {a.id for a in rig.amplifiers() if a.circuit == first}
    assert dead
    assert not dead & {name for step in listed.steps for name in step.at}
    assert not any("SUB" in step.words for step in listed.steps)
