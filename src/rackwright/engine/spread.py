"""Spreading currents over breakers: what a spread is worth, a quick search for a good one, a search that proves.

Numbers only, by position; what they stand for is `arrangement`'s.
"""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple, TypeAlias

from rackwright.engine.mains import imbalance

EXACT = 24
"""Up to so many loads the search tries to prove that nothing better exists."""

SEARCH_STEPS = 60_000
"""Partial spreads looked at before the search gives up on a proof."""

PASSES = 500
"""Improvements of each kind made before a spread is taken as it is."""

EQUAL = 1e-9
"""Two shares closer than this are the same."""

EVENED = 1e-4
"""An exchange that evens the phases by less than this share of their mean is not made in the quick search."""

NOWHERE = -1
"""The place of a load that has none."""

Places: TypeAlias = tuple[int, ...]
"""For each load the position of its breaker."""

Kind: TypeAlias = tuple[float, float]
"""Current and inrush: loads of one kind are alike but for their homes."""


class Score(NamedTuple):
    """What a spread is judged by, less being better: in this order, or with the moves before the worst loading."""

    over: float
    """By how much the worst loading is over what is comfortable."""
    uneven: float
    """By how much the imbalance is over what is accepted."""
    inrush_over: int
    """Breakers whose loads, switched together, exceed the instantaneous band."""
    worst: float
    """Largest current over its breaker."""
    imbalance: float
    """Largest deviation of a phase from the mean, over the mean; 0 on a single phase."""
    moves: int
    """Loads that are not at home."""


LEAST_LOADING = (0, 1, 2, 3, 4, 5)
FEW_MOVES = (0, 1, 2, 5, 3, 4)
"""The orders in which a Score's figures count."""


class Task(NamedTuple):
    """Loads to spread over breakers."""

    currents: tuple[float, ...]
    """A, of each load."""
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
    comfortable: float
    """Loading up to which a breaker is at ease."""
    even: float
    """Imbalance up to which phases count as even."""
    few_moves: bool = False
    """Whether to stop at what is comfortable and even, with as few moves as that takes."""

    @property
    def bound(self) -> float:
        """No spread's worst loading is less: all of it evenly over all, or the largest on the largest."""
        return max(
            math.fsum(self.currents) / math.fsum(self.breakers), max(self.currents) / max(self.breakers)
        )

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """Of each load."""
        return tuple(zip(self.currents, self.inrushes, strict=True))

    def loads(self, places: Sequence[int]) -> list[float]:
        """A on each breaker."""
        return self._sums(self.currents, places)

    def inrush_loads(self, places: Sequence[int]) -> list[float]:
        """A on each breaker, all switched together."""
        return self._sums(self.inrushes, places)

    def _sums(self, figures: Sequence[float], places: Sequence[int]) -> list[float]:
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

    def worth(self, worst: float, uneven: float, inrush_over: int, moves: int) -> Score:
        """The score of a worst loading, an imbalance and two counts."""
        over, beyond = max(0.0, worst - self.comfortable), max(0.0, uneven - self.even)
        return Score(over, beyond, inrush_over, worst, uneven, moves)

    def score(self, places: Sequence[int]) -> Score:
        """What a spread is worth."""
        loads = self.loads(places)
        inrush_over = sum(i > band for i, band in zip(self.inrush_loads(places), self.bands, strict=True))
        moves = sum(home != place for home, place in zip(self.homes, places, strict=True))
        return self.worth(max(self.loadings(loads)), self.imbalance(loads), inrush_over, moves)

    def better(self, one: Score, other: Score) -> bool:
        """Whether one score beats the other, shares as close as EQUAL being the same."""
        order = FEW_MOVES if self.few_moves else LEAST_LOADING
        for i in order:
            if abs(one[i] - other[i]) > EQUAL:
                return one[i] < other[i]
        return False

    def at_home_first(self, places: Sequence[int]) -> Places:
        """The same spread with the fewest moves: of loads of one kind those stay that can."""
        free: dict[Kind, Counter[int]] = {}
        for kind, place in zip(self.kinds, places, strict=True):
            free.setdefault(kind, Counter())[place] += 1
        at: list[int | None] = []
        for kind, home in zip(self.kinds, self.homes, strict=True):
            at.append(home if free[kind][home] else None)
            free[kind][home] -= at[-1] is not None
        rest = {kind: iter(counts.elements()) for kind, counts in free.items()}
        return tuple(
            next(rest[kind]) if place is None else place for kind, place in zip(self.kinds, at, strict=True)
        )


