"""The difference of two rigs, as a list that a person can read.

Things are matched by id, so that a renamed thing is one removed and one added. Holds no judgement of what a change
does: that is the difference of two assessments.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import takewhile
from typing import Any, Literal, NamedTuple, TypeAlias, get_args

from msgspec import Struct
from msgspec.structs import fields

from rackwright.model import fields as labels
from rackwright.model.equipment import (
    EQUIPMENT_KINDS,
    AmplifierModel,
    CableModel,
    ConnectorModel,
    LoudspeakerModel,
    Rating,
    Section,
    noun,
)
from rackwright.model.mains import Circuit
from rackwright.model.racks import Amplifier, Channel, Rack, Socket, channel_name
from rackwright.model.rig import Rig
from rackwright.units import Quantity, typeset

Kind: TypeAlias = Literal["added", "removed", "changed", "moved"]

_LONG = 60
"""Characters of a value over which a sentence leaves out the words that are the same before and after."""
_NEAR = 3
"""Of these, how many it has on each side to say where."""

_STATES = {"state": "", "signal lead into it": ", signal lead"}

_BY_PARTS: dict[type[Struct], set[str]] = {
    Amplifier: {"channels"},
    Socket: {"poles"},
    Rack: {"amplifiers", "sockets"},
}
"""Fields that are compared part by part."""


class Change(Struct, frozen=True):
    """One difference: of what, and from what to what."""

    kind: Kind
    what: str
    """The kind of thing in words: `line`, `channel`, `supply`, `amplifier model`."""
    id: str
    """The thing's id; empty for the rig's own settings."""
    key: str
    """What of it changed, in words; empty for the whole of it."""
    before: str
    after: str
    sentence: str

    def __str__(self) -> str:
        return " ".join(self.sentence.split())


class _Thing(NamedTuple):
    what: str
    id: str


def difference(before: Rig, after: Rig) -> tuple[Change, ...]:
    """Every change that leads from `before` to `after`, in the order of the rig file; empty where they are equal."""
    return tuple(_rig(before, after))


def _rig(before: Rig, after: Rig) -> Iterator[Change]:
    for key in ("format", "name", "notes", "wet"):
        yield from _value(_Thing("rig", ""), key, getattr(before, key), getattr(after, key))
    yield from _fields(_Thing("venue", ""), before.venue, after.venue)
    yield from _fields(_Thing("supply", ""), before.supply, after.supply)
    yield from _fields(_Thing("targets", ""), before.targets, after.targets)
    yield from _table("board", before.boards, after.boards)
    yield from _table("circuit", before.circuits, after.circuits)
    yield from _table("load", before.loads, after.loads)
    yield from _table("feed", before.feeds, after.feeds)
    yield from _racks(before, after)
    yield from _table("line", before.lines, after.lines)
    yield from _table("cabinet", before.cabinets, after.cabinets)
    yield from _table("spare", before.spares, after.spares)
    yield from _table("stocked cable", before.stock, after.stock)
    yield from _table("reading", before.readings, after.readings)
    for kind in EQUIPMENT_KINDS:
        held = (getattr(rig.equipment, kind) for rig in (before, after))
        yield from _table(f"{noun(kind)} model", *held)


# --- things with an id --------------------------------------------------------------------------------


def _table(what: str, before: tuple[Any, ...], after: tuple[Any, ...], within: str = "") -> Iterator[Change]:
    """Changes of things matched by id, `within` being the id of what they are parts of."""
    if before == after:
        return
    old, new = ({item.id: item for item in items} for items in (before, after))
    for name in dict.fromkeys((*old, *new)):
        thing = _Thing(what, f"{within} {name}".strip())
        yield from _matched(thing, old.get(name), new.get(name))
    yield from _order(_Thing(what, within), list(old), list(new))


def _matched(thing: _Thing, old: Any, new: Any, rack: str = "") -> Iterator[Change]:
    """Changes of one thing, which is None where it is not there."""
    if old is None:
        summary = _summary(new, rack)
        yield Change("added", *thing, "", "", summary, _sentence(f"Added {thing.what} {thing.id}", summary))
    elif new is None:
        summary = _summary(old, rack)
        yield Change(
            "removed", *thing, "", summary, "", _sentence(f"Removed {thing.what} {thing.id}", summary)
        )
    else:
        yield from _fields(thing, old, new)


def _order(thing: _Thing, old: list[str], new: list[str]) -> Iterator[Change]:
    """A change of the order of those that are there before and after."""
    common = {*old} & {*new}
    kept_old, kept_new = ([name for name in names if name in common] for names in (old, new))
    if kept_old == kept_new:
        return
    before, after = ", ".join(kept_old), ", ".join(kept_new)
    label = f"Order of {thing.what}s{f' of {thing.id}' if thing.id else ''}"
    yield Change("moved", *thing, "order", before, after, f"{label}: {_apart(before, after)}")


def _racks(before: Rig, after: Rig) -> Iterator[Change]:
    """Changes of each rack, then of what it holds; what has changed racks stands at the rack it came to."""
    if before.racks == after.racks:
        return
    old, new = ({rack.id: rack for rack in rig.racks} for rig in (before, after))
    held = {table: _held_changes(before, after, table) for table in ("amplifiers", "sockets")}
    for name in dict.fromkeys((*old, *new)):
        yield from _matched(_Thing("rack", name), old.get(name), new.get(name))
        for table, changes in held.items():
            yield from changes[name]
            if name in old and name in new:
                orders = [[item.id for item in getattr(rack, table)] for rack in (old[name], new[name])]
                yield from _order(_Thing(table.removesuffix("s"), name), *orders)
    yield from _order(_Thing("rack", ""), list(old), list(new))


def _held_changes(before: Rig, after: Rig, table: str) -> Mapping[str, list[Change]]:
    """Rack id → the changes of its amplifiers, or of its sockets."""
    was, now = (
        {item.id: (rack.id, item) for rack in rig.racks for item in getattr(rack, table)}
        for rig in (before, after)
    )
    changes: dict[str, list[Change]] = defaultdict(list)
    for name in dict.fromkeys((*was, *now)):
        rack = (now.get(name) or was[name])[0]
        changes[rack] += _held(_Thing(table.removesuffix("s"), name), was.get(name), now.get(name))
    return changes


def _held(thing: _Thing, was: tuple[str, Any] | None, now: tuple[str, Any] | None) -> Iterator[Change]:
    """Changes of an amplifier or a socket, given as its rack's id and itself; None where it is not there."""
    if was is None or now is None:
        rack = (now or was or ("",))[0]
        yield from _matched(thing, was and was[1], now and now[1], rack)
        return
    (old_rack, old), (new_rack, new) = was, now
    if old_rack == new_rack:
        yield from _fields(thing, old, new)
        return
    places = [
        f"{rack} unit {item.unit}" if isinstance(item, Amplifier) else rack
        for rack, item in ((old_rack, old), (new_rack, new))
    ]
    sentence = f"Moved {thing.what} {thing.id} from {places[0]} to {places[1]}"
    yield Change("moved", *thing, "rack", places[0], places[1], sentence)
    place = _called(Amplifier, "unit")
    yield from (change for change in _fields(thing, old, new) if change.key != place)


