"""A form: one field a line, read as it is typed, its consequence shown before it is applied."""

import functools
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from rich.segment import Segment
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.events import DescendantFocus, Key, Resize
from textual.geometry import Size
from textual.message import Message
from textual.reactive import Reactive
from textual.strip import Strip
from textual.widget import Widget
from textual.widgets import Input, Label, Static, TextArea
from textual.widgets.input import Selection

from rackwright.console.rows.row import Row, cut, hanging, words, wrapped
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.dialog import (
    MOST_WHOLE,
    Box,
    Dialog,
    Hint,
    Picker,
    begins_a_word,
    styled,
    told_whole,
)
from rackwright.console.widgets.fields import Choice, Field, FieldError, Option, Values, Words
from rackwright.console.widgets.pane import LOOKS, Bare
from rackwright.units.text_table import cells, wrap
from rackwright.units.wording import so_many, some

AROUND, FEWEST = 6, 4
"""Lines that the frame and the title take with those before the fields and the keys, and a line of keys; lines that the fields have at least."""
KEPT, MOST_TOLD = 2, 6
"""Lines kept free for a consequence of fewer; lines that it takes from the fields at most."""
ROUND, ONWARD = ("up/down go round",), ("up/down for more",)
"""What the arrows do where all fields are in sight, and where they aren't: as wide, so that no key moves."""
INDENT = 2
"""Cells before the whole of a choice."""
MOST_NAMED = 3
"""Fields named of those that are missing: the message must fit."""
HERE = LOOKS["head"] + LOOKS["here"]
LEAST_WRITTEN = 4, 12
"""Lines of a text of several that are seen at once though other fields scroll for it, in a low window and in a high one."""
LEAST_WIDTH = 76
"""Cells of a line in it, before it is laid out."""
Consequence = Callable[[Mapping[str, Any]], Sequence[Row]]
"""What the values would do, as rows; raises FieldError where they can't stand together."""


class LineBox(Input):
    """A line to type in. Its width is its own, whatever stands in it: no key lays the fields out anew."""

    virtual_size = Reactive(Size(0, 0), layout=False)
    proposed = ""
    """What stood in it before anybody typed: once it holds anything else nothing is proposed any more."""
    follows = ""
    """The label of the field that changed it last, empty once it is changed by hand."""
    cut_sign = "…"
    of_words = False
    """Whether free text stands in it."""

    def render_line(self, y: int) -> Strip:
        """A sign stands where its text goes on to either side, but for where the cursor is."""
        strip, sign = super().render_line(y), Strip([Segment(self.cut_sign, LOOKS["dim"])])
        width, left, size = self.size.width, int(self.scroll_offset.x), cells(self.cut_sign)
        cursor = cells(self.value[: self.cursor_position]) - left if self.has_focus else width // 2
        if self.value and left > 0 and cursor >= size:
            strip = Strip.join([sign, strip.crop(size)])
        if cells(self.value or self.placeholder) > left + width and cursor < width - size:
            strip = Strip.join([strip.crop(0, width - size), sign])
        return strip

    def on_focus(self) -> None:
        """All of it is selected, to be typed over."""
        self.select_all()
        self.on_resize()

    def on_resize(self) -> None:
        """Of words that are selected whole and longer than their line the beginning is in sight, of anything else its end."""
        size = len(self.value)
        if self.of_words and self.selection == (0, size) and 0 < self.size.width < cells(self.value):
            self.selection = Selection(size, 0)

    def validate(self, value: str) -> None:
        """The form judges: what the toolkit would note of it styles each box again."""


