"""The state behind the screen: the rig, its assessment, its history, what is selected, what is kept.

Knows no Textual and draws nothing. Each edit is given to the journal before anything else sees it.
"""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol

from rackwright.console.related import kind_of
from rackwright.console.undo import History
from rackwright.engine import recovery
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.recovery import Happening
from rackwright.model.rig import Rig
from rackwright.store.safe.undo_log import Moment, Stack

Edit = Callable[[Rig], Rig]


class Recorder(Protocol):
    """Where each edit is written down before it is shown: the crash journal."""

    edit_locked: bool
    """Whether the rig is locked against edits, which each record says as well, as what is selected and chosen."""
    place: str
    chosen: tuple[str, ...]

    def record(self, rig: Rig, past: Stack, future: Stack) -> None:
        """Write `rig` down for good, and what undo and redo go back to. Raises OSError."""

    def discard(self) -> None:
        """Forget what was written: the rig is saved, or given up."""


class Unrecorded:
    """A recorder that keeps nothing: for a read-only session."""

    edit_locked, place = False, ""
    chosen: tuple[str, ...] = ()

    def record(self, rig: Rig, past: Stack, future: Stack) -> None:
        """Keep nothing."""

    def discard(self) -> None:
        """Nothing is kept."""


EDIT_LOCK = "The edit lock is on: mark failures and take plans, or press L to unlock."


