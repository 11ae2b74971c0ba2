"""Moves of a recovery: what the crew does with its hands, each as a pure edit of the rig and in words.

A move says which things of the rig it exchanges, and so can be made, taken back, and made on a rig that was
changed elsewhere since. Holds no search, and no rule of which move can be made: that is `possible_moves`'s.
"""

from collections.abc import Iterable
from typing import Any, Literal, TypeAlias, TypeVar, cast

from msgspec import Struct
from msgspec.structs import fields, replace

from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.places import ChannelPlace, PolePair
from rackwright.model.rig import NO_CHANNEL, Amplifier, Cabinet, Circuit, Feed, Line, Rack, Rig, Socket, Spare

MoveKind: TypeAlias = Literal[
    "pole", "line", "link", "feed", "mode", "mute", "amplifier", "circuit", "failure"
]
Item: TypeAlias = Amplifier | Cabinet | Circuit | Feed | Line | Rack | Socket | Spare
T = TypeVar("T")


class Swap(Struct, frozen=True):
    """One thing of the rig for another of its kind; None where there is none."""

    before: Item | None
    after: Item | None


class Move(Struct, frozen=True, kw_only=True):
    """One thing that the crew does."""

    kind: MoveKind
    place: ChannelPlace | PolePair | str
    """What is moved: a pole pair, a channel, or a line, a cabinet, an amplifier by its id."""
    old: str
    """From where or what; empty for nothing."""
    new: str
    by: str = ""
    """With what: the spare that is used; for a mute the line, and what hangs behind the cabinet."""
    swaps: tuple[Swap, ...]
    undoes: bool = False
    """Whether it takes back a move."""

    @property
    def key(self) -> tuple[str, ChannelPlace | PolePair | str, str, str]:
        """Equal for moves that do the same."""
        return self.kind, self.place, self.new, self.by

    @property
    def thing(self) -> str:
        """The id of the thing that is handled."""
        return self.place if isinstance(self.place, str) else self.place.thing

    @property
    def words(self) -> str:
        """What to do, verb first."""
        if self.kind == "feed" and not self.new:
            return f"Take the feed {self.old} off {self.place}."
        return (_BACK if self.undoes else _WORDS)[self.kind].format(
            place=self.place,
            socket=self.thing,
            pair=self.place.pair + 1 if isinstance(self.place, PolePair) else "",
            old=self.old,
            from_old=f" from {self.old}" if self.old else "",
            instead_of=f" instead of {self.old}" if self.old else "",
            new=self.new or "nothing",
            by=self.by,
            line=self._line,
        )

    @property
    def _line(self) -> str:
        """The line that a link adds."""
        ends = (swap.before if self.undoes else swap.after for swap in self.swaps)
        return next((item.id for item in ends if isinstance(item, Line)), "")

    def undone(self) -> "Move":
        """The move that takes this one back."""
        swaps = tuple(Swap(swap.after, swap.before) for swap in reversed(self.swaps))
        return replace(self, old=self.new, new=self.old, swaps=swaps, undoes=not self.undoes)


_WORDS: dict[MoveKind, str] = {
    "pole": "Re-patch pole pair {pair} of {socket}{from_old} to {new}.",
    "line": "Move {place} from socket {old} to socket {new}.",
    "link": "Link {place} on from {new} with a spare, {by}, as {line}{instead_of}: check first that it reaches.",
    "feed": "Give {place} the feed {new}{instead_of}.",
    "mode": "Set {place} and the other of its pair to {new} instead of {old}.",
    "mute": "Unplug {place}: pull {by}.",
    "amplifier": "Replace {place} by the spare {new}, wired and set the same.",
    "circuit": "Plug {place} into {new}{instead_of}: check first that its lead reaches.",
    "failure": "Mark {place} working.",
}
_BACK: dict[MoveKind, str] = _WORDS | {
    "pole": "Re-patch pole pair {pair} of {socket} from {old} back to {new}.",
    "line": "Move {place} from socket {old} back to socket {new}.",
    "link": "Take {line} out between {old} and {place}, and plug {new} in again.",
    "mute": "Plug {by} into {place} again.",
    "amplifier": "Put {place}, a {new}, back instead of the spare {old}.",
    "circuit": "Plug {place} back into {new}.",
}


def apply(rig: Rig, moves: Iterable[Move]) -> Rig:
    """The rig after those moves.

    What they don't touch may have been changed since they were found. Raises EditError where what they do touch
    has been.
    """
    for move in moves:
        for swap in move.swaps:
            rig = swapped(rig, swap)
    return rig


def swapped(rig: Rig, swap: Swap) -> Rig:
    """The rig with one thing exchanged. Raises EditError as `apply` does."""
    before, after = swap.before, swap.after
    if isinstance(before, Spare) and isinstance(after, Spare):
        spares = tuple(_merged(before, after, s) if s.id == before.id else s for s in rig.spares)
        return replace(rig, spares=spares)
    if before is None:
        return edits.unchecked(edits.add)(rig, cast(Line, after))
    if after is None:
        return edits.unchecked(edits.remove)(rig, before.id)
    now = _thing(rig, before)
    merged = _merged(before, after, now)
    changed = {
        field.name: getattr(merged, field.name)
        for field in fields(now)
        if getattr(merged, field.name) != getattr(now, field.name)
    }
    return edits.unchecked(edits.change)(rig, before.id, **changed)


def _as_long(key: str, before: Any, after: Any, now: Any) -> tuple[Any, Any, Any]:
    """Lists of channels or of poles that are not of one length, made so with what is not listed."""
    if key not in _UNLISTED or now in (before, after):
        return before, after, now
    length = max(map(len, (before, after, now)))
    filled = ((*each, *[_UNLISTED[key]] * (length - len(each))) for each in (before, after, now))
    return cast(tuple[Any, Any, Any], tuple(filled))


_UNLISTED = {"channels": NO_CHANNEL, "poles": ""}
"""What a channel or a pole pair is that isn't listed."""


def _thing(rig: Rig, like: Item) -> Item:
    """The thing of the rig that has the kind and the id of `like`. Raises EditError."""
    tables: dict[type[Item], Iterable[Item]] = {
        Amplifier: rig.amplifiers(),
        Socket: rig.sockets(),
        Line: rig.lines,
        Cabinet: rig.cabinets,
        Circuit: rig.circuits,
        Feed: rig.feeds,
        Rack: rig.racks,
    }
    for item in tables[type(like)]:
        if item.id == like.id:
            return item
    raise EditError(f"{like.id} is no longer there. Mark the failure again for new plans.")


def _merged(before: T, after: T, now: T, name: str = "") -> T:
    """`now` with all that changes from `before` to `after`. Raises EditError where that was changed otherwise."""
    if now == before:
        return after
    if before == after or now == after:
        return now
    if isinstance(before, Struct) and type(before) is type(now) is type(after):
        name = getattr(before, "id", name)
        parts: dict[str, Any] = {
            key: _merged(*_as_long(key, getattr(before, key), getattr(after, key), getattr(now, key)), name)
            for key in (field.name for field in fields(before))
        }
        return cast(T, type(before)(**parts))
    if isinstance(before, tuple) and isinstance(after, tuple) and isinstance(now, tuple):
        sizes = {len(before), len(after), len(now)}
        if len(sizes) == 1:
            parts_of = zip(before, after, now, strict=True)
            return cast(T, tuple([_merged(old, new, there, name) for old, new, there in parts_of]))
    raise EditError(f"{name} has been changed since. Mark the failure again for new plans.")