class ChoiceBox(Widget, can_focus=True):
    """A choice: left and right go through the options, space opens the list, as does a sign that a word of them begins with."""

    BINDINGS = [
        Binding("left", "turn(-1)", show=False),
        Binding("right", "turn(1)", show=False),
        Binding("space", "open", show=False),
    ]

    class Changed(Message):
        """Another option is chosen for the field."""

        def __init__(self, field: Choice) -> None:
            super().__init__()
            self.field = field

    def __init__(self, field: Choice, value: str, glyphs: Glyphs) -> None:
        super().__init__()
        self.field, self.value, self.glyphs = field, value, glyphs
        self.options: Sequence[Option] = ()
        self.by_hand = False
        """Whether somebody chose: then nothing is proposed any more."""
        self.follows = ""
        """The label of the field that changed it last, empty once it is changed by hand."""
        self.amiss = ""
        """What was typed last and is of no option."""

    def offer(self, texts: Values, cause: str) -> None:
        """Offer what there is, given what the other fields say, of which the one called `cause` changed; propose what is likely.

        A value no longer among them gives way to the first, to nothing where there are none.
        """
        before = self.value if self.options else None
        self.options = options = self.field.options(texts)
        if self.field.likely is not None and not self.by_hand:
            self.value = self.field.likely(texts)
        if self.value not in [option.value for option in options]:
            self.value = options[0].value if options else ""
        if before not in (None, self.value):
            self.follows = cause
        self.refresh()

    def render(self) -> Text:
        """The value between arrows, and its words."""
        chosen = next((each for each in self.options if each.value == self.value), Option(self.value))
        words, value = chosen.more, self.glyphs.spelt(_between_arrows(chosen))
        look = "reverse" if self.has_focus else ""
        told, style = words, "bright_black"
        if self.follows:
            told, style = _following(self.follows, words), "cyan"
        if self.amiss:
            told, style = f'no "{self.amiss}": press space', "yellow"
        room = self.size.width - len(value) - 2
        if len(self.glyphs.spelt(told)) > room:  # whole words of it
            more = self.glyphs.spelt(" …")
            told = f"{[*wrapped(told, max(1, room - len(more)), self.glyphs), ''][0]}{more}"
        told = cut(f"  {told}", max(0, room + 2), self.glyphs).rstrip()
        return Text.assemble((value, look), (told, style), no_wrap=True)

    def whole(self, width: int, below: int) -> tuple[dict[str, str], int]:
        """Each value that is cut, with its words, in a box of that width → all of it; the lines that takes of `below` cells."""
        return _whole(tuple(self.options), self.follows, width, below, self.glyphs)

    def action_turn(self, by: int) -> None:
        if self.options:
            values = [option.value for option in self.options]
            at = values.index(self.value) if self.value in values else 0
            self._take(values[(at + by) % len(values)])

    def action_open(self, typed: str = "") -> None:
        self._say_amiss("")
        picker = Picker(self.field.label, self.options, self.glyphs, self.value, typed, in_form=True)

        def done(value: str | None) -> None:
            self._take(value)
            if picker.onward and isinstance(form := self.screen, Form):
                form.step(picker.onward)

        self.app.push_screen(picker, done)

    def _say_amiss(self, typed: str) -> None:
        self.amiss = typed
        self.refresh()

    def on_blur(self) -> None:
        self._say_amiss("")

    def _take(self, value: str | None) -> None:
        self._say_amiss("")
        self.by_hand = self.by_hand or value is not None
        if value is not None and value != self.value:
            self.value, self.follows = value, ""
            self.refresh()
            self.post_message(self.Changed(self.field))

    def on_key(self, event: Key) -> None:
        """A sign opens the list, narrowed to it; one that nothing begins with was meant for another field, and is only said so."""
        if event.character and event.is_printable and event.character.isalnum():
            event.stop()
            typed = event.character
            if any(begins_a_word(typed, text) for option in self.options for text in option):
                self.action_open(typed)
            else:
                self._say_amiss(typed)

    def on_click(self) -> None:
        self.action_open()


