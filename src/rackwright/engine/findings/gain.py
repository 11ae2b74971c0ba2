"""Judgements on the gain from the processor to the sections: one output has one level for all that it feeds."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from rackwright.engine import limits
from rackwright.engine.channel import Branch
from rackwright.engine.finding import Finding
from rackwright.engine.findings.registry import Survey, judges_rig, listed
from rackwright.model.equipment import SectionKind
from rackwright.units import reading


class _Heard(NamedTuple):
    """Sections of one kind and impedance on one channel."""

    branch: Branch
    lowest: float
    highest: float
    """dB from the processor, trim and cable included."""


@judges_rig
def gain_differs(survey: Survey) -> Iterator[Finding]:
    """Sections of one kind on one feed that one setting of the processor plays at different levels."""
    for feed, branches in survey.played:
        alike: dict[tuple[SectionKind, float], list[_Heard]] = defaultdict(list)
        for branch in branches:
            for kind, nominal, lowest, highest in branch.gains:
                alike[kind, nominal].append(_Heard(branch, lowest, highest))
        for (kind, _), group in alike.items():
            yield from _uneven(feed.id, kind, group)


def _uneven(feed: str, kind: str, group: Sequence[_Heard]) -> Iterator[Finding]:
    quietest = min(group, key=lambda heard: heard.lowest)
    loudest = max(group, key=lambda heard: heard.highest)
    apart, limit = loudest.highest - quietest.lowest, limits.gain_apart()
    if not limit.broken_by(apart):
        return
    gains = [heard.branch.gain for heard in group]
    lossy = any(finding.code == "cable-loss" for finding in quietest.branch.findings)
    if lossy and not limit.broken_by(max(gains) - min(gains)):
        return  # the cable makes all of it, and is warned of already
    bare = max(heard.highest - heard.branch.trim for heard in group) - min(
        heard.lowest - heard.branch.trim for heard in group
    )
    deliberate = not limit.broken_by(bare)
    channels = [heard.branch.id for heard in group if limit.broken_by(heard.highest - quietest.lowest)]
    named = listed(channels[:6]) + (" and more" if len(channels) > 6 else "")
    trim = loudest.branch.trim - round(2 * apart) / 2
    advice = (
        "If the trims are not meant for shading, take them out."
        if deliberate
        else f"Trim {loudest.branch.id} to {reading(trim, 'dB')}"
        f"{', the others in proportion' if len(channels) > 1 else ''}, or give it a processor output of its own."
    )
    yield Finding(
        "gain-differs",
        "note" if deliberate else "warn",
        loudest.branch.id,
        f"On {feed} the {kind} sections of {named} play up to {reading(apart, 'dB')} louder than those of "
        f"{quietest.branch.id}{_held(quietest.branch, loudest.branch)}.",
        advice,
        apart,
        limit,
    )


def _held(quietest: Branch, loudest: Branch) -> str:
    """What a limiter set for the quietest lets through at the loudest."""
    over = (quietest.result.limiter_rms_dbu or 0.0) - (loudest.result.limiter_rms_dbu or 0.0)
    if over <= 0:
        return ""
    return f"; a limiter set for {quietest.id} lets {reading(over, 'dB')} too much through there"
