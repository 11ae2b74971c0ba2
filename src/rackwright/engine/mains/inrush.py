"""What flows when amplifiers and loads are switched on, and the order in which no breaker on the way trips at once."""

import functools
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal, NamedTuple

from rackwright.engine.demand import CircuitResult, Edge, Plugged


def held(stated: float, kind: Literal["peak", "rms"] = "peak") -> float:
    """A that is held against a breaker's band, which is in A rms: a stated peak over √2, an rms value as it stands.

    By definition of the rms of a sine; that a half wave of inrush counts as one is common practice, no source.

    >>> round(held(45.0), 1), held(45.0, "rms")
    (31.8, 45.0)
    """
    return stated if kind == "rms" else stated / math.sqrt(2)


class SwitchOn(NamedTuple):
    """An order in which to switch things on so that each group's inrush stays under every band on the way to them."""

    edge: Edge
    """The lowest of these."""
    groups: tuple[tuple[str, ...], ...]
    """What to switch together, one group after the other, the heaviest inrush first."""
    over: tuple[str, ...]
    """What reaches the band on its own, and is in no group."""
    fewest: bool
    """Whether it is sure that no fewer groups would do."""


def switch_on(circuit: CircuitResult, things: Mapping[str, Plugged]) -> SwitchOn:
    """The switch-on sequence of those `things` that hang on a circuit: amplifiers, or loads.

    What is on already idles beside them, some percent of the edge, and is left out. A circuit that has failed
    switches nothing on.

    Each group's inrush as of `group_inrush`, common practice, no source, under the instant trip [1]_.

    >>> switch_on(hall.circuits["P1"], hall.amplifiers).groups
    (('A1', 'A2'),)

    .. [1] IEC 60898-1, from memory.
    """
    names = (*circuit.amplifiers, *circuit.loads) if circuit.live else ()
    return _sequence(
        tuple([(things[name].inrush, name) for name in names if name in things]), circuit.first_to_trip
    )


def group_inrush(group: Iterable[str], things: Mapping[str, Plugged]) -> float:
    """Inrush in A rms of what is switched on together, as if all peaks met: common practice, no source.

    >>> round(group_inrush(["A1", "A2"], hall.amplifiers), 1)
    39.6
    """
    return sum(things[name].inrush for name in group)


@functools.lru_cache(maxsize=4096)
def _sequence(inrushes: tuple[tuple[float, str], ...], edge: Edge) -> SwitchOn:
    under = edge.current * (1 - 1e-9)
    over = tuple([name for inrush, name in inrushes if inrush > under])
    items = sorted([item for item in inrushes if item[0] <= under], key=lambda item: -item[0])
    packed, fewest = pack([inrush for inrush, _ in items], under)
    groups = [[items[i] for i in group] for group in packed]
    groups.sort(key=lambda group: -sum([inrush for inrush, _ in group]))
    return SwitchOn(edge, tuple(tuple([name for _, name in group]) for group in groups), over, fewest)


PACKING_STEPS = 20_000
PACKED_EXACTLY = 40
"""Up to so many amplifiers fewer groups are searched for than first-fit decreasing makes."""


def pack(sizes: Sequence[float], capacity: float) -> tuple[list[list[int]], bool]:
    """Positions of `sizes` (largest first, none over `capacity`) in few groups, and whether none fewer would do.

    First-fit decreasing [1]_, then, where that is above the bound Σ/capacity, a search that is bounded in steps.

    >>> pack([31.8, 31.8, 31.8], 80.0)
    ([[0, 1], [2]], True)

    .. [1] Johnson, "Near-Optimal Bin Packing Algorithms", MIT, 1973, from memory.
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
