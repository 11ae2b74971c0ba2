"""Laying a sheet out: how large the letters, which way the page, what stands where. Draws nothing.

The largest letters with which the sheet fits one page win; where none do, those of the easily read ones that take the
fewest pages, of what hangs on a door the largest. No row is parted that fits a page.
"""

import functools
import itertools
import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from rackwright.papers import label_sheets
from rackwright.papers.document import (
    Block,
    Contents,
    Drawing,
    Header,
    Label,
    Labels,
    PageBreak,
    Sheet,
    Table,
    Words,
)
from rackwright.papers.drawing import Rule, Strip, Text, joined, line_height, moved, outline
from rackwright.papers.typeface import BOLD, REGULAR, printable, width, wrapped
from rackwright.units.text_table import ROUNDING, squeezed

A4, LETTER = (210.0, 297.0), (215.9, 279.4)
MARGIN = 11.0
FOOT = 7.0
SIZES = (13.0, 12.0, 11.0, 10.0, 9.5)
"""Points, tried one after the other."""
USUAL, SMALL = 11.0, 10.0
"""Points, of a sheet that no size brings onto one page: the largest and the smallest."""
PAD = 1.6
"""mm between a cell's text and its edge."""
LABELS_ABREAST = 4
UNPARTED = 0.25
"""Of a page: a table that takes no more of it is not parted."""
LEAST_COLUMN = 14.0
"""mm: a column of words is not squeezed under this."""
COARSE, FINE = 64.0, 2.0
"""mm: the steps in which columns that can't have what they want are made wider and narrower."""
WRITTEN_COLUMN, WRITTEN_ROW = 15.0, 7.5
"""mm: room to write by hand: the width of a column at least, the height of a row."""


class Laid(NamedTuple):
    """A sheet laid out: the page's width and height in mm, and each page's marks."""

    width: float
    height: float
    size: float
    pages: tuple[Strip, ...]
    lacking: float
    """mm that its tables lack of the width in which no word is cut."""
    bookmarks: tuple[tuple[str, int], ...] = ()
    """What begins within it, a rack each, with its page from 0."""
    leaves: bool = False
    """Whether its pages are printed on both sides of leaves, the first on a front."""
    numbered: bool = True
    """Whether there is room in its foot for the page's number in a file of several sheets."""


def firsts(laid: Sequence[Laid]) -> list[int]:
    """The page, from 1, that each of several sheets in a row begins on: leaves on an odd one."""
    found, page = [], 1
    for each in laid:
        page += each.leaves and page % 2 == 0
        found.append(page)
        page += len(each.pages)
    return found


@functools.lru_cache(maxsize=64)
def laid_out(sheet: Sheet, header: Header) -> Laid:
    """The sheet on pages."""
    labels = [label for block in sheet.blocks if isinstance(block, Labels) for label in block.labels]
    if labels and header.labels:
        size = LETTER if header.letter else A4
        drawn = tuple(label_sheets.pages(labels, header, size[1]))
        return Laid(*size, label_sheets.LARGE, drawn, 0.0, numbered=False)
    smallest = _at(sheet, header, SIZES[-1])
    if len(smallest.pages) > 1:
        roomy = (_at(sheet, header, size) for size in SIZES if SMALL <= size <= USUAL)
        whole = [laid for laid in roomy if not laid.lacking]
        if whole and whole[0].leaves:
            return whole[0]  # hung up, to be read at a distance
        return min(whole, key=lambda laid: len(laid.pages), default=smallest)
    larger = (_at(sheet, header, size) for size in SIZES)
    return next((laid for laid in larger if len(laid.pages) == 1 and not laid.lacking), smallest)


def _at(sheet: Sheet, header: Header, size: float) -> Laid:
    """The sheet in letters of that size, upright unless the other way spares pages or cut words; a drawing is upright."""
    short, long = LETTER if header.letter else A4
    upright = _paged(sheet, header, (short, long), size)
    drawn = any(isinstance(block, Drawing) for block in sheet.blocks)
    if drawn or (len(upright.pages) == 1 and not upright.lacking):
        return upright
    across = _paged(sheet, header, (long, short), size)
    return min(upright, across, key=lambda laid: (laid.lacking, len(laid.pages)))


# --- pages --------------------------------------------------------------------------------------------


