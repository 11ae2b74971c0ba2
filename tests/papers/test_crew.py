"""The crew's try-out: with the papers alone every plug has one place to go, and what comes of it is the rig."""

import csv
import io
import re
from collections import Counter
from functools import cache
from typing import NamedTuple

import pytest

from rackwright.engine.assess import Assessed
from rackwright.papers.contents import files, sheets
from rackwright.papers.document import Header
from shipped import assessed

HEADER = Header(rig="R", date="2026-05-01", revision="0")
PRESETS = ("small-room", "hall", "outdoor-stage", "faults")
Row = dict[str, str]


class Paper(NamedTuple):
    """A preset, and the rows of its papers by file name, as read back from CSV."""

    assessment: Assessed
    rows: dict[str, list[Row]]


@cache
def printed(name: str) -> Paper:
    assessment = assessed(name)
    made = files(sheets(assessment, ()), HEADER, ("csv",))
    return Paper(
        assessment, {n: list(csv.DictReader(io.StringIO(data.decode()))) for n, data in made.items()}
    )


@pytest.fixture(params=PRESETS)
def paper(request: pytest.FixtureRequest) -> Paper:
    return printed(request.param)


def plugs(rows: list[Row]) -> dict[tuple[str, str], str]:
    """Line and end → the one place that its label names."""
    assert max(Counter((row["line"], row["end"]) for row in rows).values()) == 1
    return {(row["line"], row["end"]): row["plug into"] for row in rows}


def bare(text: str) -> str:
    """`A1.1`, `C1 to SUB-L1`, without what is marked there."""
    return re.sub(r" (bridged|STOP:|FAILED|CROSSED:|SPLIT|\d+ CORES).*", "", text)


def on_each_pair(text: str) -> dict[int, tuple[int, str, set[str]]]:
    """Pair at the far end → pair at the near end, what drives it (`-A1.1` where reversed), the sections on it."""
    found = {}
    for part in text.split("; "):
        if part.startswith(("STOP: ", "MUTED: ")):
            continue
        told = re.fullmatch(r"(\d+)(?: from (\d+))?: (\S+)(.*) → (.*)", part)
        assert told is not None, part
        far, near, channel, rest, sections = told.groups()
        sign = "-" if "REVERSED" in rest else ""
        on_it = (
            set() if sections == "not used" or sections.startswith("on to ") else set(sections.split(" and "))
        )
        found[int(far)] = (int(near or far), sign + channel, on_it)
    return found


def followed(lines: dict[str, Row], patch: dict[tuple[str, int], str], line: str, far: int) -> str:
    """What drives a pair of a line's far end, walked back by the paper from plug to plug to the panel."""
    source = lines[line]["from"]
    near = on_each_pair(lines[line]["on each pole pair"]).get(far, (far, "", set()))[0]
    if not source.startswith("link of "):
        return patch.get((source, near), "not wired")
    before = next(row["line"] for row in lines.values() if row["to"] == source.removeprefix("link of "))
    return followed(lines, patch, before, near)


def test_every_plug_has_one_place_to_go_and_both_labels_agree_with_the_line_sheet(paper: Paper) -> None:
    ends = plugs(paper.rows["labels.csv"])
    lines = {row["line"]: row for row in paper.rows["lines.csv"]}
    assert set(ends) == {(line, end) for line in lines for end in ("near end", "far end")}
    for name, row in lines.items():
        assert (ends[name, "near end"], ends[name, "far end"]) == (row["from"], row["to"])
    assert max(Counter(row["to"] for row in lines.values()).values()) == 1
    for row in paper.rows["labels.csv"]:
        other = ends[row["line"], "far end" if row["end"] == "near end" else "near end"]
        assert f"other end: {other}" in row["also on the label"].split("; ")


def test_the_panel_names_for_each_socket_the_lines_that_start_there(paper: Paper) -> None:
    told = {
        (row["socket"], bare(line))
        for row in paper.rows["patch.csv"]
        for line in re.split(r", (?=\S+ to )", row["line"])
        if line != "–"
    }
    assert told == {
        (row["from"], f"{row['line']} to {row['to']}")
        for row in paper.rows["lines.csv"]
        if not row["from"].startswith("link of ")
    }


def test_the_rig_wired_from_paper_plays_every_section_as_the_engine_says(paper: Paper) -> None:
    """From panel to section on paper alone; the engine goes the other way, from the channel outward."""
    patch = {
        (r["socket"], int(r["pair"])): ("-" if r["polarity"] == "REVERSED" else "") + bare(r["channel"])
        for r in paper.rows["patch.csv"]
    }
    lines = {row["line"]: row for row in paper.rows["lines.csv"]}
    wired: dict[str, str] = {}
    for name, row in lines.items():
        for far, (_, channel, sections) in on_each_pair(row["on each pole pair"]).items():
            assert followed(lines, patch, name, far) == channel
            wired |= {f"{row['to']}.{section}": channel for section in sections}
    engine = paper.assessment.sections
    assert {section: channel.lstrip("-") for section, channel in wired.items()} == {
        section: result.patched for section, result in engine.items() if result.patched
    }
    inverted = {feed.id for feed in paper.assessment.index.rig.feeds if feed.polarity == "inverted"}
    for section, channel in wired.items():
        feed = paper.assessment.channels[channel.lstrip("-")].feed
        assert engine[section].polarity == (-1 if channel.startswith("-") != (feed in inverted) else 1)


def test_every_pair_that_drives_something_is_on_the_meter_check_sheet_with_what_should_sound(
    paper: Paper,
) -> None:
    test = {(row["line"], int(row["pair"])): row for row in paper.rows["meter.csv"]}
    for line in paper.rows["lines.csv"]:
        for near, _, sections in on_each_pair(line["on each pole pair"]).values():
            row = test[line["line"], near]
            assert bare(row["from"]) == line["from"]
            heard = row["should be heard"].split(", ")
            assert {f"{line['to']}.{section}" for section in sections} <= {*heard}
