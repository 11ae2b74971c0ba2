"""Looking things of a rig up by id, in one pass and then by dictionaries, and what of it refers to equipment.

Holds look-ups only. An index belongs to one rig value and is made anew for the next.
"""

from collections import defaultdict
from collections.abc import Iterator
from functools import cached_property
from typing import Any

from msgspec import Struct

from rackwright.model.equipment import AmplifierModel, CableModel, ConnectorModel, LoudspeakerModel
from rackwright.model.fields import referring
from rackwright.model.lines import Cabinet, Line, Spare, Stock
from rackwright.model.mains import PHASES, Board, Circuit, Load, Phase, phases_of
from rackwright.model.places import ChannelPlace, LinePair, Place, PolePair, SectionPlace, Thing
from rackwright.model.racks import Amplifier, Feed, Pole, Rack, Socket, read_pole
from rackwright.model.rig import Rig


class Index:
    """Every id of `rig` → the thing it names. Dangling references simply have no entry."""

    def __init__(self, rig: Rig, earlier: "Index | None" = None) -> None:
        """`earlier`, the index of another rig, is taken over in what the two rigs share."""
        self.rig = rig
        before = earlier.rig if earlier else None
        self.amplifier_models: dict[str, AmplifierModel]
        self.loudspeaker_models: dict[str, LoudspeakerModel]
        self.cable_models: dict[str, CableModel]
        self.connector_models: dict[str, ConnectorModel]
        self.boards: dict[str, Board]
        self.circuits: dict[str, Circuit]
        self.loads: dict[str, Load]
        self.feeds: dict[str, Feed]
        self.racks: dict[str, Rack]
        self.cabinets: dict[str, Cabinet]
        self.lines: dict[str, Line]
        self.amplifiers: dict[str, Amplifier]
        self.rack_of: dict[str, Rack]
        """Amplifier or socket id → its rack."""
        self.sockets: dict[str, Socket]
        self.taps: dict[tuple[str, int], list[tuple[Socket, int, int]]]
        """(amplifier id, channel index) → the (socket, pole pair from 0, sign) it is patched to."""
        self.lines_from: dict[str, list[Line]]
        """Socket or cabinet id → the lines whose near end is there."""
        self.line_to: dict[str, Line]
        """Cabinet id → the line that feeds it."""
        self.channels: dict[str, ChannelPlace]
        """As written → the place, in the order of the rig."""
        if earlier is not None:
            self.__dict__.update(earlier.__dict__, rig=rig)
        if before is None or before.equipment is not rig.equipment:
            self._index_equipment()
        alike = before is not None and (
            before.racks is rig.racks or _shapes(before.racks) == _shapes(rig.racks)
        )
        if before is None or before.racks is not rig.racks:
            self._index_racks(before.racks if before and alike else ())
        if before is None or before.lines is not rig.lines:
            self._index_lines()
        self.boards = {b.id: b for b in rig.boards}
        self.circuits = {c.id: c for c in rig.circuits}
        same_boards = before is not None and before.boards is rig.boards
        if not same_boards:
            self.__dict__.pop("_ways", None)
        if not (same_boards and before and before.circuits is rig.circuits):
            self.__dict__.pop("used_phases", None)
        self.loads = {load.id: load for load in rig.loads}
        self.feeds = {f.id: f for f in rig.feeds}
        if before is None or before.cabinets is not rig.cabinets:
            self.cabinets = {c.id: c for c in rig.cabinets}
        new_equipment = before is None or before.equipment is not rig.equipment
        if before is None or new_equipment or not alike:
            self._place_channels()
            self.__dict__.pop("pole_pairs", None)
        if before is None or new_equipment or before.lines is not rig.lines:
            self.__dict__.pop("line_pairs", None)
        if before is None or not alike or before.lines is not rig.lines:
            self.__dict__.pop("_root_lines", None)
        same_cabinets = before is not None and before.cabinets is rig.cabinets
        if new_equipment or not (same_cabinets or (before and _models(before) == _models(rig))):
            self.__dict__.pop("sections", None)

    def _index_equipment(self) -> None:
        equipment = self.rig.equipment
        self.amplifier_models = {e.id: e for e in equipment.amplifiers}
        self.loudspeaker_models = {e.id: e for e in equipment.loudspeakers}
        self.cable_models = {e.id: e for e in equipment.cables}
        self.connector_models = {e.id: e for e in equipment.connectors}

    def _index_racks(self, before: tuple[Rack, ...]) -> None:
        """Where racks are in shape as they were `before`, only what changed is looked at."""
        self.racks = {r.id: r for r in self.rig.racks}
        changed = [pair for pair in zip(self.rig.racks, before, strict=False) if pair[0] is not pair[1]]
        if before and all(rack.sockets is was.sockets for rack, was in changed):
            self.amplifiers = self.amplifiers | {a.id: a for rack, _ in changed for a in rack.amplifiers}
            for rack, _ in changed:
                self.rack_of = self.rack_of | {each.id: rack for each in rack.amplifiers}
                self.rack_of |= {each.id: rack for each in rack.sockets}
            return
        self.amplifiers, self.sockets, self.rack_of = {}, {}, {}
        self.taps = defaultdict(list)
        for rack in self.rig.racks:
            for amplifier in rack.amplifiers:
                self.amplifiers[amplifier.id] = amplifier
                self.rack_of[amplifier.id] = rack
            for socket in rack.sockets:
                self.sockets[socket.id] = socket
                self.rack_of[socket.id] = rack
                for pair, text in enumerate(socket.poles):
                    if pole := pole_or_none(text):
                        self.taps[pole.amplifier, pole.channel].append((socket, pair, pole.sign))

    def _index_lines(self) -> None:
        self.lines = {line.id: line for line in self.rig.lines}
        self.line_to = {line.to: line for line in self.rig.lines}
        self.lines_from = defaultdict(list)
        for line in self.rig.lines:
            self.lines_from[line.source].append(line)

    def _place_channels(self) -> None:
        self.channels = {}
        for amplifier in self.amplifiers.values():
            self.channels |= self.channels_of(amplifier)

    @cached_property
    def pole_pairs(self) -> dict[str, PolePair]:
        """The pole pairs of sockets as written → their places; made when first asked for."""
        models = ((socket, self.connector_models.get(socket.connector)) for socket in self.sockets.values())
        counts = {s.id: max(model.pole_pairs if model else 0, len(s.poles)) for s, model in models}
        pairs = (PolePair(socket, pair) for socket, count in counts.items() for pair in range(count))
        return {str(pair): pair for pair in pairs}

    @cached_property
    def sections(self) -> dict[str, SectionPlace]:
        """As written → the place; made when first asked for."""
        models = ((c.id, self.loudspeaker_models.get(c.model)) for c in self.cabinets.values())
        places = [SectionPlace(name, s.id) for name, model in models if model for s in model.sections]
        return {str(place): place for place in places}

    def channels_of(self, amplifier: Amplifier) -> dict[str, ChannelPlace]:
        """The channels of an amplifier as written → their places."""
        model = self.amplifier_models.get(amplifier.model)
        count = max(model.channels if model else 0, len(amplifier.channels))
        places = [ChannelPlace(amplifier.id, number) for number in range(count)]
        return {str(place): place for place in places}

    def channels_at(self, socket: str) -> tuple[str, ...]:
        """The channels that the pole pairs of a socket are patched to, each once; none where there is no such socket."""
        poles = map(pole_or_none, self.sockets[socket].poles) if socket in self.sockets else ()
        return tuple(dict.fromkeys(pole.name for pole in poles if pole))

    def place(self, name: str) -> Place | None:
        """The place that is written so; None where the rig has none."""
        found = self.channels.get(name) or self.sections.get(name) or self.pole_pairs.get(name)
        if found:
            return found
        things = (
            ("amplifier", self.amplifiers), ("socket", self.sockets), ("line", self.lines), ("rack", self.racks),
            ("cabinet", self.cabinets), ("circuit", self.circuits), ("feed", self.feeds), ("board", self.boards),
            ("load", self.loads),
        )  # fmt: skip
        thing = next((Thing(kind, name) for kind, table in things if name in table), None)
        return thing or self.line_pairs.get(name) or self._phase(name)

    def _phase(self, name: str) -> Thing | None:
        """Of the supply, where something hangs on it or it is dead."""
        used = {*self.rig.supply.failed_phases}
        used.update(phase for circuit in self.circuits.values() for phase in phases_of(circuit.phase))
        return Thing("phase", name) if name in used else None

    def boards_above(self, thing: Circuit | Board) -> tuple[Board, ...]:
        """The boards by which a circuit or a board is fed, the nearest first. A dangling reference, or a circle, ends them."""
        return self._ways.get(thing.board if isinstance(thing, Circuit) else thing.source, ())

    @cached_property
    def _ways(self) -> dict[str, tuple[Board, ...]]:
        """Each board's id → it and those that it is fed by."""
        ways: dict[str, tuple[Board, ...]] = {}
        for name in self.boards:
            found: dict[str, Board] = {}
            while name in self.boards and name not in found:
                found[name] = self.boards[name]
                name = found[name].source
            ways[next(iter(found))] = tuple(found.values())
        return ways

    def phases_at(self, thing: Circuit | Board) -> tuple[Phase, ...]:
        """The phases of a circuit, or those that a board has: all of what feeds it where it states none."""
        if thing.phase:
            return phases_of(thing.phase)
        above = next((board for board in self.boards_above(thing) if board.phase), None)
        return phases_of(above.phase) if above and above.phase else self.supply_phases

    @property
    def supply_phases(self) -> tuple[Phase, ...]:
        """Those that the supply has: as stated, else three as soon as circuits, or boards, stand on more than one."""
        if count := self.rig.supply.phases:
            return PHASES[:count] if count > 1 else (*self.used_phases, "L1")[:1]
        return PHASES if len(self.used_phases) > 1 else (*self.used_phases, "L1")[:1]

    @cached_property
    def used_phases(self) -> dict[Phase, None]:
        """The phases that circuits and boards name."""
        things: tuple[Circuit | Board, ...] = (*self.circuits.values(), *self.boards.values())
        named = (each.phase for each in things)
        return dict.fromkeys(phase for phases in named if phases for phase in phases_of(phases))

    @cached_property
    def line_pairs(self) -> dict[str, LinePair]:
        """The pole pairs of lines as written → their places; made when first asked for."""
        counts = {line.id: self._pairs_of(line) for line in self.lines.values()}
        pairs = (LinePair(line, pair) for line, count in counts.items() for pair in range(count))
        return {str(pair): pair for pair in pairs}

    def _pairs_of(self, line: Line) -> int:
        cable = self.cable_models.get(line.cable)
        return max(
            [
                pairs_carried(cable, line.cores_per_pole) if cable and line.cores_per_pole > 0 else 0,
                *line.failed_pairs,
            ]
        )

    def thing_at(self, name: str) -> str:
        """The id of the thing that a place as written is on: of `A1.2` it is `A1`; empty where there is none."""
        place = self.place(name)
        return place.thing if place else ""

    def linked_on(self, cabinet: str) -> tuple[str, ...]:
        """The cabinets that are plugged in behind one, by its link and further on."""
        lines = [line for line in self.lines_from.get(cabinet, ()) if not self.cabinets[line.to].muted]
        return tuple(name for line in lines for name in (line.to, *self.linked_on(line.to)))

    def root(self, place: str) -> str | None:
        """The socket from which a line or cabinet is fed, None where no socket feeds it."""
        line = self.root_line(place)
        return line.source if line else None

    def root_line(self, place: str) -> Line | None:
        """The line from a socket by which a line or cabinet is fed in the end, None where no socket feeds it."""
        return self._root_lines.get(place)

    @cached_property
    def _root_lines(self) -> dict[str, Line]:
        """Line or cabinet id → the line from a socket by which it is fed, of those that a socket feeds; made when first asked for."""
        found = {}
        for place, line in (*self.line_to.items(), *self.lines.items()):
            way: Line | None = line
            for _ in self.lines:
                if way is None or way.source in self.sockets:
                    break
                way = self.line_to.get(way.source)
            if way and way.source in self.sockets:
                found[place] = way
        return found

    def near_connector(self, line: Line) -> ConnectorModel:
        """The connector at the near end of a line. Raises KeyError where a reference dangles."""
        if socket := self.sockets.get(line.source):
            return self.connector_models[socket.connector]
        return self.cabinet_connector(line.source)

    def cabinet_connector(self, cabinet_id: str) -> ConnectorModel:
        """The connector of a cabinet's input and link. Raises KeyError where a reference dangles."""
        return self.connector_models[self.loudspeaker_models[self.cabinets[cabinet_id].model].connector]

    def pole_map(self, line: Line) -> tuple[int, ...]:
        """For each pole pair that arrives at the far end, the near pair it comes from (both from 0).

        As many as cable, near and far connector all carry, unless the line states its own map. Raises KeyError
        where a reference dangles.
        """
        if line.poles:
            return tuple(pair - 1 for pair in line.poles)
        cable = self.cable_models[line.cable]
        near, far = self.near_connector(line), self.cabinet_connector(line.to)
        return tuple(range(min(pairs_carried(cable, line.cores_per_pole), near.pole_pairs, far.pole_pairs)))


