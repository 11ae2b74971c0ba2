"""The drawings, read back as boxes with words and held against the rig: every plug has one place in each of them."""

import re
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.engine.assess import Assessed, assess
from rackwright.model.rig import Rig
from rackwright.papers.contents import sheets
from rackwright.papers.document import Drawing, Header, Sheet, Table, Words
from rackwright.papers.drawing import WIDTH, Strip
from rackwright.papers.html import as_html
from rackwright.papers.layout import LETTER, MARGIN, laid_out
from rackwright.papers.mains_tree import mains_tree
from rackwright.papers.markdown import as_markdown
from rackwright.papers.pdf import as_pdf
from rackwright.papers.stage import ZONES
from rackwright.papers.text import as_text
from rackwright.papers.typeface import MM_PER_POINT, width
from rackwright.units.safe_text import safe
from shipped import assessed
from strategies import rigs

from .drawn import Frame, bare, in_pdf, in_strips, marks_of, pages_of

PRESETS = ("small-room", "hall", "outdoor-stage", "faults")
DRAWN = ("rack", "stage", "path", "mains")
TITLES = {title for title, _ in ZONES}
HEADER = Header(rig="Harbour shed", date="2026-05-01", revision="3f2a91c0")


def sheet_of(assessment: Assessed, name: str) -> Sheet:
    return sheets(assessment, (), (name,))[0]


def strips_of(sheet: Sheet) -> list[Strip]:
    return [strip for block in sheet.blocks if isinstance(block, Drawing) for strip in block.strips]


@pytest.mark.parametrize(("name", "letter"), [*((name, False) for name in PRESETS), ("hall", True)])
def test_the_drawings_read_back_from_the_pdf_are_the_rig(name: str, letter: bool) -> None:
    """By pypdf, which shares nothing with what wrote them: lines that close to boxes, and the words in each."""
    assessment = assessed(name)
    header = replace(HEADER, letter=letter)
    made = [sheet_of(assessment, name) for name in DRAWN]
    pages = [sheet.name for sheet in made for _ in laid_out(sheet, header).pages]
    drawn = in_pdf(as_pdf(made, header))
    frames = {name: [frame for frame in drawn if pages[frame.page] == name] for name in DRAWN}
    _assert_every_plug_has_one_place(assessment, frames)
    if letter:
        wide, high = LETTER
        for frame in (frame for of_it in frames.values() for frame in of_it):
            assert MARGIN - 0.1 <= frame.x1 < frame.x2 <= wide - MARGIN + 0.1
            assert MARGIN - 0.1 <= frame.y1 < frame.y2 <= high - MARGIN + 0.1


@given(rigs())
def test_every_plug_of_any_rig_has_one_place_in_each_drawing(rig: Rig) -> None:
    assessment = assess(rig)
    _assert_every_plug_has_one_place(
        assessment, {sheet: in_strips(strips_of(sheet_of(assessment, sheet))) for sheet in DRAWN}
    )


def _assert_every_plug_has_one_place(assessment: Assessed, frames: dict[str, list[Frame]]) -> None:
    _assert_racks(assessment, frames["rack"])
    _assert_stage(assessment, frames["stage"])
    _assert_mains(assessment, frames["mains"])
    _assert_path(assessment, frames["path"])


def names(frames: list[Frame]) -> Counter[str]:
    return Counter(bare(frame.name) for frame in frames if frame.name)


def _assert_racks(assessment: Assessed, frames: list[Frame]) -> None:
    """Every amplifier with its circuit, every socket with what drives each pole pair and each line that goes in."""
    rig, index = assessment.index.rig, assessment.index
    amplifiers = rig.amplifiers()
    drawn = [
        *(a.id for a in amplifiers),
        *(a.circuit or "none" for a in amplifiers),
        *(s.id for s in rig.sockets()),
    ]
    assert names(frames) == Counter(map(bare, drawn))
    boxes = {bare(frame.name): frame.words for frame in frames}
    for socket in rig.sockets():
        words = boxes[bare(socket.id)]
        leaving = index.lines_from.get(socket.id, [])
        assert words.count("→") == len(leaving)
        assert all(bare(f"→ {line.id} to {line.to}") in words for line in leaving)
        for pair in range(index.connector_models[socket.connector].pole_pairs):
            pole = socket.pole(pair)
            assert re.search(rf"{pair + 1}(:|.*?:){re.escape(bare(pole.lstrip('-') or 'not wired'))}", words)
        assert words.count("REVERSED") == sum(pole.startswith("-") for pole in socket.poles)


