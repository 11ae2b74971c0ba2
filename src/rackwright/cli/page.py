"""A page of words for a terminal: wrapped sentences, tables that fit, colour where it is wanted.

Knows nothing of rigs. Written by hand because what draws tables in general costs more than judging a rig.
"""

import codecs
import contextlib
import os
import re
import shutil
import sys
import unicodedata
from collections.abc import Collection, Iterable, Sequence
from typing import Literal, NamedTuple, TextIO, TypeAlias

from rackwright.units.safe_text import safe

Style: TypeAlias = Literal["", "bold", "dim", "stop", "warn", "note", "good", "caution"]

_CODES: dict[Style, str] = {
    "bold": "1",
    "dim": "2",
    "stop": "1;31",
    "warn": "33",
    "note": "36",
    "good": "1;32",
    "caution": "1",
}

NARROWEST, WIDEST, USUAL = 40, 100, 80
GAP = 2
"""Columns between those of a table."""
LEAST_COLUMN = 8
"""A column of words is not squeezed under this."""

BROKEN_PIPE, CANT_WRITE = 141, 74
"""Exit status: the reader has gone, as a shell tells it; the output can't be written."""

SPELLED_OUT = "rackwright.spelled-out"
"""Name of the way in which signs that an encoding lacks are written."""

_SIGNS = {
    "Ω": "ohm", "µ": "u", "°": "deg", "²": "2", "³": "3", "′": "'", "″": '"', "−": "-", "–": "-", "—": "-",
    "→": "->", "±": "+/-", "×": "x", "·": "*", "√": "sqrt", "Σ": "sum", "∥": "||", "∞": "inf", "∠": "@",
    "ρ": "rho", "ω": "w", "π": "pi", "α": "alpha", "…": "...", "’": "'", "“": '"', "”": '"', "≥": ">=", "≤": "<=",
    "μ": "u", "℃": "degC", "℉": "degF", "½": "1/2", "›": ">",
}  # fmt: skip


def _spell_out(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(_spelled_out, error.object[error.start : error.end])), error.end


def _spelled_out(sign: str) -> str:
    """A sign in ASCII: spelled out, or without its accents; a question mark where neither is possible."""
    bare = unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode()
    return _SIGNS.get(sign) or bare or "?"


codecs.register_error(SPELLED_OUT, _spell_out)


class Unheard(Exception):
    """What was to be printed could not be: the reader has gone (then `reason` is empty), or the disk is full."""

    def __init__(self, reason: str = "") -> None:
        self.reason = reason
        self.status = CANT_WRITE if reason else BROKEN_PIPE
        super().__init__(reason)


class Span(NamedTuple):
    """Words in one style."""

    text: str
    style: Style = ""


class Page:
    """Lines gathered, then printed at once."""

    def __init__(self) -> None:
        self.width = min(max(shutil.get_terminal_size((USUAL, 24)).columns, NARROWEST), WIDEST)
        self.encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
        self.coloured = _wants_colour()
        self.lines: list[str] = []

    def say(self, *spans: Span | str, first: str = "", rest: str | None = None) -> None:
        """Add a sentence, wrapped; `first` stands before its first line, `rest` (else as much room) before others."""
        styled = [span if isinstance(span, Span) else Span(span) for span in spans]
        fitting = [Span(self._fitting(text), style) for text, style in styled]
        begin = self._fitting(first)
        others = " " * cells(begin) if rest is None else rest
        self.lines += [self._drawn(line) for line in wrapped(fitting, self.width, begin, others)]

    def to_copy(self, text: str) -> None:
        """Add a path or a command on a line of its own, never cut: it is to be copied."""
        self.lines.append(f"  {self._fitting(text)}")

    def heading(self, words: str) -> None:
        """Add a heading, set off from what stands above it."""
        if self.lines:
            self.gap()
        self.say(Span(words, "bold"))

    def gap(self) -> None:
        """Add an empty line."""
        self.lines.append("")

    def table(
        self,
        heads: Sequence[str],
        rows: Iterable[Sequence[str]],
        right: Collection[str] = (),
        whole: Collection[str] = (),
    ) -> None:
        """Add a table; columns of the heads in `right` hold figures, others words, wrapped unless in `whole`."""
        shown = [[self._fitting(cell) for cell in row] for row in (heads, *rows)]
        words = [i for i, head in enumerate(heads) if head not in right and head not in whole]
        widths = self._squeezed([max(map(cells, column)) for column in zip(*shown, strict=True)], words)
        for number, row in enumerate(shown):
            columns = [
                [cell] if cells(cell) <= width else _plain_lines(cell, width)
                for cell, width in zip(row, widths, strict=True)
            ]
            for i in range(max(map(len, columns))):
                line = (
                    (" " * GAP)
                    .join(
                        _padded(column[i] if i < len(column) else "", width, heads[at] in right)
                        for at, (column, width) in enumerate(zip(columns, widths, strict=True))
                    )
                    .rstrip()
                )
                self.lines.append(self._drawn([Span(line, "dim")]) if number == 0 else line)

    def print(self) -> None:
        """Print the page. Raises Unheard."""
        _send("".join(f"{line}\n" for line in self.lines).encode(self.encoding, SPELLED_OUT))

    def _squeezed(self, widths: list[int], words: list[int]) -> list[int]:
        """The widths with the widest columns of words made narrower until the table fits, as far as it can."""
        over = sum(widths) + GAP * (len(widths) - 1) - self.width
        while over > 0:
            widest = max(words, key=lambda i: widths[i], default=None)
            if widest is None or widths[widest] <= LEAST_COLUMN:
                break
            widths[widest] -= 1
            over -= 1
        return widths

    def _fitting(self, text: str) -> str:
        """The text with no control sign, and every sign one that the encoding has."""
        seen = safe(text)
        return seen if seen.isascii() else seen.encode(self.encoding, SPELLED_OUT).decode(self.encoding)

    def _drawn(self, line: Iterable[Span]) -> str:
        if not self.coloured:
            return "".join(span.text for span in line).rstrip()
        return "".join(
            f"\x1b[{_CODES[style]}m{text}\x1b[0m" if style else text for text, style in line
        ).rstrip()


