"""A file as rows of cells, whether CSV or a workbook; and cells as they may stand in CSV, where they run no formula.

What a spreadsheet would run as a formula is written with an apostrophe in front, and read back without it; a number is no
formula, whatever its sign. Of CSV it finds encoding and delimiter, then refuses to guess: quotes that are never closed, more cells than heads, two columns of
one name are troubles, each with its row, and the rest is read all the same, so that all is told in one round. What the
columns mean is for those who ask.
"""

import csv
import functools
import io
import os
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from rackwright.store import files
from rackwright.store.spreadsheet import workbook
from rackwright.units.safe_text import safe
from rackwright.units.wording import few

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


def csv_text(rows: Iterable[Sequence[str]]) -> str:
    """Rows as CSV (RFC 4180), each text as it may stand in a cell."""
    out = io.StringIO()
    csv.writer(out).writerows([cell(text) for text in row] for row in rows)
    return out.getvalue()


class CsvError(Exception):
    """A file that can't be used at all; as text it says why and what to do."""


class WorksheetError(CsvError):
    """A workbook in which several worksheets hold something, and none was named."""

    def __init__(self, name: str, worksheets: tuple[str, ...]) -> None:
        self.worksheets = worksheets
        super().__init__(f"{name} has several worksheets: {', '.join(worksheets)}. Name the one to read.")


class Trouble(NamedTuple):
    """What is wrong in a row of the file, counted in lines from 1."""

    line: int
    column: int
    """Its position from 0; −1 where it is not of one column."""
    reason: str


def sentences(troubles: Iterable[Trouble], heads: Sequence[str]) -> Iterator[str]:
    """Each trouble with its row, and its column as spreadsheets call it with its head; what is the same of several rows once.

    `row 3, column B (weight kg): …`, `rows 2, 3 and 4, column C (gain): …`
    """
    rows: dict[tuple[int, str], list[str]] = {}
    for trouble in troubles:
        rows.setdefault((trouble.column, trouble.reason), []).append(str(trouble.line))
    for (column, reason), lines in rows.items():
        row = f"row{'s' if len(lines) > 1 else ''} {few(lines)}"
        head = heads[column] if 0 <= column < len(heads) else ""
        at = (f", column {letter(column)}" if column >= 0 else "") + (f" ({shown(head)})" if head else "")
        yield f"{row}{at}: {reason}"


class Cells(NamedTuple):
    """What a file holds."""

    heads: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    """The line that a row starts on, and a cell for each head. Rows with nothing in them are left out."""
    troubles: tuple[Trouble, ...]
    delimiter: str
    """Empty of a workbook."""
    lost: tuple[Trouble, ...] = ()
    """Cells of a workbook whose formula gave nothing: they matter where their column is used."""


def read_cells(path: str | os.PathLike[str], what: str, worksheet: str = "") -> Cells:
    """The cells of a CSV file or of a workbook, `what` being what it should hold: `a list of equipment`.

    Of a workbook it is the `worksheet` of that name, where none is named the only one that holds anything. Raises CsvError,
    WorksheetError where there are several.
    """
    name = os.fspath(path)
    content = _content_of(path, what)
    troubles: list[Trouble] = []
    lost: list[Trouble] = []
    if content.startswith(workbook.BEGINNINGS):
        delimiter = ""
        rows = _worksheet_rows(name, content, worksheet, troubles, lost)
    elif worksheet:
        raise CsvError(f"{name} is no workbook, so it has no worksheets. Leave the worksheet's name out.")
    else:
        lines = [f"{line}\n" for line in re.split("\r\n|\r|\n", _decoded(content, name))]
        widest = max(lines[:20], key=lambda line: max(map(line.count, ",;\t")), default="")
        delimiter = max(",;\t", key=widest.count)
        rows = [(n, cells) for n, cells in _rows(lines, delimiter, troubles) if any(map(str.strip, cells))]
    return _cells(name, what, rows, delimiter, troubles)._replace(lost=tuple(lost))


