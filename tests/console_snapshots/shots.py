"""Snapshots of the screen as text: how one is written down, where it is kept, how it differs from the kept one.

A snapshot is the text on the screen, then the looks, a line for each row (or rows alike): runs of a count and a code. `.` plain, `*` bold, `~` reverse, `_` underlined, `,` faint, and one letter for a colour of the sixteen:
`k r g y b m c w`, a capital for its bright sister, after `@` for the ground. Of a dialog only its box is kept: what
lies behind it has a snapshot of its own.
"""

import difflib
import functools
import os
from collections.abc import Iterator, Sequence
from importlib.metadata import version
from itertools import groupby
from pathlib import Path

from rich.color import Color, ColorType
from rich.style import Style
from textual.strip import Strip

from console.hand import Hand
from rackwright.console.widgets.dialog import Dialog

VARIABLE = "RACKWRIGHT_SNAPSHOTS"
"""Set to `write` to write the snapshots anew instead of comparing them."""
FOLDER = Path(__file__).parent / "kept"
DRAWN_BY = FOLDER / "drawn-by.txt"
"""The versions of the libraries that the kept snapshots were drawn by."""
COLOURS = "krgybmcwKRGYBMCW"
MARKS = (("bold", "*"), ("reverse", "~"), ("underline", "_"), ("dim", ","), ("italic", "/"), ("strike", "-"))
ON_BLANK = ("reverse", "underline")
LIBRARIES = ("rich", "textual")
MOST = 120
"""Lines of differences that a failure shows."""


def drawn_by() -> str:
    """The libraries that draw, with their versions."""
    return "".join(f"{name} {version(name)}\n" for name in LIBRARIES)


class Album:
    """The snapshots of one walk through the console, in one look."""

    def __init__(self, walk: str, look: str) -> None:
        self.folder, self.look = FOLDER / walk, look
        self.taken: dict[str, str] = {}

    def take(self, name: str, size: tuple[int, int], strips: Sequence[Strip]) -> None:
        """Take a snapshot under that name, of a window of that size."""
        file = f"{name}.{size[0]}x{size[1]}.{self.look}.txt"
        if file in self.taken:
            raise ValueError(f"{file} was taken already")
        self.taken[file] = written(strips)

    def write(self) -> None:
        """Keep what was taken, and nothing else in this look."""
        self.folder.mkdir(parents=True, exist_ok=True)
        for file in self.kept():
            file.unlink()
        for name, text in self.taken.items():
            (self.folder / name).write_text(text, "utf-8")
        DRAWN_BY.write_text(drawn_by(), "utf-8")

    def kept(self) -> Iterator[Path]:
        """The files kept in this look."""
        return self.folder.glob(f"*.{self.look}.txt")

    def differences(self) -> list[str]:
        """What differs from the kept snapshots, line by line."""
        kept = {file.name: file.read_text("utf-8") for file in self.kept()}
        found: list[str] = []
        for name in sorted(kept.keys() | self.taken.keys()):
            before, after = kept.get(name, ""), self.taken.get(name, "")
            title = f"{self.folder.name}/{name}"
            found += difflib.unified_diff(
                before.splitlines(), after.splitlines(), f"{title} kept", f"{title} now", lineterm="", n=1
            )
        return found


def shown(hand: Hand) -> list[Strip]:
    """The screen, or of a dialog its box."""
    strips = hand.strips()
    if not isinstance(hand.screen, Dialog):
        return strips
    left, top, width, height = hand.screen.query_one(".box").region
    return [strip.crop(left, left + width) for strip in strips[top : top + height]]


def written(strips: Sequence[Strip]) -> str:
    """A snapshot as it is kept."""
    return "\n".join([*(strip.text.rstrip() for strip in strips), "", *_styles(strips)]) + "\n"


def _styles(strips: Sequence[Strip]) -> Iterator[str]:
    number = 0
    for runs, alike in groupby(_runs(strip) for strip in strips):
        count = len(list(alike))
        rows = f"{number}" if count == 1 else f"{number}-{number + count - 1}"
        number += count
        if runs:
            yield f"{rows}: {runs}"


def _runs(strip: Strip) -> str:
    """Runs of signs alike; a blank, on which nothing of a style is seen, goes with the run before it."""
    codes: list[str] = []
    for text, style, _ in strip:
        for sign in text:
            seen, before = code(style, sign == " "), codes[-1] if codes else "."
            codes.append(before if sign == " " and seen == "." and not set(before) & set("~_@") else seen)
    return _counted(codes)


def _counted(codes: Sequence[str]) -> str:
    """Codes one for each cell as runs of a count and a code; none for what is plain at the end."""
    runs = [(len(list(some)), look) for look, some in groupby(codes)]
    if runs and runs[-1][1] == ".":
        runs.pop()
    return " ".join(f"{count}{look}" for count, look in runs)


@functools.lru_cache(1024)
def code(style: Style | None, blank: bool) -> str:
    """How a style is written: what of it can be seen, on a blank or on any other sign."""
    if style is None:
        return "."
    marks = [(name, mark) for name, mark in MARKS if getattr(style, name)]
    seen = "".join(mark for name, mark in marks if not blank or name in ON_BLANK)
    colour = "" if blank and not seen else _colour(style.color)
    ground = _colour(style.bgcolor)
    return f"{seen}{colour}{'@' if ground else ''}{ground}" or "."


def _colour(colour: Color | None) -> str:
    if colour is None or colour.type is ColorType.DEFAULT:
        return ""
    if colour.number is None or colour.number >= len(COLOURS):
        return f"[{colour.name}]"
    return COLOURS[colour.number]


def colours(strips: Sequence[Strip]) -> set[str]:
    """The colours on the screen: letters of the sixteen, others in brackets."""
    styles = {style for strip in strips for _, style, _ in strip if style is not None}
    return {_colour(colour) for style in styles for colour in (style.color, style.bgcolor)} - {""}


def writing() -> bool:
    """Whether the snapshots are to be written anew."""
    return os.environ.get(VARIABLE) == "write"
