"""The two lists of a plan to tick off, there and back, in the safe order: mute or power down, move, set, un-mute, listen."""

import math
from collections.abc import Collection, Iterator, Sequence

from rackwright.engine import touch
from rackwright.engine.assess import Assessed
from rackwright.engine.findings.registry import listed
from rackwright.engine.recovery.limiter_settings import LimiterSetting
from rackwright.engine.recovery.moves import Move, MoveKind
from rackwright.engine.recovery.state import STEP, Task
from rackwright.engine.recovery.touched_channels import present_on, touched_by
from rackwright.model.rig import Cabinet, Line, Step
from rackwright.units import floored, reading

_FIRST: tuple[MoveKind, ...] = ("mute", "amplifier", "circuit", "mode")
"""What makes room comes before what fills it; the rest goes in the order found."""

_POWERED_DOWN: set[MoveKind] = {"amplifier", "circuit", "mode"}
"""Moves for which an amplifier is switched off, not only muted."""


def in_safe_order(moves: Sequence[Move]) -> tuple[Move, ...]:
    first = len(_FIRST)
    return tuple(sorted(moves, key=lambda m: _FIRST.index(m.kind) if m.kind in _FIRST else first))


def way_there(
    task: Task, assessment: Assessed, moves: Sequence[Move], limiters: Sequence[LimiterSetting]
) -> Iterator[Step]:
    touched = touched_by(task, assessment, moves)
    channels, quiet = present_on(assessment, touched), present_on(task.broken, touched)
    marked = _newly_marked(task)
    off = _switched_off((task.broken, assessment), touched, moves)
    yield from _made_safe(task, off)
    yield from _quiet(task.broken, [*marked, *(c for c in quiet if c not in marked)], off)
    yield from (Step("move", move.words, move.thing) for move in moves)
    for limiter in limiters:
        yield Step("set", _limiter_words(limiter), limiter.channels[0])
    yield from _sound_again(assessment, channels, off)
    yield from _listen(task, assessment, channels)


def way_back(
    task: Task, assessment: Assessed, moves: Sequence[Move], limiters: Sequence[LimiterSetting]
) -> Iterator[Step]:
    undone = [move.undone() for move in reversed(moves)]
    touched = touched_by(task, assessment, moves)
    channels = present_on(assessment, touched)
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
    back = list(dict.fromkeys([*_newly_marked(task), *present_on(task.before, touched)]))
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


def _amplifier(assessed: Assessed, channel: str) -> str:
    return assessed.branches[channel].amplifier.id


def _marked(broken: Assessed, name: str) -> bool:
    branch = broken.branches[name]
    return branch.result.state == "failed" and bool(branch.sections)


def _newly_marked(task: Task) -> list[str]:
    """The failed channels that something hangs on, but those that an earlier plan was taken for."""
    return [name for name in task.broken.channels if _marked(task.broken, name) and name not in task.planned]
