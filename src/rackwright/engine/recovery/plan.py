"""A recovery plan as the crew reads it: what it is for, what is done, what is lost by it.

Says what a plan is; which plans there are is `planner`'s, in which steps it is done `sequence`'s.
"""

import itertools
import math
from collections.abc import Iterable, Sequence
from typing import Literal, TypeAlias

from msgspec import Struct

from rackwright.engine.assess import Assessed
from rackwright.engine.finding import Finding
from rackwright.engine.recovery.criteria import Criteria
from rackwright.engine.recovery.failure import failed
from rackwright.engine.recovery.task import Task
from rackwright.model.index import pole_or_none
from rackwright.model.night import Rewiring, Step
from rackwright.model.racks import pole_shown
from rackwright.model.rig import Rig
from rackwright.units import reading, typeset
from rackwright.units.wording import few, so_many

Role: TypeAlias = Literal[
    "most complete", "cover", "without cover", "quickest", "now", "in the interval", "leave it"
]
"""What a plan is shown for."""
SAID: dict[Role, str] = {"now": "best within 2 min", "leave it": "last resort"}
"""How those are said that their name doesn't say."""

STEP = 0.1
"""dB; levels closer than this are not told."""


class LevelLoss(Struct, frozen=True):
    """By how much the maximum level of a feed is lower than before the failure, where it is lowest."""

    feed: str
    section: str
    loss: float
    """dB."""
    sections: int
    """How many on that feed are lower."""


class LevelChange(Struct, frozen=True):
    """By how much a section is louder, or quieter, at unchanged processor settings."""

    section: str
    change: float
    """dB."""


class DampingChange(Struct, frozen=True):
    """A low section whose damping factor falls."""

    section: str
    before: float
    after: float


class Plan(Struct, frozen=True, kw_only=True):
    """The moves of a plan, and what it costs."""

    failed: tuple[str, ...]
    """What it is for: that which no earlier plan was taken for, where there is such."""
    roles: tuple[Role, ...]
    """What it is shown for."""
    kinds: tuple[str, ...]
    """By what it brings sound back, in words."""
    criteria: Criteria
    moves: tuple[Rewiring, ...]
    """In the order in which they can be made."""
    silent: tuple[str, ...]
    """The sections that stay silent, what matters most first."""
    left: int
    """How many of them were silent before: an earlier plan left them so."""
    like: tuple[tuple[str, str], ...]
    """Sections that play a feed declared to stand in for their own, and that feed."""
    changes: tuple[LevelChange, ...]
    """The largest first."""
    levels: tuple[LevelLoss, ...]
    """The most lost first."""
    damping: tuple[DampingChange, ...]
    early: tuple[str, ...]
    """Who is limited early by a limiter that comes down, or clips early for it is turned up, and by how much, in sentences."""
    near: tuple[Finding, ...]
    """What is near a limit, or to be known, that was not so before the failure: warnings and notes."""
    unsure: tuple[str, ...]
    """What of it nobody knows to reach, in words."""
    steps: tuple[Step, ...]
    """Its list."""
    seconds: float
    """What its list takes until the last section is back."""

    @property
    def title(self) -> str:
        """What it does, in a few words: `Use a spare channel, 80 s`."""
        told = ", ".join(self.kinds)
        return told[:1].upper() + told[1:]

    @property
    def full(self) -> bool:
        """Whether nothing is lost and no level changed."""
        return self.criteria.full

    @property
    def first(self) -> str:
        """The first thing to do."""
        return short(self.moves[0]) if self.moves else self.title

    @property
    def opening(self) -> str:
        """The first thing to do, and how many more there are."""
        more = len(self.moves) - 1
        return f"{self.first}, and {more} more" if more > 0 else self.first

    @property
    def shown_as(self) -> str:
        """What it is shown for, in words."""
        return ", ".join(SAID.get(role, role) for role in self.roles)

    @property
    def level(self) -> str:
        """By how much it is quieter, by which plans are compared: to whole dB, where sentences have tenths."""
        lost = self.criteria.level
        return f"−{lost:g} dB" if lost else "–" if self.silent else "0 dB"

    @property
    def takes(self) -> str:
        """The time it takes."""
        return f"{self.seconds:.0f} s" if self.moves else "–"

    @property
    def costs(self) -> tuple[str, ...]:
        """What is lost by it, in sentences."""
        told = []
        if self.silent:
            now = self.silent[: len(self.silent) - self.left]
            before = [f"{self.left} from before"] if self.left else []
            told.append(f"Silent: {', and '.join([*([few(now)] if now else []), *before])}.")
        if self.like:
            told.append(f"On another feed: {few([f'{section} on {feed}' for section, feed in self.like])}.")
        if self.changes:
            worst = self.changes[0]
            how = "louder" if worst.change > 0 else "quieter"
            many = len(self.changes)
            told.append(
                f"Up to {abs(worst.change):.1f} dB {how} at the same fader, at {worst.section}; "
                f"{many} section{'' if many == 1 else 's'} changed."
            )
        for level in self.levels:
            told.append(
                f"{level.feed}: maximum level lower on {so_many(level.sections, 'section')}, by up to {level.loss:.1f} dB at {level.section}."
            )
        told += self.early
        if self.criteria.balance:
            told.append(f"Left and right up to {self.criteria.balance:g} dB apart in mean level.")
        if self.damping:
            worst_damping = self.damping[0]
            told.append(
                f"Damping falls on {len(self.damping)} low section{'' if len(self.damping) == 1 else 's'}, to "
                f"{reading(worst_damping.after, '')} from {reading(worst_damping.before, '')} at {worst_damping.section}."
            )
        return tuple(told) or ("Nothing is lost.",)


