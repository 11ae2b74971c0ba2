"""A sheet's tables as CSV (RFC 4180), for a spreadsheet: the words and the header are left out.

A table is one file; the parts of a list (a rack each) are one file with the part in the first column. The last column says
in every row which rig, venue and revision it is of.
"""

from rackwright.papers.document import Header, Sheet, Table
from rackwright.papers.identity import COLUMN
from rackwright.store.spreadsheet.cells import csv_text


def as_csv(sheet: Sheet, header: Header) -> dict[str, str]:
    """File name without its ending → text: `mains-circuits` → rows."""
    lists: dict[str, list[Table]] = {}
    for table in sheet.tables():
        lists.setdefault(f"{sheet.name}-{table.name}" if table.name else sheet.name, []).append(table)
    return {name: _rows(parts, header.words) for name, parts in lists.items()}


def _rows(parts: list[Table], words: str) -> str:
    first = parts[0]
    heads = [*(first.part[:1] if first.part else ()), *first.heads, COLUMN]
    rows = ([*(table.part[1:] if table.part else ()), *row, words] for table in parts for row in table.rows)
    return csv_text([text.replace("\u00a0", " ") for text in row] for row in (heads, *rows))
