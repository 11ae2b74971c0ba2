"""Looking things of a rig up by id: one pass over the rig, then dictionaries.

Holds look-ups only. An index belongs to one rig value and is made anew for the next.
"""

from collections import defaultdict

from rackwright.model.equipment import AmplifierModel, CableModel, ConnectorModel, LoudspeakerModel
from rackwright.model.rig import Amplifier, Cabinet, Circuit, Feed, Line, Pole, Rack, Rig, Socket, read_pole


class Index:
    """Every id of `rig` → the thing it names. Dangling references simply have no entry."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        equipment = rig.equipment
        self.amplifier_models: dict[str, AmplifierModel] = {e.id: e for e in equipment.amplifiers}
        self.loudspeaker_models: dict[str, LoudspeakerModel] = {e.id: e for e in equipment.loudspeakers}
        self.cable_models: dict[str, CableModel] = {e.id: e for e in equipment.cables}
        self.connector_models: dict[str, ConnectorModel] = {e.id: e for e in equipment.connectors}
        self.circuits: dict[str, Circuit] = {c.id: c for c in rig.circuits}
        self.feeds: dict[str, Feed] = {f.id: f for f in rig.feeds}
        self.racks: dict[str, Rack] = {r.id: r for r in rig.racks}
        self.cabinets: dict[str, Cabinet] = {c.id: c for c in rig.cabinets}
        self.lines: dict[str, Line] = {line.id: line for line in rig.lines}
        self.amplifiers: dict[str, Amplifier] = {}
        self.rack_of: dict[str, Rack] = {}
        """Amplifier or socket id → its rack."""
        self.sockets: dict[str, Socket] = {}
        self.taps: dict[tuple[str, int], list[tuple[Socket, int, int]]] = defaultdict(list)
        """(amplifier id, channel index) → the (socket, pole pair from 0, sign) it is patched to."""
        for rack in rig.racks:
            for amplifier in rack.amplifiers:
                self.amplifiers[amplifier.id] = amplifier
                self.rack_of[amplifier.id] = rack
            for socket in rack.sockets:
                self.sockets[socket.id] = socket
                self.rack_of[socket.id] = rack
                for pair, text in enumerate(socket.poles):
                    if pole := pole_or_none(text):
                        self.taps[pole.amplifier, pole.channel].append((socket, pair, pole.sign))
        self.lines_from: dict[str, list[Line]] = defaultdict(list)
        """Socket or cabinet id → the lines whose near end is there."""
        self.line_to: dict[str, Line] = {}
        """Cabinet id → the line that feeds it."""
        for line in rig.lines:
            self.lines_from[line.source].append(line)
            self.line_to[line.to] = line

    def root(self, place: str) -> str | None:
        """The socket from which a line or cabinet is fed, None where no socket feeds it."""
        line = self.lines.get(place) or self.line_to.get(place)
        for _ in range(len(self.lines) + 1):
            if line is None:
                return None
            if line.source in self.sockets:
                return line.source
            line = self.line_to.get(line.source)
        return None

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
