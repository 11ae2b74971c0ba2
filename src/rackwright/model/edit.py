"""Edits: pure functions from a rig to a rig, one for each thing a person does to it.

What an edit does not touch is shared with the rig it came from, and an edit that changes nothing returns the very
rig it was given. No edit breaks a rule of `rules.check` that its rig kept: it raises EditError with that rule's
words instead. Holds no undo and no clipboard (a caller keeps the values it wants back) and judges nothing
electrical: an overfull rack or an overload is a finding, the engine's to say.
"""

import functools
from collections import Counter
from collections.abc import Callable, Container, Iterable, Mapping
from typing import Any, Concatenate, NamedTuple, ParamSpec, TypeAlias, TypeVar, cast, get_type_hints

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from rackwright.model import rules
from rackwright.model.equipment import (
    AmplifierModel,
    CableModel,
    Equipment,
    EquipmentEntry,
    LoudspeakerModel,
)
from rackwright.model.index import pole_or_none
from rackwright.model.rig import (
    NO_CHANNEL,
    Amplifier,
    Cabinet,
    Channel,
    Circuit,
    Feed,
    Line,
    Rack,
    Reading,
    Rig,
    Socket,
    Spare,
    State,
    Stock,
    Supply,
    Targets,
    Venue,
    channel_name,
)
from rackwright.units import Length

Item: TypeAlias = Circuit | Feed | Rack | Amplifier | Socket | Line | Cabinet
K = TypeVar("K", bound=Struct)
P = ParamSpec("P")
S = TypeVar("S", bound=Struct)
T = TypeVar("T")

_TABLES: dict[type[Item], str] = {
    Circuit: "circuits",
    Feed: "feeds",
    Rack: "racks",
    Amplifier: "amplifiers",
    Socket: "sockets",
    Line: "lines",
    Cabinet: "cabinets",
}


class EditError(Exception):
    """An edit that can't be made. The message says to a person what, where, and what to do."""


class Dependent(NamedTuple):
    """A thing that refers to another: its id, and in words how."""

    id: str
    words: str


class InUse(EditError):
    """The removal of a thing that others refer to; `dependents` says which."""

    def __init__(self, name: str, dependents: tuple[Dependent, ...]) -> None:
        self.dependents = dependents
        shown = ", ".join(d.words for d in dependents[:6])
        more = f" and {len(dependents) - 6} more" if len(dependents) > 6 else ""
        super().__init__(
            f"{name} is in use: {shown}{more}. Undo that first, or remove {name} with all that depends on it."
        )


def unchecked(edit: Callable[P, Rig]) -> Callable[P, Rig]:
    """The same edit without the check of its result, for a caller that makes thousands and checks the one it keeps."""
    return cast(Callable[P, Rig], getattr(edit, "__wrapped__", edit))


def _checked(edit: Callable[Concatenate[Rig, P], Rig]) -> Callable[Concatenate[Rig, P], Rig]:
    @functools.wraps(edit)
    def checked(rig: Rig, /, *args: P.args, **kwargs: P.kwargs) -> Rig:
        after = edit(rig, *args, **kwargs)
        if after is not rig:
            refuse_new_breach(rig, after)
        return after

    return checked


def refuse_new_breach(before: Rig, after: Rig) -> None:
    """Raise EditError where `after` breaks a rule that `before` did not."""
    breaches = rules.check(after)
    if not breaches:
        return
    known = Counter(problem.wrong for problem in rules.check(before))
    for problem in breaches:
        if known[problem.wrong] == 0:
            ids = _ids_on(after, problem.path) or [str(problem.path[0])]
            raise EditError(str(problem) if ids[-1] in problem.wrong else f"{' '.join(ids)}: {problem}")
        known[problem.wrong] -= 1


def _ids_on(rig: Rig, path: rules.Path) -> list[str]:
    """The ids of the things on the path to a breach, the outermost first."""
    at: Any = rig
    ids = []
    for step in path:
        at = at[step] if isinstance(step, int) or isinstance(at, Mapping) else getattr(at, step, None)
        if hasattr(at, "id"):
            ids.append(at.id)
    return ids


