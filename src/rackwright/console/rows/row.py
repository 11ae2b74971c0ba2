"""What a pane is made of: rows of styled words, each row leading to a place of the rig."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple, TypeAlias

from rackwright.console.terminal.glyphs import Glyphs
from rackwright.units.text_table import wrap

Part: TypeAlias = tuple[str, str]
"""Words and the name of their style: one of the keys of STYLES."""

STYLES = {
    "": "",
    "dim": "bright_black",
    "head": "bold",
    "stop": "bold red",
    "warn": "yellow",
    "note": "cyan",
    "ok": "green",
    "failed": "bold red",
    "filled": "green",
    "lit": "bold",
    "caution": "bold",
    "here": "reverse",
}
"""Style → how it looks, in the sixteen colours that every terminal has."""


class Row(NamedTuple):
    """One line of a pane."""

    parts: tuple[Part, ...]
    place: str = ""
    """What is selected with it."""
    selectable: bool = True
    """One that is not, right under one of its place, is more of the same: the cursor is on both."""
    figure: str = ""
    """The name of the figure of that place that it shows, where it shows one."""
    heads: bool = False
    """Whether it names columns: it stays in sight over what stands under it."""


def heading(words: str) -> Row:
    """A row that can't be selected."""
    return Row(((words, "head"),), selectable=False)


def titles(words: str) -> Row:
    """A row that names columns."""
    return heading(words)._replace(heads=True)


def words(text: str, style: str = "") -> Row:
    """A row of plain words that can't be selected."""
    return Row(((text, style),), selectable=False)


def caution(text: str, width: int) -> list[Row]:
    """A caution under an empty line: never faint."""
    return [words(""), *(words(line, "caution") for line in wrap(text, width))]


def wrapped(text: str, width: int, glyphs: Glyphs, indent: str = "") -> list[str]:
    """Lines of at most `width` cells as this terminal spells them: ASCII takes more of them than Unicode."""
    return wrap(glyphs.spelt(text), width, indent)


def hanging(lead: Part, text: Part, width: int, glyphs: Glyphs) -> Iterator[Row]:
    """Rows of words beside a lead, which stands before the first of them."""
    (sign, style), (told, look) = lead, text
    for number, line in enumerate(wrapped(told, width - len(sign), glyphs)):
        yield Row(((" " * len(sign) if number else sign, style), (line, look)), selectable=False)


def width_of(row: Row) -> int:
    """Cells a row takes, all its signs being one cell wide."""
    return sum(len(text) for text, _ in row.parts)


def fit(text: str, width: int) -> str:
    """`text` in exactly `width` cells: cut with a `…`, or filled up with spaces."""
    if width <= 0:
        return ""
    return text.ljust(width) if len(text) <= width else text[: width - 1] + "…"


def cut(text: str, width: int, glyphs: Glyphs) -> str:
    """`text` in exactly `width` cells as this terminal spells it: ASCII takes more of them than Unicode."""
    spelt = glyphs.spelt(text)
    if not glyphs.ascii or len(spelt) <= width:
        return fit(spelt, width)
    return f"{spelt[: max(0, width - 3)]}..."[:width]


def in_columns(texts: Sequence[str], sizes: Sequence[int], glyphs: Glyphs, gap: int = 1) -> str:
    """Texts in columns of so many cells, a gap between two; those of no cells are left out."""
    shown = zip(texts, sizes, strict=True)
    return (" " * gap).join(cut(text, size, glyphs) for text, size in shown if size > 0)


def gap_in(width: int, taken: int, columns: int) -> int:
    """Cells between so many columns that take so many: three where there is room, never none."""
    return next((each for each in (3, 2) if taken + each * (columns - 1) <= width), 1)
