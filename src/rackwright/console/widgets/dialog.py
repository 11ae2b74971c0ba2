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
from textual.geometry import Region, Size
from textual.message import Message
from textual.reactive import Reactive
from textual.screen import ModalScreen
from textual.strip import Strip
from textual.widget import Widget
from textual.widgets import Input, Label, Static

from rackwright.console.rows.row import STYLES, Row, cut, words, wrapped
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.fields import FieldError, Option
from rackwright.console.widgets.pane import LOOKS, Bare, Pane, hollow
from rackwright.console.widgets.screen import ConsoleScreen
from rackwright.units.text_table import cells

MOST_WHOLE = 3
"""Lines at most for the whole of an option that the list cuts."""
MOST_OPTIONS, AROUND_OPTIONS, BESIDE_OPTIONS = 16, 7, 10
"""Options seen at once at most where that is half of the window; lines that frame, title, what is typed and keys take; cells that frame, padding, mark, a blank, scroll bar and gap do."""
INSIDE = 5
"""How far what is typed is from a name that it stands in, where it begins no word."""
LEAST = 80
"""Cells of a box in the style sheet: a list takes more where what stands in it does."""
SLIM, BROAD, VAST, WIDEST, HIGH = 80, 110, 140, 160, 40
"""Columns under which a box is narrower than it is made, and from which it is broader, broader still, and broadest; lines from which it is higher."""


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


class Box(Vertical):
    """The frame of a dialog, and what stands in it."""

    def __init__(self, classes: str = "") -> None:
        super().__init__(classes=f"box {classes}")

    def render_lines(self, crop: Region) -> list[Strip]:
        """Lines of the frame, as the toolkit asks for them: for all, though little of them is seen."""
        return hollow(self.region.height, crop, super().render_lines)


class Hint(Static):
    """The keys of a box, faint under it; a line ends between two of them, never within one."""

    def __init__(self, *keys: str) -> None:
        super().__init__(classes="hint", markup=False)
        self.keys = keys
        self.more = self.room_for = ""
        """A key that acts just now; the longest of such."""

    def add(self, more: str) -> None:
        """Tell of one more key, that acts just now."""
        if more != self.more:
            self.more = more
            self.refresh(layout=True)

    def render(self) -> str:
        """The keys as they fit."""
        return self.laid_out(self.size.width, self.more)

    def get_content_height(self, _container: Size, _viewport: Size, width: int) -> int:
        return self.laid_out(width, self.more).count("\n") + 1

    def laid_out(self, width: int, more: str) -> str:
        """The keys in lines of that many cells."""
        lines = [""]
        for key in filter(None, (*self.keys, more)):
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
        """What is long in its box has more room in a broad window, and the box fits into a slim one."""
        return {
            **super().classes_in(size),
            "slim": size.width < SLIM,
            "broad": size.width >= BROAD,
            "vast": size.width >= VAST,
            "widest": size.width >= WIDEST,
            "high": size.height >= HIGH,
        }

    def action_leave(self) -> None:
        self.dismiss(None)


def begins_a_word(typed: str, text: str) -> bool:
    """Whether a word or number of the text begins with what is typed, whatever the case."""
    return re.search(rf"(?<![^\W_]){re.escape(typed)}", text, re.IGNORECASE) is not None


def far(typed: str, name: str, *told: str) -> int | None:
    """How far what is typed is from a name and what is told of it, 0 where it is the name; None where it is not found.

    Each word typed begins the name, or a word of it, or of what is told, of that which is told last sooner, or at least
    stands in the name.
    """
    name, typed = name.casefold(), typed.casefold()
    if typed in ("", name):
        return 0
    found = [_far(word, name, told) for word in typed.split()]
    return None if None in found else max(filter(None, found), default=0)


def _far(word: str, name: str, told: Sequence[str]) -> int | None:
    if name.startswith(word):
        return 1
    if begins_a_word(word, name):
        return 2
    found = (how for how, text in enumerate(reversed(told), 3) if begins_a_word(word, text))
    return next(found, INSIDE if word in name else None)


def nearest(typed: str, options: Sequence[Option]) -> list[Option]:
    """The options that are found by what is typed, the nearest first; those that it only stands in where it begins none."""
    found = [(how, option) for option in options if (how := far(typed, *option)) is not None]
    begun = [each for each in found if each[0] < INSIDE]
    return [option for _, option in sorted(begun or found, key=lambda each: each[0])]


