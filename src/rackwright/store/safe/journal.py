"""The crash journal: the rig as it was at the last key, on the disk before the screen shows it.

A journal is a file of two records (`journal_record`): what cuts one short leaves the one before it untouched. The file is
there only while something is unsaved, is held (`os_lock`) by the session that writes it, and is text that a person can read.
With the rig goes what undo goes back to (`undo_log`). Does not look at the rig file itself.
"""

import contextlib
import errno
import functools
import json
import os
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import msgspec
from msgspec import Struct

from rackwright.model import rules
from rackwright.model.rig import Rig
from rackwright.store.home import home
from rackwright.store.safe import state_folder
from rackwright.store.safe.journal_record import About, framed, is_large, newest, read_all, read_slots, write
from rackwright.store.safe.os_lock import Grip, is_held, leads_to, take
from rackwright.store.safe.process import Owner, this_process
from rackwright.store.safe.undo_log import Moment, Stack, UndoLog
from rackwright.store.toml import former
from rackwright.store.toml.decode import decode

_FOLDER = "journal"
_PATIENCE = 20
"""Tries for a file that another session may be looking at just now."""
_MOST_TOLD = 20


class JournalError(Exception):
    """A journal that can't be recovered. The message says to a person why and what to do."""


class Journal:
    """Where a session writes its rig down before showing it; a recorder as the console wants it.

    `path` is the rig file, None for a rig that has none yet; set it when the rig is saved under another name.
    """

    def __init__(self, path: str | os.PathLike[str] | None = None) -> None:
        self.path = None if path is None else Path(os.path.abspath(path))
        self.base: str | None = None
        """The fingerprint of the rig file that the work is based on, for whoever recovers it."""
        self.edit_locked = False
        """Whether the rig is locked against edits: that is not to be lost with the link."""
        self.place = ""
        """What is selected."""
        self.chosen: tuple[str, ...] = ()
        """What is chosen for an edit on many at once."""
        self._given = False
        self._file: Path | None = None
        self._grip: Grip | None = None
        self._count = 0
        self._slot = 0
        """The slot of the last good record."""
        self._large = False
        """Whether that record reaches over the other slot."""
        self._log = UndoLog()
        self._logged = 0
        """How many bytes of it stand in the file."""

    def record(self, rig: Rig, past: Stack = (), future: Stack = ()) -> None:
        """Write the rig down, and what undo and redo go back to; once this returns, it outlives a kill and a power cut.

        Raises OSError; the rig recorded before is then still safe.
        """
        self._count += 1  # also where this fails: no two records may ever have the same count
        self._log.note(past, future)
        content = self._content(rig)
        if self._grip is None or self._large or is_large(content) or not self._in_place(self._grip):
            self._begin(content)
        else:
            other = 1 - self._slot
            self._logged = write(self._grip.handle, content, other, self._log.content, self._logged)
            self._slot = other

    def discard(self) -> None:
        """Forget what was recorded: the rig is saved, or given up.

        Where the disk refuses, the journal stays, and the next start offers what it holds.
        """
        if self._file is None:
            return
        try:
            self._file.unlink(missing_ok=True)
        except OSError:
            return
        with contextlib.suppress(OSError):
            state_folder.settle(self._file.parent)
        self._file = None
        self.close()

    @property
    def holds_work(self) -> bool:
        """Whether a rig is recorded."""
        return self._grip is not None

    def leave(self, rig: Rig, past: Stack, future: Stack) -> None:
        """Write down all that the next session goes on from, and let go of it. Raises OSError; then it is this session's still."""
        self._given = True
        try:
            self.record(rig, past, future)
        except OSError:
            self._given = False
            raise
        self.close()

    @property
    def undo(self) -> tuple[tuple[Moment, ...], tuple[Moment, ...]]:
        """What there is to undo and to redo, as of the last record, the latest last."""
        return self._log.stacks

    def close(self) -> None:
        """Let go of the journal and leave it to be recovered."""
        if self._grip is not None:
            os.close(self._grip.handle)
        self._grip = self._file = None

    def _content(self, rig: Rig) -> bytes:
        about = About(
            count=self._count,
            path=None if self.path is None else str(self.path),
            name=rig.name,
            when=datetime.now().astimezone(),
            age=(self._run, time.monotonic()),
            owner=this_process(),
            base=self.base,
            edit_locked=self.edit_locked,
            place=self.place,
            chosen=self.chosen,
            given=self._given,
            undo=len(self._log.content),
        )
        # json rather than msgspec, which refuses the odd text that a key or a file's name can bring, such as half a
        # character; and rather than TOML, which takes several times as long, at every key
        tables = (f"{json.dumps(key)}: {text}" for key, text in self._log.tables.texts(rig).items())
        return framed(f"{json.dumps(msgspec.to_builtins(about))}\n{{{', '.join(tables)}}}".encode("ascii"))

    @functools.cached_property
    def _run(self) -> int:
        """The number of this run of the machine: that of another journal of this run, else one more than all."""
        boot = this_process().boot
        known = {about.age[0]: about.owner.boot for about in _all_about()}
        return next((run for run, of in known.items() if boot and of == boot), max(known, default=0) + 1)

    def _in_place(self, grip: Grip) -> bool:
        """Whether what is written still lands under the journal's name: someone may have cleared the folder."""
        return self._file is not None and leads_to(self._file, grip.handle)

    def _begin(self, content: bytes) -> None:
        """Put a new file with this record in place, all at once. Raises OSError and leaves what was there."""
        folder = state_folder.folder(_FOLDER)
        file = self._file or folder / f"{os.urandom(8).hex()}.journal"
        fresh = file.with_suffix(".new")
        grip = take(fresh, tries=_PATIENCE)
        if grip is None:
            raise OSError(errno.EAGAIN, "another session has the journal")
        try:
            logged = write(grip.handle, content, 0, self._log.content)
            os.replace(fresh, file)
        except BaseException:
            with contextlib.suppress(OSError):
                fresh.unlink()
            os.close(grip.handle)
            raise
        self.close()
        self._file, self._grip, self._slot, self._large = file, grip, 0, is_large(content)
        self._logged = logged
        state_folder.settle(folder)