def _assert_stage(assessment: Assessed, frames: list[Frame]) -> None:
    index = assessment.index
    assert names(frames) == Counter(bare(cabinet.id) for cabinet in index.rig.cabinets)
    boxes = {bare(frame.name): frame.words for frame in frames}
    for cabinet in index.rig.cabinets:
        line = index.line_to.get(cabinet.id)
        link = "" if line is None or line.source in index.sockets else "link of "
        expected = f"{line.id} from {link}{line.source}, " if line else "NO LINE"
        assert bare(expected) in boxes[bare(cabinet.id)]


def _assert_mains(assessment: Assessed, frames: list[Frame]) -> None:
    rig, index = assessment.index.rig, assessment.index
    alone = any(not thing.circuit for thing in (*rig.amplifiers(), *rig.loads))
    devices = ["Intake", *(thing.id for thing in (*rig.boards, *rig.circuits))]
    assert names(frames) == Counter(map(bare, [*devices, *(["On no circuit yet"] if alone else [])]))
    words = [frame.words for frame in frames if not frame.name]
    for amplifier in rig.amplifiers():
        own = bare(f"{amplifier.id} ({index.rack_of[amplifier.id].id})")
        assert sum(each.startswith(own) for each in words) == 1
    for load in rig.loads:
        assert sum(each.startswith(bare(load.id)) for each in words) >= 1
    assert len([each for each in words if each and not each[0].isdigit()]) >= len(rig.amplifiers()) + len(
        rig.loads
    )


def _assert_path(assessment: Assessed, frames: list[Frame]) -> None:
    """Every section is named beside the channel that it is patched to, or among those that none reaches."""
    beside: dict[str, str] = {}
    for left in frames:
        right = [f for f in frames if (f.page, f.y1) == (left.page, left.y1) and abs(f.x1 - left.x2) < 0.05]
        if left.name and right:
            assert bare(left.name) not in beside
            beside[bare(left.name)] = right[0].words
    reached = set()
    for name, section in assessment.sections.items():
        if section.patched:
            assert (
                bare(f"→ {name}") in beside[bare(section.patched)]
                or f",{bare(name)}" in beside[bare(section.patched)]
            )
            reached.add(name)
    unfed = "".join(frame.words for frame in frames if frame.name.startswith("Reached by no"))
    everywhere = "".join(beside.values())
    for name in assessment.sections:
        assert name in reached or bare(name) in everywhere + unfed


def test_a_stop_stands_at_its_amplifier_in_the_mains_tree_and_on_its_rack() -> None:
    """Three wedges on A3.1: the breaker's box is where that amplifier is switched on."""
    assessment = assessed("faults")
    for name, box in (("mains", "A3(R2)"), ("rack", "1:mix")):
        frames = in_strips(strips_of(sheet_of(assessment, name)))
        (words,) = [frame.words for frame in frames if frame.words.startswith(box)]
        assert "STOP:loadbelowminimum" in words


# --- words that are long or of any script -------------------------------------------------------------

_ODD = st.sampled_from(
    ["Łódź – Ελλάδα – Київ", "日本語の長い名前" * 6, "مسرح", "x" * 300, "Stage left, " * 20, "a\nb\x1b[2J", "Ω−×→"]
) | st.text(max_size=60)  # fmt: skip


