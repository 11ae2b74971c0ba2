"""Rigs as files: open one into a session with its lock and journal, save it, notice what others did to it.

Knows no Textual. Whatever can go wrong with a disk is told in a sentence, and loses nothing.
"""

import contextlib
import time
from pathlib import Path

from rackwright.console.control import Control
from rackwright.console.leftovers import left_behind, leftover_of, no_work, resume, same_file, unsaved_of
from rackwright.console.night_notes import NightNotes, with_reports
from rackwright.console.session import ENDED, Refused, Session, Unrecorded
from rackwright.console.undo import History
from rackwright.model.edits import EditError
from rackwright.model.rig import Rig
from rackwright.model.venue import for_next_time
from rackwright.store import night_log, presets, recent, rig_file
from rackwright.store.home import home
from rackwright.store.nights import Past
from rackwright.store.safe import file_lock, journal
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.safe.fingerprint import fingerprint, fingerprint_of, signs_of
from rackwright.store.safe.process import Owner, this_process
from rackwright.store.toml.read import RigFileError

UNNAMED = "New rig"
"""What a rig is called that nobody has named."""


class Document:
    """A session and the file behind it."""

    def __init__(
        self, session: Session, held: file_lock.Lock | None = None, print_: str | None = None
    ) -> None:
        self.session = session
        self.lock = held
        self.fingerprint = print_
        """What the file was when it was last read or written."""
        self.given_up = self.closed = False
        """Whether unsaved work goes when the document is closed."""
        self.control = Control(self)
        self._signs: object = None
        """By what a change is noticed where another session has the file."""
        self._live: journal.Recoverable | None = None
        """What that session holds unsaved, if anything: what it leaves behind is shown on."""
        self._former: Owner | None = None
        """That session's process."""
        self._looked = 0.0
        """When its journal was looked for last."""
        self._note_base()
        self.notes = NightNotes(self.control)

    def close(self) -> None:
        """Let go of file and journal; unsaved work stays in the journal unless it was given up, and what undo goes back to."""
        if self.closed:
            return
        self.closed = True
        self.control.close()
        recorder = self.session.recorder
        if self.given_up:
            recorder.discard()
        if isinstance(recorder, journal.Journal):
            if recorder.holds_work:
                with contextlib.suppress(OSError):  # what was recorded before stays
                    self._leave(recorder)
            recorder.close()
        if self.lock is not None:
            self.lock.release()

    def _leave(self, recorder: journal.Journal) -> None:
        session = self.session
        recorder.place, recorder.chosen = session.place, session.chosen
        recorder.leave(session.rig, *session.history.all)

    def _note_base(self) -> None:
        """Have the journal say what the file was: who recovers the work must notice a change in between, too."""
        if isinstance(self.session.recorder, journal.Journal):
            self.session.recorder.base = self.fingerprint

    @property
    def in_control(self) -> bool:
        """Whether this session may edit the file's rig, and no other."""
        return self.lock is not None and not self.session.held_by

    def follow(self) -> bool:
        """Where another session has the file, show what that makes of it; whether anything is new. Raises OSError."""
        session = self.session
        if not session.follows or session.path is None or (signs := _signs(session.path)) == self._signs:
            return False
        self._signs = signs
        session.held_by = file_lock.holder(session.path) or ENDED
        self._former = file_lock.owner(session.path) or self._former
        try:
            self._look(session.path)
        except (journal.JournalError, RigFileError):  # in the midst of a save: the next look finds it
            self._signs = None
            return False
        return True

    def _look(self, path: Path) -> None:
        """Show what the session in control holds, or left, of the rig. Raises JournalError, RigFileError, OSError."""
        session, now = self.session, time.monotonic()
        live = unsaved_of(path) or self._left(path)
        if live is None:
            rig, print_ = read(path)
            saved: Rig | None = rig
        else:
            rig, print_, saved = live.rig(), live.base, session.saved
            with contextlib.suppress(RigFileError):  # gone since: what it was stays what is saved
                saved = rig_file.load(path)
        with contextlib.suppress(OSError):  # then only what is ticked here isn't seen
            rig = with_reports(rig, night_log.open_reports(night_log.read(night_log.path_of(path))))
        self._live, self._looked, self.fingerprint = live, now, print_
        session.follow(rig, saved, live is not None and live.edit_locked)

    def _left(self, path: Path) -> journal.Recoverable | None:
        """What the session in control left: the journal that was followed, or one that it began since the last look."""
        for left in left_behind():
            if same_file(left.path, path) and not left.damage:
                begun = left.owner == self._former and left.age[1] >= self._looked
                if begun or (self._live is not None and left.file == self._live.file):
                    return left
        return None

    def give_control(self) -> None:
        """Leave the rig, its undo, its edit lock, what is chosen and selected to the next; from now on follow it.

        Raises OSError where the journal can't be written: control stays here.
        """
        session = self.session
        recorder = session.recorder
        if not isinstance(recorder, journal.Journal) or self.lock is None:
            return
        self._signs, self._live, self._former, self._looked = None, None, this_process(), time.monotonic()
        self._leave(recorder)
        session.recorder, session.held_by = Unrecorded(), ENDED
        session.history = History()
        self.lock.release()
        self.lock = None

    def take_control(self) -> bool:
        """Edit the rig from now on, as the session in control left it; whether that could be had.

        Raises OSError, JournalError, RigFileError: then this session follows as before.
        """
        session = self.session
        if session.path is None or not session.follows:
            return False
        taken = file_lock.acquire(session.path)
        if isinstance(taken, file_lock.Held):
            return False
        try:
            self._look(session.path)
            left = self._live
            recorder = journal.Journal(session.path) if left is None else journal.take_over(left)
        except BaseException:
            taken.release()
            raise
        self.lock, self._signs, self._live = taken, None, None
        session.recorder, session.held_by = recorder, ""
        if left is not None:
            resume(session, left, recorder)
        recorder.edit_locked = session.edit_locked
        self._note_base()
        session.keep_lock()
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
        return same_file(self.session.path, path)

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
        return f"Saved {target}. {rig_file.told_aside(aside)}".rstrip()

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
    if left is not None and no_work(left, rig):
        recorder = journal.take_over(left)
        document = Document(Session(rig, path, recorder, saved=rig), held, print_)
        resume(document.session, left, recorder)
    else:
        document = Document(Session(rig, path, journal.Journal(path), saved=rig), held, print_)
    if left is not None:
        document.session.lock_edits(left.edit_locked)
    return document


