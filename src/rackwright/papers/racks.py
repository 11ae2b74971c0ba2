"""The rack sheet (elevation, channels, modes, circuits) and the panel patch (what drives each pole pair)."""

from collections.abc import Iterator

from rackwright.engine.assess import Assessed
from rackwright.model.index import Index
from rackwright.model.rig import Amplifier, Rack, Socket, channel_name, read_pole
from rackwright.papers.document import Sheet, Table
from rackwright.papers.marks import Marks, marked
from rackwright.papers.phrases import POWER_DOWN, listed
from rackwright.units import NOTHING

PATCH_HEADS = ("socket", "connector", "pair", "channel", "feed", "polarity", "line")


def rack_sheet(assessment: Assessed) -> Sheet:
    """Each rack from the top unit down."""
    index, marks = assessment.index, Marks(assessment)
    tables = [_elevation(rack, index, assessment, marks) for rack in index.rig.racks]
    return Sheet(name="rack", title="Racks", blocks=(POWER_DOWN, *tables))


def patch_sheet(assessment: Assessed) -> Sheet:
    """Each rack's output panel, socket by socket, pole pair by pole pair."""
    index, marks = assessment.index, Marks(assessment)
    tables = [
        Table(
            heading=rack_title(rack),
            part=("rack", rack.id),
            heads=PATCH_HEADS,
            grouped=True,
            rows=tuple(row for socket in rack.sockets for row in _panel_rows(index, marks, socket)),
        )
        for rack in index.rig.racks
        if rack.sockets
    ]
    return Sheet(name="patch", title="Output panels", blocks=(POWER_DOWN, *tables))


def rack_title(rack: Rack) -> str:
    """`R1, Stage left`."""
    return f"{rack.id}, {rack.name}" if rack.name else rack.id


def feed_of(index: Index, amplifier: Amplifier, channel: int) -> str:
    """The feed that a channel plays: in parallel mode and in a bridge the pair's first."""
    first = channel - channel % 2
    return amplifier.channel(first if amplifier.pair_mode(channel) != "dual" else channel).feed


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
                amplifier.id,
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
        heading=f"{rack_title(rack)} ({rack.height} units, {weight})",
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
        name = "+".join(f"{c + 1}" for c in pair) + (f" {mode}, input {channel + 1}" if len(pair) > 1 else "")
        told = dict.fromkeys(
            f"{c + 1} {mark}" if mode == "parallel" else mark
            for c in pair
            for mark in marks.channel(channel_name(amplifier.id, c))
        )
        yield marked(f"{name}:\u00a0{feed_of(index, amplifier, channel) or NOTHING}", told)


def _panel_rows(index: Index, marks: Marks, socket: Socket) -> list[tuple[str, ...]]:
    connector = index.connector_models[socket.connector]
    lines = listed(
        marked(f"{line.id} to {line.to}", marks.line(line)) for line in index.lines_from.get(socket.id, ())
    )
    rows: list[tuple[str, ...]] = []
    for pair in range(connector.pole_pairs):
        pole = read_pole(socket.pole(pair))
        if pole is None:
            told = ("not wired", NOTHING, NOTHING)
        else:
            amplifier = index.amplifiers[pole.amplifier]
            bridged = " bridged" if amplifier.pair_mode(pole.channel) == "bridged" else ""
            told = (
                marked(pole.name + bridged, marks.channel(pole.name)),
                feed_of(index, amplifier, pole.channel) or NOTHING,
                "normal" if pole.sign > 0 else "REVERSED",
            )
        rows.append((socket.id, connector.id, f"{pair + 1}", *told, lines))
    return rows
