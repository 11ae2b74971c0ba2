"""A copy on the other side of the stage: left becomes right in ids, names, positions, sides, feeds and circuits, or right left.

What is copied together refers to its like among the copies; what stays behind is led to its like on the other side where
the rig has one. Makes no feed and no circuit of its own: where there is none for that side, that of the first serves both.
"""

import re
from collections.abc import Collection, Iterable, Sequence
from typing import Any

from msgspec.structs import replace

from rackwright.model.edits.check import refuse_new_breach
from rackwright.model.edits.copies import (
    next_circuit,
    next_free_poles,
    next_free_source,
    next_of,
    unit_for_copy,
    working,
)
from rackwright.model.edits.references import repole
from rackwright.model.edits.sharing import TABLES, EditError, Item, contents, find, mapped, things, updated
from rackwright.model.index import pole_or_none
from rackwright.model.lines import Cabinet, Line, Side
from rackwright.model.racks import Amplifier, Channel, Rack, Socket
from rackwright.model.rig import Rig

_WORD = {"left": "right", "right": "left", "l": "r", "r": "l"}
_LETTER = r"(?<![A-Za-z0-9])(?P<before>[SHRshr]?)(?P<{0}>[{0}{1}])(?=\d|[-_ .]|$)"
_LEFT = re.compile(rf"(?<![A-Za-z])(?P<left>left)(?![a-z])|{_LETTER.format('L', 'l')}", re.IGNORECASE)
_RIGHT = re.compile(rf"(?<![A-Za-z])(?P<right>right)(?![a-z])|{_LETTER.format('R', 'r')}", re.IGNORECASE)
_COUNTED = re.compile(r"^[LRlr]\d")
"""A rack `R1`, a phase `L1`: a letter that is counted, and no side."""


def to_other_side(rig: Rig, names: Iterable[str]) -> tuple[Rig, tuple[str, ...]]:
    """The rig with copies of those things on the other side, and the ids of the copies, in order.

    A rack comes with what is in it, its lines and the cabinets on them, a cabinet with its line, a line with its cabinet
    where no other waits for it. Raises EditError where nothing of them tells a side, or there is no room.
    """
    chosen = tuple(dict.fromkeys(names))
    copied = _taken_along(rig, chosen)
    mirror = _Mirror(rig, copied)
    after = mirror.mirrored()
    refuse_new_breach(rig, after)
    return after, tuple(mirror.names[name] for name in chosen)


def _taken_along(rig: Rig, names: Sequence[str]) -> list[Item]:
    """The things of those ids and what comes with them."""
    found = {name: find(rig, name).item for name in names}
    for item in tuple(found.values()):
        if isinstance(item, Rack):
            found |= {thing.id: thing for thing in contents(item)}
    cabinets = {cabinet.id: cabinet for cabinet in rig.cabinets}
    racked = {name for name, item in found.items() if isinstance(item, Rack)}
    hangs = {s.id for rack in rig.racks if rack.id in racked for s in rack.sockets}
    for _ in rig.lines:  # down each chain
        hangs |= {line.to for line in rig.lines if line.source in hangs}
    found |= {name: cabinets[name] for name in hangs if name in cabinets}
    for line in rig.lines:
        if isinstance(found.get(line.to), Cabinet):
            found[line.id] = line
        elif line.id in found and line.to in cabinets:
            found[line.to] = cabinets[line.to]
    return [item for item in things(rig) if item.id in found]


