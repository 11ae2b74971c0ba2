"""A plot in text: curves, level lines and upright lines over two axes, as rows of words and signs.

Drawn in braille dots, or in plain characters where the terminal has ASCII only. Each curve carries its own sign here
and there, so that none is told by its colour alone. Knows nothing of what is plotted.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple, TypeAlias

import numpy as np

from rackwright.console.rows.row import Part, Row
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.units.typography import spelled

GUTTER = 8
"""Cells left of the plot: a tick's words and the axis."""

_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""Braille: the bit of each dot, by row and column in its cell."""
_BRAILLE = 0x2800
_INKS = "*+ox%@"
"""ASCII: what a curve is drawn with."""
_FAINT = "."


Ticks: TypeAlias = tuple[tuple[float, str], ...]
"""Values with their words; where those are empty there is a notch only."""


class Axis(NamedTuple):
    """What the level axis spans and where it is marked: with later ticks only where all of them have room."""

    low: float
    high: float
    ticks: tuple[Ticks, ...]
    unit: str
    logarithmic: bool = False

    def along(self, value: float) -> float:
        """Where `value` lies: 0 at the low end, 1 at the high."""
        if self.logarithmic:
            return math.log(value / self.low) / math.log(self.high / self.low)
        return (value - self.low) / (self.high - self.low)


class Scale(NamedTuple):
    """What the upright axis has room for at least; it goes by steps, so that its marks stand evenly on rows."""

    low: float
    high: float
    step: float = 0.0
    """Between two marks; 0 where each is the double of the last."""

    def at(self, value: float) -> float:
        """How many steps `value` is from the mark at 0, of doublings from that at 1."""
        return value / self.step if self.step else math.log2(value)

    def words(self, steps: int) -> str:
        """Of a mark."""
        return f"{steps * self.step if self.step else 2.0**steps:.6g}".replace("-", "−")

    def rungs(self, rows: int) -> "Rungs":
        """The steps laid on rows, as far apart as there is room for, fewer of them marked where that fills it much better."""
        low, high = self.at(self.low), self.at(self.high)
        if high - low < 2:
            low, high = math.floor(low), max(math.ceil(high), math.floor(low) + 1)
        found = []
        for every in (1, 2, 4, 8, 16, 32):
            for apart in range(rows, 0, -1):
                top, bottom = math.ceil(high * apart / every - 0.5), math.floor(low * apart / every + 0.5)
                if top - bottom < rows:
                    top += (rows - 1 - top + bottom) // 2 if high > 0 else 0
                    marked = len(range(top % apart, rows, apart))
                    found.append((min(marked, 3), apart / every**1.25, Rungs(top, apart, every)))
                    break
        return max(found)[-1]


class Rungs(NamedTuple):
    """Marks of a scale on rows, counted from the top."""

    zero: int
    """The row that step 0 is or would be on."""
    apart: int
    """Rows between two marks."""
    every: int
    """Steps between two marks."""

    def row(self, steps: float) -> float:
        return self.zero - steps * self.apart / self.every


class Curve(NamedTuple):
    """A line through points, in the order of x."""

    x: Sequence[float]
    y: Sequence[float]
    words: str
    """What it is, in the legend."""
    mark: str = ""
    """The sign set on it here and there; none where empty."""
    style: str = "head"
    faint: bool = False
    """Drawn dotted: how something was before."""


class Line(NamedTuple):
    """A level line, drawn right across."""

    y: float
    words: str
    style: str
    broken: str
    """What it is drawn with in Unicode and in ASCII: two characters."""


class Plot(NamedTuple):
    """All that is drawn."""

    x: Axis
    y: Scale
    curves: tuple[Curve, ...]
    lines: tuple[Line, ...] = ()
    uprights: tuple[float, ...] = ()
    """Where along x upright lines stand."""


Cell: TypeAlias = tuple[str, str]
"""A sign and its style."""
Trail: TypeAlias = dict[int, tuple[int, int]]
"""Column of dots → the highest and the lowest dot of a curve there, counted from the top; not every column has any."""


def _with_extremes(trail: Trail, places: Sequence[float], heights: Sequence[float], dots: int) -> Trail:
    """The trail reaching as far as each peak and dip that falls between the middles of two columns."""
    reaching = dict(trail)
    for place, height in zip(places, heights, strict=True):
        column, dot = round(place), round(min(max(height, 0), dots - 1))
        around = [trail[near] for near in (column - 1, column, column + 1) if near in trail]
        if column in trail and not min(top for top, _ in around) <= dot <= max(low for _, low in around):
            top, bottom = reaching[column]
            reaching[column] = (min(top, dot), max(bottom, dot))
    return reaching


class _Canvas:
    """Cells being drawn on."""

    def __init__(self, plot: Plot, width: int, height: int, ascii: bool) -> None:
        self.plot, self.width, self.height, self.ascii = plot, width, height, ascii
        self.cells: list[list[Cell]] = [[(" ", "")] * width for _ in range(height)]
        self.inked: set[tuple[int, int]] = set()
        """Row and column of cells that a curve goes through."""
        self.rungs = plot.y.rungs(height)

    def row_of(self, y: float) -> int:
        return min(max(round(self.rungs.row(self.plot.y.at(y))), 0), self.height - 1)

    def column_of(self, x: float) -> int:
        return min(max(round(self.plot.x.along(x) * (self.width - 1)), 0), self.width - 1)

    def draw(self) -> None:
        for x in self.plot.uprights:
            column = self.column_of(x)
            for row in range(self.height):
                self.cells[row][column] = upright(self.ascii)
        for line in self.plot.lines:
            row = self.row_of(line.y)
            there = [each for each in self.plot.lines if self.row_of(each.y) == row]  # they take turns
            for column in range(2 * there.index(line), self.width, 2 * len(there)):
                self.cells[row][column] = (line.broken[self.ascii], line.style)
        trails = [self._trail(curve) for curve in self.plot.curves]
        for number, (curve, trail) in enumerate(zip(self.plot.curves, trails, strict=True)):
            self._ink(curve, number, trail)
        for line in self.plot.lines:
            self._name(line)
        for number, (curve, trail) in enumerate(zip(self.plot.curves, trails, strict=True)):
            self._mark(curve, number, trail)

    # --- curves ---

    def _trail(self, curve: Curve) -> Trail:
        across, down = (1, 1) if self.ascii else (2, 4)
        columns, dots = self.width * across, self.height * down
        places = [self.plot.x.along(x) * (columns - 1) for x in curve.x]
        heights = [self.rungs.row(self.plot.y.at(y)) * down + (down - 1) / 2 for y in curve.y]
        at = range(max(round(places[0]), 0), min(round(places[-1]), columns - 1) + 1)
        middles = np.clip(np.rint(np.interp(at, places, heights)), 0, dots - 1).astype(int).tolist()
        trail: Trail = {}
        for column, before, dot in zip(at, [*middles[:1], *middles], middles, strict=False):
            near = before + (before < dot) - (before > dot)
            trail[column] = (min(near, dot), max(near, dot))
        return _with_extremes(trail, places, heights, dots)

    def _ink(self, curve: Curve, number: int, trail: Trail) -> None:
        dots = [(dot, column) for column, (top, bottom) in trail.items() for dot in range(top, bottom + 1)]
        if self.ascii:
            ink = _FAINT if curve.faint else _INKS[number % len(_INKS)]
            for row, column in dots:
                if (row, column) not in self.inked:  # the first curve is the one that is asked for
                    self._set(row, column, ink, curve.style)
            return
        bits: dict[tuple[int, int], int] = {}
        for way, (dot, column) in enumerate(dots):
            if not curve.faint or way % 4 < 2:
                cell = (dot // 4, column // 2)
                bits[cell] = bits.get(cell, 0) | _DOTS[dot % 4][column % 2]
        for (row, column), pattern in bits.items():
            there, style = self.cells[row][column]
            shared = ord(there) - _BRAILLE if "⠀" <= there <= "⣿" else 0
            self._set(row, column, chr(_BRAILLE + (pattern | shared)), style if shared else curve.style)

    def _set(self, row: int, column: int, sign: str, style: str) -> None:
        self.cells[row][column] = (sign, style)
        self.inked.add((row, column))

    def _mark(self, curve: Curve, number: int, trail: Trail) -> None:
        """Set the curve's sign on it at intervals, each curve's between those of the others."""
        across, down = (1, 1) if self.ascii else (2, 4)
        apart = max(18, self.width // 4)
        start = (number + 1) * apart // (len(self.plot.curves) + 1)
        for column in range(start, self.width, apart) if curve.mark else ():
            if column * across in trail:
                top, bottom = trail[column * across]
                self._set((top + bottom) // 2 // down, column, curve.mark, "head")

    # --- lines ---

    def _name(self, line: Line) -> None:
        """Write a line's words on it, as far right as no curve is in the way."""
        row, words = self.row_of(line.y), f" {spelled(line.words) if self.ascii else line.words} "
        for start in range(self.width - len(words) - 1, 0, -1):
            span = range(start, start + len(words))
            if all((row, column) not in self.inked for column in span):
                for column, letter in zip(span, words, strict=True):
                    self._set(row, column, letter, line.style)
                return


