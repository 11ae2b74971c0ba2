"""Currents to put on breakers, and what an arrangement of them is worth.

Numbers only, by position; what they stand for is `arrangement`'s.
"""

import math
from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple, TypeAlias

from rackwright.engine import limits
from rackwright.engine.mains import imbalance

EQUAL = 1e-9
"""Two shares closer than this are the same."""

NOWHERE = -1
"""The place of a load that has none."""

Places: TypeAlias = tuple[int, ...]
"""For each load the position of its breaker."""

Kind: TypeAlias = tuple[float, float, float]
"""Current, current driven hard, and inrush: loads of one kind are alike but for their homes."""


class Score(NamedTuple):
    """What an arrangement is judged by, less being better: in this order, or with the moves before the worst loading.

    Every excess is a sum over breakers, so that each counts by how far it is over, and none hides behind a worse one.
    """

    unplaced: int
    """Loads left without power, for want of a breaker that may bear them."""
    new_heavy: float
    """Excess driven hard on breakers that are not over theirs today."""
    over: float
    """Excess of the loading over the limit."""
    near: float
    """Excess of the loading over what is comfortable."""
    heavy: float
    """Excess of the loading driven hard over 1."""
    generator: float
    """Excess of a generator's loading over what is comfortable, and driven hard over 1."""
    drop: float
    """Excess of current driven hard over what each breaker's cable carries within its drop, as a share of it."""
    uneven: float
    """Excess of the imbalance over what is accepted."""
    inrush: float
    """A, excess of all loads switched together over where a breaker may trip at once."""
    worst: float
    """Largest current over its breaker."""
    imbalance: float
    """Largest deviation of a phase from the mean, over the mean; 0 on a single phase."""
    moves: int
    """Loads that are not at home."""


EXCESSES = tuple(range(Score._fields.index("worst")))
LEAST_LOADING = (*EXCESSES, 9, 10, 11)
FEW_MOVES = (*EXCESSES, 11, 9, 10)
"""The orders in which a Score's figures count."""


