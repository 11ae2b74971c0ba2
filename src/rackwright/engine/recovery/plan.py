"""A recovery plan as the crew reads it: what is lost by it, what to set anew, and its two lists.

Says what a plan is; which plans there are is `planner`'s.
"""

import math
from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.findings.registry import listed
from rackwright.engine.recovery import sequence
from rackwright.engine.recovery.failure import fail, failed
from rackwright.engine.recovery.judge import Verdict
from rackwright.engine.recovery.limiter_settings import LimiterSetting, limiters_to_set
from rackwright.engine.recovery.moves import Move, MoveKind, Swap
from rackwright.engine.recovery.rewiring import apply as rewire
from rackwright.engine.recovery.rewiring import difference
from rackwright.engine.recovery.state import STEP, Means, Rank, Task
from rackwright.engine.results import Finding
from rackwright.model.rig import Rewiring, RewiringKind, Rig, Step
from rackwright.units import floored, reading


class LevelLoss(Struct, frozen=True):
    """By how much a feed is quieter than before the failure, where it is quietest."""

    feed: str
    section: str
    loss: float
    """dB."""
    sections: int
    """How many on that feed are quieter."""


class DampingChange(Struct, frozen=True):
    """A low section whose damping factor falls."""

    section: str
    before: float
    after: float


class Plan(Struct, frozen=True, kw_only=True):
    """An ordered list of moves, the rig after it, and what it costs."""

    failed: tuple[str, ...]
    """The circuits and channels that it is for: those that no earlier plan was taken for, where there are such."""
    kinds: tuple[Means, ...]
    """By what it brings sound back, in words."""
    rank: Rank
    moves: tuple[Move, ...]
    back: tuple[Move, ...]
    """The moves that take it back and mark what failed working: made on `rig`, they give the rig before the failure."""
    rig: Rig
    """The broken rig after the moves."""
    assessment: Assessed
    silent: tuple[str, ...]
    """The sections that stay silent, what matters most first."""
    like: tuple[tuple[str, str], ...]
    """Sections that play a similar feed in place of their own, and that feed."""
    levels: tuple[LevelLoss, ...]
    """The most lost first."""
    damping: tuple[DampingChange, ...]
    limiters: tuple[LimiterSetting, ...]
    near: tuple[Finding, ...]
    """What is near a limit, or to be known, that was not so before the failure: warnings and notes."""
    rewiring: tuple[Rewiring, ...]
    """Its moves and the limiters to set, as the list has them."""
    steps: tuple[Step, ...]

    @property
    def title(self) -> str:
        """What kind of plan it is: `Use a spare, share a channel`."""
        words = ", ".join(self.kinds)
        return words[:1].upper() + words[1:]

    @property
    def costs(self) -> tuple[str, ...]:
        """What is lost by it, in sentences."""
        told = []
        if self.silent:
            told.append(f"Silent: {few(self.silent)}.")
        if self.like:
            told.append(f"On another feed: {few([f'{section} on {feed}' for section, feed in self.like])}.")
        for level in self.levels:
            told.append(
                f"{level.feed}: up to {level.loss:.1f} dB quieter, at {level.section}; "
                f"{level.sections} section{'' if level.sections == 1 else 's'} of it quieter."
            )
        if self.damping:
            worst = self.damping[0]
            told.append(
                f"Damping falls on {len(self.damping)} low section{'' if len(self.damping) == 1 else 's'}, to "
                f"{reading(worst.after, '')} from {reading(worst.before, '')} at {worst.section}."
            )
        return tuple(told) or ("Nothing is lost.",)


MOST_NAMES = 6
"""Things named in a row."""


def few(names: Sequence[str]) -> str:
    """Names in a row, the first of them where there are many."""
    shown = list(names[:MOST_NAMES])
    more = len(names) - len(shown)
    return f"{', '.join(shown)} and {more} more" if more else listed(shown)


_FIRST: tuple[MoveKind, ...] = ("mute", "amplifier", "circuit", "mode")
"""What makes room comes before what fills it; the rest goes in the order found."""


def in_safe_order(moves: Sequence[Move]) -> tuple[Move, ...]:
    first = len(_FIRST)
    return tuple(sorted(moves, key=lambda m: _FIRST.index(m.kind) if m.kind in _FIRST else first))


