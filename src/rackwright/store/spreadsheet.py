"""CSV as spreadsheets read and save it: cells that run no formula, and a file as rows of cells.

What a spreadsheet would run as a formula is written with an apostrophe in front, and read back without it; a number is no
formula, whatever its sign. Of a file it finds encoding and delimiter, then refuses to guess: quotes that are never closed, more cells than heads, two columns of
one name are troubles, each with its row, and the rest is read all the same, so that all is told in one round. What the
columns mean is for those who ask.
"""

import csv
import os
import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from rackwright.store import files
from rackwright.units.safe_text import safe

MOST_ROWS, MOST_COLUMNS = 20_000, 200
LONGEST_CELL = 2_000
"""Signs: no figure and no note is longer; a cell that is has swallowed others."""
LONGEST_FIGURE, LONGEST_HEAD = 40, 100
"""Signs, unit included."""
_MOST_BROKEN = 50
"""Rows of broken quotes after which reading ends."""
_RUN = re.compile(r"'*[=+\-@＝＋－＠]")
"""How a cell begins that is run, or that stands behind apostrophes already (common practice, no source)."""
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?")
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(?:[.,]\d{3})+(?![\d.,])")


def cell(text: str) -> str:
    """The text as it may stand in a cell; of that `read` makes the text again, but for signs that steer."""
    shown = safe(text)
    return f"'{shown}" if _RUN.match(shown) and not _NUMBER.fullmatch(shown) else shown


def read(shown: str) -> str:
    """The text that a cell stands for."""
    return shown[1:] if shown.startswith("'") and _RUN.match(shown) else shown


class CsvError(Exception):
    """A file that can't be used at all; as text it says why and what to do."""


class Trouble(NamedTuple):
    """What is wrong in a row of the file, counted in lines from 1."""

    line: int
    reason: str


class Cells(NamedTuple):
    """What a file holds."""

    heads: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    """The line that a row starts on, and a cell for each head. Rows with nothing in them are left out."""
    troubles: tuple[Trouble, ...]
    delimiter: str


def read_cells(path: str | os.PathLike[str], what: str) -> Cells:
    """The cells of a CSV file, `what` being what it should hold: `a list of equipment`. Raises CsvError."""
    name = os.fspath(path)
    text = text_of(path, what)
    lines = [f"{line}\n" for line in re.split("\r\n|\r|\n", text)]
    widest = max(lines[:20], key=lambda line: max(map(line.count, ",;\t")), default="")
    delimiter = max(",;\t", key=widest.count)
    troubles: list[Trouble] = []
    rows = [(line, cells) for line, cells in _rows(lines, delimiter, troubles) if any(map(str.strip, cells))]
    at = next((i for i, (_, cells) in enumerate(rows) if sum(map(bool, map(str.strip, cells))) > 1), None)
    if at is None:
        told = "".join(f" Line {line}: {reason}" for line, reason in troubles[:1])
        raise CsvError(f"{name} has no row of column heads. Put one above {what}, with commas between.{told}")
    if len(rows) > MOST_ROWS or len(rows[at][1]) > MOST_COLUMNS:
        raise CsvError(f"{name} is far too long for {what}. Export only what is to be read.")
    head_line, heads = rows[at][0], [read(_squeezed(cell)) for cell in rows[at][1]]
    troubles += _twice(head_line, heads)
    for head in heads:
        if len(head) > LONGEST_HEAD:
            reason = f'"{shown(head)}" is far too long for the head of a column. Close its quote, or write a short one.'
            troubles.append(Trouble(head_line, reason))
    heads = [head[:LONGEST_HEAD] for head in heads]
    body = [(line, _fitted(line, cells, heads, delimiter, troubles)) for line, cells in rows[at + 1 :]]
    return Cells(tuple(heads), tuple(body), tuple(sorted(troubles)), delimiter)


def may_be_thousands(cell: str) -> bool:
    """Whether a cell begins with a number whose point or comma may stand for thousands or for decimals: `1.200`."""
    return _THOUSANDS.match(cell) is not None


def thousands(cell: str) -> str:
    """What is wrong with such a cell, and what to do."""
    bare = re.sub(r"[.,]", "", _matched(cell))
    decimal = (
        re.sub(r"[.,]", ".", _matched(cell)).rstrip("0").rstrip(".")
        if cell.count(".") + cell.count(",") == 1
        else ""
    )
    ways = f"{bare} or {decimal}" if decimal else bare
    return f'"{shown(cell)}" may be thousands or decimals. Write {ways}.'


