"""One function for each thing that a person does to a rig."""

import functools
from collections.abc import Iterable, Mapping
from typing import Any, get_type_hints

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from rackwright.model.edits.check import checked
from rackwright.model.edits.references import InUse, dependents, repoint, without
from rackwright.model.edits.sharing import (
    TABLES,
    EditError,
    Found,
    Item,
    S,
    find,
    find_kind,
    kind_of,
    splice,
    there_is_no,
    things,
    updated,
)
from rackwright.model.equipment import Equipment, EquipmentEntry, equipment_kind
from rackwright.model.index import Index, equipment_uses, pole_or_none
from rackwright.model.lines import Line, Spare, Stock
from rackwright.model.mains import Supply
from rackwright.model.racks import NO_CHANNEL, Amplifier, Rack, Socket
from rackwright.model.readings import FormerReading, Reading
from rackwright.model.rig import Rig, Targets, Venue
from rackwright.units.wording import some


@checked
def add(rig: Rig, item: Item, rack: str | None = None) -> Rig:
    """The rig with `item` last among its kind; an amplifier or a socket goes into the rack of id `rack`.

    Raises EditError, also where the item names equipment that the rig does not carry yet.
    """
    table = TABLES[type(item)]
    if not isinstance(item, Amplifier | Socket):
        return replace(rig, **{table: (*getattr(rig, table), item)})
    if rack is None:
        raise EditError(f"{kind_of(item).capitalize()} {item.id} needs a rack to go into. Name one.")
    place, holder = find_kind(rig, rack, Rack)
    return splice(rig, place, replace(holder, **{table: (*getattr(holder, table), item)}))


@checked
def change(rig: Rig, names: str | Iterable[str], /, **fields: object) -> Rig:
    """The rig with those fields of the thing or things of those ids, named as in the structs, set to those values.

    All are changed or none. A new `id` renames a thing wherever it is referred to. A channel is a thing too:
    `change(rig, "A1.1", feed="sub")`; its amplifier's list of channels grows as far as is needed and never shrinks.
    Raises EditError.
    """
    for name in (names,) if isinstance(names, str) else names:
        rig = _change(rig, name, fields)
    return rig


def _change(rig: Rig, name: str, fields: Mapping[str, object]) -> Rig:
    if "." in name:  # no id holds one
        return _change_channel(rig, name, fields)
    place = find(rig, name)
    changed = _converted(place.item, name, fields)
    if changed.id != name:
        rig = repoint(rig, place.item, changed.id)
    return splice(rig, place, changed)


def _change_channel(rig: Rig, name: str, fields: Mapping[str, object]) -> Rig:
    """The channel's fields set; the amplifier's list of channels grows to it where that says something new."""
    place, amplifier, index = _channel(rig, name)
    channel = amplifier.channel(index)
    changed = _converted(channel, name, fields)
    if changed is channel:
        return rig
    listed = amplifier.channels + (NO_CHANNEL,) * (index + 1 - len(amplifier.channels))
    channels = (*listed[:index], changed, *listed[index + 1 :])
    return splice(rig, place, updated(amplifier, channels=channels))


def _channel(rig: Rig, name: str) -> tuple[Found, Amplifier, int]:
    """The amplifier that has the channel of that name, its place, and the channel's index from 0."""
    pole = pole_or_none(name)
    if pole is None or pole.sign < 0:
        raise EditError(f'"{name}" is not a channel. Write one such as "A1.1".')
    place, amplifier = find_kind(rig, pole.amplifier, Amplifier)
    count = next((m.channels for m in rig.equipment.amplifiers if m.id == amplifier.model), 0)
    if pole.channel >= max(count, len(amplifier.channels)):
        raise EditError(
            f"{amplifier.id} has {count} channels, so there is no {name}. "
            f"Name one from {amplifier.id}.1 to {amplifier.id}.{count}."
        )
    return place, amplifier, pole.channel


def _converted(struct: S, name: str, fields: Mapping[str, object]) -> S:
    """The struct with those fields, each value held to the field's type. Raises EditError."""
    types = _types(type(struct))
    values = {}
    for field, value in fields.items():
        if field not in types:
            raise EditError(there_is_no(f"field of {name}", field, types))
        try:
            values[field] = msgspec.convert(value, types[field])
        except msgspec.ValidationError as error:
            raise EditError(f"{name}: {field} can't be {value!r}. {error}.") from error
    return updated(struct, **values)


@functools.cache
def _types(kind: type[Struct]) -> dict[str, Any]:
    return get_type_hints(kind)


@checked
def change_settings(
    rig: Rig,
    *,
    name: str | None = None,
    notes: str | None = None,
    wet: bool | None = None,
    venue: Venue | None = None,
    supply: Supply | None = None,
    targets: Targets | None = None,
    spares: tuple[Spare, ...] | None = None,
    stock: tuple[Stock, ...] | None = None,
) -> Rig:
    """The rig with those of its own settings; what is None stays. Raises EditError."""
    given = {
        "name": name, "notes": notes, "wet": wet, "venue": venue, "supply": supply, "targets": targets, "spares": spares,
        "stock": stock,
    }  # fmt: skip
    return updated(rig, **{field: value for field, value in given.items() if value is not None})


@checked
def remove(rig: Rig, name: str, with_dependents: bool = False) -> Rig:
    """The rig without the thing of that id.

    Raises InUse where others refer to it; `with_dependents` then removes the lines at a socket or cabinet,
    unpatches an amplifier's pole pairs, takes a feed off its channels and a circuit off its amplifiers, and
    removes a rack with all it holds. `dependents` tells beforehand what that touches.
    """
    place = find(rig, name)
    if not with_dependents and (found := dependents(rig, name)):
        raise InUse(name, found)
    return splice(without(rig, place.item), place)


