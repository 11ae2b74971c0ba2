"""Finding a thing in a rig and putting others in its place; what stays is shared with the rig it came from."""

from collections.abc import Callable, Iterable
from typing import Any, NamedTuple, TypeAlias, TypeVar, cast

from msgspec import Struct
from msgspec.structs import replace

from rackwright.model.lines import Cabinet, Line
from rackwright.model.mains import Board, Circuit, Load
from rackwright.model.racks import Amplifier, Feed, Rack, Socket
from rackwright.model.readings import Reading
from rackwright.model.rig import Rig
from rackwright.model.rules import missing

Item: TypeAlias = Board | Circuit | Load | Feed | Rack | Amplifier | Socket | Line | Cabinet
K = TypeVar("K", bound=Struct)
S = TypeVar("S", bound=Struct)
T = TypeVar("T")

TABLES: dict[type[Item], str] = {
    Board: "boards",
    Circuit: "circuits",
    Load: "loads",
    Feed: "feeds",
    Rack: "racks",
    Amplifier: "amplifiers",
    Socket: "sockets",
    Line: "lines",
    Cabinet: "cabinets",
}


class EditError(Exception):
    """An edit that can't be made. The message says to a person what, where, and what to do."""


class Found(NamedTuple):
    """Where a thing stands: the tuple that holds it, its position there, and the rack if it is in one."""

    table: str
    position: int
    item: Item
    rack: int | None = None


def find(rig: Rig, name: str, kinds: tuple[type[Item], ...] = tuple(TABLES)) -> Found:
    """The place of the thing of that id, which is of one of `kinds`. Raises EditError where there is none."""
    for kind in kinds:
        in_racks = kind in (Amplifier, Socket)
        for r, holder in enumerate(rig.racks if in_racks else (rig,)):
            for position, item in enumerate(getattr(holder, TABLES[kind])):
                if item.id == name:
                    return Found(TABLES[kind], position, item, r if in_racks else None)
    what = kinds[0].__name__.lower() if len(kinds) == 1 else "thing"
    raise EditError(there_is_no(what, name, [item.id for item in things(rig) if isinstance(item, kinds)]))


def find_kind(rig: Rig, name: str, kind: type[K]) -> tuple[Found, K]:
    """The place of the thing of that id, and the thing, which is of `kind`. Raises EditError."""
    place = find(rig, name, (cast(type[Item], kind),))
    return place, cast(K, place.item)


def things(rig: Rig) -> tuple[Item, ...]:
    """Everything in it that has an id, kind after kind."""
    racked: tuple[Item, ...] = (*rig.racks, *rig.amplifiers(), *rig.sockets())
    return (*rig.boards, *rig.circuits, *rig.loads, *rig.feeds, *racked, *rig.lines, *rig.cabinets)


def contents(rack: Rack) -> tuple[Amplifier | Socket, ...]:
    """What stands in a rack and on its panel."""
    return (*rack.amplifiers, *rack.sockets)


def kind_of(item: Item) -> str:
    """`line`, `cabinet`, …"""
    return type(item).__name__.lower()


def there_is_no(what: str, name: str, known: Iterable[str]) -> str:
    """What to say of a name that leads nowhere."""
    wrong, advice = missing(what, name, known)
    return f"{wrong}. {advice}"


def updated(struct: S, **fields: Any) -> S:
    """The struct with those fields; itself where they are its own already."""
    same = all(getattr(struct, name) == value for name, value in fields.items())
    return struct if same else replace(struct, **fields)


def mapped(items: tuple[T, ...], change: Callable[[T], T | None]) -> tuple[T, ...]:
    """Each item changed, those for which `change` returns None left out."""
    return tuple(changed for item in items if (changed := change(item)) is not None)


def each_amplifier(rig: Rig, change: Callable[[Amplifier], Amplifier]) -> Rig:
    """The rig with each amplifier changed."""
    return updated(
        rig, racks=mapped(rig.racks, lambda rack: updated(rack, amplifiers=mapped(rack.amplifiers, change)))
    )


def each_socket(rig: Rig, change: Callable[[Socket], Socket]) -> Rig:
    """The rig with each socket changed."""
    return updated(
        rig, racks=mapped(rig.racks, lambda rack: updated(rack, sockets=mapped(rack.sockets, change)))
    )


def each_reading(rig: Rig, change: Callable[[Reading], Reading | None]) -> Rig:
    """The rig with each reading changed, those for which `change` returns None left out."""
    return updated(rig, readings=mapped(rig.readings, change)) if rig.readings else rig


def splice(rig: Rig, place: Found, *items: Item) -> Rig:
    """The rig with `items` in place of the one thing at `place`."""
    if place.rack is None:
        return _spliced(rig, place, items)
    rack = _spliced(rig.racks[place.rack], place, items)
    return updated(rig, racks=(*rig.racks[: place.rack], rack, *rig.racks[place.rack + 1 :]))


def _spliced(holder: S, place: Found, items: tuple[Item, ...]) -> S:
    held = getattr(holder, place.table)
    return updated(holder, **{place.table: (*held[: place.position], *items, *held[place.position + 1 :])})