def shown(cell: str) -> str:
    """A cell in a message, cut where it is long."""
    return cell if len(cell) <= LONGEST_FIGURE else f"{cell[:37]}…"


def _matched(cell: str) -> str:
    found = _THOUSANDS.match(cell)
    return found.group() if found else cell


def text_of(path: str | os.PathLike[str], what: str) -> str:
    """The text of a file that should hold `what`, whatever its encoding. Raises CsvError."""
    try:
        content = files.read(path)
    except files.TooLargeError:
        raise CsvError(f"{path} is far too long for {what}. Export only what is to be read.") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise CsvError(f"{path} can't be read: {reason}.") from None
    if content.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise CsvError(
            f"{path} is a spreadsheet, not CSV. Save it as CSV from the spreadsheet program first."
        )
    for encoding in ("utf-16",) if content[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252"):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise CsvError(f"{path} can't be read as text. Save it as CSV in UTF-8.")


def _rows(lines: Sequence[str], delimiter: str, troubles: list[Trouble]) -> Iterator[tuple[int, list[str]]]:
    """Each row with the line that it starts on, from 1. After a row whose quotes are broken it goes on with the next line."""
    at, broken = 0, 0
    while at < len(lines):
        reader = csv.reader(iter(lines[at:]), delimiter=delimiter, strict=True)
        start = at
        try:
            for cells in reader:
                yield start + 1, cells
                start = at + reader.line_num
            return
        except csv.Error as error:
            troubles.append(Trouble(start + 1, _broken(error)))
            at, broken = start + 1, broken + 1
        if broken == _MOST_BROKEN:
            troubles.append(Trouble(start + 2, "Reading ends here: too many rows before are broken."))
            return


def _broken(error: csv.Error) -> str:
    said = str(error)
    if "field limit" in said:
        return "A cell is far too long. A quote is not closed here, or this is not a table of figures."
    if "end of data" in said:
        return 'A quote is not closed: all below would be lost in one cell. Close it, or write " twice for a quote itself.'
    return 'There is more text after a closing quote. Put the whole cell in quotes, and write " twice for a quote itself.'


def _twice(line: int, heads: Sequence[str]) -> list[Trouble]:
    folded = [head.casefold() for head in heads]
    return [
        Trouble(line, f'Two columns are called "{shown(head)}". Delete one of them, or rename it.')
        for i, head in enumerate(heads)
        if head and folded.index(folded[i]) < i and folded[:i].count(folded[i]) == 1
    ]


def _fitted(
    line: int, cells: Sequence[str], heads: Sequence[str], delimiter: str, troubles: list[Trouble]
) -> tuple[str, ...]:
    """A cell for each head; what can't be told for sure is a trouble."""
    longest = max(cells, key=len)
    if len(longest) > LONGEST_CELL or any(
        part.count(delimiter) >= len(heads) - 1 > 0 for part in longest.split("\n")[1:]
    ):
        reason = f'A quote swallows what follows: one cell is "{shown(_squeezed(longest))}". Close it, or delete it.'
        troubles.append(Trouble(line, reason))
    if len(cells) > len(heads):
        comma = (
            " A decimal comma splits a number: write a point, or put it in quotes."
            if delimiter == ","
            else ""
        )
        text = f" A text with a {_NAMES[delimiter]} in it goes in quotes."
        reason = f"There are more cells than heads: {len(cells)} under {len(heads)}.{comma}{text}"
        troubles.append(Trouble(line, reason))
    padded = (*(read(_squeezed(cell)) for cell in cells), *("",) * (len(heads) - len(cells)))[: len(heads)]
    for number, (head, cell) in enumerate(zip(heads, padded, strict=True), 1):
        if cell and not head:
            troubles.append(
                Trouble(line, f'"{shown(cell)}" is in column {number}, which has no head. Give it one.')
            )
    return padded


def _squeezed(cell: str) -> str:
    """A cell with every stretch of blanks and line ends as one blank."""
    return " ".join(cell.split())


_NAMES = {",": "comma", ";": "semicolon", "\t": "tab"}
