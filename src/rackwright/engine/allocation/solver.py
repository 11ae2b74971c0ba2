"""The best arrangement that can be found: what the quick search finds, then a search that proves."""

import math
from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

from rackwright.engine.allocation.quick_search import improved, largest_first
from rackwright.engine.allocation.task import EQUAL, NOWHERE, Excess, Kind, Places, Score, Task, excess_over

EXACT = 24
"""Up to so many loads the search tries to prove that nothing better exists."""

SEARCH_STEPS = 60_000
"""Partial arrangements looked at before the search gives up on a proof."""


def solve(task: Task, known: Sequence[Places] = ()) -> tuple[Places, bool]:
    """The best arrangement found, none of `known` being better, and whether it is proven that none is."""
    best = task.homes
    tried = (
        improved(task, start)
        for start in (largest_first(task, task.homes), largest_first(task, (NOWHERE,) * len(task.homes)))
    )
    for found in (*known, largest_first(task, task.homes), *tried):
        if task.allowed(found) and task.better(task.score(found), task.score(best)):
            best = found
    return _Search(task, best).run() if len(task.currents) <= EXACT else (best, False)


class _OutOfSteps(Exception):
    pass


class _Partial(NamedTuple):
    """What the loads placed so far come to."""

    excess: Excess = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    worst: float = 0.0
    unplaced: int = 0
    moves: int = 0


