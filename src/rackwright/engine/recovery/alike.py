"""Which things of a rig are interchangeable: what one of them does by failing, any other does too.

Each thing is told apart by what it is and by what it is joined to, and by what that is joined to, until nothing more is told
apart. Holds no search.
"""

from collections import defaultdict
from collections.abc import Hashable, Iterator
from typing import Any

from msgspec.structs import asdict, replace

from rackwright.engine import network
from rackwright.model.index import Index, pole_or_none
from rackwright.model.lines import Cabinet
from rackwright.model.racks import channel_name

_NAMES = {
    "amplifiers",
    "board",
    "channels",
    "circuit",
    "depth",
    "id",
    "input",
    "links_to",
    "measured",
    "mode",
    "name",
    "notes",
    "output",
    "phase",
    "poles",
    "position",
    "reaches",
    "sockets",
    "source",
    "supply_cable",
    "to",
    "unit",
}
"""Fields that name a thing or its place, refer to another, or don't matter to a plan."""


def classes(index: Index) -> dict[str, Hashable]:
    """Place as written → its class: equal for those that are interchangeable."""
    colours: dict[str, Hashable] = dict(_things(index))
    edges = defaultdict(list)
    for kind, a, b in _joints(index):
        edges[a].append((f"{kind}>", b))
        edges[b].append((f"{kind}<", a))
    number = len(set(colours.values()))
    while True:
        told = {
            name: (colour, tuple(sorted((kind, hash(colours[b])) for kind, b in edges[name])))
            for name, colour in colours.items()
        }
        short = {each: at for at, each in enumerate(dict.fromkeys(told.values()))}
        colours = {name: short[each] for name, each in told.items()}
        if len(short) == number:
            return colours
        number = len(short)


def _things(index: Index) -> Iterator[tuple[str, Hashable]]:
    rig = index.rig
    tables: tuple[tuple[Any, ...], ...] = (
        rig.boards, rig.circuits, rig.feeds, rig.racks, rig.amplifiers(), rig.sockets(), rig.lines, rig.cabinets,
    )  # fmt: skip
    for table in tables:
        for thing in table:
            said = {k: v for k, v in asdict(thing).items() if k not in _NAMES}
            if isinstance(thing, Cabinet):
                said["priority"] = tuple(thing.priority_of(kind) for kind in ("low", "high"))
            if "side" in said:
                said["side"] = bool(said["side"])  # left and right mirror each other
            yield thing.id, (type(thing).__name__, repr(said))
    for amplifier in rig.amplifiers():
        for number in range(index.amplifier_models[amplifier.model].channels):
            channel = amplifier.channel(number)
            mode = amplifier.pair_mode(number)
            half = number % 2 if mode != "dual" else 0
            what = (mode, half, channel.state, channel.input_state, channel.trim.value)
            yield channel_name(amplifier.id, number), ("channel", what)
    for socket in rig.sockets():
        for k in range(len(socket.poles)):
            yield f"{socket.id}/{k + 1}", ("pair", _drives(index, socket.id, k))


def _drives(index: Index, socket: str, pair: int) -> str:
    """What hangs on a pole pair, without names."""
    signs: dict[tuple[str, str], int] = {}
    runs = network.runs_from(index, socket, pair, signs, 1)
    sections = [replace(section, id="") for section in network.sections_of(tuple([run.node for run in runs]))]
    return repr(sections)


def _joints(index: Index) -> Iterator[tuple[str, str, str]]:
    rig = index.rig
    yield from (("from", board.id, board.source) for board in rig.boards if board.source in index.boards)
    yield from (
        ("from", circuit.id, circuit.board) for circuit in rig.circuits if circuit.board in index.boards
    )
    for rack in rig.racks:
        yield from (("in", amplifier.id, rack.id) for amplifier in rack.amplifiers)
        yield from (("in", socket.id, rack.id) for socket in rack.sockets)
    for amplifier in rig.amplifiers():
        if amplifier.circuit in index.circuits:
            yield "on", amplifier.id, amplifier.circuit
        count = index.amplifier_models[amplifier.model].channels
        for number in range(count):
            name = channel_name(amplifier.id, number)
            yield "of", name, amplifier.id
            if (feed := amplifier.channel(number).feed) in index.feeds:
                yield "plays", name, feed
            joint = amplifier.pair_mode(number) != "dual"
            if joint and number % 2 == 0 and number + 1 < count:
                yield "pair", name, channel_name(amplifier.id, number + 1)
    for socket in rig.sockets():
        for k, text in enumerate(socket.poles):
            yield "at", f"{socket.id}/{k + 1}", socket.id
            if (pole := pole_or_none(text)) and pole.name in index.channels:
                yield f"patched {pole.sign}", f"{socket.id}/{k + 1}", pole.name
    for line in rig.lines:
        yield "from", line.id, line.source
        yield f"to {line.poles}", line.id, line.to
    for cabinet in rig.cabinets:
        yield from (("reaches", cabinet.id, other) for other in cabinet.links_to)
