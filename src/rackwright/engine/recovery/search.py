"""The search for the plans of one task: the programme proposes, `assess` judges; what it refuses goes back as a row.

Which plans are shown, and why, stands here. Holds no move and no wording.
"""

import functools
import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from rackwright.engine.allocation.program import SLACK, Terms
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.finding import Finding
from rackwright.engine.findings.limiters import advised, too_high
from rackwright.engine.limits import Kind
from rackwright.engine.recovery import cover, criteria, plan, sequence
from rackwright.engine.recovery.choices import Choices, Promise
from rackwright.engine.recovery.criteria import Criteria
from rackwright.engine.recovery.plan import Plan, Role
from rackwright.engine.recovery.rewiring import apply, in_order
from rackwright.engine.recovery.task import Task
from rackwright.model.edits import EditError
from rackwright.model.night import Rewiring, RewiringKind, Step
from rackwright.units import LimiterSetting

PLANS = 6
"""Plans told, at most: one for each role."""

AT_ONCE = 120.0
"""s within which a plan is for now."""

TRIES = 12
"""Proposals of one kind that are refused, or are worse than promised, before that kind is given up."""

HALF = 0.5
"""Share of what is lost that the quickest plan brings back at least."""


class Verdict(NamedTuple):
    """A proposal that is a plan, judged."""

    moves: tuple[Rewiring, ...]
    assessment: Assessed
    criteria: Criteria
    steps: tuple[Step, ...]
    seconds: float


def limiters(task: Task, after: Assessed) -> Iterator[Rewiring]:
    """The limiters that come down to what the weakest on their feed can take, where that is less than it was."""
    known = {f.at for f in task.broken.findings if f.code == _TOO_HIGH}
    feeds = dict.fromkeys(
        after.channels[f.at].feed for f in after.findings if f.code == _TOO_HIGH and f.at not in known
    )
    for name in feeds:
        feed = after.index.feeds[name]
        playing = [b for b in after.branches.values() if b.live and b.feed is feed and b.sections]
        moves: tuple[tuple[RewiringKind, Kind, LimiterSetting | None], ...] = (
            ("limiter rms", "rms", feed.limiter_rms), ("limiter peak", "peak", feed.limiter_peak),
        )  # fmt: skip
        for move, kind, stated in moves:
            if stated and any(too_high(branch, kind) for branch in playing):
                new = advised(after.index, feed, kind, playing, unclipped=False)
                yield Rewiring(kind=move, at=name, old=stated.text, new=LimiterSetting.parse(new).text)


_TOO_HIGH = "limiter-too-high"


class Question(NamedTuple):
    """What is asked of a programme: which plan is first."""

    choices: Choices
    held: Sequence[tuple[Terms, float]] = ()
    """Rows that it keeps besides."""
    first: str = "silence"
    """What comes first in order, that or seconds."""
    full: bool = True
    """Whether there may be a full one."""
    within: float = math.inf
    """s that its list takes at most."""

    def order(self, verdict: Verdict) -> tuple[float, ...]:
        """Less is better."""
        told = verdict.criteria
        return told if self.first == "silence" else (told.seconds, *told)