ENDED = "a console that has ended"
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
        self.history = History()
        self.kept: Assessed | None = None
        """A snapshot to compare with."""
        self.kept_as = ""
        """What that is called; nothing for a state of this rig as it was when comparing began."""
        self.place = ""
        """What is selected: an id, a channel, a section, a pole pair `R1-1/2`; the whole rig where empty."""
        self.chosen: tuple[str, ...] = ()
        """Places chosen for an edit on many at once."""
        self.only = ""
        """What the panes are narrowed to, one of the choices of `narrowing`; all is shown where empty."""
        self.edit_locked = False
        self.recovered = False
        """Whether it holds work that an earlier session did not save."""
        self.held_by = ""
        """Who else holds the file; this session is read-only where not empty."""
        self.control = ""
        """Who has control, in few words, where several consoles have the rig open."""
        self.journal_trouble = ""
        self.initials: str | None = None
        """Of who works here, for the night log; None until asked."""
        self.log: Callable[[Sequence[Happening]], None] = lambda _: None
        """Where what happens in the night is noted before it is shown. Raises OSError."""
        self.report: Callable[[Sequence[Happening]], None] = lambda _: None
        """Where what is ticked and heard here is noted for the console in control. Raises OSError."""

    @property
    def kind(self) -> str:
        """What is selected: see `kind_of`."""
        return kind_of(self.assessment, self.place)

    @property
    def meant(self) -> tuple[str, ...]:
        """All that is chosen, else what is selected; nothing where that is the whole rig."""
        return self.chosen or ((self.place,) if self.place else ())

    @property
    def kinds(self) -> set[str]:
        """What all that is chosen is, else what is selected."""
        return {kind_of(self.assessment, place) for place in self.chosen or (self.place,)}

    def choose(self, *places: str) -> None:
        """Choose places too, in that order whichever of them were chosen before; with none given what is selected, or that no longer."""
        if places:
            others = (place for place in self.chosen if place not in places)
            self.chosen = (*others, *dict.fromkeys(places))
            return
        without = tuple(each for each in self.chosen if each != self.place)
        self.chosen = without if self.place in self.chosen else (*self.chosen, self.place)

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
        return self.follows or (self.saved is None and not self.history.begun and not self.recovered)

    @property
    def failed_here(self) -> bool:
        """Whether all that is chosen, else what is selected, is marked failed."""
        places = self.chosen or (self.place,)
        return all(recovery.failed_at(self.rig, place) for place in places)

    @property
    def wrong_pairs(self) -> tuple[str, ...]:
        """The pole pairs that the meter check found wrong."""
        return tuple(item.test.id for item in self.assessment.wrong_readings if item.status == "wrong")

    def may_be_for_tonight(self, edit: Edit) -> bool:
        """Whether an edit by hand changes the patch while something is failed or changed for the night. Raises EditError."""
        if not recovery.under_way(self.rig):
            return False
        edited = edit(self.rig)
        return edited is not self.rig and recovery.is_rewiring(self.rig, edited)

    def tick(self, edit: Edit) -> None:
        """Tick a list or note what is heard, which no undo takes back; where another console has control, report it to that.

        Raises Refused, EditError.
        """
        if not self.follows:
            self.refuse_where_locked(allowed_in_show=True)
            self._show(edit(self.rig))
            return
        after = edit(self.rig)
        try:
            self.report(tuple(recovery.reports(self.rig, after)))
        except OSError as error:
            told = f"The night log can't be written, so nobody knows of this: {error.strerror or error}."
            raise Refused(told) from None
        self.follow(after, self.saved, self.edit_locked)

    def taken_over(self, rig: Rig) -> None:
        """Have what other consoles ticked and heard, which no undo takes back and the log has already."""
        if rig is not self.rig:
            self._record(rig)
            self._put(rig)

    def apply(
        self, label: str, edit: Edit, *, allowed_in_show: bool = False, tonight: bool = False, when: str = ""
    ) -> bool:
        """Make an edit; whether it changed anything. One by hand during a night is for good unless it is for `tonight`.

        Raises Refused where the rig takes no edits now, EditError where this one can't be made.
        """
        self.refuse_where_locked(allowed_in_show)
        edited = edit(self.rig) if allowed_in_show else recovery.by_hand(self.rig, edit, label, when, tonight)
        if edited is self.rig:
            return False
        self.history.edited(Moment(label, self.rig, allowed_in_show, when))
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
            return "Nobody has control: the console that had it has ended. Press C to take control."
        ask = "Press C to ask for control, or S" if self.follows else "Press S"
        return f"This rig is open read-only: {self.held_by}. {ask} to save a copy and edit that."

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
            self._put(rig)
            self.place = self.place if self.exists(self.place) else ""
        self.edit_locked = edit_locked

    def undo(self, by: int = 1) -> tuple[str, ...]:
        """Undo the last so many edits, or, below 0, make so many last undone again; what they were, none where there was none.

        Raises Refused where one of them can't be undone now, UndoError where one can't be read: then none is.
        """
        moments = self.history.between(by)
        self.refuse_where_locked(bool(moments) and all(moment.in_show for moment in moments))
        for moment in moments:
            moment.was()
        step, rig = self.history.undo if by > 0 else self.history.redo, self.rig
        for _ in moments:
            rig = recovery.with_ticks_of(step(rig), rig)
        if moments:
            self._show(rig)
        return tuple(moment.label for moment in moments)

    def may_undo(self, by: int = 1) -> bool:
        """Whether so many edits can be undone, or, below 0, made again: by the edit lock, and by who has the rig."""
        allowed = not self.edit_locked or all(moment.in_show for moment in self.history.between(by))
        return allowed and not self.held_by

    def redo(self) -> tuple[str, ...]:
        """Make the edit last undone again; what it was, none where there was none. Raises as `undo`."""
        return self.undo(-1)

    def _show(self, rig: Rig) -> None:
        self._record(rig)
        try:
            if events := tuple(recovery.happened(self.rig, rig)):
                self.log(events)
        except OSError as error:
            self.journal_trouble = f"The night log can't be written: {error.strerror or error}."
        self._put(rig)

    def _put(self, rig: Rig) -> None:
        self.assessment = assess(rig, self.assessment)
        self.rig = rig
        self.chosen = tuple(place for place in self.chosen if self.exists(place))

    def _record(self, rig: Rig) -> None:
        self.recorder.place, self.recorder.chosen = self.place, self.chosen
        try:
            self.recorder.record(rig, *self.history.all)
            self.journal_trouble = ""
        except OSError as error:
            self.journal_trouble = (
                f"The crash journal can't be written ({error.strerror or error}): save the rig now."
            )

    def exists(self, place: str) -> bool:
        """Whether the rig still has that place."""
        return not place or kind_of(self.assessment, place) != ""

    def was_saved(self, path: Path) -> None:
        """Note that the rig now stands on disk at `path`; the journal goes with `keep_lock`, never the edit lock before it."""
        self.path, self.saved = path, self.rig
        self.journal_trouble = ""

    def keep(self, rig: Rig | None = None, called: str = "") -> None:
        """Keep the present state to compare later ones with, or another rig, and what that is called."""
        self.kept, self.kept_as = assess(rig, self.assessment) if rig else self.assessment, called
