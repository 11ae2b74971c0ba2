"""What to pull from the store: which of the cables that the company owns goes to which line, and what is short.

Every line takes one cable: none is joined from two, since each joint is one more contact to fail.
"""

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from rackwright.model.lines import Line, Stock
from rackwright.model.rig import Rig
from rackwright.units import Length


class Wanted(NamedTuple):
    """One cable that is needed: for a line, or as a spare."""

    cable: str
    length: Length
    line: str = ""
    """The line's id; empty for a spare."""


class Pulled(NamedTuple):
    """A cable that is needed, and the stocked length that does it; None where none is left that is long enough."""

    wanted: Wanted
    stocked: Length | None

    @property
    def longer(self) -> bool:
        """Whether what is owned is longer than what is asked."""
        return self.stocked is not None and not math.isclose(self.stocked.value, self.wanted.length.value)


def wanted_of(rig: Rig, lines: Iterable[Wanted]) -> tuple[Wanted, ...]:
    """Those of the lines, then the cables that stand by."""
    spares = (
        Wanted(spare.cable, spare.length)
        for spare in rig.spares
        if spare.cable and spare.length is not None
        for _ in range(spare.count)
    )
    return (*lines, *spares)


def owned(stock: Sequence[Stock]) -> Counter[tuple[str, float]]:
    """Cable and length in m → how many are owned, however each length is spelled."""
    counts: Counter[tuple[str, float]] = Counter()
    for each in stock:
        counts[each.cable, each.length.value] += each.count
    return counts


def pull(wanted: Sequence[Wanted], stock: Sequence[Stock]) -> tuple[Pulled, ...]:
    """For each cable wanted a stocked one of its type that is long enough, lines before spares.

    The longest needs choose first and take the shortest that does. As whatever serves a longer need serves a shorter one
    too, no choice serves more lines.
    """
    left = owned(stock)
    shown = {(s.cable, s.length.value): s.length for s in stock}
    found: dict[int, Length | None] = {}
    order = sorted(range(len(wanted)), key=lambda i: (not wanted[i].line, -wanted[i].length.value))
    for i in order:
        cable, need = wanted[i].cable, wanted[i].length.value
        fits = [key for key in shown if key[0] == cable and key[1] >= need * (1 - 1e-9) and left[key] > 0]
        if chosen := min(fits, key=lambda key: key[1], default=None):
            left[chosen] -= 1
        found[i] = shown[chosen] if chosen else None
    return tuple(Pulled(need, found[i]) for i, need in enumerate(wanted))


def cables_of(rig: Rig, walked: Sequence[Line], stock: Sequence[Stock]) -> tuple[Pulled, ...]:
    """The cable of each line in that order, then of each spare; as the rig asks where no stock is listed."""
    wanted = wanted_of(rig, (Wanted(line.cable, line.length, line.id) for line in walked))
    return pull(wanted, stock) if stock else tuple(Pulled(need, need.length) for need in wanted)


def by_length(
    pulled: Sequence[Pulled], length_of_one: Callable[[Pulled], Length | None]
) -> list[tuple[str, Length, list[Pulled]]]:
    """By cable and length as written, the longest first; those without that length left out."""
    groups: dict[tuple[str, float, str], tuple[Length, list[Pulled]]] = {}
    for each in pulled:
        if length := length_of_one(each):
            groups.setdefault((each.wanted.cable, -length.value, f"{length}"), (length, []))[1].append(each)
    return [(cable, *groups[cable, size, text]) for cable, size, text in sorted(groups)]
