"""Tables on the whole screen: a list with a cursor, and the keys that edit what stands in it.

`TableScreen` is the screen that all of them share; here too are the tables of a rig's feeds, spares and stock. Every edit
of the rig goes through the editor, so that undo, journal and locks hold here as they do there.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, Literal

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.events import Resize

from rackwright.console.editor import Editor
from rackwright.console.forms.settings import new_owned, owned
from rackwright.console.forms.sheet import Sheet
from rackwright.console.keymap import Command
from rackwright.console.related import KINDS, kind_of
from rackwright.console.rows import tables as view
from rackwright.console.rows.row import Part, Row
from rackwright.console.screens.pages import keys_of
from rackwright.console.session import Session
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets import status
from rackwright.console.widgets.dialog import Picker
from rackwright.console.widgets.fields import Option
from rackwright.console.widgets.form import Form
from rackwright.console.widgets.pane import Pane
from rackwright.console.widgets.screen import RigScreen
from rackwright.console.widgets.status import OVER, Foot, Said
from rackwright.model import edits
from rackwright.model.lines import Spare, Stock
from rackwright.model.rig import Rig
from rackwright.units.wording import few, listed

editing = partial(Command, group="Table", edits=True)
"""A key that edits the rig."""
EDIT = editing("enter", "edit", "edit", "Edit what the cursor is on, in a form")
ADD = editing("a", "add", "add", "Add one")
DUPLICATE = editing("d", "duplicate", "duplicate", "Add a copy of what the cursor is on")
ALIKE = editing("d", "duplicate", "duplicate", "Add one like what the cursor is on, in a form")
TAKE_OUT = editing("delete", "remove", "remove", "Remove it from the list", shown_key="del")
TAKE_OWN = editing(
    "m", "take_own", "add my stock list", "Add to the rig what your own list, stock.toml, has besides"
)
REMOVE = editing("delete", "remove", "remove", "Remove it; lists what depends on it first", shown_key="del")


def _undoes(session: Session) -> str:
    return "undo" if session.history.undoes and session.may_undo() else ""


def _redoes(session: Session) -> str:
    return "redo" if session.history.redoes and session.may_undo(-1) else ""


UNDO = Command("u", "undo", "undo", "Undo the last edit of the rig", "Table", in_show=True, now=_undoes)
REDO = Command("U", "redo", "redo", "Redo", "Table", in_show=True, now=_redoes)
HELP = Command("question_mark", "help", "help", "Show every key", "Table", in_show=True, shown_key="?")
LIMIT = editing("l", "limit", "limiters", "Set the limiters of the feed as advised")
LIMIT_ALL = editing("A", "limit_all", "all limiters", "Set the limiters of all feeds as advised")
BACK = Command("escape", "back", "close", "Close", "Table", in_show=True, shown_key="esc")
OF_A_ROW = frozenset({"edit", "duplicate", "remove", "limit", "limit_all"})
"""What does nothing in a list of nothing."""


def under_lock(*commands: Command) -> tuple[Command, ...]:
    """Keys that act under the edit lock and beside another console, too: what they edit is not the rig."""
    return tuple(each._replace(in_show=True, edits=False) for each in commands)


def bindings(commands: Sequence[Command]) -> list[BindingType]:
    """The key bindings of a table's commands."""
    return [Binding(command.key, command.action, command.help, show=False) for command in commands]


class TableScreen(RigScreen[Any]):
    """A list on the whole screen, a line for what is said, the keys at the foot."""

    KEYS: tuple[Command, ...] = (EDIT, ADD, DUPLICATE, REMOVE, BACK, HELP)

    def __init__(self, title: str, session: Session, glyphs: Glyphs) -> None:
        super().__init__(session, glyphs)
        self.heading = title
        self.place = ""
        """What the row under the cursor stands for."""

    def rows(self, width: int) -> Sequence[Row]:
        """The table, made for rows of that many cells."""
        raise NotImplementedError

    def compose(self) -> ComposeResult:
        with Vertical(id="panes"):
            yield Pane(self.heading, self.glyphs, "table", covered=OVER)
        yield Said(self.glyphs)
        yield Foot(self.glyphs, "keys")

    def on_mount(self) -> None:
        self.query_one(Pane).focus()

    def on_resize(self, _event: Resize) -> None:
        self.redraw()

    def on_pane_selected(self, message: Pane.Selected) -> None:
        """Note what the cursor is on; a pane that takes the focus before it has rows knows of nothing."""
        self.place = message.place or self.place
        self.query_one("#keys", Foot).say(self.foot)

    def on_pane_activated(self) -> None:
        self.action_edit()

    def redraw(self, place: str | None = None) -> None:
        """Show the table as it is now, the cursor on `place` where it has such a row, else where it was."""
        pane, wanted = self.query_one(Pane), self.place if place is None else place
        pane.show(self.rows, place=wanted, near=True)
        self.place = pane.place
        self.query_one("#keys", Foot).say(self.foot)

    @property
    def _lacks(self) -> frozenset[str]:
        """The actions that have no row to act on."""
        rows = self.query_one(Pane).rows
        return frozenset() if any(row.place and row.selectable for row in rows) else OF_A_ROW

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool:
        """Let those go that have no row to act on: then their key does nothing here."""
        return action not in self._lacks

    def idle(self, key: str) -> None:
        command = next((each for each in self.KEYS if each.key == key), None)
        if command is None:
            super().idle(key)
        else:
            self.say(f"{command.key_words} ({command.label}) has nothing to act on here.")

    @property
    def offered(self) -> list[Command]:
        """The keys that act on what the cursor is on."""
        return [each for each in self.KEYS if each.action not in self._lacks]

    @property
    def foot(self) -> Sequence[Part]:
        """Those keys, as many as fit."""
        return status.keys(self.offered, self.session, self.size.width)

    def action_edit(self) -> None:
        raise NotImplementedError

    def action_help(self) -> None:
        self.app.push_screen(keys_of(self.heading, self.KEYS, self.glyphs))

    def action_back(self) -> None:
        self.dismiss(None)