# --- what depends on what -----------------------------------------------------------------------------


def dependents(rig: Rig, name: str) -> tuple[Dependent, ...]:
    """What refers to the thing of that id, and so goes or is unpatched if it is removed with its dependents.

    Raises EditError where there is no such thing.
    """
    return tuple(_dependents(rig, _find(rig, name).item))


def _dependents(rig: Rig, item: Item) -> Iterable[Dependent]:
    match item:
        case Circuit():
            for amplifier in rig.amplifiers():
                if amplifier.circuit == item.id:
                    yield Dependent(amplifier.id, f"amplifier {amplifier.id} hangs on it")
        case Feed():
            for amplifier in rig.amplifiers():
                for i, channel in enumerate(amplifier.channels):
                    if channel.feed == item.id:
                        called = channel_name(amplifier.id, i)
                        yield Dependent(called, f"channel {called} takes it")
        case Amplifier():
            for socket in rig.sockets():
                for i, text in enumerate(socket.poles):
                    if (pole := pole_or_none(text)) and pole.amplifier == item.id:
                        yield Dependent(socket.id, f"{pole.name} drives pole pair {i + 1} of {socket.id}")
        case Socket() | Cabinet():
            for line in rig.lines:
                if item.id in (line.source, line.to):
                    way = "starts at" if line.source == item.id else "runs to"
                    yield Dependent(line.id, f"line {line.id} {way} {item.id}")
        case Rack():
            held = _held(item)
            yield from (Dependent(thing.id, f"{_kind(thing)} {thing.id} is in it") for thing in held)
            inside = {thing.id for thing in held}
            yield from (d for thing in held for d in _dependents(rig, thing) if d.id not in inside)
        case Line():
            pass


def _without(rig: Rig, item: Item) -> Rig:
    """The rig with every reference to `item` cleared, or its holder removed where it can't be without."""
    if isinstance(item, Rack):
        for thing in _held(item):
            rig = _without(rig, thing)
        return rig
    return _repoint(rig, item, None)


def _repoint(rig: Rig, item: Item, new: str | None) -> Rig:
    """The rig with every reference to `item` leading to the id `new`, or nowhere where None.

    A line with an end nowhere is removed.
    """
    old = item.id
    match item:
        case Circuit():
            return _each_amplifier(rig, lambda a: _set(a, circuit=new or "") if a.circuit == old else a)
        case Feed():

            def feed_of(channel: Channel) -> Channel:
                return _set(channel, feed=new or "") if channel.feed == old else channel

            return _each_amplifier(rig, lambda a: _set(a, channels=_mapped(a.channels, feed_of)))
        case Amplifier():
            return _each_socket(rig, lambda s: _set(s, poles=tuple(_repole(p, {old: new}) for p in s.poles)))
        case Socket() | Cabinet():

            def ends_of(line: Line) -> Line | None:
                if old not in (line.source, line.to):
                    return line
                ends = {"source": line.source, "to": line.to}
                moved = {end: new for end, at in ends.items() if at == old}
                return None if new is None else _set(line, **moved)

            rig = _set(rig, lines=_mapped(rig.lines, ends_of))
            left = {line.id for line in rig.lines}
            return _each_reading(
                rig,
                lambda r: _set(r, heard_from=_renamed(r.heard_from, old, new)) if r.line in left else None,
            )
        case Line():
            return _each_reading(
                rig, lambda r: r if r.line != old else None if new is None else _set(r, line=new)
            )
        case Rack():
            return rig


def _renamed(names: tuple[str, ...], old: str, new: str | None) -> tuple[str, ...]:
    """The names with `old` called `new`, or left out where that is None."""
    return _mapped(names, lambda name: new if name == old else name)


def _repole(text: str, names: Mapping[str, str | None]) -> str:
    """A socket's pole entry with its amplifier renamed as `names` says; empty where that is None."""
    pole = pole_or_none(text)
    if pole is None or pole.amplifier not in names:
        return text
    new = names[pole.amplifier]
    return pole._replace(amplifier=new).text if new else ""


