"""A program of its own, which `workbook` starts: a workbook on standard input, its worksheets as JSON on standard output.

A file made to fill a machine, or to bring its reader down, ends this and nothing else: memory and time are limited where
the system has such limits. Imports nothing of the rest.
"""

import contextlib
import datetime
import io
import json
import re
import sys
import zipfile
from collections.abc import Iterator
from typing import Any
from xml.etree import ElementTree

MEMORY, SECONDS = 1 << 30, 20
_LIKE_THOUSANDS = re.compile(r"-?[1-9]\d{0,2}\.\d{3}")
_MERGED_ROWS = re.compile(rb'number-rows-spanned="(?!1")')


def main() -> None:
    """Read and write; ends with status 1 and a word on standard error where there is no reading it."""
    with contextlib.suppress(ImportError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    from python_calamine import (
        CalamineError,
        CalamineWorkbook,
        PasswordError,
        SheetTypeEnum,
        SheetVisibleEnum,
    )

    wanted, most_rows, most_columns = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    content = sys.stdin.buffer.read()
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
        known = [
            each.name
            for each in book.sheets_metadata
            if each.typ == SheetTypeEnum.WorkSheet
            and (each.visible == SheetVisibleEnum.Visible or each.name == wanted)
        ]
        sheets = [
            _sheet(content, book.get_sheet_by_name(name), most_rows, most_columns)
            for name in known
            if wanted in ("", name)
        ]
    except PasswordError:
        sys.exit("password")
    except (CalamineError, MemoryError, OSError, ValueError) as error:
        sys.exit(type(error).__name__)
    json.dump({"known": known, "sheets": [sheet for sheet in sheets if sheet["rows"]]}, sys.stdout)


def _sheet(content: bytes, sheet: Any, most_rows: int, most_columns: int) -> dict[str, Any]:
    rows, (top, left) = [], sheet.start or (0, 0)
    too_large = sheet.end is not None and sheet.end[1] >= most_columns
    for number, cells in enumerate(() if too_large or sheet.end is None else sheet.iter_rows(), top + 1):
        if texts := [*map(_text, cells)]:
            while texts and not texts[-1]:
                texts.pop()
        if texts:
            rows.append((number, [*[""] * left, *texts]))
        if too_large := len(rows) > most_rows:
            break
    ranges = [] if too_large else _merged(content, sheet)
    wrong = [] if too_large else _uncalculated(content, sheet.name)
    return {
        "name": sheet.name,
        "rows": rows or too_large,
        "merged": ranges,
        "wrong": wrong,
        "large": too_large,
    }


def _text(value: object) -> str:
    """A value as it would be typed: a number with a point, as long as spreadsheets show it, and plainly no thousands."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        shown = f"{value:.15g}"
        return f"{shown}0" if _LIKE_THOUSANDS.fullmatch(shown) else shown
    if isinstance(value, datetime.datetime):
        return value.strftime("%Y-%m-%d %H:%M:%S" if value.second else "%Y-%m-%d %H:%M")
    return str(value)


def _merged(content: bytes, sheet: Any) -> list[Any]:
    """First and last cell of each merged range, from 0; one that says nothing where the format does not tell which."""
    with contextlib.suppress(TypeError, ValueError, AttributeError):
        if (ranges := sheet.merged_cell_ranges) is not None:
            return list(ranges)
    with contextlib.suppress(zipfile.BadZipFile, KeyError):
        if _MERGED_ROWS.search(zipfile.ZipFile(io.BytesIO(content)).read("content.xml")):
            return [()]
    return []


def _uncalculated(content: bytes, name: str) -> list[str]:
    """Cells of an .xlsx whose formula was never calculated or failed: they would be read as if they were empty."""
    with contextlib.suppress(zipfile.BadZipFile, KeyError, StopIteration, ElementTree.ParseError):
        archive = zipfile.ZipFile(io.BytesIO(content))
        sheets = _parts(archive.read("xl/workbook.xml"), "sheet")
        links = _parts(archive.read("xl/_rels/workbook.xml.rels"), "Relationship")
        key = next(
            value
            for each in sheets
            if each.get("name") == name
            for attribute, value in each.items()
            if attribute.endswith("}id")
        )
        target = next(each.get("Target", "") for each in links if each.get("Id") == key)
        path = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
        cells = _parts(archive.read(path), "c")
        return [
            cell.get("r", "?") for cell in cells if _failed({_local(part): part.text for part in cell}, cell)
        ]
    return []


def _failed(parts: dict[str, str | None], cell: ElementTree.Element) -> bool:
    return cell.get("t") == "e" or ("f" in parts and not parts.get("v") and cell.get("t") != "str")


def _parts(xml: bytes, name: str) -> Iterator[ElementTree.Element]:
    return (part for part in ElementTree.fromstring(xml).iter() if _local(part) == name)


def _local(part: ElementTree.Element) -> str:
    return part.tag.rpartition("}")[2]


if __name__ == "__main__":
    main()
