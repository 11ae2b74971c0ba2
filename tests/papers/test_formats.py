"""The papers as files: read back with readers from outside the project, and held against the sheets."""

import contextlib
import csv
import io
import re
import unicodedata
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from pypdf import PdfReader

from rackwright.engine.assess import assess
from rackwright.papers.contents import files, sheets
from rackwright.papers.csv_format import as_csv
from rackwright.papers.document import Header, Label, Labels, PageBreak, Sheet, Table, Words
from rackwright.papers.html import as_html
from rackwright.papers.identity import one_line
from rackwright.papers.layout import MARGIN, Laid, Text, laid_out
from rackwright.papers.markdown import as_markdown
from rackwright.papers.output import write_papers
from rackwright.papers.pdf import as_pdf
from rackwright.papers.text import WIDTH, as_text
from rackwright.papers.typeface import BOLD, MM_PER_POINT, REGULAR, SignError, file_of, printable, width
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.spreadsheet.cells import cell, read
from rackwright.units.printable import signs, unprinted
from shipped import assessed, preset

from .drawn import bare, pages_of

PRESETS = ("small-room", "hall", "outdoor-stage", "faults")
HEADER = Header(rig="Harbour shed, winter season", date="2026-05-01", revision="3f2a91c0")


@cache
def made(name: str) -> tuple[Sheet, ...]:
    return sheets(assessed(name), ())


@cache
def printed(name: str) -> tuple[str, ...]:
    """The text of each page of everything in one PDF."""
    return tuple(pages_of(as_pdf(made(name), HEADER)))


def cells(sheet: Sheet) -> list[str]:
    found = [block.text for block in sheet.blocks if isinstance(block, Words)]
    for block in sheet.blocks:
        if isinstance(block, Table):
            found += [block.heading, *block.heads, *(cell for row in block.rows for cell in row)]
        elif isinstance(block, Labels):
            found += [
                word for label in block.labels for word in (label.name, label.end, label.place, *label.lines)
            ]
    return found


def text_marks(laid: Laid) -> list[tuple[Text, ...]]:
    return [page.texts for page in laid.pages]


# --- PDF ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", PRESETS)
def test_the_pdf_read_back_is_the_sheets(name: str) -> None:
    _holds_every_word(name)
    _tells_on_every_page_rig_date_revision_and_number(name)
    _has_the_patch_row_by_row(name)


def _holds_every_word(name: str) -> None:
    """Read by pypdf, a library that shares nothing with the one that wrote it."""
    whole = bare("".join(printed(name)))
    signs = {sign for sheet in made(name) for cell in cells(sheet) for sign in cell}
    assert {"Ω", "→"} & signs <= set("".join(printed(name)))
    for sheet in made(name):
        for block in sheet.blocks:
            if isinstance(block, Words):
                assert bare(block.text) in whole
            elif isinstance(block, Table):
                for row in block.rows:
                    assert all(_is_printed(cell, whole) for cell in row), row
            elif isinstance(block, Labels):
                assert all(bare(f"→ {label.place}") in whole for label in block.labels)


def _is_printed(cell: str, whole: str) -> bool:
    """Whether a cell's words are there; beside a wrapped cell other columns' words come between its lines."""
    return all(bare(word) in whole for word in cell.split())


def _tells_on_every_page_rig_date_revision_and_number(name: str) -> None:
    count = 0
    for sheet in made(name):
        pages = len(laid_out(sheet, HEADER).pages)
        for number in range(1, pages + 1):
            text = printed(name)[count]
            assert sheet.title in text
            assert HEADER.rig in text
            assert f"{HEADER.date} · revision {HEADER.revision}" in text
            assert f"page {number} of {pages}" in text
            count += 1
    assert count == len(printed(name))


