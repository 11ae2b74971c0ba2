"""Copies of things, and the ids, rack units, circuits, sockets and channels that are free for them."""

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Sequence
from itertools import takewhile
from typing import Any, cast

from msgspec.structs import replace

from rackwright.model.edits.check import checked
from rackwright.model.edits.references import repole
from rackwright.model.edits.sharing import (
    EditError,
    Item,
    S,
    contents,
    find,
    find_kind,
    mapped,
    splice,
    things,
    updated,
)
from rackwright.model.equipment import ConnectorModel
from rackwright.model.index import pole_or_none
from rackwright.model.lines import Cabinet, Line
from rackwright.model.racks import Amplifier, Rack, Socket, channel_name
from rackwright.model.rig import Rig


def next_id(rig: Rig, like: str) -> str:
    """The next id that is free in the pattern of `like`: after `SUB-L1` comes `SUB-L2`, after `C09` `C10`.

    A name with no number at its end takes 2.
    """
    return next_of({item.id for item in things(rig)}, like)


def next_of(taken: Collection[str], like: str) -> str:
    """The next id in the pattern of `like` that is not taken, as of `next_id`, and that no `S2/1` reads as a pole pair of."""
    stem = like.rstrip("0123456789")
    digits = like[len(stem) :]
    number = int(digits) + 1 if digits else 2
    while (name := f"{stem}{number:0{len(digits)}d}") in taken or any(
        other.startswith(f"{name}/") for other in taken
    ):
        number += 1
    return name


def next_free_unit(rig: Rig, rack: str, height: int) -> int | None:
    """The lowest rack unit above which `height` units are free; None where the rack has no such room.

    Raises EditError where there is no such rack.
    """
    return _free_unit(rig, find_kind(rig, rack, Rack)[1], height)


def _free_unit(rig: Rig, rack: Rack, height: int) -> int | None:
    heights = {model.id: model.height for model in rig.equipment.amplifiers}
    taken = {
        unit
        for amplifier in rack.amplifiers
        for unit in range(amplifier.unit, amplifier.unit + heights.get(amplifier.model, 1))
    }
    starts = range(1, rack.height - height + 2)
    return next((s for s in starts if taken.isdisjoint(range(s, s + height))), None)


@checked
def duplicate(rig: Rig, name: str) -> Rig:
    """The rig with a copy of the thing of that id, called `next_id(rig, name)` and standing after it.

    A rack: with copies of its amplifiers and sockets, patched among themselves as the originals are; no lines.
    An amplifier: in the lowest free units of its rack, on the circuit of `next_circuit`, unpatched. A socket that is wired: driven by
    the next free channels, as of `poles_for_new`. A cabinet: with a
    copy of its incoming line, from the next socket of its kind that is free, else from the same source. A line: to the
    next cabinet of the same model that nothing feeds. Copies work, whatever has failed on the original. Raises EditError
    where there is no room or no such cabinet.
    """
    place = find(rig, name)
    match place.item:
        case Rack() as rack:
            copy: Item = _copy_of_rack(rig, rack)
        case Amplifier() as amplifier:
            copy = _copy_of_amplifier(rig, rig.racks[cast(int, place.rack)], amplifier)
        case Line() as line:
            copy = working(replace(line, id=next_id(rig, name), to=_next_unfed(rig, line)))
        case Socket() as socket:
            poles = socket.poles
            if any(poles):
                poles = poles_for_new(rig, rig.racks[cast(int, place.rack)], socket, socket.connector)
            copy = working(replace(socket, id=next_id(rig, name), poles=poles))
        case item:
            copy = working(replace(item, id=next_id(rig, name)))
    copied = splice(rig, place, place.item, copy)
    return _with_copied_line(copied, name, copy.id) if isinstance(copy, Cabinet) else copied


def _with_copied_line(rig: Rig, original: str, copy: str) -> Rig:
    """The rig with the line to `original`, if any, copied to lead to `copy`."""
    line = next((line for line in rig.lines if line.to == original), None)
    if line is None:
        return rig
    source = next_free_source(rig, line.source)
    copied = working(replace(line, id=next_id(rig, line.id), source=source, to=copy))
    return splice(rig, find(rig, line.id), line, copied)


def next_free_source(
    rig: Rig, source: str, other: Callable[[str], str] = str, beside: Iterable[str] = ()
) -> str:
    """The next free socket as of `next_free_sockets` that plays the same feeds, or the `other` of each; else one that plays none.

    Itself where there is neither: on a socket of other feeds a driver would play what is not its own. Of those `beside`
    the first socket that plays such feeds stands in for `source`.
    """
    sockets = {socket.id: socket for socket in rig.sockets()}
    amplifiers = {each.id: each for each in rig.amplifiers()}

    def plays(name: str) -> dict[int, str]:
        poles = enumerate(map(pole_or_none, sockets[name].poles))
        return {
            pair: feed
            for pair, pole in poles
            if pole
            and pole.amplifier in amplifiers
            and (feed := amplifiers[pole.amplifier].feed_of(pole.channel))
        }

    if source not in sockets:
        return source
    wanted = {pair: other(feed) for pair, feed in plays(source).items()}
    source = next((name for name in beside if name in sockets and plays(name) == wanted), source)
    free = next_free_sockets(rig, source, len(sockets) + 1)[1:]
    alike = (name for name in free if plays(name) == wanted)
    return next(alike, next((name for name in free if not plays(name)), source))


