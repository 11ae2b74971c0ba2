"""A pane: rows on the screen with a cursor, repainting only the lines that changed.

Is given how rows are made, and makes them at the width that it has whenever they are looked at; so it has none to keep
for a width that is gone. Knows rows and places, not what they mean; speaks upward in messages.
"""

import functools
from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from itertools import zip_longest
from typing import Any, NamedTuple

from rich.segment import Segment
from rich.style import Style
from textual.binding import Binding
from textual.content import Content
from textual.dom import NoScreen
from textual.errors import NoWidget
from textual.events import Click
from textual.geometry import Region, Size
from textual.message import Message
from textual.reactive import Reactive
from textual.screen import Screen
from textual.scroll_view import ScrollView
from textual.scrollbar import ScrollBar, ScrollBarRender
from textual.strip import Strip
from textual.widget import Widget

from rackwright.console.rows.row import STYLES, Part, Row, width_of
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.terminal.handlers import KnowsHandlers
from rackwright.units.text_table import cells
from rackwright.units.typography import spelled

LOOKS = {name: Style.parse(look) if look else Style.null() for name, look in STYLES.items()}
"""Styles as the toolkit draws them."""
_PLAIN = Style.null()
_REVERSE = Style(reverse=True)
_TURNED = {
    name: _REVERSE
    + (
        Style(bgcolor=look.color)
        if name == "filled"
        else Style(bold=name != "dim" and (look.bold or look.color is not None))
    )
    for name, look in LOOKS.items()
}
"""The same under the cursor: on one ground, what stands out by its colour in bold; a bar is inked in its colour still."""
_BOLD = Style(bold=True)
NEAR = 4
"""Rows out of sight to which a step may lead, over a blank and a head: further off it is a jump."""
GUTTER, LEAST = 2, 10
AROUND = GUTTER + 4
"""Cells of a pane's width that are not for words: frame, gutter, a blank and the scroll bar."""
MakeRows = Callable[[int], Sequence[Row]]
"""Rows for a width in cells."""


class PlainBar(ScrollBarRender):
    """A scroll bar of whole cells: many a font leaves a gap beside the signs for parts of one, and ASCII has none."""

    VERTICAL_BARS = [" "] * len(ScrollBarRender.VERTICAL_BARS)


class Bar(ScrollBar):
    """A scroll bar, put together of the few signs that it has: the toolkit's way took longer than all the rows beside it."""

    virtual_size = Reactive(Size(0, 0), layout=False)
    """Nothing scrolls in it: the toolkit would lay out the whole screen again when it has come."""

    def render_lines(self, crop: Region) -> list[Strip]:
        """Lines of it, as Textual asks for them."""
        drawn: Any = self.render()
        signs = drawn.render_bar(
            self.size.height,
            drawn.virtual_size,
            drawn.window_size,
            drawn.position,
            drawn.thickness,
            back_color=drawn.style.bgcolor,
            bar_color=drawn.style.color,
        ).segments
        return filtered(self, [_sign(*segment) for segment in signs[crop.y : crop.bottom]])


def filtered(widget: Widget, lines: Sequence[Strip]) -> list[Strip]:
    """Lines as they are shown: what is drawn by the toolkit's way has been through its filters."""
    ground = widget.background_colors[1]
    for each in widget.get_line_filters():
        lines = [line.apply_filter(each, ground) for line in lines]
    return [*lines]


def hollow(height: int, crop: Region, draw: Callable[[Region], list[Strip]]) -> list[Strip]:
    """Lines of what is so high and shows nothing between its edges: those there are the same, so one of them is drawn."""
    (x, _, width, _), edges = crop, (0, height - 1)
    alike = [y if y in edges else 1 for y in crop.line_range]
    drawn = {y: draw(Region(x, y, width, 1)) for y in {*alike}}
    return [line for y in alike for line in drawn[y]]


