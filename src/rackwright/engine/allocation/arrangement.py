"""Which amplifier goes on which circuit so that nothing is over its limit, the worst loading least, the phases even.

Holds the proposal for the circuits that have power, judged by the limits that the findings judge by, the order to
make the moves in, and the edit that makes them; the search is `solver`'s. Leaves out what it can't know: how far a
mains lead reaches, and which amplifiers share one.
"""

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from rackwright.engine import limits, mains
from rackwright.engine.allocation import solver
from rackwright.engine.allocation.task import EQUAL, NOWHERE, Places, Score, Task
from rackwright.engine.assess import Assessed
from rackwright.engine.results import CircuitResult
from rackwright.model import edits
from rackwright.model.mains import PHASES, phases_of
from rackwright.model.rig import Rig

JUDGED = frozenset(
    {
        "circuit-failed",
        "circuit-overloaded",
        "circuit-near-limit",
        "circuit-heavy-overload",
        "circuit-empty",
        "amplifier-without-circuit",
        "generator-overloaded",
        "generator-near-limit",
        "feed-drop",
        "phases-uneven",
        "inrush-over-band",
    }
)
"""The findings on the mains that a Score judges; that nothing is better is proven of these."""


class ArrangementError(Exception):
    """There is nothing to arrange. The message says to a person what to do."""


class Move(NamedTuple):
    """An amplifier to plug in elsewhere."""

    amplifier: str
    source: str
    """The circuit it is on today; empty where it has none."""
    to: str


class Step(NamedTuple):
    """A plug to pull or to put in, and the loading that its circuits carry then."""

    amplifier: str
    source: str
    """The circuit it is unplugged from; empty where it hung on none, or was unplugged before."""
    to: str
    """The circuit it is plugged into; empty where it waits unplugged, to make room."""
    left: float | None
    """Loading of the source at programme afterwards; None where there is none or it is dead."""
    there: float | None
    """Loading of the circuit it goes to."""


class Arrangement(NamedTuple):
    """A proposal: what to move, and the loading of each circuit before and after."""

    moves: tuple[Move, ...]
    steps: tuple[Step, ...]
    """The moves in an order in which no step overloads what was not overloaded."""
    unplaced: tuple[str, ...]
    """Amplifiers without power that no circuit may bear."""
    loading_before: Mapping[str, float]
    """Circuit → programme current over its breaker."""
    loading_after: Mapping[str, float]
    before: Score
    """Of today's arrangement; an amplifier without power loads none."""
    after: Score
    bound: float
    """No arrangement can have a worst loading under this."""
    proven: bool
    """Whether nothing better exists by what a Score judges; else it is a good one."""
    places: Places
    """The same by position, to start another search from."""


def propose(assessment: Assessed, few_moves: bool = False, known: Sequence[Arrangement] = ()) -> Arrangement:
    """The best arrangement on the circuits that have power.

    Never does an amplifier lose its power, or a circuit come over its limit that is not over it today. Then count, as
    far as they can be had: power for every amplifier, and in the order of a Score no limit exceeded that the findings
    judge, by how far each is exceeded. Among those that are equal in that, the least worst loading is taken, then the
    most even, then the fewest moves; or with `few_moves` the fewest moves first. None of `known`, made of the same
    assessment, is better. Proven where the rig is small enough, good where it is not. Raises ArrangementError where
    there is nothing to arrange.
    """
    circuits, amplifiers = _live(assessment), list(assessment.amplifiers.values())
    if not assessment.circuits:
        raise ArrangementError("There are no circuits to arrange on. List those at the venue first.")
    if not circuits:
        raise ArrangementError(
            "Every circuit has failed: there is none to arrange on. Repair one, or add one, first."
        )
    if not amplifiers:
        raise ArrangementError("There are no amplifiers to arrange. Put one in a rack first.")
    task = _task(assessment)._replace(few_moves=few_moves)
    places, proven = solver.solve(task, [each.places for each in known])
    moves = tuple(
        Move(amplifier.id, amplifier.circuit, circuits[place].id)
        for amplifier, home, place in zip(amplifiers, task.homes, places, strict=True)
        if home != place
    )
    loadings = dict(zip([c.id for c in circuits], task.loadings(task.loads(places)), strict=True))
    return Arrangement(
        moves=moves,
        steps=_steps(assessment, task, places),
        unplaced=tuple([a.id for a, place in zip(amplifiers, places, strict=True) if place == NOWHERE]),
        loading_before={circuit.id: circuit.loading for circuit in assessment.circuits.values()},
        loading_after=dict.fromkeys(assessment.circuits, 0.0) | loadings,
        before=task.score(task.homes),
        after=task.score(places),
        bound=task.bound,
        proven=proven,
        places=places,
    )


def _live(assessment: Assessed) -> list[CircuitResult]:
    return [circuit for circuit in assessment.circuits.values() if circuit.live]