def _cells(
    name: str, what: str, rows: list[tuple[int, list[str]]], delimiter: str, troubles: list[Trouble]
) -> Cells:
    """The rows under the first that may be one of heads: it has more than one cell."""
    at = next((i for i, (_, cells) in enumerate(rows) if sum(map(bool, map(str.strip, cells))) > 1), None)
    if at is None:
        told = "".join(f" Row {line}: {reason}" for line, _, reason in troubles[:1])
        between = ", with commas between" if delimiter else ""
        raise CsvError(f"{name} has no row of column heads. Put one above {what}{between}.{told}")
    if len(rows) > MOST_ROWS or len(rows[at][1]) > MOST_COLUMNS:
        raise CsvError(f"{name} is far too long for {what}. Export only what is to be read.")
    head_line, heads = rows[at][0], [read(_squeezed(cell)) for cell in rows[at][1]]
    if not delimiter:
        heads += [""] * (max(len(cells) for _, cells in rows[at:]) - len(heads))
    troubles += _twice(head_line, heads)
    for i, head in enumerate(heads):
        if len(head) > LONGEST_HEAD:
            reason = f'"{shown(head)}" is far too long for the head of a column. Close its quote, or write a short one.'
            troubles.append(Trouble(head_line, i, reason))
    heads = [head[:LONGEST_HEAD] for head in heads]
    body = [(line, _fitted(line, cells, heads, delimiter, troubles)) for line, cells in rows[at + 1 :]]
    return Cells(tuple(heads), tuple(body), tuple(sorted(troubles)), delimiter)


def _worksheet_rows(
    name: str, content: bytes, wanted: str, troubles: list[Trouble], lost: list[Trouble]
) -> list[tuple[int, list[str]]]:
    """The rows of a worksheet; what is merged down a column stands in every row of it. Raises CsvError."""
    try:
        book = workbook.read(content, wanted, MOST_ROWS, MOST_COLUMNS)
    except workbook.WorkbookError as error:
        raise CsvError(f"{name} {error}") from None
    if wanted and wanted not in book.known:
        raise CsvError(f'{name} has no worksheet "{wanted}". It has {", ".join(book.known)}.')
    if len(book.worksheets) > 1:
        raise WorksheetError(name, tuple(each.name for each in book.worksheets))
    if not book.worksheets:
        return []
    sheet = book.worksheets[0]
    rows = {number: [*cells] for number, cells in sheet.rows}
    first = next((n for n, cells in sheet.rows if sum(map(bool, cells)) > 1), 0)
    for (top, left), (bottom, right) in sheet.merged:
        if bottom + 1 <= first:
            continue
        if right > left:
            reason = f"It is merged with the cells as far as {letter(right)}{bottom + 1}. Unmerge them, with a text in each."
            troubles.append(Trouble(top + 1, left, reason))
        text = next(iter(rows.get(top + 1, [])[left : left + 1]), "")
        for number in range(top + 2, bottom + 2) if text else ():
            if cells := rows.get(number):
                cells += [""] * (left + 1 - len(cells))
                cells[left] = text
    if sheet.unknown_merged:
        reason = (
            "Cells of several rows are merged somewhere, and this format does not tell which. Unmerge them."
        )
        troubles.append(Trouble(first, -1, reason))
    for at in sheet.wrong:
        if found := re.fullmatch(r"([A-Z]{1,3})(\d{1,7})", at):
            reason = "Its formula gave no value. Calculate the workbook and save it, or write the value."
            lost.append(Trouble(int(found[2]), _position(found[1]), reason))
    return sorted((number, cells) for number, cells in rows.items() if any(map(str.strip, cells)))


def letter(position: int) -> str:
    """What spreadsheets call the column of that position, from 0: A, B … Z, AA."""
    before, at = divmod(position, 26)
    return (letter(before - 1) if before else "") + chr(ord("A") + at)