class Proposal(Plan, frozen=True, kw_only=True):
    """A plan with what it leads to."""

    assessment: Assessed
    """Of the rig after the moves."""

    @property
    def rig(self) -> Rig:
        """The rig as it stood after the moves."""
        return self.assessment.index.rig


def short(move: Rewiring) -> str:
    """A move in a few words, for a row."""
    match move.kind:
        case "unplug":
            return f"Unplug {move.at}"
        case "plug in":
            return f"Plug {move.at} in again"
        case "amplifier":
            return f"Replace {move.at} by the spare {move.new}"
        case "circuit":
            return f"Plug {move.at} into {move.new}"
        case "mode":
            return f"Set {move.at} and its pair to {move.new}"
        case "line":
            return f"Lay a spare from {move.new} to {move.at}"
        case "plug":
            return f"Plug {move.at} into {move.new}"
        case "repatch":
            return f"Re-patch {move.at} to {pole_shown(move.new)}" if move.new else f"Unpatch {move.at}"
        case "feed":
            return f"Give {move.at} the feed {move.new}"
        case "trim":
            return f"Trim {move.at} to {typeset(move.new)}"
        case _:
            limiter, which = move.kind.split()
            return f"Set the {which} {limiter} of {move.at} to {typeset(move.new)}"


def in_short(moves: Iterable[Rewiring]) -> str:
    """Moves in a few words, in their order, what is done again and again said once: `Re-patch R1-1/1 to A3.3, R1-2/1 to A3.3`."""
    told = []
    for _, alike in itertools.groupby(map(short, moves), lambda words: words.partition(" ")[0]):
        first, *others = alike
        told.append(", ".join((first, *(words.partition(" ")[2] for words in others))))
    return "; ".join((*told[:1], *(words[0].lower() + words[1:] for words in told[1:])))


def made(
    task: Task,
    moves: tuple[Rewiring, ...],
    assessment: Assessed,
    criteria: Criteria,
    steps: tuple[Step, ...],
    seconds: float,
    roles: tuple[Role, ...],
) -> Plan:
    """The plan that moves stand for."""
    ranked = sorted(task.weights, key=lambda name: (name in task.left, -task.weights[name]))
    heard = {name: s.channel for name in ranked if (s := assessment.sections[name]).channel is not None}
    feeds = {name: assessment.channels[channel or ""].feed for name, channel in heard.items()}
    changes = _changes(task, assessment)
    silent = tuple(name for name in ranked if name not in heard)
    return Plan(
        failed=task.fresh or failed(task.index.rig),
        roles=roles,
        kinds=_kinds(task, moves, assessment, changes, roles) or ("leave it off" if steps else "leave it",),
        criteria=criteria,
        moves=moves,
        silent=silent,
        left=sum(name in task.left for name in silent),
        like=tuple((name, feed) for name, feed in feeds.items() if feed != task.feeds[name]),
        changes=tuple(changes),
        levels=tuple(_levels(task, assessment, feeds)),
        damping=tuple(_damping(task, assessment)),
        early=(*_early(moves, assessment), *_clips_early(changes, assessment)),
        near=tuple(_near(task, assessment)),
        unsure=tuple(_unsure(task, moves)),
        steps=steps,
        seconds=seconds,
    )


# --- by what it brings sound back -----------------------------------------------------------------


def _kinds(
    task: Task,
    moves: Sequence[Rewiring],
    assessment: Assessed,
    changes: Sequence[LevelChange],
    roles: Sequence[Role],
) -> tuple[str, ...]:
    """The kinds of its moves, each once, in their order."""
    then, now = task.broken.sections, assessment.sections
    given_up = any(now[name].channel is None and then[name].channel is not None for name in task.weights)
    up = {now[each.section].channel for each in changes if each.change > 0}

    def kind(move: Rewiring) -> str:
        match move.kind:
            case "amplifier":
                return "use a spare amplifier"
            case "circuit":
                return "plug in elsewhere"
            case "mode":
                return "change a mode"
            case "line":
                spare = move.old == move.new or move.new in assessment.index.sockets
                return "use a spare line" if spare else "link to a neighbour"
            case "plug":
                return "use another socket"
            case "repatch" if pole := pole_or_none(move.new):
                shared = any(then[n].channel == pole.name == now[n].channel for n in task.weights)
                return "share a channel" if shared else "use another channel"
            case "unplug" | "repatch":
                if not given_up:
                    return "take off what has failed"
                return "mute the opposite" if tuple(roles) == ("cover",) else "give something up"
            case "trim":
                return "turn neighbours up" if move.at in up else "" if len(moves) > 1 else "trim"
            case _:
                return ""

    return tuple(dict.fromkeys(filter(None, map(kind, moves))))