def _wants_colour() -> bool:
    if sys.stdout is None or not sys.stdout.isatty() or os.environ.get("NO_COLOR"):
        return False
    return os.environ.get("TERM", "dumb") != "dumb"


def emit(text: str) -> None:
    """Write JSON or TOML to standard output, what steers as their own escapes. Raises Unheard."""
    _send(safe(text, keep="\n").encode("utf-8"))


def tell(text: str) -> None:
    """Write what is wrong to standard error; where that can't be written to, nobody is to be told."""
    if sys.stderr is None:
        return
    try:
        sys.stderr.write(safe(f"{text}\n", keep="\n"))
        sys.stderr.flush()
    except (OSError, ValueError):
        _stop_writing(sys.stderr)


def stop_if_unheard() -> None:
    """See all gone that others wrote to standard output. Raises Unheard."""
    _send(b"")


def _send(content: bytes) -> None:
    if sys.stdout is None:
        raise Unheard("standard output is closed")
    try:
        sys.stdout.flush()
        sys.stdout.buffer.write(content)
        sys.stdout.flush()
    except BrokenPipeError:
        _stop_writing(sys.stdout)
        raise Unheard from None
    except OSError as error:
        _stop_writing(sys.stdout)
        raise Unheard(error.strerror or str(error)) from None


def _stop_writing(stream: TextIO) -> None:
    """Send what is still held back nowhere, so that the end of the program doesn't try again."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


def cells(text: str) -> int:
    """Columns that a text takes on a terminal."""
    return len(text) if text.isascii() else sum(map(_cells_of, text))


def _cells_of(sign: str) -> int:
    if unicodedata.combining(sign) or unicodedata.category(sign) == "Cf":
        return 0
    return 2 if unicodedata.east_asian_width(sign) in "WF" else 1


def _padded(text: str, width: int, right: bool) -> str:
    room = " " * (width - cells(text))
    return room + text if right else text + room


def _plain_lines(text: str, width: int) -> list[str]:
    return ["".join(span.text for span in line).rstrip() for line in wrapped([Span(text)], width)]


_WORD = re.compile(r"[−(]?\d[\d.,]* \S{1,5}(?=\s|$)|\S+")
"""A word, or a figure with the unit behind it, which are not parted."""


def wrapped(spans: Iterable[Span], width: int, first: str = "", rest: str = "") -> list[list[Span]]:
    """Words of several styles in lines of at most `width` columns; a word longer than a line is cut."""
    lines: list[list[Span]] = [[Span(first)]]
    used, empty = cells(first), True
    for text, style in spans:
        for whole in _WORD.findall(text):
            word, size = whole, cells(whole)
            while True:
                room = width - used - (0 if empty else 1)
                if size <= room:
                    _add(lines[-1], word, style, empty)
                    used, empty = width - room + size, False
                    break
                if empty and used <= cells(rest):
                    cut = _cut(word, max(room, 1))
                    _add(lines[-1], word[:cut], style, empty)
                    word, size = word[cut:], size - cells(word[:cut])
                lines.append([Span(rest)])
                used, empty = cells(rest), True
                if not word:
                    break
    return lines


def _add(line: list[Span], word: str, style: Style, empty: bool) -> None:
    """Put a word at the end of a line, as a part of its last span where that has the same style."""
    text, last = line[-1]
    if empty:
        line.append(Span(word, style))
    elif last == style:
        line[-1] = Span(f"{text} {word}", style)
    else:
        line += [Span(" "), Span(word, style)]


def _cut(word: str, room: int) -> int:
    """How many signs of a word fit, at least one."""
    used = 0
    for i, sign in enumerate(word):
        used += _cells_of(sign)
        if used > room:
            return max(i, 1)
    return len(word)