# --- fields -------------------------------------------------------------------------------------------


def _fields(thing: _Thing, old: Struct, new: Struct, within: str = "") -> Iterator[Change]:
    """Changes field by field, `within` being the field of the thing that these are parts of."""
    if old is new:
        return
    by_parts = _BY_PARTS.get(type(old), set())
    for field in fields(old):
        if field.name not in by_parts:
            key = _called(type(old), field.name)
            key = key if key.startswith(within) else f"{within} {key}"
            form = labels.field(type(old), field.name)
            yield from _value(thing, key, getattr(old, field.name), getattr(new, field.name), form)
    if isinstance(old, Amplifier) and isinstance(new, Amplifier):
        yield from _channels(old, new)
    if isinstance(old, Socket) and isinstance(new, Socket):
        yield from _poles(old, new)


def _value(thing: _Thing, key: str, old: Any, new: Any, form: labels.Field | None = None) -> Iterator[Change]:
    if old == new:
        return
    if _is_record(old) and _is_record(new):
        yield from _fields(thing, old, new, key)
    elif isinstance(old, Mapping) and isinstance(new, Mapping):
        for name in dict.fromkeys((*old, *new)):
            yield from _value(thing, f"{key.removesuffix('s')} {name}", old.get(name), new.get(name))
    elif any(isinstance(part, Section) for part in (*_parts(old), *_parts(new))):
        yield from _table("section", old, new, thing.id)
    else:
        yield _changed(thing, key, _shown(old, form), _shown(new, form), _same_value(old, new))


def _channels(old: Amplifier, new: Amplifier) -> Iterator[Change]:
    found = [
        change
        for i in range(max(len(old.channels), len(new.channels)))
        for change in _fields(_Thing("channel", channel_name(new.id, i)), old.channel(i), new.channel(i))
    ]
    yield from found or _listed(_Thing("amplifier", new.id), "channels", old.channels, new.channels)


def _poles(old: Socket, new: Socket) -> Iterator[Change]:
    thing, pairs = _Thing("socket", new.id), range(max(len(old.poles), len(new.poles)))
    wired = [[poles[i] if i < len(poles) else "" for i in pairs] for poles in (old.poles, new.poles)]
    found = [
        _changed(thing, f"pole pair {i + 1}", _pole(was), _pole(now))
        for i, (was, now) in enumerate(zip(*wired, strict=True))
        if was != now
    ]
    yield from found or _listed(thing, "pole pairs", old.poles, new.poles)


def _pole(text: str) -> str:
    """What drives a pole pair: `A1.1`, `A1.1 reversed`."""
    return f"{text[1:]} reversed" if text.startswith("-") else text or "not wired"


def _listed(thing: _Thing, key: str, old: tuple[Any, ...], new: tuple[Any, ...]) -> Iterator[Change]:
    """That a list names more parts or fewer, which are at rest either way."""
    if len(old) != len(new):
        yield _changed(thing, key, f"{len(old)} listed", f"{len(new)} listed")