def remove_all(rig: Rig, names: Iterable[str]) -> Rig:
    """The rig without the things of those ids and without what depends on them; what goes with another is gone then."""
    for name in names:
        if any(item.id == name for item in things(rig)):
            rig = remove(rig, name, with_dependents=True)
    return rig


@checked
def move_amplifier(rig: Rig, name: str, rack: str, unit: int) -> Rig:
    """The rig with the amplifier in that rack, its lowest unit there being `unit`; its patch stays. Raises EditError."""
    place, amplifier = find_kind(rig, name, Amplifier)
    target, _ = find_kind(rig, rack, Rack)
    moved = updated(amplifier, unit=unit)
    if target.position == place.rack:
        return splice(rig, place, moved)
    rig = splice(rig, place)
    holder = rig.racks[target.position]
    return splice(rig, target, replace(holder, amplifiers=(*holder.amplifiers, moved)))


@checked
def move_amplifiers(rig: Rig, names: Iterable[str], rack: str, unit: int) -> Rig:
    """The rig with amplifiers in that rack, in the units of `units_from`; their patch stays. Raises EditError."""
    for name, at in units_from(rig, names, unit).items():
        rig = move_amplifier(rig, name, rack, at)
    return rig


def units_from(rig: Rig, names: Iterable[str], unit: int) -> dict[str, int]:
    """Each amplifier and its lowest unit where the lowest of all comes to `unit`: as far apart as they are now, those of
    other racks next above. Raises EditError.
    """
    heights = {model.id: model.height for model in rig.equipment.amplifiers}
    found = [find_kind(rig, name, Amplifier) for name in names]
    found.sort(key=lambda each: (each[0].rack, each[1].unit))
    units: dict[str, int] = {}
    free = unit
    for _, amplifier in found:
        units[amplifier.id] = at = max(unit + amplifier.unit - found[0][1].unit, free)
        free = at + heights.get(amplifier.model, 1)
    return units


@checked
def patch(rig: Rig, socket: str, pair: int, pole: str) -> Rig:
    """The rig with pole pair `pair` (from 1) of the socket driven by `pole`: "A1.1", "-A1.1" reversed, or "".

    The socket's list of poles grows as far as is needed and never shrinks. Raises EditError.
    """
    place, there = find_kind(rig, socket, Socket)
    count = next((c.pole_pairs for c in rig.equipment.connectors if c.id == there.connector), 0)
    if not 1 <= pair <= max(count, len(there.poles)):
        raise EditError(f"{socket} has no pole pair {pair}. Name one from 1 to {count}.")
    if pair > len(there.poles) and not pole:
        return rig
    listed = there.poles + ("",) * (pair - len(there.poles))
    return splice(rig, place, updated(there, poles=(*listed[: pair - 1], pole, *listed[pair:])))


@checked
def note_reading(rig: Rig, line: str, pair: int, /, **fields: object) -> Rig:
    """The rig with those fields of the meter check's reading on pole pair `pair` (from 1) of a line set.

    With it goes what it was taken on. One that was taken on another cabinet model, cable or length, or with others linked on,
    gives way to it as a whole; what it read on an earlier day stays beside it; one that then says nothing is left out.
    Raises EditError.
    """
    _, there = find_kind(rig, line, Line)
    model = next((cabinet.model for cabinet in rig.cabinets if cabinet.id == there.to), "")
    behind = Index(rig).linked_on(there.to)
    taken_on = {"model": model, "cable": there.cable, "length": there.length, "behind": behind}
    blank = Reading(line=line, pair=pair)
    was = next((reading for reading in rig.readings if reading.id == blank.id), None)
    start = was if was is not None and was.taken_on(there, model, behind) else blank
    now = _converted(start, blank.id, fields)
    if now is was:
        return rig
    if start.ohms and "ohms" in fields and now.when[:10] != start.when[:10]:
        leads, coils = start.lead_resistance, start.coil_temperature
        last = FormerReading(ohms=start.ohms, lead_resistance=leads, coil_temperature=coils, when=start.when)
        now = updated(now, last=last)
    now = updated(now, **taken_on)
    says = now.ohms or now.polarity or now.heard or now.heard_from or now.note or now.last or now.sweep
    kept = (now,) if says else ()
    if was is None:
        return updated(rig, readings=(*rig.readings, *kept)) if kept else rig
    at = rig.readings.index(was)
    return updated(rig, readings=(*rig.readings[:at], *kept, *rig.readings[at + 1 :]))


@checked
def with_equipment(rig: Rig, *entries: EquipmentEntry) -> Rig:
    """The rig carrying those entries, each in place of the one of its kind and id if there is one.

    Name a loudspeaker's connector along with it where the rig does not carry that yet. Raises EditError.
    """
    tables: dict[str, list[EquipmentEntry]] = {}
    for entry in entries:
        tables.setdefault(equipment_kind(entry), []).append(entry)
    carried = Equipment(**{table: tuple(held) for table, held in tables.items()})  # type: ignore[arg-type]
    return updated(rig, equipment=carried.over(rig.equipment))


@checked
def without_equipment(rig: Rig, kind: str, name: str) -> Rig:
    """The rig without an equipment entry. Raises EditError where something refers to it."""
    if users := [user for *entry, user in equipment_uses(rig) if entry == [kind, name]]:
        raise EditError(f"{name} is in use by {some(users)}. Give these another model first.")
    return updated(rig, equipment=rig.equipment.without(kind, name))
