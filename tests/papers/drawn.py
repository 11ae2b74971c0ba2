"""What a page shows to whoever looks at it, read back from a PDF by pypdf: its words, and its boxes with the words in each. Boxes from strips too."""

import io
import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from pypdf import PdfReader

from rackwright.papers.drawing import Rule, Strip, Text, joined, moved

MM = 25.4 / 72
"""In one PostScript point."""


class Word(NamedTuple):
    """A line of words with the place where it begins, from the page's top in mm, and its size in points."""

    x: float
    y: float
    words: str
    size: float


class Frame(NamedTuple):
    """A rectangle that is drawn, and the words inside, from the top down."""

    page: int
    x1: float
    y1: float
    x2: float
    y2: float
    inside: tuple[Word, ...]

    @property
    def name(self) -> str:
        """The words in large letters, if there are any: what the box stands for."""
        return " ".join(word.words for word in self.inside if word.size >= 14)

    @property
    def words(self) -> str:
        """All of it, without any space."""
        return bare("".join(word.words for word in self.inside))


def bare(text: str) -> str:
    """Without any space: where a line is broken is the layout's business."""
    return re.sub(r"\s+", "", text)


def pages_of(content: bytes) -> list[str]:
    """The text of every page of a PDF."""
    return [page.extract_text() for page in PdfReader(io.BytesIO(content)).pages]


def in_pdf(content: bytes) -> list[Frame]:
    """The boxes of every page of a PDF."""
    found: list[Frame] = []
    for number, page in enumerate(PdfReader(io.BytesIO(content)).pages):
        high = float(page.mediabox.height)
        ends: list[tuple[float, float]] = []
        words: list[Word] = []

        def drawn(operator: bytes, operands: list[float], *_: object, high: float = high) -> None:
            if operator in (b"m", b"l"):
                ends.append((float(operands[0]) * MM, (high - float(operands[1])) * MM))  # noqa: B023

        def written(
            text: str, _cm: object, matrix: list[float], _f: object, size: float, high: float = high
        ) -> None:
            if text.strip():
                words.append(Word(matrix[4] * MM, (high - matrix[5]) * MM, text.strip(), size))  # noqa: B023

        page.extract_text(visitor_operand_before=drawn, visitor_text=written)
        sides = [(*a, *b) for a, b in zip(ends[::2], ends[1::2], strict=True)]
        found += _frames(number, sides, words)
    return found


def in_strips(strips: Iterable[Strip]) -> list[Frame]:
    """The boxes of a picture, all as on one page."""
    y, placed = 0.0, []
    for strip in strips:
        placed.append(moved(strip, 0, y))
        y += strip.height
    whole = joined(placed)
    sides = [(r.x1, r.y1, r.x2, r.y2) for r in whole.rules]
    return _frames(0, sides, [Word(t.x, t.y, t.words, t.size) for t in whole.texts])


def _frames(page: int, sides: list[tuple[float, float, float, float]], words: list[Word]) -> list[Frame]:
    return [
        Frame(page, x1, y1, x2, y2, tuple(w for w in words if x1 <= w.x <= x2 and y1 <= w.y <= y2))
        for x1, y1, x2, y2 in _closed(sides)
    ]


def _closed(
    sides: list[tuple[float, float, float, float]],
) -> Iterator[tuple[float, float, float, float]]:
    """The rectangles among the lines: four of them one after the other that come back to where they began."""
    at = 0
    while at + 3 < len(sides):
        four = sides[at : at + 4]
        follow = all(_near(a[2:], b[:2]) for a, b in zip(four, [*four[1:], four[0]], strict=True))
        if follow:
            yield four[0][0], four[0][1], four[1][2], four[1][3]
        at += 4 if follow else 1


def _near(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return abs(a[0] - b[0]) < 0.02 and abs(a[1] - b[1]) < 0.02


def marks_of(strips: Iterable[Strip]) -> tuple[list[Text], list[Rule]]:
    """Everything that is drawn, in order."""
    strips = tuple(strips)
    return [t for s in strips for t in s.texts], [r for s in strips for r in s.rules]
