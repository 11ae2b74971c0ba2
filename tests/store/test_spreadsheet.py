"""Spreadsheets in and out: whatever is exported comes back the same; workbooks read as CSV of the same rows; what can't be read is told."""

import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from msgspec import Struct, structs

import strategies
from rackwright.model.equipment import EQUIPMENT_KINDS, Rating
from rackwright.model.rig import Rig
from rackwright.papers.readings import exported
from rackwright.store.library import built_in
from rackwright.store.spreadsheet.cells import CsvError, WorksheetError, read_cells
from rackwright.store.spreadsheet.columns import NOTHING
from rackwright.store.spreadsheet.sheet import into, read_sheet
from rackwright.units import Quantity
from rackwright.units.safe_text import safe
from shipped import preset
from store.workbooks import XLS, ods, xlsx

KINDS = (*EQUIPMENT_KINDS, "stock", "lines")


def shown(value: Any) -> Any:
    """A value as a sheet shows it: a figure by its size, a text on one line, a dash for nothing."""
    if isinstance(value, Quantity):
        return f"{value.value:.9g}"
    if isinstance(value, float):
        return f"{value:.9g}"
    if isinstance(value, Struct):
        return {field.name: shown(getattr(value, field.name)) for field in structs.fields(value)}
    if isinstance(value, tuple) and value and isinstance(value[0], Rating):
        return sorted((each.load.value, f"{each.power.value:.9g}") for each in value)  # in any order
    if isinstance(value, tuple):
        return [shown(item) for item in value]
    if isinstance(value, dict):
        return [(shown(key), shown(item)) for key, item in value.items()]
    if isinstance(value, str):
        text = " ".join(safe(value).split())
        return "" if text in NOTHING else text
    return value


@settings(max_examples=4)
@given(strategies.rigs())
def test_whatever_is_exported_comes_back_the_same(tmp_path_factory: pytest.TempPathFactory, rig: Rig) -> None:
    path = tmp_path_factory.mktemp("round") / "a.csv"
    for kind in KINDS:
        held = getattr(rig.equipment, kind, None) if kind in EQUIPMENT_KINDS else getattr(rig, kind)
        if not held:
            continue
        path.write_text(exported(kind, rig.equipment, rig.stock, rig), encoding="utf-8")
        sheet = read_sheet(path, rig.equipment, kind, rig=rig)
        assert sheet.wrong == ()
        assert shown(into(rig, sheet)) == shown(rig), kind


