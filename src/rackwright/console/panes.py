"""A pane: rows on the screen with a cursor, repainting only the lines that changed.

Knows rows and places, not what they mean; speaks upward in messages.
"""

import functools
from collections.abc import Iterable, Sequence
from itertools import zip_longest

from rich.segment import Segment
from rich.style import Style
from textual.binding import Binding
from textual.content import Content
from textual.events import Click
from textual.geometry import Region, Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.scrollbar import ScrollBarRender
from textual.strip import Strip

from rackwright.console.glyphs import Glyphs, plain
from rackwright.console.views.row import STYLES, Part, Row

_LOOKS = {name: Style.parse(look) if look else Style.null() for name, look in STYLES.items()}
_REVERSE = Style(reverse=True)
_BOLD = Style(bold=True)
GUTTER = 2


class PlainBar(ScrollBarRender):
    """A scroll bar drawn with no block signs."""

    VERTICAL_BARS = [" "] * len(ScrollBarRender.VERTICAL_BARS)


@functools.lru_cache(4096)
def _drawn(parts: tuple[Part, ...], sign: str, base: Style, width: int, ascii: bool) -> Strip:
    """A row as it is drawn; kept, as most rows only change their place when a pane scrolls."""
    segments = [Segment(f"{sign} ", base)]
    for text, style in parts:
        # dim turned round is a grey block
        look = base if base is _REVERSE and style == "dim" else _LOOKS[style] + base
        segments.append(Segment(plain(text) if ascii else text, look))
    return Strip(segments).adjust_cell_length(width, base if base is _REVERSE else None)


