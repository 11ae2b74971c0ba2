"""What sessions hold unsaved in their journals, those that live and those that ended, and how to go on from it."""

import os
from pathlib import Path

from rackwright.console.session import Session
from rackwright.console.undo import History
from rackwright.model.rig import Rig
from rackwright.store import rig_file
from rackwright.store.safe import file_lock, journal
from rackwright.store.toml.read import RigFileError


def no_work(left: journal.Recoverable, rig: Rig | None = None) -> bool:
    """Whether a session left nothing but that it had locked the rig, or given up control of it, which `rig`, or else its file, tells."""
    try:
        return left.path is not None and left.rig() == (rig or rig_file.load(left.path))
    except (journal.JournalError, RigFileError):
        return False


def resume(session: Session, left: journal.Recoverable, recorder: journal.Journal) -> None:
    """Go on where another session left: with its undo, what it had selected and chosen."""
    session.history = History(*recorder.undo)
    session.place = left.place if session.exists(left.place) else ""
    session.chosen = tuple(place for place in left.chosen if session.exists(place))


def unsaved_of(path: Path) -> journal.Recoverable | None:
    """What the session in control of that file holds and has not saved."""
    owner = file_lock.owner(path)
    return next(
        (
            found
            for found in journal.recoverable()
            if found.owner_alive
            and not found.damage
            and same_file(found.path, path)
            and owner in (None, found.owner)
        ),
        None,
    )


def same_file(one: Path | None, other: Path) -> bool:
    """Whether both lead to one file."""
    return one is not None and os.path.realpath(one) == os.path.realpath(other)


def leftovers() -> tuple[journal.Recoverable, ...]:
    """Unsaved work that no living session has: not what only locks a rig, which opening its file locks anew."""
    return tuple(found for found in left_behind() if not no_work(found))


def left_behind() -> tuple[journal.Recoverable, ...]:
    """What sessions that have ended left in their journals."""
    try:
        return tuple(found for found in journal.recoverable() if not found.owner_alive)
    except OSError:
        return ()


def leftover_of(path: Path) -> journal.Recoverable | None:
    """What a session that has ended left of that file, be it but that it had locked the rig."""
    return next((f for f in left_behind() if f.path == path.absolute() and not f.damage), None)