def _has_the_patch_row_by_row(name: str) -> None:
    """Each pole pair of the patch with its channel, as one line of text on the page where no mark makes it longer."""
    patch = next(sheet for sheet in made(name) if sheet.name == "patch")
    lines = "\n".join(bare(line) for page in printed(name) for line in page.splitlines())
    for table in patch.tables():
        for row in table.rows:
            if ": " not in "".join(row):
                assert bare("".join(row)) in lines, row


@pytest.mark.parametrize("name", PRESETS)
def test_nothing_is_cut_off_and_nothing_overlaps(name: str) -> None:
    for sheet in made(name):
        laid = laid_out(sheet, HEADER)
        for marks in text_marks(laid):
            _assert_apart(marks, laid)


def _assert_apart(marks: tuple[Text, ...], laid: Laid) -> None:
    boxes = []
    for mark in marks:
        high, wide = mark.size * MM_PER_POINT, width(mark.words, mark.style, mark.size)
        left, right, top, bottom = mark.x, mark.x + wide, mark.y - 0.72 * high, mark.y + 0.2 * high
        assert left >= MARGIN - 0.01, mark
        assert right <= laid.width - MARGIN + 0.01, mark
        assert top >= MARGIN - 0.01, mark
        assert bottom <= laid.height - MARGIN + 2, mark
        boxes.append((top, bottom, left, right, mark.words))
    boxes.sort()
    for i, (_, bottom, left, right, words) in enumerate(boxes):
        for top2, _, left2, right2, words2 in boxes[i + 1 :]:
            if top2 >= bottom - 0.01:
                break
            assert right <= left2 + 0.01 or right2 <= left + 0.01, (words, words2)


def test_pypdf_finds_the_words_where_the_layout_put_them() -> None:
    sheet = next(sheet for sheet in made("small-room") if sheet.name == "patch")
    found: list[tuple[float, float, str]] = []

    def visit(text: str, _cm: object, matrix: list[float], *_: object) -> None:
        if text.strip():
            found.append((matrix[4], matrix[5], text.strip()))

    page = PdfReader(io.BytesIO(as_pdf([sheet], HEADER))).pages[0]
    page.extract_text(visitor_text=visit)
    laid = laid_out(sheet, HEADER)
    for mark in laid.pages[0].texts:
        near = [
            words
            for x, y, words in found
            if abs(x * MM_PER_POINT - mark.x) < 0.1 and abs(laid.height - y * MM_PER_POINT - mark.y) < 0.1
        ]
        assert any(bare(words).startswith(bare(mark.words)) for words in near), mark


def test_what_fits_one_page_takes_one() -> None:
    assert {len(laid_out(sheet, HEADER).pages) for sheet in made("small-room")} == {1}
    pages = {sheet.name: len(laid_out(sheet, HEADER).pages) for sheet in made("hall")}
    assert [name for name, count in pages.items() if count > 1] == [
        "rack",
        "stage",
        "path",
        "patch",
        "lines",
        "labels",
        "meter",
        "processor",  # each limiter in both scales
        "mains",
    ]


def test_letters_are_never_too_small_to_read() -> None:
    """9.5 points at the least: for print held at arm's length, common practice, no source."""
    for name in PRESETS:
        for sheet in made(name):
            assert all(mark.size >= 9.5 for marks in text_marks(laid_out(sheet, HEADER)) for mark in marks)


def test_heads_stand_again_on_every_page_of_a_long_table() -> None:
    rows = tuple((f"R1-{n}", "A1.1") for n in range(200))
    sheet = Sheet(name="patch", title="Patch", blocks=(Table(heads=("socket", "channel"), rows=rows),))
    for page in laid_out(sheet, HEADER).pages:
        assert [mark.words for mark in page.texts].count("socket") == 1


@given(st.integers(0, 60), st.integers(2, 30))
def test_no_row_of_a_table_stands_alone_on_a_page_and_a_short_table_is_not_parted(
    above: int, count: int
) -> None:
    table = Table(heading="Rows", heads=("row",), rows=tuple((f"row-{n}",) for n in range(count)))
    lines = [Words(f"Line {n}.") for n in range(above + 60)]
    laid = laid_out(Sheet(name="a", title="A", blocks=(*lines[:above], table, *lines[above:])), HEADER)
    on = [sum(text.words.startswith("row-") for text in page.texts) for page in laid.pages]
    assert sum(on) == count
    assert 1 not in on
    assert count > 6 or [n for n in on if n] == [count]