def _next_unfed(rig: Rig, line: Line) -> str:
    """The cabinet, after the one `line` leads to, that is of the same model and that nothing feeds.

    The cabinet at the head of `line`'s own chain would make a loop and is passed over.
    """
    feeding = {other.to: other.source for other in rig.lines}
    head = line.source
    for _ in rig.lines:
        head = feeding.get(head, head)
    place, cabinet = find_kind(rig, line.to, Cabinet)
    others = (*rig.cabinets[place.position + 1 :], *rig.cabinets[: place.position])
    for other in others:
        if other.model == cabinet.model and other.id not in feeding and other.id != head:
            return other.id
    raise EditError(
        f"No other {cabinet.model} waits for a line like {line.id}. "
        f"Add a cabinet first, or duplicate {line.to}: its line comes with it."
    )


def duplicate_times(rig: Rig, name: str, times: int) -> tuple[Rig, tuple[str, ...]]:
    """The rig with so many copies of a thing, each of the one before, and their ids. Raises EditError as `duplicate` does."""
    names: list[str] = []
    for _ in range(times):
        name, rig = next_id(rig, name), duplicate(rig, name)
        names.append(name)
    return rig, tuple(names)


def duplicate_all(rig: Rig, names: Sequence[str]) -> tuple[Rig, tuple[str, ...]]:
    """The rig with a copy of each of those things, and the ids of the copies. Raises EditError as `duplicate` does."""
    copies: list[str] = []
    for name in names:
        copies.append(next_id(rig, name))
        rig = duplicate(rig, name)
    return rig, tuple(copies)


def next_circuit(rig: Rig, rack: Rack, amplifier: Amplifier) -> str:
    """The circuit for one more like an amplifier: of its board and phases and in reach that with the fewest things on it.

    Its own where no other has fewer, else the first after that.
    """
    names = [circuit.id for circuit in rig.circuits]
    if amplifier.circuit not in names:
        return amplifier.circuit
    at = names.index(amplifier.circuit)
    own, within = rig.circuits[at], amplifier.reaches or rack.reaches
    taken = Counter([a.circuit for a in rig.amplifiers()]) + Counter([load.circuit for load in rig.loads])
    alike = [
        circuit.id
        for circuit in (*rig.circuits[at + 1 :], *rig.circuits[:at])
        if circuit.board == own.board
        and len(circuit.phase) == len(own.phase)
        and circuit.state == "ok"
        and (not within or circuit.id in within)
    ]
    return min((own.id, *alike), key=lambda name: taken[name])


def free_channels(rig: Rig) -> tuple[tuple[str, str], ...]:
    """Each channel that plays a feed and that no pole pair is patched to, with its feed, in the order of the racks."""
    patched = {pole.name for socket in rig.sockets() for text in socket.poles if (pole := pole_or_none(text))}
    counts = {model.id: model.channels for model in rig.equipment.amplifiers}
    return tuple(
        (name, feed)
        for amplifier in rig.amplifiers()
        for channel in range(counts.get(amplifier.model, 0))
        if (name := channel_name(amplifier.id, channel)) not in patched
        and (feed := amplifier.feed_of(channel))
        and not (channel % 2 and amplifier.pair_mode(channel) == "bridged")
    )


def poles_for_new(
    rig: Rig, rack: Rack, like: Socket | None, connector: str | ConnectorModel
) -> tuple[str, ...]:
    """For each pole pair of a new socket of a rack a channel that is patched to nothing, empty where none is left.

    Of the feeds of `like`, where there are such for all; else the rack's next and what goes with it: of a feed that
    takes over within a cabinet where its band ends, else of its amplifier or feed.
    """
    own = {each.id for each in rack.amplifiers}
    free = [each for each in free_channels(rig) if not own or each[0].rpartition(".")[0] in own]
    if like is not None and any(like.poles) and (poles := next_free_poles(rig, like, free)):
        return poles
    if isinstance(connector, str):
        connector = next(each for each in rig.equipment.connectors if each.id == connector)
    bands = {feed.id: (feed.band[0].value, feed.band[1].value) for feed in rig.feeds}
    chosen: list[tuple[str, str]] = []
    while free and len(chosen) < connector.pole_pairs:
        if chosen:
            amplifier, feed = chosen[0][0].rpartition(".")[0], chosen[0][1]
            last = chosen[-1][1]
            above = (each for each in free if _takes_over(bands[last], bands[each[1]]))
            beside = (each for each in free if each[0].rpartition(".")[0] == amplifier or each[1] == feed)
            pick = max(above, key=lambda each: _begins_alike(each[1], last), default=None)
            pick = pick or next(beside, None)
        else:
            pick = free[0]
        if pick is None:
            break
        free.remove(pick)
        chosen.append(pick)
    return (*(name for name, _ in chosen), *[""] * (connector.pole_pairs - len(chosen)))


