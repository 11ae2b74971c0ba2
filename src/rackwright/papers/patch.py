"""The patch sheet: each rack's output panel, what drives each pole pair of each socket, and where that is."""

from rackwright.engine.assess import Assessed
from rackwright.model.index import Index
from rackwright.model.places import PolePair
from rackwright.model.racks import Amplifier, Socket, read_pole
from rackwright.papers.document import Sheet, Table
from rackwright.papers.marks import Marks, marked
from rackwright.papers.phrases import REPATCHING, listed, rack_title
from rackwright.units import NOTHING
from rackwright.units.wording import ranged

PATCH_HEADS = ("socket", "connector", "pair", "channel", "unit", "model", "feed", "polarity", "line")


def patch_sheet(assessment: Assessed) -> Sheet:
    """Each rack's output panel, socket by socket, pole pair by pole pair."""
    index, marks = assessment.index, Marks(assessment)
    tables = [
        Table(
            heading=marked(rack_title(rack), marks.own(rack.id)),
            part=("rack", rack.id),
            heads=PATCH_HEADS,
            grouped=True,
            rows=tuple(row for socket in rack.sockets for row in _panel_rows(index, marks, socket)),
        )
        for rack in index.rig.racks
        if rack.sockets
    ]
    return Sheet(name="patch", title="Output panels", blocks=(REPATCHING, *tables))


def _panel_rows(index: Index, marks: Marks, socket: Socket) -> list[tuple[str, ...]]:
    connector = index.connector_models[socket.connector]
    lines = listed(
        marked(f"{line.id} to {line.to}", marks.line(line)) for line in index.lines_from.get(socket.id, ())
    )
    rows: list[tuple[str, ...]] = []
    for pair in range(connector.pole_pairs):
        pole = read_pole(socket.pole(pair))
        if pole is None:
            told = ("not wired", *[NOTHING] * 4)
        else:
            amplifier = index.amplifiers[pole.amplifier]
            bridged = " bridged" if amplifier.pair_mode(pole.channel) == "bridged" else ""
            told = (
                marked(pole.name + bridged, marks.channel(pole.name)),
                _unit(index, socket, amplifier),
                amplifier.model,
                amplifier.feed_of(pole.channel) or NOTHING,
                "normal" if pole.sign > 0 else "REVERSED",
            )
        named = marked(socket.id, marks.own(socket.id))
        on = marked(f"{pair + 1}", marks.own(str(PolePair(socket.id, pair))))
        rows.append((named, connector.id, on, *told, lines))
    return rows


def _unit(index: Index, socket: Socket, amplifier: Amplifier) -> str:
    """The rack units of an amplifier, with its rack where the socket is in another."""
    highest = amplifier.unit + index.amplifier_models[amplifier.model].height - 1
    rack = index.rack_of[amplifier.id].id
    elsewhere = rack != index.rack_of[socket.id].id
    return f"{rack} unit " * elsewhere + ranged(amplifier.unit, highest)