class Pane(ScrollView, can_focus=True):
    """Rows with a cursor."""

    BINDINGS = [
        Binding("up", "step(-1)", show=False),
        Binding("down", "step(1)", show=False),
        Binding("pageup", "page(-1)", show=False),
        Binding("pagedown", "page(1)", show=False),
        Binding("home", "edge(-1)", show=False),
        Binding("end", "edge(1)", show=False),
    ]

    class Selected(Message):
        """The cursor stands on another place."""

        def __init__(self, pane: "Pane", place: str) -> None:
            super().__init__()
            self.pane, self.place = pane, place

    class Activated(Message):
        """The row under the cursor was clicked twice."""

        def __init__(self, pane: "Pane", place: str) -> None:
            super().__init__()
            self.pane, self.place = pane, place

    class Resized(Message):
        """The pane has another width: its rows want making anew."""

        def __init__(self, pane: "Pane") -> None:
            super().__init__()
            self.pane = pane

    def __init__(self, title: str, glyphs: Glyphs, id: str) -> None:
        super().__init__(id=id)
        self.glyphs = glyphs
        self._title = title
        self._draw_title()
        self.rows: Sequence[Row] = ()
        self.cursor = 0
        self.lit: frozenset[str] = frozenset()
        self.chosen: frozenset[str] = frozenset()
        self._drawn_width = 0

    def entitle(self, title: str) -> None:
        """Say this in the frame."""
        if title != self._title:
            self._title = title
            self._draw_title()

    def _draw_title(self) -> None:
        """Cut to the width here in ASCII: the toolkit would end it with a sign that is none."""
        text, room = self._title, self.outer_size.width - 6
        if self.glyphs.ascii:
            text = plain(text)
            text = f"{text[: room - 3]}..." if 3 < room < len(text) else text
        self.border_title = Content(text)

    @property
    def text_width(self) -> int:
        """Cells for a row's words."""
        return max(10, self.scrollable_content_region.width - GUTTER)

    @property
    def place(self) -> str:
        """The place under the cursor, empty where there is none."""
        return self.rows[self.cursor].place if self._on_place(self.cursor) else ""

    def show(
        self,
        rows: Sequence[Row],
        lit: Iterable[str] = (),
        chosen: Iterable[str] = (),
        place: str | None = None,
    ) -> None:
        """Show these rows, the cursor on the row of `place` where there is one, else where it was."""
        before = self._looks()
        self._drawn_width = self.text_width
        if self.border_title is not None and place is not None:
            self.cursor = next((i for i, row in enumerate(rows) if row.place == place and row.selectable), -1)
        self.rows, self.lit, self.chosen = rows, frozenset(lit), frozenset(chosen)
        if self.cursor < 0 or not self._on_place(self.cursor):
            self.cursor = self._nearest(max(0, self.cursor)) if place is None else -1
        self._repaint(before)
        if self.cursor >= 0:
            self._bring_into_view()
        elif (first := next((i for i, row in enumerate(rows) if row.place in self.lit), None)) is not None:
            self._bring_into_view(first)

    def _looks(self) -> list[tuple[Row, bool, bool, bool]]:
        """How the rows that are in view look."""
        top, height = self.scroll_offset.y, self.scrollable_content_region.height
        return [
            (row, index == self.cursor, row.place in self.lit, row.place in self.chosen)
            for index, row in enumerate(self.rows[top : top + height], top)
        ]

    def _repaint(self, before: list[tuple[Row, bool, bool, bool]]) -> None:
        after = self._looks()
        _, _, width, height = self.scrollable_content_region
        self.virtual_size = Size(width, max(len(self.rows), height))
        pairs = enumerate(zip_longest(after, before))
        if dirty := [Region(0, y, width, 1) for y, (new, old) in pairs if new != old]:
            self.refresh(*dirty)

    def _on_place(self, index: int) -> bool:
        return 0 <= index < len(self.rows) and self.rows[index].selectable

    def _nearest(self, index: int) -> int:
        """The selectable row nearest to an index, −1 where there is none."""
        usable = [i for i, row in enumerate(self.rows) if row.selectable]
        return min(usable, key=lambda i: abs(i - index)) if usable else -1

    def render_line(self, y: int) -> Strip:
        """One line of the pane, as Textual asks for it."""
        index = y + self.scroll_offset.y
        width = self.scrollable_content_region.width
        if not 0 <= index < len(self.rows):
            return Strip.blank(width)
        row = self.rows[index]
        lit, chosen, here = row.place in self.lit, row.place in self.chosen, index == self.cursor
        sign = (
            self.glyphs.cursor
            if here
            else self.glyphs.chosen
            if chosen
            else self.glyphs.dot
            if lit and row.selectable
            else " "
        )
        base = _REVERSE if here and self.has_focus else _BOLD if here or lit or chosen else Style.null()
        return _drawn(row.parts, sign, base, width, self.glyphs.ascii)

    # --- keys and mouse ---

    def move_to(self, index: int) -> None:
        """Put the cursor on a row, and say so."""
        if index == self.cursor or not self._on_place(index):
            return
        before = self._looks()
        self.cursor = index
        self._repaint(before)
        self._bring_into_view()
        self.post_message(self.Selected(self, self.place))

    def _bring_into_view(self, index: int | None = None) -> None:
        row = self.cursor if index is None else index
        height = self.scrollable_content_region.height
        top = self.scroll_offset.y
        if row < top:
            self.scroll_to(y=max(0, row - 1), animate=False, immediate=True)
        elif row >= top + height:
            self.scroll_to(y=row - height + 1, animate=False, immediate=True)

    def action_step(self, by: int) -> None:
        """Up or down to the next row that can be selected; at the end, scroll to what is beyond."""
        index = self.cursor + by
        while 0 <= index < len(self.rows) and not self.rows[index].selectable:
            index += by
        if 0 <= index < len(self.rows):
            self.move_to(index)
        else:
            self.scroll_relative(y=by, animate=False)

    def action_page(self, by: int) -> None:
        """A page up or down."""
        height = max(1, self.scrollable_content_region.height - 1)
        self.move_to(self._nearest(min(max(self.cursor + by * height, 0), max(len(self.rows) - 1, 0))))

    def action_edge(self, by: int) -> None:
        """The first or the last row."""
        self.move_to(self._nearest(0 if by < 0 else len(self.rows)))

    def on_click(self, event: Click) -> None:
        """Select the row clicked; twice, act on it."""
        offset = event.get_content_offset(self)
        if offset is None:
            return
        index = offset.y + self.scroll_offset.y
        if self._on_place(index):
            self.move_to(index)
            if event.chain == 2:
                self.post_message(self.Activated(self, self.place))

    def on_resize(self) -> None:
        """Ask for rows of the new width."""
        if self.text_width != self._drawn_width:
            self._draw_title()
            self.post_message(self.Resized(self))

    def on_show(self) -> None:
        """Out of sight it had no width, and got rows for none."""
        self.on_resize()

    def on_focus(self) -> None:
        """The cursor row changes its look."""
        self._refresh_cursor()
        self.post_message(self.Selected(self, self.place))

    def on_blur(self) -> None:
        """The cursor row changes its look."""
        self._refresh_cursor()

    def _refresh_cursor(self) -> None:
        y = self.cursor - self.scroll_offset.y
        if 0 <= y < self.scrollable_content_region.height:
            self.refresh(Region(0, y, self.scrollable_content_region.width, 1))