class RigTable(TableScreen):
    """A table of something that the rig holds: edits go through the editor."""

    IN_SHOW = False
    """Whether the edit lock lets its edits through."""

    def __init__(self, title: str, editor: Editor) -> None:
        super().__init__(title, editor.session, editor.glyphs)
        self.editor = editor

    def make(
        self, label: str, change: Callable[[Rig], Rig], place: str | None = None, *, in_show: bool = False
    ) -> bool:
        """Make an edit, then show the table with the cursor on `place`; whether it was made."""
        made = self.editor.make(label, change, in_show=in_show or self.IN_SHOW)
        self.redraw(place if made else None)
        return made

    def open_sheet(
        self, sheet: Sheet, *, in_show: bool = False, then: Callable[[], None] | None = None
    ) -> None:
        """Show a form and make its edit; `then` follows one that was made."""

        def done(values: Mapping[str, Any] | None) -> None:
            if values is not None:
                made = self.make(
                    sheet.called(values),
                    lambda rig: sheet.make(rig, values),
                    sheet.leads_to(values),
                    in_show=in_show,
                )
                if made and then:
                    then()

        self.app.push_screen(self.form_of(sheet), done)

    def form_of(self, sheet: Sheet) -> Form:
        """The form of a sheet, which tells what findings its values would bring."""
        return Form(
            sheet.title, sheet.fields, sheet.values, self.glyphs, self.editor.foresee(sheet), sheet.begin
        )

    def editable(self) -> tuple[str, ...]:
        """What the cursor is on, where that has an id of its own."""
        return (self.place,) if kind_of(self.session.assessment, self.place) in KINDS else ()

    def copied_or_removed(self) -> tuple[str, ...]:
        """What the keys for that act on; that it is nothing is said."""
        if not (places := self.editable()):
            self.say(f"{self.place or 'The intake'} can't be duplicated or removed.", "yellow")
        return places

    def action_duplicate(self) -> None:
        """Add a copy of each thing that is meant; the cursor goes to the last copy."""
        if not (places := self.copied_or_removed()) or self.editor.locked():
            return
        before = self.session.rig
        if self.make(f"duplicate {few(places)}", lambda rig: edits.duplicate_all(rig, places)[0]):
            copies = edits.duplicate_all(before, places)[1]
            self.redraw(copies[-1])
            self.say(
                f"{listed(places)} {'is' if len(places) == 1 else 'are'} duplicated as {listed(copies)}."
            )

    def action_undo(self) -> None:
        self.editor.undo()
        self.redraw()

    def action_redo(self) -> None:
        self.editor.redo()
        self.redraw()


class FeedTable(RigTable):
    """The rig's feeds."""

    KEYS = (EDIT, ADD, LIMIT, LIMIT_ALL, REMOVE, DUPLICATE, BACK, UNDO, REDO, HELP)
    BINDINGS = bindings(KEYS)

    def __init__(self, editor: Editor) -> None:
        super().__init__(f"Feeds of {editor.session.rig.title}", editor)

    def rows(self, width: int) -> Sequence[Row]:
        return view.feeds(self.session.assessment, width, self.glyphs)

    def action_edit(self) -> None:
        if self.editor.locked():
            return
        sheet = self.editor.sheets.of(self.place) if self.place else None
        if sheet is not None:
            self.open_sheet(sheet)

    def action_add(self) -> None:
        """Add one, in a form with the next free id."""
        if not self.editor.locked():
            self.open_sheet(self.editor.sheets.new("feed", self.place))

    def action_limit(self) -> None:
        """Set its limiters as advised."""
        if self.place and not self.editor.locked():
            self.editor.set_advised_limiters([self.place], self.make)

    def action_limit_all(self) -> None:
        """Set those of every feed that drives something."""
        if not self.editor.locked():
            self.editor.set_advised_limiters(list(self.session.assessment.index.feeds), self.make)

    def action_remove(self) -> None:
        """Remove it; where others depend on it, tell which and ask."""
        place = self.place
        if not place or self.editor.locked():
            return
        self.editor.remove((place,), self.make)


