"""What every screen edits through: asks with forms and pickers, gives edits to the session, says what became of them.

The workplace owns it and lends it to the screens that its keys open, so that none of them knows the workplace. Draws
nothing: the screen that shows the rig is its host.
"""

from collections.abc import Callable, Mapping
from typing import Any, Protocol

from rich.text import Text
from textual.app import App

from rackwright.console.document import Document
from rackwright.console.forms.sheets import Maker, Sheet
from rackwright.console.rows.consequence import foreseen
from rackwright.console.rows.row import Row, words
from rackwright.console.session import Refused, Session
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.dialog import Picker
from rackwright.console.widgets.fields import FieldError, Option, Values
from rackwright.console.widgets.form import Form
from rackwright.engine.assess import assess
from rackwright.model.edits import EditError
from rackwright.model.equipment import Equipment
from rackwright.model.rig import Rig


class Host(Protocol):
    """The screen that shows the rig."""

    @property
    def app(self) -> App[Any]:
        """The app, which shows dialogs and screens."""

    def say(self, text: str, style: str = "") -> None:
        """Say something until the next key."""

    def take_said(self) -> Text:
        """What is said, which is then said no longer: for a screen that hides it."""

    def redraw(self) -> None:
        """Show the session as it is now."""

    def go_to(self, place: str) -> None:
        """Select a place, and show it."""


class Editor:
    """The rig being worked on and what there is to work on it with."""

    def __init__(self, document: Document, library: Equipment, glyphs: Glyphs, host: Host) -> None:
        self.document, self.library, self.glyphs, self.host = document, library, glyphs, host

    @property
    def session(self) -> Session:
        """The state behind the screen."""
        return self.document.session

    @property
    def app(self) -> App[Any]:
        """The app, which shows dialogs and screens."""
        return self.host.app

    def say(self, text: str, style: str = "") -> None:
        """Say something until the next key."""
        self.host.say(text, style)

    def make(
        self, label: str, change: Callable[[Rig], Rig], place: str | None = None, *, in_show: bool = False
    ) -> bool:
        """Give an edit to the session, show it, say what became of it; whether it was made."""
        try:
            changed = self.session.apply(label, change, allowed_in_show=in_show)
        except (Refused, EditError) as error:
            self.say(str(error), "yellow")
            return False
        if place is not None:
            self.session.place = place
        if not self.session.exists(self.session.place):
            self.session.place = ""
        self.say("")
        self.host.redraw()
        return changed

    @property
    def maker(self) -> Maker:
        """Makes forms' sheets for the rig as it is now."""
        return Maker(self.session.assessment, self.library)

    def open_sheet(self, sheet: Sheet, lets_go: bool = False) -> None:
        """Show a form and make its edit; with `lets_go` what was chosen for it is chosen no longer."""

        def done(values: Mapping[str, Any] | None) -> None:
            if values is not None:
                label = f"{sheet.label} {values['id']}" if sheet.label.startswith("add ") else sheet.label
                if self.make(label, lambda rig: sheet.make(rig, values), sheet.leads_to(values)) and lets_go:
                    self.session.marked = ()
                    self.host.redraw()
                elif label.startswith("add ") and self.session.exists(values["id"]):
                    self.host.go_to(values["id"])
                    self.say(f"{values['id']} is added.")

        self.app.push_screen(
            Form(sheet.title, sheet.fields, sheet.values, self.glyphs, self.foresee(sheet)), done
        )

    def foresee(self, sheet: Sheet) -> Callable[[Values], list[Row]]:
        """What a sheet's values would bring: findings that come and go."""
        session = self.session

        def consequence(values: Values) -> list[Row]:
            try:
                edited = sheet.make(session.rig, values)
            except EditError as error:
                raise FieldError(str(error)) from None
            if edited is session.rig:
                return [words("No change.", "dim")]
            after = assess(edited, session.assessment).findings
            return foreseen(session.assessment.findings, after, len(session.assessment.findings) + len(after))

        return consequence

    def locked(self) -> bool:
        """Say so where the rig takes no edits now."""
        try:
            self.session.refuse_where_locked()
        except Refused as error:
            self.say(str(error), "yellow")
            return True
        return False

    def pick(
        self,
        title: str,
        options: list[Option] | tuple[Option, ...],
        then: Callable[[str], None],
        current: str = "",
    ) -> None:
        """Have one of the options picked, then do that with it."""

        def done(value: str | None) -> None:
            if value is not None:
                then(value)

        if not options:
            self.say(f"{title}: there is nothing to pick yet.", "yellow")
            return
        self.app.push_screen(Picker(title, options, self.glyphs, current), done)

    def undo(self) -> None:
        """Undo the last edit."""
        self._travel(self.session.undo, "Undone", "Nothing to undo.")

    def redo(self) -> None:
        """Redo."""
        self._travel(self.session.redo, "Redone", "Nothing to redo.")

    def _travel(self, travel: Callable[[], str], word: str, nothing: str) -> None:
        try:
            label = travel()
        except Refused as error:
            self.say(str(error), "yellow")
            return
        if not self.session.exists(self.session.place):
            self.session.place = ""
        self.say(f"{word}: {label}." if label else nothing)
        self.host.redraw()