def told_whole(option: Option) -> str:
    """All that is said of an option."""
    return f"{option.name}: {option.more}" if option.more else option.name


class Picker(Dialog):
    """Pick one of a list; typing narrows it, the nearest first. Gives the value, None where nothing was picked."""

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
        in_form: bool = False,
    ) -> None:
        """`all_of_them` says what tab does with all that is shown: then it gives a list of their values; `out`, what esc does.

        Opened from a field (`in_form`), tab takes an option and goes on to the next, as up and down do with the last one left.
        """
        super().__init__()
        self.in_form, self.onward = in_form, 0
        """Whether a form goes on from what is taken; by how many of its fields."""
        self.all_of_them, self.out = all_of_them, out
        self.heading, self.options, self.glyphs = title, options, glyphs
        self.current, self.typed = current, typed
        self.shown: list[Option] = []
        self._acting: tuple[str, ...] = ()
        """The keys that act where anything matches."""
        told = [(option.name, option.more) for option in options]
        self.longest = tuple(max((cells(each[n]) for each in told), default=0) for n in (0, 1))
        """Cells of the longest name, and of the longest words: worked out once, as there may be hundreds."""
        self.room = self.lines = 0
        """Cells of a line of the list; lines of it and of the whole of an option below."""

    def compose(self) -> ComposeResult:
        with Box():
            yield Label(self.glyphs.spelt(self.heading), classes="title", markup=False)
            yield Input(self.typed, placeholder=" type to narrow", compact=True)
            pane = Pane("", self.glyphs, "options")
            pane.can_focus = False
            yield pane
            yield Static("", id="whole", markup=False)
            tab = "OK, next field" if self.in_form else self.all_of_them
            more = (f"tab {tab}",) if tab else ()
            self._acting = ("enter OK", *more)
            yield Hint(*self._acting, f"esc {self.out}")

    def on_mount(self) -> None:
        self._make_room(self.app.size)
        self.query_one(Input).cursor_position = len(self.typed)
        self._fill(self.typed)
        self.query_one(Input).focus()

    def on_resize(self, event: Resize) -> None:
        self._make_room(event.size)

    def _make_room(self, window: Size) -> None:
        """As many lines as there are options, while they fit: the list keeps its size when typing narrows it.

        Known from the start: keys that come at once with the one that opened it would act on a list of another size.
        Where any option is cut there are lines more for the whole of the one under the cursor, which a longer list has else.
        """
        wide = max(sum(self.longest) + BESIDE_OPTIONS, LEAST)
        self.room = min(wide, window.width) - BESIDE_OPTIONS + 2
        most = max((len(self._whole(option)) for option in self.options), default=0)
        below = min(most, MOST_WHOLE) + 1 if most else 0
        lines = max(1, min(max(MOST_OPTIONS, window.height // 2), window.height - AROUND_OPTIONS - below))
        self.query_one(".box").styles.width = wide
        self.lines = min(max(len(self.options), 1), lines) + below
        self._tell_whole()

    def _whole(self, option: Option) -> list[str]:
        """The lines of an option that is cut in the list; none of one that is not."""
        name, more = (cells(self.glyphs.spelt(text)) for text in (option.name, option.more))
        taken = max(name, self._names(option, self.room)) + 2 + more if more else name
        return wrapped(told_whole(option), self.room, self.glyphs) if taken > self.room else []

    def on_input_changed(self, event: Input.Changed) -> None:
        self._fill(event.value)

    def _fill(self, typed: str) -> None:
        self.shown = nearest(typed, self.options)
        now = next((i for i, o in enumerate(self.shown) if o.value == self.current), 0)
        self.query_one(Pane).show(self._rows, nth=0 if typed else now)
        hint = self.query_one(Hint)
        hint.keys = (*(self._acting if self.shown else ()), f"esc {self.out}")
        hint.refresh()
        self._tell_whole()

    def on_pane_selected(self) -> None:
        self._tell_whole()

    def _tell_whole(self) -> None:
        """The whole of the option under the cursor, where the list cuts it; all lines that this leaves are the list's."""
        pane, whole = self.query_one(Pane), self.query_one("#whole", Static)
        lines = self._whole(self.shown[pane.nth])[:MOST_WHOLE] if 0 <= pane.nth < len(self.shown) else []
        listed = min(max(len(self.options), 1), self.lines - len(lines) - bool(lines))
        pane.styles.height = listed
        whole.display, whole.styles.height = self.lines > listed, max(1, self.lines - listed - 1)
        whole.update("\n".join(lines), layout=False)

    def _rows(self, width: int) -> list[Row]:
        if not self.shown:
            return [words("nothing matches", "dim")]
        return [Row(((cut(self._text(option, width), width, self.glyphs), ""),)) for option in self.shown]

    def _names(self, option: Option, width: int) -> int:
        """The cells of the name of an option in a list of that width."""
        names, told = (max(6, longest) for longest in self.longest)
        if (
            told < names and names + 2 + told > width
        ):  # what is short stays whole at the edge, such as the key of a command
            names = max(6, width - 2 - cells(self.glyphs.spelt(option.more)))
        return names

    def _text(self, option: Option, width: int) -> str:
        return f"{cut(option.name, self._names(option, width), self.glyphs)}  {option.more}".rstrip()

    def action_step(self, by: int) -> None:
        """To the next, past either end to the other: as in a form."""
        pane = self.query_one(Pane)
        if self.in_form and len(self.shown) == 1:
            self._go_on(by)
        elif 0 <= pane.nth + by < len(self.shown):
            pane.action_step(by)
        else:
            pane.action_edge(-by)

    def action_page(self, by: int) -> None:
        """Move in the list by what fits."""
        self.query_one(Pane).action_page(by)

    def action_pick(self) -> None:
        """Where nothing matches it stays: the keys that follow were not meant for what was selected before."""
        at = self.query_one(Pane).nth
        if self.shown and at >= 0:
            self.dismiss(self.shown[at].value)

    def action_all(self) -> None:
        """Give all that is shown; in a form the one that the cursor is on."""
        if self.in_form and self.shown:
            self._go_on(1)
        elif self.all_of_them and self.shown:
            self.dismiss([option.value for option in self.shown])

    def _go_on(self, by: int) -> None:
        self.onward = by
        self.action_pick()

    def on_pane_activated(self) -> None:
        self.action_pick()


AROUND_TEXT = 4
"""Lines of a question besides its text and its answers: the frame, the line between, the one for escape."""


class Question(Dialog):
    """Ask with a key for each answer. Gives the answer's key, None where it was left."""

    def __init__(self, text: str, answers: Sequence[tuple[str, str]], glyphs: Glyphs) -> None:
        super().__init__()
        self.text, self.answers, self.glyphs = text, answers, glyphs

    def compose(self) -> ComposeResult:
        with Box():
            with VerticalScroll():
                yield Static(Text(self.glyphs.spelt(self.text)))
            yield Label("")
            for key, told in (*self.answers, ("esc", "back")):
                yield Label(Text.assemble((f" {key:^3} ", "reverse"), f" {told}"))

    def on_resize(self, event: Resize) -> None:
        """Leave room for every answer: a text that is longer scrolls."""
        room = event.size.height - AROUND_TEXT - len(self.answers)
        self.query_one(VerticalScroll).styles.max_height = max(3, room)

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
        with Box():
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


SCROLLS = "arrows scroll"
AROUND_PAGE = 6
"""Lines of a window that frame, title and keys of a page take."""


class Page(Dialog):
    """A page to read: rows under a title; arrows scroll, escape or q leaves."""

    HINT: tuple[str, ...] = (SCROLLS, "esc close")
    BINDINGS = [Binding("q", "leave", show=False), *ROLLING]

    def __init__(self, title: str, rows: Sequence[Row], glyphs: Glyphs) -> None:
        super().__init__()
        self.heading, self.rows, self.glyphs = title, rows, glyphs

    def compose(self) -> ComposeResult:
        with Box("wide"):
            yield Label(self.glyphs.spelt(self.heading), classes="title", markup=False)
            with VerticalScroll():
                yield self.body()
            yield Hint(*self.HINT)

    def body(self) -> Widget:
        """What scrolls."""
        return Static(styled(self.rows, self.glyphs))

    def on_resize(self, _event: Resize) -> None:
        self.say_keys()

    def say_keys(self) -> None:
        """Tell of the keys that act: those that scroll only where there is more than fits."""
        hint, more = self.query_one(Hint), len(self.rows) > self.app.size.height - AROUND_PAGE
        keys = tuple(key for key in self.HINT if more or key != SCROLLS)
        if keys != hint.keys:
            hint.keys = keys
            hint.refresh(layout=True)

    def action_roll(self, by: int) -> None:
        self.query_one(VerticalScroll).scroll_relative(y=by, animate=False, immediate=True)
