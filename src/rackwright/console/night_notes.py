"""What happens in the night, noted beside the rig's file, and what other consoles report there.

Knows no Textual. Of a rig with no file yet nothing is kept.
"""

import datetime
import os
from collections.abc import Sequence
from pathlib import Path

from rackwright.console.control import Control
from rackwright.engine import recovery
from rackwright.engine.recovery import Happening, TimeTaken
from rackwright.model.rig import Rig
from rackwright.store import night_log
from rackwright.store.night_log import Event
from rackwright.store.safe.fingerprint import signs_of

A_NIGHT = datetime.timedelta(hours=12)
"""How long ago somebody may have noted something to be taken for who works here still: common practice, no source."""


class NightNotes:
    """What a console notes of its rig's night, and reads there."""

    def __init__(self, control: Control) -> None:
        self.control, self.session = control, control.document.session
        self._reported: set[str] = set()
        """The reports made here."""
        self._offered: set[str] = set()
        """Which of the crew's times were shown as taken otherwise than planned."""
        self._heard: object = None
        """By what it is noticed that the night log was written."""
        self.session.log, self.session.report = self._log, self._report

    def _log(self, happened: Sequence[Happening]) -> None:
        """Note what happened in the night. Raises OSError."""
        if self.session.path is not None:
            self._append(self.session.path, [self._event(each) for each in happened])

    def _report(self, reports: Sequence[Happening]) -> None:
        """Note what was ticked and heard here, for the console in control to take it over. Raises OSError."""
        if self.session.path is not None:
            events = [self._event(each, report=os.urandom(8).hex()) for each in reports]
            self._append(self.session.path, events)
            self._reported |= {each.report for each in events}

    def _event(self, what: Happening, report: str = "", answers: str = "") -> Event:
        now = datetime.datetime.now().isoformat(timespec="seconds")
        return Event(
            time=now, by=self.session.initials or "", report=report, answers=answers, **what._asdict()
        )

    def _append(self, path: Path, events: Sequence[Event]) -> None:
        night_log.append(night_log.path_of(path), events)

    def _noted(self) -> tuple[Event, ...]:
        """The night log; nothing where there is none, or it can't be read."""
        return night_log.of(self.session.path)

    def former_initials(self) -> str:
        """Who used this console before its link dropped: whoever has noted something tonight, and isn't at another console now."""
        since = datetime.datetime.now() - A_NIGHT
        here = {each.initials for each in self.control.others}
        left = [name for name in night_log.noted_by(self._noted(), since) if name not in here]
        return left[0] if len(left) == 1 else ""

    def times_taken(self) -> tuple[TimeTaken, ...]:
        """What the steps of the night took otherwise than planned."""
        times = self.session.rig.targets.times
        return recovery.times_taken(times, night_log.taken(self._noted()))

    def times_to_offer(self) -> tuple[TimeTaken, ...]:
        """Those that were not offered yet: once a night is enough."""
        fresh = tuple([each for each in self.times_taken() if each.name not in self._offered])
        self._offered |= {each.name for each in fresh}
        return fresh

    def take_reports(self) -> str:
        """Make what other consoles ticked and heard so, in control; what to say of it. Raises OSError."""
        session = self.session
        if session.path is None or not self.control.document.in_control:
            return ""
        log = night_log.path_of(session.path)
        if (signs := signs_of([log])) == self._heard:
            return ""
        self._heard = signs  # also where it can't be read: told once
        events = night_log.open_reports(night_log.read(log))
        session.taken_over(with_reports(session.rig, events))
        if events:
            now = [Happening("taken over", e.place, f"{e.event} {e.words}".strip()) for e in events]
            taken = [self._event(h, answers=e.report) for h, e in zip(now, events, strict=True)]
            self._append(session.path, taken)
        told = [each for each in events if each.report not in self._reported][-2:]
        return " ".join(f"{each.by or 'The other console'}: {_told(each)}." for each in told)


def with_reports(rig: Rig, events: Sequence[Event]) -> Rig:
    """The rig with what other consoles report ticked and heard."""
    for e in events:
        rig = recovery.with_report(rig, Happening(e.event, e.place, e.words, e.list, e.step))
    return rig


def _told(report: Event) -> str:
    """A report in words."""
    if report.list:
        return f"step {report.step + 1} {report.event}"
    return f"{report.place} {report.words or 'unknown'}"
