"""The nights that are over, filed with their venue: the rig as it was at the end, and beside it the log with the notes for next time.

A night that is filed is never written again. Computes nothing of a rig.
"""

import datetime
import os
from pathlib import Path

import msgspec

from rackwright.model.rig import Rig
from rackwright.model.venue import at_venue, split
from rackwright.store import files, night_log, rig_file, venues
from rackwright.store.home import home
from rackwright.store.night_log import Event
from rackwright.store.safe import atomic_write


class Closed(Event, frozen=True, kw_only=True, omit_defaults=True):
    """The last line of a log that is filed; `words` are the notes for next time."""

    rig: str = ""
    """The name of the rig."""
    venue: str = ""
    date: str = ""
    """Of the show, as it was written."""
    file: str = ""
    """The rig's, where it went on to be edited."""


class Past(msgspec.Struct, frozen=True):
    """A night that is over."""

    path: Path
    """Of its log."""
    closed: Closed

    @property
    def rig_path(self) -> Path:
        """The rig as it was then; nights of an earlier version have none."""
        return self.path.with_name(self.path.name.removesuffix(_LOG) + ".toml")

    @property
    def day(self) -> str:
        """The date of the show, else that on which it was closed."""
        return self.closed.date or self.closed.time[:10]

    def is_of(self, rig: Rig) -> bool:
        """Whether it is the night that a rig says it is at: there, on that date."""
        here = rig.venue
        return here.date != "" and (self.closed.rig, self.closed.venue, self.closed.date) == (
            rig.name,
            here.name,
            here.date,
        )

    def events(self) -> tuple[Event, ...]:
        """What was noted, without that it was closed; none where it can't be read."""
        try:
            return tuple(event for event in night_log.read(self.path) if event.event != CLOSED)
        except OSError:
            return ()

    def rig(self) -> Rig:
        """The rig as it was then. Raises RigFileError."""
        return rig_file.load(self.rig_path)

    def there(self, rig: Rig) -> Rig:
        """A rig at the venue of that night, with what is known of it since. Raises RigFileError; EditError where it doesn't fit."""
        own = venues.of_rig(self.closed.venue, self.closed.rig)
        return at_venue(rig, own.facts if own and own.facts else split(self.rig())[0])


CLOSED = "closed"
_LOG = ".night.jsonl"


def folder() -> Path:
    """Where they are kept, with the user's venues."""
    return home() / "venues" / "nights"


def past() -> tuple[Past, ...]:
    """Every night that is over, the last first; one that can't be read is left out."""
    try:
        logs = sorted(folder().glob(f"*{_LOG}"))
    except OSError:
        return ()
    found = [Past(log, closed) for log in logs if (closed := _closed(log))]
    return tuple(sorted(found, key=lambda night: (night.closed.time, night.day), reverse=True))


def _closed(log: Path) -> Closed | None:
    """How a log ends; of one that an earlier version filed what its name tells."""
    try:
        last = files.read(log).rstrip().rpartition(b"\n")[2]
        closed = msgspec.json.decode(last, type=Closed)
    except (OSError, ValueError):
        return None
    if closed.event == CLOSED:
        return closed
    name = log.name.removesuffix(_LOG)
    return Closed(time=closed.time, event=CLOSED, venue=name[: name.find("-20")] if "-20" in name else name)


def close(rig: Rig, file: Path | None, notes: str, now: datetime.datetime, by: str = "") -> Past:
    """File the night of a rig, `file` being where it is edited: the log beside that moves away. Raises SaveError.

    The log goes last, so that nothing noted is lost where a disk fails.
    """
    noted = night_log.path_of(file) if file else None
    stem = f"{files.plain_name(rig.venue.name or rig.name) or 'night'}-{now:%Y-%m-%d}"
    closed = Closed(
        time=now.isoformat(timespec="seconds"),
        by=by,
        event=CLOSED,
        words=notes,
        rig=rig.name,
        venue=rig.venue.name or rig.name,
        date=rig.venue.date,
        file=os.path.abspath(file) if file else "",
    )
    try:
        folder().mkdir(parents=True, exist_ok=True)
        names = (folder() / f"{stem}{f'-{n}' if n > 1 else ''}{_LOG}" for n in range(1, 1000))
        filed = Past(next(each for each in names if not os.path.lexists(each)), closed)
        former = noted.read_bytes() if noted and noted.exists() else b""
        rig_file.save(rig, filed.rig_path)
        lines = former + (b"\n" if former and not former.endswith(b"\n") else b"")
        atomic_write.write(filed.path, lines + msgspec.json.encode(closed) + b"\n")
        if noted and former:
            os.remove(noted)
    except OSError as error:
        raise atomic_write.save_error(folder(), error) from None
    return filed
