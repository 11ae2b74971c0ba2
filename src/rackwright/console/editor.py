"""What every screen edits through: asks with forms and pickers, gives edits to the session, says what became of them.

The workplace owns it and lends it to the screens that its keys open, so that none of them knows the workplace. Draws
nothing: the screen that shows the rig is its host.
"""

import datetime
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Protocol

from textual.app import App

from rackwright.console.document import Document
from rackwright.console.forms.options import Options
from rackwright.console.forms.rig_sheets import Sheets
from rackwright.console.forms.sheet import Sheet
from rackwright.console.keymap import Command
from rackwright.console.related import kind_of
from rackwright.console.rows.consequence import foreseen, loadings
from rackwright.console.rows.row import Row, words
from rackwright.console.session import Refused, Session
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.dialog import Picker, Question
from rackwright.console.widgets.fields import FieldError, Option, Values
from rackwright.console.widgets.screen import RigScreen
from rackwright.engine.assess import assess
from rackwright.engine.limiters import advised_limiters
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.equipment import Equipment
from rackwright.model.night import moment
from rackwright.model.rig import Rig
from rackwright.store.library import built_in
from rackwright.store.safe.undo_log import UndoError
from rackwright.units import LimiterSetting
from rackwright.units.wording import MOST, few, listed

DEPENDENTS = {
    "amplifier": "unpatch {}",
    "board": "feed {} from where that was fed",
    "cabinet": "remove {} too",
    "circuit": "unplug {}",
    "feed": "leave {} without a feed",
    "rack": "remove or unpatch {}",
    "socket": "remove {} too",
}
"""The kind of thing that is removed → what becomes of what depends on it."""
MOST_DEPENDENTS = 8
"""Told one by one of what depends on a thing."""


def _added(name: str, times: int, cabinet: bool) -> str:
    told = f"{name} is added." if times == 1 else f"{name} and {times - 1} more are added."
    return f"{told} Lines to them: c, then tab." if cabinet and times > 1 else told


class Host(Protocol):
    """The screen that shows the rig."""

    front: int
    """Which of its panes has the focus: 2 the results."""

    @property
    def app(self) -> App[Any]:
        """The app, which shows dialogs and screens."""

    @property
    def places(self) -> Sequence[str]:
        """The places that the pane in front lists, in order."""

    @property
    def figure(self) -> tuple[str, str] | None:
        """The place and the name of the figure that the cursor is on, None where it is on none."""

    def say(self, text: str, style: str = "") -> None:
        """Say something until the next key."""

    def redraw(self) -> None:
        """Show the session as it is now."""

    def go_to(self, place: str, added: bool = False) -> None:
        """Select a place, and show it; of what was `added` only where the rig is built."""

    def bring_forward(self, number: int) -> None:
        """Give one of the panes the focus."""

    def step(self, by: int) -> None:
        """Go so many rows on."""

    def open_another(self) -> None:
        """Have another rig picked, and open it."""