def solve(task: Task) -> tuple[Places, bool]:
    """The best spread found, and whether it is proven that none is better."""
    best = today = _filled(task, task.homes)
    for start in (today, _filled(task, (NOWHERE,) * len(task.homes))):
        found = _improved(task, start)
        if task.better(task.score(found), task.score(best)):
            best = found
    return _Search(task, best).run() if len(task.currents) <= EXACT else (best, False)


# --- the quick search ---------------------------------------------------------------------------------


def _filled(task: Task, places: Places) -> Places:
    """The places, each load that has none put where it loads least, the largest first, inrush permitting.

    Source of the rule: Graham, "Bounds on multiprocessing timing anomalies", SIAM J. Appl. Math. 17(2), 1969.
    """
    loads, inrushes, filled = task.loads(places), task.inrush_loads(places), list(places)
    for i in sorted(range(len(places)), key=lambda i: -task.currents[i]):
        if filled[i] != NOWHERE:
            continue
        current, inrush = task.kinds[i]
        filled[i] = place = min(
            range(len(loads)),
            key=lambda p: (inrushes[p] + inrush > task.bands[p], (loads[p] + current) / task.breakers[p]),
        )
        loads[place] += current
        inrushes[place] += inrush
    return tuple(filled)


def _improved(task: Task, places: Places) -> Places:
    """Moves, and exchanges of two, until none helps: the worst loading, then the phases, then moves.

    Where the phases stay uneven so, they are evened as far as breakers stay at ease, and the worst loading is
    eased again within that.
    """
    state = _State(task, places)
    enough, even = (task.comfortable, task.even) if task.few_moves else (0.0, 0.0)
    state.ease(math.inf, enough)
    state.even(max(state.worst(), enough), even)
    if task.imbalance(state.loads) > task.even:
        state.even(max(state.worst(), task.comfortable), task.even)
        state.ease(max(task.even, task.imbalance(state.loads)), enough)
        state.even(max(state.worst(), enough), even)
    state = _State(task, task.at_home_first(state.places))
    state.send_home()
    return tuple(state.places)