ALL_WRONG = {
    "amplifiers": (
        "id,name,channels,height,damping factor 8 ohm,power 8 ohm (W),efficiency\na,A,,99,,700,7\na,A,2,99,400,x,0.8\n",
        ("A3", "C2", "D2", "D3", "E2", "F3", "G2"),
    ),
    "loudspeakers": (
        "id,connector,section,kind,dcr (ohm),box,qms\n,none,low,low,0.01,vented,5000\n,4-pole,low,odd,5,closed,9000\n",
        ("A2", "A3", "B2", "D3", "E2", "G2", "G3"),
    ),
    "cables": ("id,cores,size (mm2),inductance\na,,2.5,x\na,99,,\n,3,2.5,\n", ("A3", "A4", "B2", "B3", "B4", "D2")),
    "connectors": ("id,pole pairs,shrouded\nk,,maybe\nk,99,\n,17,yes\n", ("A3", "A4", "B2", "B3", "B4", "C2")),
    "stock": (
        "cable,length (m),count\n,20,100000\nflex-4x4,20,1.5\nflex-4x4,20,100000\nnone,x,100000\n",
        ("4", "A2", "A5", "B5", "C2", "C3", "C4", "C5"),
    ),
    "lines": (
        "line,from,to,cable,length,cores in parallel\nC1,none,,,,99\nC1,,none,none,x,99\nX1,,,none,9 m,99\nX1,none,,,,99\n",
        ("3", "5", "B2", "B4", "B5", "C3", "C4", "C5", "D3", "D4", "D5", "E3", "E5", "F2", "F3", "F4", "F5"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", ALL_WRONG)
def test_all_that_is_wrong_with_every_row_is_told_in_one_round(tmp_path: Path, kind: str) -> None:
    """What is missing of a row, or unreadable, hides neither its figures out of bounds nor that its id is there twice."""
    rows, expected = ALL_WRONG[kind]
    (tmp_path / "a.csv").write_text(rows, encoding="utf-8")
    wrong = read_sheet(tmp_path / "a.csv", built_in(), kind, rig=preset("small-room")).wrong
    places = [place for each in wrong if (place := re.match(r"rows? ([\d, and]*\d)(?:, column (.))?", each))]
    at = {f"{place[2] or ''}{row}" for place in places for row in re.findall(r"\d+", place[1])}
    assert {*expected} <= at, wrong
    assert not re.search(r' of row \d"', "".join(wrong))  # nothing of what was only filled in


# --- workbooks ------------------------------------------------------------------------------------------

ROWS = (("cable", "length (m)", "count"), ("flex-4x2.5", 20, 8), ("flex-4x4", 7.5, 2))


@pytest.fixture
def read(tmp_path: Path):  # type: ignore[no-untyped-def]
    """Write a file, and read it as a list of stock, or as another kind."""

    def call(content: bytes, kind: str = "", worksheet: str = "", rig: Rig | None = None) -> Any:
        (tmp_path / "a.file").write_bytes(content)
        return read_sheet(tmp_path / "a.file", built_in(), kind, worksheet, rig)

    return call


def owned(sheet: Any) -> list[tuple[str, float, int]]:
    assert sheet.wrong == ()
    return [(each.cable, each.length.value, each.count) for each in sheet.entries]


@pytest.mark.parametrize(
    "content",
    [
        xlsx({"Stock": ROWS}),
        ods(ROWS),
        "sep=;\r\ncable;length (m);count\r\nflex-4x2.5;20;8\r\nflex-4x4;7,5;2\r\n".encode("utf-16-le"),
        b"Cable type\tLength (m)\tQty\nflex-4x2.5\t20\t8\nflex-4x4\t7,5\t2",
    ],
)
def test_a_list_of_stock_reads_the_same_whatever_saved_it(read, content: bytes) -> None:  # type: ignore[no-untyped-def]
    assert owned(read(content)) == [("flex-4x2.5", 20.0, 8), ("flex-4x4", 7.5, 2)]


def test_a_workbook_of_the_old_format_tells_what_gave_nothing(read) -> None:  # type: ignore[no-untyped-def]
    assert read(XLS).wrong == ("row 3, column B (length (m)): It is blank. Write one such as 25 m.",)


def test_titles_gaps_merged_cells_formats_and_hidden_worksheets(read, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    rows = [
        ("Cable store",),
        (),
        ("cable", "length (m)", "count", "bought", "left"),
        ("flex-4x2.5", 1.234, 8, (46143, 14), (0.8, 9)),
        (),
        (None, 20, 2),
    ]
    sheet = read(xlsx({"Stock": rows, "Notes": [("private", "x")]}, merged="A4:A6", hidden="Notes"))
    assert owned(sheet) == [("flex-4x2.5", 1.234, 8), ("flex-4x2.5", 20.0, 2)]
    cells = read_cells(tmp_path / "a.file", "it")
    assert cells.rows[0] == (
        4,
        ("flex-4x2.5", "1.2340", "8", "2026-05-01", "0.8"),
    )  # 1900 date system, ECMA-376 18.17.4


def test_what_a_workbook_leaves_open_is_told_with_its_cell(read) -> None:  # type: ignore[no-untyped-def]
    rows = [(*ROWS[0], "note"), ("flex-4x2.5", "=5*4", 8, "=A1"), ("flex-4x4", 7.5, 2)]
    assert read(xlsx({"Stock": rows})).wrong == (
        "row 2, column B (length (m)): Its formula gave no value. Calculate the workbook and save it, or write the value.",
    )
    assert "merged with the cells as far as C3" in read(xlsx({"Stock": ROWS}, merged="B2:C3")).wrong[0]
    assert "Cells of several rows are merged" in read(ods(ROWS, spanned=True)).wrong[0]
    with pytest.raises(WorksheetError, match="several worksheets: North, South"):
        read(xlsx({"North": ROWS, "South": ROWS[:2]}))
    assert len(owned(read(xlsx({"North": ROWS, "South": ROWS[:2]}), worksheet="South"))) == 1
    with pytest.raises(CsvError, match=r'no worksheet "East". It has North'):
        read(xlsx({"North": ROWS}), worksheet="East")


@pytest.mark.parametrize(
    "content",
    [xlsx({"Stock": ROWS}, far="XFD1048576"), xlsx({"Stock": ROWS})[:700], XLS[:512] + b"\xff" * 2_000],
    ids=["a cell at the far end", "cut off", "damaged"],
)
def test_a_workbook_that_would_fill_the_machine_or_is_damaged_is_refused(read, content: bytes) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(CsvError, match=r"Save it as CSV|Copy only what"):
        read(content)


# --- lines ----------------------------------------------------------------------------------------------


def test_a_list_of_lengths_changes_the_lines_that_it_names_and_no_other(read) -> None:  # type: ignore[no-untyped-def]
    rig = preset("small-room")
    first, *others = rig.lines
    sheet = read(f"line,length (ft)\n{first.id},33\n".encode(), rig=rig)
    assert sheet.wrong == ()
    changed = into(rig, sheet).lines
    assert changed[0].length.value == pytest.approx(33 * 0.3048)  # 1 ft = 0.3048 m, NIST SP 811
    assert changed[1:] == tuple(others)


def test_every_slip_in_a_list_of_lines_is_told_in_one_round(read) -> None:  # type: ignore[no-untyped-def]
    rig = preset("small-room")
    name, other = rig.lines[0].id, rig.lines[1].id
    rows = f"line,from,length\n{other},nowhere,12 m\n{name},,12 m\n{name},,1.200 m\nX9,,\n"
    wrong = read(rows.encode(), "lines", rig=rig).wrong
    assert [each.partition(": ")[0] for each in wrong] == [
        "row 2, column B (from)", "row 4", "row 4, column C (length)",
        "row 5, column A (line)", "row 5, column B (from)", "row 5, column C (length)",
    ]  # fmt: skip
    assert 'no line "X9". Correct it, or add the columns that a new line needs: cable, to.' in wrong[3]
