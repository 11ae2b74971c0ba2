"""Judgements on the gain from the processor to the sections: one output has one level for all that it feeds."""

import itertools
from collections import defaultdict
from collections.abc import Iterator, Sequence
from operator import attrgetter

from msgspec import Struct

from rackwright.engine import limits
from rackwright.engine.channel import Branch
from rackwright.engine.finding import Finding
from rackwright.engine.findings.registry import judges_feed
from rackwright.model.equipment import SectionKind
from rackwright.model.index import Index
from rackwright.model.racks import Feed
from rackwright.units import reading
from rackwright.units.wording import few


class _Heard(Struct, frozen=True, gc=False):
    """Sections of one kind and sensitivity on one channel."""

    branch: Branch
    sensitivity: float | None
    lowest: float
    highest: float
    """dB from the processor, trim and cable included."""

    def above(self, other: "_Heard") -> float:
        """dB of level over another at one setting of the processor, with their sensitivities where both are stated.

        Sensitivity counts only beside more gain: that unlike cabinets differ by it alone is how they were chosen.
        """
        gain = self.highest - other.lowest
        if not limits.gain_apart().broken_by(gain) or self.sensitivity is None or other.sensitivity is None:
            return gain
        return gain + self.sensitivity - other.sensitivity


@judges_feed
def gain_differs(index: Index, feed: Feed, branches: Sequence[Branch]) -> Iterator[Finding]:
    """Sections of one kind on one feed, whatever their load, that one setting of the processor plays at different levels."""
    limit = limits.gain_apart()
    alike: dict[SectionKind, list[_Heard]] = defaultdict(list)
    for branch in branches:
        for kind, sensitivity, lowest, highest in branch.gains:
            alike[kind].append(_Heard(branch, sensitivity, lowest, highest))
    for kind, group in alike.items():
        apart = max([heard.highest for heard in group]) - min([heard.lowest for heard in group])
        if limit.broken_by(apart):  # no sensitivity counts within it
            yield from _uneven(feed.id, kind, group)


def _uneven(feed: str, kind: str, group: Sequence[_Heard]) -> Iterator[Finding]:
    ends: dict[float | None, list[_Heard]] = defaultdict(list)
    for heard in group:
        ends[heard.sensitivity].append(heard)
    quiet = [min(stated, key=attrgetter("lowest")) for stated in ends.values()]
    loud = [max(stated, key=attrgetter("highest")) for stated in ends.values()]
    loudest, quietest = max(itertools.product(loud, quiet), key=lambda pair: pair[0].above(pair[1]))
    apart, limit = loudest.above(quietest), limits.gain_apart()
    if not limit.broken_by(apart):
        return
    if any(finding.code == "cable-loss" for finding in quietest.branch.findings):
        gains = [heard.branch.gain for heard in group]
        if not limit.broken_by(max(gains) - min(gains)):
            return  # the cable makes all of it, and is warned of already
    bare = max(heard.highest - heard.branch.trim for heard in group) - min(
        heard.lowest - heard.branch.trim for heard in group
    )
    deliberate = not limit.broken_by(bare)
    channels = [heard.branch.id for heard in group if limit.broken_by(heard.above(quietest))]
    named = few(channels)
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
        f"On {feed} the {kind} sections of {named} get up to {reading(apart, 'dB')} more level than those of "
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