class Editor:
    """The rig being worked on and what there is to work on it with."""

    def __init__(self, document: Document, own: Equipment, glyphs: Glyphs, host: Host) -> None:
        self.document, self.own, self.glyphs, self.host = document, own, glyphs, host
        """`own` is the equipment of the user."""
        self.recent: list[str] = []
        """The actions that were found by name, the last first."""

    @property
    def session(self) -> Session:
        """The state behind the screen."""
        return self.document.session

    @property
    def library(self) -> Equipment:
        """The user's equipment over the built-in, which is only read once something is to be chosen from it."""
        return self.own.over(built_in())

    @property
    def app(self) -> App[Any]:
        return self.host.app

    def say(self, text: str, style: str = "") -> None:
        """Say something until the next key, on the foremost screen that has a line for it."""
        (self._saying or self.host).say(text, style)

    def remind(self, text: str, style: str = "") -> None:
        """Say something where nothing is being said."""
        if self._saying is not None and not self._saying.says:
            self._saying.say(text, style)

    @property
    def _saying(self) -> RigScreen[Any] | None:
        """The foremost screen that has a line for what is said."""
        stack = reversed(self.app.screen_stack)
        return next((each for each in stack if isinstance(each, RigScreen) and each.stands), None)

    def do(self, command: Command) -> None:
        """Do what a key stands for, or say why it does not act here."""
        try:
            if why := command.why_not(self.session):
                self.say(why, "yellow")
            elif command.does is not None:
                command.does(self)
        except Exception as error:
            self.app.trouble(f'the key\'s "{command.label or command.help}"', error)  # type: ignore[attr-defined]

    def set_advised_limiters(
        self, feeds: Sequence[str], make: Callable[[str, Callable[[Rig], Rig]], bool]
    ) -> None:
        """Set the limiters of those feeds as advised, by `make`."""
        advised = advised_limiters(self.session.assessment, feeds)
        if not advised:
            self.say(
                "Select a feed or channel that drives something, or choose feeds with space, then press l.",
                "yellow",
            )
            return

        def change(rig: Rig) -> Rig:
            for feed, settings in advised.items():
                rms, peak = map(LimiterSetting.parse, settings)
                rig = edits.change(rig, feed, limiter_rms=rms, limiter_peak=peak)
            return rig

        if change(self.session.rig) is self.session.rig:
            self.say(f"Every limiter of {few(list(advised), 3)} is as advised already.")
        elif make(f"limit {few(list(advised), 3)}", change):
            told = "; ".join(f"{feed} {rms} rms, {peak} peak" for feed, (rms, peak) in advised.items())
            self.say(f"Set as advised: {told}.")

    def make(
        self, label: str, change: Callable[[Rig], Rig], place: str | None = None, *, in_show: bool = False
    ) -> bool:
        """Give an edit to the session, show it, say what became of it; whether it was made.

        One by hand that may be meant for the night only is asked about first.
        """
        try:
            if not in_show and not self.session.edit_locked and self.session.may_be_for_tonight(change):
                self._ask_for_how_long(label, change, place)
                return False
        except EditError:
            pass  # told below
        return self._made(label, change, place, in_show)

    def _ask_for_how_long(self, label: str, change: Callable[[Rig], Rig], place: str | None) -> None:
        def answered(answer: str | None) -> None:
            if answer is not None:
                self._made(label, change, place, False, answer == "t")

        answers = [("t", "tonight: the return undoes it"), ("g", "for good: it stays after the return")]
        told = f"Something is failed or not returned yet. Is this for tonight or for good: {label}?"
        self.app.push_screen(Question(told, answers, self.glyphs), answered)

    def _made(
        self,
        label: str,
        change: Callable[[Rig], Rig],
        place: str | None,
        in_show: bool,
        tonight: bool = False,
    ) -> bool:
        when = moment(datetime.datetime.now())
        try:
            changed = self.session.apply(label, change, allowed_in_show=in_show, tonight=tonight, when=when)
        except (Refused, EditError) as error:
            self.say(str(error), "yellow")
            return False
        if place is not None:
            self.session.place = place
        self.say("" if changed else f"Nothing changes: {label}.")
        self.host.redraw()
        return changed

    @property
    def options(self) -> Options:
        """What forms offer for the rig as it is now."""
        return Options(self.session.assessment, self.library)

    @property
    def sheets(self) -> Sheets:
        """What forms ask for the rig as it is now."""
        return Sheets(self.options)

    def open_sheet(self, sheet: Sheet, stays: bool = False) -> None:
        """Show a form and make its edit; with `stays` the cursor stays where it is."""

        def done(values: Mapping[str, Any] | None) -> None:
            if values is not None:
                place, was = None if stays else sheet.leads_to(values), self.session.rig
                if not self.make(sheet.called(values), lambda rig: sheet.make(rig, values), place):
                    return
                if sheet.adds and place and self.session.exists(place):
                    self.host.go_to(place, added=True)
                    many = len(edits.things(self.session.rig)) - len(edits.things(was))
                    self.say(_added(place, many, place in self.session.assessment.index.cabinets))

        from rackwright.console.widgets.form import Form

        form = Form(sheet.title, sheet.fields, sheet.values, self.glyphs, self.foresee(sheet), sheet.begin)
        self.app.push_screen(form, done)

    def open_asked(self, asked: Callable[[], Sheet]) -> None:
        """Show the form that is asked for, or say why there is none."""
        try:
            sheet = asked()
        except EditError as error:
            self.say(str(error), "yellow")
            return
        self.open_sheet(sheet)

    def foresee(self, sheet: Sheet, mains: bool = False) -> Callable[[Values], list[Row]]:
        """What a sheet's values would bring: findings that come and go, with `mains` how full circuits are then."""
        session = self.session

        def consequence(values: Values) -> list[Row]:
            try:
                edited = sheet.make(session.rig, values)
            except EditError as error:
                raise FieldError(str(error)) from None
            if edited is session.rig:
                return [words("No change.", "dim")]
            before, after = session.assessment, assess(edited, session.assessment)
            full = loadings(before, after) if mains else []
            told = [words(text)] if (text := sheet.tells(edited)) else []
            return [*told, *full, *foreseen(before.findings, after.findings, MOST)]

        return consequence

    def locked(self) -> bool:
        """Whether the rig takes no edits now, which is said."""
        try:
            self.session.refuse_where_locked()
        except Refused as error:
            self.say(str(error), "yellow")
            return True
        return False

    def remove(
        self,
        places: Sequence[str],
        make: Callable[[str, Callable[[Rig], Rig]], bool] | None = None,
    ) -> None:
        """Remove places by `make`; where others depend on them, tell which and what becomes of them, and ask."""
        make, named, rig = make or self.make, listed(places), self.session.rig
        depending = (d for place in places for d in edits.dependents(rig, place) if d.id not in places)
        found = list(dict.fromkeys(dependent.words for dependent in depending))

        def done(key: str | None) -> None:
            if key is not None:
                make(f"remove {few(places, 3)}", lambda rig: edits.remove_all(rig, places))

        if not found:
            done("y")
            return
        more = [f"and {len(found) - MOST_DEPENDENTS} more"] if len(found) > MOST_DEPENDENTS else []
        told = "".join(f"\n  {each}" for each in [*found[:MOST_DEPENDENTS], *more])
        verb = "is" if len(places) == 1 else "are"
        kinds = dict.fromkeys(kind_of(self.session.assessment, place) for place in places)
        these = "this" if len(found) == 1 else "these"
        answer = " and ".join(DEPENDENTS[kind].format(these) for kind in kinds if kind in DEPENDENTS)
        self.app.push_screen(
            Question(f"{named} {verb} in use:{told}", [("y", f"remove {named}, and {answer}")], self.glyphs),
            done,
        )

    def pick(
        self,
        title: str,
        options: list[Option] | tuple[Option, ...],
        then: Callable[[str], None],
        current: str = "",
        all_of_them: tuple[str, Callable[[list[str]], None]] | None = None,
    ) -> None:
        """Have one of the options picked, then do that with it; `all_of_them`, what else can be done with all that are shown."""

        def done(value: str | list[str] | None) -> None:
            if isinstance(value, list) and all_of_them is not None:
                all_of_them[1](value)
            elif isinstance(value, str):
                then(value)

        if not options:
            self.say(f"{title}: there is nothing to pick yet.", "yellow")
            return
        self.app.push_screen(
            Picker(title, options, self.glyphs, current, all_of_them=all_of_them[0] if all_of_them else ""),
            done,
        )

    def redo(self) -> None:
        self.undo(-1)

    def undo(self, by: int = 1) -> None:
        """Undo so many edits, or, below 0, redo so many, say which; go to what is there again, of the selected kind if any."""
        undone, word = ("Undone", "undo") if by > 0 else ("Redone", "redo")
        there = {each.id for each in edits.things(self.session.rig)}
        try:
            labels = self.session.undo(by)
        except (Refused, UndoError) as error:
            self.say(str(error), "yellow")
            return
        self.host.redraw()
        again = [each.id for each in edits.things(self.session.rig) if each.id not in there]
        if again:
            shown = [place for place in self.host.places if place in again] or again
            now, kind = self.session.assessment, self.session.kind
            self.host.go_to(min(shown, key=lambda place: kind_of(now, place) != kind), added=True)
        self.say(f"{undone}: {few(labels, 3)}." if labels else f"Nothing to {word}.")
