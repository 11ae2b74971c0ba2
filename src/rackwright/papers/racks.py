"""The rack sheet, a page a rack: its front from the top unit down, with channels, modes and circuits, and its output panel."""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from msgspec.structs import replace

from rackwright.engine.assess import Assessed
from rackwright.model.index import Index
from rackwright.model.places import PolePair
from rackwright.model.racks import Amplifier, Rack, Socket, channel_name, read_pole
from rackwright.papers.document import Block, Drawing, PageBreak, Sheet, Table, Words
from rackwright.papers.drawing import (
    LARGE,
    WIDTH,
    Box,
    Said,
    Strip,
    abreast,
    heading,
    large,
    named,
    paragraphs,
    row,
    under,
)
from rackwright.papers.marks import Marks, marked
from rackwright.papers.phrases import REPATCHING, rack_title
from rackwright.papers.typeface import BOLD
from rackwright.units import NOTHING
from rackwright.units.wording import ranged

UNIT = 7.0
"""mm of a rack unit; an amplifier that has more to say is drawn higher."""
ABREAST = 4
"""Channels of an amplifier, and sockets of a panel."""
_NUMBERS, _NAMED, _CIRCUIT = 12.0, 42.0, 30.0
"""mm, of the columns of an elevation; the channels take the rest."""
PANEL_DRAWN = Words(
    "The output panels are drawn in the PDF and the HTML; in words they are on the sheet patch."
)


def rack_sheet(assessment: Assessed) -> Sheet:
    """A page for each rack, which may hang on its door: the caution, its front from the top unit down, its output panel."""
    pages: list[Block] = []
    for rack in assessment.index.rig.racks:
        drawing = rack_drawing(assessment, rack)
        pages += [PageBreak(), REPATCHING, replace(drawing, instead=(PANEL_DRAWN, *drawing.instead))]
    return Sheet(name="rack", title="Racks", blocks=tuple(pages))


def rack_drawing(assessment: Assessed, rack: Rack) -> Drawing:
    """Its front, then its rear as one looks at it; a table of the front where nothing can be drawn."""
    index, marks = assessment.index, Marks(assessment)
    slots = tuple(_slots(rack, index, assessment, marks))
    name, size = _titled(assessment, marks, rack)
    front = under(
        heading(Said(name, BOLD, LARGE, size), *paragraphs("Front"), bookmark=name),
        (strip for slot in slots for strip in _in_front(slot)),
    )
    rear = under(
        heading(large(f"{rack.id}: output panel")),
        abreast((_socket(assessment, marks, socket) for socket in rack.sockets), ABREAST),
    )
    return Drawing((*front, *(rear if rack.sockets else ())), (front_table(assessment, rack),))


def front_table(assessment: Assessed, rack: Rack) -> Table:
    """Its front in words, from the top unit down."""
    marks = Marks(assessment)
    slots = _slots(rack, assessment.index, assessment, marks)
    name, size = _titled(assessment, marks, rack)
    return Table(
        heading=f"{name} ({size})",
        part=("rack", rack.id),
        heads=("unit", "amplifier", "model", "circuit", "mode", "channel and its feed"),
        rows=tuple(
            (
                ranged(slot.lowest, slot.highest),
                marked(slot.amplifier or "empty", slot.marks),
                slot.model,
                marked(slot.circuit, slot.circuit_marks),
                slot.mode,
                "; ".join(slot.channels) or NOTHING,
            )
            for slot in slots
        ),
    )


def _titled(assessment: Assessed, marks: Marks, rack: Rack) -> tuple[str, str]:
    """What it is called, and how large and heavy it is."""
    models = (assessment.index.amplifier_models[amplifier.model] for amplifier in rack.amplifiers)
    assumed = ", ASSUMED" if any("weight" in model.assumed for model in models) else ""
    weight = f"{assessment.racks[rack.id].weight:.3g} kg{assumed}"
    return marked(rack_title(rack), marks.own(rack.id)), f"{rack.height} units, amplifiers {weight}"


