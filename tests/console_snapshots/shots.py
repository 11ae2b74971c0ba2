"""Snapshots of the screen as text: how one is written down, where it is kept, how it differs from the kept one.

A snapshot is the text on the screen, then for looks with styles a line for each row (or rows alike): runs of a count
and a code. `.` plain, `*` bold, `~` reverse, `_` underlined, `,` faint, and one letter for a colour of the sixteen:
`k r g y b m c w`, a capital for its bright sister, after `@` for the ground. Of a dialog only its box is kept: what
lies behind it has a snapshot of its own. One without colour is compared with that in colour.
"""

import difflib
import functools
import os
import re
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
RUN, COLOUR = re.compile(r"(\d+)(\S+)"), re.compile(r"\[.*?\]|[a-zA-Z@]")
MARKS = (("bold", "*"), ("reverse", "~"), ("underline", "_"), ("dim", ","), ("italic", "/"), ("strike", "-"))
ON_BLANK = ("reverse", "underline")
LIBRARIES = ("rich", "textual")
MOST = 120
"""Lines of differences that a failure shows."""


def drawn_by() -> str:
    """The libraries that draw, with their versions."""
    return "".join(f"{name} {version(name)}\n" for name in LIBRARIES)


class Album:
    """The snapshots of one walk through the console, at one size and in one look; of `mono` they are those in colour."""

    def __init__(self, walk: str, size: tuple[int, int], look: str) -> None:
        self.mono = look == "mono"
        kept = "colour" if self.mono else look
        self.folder, self.ending = FOLDER / walk, f".{size[0]}x{size[1]}.{kept}.txt"
        self.styled = look != "ascii"
        self.taken: dict[str, str] = {}

    def take(self, name: str, strips: Sequence[Strip]) -> None:
        """Take a snapshot under that name."""
        if name in self.taken:
            raise ValueError(f"{name} was taken already")
        self.taken[name] = written(strips, self.styled)

    def write(self) -> None:
        """Keep what was taken, and nothing else of this size and look."""
        self.folder.mkdir(parents=True, exist_ok=True)
        for file in self.folder.glob(f"*{self.ending}"):
            file.unlink()
        for name, text in self.taken.items():
            (self.folder / f"{name}{self.ending}").write_text(text, "utf-8")
        DRAWN_BY.write_text(drawn_by(), "utf-8")

    def differences(self) -> list[str]:
        """What differs from the kept snapshots, line by line; without colour, besides the colours."""
        kept = {file.name.removesuffix(self.ending): file for file in self.folder.glob(f"*{self.ending}")}
        found: list[str] = []
        for name in sorted(kept.keys() | self.taken.keys()):
            before = kept[name].read_text("utf-8") if name in kept else ""
            after = self.taken.get(name, "")
            if self.mono:
                before, after = uncoloured(before), uncoloured(after)
            title = f"{self.folder.name}/{name}{self.ending}"
            found += difflib.unified_diff(
                before.splitlines(), after.splitlines(), f"{title} kept", f"{title} now", lineterm="", n=1
            )
        return found


def uncoloured(snapshot: str) -> str:
    """A snapshot without its colours, each row's looks on a line of its own."""
    text, _, looks = snapshot.rpartition("\n\n")
    lines = [text]
    for line in looks.splitlines():
        rows, _, runs = line.partition(": ")
        first, _, last = rows.partition("-")
        codes = [COLOUR.sub("", look) or "." for count, look in RUN.findall(runs) for _ in range(int(count))]
        bare = _counted(codes)
        lines += [f"{row}: {bare}" for row in range(int(first), int(last or first) + 1) if bare]
    return "\n".join(lines)


def shown(hand: Hand) -> list[Strip]:
    """The screen, or of a dialog its box."""
    strips = hand.strips()
    if not isinstance(hand.screen, Dialog):
        return strips
    left, top, width, height = hand.screen.query_one(".box").region
    return [strip.crop(left, left + width) for strip in strips[top : top + height]]


def written(strips: Sequence[Strip], styled: bool) -> str:
    """A snapshot as it is kept."""
    lines = [strip.text.rstrip() for strip in strips]
    if styled:
        lines += ["", *_styles(strips)]
    return "\n".join(lines) + "\n"


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
