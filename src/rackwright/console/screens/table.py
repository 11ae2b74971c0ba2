"""Tables on the whole screen: a list with a cursor, and the keys that edit what stands in it.

`TableScreen` is the screen that all of them share; here too are the tables of a rig's feeds, circuits, spares and stock. Every edit
of the rig goes through the editor, so that undo, journal and locks hold here as they do there.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.events import Resize

from rackwright.console.calm import Calm
from rackwright.console.editor import Editor
from rackwright.console.forms.sheets import Sheet
from rackwright.console.keymap import Command
from rackwright.console.rows import tables as view
from rackwright.console.rows.row import Row
from rackwright.console.session import Refused, Session
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets import status
from rackwright.console.widgets.dialog import Page, Picker, Question
from rackwright.console.widgets.fields import Option
from rackwright.console.widgets.form import Form
from rackwright.console.widgets.pane import Pane
from rackwright.console.widgets.status import OVER, Foot, Said
from rackwright.model import edits
from rackwright.model.rig import Rig, Spare, Stock

EDIT = Command("enter", "edit", "edit", "Edit what the cursor is on, in a form", "Table")
ADD = Command("a", "add", "add", "Add one", "Table")
DUPLICATE = Command("d", "duplicate", "duplicate", "Add a copy of what the cursor is on", "Table")
ALIKE = Command("d", "duplicate", "duplicate", "Add one like what the cursor is on, in a form", "Table")
TAKE_OUT = Command("delete", "remove", "remove", "Remove it from the list", "Table", shown_key="del")
TAKE_OWN = Command("m", "take_own", "mine", "Copy your own list in stock.toml into the rig", "Table")
REMOVE = Command(
    "delete", "remove", "remove", "Remove it; lists what depends on it first", "Table", shown_key="del"
)
UNDO = Command("u", "undo", "undo", "Undo the last edit of the rig", "Table")
REDO = Command("U", "redo", "redo", "Redo", "Table")
HELP = Command("question_mark", "help", "help", "Show every key", "Table", shown_key="?")
BACK = Command("escape", "back", "close", "Close", "Table", shown_key="esc")


def bindings(commands: Sequence[Command]) -> list[BindingType]:
    """The key bindings of a table's commands."""
    return [Binding(command.key, command.action, command.help, show=False) for command in commands]


class TableScreen(Calm[Any]):
    """A list on the whole screen, a line for what is said, the keys at the foot."""

    KEYS: tuple[Command, ...] = (EDIT, ADD, DUPLICATE, REMOVE, BACK, HELP)

    def __init__(self, title: str, session: Session, glyphs: Glyphs) -> None:
        super().__init__(classes="ascii" if glyphs.ascii else None)
        self.heading, self.session, self.glyphs = title, session, glyphs
        self.place = ""
        """What the row under the cursor stands for."""

    def rows(self, width: int) -> Sequence[Row]:
        """The table, made for rows of that many cells."""
        raise NotImplementedError

    def compose(self) -> ComposeResult:
        """The list, and two lines."""
        with Vertical(id="panes"):
            yield Pane(self.heading, self.glyphs, "table", covered=OVER)
        yield Said(self.glyphs)
        yield Foot(self.glyphs, "keys")

    def on_mount(self) -> None:
        """Begin at the top."""
        self.query_one(Pane).focus()

    def on_resize(self, _event: Resize) -> None:
        """The keys that fit."""
        self.redraw()

    def on_pane_selected(self, message: Pane.Selected) -> None:
        """Note what the cursor is on; a pane that takes the focus before it has rows knows of nothing."""
        self.place = message.place or self.place

    def on_pane_activated(self) -> None:
        """A double click edits."""
        self.action_edit()

    def redraw(self, place: str | None = None) -> None:
        """Show the table as it is now, the cursor on `place` where it has such a row, else where it was."""
        pane, wanted = self.query_one(Pane), self.place if place is None else place
        pane.show(self.rows, place=wanted, near=True)
        self.place = pane.place
        self.query_one("#keys", Foot).say(status.keys(list(self.KEYS), self.session, self.size.width))

    def say(self, text: str, style: str = "") -> None:
        """Say something above the foot until the next key."""
        self.query_one(Said).say(text, style)

    def on_key(self) -> None:
        """A key wipes what was said."""
        self.say("")

    def action_edit(self) -> None:
        """Edit what the cursor is on."""
        raise NotImplementedError

    def action_help(self) -> None:
        """Every key of this table."""
        rows = [Row(((f"{c.key_words:>8}  ", "head"), (c.help, ""))) for c in self.KEYS]
        moves = Row(((f"{'arrows':>8}  ", "head"), ("Move; home and end, page up and page down too", "")))
        self.app.push_screen(Page(f"Keys: {self.heading}", [*rows, moves], self.glyphs))

    def action_back(self) -> None:
        """Leave the table."""
        self.dismiss(None)