class _Search:
    """Branch and bound: loads of falling current, each on every breaker that may yet beat the best found.

    Of loads of one kind only how many go on a breaker is searched; those in excess of the homes there are the
    moves. A load without a home may stay without.
    """

    def __init__(self, task: Task, found: Places) -> None:
        self.task = task
        self.order = sorted(range(len(task.currents)), key=lambda i: task.kinds[i], reverse=True)
        self.kinds = [task.kinds[i] for i in self.order]
        self.homes: dict[Kind, Counter[int]] = {kind: Counter() for kind in self.kinds}
        for kind, home in zip(task.kinds, task.homes, strict=True):
            self.homes[kind][home] += 1
        self.left = [self._to_place(i) for i in range(len(self.kinds) + 1)]
        self.homes_to_come = [
            {home for kind in set(self.kinds[i:]) for home in self.homes[kind]}
            for i in range(len(self.kinds) + 1)
        ]
        self.first_alike = [self.kinds.index(kind) for kind in self.kinds]
        self.loads = [0.0] * len(task.breakers)
        self.heavies = [0.0] * len(task.breakers)
        self.inrushes = [0.0] * len(task.breakers)
        self.caps, self.heavy_caps = task.caps(), task.heavy_caps()
        self.generator_cap = task.generator_cap()
        self.excesses = [_Partial().excess] * len(task.breakers)
        self.trail: list[int] = []
        self.best, self.best_score = found, task.score(found)
        self.steps = SEARCH_STEPS

    def _to_place(self, i: int) -> Kind:
        """The least that the loads from `i` on come to, those left out that may stay without a place."""
        least = [0.0, 0.0, 0.0]
        for kind, count in Counter(self.kinds[i:]).items():
            must = max(0, count - self.homes[kind][NOWHERE])
            least = [total + must * figure for total, figure in zip(least, kind, strict=True)]
        return least[0], least[1], least[2]

    def run(self) -> tuple[Places, bool]:
        try:
            self._place(0, _Partial(worst=self.task.bound if NOWHERE not in self.task.homes else 0.0))
        except _OutOfSteps:
            return self.best, False
        return self.best, True

    def _place(self, i: int, partial: _Partial) -> None:
        if i == len(self.order):
            self._keep_if_better()
            return
        kind, alike_before = self.kinds[i], self.trail[self.first_alike[i] :]
        tried = set()
        for place in self._by_loading(alike_before[-1] if alike_before else NOWHERE, kind[0]):
            if self.loads[place] + kind[0] > self.caps[place]:
                continue
            if place not in self.homes_to_come[i]:
                alike = self._alike(place)
                if alike in tried:
                    continue
                tried.add(alike)
            self._try(i, place, partial)
        without = alike_before.count(NOWHERE)
        if without == len(alike_before) and without < self.homes[kind][NOWHERE]:
            self._go_on(i, NOWHERE, partial._replace(unplaced=partial.unplaced + 1))

    def _by_loading(self, first: int, current: float) -> list[int]:
        breakers, loads = self.task.breakers, self.loads
        return sorted(range(max(first, 0), len(breakers)), key=lambda p: (loads[p] + current) / breakers[p])

    def _alike(self, place: int) -> tuple[float, ...]:
        """Breakers that have this in common, and no load's home among them, may be exchanged."""
        task = self.task
        phase = task.phases[place] if task.phases else 0
        cable = task.cables[place] if task.cables else 0.0
        carried = self.loads[place], self.heavies[place], self.inrushes[place]
        caps = self.caps[place], self.heavy_caps[place]
        return *carried, *caps, task.breakers[place], task.bands[place], cable, phase

    def _try(self, i: int, place: int, partial: _Partial) -> None:
        kind = self.kinds[i]
        before = self.loads[place], self.heavies[place], self.inrushes[place], self.excesses[place]
        load, heavy, inrush = before[0] + kind[0], before[1] + kind[1], before[2] + kind[2]
        excess = self.task.excess(place, load, heavy, inrush, self.heavy_caps[place])
        self.loads[place], self.heavies[place], self.inrushes[place] = load, heavy, inrush
        if math.isfinite(self.generator_cap) and self.task.generated(self.loads) > self.generator_cap:
            self.loads[place], self.heavies[place], self.inrushes[place], _ = before
            return
        self.excesses[place] = excess
        moves = self.trail[self.first_alike[i] :].count(place) >= self.homes[kind][place]
        sums = [
            total + now - then for total, now, then in zip(partial.excess, excess, before[3], strict=True)
        ]
        worst = max(partial.worst, load / self.task.breakers[place])
        self._go_on(
            i,
            place,
            _Partial(tuple(sums), worst, partial.unplaced, partial.moves + moves),  # type: ignore[arg-type]
        )
        self.loads[place], self.heavies[place], self.inrushes[place], self.excesses[place] = before

    def _go_on(self, i: int, place: int, partial: _Partial) -> None:
        self.steps -= 1
        if self.steps <= 0:
            raise _OutOfSteps
        self.trail.append(place)
        if self.task.better(self._least(i + 1, partial), self.best_score):
            self._place(i + 1, partial)
        self.trail.pop()

    def _least(self, i: int, partial: _Partial) -> Score:
        """A score that placing the rest can't beat in any figure."""
        task, breakers = self.task, self.task.breakers
        current, hard, surge = self.left[i]
        new_heavy, over, near, heavy, drop, inrush = partial.excess
        largest, limit = max(breakers), self.best_score.worst + EQUAL
        free = near_free = heavy_free = surge_free = 0.0
        for place, breaker in enumerate(breakers):
            load, heavy_load, inrush_load = self.loads[place], self.heavies[place], self.inrushes[place]
            if load < limit * breaker:
                free += limit * breaker - load
            if load < task.comfortable * breaker:
                near_free += task.comfortable * breaker - load
            if heavy_load < breaker:
                heavy_free += breaker - heavy_load
            if inrush_load < task.bands[place]:
                surge_free += task.bands[place] - inrush_load
        phases, heavy_phases = (
            task.phase_sums(each) if task.phases else (0.0,) for each in (self.loads, self.heavies)
        )
        loads, heavies = sum(self.loads) + current, sum(self.heavies) + hard
        uneven = self._least_imbalance(i, phases, current)
        return Score(
            unplaced=partial.unplaced,
            new_heavy=new_heavy,
            over=over,
            near=near + excess_over(current, near_free) / largest,
            heavy=heavy + excess_over(hard, heavy_free) / largest,
            generator=task.strain(loads, heavies, max(phases), max(heavy_phases)),
            drop=drop,
            uneven=task.uneven(uneven, loads / 3),
            inrush=inrush + excess_over(surge, surge_free),
            worst=max(partial.worst, limit + EQUAL) if free < current - EQUAL else partial.worst,
            imbalance=uneven,
            moves=partial.moves,
        )

    def _least_imbalance(self, i: int, sums: Sequence[float], left: float) -> float:
        """The rest goes where it evens the phases most, as if it could be cut at will; unknown where some of it may stay out."""
        phases, mean = self.task.phases, (math.fsum(sums) + left) / 3
        if phases is None or mean <= 0 or NOWHERE in self.homes_to_come[i]:
            return 0.0
        short = mean if len(set(phases)) < 3 else mean - min(sums) - left
        return max(max(sums) - mean, short, 0.0) / mean

    def _keep_if_better(self) -> None:
        places = [NOWHERE] * len(self.order)
        for i, place in zip(self.order, self.trail, strict=True):
            places[i] = place
        best = self.task.at_home_first(places)
        score = self.task.score(best)
        if self.task.better(score, self.best_score):
            self.best, self.best_score = best, score