# --- finding and sharing ------------------------------------------------------------------------------


class _Place(NamedTuple):
    """Where a thing stands: the tuple that holds it, its position there, and the rack if it is in one."""

    table: str
    position: int
    item: Item
    rack: int | None = None


def _find(rig: Rig, name: str, kinds: tuple[type[Item], ...] = tuple(_TABLES)) -> _Place:
    """The place of the thing of that id, which is of one of `kinds`. Raises EditError where there is none."""
    for kind in kinds:
        in_racks = kind in (Amplifier, Socket)
        for r, holder in enumerate(rig.racks if in_racks else (rig,)):
            for position, item in enumerate(getattr(holder, _TABLES[kind])):
                if item.id == name:
                    return _Place(_TABLES[kind], position, item, r if in_racks else None)
    what = kinds[0].__name__.lower() if len(kinds) == 1 else "thing"
    raise EditError(_there_is_no(what, name, [item.id for item in _items(rig) if isinstance(item, kinds)]))


def _find_kind(rig: Rig, name: str, kind: type[K]) -> tuple[_Place, K]:
    """The place of the thing of that id, and the thing, which is of `kind`. Raises EditError."""
    place = _find(rig, name, (cast(type[Item], kind),))
    return place, cast(K, place.item)


def _items(rig: Rig) -> Iterable[Item]:
    for table in (
        rig.circuits,
        rig.feeds,
        rig.racks,
        rig.amplifiers(),
        rig.sockets(),
        rig.lines,
        rig.cabinets,
    ):
        yield from cast(tuple[Item, ...], table)


def _held(rack: Rack) -> tuple[Amplifier | Socket, ...]:
    return (*rack.amplifiers, *rack.sockets)


def _ids(rig: Rig) -> list[str]:
    return [item.id for item in _items(rig)]


def _kind(item: Item) -> str:
    return type(item).__name__.lower()


def _there_is_no(what: str, name: str, known: Iterable[str]) -> str:
    wrong, advice = rules.missing(what, name, known)
    return f"{wrong}. {advice}"


def _set(struct: S, **fields: Any) -> S:
    """The struct with those fields; itself where they are its own already."""
    same = all(getattr(struct, name) == value for name, value in fields.items())
    return struct if same else replace(struct, **fields)


def _mapped(items: tuple[T, ...], change: Callable[[T], T | None]) -> tuple[T, ...]:
    """Each item changed, those for which `change` returns None left out."""
    return tuple(changed for item in items if (changed := change(item)) is not None)


def _each_amplifier(rig: Rig, change: Callable[[Amplifier], Amplifier]) -> Rig:
    return _set(
        rig, racks=_mapped(rig.racks, lambda rack: _set(rack, amplifiers=_mapped(rack.amplifiers, change)))
    )


def _each_socket(rig: Rig, change: Callable[[Socket], Socket]) -> Rig:
    return _set(rig, racks=_mapped(rig.racks, lambda rack: _set(rack, sockets=_mapped(rack.sockets, change))))


def _each_reading(rig: Rig, change: Callable[[Reading], Reading | None]) -> Rig:
    return _set(rig, readings=_mapped(rig.readings, change)) if rig.readings else rig


def _splice(rig: Rig, place: _Place, *items: Item) -> Rig:
    """The rig with `items` in place of the one thing at `place`."""
    if place.rack is None:
        return _spliced(rig, place, items)
    rack = _spliced(rig.racks[place.rack], place, items)
    return _set(rig, racks=(*rig.racks[: place.rack], rack, *rig.racks[place.rack + 1 :]))


def _spliced(holder: S, place: _Place, items: tuple[Item, ...]) -> S:
    held = getattr(holder, place.table)
    return _set(holder, **{place.table: (*held[: place.position], *items, *held[place.position + 1 :])})


# --- ids and units ------------------------------------------------------------------------------------


def next_id(rig: Rig, like: str) -> str:
    """The next id that is free in the pattern of `like`: after `SUB-L1` comes `SUB-L2`, after `L09` `L10`.

    A name with no number at its end takes 2.
    """
    return _next_id(set(_ids(rig)), like)