def _models(rig: Rig) -> list[tuple[str, str]]:
    return [(cabinet.id, cabinet.model) for cabinet in rig.cabinets]


def _shapes(racks: tuple[Rack, ...]) -> list[Any]:
    """What racks hold, as far as places follow from it."""
    return [
        (
            rack.id,
            [(a.id, a.model, len(a.channels)) for a in rack.amplifiers],
            [(s.id, s.connector, len(s.poles)) for s in rack.sockets],
        )
        for rack in racks
    ]


def pairs_carried(cable: CableModel, cores_per_pole: int) -> int:
    """Pole pairs that a cable carries with so many cores in parallel for each pole."""
    return cable.cores // (2 * cores_per_pole)


def pole_or_none(text: str) -> Pole | None:
    """A socket's pole entry; None where it is not wired or not readable."""
    try:
        return read_pole(text)
    except ValueError:
        return None


def wired_sections(cabinet: Cabinet, model: LoudspeakerModel) -> tuple[tuple[str, ...], ...]:
    """For each pole pair of a cabinet's input, the ids of the sections it drives."""
    if not cabinet.wiring:
        return next(iter(model.wirings.values()), ())
    return model.wirings.get(cabinet.wiring, ())


def equipment_uses(rig: Rig) -> Iterator[tuple[str, str, str]]:
    """Every reference to an equipment entry: the entry's kind and id, and what refers to it."""
    held: tuple[Struct, ...] = (*rig.amplifiers(), *rig.sockets(), *rig.lines, *rig.cabinets)
    for thing in (*held, *rig.spares, *rig.stock, *rig.equipment.loudspeakers):
        for field in referring(type(thing)):
            if name := getattr(thing, field.name):
                yield field.of, name, _called(thing)


def _called(thing: Any) -> str:
    """Its id, and of what has none on the crew's tape what it is."""
    what: dict[Any, str] = {Spare: "spare ", Stock: "stock ", LoudspeakerModel: "loudspeaker "}
    return f"{what.get(type(thing), '')}{thing.id}"