def _paged(sheet: Sheet, header: Header, page: tuple[float, float], size: float) -> Laid:
    head = _head(sheet, header, page[0])
    top, bottom = MARGIN + head.height, page[1] - MARGIN - FOOT
    pages: list[list[Strip]] = [[]]
    bookmarks = []
    counted: dict[int, list[tuple[list[Strip], Strip]]] = {}
    """Headings, each with the pages that it stands on, and as it stands there."""
    y = top

    def put(strip: Strip, y: float) -> float:
        placed = moved(strip, MARGIN, y)
        pages[-1].append(placed)
        if strip.counted:
            counted.setdefault(id(strip), []).append((pages[-1], placed))
        return y + strip.height

    strips = [
        strip
        for block in sheet.blocks
        for strip in _strips(block, header.revision, size, page[0] - 2 * MARGIN, bottom - top)
    ]
    for i, strip in enumerate(strips):
        kept = _kept_together(strips, i)
        full = strip.new_page or y + (kept if kept <= bottom - top else strip.height) > bottom + 1e-6
        blank = not (strip.texts or strip.rules or strip.with_next or strip.new_page)
        if full and y > top and not blank:
            pages.append([])
            if strip.front and len(pages) % 2 == 0:
                pages[-1].append(moved(BLANK, MARGIN, top))
                pages.append([])
            y = top
            for repeated in strip.again:
                y = put(repeated, y)
        if strip.bookmark:
            bookmarks.append((strip.bookmark, len(pages) - 1))
        y = put(strip, y)
    for places in counted.values():
        for number, (marks_of_page, heading) in enumerate(places if len(places) > 1 else (), 1):
            marks_of_page.append(_number(heading.texts[0], number, len(places), page[0] - MARGIN))
    count = len(pages)
    marks = (
        joined([moved(head, MARGIN, MARGIN), *placed, _foot(page, number, count)])
        for number, placed in enumerate(pages, 1)
    )
    lacking = sum(_lacking(block, size, page[0] - 2 * MARGIN) for block in sheet.blocks)
    leaves = any(strip.front for strip in strips)
    return Laid(*page, size, tuple(marks), lacking, tuple(bookmarks), leaves)


def _number(heading: Text, number: int, count: int, right: float) -> Strip:
    """Which page of how many it is that a heading stands on, at its right."""
    told = f"{number} of {count}"
    x = right - width(told, BOLD, heading.size)
    return Strip(0, (Text(x, heading.y, told, BOLD, heading.size),))


BLANK = Strip(10.0, (Text(0, 8.0, "This side stays blank.", REGULAR, 11.0),))


def _kept_together(strips: Sequence[Strip], at: int) -> float:
    height = strips[at].height
    while strips[at].with_next and at + 1 < len(strips):
        at += 1
        height += strips[at].height
    return height


def _head(sheet: Sheet, header: Header, page_width: float) -> Strip:
    """The title and the rig large, the date and the revision beside."""
    room = page_width - 2 * MARGIN
    told = printable(f"{header.date} · revision {header.revision}")
    beside = width(told, REGULAR, 11)
    y, texts = 0.0, []
    for words, style, size, space in (
        (sheet.title, BOLD, 18.0, room - beside - 4),
        (header.rig, BOLD, 12.0, room),
    ):
        for text in wrapped(printable(words), style, size, space):
            y += line_height(size)
            texts.append(Text(0, y - line_height(size) * 0.22, text, style, size))
    texts.append(Text(room - beside, texts[0].y, told, REGULAR, 11))
    return Strip(y + 4.5, tuple(texts), (Rule(0, y + 1.5, room, y + 1.5, 0.6),))


def _foot(page: tuple[float, float], number: int, count: int) -> Strip:
    told = f"page {number} of {count}"
    x, y = page[0] - MARGIN - width(told, REGULAR, 11), page[1] - MARGIN
    return Strip(0, (Text(x, y, told, REGULAR, 11),))


# --- blocks -------------------------------------------------------------------------------------------


def _strips(block: Block, revision: str, size: float, room: float, page_room: float) -> Iterator[Strip]:
    most = max(1, int((page_room - 4 * line_height(size)) / line_height(size)))
    if isinstance(block, PageBreak):
        yield Strip(0, new_page=True, front=block.front)
    elif isinstance(block, Drawing):
        yield from map(_drawn, block.strips)
    elif isinstance(block, Words):
        yield from _words(block, size, room, most)
    elif isinstance(block, Contents):
        return
    elif isinstance(block, Table):
        yield from _table(block, size, room, most)
    else:
        yield from _labels(block, revision, room, page_room)