class _State:
    """A spread under improvement."""

    def __init__(self, task: Task, places: Places) -> None:
        self.task = task
        self.kinds = task.kinds
        self.places = list(places)
        self.loads = task.loads(places)
        self.inrushes = task.inrush_loads(places)
        self.on: list[set[int]] = [set() for _ in task.breakers]
        for load, place in enumerate(places):
            self.on[place].add(load)

    def worst(self) -> float:
        return max(self.task.loadings(self.loads))

    def inrush_over(self) -> int:
        return sum([inrush > band for inrush, band in zip(self.inrushes, self.task.bands, strict=True)])

    def exchange(self, goes: int, back: int | None, to: int) -> None:
        source = self.places[goes]
        self._shift(goes, to)
        if back is not None:
            self._shift(back, source)

    def _shift(self, load: int, to: int) -> None:
        source, (current, inrush) = self.places[load], self.kinds[load]
        self.on[source].discard(load)
        self.on[to].add(load)
        self.places[load] = to
        self.loads[source] -= current
        self.loads[to] += current
        self.inrushes[source] -= inrush
        self.inrushes[to] += inrush

    def _exchanges(self, source: int, to: int) -> Iterator[tuple[int, int | None, float]]:
        """Each way to bring current from one breaker to another: what goes, what comes back, A gained there."""
        backs = [(kind[0], load) for kind, load in {self.kinds[i]: i for i in self.on[to]}.items()]
        for kind, goes in {self.kinds[i]: i for i in self.on[source]}.items():
            yield goes, None, kind[0]
            for current, back in backs:
                if current < kind[0]:
                    yield goes, back, kind[0] - current

    def _inrush_allows(self, source: int, goes: int, back: int | None, to: int) -> bool:
        """Whether neither end's inrush is brought over its band, or further over it."""
        gained = self.kinds[goes][1] - (0.0 if back is None else self.kinds[back][1])
        end, change = (to, gained) if gained > 0 else (source, -gained)
        return change == 0 or self.inrushes[end] + change <= self.task.bands[end]

    def ease(self, uneven: float, enough: float) -> None:
        """Take current off the fullest breaker until that is `enough` or neither end would be less full.

        The imbalance is kept to `uneven`.
        """
        for _ in range(PASSES):
            if self.worst() <= enough or not self._eased(uneven):
                return

    def _eased(self, uneven: float) -> bool:
        breakers, loads = self.task.breakers, self.loads
        source = max(range(len(loads)), key=lambda place: loads[place] / breakers[place])
        best, least = None, loads[source] / breakers[source] - EQUAL
        for to in range(len(loads)):
            if to == source or loads[to] / breakers[to] >= least:
                continue
            for goes, back, gained in self._exchanges(source, to):
                fuller = max((loads[source] - gained) / breakers[source], (loads[to] + gained) / breakers[to])
                if (
                    fuller < least
                    and self._inrush_allows(source, goes, back, to)
                    and (uneven == math.inf or self._imbalance_after(source, to, gained) <= uneven)
                ):
                    best, least = (goes, back, to), fuller
        if best is not None:
            self.exchange(*best)
        return best is not None

    def _imbalance_after(self, source: int, to: int, gained: float) -> float:
        loads = self.loads.copy()
        loads[source] -= gained
        loads[to] += gained
        return self.task.imbalance(loads)

    def even(self, worst: float, enough: float) -> None:
        """Bring current between phases, no breaker filled past `worst`, until the imbalance is `enough` or none helps."""
        for _ in range(PASSES):
            if self.task.imbalance(self.loads) <= enough or not self._evened(worst * (1 + EQUAL)):
                return

    def _evened(self, worst: float) -> bool:
        sums, phases = self.task.phase_sums(self.loads), self.task.phases or ()
        mean = sum(sums) / 3
        best, least = None, max([abs(total - mean) for total in sums]) - EVENED * mean
        for source, to in _across(phases, sums):
            room = worst * self.task.breakers[to] - self.loads[to]
            giver, taker = sums[phases[source]] - mean, sums[phases[to]] - mean
            third = abs(giver + taker)
            for goes, back, gained in self._exchanges(source, to):
                uneven = max(abs(giver - gained), abs(taker + gained), third)
                if uneven < least and gained <= room and self._inrush_allows(source, goes, back, to):
                    best, least = (goes, back, to), uneven
        if best is not None:
            self.exchange(*best)
        return best is not None

    def send_home(self) -> None:
        """Undo what is not needed: bring loads back to their homes where nothing is lost by it."""
        worst, uneven = self.worst(), self.task.imbalance(self.loads)
        if self.task.few_moves:
            worst, uneven = max(worst, self.task.comfortable), max(uneven, self.task.even)
        limits = worst + EQUAL, uneven + EQUAL, self.inrush_over()
        while sum([self._sent_home(load, *limits) for load in range(len(self.places))]):
            pass

    def _sent_home(self, load: int, worst: float, uneven: float, inrush_over: int) -> bool:
        homes, here = self.task.homes, self.places[load]
        home = homes[load]
        if home in (here, NOWHERE):
            return False
        strangers: list[int | None] = [i for i in sorted(self.on[home]) if homes[i] != home]
        for back in (None, *strangers):
            self.exchange(load, back, home)
            if (
                self.worst() <= worst
                and self.task.imbalance(self.loads) <= uneven
                and self.inrush_over() <= inrush_over
            ):
                return True
            self.exchange(load, back, here)
        return False


def _across(phases: Places, sums: Sequence[float]) -> Iterator[tuple[int, int]]:
    """The pairs of breakers of which the first stands on the fullest phase or the second on the emptiest."""
    high, low = sums.index(max(sums)), sums.index(min(sums))
    for source, phase in enumerate(phases):
        for to, other in enumerate(phases):
            if phase != other and (phase == high or other == low):
                yield source, to


# --- the search that proves ---------------------------------------------------------------------------


class _OutOfSteps(Exception):
    pass