# --- what it costs ------------------------------------------------------------------------------------


def _earlier(task: Task, now: float | None, then: float | None) -> bool:
    """Whether a figure is what an earlier plan of the night had made of it: no cost of this one."""
    return (
        bool(task.planned) and now is not None and then is not None and math.isclose(now, then, rel_tol=1e-6)
    )


def _changes(task: Task, assessment: Assessed) -> list[LevelChange]:
    then = task.broken.sections
    gains = {
        name: gain
        for name in task.gains
        if not _earlier(task, gain := assessment.sections[name].gain, then[name].gain)
    }
    changed = [LevelChange(n, gain - task.gains[n]) for n, gain in gains.items() if gain is not None]
    return sorted((c for c in changed if abs(c.change) >= 0.5), key=lambda c: -abs(c.change))


def _levels(task: Task, assessment: Assessed, feeds: dict[str, str]) -> list[LevelLoss]:
    lost: dict[str, list[tuple[float, str]]] = {}
    for name, before in task.voltages.items():
        voltage = assessment.sections[name].voltage
        if voltage and name in feeds and not _earlier(task, voltage, task.broken.sections[name].voltage):
            loss = 20 * math.log10(before / voltage)
            if loss >= STEP / 2:
                lost.setdefault(task.feeds[name], []).append((loss, name))
    worst = [LevelLoss(feed, max(of)[1], max(of)[0], len(of)) for feed, of in lost.items()]
    return sorted(worst, key=lambda level: -level.loss)


def _damping(task: Task, assessment: Assessed) -> list[DampingChange]:
    changes = []
    for name in task.weights:
        before, after = task.before.sections[name], assessment.sections[name]
        if before.kind != "low" or not before.damping_factor or not after.damping_factor:
            continue
        if _earlier(task, after.damping_factor, task.broken.sections[name].damping_factor):
            continue
        if after.damping_factor < before.damping_factor * 0.99:
            changes.append(DampingChange(name, before.damping_factor, after.damping_factor))
    return sorted(changes, key=lambda change: change.after)


def _early(moves: Sequence[Rewiring], assessment: Assessed) -> list[str]:
    """The channels of a feed whose limiter comes down that could take more, and by how much they are held under it."""
    told = []
    for move in moves:
        if move.kind != "limiter rms" or not move.old:
            continue
        feed = assessment.index.feeds[move.at]
        over = {
            b.id: 20 * math.log10(b.result.limiter_rms / b.set_rms)
            for b in assessment.branches.values()
            if b.live
            and b.feed is feed
            and b.set_rms
            and b.result.limiter_rms
            and b.result.limiter_rms > b.set_rms * 1.06
        }
        if over:
            worst = max(over, key=lambda name: over[name])
            told.append(
                f"{few(list(over))} limited early, by up to {over[worst]:.1f} dB, as {move.at} has one limiter."
            )
    return told


def _clips_early(changes: Sequence[LevelChange], assessment: Assessed) -> list[str]:
    """The channels that cover for others, and by how much they reach their amplifier's most before those do."""
    up = {assessment.sections[each.section].channel: each.change for each in changes if each.change > 0}
    names = [name for name in assessment.branches if name in up]
    if not names:
        return []
    clips = (
        f"they clip up to {max(up.values()):.1f} dB earlier"
        if len(names) > 1
        else f"it clips {max(up.values()):.1f} dB earlier"
    )
    return [f"{few(names)} turned up: {clips}."]


_IDLE = {"channel-unused", "circuit-empty", "cabinet-muted"}
"""Findings on what is out of use, which the plan itself says."""


def _near(task: Task, assessment: Assessed) -> list[Finding]:
    known = {(f.code, f.at) for of in (task.before, task.broken) for f in of.findings}
    return [
        f
        for f in assessment.findings
        if f.severity != "stop" and (f.code, f.at) not in known and f.code not in _IDLE
    ]


def _unsure(task: Task, moves: Sequence[Rewiring]) -> list[str]:
    """What of a plan holds only if a cable reaches."""
    index, told = task.index, []
    for move in moves:
        if move.kind == "line" and move.new in index.cabinets and move.new != move.old:
            if (
                move.at not in index.cabinets[move.new].links_to
                and move.new not in index.cabinets[move.at].links_to
            ):
                told.append(f"the spare {move.by} reaches from {move.new} to {move.at}")
        elif move.kind == "circuit":
            amplifier = index.amplifiers[move.at]
            if not (amplifier.reaches or index.rack_of[move.at].reaches):
                told.append(f"the mains lead of {move.at} reaches {move.new}")
    return told
