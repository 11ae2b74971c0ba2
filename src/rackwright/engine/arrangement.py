"""Which amplifier goes on which circuit so that the worst loading is least and the phases are even.

Holds the proposal for the circuits at hand, judged at programme duty, and the edit that makes it; the search
is `spread`'s. Leaves out what it can't know: how far a mains lead reaches, and which amplifiers share one.
"""

from collections.abc import Mapping
from typing import NamedTuple

from rackwright.engine import mains, spread
from rackwright.engine.assess import Assessed
from rackwright.engine.spread import Score, Task
from rackwright.model import edit
from rackwright.model.rig import PHASES, Rig


class ArrangementError(Exception):
    """There is nothing to arrange. The message says to a person what to do."""


class Move(NamedTuple):
    """An amplifier to plug in elsewhere."""

    amplifier: str
    source: str
    """The circuit it is on today; empty where it has none."""
    to: str


class Arrangement(NamedTuple):
    """A proposal: what to move, and the loading of each circuit before and after."""

    moves: tuple[Move, ...]
    loading_before: Mapping[str, float]
    """Circuit → programme current over its breaker."""
    loading_after: Mapping[str, float]
    before: Score
    """Of today's arrangement; an amplifier with no circuit loads none."""
    after: Score
    bound: float
    """No arrangement can have a worst loading under this."""
    proven: bool
    """Whether nothing better exists; else it is a good one."""


def propose(assessment: Assessed, few_moves: bool = False) -> Arrangement:
    """The arrangement of least worst loading at programme duty that keeps what the findings judge.

    Before the worst loading come, as far as they can be had: no circuit near its limit, phases that count as
    even, and inrush under every breaker's band. Among equals the most even is taken, then the fewest moves.
    `few_moves` asks for no more than that, and that no circuit is over its breaker driven hard, with as few
    moves as it takes. Proven where the rig is small enough, good where it is not. Raises ArrangementError where the
    rig has no circuits or no amplifiers.
    """
    circuits, amplifiers = list(assessment.circuits.values()), list(assessment.amplifiers.values())
    if not circuits:
        raise ArrangementError("There are no circuits to arrange on. List those at the venue first.")
    if not amplifiers:
        raise ArrangementError("There are no amplifiers to arrange. Put one in a rack first.")
    task = _task(assessment)
    places, proven = spread.solve(_eased_task(assessment, task) if few_moves else task)
    moves = tuple(
        Move(amplifier.id, amplifier.circuit, circuits[place].id)
        for amplifier, home, place in zip(amplifiers, task.homes, places, strict=True)
        if home != place
    )
    names = [circuit.id for circuit in circuits]
    return Arrangement(
        moves=moves,
        loading_before={circuit.id: circuit.loading for circuit in circuits},
        loading_after=dict(zip(names, task.loadings(task.loads(places)), strict=True)),
        before=task.score(task.homes)._replace(moves=0),
        after=task.score(places),
        bound=task.bound,
        proven=proven,
    )


def _task(assessment: Assessed) -> Task:
    circuits, amplifiers = assessment.circuits.values(), assessment.amplifiers.values()
    number = {circuit.id: i for i, circuit in enumerate(circuits)}
    three = assessment.supply.phases == 3
    return Task(
        currents=tuple([amplifier.programme_current for amplifier in amplifiers]),
        inrushes=tuple([amplifier.inrush for amplifier in amplifiers]),
        homes=tuple([number.get(amplifier.circuit, spread.NOWHERE) for amplifier in amplifiers]),
        breakers=tuple([circuit.breaker for circuit in circuits]),
        bands=tuple([circuit.inrush_limit for circuit in circuits]),
        phases=tuple([PHASES.index(circuit.phase) for circuit in circuits]) if three else None,
        comfortable=mains.LIMITS[assessment.index.rig.supply.rules].near,
        even=mains.UNEVEN,
    )


def _eased_task(assessment: Assessed, task: Task) -> Task:
    """The task of keeping each circuit comfortable at programme and under its breaker driven hard.

    Both at once: an amplifier counts with the larger of its heavy current and its programme current over the
    comfortable share, and 1 is the loading to keep to.
    """
    currents = tuple(
        max(amplifier.heavy_current, amplifier.programme_current / task.comfortable)
        for amplifier in assessment.amplifiers.values()
    )
    return task._replace(currents=currents, comfortable=1.0, few_moves=True)


def apply(rig: Rig, arrangement: Arrangement) -> Rig:
    """The rig with each amplifier plugged in where the arrangement says. Raises EditError where one is gone."""
    for move in arrangement.moves:
        rig = edit.unchecked(edit.change)(rig, move.amplifier, circuit=move.to)
    return rig
