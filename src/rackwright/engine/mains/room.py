"""Which circuit has room for one amplifier more."""

import heapq
from collections.abc import Callable, Iterable, Mapping
from operator import attrgetter
from typing import Literal, NamedTuple, TypeAlias

from rackwright.engine.demand import AmplifierResult, CircuitResult
from rackwright.engine.mains.supply import Mains


class Relief(NamedTuple):
    """One amplifier to plug in elsewhere, and the share of its breaker that each end then carries."""

    amplifier: str
    to: str
    left: float
    there: float


Duty: TypeAlias = Literal["programme", "heavy"]

CANDIDATES = 6
"""Circuits with the most room that a move is looked for to."""


class Bounds(NamedTuple):
    """Current over breaker that a circuit may carry with one more amplifier, at each duty."""

    programme: float
    heavy: float

    def allow(self, circuit: CircuitResult, amplifier: AmplifierResult) -> bool:
        """Whether a circuit has power and stays within with the amplifier on it as well."""
        return (
            circuit.live
            and circuit.programme_current + amplifier.programme_current <= self.programme * circuit.breaker
            and circuit.heavy_current + amplifier.heavy_current <= self.heavy * circuit.breaker
        )


def roomiest(mains: Mains, limit: float, duty: Duty) -> tuple[CircuitResult, ...]:
    """The live circuits with the most current left under `limit` of their breaker, at a duty."""
    figure = attrgetter(f"{duty}_current")
    live = [circuit for circuit in mains.circuits.values() if circuit.live]
    return tuple(heapq.nlargest(CANDIDATES, live, key=lambda c: limit * c.breaker - figure(c)))


def relief(
    circuit: CircuitResult,
    others: Iterable[CircuitResult],
    amplifiers: Mapping[str, AmplifierResult],
    bounds: Bounds,
    duty: Duty,
    takes: Callable[[str, str], bool],
) -> Relief | None:
    """The one move off a circuit that leaves the fuller of its ends least full at a duty, the other within bounds.

    `takes` says whether a circuit may be given an amplifier at all. None where no other circuit has room for any of its
    amplifiers. To arrange the whole rig is `arrangement`'s.
    """
    figure = attrgetter(f"{duty}_current")
    load, breaker = figure(circuit), circuit.breaker
    targets = [(figure(other), other) for other in others if other.id != circuit.id]
    best, least = None, load / breaker
    for name in circuit.amplifiers:
        current = figure(amplifiers[name])
        left = (load - current) / breaker
        for load_there, there in targets:
            full = (load_there + current) / there.breaker
            if (
                full < least
                and left < least
                and bounds.allow(there, amplifiers[name])
                and takes(there.id, name)
            ):
                best, least = Relief(name, there.id, left, full), max(left, full)
    return best
