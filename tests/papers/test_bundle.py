"""What holds the papers together: cover, contents, bookmarks, what changed since last time, the one page, the night."""

import io
from collections import Counter
from pathlib import Path

import pytest
from msgspec.structs import replace
from pypdf import PdfReader

from rackwright.engine import recovery
from rackwright.engine.assess import Assessed, assess
from rackwright.model.edits import change, with_equipment
from rackwright.model.rig import Rig, Venue
from rackwright.model.venue import split
from rackwright.papers.contents import Given, files, sheets
from rackwright.papers.document import Contents, Header, Labels, PageBreak, Sheet, Table, Words
from rackwright.papers.label_sheets import FOLDING, SHEETS
from rackwright.papers.layout import laid_out
from rackwright.papers.output import write_papers
from rackwright.papers.typeface import MM_PER_POINT, width
from rackwright.store import night_log, venues
from rackwright.store.night_log import Event
from rackwright.units import Length, Trim
from rigs import changed
from shipped import assessed, preset

from .drawn import pages_of

HEADER = Header(rig="Harbour shed", date="2026-05-01 14:30", revision="3, 3f2a91c0")


def sheet_of(assessment: Assessed, name: str, given: Given = Given()) -> Sheet:  # noqa: B008
    return sheets(assessment, (), (name,), given)[0]


def longer(rig: Rig) -> Rig:
    return changed(rig, rig.lines[0].id, length=Length.parse("99 m"))


def test_the_cover_begins_with_the_verdict_and_has_each_stop_in_a_box() -> None:
    assessment = assessed("faults")
    stops = [finding for finding in assessment.findings if finding.severity == "stop"]
    first, *others = sheet_of(assessment, "cover").blocks
    assert isinstance(first, Words)
    assert first.caution
    assert first.text.startswith(f"STOP. {len(stops)} stops")
    boxed = [block.text for block in others if isinstance(block, Words) and block.caution]
    assert all(any(stop.sentence in text for text in boxed) for stop in stops)
    calm = sheet_of(assessed("small-room"), "cover").blocks[0]
    assert isinstance(calm, Words)
    assert not calm.caution
    assert "No problems found." in calm.text


def test_what_failed_is_on_the_cover_and_so_is_the_venue() -> None:
    rig = replace(preset("small-room"), notes="Mains behind the bar.\n\nLoad in through the yard.\n")
    venue = Venue(name="The Cellar", date="2026-05-01", contacts="Sam, house engineer")
    cover = sheet_of(assess(replace(recovery.fail(rig, ["A1"]), venue=venue)), "cover")
    assert any(isinstance(b, Words) and b.text.startswith("FAILED: A1") for b in cover.blocks)
    rows = [row for table in cover.tables() if table.name == "venue" for row in table.rows]
    assert rows == [
        ("venue", "The Cellar"),
        ("date", "2026-05-01"),
        ("contacts", "Sam, house engineer"),
        ("notes", "Mains behind the bar."),
        ("", "Load in through the yard."),
    ]


def test_what_is_noted_of_its_venue_stands_on_the_cover_as_it_is_noted_when_the_papers_are_written(
    tmp_path: Path,
) -> None:
    rig = replace(preset("small-room"), venue=Venue(name="The Mill"))
    facts, _ = split(rig)
    said = []
    for notes in ("", "Door 2 m wide.\nAsk for the ramp.", "The ramp is gone."):
        venues.keep(replace(facts, notes=notes), "mill", over=True)
        write_papers(assess(rig), tmp_path / "p", ("cover",), ("txt",))
        said.append((tmp_path / "p" / "cover.txt").read_text("utf-8"))
    assert ["venue notes" in text for text in said] == [False, True, True]
    assert "Door 2 m wide." in said[1]
    assert "Ask for the ramp." in said[1]
    assert "The ramp is gone." in said[2]
    assert "Door" not in said[2]
    write_papers(assess(replace(rig, venue=Venue(name="Elsewhere"))), tmp_path / "q", ("cover",), ("txt",))
    assert "The ramp" not in (tmp_path / "q" / "cover.txt").read_text("utf-8")


def test_contents_and_bookmarks_lead_to_the_page_that_each_sheet_begins_on() -> None:
    """Read back by pypdf."""
    made = sheets(assessed("hall"), (), ("cover", "rack", "lines", "pull"))
    reader = PdfReader(io.BytesIO(files(made, HEADER, ("pdf",))["all.pdf"]))
    pages = [page.extract_text() for page in reader.pages]
    above = [mark for mark in reader.outline if not isinstance(mark, list)]
    begins = {mark.title: reader.get_destination_page_number(mark) for mark in above}
    assert list(begins) == [sheet.title for sheet in made]
    for sheet in made:
        page = begins[sheet.title]
        assert page is not None
        assert pages[page].startswith(sheet.title)
        assert f"page {page + 1} of all {len(pages)}" in pages[page]
        assert "page 1 of" in pages[page]
        assert any(
            line.split() == [*f"{sheet.title} {sheet.name} {page + 1}".split()]
            for line in pages[0].splitlines()
        )


