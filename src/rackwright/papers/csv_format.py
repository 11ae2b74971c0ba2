"""A sheet's tables as CSV (RFC 4180), for a spreadsheet: the words and the header are left out.

A table is one file; the parts of a list (a rack each) are one file with the part in the first column. The last column says
in every row which rig, venue and revision it is of.
"""

import csv
import io

from rackwright.papers.document import Header, Sheet, Table
from rackwright.papers.identity import COLUMN
from rackwright.store import spreadsheet


def as_csv(sheet: Sheet, header: Header) -> dict[str, str]:
    """File name without its ending → text: `mains-circuits` → rows."""
    lists: dict[str, list[Table]] = {}
    for table in sheet.tables():
        lists.setdefault(f"{sheet.name}-{table.name}" if table.name else sheet.name, []).append(table)
    return {name: _rows(parts, header.words) for name, parts in lists.items()}


def _rows(parts: list[Table], words: str) -> str:
    first = parts[0]
    sink = io.StringIO()
    writer = csv.writer(sink)
    writer.writerow([*(first.part[:1] if first.part else ()), *first.heads, COLUMN])
    for table in parts:
        for row in table.rows:
            writer.writerow(map(_cell, [*(table.part[1:] if table.part else ()), *row, words]))
    return sink.getvalue()


def _cell(text: str) -> str:
    return spreadsheet.cell(text.replace("\u00a0", " "))
