"""Rigs as files: open one into a session with its lock and journal, save it, notice what others did to it.

Knows no Textual. Whatever can go wrong with a disk is told in a sentence, and loses nothing.
"""

import contextlib
import datetime
import os
from collections.abc import Sequence
from pathlib import Path

from rackwright.console.session import ENDED, Session, Unrecorded
from rackwright.engine.recovery import Happening
from rackwright.model.rig import Rig
from rackwright.store import night_log, presets, recent, rig_file
from rackwright.store.home import home
from rackwright.store.safe import file_lock, journal
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.safe.fingerprint import fingerprint, fingerprint_of
from rackwright.store.toml.read import RigFileError


class Document:
    """A session and the file behind it."""

    def __init__(
        self, session: Session, held: file_lock.Lock | None = None, print_: str | None = None
    ) -> None:
        self.session = session
        self.lock = held
        self.fingerprint = print_
        """What the file was when it was last read or written."""
        self._signs: object = None
        """By what a change is noticed where another session has the file."""
        self._followed: Path | None = None
        """The journal of that session's unsaved work, if it has any: what it leaves behind is shown on."""
        self.given_up = False
        """Whether unsaved work goes when the document is closed."""
        self._note_base()
        session.log = self._log

    def _log(self, happened: Sequence[Happening]) -> None:
        """Note what happened in the night beside the file; of a rig with no file yet nothing is kept. Raises OSError."""
        session = self.session
        if session.path is None:
            return
        now = datetime.datetime.now().isoformat(timespec="seconds")
        events = [night_log.Event(time=now, by=session.initials or "", **each._asdict()) for each in happened]
        night_log.append(night_log.path_of(session.path), events)

    def close(self) -> None:
        """Let go of file and journal; unsaved work stays in the journal unless it was given up."""
        if self.lock is not None:
            self.lock.release()
        if self.given_up:
            self.session.recorder.discard()
        if isinstance(self.session.recorder, journal.Journal):
            self.session.recorder.close()

    def _note_base(self) -> None:
        """Have the journal say what the file was: who recovers the work must notice a change in between, too."""
        if isinstance(self.session.recorder, journal.Journal):
            self.session.recorder.base = self.fingerprint

    def follow(self) -> bool:
        """Where another session has the file, show what that makes of it; whether anything is new. Raises OSError."""
        session = self.session
        if not session.follows or session.path is None or (signs := _signs(session.path)) == self._signs:
            return False
        self._signs = signs
        session.held_by = file_lock.holder(session.path) or ENDED
        live = _live(session.path)
        if live is None and (left := leftover_of(session.path)) is not None and left.file == self._followed:
            live = left
        self._followed = live.file if live is not None else None
        try:
            if live is None:
                rig, self.fingerprint = read(session.path)
                saved: Rig | None = rig
            else:
                rig, self.fingerprint, saved = live.rig(), live.base, session.saved
                with contextlib.suppress(RigFileError):  # gone since: what it was stays what is saved
                    saved = rig_file.load(session.path)
        except (journal.JournalError, RigFileError):  # in the midst of a save: the next look finds it
            self._signs = None
            return False
        session.follow(rig, saved, live is not None and live.edit_locked)
        return True

    @property
    def changed_by_others(self) -> bool:
        """Whether the file is not what this session last read or wrote; a file that is gone counts as no change."""
        if self.session.path is None or self.fingerprint is None:
            return False
        try:
            now = fingerprint(self.session.path)
        except OSError:  # it can't be looked into any more: better asked than overwritten
            return True
        return now is not None and now != self.fingerprint

    def follows(self, rig: Rig, print_: str | None) -> None:
        """Note that the file holds that rig, as it was read just now."""
        self.session.saved, self.fingerprint = rig, print_
        self._note_base()

    def is_own(self, path: Path) -> bool:
        """Whether `path` leads to the document's own file, however it is written."""
        own = self.session.path
        return own is not None and os.path.realpath(path) == os.path.realpath(own)

    def save(self, path: Path | None = None) -> str:
        """Save, under another name where one is given; what to say of it. Raises SaveError."""
        session = self.session
        target = path or session.path
        if target is None:
            raise ValueError("a rig with no file needs a name to be saved under")
        taken = None if self.is_own(target) and not session.held_by else self._locked(target)
        try:
            aside = rig_file.save(session.rig, target)
        except SaveError:
            if taken is not None:
                taken.release()
            raise
        if taken is not None:
            if self.lock is not None:
                self.lock.release()
            self.lock = taken
        if session.held_by:
            session.held_by = ""
            if isinstance(session.recorder, Unrecorded):
                session.recorder = journal.Journal(target)
        if isinstance(session.recorder, journal.Journal):
            session.recorder.path = target.absolute()
        session.was_saved(target)
        self.fingerprint = fingerprint_of(rig_file.dumps(session.rig).encode("utf-8"))
        self._note_base()
        session.keep_lock()
        _remember(target, session.rig.name)
        kept = f" Your previous text, with its comments, is in {aside.name}." if aside else ""
        return f"Saved {target}.{kept}"

    def _locked(self, target: Path) -> file_lock.Lock:
        """The lock on a file that is not the document's own yet. Raises SaveError where another session has it."""
        taken = file_lock.acquire(target)
        if isinstance(taken, file_lock.Held):
            raise SaveError(target, f"it is open elsewhere: {taken.who}", "Choose another name.")
        return taken


