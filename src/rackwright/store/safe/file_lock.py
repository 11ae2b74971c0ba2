"""The lock on a rig file: one session edits it, any other of the same user opens it read-only and is told who has it.

Advisory: it keeps out this program only. It ends with the process, however that ends; a lock file left behind stands
in nobody's way. The lock file is kept in the user's folder, not beside the rig, so sessions of another user, or with
another such folder, don't see it.
"""

import contextlib
import os
import time
from datetime import datetime
from pathlib import Path
from typing import Literal, NamedTuple

import msgspec
from msgspec import Struct

from rackwright.store import files
from rackwright.store.safe import state_folder
from rackwright.store.safe.fingerprint import fingerprint_of
from rackwright.store.safe.os_lock import Grip, is_held, take
from rackwright.store.safe.process import Owner, this_process

_UNSURE = "its disk can't lock files"
_OTHER = "another session"


class Held(NamedTuple):
    """Another session has the file."""

    who: str
    """Such as "anna on rack-pc, process 4711, since 19:42"."""


class Lock:
    """The file is this session's to edit, until `release`."""

    def __init__(self, file: Path | None, grip: Grip | None, trouble: str = "") -> None:
        self._file, self._grip = file, grip
        self.trouble = trouble
        """Where no lock can be had here: a sentence that says so. Empty where the lock holds."""

    def release(self) -> None:
        """Let others edit the file. Releasing again does nothing."""
        if self._grip is None or self._file is None:
            return
        with contextlib.suppress(OSError):  # a lock file left behind is in nobody's way
            self._file.unlink()
        os.close(self._grip.handle)
        self._grip = None


class Holder(Struct, frozen=True):
    """What stands in a lock file: who holds it."""

    owner: Owner
    since: datetime

    def __str__(self) -> str:
        since = self.since.astimezone()
        today = since.date() == datetime.now().astimezone().date()
        return f"{self.owner}, since {since.strftime('%H:%M' if today else '%Y-%m-%d %H:%M')}"


def acquire(path: str | os.PathLike[str]) -> Lock | Held:
    """Lock a rig file, which need not exist yet; Held where another session has it.

    Where no lock can be had (a full, read-only or lockless disk) the answer is a Lock that tells so as its `trouble`.
    """
    try:
        file = state_folder.folder("locks") / f"{key(path)}.lock"
        grip = take(file)
        if grip is None:
            return Held(str(_signed(file) or _OTHER))
    except OSError as error:
        return Lock(None, None, _trouble(error.strerror or str(error)))
    former = None if grip.sure else _holder(file)
    if former is not None and former.owner.lives():
        os.close(grip.handle)
        return Held(str(former))
    with contextlib.suppress(OSError):  # held all the same, only not by whom
        _sign(grip.handle)
    return Lock(file, grip, "" if grip.sure else _trouble(_UNSURE))


def holder(path: str | os.PathLike[str]) -> str:
    """Who has the file now, of other sessions or this one; empty where nobody has it. Raises OSError."""
    who = _held_by(path)
    return "" if who is None else str(who) if isinstance(who, Holder) else _OTHER


def owner(path: str | os.PathLike[str]) -> Owner | None:
    """The process that has the file; None where none has it, or it has not signed. Raises OSError."""
    who = _held_by(path)
    return who.owner if isinstance(who, Holder) else None


def _held_by(path: str | os.PathLike[str]) -> Holder | Literal["unsigned"] | None:
    file = state_folder.folder("locks") / f"{key(path)}.lock"
    try:
        held = is_held(file)
    except FileNotFoundError:
        return None
    if held is None:  # its disk can't tell: ask the process
        signed = _holder(file)
        return signed if signed is not None and signed.owner.lives() is not False else None
    return (_signed(file) or "unsigned") if held else None


def key(path: str | os.PathLike[str]) -> str:
    """The same for every way of naming one file."""
    return fingerprint_of(os.fsencode(os.path.realpath(path)))[:32]


def _trouble(reason: str) -> str:
    return f"Make sure that no other session edits this rig: it can't be locked ({reason})."


def _sign(handle: int) -> None:
    holder = Holder(this_process(), datetime.now().astimezone())
    os.ftruncate(handle, 0)
    os.pwrite(handle, msgspec.json.encode(holder), 0)


def _signed(file: Path) -> Holder | None:
    """Who holds the lock. Waits a moment for one who has just taken it and is about to sign."""
    for _ in range(10):
        holder = _holder(file)
        if holder is not None and holder.owner.lives() is not False:
            return holder
        time.sleep(0.02)
    return None


def _holder(file: Path) -> Holder | None:
    try:
        holder = msgspec.json.decode(files.read(file), type=Holder)
        str(holder)  # a moment may be one that the local clock can't tell
    except (OSError, ValueError, OverflowError, RecursionError):
        return None
    return holder