def test_what_tells_how_to_read_a_table_stands_on_its_page() -> None:
    table = Table(heads=("row",), rows=tuple((f"row-{n}",) for n in range(12)))
    leads = Words("How to read the rows.", leads=True)
    for above in range(20, 60):
        lines = tuple(Words(f"Line {n}.") for n in range(above))
        for page in laid_out(Sheet(name="a", title="A", blocks=(*lines, leads, table)), HEADER).pages:
            words = [text.words for text in page.texts]
            assert (leads.text in words) == ("row-0" in words)


def test_heads_are_wrapped_no_further_than_the_room_asks() -> None:
    """A cell that leaves two heads of four words too little for one line each, and more than a word's width."""
    heads = ("what", "may trip from A", "trips at once A")
    table = Table(heads=heads, rows=(("x" * 90, "160", "160"),), right=frozenset(heads[1:]))
    laid = laid_out(Sheet(name="a", title="A", blocks=(table,)), HEADER)
    (page,) = laid.pages
    assert (
        max(text.x + width(text.words, text.style, text.size) for text in page.texts) <= laid.width - MARGIN
    )
    words = [text.words for text in page.texts]
    assert not {"may", "trip", "at", "once", "may trip from A"} & {*words}


def test_a_leaf_left_blank_in_all_of_them_says_so() -> None:
    door = Sheet(name="door", title="Doors", blocks=(PageBreak(front=True), Words("FRONT")))
    text = pages_of(as_pdf([Sheet(name="a", title="A", blocks=(Words("a"),)), door], HEADER))
    assert ["stays blank" in page for page in text] == [False, True, False]


odd = st.text(
    st.characters(codec="latin-1", exclude_categories=["Cc", "Cf"]), max_size=120
) | st.sampled_from(["Ω−×→", "x" * 400, "a\nb", "Łódź – Ελλάδα – Київ"])


@given(odd, odd, st.lists(st.tuples(odd, odd), max_size=4), st.booleans())
def test_words_of_any_length_are_laid_out_apart(
    rig: str, title: str, rows: list[tuple[str, str]], letter: bool
) -> None:
    header = Header(rig=rig, date="2026-05-01", revision="0", letter=letter)
    label = Label("C1", "near end", title, (rig,))
    table = Table(heads=("a", title), rows=tuple(rows), heading=rig)
    sheet = Sheet(name="a", title="A sheet", blocks=(Words(title, True), table, Labels((label,))))
    laid = laid_out(sheet, header)
    for marks in text_marks(laid):
        _assert_apart(marks, laid)


@given(st.text(max_size=20))
def test_a_sign_is_printed_as_it_is_or_refused_by_name(text: str) -> None:
    """Composed, as NFC of Unicode Standard Annex 15 says; with white space as blanks."""
    with contextlib.suppress(SignError):
        assert printable(text).split() == unicodedata.normalize("NFC", text).split()
        return
    with pytest.raises(SignError, match=r"U\+[0-9A-F]{4}"):
        printable(text)


def test_what_is_said_to_print_is_what_both_styles_of_the_typeface_have() -> None:
    """Their tables of characters, read by fontTools: OpenType, cmap."""
    for style in (REGULAR, BOLD):
        assert signs() == {chr(code) for code in TTFont(file_of(style)).getBestCmap()}


@given(st.text(max_size=20) | st.text("aé山 مΩ\u0304\u200f", max_size=4))
def test_a_name_is_told_of_where_it_is_entered_if_and_only_if_it_does_not_print(text: str) -> None:
    if not (lacking := unprinted(text)):
        printable(one_line(text))
        return
    with pytest.raises(SignError, match=re.escape(f"U+{ord(lacking):04X}")):
        printable(one_line(text))