def _drawn(strip: Strip) -> Strip:
    """As it is. Raises SignError where the typeface lacks a sign of it."""
    for text in strip.texts:
        printable(text.words)
    return strip


def _words(block: Words, size: float, room: float, most: int) -> Iterator[Strip]:
    style = BOLD if block.caution else REGULAR
    inset = 2.0 if block.caution else 0.0
    lines = wrapped(printable(block.text), style, size, room - 2 * inset)
    for start in range(0, len(lines), most):
        part = lines[start : start + most]
        height = len(part) * line_height(size) + 1.4
        texts = tuple(
            Text(inset, (i + 1) * line_height(size) - line_height(size) * 0.2, line, style, size)
            for i, line in enumerate(part)
        )
        rules = outline(0, 0, room, height) if block.caution else ()
        yield Strip(height + 1.6, texts, rules, with_next=block.leads)


def _style(column: int) -> str:
    """The first column, which names the row, is bold."""
    return REGULAR if column else BOLD


def _lacking(block: Block, size: float, room: float) -> float:
    """mm that a table lacks in `room` mm so that no word is cut; 0 where it fits."""
    return max(0.0, sum(_least(block, size)) - room - ROUNDING) if isinstance(block, Table) else 0.0


def _columns(table: Table, size: float) -> Iterator[list[tuple[str, str]]]:
    """Each column's cells with their styles, its head first."""
    for i, head in enumerate(table.heads):
        yield [(printable(head), BOLD), *((printable(row[i]), _style(i)) for row in table.rows)]


def _least(table: Table, size: float) -> list[float]:
    """The widths in mm under which a word would be cut."""
    return [
        max(
            max(width(word, style, size) for cell, style in column for word in cell.split(" ")) + 2 * PAD,
            WRITTEN_COLUMN if head in table.written else 0.0,
        )
        for head, column in zip(table.heads, _columns(table, size), strict=True)
    ]


def _widths(table: Table, size: float, room: float) -> list[float]:
    """The columns as wide as they want; where that is too much, heads are wrapped, then so that the rows take the fewest lines."""
    least = _least(table, size)
    wanted = _wanted(table, size, least, 0)
    if sum(wanted) > room:
        whole = _wanted(table, size, least, 1)
        wanted = squeezed(wanted, whole, room) if sum(whole) <= room else whole
    if sum(least) > room:
        least = [min(w, LEAST_COLUMN) for w in least]
    if sum(wanted) > room + ROUNDING:
        wanted = _lowest(table, size, squeezed(wanted, least, room), least)
    if sum(wanted) > room + ROUNDING:
        return [w * room / sum(wanted) for w in wanted]
    if table.written:
        spare = (room - sum(wanted)) / len(table.written)
        return [w + spare * (head in table.written) for w, head in zip(wanted, table.heads, strict=True)]
    return wanted


def _lowest(table: Table, size: float, widths: Sequence[float], least: Sequence[float]) -> list[float]:
    """The widths in mm, of the same sum and none under its least, with which the rows take the fewest lines that are found.

    One column gives to another what spares most, again and again, in ever smaller steps.
    """
    columns = list(_columns(table, size))

    @functools.cache
    def lines(column: int, space: float) -> list[int]:
        return [len(wrapped(c, style, size, space - 2 * PAD + ROUNDING)) for c, style in columns[column]]

    def height(widths: Sequence[float]) -> int:
        return sum(map(max, zip(*itertools.starmap(lines, enumerate(widths)), strict=True)))

    best, step = list(widths), COARSE
    while step >= FINE:
        ways = (
            [w + step * ((i == taker) - (i == giver)) for i, w in enumerate(best)]
            for giver, taker in itertools.permutations(range(len(best)), 2)
            if best[giver] - step >= least[giver]
        )
        better = min(ways, key=height, default=best)
        if height(better) < height(best):
            best = better
        else:
            step /= 2
    return best


def _wanted(table: Table, size: float, least: Sequence[float], first: int) -> list[float]:
    """The widths in mm with which no cell from row `first` on, the heads being row 0, is wrapped."""
    whole = (
        max((width(c, style, size) for c, style in column[first:]), default=0.0) + 2 * PAD
        for column in _columns(table, size)
    )
    return list(map(max, whole, least))