def _next_id(taken: Container[str], like: str) -> str:
    stem = like.rstrip("0123456789")
    digits = like[len(stem) :]
    number = int(digits) + 1 if digits else 2
    while (name := f"{stem}{number:0{len(digits)}d}") in taken:
        number += 1
    return name


def next_free_unit(rig: Rig, rack: str, height: int) -> int | None:
    """The lowest rack unit above which `height` units are free; None where the rack has no such room.

    Raises EditError where there is no such rack.
    """
    return _free_unit(rig, _find_kind(rig, rack, Rack)[1], height)


def _free_unit(rig: Rig, rack: Rack, height: int) -> int | None:
    heights = {model.id: model.height for model in rig.equipment.amplifiers}
    taken = {
        unit
        for amplifier in rack.amplifiers
        for unit in range(amplifier.unit, amplifier.unit + heights.get(amplifier.model, 1))
    }
    starts = range(1, rack.height - height + 2)
    return next((s for s in starts if taken.isdisjoint(range(s, s + height))), None)


# --- the edits ----------------------------------------------------------------------------------------


@_checked
def add(rig: Rig, item: Item, rack: str | None = None) -> Rig:
    """The rig with `item` last among its kind; an amplifier or a socket goes into the rack of id `rack`.

    Raises EditError, also where the item names equipment that the rig does not carry yet.
    """
    table = _TABLES[type(item)]
    if not isinstance(item, Amplifier | Socket):
        return replace(rig, **{table: (*getattr(rig, table), item)})
    if rack is None:
        raise EditError(f"{_kind(item).capitalize()} {item.id} needs a rack to go into. Name one.")
    place, holder = _find_kind(rig, rack, Rack)
    return _splice(rig, place, replace(holder, **{table: (*getattr(holder, table), item)}))


@_checked
def change(rig: Rig, name: str, /, **fields: object) -> Rig:
    """The rig with those fields of the thing of id `name`, named as in the structs, set to those values.

    A new `id` renames it wherever it is referred to. A channel is a thing too: `change(rig, "A1.1", feed="sub")`.
    Raises EditError.
    """
    return _change(rig, name, fields)


@_checked
def change_many(rig: Rig, names: Iterable[str], /, **fields: object) -> Rig:
    """`change` on several things at once; all are changed or none. Raises EditError."""
    for name in names:
        rig = _change(rig, name, fields)
    return rig


def _change(rig: Rig, name: str, fields: Mapping[str, object]) -> Rig:
    if "." in name:  # no id holds one
        return _change_channel(rig, name, fields)
    place = _find(rig, name)
    changed = _with_fields(place.item, name, fields)
    if changed.id != name:
        rig = _repoint(rig, place.item, changed.id)
    return _splice(rig, place, changed)


def _change_channel(rig: Rig, name: str, fields: Mapping[str, object]) -> Rig:
    """The channel's fields set; the amplifier's list of channels grows to it where that says something new."""
    place, amplifier, index = _channel(rig, name)
    channel = amplifier.channel(index)
    changed = _with_fields(channel, name, fields)
    if changed is channel:
        return rig
    listed = amplifier.channels + (NO_CHANNEL,) * (index + 1 - len(amplifier.channels))
    channels = (*listed[:index], changed, *listed[index + 1 :])
    return _splice(rig, place, _set(amplifier, channels=channels))


def _channel(rig: Rig, name: str) -> tuple[_Place, Amplifier, int]:
    """The amplifier that has the channel of that name, its place, and the channel's index from 0."""
    pole = pole_or_none(name)
    if pole is None or pole.sign < 0:
        raise EditError(f'"{name}" names no channel. Write one such as "A1.1".')
    place, amplifier = _find_kind(rig, pole.amplifier, Amplifier)
    count = next((m.channels for m in rig.equipment.amplifiers if m.id == amplifier.model), 0)
    if pole.channel >= max(count, len(amplifier.channels)):
        raise EditError(
            f"{amplifier.id} has {count} channels, so there is no {name}. "
            f"Name one from {amplifier.id}.1 to {amplifier.id}.{count}."
        )
    return place, amplifier, pole.channel