class RigTable(TableScreen):
    """A table of something that the rig holds: edits go through the editor."""

    def __init__(self, title: str, editor: Editor) -> None:
        super().__init__(title, editor.session, editor.glyphs)
        self.editor = editor

    def make(self, label: str, change: Callable[[Rig], Rig], place: str | None = None) -> bool:
        """Make an edit, then show the table with the cursor on `place`; whether it was made."""
        made = self.editor.make(label, change)
        self.take_over()
        self.redraw(place if made else None)
        return made

    def take_over(self) -> None:
        """Say here what was said where it is out of sight."""
        told = self.editor.host.take_said()
        self.say(told.plain, str(told.style))

    def refused(self) -> bool:
        """Say so where the rig takes no edits now."""
        try:
            self.session.refuse_where_locked()
        except Refused as error:
            self.say(str(error), "yellow")
            return True
        return False

    def open_sheet(self, sheet: Sheet) -> None:
        """Show a form and make its edit."""

        def done(values: Mapping[str, Any] | None) -> None:
            if values is not None:
                self.make(sheet.label, lambda rig: sheet.make(rig, values), sheet.leads_to(values))

        self.app.push_screen(self.form_of(sheet), done)

    def form_of(self, sheet: Sheet) -> Form:
        """The form of a sheet, which tells what findings its values would bring."""
        return Form(sheet.title, sheet.fields, sheet.values, self.glyphs, self.editor.foresee(sheet))

    def action_undo(self) -> None:
        """Undo the last edit of the rig."""
        self.editor.undo()
        self.take_over()
        self.redraw()

    def action_redo(self) -> None:
        """Redo."""
        self.editor.redo()
        self.take_over()
        self.redraw()


class Things(RigTable):
    """The rig's feeds, or its circuits."""

    KEYS = (EDIT, ADD, DUPLICATE, REMOVE, BACK, UNDO, REDO, HELP)
    BINDINGS = bindings(KEYS)

    def __init__(self, kind: Literal["feed", "circuit"], editor: Editor) -> None:
        super().__init__(f"{kind.capitalize()}s of {editor.session.rig.title}", editor)
        self.kind = kind

    def rows(self, width: int) -> Sequence[Row]:
        """A row each."""
        return (view.feeds if self.kind == "feed" else view.circuits)(
            self.session.assessment, width, self.glyphs
        )

    def action_edit(self) -> None:
        """Edit it in a form."""
        if self.refused():
            return
        sheet = self.editor.maker.of(self.place) if self.place else None
        if sheet is not None:
            self.open_sheet(sheet)

    def action_add(self) -> None:
        """Add one, in a form with the next free id."""
        if not self.refused():
            self.open_sheet(self.editor.maker.new(self.kind, self.place))

    def action_duplicate(self) -> None:
        """Add a copy, and put the cursor on it."""
        if not self.place:
            return
        place, copy = self.place, edits.next_id(self.session.rig, self.place)
        if self.make(f"duplicate {place}", lambda rig: edits.duplicate(rig, place), copy):
            self.say(f"{place} is duplicated as {copy}.")

    def action_remove(self) -> None:
        """Remove it; where others depend on it, tell which and ask."""
        place = self.place
        if not place or self.refused():
            return
        found = edits.dependents(self.session.rig, place)
        if not found:
            self.make(f"remove {place}", lambda rig: edits.remove(rig, place))
            return

        def done(answer: str | None) -> None:
            if answer == "y":
                self.make(f"remove {place}", lambda rig: edits.remove(rig, place, with_dependents=True))

        leaves = "remove it from these channels" if self.kind == "feed" else "unplug these amplifiers from it"
        answers = [("y", f"remove {place} and {leaves}")]
        self.app.push_screen(
            Question(f"{place} is in use:\n{listed([d.words for d in found])}", answers, self.glyphs), done
        )