class Recoverable(Struct, frozen=True):
    """A journal in the user's folder: work that was not saved."""

    path: Path | None
    """The rig file it belongs to; None for a rig that was never saved."""
    name: str
    """The rig's."""
    when: datetime | None
    """When it was last recorded, by the clock of then."""
    owner_alive: bool
    """Whether the session that writes it still runs, as after a dropped link that the machine hasn't noticed."""
    owner: Owner | None
    damage: str
    """Why there is no rig to be had, and what to do; empty where there is one."""
    file: Path
    text: str
    age: tuple[int, float]
    count: int
    base: str | None = None
    """The fingerprint of the rig file that the work is based on; None where that is not known."""
    edit_locked: bool = False
    """Whether the rig was locked against edits."""
    place: str = ""
    """What was selected."""
    chosen: tuple[str, ...] = ()
    """What was chosen for an edit on many at once."""

    def rig(self) -> Rig:
        """The rig as it was last recorded. Raises JournalError where it is damaged, or of another version."""
        if self.damage:
            raise JournalError(self.damage)
        try:
            data = json.loads(self.text)
            rig, problems = decode(former.rig_of_today(data) if isinstance(data, dict) else data, Rig)
        except (ValueError, RecursionError):
            rig, problems = None, ()
        if rig is not None and not problems:
            problems = rules.check(rig)
        if rig is None or problems:
            told = _damage(self.file, "for it is of another version of this program")
            raise JournalError(" ".join([told, *map(str, problems[:_MOST_TOLD])]))
        return rig


def recoverable() -> tuple[Recoverable, ...]:
    """Every journal but those this process is writing, newest first, damaged ones last. Removes none. Raises OSError.

    Those with `owner_alive` can be read, but not taken over.
    """
    _sweep()
    found = [journal for file in _files() if (journal := _look(file))]
    others = (each for each in found if not (each.owner_alive and each.owner == this_process()))
    return tuple(sorted(others, key=lambda each: (not each.damage, each.age), reverse=True))


def take_over(found: Recoverable) -> Journal:
    """The journal, now this session's: what it holds stays, and new records go where they went.

    Raises JournalError where it is damaged, or another session has it or was faster; OSError.
    """
    if found.damage:
        raise JournalError(found.damage)
    try:
        grip = take(found.file, create=False, tries=_PATIENCE)
    except FileNotFoundError:
        raise JournalError(
            f'Look at the list again: the unsaved work on "{found.name}" was saved or discarded elsewhere.'
        ) from None
    if grip is None or (not grip.sure and found.owner_alive and found.owner and found.owner.lives()):
        if grip is not None:
            os.close(grip.handle)
        raise JournalError(f'Quit "{found.name}" in another session first: {found.owner} has it open.')
    content = read_all(grip.handle)
    record = newest(content)
    if record is None or record.about.count != found.count:
        os.close(grip.handle)
        raise JournalError(f'Look at the list again: "{found.name}" was worked on in another session.')
    journal = Journal(found.path)
    journal._file, journal._grip = found.file, grip
    journal.base, journal.edit_locked = found.base, found.edit_locked
    journal.place, journal.chosen = found.place, found.chosen
    journal._count, journal._slot, journal._large = found.count, record.slot, record.large
    journal._log = UndoLog(content[record.behind : record.behind + record.about.undo])
    journal._logged = len(journal._log.content)
    return journal


# ---- Files ---------------------------------------------------------------------------------------------


def _files(suffix: str = ".journal") -> list[Path]:
    try:
        with os.scandir(home() / _FOLDER) as entries:
            return [Path(entry.path) for entry in entries if entry.name.endswith(suffix)]
    except FileNotFoundError:
        return []


def _sweep() -> None:
    """Remove what was being written when a session was killed before it ever was a journal."""
    for file in _files(".new"):
        with contextlib.suppress(OSError):
            grip = take(file, create=False)
            if grip is None:
                continue
            if grip.sure:
                file.unlink()
            os.close(grip.handle)


def _look(file: Path) -> Recoverable | None:
    """The journal in that file; None where it was discarded meanwhile."""
    try:
        held = is_held(file)
        # read again, as its writer may be in the midst of it
        record = newest(read_slots(file)) or newest(read_slots(file))
    except FileNotFoundError:
        return None
    except OSError as error:
        return _damaged(file, f"for the disk says: {error.strerror or error}")
    if record is None:
        return _damaged(file, "for it is damaged, or of another version of this program")
    about = record.about
    return Recoverable(
        path=None if about.path is None else Path(about.path),
        name=about.name,
        when=about.when,
        owner_alive=not about.given and about.owner.lives() is True if held is None else held,
        owner=about.owner,
        damage="",
        file=file,
        text=record.text,
        age=about.age,
        count=about.count,
        base=about.base,
        edit_locked=about.edit_locked,
        place=about.place,
        chosen=about.chosen,
    )


def _damaged(file: Path, why: str) -> Recoverable:
    return Recoverable(None, file.stem, None, False, None, _damage(file, why), file, "", (0, 0.0), 0)


def _damage(file: Path, why: str) -> str:
    return f"Look into {file} with an editor: this journal of unsaved work can't be used, {why}."


def _all_about() -> Iterator[About]:
    for file in _files():
        with contextlib.suppress(OSError):
            if record := newest(read_slots(file)):
                yield record.about