@pytest.mark.parametrize("name", ["舞台", "🎤 1", "①"])
def test_a_pdf_of_a_name_that_cant_be_printed_is_refused_and_the_other_formats_take_it(
    name: str, tmp_path: Path
) -> None:
    rig = replace(preset("small-room"), name=name)
    (told,) = (each for each in assess(rig).findings if each.code == "name-unprinted")
    assert f"U+{ord(name[0]):04X}" in told.message
    with pytest.raises(SaveError, match=f"U\\+{ord(name[0]):04X}"):
        write_papers(assess(rig), tmp_path / "p", ("patch",), ("txt", "pdf"))
    assert not (tmp_path / "p").exists()
    write_papers(assess(rig), tmp_path / "p", ("patch",), ("txt", "html", "md"))
    assert all(name in path.read_text("utf-8") for path in (tmp_path / "p").glob("patch.*"))


def test_a_row_higher_than_a_page_goes_on_with_nothing_lost() -> None:
    words = [f"word{n}" for n in range(1500)]
    sheet = Sheet(name="a", title="A", blocks=(Table(heads=("a", "b"), rows=((" ".join(words), "x"),)),))
    told = " ".join(mark.words for marks in text_marks(laid_out(sheet, HEADER)) for mark in marks).split()
    assert set(words) <= set(told)


def test_a_heading_higher_than_a_page_takes_no_page_for_each_of_its_lines() -> None:
    table = Table(heads=("a",), rows=(("x",),), heading="word " * 1500)
    assert len(laid_out(Sheet(name="a", title="A", blocks=(table,)), HEADER).pages) <= 4


def test_pages_are_of_the_size_the_venue_prints_on() -> None:
    """ISO 216: A4 is 210 × 297 mm; ANSI/ASME Y14.1: letter is 8.5 × 11 in."""
    sheet = Sheet(name="a", title="A", blocks=(Words("Nothing."),))
    for letter, inches in ((False, (210 / 25.4, 297 / 25.4)), (True, (8.5, 11.0))):
        header = Header(rig="R", date="2026-05-01", revision="0", letter=letter)
        box = PdfReader(io.BytesIO(as_pdf([sheet], header))).pages[0].mediabox
        assert (float(box.width) / 72, float(box.height) / 72) == pytest.approx(inches, abs=0.01)


# --- the other formats ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", PRESETS)
def test_csv_read_back_is_the_sheet(name: str) -> None:
    for sheet in made(name):
        read = {file: list(csv.reader(io.StringIO(text))) for file, text in as_csv(sheet, HEADER).items()}
        expected: dict[str, list[list[str]]] = {}
        for table in sheet.tables():
            file = f"{sheet.name}-{table.name}" if table.name else sheet.name
            first, part = ([table.part[0]], [table.part[1]]) if table.part else ([], [])
            expected.setdefault(file, [[*first, *table.heads, "paper"]]).extend(
                [*part, *(cell.replace("\u00a0", " ") for cell in row), HEADER.words] for row in table.rows
            )
        assert read == expected


def test_a_spreadsheet_runs_no_formula_from_a_name() -> None:
    sheet = Sheet(name="a", title="A", blocks=(Table(heads=("id",), rows=(("=1+1",), ("-A1",), ("A1",))),))
    assert list(csv.reader(io.StringIO(as_csv(sheet, HEADER)["a"]))) == [
        ["id", "paper"],
        ["'=1+1", HEADER.words],
        ["'-A1", HEADER.words],
        ["A1", HEADER.words],
    ]


