"""A recovery plan as the crew reads it: what is lost by it, what to set anew, and two lists to tick off, there and back.

Says what a plan is; which plans there are is `planner`'s. The order of a list is the safe one: mute or power down,
move, set, un-mute, listen.
"""

import math
from collections.abc import Collection, Iterable, Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine import limits, touch
from rackwright.engine.assess import Assessed
from rackwright.engine.findings.registry import listed
from rackwright.engine.recovery.failure import fail, failed
from rackwright.engine.recovery.judge import Verdict
from rackwright.engine.recovery.moves import Move, MoveKind, Swap
from rackwright.engine.recovery.state import STEP, Means, Rank, Task
from rackwright.engine.results import Finding
from rackwright.model.index import pole_or_none
from rackwright.model.rig import Amplifier, Cabinet, Circuit, Line, Rig, Socket, Step, channel_name
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


class LimiterSetting(Struct, frozen=True):
    """A limiter that has to be set anew, once for all channels of a feed that have one gain."""

    channels: tuple[str, ...]
    feed: str
    rms: float
    """V at the amplifier output, at most: what bears least of them."""
    peak: float
    """V peak."""
    rms_dbu: float
    """The same at the input."""
    peak_dbu: float
    was_rms: float | None
    """V, as set today; None where no limiter is stated."""
    was_peak: float | None
    why: str


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
    checklist: tuple[Step, ...]
    way_back: tuple[Step, ...]

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


def made(task: Task, verdict: Verdict) -> Plan:
    """The plan that a verdict stands for."""
    assessment, moves = verdict.assessment, _in_safe_order(verdict.state.moves)
    state = verdict.state
    lost = sorted((n for n in task.weights if state.lost(n)), key=lambda n: -task.weights[n])
    silent = tuple(name for name in lost if assessment.sections[name].channel is None)
    limiters = tuple(_limiters(task, assessment, moves))
    back = (*(move.undone() for move in reversed(moves)), *_mended(task))
    marked = failed(task.index.rig)
    return Plan(
        failed=tuple(name for name in marked if name not in task.standing) or marked,
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
        checklist=tuple(_checklist(task, assessment, moves, limiters)),
        way_back=tuple(_way_back(task, assessment, moves, limiters)),
    )


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


def _limiters(task: Task, assessment: Assessed, moves: Sequence[Move]) -> Iterator[LimiterSetting]:
    """The limiters that must come down, or that act on a feed at another gain than it had."""
    alike: dict[tuple[str, float], list[LimiterSetting]] = {}
    for name in _present(assessment, _touched(task, assessment, moves)):
        channel, branch = assessment.channels[name], assessment.branches[name]
        if not branch.live or branch.feed is None or not channel.limiter_rms or not channel.limiter_peak:
            continue
        feed, gain = branch.feed, branch.output.gain
        stated_rms = feed.limiter_rms.value if feed.limiter_rms else None
        stated_peak = feed.limiter_peak.value if feed.limiter_peak else None
        gains = {b.output.gain for b in task.before.branches.values() if b.live and b.result.feed == feed.id}
        before = task.before.channels.get(name)
        settings = (
            (limits.limiter_set(feed, "rms"), channel.limiter_rms),
            (limits.limiter_set(feed, "peak"), channel.limiter_peak),
        )
        over = any(limit and limit.broken_by(allowed) for limit, allowed in settings)
        was_over = before is not None and before.feed == feed.id and before.limiter_rms == channel.limiter_rms
        if over and not was_over:
            why = "the sections take less"
        elif gains and gain not in gains:
            usual = min(gains)
            why = f"the gain there is {reading(gain, 'dB')}, and {feed.id} is set for {reading(usual, 'dB')}"
        else:
            continue
        rms = min(channel.limiter_rms, stated_rms or math.inf)
        peak = min(channel.limiter_peak, stated_peak or math.inf)
        setting = LimiterSetting(
            channels=(name,),
            feed=feed.id,
            rms=rms,
            peak=peak,
            rms_dbu=(channel.limiter_rms_dbu or 0.0) + 20 * math.log10(rms / channel.limiter_rms),
            peak_dbu=(channel.limiter_peak_dbu or 0.0) + 20 * math.log10(peak / channel.limiter_peak),
            was_rms=stated_rms,
            was_peak=stated_peak,
            why=why,
        )
        alike.setdefault((feed.id, gain), []).append(setting)
    for those in alike.values():
        yield replace(
            min(those, key=lambda each: each.rms),
            channels=tuple(name for each in those for name in each.channels),
            peak=min(each.peak for each in those),
            peak_dbu=min(each.peak_dbu for each in those),
        )