def _signs(path: Path) -> object:
    """What differs once the file, a journal or a lock is written, or its session ends. Raises OSError."""
    names = [path, night_log.path_of(path)]
    for folder in ("journal", "locks"):
        with contextlib.suppress(FileNotFoundError):
            names += sorted((home() / folder).iterdir())
    return file_lock.holder(path), signs_of(names)


def fresh(rig: Rig | None = None) -> Document:
    """A new rig, or a preset as a new rig: it has no file yet."""
    return Document(Session(rig or Rig(name=UNNAMED), None, journal.Journal()))


def from_preset(preset: presets.Preset) -> Document:
    """A preset as a new rig. Raises RigFileError."""
    return fresh(preset.rig or rig_file.load(preset.path))


def again(night: Past) -> Document:
    """The rig of a night that is over as a new rig, for the next time there, compared with what it was. Raises RigFileError."""
    document = fresh(for_next_time(night.rig()))
    document.session.keep()
    return document


def as_today(night: Past, former: Document | None = None) -> Document:
    """The rig that went to a night as its file has it today, at that venue, compared with what it was there.

    Raises RigFileError; Refused, EditError where it can't be taken there.
    """
    then = for_next_time(night.rig())
    document = opened(Path(night.closed.file), former)
    session = document.session
    try:
        session.apply(f"apply venue {night.closed.venue}", night.there)
    except (Refused, EditError):
        document.close()
        raise
    session.keep(then, night.day)
    return document


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
    resume(session, found, recorder)
    session.keep_lock()  # from now on the journal says whose it is
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