class Search:
    """The plans of one task, by role."""

    def __init__(self, task: Task, proof: bool = True) -> None:
        self.task = task
        self.proven = False
        self.leave = self._verdict((), task.broken)
        self._judged: dict[tuple[Rewiring, ...], Verdict | None] = {(): self.leave}
        self._for_lost = self._choices = Choices(task, wide=False) if task.just_lost else None
        self._for_now = self._choices
        """Where the plan for now is looked for: among what is lost where that brings all back, else among all."""
        self._wide = self._others_wide = proof
        self._bare: Verdict | None = None
        """What is proved to be first of those that leave what plays as loud as it was."""
        self._asked: dict[tuple[object, ...], Verdict] = {}
        """What was found among choices for the quickest plan and for that for now: asked again for the proof, it is answered at once."""

    @functools.cached_property
    def first(self) -> tuple[Verdict, bool]:
        """The most complete plan that is found at once, for nothing that plays is moved or given up to make room; and whether none
        such is before it."""
        if self._for_lost is None:
            return self.leave, True
        return self._first(Question(self._for_lost), tries=0)

    def best(self) -> Verdict:
        """The most complete plan: the first in order, with what covers for the rest of it."""
        return self._covered(self._uncovered())

    def _covered(self, found: Verdict) -> Verdict:
        """With the neighbours of what stays silent turned up, where that is before it in order."""
        covers = self.judged(cover.together(found.moves, cover.turned_up(self.task, found.assessment)))
        return min(found, covers or found, key=lambda verdict: verdict.criteria)

    def _with_twins_muted(self, found: Verdict) -> Verdict | None:
        """With the opposite twins of what stays silent muted."""
        moves = cover.muted(self.task, found.assessment)
        return self.judged(in_order([*found.moves, *moves])) if moves else None

    def _uncovered(self) -> Verdict:
        """The first in order of those that leave what plays as loud as it was."""
        if self._bare is not None:
            return self._bare
        found, proven = self.first
        if self._for_lost is None or not self._wide:
            self.proven = self._for_lost is None
            return found
        quick = found.criteria.full and self._quick(found)
        if quick and not proven:
            found, proven = self._first(Question(self._for_lost))
        if not (quick and proven):
            self._choices = Choices(self.task, wide=True)
            if not found.criteria.full:
                self._for_now = self._choices
            wide, proven = self._first(Question(self._choices), found)
            if wide.criteria.silence < self.leave.criteria.silence - SLACK:
                found = wide  # else what plays stays as it is
        self.proven, self._bare = proven, found
        return found

    def _quick(self, found: Verdict) -> bool:
        """Whether nothing that moves what plays can be as quick: that takes a move more than what is lost, with what it moves down
        and up, or one plug for both."""
        times = self.task.index.rig.targets.times
        plug, repatch, mute = float(times.plug.value), float(times.repatch.value), float(times.mute.value)
        split = self._choices is not None and self._choices.split
        least = (plug if split else 2 * min(repatch, plug)) + 3 * mute
        racks = criteria.places(self.task.index, found.moves)
        quick = found.criteria.seconds <= least + criteria.walk(self.task.index, racks[:1])
        return quick or (len(found.moves) <= 1 and not split)

    def widen(self) -> None:
        """From now on what plays may be moved or given up to make room for the first plan, and it is proved that nothing is better."""
        self._wide = True

    def widen_others(self) -> None:
        """From now on that holds for the plans besides it, too."""
        self._others_wide = True

    def told_first(self) -> list[tuple[Verdict, tuple[Role, ...]]]:
        """The most complete plan that is found at once, and to leave things as they are."""
        first, _ = self.first
        told: list[tuple[Verdict, tuple[Role, ...]]] = [(self.leave, ("leave it",))]
        return [(first, ("most complete",)), *told] if first.moves else told

    def told(self) -> list[tuple[Verdict, tuple[Role, ...]]]:
        """Each plan with its roles, the best first.

        What is first in order from the rig after the plan for now is as good in its end as what is first from here: that
        is the plan for the interval.
        """
        bare = self._uncovered()
        quickest = self._quickest(bare) if self._choices is not None and bare.moves else None
        bare = min(
            bare, quickest or bare, key=lambda verdict: verdict.criteria
        )  # where the first kinds are refused
        best = self._covered(bare)
        roles: dict[tuple[Rewiring, ...], tuple[Verdict, list[Role]]] = {
            best.moves: (best, ["most complete"])
        }

        def add(verdict: Verdict | None, role: Role) -> None:
            if verdict is not None and (verdict.moves or role == "leave it"):
                roles.setdefault(verdict.moves, (verdict, []))[1].append(role)

        if best is not bare:
            add(best, "cover")
            add(bare, "without cover")
        if self._choices is not None and bare.moves:
            add(quickest, "quickest")
            now = self._now(bare)
            add(now, "now")
            if now is not None and best.criteria[:4] < now.criteria[:4]:
                add(best, "in the interval")
        twins = self._with_twins_muted(bare)
        if twins is not None and twins.criteria.balance < best.criteria.balance:
            add(twins, "cover")
        add(self.leave, "leave it")
        told = [(verdict, tuple(named)) for verdict, named in roles.values()]
        told.sort(key=lambda each: (each[0] is not best, each[0].moves == (), each[0].criteria))
        return told[:PLANS]

    def plan(self, verdict: Verdict, roles: tuple[Role, ...]) -> Plan:
        """A verdict as the crew reads it."""
        return plan.made(self.task, *verdict, roles)

    def _quickest(self, best: Verdict) -> Verdict | None:
        """The least seconds among the plans that bring back half of the lost weight or more."""
        assert self._choices is not None
        lost = sum([self.task.weights[name] for name in self.task.just_lost])
        most = self.leave.criteria.silence - HALF * lost + SLACK
        known = best if best.criteria.silence <= most else None
        for choices in dict.fromkeys(
            (self._for_lost, self._choices if self._others_wide else self._for_lost)
        ):
            assert choices is not None
            asked = Question(choices, [(choices.costs.silence, most)], "seconds")
            key = (choices, "quickest")
            if (found := self._asked.get(key)) is None:
                found = self._asked[key] = self._first(asked, known)[0]
            if found.criteria.silence <= most:
                known = min(known or found, found, key=asked.order)
        return known

    def _now(self, best: Verdict) -> Verdict | None:
        """The first in order within two minutes that mutes nothing that weighs more than it brings back."""
        choices = self._for_now if self._others_wide else self._for_lost
        assert choices is not None
        muted = [
            sum([self.task.heard.get(name, 0.0) for name in criteria.muted(self.task.index, move)])
            for move in best.moves
        ]
        silent = self.leave.criteria.silence
        back = silent - best.criteria.silence
        if best.seconds <= AT_ONCE and max(muted, default=0.0) <= back + SLACK:
            return best
        costs = choices.costs
        least = min(self.task.weights[name] for name in self.task.just_lost)
        held = [(costs.seconds, AT_ONCE - costs.always), (costs.silence, silent - least + SLACK)]
        held += [
            ([*costs.silence, (column, weight)], silent + SLACK) for column, weight in costs.muting.items()
        ]
        quick = best.seconds <= AT_ONCE  # else none that is full is as quick
        key = (choices, "now")
        if (found := self._asked.get(key)) is None:
            asked = Question(choices, held, full=quick, within=AT_ONCE)
            found = self._asked[key] = self._first(asked)[0]
        return found if found.moves else None

    def _first(
        self, asked: Question, known: Verdict | None = None, tries: int = TRIES
    ) -> tuple[Verdict, bool]:
        """The first that the programme knows of which is what it promises, then in so many `tries` what is before it by the seconds
        of its list; and whether nothing is before that."""
        best, proven, held = known, True, [*asked.held]
        if asked.choices.futile:
            return best or self.leave, True
        for _ in range(TRIES):
            promise = asked.choices.best(held, asked.first, asked.full, known and known.criteria)
            if promise is None:
                return best or self.leave, proven
            proven = proven and promise.proven
            verdict = self.judged(promise.moves)
            if verdict is not None and verdict.seconds <= asked.within:
                best = min(best or verdict, verdict, key=asked.order)
                if verdict.criteria[:4] <= promise.figures[:4] and verdict.moves:
                    return self._quicker(asked, promise, best, proven, tries)
                if best.criteria[:5] <= promise.figures:
                    return best, proven
            if not promise.moves:
                return best or self.leave, proven
            if verdict is not None and verdict.seconds > asked.within:
                held.append(asked.choices.other_than(promise.done))
            else:
                self._cut(asked.choices, promise.done, refused=verdict is None)
        return best or self.leave, False

    def _quicker(
        self, asked: Question, promise: Promise, best: Verdict, proven: bool, tries: int
    ) -> tuple[Verdict, bool]:
        """Of what is as good in all but the seconds the first by the seconds of its list, of which the programme knows a part."""
        choices, but = asked.choices, [asked.choices.not_all(promise.done)]
        quieter = best.criteria.hush > 0
        for _ in range(tries if promise.figures[4] < best.criteria.seconds else 0):
            other = choices.next(promise, best.criteria, but, quieter)
            if other is None and not quieter:
                return best, proven
            if other is None:
                quieter = False
                continue
            proven = proven and other.proven
            verdict = self.judged(other.moves)
            if verdict is None:
                self._cut(choices, other.done, refused=True)
                continue
            but.append(choices.not_all(other.done))
            if verdict.seconds <= asked.within:
                best = min(best, verdict, key=asked.order)
        return best, proven and promise.figures[4] >= best.criteria.seconds

    def _cut(self, choices: Choices, done: Sequence[tuple[Rewiring, ...]], refused: bool) -> None:
        """Never those moves again; of refused ones never those at the channels that the fewest still refused there are about."""
        choices.without(done)
        if not refused or (at := self._refused_at(done)) is None:
            return
        core = list(done)
        for moves in done:
            less = [each for each in core if each is not moves]
            if self._refused_at(less) == at:
                core = less
        choices.without(core, criteria.channels(self.task.index, itertools.chain(*core), at))

    def _refused_at(self, done: Iterable[tuple[Rewiring, ...]]) -> str | None:
        """Where moves that can be made bring what no plan may."""
        try:
            rig = apply(self.task.index.rig, in_order(itertools.chain(*done)), self.task.index)
        except EditError:
            return None
        why = criteria.refusal(self.task, assess(rig, self.task.broken))
        return why.at if isinstance(why, Finding) else why

    def judged(self, moves: tuple[Rewiring, ...]) -> Verdict | None:
        """The plan that moves make; None where they can't be made, or are refused."""
        if moves not in self._judged:
            self._judged[moves] = self._judge(moves)
        return self._judged[moves]

    def _judge(self, moves: Sequence[Rewiring]) -> Verdict | None:
        try:
            rig = apply(self.task.index.rig, moves, self.task.index)
        except EditError:
            return None
        after = assess(rig, self.task.broken)
        if limited := tuple(limiters(self.task, after)):
            moves = (*moves, *limited)
            after = assess(apply(rig, limited), after)
        if criteria.refusal(self.task, after) is not None:
            return None
        return self._verdict(tuple(moves), after)

    def _verdict(self, moves: tuple[Rewiring, ...], after: Assessed) -> Verdict:
        change = self.task.change if after is self.task.broken else self.task.change.to(after)
        steps = sequence.steps_of(change, moves)
        seconds = sequence.lasting(steps, after.index.rig)
        return Verdict(moves, after, criteria.judged(self.task, after, moves, seconds), steps, seconds)