def _changed(thing: _Thing, key: str, before: str, after: str, same_value: bool = False) -> Change:
    remark = " (same value)" if same_value else " (written differently)" if before == after else ""
    of = thing.id or ("" if key.startswith(thing.what) else thing.what)
    sentence = f"{of} {key}: {_apart(before, after)}{remark}".lstrip()
    if key in _STATES:
        was, now = ("working" if value == "ok" else value for value in (before, after))
        sentence = f"{thing.what.capitalize()} {thing.id}{_STATES[key]}: {was} → {now}"
    return Change("changed", *thing, key, before, after, sentence)


# --- words --------------------------------------------------------------------------------------------


def _called(kind: type[Struct], name: str) -> str:
    """What a form calls a field, with a small letter; where no form has it, what a file does."""
    form = labels.field(kind, name)
    if form is None:
        return next(f.encode_name for f in fields(kind) if f.name == name).replace("_", " ")
    return form.called if form.called[:2].isupper() else form.called[:1].lower() + form.called[1:]


def _shown(value: Any, form: labels.Field | None) -> str:
    """A field's value as its form has it, with its unit."""
    if form is None:
        return _text(value)
    if form.words and isinstance(value, str):
        meant = dict(zip(get_args(form.kind), form.words, strict=True))[value]
        return meant if meant.casefold().startswith(typeset(value).casefold()) else _text(value)
    if value in (None, "", ()) and form.empty:
        return form.empty
    if form.percent and value is not None:
        return f"{100 * value:g} %"
    return f"{_text(value)} {form.unit}".strip()


def _text(value: Any) -> str:
    """A field's value as a person reads it, on one line."""
    match value:
        case None:
            return "not stated"
        case bool():
            return "yes" if value else "no"
        case float():
            return f"{value:g}"
        case "" | ():
            return "none"
        case Rating():
            return f"{value.power} into {value.load}"
        case Channel():
            return f"{value.feed or 'no feed'}{' failed' if value.state == 'failed' else ''}"
        case ((float(), *_), *_):
            return f"{len(value)} points"
        case tuple():
            return _joint(value).join(
                " + ".join(part) or "nothing" if isinstance(part, tuple) else _text(part) for part in value
            )
        case Struct() if _is_record(value):
            return ", ".join(_text(part) for _, part in _stated(value))
        case Quantity():
            return str(value)
        case _:
            return typeset(" ".join(str(value).split())) or "blanks"


def _joint(value: tuple[Any, ...]) -> str:
    if isinstance(value[0], Quantity):
        return " to "
    return " | " if isinstance(value[0], tuple) else ", "


def _summary(item: Struct, rack: str = "") -> str:
    """What is stated of a thing that came or went."""
    if isinstance(item, AmplifierModel | LoudspeakerModel | CableModel | ConnectorModel):
        return " ".join(item.name.split())
    apart = {"id"} | (_BY_PARTS[Rack] if isinstance(item, Rack) else set())
    poles = {"poles": ", ".join(map(_pole, item.poles))} if isinstance(item, Socket) else {}
    stated = [
        f"{_called(type(item), key)} {poles.get(key) or _shown(value, labels.field(type(item), key))}"
        for key, value in _stated(item)
        if key not in apart
    ]
    return ", ".join((*([f"rack {rack}"] if rack else []), *stated))


def _stated(item: Struct) -> Iterable[tuple[str, Any]]:
    """The names and values of the fields that are not at their default; of a circuit its phase always."""
    for field in fields(item):
        value = getattr(item, field.name)
        if value not in (field.default, {}) or (isinstance(item, Circuit) and field.name == "phase"):
            yield field.name, value


def _sentence(start: str, summary: str) -> str:
    return f"{start}: {summary}" if summary else start


def _apart(before: str, after: str) -> str:
    """All that differs of two texts: `none → Ring the bell.`, of long ones `… stands on its side … → … stands upright …`."""
    words = [text.split(" ") for text in (before, after)]
    first = last = 0
    if max(len(before), len(after)) > _LONG:
        first = _alike(*words)
        last = _alike(*(each[first:][::-1] for each in words))
    first, last = max(0, first - _NEAR), max(0, last - _NEAR)
    start, end = ("… " if first else ""), (" …" if last else "")
    return " → ".join(f"{start}{' '.join(each[first : len(each) - last])}{end}" for each in words)


def _alike(words: Sequence[str], others: Sequence[str]) -> int:
    """How many of both are the same from the first on."""
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(words, others, strict=False)))


def _same_value(old: Any, new: Any) -> bool:
    """Whether two quantities, or bands, are one value written in two ways."""
    parts = [_parts(old) or (old,), _parts(new) or (new,)]
    if len(parts[0]) != len(parts[1]):
        return False
    return all(
        isinstance(a, Quantity) and isinstance(b, Quantity) and math.isclose(a.value, b.value, rel_tol=1e-9)
        for a, b in zip(*parts, strict=True)
    )


def _parts(value: Any) -> tuple[Any, ...]:
    return value if isinstance(value, tuple) else ()


def _is_record(value: Any) -> bool:
    return isinstance(value, Struct) and not isinstance(value, Quantity)
