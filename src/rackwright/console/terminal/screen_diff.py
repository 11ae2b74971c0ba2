"""Sending a terminal only what changed: of each frame, the cells that it does not show already, in few bytes.

Stands between the toolkit and the terminal and knows neither: it reads a frame as the text of control sequences
(ECMA-48) that it is, and writes a shorter one to the same effect. What it can't read it passes on as it is.
"""

import functools
import itertools
import operator
import re
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rich.cells import cell_len

_MOVE = re.compile(r"\x1b\[(\d*)(?:;(\d*))?H|\n")
_PLACED = re.compile(r"\x1b\[[\d;]*H")
_DRESSED = re.compile(r"\x1b\[([\d;]*)m")
_UNREAD = re.compile(r"[\x00-\t\x0b-\x1a\x1c-\x1f\x7f-\x9f]|\x1b(?!\[(?:[\d;]*m|\d*(?:;\d*)?H))")
"""What no frame has: any other control."""
_POINTER = "\x1b]22;"
"""How a frame begins that only gives the mouse pointer a shape: not worth its bytes at every key."""
_BRIDGE = 3
"""Cells that are sooner sent again than jumped over."""
_STACKED = 3
"""Cells one above the other that are sooner sent in one go than each with its row."""
_ERASED, _ERASED_BETWEEN = 6, 12
"""Blank cells from which they are sooner erased (ECH, EL) than sent: at the end of a piece, and with more of it behind them."""


_DRAWN_ON_BLANK = frozenset({"4", "7", "9", "21", "53"})
"""Underlined, reversed, crossed out, underlined twice, overlined."""


@dataclass(frozen=True, eq=False)
class Look:
    """How a cell looks: the codes of SGR (ECMA-48, 8.3.117). There is each look once, from `_look`."""

    marks: frozenset[str] = frozenset()
    """Such as 1 for bold, 7 for reverse."""
    colour: str = "39"
    ground: str = "49"

    @functools.cached_property
    def seen_on_blank(self) -> tuple[object, ...]:
        """What of it shows where there is no sign: besides the ground only lines, and what is reversed."""
        drawn = self.marks & _DRAWN_ON_BLANK
        return drawn, self.ground, self.colour if drawn else ""


_look = functools.cache(Look)
_PLAIN = _look(frozenset(), "39", "49")
Cell = tuple[str, Look]
_UNKNOWN: Cell = ("\0", _PLAIN)


@functools.lru_cache(1 << 14)
def _cell(sign: str, look: Look) -> Cell:
    """There is each cell once: whether two differ is seen at a glance, and one forgotten here is only sent again."""
    return sign, look


