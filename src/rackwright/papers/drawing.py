"""Shapes in mm, and pictures put together from them: rows of boxes with words in them, and trees of such rows.

A picture is a column of strips, as wide as the room of an upright page, of which none is parted by the end of a page. What is
drawn is for other modules to say, with what it is drawn for `pdf` and `svg`. Words that are too long for their box are set
smaller, to a floor, and then go on in a further line; a box too high for a page goes on in a further one.
"""

import itertools
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from rackwright.papers.typeface import BOLD, MM_PER_POINT, REGULAR, width, wrapped
from rackwright.units.safe_text import safe

WIDTH = 188.0
"""mm: the room on an upright page of either size."""
HIGHEST = 140.0
"""mm: a box that is higher goes on in a further one."""
LEADING = 1.22
"""Line height over letter size."""
PLAIN, LARGE = (11.0,), (16.0, 15.0, 14.0)
"""Points, the wanted size first and the floor last: legible at 1 m, common practice, no source."""
PAD, GAP = 1.5, 2.0
"""mm between words and their box, and between one row and the next."""
INDENT = 9.0
"""mm, of a tree's levels where they are few."""
_BLANKS = re.compile(r"[^\S\u00a0]+")


class Text(Struct, frozen=True, gc=False):
    """Words at a place: mm from the left, mm from the top to the base line."""

    x: float
    y: float
    words: str
    style: str
    size: float


class Rule(Struct, frozen=True, gc=False):
    """A straight line in mm."""

    x1: float
    y1: float
    x2: float
    y2: float
    weight: float = 0.2
    dashed: bool = False


class Strip(Struct, frozen=True, gc=False):
    """What is not parted by the end of a page: marks from its own top, as high as it is."""

    height: float
    texts: tuple[Text, ...] = ()
    rules: tuple[Rule, ...] = ()
    with_next: bool = False
    """Whether the next strip has to stand on the same page."""
    again: tuple["Strip", ...] = ()
    """What is repeated above it on a new page: a table's heads."""
    new_page: bool = False
    """Whether it begins one, unless one begins there anyway."""
    front: bool = False
    """Whether that is the front of a leaf."""
    counted: bool = False
    """Whether each page that it stands on says which it is of how many: `1 of 2`."""
    bookmark: str = ""
    """What a bookmark to it is called; none where empty."""


class Said(Struct, frozen=True, gc=False):
    """A paragraph in a box."""

    words: str
    style: str = REGULAR
    sizes: tuple[float, ...] = PLAIN
    beside: str = ""
    """Plain words at the right of its first line, where they find room there; a paragraph of its own otherwise."""


class Box(Struct, frozen=True, gc=False):
    """Words with lines round them."""

    x: float
    width: float
    said: tuple[Said, ...]
    weight: float = 0.4
    """mm, of its lines; none is drawn where it is 0."""
    dashed: bool = False


class Node(Struct, frozen=True, gc=False):
    """A row of a tree, and what hangs on it."""

    cells: tuple[tuple[Said, ...], ...]
    """What its boxes say, from left to right."""
    hanging: tuple["Node", ...] = ()
    shares: tuple[float, ...] = ()
    """How much of the row each cell takes, the last of them the rest."""


def large(words: str, beside: str = "") -> Said:
    """A name, to be read from afar."""
    return Said(words, BOLD, LARGE, beside)


def named(name: str, marks: Iterable[str], beside: str = "") -> tuple[Said, ...]:
    """A name, and under it what is wrong there."""
    return (large(name, beside), *paragraphs(*marks, style=BOLD))


def paragraphs(*words: str, style: str = REGULAR) -> tuple[Said, ...]:
    """Each of the words that there are by itself."""
    return tuple(Said(each, style) for each in words if each)


def line_height(size: float) -> float:
    """mm between the base lines of text of that many points."""
    return size * MM_PER_POINT * LEADING


def outline(
    x1: float, y1: float, x2: float, y2: float, weight: float = 0.4, dashed: bool = False
) -> tuple[Rule, ...]:
    """The four sides of a box."""
    corners = ((x1, y1), (x2, y1), (x2, y2), (x1, y2), (x1, y1))
    return tuple(Rule(*a, *b, weight, dashed) for a, b in itertools.pairwise(corners))


def moved(strip: Strip, x: float, y: float) -> Strip:
    """The strip further to the right and down."""
    return replace(
        strip,
        texts=tuple([Text(t.x + x, t.y + y, t.words, t.style, t.size) for t in strip.texts]),
        rules=tuple([Rule(r.x1 + x, r.y1 + y, r.x2 + x, r.y2 + y, r.weight, r.dashed) for r in strip.rules]),
    )


def joined(strips: Iterable[Strip]) -> Strip:
    """Their marks together, of no height."""
    strips = tuple(strips)
    return Strip(0, tuple(t for s in strips for t in s.texts), tuple(r for s in strips for r in s.rules))


# --- words in boxes -----------------------------------------------------------------------------------


class _Line(Struct, frozen=True, gc=False):
    """A line of words, and what stands at its right."""

    words: str
    style: str
    size: float
    beside: str = ""


def _plain(words: str) -> str:
    """On one line, composed, with nothing in it that steers."""
    return safe(_BLANKS.sub(" ", unicodedata.normalize("NFC", words)).strip(" "))


