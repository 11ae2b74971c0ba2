"""What changed since last time, as paper: each difference before and after, findings that came and went, figures that moved."""

import math
from collections.abc import Iterator
from pathlib import Path

import pytest
from msgspec.structs import replace

from console.hand import opened
from rackwright.engine.assess import assess
from rackwright.model.rig import Rig
from rackwright.papers.changes import MOST, changes_sheet
from rackwright.papers.document import Sheet, Words
from rackwright.store import rig_file
from rackwright.units import Length
from shipped import preset

from .test_writing import run


@pytest.fixture
def rig() -> Rig:
    return preset("hall")


@pytest.fixture
def longer(rig: Rig) -> Rig:
    """C1 twenty times as long, and C26 left at home: its gallery cabinet shares a channel with the other."""
    first, *others = rig.lines
    kept = tuple(line for line in others if line.id != "C26")
    return replace(rig, lines=(replace(first, length=Length.parse("200 m")), *kept))


def told(before: Rig, after: Rig) -> Sheet:
    return changes_sheet(assess(before), assess(after), "last time")


def rows(sheet: Sheet, name: str) -> Iterator[dict[str, str]]:
    for table in sheet.tables():
        if table.name == name:
            yield from (dict(zip(table.heads, row, strict=True)) for row in table.rows)


def test_two_rigs_alike_have_no_difference_and_no_table(rig: Rig) -> None:
    sheet = told(rig, rig)
    assert list(sheet.tables()) == []
    assert sheet.blocks == (Words("Since last time: no difference."),)


def test_differences_are_told_with_before_and_after_where_the_crew_finds_them(rig: Rig, longer: Rig) -> None:
    found = [
        (r["of"].replace("\u00a0", " "), r["what"], r["before"], r["after"])
        for r in rows(told(rig, longer), "lines")
    ]
    assert found[0] == ("line C1", "length", "10 m", "200 m")
    assert found[1][:2] == ("line C26", "REMOVED")
    assert next(table.name for table in told(rig, longer).tables()) == "lines"


def test_findings_come_and_on_the_way_back_go(rig: Rig, longer: Rig) -> None:
    come, gone = (list(rows(told(rig, longer), name)) for name in ("new", "gone"))
    assert any(row["at"] == "GAL-2" and "silent" in row["what"] for row in come)
    assert any("SUB-L1.upper" in row["at"] and "Damping factor" in row["what"] for row in come)
    back = told(longer, rig)
    assert (list(rows(back, "gone")), list(rows(back, "new"))) == (come, gone)


def test_the_figures_that_moved_are_the_ones_a_hand_reckons(rig: Rig, longer: Rig) -> None:
    """GAL-1 and GAL-2, 8 Ω each on A11.3: without one of them 8 Ω is left of 4. Level in dB is 20·log10 of the volts."""
    sheet = told(rig, longer)
    assert {r["at"]: (r["before"], r["after"], r["change"]) for r in rows(sheet, "load")} == {
        "A11.3": ("4", "8", "+100 %")
    }
    level = {r["at"]: r for r in rows(sheet, "level")}
    assert level["GAL-2.full"]["after"] == "silent"
    moved = level["SUB-L1.upper"]
    ratio = float(moved["after"]) / float(moved["before"])
    assert float(moved["change"].removesuffix(" dB").replace("−", "-")) == pytest.approx(
        20 * math.log10(ratio), abs=0.06
    )
    assert list(level) == ["GAL-2.full", "SUB-L1.upper", "SUB-L1.lower", "GAL-1.full"]


def test_of_many_figures_those_that_moved_most_are_told(rig: Rig) -> None:
    doubled = replace(
        rig,
        lines=tuple(replace(x, length=Length.parse(f"{2 * x.length.value:g} m")) for x in rig.lines),
    )
    table = next(table for table in told(rig, doubled).tables() if table.name == "damping")
    assert len(table.rows) == MOST
    assert f"{MOST} of 46" in table.heading


def test_the_command_adds_the_sheet_only_where_it_is_asked_for(
    capsys: pytest.CaptureFixture[str], rig: Rig
) -> None:
    words = ("papers", "hall", "--only", "pull", "--format", "txt", "--out")
    assert run(capsys, *words, "a")[0] == 0
    assert not Path("a/changes.txt").exists()
    assert run(capsys, *words, "b", "--since", "small-room")[0] == 0
    text = Path("b/changes.txt").read_text(encoding="utf-8")
    assert "Since Small room, revision" in text
    status, _, err = run(capsys, *words, "c", "--since", "smal-room")
    assert (status, 'Did you mean "small-room"?' in err, Path("c").exists()) == (3, True, False)


async def test_the_key_can_tell_the_changes_since_the_file_as_saved(rig: Rig) -> None:
    rig_file.save(rig, "friday.toml")
    async with opened(Path("friday.toml")) as hand:
        hand.session.apply(
            "longer",
            lambda r: replace(r, lines=(replace(r.lines[0], length=Length.parse("200 m")), *r.lines[1:])),
        )
        await hand.press("x")
        await hand.fill(None, "txt", "pull")
        await hand.choose("file as saved")
        await hand.press("enter")
        await hand.settle()
        await hand.settle()
    text = Path("friday-papers/changes.txt").read_text(encoding="utf-8")
    assert "1 difference" in text
    assert "200 m" in text