def made(task: Task, verdict: Verdict) -> Plan:
    """The plan that a verdict stands for."""
    assessment, moves = verdict.assessment, in_safe_order(verdict.state.moves)
    state = verdict.state
    lost = sorted((n for n in task.weights if state.lost(n)), key=lambda n: -task.weights[n])
    silent = tuple(name for name in lost if assessment.sections[name].channel is None)
    limiters = tuple(limiters_to_set(task, assessment, moves))
    back = (*(move.undone() for move in reversed(moves)), *_mended(task))
    marked = failed(task.index.rig)
    fresh = tuple(name for name in marked if name not in task.planned)
    set_ = tuple(_limiter_moves(task, limiters))
    rewiring = (*difference(task.broken.index.rig, verdict.rig), *set_)
    after = assess(rewire(verdict.rig, set_), assessment) if set_ else assessment
    return Plan(
        failed=fresh or marked,
        kinds=tuple(sorted(verdict.kinds)),
        rank=verdict.rank,
        moves=moves,
        back=back,
        rig=verdict.rig,
        assessment=assessment,
        silent=silent,
        like=tuple((n, _feed_of(assessment, n)) for n in lost if n not in silent),
        levels=tuple(_levels(task, assessment)),
        damping=tuple(_damping(task, assessment)),
        limiters=limiters,
        near=tuple(_near(task, assessment)),
        rewiring=rewiring,
        steps=sequence.steps(task.broken, after, rewiring, fresh),
    )


def _limiter_moves(task: Task, limiters: Sequence[LimiterSetting]) -> Iterator[Rewiring]:
    """Each output's limiters at the lowest that any of its channels asks for."""
    for feed in dict.fromkeys(limiter.feed for limiter in limiters):
        stated = task.broken.index.feeds[feed]
        mine = [limiter for limiter in limiters if limiter.feed == feed]
        volts = min(limiter.rms for limiter in mine), min(limiter.peak for limiter in mine)
        was = stated.limiter_rms, stated.limiter_peak
        kinds: tuple[RewiringKind, RewiringKind] = ("limiter rms", "limiter peak")
        for kind, old, new in zip(kinds, was, volts, strict=True):
            less = new if old is None or new < old.value else old.value * 0.999
            yield Rewiring(kind=kind, at=feed, old=str(old or ""), new=f"{floored(less):g} V")


# --- what it costs ------------------------------------------------------------------------------------


def _feed_of(assessment: Assessed, section: str) -> str:
    return assessment.channels[assessment.sections[section].channel or ""].feed


def _levels(task: Task, assessment: Assessed) -> list[LevelLoss]:
    lost: dict[str, list[tuple[float, str]]] = {}
    for name, before in task.levels.items():
        voltage = assessment.sections[name].voltage
        if voltage is not None and _feed_of(assessment, name) == task.feeds[name]:
            loss = 20 * math.log10(before / voltage)
            if loss >= STEP / 2:
                lost.setdefault(task.feeds[name], []).append((loss, name))
    worst = [LevelLoss(feed, max(of)[1], max(of)[0], len(of)) for feed, of in lost.items()]
    return sorted(worst, key=lambda level: -level.loss)


def _damping(task: Task, assessment: Assessed) -> list[DampingChange]:
    changes = []
    for name in task.levels:
        before, after = task.before.sections[name], assessment.sections[name]
        if before.kind != "low" or not before.damping_factor or not after.damping_factor:
            continue
        if after.damping_factor < before.damping_factor * 0.99:
            changes.append(DampingChange(name, before.damping_factor, after.damping_factor))
    return sorted(changes, key=lambda change: change.after)


_IDLE = {"channel-unused", "circuit-empty", "cabinet-muted"}
"""Findings on what is out of use, which the plan itself says."""


def _near(task: Task, assessment: Assessed) -> list[Finding]:
    known = {(f.code, f.at) for of in (task.before, task.broken) for f in of.findings}
    return [
        f
        for f in assessment.findings
        if f.severity != "stop" and (f.code, f.at) not in known and f.code not in _IDLE
    ]


def _mended(task: Task) -> Iterator[Move]:
    """What failed marked working, as moves from the broken rig to the rig before."""
    broken = task.broken.index
    before = fail(task.before.index.rig, task.planned)
    tables = (broken.circuits, broken.feeds, broken.amplifiers, broken.sockets, broken.lines, broken.cabinets)
    of_before = (
        before.circuits, before.feeds, before.amplifiers(), before.sockets(), before.lines, before.cabinets,
    )  # fmt: skip
    for table, things in zip(tables, of_before, strict=True):
        for was in things:
            if (now := table[was.id]) != was:  # type: ignore[attr-defined, index]
                yield Move(kind="failure", place=was.id, old="failed", new="ok", swaps=(Swap(now, was),))  # type: ignore[attr-defined, arg-type]
    for rack in before.racks:
        there = broken.racks[rack.id]
        if there.state != rack.state:
            swap = Swap(there, replace(there, state=rack.state))
            yield Move(kind="failure", place=rack.id, old="failed", new="ok", swaps=(swap,))