# --- the lists ----------------------------------------------------------------------------------------

_FIRST: tuple[MoveKind, ...] = ("mute", "amplifier", "circuit", "mode")
"""What makes room comes before what fills it; the rest goes in the order found."""

_POWERED_DOWN: set[MoveKind] = {"amplifier", "circuit", "mode"}
"""Moves for which an amplifier is switched off, not only muted."""


def _in_safe_order(moves: Sequence[Move]) -> tuple[Move, ...]:
    first = len(_FIRST)
    return tuple(sorted(moves, key=lambda m: _FIRST.index(m.kind) if m.kind in _FIRST else first))


def _checklist(
    task: Task, assessment: Assessed, moves: Sequence[Move], limiters: Sequence[LimiterSetting]
) -> Iterator[Step]:
    touched = _touched(task, assessment, moves)
    channels, quiet = _present(assessment, touched), _present(task.broken, touched)
    marked = _newly_marked(task)
    off = _switched_off((task.broken, assessment), touched, moves)
    yield from _made_safe(task, off)
    yield from _quiet(task.broken, [*marked, *(c for c in quiet if c not in marked)], off)
    yield from (Step("move", move.words, move.thing) for move in moves)
    for limiter in limiters:
        yield Step("set", _limiter_words(limiter), limiter.channels[0])
    yield from _sound_again(assessment, channels, off)
    yield from _listen(task, assessment, channels)


def _way_back(
    task: Task, assessment: Assessed, moves: Sequence[Move], limiters: Sequence[LimiterSetting]
) -> Iterator[Step]:
    undone = [move.undone() for move in reversed(moves)]
    touched = _touched(task, assessment, moves)
    channels = _present(assessment, touched)
    names = task.to_repair
    if names:
        yield Step(
            "quiet",
            f"Check that {listed(names)} {'is' if len(names) == 1 else 'are'} repaired and tested.",
            names[0],
        )
    off = _switched_off((assessment, task.before), touched, undone)
    yield from _quiet(assessment, channels, off)
    yield from (Step("move", move.words, move.thing) for move in undone)
    for limiter in {each.feed: each for each in limiters}.values():
        if limiter.was_rms is not None or limiter.was_peak is not None:
            feed = task.before.index.feeds[limiter.feed]
            stated = ((feed.limiter_rms, "rms"), (feed.limiter_peak, "peak"))
            was = " and ".join(f"{voltage} {kind}" for voltage, kind in stated if voltage is not None)
            yield Step("set", f"Set the limiters of {limiter.feed} back to {was}.", limiter.channels[0])
    back = list(dict.fromkeys([*_newly_marked(task), *_present(task.before, touched)]))
    cut = {name for repaired in names for name in (repaired, *_dead_with(task, repaired))}
    dead = [name for name in task.index.amplifiers if name in cut and name not in off]
    yield from _sound_again(task.before, back, [*off, *dead])
    yield from _listen(task, task.before, back)