class _Mirror:
    """The copying of things from one side to the other."""

    def __init__(self, rig: Rig, copied: Sequence[Item]) -> None:
        self.rig, self.copied = rig, copied
        self.pattern, self.side = _direction(copied)
        self.known = {item.id: item for item in things(rig)}
        self.names: dict[str, str] = {}
        for item in copied:
            self.names[item.id] = self._new_id({*self.known, *self.names.values()}, item.id)

    def _new_id(self, taken: Collection[str], name: str) -> str:
        moved = self.moved(name)
        return moved if moved != name and moved not in taken else next_of(taken, moved)

    def moved(self, text: str) -> str:
        """The text with the other side in place of this one."""
        return _moved(self.pattern, text)

    def like(self, name: str) -> str:
        """What stands on the other side for the thing of that id: its copy, the one so named, nothing where there is none."""
        if name in self.names:
            return self.names[name]
        moved, own = self.moved(name), self.known.get(name)
        there = self.known.get(moved)
        return moved if moved != name and type(there) is type(own) else ""

    def mirrored(self) -> Rig:
        """The rig with the copies, each table's after the last of what they were copied from."""
        rig = self.rig
        racked = {thing.id for item in self.copied if isinstance(item, Rack) for thing in contents(item)}
        for item in self.copied:
            if item.id not in racked:
                rig = self._placed(rig, item)
        return rig

    def _placed(self, rig: Rig, item: Item) -> Rig:
        table = TABLES[type(item)]
        if not isinstance(item, Amplifier | Socket):
            placed: Rig = self._with(rig, table, self._copy(rig, item))
            return placed
        rack = next(rack for rack in rig.racks if item in contents(rack))
        rack = next((each for each in rig.racks if each.id == self.like(rack.id)), rack)
        copy = self._copy(rig, item, rack)
        return updated(
            rig, racks=mapped(rig.racks, lambda r: self._with(r, table, copy) if r.id == rack.id else r)
        )

    def _with(self, holder: Any, table: str, copy: Item) -> Any:
        """The holder with a copy in that table, after the last of the originals and their copies."""
        held: tuple[Item, ...] = getattr(holder, table)
        ours = {*self.names, *self.names.values()}
        end = max((number for number, each in enumerate(held, 1) if each.id in ours), default=len(held))
        return updated(holder, **{table: (*held[:end], copy, *held[end:])})

    def _copy(self, rig: Rig, item: Item, rack: Rack | None = None) -> Any:
        """A copy for the other side, `rack` being where that of an amplifier or a socket goes."""
        words = {
            field: self.moved(getattr(item, field)) for field in ("name", "position") if hasattr(item, field)
        }
        if getattr(item, "side", ""):
            words["side"] = self.side
        copy: Any = replace(working(item), id=self.names[item.id], **words)
        match item:
            case Rack():
                amplifiers = mapped(item.amplifiers, lambda a: self._amplifier(rig, a, item))
                sockets = mapped(item.sockets, lambda s: self._socket(rig, s))
                reaches = tuple(self.like(each) or each for each in item.reaches)
                return replace(copy, amplifiers=amplifiers, sockets=sockets, reaches=reaches)
            case Amplifier() if rack is not None:
                unit = unit_for_copy(rig, rack, item)
                return replace(self._amplifier(rig, item, rack), unit=unit)
            case Socket():
                return self._socket(rig, item)
            case Line():
                source = self.like(item.source) or next_free_source(
                    rig, item.source, self._feed, self._over_there(item)
                )
                return replace(copy, source=source, to=self.like(item.to) or item.to)
        return copy

    def _over_there(self, line: Line) -> list[str]:
        """What cabinets of the other side hang on that are of the model of that at the end of a line, its like first."""
        sources = {each.to: each.source for each in self.rig.lines}
        model, moved = getattr(self.known.get(line.to), "model", ""), self.moved(line.to)
        there = [each.id for each in self.rig.cabinets if each.model == model and each.side == self.side]
        return [sources[name] for name in sorted(there, key=lambda name: name != moved) if name in sources]

    def _amplifier(self, rig: Rig, item: Amplifier, rack: Rack) -> Amplifier:
        circuit = self.like(item.circuit) or next_circuit(rig, rack, item)
        channels = mapped(item.channels, self._channel)
        reaches = tuple(self.like(each) or each for each in item.reaches)
        return replace(
            working(item), id=self.names[item.id], circuit=circuit, channels=channels, reaches=reaches
        )

    def _channel(self, channel: Channel) -> Channel:
        return updated(working(channel), feed=self._feed(channel.feed))

    def _feed(self, name: str) -> str:
        return self.like(name) or name

    def _socket(self, rig: Rig, item: Socket) -> Socket:
        driving = {pole.amplifier for text in item.poles if (pole := pole_or_none(text))}
        others = {name: other for name in driving if (other := self.like(name))}
        moved = tuple(repole(text, others) for text in item.poles) if others else ()
        poles = moved or next_free_poles(rig, item) or item.poles
        return replace(working(item), id=self.names[item.id], poles=poles)


def _moved(pattern: re.Pattern[str], text: str) -> str:
    """The text with the other side in place of that which is written so."""
    if _COUNTED.match(text):
        return text

    def turned(match: re.Match[str]) -> str:
        word = match.group().removeprefix(match.group("before") or "")
        other = _WORD[word.lower()]
        cased = other.upper() if word.isupper() else other.capitalize() if word[0].isupper() else other
        return (match.group("before") or "") + cased

    return pattern.sub(turned, text)


def on_side_of(cabinet: Cabinet, name: str) -> Cabinet:
    """The cabinet, its side and position those of the other side where `name` tells that and its own id this one."""
    own, other = map(side_told, (cabinet.id, name))
    if not own or not other or own == other:
        return cabinet
    position = _moved(_LEFT if own == "left" else _RIGHT, cabinet.position)
    return replace(cabinet, side=other if cabinet.side else "", position=position)


def side_told(name: str) -> Side:
    """The side that an id tells: `left` by `TOP-L1`; nothing where it tells none, or both."""
    left, right = (bool(each.search(name)) and not _COUNTED.match(name) for each in (_LEFT, _RIGHT))
    return "" if left == right else "left" if left else "right"


def _direction(copied: Sequence[Item]) -> tuple[re.Pattern[str], Side]:
    """What the side to leave is written as, and the other side. Raises EditError where nothing tells one."""
    texts = [
        text
        for item in copied
        for field in ("id", "name", "position")
        if (text := getattr(item, field, "")) and not _COUNTED.match(text)
    ]
    sides = [side for item in copied if (side := getattr(item, "side", ""))]
    if "left" in sides or any(_LEFT.search(text) for text in texts):
        return _LEFT, "right"
    if "right" in sides or any(_RIGHT.search(text) for text in texts):
        return _RIGHT, "left"
    raise EditError(
        f"Nothing of {copied[0].id} tells its side. Put L or left into its id or position, or set its side, then try again."
    )
