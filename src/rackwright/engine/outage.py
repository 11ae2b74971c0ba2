"""What keeps a channel or a section silent: the first thing on the way of power and signal that is marked failed.

The one place that reads the states of a rig's things. Knows no patch without a failure, and no physics.
"""

from collections.abc import Iterator
from typing import NamedTuple

from rackwright.model.index import Index, wired_sections
from rackwright.model.lines import Cabinet, Fault, Line
from rackwright.model.mains import Board, Circuit, Load
from rackwright.model.racks import Amplifier, Feed, Socket, channel_name
from rackwright.model.rig import Rig

INPUT = "input failed"


class Outage(NamedTuple):
    """What has failed."""

    at: str
    """The place."""
    what: str = "failed"
    """Or `input failed`, or a section's fault."""

    def __str__(self) -> str:
        return f"{self.at} {self.what}"


def marked(rig: Rig) -> Iterator[Outage]:
    """Everything that is marked failed, in the order of the rig file.

    Asked several times a key: of what works it looks at the state and no more.
    """
    yield from (Outage(phase) for phase in rig.supply.failed_phases)
    things: tuple[Board | Circuit | Load | Feed, ...] = (*rig.boards, *rig.circuits, *rig.loads, *rig.feeds)
    for thing in things:
        if thing.state == "failed":
            yield Outage(thing.id)
    for rack in rig.racks:
        if rack.state == "failed":
            yield Outage(rack.id)
        for amplifier in rack.amplifiers:
            if amplifier.state == "failed":
                yield Outage(amplifier.id)
            for number, channel in enumerate(amplifier.channels):
                if channel.state == "failed":
                    yield Outage(channel_name(amplifier.id, number))
                if channel.input_state == "failed":
                    yield Outage(channel_name(amplifier.id, number), INPUT)
    carriers: tuple[Socket | Line, ...] = (*rig.sockets(), *rig.lines)
    for carrier in carriers:
        if carrier.state == "failed":
            yield Outage(carrier.id)
        for pair in carrier.failed_pairs:
            yield Outage(f"{carrier.id}/{pair}")
    for cabinet in rig.cabinets:
        if cabinet.state == "failed":
            yield Outage(cabinet.id)
        for section, fault in cabinet.faults.items():
            yield Outage(f"{cabinet.id}.{section}", fault)


def of_circuit(index: Index, thing: Circuit | Board) -> Outage | None:
    """Why a circuit or a board is dead. On several phases a circuit is with one of them, a board with all of its."""
    boards = index.boards_above(thing) if index.boards else ()
    failed = next((each.id for each in (thing, *boards) if each.state == "failed"), None)
    if failed or not index.rig.supply.failed_phases:
        return Outage(failed) if failed else None
    phases = index.phases_at(thing)
    dead = [phase for phase in phases if phase in index.rig.supply.failed_phases]
    alive = isinstance(thing, Board) and len(dead) < len(phases)
    return Outage(dead[0]) if dead and not alive else None


def of_power(index: Index, amplifier: Amplifier) -> Outage | None:
    """What leaves an amplifier without power."""
    circuit = index.circuits.get(amplifier.circuit)
    return of_circuit(index, circuit) if circuit else None


def of_amplifier(index: Index, amplifier: Amplifier) -> Outage | None:
    """Why nothing comes out of an amplifier that has power."""
    for thing in (index.rack_of[amplifier.id], amplifier):
        if thing.state == "failed":
            return Outage(thing.id)
    return None


def at(index: Index, place: str) -> Outage | None:
    """Why a feed, a board, a circuit, a load, a rack or an amplifier is dead, whatever hangs on it."""
    if node := index.circuits.get(place) or index.boards.get(place):
        return of_circuit(index, node)
    if load := index.loads.get(place):
        circuit = index.circuits.get(load.circuit)
        return Outage(load.id) if load.state == "failed" else of_circuit(index, circuit) if circuit else None
    if amplifier := index.amplifiers.get(place):
        return of_power(index, amplifier) or of_amplifier(index, amplifier)
    thing = index.feeds.get(place) or index.racks.get(place)
    return Outage(place) if thing and thing.state == "failed" else None


def of_output(amplifier: Amplifier, channel: int) -> Outage | None:
    """Why nothing comes out of a channel (index from 0) of an amplifier that works; of a bridge both halves must work."""
    if amplifier.pair_mode(channel) != "bridged":
        failed = amplifier.channel(channel).state == "failed"
        return Outage(channel_name(amplifier.id, channel)) if failed else None
    first = channel - channel % 2
    failed = "failed" in (amplifier.channel(first).state, amplifier.channel(first + 1).state)
    return Outage(channel_name(amplifier.id, first)) if failed else None


def of_signal(index: Index, amplifier: Amplifier, channel: int) -> Outage | None:
    """Why no signal gets to a channel (index from 0) that has a feed."""
    entry = amplifier.input_of(channel)
    played = amplifier.channel(entry)
    if played.input_state == "failed":
        return Outage(channel_name(amplifier.id, entry), INPUT)
    feed = index.feeds.get(played.feed)
    return Outage(feed.id) if feed is not None and feed.state == "failed" else None


def passes(thing: Line | Socket, pair: int) -> bool:
    """Whether a pole pair (from 0, of a line at its near end) of a line or a socket goes through."""
    return thing.state == "ok" and pair + 1 not in thing.failed_pairs


def fault(cabinet: Cabinet, section: str) -> Fault | None:
    """What is wrong with a section; in a cabinet that has failed as a whole each is open."""
    return "open" if cabinet.state == "failed" else cabinet.faults.get(section)


def of_section(index: Index, cabinet_id: str, section: str) -> Outage | None:
    """What between a section's coil and the channel has failed."""
    cabinet = index.cabinets[cabinet_id]
    if cabinet.state == "failed":
        return Outage(cabinet.id)
    if cabinet.faults.get(section) == "open":
        return Outage(f"{cabinet.id}.{section}", "open")
    model = index.loudspeaker_models[cabinet.model]
    pairs = [pair for pair, names in enumerate(wired_sections(cabinet, model)) if section in names]
    return next(_on_the_way(index, cabinet_id, pairs), None)


def _on_the_way(index: Index, cabinet: str, pairs: list[int]) -> Iterator[Outage]:
    for _ in range(len(index.lines) + 1):
        if index.cabinets[cabinet].muted:
            yield Outage(cabinet, "unplugged")
        line = index.line_to.get(cabinet)
        if line is None:
            return
        to_near = index.pole_map(line)
        pairs = [to_near[pair] for pair in pairs if pair < len(to_near)]
        yield from _broken(line, pairs)
        if socket := index.sockets.get(line.source):
            yield from _broken(socket, pairs)
            return
        cabinet = line.source


def _broken(thing: Line | Socket, pairs: list[int]) -> Iterator[Outage]:
    if thing.state == "failed":
        yield Outage(thing.id)
    elif pairs and not any(passes(thing, pair) for pair in pairs):
        yield Outage(f"{thing.id}/{pairs[0] + 1}")