def _table(table: Table, size: float, room: float, most: int) -> Iterator[Strip]:
    widths = _widths(table, size, room)
    heading = tuple(_heading(table.heading, size + 1.5, room, table.heading if table.part else ""))
    heads = tuple(
        replace(strip, with_next=True) for strip in _cells(table, table.heads, widths, size, most, head=True)
    )
    yield from (*heading, *heads)
    again = (*heading, *heads) if len(heading) <= 2 else heads
    drawn = [list(_cells(table, row, widths, size, most)) for row in table.rows]
    height = sum(strip.height for strip in (*heading, *heads, *itertools.chain(*drawn)))
    short = height <= UNPARTED * most * line_height(size)
    last = len(table.rows) - 1
    for number, (row, strips) in enumerate(zip(table.rows, drawn, strict=True)):
        alike = table.grouped and number < last and table.rows[number + 1][0] == row[0]
        tied = number < last and (short or alike or number in (0, last - 1))
        yield from (replace(strip, again=again, with_next=tied) for strip in strips)
    yield Strip(2.5, ())


def _heading(words: str, size: float, room: float, bookmark: str) -> Iterator[Strip]:
    """A table's heading, which stands again over what is left of it on the next page, with which it is of how many."""
    room -= width(" 99 of 99", BOLD, size)
    for number, line in enumerate(wrapped(printable(words), BOLD, size, room) if words else ()):
        above = 0.0 if number else 2.0
        text = Text(0, above + line_height(size) * 0.8, line, BOLD, size)
        first = number == 0
        yield Strip(
            above + line_height(size),
            (text,),
            with_next=True,
            counted=first,
            bookmark=bookmark if first else "",
        )


def _cells(
    table: Table, row: Sequence[str], widths: Sequence[float], size: float, most: int, head: bool = False
) -> Iterator[Strip]:
    """A row; one that is higher than a page in parts."""
    styles = [BOLD if head else _style(i) for i in range(len(row))]
    cells = [
        wrapped(printable(cell), style, size, space - 2 * PAD + 1e-6)
        for cell, style, space in zip(row, styles, widths, strict=True)
    ]
    for start in range(0, max(map(len, cells)), most):
        parts = [lines[start : start + most] for lines in cells]
        height = max(map(len, parts)) * line_height(size) + 1.0
        if table.written and not head:
            height = max(height, WRITTEN_ROW)
        texts, rules, x = [], [], 0.0
        for lines, style, space, name in zip(parts, styles, widths, table.heads, strict=True):
            for i, line in enumerate(lines):
                indent = space - PAD - width(line, style, size) if name in table.right else PAD
                texts.append(Text(x + indent, (i + 0.8) * line_height(size) + 0.4, line, style, size))
            if name in table.written:
                rules += [Rule(edge, 0, edge, height, 0.15) for edge in (x, x + space)]
            x += space
        rules.append(Rule(0, height, x, height, 0.5 if head else 0.15))
        yield Strip(height, tuple(t for t in texts if t.words), tuple(rules))


# --- labels -------------------------------------------------------------------------------------------


def _labels(block: Labels, revision: str, room: float, page_room: float) -> Iterator[Strip]:
    """Labels abreast, all of one height, so that straight cuts part them; one longer than a page goes on in a second."""
    space = room / LABELS_ABREAST
    drawn = [list(_label(label, revision, space, page_room)) for label in block.labels]
    height = max((strip.height for parts in drawn for strip in parts), default=0.0)
    for start in range(0, len(drawn), LABELS_ABREAST):
        for abreast in itertools.zip_longest(*drawn[start : start + LABELS_ABREAST], fillvalue=Strip(0, ())):
            boxes = [outline(i * space, 0, (i + 1) * space, height, 0.15, True) for i in range(len(abreast))]
            texts = tuple(t for i, strip in enumerate(abreast) for t in moved(strip, i * space, 0).texts)
            yield Strip(height, texts, tuple(rule for box in boxes for rule in box))


def _label(label: Label, revision: str, space: float, page_room: float) -> Iterator[Strip]:
    inset, above, below = 2.0, 1.0, 3.0
    y = above
    texts: list[Text] = []
    for words, style, size in (
        (f"{label.name}  {label.end}", BOLD, 14.0),
        (f"→ {label.place}", BOLD, 14.0),
        *((line, REGULAR, 10.0) for line in (*label.lines, f"revision {revision}")),
    ):
        for line in wrapped(printable(words), style, size, space - 2 * inset):
            if texts and y + line_height(size) + below > page_room:
                yield Strip(page_room, tuple(texts))
                y, texts = above, []
            y += line_height(size)
            texts.append(Text(inset, y - line_height(size) * 0.22, line, style, size))
    yield Strip(min(math.ceil(y + 2.0), page_room), tuple(texts))