class _Cells(HTMLParser):
    """The text of each cell, as the standard library's parser reads it."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.within = False

    def handle_starttag(self, tag: str, _attrs: object) -> None:
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.rows[-1].append("")
            self.within = True

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th"):
            self.within = False

    def handle_data(self, data: str) -> None:
        if self.within:
            self.rows[-1][-1] += data


def test_html_read_back_is_the_sheet() -> None:
    tag = Table(heads=("id", "<b>"), rows=(("A&B", '"<script>"'),))
    for sheet in (*made("hall"), Sheet(name="a", title="A", blocks=(tag,))):
        parser = _Cells()
        parser.feed(as_html(sheet, HEADER))
        tables = [block for block in sheet.blocks if isinstance(block, Table)]
        assert parser.rows == [list(row) for table in tables for row in (table.heads, *table.rows)]


def test_markdown_has_a_line_for_every_row_and_no_stray_bars() -> None:
    bars = Table(heads=("id", "what"), rows=(("a|b", "c\nd"),))
    for sheet in (*made("hall"), Sheet(name="a", title="A", blocks=(bars,))):
        lines = [line for line in as_markdown(sheet, HEADER).splitlines() if line.startswith("|")]
        assert len(lines) == sum(len(table.rows) + 2 for table in sheet.tables())
        counts = [len(table.heads) + 1 for table in sheet.tables() for _ in range(len(table.rows) + 2)]
        assert [len(re.findall(r"(?<!\\)\|", line)) for line in lines] == counts


@pytest.mark.parametrize("name", PRESETS)
def test_plain_text_holds_every_word_within_its_width(name: str) -> None:
    for sheet in made(name):
        text = as_text(sheet, HEADER)
        assert max(map(len, text.splitlines())) <= WIDTH
        assert all(word in text for cell in cells(sheet) for word in cell.split() if len(word) < 12), (
            sheet.name
        )


def test_all_in_one_is_there_where_several_are_asked_for() -> None:
    rack, stage = (sheet for sheet in made("small-room") if sheet.name in ("rack", "stage"))
    assert set(files([rack], HEADER, ("pdf", "txt"))) == {"rack.pdf", "rack.txt"}
    assert set(files([rack, stage], HEADER, ("pdf",))) == {"rack.pdf", "stage.pdf", "all.pdf"}


# --- what steers -----------------------------------------------------------------------------------------

STEERS = [chr(n) for n in (0, 7, 8, 0x0B, 0x0D, 0x1B, 0x7F, 0x85, 0x9B, 0x9D, 0x61C, 0x200E, 0x200F)]
STEERS += [chr(n) for n in (0x2028, 0x2029, *range(0x202A, 0x202F), *range(0x2066, 0x206A))]
"""ECMA-48 control functions, and Bidi_Control and the line ends of Unicode (UAX 9, UAX 14)."""
odd = st.text(st.sampled_from([*STEERS, *"\n\t =+-@aA1"]), max_size=12)


@given(text=odd, kind=st.sampled_from(["md", "html", "txt", "csv", "pdf"]))
def test_no_paper_holds_what_steers(text: str, kind: str) -> None:
    sheet = Sheet(
        name="odd",
        title=text,
        blocks=(
            Words(text),
            Words(text, caution=True),
            Table(heads=(f"a{text}", "b"), rows=((text, "1"),), heading=text, right=frozenset(("b",)), part=(text, text)),
            Labels((Label(text, text, text, (text,)),)),
        ),
    )  # fmt: skip
    (content,) = files((sheet,), Header(rig=text, date="2026-05-01", revision="0"), (kind,)).values()
    shown = "".join(pages_of(content)) if kind == "pdf" else content.decode("utf-8").replace("\r\n", "\n")
    assert not set(shown) & set(STEERS)


@given(st.text(st.sampled_from("'=+-@＝1aΩ .,")) | st.from_regex(r"[+-]?\d+([.,]\d+)?", fullmatch=True))
def test_a_cell_runs_no_formula_and_is_read_back_as_it_was(text: str) -> None:
    written = cell(text)
    assert read(written) == text
    number = re.fullmatch(r"[+-]?\d+([.,]\d+)?", written)
    assert number or written[:1] not in ("=", "+", "-", "@", "＝")
    assert not number or written == text  # a spreadsheet must still see a number