@given(st.lists(_ODD, min_size=4, max_size=4))
def test_words_of_any_length_and_script_stay_in_their_boxes_and_apart(odd: list[str]) -> None:
    rig = assessed("small-room").index.rig
    racks = tuple(replace(rack, name=odd[0]) for rack in rig.racks)
    cabinets = tuple(
        replace(cabinet, position=odd[n % 4], side=("left", "right", "")[n % 3])
        for n, cabinet in enumerate(rig.cabinets)
    )
    feeds = tuple(replace(feed, output=odd[2]) for feed in rig.feeds)
    assessment = assess(replace(rig, racks=racks, cabinets=cabinets, feeds=feeds))
    for name in DRAWN:
        for strip in strips_of(sheet_of(assessment, name)):
            _assert_apart(strip)


def _assert_apart(strip: Strip) -> None:
    assert strip.height <= 180
    spans = []
    for text in strip.texts:
        assert text.words == safe(text.words)
        high, wide = text.size * MM_PER_POINT, width(text.words, text.style, text.size)
        assert text.x >= -0.01
        assert text.x + wide <= WIDTH + 0.01
        assert text.y - 0.75 * high >= -0.01
        assert text.y + 0.2 * high <= strip.height + 0.01
        spans.append((text.x, text.x + wide, text.y - 0.72 * high, text.y + 0.2 * high))
    for n, (left, right, top, bottom) in enumerate(spans):
        for left2, right2, top2, bottom2 in spans[n + 1 :]:
            assert (
                right <= left2 + 0.01
                or right2 <= left + 0.01
                or bottom <= top2 + 0.01
                or bottom2 <= top + 0.01
            )


def test_more_sockets_than_fit_go_on_on_another_page_under_the_same_heading() -> None:
    rig = assessed("small-room").index.rig
    first, *others = rig.racks
    spare = tuple(replace(first.sockets[0], id=f"X{n}", poles=()) for n in range(60))
    full = assess(replace(rig, racks=(replace(first, sockets=(*first.sockets, *spare)), *others)))
    content = as_pdf([sheet_of(full, "rack")], HEADER)
    frames = in_pdf(content)
    assert all(sum(frame.name == socket.id for frame in frames) == 1 for socket in spare)
    pages = pages_of(content)
    assert len(pages) > 1
    assert all(f"{first.id}: output panel" in page for page in pages)


def test_a_page_that_begins_within_a_feed_or_a_board_says_of_which() -> None:
    now = assessed("outdoor-stage")
    feeds = {f"{feed.output}: {feed.id}": feed.id for feed in now.index.rig.feeds}
    pages = laid_out(sheet_of(now, "path"), HEADER).pages
    for page in pages:
        feed = ""
        for words in (text.words for text in sorted(page.texts, key=lambda text: text.y)):
            feed = feeds.get(words, feed)
            assert words not in now.branches or now.branches[words].result.feed == feed
    boards = ["Intake", *(f"Intake → {board.id}" for board in now.index.rig.boards)]
    mains = laid_out(sheet_of(now, "mains"), HEADER).pages[1]
    assert any(text.words in boards for text in mains.texts)


def test_letters_are_large_enough_to_be_read_at_a_metre() -> None:
    """11 points, names 14: common practice, no source."""
    for name in DRAWN:
        texts, _ = marks_of(strips_of(sheet_of(assessed("hall"), name)))
        assert min(text.size for text in texts) >= 11
        assert any(text.size >= 14 for text in texts)


# --- other formats ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", DRAWN)
def test_the_html_draws_the_same(name: str) -> None:
    sheet = sheet_of(assessed("faults"), name)
    texts, rules = marks_of(strips_of(sheet))
    pictures = re.findall(r"<svg.*?</svg>", as_html(sheet, HEADER), re.DOTALL)
    space = "{http://www.w3.org/2000/svg}"
    roots = [ElementTree.fromstring(picture) for picture in pictures]
    assert [text.text for root in roots for text in root.iter(f"{space}text")] == [t.words for t in texts]
    assert len([line for root in roots for line in root.iter(f"{space}line")]) == len(rules)


def _said(sheet: Sheet) -> Iterator[str]:
    for block in sheet.blocks:
        if isinstance(block, Drawing):
            for said in block.instead:
                yield from [said.text] if isinstance(said, Words) else said.heads


