"""What undo and redo go back to, kept with the crash journal, so that a kill takes neither.

A log that only grows: a line for each record since which there is something else to undo or redo. A line says how much
of what the line before told stays, and what comes on top of it. A table that rigs share is written once, and a rig is made
of its tables only when it is asked for. The journal puts the lines on the disk; a line that is damaged ends what is read.
"""

import functools
import json
import zlib
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from rackwright.model.rig import Rig
from rackwright.store.toml import former
from rackwright.store.toml.decode import decode
from rackwright.store.toml.encode import kept, plain


class UndoError(Exception):
    """A rig of the past that can't be read. The message says so to a person."""


class Moment(NamedTuple):
    """A rig as it was before an edit, or after one that was undone, and what the edit was."""

    label: str
    rig: Rig | Callable[[], Rig]
    """The latter where another session left it: it is read when it is asked for, and raises UndoError."""
    in_show: bool = False
    """Whether the edit lock lets the edit through, and with it its undoing."""
    when: str = ""
    """When the edit was made, as `night.moment` writes it; empty where that is not known."""

    def was(self) -> Rig:
        """The rig. Raises UndoError."""
        return self.rig() if callable(self.rig) else self.rig


Stack = Sequence[Moment]


class Tables:
    """The tables of rigs as JSON: each is written once while the rigs that share it are looked at one after the other."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[object, str]] = {}

    def texts(self, rig: Rig) -> dict[str, str]:
        """Each table of a rig by its key in the rig file."""
        known, self._known = self._known, {}
        for key, value in kept(rig):
            was, text = known.get(key, (None, ""))
            self._known[key] = value, text if text and was is value else json.dumps(plain(value))
        return {key: text for key, (_, text) in self._known.items()}


class UndoLog:
    """The lines, and what they tell."""

    def __init__(self, content: bytes = b"") -> None:
        """Go on from the lines that an earlier session left."""
        self.content = bytearray()
        self.stacks: tuple[tuple[Moment, ...], tuple[Moment, ...]] = ((), ())
        """The edits made and those undone, each the latest last."""
        self._count = 0
        self._numbers: dict[tuple[str, str], int] = {}
        self.tables = Tables()
        """What encodes the rigs: the journal's own record shares their tables."""
        self._read(content)

    def note(self, past: Stack, future: Stack) -> None:
        """Add a line where there is something else to undo or redo than before."""
        fresh: list[str] = []
        told = [self._onto(*each, fresh) for each in zip(self.stacks, (past, future), strict=True)]
        before, self.stacks = self.stacks, (tuple(past), tuple(future))
        if any(new or same < len(was) for (same, new), was in zip(told, before, strict=True)):
            body = json.dumps([fresh, *told]).encode("ascii")
            self.content += b"%08x %s\n" % (zlib.crc32(body), body)

    def _onto(self, was: Stack, now: Stack, fresh: list[str]) -> tuple[int, list[Any]]:
        """How much of what was there stays, and what comes on top."""
        pairs = zip(was, now, strict=False)
        same = next((at for at, (a, b) in enumerate(pairs) if a is not b), min(len(was), len(now)))
        return same, [self._told(each, fresh) for each in now[same:]]

    def _told(self, moment: Moment, fresh: list[str]) -> list[Any]:
        """A moment by the numbers of its tables, of which those not written yet are `fresh`; by none where it can't be read."""
        where: dict[str, int] = {}
        try:
            texts = self.tables.texts(moment.was())
        except UndoError:
            texts = {}
        for key, text in texts.items():
            if (number := self._numbers.get((key, text))) is None:
                number = self._numbers[key, text] = self._count
                self._count += 1
                fresh.append(text)
            where[key] = number
        return [moment.label, moment.in_show, moment.when, where]

    def _read(self, content: bytes) -> None:
        tables: list[str] = []
        for line in content.splitlines(keepends=True):
            try:
                digest, _, body = line.partition(b" ")
                if not line.endswith(b"\n") or int(digest, 16) != zlib.crc32(body[:-1]):
                    break
                fresh, *told = json.loads(body)
                past, future = (
                    (*was[:same], *(_moment(tables, *each) for each in new))
                    for was, (same, new) in zip(self.stacks, told, strict=True)
                )
            except (ValueError, TypeError, RecursionError):  # whole, but from another version of the program
                break
            tables += fresh
            self.stacks = past, future
            self.content += line
        self._count = len(tables)


def _moment(tables: Sequence[str], label: str, in_show: bool, when: str, where: Mapping[str, int]) -> Moment:
    @functools.cache
    def rig() -> Rig:
        try:
            data: dict[str, Any] = {key: json.loads(tables[number]) for key, number in where.items()}
            found, problems = decode(former.rig_of_today(data), Rig)
        except (ValueError, IndexError, TypeError, RecursionError):
            found, problems = None, ()
        if found is None or problems:
            raise UndoError("This can't be undone: it was kept by another version of this program.")
        return found

    return Moment(label, rig, in_show, when)
