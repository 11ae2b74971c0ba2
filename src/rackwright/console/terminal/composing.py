"""Putting a frame together: of each widget only the lines that changed and nothing stands before.

The toolkit asks every widget that reaches into the rectangle round all that changed for all its lines, cuts them where
any widget begins or ends, and throws away what is not to be sent: most of the time of a key. Knows nothing of what is
drawn.
"""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from rich.console import Console
from textual._compositor import Compositor, CompositorUpdate
from textual.geometry import Region
from textual.strip import Strip


class Piece(NamedTuple):
    """Lines of one widget, and where they stand."""

    region: Region
    lines: list[Strip]


class Frame(CompositorUpdate):
    """What to draw."""

    def __init__(self, pieces: Iterable[Piece]) -> None:
        self.pieces = list(pieces)

    def render_segments(self, console: Console) -> str:
        """As a terminal is sent it."""
        return "".join(
            f"\x1b[{y + 1};{region.x + 1}H{line.render(console)}"
            for region, lines in self.pieces
            for y, line in enumerate(lines, region.y)
        )


class Composer(Compositor):
    """The toolkit's own, but for how it draws."""

    def render_full_update(self, simplify: bool = False) -> Frame:  # type: ignore[override]
        """All that stands on the screen."""
        self._dirty_regions = {self.size.region}
        return self.render_partial_update()

    def render_partial_update(self) -> Frame:  # type: ignore[override]
        """What changed of it."""
        changed = [region.intersection(self.size.region) for region in self._dirty_regions]
        self._dirty_regions.clear()
        return Frame(self._pieces(_apart(self._regions_to_spans(changed))))

    def _pieces(self, left: list[Region]) -> Iterator[Piece]:
        """Front to back, until nothing is left; each widget is asked once, as that takes longer than a line of it."""
        for widget, (whole, clip) in self.visible_widgets.items():
            seen = whole.intersection(clip)
            parts: list[Region] = []
            behind: list[Region] = []
            for region in left:
                if part := region.intersection(seen):
                    parts.append(part)
                    behind += _around(part, region)
                else:
                    behind.append(region)
            if parts:
                asked = Region.from_union(parts)
                lines = widget.render_lines(asked.translate(-whole.offset))
                for x, y, width, height in parts:
                    start, top = x - asked.x, y - asked.y
                    cut = lines[top : top + height]
                    if width < asked.width:
                        cut = [line.crop(start, start + width) for line in cut]
                    yield Piece(Region(x, y, width, height), cut)
            if not (left := behind):
                return


def _apart(spans: Iterable[tuple[int, int, int]]) -> list[Region]:
    """Rows, from and to, as regions: those below one another as one."""
    found: dict[tuple[int, int, int], Region] = {}
    for y, start, end in spans:
        above = found.pop((start, end, y), Region(start, y, end - start, 0))
        found[start, end, y + 1] = above.grow((0, 0, 1, 0))
    return list(found.values())


def _around(inner: Region, outer: Region) -> Iterator[Region]:
    """What of a region is not of one within it."""
    (x, y, width, height), (left, top, _, _) = inner, outer
    for region in (
        Region(left, top, outer.width, y - top),
        Region(left, y + height, outer.width, outer.bottom - y - height),
        Region(left, y, x - left, height),
        Region(x + width, y, outer.right - x - width, height),
    ):
        if region:
            yield region
