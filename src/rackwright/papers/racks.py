"""The rack sheet (elevation, channels, modes, circuits) and the panel patch (what drives each pole pair)."""

from rackwright.engine.assess import Assessed
from rackwright.model.index import Index
from rackwright.model.rig import Amplifier, Rack, Socket, channel_name, read_pole
from rackwright.papers.document import Sheet, Table
from rackwright.papers.words import NOTHING, POWER_DOWN, listed

PATCH_HEADS = ("socket", "connector", "pair", "channel", "feed", "polarity", "line")


def rack_sheet(assessment: Assessed) -> Sheet:
    """Each rack from the top unit down."""
    index = assessment.index
    tables = [_elevation(rack, index, assessment) for rack in index.rig.racks]
    return Sheet(name="rack", title="Racks", blocks=(POWER_DOWN, *tables))


def patch_sheet(assessment: Assessed) -> Sheet:
    """Each rack's output panel, socket by socket, pole pair by pole pair."""
    index = assessment.index
    tables = [
        Table(
            heading=rack_title(rack),
            part=("rack", rack.id),
            heads=PATCH_HEADS,
            grouped=True,
            rows=tuple(row for socket in rack.sockets for row in _panel_rows(index, socket)),
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


def _elevation(rack: Rack, index: Index, assessment: Assessed) -> Table:
    rows = []
    top = rack.height
    for amplifier in sorted(rack.amplifiers, key=lambda a: -a.unit):
        model = index.amplifier_models[amplifier.model]
        highest = amplifier.unit + model.height - 1
        if top > highest:
            rows.append((_units(highest + 1, top), "empty", *(NOTHING,) * 4))
        channels = (_channel(index, amplifier, channel) for channel in range(model.channels))
        rows.append(
            (
                _units(amplifier.unit, highest),
                amplifier.id,
                model.id,
                amplifier.circuit or "none",
                _modes(amplifier, model.channels),
                "; ".join(channels),
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


def _channel(index: Index, amplifier: Amplifier, channel: int) -> str:
    failed = " FAILED" if amplifier.channel(channel).state == "failed" else ""
    return f"{channel + 1}:\u00a0{feed_of(index, amplifier, channel) or NOTHING}{failed}"


def _panel_rows(index: Index, socket: Socket) -> list[tuple[str, ...]]:
    connector = index.connector_models[socket.connector]
    lines = listed(f"{line.id} to {line.to}" for line in index.lines_from.get(socket.id, ()))
    rows: list[tuple[str, ...]] = []
    for pair in range(connector.pole_pairs):
        pole = read_pole(socket.poles[pair]) if pair < len(socket.poles) else None
        if pole is None:
            told = ("not wired", NOTHING, NOTHING)
        else:
            amplifier = index.amplifiers[pole.amplifier]
            bridged = " bridged" if amplifier.pair_mode(pole.channel) == "bridged" else ""
            told = (
                channel_name(pole.amplifier, pole.channel) + bridged,
                feed_of(index, amplifier, pole.channel) or NOTHING,
                "normal" if pole.sign > 0 else "REVERSED",
            )
        rows.append((socket.id, connector.id, f"{pair + 1}", *told, lines))
    return rows
