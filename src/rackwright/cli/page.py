"""A page of words for a terminal: wrapped sentences, tables that fit, colour where it is wanted.

Knows nothing of rigs.
"""

import contextlib
import itertools
import os
import shutil
import sys
from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Literal, NamedTuple, TextIO, TypeAlias

from rackwright.cli.status import BROKEN_PIPE, CANT_WRITE
from rackwright.units.safe_text import safe
from rackwright.units.text_table import NO_BREAK, cells, table, wrap
from rackwright.units.typography import alphabet, spelled

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
        self.alphabet = alphabet(sys.stdout)
        self.coloured = _wants_colour()
        self.lines: list[str] = []

    def say(self, *spans: Span | str, first: str = "", rest: str | None = None) -> None:
        """Add a sentence, wrapped; `first` stands before its first line, `rest` (else as much room) before others."""
        told = [self._spelt(span) for span in (first, *spans)]
        begin = told[0].text
        others = " " * cells(begin) if rest is None else rest
        lines = wrap(" ".join(span.text for span in told[1:]), self.width, others, begin)
        self.lines += _styled(lines, told) if self.coloured else lines

    def to_copy(self, text: str) -> None:
        """Add a path or a command on a line of its own, never cut: it is to be copied."""
        self.lines.append(f"  {self._spelt(text).text}")

    def heading(self, words: str) -> None:
        """Add a heading, set off from what stands above it."""
        if self.lines:
            self.gap()
        self.say(Span(words, "bold"))

    def gap(self) -> None:
        """Add an empty line."""
        self.lines.append("")

    def table(self, heads: Sequence[str], rows: Iterable[Sequence[str]], right: Collection[str] = ()) -> None:
        """Add a table; columns of the heads in `right` hold figures, others words."""
        named, *shown = ([self._spelt(cell).text for cell in row] for row in (heads, *rows))
        figures = [self._spelt(head).text for head in right]
        for number, (above, below) in enumerate(table(named, shown, self.width, figures)):
            self.lines += [""] if number else []
            self.lines += (
                [f"\x1b[{_CODES['dim']}m{line}\x1b[0m" for line in above] if self.coloured else above
            )
            self.lines += below

    def print(self) -> None:
        """Print the page. Raises Unheard."""
        _send("".join(f"{line}\n" for line in self.lines).encode(self.alphabet or "utf-8"))

    def _spelt(self, words: Span | str) -> Span:
        """The words as standard output takes them, with no control sign."""
        span = Span(words) if isinstance(words, str) else words
        return Span(spelled(safe(span.text), self.alphabet, keep=NO_BREAK), span.style)


def _styled(lines: Iterable[str], spans: Iterable[Span]) -> Iterator[str]:
    """The wrapped words of the spans in the style of each."""
    styles = iter([style for text, style in spans for sign in text if not sign.isspace()])
    for line in lines:
        words = []
        for word in line.split():
            style, *_ = itertools.islice(styles, len(word))
            words.append((style, word))
        parts = (
            (style, " ".join(word for _, word in told))
            for style, told in itertools.groupby(words, key=lambda word: word[0])
        )
        shown = (f"\x1b[{_CODES[style]}m{text}\x1b[0m" if style else text for style, text in parts)
        yield line[: len(line) - len(line.lstrip())] + " ".join(shown)


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
        sys.stderr.write(spelled(safe(f"{text}\n", keep="\n"), alphabet(sys.stderr)))
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