def _with_fields(struct: S, name: str, fields: Mapping[str, object]) -> S:
    """The struct with those fields, each value held to the field's type. Raises EditError."""
    types = _types(type(struct))
    values = {}
    for field, value in fields.items():
        if field not in types:
            raise EditError(_there_is_no(f"field of {name}", field, types))
        try:
            values[field] = msgspec.convert(value, types[field])
        except msgspec.ValidationError as error:
            raise EditError(f"{name}: {field} can't be {value!r}. {error}.") from error
    return _set(struct, **values)


@functools.cache
def _types(kind: type[Struct]) -> dict[str, Any]:
    return get_type_hints(kind)


@_checked
def change_settings(
    rig: Rig,
    *,
    name: str | None = None,
    notes: str | None = None,
    venue: Venue | None = None,
    supply: Supply | None = None,
    targets: Targets | None = None,
    spares: tuple[Spare, ...] | None = None,
    stock: tuple[Stock, ...] | None = None,
) -> Rig:
    """The rig with those of its own settings; what is None stays. Raises EditError."""
    given = {
        "name": name, "notes": notes, "venue": venue, "supply": supply, "targets": targets, "spares": spares, "stock": stock,
    }  # fmt: skip
    return _set(rig, **{field: value for field, value in given.items() if value is not None})


@_checked
def set_channel(
    rig: Rig, channels: str | Iterable[str], *, feed: str | None = None, state: State | None = None
) -> Rig:
    """The rig with that feed ("" for none) and state on the channel or channels named; what is None stays.

    An amplifier's list of channels grows as far as is needed and never shrinks. Raises EditError.
    """
    given = {"feed": feed, "state": state}
    fields = {field: value for field, value in given.items() if value is not None}
    for name in (channels,) if isinstance(channels, str) else channels:
        rig = _change_channel(rig, name, fields)
    return rig


@_checked
def mark(rig: Rig, channels: str | Iterable[str], state: State) -> Rig:
    """The rig with the channel or channels named marked failed or ok. Raises EditError."""
    return unchecked(set_channel)(rig, channels, state=state)


@_checked
def remove(rig: Rig, name: str, with_dependents: bool = False) -> Rig:
    """The rig without the thing of that id.

    Raises InUse where others refer to it; `with_dependents` then removes the lines at a socket or cabinet,
    unpatches an amplifier's pole pairs, takes a feed off its channels and a circuit off its amplifiers, and
    removes a rack with all it holds. `dependents` tells beforehand what that touches.
    """
    place = _find(rig, name)
    if not with_dependents and (found := tuple(_dependents(rig, place.item))):
        raise InUse(name, found)
    return _splice(_without(rig, place.item), place)


@_checked
def duplicate(rig: Rig, name: str) -> Rig:
    """The rig with a copy of the thing of that id, called `next_id(rig, name)` and standing after it.

    A rack: with copies of its amplifiers and sockets, patched among themselves as the originals are; no lines.
    An amplifier: in the lowest free units of its rack, unpatched. A cabinet: with a copy of its incoming line,
    from the next socket of its kind that is free, else from the same source. A line: to the next cabinet of the same model that nothing feeds. Copies are sound,
    whatever has failed on the original. Raises EditError where there is no room or no such cabinet.
    """
    place = _find(rig, name)
    match place.item:
        case Rack() as rack:
            copy: Item = _copy_of_rack(rig, rack)
        case Amplifier() as amplifier:
            copy = _copy_of_amplifier(rig, rig.racks[cast(int, place.rack)], amplifier)
        case Line() as line:
            copy = replace(line, id=next_id(rig, name), to=_next_unfed(rig, line))
        case item:
            copy = replace(item, id=next_id(rig, name))
    copied = _splice(rig, place, place.item, copy)
    return _with_copied_line(copied, name, copy.id) if isinstance(copy, Cabinet) else copied


