"""Judgements on the limiters of feeds.

A feed has one rms and one peak limiter for all channels that play it, so what is advised is the least that the sections
allow and the amplifiers give, rounded down: set as advised, it draws no finding at any channel. Advice is written as the
feed's field takes it.
"""

import math
from collections.abc import Iterator, Sequence

from rackwright.engine import limits, protection
from rackwright.engine.channel import Branch, gain_at
from rackwright.engine.finding import Finding, Limit
from rackwright.engine.findings.registry import judges_feed
from rackwright.engine.results import SectionResult
from rackwright.model.equipment import Section
from rackwright.model.index import Index
from rackwright.model.racks import Feed
from rackwright.units import floored, reading, typeset

KINDS: tuple[tuple[limits.Kind, str], ...] = (("rms", "V"), ("peak", "V peak"))


@judges_feed
def over_power_without_limiter(index: Index, feed: Feed, branches: Sequence[Branch]) -> Iterator[Finding]:
    over = [branch for branch in branches if branch.over_power]
    if not over:
        return
    setting = advised(index, feed, "rms", branches)
    for branch in over:
        for result, section, limit in branch.over_power:
            yield Finding(
                "over-power-without-limiter",
                "warn",
                result.id,
                f"More power than the rating: {reading(result.power, 'W')} into {section.continuous} continuous, "
                f"+{reading(result.headroom, 'dB')}, and no rms limiter is set.",
                f"Set the rms limiter of {feed.id} to {setting} or less.",
                result.power,
                limit,
            )


def over_power(branch: Branch) -> tuple[tuple[SectionResult, Section, Limit], ...]:
    """The sections of a branch that get more than they may without a limiter, with their limits."""
    if not branch.live:
        return ()
    held = [(r, s, limits.power(branch, s)) for r, s in zip(branch.sections, branch.models, strict=True)]
    return tuple([(r, s, limit) for r, s, limit in held if limit and limit.broken_by(r.power or 0.0)])


@judges_feed
def limiter_too_high(index: Index, feed: Feed, branches: Sequence[Branch]) -> Iterator[Finding]:
    for kind, unit in KINDS:
        stated = feed.limiter_rms if kind == "rms" else feed.limiter_peak
        if stated is None:
            continue
        over = [(branch, limit) for branch in branches if (limit := too_high(branch, kind))]
        if not over:
            continue
        setting = advised(index, feed, kind, branches)
        for branch, limit in over:
            channel, most = branch.result, _allowed(branch, kind)
            highest = _highest(branch, kind)
            safe = highest <= most
            there = limit.value != stated.value
            yield Finding(
                "limiter-too-high",
                "note" if safe else "warn",
                channel.id,
                f"The {kind} limiter of {feed.id} is set to {stated}, "
                + (f"{reading(limit.value, unit)} at {channel.id}, " if there else "")
                + f"over the {reading(floored(most), unit)} that is safe for its sections"
                + (
                    f"; {channel.amplifier} itself stops at {reading(highest, unit)}, square waves included."
                    if safe
                    else "."
                ),
                f"Set it to {setting} or less.",
                most,
                limit,
            )


def too_high(branch: Branch, kind: limits.Kind) -> Limit | None:
    """What a limiter comes to at a channel, where that is over what its sections stand."""
    if _set(branch, kind) <= (allowed := _allowed(branch, kind)):  # asked of every channel at every key
        return None
    limit = limits.limiter_set(branch, kind)
    return limit if limit and limit.broken_by(allowed) else None


@judges_feed
def limiter_for_one_gain(index: Index, feed: Feed, branches: Sequence[Branch]) -> Iterator[Finding]:
    """Volts that hold at one gain of several, and it isn't said at which: set for the least, the others let through more."""
    if feed.limiter_at or (feed.limiter_rms is None and feed.limiter_peak is None):
        return
    gains = [branch.gain for branch in branches]
    if max(gains) - min(gains) < ONE_GAIN:
        return
    for kind, unit in KINDS:
        stated = feed.limiter_rms if kind == "rms" else feed.limiter_peak
        if stated is None or stated.in_dbu:
            continue
        through = [protection.behind(stated.value, min(gains), gain) for gain in gains]
        at, most = max(
            zip(branches, through, strict=True), key=lambda pair: pair[1] / _allowed(pair[0], kind)
        )
        over = min(most, _highest(at, kind)) > _allowed(at, kind) * (1 + 1e-9)
        yield Finding(
            "limiter-for-one-gain",
            "warn" if over else "note",
            feed.id,
            f"The {kind} limiter of {feed.id} is stated as {stated}, and its channels have gains from "
            f"{reading(min(gains), 'dB')} to {reading(max(gains), 'dB')}: set for the lowest it lets "
            f"{reading(most, unit)} through at {at.id}"
            + (f", over the {reading(floored(_allowed(at, kind)), unit)} safe there." if over else "."),
            "State it in dBu, as the processor shows it, or name the channel that the volts hold at.",
            most,
        )