def _position(letters: str) -> int:
    return functools.reduce(lambda at, sign: 26 * at + ord(sign) - ord("A") + 1, letters, 0) - 1


def may_be_thousands(cell: str) -> bool:
    """Whether a cell begins with a number whose point or comma may stand for thousands or for decimals: `1.200`."""
    return _THOUSANDS.match(cell) is not None


def plainly_decimal(figure: str) -> str:
    """A figure with a decimal point that nobody takes for thousands: `1.2340 kW` of `1.234 kW`."""
    return _THOUSANDS.sub(r"\g<0>0", figure, count=1)


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
    content = _content_of(path, what)
    if content.startswith(workbook.BEGINNINGS):
        raise CsvError(
            f"{path} is a spreadsheet, not CSV. Save it as CSV from the spreadsheet program first."
        )
    return _decoded(content, os.fspath(path))


def _content_of(path: str | os.PathLike[str], what: str) -> bytes:
    try:
        return files.read(path)
    except files.TooLargeError:
        raise CsvError(f"{path} is far too long for {what}. Export only what is to be read.") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise CsvError(f"{path} can't be read: {reason}.") from None


def _decoded(content: bytes, name: str) -> str:
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encodings: tuple[str, ...] = ("utf-16",)
    elif b"\0" in content[:200]:
        encodings = ("utf-16-le" if content[1:2] == b"\0" else "utf-16-be",)
    else:
        encodings = ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise CsvError(f"{name} can't be read as text. Save it as CSV in UTF-8.")


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
            troubles.append(Trouble(start + 1, -1, _broken(error)))
            at, broken = start + 1, broken + 1
        if broken == _MOST_BROKEN:
            troubles.append(Trouble(start + 2, -1, "Reading ends here: too many rows before are broken."))
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
        Trouble(line, i, f'Two columns are called "{shown(head)}". Delete one of them, or rename it.')
        for i, head in enumerate(heads)
        if head and folded.index(folded[i]) < i and folded[:i].count(folded[i]) == 1
    ]


def _fitted(
    line: int, cells: Sequence[str], heads: Sequence[str], delimiter: str, troubles: list[Trouble]
) -> tuple[str, ...]:
    """A cell for each head; what can't be told for sure is a trouble."""
    longest = max(range(len(cells)), key=lambda i: len(cells[i]))
    if len(cells[longest]) > LONGEST_CELL or any(
        delimiter and part.count(delimiter) >= len(heads) - 1 > 0 for part in cells[longest].split("\n")[1:]
    ):
        reason = f'A quote swallows what follows: one cell is "{shown(_squeezed(cells[longest]))}". Close it, or delete it.'
        if not delimiter:
            reason = f"It has more than {LONGEST_CELL:,} signs. Shorten it."
        troubles.append(Trouble(line, longest, reason))
    if len(cells) > len(heads):
        comma = (
            " A decimal comma splits a number: write a point, or put it in quotes."
            if delimiter == ","
            else ""
        )
        text = f" A text with a {_NAMES[delimiter]} in it goes in quotes."
        reason = f"There are more cells than heads: {len(cells)} under {len(heads)}.{comma}{text}"
        troubles.append(Trouble(line, -1, reason))
    padded = (*(read(_squeezed(cell)) for cell in cells), *("",) * (len(heads) - len(cells)))[: len(heads)]
    for i, (head, cell) in enumerate(zip(heads, padded, strict=True)):
        if cell and not head:
            troubles.append(
                Trouble(line, i, f'"{shown(cell)}" stands in a column that has no head. Give it one.')
            )
    return padded


def _squeezed(cell: str) -> str:
    """A cell with every stretch of blanks and line ends as one blank."""
    return " ".join(cell.split())


_NAMES = {",": "comma", ";": "semicolon", "\t": "tab"}