def _with_copied_line(rig: Rig, original: str, copy: str) -> Rig:
    """The rig with the line to `original`, if any, copied to run to `copy`."""
    line = next((line for line in rig.lines if line.to == original), None)
    if line is None:
        return rig
    copied = replace(line, id=next_id(rig, line.id), source=_next_free(rig, line.source), to=copy)
    return _splice(rig, _find(rig, line.id), line, copied)


def _next_free(rig: Rig, source: str) -> str:
    """The socket after that one, on its rack and with its connector, that no line leaves; itself where there is none."""
    taken = {line.source for line in rig.lines}
    for rack in rig.racks:
        names = [socket.id for socket in rack.sockets]
        if source in names:
            at = names.index(source)
            kind = rack.sockets[at].connector
            after = (s for s in (*rack.sockets[at + 1 :], *rack.sockets[:at]) if s.connector == kind)
            return next((socket.id for socket in after if socket.id not in taken), source)
    return source


def _next_unfed(rig: Rig, line: Line) -> str:
    """The cabinet, after the one `line` runs to, that is of the same model and that nothing feeds.

    The cabinet at the head of `line`'s own chain would make a loop and is passed over.
    """
    feeding = {other.to: other.source for other in rig.lines}
    head = line.source
    for _ in rig.lines:
        head = feeding.get(head, head)
    place, cabinet = _find_kind(rig, line.to, Cabinet)
    others = (*rig.cabinets[place.position + 1 :], *rig.cabinets[: place.position])
    for other in others:
        if other.model == cabinet.model and other.id not in feeding and other.id != head:
            return other.id
    raise EditError(
        f"No other {cabinet.model} waits for a line like {line.id}. "
        f"Add a cabinet first, or duplicate {line.to}: its line comes with it."
    )


def _copy_of_amplifier(rig: Rig, rack: Rack, amplifier: Amplifier) -> Amplifier:
    height = next((m.height for m in rig.equipment.amplifiers if m.id == amplifier.model), 1)
    unit = _free_unit(rig, rack, height)
    if unit is None:
        raise EditError(
            f"{rack.id} has no {height} free units together for a copy of {amplifier.id}. "
            "Move an amplifier, or make the rack higher."
        )
    return replace(_sound(amplifier), id=next_id(rig, amplifier.id), unit=unit)


def _sound(amplifier: Amplifier) -> Amplifier:
    return _set(amplifier, channels=_mapped(amplifier.channels, lambda channel: _set(channel, state="ok")))


def _copy_of_rack(rig: Rig, rack: Rack) -> Rack:
    taken = set(_ids(rig))
    new = _next_id(taken, rack.id)
    taken.add(new)
    names: dict[str, str | None] = {}
    for item in _held(rack):
        taken.add(name := _id_of_copy(taken, item.id, rack.id, new))
        names[item.id] = name
    return replace(
        rack,
        id=new,
        amplifiers=tuple(replace(_sound(a), id=names[a.id]) for a in rack.amplifiers),
        sockets=tuple(
            replace(s, id=names[s.id], poles=tuple(_repole(p, names) for p in s.poles)) for s in rack.sockets
        ),
    )


def _id_of_copy(taken: Container[str], name: str, rack: str, new_rack: str) -> str:
    """A name that starts with its rack's (`R1-2`) starts with the new rack's (`R2-2`); another counts on."""
    rest = name.removeprefix(rack)
    if rest != name and rest and not rest[0].isdigit() and (moved := new_rack + rest) not in taken:
        return moved
    return _next_id(taken, name)


@_checked
def move_amplifier(rig: Rig, name: str, rack: str, unit: int) -> Rig:
    """The rig with the amplifier in that rack, its lowest unit there being `unit`; its patch stays. Raises EditError."""
    place, amplifier = _find_kind(rig, name, Amplifier)
    target, _ = _find_kind(rig, rack, Rack)
    moved = _set(amplifier, unit=unit)
    if target.position == place.rack:
        return _splice(rig, place, moved)
    rig = _splice(rig, place)
    holder = rig.racks[target.position]
    return _splice(rig, target, replace(holder, amplifiers=(*holder.amplifiers, moved)))