ONE_GAIN = 0.05
"""dB under which two gains are one."""


def as_advised(index: Index, feed: Feed, branches: Sequence[Branch]) -> tuple[str, str]:
    """The rms and the peak limiter of a feed, set as which they draw no finding on any of `branches`, which play it.

    In dBu, too, where the gains differ and no channel is named that volts hold at.
    """
    gains = [branch.gain for branch in branches]
    in_dbu = max(gains) - min(gains) >= ONE_GAIN and not feed.limiter_at
    return advised(index, feed, "rms", branches, in_dbu), advised(index, feed, "peak", branches, in_dbu)


def advised(
    index: Index,
    feed: Feed,
    kind: limits.Kind,
    branches: Sequence[Branch],
    in_dbu: bool = False,
    unclipped: bool = True,
) -> str:
    """The highest setting by which no channel gets more than its sections allow, as the feed's field takes it, rounded down.

    `unclipped`, nor more than its amplifier gives before it clips. In dBu where asked so or one of the feed's limiters is, else in volts,
    at the channel that the feed names or at each.
    """
    most = [(b, min(_allowed(b, kind), _clips_at(b, kind) if unclipped else math.inf)) for b in branches]
    stated = (feed.limiter_rms, feed.limiter_peak)
    if in_dbu or any(setting is not None and setting.in_dbu for setting in stated):
        level = min(protection.input_level(volts, branch.gain) for branch, volts in most)
        if kind == "peak" and feed.limiter_peak_scale == "sine":
            level = protection.sine_level(level)
        return typeset(f"{math.floor(level * 10 + 1e-9) / 10:.1f} dBu")
    at = gain_at(index, feed.limiter_at)
    held = [v if at is None else protection.behind(v, branch.gain, at) for branch, v in most]
    return reading(floored(min(held)), "V")


def _set(branch: Branch, kind: limits.Kind) -> float:
    """V that a limiter comes to at a channel; 0 where none is set."""
    return (branch.set_rms if kind == "rms" else branch.set_peak) or 0.0


def _allowed(branch: Branch, kind: limits.Kind) -> float:
    """The highest limiter setting (V) that the sections of a channel allow."""
    return (branch.result.limiter_rms if kind == "rms" else branch.result.limiter_peak) or 0.0


def _highest(branch: Branch, kind: limits.Kind) -> float:
    """What the amplifier itself can put out at most, in V, clipped to a square wave, whose rms is its peak."""
    volts = branch.result.voltage or 0.0 if kind == "rms" else branch.result.open_voltage
    return volts * math.sqrt(2)


def _clips_at(branch: Branch, kind: limits.Kind) -> float:
    """V rms of a sine, or V peak, that an amplifier reaches into its load."""
    return (branch.result.voltage or 0.0) * (1 if kind == "rms" else math.sqrt(2))


@judges_feed
def clips_before_limiter(index: Index, feed: Feed, branches: Sequence[Branch]) -> Iterator[Finding]:
    """A limiter over what an amplifier reaches into its load; advised is what no sections or amplifier is over."""
    for kind, unit in KINDS:
        stated = feed.limiter_rms if kind == "rms" else feed.limiter_peak
        if stated is None:
            continue
        acts = [(branch, _set(branch, kind)) for branch in branches]
        late = [(branch, volts) for branch, volts in acts if volts > _clips_at(branch, kind)]
        if not late:
            continue
        setting = advised(index, feed, kind, branches)
        for branch, volts in late:
            there = f", {reading(volts, unit)} at {branch.id}" if volts != stated.value else ""
            yield Finding(
                "clips-before-limiter",
                "note",
                branch.id,
                f"{branch.id} clips at {reading(_clips_at(branch, kind), unit)} into its load, before the {kind} "
                f"limiter of {feed.id} acts at {stated}{there}.",
                f"Set the {kind} limiter to {setting} or less to keep it out of clipping, or use a larger amplifier.",
            )
