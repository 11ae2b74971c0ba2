"""The night log: a line of JSON for each thing that happened, beside the rig's file, synced before anyone sees it on a screen.

Only ever appended to, whatever becomes of the rig. Closing a night moves it to `nights`. A console that only
follows reports here; whoever has control makes it so and appends that it did: nothing else is read as state.
"""

import contextlib
import datetime
import os
from collections.abc import Sequence
from pathlib import Path

import msgspec
from msgspec import Struct


class Event(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One line of the log."""

    time: str
    """`2026-05-01T21:40:05`, local time."""
    by: str = ""
    """Initials."""
    event: str
    place: str = ""
    words: str = ""
    report: str = ""
    """The name of a report of a console that follows, which no other has."""
    list: str = ""
    """The list that a step is reported done of, or not done."""
    step: int = 0
    """Which step of it, from 0."""
    takes: str = ""
    """Which of the crew's times the step is made of."""
    answers: str = ""
    """The report that was taken over."""


def path_of(rig: str | os.PathLike[str]) -> Path:
    """Where the log of a rig file is: `hall.toml` has `hall.night.jsonl`."""
    return Path(rig).with_suffix(".night.jsonl")


def of(rig: Path | None) -> tuple[Event, ...]:
    """The events of a rig file's log; none where it has no file, or the log can't be read."""
    with contextlib.suppress(OSError):
        return read(path_of(rig)) if rig else ()
    return ()


def append(path: Path, events: Sequence[Event]) -> None:
    """Write events to the end of the log, on the disk when this returns. Raises OSError."""
    lines = b"".join(msgspec.json.encode(event) + b"\n" for event in events)
    with open(path, "ab") as file:
        if file.tell() and not _ends_whole(path):
            lines = b"\n" + lines
        file.write(lines)
        file.flush()
        os.fsync(file.fileno())


def _ends_whole(path: Path) -> bool:
    """Whether the last line was written to its end: a power cut may have torn it."""
    with open(path, "rb") as file:
        file.seek(-1, os.SEEK_END)
        return file.read(1) == b"\n"


def read(path: Path) -> tuple[Event, ...]:
    """The events of a log, in order; lines that were torn are left out, and none where there is no log. Raises OSError."""
    try:
        lines = path.read_bytes().splitlines()
    except FileNotFoundError:
        return ()
    events = []
    for line in lines:
        try:
            events.append(msgspec.json.decode(line, type=Event))
        except (msgspec.DecodeError, UnicodeDecodeError):
            continue
    return tuple(events)


def open_reports(events: Sequence[Event]) -> tuple[Event, ...]:
    """The reports that nobody has taken over yet, in order."""
    answered = {event.answers for event in events if event.answers}
    return tuple(event for event in events if event.report and event.report not in answered)


def taken(events: Sequence[Event]) -> tuple[tuple[str, float], ...]:
    """What steps took, each from the tick before it in its list: which of the crew's times, and s."""
    found, last = [], dict[str, Event]()
    for event in events:
        if event.event != "done" or not event.list:
            continue
        before = last.get(event.list)
        last[event.list] = event
        if before is not None and event.takes and event.step == before.step + 1:
            found.append((event.takes, _between(before, event)))
    return tuple(found)


def _between(one: Event, other: Event) -> float:
    try:
        times = [datetime.datetime.fromisoformat(event.time) for event in (one, other)]
        return (times[1] - times[0]).total_seconds()
    except (ValueError, TypeError):  # written by hand: no time that counts
        return 0.0


def noted_by(events: Sequence[Event], since: datetime.datetime) -> tuple[str, ...]:
    """Who has noted something since then, by initials."""
    recent = (event.by for event in events if event.by and event.time >= since.isoformat(timespec="seconds"))
    return tuple(dict.fromkeys(recent))
