"""The processor sheet: what to set for each feed, and what its limiters come to before each gain that it drives.

One output of the processor has one level for all the channels of a feed. Where their gains differ (amplifiers of another
make, a bridged pair) a row for each says what it would take there, so that nobody limits the others early unawares.
"""

from collections import defaultdict
from collections.abc import Sequence

from rackwright.engine import protection
from rackwright.engine.assess import Assessed
from rackwright.engine.results import ChannelResult
from rackwright.model.rig import Feed
from rackwright.papers.document import Sheet, Table, Words
from rackwright.papers.marks import Marks, marked
from rackwright.papers.phrases import PLANNING, capped, listed, short
from rackwright.units import Voltage

BEARABLE = ("rms V", "rms dBu", "peak V", "peak dBu")
_COLUMNS = tuple(f"{word} {figure}" for word in ("set", "highest") for figure in BEARABLE)


def processor_sheet(assessment: Assessed) -> Sheet:
    """Feeds with band and polarity, then the limiters by feed and amplifier."""
    feeds = assessment.index.rig.feeds
    marks = Marks(assessment)
    by_feed = _by_gain(assessment)
    settings = Table(
        name="feeds",
        heading="Feeds",
        heads=("feed", "from", "to", "polarity"),
        rows=tuple(
            (
                feed.id,
                str(feed.band[0]),
                str(feed.band[1]),
                "normal" if feed.polarity == "normal" else "INVERTED",
            )
            for feed in feeds
        ),
    )
    limiters = Table(
        name="limiters",
        heading="Limiters, by gain",
        heads=("feed", "channels", "gain dB", *_COLUMNS),
        right=frozenset(("gain dB", *_COLUMNS)),
        grouped=True,
        rows=tuple(
            _limiter_row(feed, gain, channels, marks)
            for feed in feeds
            for gain, channels in sorted(by_feed[feed.id].items())
        ),
    )
    uneven = [feed.id for feed in feeds if len(by_feed[feed.id]) > 1]
    apart = (
        (
            Words(
                f"DIFFERENT GAINS on {listed(uneven)}: one processor output has one limiter. Set to the lowest dBu of the "
                "feed's rows it protects all, and limits the channels of lower gain early. Better: bring the gains level "
                "at the amplifiers, or give each gain an output of its own."
            ),
        )
        if uneven
        else ()
    )
    told = Words(
        "Volts are at the amplifier output, dBu at its input. Set: as the rig says. Highest: what is safe for the sections; "
        "set no limiter above it, and where none is set, set it there."
    )
    return Sheet(name="processor", title="Processor", blocks=(settings, told, *apart, limiters, PLANNING))


def _by_gain(assessment: Assessed) -> dict[str, dict[float, list[ChannelResult]]]:
    """Feed → gain in dB, a bridge's with what bridging adds → the channels that play it so, a bridged pair once."""
    found: dict[str, dict[float, list[ChannelResult]]] = defaultdict(dict)
    for channel in assessment.channels.values():
        branch = assessment.branches[channel.id]
        if not branch.second_of_bridge:
            found[channel.feed].setdefault(branch.output.gain, []).append(channel)
    return found


def _limiter_row(feed: Feed, gain: float, channels: Sequence[ChannelResult], marks: Marks) -> tuple[str, ...]:
    """Of several channels the lowest that their sections bear."""
    bears = (
        *_lowest([c.limiter_rms for c in channels], [c.limiter_rms_dbu for c in channels]),
        *_lowest([c.limiter_peak for c in channels], [c.limiter_peak_dbu for c in channels]),
    )
    return (
        feed.id,
        listed(_named(marks, channel) for channel in channels),
        short(gain),
        *map(capped, _set(feed.limiter_rms, gain)),
        *map(capped, _set(feed.limiter_peak, gain)),
        *map(capped, bears),
    )


def _named(marks: Marks, channel: ChannelResult) -> str:
    return marked(channel.id + (" bridged" if channel.mode == "bridged" else ""), marks.channel(channel.id))


def _lowest(*columns: Sequence[float | None]) -> list[float | None]:
    return [min((value for value in column if value is not None), default=None) for column in columns]


def _set(voltage: Voltage | None, gain: float) -> tuple[float | None, float | None]:
    """A limiter as set: V, and dBu before a gain in dB."""
    return (None, None) if voltage is None else (voltage.value, protection.input_level(voltage.value, gain))
