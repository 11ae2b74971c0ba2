"""`recover`: a rig and what has failed in, plans that bring the sound back out, the best first.

Puts the search and the judgement together. Holds no move and no wording.
"""

from collections.abc import Collection, Iterable

from msgspec import Struct

from rackwright.engine import outage
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.recovery import judge, plan, search
from rackwright.engine.recovery.failure import fail, failed, repaired
from rackwright.engine.recovery.plan import Plan
from rackwright.engine.recovery.state import Rank, State, Task
from rackwright.engine.results import Assessment
from rackwright.model.rig import Rig

PLANS = 5
"""Plans told, at most, each of another kind."""

DEEPEST = 3
"""Moves of a plan up to which a proof is tried."""


class Recovery(Struct, frozen=True, kw_only=True):
    """What has failed, and what can be done."""

    failed: tuple[str, ...]
    """The circuits and channels that have failed."""
    before: Assessed
    """With everything working."""
    broken: Assessed
    lost: tuple[str, ...]
    """The sections that are silent for it, those that matter most first."""
    plans: tuple[Plan, ...]
    """The best first, each of another kind. The last resort, to leave things as they are, is among them."""
    proven: bool
    """Whether no plan is better than the first."""
    depth: int
    """Moves up to which every plan was looked at; 0 where the rig is too large for that."""

    @property
    def best(self) -> Plan:
        """The best plan."""
        return self.plans[0]


def recover(
    rig: Rig,
    names: Iterable[str] = (),
    prior: Assessment | None = None,
    *,
    planned: Collection[str] = (),
    most: int | None = None,
    width: int = search.WIDTH,
    plans: int = PLANS,
    exact: int = search.EXACT,
) -> Recovery:
    """Plans for what is marked failed in the rig, and for those channels, amplifiers, racks and circuits besides.

    `prior`, an assessment of much the same rig, only saves time. `planned` are those circuits and channels that an
    earlier plan was taken for: the return plan leaves them failed. `most` is the number of moves that a plan may have;
    `width` and `exact` bound the search: states kept at each step, states looked at for a proof. Raises EditError
    where a name is of nothing that can fail.
    """
    task = task_of(rig, names, prior, planned)
    broken = task.origin
    states = [s for s in search.promising(broken, width) if most is None or len(s.moves) <= most]
    depth = 0
    if exact and not _bounded(states, plans):
        depth = search.depth_within(broken, exact, min(most or 2, 2), min(most or DEEPEST, DEEPEST))
        states += search.exhausted(broken, depth) if depth else []
    chosen = judge.choose(task, _distinct(states), plans)
    best = chosen.verdicts[0].rank
    return Recovery(
        failed=failed(task.index.rig),
        before=task.before,
        broken=task.broken,
        lost=tuple(sorted((n for n in task.weights if broken.lost(n)), key=lambda n: -task.weights[n])),
        plans=tuple(plan.made(task, verdict) for verdict in chosen.verdicts),
        proven=chosen.complete and _proven(broken, best, depth, most),
        depth=depth,
    )


def task_of(
    rig: Rig,
    names: Iterable[str] = (),
    prior: Assessment | None = None,
    planned: Collection[str] = (),
) -> Task:
    """The rig with everything working, and the rig with those failed besides what is marked."""
    working_rig = repaired(rig)
    before = assess(working_rig, prior)
    return Task(before, assess(fail(rig, names), before), planned)


def _bounded(states: list[State], plans: int) -> bool:
    """Whether there is nothing that a search of every move could add: nothing is lost."""
    return not states[0].silent and not states[0].loss


def _distinct(states: Iterable[State]) -> list[State]:
    return list({state.key: state for state in states}.values())


def _proven(broken: State, best: Rank, depth: int, most: int | None) -> bool:
    """Whether no plan is better: every one that may be was looked at, or none can be."""
    if most is not None and depth >= most:
        return True
    if best[:2] != (0.0, 0.0) or best.warns:
        return False
    if best.moves <= max(depth + 1, fewest_moves(broken)):
        return True
    return best.moves == 2 and not any(state.rank[:2] == (0.0, 0.0) for state in search.single(broken))


def fewest_moves(broken: State) -> int:
    """No plan brings back all that is lost in fewer moves.

    A move works on one socket or cabinet, or revives one amplifier: lost sections that hang on different sockets, of
    amplifiers that can't be revived at a stroke, take a move each.
    """
    task, index = broken.task, broken.index
    apart: set[str] = set()
    for name in task.weights:
        if not broken.lost(name):
            continue
        result = task.broken.sections[name]
        if result.patched is None:
            apart.add(result.cabinet)
            continue
        amplifier = index.amplifiers[index.channels[result.patched].amplifier]
        modes = {amplifier.pair_mode(i) for i in range(index.amplifier_models[amplifier.model].channels)}
        spare = any(spare.amplifier and spare.count for spare in broken.spares.values())
        revivable = spare or outage.of_power(index, amplifier) or modes != {"dual"}
        apart.add(amplifier.id if revivable else index.root(result.cabinet) or result.cabinet)
    return len(apart)
