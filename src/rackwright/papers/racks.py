"""The rack sheet: each rack from the top unit down, with channels, modes and circuits."""

from collections.abc import Iterable, Iterator

from rackwright.engine.assess import Assessed
from rackwright.model.index import Index
from rackwright.model.rig import Amplifier, Rack, channel_name
from rackwright.papers.document import Sheet, Table
from rackwright.papers.marks import Marks, marked
from rackwright.papers.phrases import REPATCHING, rack_title
from rackwright.units import NOTHING


def rack_sheet(assessment: Assessed) -> Sheet:
    """Each rack from the top unit down."""
    index, marks = assessment.index, Marks(assessment)
    tables = [_elevation(rack, index, assessment, marks) for rack in index.rig.racks]
    return Sheet(name="rack", title="Racks", blocks=(REPATCHING, *tables))


def _elevation(rack: Rack, index: Index, assessment: Assessed, marks: Marks) -> Table:
    rows = []
    top = rack.height
    for amplifier in sorted(rack.amplifiers, key=lambda a: -a.unit):
        model = index.amplifier_models[amplifier.model]
        highest = amplifier.unit + model.height - 1
        if top > highest:
            rows.append((_units(highest + 1, top), "empty", *(NOTHING,) * 4))
        rows.append(
            (
                _units(amplifier.unit, highest),
                marked(amplifier.id, marks.own(amplifier.id)),
                model.id,
                marked(amplifier.circuit, marks.circuit(amplifier.circuit)) if amplifier.circuit else "none",
                _modes(amplifier, model.channels),
                "; ".join(_channels(index, marks, amplifier, model.channels)),
            )
        )
        top = amplifier.unit - 1
    if top > 0:
        rows.append((_units(1, top), "empty", *(NOTHING,) * 4))
    weight = f"amplifiers {assessment.racks[rack.id].weight:.3g} kg"
    return Table(
        heading=f"{marked(rack_title(rack), marks.own(rack.id))} ({rack.height} units, {weight})",
        part=("rack", rack.id),
        heads=("unit", "amplifier", "model", "circuit", "mode", "channel and its feed"),
        rows=tuple(rows),
    )


def _units(lowest: int, highest: int) -> str:
    return f"{lowest}" if lowest == highest else f"{lowest}–{highest}"


def _modes(amplifier: Amplifier, channels: int) -> str:
    """One mode for all, or one for each pair: `1–2 bridged, 3–4 dual`."""
    pairs = range(0, channels, 2)
    modes = [amplifier.pair_mode(first) for first in pairs]
    if len(set(modes)) == 1:
        return modes[0]
    return ", ".join(f"{p + 1}–{min(p + 2, channels)} {mode}" for p, mode in zip(pairs, modes, strict=True))


def _channels(index: Index, marks: Marks, amplifier: Amplifier, count: int) -> Iterator[str]:
    """Each channel with its feed, a pair that has one input as one: `1: sub`, `1+2 bridged, input 1: sub`."""
    for channel in range(count):
        mode = amplifier.pair_mode(channel)
        if mode != "dual" and channel % 2:
            continue
        pair = (channel,) if mode == "dual" else (channel, channel + 1)
        own = amplifier.channel(channel)
        entry = own.input or (f"input {channel + 1}" if len(pair) > 1 else "")
        name = "+".join(f"{c + 1}" for c in pair) + (f" {mode}" if len(pair) > 1 else "")
        name += f", {entry}" if entry else ""
        told = dict.fromkeys(
            f"{c + 1} {mark}" if mode == "parallel" else mark
            for c in pair
            for mark in marks.channel(channel_name(amplifier.id, c))
        )
        trims = trimmed(amplifier, pair)
        yield marked(f"{name}:\u00a0{amplifier.feed_of(channel) or NOTHING}", (*trims, *told))


def trimmed(amplifier: Amplifier, channels: Iterable[int]) -> tuple[str, ...]:
    """The trim of channels (index from 0) where one is turned down: `trim −3 dB`."""
    trims = dict.fromkeys(amplifier.channel(channel).trim for channel in channels)
    return tuple(f"trim {trim}" for trim in trims if trim.value)
