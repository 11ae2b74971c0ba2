"""Text in lines and tables in columns, for a page, a pane or a printer: no id, word or figure with its unit is parted.

Only a word longer than a line is. Knows nothing of styles, and leaves to `typography` how signs are spelled.
"""

import itertools
import re
import unicodedata
from bisect import bisect_right
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from typing import TypeAlias

NO_BREAK = "\xa0"
"""Holds words together; `wrap` and `table` give a blank for it."""
LEAST_COLUMN = 8
"""A column that wants more is not squeezed under this."""
ROUNDING = 1e-6
"""Of sizes that are no whole cells."""
_JOINTS = "-_./"
"""Signs behind which a long id is parted before it is cut anywhere."""
_WORD = re.compile(
    r'[-−("]*\d[\d.,]* \S{1,5}(?=[^\S\xa0]|$)|\(\w+ \d+\)\S*|(?:pair|Out|Output) \d+\S*|[\S\xa0]+'
)
"""A word, or a figure with the unit behind it, or a thing with its number; a no-break space holds words together."""


def formula(text: str) -> str:
    """A formula, or words with formulas in them, that `wrap` parts nowhere beside a sign but plus and minus."""
    return re.sub(r" ([=·/‖]) ", rf"{NO_BREAK}\1{NO_BREAK}", text)


def numbers(text: str) -> str:
    """Numbers put into a formula, which `wrap` parts only before a sign that joins two of them, or behind a comma."""
    return re.sub(r"(?<![,;]) (?![+·/‖] )", NO_BREAK, text)


def cells(text: str) -> int:
    """Cells that a text takes on a terminal."""
    return len(text) if text.isascii() else sum(map(_cells_of, text))


def _cells_of(sign: str) -> int:
    if unicodedata.combining(sign) or unicodedata.category(sign) == "Cf":
        return 0
    return 2 if unicodedata.east_asian_width(sign) in "WF" else 1


def wrap(
    text: str, width: float, rest: str = "", first: str = "", size: Callable[[str], float] = cells
) -> list[str]:
    """The text in lines of at most `width`, `first` before the first of them, `rest` before the others.

    A text that is set in stays so.
    """
    inset = " " * (len(text) - len(text.lstrip(" ")))
    if size(inset) < width / 2:
        first, rest = first + inset, rest + inset
    text = text.replace(" …", f"{NO_BREAK}…")
    lines, line, used, begun = [], first, size(first), False
    whole = text.replace(NO_BREAK, " ").strip()
    if used + size(whole) <= width + ROUNDING and "  " not in whole and whole.isprintable():
        return [(first + whole).rstrip()]
    indent, blank = size(rest), size(" ")
    for word, wide in _words(text, width - indent + ROUNDING, size):
        if begun and used + blank + wide <= width + ROUNDING:
            line, used = f"{line} {word}", used + blank + wide
            continue
        if begun or (used + wide > width + ROUNDING and used > indent):
            lines.append(line)
            line, used = rest, indent
        line, used, begun = line + word, used + wide, True
    lines = _none_alone([*lines, line], width + ROUNDING, rest, size)
    return [shown.replace(NO_BREAK, " ").rstrip() for shown in lines]


def _none_alone(lines: list[str], width: float, rest: str, size: Callable[[str], float]) -> list[str]:
    """The lines, with no short word alone in the last: the one before it goes along."""
    *above, last = lines
    word = last[len(rest) :]
    held = _WORD.findall(above[-1]) if above else []
    if len(held) < 3 or [word] != _WORD.findall(word) or size(word) > width / 3:
        return lines
    joined = f"{rest}{held[-1]} {word}"
    return (
        [*above[:-1], above[-1].removesuffix(held[-1]).rstrip(), joined] if size(joined) <= width else lines
    )