class Spares(RigTable):
    """What stands by for a failure."""

    KEYS: tuple[Command, ...] = (EDIT, ADD, ALIKE, TAKE_OUT, BACK, UNDO, REDO, HELP)
    BINDINGS = bindings(KEYS)
    TABLE: Literal["spares", "stock"] = "spares"

    def __init__(self, editor: Editor) -> None:
        super().__init__(f"{self.TABLE.capitalize()} of {editor.session.rig.title}", editor)

    def rows(self, width: int) -> Sequence[Row]:
        return view.spares(self.session.assessment, width, self.glyphs)

    def here(self) -> Spare | Stock | None:
        """What the cursor is on."""
        return next((item for item in getattr(self.session.rig, self.TABLE) if item.id == self.place), None)

    def action_edit(self) -> None:
        if (item := self.here()) is not None and not self.editor.locked():
            self.open_sheet(owned(self.editor.options, item))

    def action_add(self) -> None:
        """Ask which of the two, then show a form."""

        def picked(kind: str | None) -> None:
            if kind is not None:
                self.open_sheet(new_owned(self.editor.options, kind))

        if not self.editor.locked():
            self.app.push_screen(Picker("Add which spare?", SPARE_KINDS, self.glyphs), picked)

    def action_duplicate(self) -> None:
        """Add one like it, in a form: no two are of one model and length."""
        if (item := self.here()) is not None and not self.editor.locked():
            self.open_sheet(owned(self.editor.options, item, new=True))

    def action_remove(self) -> None:
        if (item := self.here()) is None:
            return
        left: dict[str, Any] = {
            self.TABLE: tuple(each for each in getattr(self.session.rig, self.TABLE) if each.id != item.id)
        }
        self.make(f"remove {item.id}", lambda rig: edits.change_settings(rig, **left))


class OwnedStock(Spares):
    """What the company owns, as the rig lists it; where that lists none, the user's own list, to read."""

    KEYS = (EDIT, ADD, ALIKE, TAKE_OUT, TAKE_OWN, BACK, UNDO, REDO, HELP)
    BINDINGS = bindings(KEYS)
    TABLE = "stock"

    def on_mount(self) -> None:
        """Say where the user's own list can't be read."""
        self._own()

    def _own(self) -> tuple[Stock, ...]:
        """The user's own list; nothing, and said so, where it can't be read."""
        from rackwright.store.stock import own_stock
        from rackwright.store.toml.read import RigFileError

        try:
            return own_stock(self.session.rig.equipment)
        except RigFileError as error:
            self.say(error.first, "yellow")
            return ()

    def rows(self, width: int) -> Sequence[Row]:
        from rackwright.model.stock import Wanted, pull, wanted_of

        rig = self.session.rig
        own = () if rig.stock else self._own()
        lines = (Wanted(line.cable, line.length, line.id) for line in rig.lines)
        pulled = pull(wanted_of(rig, lines), rig.stock or own)
        taken = Counter((each.wanted.cable, each.stocked.value) for each in pulled if each.stocked)
        lacking = Counter((p.wanted.cable, p.wanted.length) for p in pulled if p.stocked is None)
        short = sorted(lacking.items(), key=lambda each: (each[0][0], each[0][1].value))
        return view.stock(self.session.assessment, width, self.glyphs, own, taken, short)

    def action_add(self) -> None:
        if not self.editor.locked():
            self.open_sheet(new_owned(self.editor.options, "stock"))

    def action_take_own(self) -> None:
        """Take what the user's own list has and the rig's has not into the rig."""
        own = self._own()
        if not own:
            self.say("Your own stock list is empty: press a, or import one with I from the racks.", "yellow")
        if not own or self.editor.locked():
            return
        options = self.editor.options
        listed_ = {(item.cable, item.length.value) for item in self.session.rig.stock}
        new = tuple(item for item in own if (item.cable, item.length.value) not in listed_)

        def change(rig: Rig) -> Rig:
            for item in new:
                rig = options.equipped(rig, item)
            return edits.change_settings(rig, stock=(*rig.stock, *new))

        self.make("copy your own stock into the rig", change)


SPARE_KINDS = (Option("cable", "of one model and length"), Option("amplifier", "of one model"))
