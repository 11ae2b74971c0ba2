"""The limiters that a plan asks to set anew."""

import math
from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine import limits
from rackwright.engine.assess import Assessed
from rackwright.engine.recovery.moves import Move
from rackwright.engine.recovery.state import Task
from rackwright.engine.recovery.touched_channels import present_on, touched_by
from rackwright.units import reading


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


def limiters_to_set(task: Task, assessment: Assessed, moves: Sequence[Move]) -> Iterator[LimiterSetting]:
    """The limiters that must come down, or that act on a feed at another gain than it had."""
    alike: dict[tuple[str, float], list[LimiterSetting]] = {}
    for name in present_on(assessment, touched_by(task, assessment, moves)):
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