def _switched_off(
    states: tuple[Assessed, Assessed], channels: Collection[str], moves: Sequence[Move]
) -> list[str]:
    """The amplifiers that are switched off, not only muted: for their mode, or where muting is not enough.

    Not enough in the state before the moves or in the one after: between the two a contact may be as in either.
    """
    off = {move.thing for move in moves if move.kind in _POWERED_DOWN}
    handled = list(_handled(channels, moves))
    for state in states:
        off |= touch.powered_down(state.index, state.branches.values(), handled)
    return [name for name in states[0].index.amplifiers if name in off]


def _handled(channels: Collection[str], moves: Sequence[Move]) -> Iterator[str]:
    """Where plugs and patches are moved: sockets, cabinets, and where a pole is patched the terminals of channels."""
    for move in moves:
        for swap in move.swaps:
            for item in (swap.before, swap.after):
                if isinstance(item, Line):
                    yield from (item.source, item.to)
                elif isinstance(item, Cabinet):
                    yield item.id
        if move.kind == "pole":
            yield from channels


def _made_safe(task: Task, off: Sequence[str]) -> Iterator[Step]:
    """What died as a whole is cut off first: an amplifier may come back by itself, a circuit went for a reason."""
    for name in task.to_repair:
        if name in task.index.circuits:
            words = f"Find out why {name} went dead before plugging its amplifiers in elsewhere: they may trip that too."
            yield Step("quiet", words, name)
            if left := [amplifier for amplifier in _dead_with(task, name) if amplifier not in off]:
                words = (
                    f"Switch {listed(left)} off: when {name} comes back, everything left on starts at once."
                )
                yield Step("quiet", words, left[0])
        elif name in task.index.amplifiers:
            yield Step(
                "quiet", f"Switch {name} off and pull its mains plug: it may come back by itself.", name
            )


def _dead_with(task: Task, circuit: str) -> list[str]:
    """The amplifiers on a circuit."""
    return [amplifier.id for amplifier in task.index.amplifiers.values() if amplifier.circuit == circuit]


def _quiet(assessed: Assessed, channels: Sequence[str], off: Sequence[str]) -> Iterator[Step]:
    """Mute each channel that is touched, and the amplifiers that are switched off."""
    muted = [name for name in channels if _amplifier(assessed, name) not in off]
    if muted:
        yield Step("quiet", f"Mute {listed(muted)} at the processor.", muted[0])
    for amplifier in off:
        others = [name for name in _playing(assessed, amplifier) if name not in channels]
        too = f" {listed(others)} go{'es' if len(others) == 1 else ''} silent with it." if others else ""
        yield Step("quiet", f"Mute {amplifier} and switch it off.{too}", amplifier)


def _sound_again(assessed: Assessed, channels: Sequence[str], off: Sequence[str]) -> Iterator[Step]:
    """Switch on what plays something now, then un-mute it and the channels that were touched."""
    on = {name: _playing(assessed, name) for name in off}
    for amplifier in (name for name in off if on[name]):
        yield Step("sound", f"Switch {amplifier} on, with nothing else at the same time.", amplifier)
    touched = {*channels, *(name for names in on.values() for name in names)}
    live = [b.id for b in assessed.branches.values() if b.id in touched and b.live and b.sections]
    if live:
        each = ", one at a time," if len(live) > 1 else ""
        yield Step(
            "sound", f"Un-mute {listed(live)}{each} with the level down, and bring it up slowly.", live[0]
        )


def _playing(assessed: Assessed, amplifier: str) -> list[str]:
    """The channels of an amplifier on which something sounds."""
    branches = assessed.branches.values()
    return [b.id for b in branches if b.amplifier.id == amplifier and b.live and b.sections]