def test_each_rack_has_a_bookmark_on_the_page_that_it_is_drawn_on() -> None:
    """Read back by pypdf."""
    assessment = assessed("hall")
    reader = PdfReader(io.BytesIO(files([sheet_of(assessment, "rack")], HEADER, ("pdf",))["rack.pdf"]))
    _, below = reader.outline
    assert isinstance(below, list)
    for rack, mark in zip(assessment.index.rig.racks, below, strict=True):
        assert not isinstance(mark, list)
        assert mark.title == f"{rack.id}, {rack.name}"
        page = reader.get_destination_page_number(mark)
        assert page is not None
        assert mark.title in reader.pages[page].extract_text()


def test_the_cover_says_what_changed_since_the_papers_before(tmp_path: Path) -> None:
    """Made again of the same revision it says the same; a name alone that is written needs no cover."""
    rig, folder = preset("small-room"), tmp_path / "p"
    said = []
    for each in (rig, longer(rig), longer(rig)):
        write_papers(assess(each), folder, ("cover",), ("txt",))
        said.append((folder / "cover.txt").read_text("utf-8"))
    assert "Since the last revision" not in said[0]
    assert all("Since the last revision: 1 change" in text and "99 m" in text for text in said[1:])


@pytest.mark.parametrize("name", ["small-room", "small-club"])
@pytest.mark.parametrize("letter", [False, True])
def test_a_small_rig_has_one_page_with_every_plug_and_knob(name: str, letter: bool) -> None:
    rig = preset(name)
    sheet = next(sheet for sheet in sheets(assess(rig), ()) if sheet.name == "page")
    laid = laid_out(sheet, replace(HEADER, letter=letter))
    assert (len(laid.pages), laid.lacking) == (1, 0)
    cells = [cell for table in sheet.tables() for row in table.rows for cell in row]
    for thing in (*rig.lines, *rig.amplifiers(), *rig.circuits, *rig.cabinets, *rig.feeds):
        assert any(cell.startswith(thing.id) for cell in cells), thing.id
    assert not any(sheet.name == "page" for sheet in sheets(assessed("hall"), ()))


def test_both_labels_of_a_line_say_what_is_on_each_pole_pair() -> None:
    assessment = assessed("hall")
    (labels,) = sheet_of(assessment, "labels").tables()
    also = {(row[0], row[1]): row[3].split("; ") for row in labels.rows}
    (first, *_) = assessment.index.rig.lines
    assert "1: A1.1 sub → upper" in also[first.id, "near end"]
    assert "1: A1.1 sub → upper" in also[first.id, "far end"]
    pages = laid_out(sheet_of(assessment, "labels"), HEADER).pages
    shown = [text.words for page in pages for text in page.texts]
    assert shown.count("revision 3, 3f2a91c0") == 2 * len(assessment.index.rig.lines)


def test_what_is_loaded_has_columns_to_tick_out_and_back() -> None:
    for name in ("pull", "equipment"):
        table = next(t for t in sheet_of(assessed("hall"), name).tables() if "out" in t.heads)
        assert {"out", "back"} <= table.written


def test_the_night_prints_its_lists_and_its_log(tmp_path: Path) -> None:
    rig = preset("hall")
    plan = recovery.recover(rig, ["A1"], proof=False).best
    night = recovery.take(
        recovery.fail(rig, ["A1", "A2"]), ["A1"], plan.moves, "Plan for A1", "2026-05-01 21:40"
    )
    night = recovery.by_hand(
        night, lambda rig: change(rig, "A3.1", trim=Trim.parse("-3 dB")), "trim of A3.1", tonight=True
    )
    event = Event(time="2026-05-01T21:40:05", by="SM", event="failed", place="A1")
    file = tmp_path / "hall.toml"
    night_log.append(night_log.path_of(file), [event])
    sheet = next(s for s in sheets(assess(night), (), (), Given(log=night_log.of(file))) if s.name == "night")
    tables = {table.name: table for table in sheet.tables()}
    assert tables["log"].rows == (("2026-05-01 21:40:05", "SM", "failed", "A1", "–"),)
    steps = [step.words for each in night.lists for step in each.steps]
    assert [row[2] for row in tables["lists"].rows] == steps
    assert "done" in tables["lists"].written
    assert sheet.blocks[0] == Words("FAILED: A2.", True)
    assert Words("Tonight: trim of A3.1. Trim A3.1 to −3 dB.") in sheet.blocks


def test_the_front_of_a_leaf_is_printed_on_a_front_whatever_comes_before() -> None:
    long = Words(" ".join(["words"] * 900))
    blocks = [
        (PageBreak(front=True), Words(f"FRONT {n}"), PageBreak(), Words(f"BACK {n}"), *[long] * n)
        for n in range(3)
    ]
    leaves = Sheet(name="door", title="Doors", blocks=tuple(each for leaf in blocks for each in leaf))
    before = Sheet(name="cover", title="Cover", blocks=(Contents(), Words("a")))
    for first in ((before,), (before, before)):
        made = files((*first, leaves), HEADER, ("pdf",))
        texts = pages_of(made["all.pdf"])
        at = {n: next(i for i, text in enumerate(texts, 1) if f"FRONT {n}" in text) for n in range(3)}
        assert all(page % 2 == 1 and f"BACK {n}" in texts[page] for n, page in at.items())
        assert f"Doors door {at[0]}" in " ".join(texts[0].split())


