"""What of a rig the crew has made safe because it has failed: turned down, switched off, unplugged."""

from typing import NamedTuple

from rackwright.engine import outage
from rackwright.engine.assess import Assessed
from rackwright.engine.channel import Branch
from rackwright.model.index import Index


class Standing(NamedTuple):
    """What of a rig the crew has made safe because it has failed."""

    down: frozenset[str] = frozenset()
    """Channels whose level is turned down at the amplifier."""
    off: frozenset[str] = frozenset()
    """Amplifiers that are switched off."""
    pulled: frozenset[str] = frozenset()
    """Amplifiers whose mains plug is pulled."""


def standing(assessed: Assessed, index: Index | None = None) -> Standing:
    """What is made safe once every failure of a rig has its list: what is dead is turned down, switched off, unplugged.

    `index` is that of the rig with what has no list yet working.
    """
    index = index or assessed.index
    if next(outage.marked(index.rig), None) is None:
        return Standing()
    down, off, pulled = set(), set(), set()
    for amplifier in index.amplifiers.values():
        if outage.of_amplifier(index, amplifier):
            pulled.add(amplifier.id)
            off.add(amplifier.id)
        elif outage.of_power(index, amplifier):
            off.add(amplifier.id)
    shorted = {
        f"{cabinet.id}.{section}"
        for cabinet in index.cabinets.values()
        for section in cabinet.faults
        if outage.fault(cabinet, section) == "shorted"
    }
    for branch in assessed.branches.values():
        if branch.amplifier.id in off or branch.second_of_bridge:
            continue
        if _dead(index, branch) or (shorted and not shorted.isdisjoint([s.id for s in branch.sections])):
            down.add(branch.id)
    return Standing(frozenset(down), frozenset(off), frozenset(pulled))


def _dead(index: Index, branch: Branch) -> bool:
    """Whether a channel of an amplifier that works is dead itself, or its lead; one whose feed is dead is healthy."""
    amplifier = index.amplifiers[branch.amplifier.id]
    dead = outage.of_output(amplifier, branch.channel) is not None
    return dead or amplifier.channel(amplifier.input_of(branch.channel)).input_state == "failed"
