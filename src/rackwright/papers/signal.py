"""The processor sheet: what to set for each feed, and what its limiters come to at the input of each amplifier."""

from collections import defaultdict
from collections.abc import Sequence

from rackwright.engine import protection
from rackwright.engine.assess import Assessed
from rackwright.engine.results import ChannelResult
from rackwright.model.rig import Feed
from rackwright.papers.document import Sheet, Table, Words
from rackwright.papers.words import PLANNING, capped, listed, short
from rackwright.units import Voltage

BEARABLE = ("rms V", "rms dBu", "peak V", "peak dBu")
_COLUMNS = tuple(f"{word} {figure}" for word in ("set", "highest") for figure in BEARABLE)


def processor_sheet(assessment: Assessed) -> Sheet:
    """Feeds with band and polarity, then the limiters by feed and amplifier."""
    feeds = assessment.index.rig.feeds
    by_feed = _channels(assessment)
    settings = Table(
        name="feeds",
        heading="Feeds",
        heads=("feed", "from", "to", "polarity", "to channels"),
        rows=tuple(
            (
                feed.id,
                str(feed.band[0]),
                str(feed.band[1]),
                "normal" if feed.polarity == "normal" else "INVERTED",
                listed(c.id for channels in by_feed[feed.id].values() for c in channels),
            )
            for feed in feeds
        ),
    )
    limiters = Table(
        name="limiters",
        heading="Limiters, by amplifier",
        heads=("feed", "amplifier", "gain dB", *_COLUMNS),
        right=frozenset(("gain dB", *_COLUMNS)),
        rows=tuple(
            _limiter_row(assessment, feed, amplifier, channels)
            for feed in feeds
            for amplifier, channels in by_feed[feed.id].items()
        ),
    )
    told = Words(
        "Volts are at the amplifier output, dBu at its input. Set: as the rig says. Highest: what the sections bear; "
        "set no limiter above it, and where none is set, set it there."
    )
    return Sheet(name="processor", title="Processor", blocks=(settings, told, limiters, PLANNING))


def _channels(assessment: Assessed) -> dict[str, dict[str, list[ChannelResult]]]:
    """Feed → amplifier → its channels that play it, a bridged pair once."""
    found: dict[str, dict[str, list[ChannelResult]]] = defaultdict(dict)
    for channel in assessment.channels.values():
        if not assessment.branches[channel.id].second_of_bridge:
            found[channel.feed].setdefault(channel.amplifier, []).append(channel)
    return found


def _limiter_row(
    assessment: Assessed, feed: Feed, amplifier: str, channels: Sequence[ChannelResult]
) -> tuple[str, ...]:
    """Of several channels the lowest that their sections bear."""
    gains = {assessment.branches[channel.id].output.gain for channel in channels}
    highest = max(gains)
    bears = (
        *_lowest([c.limiter_rms for c in channels], [c.limiter_rms_dbu for c in channels]),
        *_lowest([c.limiter_peak for c in channels], [c.limiter_peak_dbu for c in channels]),
    )
    return (
        feed.id,
        amplifier,
        short(highest),
        *map(capped, _set(feed.limiter_rms, highest)),
        *map(capped, _set(feed.limiter_peak, highest)),
        *map(capped, bears),
    )


def _lowest(*columns: Sequence[float | None]) -> list[float | None]:
    return [min((value for value in column if value is not None), default=None) for column in columns]


def _set(voltage: Voltage | None, gain: float) -> tuple[float | None, float | None]:
    """A limiter as set: V, and dBu before a gain in dB."""
    return (None, None) if voltage is None else (voltage.value, protection.input_level(voltage.value, gain))