def rows(plot: Plot, width: int, height: int, glyphs: Glyphs) -> list[Row]:
    """The plot in `width` × `height` cells, its axes included."""
    canvas = _Canvas(plot, max(width - GUTTER, 8), max(height - 2, 2), glyphs.ascii)
    canvas.draw()
    side, tick, corner, rule, notch = "|++-+" if glyphs.ascii else "│┤└─┬"
    rungs = canvas.rungs
    ticks = {
        row: glyphs.spelt(plot.y.words((rungs.zero - row) // rungs.apart * rungs.every))
        for row in range(rungs.zero % rungs.apart, canvas.height, rungs.apart)
    }
    drawn = [
        _row((f"{ticks.get(number, ''):>{GUTTER - 2}} {tick if number in ticks else side}", "dim"), cells)
        for number, cells in enumerate(canvas.cells)
    ]
    base, labels = [rule] * canvas.width, " " * canvas.width
    for ranked in plot.x.ticks:
        for value, _ in ranked:
            base[canvas.column_of(value)] = notch
        labels = _labelled(labels, ranked, canvas) or labels
    drawn.append(_words(f"{corner:>{GUTTER}}{''.join(base)}"))
    drawn.append(_words(f"{plot.x.unit:>{GUTTER - 2}}  {labels}".rstrip()))
    return drawn


def _labelled(labels: str, ticks: Ticks, canvas: _Canvas) -> str:
    """The labels with those of `ticks` among them; empty where they would touch."""
    for value, words in ticks:
        start = max(min(canvas.column_of(value) - len(words) // 2, canvas.width - len(words)), 0)
        end = start + len(words)
        if words and labels[max(start - 1, 0) : end + 1].strip():
            return ""
        labels = labels[:start] + words + labels[end:]
    return labels


def upright(ascii: bool) -> Part:
    """What an upright line is drawn with."""
    return ":" if ascii else "┊", "dim"


def sample(curve: Curve, number: int, glyphs: Glyphs) -> Part:
    """A bit of the curve for the legend, with its sign."""
    if glyphs.ascii:
        ink = 3 * (_FAINT if curve.faint else _INKS[number % len(_INKS)])
    else:
        ink = "⠒ ⠒" if curve.faint else "⠒⠒⠒"
    return f"{ink}{curve.mark}{ink}", curve.style


def _words(text: str) -> Row:
    return Row(((text, "dim"),), selectable=False)


def _row(lead: Part, cells: list[Cell]) -> Row:
    """Cells of one style put together."""
    parts: list[Part] = [lead]
    for sign, style in cells:
        if len(parts) > 1 and parts[-1][1] == style:
            parts[-1] = (parts[-1][0] + sign, style)
        else:
            parts.append((sign, style))
    return Row(tuple(parts), selectable=False)


# --- axes ---


def decades(low: float, high: float) -> Axis:
    """A logarithmic axis of frequency in Hz, marked at the whole figures of each power of ten, at 1, 2 and 5 first."""
    ranks = tuple(
        tuple(
            (step * 10.0**power, _short(step * 10**power) if named else "")
            for power in range(6)
            for step in steps
            if low <= step * 10**power <= high
        )
        for steps, named in (((1,), True), ((5,), True), ((2,), True), ((3, 4, 6, 8), True), ((7, 9), False))
    )
    return Axis(low, high, ranks, "Hz", logarithmic=True)


def _short(value: int) -> str:
    return f"{value // 1000}k" if value >= 1000 else f"{value}"


def doublings(values: Sequence[float]) -> Scale:
    """A scale that has room for all `values` (above zero), marked at each doubling from 1."""
    return Scale(min(values), max(values))


def down_from_zero(lowest: float, steps: int, highest: float = 0.0) -> Scale:
    """A scale in dB from 0, or where `highest` is over it from there, down to `lowest` or under it.

    Marked at round figures, about `steps` of them.
    """
    top, bottom = max(highest, 0.0), min(lowest, -0.5)
    sizes = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
    return Scale(bottom, top, next(size for size in sizes if (top - bottom) / size <= steps))


def milliseconds(most: float) -> Axis:
    """An axis of time in ms from 0 to `most`, marked at round figures."""
    step = next(s for s in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000) if most / s <= 8)
    ticks = tuple((float(at), f"{at}") for at in range(0, int(most) + 1, step))
    return Axis(0.0, most, (ticks[::2], ticks[1::2]), "ms")
