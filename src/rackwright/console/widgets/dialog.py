"""Small screens that ask one thing: pick from a list, answer a question, type a line, read a page."""

import re
from collections.abc import Callable, Sequence
from typing import Any

from rich.segment import Segment
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.events import Key, Resize
from textual.geometry import Size
from textual.message import Message
from textual.reactive import Reactive
from textual.screen import ModalScreen
from textual.strip import Strip
from textual.widget import Widget
from textual.widgets import Input, Label, Static

from rackwright.console.rows.row import STYLES, Row, cut, words
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.fields import FieldError, Option
from rackwright.console.widgets.pane import LOOKS, Bare, Pane
from rackwright.console.widgets.screen import ConsoleScreen
from rackwright.units.text_table import cells

MOST_OPTIONS, AROUND_OPTIONS, BESIDE_OPTIONS = 16, 7, 8
"""Options seen at once at most where that is half of the window; lines that frame, title, what is typed and keys take; cells that frame, padding, mark, scroll bar and gap do."""
LEAST, LEAST_BROAD = 80, 100
"""Cells of a box in the style sheet, and in a broad window."""
SLIM, BROAD, VAST, HIGH = 80, 110, 140, 40
"""Columns under which a box is narrower than it is made, and from which it is broader, and broader still; lines from which it is higher."""


def styled(rows: Sequence[Row], glyphs: Glyphs) -> Text:
    """Rows as one text."""
    text = Text()
    for number, row in enumerate(rows):
        if number:
            text.append("\n")
        for told, style in row.parts:
            text.append(glyphs.spelt(told), STYLES[style])
    return text


class Lines(Bare):
    """Rows, each on a line of its own."""

    virtual_size = Reactive(Size(0, 0), layout=False)
    """It is laid out by its rows, not by what comes of that."""

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__()
        self.glyphs = glyphs
        self.rows: Sequence[Row] = ()

    def show(self, rows: Sequence[Row]) -> None:
        """Show these."""
        self.rows = rows
        self.refresh(layout=True)

    def get_content_height(self, _container: Size, _viewport: Size, _width: int) -> int:
        return len(self.rows)

    def render_line(self, y: int) -> Strip:
        """A row, as the toolkit asks for it: words that fit need not be wrapped, which took a quarter of opening a page."""
        return Strip([Segment(self.glyphs.spelt(told), LOOKS[style]) for told, style in self.rows[y].parts])


class Hint(Static):
    """The keys of a box, faint under it; a line ends between two of them, never within one."""

    def __init__(self, *keys: str) -> None:
        super().__init__(classes="hint", markup=False)
        self.keys = keys

    def render(self) -> str:
        """The keys as they fit."""
        return self.laid_out(self.size.width)

    def get_content_height(self, _container: Size, _viewport: Size, width: int) -> int:
        return self.laid_out(width).count("\n") + 1

    def laid_out(self, width: int) -> str:
        """The keys in lines of that many cells."""
        lines = [""]
        for key in self.keys:
            joined = f"{lines[-1]}   {key}" if lines[-1] else key
            lines[-1:] = [joined] if cells(joined) <= width or not lines[-1] else [lines[-1], key]
        return "\n".join(lines)


class Dialog(ModalScreen[Any], ConsoleScreen[Any]):
    """A framed box over the screen; escape leaves it with nothing."""

    BINDINGS = [Binding("escape", "leave", "cancel")]

    made_for: Size | None = None
    """The window that it was made for."""

    def on_mount(self) -> None:
        """Still cursors: over a slow link each blink is sent. Made for the window before it is laid out, not again after."""
        for box in self.query(Input):
            box.cursor_blink = False
        self.made_for = self.app.size
        for base in type(self).__mro__:
            if (handler := vars(base).get("on_resize")) is not None:
                handler(self, Resize(self.made_for, self.made_for))

    async def _dispatch_message(self, message: Message) -> None:
        if isinstance(message, Resize):
            known, self.made_for = message.size == self.made_for, None
            if known:
                return
        await super()._dispatch_message(message)

    def classes_in(self, size: Size) -> dict[str, bool]:
        """Its box takes more of a broad window, and fits into a slim one."""
        return {
            **super().classes_in(size),
            "slim": size.width < SLIM,
            "broad": size.width >= BROAD,
            "vast": size.width >= VAST,
            "high": size.height >= HIGH,
        }

    def action_leave(self) -> None:
        self.dismiss(None)


