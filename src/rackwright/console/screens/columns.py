"""Columns: several things of a kind, a row each, typed in down a column as in a spreadsheet, what it brings said meanwhile.

What a cell holds, how it is read and which edit it makes is the thing's own form; each cell put in is an edit, with undo.
"""

from collections.abc import Mapping, Sequence
from itertools import accumulate
from typing import Any

from textual.events import Key, Paste, Resize

from rackwright.console.editor import Editor
from rackwright.console.forms.several import COLUMNS, begin_of
from rackwright.console.forms.sheet import Sheet
from rackwright.console.keymap import Command
from rackwright.console.related import kind_of
from rackwright.console.rows.consequence import foreseen
from rackwright.console.rows.row import Row, fit, titles, words
from rackwright.console.screens.table import BACK, RigTable, bindings, editing
from rackwright.console.screens.table import REDO as TABLE_REDO
from rackwright.console.screens.table import UNDO as TABLE_UNDO
from rackwright.console.widgets.dialog import INSIDE, Picker, far, nearest, styled
from rackwright.console.widgets.fields import Choice, Field, FieldError
from rackwright.console.widgets.pane import Pane
from rackwright.console.widgets.status import OVER, Said
from rackwright.engine.assess import Assessed
from rackwright.model.edits import EditError
from rackwright.model.rig import Rig
from rackwright.units.text_table import wrap
from rackwright.units.wording import MOST, some

PUT_IN = editing("enter", "put_in", "next row", "Put in what is typed, go to the next row")
COLUMN = Command(
    "right",
    "column(1)",
    "column",
    "Put in what is typed, go to the next column or the one before",
    "Table",
    shown_key="left/right",
)
BEFORE = Command("left", "column(-1)", "", "", "Table")
FILL = editing("ctrl+d", "fill", "fill down", "Give all rows below what this one has")
LIST = editing("space", "list", "list", "Choose from the list of what there is")
EMPTY = editing("delete", "empty", "empty", "Empty the cell, where it may be empty", shown_key="del")
PASTED = editing(
    "ctrl+v", "paste_hint", "", "Paste a column: a line for each row from here", shown_key="paste"
)
UNDO = TABLE_UNDO._replace(key="ctrl+z")
REDO = TABLE_REDO._replace(key="ctrl+y", label="", now=None)
HELP = Command("f1", "help", "help", "Show every key", "Table", in_show=True)
WIDEST, NARROWEST = 24, 9
"""Cells of a column, at most where not all have room."""
_GOES = {"up": (-1, 0), "down": (1, 0), "tab": (0, 1)}
"""Key → the rows and columns by which it goes on from what is typed."""


