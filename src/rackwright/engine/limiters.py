"""What a feed's limiters come to before each gain that it drives: one output of the processor has one level for all."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple, TypeAlias

from rackwright.engine import protection
from rackwright.engine.assess import Assessed
from rackwright.engine.channel import Branch
from rackwright.engine.findings.limiters import as_advised
from rackwright.engine.results import ChannelResult

Level: TypeAlias = tuple[float | None, float | None]
"""V at the amplifier output, dBu at its input; None where there is none."""


class FeedLimiters(NamedTuple):
    """The channels of one feed and one gain: what is set, and the lowest of what their sections stand."""

    feed: str
    gain: float
    """dB, with the trim; a bridge's with what bridging adds."""
    channels: tuple[ChannelResult, ...]
    """A bridged pair once."""
    set_rms: Level
    set_peak: Level
    set_peak_sine: float | None
    """dBu of `set_peak` where the processor shows the rms of a sine."""
    highest_rms: Level
    highest_peak: Level
    highest_peak_sine: float | None
    """The same of `highest_peak`."""


def limiters_by_gain(assessment: Assessed) -> Mapping[str, Sequence[FeedLimiters]]:
    """Feed → its gains, the lowest first.

    Each by `protection.input_level` [1]_.

    >>> [round(each.gain, 1) for each in limiters_by_gain(hall)["sub"]]
    [32.0]

    .. [1] ITU-R V.574: 0 dBu is √0.6 V, from memory.
    """
    found: dict[str, dict[float, list[ChannelResult]]] = defaultdict(lambda: defaultdict(list))
    for channel in assessment.channels.values():
        branch = assessment.branches[channel.id]
        if not branch.second_of_bridge:
            found[channel.feed][branch.gain].append(channel)
    return {
        feed.id: [
            _before(feed.id, gain, assessment.branches[channels[0].id], channels)
            for gain, channels in sorted(found[feed.id].items())
        ]
        for feed in assessment.index.rig.feeds
    }


def _before(feed: str, gain: float, branch: Branch, channels: Sequence[ChannelResult]) -> FeedLimiters:
    peak = _set(branch.set_peak, gain)
    return FeedLimiters(
        feed,
        gain,
        tuple(channels),
        _set(branch.set_rms, gain),
        peak,
        None if peak[1] is None else protection.sine_level(peak[1]),
        (_lowest(c.limiter_rms for c in channels), _lowest(c.limiter_rms_dbu for c in channels)),
        (_lowest(c.limiter_peak for c in channels), _lowest(c.limiter_peak_dbu for c in channels)),
        _lowest(c.limiter_peak_sine_dbu for c in channels),
    )


def advised_limiters(assessment: Assessed, feeds: Iterable[str]) -> Mapping[str, tuple[str, str]]:
    """Of those feeds that drive something, the rms and the peak limiter to set: typed in, they draw no finding.

    Each by `protection` or what the amplifier gives [1]_, the lower, rounded to the safe side: common practice, no source.

    >>> advised_limiters(hall, ["sub"])["sub"]
    ('74.8 V', '105 V')

    .. [1] IEC 60268-3: rated output, of a sine; from memory.
    """
    return {
        name: as_advised(assessment.index, assessment.index.feeds[name], playing)
        for name in feeds
        if (playing := assessment.playing(name))
    }


def _lowest(values: Iterable[float | None]) -> float | None:
    return min((value for value in values if value is not None), default=None)


def _set(voltage: float | None, gain: float) -> Level:
    return (None, None) if voltage is None else (voltage, protection.input_level(voltage, gain))