def found_by(typed: str, *texts: str) -> bool:
    """Whether every word typed stands in one of the texts, whatever the case."""
    told = " ".join(texts).casefold()
    return all(word in told for word in typed.casefold().split())


def begins_a_word(typed: str, text: str) -> bool:
    """Whether a word or number of the text begins with what is typed, whatever the case."""
    return re.search(rf"(?<![^\W_]){re.escape(typed)}", text, re.IGNORECASE) is not None


class Picker(Dialog):
    """Pick one of a list; typing narrows it. Gives the value, None where nothing was picked."""

    BINDINGS = [
        Binding("down", "step(1)", show=False),
        Binding("up", "step(-1)", show=False),
        Binding("pagedown", "page(1)", show=False),
        Binding("pageup", "page(-1)", show=False),
        Binding("enter", "pick", "pick", priority=True),
        Binding("tab", "all", show=False, priority=True),
    ]

    def __init__(
        self,
        title: str,
        options: Sequence[Option],
        glyphs: Glyphs,
        current: str = "",
        typed: str = "",
        all_of_them: str = "",
        out: str = "close",
    ) -> None:
        """`all_of_them` says what tab does with all that is shown: then it gives a list of their values; `out`, what esc does."""
        super().__init__()
        self.all_of_them, self.out = all_of_them, out
        self.heading, self.options, self.glyphs = title, options, glyphs
        self.current, self.typed = current, typed
        self.shown: list[Option] = []

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Label(self.glyphs.spelt(self.heading), classes="title", markup=False)
            yield Input(self.typed, placeholder="type to narrow", compact=True)
            pane = Pane("", self.glyphs, "options")
            pane.can_focus = False
            pane.styles.height = self._lines(self.app.size.height)
            yield pane
            more = (f"tab {self.all_of_them}",) if self.all_of_them else ()
            yield Hint("enter OK", *more, f"esc {self.out}")

    def on_mount(self) -> None:
        self.query_one(Input).cursor_position = len(self.typed)
        self._fill(self.typed)
        self.query_one(Input).focus()

    def on_resize(self, event: Resize) -> None:
        self.query_one(Pane).styles.height = self._lines(event.size.height)
        names, told = (max((cells(option[n]) for option in self.options), default=0) for n in (0, 1))
        self.query_one(".box").styles.width = max(
            names + told + BESIDE_OPTIONS, LEAST_BROAD if event.size.width >= BROAD else LEAST
        )

    def _lines(self, height: int) -> int:
        """As many as there are options, while they fit in the window: it keeps its size when typing narrows the list.

        Known from the start: keys that come at once with the one that opened it would act on a list of another size.
        """
        room = max(1, min(max(MOST_OPTIONS, height // 2), height - AROUND_OPTIONS))
        return min(max(len(self.options), 1), room)

    def on_input_changed(self, event: Input.Changed) -> None:
        self._fill(event.value)

    def _fill(self, typed: str) -> None:
        self.shown = [option for option in self.options if found_by(typed, *option)]
        self.query_one(Pane).show(self._rows, nth=self._likeliest(typed))

    def _likeliest(self, typed: str) -> int:
        """Where the cursor begins: on what is set now; once something is typed, on what begins with that."""
        if typed:
            begun = (i for i, o in enumerate(self.shown) if o.value.casefold().startswith(typed.casefold()))
            return next(begun, 0)
        return next((i for i, o in enumerate(self.shown) if o.value == self.current), 0)

    def _rows(self, width: int) -> list[Row]:
        if not self.shown:
            return [words("nothing matches", "dim")]
        names, told = (max(6, *(len(option[n]) for option in self.options)) for n in (0, 1))
        if told < names:  # what is short stays whole, such as the key of a command
            names = min(names, max(6, width - 2 - told))
        texts = [f"{cut(o.value or '(none)', names, self.glyphs)}  {o.words}".rstrip() for o in self.shown]
        return [Row(((cut(text, width, self.glyphs), ""),)) for text in texts]

    def action_step(self, by: int) -> None:
        """To the next, past either end to the other: as in a form."""
        pane = self.query_one(Pane)
        if 0 <= pane.nth + by < len(self.shown):
            pane.action_step(by)
        else:
            pane.action_edge(-by)

    def action_page(self, by: int) -> None:
        """Move in the list by what fits."""
        self.query_one(Pane).action_page(by)

    def action_pick(self) -> None:
        at = self.query_one(Pane).nth
        self.dismiss(self.shown[at].value if self.shown and at >= 0 else None)

    def action_all(self) -> None:
        """Give all that is shown."""
        if self.all_of_them and self.shown:
            self.dismiss([option.value for option in self.shown])

    def on_pane_activated(self) -> None:
        self.action_pick()


class Question(Dialog):
    """Ask with a key for each answer. Gives the answer's key, None where it was left."""

    def __init__(self, text: str, answers: Sequence[tuple[str, str]], glyphs: Glyphs) -> None:
        super().__init__()
        self.text, self.answers, self.glyphs = text, answers, glyphs

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Static(Text(self.glyphs.spelt(self.text)))
            yield Label("")
            for key, told in self.answers:
                yield Label(Text.assemble((f" {key} ", "reverse"), f" {told}"))
            yield Label(Text.assemble((" esc ", "reverse"), " close"))

    def on_key(self, event: Key) -> None:
        if event.character and event.character in [key for key, _ in self.answers]:
            event.stop()
            self.dismiss(event.character)


class Prompt(Dialog):
    """Ask for a line of text that `read` accepts. Gives the text, None where it was left."""

    BINDINGS = [Binding("enter", "accept", "accept", priority=True)]

    def __init__(
        self, title: str, glyphs: Glyphs, value: str = "", read: Callable[[str], object] = str, hint: str = ""
    ) -> None:
        super().__init__()
        self.heading, self.glyphs, self.value, self.read, self.hint = title, glyphs, value, read, hint

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Label(self.heading, classes="title", markup=False)
            yield Input(self.value, compact=True)
            yield Label(self.hint, id="note")
            yield Hint("enter OK", "esc close")

    def on_mount(self) -> None:
        self.query_one(Input).focus()

    def action_accept(self) -> None:
        text = self.query_one(Input).value
        try:
            self.read(text)
        except (FieldError, ValueError) as error:
            told = self.glyphs.spelt(str(error))
            self.query_one("#note", Label).update(Text.assemble((told, "yellow")))
            return
        self.dismiss(text)


ROLLING: tuple[Binding, ...] = (
    Binding("down", "roll(1)", show=False),
    Binding("up", "roll(-1)", show=False),
    Binding("pagedown", "roll(12)", show=False),
    Binding("pageup", "roll(-12)", show=False),
)
"""The keys that scroll a page."""


class Page(Dialog):
    """A page to read: rows under a title; arrows scroll, escape or q leaves."""

    HINT: tuple[str, ...] = ("arrows scroll", "esc close")
    BINDINGS = [Binding("q", "leave", show=False), *ROLLING]

    def __init__(self, title: str, rows: Sequence[Row], glyphs: Glyphs) -> None:
        super().__init__()
        self.heading, self.rows, self.glyphs = title, rows, glyphs

    def compose(self) -> ComposeResult:
        with Vertical(classes="box wide"):
            yield Label(self.glyphs.spelt(self.heading), classes="title", markup=False)
            with VerticalScroll():
                yield self.body()
            yield Hint(*self.HINT)

    def body(self) -> Widget:
        """What scrolls."""
        return Static(styled(self.rows, self.glyphs))

    def action_roll(self, by: int) -> None:
        self.query_one(VerticalScroll).scroll_relative(y=by, animate=False, immediate=True)
