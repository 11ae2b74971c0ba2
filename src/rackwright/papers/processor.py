"""The processor sheet: what to set for each feed, and what its limiters come to before each gain that it drives.

One output of the processor has one level for all the channels of a feed. Where their gains differ (amplifiers of another
make, a bridged pair) a row for each says what it would take there, so that nobody limits the others early unawares.
"""

from rackwright.engine.assess import Assessed
from rackwright.engine.limiters import FeedLimiters, limiters_by_gain
from rackwright.engine.results import ChannelResult
from rackwright.papers.document import Sheet, Table, Words
from rackwright.papers.marks import Marks, assumed_words, marked
from rackwright.papers.phrases import PLANNING, listed
from rackwright.papers.racks import trimmed
from rackwright.units import NOTHING, capped, floored, reading, short

CAPACITORS = Words(
    "Advised, for a high section alone on its channel: 3 dB down an octave under the band (common practice, no source); it guards against what comes from below by a slip, "
    "and replaces neither limiter nor processor filter. What is fitted reads open on a meter."
)
_LEVELS = ("rms V", "rms dBu", "peak V", "peak dBu", "sine dBu")
_COLUMNS = tuple(f"{word} {figure}" for word in ("set", "safe") for figure in _LEVELS)


def processor_sheet(assessment: Assessed) -> Sheet:
    """Feeds with band and polarity, then the limiters by feed and amplifier."""
    feeds = assessment.index.rig.feeds
    marks = Marks(assessment)
    by_feed = limiters_by_gain(assessment)
    settings = Table(
        name="feeds",
        heading="Feeds",
        heads=("feed", "output", "from", "to", "polarity", "one period ms"),
        right=frozenset(("one period ms",)),
        rows=tuple(
            (
                marked(feed.id, marks.own(feed.id)),
                feed.output or NOTHING,
                str(feed.band[0]),
                str(feed.band[1]),
                "normal" if feed.polarity == "normal" else "INVERTED",
                short(1000 / feed.band[0].value),
            )
            for feed in feeds
        ),
    )
    uneven = [feed for feed, rows in by_feed.items() if len(rows) > 1]
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
        "Type these into the processor: what the rig says, or, where it says none, the highest that is safe for the sections. "
        "Peak limiters are read in sine (dBu of a sine's rms) or in peak (dBu of the volts peak), as the feed says. Attack and release: longer than one "
        "period of the band's lower edge (common practice, no source).",
        leads=True,
    )
    checking = Words(
        "To check against, not to type: volts are at the amplifier output, dBu at its input. Set: as the rig says. Safe: "
        "the highest for the sections. Peak dBu is of the volts peak; sine dBu, 3.01 dB less, is the same limiter on a "
        "processor calibrated in the rms of a sine.",
        leads=True,
    )
    return Sheet(
        name="processor",
        title="Processor",
        blocks=(
            settings,
            told,
            *assumed_words(assessment, ("gain",)),
            *apart,
            limiter_table(assessment),
            *_capacitors(assessment),
            checking,
            _all_figures(assessment),
            PLANNING,
        ),
    )


def limiter_table(assessment: Assessed) -> Table:
    """What is typed into the processor for each feed, a row for each gain."""
    marks = Marks(assessment)
    return Table(
        name="type",
        heading="Limiters to type into the processor",
        heads=("feed", "channels", "gain dB", "rms dBu", "peak dBu", "peak read in", "note"),
        right=frozenset(("gain dB", "rms dBu", "peak dBu")),
        grouped=True,
        rows=tuple(_typed_row(assessment, row, marks) for row in _rows(assessment)),
    )


def _all_figures(assessment: Assessed) -> Table:
    """The limiters of each feed, a row for each gain: as set, and the highest that are safe."""
    marks = Marks(assessment)
    return Table(
        name="limiters",
        heading="Limiters in full, by gain",
        heads=("feed", "channels", "gain dB", *_COLUMNS),
        right=frozenset(("gain dB", *_COLUMNS)),
        grouped=True,
        rows=tuple(_limiter_row(assessment, row, marks) for row in _rows(assessment)),
    )


def _rows(assessment: Assessed) -> list[FeedLimiters]:
    return [row for rows in limiters_by_gain(assessment).values() for row in rows]


def _typed_row(assessment: Assessed, row: FeedLimiters, marks: Marks) -> tuple[str, ...]:
    scale = assessment.index.feeds[row.feed].limiter_peak_scale
    in_sine = scale == "sine"
    peaks = (row.set_peak_sine, row.highest_peak_sine) if in_sine else (row.set_peak[1], row.highest_peak[1])
    levels = {"rms": (row.set_rms[1], row.highest_rms[1]), "peak": peaks}
    notes = [f"{name} {note}" for name, level in levels.items() if (note := _unlike(*level))]
    typed = (capped(highest if stated is None else stated) for stated, highest in levels.values())
    return (
        row.feed,
        _channels(assessment, row, marks),
        short(row.gain),
        *typed,
        scale,
        "; ".join(notes) or NOTHING,
    )


def _unlike(stated: float | None, highest: float | None) -> str:
    """What there is to know of a level that is not as the rig says, or not safe."""
    if highest is None:
        return ""
    if stated is None:
        return "highest, none is set"
    return f"OVER {capped(highest)}, the highest safe" if floored(stated) > floored(highest) else ""


def _capacitors(assessment: Assessed) -> tuple[Words | Table, ...]:
    """What to put in series with each kind of high section that has a channel of its own, and what is fitted anywhere."""
    found: dict[tuple[str, ...], list[str]] = {}
    for result in assessment.sections.values():
        model, advised = result.model, result.advised_capacitor
        if model is None or result.channel is None or not (advised or model.capacitor):
            continue
        feed = assessment.channels[result.channel].feed
        fitted = str(model.capacitor) if model.capacitor else NOTHING
        row = (feed, str(model.nominal), reading(advised, "F") if advised else NOTHING, fitted)
        found.setdefault(row, []).append(result.id)
    heads = ("feed", "impedance", "advised", "fitted", "sections")
    table = Table(
        name="capacitors",
        heading="Capacitors in series",
        heads=heads,
        rows=tuple((*row, listed(names)) for row, names in found.items()),
    )
    return (table, CAPACITORS) if found else ()


def _limiter_row(assessment: Assessed, row: FeedLimiters, marks: Marks) -> tuple[str, ...]:
    stated = (*row.set_rms, *row.set_peak, row.set_peak_sine)
    highest = (*row.highest_rms, *row.highest_peak, row.highest_peak_sine)
    told = map(capped, (*stated, *highest))
    return (row.feed, _channels(assessment, row, marks), short(row.gain), *told)


def _channels(assessment: Assessed, row: FeedLimiters, marks: Marks) -> str:
    return listed(_named(assessment, marks, channel) for channel in row.channels)


def _named(assessment: Assessed, marks: Marks, channel: ChannelResult) -> str:
    branch = assessment.branches[channel.id]
    name = channel.id + (" bridged" if channel.mode == "bridged" else "")
    assumed = ("GAIN ASSUMED",) if "gain" in branch.model.assumed else ()
    return marked(name, (*trimmed(branch.amplifier, (branch.channel,)), *assumed, *marks.channel(channel.id)))
