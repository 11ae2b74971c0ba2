"""Which cells of a screen are drawn anew: each that changed, once."""

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st
from textual.geometry import Region

from rackwright.console.terminal.composing import Composer, _apart, _around

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
