"""Judgements on the limiters of feeds.

A feed has one rms and one peak limiter for all channels that play it, so what is advised is the least of them, rounded
down: set as advised, it draws no finding at any channel. Advice is written as the feed's field takes it, in plain volts.
"""

import math
from collections.abc import Iterator

from rackwright.engine import limits
from rackwright.engine.channel import Branch
from rackwright.engine.findings.registry import Survey, judges_rig
from rackwright.engine.results import Finding, Limit, SectionResult
from rackwright.model.equipment import Section
from rackwright.units import floored, reading

KINDS: tuple[tuple[limits.Kind, str], ...] = (("rms", "V"), ("peak", "V peak"))


@judges_rig
def over_power_without_limiter(survey: Survey) -> Iterator[Finding]:
    for feed, branches in survey.played:
        over = [branch for branch in branches if branch.over_power]
        if not over:
            continue
        advised = floored(min([_allowed(branch, "rms") for branch in branches]))
        for branch in over:
            for result, section, limit in branch.over_power:
                yield Finding(
                    "over-power-without-limiter",
                    "warn",
                    result.id,
                    f"More power than the rating: {reading(result.power, 'W')} into {section.continuous} continuous, "
                    f"+{reading(result.headroom, 'dB')}, and no rms limiter is set.",
                    f"Set the rms limiter of {feed.id} to {reading(advised, 'V')} or less.",
                    result.power,
                    limit,
                )


def over_power(branch: Branch) -> tuple[tuple[SectionResult, Section, Limit], ...]:
    """The sections of a branch that get more than they may without a limiter, with their limits."""
    if not branch.live:
        return ()
    held = [(r, s, limits.power(branch, s)) for r, s in zip(branch.sections, branch.models, strict=True)]
    return tuple([(r, s, limit) for r, s, limit in held if limit and limit.broken_by(r.power or 0.0)])


@judges_rig
def limiter_too_high(survey: Survey) -> Iterator[Finding]:
    for feed, branches in survey.played:
        for kind, unit in KINDS:
            limit = limits.limiter_set(feed, kind)
            if limit is None or not limit.broken_by(least := min([_allowed(b, kind) for b in branches])):
                continue
            for branch in branches:
                channel, allowed = branch.result, _allowed(branch, kind)
                if not limit.broken_by(allowed):
                    continue
                volts = channel.voltage or 0.0 if kind == "rms" else channel.open_voltage
                highest = volts * math.sqrt(2)  # of a square wave the rms is the peak
                safe = highest <= allowed
                yield Finding(
                    "limiter-too-high",
                    "note" if safe else "warn",
                    channel.id,
                    f"The {kind} limiter of {feed.id} is set to {feed.limiter_rms if kind == 'rms' else feed.limiter_peak}, "
                    f"over the {reading(floored(allowed), unit)} that is safe for its sections"
                    + (
                        f"; {channel.amplifier} itself stops at {reading(highest, unit)}, square waves included."
                        if safe
                        else "."
                    ),
                    f"Set it to {reading(floored(least), 'V')} or less.",
                    allowed,
                    limit,
                )


def _allowed(branch: Branch, kind: limits.Kind) -> float:
    """The highest limiter setting (V) that the sections of a channel allow."""
    return (branch.result.limiter_rms if kind == "rms" else branch.result.limiter_peak) or 0.0


@judges_rig
def clips_before_limiter(survey: Survey) -> Iterator[Finding]:
    """A peak limiter over what an amplifier reaches into its load; advised is what no sections or amplifier is over."""
    for feed, branches in survey.played:
        peak = feed.limiter_peak
        if peak is None:
            continue
        clips = {branch.id: (branch.result.voltage or 0.0) * math.sqrt(2) for branch in branches}
        if peak.value <= (least := min(clips.values())):
            continue
        advised = floored(min(least, *(_allowed(branch, "peak") for branch in branches)))
        for channel, clip in clips.items():
            if peak.value > clip:
                yield Finding(
                    "clips-before-limiter",
                    "note",
                    channel,
                    f"{channel} clips at {reading(clip, 'V peak')}, before the peak limiter of {feed.id} acts at {peak}.",
                    f"Set the peak limiter to {reading(advised, 'V')} or less to keep it out of clipping.",
                )