def _begins_alike(one: str, other: str) -> int:
    """With how many of the same signs two names begin: `mix1-low` goes with `mix1-high`."""
    return sum(1 for _ in takewhile(lambda both: both[0] == both[1], zip(one, other, strict=False)))


def _takes_over(below: tuple[float, float], band: tuple[float, float]) -> bool:
    """Whether a band (Hz) starts where another ends, in a cabinet: not as low as from a sub to a top (common practice, no source)."""
    return band[0] >= 250 and 0.7 < band[0] / below[1] < 1.4


def next_free_poles(
    rig: Rig, like: Socket, among: Sequence[tuple[str, str]] | None = None
) -> tuple[str, ...]:
    """For each pole pair of a socket the next channel of the same feed that is patched to nothing; nothing where any has none."""
    free = list(free_channels(rig) if among is None else among)
    amplifiers = {each.id: each for each in rig.amplifiers()}
    found: list[str] = []
    for text in like.poles:
        pole = pole_or_none(text)
        if pole is None or pole.amplifier not in amplifiers:
            found.append("")
            continue
        feed = amplifiers[pole.amplifier].feed_of(pole.channel)
        name = next((name for name, plays in free if plays == feed), None)
        if name is None:
            return ()
        free.remove((name, feed))
        found.append(("-" if pole.sign < 0 else "") + name)
    return tuple(found)


def next_free_sockets(rig: Rig, first: str, count: int) -> Sequence[str]:
    """`first`, and after it on its rack the sockets of its connector that no line leaves, `count` in all or as many as there are."""
    taken = {line.source for line in rig.lines}
    for rack in rig.racks:
        names = [socket.id for socket in rack.sockets]
        if first in names:
            at = names.index(first)
            kind = rack.sockets[at].connector
            after = (s for s in (*rack.sockets[at + 1 :], *rack.sockets[:at]) if s.connector == kind)
            return [first, *(socket.id for socket in after if socket.id not in taken)][:count]
    return [first][:count]


def unit_for_copy(rig: Rig, rack: Rack, amplifier: Amplifier) -> int:
    """The lowest units of a rack that are free for a copy of an amplifier. Raises EditError where there is no room."""
    height = next((m.height for m in rig.equipment.amplifiers if m.id == amplifier.model), 1)
    unit = _free_unit(rig, rack, height)
    if unit is None:
        raise EditError(
            f"{rack.id} has no {'free unit' if height == 1 else f'{height} free units together'} for a copy of {amplifier.id}. "
            "Move an amplifier, or make the rack higher."
        )
    return unit


def _copy_of_amplifier(rig: Rig, rack: Rack, amplifier: Amplifier) -> Amplifier:
    unit = unit_for_copy(rig, rack, amplifier)
    circuit = next_circuit(rig, rack, amplifier)
    return working(replace(amplifier, id=next_id(rig, amplifier.id), unit=unit, circuit=circuit))


_AS_NEW: dict[str, Any] = {
    "state": "ok", "input_state": "ok", "failed_pairs": (), "faults": {}, "muted": False, "links_to": (), "measured": None,
}  # fmt: skip


def working(item: S) -> S:
    """A thing as it is when new: nothing of it has failed, and no link cable is known to reach from it."""
    fresh = {name: value for name, value in _AS_NEW.items() if name in item.__struct_fields__}
    if isinstance(item, Amplifier):
        fresh["channels"] = mapped(item.channels, working)
    return updated(item, **fresh)


def _copy_of_rack(rig: Rig, rack: Rack) -> Rack:
    taken = {item.id for item in things(rig)}
    new = next_of(taken, rack.id)
    taken.add(new)
    names: dict[str, str | None] = {}
    for item in contents(rack):
        taken.add(name := _id_of_copy(taken, item.id, rack.id, new))
        names[item.id] = name
    return replace(
        working(rack),
        id=new,
        amplifiers=tuple(replace(working(a), id=names[a.id]) for a in rack.amplifiers),
        sockets=tuple(
            replace(working(s), id=names[s.id], poles=tuple(repole(p, names) for p in s.poles))
            for s in rack.sockets
        ),
    )


def _id_of_copy(taken: Collection[str], name: str, rack: str, new_rack: str) -> str:
    """A name that starts with its rack's (`R1-2`) starts with the new rack's (`R2-2`); another counts on."""
    rest = name.removeprefix(rack)
    if rest != name and rest and not rest[0].isdigit() and (moved := new_rack + rest) not in taken:
        return moved
    return next_of(taken, name)