class _Slot(NamedTuple):
    """Rack units with what is in them, in words; nothing where they are empty."""

    lowest: int
    highest: int
    amplifier: str = ""
    marks: tuple[str, ...] = ()
    model: str = NOTHING
    circuit: str = NOTHING
    circuit_marks: tuple[str, ...] = ()
    mode: str = NOTHING
    channels: tuple[str, ...] = ()


def _slots(rack: Rack, index: Index, assessment: Assessed, marks: Marks) -> Iterator[_Slot]:
    """From the top unit down."""
    top = rack.height
    for amplifier in sorted(rack.amplifiers, key=lambda a: -a.unit):
        model = index.amplifier_models[amplifier.model]
        highest = amplifier.unit + model.height - 1
        if top > highest:
            yield _Slot(highest + 1, top)
        circuit = amplifier.circuit
        yield _Slot(
            amplifier.unit,
            highest,
            amplifier.id,
            marks.own(amplifier.id),
            model.id,
            circuit or "none",
            marks.circuit(circuit),
            _modes(amplifier, model.channels),
            tuple(_channels(index, marks, amplifier, model.channels)),
        )
        top = amplifier.unit - 1
    if top > 0:
        yield _Slot(1, top)


def _in_front(slot: _Slot) -> Iterator[Strip]:
    """The units' numbers, then what fills them."""
    numbers = Box(0, _NUMBERS, (Said(ranged(slot.lowest, slot.highest)),), 0)
    least = UNIT * (slot.highest - slot.lowest + 1)
    if not slot.amplifier:
        yield from row([numbers, Box(_NUMBERS, WIDTH - _NUMBERS, paragraphs("empty"), dashed=True)], least)
        return
    count = min(ABREAST, len(slot.channels))
    first = _NUMBERS + _NAMED
    space = (WIDTH - first - _CIRCUIT) / max(count, 1)
    channels = (
        Box(first + i * space, space, paragraphs(*slot.channels[i::count]), 0.2) for i in range(count)
    )
    name = (*named(slot.amplifier, slot.marks), *paragraphs(slot.model))
    circuit = (*paragraphs("circuit"), *named(slot.circuit, slot.circuit_marks))
    yield from row(
        [numbers, Box(_NUMBERS, _NAMED, name), *channels, Box(WIDTH - _CIRCUIT, _CIRCUIT, circuit)], least
    )


def _socket(assessment: Assessed, marks: Marks, socket: Socket) -> tuple[Said, ...]:
    """Its id and connector, what drives each pole pair, and the lines that go in."""
    index = assessment.index
    leaving = index.lines_from.get(socket.id, ())
    plugs = (Said(f"→ {marked(f'{line.id} to {line.to}', marks.line(line))}", BOLD) for line in leaving)
    return (
        *named(socket.id, marks.own(socket.id), socket.connector),
        *paragraphs(*pairs_of(index, marks, socket)),
        *(plugs if leaving else paragraphs("no line")),
    )


def pairs_of(index: Index, marks: Marks, socket: Socket) -> Iterator[str]:
    """What is on each pole pair of a socket: `1: A1.1 sub`, `2: A1.2 bridged top REVERSED`, `3: not wired`."""
    for pair in range(index.connector_models[socket.connector].pole_pairs):
        pole = read_pole(socket.pole(pair))
        on = marked(f"{pair + 1}", marks.own(str(PolePair(socket.id, pair))))
        if pole is None:
            yield f"{on}: not wired"
            continue
        amplifier = index.amplifiers[pole.amplifier]
        told = (
            pole.name,
            "bridged" if amplifier.pair_mode(pole.channel) == "bridged" else "",
            amplifier.feed_of(pole.channel) or "no feed",
            "REVERSED" if pole.sign < 0 else "",
            ", ".join(marks.channel(pole.name)),
        )
        yield f"{on}: {' '.join(filter(None, told))}"


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