class Painting:
    """What stands on a terminal's screen, kept so that it need not be sent again."""

    def __init__(self, columns: int = 80, rows: int = 24) -> None:
        self._wanted: list[list[Cell]] = []
        self._shown: list[list[Cell]] = []
        self._touched: set[int] = set()
        self._at: tuple[int, int] | None = None
        """Where the terminal's cursor is: row, column; None where that is not sure."""
        self._look: Look | None = None
        self.resize(columns, rows)

    def resize(self, columns: int, rows: int) -> None:
        """The screen has another size, and what stands on it is not sure."""
        kept = self._wanted
        self._wanted = [[_UNKNOWN] * columns for _ in range(rows)]
        for y, row in enumerate(kept[:rows]):
            self._wanted[y][: len(row)] = row[:columns]
        self.forget()

    def forget(self) -> None:
        """What stands on the screen is not sure: the next frame sends all of it."""
        self._shown = [[_UNKNOWN] * len(row) for row in self._wanted]
        self._touched = set(range(len(self._wanted)))
        self._at = self._look = None

    def less(self, frame: str) -> str:
        """What to send in place of `frame`: only the cells that change."""
        if frame.startswith(_POINTER):
            return ""
        if _UNREAD.search(frame):
            if "\x1b[?1049" in frame or _PLACED.search(frame):
                self.forget()  # the terminal goes to its other screen, or shows what can't be read here
            return frame
        rest = self._take(frame) if frame else None
        sent = self._differences()
        if rest is not None and (sent or rest != self._at):
            sent += self._move(*rest) + self._dress(_PLAIN)
        return sent

    def _take(self, frame: str) -> tuple[int, int]:
        """Put a frame into what is wanted; where it leaves the cursor."""
        y = x = 0
        look = _PLAIN
        parts = iter(_MOVE.split(f"\x1b[H{frame}")[1:])
        for row, column, text in zip(parts, parts, parts, strict=True):
            y, x = (y + 1, 0) if row is None else (int(row or 1) - 1, int(column or 1) - 1)
            if text:
                cells, look = _read(text, look)
                x += self._put(y, x, cells)
        return y, x

    def _put(self, y: int, x: int, cells: tuple[Cell, ...]) -> int:
        """Cells on a row; how many."""
        if y < len(self._wanted):
            row = self._wanted[y]
            row[x : x + len(cells)] = cells[: max(len(row) - x, 0)]
            self._touched.add(y)
        return len(cells)

    def _differences(self) -> str:
        """Row by row, then what changes one above the other, such as a scroll bar: from a cell to the one under it is two bytes."""
        sent: list[str] = []
        touched = [y for y in sorted(self._touched) if self._wanted[y] != self._shown[y]]
        touched = self._empty(sent, touched)
        runs = {}
        for y in touched:
            row = self._wanted[y]
            runs[y] = [*_parted(row, _joined(row, _runs(row, self._shown[y])))]
        for y, start, end in (*_across(runs, below := set(_below(runs))), *sorted(below, key=_column)):
            sent.append(self._move(y, start))
            self._send(sent, self._wanted[y], y, start, end)
        for y in touched:
            self._shown[y] = self._wanted[y].copy()
        self._touched.clear()
        return "".join(sent)

    def _empty(self, sent: list[str], touched: list[int]) -> list[int]:
        """Erase all rows at the head and at the foot that show nothing, as beside a dialog (ED); those that are left to send."""
        for rows, code in ((range(len(self._wanted)), "1"), (range(len(self._wanted))[::-1], "")):
            empty = list(itertools.takewhile(lambda y: _is_blank(self._wanted[y]), rows))
            if len(changed := [y for y in touched if y in empty]) > 1:
                last = empty[-1]
                sent += (self._move(last, len(self._wanted[last]) - 1 if code else 0), self._dress(_PLAIN))
                sent.append(f"\x1b[{code}J")
                for y in changed:
                    self._shown[y] = self._wanted[y].copy()
                touched = [y for y in touched if y not in changed]
        return touched

    def _send(self, sent: list[str], row: list[Cell], y: int, start: int, end: int) -> None:
        """Add what brings these cells of a row up to date."""
        x, sure = start, self._at is not None
        while x < end:
            sign, look = row[x]
            if sign == " ":
                erased = end - x >= _ERASED and row[x + _ERASED - 1][0] == " "
                blank = _blank_until(row, x, end) if erased else x
                if blank - x >= (_ERASED if blank == end else _ERASED_BETWEEN):
                    if self._look is None or self._look.seen_on_blank != _PLAIN.seen_on_blank:
                        sent.append(self._dress(_PLAIN))
                    self._at = (y, x) if sure else None
                    code = "K" if blank == len(row) else f"{blank - x}X"
                    sent.append(f"{self._move(y, x)}\x1b[{code}")
                    if blank == end:
                        return
                    sent.append(self._move(y, blank))
                    x, sure = blank, self._at is not None
                    continue
                if look is not self._look and (
                    self._look is None or look.seen_on_blank != self._look.seen_on_blank
                ):
                    sent.append(self._dress(look))
            elif look is not self._look:
                sent.append(self._dress(look))
            sent.append(sign)
            x += 1
            # where the cursor is after a sign of another width, or at the edge, is not sure
            sure = sure and len(sign) == 1
        self._at = (y, x) if sure and x < len(row) else None

    def _dress(self, look: Look) -> str:
        before, self._look = self._look, look
        return "" if look == before else _change(before, look)

    def _move(self, y: int, x: int) -> str:
        before, self._at = self._at, (y, x)
        if y >= len(self._wanted) or x >= len(self._wanted[y]):
            self._at = None  # the terminal stops at its edge
        if before == (y, x):
            return ""
        ways = [f"\x1b[{y + 1};{x + 1}H" if x else f"\x1b[{y + 1}H" if y else "\x1b[H"]
        if before is not None and y >= before[0]:
            aside = x - before[1]
            by = str(abs(aside)) if abs(aside) > 1 else ""
            sideways = f"\x1b[{by}C" if aside > 0 else min("\b" * -aside, f"\x1b[{by}D", key=len)
            steps = (sideways, f"\x1b[{x + 1}G") if x else ("\r",)
            ways += ["\v" * (y - before[0]) + step for step in steps]
        return min(ways, key=len)


class DiffDriver:
    """Makes a driver of the toolkit send only what changed: to be mixed in before one."""

    def __init__(self, app: Any, **options: Any) -> None:
        super().__init__(app, **options)  # type: ignore[call-arg]
        self.painting: Painting = app.painting

    def write(self, data: str) -> None:
        """Send what is not on the screen yet."""
        if sent := self.painting.less(data):
            super().write(sent)  # type: ignore[misc]


@functools.lru_cache(2048)
def _read(piece: str, look: Look) -> tuple[tuple[Cell, ...], Look]:
    """The cells that a piece of a frame fills, and the look that it ends in; kept, as most rows only change their place."""
    first, *rest = _DRESSED.split(piece)
    cells = [*_cells(first, look)]
    for codes, text in zip(rest[::2], rest[1::2], strict=True):
        look = _dressed(look, codes)
        cells += _cells(text, look)
    return tuple(cells), look


@functools.lru_cache(4096)
def _cells(text: str, look: Look) -> tuple[Cell, ...]:
    if text.isascii() or all(cell_len(sign) == 1 for sign in text):
        return tuple([_cell(sign, look) for sign in text])
    # signs of other widths stand together in the first cell of many
    return (_cell(text, look), *[_cell("", look)] * (cell_len(text) - 1))


