"""Spreading currents over breakers: what a spread is worth, a quick search for a good one, a search that proves.

Numbers only, by position; what they stand for is `arrangement`'s.
"""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple, TypeAlias

from rackwright.engine import limits
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

Kind: TypeAlias = tuple[float, float, float]
"""Current, current driven hard, and inrush: loads of one kind are alike but for their homes."""


class Score(NamedTuple):
    """What a spread is judged by, less being better: in this order, or with the moves before the worst loading.

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
    """Loads to spread over breakers."""

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
        """No spread of all loads has a worst loading under this: all of it evenly, or the largest on the largest."""
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
        """What a spread is worth."""
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
        """The same spread with the fewest moves: of loads of one kind those stay that can."""
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


def solve(task: Task, known: Sequence[Places] = ()) -> tuple[Places, bool]:
    """The best spread found, none of `known` being better, and whether it is proven that none is."""
    best = task.homes
    tried = (
        _improved(task, start)
        for start in (_filled(task, task.homes), _filled(task, (NOWHERE,) * len(task.homes)))
    )
    for found in (*known, _filled(task, task.homes), *tried):
        if task.allowed(found) and task.better(task.score(found), task.score(best)):
            best = found
    return _Search(task, best).run() if len(task.currents) <= EXACT else (best, False)


# --- the quick search ---------------------------------------------------------------------------------


def _filled(task: Task, places: Places) -> Places:
    """The places, each load that has none put where it loads least, the largest first, limits and inrush permitting.

    One that no breaker may bear stays without. Source of the rule: Graham, "Bounds on multiprocessing timing
    anomalies", SIAM J. Appl. Math. 17(2), 1969.
    """
    loads, heavies, inrushes = (
        task.loads(places),
        task.sums(task.heavies, places),
        task.sums(task.inrushes, places),
    )
    caps, heavy_caps, kinds, filled = task.caps(), task.heavy_caps(), task.kinds, list(places)

    def cost(place: int, kind: Kind) -> tuple[float, float, float]:
        load, heavy, inrush = loads[place] + kind[0], heavies[place] + kind[1], inrushes[place] + kind[2]
        beyond = max(0.0, heavy - heavy_caps[place]) / task.breakers[place]
        return (
            beyond,
            _over(inrush, task.bands[place]) - _over(inrushes[place], task.bands[place]),
            load / task.breakers[place],
        )

    generator_cap = task.generator_cap()
    for i in sorted(range(len(places)), key=lambda i: -task.currents[i]):
        kind = kinds[i]
        bearing = (
            [p for p in range(len(loads)) if loads[p] + kind[0] <= caps[p]] if filled[i] == NOWHERE else []
        )
        if bearing:
            place = min(bearing, key=lambda p: cost(p, kind))
            loads[place] += kind[0]
            if task.generated(loads) > generator_cap:
                loads[place] -= kind[0]
                continue
            filled[i] = place
            heavies[place] += kind[1]
            inrushes[place] += kind[2]
    return tuple(filled)


def _over(figure: float, limit: float) -> float:
    return max(0.0, figure - limit)


def _improved(task: Task, places: Places) -> Places:
    """Moves, and exchanges of two, until none helps: the worst loading, then the phases, then moves.

    Where the phases stay uneven so, they are evened as far as breakers stay at ease, and the worst loading is
    eased again within that. For fewest moves a load counts so that a breaker at ease is not over driven hard either.
    """
    enough, even, quick = 0.0, 0.0, task
    if task.few_moves:
        enough, even = task.comfortable, task.even
        weights = zip(task.currents, task.heavies, strict=True)
        quick = task._replace(currents=tuple([max(p, heavy * task.comfortable) for p, heavy in weights]))
    state = _State(quick, places)
    state.ease(math.inf, enough)
    state.even(max(state.worst(), enough), even)
    if quick.imbalance(state.loads) > task.even:
        state.even(max(state.worst(), task.comfortable), task.even)
        state.ease(max(task.even, quick.imbalance(state.loads)), enough)
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
        self.inrushes = task.sums(task.inrushes, places)
        self.caps = task.caps()
        self.on: list[set[int]] = [set() for _ in task.breakers]
        for load, place in enumerate(places):
            if place != NOWHERE:
                self.on[place].add(load)

    def worst(self) -> float:
        return max(self.task.loadings(self.loads))

    def exchange(self, goes: int, back: int | None, to: int) -> None:
        source = self.places[goes]
        self._shift(goes, to)
        if back is not None:
            self._shift(back, source)

    def _shift(self, load: int, to: int) -> None:
        source, (current, _, inrush) = self.places[load], self.kinds[load]
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

    def _allowed(self, source: int, goes: int, back: int | None, to: int, gained: float) -> bool:
        """Whether the other end may bear what it gains, and the excess of inrush of both ends doesn't grow."""
        if self.loads[to] + gained > self.caps[to]:
            return False
        change = self.kinds[goes][2] - (0.0 if back is None else self.kinds[back][2])
        here, there = self.inrushes[source], self.inrushes[to]
        band, band_there = self.task.bands[source], self.task.bands[to]
        before = _over(here, band) + _over(there, band_there)
        return _over(here - change, band) + _over(there + change, band_there) <= before + EQUAL

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
                    and self._allowed(source, goes, back, to, gained)
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
                if uneven < least and gained <= room and self._allowed(source, goes, back, to, gained):
                    best, least = (goes, back, to), uneven
        if best is not None:
            self.exchange(*best)
        return best is not None

    def send_home(self) -> None:
        """Undo what is not needed: bring loads back to their homes where nothing that counts more is lost by it."""
        for _ in range(PASSES):
            if not sum([self._sent_home(load) for load in range(len(self.places))]):
                return

    def _sent_home(self, load: int) -> bool:
        homes, here = self.task.homes, self.places[load]
        home = homes[load]
        if home in (here, NOWHERE) or here == NOWHERE:
            return False
        before = self.task.score(self.places)
        strangers: list[int | None] = [i for i in sorted(self.on[home]) if homes[i] != home]
        for back in (None, *strangers):
            self.exchange(load, back, home)
            within = self.loads[home] <= self.caps[home] and self.loads[here] <= self.caps[here]
            if within and self.task.better(self.task.score(self.places), before):
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
            near=near + _over(current, near_free) / largest,
            heavy=heavy + _over(hard, heavy_free) / largest,
            generator=task.strain(loads, heavies, max(phases), max(heavy_phases)),
            drop=drop,
            uneven=task.uneven(uneven, loads / 3),
            inrush=inrush + _over(surge, surge_free),
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