@_checked
def patch(rig: Rig, socket: str, pair: int, pole: str) -> Rig:
    """The rig with pole pair `pair` (from 1) of the socket driven by `pole`: "A1.1", "-A1.1" reversed, or "".

    The socket's list of poles grows as far as is needed and never shrinks. Raises EditError.
    """
    place, there = _find_kind(rig, socket, Socket)
    count = next((c.pole_pairs for c in rig.equipment.connectors if c.id == there.connector), 0)
    if not 1 <= pair <= max(count, len(there.poles)):
        raise EditError(f"{socket} has no pole pair {pair}. Name one from 1 to {count}.")
    if pair > len(there.poles) and not pole:
        return rig
    listed = there.poles + ("",) * (pair - len(there.poles))
    return _splice(rig, place, _set(there, poles=(*listed[: pair - 1], pole, *listed[pair:])))


@_checked
def connect(
    rig: Rig,
    source: str,
    to: str,
    cable: str,
    length: Length,
    id: str | None = None,
    *,
    poles: tuple[int, ...] = (),
    cores_per_pole: int = 1,
) -> Rig:
    """The rig with a new line, last among the lines, from a socket or a cabinet to a cabinet.

    With no `id` it takes the next in the pattern of the last line, or of `L1`. Raises EditError.
    """
    name = id or (next_id(rig, rig.lines[-1].id) if rig.lines else next_id(rig, "L0"))
    line = Line(
        id=name, source=source, to=to, cable=cable, length=length, poles=poles, cores_per_pole=cores_per_pole
    )
    return unchecked(add)(rig, line)


@_checked
def reconnect(rig: Rig, line: str, *, source: str | None = None, to: str | None = None) -> Rig:
    """The rig with the line's near end at `source`, its far end at `to`; what is None stays. Raises EditError."""
    place, there = _find_kind(rig, line, Line)
    return _splice(rig, place, _set(there, source=source or there.source, to=to or there.to))


@_checked
def note_reading(rig: Rig, line: str, pair: int, /, **fields: object) -> Rig:
    """The rig with those fields of the line test's reading on pole pair `pair` (from 1) of a line set.

    With it goes what it was taken on. One that was taken on another cabinet model, cable or length gives way to it as a
    whole; one that then says nothing is left out. Raises EditError.
    """
    _, there = _find_kind(rig, line, Line)
    model = next((cabinet.model for cabinet in rig.cabinets if cabinet.id == there.to), "")
    blank = Reading(line=line, pair=pair, model=model, cable=there.cable, length=there.length)
    was = next((reading for reading in rig.readings if reading.id == blank.id), None)
    start = was if was is not None and was.taken_on(there, model) else blank
    now = _with_fields(start, blank.id, fields)
    if now is was:
        return rig
    now = _set(now, model=model, cable=there.cable, length=there.length)
    says = now.ohms or now.polarity or now.heard or now.heard_from or now.note
    kept = (now,) if says else ()
    if was is None:
        return _set(rig, readings=(*rig.readings, *kept)) if kept else rig
    at = rig.readings.index(was)
    return _set(rig, readings=(*rig.readings[:at], *kept, *rig.readings[at + 1 :]))


@_checked
def with_equipment(rig: Rig, *entries: EquipmentEntry) -> Rig:
    """The rig carrying those entries, each in place of the one of its kind and id if there is one.

    Name a loudspeaker's connector along with it where the rig does not carry that yet. Raises EditError.
    """
    tables: dict[str, list[EquipmentEntry]] = {}
    for entry in entries:
        tables.setdefault(_equipment_table(entry), []).append(entry)
    carried = Equipment(**{table: tuple(held) for table, held in tables.items()})  # type: ignore[arg-type]
    return _set(rig, equipment=carried.over(rig.equipment))


def _equipment_table(entry: EquipmentEntry) -> str:
    match entry:
        case AmplifierModel():
            return "amplifiers"
        case LoudspeakerModel():
            return "loudspeakers"
        case CableModel():
            return "cables"
        case _:
            return "connectors"
