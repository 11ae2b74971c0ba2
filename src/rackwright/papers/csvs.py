"""A sheet's tables as CSV (RFC 4180), for a spreadsheet: the words and the header are left out.

A table is one file; the parts of a list (a rack each) are one file with the part in the first column.
"""

import csv
import io

from rackwright.papers.document import Sheet, Table

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the start of a formula."""


def as_csv(sheet: Sheet) -> dict[str, str]:
    """File name without its ending → text: `mains-circuits` → rows."""
    lists: dict[str, list[Table]] = {}
    for table in sheet.tables():
        lists.setdefault(f"{sheet.name}-{table.name}" if table.name else sheet.name, []).append(table)
    return {name: _rows(parts) for name, parts in lists.items()}


def _rows(parts: list[Table]) -> str:
    first = parts[0]
    sink = io.StringIO()
    writer = csv.writer(sink)
    writer.writerow((first.part[0], *first.heads) if first.part else first.heads)
    for table in parts:
        for row in table.rows:
            writer.writerow(map(_harmless, (table.part[1], *row) if table.part else row))
    return sink.getvalue()


def _harmless(cell: str) -> str:
    """The cell with plain spaces, and an apostrophe before what a spreadsheet would run as a formula."""
    plain = cell.replace("\u00a0", " ")
    return f"'{plain}" if plain.startswith(_FORMULA) else plain