class Spares(RigTable):
    """What stands by for a failure."""

    KEYS: tuple[Command, ...] = (EDIT, ADD, ALIKE, TAKE_OUT, BACK, UNDO, REDO, HELP)
    BINDINGS = bindings(KEYS)
    TABLE: Literal["spares", "stock"] = "spares"

    def __init__(self, editor: Editor) -> None:
        super().__init__(f"{self.TABLE.capitalize()} of {editor.session.rig.title}", editor)

    def rows(self, width: int) -> Sequence[Row]:
        """A row each."""
        return view.spares(self.session.assessment, width, self.glyphs)

    def here(self) -> Spare | Stock | None:
        """What the cursor is on."""
        return next((item for item in getattr(self.session.rig, self.TABLE) if item.id == self.place), None)

    def action_edit(self) -> None:
        """Edit it in a form."""
        if (item := self.here()) is not None and not self.refused():
            self.open_sheet(self.editor.maker.owned(item))

    def action_add(self) -> None:
        """Ask which of the two, then show a form."""

        def picked(kind: str | None) -> None:
            if kind is not None:
                self.open_sheet(self.editor.maker.new_owned(kind))

        if not self.refused():
            self.app.push_screen(Picker("Add which spare?", SPARE_KINDS, self.glyphs), picked)

    def action_duplicate(self) -> None:
        """Add one like it, in a form: no two are of one model and length."""
        if (item := self.here()) is not None and not self.refused():
            self.open_sheet(self.editor.maker.owned(item, new=True))

    def action_remove(self) -> None:
        """Remove it from the list."""
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
        """Begin at the top, and say where the user's own list can't be read."""
        super().on_mount()
        self._own()

    def _own(self) -> tuple[Stock, ...]:
        """The user's own list; nothing, and said so, where it can't be read."""
        from rackwright.store.stock import own_stock
        from rackwright.store.toml.read import RigFileError

        try:
            return own_stock(self.session.rig.equipment)
        except RigFileError as error:
            self.say(str(error).partition("\n\n")[0], "yellow")
            return ()

    def rows(self, width: int) -> Sequence[Row]:
        """A row each, with how many the rig takes."""
        from rackwright.papers.owned import Wanted, pull, wanted_of

        rig = self.session.rig
        own = () if rig.stock else self._own()
        lines = (Wanted(line.cable, line.length, line.id) for line in rig.lines)
        pulled = pull(wanted_of(rig, lines), rig.stock or own)
        taken = Counter((each.wanted.cable, each.stocked.value) for each in pulled if each.stocked)
        lacking = Counter(f"{p.wanted.cable} {p.wanted.length}" for p in pulled if p.stocked is None)
        short = [f"{count} × {name} or longer" for name, count in lacking.items()]
        return view.stock(self.session.assessment, width, self.glyphs, own, taken, short)

    def action_add(self) -> None:
        """Add one, in a form."""
        if not self.refused():
            self.open_sheet(self.editor.maker.new_owned("stock"))

    def action_take_own(self) -> None:
        """Take what the user's own list has and the rig's has not into the rig."""
        own = self._own()
        if not own or self.refused():
            return
        maker = self.editor.maker
        listed_ = {(item.cable, item.length.value) for item in self.session.rig.stock}
        new = tuple(item for item in own if (item.cable, item.length.value) not in listed_)

        def change(rig: Rig) -> Rig:
            for item in new:
                rig = maker.equipped(rig, item)
            return edits.change_settings(rig, stock=(*rig.stock, *new))

        self.make("copy your own stock into the rig", change)


def listed(texts: Sequence[str], most: int = 8) -> str:
    """Texts one a line, of many only the first."""
    more = [f"and {len(texts) - most} more"] if len(texts) > most else []
    return "\n".join(f"  {text}" for text in [*texts[:most], *more])


SPARE_KINDS = (Option("cable", "of one model and length"), Option("amplifier", "of one model"))