def _task(assessment: Assessed) -> Task:
    circuits, amplifiers = _live(assessment), assessment.amplifiers.values()
    supply = assessment.index.rig.supply
    voltage, drop = supply.voltage.value, limits.drop(supply.rules).value / 100
    number = {circuit.id: i for i, circuit in enumerate(circuits)}
    cables = [
        mains.supply_cable_resistance(assessment.index.circuits[circuit.id], supply) for circuit in circuits
    ]
    return Task(
        currents=tuple([amplifier.programme_current for amplifier in amplifiers]),
        heavies=tuple([amplifier.heavy_current for amplifier in amplifiers]),
        inrushes=tuple([amplifier.inrush for amplifier in amplifiers]),
        homes=tuple([number.get(amplifier.circuit, NOWHERE) for amplifier in amplifiers]),
        breakers=tuple([circuit.breaker for circuit in circuits]),
        bands=tuple([circuit.inrush_limit for circuit in circuits]),
        phases=tuple([PHASES.index(phases_of(circuit.phase)[0]) for circuit in circuits])
        if assessment.supply.phases == 3
        else None,
        limit=limits.loading_stop(supply.rules).value,
        comfortable=limits.loading_near(supply.rules).value,
        even=limits.EVEN,
        cables=tuple([drop * voltage / r if r else math.inf for r in cables]),
        generator=supply.generator.value / voltage if supply.generator else math.inf,
        generator_near=limits.generator_near().value,
    )


# --- one step after the other -------------------------------------------------------------------------


def _steps(assessment: Assessed, task: Task, places: Places) -> tuple[Step, ...]:
    """The moves in such an order that no circuit, and no phase of a generator, is filled past its limits on the way.

    A circuit is over at a step only where it is over in the end, and no further. Where no move can be made so, an
    amplifier is unplugged to make room and plugged in later: in the end there is room for all. Amplifiers without
    power come first.
    """
    circuits, amplifiers = _live(assessment), list(assessment.amplifiers.values())
    way = _Way(task, places)
    steps: list[Step] = []
    to_go = [load for load, (home, place) in enumerate(zip(task.homes, places, strict=True)) if home != place]
    while to_go:
        ready = [load for load in to_go if way.has_room(load)]
        load = max(
            ready or [i for i in to_go if way.at[i] != NOWHERE],
            key=lambda i: (task.homes[i] == NOWHERE, task.currents[i]),
        )
        source = way.at[load]
        way.shift(load, places[load] if ready else NOWHERE)
        to = way.at[load]
        if ready:
            to_go.remove(load)
        amplifier = amplifiers[load]
        from_dead = (
            source == NOWHERE and amplifier.circuit and not assessment.circuits[amplifier.circuit].live
        )
        steps.append(
            Step(
                amplifier.id,
                circuits[source].id if source != NOWHERE else amplifier.circuit if from_dead else "",
                circuits[to].id if to != NOWHERE else "",
                way.loading(source),
                way.loading(to),
            )
        )
    return tuple(steps)


class _Way:
    """Where the loads hang on the way from their homes to their places."""

    def __init__(self, task: Task, places: Places) -> None:
        self.task, self.places, self.at = task, places, list(task.homes)
        self.figures = [(c, h, c, h) for c, h in zip(task.currents, task.heavies, strict=True)]
        self.phases = task.phases or (0,) * len(task.breakers)
        phase = [task.generator / 3 if task.phases else task.generator] * 3
        limits = [task.comfortable * b for b in task.breakers], list(task.breakers), phase, phase
        self.now = self._carried(task.homes)
        self.caps = [
            [max(limit, end) * (1 + EQUAL) for limit, end in zip(each, ends, strict=True)]
            for each, ends in zip(limits, self._carried(places), strict=True)
        ]

    def _carried(self, places: Sequence[int]) -> list[list[float]]:
        """A on each breaker at programme and driven hard, and the same on each phase."""
        loads, heavies = self.task.loads(places), self.task.sums(self.task.heavies, places)

        def by_phase(figures: Sequence[float]) -> list[float]:
            return [
                sum([figure for figure, at in zip(figures, self.phases, strict=True) if at == phase])
                for phase in range(3)
            ]

        return [loads, heavies, by_phase(loads), by_phase(heavies)]

    def _where(self, place: int) -> tuple[int, int, int, int]:
        return place, place, self.phases[place], self.phases[place]

    def has_room(self, load: int) -> bool:
        """Whether its place can take a load now: within its limits, or no fuller than in the end."""
        home = self._where(self.at[load]) if self.at[load] != NOWHERE else (NOWHERE,) * 4
        entries = zip(
            self.figures[load], self._where(self.places[load]), home, self.now, self.caps, strict=True
        )
        return all(
            place == before or now[place] + figure <= caps[place]
            for figure, place, before, now, caps in entries
        )

    def shift(self, load: int, to: int) -> None:
        """Unplug a load, and plug it in at `to` unless that is NOWHERE."""
        for place, sign in ((self.at[load], -1), (to, 1)):
            if place != NOWHERE:
                for figure, at, now in zip(self.figures[load], self._where(place), self.now, strict=True):
                    now[at] += sign * figure
        self.at[load] = to

    def loading(self, place: int) -> float | None:
        """Of a breaker at programme; None for NOWHERE."""
        return self.now[0][place] / self.task.breakers[place] if place != NOWHERE else None


def apply(rig: Rig, arrangement: Arrangement) -> Rig:
    """The rig with each amplifier plugged in where the arrangement says. Raises EditError where one is gone."""
    for move in arrangement.moves:
        rig = edits.unchecked(edits.change)(rig, move.amplifier, circuit=move.to)
    return rig
