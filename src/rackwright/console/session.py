"""The state behind the screen: the rig, its assessment, what can be undone, what is selected, what is kept.

Knows no Textual and draws nothing. Each edit is given to the journal before anything else sees it.
"""

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple, Protocol

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.meter_check import wrong_pairs
from rackwright.model.places import PolePair
from rackwright.model.rig import Rig

Edit = Callable[[Rig], Rig]


class Recorder(Protocol):
    """Where each edit is written down before it is shown: the crash journal."""

    edit_locked: bool
    """Whether the rig is locked against edits, which each record says as well."""

    def record(self, rig: Rig) -> None:
        """Write `rig` down for good. Raises OSError."""

    def discard(self) -> None:
        """Forget what was written: the rig is saved, or given up."""


class Unrecorded:
    """A recorder that keeps nothing: for a read-only session."""

    edit_locked = False

    def record(self, rig: Rig) -> None:
        """Keep nothing."""

    def discard(self) -> None:
        """Nothing is kept."""


class Moment(NamedTuple):
    """A rig as it was before an edit, and what the edit was."""

    label: str
    rig: Rig
    in_show: bool = False
    """Whether the edit lock lets the edit through, and with it its undoing."""


EDIT_LOCK = "The edit lock is on: mark failures and take plans, or press L to unlock."


ENDED = "a session that has ended"
"""In place of who holds the file."""


class Refused(Exception):
    """The session takes no edits now; the message says why and what to do."""


class Session:
    """One rig being worked on."""

    def __init__(
        self, rig: Rig, path: Path | None = None, recorder: Recorder | None = None, saved: Rig | None = None
    ) -> None:
        self.rig = rig
        self.path = path
        self.saved = saved
        """The rig as it stands on disk; None where it has never been saved."""
        self.recorder: Recorder = recorder or Unrecorded()
        self.assessment: Assessed = assess(rig)
        self.past: list[Moment] = []
        self.future: list[Moment] = []
        self.kept: Assessed | None = None
        """A snapshot to compare with."""
        self.place = ""
        """What is selected: an id, a channel, a section, a pole pair `R1-1/2`; the whole rig where empty."""
        self.chosen: tuple[str, ...] = ()
        """Places chosen for an edit on many at once."""
        self.edit_locked = False
        self.recovered = False
        """Whether it holds work that an earlier session did not save."""
        self.held_by = ""
        """Who else holds the file; this session is read-only where not empty."""
        self.journal_trouble = ""
        self._wrong_pairs: tuple[Assessed | None, tuple[str, ...]] = (None, ())

    @property
    def kind(self) -> str:
        """What is selected: see `kind_of`."""
        return kind_of(self.assessment, self.place)

    @property
    def unsaved(self) -> bool:
        """Whether the rig differs from what is on disk."""
        return self.rig is not self.saved and self.rig != self.saved

    @property
    def follows(self) -> bool:
        """Whether it only shows what the session that holds the file makes of it."""
        return bool(self.held_by) and isinstance(self.recorder, Unrecorded)

    @property
    def untouched(self) -> bool:
        """Whether nobody has put anything into it here: new or a preset's, with no edit and nothing recovered."""
        return self.follows or (
            self.saved is None and not self.past and not self.future and not self.recovered
        )

    @property
    def failed_here(self) -> bool:
        """Whether what is selected is marked failed as a whole."""
        index, place = self.assessment.index, self.place
        if circuit := index.circuits.get(place):
            return circuit.state == "failed"
        states = [
            index.amplifiers[at.amplifier].channel(at.channel).state
            for name, at in index.channels.items()
            if place in (name, at.amplifier, index.rack_of[at.amplifier].id)
        ]
        return bool(states) and set(states) == {"failed"}

    @property
    def wrong_pairs(self) -> tuple[str, ...]:
        """The pole pairs that the meter check found wrong."""
        if self._wrong_pairs[0] is not self.assessment:
            self._wrong_pairs = self.assessment, wrong_pairs(self.assessment.index)
        return self._wrong_pairs[1]

    @property
    def undoes(self) -> str:
        """What undo would undo, empty where there is nothing."""
        return self.past[-1].label if self.past else ""

    @property
    def redoes(self) -> str:
        """What redo would do again."""
        return self.future[-1].label if self.future else ""

    def apply(self, label: str, edit: Edit, *, allowed_in_show: bool = False) -> bool:
        """Make an edit; whether it changed anything.

        Raises Refused where the rig takes no edits now, EditError where this one can't be made.
        """
        self.refuse_where_locked(allowed_in_show)
        edited = edit(self.rig)
        if edited is self.rig:
            return False
        self.past.append(Moment(label, self.rig, allowed_in_show))
        self.future.clear()
        self._show(edited)
        return True

    def refuse_where_locked(self, allowed_in_show: bool = False) -> None:
        if self.held_by:
            raise Refused(self.why_read_only)
        if self.edit_locked and not allowed_in_show:
            raise Refused(EDIT_LOCK)

    @property
    def why_read_only(self) -> str:
        """Who has the rig, and what to do."""
        if self.held_by == ENDED:
            return "The session that had this rig has ended. Press o and open it again to edit it."
        return f"This rig is open read-only: {self.held_by}. Press S to save a copy and edit that."

    def lock_edits(self, locked: bool) -> None:
        """Lock the rig against edits, or unlock it. The journal keeps a lock, so that it outlives the connection."""
        self.edit_locked = self.recorder.edit_locked = locked
        self.keep_lock()

    def keep_lock(self) -> None:
        """Have the journal hold what must outlive the connection: unsaved work, and that edits are locked."""
        if self.edit_locked or (self.unsaved and not self.untouched):
            self._record(self.rig)
        else:
            self.recorder.discard()

    def follow(self, rig: Rig, saved: Rig | None, edit_locked: bool) -> None:
        """Show what the session that has the rig makes of it, and has saved of it."""
        self.saved = saved
        if rig != self.rig:
            self.assessment = assess(rig, self.assessment)
            self.rig = rig
            self.chosen = tuple(place for place in self.chosen if self.exists(place))
            self.place = self.place if self.exists(self.place) else ""
        self.edit_locked = edit_locked

    def undo(self) -> str:
        """Undo the last edit; what it was, empty where there was none. Raises Refused."""
        return self._travel(self.past, self.future)

    def redo(self) -> str:
        """Make the edit last undone again; what it was, empty where there was none. Raises Refused."""
        return self._travel(self.future, self.past)

    def _travel(self, source: list[Moment], target: list[Moment]) -> str:
        self.refuse_where_locked(bool(source) and source[-1].in_show)
        if not source:
            return ""
        moment = source.pop()
        target.append(moment._replace(rig=self.rig))
        self._show(moment.rig)
        return moment.label

    def _show(self, rig: Rig) -> None:
        self._record(rig)
        self.assessment = assess(rig, self.assessment)
        self.rig = rig
        self.chosen = tuple(place for place in self.chosen if self.exists(place))

    def _record(self, rig: Rig) -> None:
        try:
            self.recorder.record(rig)
            self.journal_trouble = ""
        except OSError as error:
            self.journal_trouble = (
                f"The crash journal can't be written ({error.strerror or error}): save the rig now."
            )

    def exists(self, place: str) -> bool:
        """Whether the rig still has that place."""
        return not place or kind_of(self.assessment, place) != ""

    def was_saved(self, path: Path) -> None:
        """Note that the rig now stands on disk at `path`."""
        self.path, self.saved = path, self.rig
        self.recorder.discard()
        self.journal_trouble = ""

    def keep(self) -> None:
        """Keep the present state to compare later ones with."""
        self.kept = self.assessment