def test_formats_that_cant_draw_say_the_same_in_words() -> None:
    for name in DRAWN:
        sheet = sheet_of(assessed("hall"), name)
        for text in (as_text(sheet, HEADER), as_markdown(sheet, HEADER).replace("\\", "")):
            assert all(bare(words) in bare(text) for words in _said(sheet))
    index = assessed("hall").index
    rows = [row for table in sheet_of(assessed("hall"), "rack").tables() for row in table.rows]
    assert {row[1] for row in rows} == {"empty", *(a.id for a in index.rig.amplifiers())}
    assert isinstance(next(iter(sheet_of(assessed("hall"), "stage").tables())), Table)
    assert mains_tree(assessed("hall"))


def test_the_stage_plan_has_the_same_place_outermost_on_both_sides() -> None:
    """The hall's subs stand outermost, outer, inner, innermost, numbered from the outside in on both sides."""
    (sheet,) = sheets(assessed("hall"), (), ("stage",))
    strips = (strip for block in sheet.blocks if isinstance(block, Drawing) for strip in block.strips)
    at = {text.words: text.x for strip in strips for text in strip.texts}
    for side in (("SUB-R1", "SUB-R2", "SUB-L2", "SUB-L1"), ("SUB-R3", "SUB-R4", "SUB-L4", "SUB-L3")):
        assert sorted(side, key=at.__getitem__) == list(side)


@pytest.mark.parametrize(
    ("name", "rows"),
    [
        ("hall", (("FILL-4", "FILL-3", "FILL-2", "FILL-1"),)),
        ("outdoor-stage", (("FILL-6", "FILL-5", "FILL-2", "FILL-1"), ("FILL-4", "FILL-3"))),
    ],
)
def test_fills_numbered_from_one_side_to_the_other_stand_as_their_words_say(
    name: str, rows: tuple[tuple[str, ...], ...]
) -> None:
    """The stage lip's are numbered from stage left: the last stands far right, at the left edge of the page."""
    texts = [text for strip in strips_of(sheet_of(assessed(name), "stage")) for text in strip.texts]
    at = {text.words: text.x for text in texts}
    order = [text.words for text in texts]
    for row in rows:
        assert sorted(row, key=at.__getitem__) == list(row)
    firsts = [min(map(order.index, row)) for row in rows]
    assert firsts == sorted(firsts)


def test_every_page_that_hangs_on_a_rack_begins_with_the_caution() -> None:
    for name in ("rack", "door"):
        laid = laid_out(sheet_of(assessed("hall"), name), HEADER)
        racks = [
            page for page in laid.pages if any(text.words.endswith(": output panel") for text in page.texts)
        ]
        assert len(racks) == 3
        for page in racks:
            words = " ".join(text.words for text in page.texts)
            assert words.index("Touch no live output") < words.index("Front")


def test_formats_without_pages_say_the_caution_of_several_pages_once() -> None:
    sheet = sheet_of(assessed("hall"), "rack")
    for told in (as_text(sheet, HEADER), as_markdown(sheet, HEADER)):
        assert told.count("Touch no live output") == 1


def test_a_cabinet_of_no_side_stands_under_neither() -> None:
    strips = strips_of(sheet_of(assessed("hall"), "stage"))
    words = [text.words for strip in strips for text in strip.texts]
    assert words.index("MON-2") < words.index("No side given") < words.index("MON-3")
    assert words.count("No side given") == 1


@pytest.mark.parametrize("name", PRESETS)
def test_no_heading_stands_on_a_page_with_nothing_under_it(name: str) -> None:
    """Each heading of the stage plan on a page has a cabinet's box under it before the next heading."""
    for page in laid_out(sheet_of(assessed(name), "stage"), HEADER).pages:
        heads = sorted(text.y for text in page.texts if text.words in TITLES)
        boxes = [min(rule.y1, rule.y2) for rule in page.rules if rule.weight == 0.4]
        for head, below in pairwise([*heads, LETTER[1] * 2]):
            assert any(head < box < below for box in boxes)
