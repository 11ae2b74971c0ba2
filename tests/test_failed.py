"""Anything marked failed shows up as such on screen, in the check and on paper, and is gone once it is repaired."""

import pytest

from rackwright.cli.check import check_page
from rackwright.cli.report import report
from rackwright.console.rows import lines, mains, racks, results, tables
from rackwright.console.rows.row import Row
from rackwright.console.terminal.glyphs import ASCII, UNICODE
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.recovery import fail, failed_at, repaired
from rackwright.model.index import Index
from rackwright.model.lines import FAULTS
from rackwright.model.rig import Rig
from rackwright.papers.contents import sheets
from shipped import preset

SHEETS = {
    "A1": ("rack", "mains"), "R1": ("rack", "patch"), "A1.1": ("rack", "patch", "lines", "labels", "processor"),
    "A1.1=input": ("rack", "patch", "lines", "labels", "processor"), "R1-1": ("patch", "lines", "labels"),
    "R1-1/1": ("patch",), "C1": ("patch", "lines", "labels", "pull", "meter"), "C1/2": ("patch", "lines", "labels", "pull", "meter"),
    "TOP-L1": ("lines", "labels", "meter"), "TOP-L1.high": ("lines", "labels", "meter"),
    "TOP-L1.high=shorted": ("lines", "labels", "meter", "patch"), "TOP-L1.mid=distorted": ("lines", "labels", "meter"),
    "sub": ("processor", "patch", "rack"), "P1": ("mains", "rack", "patch"), "L1": ("mains", "rack", "patch"),
}  # fmt: skip
"""What fails in the hall, as it is written → the sheets that say so."""
WORDS = ("failed", *FAULTS)


@pytest.fixture(scope="module")
def hall() -> Rig:
    return preset("hall")


def texts(rows: list[Row]) -> list[str]:
    return ["".join(text for text, _ in row.parts) for row in rows]


def said(assessment: Assessed, place: str) -> list[str]:
    """What each part of the screen says of a place in words of failure, without colour."""
    shown = [*racks.view(assessment, ASCII).rows(60), *lines.view(assessment, ASCII).rows(60)]
    shown += [*tables.feeds(assessment, 90, UNICODE), *mains.rows(assessment, 90, UNICODE)]
    rows = texts([row for row in shown if row.place == place])
    return [
        row
        for row in (*rows, *texts(results.rows(assessment, place, 60, ASCII)))
        if any(w in row for w in WORDS)
    ]


@pytest.mark.parametrize("name", SHEETS)
def test_it_is_said_everywhere_and_gone_after_the_repair(hall: Rig, name: str) -> None:
    place = name.partition("=")[0]
    broken = fail(hall, [name])
    before, after = assess(hall), assess(broken)
    assert Index(broken).place(place) is not None
    assert failed_at(broken, place) == (name,)
    word = name.partition("=")[2].replace("input", "input failed") or (
        "open" if name == "TOP-L1.high" else "failed"
    )
    assert [row for row in said(after, place) if word in row]
    assert said(before, place) == []
    printed = [" ".join(check_page(rig, of).lines) for rig, of in ((hall, before), (broken, after))]
    assert len({each.count(word.split()[0]) for each in printed}) == 2
    causes = {entry["cause"] for kind in ("channels", "sections") for entry in report(broken, after)[kind]}
    assert (name in causes) is (word != "distorted")
    for sheet in SHEETS[name]:
        was, now = (paper(assessment, sheet).count(word.upper()) for assessment in (before, after))
        assert now > was, sheet
    assert repaired(broken) == hall
    assert assess(repaired(broken), after).findings == before.findings


def paper(assessment: Assessed, sheet: str) -> str:
    (made,) = sheets(assessment, (), (sheet,))
    return str(made).replace("\\xa0", " ")


def test_what_is_silent_says_for_what(hall: Rig) -> None:
    after = assess(fail(hall, ["L3", "C1/2"]))
    shown = lines.view(after, UNICODE).rows(70)
    rows = dict(zip((row.place for row in shown), texts(shown), strict=True))
    assert "silent: L3 failed" in rows["TOP-L1.high"]
    assert "silent: C1/2 failed" in rows["SUB-L1.lower"]
    assert "failed" in rows["C1/2"]
    assert any("Silent: L3 failed." in row for row in texts(results.rows(after, "TOP-L1", 60, UNICODE)))
