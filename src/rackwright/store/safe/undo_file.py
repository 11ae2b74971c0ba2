"""What undo and redo go back to, beside a journal that one session leaves for the next.

Written once, when a session gives up control or ends in good order, not at every key. The tables that rigs share are
written once, and a rig is made of them only when it is asked for. One that does not belong to the journal's last record
is left out: undo then begins anew, and nothing else is lost.
"""

import contextlib
import hashlib
import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from rackwright.model.rig import Rig
from rackwright.store import files
from rackwright.store.safe import atomic_write
from rackwright.store.toml import former
from rackwright.store.toml.decode import decode
from rackwright.store.toml.encode import kept, plain

LARGEST = 200_000_000
"""Bytes: hundreds of edits of the largest rig."""


class UndoError(Exception):
    """A rig of the past that can't be read. The message says so to a person."""


class Kept(NamedTuple):
    """A rig before an edit, or after one that was undone."""

    label: str
    in_show: bool
    rig: Callable[[], Rig]
    """Raises UndoError."""


def write(file: Path, count: int, past: Sequence[Kept], future: Sequence[Kept]) -> None:
    """Keep these for the journal's record of that count. Raises SaveError."""
    tables: dict[str, int] = {}
    known: dict[tuple[str, int], int] = {}
    rigs = [each.rig() for each in (*past, *future)]  # held, so that no identity comes twice
    told = []
    for each, rig in zip((*past, *future), rigs, strict=True):
        where = {}
        for name, value in kept(rig):
            if (at := known.get((name, id(value)))) is None:
                at = known[name, id(value)] = tables.setdefault(json.dumps(plain(value)), len(tables))
            where[name] = at
        told.append([each.label, each.in_show, where])
    body = json.dumps([count, len(past), list(tables), told]).encode("ascii")
    atomic_write.write(file, hashlib.sha256(body).hexdigest().encode("ascii") + b"\n" + body)


def read(file: Path, count: int) -> tuple[tuple[Kept, ...], tuple[Kept, ...]]:
    """What is undone and what is made again from the record of that count on; nothing where none of it is kept."""
    with contextlib.suppress(OSError, ValueError, TypeError, RecursionError):
        digest, _, body = files.read(file, LARGEST).partition(b"\n")
        if hashlib.sha256(body).hexdigest().encode("ascii") == digest:
            of, split, tables, told = json.loads(body)
            if of == count:
                found = [Kept(label, in_show, _later(tables, where)) for label, in_show, where in told]
                return tuple(found[:split]), tuple(found[split:])
    return (), ()


def _later(tables: Sequence[str], where: dict[str, int]) -> Callable[[], Rig]:
    def rig() -> Rig:
        data: dict[str, Any] = {name: json.loads(tables[at]) for name, at in where.items()}
        found, problems = decode(former.rig_of_today(data), Rig)
        if found is None or problems:
            raise UndoError("This can't be undone: it was kept by another version of this program.")
        return found

    return rig
