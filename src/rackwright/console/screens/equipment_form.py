"""The form of an equipment entry: as any form, with long lines, and with lists of parts that open on a screen of their own."""

import itertools
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from rich.text import Text
from textual.binding import Binding
from textual.message import Message
from textual.widget import Widget

from rackwright.console.forms.fields import Parts, PartSheet
from rackwright.console.rows.row import Row, heading, words
from rackwright.console.screens.table import (
    ADD,
    BACK,
    DUPLICATE,
    EDIT,
    HELP,
    REMOVE,
    TableScreen,
    bindings,
    under_lock,
)
from rackwright.console.session import Session
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.dialog import Question
from rackwright.console.widgets.fields import Field, FieldError
from rackwright.console.widgets.form import Form


class PartsBox(Widget, can_focus=True):
    """A list of parts in a form: how many, and their names; space opens the list."""

    BINDINGS = [Binding("space", "open", show=False)]

    class Opened(Message):
        """The list is asked for."""

        def __init__(self, box: "PartsBox") -> None:
            super().__init__()
            self.box = box

    def __init__(self, field: Parts, parts: tuple[Any, ...], glyphs: Glyphs) -> None:
        super().__init__()
        self.field, self.parts, self.glyphs = field, parts, glyphs

    def render(self) -> Text:
        """How many there are, and their names."""
        names = ", ".join(self.field.name_of(part) for part in self.parts)
        text = f"{len(self.parts)}: {names}" if self.parts else "none"
        return Text(self.glyphs.spelt(text), "reverse" if self.has_focus else "", no_wrap=True)

    def action_open(self) -> None:
        self.post_message(self.Opened(self))

    def on_click(self) -> None:
        self.action_open()


class EquipmentForm(Form):
    """The form of an equipment entry or of a part of one. Leaving it asks where something was typed."""

    CSS = "EquipmentForm PartsBox { width: 23; height: 1; }"

    def __init__(
        self,
        title: str,
        sheet: PartSheet,
        session: Session,
        glyphs: Glyphs,
        consequence: Callable[[Mapping[str, Any]], Sequence[Row]],
        attempt: Callable[[Mapping[str, Any]], str] | None = None,
    ) -> None:
        """`attempt` does what the form is for, and says what stood in its way: then the form stays, with all that was typed."""
        super().__init__(title, sheet.fields, sheet.values, glyphs, consequence)
        self.session, self.attempt = session, attempt
        self.untouched: dict[str, Any] = {}

    def _box(self, field: Field) -> Any:
        if not isinstance(field, Parts):
            return super()._box(field)
        box: Any = PartsBox(field, self._first(field), self.glyphs)
        self.boxes[field.name] = box
        return box

    def on_mount(self) -> None:
        """The cursor in the first field."""
        super().on_mount()
        self.untouched = {name: self.text_of(name) for name in self.boxes}

    def text_of(self, name: str) -> Any:
        """What stands in a field: its text, or the parts of a list."""
        box: Any = self.boxes[name]
        return box.parts if isinstance(box, PartsBox) else super().text_of(name)

    def on_parts_box_opened(self, message: PartsBox.Opened) -> None:
        box = message.box
        others = {name: self.text_of(name) for name in self.boxes}

        def done(parts: tuple[Any, ...] | None) -> None:
            if parts is not None:
                box.parts = parts
                box.refresh()
                self.judge()

        self.app.push_screen(PartsTable(box.field, box.parts, others, self.session, self.glyphs), done)

    def action_apply(self) -> None:
        """Give the values, once what they are for could be done."""
        if self.attempt is None or not self.judge():
            super().action_apply()
            return
        values = self.values()
        if trouble := self.attempt(values):
            self._tell([words(trouble, "warn")])
            return
        self.dismiss(values)

    def action_leave(self) -> None:
        """Leave; where something was typed, ask first."""
        if {name: self.text_of(name) for name in self.boxes} == self.untouched:
            self.dismiss(None)
            return

        def done(answer: str | None) -> None:
            if answer == "y":
                self.dismiss(None)

        question = "What you changed in this form is not applied yet."
        self.app.push_screen(Question(question, [("y", "close and lose it")], self.glyphs), done)


class PartsTable(TableScreen):
    """The list of an entry's sections, or of its wirings. Gives the parts as they became."""

    KEYS = under_lock(EDIT, ADD, DUPLICATE, REMOVE, BACK, HELP)
    BINDINGS = bindings(KEYS)

    def __init__(
        self,
        field: Parts,
        parts: tuple[Any, ...],
        others: Mapping[str, Any],
        session: Session,
        glyphs: Glyphs,
    ) -> None:
        super().__init__(f"{field.label} of {others.get('id') or 'the new entry'}", session, glyphs)
        self.field, self.parts, self.others = field, parts, others

    def rows(self, width: int) -> Sequence[Row]:
        field = self.field
        if not self.parts:
            return [words(f"No {field.noun} yet. Press a to add one.")]
        rows = [
            Row(((f"{field.name_of(p):<14}", ""), (field.words(p), "")), field.name_of(p)) for p in self.parts
        ]
        return [heading(field.columns), *rows]

    def _at(self) -> int | None:
        names = [self.field.name_of(part) for part in self.parts]
        return names.index(self.place) if self.place in names else None

    def action_edit(self) -> None:
        if (at := self._at()) is not None:
            self._ask(f"{self.field.noun.capitalize()} {self.place}", self.parts[at], at)

    def action_add(self) -> None:
        self._ask(f"New {self.field.noun}", None, len(self.parts), new=True)

    def action_duplicate(self) -> None:
        if (at := self._at()) is not None:
            name = free_name({self.field.name_of(part) for part in self.parts}, self.place)
            copy = self.field.renamed(self.parts[at], name)
            self._ask(f"New {self.field.noun}, as {self.place}", copy, at + 1, new=True)

    def action_remove(self) -> None:
        """Take the part out; the form it belongs to is still to be applied."""
        if (at := self._at()) is not None:
            self.parts = (*self.parts[:at], *self.parts[at + 1 :])
            self.redraw()

    def _ask(self, title: str, part: Any, at: int, new: bool = False) -> None:
        """Show the form of `part`, then put what it gives at position `at`: as one more, or in the place of that there."""
        sheet = self.field.sheet(part, self.others)
        others = (*self.parts[:at], *self.parts[at if new else at + 1 :])
        taken = {self.field.name_of(other) for other in others}

        def consequence(values: Mapping[str, Any]) -> Sequence[Row]:
            built = sheet.build(values)
            if (name := self.field.name_of(built)) in taken:
                raise FieldError(
                    f'There is a {self.field.noun} "{name}" already. Give this one another name.'
                )
            return [words(sheet.remark(values), "dim")]

        def done(values: Mapping[str, Any] | None) -> None:
            if values is not None:
                built = sheet.build(values)
                self.parts = (*others[:at], built, *others[at:])
                self.redraw(self.field.name_of(built))

        self.app.push_screen(EquipmentForm(title, sheet, self.session, self.glyphs, consequence), done)

    def action_back(self) -> None:
        self.dismiss(self.parts)


def free_name(taken: set[str], like: str) -> str:
    """The next name that is free in the pattern of `like`: after `upper` comes `upper-2`, then `upper-3`."""
    stem = re.sub(r"-\d$", "", like)
    return next(name for count in itertools.count(2) if (name := f"{stem}-{count}") not in taken)
