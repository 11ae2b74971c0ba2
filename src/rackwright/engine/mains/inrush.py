"""The order in which to switch amplifiers on so that no breaker trips at once."""

import functools
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from rackwright.engine.results import AmplifierResult, CircuitResult


class SwitchOn(NamedTuple):
    """An order in which to switch amplifiers on so that each group's inrush stays under a breaker's band."""

    limit: float
    """A, where the breaker's instantaneous band begins."""
    groups: tuple[tuple[str, ...], ...]
    """Amplifiers to switch together, one group after the other, the heaviest inrush first."""
    over: tuple[str, ...]
    """Amplifiers that exceed the limit on their own, and are in no group."""
    fewest: bool
    """Whether it is sure that no fewer groups would do."""


def switch_on(circuit: CircuitResult, amplifiers: Mapping[str, AmplifierResult]) -> SwitchOn:
    """The switch-on sequence of a circuit: groups whose inrush together does not exceed the band's lower edge.

    What is on already idles beside it, some percent of the edge, and is left out. A circuit that has failed
    switches nothing on.
    """
    names = circuit.amplifiers if circuit.live else ()
    return _sequence(tuple([(amplifiers[name].inrush, name) for name in names]), circuit.inrush_limit)


def group_inrush(group: Iterable[str], amplifiers: Mapping[str, AmplifierResult]) -> float:
    """Inrush in A of amplifiers switched on together."""
    return sum(amplifiers[name].inrush for name in group)


@functools.lru_cache(maxsize=4096)
def _sequence(inrushes: tuple[tuple[float, str], ...], limit: float) -> SwitchOn:
    over = tuple([name for inrush, name in inrushes if inrush > limit])
    items = sorted([item for item in inrushes if item[0] <= limit], key=lambda item: -item[0])
    packed, fewest = pack([inrush for inrush, _ in items], limit)
    groups = [[items[i] for i in group] for group in packed]
    groups.sort(key=lambda group: -sum([inrush for inrush, _ in group]))
    return SwitchOn(limit, tuple(tuple([name for _, name in group]) for group in groups), over, fewest)


PACKING_STEPS = 20_000
PACKED_EXACTLY = 40
"""Up to so many amplifiers fewer groups are searched for than first-fit decreasing makes."""


def pack(sizes: Sequence[float], capacity: float) -> tuple[list[list[int]], bool]:
    """Positions of `sizes` (largest first, none over `capacity`) in few groups, and whether none fewer would do.

    First-fit decreasing, then, where that is above the bound Σ/capacity, a search that is bounded in steps.
    """
    full = capacity * (1 + 1e-12)
    groups: list[list[int]] = []
    filled: list[float] = []
    for i, size in enumerate(sizes):
        room = next((g for g, load in enumerate(filled) if load + size <= full), None)
        if room is None:
            groups.append([i])
            filled.append(size)
        else:
            groups[room].append(i)
            filled[room] += size
    bound = math.ceil(sum(sizes) / full)
    if len(sizes) > PACKED_EXACTLY:
        return groups, len(groups) <= bound
    steps = PACKING_STEPS
    while len(groups) > bound:
        better, steps = _pack_into(sizes, full, len(groups) - 1, steps)
        if better is None:
            return groups, steps > 0
        groups = better
    return groups, True


def _pack_into(
    sizes: Sequence[float], full: float, count: int, steps: int
) -> tuple[list[list[int]] | None, int]:
    """A packing into `count` groups, None where there is none or the steps ran out; and the steps left."""
    filled = [0.0] * count
    where = [0] * len(sizes)

    def place(i: int) -> bool:
        nonlocal steps
        if i == len(sizes):
            return True
        tried = set()
        for group in range(count):
            if filled[group] in tried or filled[group] + sizes[i] > full:
                continue
            tried.add(filled[group])
            steps -= 1
            if steps <= 0:
                return False
            before = filled[group]
            filled[group] += sizes[i]
            where[i] = group
            if place(i + 1):
                return True
            filled[group] = before
        return False

    if not place(0):
        return None, steps
    return [[i for i, at in enumerate(where) if at == group] for group in range(count)], steps