def _runs(wanted: list[Cell], shown: list[Cell]) -> Iterator[tuple[int, int]]:
    """Where a row differs: from, to; near runs of one look in one piece."""
    start = end = -1
    size = len(wanted)
    for x in itertools.compress(itertools.count(), map(operator.is_not, wanted, shown)):
        if x < end:
            continue
        cell = wanted[x]
        if cell is _UNKNOWN or (cell[0] == " " and _same_blank(cell, shown[x])):
            continue
        if x > end or not cell[0]:
            while not wanted[x][0] and x > 0:  # the rest of signs that stand together in a cell before
                x -= 1
            if start < 0:
                start = x
            elif x > end and (x - end > _BRIDGE or not _bridged(wanted, end, x)):
                yield start, end
                start = x
        end = x + 1
        while end < size and not wanted[end][0]:
            end += 1
    if start >= 0:
        yield start, end


def _joined(row: list[Cell], runs: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """The runs, those with nothing but blanks between them as one where they are erased at one go: two bytes for three."""
    start = end = -1
    for from_, to in runs:
        if start >= 0:
            blank = _blank_until(row, end, to)
            if blank == to or (
                blank > from_ and end - start >= _ERASED and _blank_until(row, end - _ERASED, end) == end
            ):
                end = to
                continue
            yield start, end
        start, end = from_, to
    if start >= 0:
        yield start, end


def _parted(row: list[Cell], runs: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """The runs, their last cell apart where it has a look of its own, as that of a scroll bar: it may stand over others."""
    for start, end in runs:
        if end - start > 1 and row[end - 1][1] is not row[end - 2][1] and row[end - 1][0]:
            yield start, end - 1
            yield end - 1, end
        else:
            yield start, end


Run = tuple[int, int, int]
"""Row, from, to."""


def _below(runs: Mapping[int, Sequence[tuple[int, int]]]) -> Iterator[Run]:
    """The runs of one cell each that stand one above the other, enough of them to be worth going there."""
    rows: dict[int, list[int]] = {}
    for y, found in runs.items():
        for start, end in found:
            if end - start == 1:
                rows.setdefault(start, []).append(y)
    for x, ys in rows.items():
        for _, group in itertools.groupby(enumerate(ys), lambda each: each[1] - each[0]):
            if len(stacked := [y for _, y in group]) >= _STACKED:
                yield from ((y, x, x + 1) for y in stacked)


def _across(runs: Mapping[int, Sequence[tuple[int, int]]], below: Container[Run]) -> Iterator[Run]:
    """The other runs, row by row."""
    for y, found in runs.items():
        yield from (run for start, end in found if (run := (y, start, end)) not in below)


def _column(run: Run) -> tuple[int, int]:
    y, x, _ = run
    return x, y


def _blank_until(row: list[Cell], start: int, end: int) -> int:
    """To where a row shows nothing from there on."""
    x = start
    while x < end and row[x][0] == " " and row[x][1].seen_on_blank == _PLAIN.seen_on_blank:
        x += 1
    return x


def _is_blank(row: list[Cell]) -> bool:
    return _blank_until(row, 0, len(row)) == len(row)


def _bridged(row: list[Cell], end: int, x: int) -> bool:
    return all(len(sign) == 1 and sign != "\0" and look == row[end - 1][1] for sign, look in row[end:x])


def _same_blank(one: Cell, other: Cell) -> bool:
    return one[0] == other[0] == " " and one[1].seen_on_blank == other[1].seen_on_blank


@functools.lru_cache(4096)
def _dressed(look: Look, codes: str) -> Look:
    """A look after SGR with those codes."""
    marks, colour, ground = look.marks, look.colour, look.ground
    left = iter(codes.split(";"))
    for code in left:
        match code:
            case "" | "0":
                marks, colour, ground = _PLAIN.marks, _PLAIN.colour, _PLAIN.ground
            case "38" | "48":
                kind = next(left, "5")
                parts = [code, kind, *(next(left, "0") for _ in range(1 if kind == "5" else 3))]
                whole = ";".join(parts)
                colour, ground = (whole, ground) if code == "38" else (colour, whole)
            case _ if 30 <= int(code) <= 39 or 90 <= int(code) <= 97:
                colour = code
            case _ if 40 <= int(code) <= 49 or 100 <= int(code) <= 107:
                ground = code
            case _:
                marks |= {code}
    return _look(marks, colour, ground)


@functools.lru_cache(4096)
def _change(before: Look | None, after: Look) -> str:
    """The shortest SGR from one look to another."""
    marks = sorted(after.marks, key=int)
    anew = [*marks, *[c for c in (after.colour, after.ground) if c not in ("39", "49")]]
    ways = ["\x1b[" + ";".join(["0", *anew]) + "m" if anew else "\x1b[m"]
    if before is not None and before.marks <= after.marks:
        more = sorted(after.marks - before.marks, key=int)
        more += [after.colour] if after.colour != before.colour else []
        more += [after.ground] if after.ground != before.ground else []
        ways.append("\x1b[" + ";".join(more) + "m" if more else "")
    return min(ways, key=len)