class Task(NamedTuple):
    """Loads to put on breakers."""

    currents: tuple[float, ...]
    """A, of each load."""
    heavies: tuple[float, ...]
    """A, of each load driven hard."""
    inrushes: tuple[float, ...]
    """A, of each load."""
    homes: Places
    """Where each is today."""
    breakers: tuple[float, ...]
    """A, of each breaker."""
    bands: tuple[float, ...]
    """A, at which each breaker's instantaneous band begins."""
    phases: Places | None
    """The phase of each breaker, from 0 to 2; None on a single phase."""
    limit: float
    """Loading up to which a breaker is not overloaded."""
    comfortable: float
    """Loading up to which a breaker is at ease."""
    even: float
    """Imbalance up to which phases count as even."""
    cables: tuple[float, ...] = ()
    """A driven hard, that each breaker's cable carries within its drop; none given, all carry any."""
    generator: float = math.inf
    """A in all, that a generator is rated for."""
    generator_near: float = 1.0
    """Loading up to which a generator is at ease."""
    few_moves: bool = False
    """Whether fewest moves come before the least loading, once no excess can be less."""

    @property
    def bound(self) -> float:
        """No arrangement of all loads has a worst loading under this: all of it evenly, or the largest on the largest."""
        return max(
            math.fsum(self.currents) / math.fsum(self.breakers), max(self.currents) / max(self.breakers)
        )

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """Of each load."""
        return tuple(zip(self.currents, self.heavies, self.inrushes, strict=True))

    def caps(self) -> list[float]:
        """A that each breaker may come to carry: up to the limit, and one over it today no more than today."""
        return [
            max(self.limit * breaker, load) * (1 + EQUAL)
            for breaker, load in zip(self.breakers, self.loads(self.homes), strict=True)
        ]

    def generator_cap(self) -> float:
        """A that a generator may come to carry, by `generated`: up to its rating, or what it does today."""
        return max(self.generator, self.generated(self.loads(self.homes))) * (1 + EQUAL)

    def generated(self, loads: Sequence[float]) -> float:
        """A that a generator carries, as if all phases carried what the fullest does, given that on each breaker."""
        return max(sum(loads), 3 * max(self.phase_sums(loads)) if self.phases else 0.0)

    def heavy_caps(self) -> list[float]:
        """A driven hard, over which a breaker's excess is a new one."""
        return [
            max(breaker, load)
            for breaker, load in zip(self.breakers, self.sums(self.heavies, self.homes), strict=True)
        ]

    def loads(self, places: Sequence[int]) -> list[float]:
        """A on each breaker."""
        return self.sums(self.currents, places)

    def sums(self, figures: Sequence[float], places: Sequence[int]) -> list[float]:
        """The sum of a figure on each breaker."""
        sums = [0.0] * len(self.breakers)
        for figure, place in zip(figures, places, strict=True):
            if place != NOWHERE:
                sums[place] += figure
        return sums

    def loadings(self, loads: Sequence[float]) -> list[float]:
        """Current over breaker of each, given the currents."""
        return [load / breaker for load, breaker in zip(loads, self.breakers, strict=True)]

    def phase_sums(self, loads: Sequence[float]) -> list[float]:
        """A on each phase, given the current on each breaker."""
        sums = [0.0, 0.0, 0.0]
        for load, phase in zip(loads, self.phases or (), strict=True):
            sums[phase] += load
        return sums

    def imbalance(self, loads: Sequence[float]) -> float:
        """Of the phases, given the current on each breaker."""
        return imbalance(self.phase_sums(loads)) if self.phases else 0.0

    def uneven(self, imbalance: float, mean: float) -> float:
        """The excess of an imbalance of phases of `mean` current (A)."""
        return max(0.0, imbalance - limits.imbalance(mean, max(self.breakers)).value)

    def excess(self, place: int, load: float, heavy: float, inrush: float, heavy_cap: float) -> "Excess":
        """What one breaker with these currents (A) is over its limits by."""
        breaker = self.breakers[place]
        loading, cable = load / breaker, self.cables[place] if self.cables else math.inf
        return (
            max(0.0, heavy - heavy_cap) / breaker,
            max(0.0, loading - self.limit),
            max(0.0, loading - self.comfortable),
            max(0.0, heavy / breaker - 1),
            max(0.0, heavy / cable - 1),
            max(0.0, inrush - self.bands[place]),
        )

    def strain(self, load: float, heavy: float, phase: float, heavy_phase: float) -> float:
        """What a generator is over its limits by, given all current and that of the fullest phase (A), at each duty."""
        programme = max(load, 3 * phase) / self.generator
        return max(0.0, programme - self.generator_near) + max(
            0.0, max(heavy, 3 * heavy_phase) / self.generator - 1
        )

    def allowed(self, places: Sequence[int]) -> bool:
        """Whether no load loses its power, and no breaker or generator is filled past its limit, or further than today."""
        kept = all(
            place != NOWHERE or home == NOWHERE for place, home in zip(places, self.homes, strict=True)
        )
        loads = self.loads(places)
        within = all(load <= cap for load, cap in zip(loads, self.caps(), strict=True))
        return kept and within and self.generated(loads) <= self.generator_cap()

    def score(self, places: Sequence[int]) -> Score:
        """What an arrangement is worth."""
        loads, heavies = self.loads(places), self.sums(self.heavies, places)
        each = zip(loads, heavies, self.sums(self.inrushes, places), self.heavy_caps(), strict=True)
        new_heavy, over, near, heavy, drop, inrush = map(
            math.fsum, zip(*[self.excess(place, *figures) for place, figures in enumerate(each)], strict=True)
        )
        phases, heavy_phases = (self.phase_sums(each) if self.phases else (0.0,) for each in (loads, heavies))
        uneven = self.imbalance(loads)
        return Score(
            unplaced=list(places).count(NOWHERE),
            new_heavy=new_heavy,
            over=over,
            near=near,
            heavy=heavy,
            generator=self.strain(sum(loads), sum(heavies), max(phases), max(heavy_phases)),
            drop=drop,
            uneven=self.uneven(uneven, sum(phases) / 3),
            inrush=inrush,
            worst=max(self.loadings(loads)),
            imbalance=uneven,
            moves=sum(home != place for home, place in zip(self.homes, places, strict=True)),
        )

    def better(self, one: Score, other: Score) -> bool:
        """Whether one score beats the other, shares as close as EQUAL being the same."""
        order = FEW_MOVES if self.few_moves else LEAST_LOADING
        for i in order:
            if abs(one[i] - other[i]) > EQUAL:
                return one[i] < other[i]
        return False

    def at_home_first(self, places: Sequence[int]) -> Places:
        """The same arrangement with the fewest moves: of loads of one kind those stay that can."""
        free: dict[Kind, Counter[int]] = {}
        for kind, place in zip(self.kinds, places, strict=True):
            free.setdefault(kind, Counter())[place] += 1
        at: list[int | None] = []
        for kind, home in zip(self.kinds, self.homes, strict=True):
            at.append(home if free[kind][home] > 0 else None)
            free[kind][home] -= at[-1] is not None
        rest = {kind: iter(counts.elements()) for kind, counts in free.items()}
        return tuple(
            next(rest[kind]) if place is None else place for kind, place in zip(self.kinds, at, strict=True)
        )


Excess: TypeAlias = tuple[float, float, float, float, float, float]
"""One breaker's: new driven hard, over, near, heavy, drop, inrush."""


def excess_over(figure: float, limit: float) -> float:
    return max(0.0, figure - limit)