def test_the_back_of_a_door_goes_on_in_letters_as_large_and_says_which_page_of_how_many_it_is() -> None:
    rows = tuple((f"channel A{n}.1", "Re-patch it; " * 20) for n in range(60))
    table = Table(
        heading="If it fails: R1", part=("rack", "R1"), heads=("if this fails", "do this"), rows=rows
    )
    short = replace(table, heading="If it fails: R2", rows=rows[:2])
    blocks = (PageBreak(front=True), Words("FRONT"), PageBreak(), table)
    laid = laid_out(Sheet(name="door", title="Doors", blocks=(*blocks, PageBreak(front=True), short)), HEADER)
    told = [[text.words for text in page.texts] for page in laid.pages]
    on = [page for page in told if "If it fails: R1" in page]
    assert [f"{n} of {len(on)}" in page for n, page in enumerate(on, 1)] == [True] * len(on)
    assert len(on) > 1
    assert not [words for words in told[-1] if words.startswith("1 of")]
    assert min(text.size for page in laid.pages for text in page.texts) >= 11


def test_columns_that_lack_room_share_it_so_that_the_rows_take_few_lines() -> None:
    """One row wants much of the last column, thirty want half a page of the second: they get it."""
    plan = "Re-patch " + ", ".join(f"R1-{n}/1 to A3.3" for n in range(4))
    silent = ", ".join(f"SUB-L{n}" for n in range(40))
    rows = (*((f"channel A{n}", plan, "–") for n in range(30)), ("rack R1", "Leave it", silent))
    table = Table(heads=("if this fails", "do this", "stays silent"), rows=rows)
    blocks = (PageBreak(front=True), Words("FRONT"), PageBreak(), table)
    laid = laid_out(Sheet(name="door", title="Doors", blocks=blocks), HEADER)
    told = [text.words for page in laid.pages for text in page.texts]
    assert told.count(plan) == 30


@pytest.mark.parametrize("size", SHEETS)
def test_labels_stand_within_those_of_the_sheet_and_say_all_that_the_grid_says(size: str) -> None:
    """A flag says it on both halves, with room between for the cable. Each page tells what it is of, on its labels or under them."""
    sheet, labels = SHEETS[size], sheet_of(assessed("hall"), "labels")
    (grid,) = (block for block in labels.blocks if isinstance(block, Labels))
    bottom = sheet.top + (sheet.down - 1) * sheet.step_y + sheet.height
    under = (279.4 if sheet.letter else 297) - bottom >= 12
    name = " at ".join(["a rig of a long name"] * (20 if under else 1))
    header = replace(HEADER, labels=size, letter=sheet.letter, rig=name)
    laid = laid_out(labels, header)
    half = (sheet.width - sheet.wrap) / 2
    seen = Counter[str]()
    for page in laid.pages:
        told = " ".join(text.words for text in page.texts if not under or text.y > bottom)
        assert all(part in told for part in ("a rig of a long name", HEADER.date, HEADER.revision))
    for page in laid.pages:
        for text in page.texts:
            if text.words == FOLDING:
                continue
            if under and text.y > bottom:
                assert bottom + text.size * MM_PER_POINT < text.y <= laid.height - 5
                assert 5 < text.x < text.x + width(text.words, text.style, text.size) < laid.width - 5
                continue
            across, x = divmod(text.x - sheet.left, sheet.step_x)
            down, y = divmod(text.y - sheet.top, sheet.step_y)
            assert 0 <= across < sheet.across
            assert 0 <= down < sheet.down
            x -= (half + sheet.wrap) * (sheet.wrap > 0 and x > half)
            assert 0 < x < x + width(text.words, text.style, text.size) < half + (0 if sheet.wrap else half)
            assert text.size * MM_PER_POINT * 0.7 < y < sheet.height
            seen[text.words] += 1
    halves = 2 if sheet.wrap else 1
    assert all(seen[f"{each.name} {each.end}"] == halves for each in grid.labels)
    assert not under or seen["revision 3, 3f2a91c0"] == halves * len(grid.labels)
    made = files((labels, Sheet(name="a", title="A", blocks=(Words("a"),))), header, ("pdf",))["all.pdf"]
    first, *_, last = pages_of(made)
    assert "of all" not in first, "nothing is printed over a label"
    assert "of all" in last


def test_an_adaptor_is_pulled_for_a_line_between_two_kinds_of_connector() -> None:
    rig = preset("small-room")
    line = next(line for line in rig.lines if any(socket.id == line.source for socket in rig.sockets()))
    other = replace(rig.equipment.connectors[0], id="other")
    rig = changed(with_equipment(rig, other), line.source, connector="other")
    (table,) = sheet_of(assess(rig), "pull").tables()
    (adaptor,) = (row for row in table.rows if row[0].startswith("adaptor"))
    assert adaptor[0].startswith("adaptor, other to ")
    assert (adaptor[2], adaptor[4]) == ("1", line.id)
