"""Which of the states a search found are plans: judged by `assess` in full, the best of each kind kept.

Holds no search, and nothing that is said of a plan.
"""

import itertools
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.recovery import possible_moves
from rackwright.engine.recovery.moves import apply
from rackwright.engine.recovery.state import LEAVE, OTHER_FEED, Means, Rank, State, Task
from rackwright.engine.results import Finding
from rackwright.model.rig import Rig

TRIES = 300
"""Full assessments, at most."""

TRIES_OF_A_KIND = 6
"""States of a kind that are refused before that kind is given up."""

SHORT_PLAN = 6
"""Moves up to which a plan is looked through for a move that does nothing."""


ENOUGH = 2
"""Kinds of plans that are told besides the last resort, even where one is another with further means added."""


class Verdict(NamedTuple):
    """A state that is a plan: no limit is broken that held in the broken rig."""

    state: State
    rig: Rig
    assessment: Assessed
    rank: Rank

    @property
    def kinds(self) -> frozenset[Means]:
        """By what it brings sound back."""
        return kinds_of(self.state)


class Choice(NamedTuple):
    """The best plan of each kind, best first, and whether every state was weighed that may be as good as the first."""

    verdicts: tuple[Verdict, ...]
    complete: bool


def choose(task: Task, states: Iterable[State], most: int) -> Choice:
    """The best plan, and the best of each other kind, so many at most."""
    best: dict[frozenset[Means], Verdict] = {}
    refused: dict[frozenset[Means], int] = {}
    tried, first_rank, complete = 0, None, True
    idle = task.origin.rank[:2]
    useful = (s for s in states if not s.overloaded and (not s.moves or s.rank[:2] < idle))
    ranked = sorted(useful, key=lambda state: state.rank)
    for rank, group in itertools.groupby(ranked, key=lambda state: state.rank):
        may_be_first = first_rank is None
        for state in group:
            kinds = kinds_of(state)
            done = kinds in best and (not may_be_first or best[kinds].rank.warns == 0)
            if done or (not may_be_first and refused.get(kinds, 0) >= TRIES_OF_A_KIND):
                continue
            if tried >= TRIES:
                complete = complete and not may_be_first
                break
            if not may_be_first and has_idle_move(state):
                continue
            verdict = judged(task, state)
            tried += 1
            if verdict is None:
                refused[kinds] = refused.get(kinds, 0) + 1
                continue
            first_rank = rank
            if kinds not in best or verdict.rank < best[kinds].rank:
                best[kinds] = verdict
            if may_be_first and verdict.rank.warns == 0:
                may_be_first = False
        if tried >= TRIES:
            break
    return Choice(_told(best, most), complete)


def _told(best: Mapping[frozenset[Means], Verdict], most: int) -> tuple[Verdict, ...]:
    """So many, the best first: rather those that aren't a better one with further means added; the last resort last."""
    ranked = sorted(best.values(), key=lambda verdict: verdict.rank)
    resort = [v for v in ranked if not v.state.moves]
    rest = [v for v in ranked if v.state.moves]
    plain = [v for i, v in enumerate(rest) if not any(better.kinds < v.kinds for better in rest[:i])]
    room = max(most - len(resort), 1 if rest else 0)
    chosen = plain[:room]
    if len(chosen) < min(room, ENOUGH):
        chosen += [v for v in rest if v not in chosen][: ENOUGH - len(chosen)]
    told = sorted((*chosen, *resort), key=lambda verdict: verdict.rank)
    return tuple(told[:most])


def kinds_of(state: State) -> frozenset[Means]:
    """By what a state brings sound back."""
    if not state.moves:
        return frozenset({LEAVE})
    like = any(
        now is not None and state.task.weights.get(name) and 0 < state.task.lost_as(name, now[1]) < 1
        for name, now in state.altered.items()
    )
    return state.means | ({OTHER_FEED} if like else set())


def judged(task: Task, state: State) -> Verdict | None:
    """The plan that a state is; None where it brings a stop."""
    rig = apply(task.index.rig, state.moves)
    assessment = assess(rig, task.broken)
    if any(True for _ in new_stops(task.broken, assessment)):
        return None
    known = {(f.code, f.at) for of in (task.before, task.broken) for f in of.findings if f.severity == "warn"}
    warns = {(f.code, f.at) for f in assessment.findings if f.severity == "warn"} - known
    return Verdict(state, rig, assessment, state.rank._replace(warns=len(warns)))


def new_stops(broken: Assessed, after: Assessed) -> Iterable[Finding]:
    """The stops that the failed rig did not have, and those that are graver than they were there."""
    known: dict[tuple[str, str], float] = {}
    for finding in broken.findings:
        if finding.severity == "stop":
            key = finding.code, finding.at
            known[key] = max(finding.excess, known.get(key, finding.excess))
    for finding in after.findings:
        if finding.severity != "stop":
            return
        before = known.get((finding.code, finding.at))
        if before is None or finding.excess > before + 1e-9:
            yield finding


def has_idle_move(state: State) -> bool:
    """Whether a short plan is as good with one of its moves left out."""
    if not 1 <= len(state.moves) <= SHORT_PLAN:
        return False
    wanted = state.rank[:2]
    return any(
        (fewer := possible_moves.replayed(state.task, [*state.moves[:i], *state.moves[i + 1 :]])) is not None
        and fewer.rank[:2] <= wanted
        and not fewer.overloaded
        for i in range(len(state.moves))
    )
