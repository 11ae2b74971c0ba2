"""A quick search for a good arrangement: the largest load first, then moves and exchanges until none helps."""

import math
from collections.abc import Iterator, Sequence

from rackwright.engine.allocation.task import EQUAL, NOWHERE, Kind, Places, Task, excess_over

PASSES = 500
"""Improvements of each kind made before an arrangement is taken as it is."""

EVENED = 1e-4
"""An exchange that evens the phases by less than this share of their mean is not made in the quick search."""


def largest_first(task: Task, places: Places) -> Places:
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
            excess_over(inrush, task.bands[place]) - excess_over(inrushes[place], task.bands[place]),
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


def improved(task: Task, places: Places) -> Places:
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
    """An arrangement under improvement."""

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
        before = excess_over(here, band) + excess_over(there, band_there)
        return excess_over(here - change, band) + excess_over(there + change, band_there) <= before + EQUAL

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