class Bare(Widget):
    """What has neither frame nor padding: its lines, without the toolkit's weighing all looks that it may have."""

    def render_lines(self, crop: Region) -> list[Strip]:
        """Lines of it, as Textual asks for them."""
        lines = [self.render_line(y).adjust_cell_length(self.size.width) for y in crop.line_range]
        return [line.crop(*crop.column_span) for line in filtered(self, lines)]


@functools.lru_cache(256)
def _sign(*segment: Any) -> Strip:
    return Strip([Segment(*segment)])


class _Laid(NamedTuple):
    """Rows as they are made for a width."""

    rows: Sequence[Row]
    usable: list[int]
    """Which of them can be selected."""
    at: dict[str, int]
    """The first of them for each place."""
    heads: list[int]
    """Those that name columns."""
    begins: list[int]
    """For each of them the row that its words go on from, else itself."""

    def whole(self, index: int) -> range:
        """A row and those in which its words go on."""
        return range(index, bisect_right(self.begins, index)) if index >= 0 else range(0)

    def parts(self, index: int) -> tuple[Part, ...]:
        """The words of a row, none of −1."""
        return self.rows[index].parts if index >= 0 else ()


def _laid(make: MakeRows) -> Callable[[int], _Laid]:
    """Rows made once for a width."""

    @functools.lru_cache(1)
    def lay(width: int) -> _Laid:
        rows = make(width)
        usable = [index for index, row in enumerate(rows) if row.selectable]
        heads = [index for index, row in enumerate(rows) if row.heads]
        begins: list[int] = []
        for index, row in enumerate(rows):
            goes_on = index and row.place and not row.selectable and row.place == rows[index - 1].place
            begins.append(begins[-1] if goes_on else index)
        return _Laid(rows, usable, {rows[i].place: i for i in reversed(usable)}, heads, begins)

    return lay


class _Frame(NamedTuple):
    """What stands around a line."""

    left: tuple[Segment, ...] = ()
    right: tuple[Segment, ...] = ()
    bar: int = 0
    """Cells for the scroll bar."""


_BARE = _Frame()


@functools.lru_cache(4096)
def _drawn(
    parts: tuple[Part, ...], sign: str, base: Style, width: int, ascii: bool, frame: _Frame = _BARE
) -> Strip:
    """A row as it is drawn; kept, as most rows only change their place when a pane scrolls."""
    segments = [Segment(sign, base)] if sign else []
    for text, style in parts:
        look = _TURNED[style] if base is _REVERSE else LOOKS[style] + base
        segments.append(Segment(spelled(text) if ascii else text, look))
    line = Strip(segments).adjust_cell_length(width, base if base is _REVERSE else None)
    return Strip([*frame.left, *line.adjust_cell_length(width + frame.bar), *frame.right])


