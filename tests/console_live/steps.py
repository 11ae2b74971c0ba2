"""Edits as a person makes them by keys, drawn by chance: what to press, and what the foot says is done then."""

import random
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from rackwright.model.rig import Rig

FOR_GOOD = "g"
"""What is answered when a line is changed while something is failed: tonight, or for good."""


class Step(NamedTuple):
    """One edit."""

    keys: tuple[str, ...]
    label: str
    """What undo would undo afterwards."""


def drawn(seed: int, rig: Rig) -> Iterator[Step]:
    """Steps without end on that rig or one grown from it, no two of one label in a row."""
    chance = random.Random(seed)
    last = ""
    failed: set[str] = set()
    while True:
        kind = chance.choice(_KINDS)
        step = kind(chance, rig)
        if step.label == last:
            continue
        last = step.label
        if kind is _fail:
            failed ^= {step.label}
        elif kind is _lengthen and failed:
            step = step._replace(keys=(*step.keys, FOR_GOOD))
        yield step


def _found(name: str) -> tuple[str, ...]:
    return ("/", *name, "enter")


def _lengthen(chance: random.Random, rig: Rig) -> Step:
    line = chance.choice(rig.lines).id
    length = f"{chance.randint(3, 90)}.{chance.randint(1, 9)} {chance.choice(['m', 'ft'])}"
    return Step((*_found(line), "enter", *length, "enter"), f"edit {line}")


def _fail(chance: random.Random, rig: Rig) -> Step:
    """Mark an amplifier failed, and leave its plans: twice in a row would sound again, which `drawn` leaves out by its label."""
    amplifier = chance.choice(rig.racks[0].amplifiers).id
    return Step((*_found(f"{amplifier} amplifier"), "f", "escape"), f"mark {amplifier} ")


def _duplicate(chance: random.Random, rig: Rig) -> Step:
    cabinet = chance.choice(rig.cabinets).id
    return Step((*_found(f"{cabinet} cabinet"), "d"), f"duplicate {cabinet}")


def _place(chance: random.Random, rig: Rig) -> Step:
    cabinet = chance.choice(rig.cabinets).id
    spot = f"spot {chance.randint(100, 999)}"
    return Step((*_found(f"{cabinet} cabinet"), "enter", *spot, "enter"), f"edit {cabinet}")


_KINDS: Sequence[Callable[[random.Random, Rig], Step]] = (_lengthen, _fail, _duplicate, _place)