def _listen(task: Task, assessed: Assessed, channels: Sequence[str]) -> Iterator[Step]:
    """What each channel that was touched should be heard like now."""
    for name in channels:
        branch = assessed.branches[name]
        if not branch.live or not branch.sections or branch.feed is None:
            continue
        names = [section.id for section in branch.sections]
        losses = [
            20 * math.log10(task.levels[section.id] / section.voltage)
            for section in branch.sections
            if section.id in task.levels and section.voltage
        ]
        loss = max(losses, default=0.0)
        quieter = f", up to {loss:.1f} dB quieter than it was" if loss >= STEP / 2 else ""
        shown = listed(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
        yield Step(
            "listen",
            f"Listen to {shown} on {name}: {branch.feed.id}{quieter}, clean, all in the same polarity.",
            name,
        )


def _limiter_words(limiter: LimiterSetting) -> str:
    rms, peak, rms_dbu, peak_dbu = map(
        floored, (limiter.rms, limiter.peak, limiter.rms_dbu, limiter.peak_dbu)
    )
    return (
        f"Set the limiter of {limiter.feed} to {reading(rms, 'V')} rms, {reading(peak, 'V peak')} or "
        f"less at {listed(limiter.channels)}, {reading(rms_dbu, 'dBu')} and {reading(peak_dbu, 'dBu')} at the "
        f"input: {limiter.why}."
    )


# --- looking ------------------------------------------------------------------------------------------


def _amplifier(assessed: Assessed, channel: str) -> str:
    return assessed.branches[channel].amplifier.id


def _marked(broken: Assessed, name: str) -> bool:
    branch = broken.branches[name]
    return branch.result.state == "failed" and bool(branch.sections)


def _newly_marked(task: Task) -> list[str]:
    """The failed channels that something hangs on, but those that an earlier plan was taken for."""
    return [name for name in task.broken.channels if _marked(task.broken, name) and name not in task.standing]


def _touched(task: Task, assessment: Assessed, moves: Iterable[Move]) -> set[str]:
    """The channels that the moves touch, those included that only the rig before or only the rig after them has."""
    found: set[str] = set()
    for move in moves:
        for swap in move.swaps:
            found |= _of(task.broken, swap.before, swap.after) | _of(assessment, swap.after, swap.before)
    return found


def _present(assessed: Assessed, channels: Collection[str]) -> list[str]:
    """Those of the channels that a rig has, in its order: a spare may have more of them than what it replaces."""
    return [name for name in assessed.branches if name in channels]


def _of(assessed: Assessed, item: object, other: object) -> set[str]:
    """The channels that a thing is on; of a socket or an amplifier those that it has otherwise than `other`."""
    index = assessed.index
    match item:
        case Socket():
            theirs = other.poles if isinstance(other, Socket) else ()
            poles = [p for i, p in enumerate(item.poles) if i >= len(theirs) or theirs[i] != p]
            return {pole.name for text in poles if (pole := pole_or_none(text))}
        case Line() | Cabinet():
            root = index.root(item.id)
            carried = {run.channel for run in assessed.runs.get(item.id, ())}
            poles = list(index.sockets[root].poles) if root else []
            return carried or {pole.name for text in poles if (pole := pole_or_none(text))}
        case Amplifier():
            count = index.amplifier_models[item.model].channels
            told = [i for i in range(count) if _differs(item, other, i)]
            return {channel_name(item.id, i) for i in told}
        case _:
            return set()


def _differs(amplifier: Amplifier, other: object, channel: int) -> bool:
    if not isinstance(other, Amplifier):
        return True
    if (amplifier.model, amplifier.circuit) != (other.model, other.circuit):
        return True
    return amplifier.channel(channel) != other.channel(channel) or amplifier.pair_mode(
        channel
    ) != other.pair_mode(channel)


def _mended(task: Task) -> Iterator[Move]:
    """What failed marked working, as moves from the broken rig to the rig before."""
    broken = task.broken.index
    before = fail(task.before.index.rig, task.standing)
    pairs: list[tuple[Amplifier | Circuit, Amplifier | Circuit]] = [
        *((broken.circuits[circuit.id], circuit) for circuit in before.circuits),
        *((broken.amplifiers[amplifier.id], amplifier) for amplifier in before.amplifiers()),
    ]
    for now, was in pairs:
        if now != was:
            yield Move(kind="failure", place=was.id, old="failed", new="ok", swaps=(Swap(now, was),))