class Pane(KnowsHandlers, ScrollView, can_focus=True):
    """Rows with a cursor, marked and, where the keys act here, reversed."""

    BINDINGS = [
        Binding("up", "step(-1)", show=False),
        Binding("down", "step(1)", show=False),
        Binding("pageup", "page(-1)", show=False),
        Binding("pagedown", "page(1)", show=False),
        Binding("home", "edge(-1)", show=False),
        Binding("end", "edge(1)", show=False),
    ]

    virtual_size = Reactive(Size(0, 0), layout=False, repaint=False)
    """How many lines there are moves nothing on the screen, and the lines that change are repainted anyway."""

    class Selected(Message, bubble=False):
        """The cursor stands on another place; told to the screen, as what stands between has nothing to do with it."""

        def __init__(self, pane: "Pane") -> None:
            super().__init__()
            self.pane = pane

        @property
        def place(self) -> str:
            """Where it stands by now: what was gone to since the message was sent must not be left for it."""
            return self.pane.place

    class Activated(Message):
        """The row under the cursor was clicked twice."""

        def __init__(self, pane: "Pane", place: str) -> None:
            super().__init__()
            self.pane, self.place = pane, place

    def __init__(
        self,
        title: str,
        glyphs: Glyphs,
        id: str,
        *,
        reads: bool = False,
        covered: int = 0,
        whole: bool = False,
    ) -> None:
        """With `reads` it is a text to read from its start, else a list whose cursor stays in sight.

        `covered` lines at its end and its frame may be written over, so that the cursor stays above them. A `whole` one is as high as its
        rows.
        """
        super().__init__(id=id)
        self._room: tuple[Any, Region] = None, Region()
        self._frame: tuple[Any, _Frame] = None, _BARE
        """What stands around a line, and the looks of the pane for which it does."""
        self._kept: tuple[_Laid | None, dict[Any, Strip]] = None, {}
        """Lines with that frame, of rows made once: where the cursor moves, most are as they were."""
        self.glyphs, self.reads, self.whole, self._covered = glyphs, reads, whole, covered
        self._titles: Sequence[str] = (title,)
        self._make: MakeRows = lambda _width: ()
        self._lay = _laid(self._make)
        self._at: str | int = 0
        """The cursor: on the row of a place, or on the how-manieth row that can be selected, whatever the width."""
        self.lit: frozenset[str] = frozenset()
        self.chosen: frozenset[str] = frozenset()
        self._draw_title()

    @property
    def vertical_scrollbar(self) -> ScrollBar:
        """The scroll bar, made when it is first asked for."""
        if self._vertical_scrollbar is None:
            self._vertical_scrollbar = Bar(name="vertical")
            self._vertical_scrollbar.display = False
            self.app._start_widget(self, self._vertical_scrollbar)
        return self._vertical_scrollbar

    def watch_show_vertical_scrollbar(self, shown: bool) -> None:
        """Tell the scroll bar where it stands: before it is shown it is not told."""
        if shown:
            self.vertical_scrollbar.position = self.scroll_y

    @property
    def covered(self) -> int:
        """Lines at its end that may be written over: one more where no frame ends it."""
        return self._covered and self._covered + 1 - self.gutter.bottom

    def entitle(self, *titles: str) -> None:
        """Say this in the frame: the first of them that it has room for."""
        if titles != self._titles:
            self._titles = titles
            self._draw_title()

    def _draw_title(self) -> None:
        """Cut to the width here in ASCII: the toolkit would end it with a sign that is none."""
        room = self.outer_size.width - 6
        spelt = [self.glyphs.spelt(title) for title in self._titles]
        text = next((each for each in spelt if cells(each) <= room), spelt[-1])
        if self.glyphs.ascii:
            text = f"{text[: room - 3]}..." if 3 < room < len(text) else text
        self.border_title = Content(text)

    # --- what stands in it ---

    @functools.cached_property
    def screen(self) -> Screen[object]:
        """The screen that it is on, all its life."""
        return super().screen

    @property
    def scrollable_content_region(self) -> Region:
        """The room for its rows, worked out once for each layout: for one key it is asked for dozens of times."""
        try:
            laid_out = self.screen.find_widget(self)
        except (NoScreen, NoWidget):
            return super().scrollable_content_region
        if self._room[0] is not laid_out:
            self._room = laid_out, super().scrollable_content_region
        return self._room[1]

    @property
    def text_width(self) -> int:
        """Cells for a row's words."""
        return max(LEAST, self.scrollable_content_region.width - GUTTER - 1)

    @property
    def _now(self) -> _Laid:
        """The rows at the width that there is."""
        return self._laid_at(self.scrollable_content_region.width)

    def _laid_at(self, width: int) -> _Laid:
        return self._lay(max(LEAST, width - GUTTER - 1))

    @property
    def rows(self) -> Sequence[Row]:
        """The rows at the width that there is."""
        return self._now.rows

    @property
    def _usable(self) -> list[int]:
        return self._now.usable

    @property
    def cursor(self) -> int:
        """The row that the cursor is on, −1 where there is none."""
        return self._cursor_in(self._now)

    def _cursor_in(self, laid: _Laid) -> int:
        if isinstance(self._at, str):
            return laid.at.get(self._at, -1)
        return laid.usable[min(self._at, len(laid.usable) - 1)] if laid.usable else -1

    @property
    def place(self) -> str:
        """The place under the cursor, empty where there is none in sight: no key acts on what is not."""
        return row.place if (row := self.row) else ""

    @property
    def row(self) -> Row | None:
        """The row under the cursor, None where there is none in sight."""
        laid = self._now
        index = self._cursor_in(laid)
        return laid.rows[index] if index in self._seen(laid) else None

    @property
    def nth(self) -> int:
        """The how-manieth of the rows that can be selected the cursor is on, from 0; −1 where it is on none."""
        laid = self._now
        index = self._cursor_in(laid)
        return laid.usable.index(index) if index >= 0 else -1

    def show(
        self,
        make: MakeRows,
        lit: Iterable[str] = (),
        chosen: Iterable[str] = (),
        place: str | None = None,
        nth: int | None = None,
        near: bool = False,
    ) -> None:
        """Show rows made so; the cursor on `place`, or on the `nth` that can be selected, else where it was.

        Where the rows have no such place it is on none, but with `near` where it was.
        """
        before, was = self._looks(), self.nth if near else 0
        if make is not self._make:
            self._make, self._lay = make, _laid(make)
        self.lit, self.chosen = frozenset(lit), frozenset(chosen)
        if place is not None:
            self._at = max(was, 0) if near and place not in self._lay(self.text_width).at else place
        if nth is not None:
            self._at = nth
        self._fit(before)

    def _fit(self, before: Sequence[tuple[Row, bool, bool, bool]] = (), near: int = 0) -> None:
        """Take up as many lines as there are rows, repaint those that changed, and have the cursor in sight."""
        _, _, width, height = self.scrollable_content_region
        if not height:
            return
        laid = self._laid_at(width)
        count = len(laid.rows)
        if self.whole and (tall := max(1, count) + self.gutter.height) != self.outer_size.height:
            self.styles.height = tall
            self.screen.refresh(layout=True, repaint=False)  # at once, so that no frame is painted before
        spare = self.covered if count > height - self.covered else 0
        self.virtual_size = Size(width, lines := max(count + spare, height))
        if self.show_vertical_scrollbar:
            self.vertical_scrollbar.window_virtual_size = lines
        elif lines > height:
            self.refresh(layout=True)
        pairs = enumerate(zip_longest(self._looks(), before))
        if dirty := [Region(0, y, width, 1) for y, (new, old) in pairs if new != old]:
            self.refresh(*dirty)
        if not self.whole and (beyond := self.scroll_offset.y + height - int(self.virtual_size.height)) > 0:
            self._scroll(-beyond)  # there are fewer rows than there were
        if self.reads or self.whole:
            return
        if (index := self._cursor_in(laid)) < 0:
            index = next((i for i, row in enumerate(laid.rows) if row.place in self.lit), -1)
        if index >= 0:
            self._bring_into_view(index, near)

    def _looks(self) -> list[tuple[Row, bool, bool, bool]]:
        """How the rows that are in view look."""
        _, _, width, height = self.scrollable_content_region
        if not height:
            return []
        top, laid = self.scroll_offset.y, self._laid_at(width)
        cursor, over = self._cursor_in(laid), self._over(laid)
        return [
            (laid.rows[over], False, False, False)
            if over >= 0 and index == top
            else (row, laid.begins[index] == cursor, row.place in self.lit, row.place in self.chosen)
            for index, row in enumerate(laid.rows[top : top + height], top)
        ]

    def _over(self, laid: _Laid) -> int:
        """The heading of columns that stands over the first line in view, as its own is out of sight; −1 where none does."""
        top = self.scroll_offset.y
        before = bisect_right(laid.heads, top)
        if not before or laid.heads[before - 1] == top:
            return -1
        under = laid.rows[top + 1 : top + 2]
        stands = under and width_of(under[0]) and not under[0].heads
        return laid.heads[before - 1] if stands else -1

    def render_line(self, y: int) -> Strip:
        """One line of the pane, as Textual asks for it."""
        laid = self._now
        index, sign, base = self._line(y, self.scroll_offset.y, laid)
        width = self.scrollable_content_region.width
        return _drawn(laid.parts(index), sign, base, width, self.glyphs.ascii)

    def render_lines(self, crop: Region) -> list[Strip]:
        """Lines of the pane with its frame, as Textual asks for them.

        Those between its edges are put together here: the toolkit weighs all looks of the pane anew for each of them, which
        took as long as all else that a key sets off. It asks for all of them though one has changed.
        """
        border, (width, height) = self.styles.border, self.region.size
        framed = all(edge for edge, _ in border)
        if (not framed and any(edge for edge, _ in border)) or self.styles.padding or height < 3:
            return super().render_lines(crop)
        inner = self.scrollable_content_region.width
        look = (border, self.background_colors, width, inner)
        if self._frame[0] != look:
            (whole,) = super().render_lines(Region(0, 1, width, 1))
            sides = (tuple(whole.crop(0, 1)), tuple(whole.crop(width - 1, width))) if framed else ((), ())
            self._frame = look, _Frame(*sides, width - 2 * framed - inner)
            self._kept = None, {}
        laid, top = self._now, self.scroll_offset.y
        if self._kept[0] is not laid:
            self._kept = laid, {}
        kept, filters = self._kept[1], self.get_line_filters()
        strips, span = [], crop.column_span
        for y in crop.line_range:
            if framed and y in (0, height - 1):
                strips += super().render_lines(Region(crop.x, y, crop.width, 1))
                continue
            index, sign, base = line = self._line(y - framed, top, laid)
            if (strip := kept.get((line, span))) is None:
                strip = _drawn(laid.parts(index), sign, base, inner, self.glyphs.ascii, self._frame[1])
                for each in filters:
                    strip = strip.apply_filter(each, look[1][1])
                kept[line, span] = strip = strip.crop(*span)
            strips.append(strip)
        return strips

    def _line(self, y: int, top: int, laid: _Laid) -> tuple[int, str, Style]:
        """Which row stands on a line, `top` that of the first in view; what leads it, and its looks on top of its words' own."""
        index = y + top
        if not 0 <= index < len(laid.rows):
            return -1, "", _PLAIN
        if not y and (over := self._over(laid)) >= 0:
            index = over
        row = laid.rows[index]
        lit, chosen, cursor = row.place in self.lit, row.place in self.chosen, self._cursor_in(laid)
        here = laid.begins[index] == cursor
        other = self.glyphs.chosen if chosen else self.glyphs.dot if lit and row.selectable else " "
        sign = f"{other} "
        if here:
            sign = (self.glyphs.cursor if index == cursor else " ") + (self.glyphs.chosen if chosen else " ")
        # one that takes no focus is led by its screen's keys
        acting = here and (self.has_focus or not self.can_focus)
        return index, sign, _REVERSE if acting else _BOLD if here or lit or chosen else _PLAIN

    # --- keys and mouse ---

    def move_to(self, index: int) -> None:
        """Put the cursor on a row, and say so."""
        if index not in self._usable:
            return
        if index != self.cursor:
            before = self._looks()
            self._at = self._usable.index(index)
            self._fit(before, NEAR)
            self._bring_into_view(index)
            self.screen.post_message(self.Selected(self))
        else:
            self._bring_into_view(index)

    def to_top(self) -> None:
        """Begin at the first line, the cursor on the first row that can be selected."""
        before = self._looks()
        self._at = 0
        self._fit(before)
        self.to_first_line()

    def to_first_line(self) -> None:
        """Begin at the first line, the cursor where it is."""
        self._scroll(-self.scroll_offset.y)

    def _in_view(self, index: int) -> bool:
        """Whether a row is in sight."""
        return index in self._seen(self._now)

    def _seen(self, laid: _Laid) -> range:
        """The rows in sight; before any is, all."""
        height, top = self.scrollable_content_region.height, int(self.scroll_offset.y)
        if not height:
            return range(len(laid.rows))
        return range(top + (self._over(laid) >= 0), top + height)

    def _bring_into_view(self, row: int, near: int = NEAR) -> None:
        height = self.scrollable_content_region.height
        if not height:
            return
        top, usable = int(self.scroll_offset.y), self._usable
        height = max(1, height - self.covered)
        first = top + (self._over(self._now) >= 0)
        if not first - near <= row < top + height + near:  # a jump: with what stands over it and under it
            self._scroll(max(0, min(row - height // 3, len(self._now.rows) - height)) - top)
        elif row < first:
            # with what stands over it, at the head of a list all of that
            self._scroll(max(0, row - 1 if usable[:1] != [row] or row >= height else 0) - top)
        elif (last := self._now.whole(row)[-1]) >= top + height:
            self._scroll(min(row, last - height + 1) - top)

    def _scroll(self, by: int) -> None:
        # forced: rows that have just come are beyond what is laid out for scrolling
        self.scroll_to(y=self.scroll_offset.y + by, animate=False, immediate=True, force=True)

    def action_step(self, by: int) -> None:
        """To the next row that can be selected; where that is out of sight in a text, a line towards it."""
        top, height = self.scroll_offset.y, self.scrollable_content_region.height
        start = self.cursor if self._in_view(self.cursor) else top - 1 if by > 0 else top + height
        beyond = [index for index in self._usable if (index - start) * by > 0]
        target = beyond[0 if by > 0 else -1] if beyond else -1
        if not (self.reads or target < 0):
            self.move_to(target)
            return
        if not self._in_view(target):
            self._scroll(by)
        if self._in_view(target):
            self.move_to(target)

    def action_page(self, by: int) -> None:
        top = self.scroll_offset.y
        page = max(1, self.scrollable_content_region.height - 1 - self.covered - bool(self._now.heads))
        wanted = (self.cursor if self._in_view(self.cursor) else top) + by * page
        self._scroll(by * page)
        self._to_nearest(wanted)

    def action_edge(self, by: int) -> None:
        self._scroll(by * max(len(self.rows), 1))
        self._to_nearest(by * len(self.rows))

    def _to_nearest(self, wanted: int) -> None:
        """Move to the row in sight that is nearest to one wanted."""
        within = self._seen(self._now)
        if seen := [index for index in self._usable if index in within]:
            self.move_to(min(seen, key=lambda index: abs(index - wanted)))

    def on_click(self, event: Click) -> None:
        """Select the row clicked; twice, act on it."""
        offset = event.get_content_offset(self)
        if offset is None:
            return
        index, laid = offset.y + self.scroll_offset.y, self._now
        index = laid.begins[index] if index < len(laid.rows) else index
        if index in self._usable and self._in_view(index):
            self.move_to(index)
            if event.chain == 2:
                self.post_message(self.Activated(self, self.place))

    def on_resize(self) -> None:
        """The frame's title, the lines to scroll and the cursor's place follow from the size."""
        self._draw_title()
        self._fit()

    def on_focus(self) -> None:
        self._refresh_cursor()
        self.screen.post_message(self.Selected(self))

    def on_blur(self) -> None:
        self._refresh_cursor()

    def _refresh_cursor(self) -> None:
        width, height = self.scrollable_content_region.size
        lines = (index - self.scroll_offset.y for index in self._now.whole(self.cursor))
        if dirty := [Region(0, y, width, 1) for y in lines if 0 <= y < height]:
            self.refresh(*dirty)