def _words(text: str, room: float, size: Callable[[str], float]) -> Iterator[tuple[str, float]]:
    """What is held together with its size, in parts where that is longer than a line."""
    for held in _WORD.findall(text):
        if (wide := size(held)) <= room:
            yield held, wide
            continue
        for word in held.split():
            rest = word
            while (cut := _cut(rest, room, size)) < len(rest):
                yield rest[:cut], size(rest[:cut])
                rest = rest[cut:]
            yield rest, size(rest)


def _cut(word: str, room: float, size: Callable[[str], float]) -> int:
    """How many signs of a word, however long, fit in `room`; one at the least. It is cut behind a joint where one is not too far back."""
    most = 64
    while most < len(word) and size(word[:most]) <= room:
        most *= 2
    fit = max(1, bisect_right(range(min(most, len(word)) + 1), room, key=lambda n: size(word[:n])) - 1)
    joint = max(word.rfind(sign, 0, fit) for sign in _JOINTS) + 1
    return joint if fit < len(word) and joint > fit / 2 else fit


Lines: TypeAlias = tuple[list[str], list[str]]
"""Those of a table's heads, and those of its rows."""


def table(
    heads: Sequence[str], rows: Iterable[Sequence[str]], width: int, right: Collection[str] = ()
) -> Iterator[Lines]:
    """A table, figures, under the heads in `right`, to the right; cells are wrapped between words.

    One too wide for that goes on in another, which begins with the columns that name a row.
    """
    rows = list(map(tuple, rows))
    columns = list(zip(heads, *rows, strict=True))
    if shown := _fitting(columns, width, right):
        yield shown
        return
    names = next((n for n in range(1, len(heads)) if len({row[:n] for row in rows}) == len(rows)), 1)
    for at in range(len(heads) - 1, names, -1):
        if shown := _fitting(columns[:at], width, right):
            yield shown
            rest = [*columns[:names], *columns[at:]]
            yield from table(
                [head for head, *_ in rest], zip(*(told for _, *told in rest), strict=True), width, right
            )
            return
    told = (
        ", ".join(f"{head} {cell}" for head, cell in zip(heads, row, strict=True) if cell) for row in rows
    )
    yield [], [line for text in told for line in wrap(text, width, rest="  ")]


def _fitting(columns: Sequence[Sequence[str]], width: int, right: Collection[str]) -> Lines | None:
    """The columns side by side, the closer the narrower it is; None where words would have to be parted."""
    wanted = [max(map(cells, column)) for column in columns]
    for gap, parts in ((2, _WORD.findall), (1, _WORD.findall), (1, str.split)):
        longest = (max(cells(word) for cell in column for word in parts(cell) or ("",)) for column in columns)
        floors = (0 if head in right else LEAST_COLUMN for head, *_ in columns)
        least = list(map(min, wanted, map(max, floors, longest)))
        room = width - gap * (len(columns) - 1)
        if sum(least) <= room:
            widths = list(map(int, squeezed(wanted, least, room)))
            at_right = [column[0] in right for column in columns]
            head, *body = (list(_row(row, widths, at_right, gap)) for row in zip(*columns, strict=True))
            return head, [line for lines in body for line in lines]
    return None


def squeezed(wanted: Sequence[float], least: Sequence[float], room: float) -> list[float]:
    """The widths that columns want, the widest made narrower until all fit into `room`; none under its least."""
    widths = list(wanted)
    while (over := sum(widths) - room) > ROUNDING and (
        wide := [i for i, w in enumerate(widths) if w > least[i] + ROUNDING]
    ):
        widest = max(wide, key=lambda i: widths[i])
        widths[widest] = max(least[widest], widths[widest] - min(1.0, over))
    return widths


def _row(row: Sequence[str], widths: Sequence[int], right: Sequence[bool], gap: int) -> Iterator[str]:
    columns = [wrap(cell, width) for cell, width in zip(row, widths, strict=True)]
    for cell_lines in itertools.zip_longest(*columns, fillvalue=""):
        yield (" " * gap).join(map(_padded, cell_lines, widths, right)).rstrip()


def _padded(text: str, width: int, right: bool) -> str:
    room = " " * (width - cells(text))
    return room + text if right else text + room