class Line(Bare):
    """A line of a form: a label, a box, what is said of it; drawn round the box, as widgets for them made a form slow to open."""

    GAP = 1
    """Cells after the label, for the mark of the cursor, and in a slim window before what is said; in any other the label has one more."""
    BESIDE = 23
    """Cells of a box that something is said beside, as in the style sheet."""

    def __init__(self, label: str, kind: str, glyphs: Glyphs) -> None:
        super().__init__(classes=f"field {kind}")
        self.label, self.kind, self.glyphs = label, kind, glyphs
        self.here = False
        """Whether the keys go to it."""
        self.told = ("", "")
        """What is said of it, and its style."""
        self.most = LEAST_WRITTEN[0]
        """Lines of a text of several that are seen at once."""

    def mark(self, here: bool) -> None:
        """Show whether the keys go to it."""
        if here != self.here:
            self.here = here
            self.refresh()

    def tell(self, text: str, style: str) -> None:
        """Say this of it. All lines are laid out anew only where it takes other room: at each key that is slow."""
        if (text, style) == self.told:
            return
        width = self.size.width
        before = self.get_content_height(self.size, self.size, width)
        self.told = text, style
        self._make_room()
        self.refresh(layout=self.get_content_height(self.size, self.size, width) != before)

    def on_resize(self) -> None:
        """A slim window has less room for labels."""
        self._make_room()

    def _make_room(self) -> None:
        """A box for words takes the room that the label and what is said leave."""
        if self.kind == "words":
            top, _, bottom, left = self._box.styles.base.margin
            room = cells(self.told[0]) + self._gap if self.told[0] else 0
            if room and isinstance(self._box, LineBox) and not self._box.value:  # beside where others say it
                room = self.size.width - left - self.BESIDE + self._gap
            self._box.styles.margin = top, room, bottom, left

    @property
    def _box(self) -> Widget:
        (box,) = self.children
        assert isinstance(box, Widget)
        return box

    @property
    def _gap(self) -> int:
        return self.GAP if self.screen.has_class("slim") else 0

    def _texts(self, width: int) -> tuple[Sequence[str], Sequence[str], int]:
        """The lines of the label and, wrapped to the room there is, of what is said; where the latter begin."""
        label = self._box.styles.margin.left
        start = label if self.kind == "long" else width - self._box.styles.margin.right
        if self.kind == "" and (box := self._box.styles.width) is not None and box.cells is not None:
            start = label + box.cells + self._gap
        name = wrap(self.label, label - 2 + self._gap, "  ")
        told = _wrapped(self.told[0], width - start) if self.kind != "tall" else ()
        below = "", *_wrapped(self.told[0], width - label)
        if self.kind == "long" or (self.kind in ("", "words") and len(below) < len(told) + self._gap):
            return name, below, label
        return name, told, start

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """As many lines as the longest of them takes; of a text of several lines as many as there is room for."""
        label, told, _ = self._texts(width)
        lines = max(1, len(label), len(told))
        if not isinstance(box := self._box, TextArea):
            return lines
        room, text = width - box.styles.margin.width - 2, box.text if box.has_focus else box.text.rstrip()
        written = sum(max(1, len(Content(line).wrap(max(1, room)))) for line in text.split("\n"))
        return max(lines, min(written, self.most))

    def _cut(self) -> tuple[int, int]:
        """The first of its lines that is seen, and how many are down to the edge of what scrolls."""
        fields = self.parent
        assert isinstance(fields, Widget)
        above = fields.scroll_offset.y - self.virtual_region.y
        return above, above + fields.size.height

    def render_line(self, y: int) -> Strip:
        """A line of the label, and of what is said; where the keys go to it the label is a bar that points at the box."""
        label, told, start = self._texts(self.size.width)
        before, after = (lines[y] if y < len(lines) else "" for lines in (label, told))
        above, below = self._cut()
        if before and y == above > 0:
            before = f"{self.glyphs.spelt('…')}{before.lstrip() if self.glyphs.ascii else before[1:]}"
        elif y + 1 == below < len(label):
            before += self.glyphs.spelt("…")
        if after and y + 1 == below < len(told):
            more = self.glyphs.spelt(" …")
            after = wrap(after, self.size.width - start - len(more))[0] + more
        if self.here and before:
            room = self._box.styles.margin.left - self.GAP
            before = f"{before:<{room}}"
            drawn = [Segment(before, HERE), Segment("" if y else self.glyphs.cursor)]
            before += "" if y else self.glyphs.cursor
        else:
            drawn = [Segment(before)]
        if after:
            drawn += [Segment(" " * (start - cells(before))), Segment(after, LOOKS[self.told[1]])]
        return Strip(drawn)


@functools.lru_cache(256)
def _wrapped(text: str, width: int) -> tuple[str, ...]:
    return tuple(line for part in text.splitlines() for line in wrap(part, max(1, width)))


def _between_arrows(option: Option) -> str:
    return f"‹ {option.name} ›"


@functools.lru_cache(64)
def _whole(
    options: tuple[Option, ...], follows: str, width: int, below: int, glyphs: Glyphs
) -> tuple[dict[str, str], int]:
    found = dict[str, str]()
    for option in options:
        told = _following(follows, option.more) if follows else option.more
        if cells(glyphs.spelt(f"{_between_arrows(option)}  {told}".rstrip())) > width:
            found[option.value] = glyphs.spelt(told_whole(option))
    return found, max((len(wrap(text, below)) for text in found.values()), default=0)