def _lines(said: Said, room: float) -> Iterator[_Line]:
    """Its words in lines of at most `room` mm, in the largest of its sizes that takes one, or in the smallest."""
    words, beside = _plain(said.words), _plain(said.beside)
    taken = width(beside, REGULAR, PLAIN[0]) + 2 * PAD if beside else 0.0
    for space in dict.fromkeys((room - taken, room)):
        size = next((s for s in said.sizes if width(words, said.style, s) <= space), 0.0)
        if size:
            yield _Line(words, said.style, size, beside if space < room else "")
            break
    else:
        space = room
        size = said.sizes[-1]
        yield from (_Line(line, said.style, size) for line in wrapped(words, said.style, size, room))
    if beside and space == room:
        yield from (_Line(line, REGULAR, PLAIN[0]) for line in wrapped(beside, REGULAR, PLAIN[0], room))


def row(boxes: Sequence[Box], least: float = 0.0) -> Iterator[Strip]:
    """Boxes side by side, all as high as the highest and no lower than `least` mm."""
    told = [[line for said in box.said for line in _lines(said, box.width - 2 * PAD)] for box in boxes]
    while True:
        parts = [_part(lines) for lines in told]
        heights = [sum(line_height(line.size) for line in part) for part in parts]
        height = max(max(heights, default=0.0) + 2 * PAD, least)
        yield Strip(
            height,
            tuple(text for box, part in zip(boxes, parts, strict=True) for text in _set(box, part)),
            tuple(
                rule
                for box in boxes
                if box.weight
                for rule in outline(box.x, 0, box.x + box.width, height, box.weight, box.dashed)
            ),
        )
        told = [lines[len(part) :] for lines, part in zip(told, parts, strict=True)]
        if not any(told):
            return
        least = 0.0


def _part(lines: Sequence[_Line]) -> list[_Line]:
    """As many of the lines as one box takes."""
    heights = itertools.accumulate(line_height(line.size) for line in lines)
    return [line for line, height in zip(lines, heights, strict=True) if height <= HIGHEST]


def _set(box: Box, lines: Sequence[_Line]) -> Iterator[Text]:
    y = PAD
    for line in lines:
        y += line_height(line.size)
        base = y - 0.22 * line_height(line.size)
        if line.words:
            yield Text(box.x + PAD, base, line.words, line.style, line.size)
        if line.beside:
            x = box.x + box.width - PAD - width(line.beside, REGULAR, PLAIN[0])
            yield Text(x, base, line.beside, REGULAR, PLAIN[0])


def abreast(boxes: Iterable[tuple[Said, ...]], most: int) -> Iterator[Strip]:
    """Boxes of one width in rows of `most`, a gap between them."""
    boxes, space = tuple(boxes), (WIDTH - (most - 1) * GAP) / most
    for start in range(0, len(boxes), most):
        part = boxes[start : start + most]
        yield from row([Box(i * (space + GAP), space, said) for i, said in enumerate(part)])
        yield Strip(GAP)


def heading(*said: Said, bookmark: str = "") -> tuple[Strip, ...]:
    """Words across the picture, on one page with what comes next."""
    above = Strip(GAP, with_next=True, bookmark=bookmark)
    return (above, *(replace(strip, with_next=True) for strip in row([Box(-PAD, WIDTH + 2 * PAD, said, 0)])))


def under(head: tuple[Strip, ...], strips: Iterable[Strip]) -> tuple[Strip, ...]:
    """The strips under a heading, which is repeated on every page that they go on to."""
    again = _repeated(head)
    return (*head, *(replace(strip, again=(*again, *strip.again)) for strip in strips))


def _repeated(head: tuple[Strip, ...]) -> tuple[Strip, ...]:
    """A heading as it stands on further pages: not where it would take much of them."""
    return head if sum(strip.height for strip in head) < HIGHEST / 4 else ()


# --- trees --------------------------------------------------------------------------------------------


def tree(roots: Sequence[Node]) -> Iterator[Strip]:
    """A row for each node, further in the deeper it hangs, with lines from each to what hangs on it.

    A page that begins within what hangs on something says on what.
    """
    depth = max(map(_depth, roots), default=0)
    indent = min(INDENT, WIDTH / 3 / max(depth, 1))

    def drawn(
        node: Node, level: int, last: bool, passing: tuple[float, ...], above: tuple[str, ...] = ()
    ) -> Iterator[Strip]:
        x = level * indent
        again = _repeated(heading(Said(" → ".join(above), BOLD))) if above else ()
        parts = itertools.accumulate(node.shares, initial=0.0)
        edges = [*(x + (WIDTH - x) * part for part in parts), WIDTH][: len(node.cells) + 1]
        boxes = [
            Box(left, right - left, said)
            for (left, right), said in zip(itertools.pairwise(edges), node.cells, strict=True)
        ]
        stem = x - indent / 2
        for number, strip in enumerate(row(boxes)):
            height, down = strip.height + GAP, moved(strip, 0, GAP)
            lines = [Rule(at, 0, at, height, 0.4) for at in passing]
            if level and number == 0:
                middle = GAP + min(strip.height, line_height(LARGE[0]) + 2 * PAD) / 2
                lines += [
                    Rule(stem, 0, stem, middle if last else height, 0.4),
                    Rule(stem, middle, x, middle, 0.4),
                ]
            elif level and not last:
                lines.append(Rule(stem, 0, stem, height, 0.4))
            yield Strip(
                height,
                down.texts,
                (*lines, *down.rules),
                with_next=bool(node.hanging) and number == 0,
                again=again,
            )
        ways = (*passing, stem) if level and not last else passing
        for number, below in enumerate(node.hanging, 1):
            name = node.cells[0][0].words
            yield from drawn(below, level + 1, number == len(node.hanging), ways, (*above, name))

    for root in roots:
        yield from drawn(root, 0, True, ())


def _depth(node: Node) -> int:
    return 1 + max(map(_depth, node.hanging), default=-1)