class _Search:
    """Branch and bound: loads of falling current, each on every breaker that may yet beat the best found.

    Of loads of one kind only how many go on a breaker is searched; those in excess of the homes there are the
    moves.
    """

    def __init__(self, task: Task, found: Places) -> None:
        self.task = task
        self.order = sorted(range(len(task.currents)), key=lambda i: task.kinds[i], reverse=True)
        self.kinds = [task.kinds[i] for i in self.order]
        self.left = [math.fsum([kind[0] for kind in self.kinds[i:]]) for i in range(len(self.kinds) + 1)]
        self.homes: dict[Kind, Counter[int]] = {kind: Counter() for kind in self.kinds}
        for kind, home in zip(task.kinds, task.homes, strict=True):
            self.homes[kind][home] += 1
        self.homes_to_come = [
            {home for kind in set(self.kinds[i:]) for home in self.homes[kind]}
            for i in range(len(self.kinds))
        ]
        self.first_alike = [self.kinds.index(kind) for kind in self.kinds]
        self.loads = [0.0] * len(task.breakers)
        self.inrushes = [0.0] * len(task.breakers)
        self.trail: list[int] = []
        self.best, self.best_score = found, task.score(found)
        self.steps = SEARCH_STEPS

    def run(self) -> tuple[Places, bool]:
        try:
            self._place(0, self.task.bound, 0, 0)
        except _OutOfSteps:
            return self.best, False
        return self.best, True

    def _place(self, i: int, worst: float, inrush_over: int, moves: int) -> None:
        if i == len(self.order):
            self._keep_if_better()
            return
        first = self.trail[i - 1] if i > 0 and self.kinds[i - 1] == self.kinds[i] else 0
        tried = set()
        for place in self._by_loading(first, self.kinds[i][0]):
            if place not in self.homes_to_come[i]:
                alike = self._alike(place)
                if alike in tried:
                    continue
                tried.add(alike)
            self._try(i, place, worst, inrush_over, moves)

    def _by_loading(self, first: int, current: float) -> list[int]:
        breakers, loads = self.task.breakers, self.loads
        return sorted(range(first, len(breakers)), key=lambda p: (loads[p] + current) / breakers[p])

    def _alike(self, place: int) -> tuple[float, ...]:
        """Breakers that have this in common, and no load's home among them, may be exchanged."""
        task = self.task
        phase = task.phases[place] if task.phases else 0
        return self.loads[place], self.inrushes[place], task.breakers[place], task.bands[place], phase

    def _try(self, i: int, place: int, worst: float, inrush_over: int, moves: int) -> None:
        self.steps -= 1
        if self.steps <= 0:
            raise _OutOfSteps
        (current, inrush), band = self.kinds[i], self.task.bands[place]
        load, inrush_load = self.loads[place], self.inrushes[place]
        moves += self.trail[self.first_alike[i] :].count(place) >= self.homes[self.kinds[i]][place]
        inrush_over += inrush_load <= band < inrush_load + inrush
        self.loads[place], self.inrushes[place] = load + current, inrush_load + inrush
        worst = max(worst, self.loads[place] / self.task.breakers[place])
        self.trail.append(place)
        if self._may_beat_the_best(i + 1, worst, inrush_over, moves):
            self._place(i + 1, worst, inrush_over, moves)
        self.trail.pop()
        self.loads[place], self.inrushes[place] = load, inrush_load

    def _may_beat_the_best(self, i: int, worst: float, inrush_over: int, moves: int) -> bool:
        """Whether placing the rest can give a better score: each figure of it is at least what is reckoned here."""
        limit = self.best_score.worst + EQUAL
        room = sum(
            [
                limit * b - load
                for b, load in zip(self.task.breakers, self.loads, strict=True)
                if load < limit * b
            ]
        )
        if room < self.left[i] - EQUAL:
            worst = max(worst, limit + EQUAL)
        least = self.task.worth(worst, self._least_imbalance(i), inrush_over, moves)
        return self.task.better(least, self.best_score)

    def _least_imbalance(self, i: int) -> float:
        """The rest goes where it evens the phases most, as if it could be cut at will."""
        phases, mean = self.task.phases, self.left[0] / 3
        if phases is None or mean <= 0:
            return 0.0
        sums = self.task.phase_sums(self.loads)
        short = mean if len(set(phases)) < 3 else mean - min(sums) - self.left[i]
        return max(max(sums) - mean, short, 0.0) / mean

    def _keep_if_better(self) -> None:
        places = [NOWHERE] * len(self.order)
        for i, place in zip(self.order, self.trail, strict=True):
            places[i] = place
        best = self.task.at_home_first(places)
        score = self.task.score(best)
        if self.task.better(score, self.best_score):
            self.best, self.best_score = best, score