class Columns(RigTable):
    """Things of one kind, with the fields that they share."""

    KEYS = (PUT_IN, COLUMN, FILL, LIST, BACK, UNDO, EMPTY, HELP, BEFORE, PASTED, REDO)
    BINDINGS = bindings(KEYS)

    def __init__(self, editor: Editor, places: Sequence[str], begin: str = "") -> None:
        """The things of those places; the cursor starts on `begin`, in the column most likely to be changed."""
        kind = kind_of(editor.session.assessment, places[0])
        super().__init__(f"{kind.capitalize()}s of {editor.session.rig.title}", editor)
        self.places, self.kind = tuple(places), kind
        self.place = begin if begin in self.places else self.places[0]
        self._known: tuple[Assessed | None, dict[str, Sheet | None]] = None, {}
        self.typed: str | None = None
        """What is typed into the cell under the cursor; None where nothing is."""
        first = self._sheet(self.places[0])
        asked = {
            field.name
            for sheet in filter(None, map(self._sheet, self.places))
            for field in sheet.fields
            if not isinstance(field, Choice) or field.options(sheet.values)
        }
        self.columns = [name for name in COLUMNS[kind] if name in asked]
        fields = [field for field in first.fields if field.name in self.columns] if first else []
        begins = begin_of(first, fields) if first else ""
        self.column = self.columns.index(begins) if begins else 0

    def on_mount(self) -> None:
        """The cursor on the thing that was selected."""
        self.redraw()

    def on_resize(self, event: Resize) -> None:
        """What is said of what is typed is laid out anew, too."""
        super().on_resize(event)
        if self.typed is not None:
            self._type(self.typed)

    @property
    def offered(self) -> list[Command]:
        """A list is offered only of a choice, until something is typed."""
        sheet = self._sheet(self.place)
        listed = self.typed is None and sheet is not None and self._choice(sheet) is not None
        return [each for each in super().offered if each is not LIST or listed]

    # --- drawing ---

    def rows(self, width: int) -> Sequence[Row]:
        sheets = {place: sheet for place in self.places if (sheet := self._sheet(place)) is not None}
        texts = {place: [self._text(sheet, name) for name in self.columns] for place, sheet in sheets.items()}
        first = next(iter(sheets.values()), None)
        labels = _heads([self._field(first, name).label for name in self.columns]) if first else []
        wanted = [
            max(len(label), *(len(row[i]) for row in texts.values())) + 2 for i, label in enumerate(labels)
        ]
        leads = {
            place: (place, str(sheet.values["to"])) if self.kind == "line" else (place,)
            for place, sheet in sheets.items()
        }
        ends = (self.kind.capitalize(), "To")
        told = [*zip(*leads.values(), strict=True)]
        spans = [max(map(len, (ends[i], *texts))) + 2 for i, texts in enumerate(told)]
        spans[-1:] = [size - 1 for size in spans[-1:]]
        name = sum(spans)
        sizes = [max(size, NARROWEST) for size in wanted]
        if sum(sizes) > width - name:
            sizes = [min(size, WIDEST) for size in sizes]
        seen = self._seen(sizes, width - name)
        for i in seen:  # what is cut has the room that is left
            sizes[i] += max(0, min(wanted[i] - sizes[i], width - name - sum(sizes[each] for each in seen)))
        heads = (self._bracketed(labels[i], sizes[i], i == self.column) for i in seen)
        head, more = "".join((*map(fit, ends, spans), *heads)), self.glyphs.spelt("…")
        room = width - len(more)
        if seen.stop < len(sizes):
            head = head.ljust(room) + more if len(head) <= room else head[: room - 1] + more + head[-1]
        found = [titles(head)]
        for place, row in texts.items():
            cells = "".join(self._cell(place, i, row[i], sizes[i]) for i in seen)
            lead = "".join(map(fit, leads[place], spans))
            found.append(Row(((lead, "head"), (cells, "")), place))
        return found

    def _seen(self, sizes: Sequence[int], room: int) -> range:
        """The columns that fit, the one under the cursor among them."""
        first = 0
        while first < self.column and sum(sizes[first : self.column + 1]) > room:
            first += 1
        last = first + 1
        while last < len(sizes) and sum(sizes[first : last + 1]) <= room:
            last += 1
        return range(first, min(last, len(sizes)))

    def _cell(self, place: str, column: int, text: str, size: int) -> str:
        """A cell, in brackets where the cursor is on it; of what is typed the end."""
        here = place == self.place and column == self.column
        if here and self.typed is not None:
            text = f"{self.typed}_"[-(size - 2) :]
        return self._bracketed(text, size, here)

    def _bracketed(self, text: str, size: int, here: bool) -> str:
        return f"[{fit(text, size - 2)}]" if here else fit(f" {text}", size)

    def _sheet(self, place: str) -> Sheet | None:
        """The form of a place, made once for each state of the rig."""
        assessment = self.session.assessment
        if self._known[0] is not assessment:
            sheets = self.editor.sheets
            self._known = (
                assessment,
                {each: sheets.of(each) for each in self.places if self.session.exists(each)},
            )
        return self._known[1].get(place)

    def _field(self, sheet: Sheet, name: str) -> Field:
        field = next(field for field in sheet.fields if field.name == name)
        return field.after(sheet.values.get(name))

    def _text(self, sheet: Sheet, name: str) -> str:
        return str(self._field(sheet, name).write(sheet.values.get(name)))

    # --- typing ---

    def on_key(self, event: Key) -> None:
        """What is typed stands in the cell, and what it would bring is said; arrows and enter put it in."""
        if event.key == "backspace" and self.typed is not None:
            self._type(self.typed[:-1])
        elif self.typed is not None and event.key == "escape":
            self._type(None)
        elif self.typed is not None and event.key in _GOES:
            self._put_in(*_GOES[event.key])
        elif event.character and event.is_printable and (event.character != " " or self.typed is not None):
            self._type((self.typed or "") + event.character)
        else:
            return
        event.stop()
        event.prevent_default()

    def _type(self, typed: str | None) -> None:
        self.typed = typed
        self.redraw()
        if typed is None:
            self.say("")
            return
        try:
            sheet, values = self._values(self.place, typed)
            told = self.editor.foresee(sheet)(values)
            name = self.columns[self.column]
            choice, value = self._choice(sheet), values[name]
            known = {option.value: option.words for option in choice.options(sheet.values)} if choice else {}
            text = f"= {value} {known.get(value, '')}" if choice else self._field(sheet, name).note(typed)
            self._tell(told, text)
        except FieldError as error:
            self.say(str(error), "yellow")

    def _tell(self, rows: Sequence[Row], note: str = "") -> None:
        """Say the note where there are lines for all, and rows, each from a line of its own on; of too many, how many more."""
        ends = [
            *accumulate(len(wrap("".join(part for part, _ in row.parts), self.size.width)) for row in rows)
        ]
        if note and (not rows or ends[-1] <= OVER):
            rows = [words(note), *rows]
        elif rows and ends[-1] > OVER + 1:
            shown = max(1, sum(end <= OVER for end in ends))
            rows = [*rows[:shown], *([words(f"and {len(rows) - shown} more", "dim")] if rows[shown:] else ())]
        self.query_one(Said).say(styled(rows, self.glyphs))

    def _choice(self, sheet: Sheet) -> Choice | None:
        field = self._field(sheet, self.columns[self.column])
        return field if isinstance(field, Choice) else None

    def _values(self, place: str, text: str) -> tuple[Sheet, Mapping[str, Any]]:
        """The sheet of a place and its values with the text in the column. Raises FieldError."""
        sheet = self._sheet(place)
        if sheet is None:
            raise FieldError(f"{place} is gone.")
        name = self.columns[self.column]
        if (choice := self._choice(sheet)) is not None:
            text = _likeliest(choice, text, sheet.values)
        return sheet, {**sheet.values, name: self._field(sheet, name).read(text)}

    def _put_in(self, rows: int, columns: int = 0) -> None:
        """Put in what is typed, where anything is, and go on; what can't be read stays where it is."""
        if self.typed is not None and not self._write({self.place: self.typed}):
            return
        self.typed = None
        self.column = (self.column + columns) % len(self.columns)
        at = min(max(self.places.index(self.place) + rows, 0), len(self.places) - 1)
        self.place = self.places[at]
        self.redraw()

    def _write(self, texts: Mapping[str, str]) -> bool:
        """Put a text into the column of each place, in one edit; whether all can be read."""
        try:
            edited = [self._values(place, text) for place, text in texts.items()]
        except FieldError as error:
            self.say(str(error), "yellow")
            return False
        name = self.columns[self.column]

        def change(rig: Rig) -> Rig:
            for sheet, values in edited:
                rig = sheet.make(rig, values)
            return rig

        try:
            change(self.session.rig)
        except EditError as error:
            self.say(str(error), "yellow")
            return False
        first, before = next(iter(texts)), self.session.assessment
        label = f"edit {first}" if len(texts) == 1 else f"edit {name} of {len(texts)} {self.kind}s"
        if self.make(label, change, self.place) and len(texts) > 1:
            after = self.session.assessment
            self._tell(foreseen(before.findings, after.findings, MOST))
        return True

    # --- keys ---

    def on_pane_selected(self, message: Pane.Selected) -> None:
        """The cursor moved: what was being typed is left."""
        if message.place and message.place != self.place:
            self.typed = None
            self.place = message.place
            self.redraw()

    def action_edit(self) -> None:
        self.action_list()

    def action_put_in(self) -> None:
        self._put_in(1)

    def action_column(self, by: int) -> None:
        self._put_in(0, by)

    def action_fill(self) -> None:
        """Give all rows below what this one has, or what is typed in it."""
        sheet = self._sheet(self.place)
        if sheet is None:
            return
        text = self.typed if self.typed is not None else self._text(sheet, self.columns[self.column])
        below = self.places[self.places.index(self.place) :]
        if self._write(dict.fromkeys(below, text)):
            self.typed = None
            self.redraw()

    def action_empty(self) -> None:
        self.typed = ""
        self._put_in(0)

    def action_list(self) -> None:
        """Choose from what there is, in a column of choices."""
        sheet = self._sheet(self.place)
        if sheet is None or (choice := self._choice(sheet)) is None:
            self.say("Type the value; enter puts it in and goes to the next row.")
            return

        def picked(value: str | None) -> None:
            if value is not None and self._write({self.place: value}):
                self._put_in(1)

        current = str(sheet.values.get(choice.name) or "")
        self.app.push_screen(Picker(choice.label, choice.options(sheet.values), self.glyphs, current), picked)

    def action_paste_hint(self) -> None:
        self.say("Paste with your terminal's own paste key: a line for each row, from here on down.")

    def on_paste(self, event: Paste) -> None:
        """A line for each row, from the cursor on down; an empty line leaves its row as it is. What was copied as one row goes down too."""
        lines = [line.strip() for line in event.text.rstrip().splitlines()]
        lines = lines[0].split("\t") if len(lines) == 1 else lines
        if any("\t" in line for line in lines):
            self.say("Several columns were pasted: copy one, then paste it again.", "yellow")
            return
        below = self.places[self.places.index(self.place) :]
        if not any(lines) or len(lines) > len(below):
            told = f"{len(lines)} lines were pasted for {len(below)} rows from here on down."
            self.say(told if any(lines) else "Nothing was pasted.", "yellow")
            return
        self.typed = None
        self._write({place: line for place, line in zip(below, lines, strict=False) if line})


def _heads(labels: Sequence[str]) -> list[str]:
    """What stands over each column: of a label as much as tells it from the others."""
    short = [label.partition(":")[0].partition(",")[0] for label in labels]
    return [
        head if short.count(head) == 1 else label.partition(":")[0]
        for head, label in zip(short, labels, strict=True)
    ]


def _likeliest(choice: Choice, text: str, values: Mapping[str, Any]) -> str:
    """The option that is nearest to what is typed, which begins a word of it. Raises FieldError where there is none."""
    options, typed = choice.options(values), text.strip()
    known = [option.value for option in options]
    if not known:
        raise FieldError(f"{choice.label}: there is none here.")
    if not typed and "" not in known:
        raise FieldError(f"{choice.label} can't be empty.")
    if not typed or typed in known:
        return typed
    for option in nearest(typed, options):
        if far(typed, *option) != INSIDE:
            return option.value
    raise FieldError(f'"{text}" is none of: {some([name for name in known if name], 6)}.')