class FieldList(VerticalScroll, inherit_bindings=False):
    """What scrolls after the cursor: the form has the keys."""

    def __init__(self, laid_out: Callable[[], None]) -> None:
        """`laid_out` is called each time that it is another size, or what stands in it is."""
        super().__init__(id="fields", can_focus=False)
        self._laid_out = laid_out

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        """Draw anew what tells that an edge cuts it."""
        super().watch_scroll_y(old_value, new_value)
        self._draw_anew()

    def on_resize(self) -> None:
        self._draw_anew()
        self._laid_out()

    def _draw_anew(self) -> None:
        for line in self.query(Line):
            line.refresh()


class Form(Dialog):
    """Fields to fill in. Gives the values by field name, None where it was left."""

    BINDINGS = [
        Binding("enter", "apply", "apply", priority=True),
        Binding("down", "next_field", show=False, priority=True),
        Binding("up", "previous_field", show=False, priority=True),
        Binding("ctrl+j", "new_line", show=False, priority=True),
        Binding("pagedown", "page(1)", show=False, priority=True),
        Binding("pageup", "page(-1)", show=False, priority=True),
        Binding("home", "edge(-1)", show=False),
        Binding("end", "edge(1)", show=False),
    ]

    def __init__(
        self,
        title: str,
        fields: Sequence[Field],
        values: Mapping[str, Any],
        glyphs: Glyphs,
        consequence: Consequence | None = None,
        begin: str = "",
    ) -> None:
        """`begin` names the field that the cursor starts on, the first where empty."""
        super().__init__()
        self.heading, self.glyphs, self.begin = title, glyphs, begin
        self.fields = [field.after(values.get(field.name)) for field in fields]
        self.start = dict(values)
        self.consequence = consequence
        self.boxes: dict[str, Input | ChoiceBox | TextArea] = {}
        self.told: Sequence[Row] = ()
        self.judged: Sequence[str] = ()
        """The texts that were judged last."""
        self.refused = False
        """Whether it was to be applied and could not be."""
        self.room, self.top = KEPT, 0
        """Lines that the consequence has, and the first of it that is shown."""
        self.above = 0
        """Lines above it: it grows downward, so that nothing that stands in it moves."""

    def compose(self) -> ComposeResult:
        """A line a field, the consequence, the keys."""
        with Box("form"):
            yield Label(self.heading, classes="title", markup=False)
            with FieldList(self._see):
                for field in self.fields:
                    line = Line(self.glyphs.spelt(field.label), _kind(field), self.glyphs)
                    with line:
                        yield self._box(field)
            yield Static("", id="whole", markup=False)
            yield Static("", id="consequence")
            hint = Hint("enter apply", "esc close", *(ROUND if len(self.fields) > 1 else ()))
            hint.room_for = max((_takes(field) for field in self.fields), key=len, default="")
            yield hint

    def _box(self, field: Field) -> Input | ChoiceBox | TextArea:
        text = self._first(field)
        if isinstance(field, Choice):
            box: Input | ChoiceBox | TextArea = ChoiceBox(field, text, self.glyphs)
        elif isinstance(field, Words) and field.lines > 1:
            box = TextArea(text, compact=True, placeholder="none")
            box.cursor_blink = False
        else:
            text = text if isinstance(field, Words) else self.glyphs.spelt(text)
            box = LineBox(text, self.glyphs.spelt(field.unfilled), compact=True, select_on_focus=False)
            box.proposed, box.cut_sign, box.of_words = text, self.glyphs.spelt("…"), isinstance(field, Words)
        self.boxes[field.name] = box
        return box

    def on_mount(self) -> None:
        self._offer()
        self.judge()
        self.watch(self.query_one("#fields"), "virtual_size", self._grown, init=False)
        if self.boxes:
            self.boxes.get(self.begin, next(iter(self.boxes.values()))).focus()

    def on_resize(self, _event: Resize) -> None:
        """The consequence is wrapped anew once its box has its width: else its end, and the key to it, would be cut."""
        self.above = self.size.height
        self._fit()
        self.call_after_refresh(self._wrap_anew)

    def _wrap_anew(self) -> None:
        if self.query("#consequence"):  # the form may have been closed since
            self._tell(self.told)

    def on_descendant_focus(self, event: DescendantFocus) -> None:
        """The label tells, too, which field the keys go to."""
        for line in self.query(Line):
            line.mark(line is event.widget.parent)
        here = next((field for field in self.fields if self.boxes[field.name] is event.widget), None)
        self.query_one(Hint).add(_takes(here) if here else "")
        self._fit()

    def _grown(self) -> None:
        """What is said beside a field took more lines, or fewer."""
        self._fit()

    def _see(self) -> None:
        """Have in sight all that is said of the field that the keys go to: its box alone the toolkit sees to."""
        line = self.focused.parent if self.focused else None
        if isinstance(line, Line) and not self.can_view_entire(line):
            line.scroll_visible(animate=False, immediate=True)

    @property
    def _width(self) -> int:
        """Cells of a line, known before any is laid out."""
        width = self.query(Line).first().styles.width if self.boxes else None
        return width.cells or LEAST_WIDTH if width is not None else LEAST_WIDTH

    def _whole(self, box: ChoiceBox) -> tuple[dict[str, str], int]:
        return box.whole(self._width - box.styles.margin.left, self._width - INDENT)

    def _tell_whole(self) -> int:
        """The whole of the choice that has the cursor, where its line cuts it; the lines that takes."""
        box = self.focused
        whole = self._whole(box)[0].get(box.value, "") if isinstance(box, ChoiceBox) else ""
        label = self.query_one("#whole", Static)
        label.update(whole, layout=False)
        label.display = bool(whole)
        lines = min(len(wrap(whole, self._width - INDENT)), MOST_WHOLE)
        label.styles.height = lines
        self.query_one("#consequence").styles.margin = 0 if whole else 1, 0, 0, 0
        return lines if whole else 0

    @property
    def _most_whole(self) -> int:
        """Lines for the whole of a choice, as many as the longest of those that are cut takes."""
        choices = [box for box in self.boxes.values() if isinstance(box, ChoiceBox)]
        return min(max((self._whole(box)[1] for box in choices), default=0), MOST_WHOLE)

    def _fit(self) -> None:
        """Share the lines of the window out, so that consequence and keys stay in sight below the fields.

        What the fields leave is the consequence's; what more it needs it takes from them.
        """
        fields, hint, whole = self.query_one("#fields"), self.query_one(Hint), self._tell_whole()
        line = self.focused.parent if self.focused else None
        need, height = len(self._lines), self.size.height - AROUND
        keys, most_keys = (
            hint.laid_out(self._width, more).count("\n") for more in (hint.more, hint.room_for)
        )
        free = height - keys - whole - (need + whole > 0)
        lines = fields.virtual_size.height or len(self._open_boxes)  # before any is laid out
        here = line.size.height if isinstance(line, Line) else 0
        most = max(free - lines, min(MOST_TOLD, free - max(FEWEST, here)))
        self.room = min(need, max(most, KEPT))
        left = free - max(self.room, KEPT if self.consequence else 0)
        if len(self.fields) > 1:
            hint.keys = (*hint.keys[:2], *(ONWARD if lines > left else ROUND))
            hint.refresh()
        self._let_texts_grow(left - lines)
        fields.styles.max_height = max(1, left)
        centred = (height - 1 - most_keys - self._most_whole - MOST_TOLD - lines) // 2
        self.above = max(0, min(self.above, centred, left - lines))
        self.query_one(".box").styles.margin = self.above, 0, 0, 0
        self._draw_told()
        self.call_after_refresh(self._see)

    def _let_texts_grow(self, spare: int) -> None:
        """Each text of several lines has those that nothing else needs."""
        texts = [line for line in self.query(Line) if line.kind == "tall"]
        least = LEAST_WRITTEN[self.has_class("high")]
        spare += sum(max(0, line.size.height - least) for line in texts)
        for line in texts:
            most = max(least, min(line.size.height, least) + spare)
            if most != line.most:
                line.most = most
                line.refresh(layout=True)

    def text_of(self, name: str) -> str:
        """What stands in a field; nothing in one that is not asked for."""
        box = self.boxes[name]
        if isinstance(box, LineBox) and not self._is_open(box):
            return ""
        return box.text if isinstance(box, TextArea) else box.value

    def _first(self, field: Field) -> Any:
        """What it began with."""
        return field.write(self.start.get(field.name))

    def _texts(self) -> list[str]:
        return [self.text_of(name) for name in self.boxes]

    def _offer(self, cause: str = "") -> None:
        """Have each field offer and propose what suits the others, of which the one called `cause` changed."""
        if self._proposed_anew(cause):  # what is chosen may rest on that: a side on an id
            self._proposed_anew(cause)

    def _proposed_anew(self, cause: str) -> bool:
        """Whether other text is proposed now. Choices first: what is proposed elsewhere rests on them."""
        texts, anew = {name: self.text_of(name) for name in self.boxes}, False
        for field in sorted(self.fields, key=lambda field: not isinstance(field, Choice)):
            box, (other, needed) = self.boxes[field.name], field.only
            opened = texts.get(other, needed) == needed
            if isinstance(box, ChoiceBox):
                box.offer(texts, cause)
                opened = bool(box.options)
            elif isinstance(box, LineBox) and field.likely is not None and box.value == box.proposed:
                likely = field.likely(texts)
                if likely != box.value:
                    box.value, box.proposed, box.follows, anew = likely, likely, cause, True
            if isinstance(box.parent, Line) and box.parent.display != opened:
                box.parent.display = opened
            texts[field.name] = self.text_of(field.name)
        return anew

    def values(self) -> dict[str, Any]:
        """Every field's value. Raises FieldError with the first field that can't be read."""
        return {field.name: field.read(self.text_of(field.name)) for field in self.fields}

    def on_input_changed(self) -> None:
        """Each box says so when it is made, too."""
        if (texts := self._texts()) != self.judged:
            pairs = zip(
                self.fields, texts, self.judged, strict=False
            )  # nothing is judged yet when it is made
            self._offer(next((field.label for field, now, before in pairs if now != before), ""))
            self.judge()

    def on_text_area_changed(self, event: TextArea.Changed) -> None:
        """Its box is as high as the text, while there is room."""
        if isinstance(line := event.text_area.parent, Line):
            line.refresh(layout=True)
        self.on_input_changed()

    def on_choice_box_changed(self, event: ChoiceBox.Changed) -> None:
        """One choice can change what another offers."""
        self._offer(event.field.label)
        self.judge()

    def judge(self) -> bool:
        """Say beside each field what it is worth, and below what all would do; whether it can be applied.

        What is still empty is no fault before somebody wants to apply it.
        """
        good, self.judged = True, self._texts()
        for field in self.fields:
            if isinstance(field, Choice):
                continue
            line = self.boxes[field.name].parent
            assert isinstance(line, Line)
            try:
                text, style = self._note(field)
                field.read(self.text_of(field.name))
            except FieldError as error:
                untouched = not (self.refused or self.text_of(field.name) or self._first(field))
                hint = "" if self.text_of(field.name) else field.hint
                text = hint if untouched else hint or str(error)
                style, good = "dim" if untouched else "warn", False
            line.tell(self.glyphs.spelt(text), style)
        return self._foresee() if good else self._hide()

    def _note(self, field: Field) -> tuple[str, str]:
        """What its text comes to and the style of that; first, which field it follows. Raises FieldError."""
        box = self.boxes[field.name]
        text = self.text_of(field.name)
        note = field.note(text) if text else ""
        if isinstance(box, LineBox) and box.follows and box.value == box.proposed:
            return _following(box.follows, note), "note"
        return note or ("" if text else field.hint), "dim"

    def _foresee(self) -> bool:
        try:
            self._tell(self.consequence(self.values()) if self.consequence else ())
        except FieldError as error:
            self._tell([words(str(error), "warn")])
            return False
        return True

    def _hide(self) -> bool:
        self._tell(())
        return False

    def _tell(self, rows: Sequence[Row]) -> None:
        """What all would do, from its beginning."""
        self.told, self.top = rows, 0
        self._fit()

    def _draw_told(self) -> None:
        """As much of it as there are lines for, and which key shows the rest."""
        lines = self._lines
        if len(lines) > self.room:
            end = self.top + self.room - 1
            left = (
                f"page down: {so_many(len(lines) - end, 'more line')}"
                if end < len(lines)
                else "page up: back"
            )
            lines = [*lines[self.top : end], words(left, "lit")]
        label = self.query_one("#consequence", Static)
        label.display = bool(lines)
        label.styles.max_height = max(
            1, len(lines)
        )  # until it is wrapped anew in another window it would take more
        _show(label, styled(lines, self.glyphs))

    @property
    def _lines(self) -> list[Row]:
        width = self.query_one("#consequence").container_size.width or self._width
        told = self.told if any(text for row in self.told for text, _ in row.parts) else ()
        pairs = ((("", ""), *row.parts)[-2:] for row in told)
        return [line for lead, text in pairs for line in hanging(lead, text, width, self.glyphs)]

    def action_page(self, by: int) -> None:
        """The consequence a page on, or back; where that has no more, the fields."""
        top = self.top + by * (self.room - 1)
        if self.room < len(lines := self._lines) and 0 <= top < len(lines):
            self.top = top
            self._draw_told()
            return
        at, last = self._at(by), len(self._open_boxes) - 1
        self.set_focus(
            self._open_boxes[min(max(at + by * (self.query_one("#fields").size.height - 1), 0), last)]
        )

    def action_edge(self, by: int) -> None:
        """To the first field, or to the last."""
        self.set_focus(self._open_boxes[0 if by < 0 else -1])

    def action_apply(self) -> None:
        """Give the values; or go to the first field that can't be read, put in what was likely meant there, and say which all are."""
        wrong = [(field, error) for field in self.fields if (error := self._error(field)) is not None]
        if not wrong:
            if self.judge():
                self.dismiss(self.values())
            return
        field, error = wrong[0]
        box = self.boxes[field.name]
        self.set_focus(box)
        if error.likely and isinstance(box, Input):
            box.value = error.likely
            box.cursor_position = len(error.likely)
        self.refused = True
        self.judge()
        labels = some([field.label for field, _ in wrong], MOST_NAMED)
        told = (
            f"{error.likely} is put in for {field.label}. Press enter again."
            if error.likely
            else f"Fill in: {labels}."
        )
        self._tell([words(told, "warn")])

    def _error(self, field: Field) -> FieldError | None:
        """Why a field can't be read."""
        try:
            field.read(self.text_of(field.name))
        except FieldError as error:
            return error
        return None

    def action_new_line(self) -> None:
        """A new line in a text of several lines."""
        if isinstance(self.focused, TextArea):
            self.focused.insert("\n")

    def action_next_field(self) -> None:
        """Down a field; in a text of several lines, down a line."""
        self.step(1)

    def action_previous_field(self) -> None:
        self.step(-1)

    def step(self, by: int) -> None:
        """Go by so many fields, or lines of a text of several."""
        if isinstance(self.focused, TextArea):
            row = self.focused.cursor_location[0] + by
            if 0 <= row < self.focused.document.line_count:
                self.focused.move_cursor_relative(rows=by)
                return
        boxes = self._open_boxes
        self.set_focus(boxes[(self._at(by) + by) % len(boxes)])

    @property
    def _open_boxes(self) -> list[Input | ChoiceBox | TextArea]:
        """Those that are shown: a choice of nothing is not, nor what another field leaves no meaning."""
        return [box for box in self.boxes.values() if self._is_open(box)]

    def _is_open(self, box: Widget) -> bool:
        return isinstance(box.parent, Line) and box.parent.display

    def _at(self, by: int) -> int:
        """Which of them the keys go to; where none, the one before the first of that direction."""
        boxes: list[Any] = [*self._open_boxes]
        return boxes.index(self.focused) if self.focused in boxes else -by


def _following(cause: str, told: str) -> str:
    """That a field was changed by the one called `cause`, and what is said of it else."""
    return "; ".join(filter(None, (f"follows {cause}", told)))


def _takes(field: Field) -> str:
    """The keys that are its own."""
    if isinstance(field, Choice):
        return "left/right/space/letter choose"
    return "ctrl+j new line" if _kind(field) == "tall" else ""


def _kind(field: Field) -> str:
    """How its line is laid out."""
    if isinstance(field, Words) and field.lines > 1:
        return "tall"
    if type(field) is Words and field.name != "id":  # nothing is said of it
        return "words"
    return "long" if field.long else ""


def _show(label: Static, text: Text) -> None:
    """Put a text on a label. All fields are laid out anew only where it takes other lines: at each key that is slow."""
    if text == label.content:
        return
    label.update(text, layout=False)
    lines = label.get_content_height(label.container_size, label.screen.size, label.size.width)
    if not label.size or lines != label.size.height:
        label.refresh(layout=True)
