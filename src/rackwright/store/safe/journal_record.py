"""The records of a journal's file: two slots, written in turn, each record with a count and a checksum.

A record cut short by a kill or a power cut fails its checksum, and the one before it stands untouched in the other slot.
Which of the two is newer is never asked of the clock. Behind both stands what undo goes back to (`undo_log`), settled with
the record that tells how much of it holds.
"""

import contextlib
import json
import os
import re
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

import msgspec
from msgspec import Struct

from rackwright.store import files
from rackwright.store.safe.fingerprint import fingerprint_of
from rackwright.store.safe.process import Owner

SLOT = 1 << 20
"""Bytes from one slot to the other, so that no disk writes both in one go. A larger record gets a file to itself."""
LARGEST = 10 * files.LARGEST
"""Bytes: the largest rig, as JSON, in both slots."""
_HEAD = re.compile(rb"rackwright-journal 1 (\d{1,12}) ([0-9a-f]{64})\n")
_sync = getattr(os, "fdatasync", os.fsync)


class About(Struct, frozen=True):
    """What a record says besides the rig."""

    count: int
    path: str | None
    name: str
    when: datetime
    """For a person to read; decides nothing."""
    age: tuple[int, float]
    """Which run of the machine, counted from the oldest journal there was, and seconds within it."""
    owner: Owner
    base: str | None = None
    """What the rig file was when the work on it began, or was last saved: its fingerprint."""
    edit_locked: bool = False
    place: str = ""
    chosen: tuple[str, ...] = ()
    given: bool = False
    """Whether the session has let go of it for another to take it over."""
    undo: int = 0
    """Bytes of what undo goes back to, as of this record."""


class Record(NamedTuple):
    about: About
    text: str
    """The rig, as JSON with the keys of the rig file."""
    slot: int
    large: bool
    """Whether it reaches over the other slot."""
    behind: int
    """Where in the file what undo goes back to begins."""


def newest(content: bytes) -> Record | None:
    """The last whole record of a journal's content."""
    records = (_whole(content, slot) for slot in (0, 1))
    return max((r for r in records if r is not None), key=lambda r: r.about.count, default=None)


def _whole(content: bytes, slot: int) -> Record | None:
    """The record in a slot; None where there is none, or it was cut short."""
    head = _HEAD.match(content, slot * SLOT)
    if head is None:
        return None
    end = head.end() + int(head[1])
    body = content[head.end() : end]
    if _digest(body) != head[2]:
        return None
    about, _, text = body.partition(b"\n")
    try:
        read = msgspec.convert(json.loads(about), About)
        if b"\0" in os.fsencode(read.path or ""):
            return None
        read.when.astimezone()
        return Record(read, text.decode("ascii"), slot, end > (slot + 1) * SLOT, _behind(end))
    except (ValueError, OverflowError, RecursionError):  # whole, but from another version of the program
        return None


def framed(body: bytes) -> bytes:
    """A record with its head: how long its body is, and the checksum."""
    return b"rackwright-journal 1 %d %s\n" % (len(body), _digest(body)) + body


def _digest(body: bytes) -> bytes:
    return fingerprint_of(body).encode("ascii")


def is_large(content: bytes) -> bool:
    """Whether a record reaches over the other slot."""
    return len(content) > SLOT


def _behind(end: int) -> int:
    """Where the slots end, in one of which a record ends there."""
    return SLOT * max(2, -(-end // SLOT))


def write(handle: int, content: bytes, slot: int, log: bytes | bytearray = b"", logged: int = 0) -> int:
    """Write into that slot of the file, and behind the slots what `log` has more than so many bytes, and wait for the disk.

    Returns how much of the log is there then. Where the disk refuses only that, undo goes less far back, and the rig is safe
    all the same. Raises OSError.
    """
    with contextlib.suppress(OSError):
        _put(handle, log[logged:], _behind(len(content)) + logged)
        logged = len(log)
    _put(handle, content, slot * SLOT)
    _sync(handle)
    return logged


def _put(handle: int, content: bytes | bytearray, offset: int) -> None:
    rest = memoryview(content)
    while rest:
        written = os.pwrite(handle, rest, offset)
        rest, offset = rest[written:], offset + written


def read_slots(file: Path) -> bytes:
    """The slots of a journal, and what of a record reaches over both, but not what undo goes back to. Raises OSError."""
    with files.opened(file) as journal:
        content = journal.read(2 * SLOT)
        if head := _HEAD.match(content):
            content += journal.read(min(max(head.end() + int(head[1]) - len(content), 0), LARGEST))
    return content


def read_all(handle: int) -> bytes:
    with open(handle, "rb", closefd=False) as file:
        file.seek(0)
        return file.read()
