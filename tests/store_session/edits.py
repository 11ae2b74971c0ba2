"""A sequence of edits at random, the same for the same seed in every process."""

import random

from rackwright.model import edits
from rackwright.model.lines import Cabinet
from rackwright.model.rig import Rig
from rackwright.units import Length


def rigs_of(start: Rig, seed: int, count: int) -> list[Rig]:
    """`count` rigs, each one edit on from the last, the first one edit on from `start`."""
    chance = random.Random(seed)
    rigs = [start]
    while len(rigs) <= count:
        try:
            changed = chance.choice(_EDITS)(rigs[-1], chance)
        except edits.EditError:
            continue
        if changed != rigs[-1]:
            rigs.append(changed)
    return rigs[1:]


def _rename(rig: Rig, chance: random.Random) -> Rig:
    name = chance.choice(
        ["Dômu “west”", 'quoted "twice"', "back\\slash", "tab\there", "", "ΩΔ", "\x01\x7f\r"]
    )
    return edits.change_settings(rig, name=f"{name} {chance.randrange(1000)}")


def _note(rig: Rig, chance: random.Random) -> Rig:
    return edits.change_settings(rig, notes="a line\n" * chance.randrange(400))


def _mark(rig: Rig, chance: random.Random) -> Rig:
    return edits.change(
        rig, chance.choice(["A1.1", "A1.2", "A2.1", "A3.4"]), state=chance.choice(["ok", "failed"])
    )


def _lengthen(rig: Rig, chance: random.Random) -> Rig:
    line = chance.choice([*(line.id for line in rig.lines), "L1"])
    return edits.change(
        rig, line, length=Length.parse(f"{chance.randrange(1, 90)} {chance.choice(['m', 'ft'])}")
    )


def _add(rig: Rig, chance: random.Random) -> Rig:
    return edits.add(
        rig, Cabinet(id=edits.next_id(rig, "W1"), model="wedge", priority=chance.randrange(1, 4))
    )


def _duplicate(rig: Rig, chance: random.Random) -> Rig:
    return edits.duplicate(rig, chance.choice(["R1", "R2", "A1", "W1", "SUB-L2"]))


def _remove(rig: Rig, chance: random.Random) -> Rig:
    return edits.remove(rig, chance.choice([*(c.id for c in rig.cabinets), "R2", "P2"]), with_dependents=True)


_EDITS = (_rename, _note, _mark, _lengthen, _add, _duplicate, _remove)
