"""The worksheets of a workbook, .xlsx, .xls or .ods, read in a process of its own, `workbook_reader`, with little memory and time."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any, NamedTuple

BEGINNINGS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
"""Of the files that are workbooks: an archive, a compound file."""
LONGEST_WAIT = 60
"""s."""
_READER = Path(__file__).with_name("workbook_reader.py")


class WorkbookError(Exception):
    """A workbook that can't be read; as text it says why and what to do, to be put after its name."""


class Worksheet(NamedTuple):
    """What a worksheet holds."""

    name: str
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    """Row, from 1, and its cells from the first column on; rows with nothing in them are left out."""
    merged: tuple[tuple[tuple[int, int], tuple[int, int]], ...]
    """First and last cell of each merged range as row and column from 0."""
    unknown_merged: bool
    """Whether cells of several rows are merged where nothing says which."""
    wrong: tuple[str, ...]
    """Cells such as `B7` whose formula gave nothing."""


class Workbook(NamedTuple):
    """The worksheets that hold anything, and the names of all."""

    worksheets: tuple[Worksheet, ...]
    known: tuple[str, ...]


def read(content: bytes, wanted: str, rows: int, columns: int) -> Workbook:
    """The worksheets that are not hidden, or the one `wanted` by name. Raises WorkbookError."""
    command = (sys.executable, "-P", os.fspath(_READER), wanted, str(rows), str(columns))
    try:
        done = subprocess.run(command, input=content, capture_output=True, timeout=LONGEST_WAIT, check=False)
    except (subprocess.TimeoutExpired, OSError):
        raise WorkbookError(_UNREADABLE) from None
    if done.returncode:
        locked = done.stderr.strip() == b"password"
        raise WorkbookError(_LOCKED if locked else _UNREADABLE)
    found = json.loads(done.stdout)
    for sheet in found["sheets"]:
        if sheet["large"]:
            raise WorkbookError(
                f'has more in its worksheet "{sheet["name"]}" than {rows:,} rows or {columns} columns. '
                "Copy only what is to be read into a new one."
            )
    return Workbook(tuple(map(_worksheet, found["sheets"])), tuple(found["known"]))


_LOCKED = "is locked by a password. Save it without one, or as CSV."
_UNREADABLE = "can't be read as a workbook: it is damaged, or made to take more memory and time than any list does. Save it as CSV."


def _worksheet(found: dict[str, Any]) -> Worksheet:
    rows, merged, wrong = found["rows"], found["merged"], found["wrong"]
    return Worksheet(
        found["name"],
        tuple((number, tuple(cells)) for number, cells in rows),
        tuple((tuple(each[0]), tuple(each[1])) for each in merged if each),
        any(not each for each in merged),
        tuple(wrong),
    )