def read(path: Path) -> tuple[Rig, str | None]:
    """The rig of a file, and the file's fingerprint. Raises RigFileError."""
    print_ = _fingerprint(path)
    return rig_file.load(path), print_


def opened(path: Path, former: Document | None = None) -> Document:
    """Open a rig file; `former`, where it is that file's, gives it up. Raises RigFileError."""
    rig, print_ = read(path)
    if former is not None and former.is_own(path):
        former.close()
    held = file_lock.acquire(path)
    if isinstance(held, file_lock.Held):
        session = Session(rig, path, Unrecorded(), saved=rig)
        session.held_by = held.who
        document = Document(session, None, print_)
        document.follow()
        return document
    _remember(path, rig.name)
    left = leftover_of(path)
    if left is None or not left.edit_locked:
        return Document(Session(rig, path, journal.Journal(path), saved=rig), held, print_)
    recorder = journal.take_over(left) if only_locked(left, rig) else journal.Journal(path)
    document = Document(Session(rig, path, recorder, saved=rig), held, print_)
    document.session.lock_edits(True)
    return document


def only_locked(left: journal.Recoverable, rig: Rig | None = None) -> bool:
    """Whether a session left nothing but that it had locked the rig, which `rig`, or else its file, tells."""
    try:
        return left.edit_locked and left.path is not None and left.rig() == (rig or rig_file.load(left.path))
    except (journal.JournalError, RigFileError):
        return False


def _live(path: Path) -> journal.Recoverable | None:
    """What a living session holds of that file and has not saved."""
    own = os.path.realpath(path)
    found = (f for f in journal.recoverable() if f.owner_alive and f.path is not None and not f.damage)
    return next((f for f in found if os.path.realpath(f.path or "") == own), None)


def _signs(path: Path) -> object:
    """What differs once the file, a journal or a lock is written, or its session ends. Raises OSError."""
    names = [path]
    for folder in ("journal", "locks"):
        with contextlib.suppress(FileNotFoundError):
            names += sorted((home() / folder).iterdir())
    stats = []
    for name in names:
        with contextlib.suppress(FileNotFoundError):
            stat = name.stat()
            stats.append((name, stat.st_mtime_ns, stat.st_size, stat.st_ino))
    return file_lock.holder(path), stats


def fresh(rig: Rig | None = None) -> Document:
    """A new rig, or a preset as a new rig: it has no file yet."""
    return Document(Session(rig or Rig(name="New rig"), None, journal.Journal()))


def from_preset(preset: presets.Preset) -> Document:
    """A preset as a new rig. Raises RigFileError."""
    return fresh(rig_file.load(preset.path))


def recovered(found: journal.Recoverable) -> Document:
    """Unsaved work as it was at the last key. Raises JournalError, RigFileError, OSError."""
    rig = found.rig()
    recorder = journal.take_over(found)
    held: file_lock.Lock | file_lock.Held | None = file_lock.acquire(found.path) if found.path else None
    saved, print_ = None, found.base
    if found.path is not None:
        print_ = found.base or _fingerprint(found.path)
        try:
            saved = rig_file.load(found.path)
        except (
            rig_file.RigFileError
        ):  # nothing to compare with; who wrote it is asked before it is saved over
            saved = None
    session = Session(rig, found.path, recorder, saved=saved)
    session.recovered, session.edit_locked = True, found.edit_locked
    if isinstance(held, file_lock.Held):
        session.held_by = held.who
        return Document(session, None, print_)
    return Document(session, held, print_)


def _fingerprint(path: Path) -> str | None:
    """A file's fingerprint; None where it can't be read, which reading it tells better."""
    try:
        return fingerprint(path)
    except OSError:
        return None


def leftovers() -> tuple[journal.Recoverable, ...]:
    """Unsaved work that no living session has: not what only locks a rig, which opening its file locks anew."""
    return tuple(found for found in _left_behind() if not only_locked(found))


def _left_behind() -> tuple[journal.Recoverable, ...]:
    """What sessions that have ended left in their journals."""
    try:
        return tuple(found for found in journal.recoverable() if not found.owner_alive)
    except OSError:
        return ()


def leftover_of(path: Path) -> journal.Recoverable | None:
    """What a session that has ended left of that file, be it but that it had locked the rig."""
    return next((f for f in _left_behind() if f.path == path.absolute() and not f.damage), None)


def preset_path(name: str) -> Path:
    """Where the user's preset of that name is kept."""
    return home() / "presets" / f"{name}.toml"


def save_preset(rig: Rig, name: str) -> str:
    """Save a rig as the user's preset; what to say of it. Raises SaveError."""
    target = preset_path(name)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SaveError(target, error.strerror or str(error), "Make the folder writable.") from None
    rig_file.save(rig, target)
    return f"Saved the preset {name}. It is offered wherever a rig is opened."


def _remember(path: Path, name: str) -> None:
    try:
        recent.remember(path, name)
    except (SaveError, OSError):
        return  # the list is a convenience: no reason to trouble anyone


def file_name(words: str) -> str:
    """A name fit for a file: letters, digits and - in place of anything else."""
    kept = "".join(c if c.isalnum() else "-" for c in words.strip().lower())
    return "-".join(part for part in kept.split("-") if part) or "rig"