KINDS = ("circuit", "feed", "rack", "amplifier", "socket", "line", "cabinet")


def kind_of(assessment: Assessed, place: str) -> str:
    """What a place is: `channel`, `section`, `pole`, `rig`, or one of KINDS; empty where there is no such place."""
    if not place:
        return "rig"
    found = assessment.index.place(place)
    return found.kind if found else ""


def related(assessment: Assessed, place: str) -> frozenset[str]:
    """The places that light up with `place`: what drives it, what it drives, the way between, the place itself."""
    index = assessment.index
    kind = kind_of(assessment, place)
    lit = {place}
    match kind:
        case "channel":
            lit |= _of_branch(assessment, place)
        case "amplifier":
            for branch in assessment.branches.values():
                if branch.amplifier.id == place:
                    lit |= _of_branch(assessment, branch.id)
        case "section":
            patched = assessment.sections[place].patched
            lit |= _upstream(assessment, assessment.sections[place].cabinet)
            lit |= {patched} if patched else set()
        case "cabinet":
            lit |= _upstream(assessment, place) | _channels_of(assessment, place)
        case "line":
            lit |= _upstream(assessment, index.lines[place].to) | _channels_of(
                assessment, index.lines[place].to
            )
        case "socket" | "pole":
            pairs = [pair for pair in index.pole_pairs.values() if place in (pair.socket, str(pair))]
            lit |= {pair.socket for pair in pairs}
            lit |= {
                branch.id
                for branch in assessment.branches.values()
                for socket, number, _ in branch.taps
                if PolePair(socket.id, number) in pairs
            }
        case "feed":
            lit |= {b.id for b in assessment.branches.values() if b.feed is not None and b.feed.id == place}
        case "circuit":
            lit |= {a.id for a in index.amplifiers.values() if a.circuit == place}
    return frozenset(lit)


def _of_branch(assessment: Assessed, channel: str) -> set[str]:
    branch = assessment.branches[channel]
    lit = {channel, branch.amplifier.id}
    lit |= {socket.id for socket, _, _ in branch.taps} | {
        str(PolePair(s.id, pair)) for s, pair, _ in branch.taps
    }
    for run in branch.all_runs:
        lit |= {run.line.id, run.line.to}
    return lit | {section.id for section in branch.sections}


def _upstream(assessment: Assessed, cabinet: str) -> set[str]:
    index, lit = assessment.index, {cabinet}
    while line := index.line_to.get(cabinet):
        lit |= {line.id, line.source}
        cabinet = line.source
    return lit


def _channels_of(assessment: Assessed, cabinet: str) -> set[str]:
    return {s.patched for s in assessment.sections.values() if s.cabinet == cabinet and s.patched}
