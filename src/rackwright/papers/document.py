"""A sheet of paper as a value: a title, sentences, tables and labels to cut. Knows no rig and no format."""

from collections.abc import Iterator
from typing import TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from rackwright.papers.drawing import Strip


class Words(Struct, frozen=True, gc=False):
    """A sentence that stands by itself."""

    text: str
    caution: bool = False
    """Something that can hurt someone where it is not heeded."""
    leads: bool = False
    """Whether it tells how to read what comes next, and stands on its page."""


class Table(Struct, frozen=True, kw_only=True, gc=False):
    """Rows under heads; every row has as many cells as there are heads."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    heading: str = ""
    right: frozenset[str] = frozenset()
    """The heads of columns of figures."""
    written: frozenset[str] = frozenset()
    """The heads of columns to write into by hand."""
    grouped: bool = False
    """Whether rows that begin alike stay on one page: the pole pairs of a socket."""
    name: str = ""
    """What tells it from other tables of the sheet, in a file's name; tables of one name are one list in parts."""
    part: tuple[str, str] | None = None
    """What the parts of a list are parts of, and which this one is: `("rack", "R1")`."""


class Label(Struct, frozen=True, gc=False):
    """What is stuck on one end of a cable."""

    name: str
    """Large: the line's id."""
    end: str
    """`near end` or `far end`."""
    place: str
    """Where this end is plugged in."""
    lines: tuple[str, ...]
    """What else is on it."""


class Labels(Struct, frozen=True, gc=False):
    """Labels to print and cut, in order."""

    labels: tuple[Label, ...]


class Drawing(Struct, frozen=True, gc=False):
    """A picture, for formats that can draw."""

    strips: tuple[Strip, ...]
    instead: "tuple[Words | Table, ...]"
    """What the others say in its place."""


class PageBreak(Struct, frozen=True, gc=False):
    """What follows begins a page."""

    front: bool = False
    """Whether that is the front of a leaf, where both sides are printed."""


class Contents(Struct, frozen=True, gc=False):
    """Where the contents of the bundle stand that the sheet is in."""


Block: TypeAlias = Words | Table | Labels | Drawing | PageBreak | Contents
Written: TypeAlias = Words | Table
"""What every format can say."""


class Sheet(Struct, frozen=True, kw_only=True, gc=False):
    """One sheet, of as many pages as it takes."""

    name: str
    """One word, which is also its file's name: `patch`."""
    title: str
    blocks: tuple[Block, ...]

    def written(self) -> Iterator[Written]:
        """Its blocks for formats that can neither draw nor cut: labels as a table, for a drawing what it stands for.

        A sentence that stands on several pages is said once, for these formats have none.
        """
        said = set()
        for block in self._as_written():
            if not (isinstance(block, Words) and block in said):
                yield block
            if isinstance(block, Words):
                said.add(block)

    def _as_written(self) -> Iterator[Written]:
        for block in self.blocks:
            if isinstance(block, Labels):
                yield as_table(block)
            elif isinstance(block, Drawing):
                yield from block.instead
            elif not isinstance(block, PageBreak | Contents):
                yield block

    def with_contents(self, contents: Table | None) -> "Sheet":
        """The contents where they belong; nothing there where there are none."""
        given = () if contents is None else (contents,)
        blocks = (given if isinstance(block, Contents) else (block,) for block in self.blocks)
        return replace(self, blocks=tuple(each for part in blocks for each in part))

    def tables(self) -> Iterator[Table]:
        """Its tables; labels as a table too."""
        return (block for block in self.written() if isinstance(block, Table))


class Header(Struct, frozen=True, kw_only=True, gc=False):
    """What stands at the head of every page."""

    rig: str
    """With its venue."""
    date: str
    """As printed: `2026-05-01 14:30`."""
    revision: str
    """As printed, `3, 3f2a91c0`, so that two papers on the floor can be told apart."""
    letter: bool = False
    """Whether the pages are of the North American letter size; of A4 otherwise."""
    labels: str = ""
    """The sheet that labels are printed on, by its size; a plain grid to cut where empty."""

    @property
    def words(self) -> str:
        """In one line: `Harbour shed · 2026-05-01 14:30 · revision 3, 3f2a91c0`."""
        return f"{self.rig} · {self.date} · revision {self.revision}"


def as_table(labels: Labels) -> Table:
    """Labels as rows, for formats that can't be cut."""
    rows = tuple((label.name, label.end, label.place, "; ".join(label.lines)) for label in labels.labels)
    return Table(heads=("line", "end", "plug into", "also on the label"), rows=rows)
