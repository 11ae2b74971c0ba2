"""Which cells of a screen are drawn anew: each that changed, once."""

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st
from textual._compositor import Compositor
from textual.geometry import Region
from textual.screen import Screen

from console.hand import Hand, opened
from rackwright.console.terminal.composing import Composer, _apart, _around
from rackwright.console.terminal.screen_diff import Cell, Painting

REGIONS = st.builds(Region, *[st.integers(0, 9)] * 2, *[st.integers(1, 9)] * 2)


def cells(*regions: Region) -> Counter[tuple[int, int]]:
    """How often each cell is in one of them."""
    return Counter((x, y) for region in regions for x in region.column_range for y in region.line_range)


@given(st.lists(REGIONS, max_size=6))
def test_every_cell_that_changed_is_drawn_once(changed: list[Region]) -> None:
    apart = _apart(Composer._regions_to_spans(changed))
    assert cells(*apart) == Counter(set(cells(*changed)))


@given(REGIONS, REGIONS)
def test_what_is_behind_a_widget_is_what_it_does_not_cover(outer: Region, widget: Region) -> None:
    if inner := outer.intersection(widget):
        assert cells(inner, *_around(inner, outer)) == cells(outer)


def seen(rows: list[list[Cell]]) -> list[list[tuple[str, object]]]:
    """What a person sees of cells: of a blank one only its ground."""
    return [[(sign, look if sign != " " else look.seen_on_blank) for sign, look in row] for row in rows]


def drawn_anew(hand: Hand) -> list[list[Cell]]:
    """The screen as the toolkit's own compositor draws all of it."""
    screen: Screen[object] = hand.screen
    whole = Compositor.render_full_update(screen._compositor)
    painting = Painting(*hand.app.size)
    painting.less(whole.render_segments(hand.app.console))
    return painting._wanted


async def test_after_every_key_the_terminal_shows_what_the_toolkit_would_draw_anew() -> None:
    """Through panes that scroll, boxes that come and go one over the other, what is said over panes, and other sizes."""
    panes = ("down", "end", "tab", "pagedown")
    boxes = ("?", "pagedown", "escape", "v", "down", "escape", "g", "escape")
    edit = ("/", "A", "1", "enter", "enter", "down", "space", "escape", "escape", "f", "escape", "u")
    async with opened(preset="small-club", size=(80, 24), painted=True) as hand:
        for size in ((80, 24), (130, 30)):
            await hand.resize(*size)
            assert seen(hand.app.painting._shown) == seen(drawn_anew(hand))
            for key in (*panes, *boxes, *edit):
                await hand.press(key)
                assert seen(hand.app.painting._shown) == seen(drawn_anew(hand)), key
