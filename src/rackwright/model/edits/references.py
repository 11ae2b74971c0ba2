"""What refers to what: listed before a thing is removed, led along when it is renamed, cleared when it is gone."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from rackwright.model.edits.sharing import (
    EditError,
    Item,
    contents,
    each_amplifier,
    each_reading,
    each_socket,
    find,
    kind_of,
    mapped,
    updated,
)
from rackwright.model.index import pole_or_none
from rackwright.model.lines import Cabinet, Line
from rackwright.model.mains import Board, Circuit, Load
from rackwright.model.racks import Amplifier, Channel, Feed, Rack, Socket, channel_name
from rackwright.model.rig import FRONT_OF_HOUSE, Rig
from rackwright.units.wording import some


class Dependent(NamedTuple):
    """A thing that refers to another: its id, and in words how."""

    id: str
    words: str


class InUse(EditError):
    """The removal of a thing that others refer to; `dependents` says which."""

    def __init__(self, name: str, dependents: tuple[Dependent, ...]) -> None:
        self.dependents = dependents
        shown = some([dependent.words for dependent in dependents])
        super().__init__(
            f"{name} is in use: {shown}. Undo that first, or remove {name} with all that depends on it."
        )


def dependents(rig: Rig, name: str) -> tuple[Dependent, ...]:
    """What refers to the thing of that id, and so goes or is unpatched if it is removed with its dependents.

    Raises EditError where there is no such thing.
    """
    return tuple(_dependents(rig, find(rig, name).item))


def _dependents(rig: Rig, item: Item) -> Iterable[Dependent]:
    match item:
        case Circuit():
            for amplifier in rig.amplifiers():
                if amplifier.circuit == item.id:
                    yield Dependent(amplifier.id, f"amplifier {amplifier.id} is plugged into it")
            for load in rig.loads:
                if load.circuit == item.id:
                    yield Dependent(load.id, f"load {load.id} hangs on it")
        case Board():
            fed: tuple[Board | Circuit, ...] = (
                *(board for board in rig.boards if board.source == item.id),
                *(circuit for circuit in rig.circuits if circuit.board == item.id),
            )
            yield from (Dependent(each.id, f"{kind_of(each)} {each.id} is fed from it") for each in fed)
        case Feed():
            for amplifier in rig.amplifiers():
                for i, channel in enumerate(amplifier.channels):
                    if channel.feed == item.id:
                        called = channel_name(amplifier.id, i)
                        yield Dependent(called, f"channel {called} plays it")
        case Amplifier():
            for socket in rig.sockets():
                for i, text in enumerate(socket.poles):
                    if (pole := pole_or_none(text)) and pole.amplifier == item.id:
                        yield Dependent(socket.id, f"{pole.name} drives pole pair {i + 1} of {socket.id}")
        case Socket() | Cabinet():
            for line in rig.lines:
                if item.id in (line.source, line.to):
                    way = "starts at" if line.source == item.id else "leads to"
                    yield Dependent(line.id, f"line {line.id} {way} {item.id}")
        case Rack():
            held = contents(item)
            yield from (Dependent(thing.id, f"{kind_of(thing)} {thing.id} is in it") for thing in held)
            inside = {thing.id for thing in held}
            yield from (d for thing in held for d in _dependents(rig, thing) if d.id not in inside)
        case Line() | Load():
            pass


def without(rig: Rig, item: Item) -> Rig:
    """The rig with every reference to `item` cleared, or its holder removed where it can't be without."""
    if isinstance(item, Rack):
        for thing in contents(item):
            rig = without(rig, thing)
    return repoint(rig, item, None)


def repoint(rig: Rig, item: Item, new: str | None) -> Rig:
    """The rig with every reference to `item` leading to the id `new`, or nowhere where None.

    A line with an end nowhere is removed; what a board fed that goes is fed from where that was.
    """
    old = item.id
    match item:
        case Load():
            return rig
        case Board():
            parent = item.source if new is None else new

            def from_there(board: Board) -> Board:
                return updated(board, source=parent) if board.source == old else board

            def leaving_there(circuit: Circuit) -> Circuit:
                return updated(circuit, board=parent) if circuit.board == old else circuit

            return updated(
                rig, boards=mapped(rig.boards, from_there), circuits=mapped(rig.circuits, leaving_there)
            )
        case Circuit():

            def circuit_of(amplifier: Amplifier) -> Amplifier:
                circuit = (new or "") if amplifier.circuit == old else amplifier.circuit
                return updated(amplifier, circuit=circuit, reaches=_renamed(amplifier.reaches, old, new))

            def plugged_in(load: Load) -> Load:
                return updated(load, circuit=new or "") if load.circuit == old else load

            rig = updated(each_amplifier(rig, circuit_of), loads=mapped(rig.loads, plugged_in))
            return updated(
                rig, racks=mapped(rig.racks, lambda r: updated(r, reaches=_renamed(r.reaches, old, new)))
            )
        case Feed():

            def feed_of(channel: Channel) -> Channel:
                return updated(channel, feed=new or "") if channel.feed == old else channel

            def stands_in(feed: Feed) -> Feed:
                return updated(feed, substitute_for=_renamed(feed.substitute_for, old, new))

            rig = updated(rig, feeds=mapped(rig.feeds, stands_in))
            return each_amplifier(rig, lambda a: updated(a, channels=mapped(a.channels, feed_of)))
        case Amplifier():

            def held_at(feed: Feed) -> Feed:
                return updated(feed, limiter_at=repole(feed.limiter_at, {old: new}))

            rig = updated(rig, feeds=mapped(rig.feeds, held_at))
            return each_socket(rig, lambda s: updated(s, poles=tuple(repole(p, {old: new}) for p in s.poles)))
        case Socket() | Cabinet():

            def ends_of(line: Line) -> Line | None:
                if old not in (line.source, line.to):
                    return line
                ends = {"source": line.source, "to": line.to}
                moved = {end: new for end, at in ends.items() if at == old}
                return None if new is None else updated(line, **moved)

            rig = updated(
                rig,
                lines=mapped(rig.lines, ends_of),
                cabinets=mapped(rig.cabinets, lambda c: updated(c, links_to=_renamed(c.links_to, old, new))),
            )
            left = {line.id for line in rig.lines}
            return each_reading(
                rig,
                lambda r: (
                    updated(
                        r,
                        heard_from=_renamed(r.heard_from, old, new),
                        behind=r.behind if r.behind is None or new is None else _renamed(r.behind, old, new),
                    )
                    if r.line in left
                    else None
                ),
            )
        case Line():
            return each_reading(
                rig, lambda r: r if r.line != old else None if new is None else updated(r, line=new)
            )
        case Rack():
            there = rig.targets.crew_at == old
            return updated(rig, targets=updated(rig.targets, crew_at=new or FRONT_OF_HOUSE)) if there else rig


def _renamed(names: tuple[str, ...], old: str, new: str | None) -> tuple[str, ...]:
    """The names with `old` called `new`, or left out where that is None."""
    return mapped(names, lambda name: new if name == old else name)


def repole(text: str, names: Mapping[str, str | None]) -> str:
    """A socket's pole entry with its amplifier renamed as `names` says; empty where that is None."""
    pole = pole_or_none(text)
    if pole is None or pole.amplifier not in names:
        return text
    new = names[pole.amplifier]
    return pole._replace(amplifier=new).text if new else ""
