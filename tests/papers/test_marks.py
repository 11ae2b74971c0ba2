"""What is wrong stands, in words, on every sheet that names the place; every plug has one length on all sheets."""

import re
from collections.abc import Iterator

import pytest
from hypothesis import given
from msgspec.structs import replace

from rackwright.console.rows import results
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.recovery import fail, recover
from rackwright.model import edits
from rackwright.model.equipment import Assumable
from rackwright.model.lines import Line, Stock
from rackwright.model.racks import Amplifier
from rackwright.model.readings import Reading
from rackwright.model.rig import Rig
from rackwright.papers.contents import sheets
from rackwright.papers.document import Header
from rackwright.papers.pdf import as_pdf
from rackwright.papers.text import as_text
from rackwright.units import Length, LimiterSetting, Temperature, Trim
from shipped import assessed, preset
from strategies import rigs

from .drawn import pages_of

HEADER = Header(rig="R", date="2026-05-01", revision="0")
CARRIED = ("rack", "patch", "lines", "pull", "labels", "meter", "processor", "mains")


def rows(assessment: Assessed, sheet: str, head: str) -> Iterator[dict[str, str]]:
    (made,) = sheets(assessment, (), (sheet,))
    for table in made.tables():
        if head in table.heads:
            yield from (dict(zip(table.heads, row, strict=True)) for row in table.rows)


def in_print(assessment: Assessed, names: tuple[str, ...]) -> dict[str, str]:
    """Title → the words of those sheets, read back from one PDF."""
    made = sheets(assessment, (), names)
    pages = pages_of(as_pdf(made, HEADER))
    return {
        sheet.title: " ".join(" ".join(page for page in pages if page.startswith(sheet.title)).split())
        for sheet in made
    }


def with_lines(rig: Rig, changed: Line) -> Rig:
    return replace(rig, lines=tuple(changed if line.id == changed.id else line for line in rig.lines))


def with_amplifier(rig: Rig, changed: Amplifier) -> Rig:
    racks = tuple(
        replace(rack, amplifiers=tuple(changed if a.id == changed.id else a for a in rack.amplifiers))
        for rack in rig.racks
    )
    return replace(rig, racks=racks)


def test_a_negative_figure_has_a_minus_on_every_sheet_in_every_finding_and_plan() -> None:
    turned = edits.change(preset("small-room"), "A1.1", trim=Trim.parse("-6 dB"))
    set_low = edits.change(turned, "sub", limiter_rms=LimiterSetting.parse("-2 dBu"))
    cold = replace(set_low, supply=replace(set_low.supply, ambient=Temperature.parse("-10 degC")))
    made = recover(cold, ["A1.2"]).plans
    told = [
        *(as_text(sheet, HEADER) for sheet in sheets(assess(cold), ())),
        *(text for each in assess(cold).findings for text in (each.message, each.advice)),
        *(text for plan in made for text in (plan.first, *plan.costs, *(step.words for step in plan.steps))),
    ]
    assert "−6 dB" in " ".join(told)
    assert not [text for text in told if re.search(r"(?<![\w.−–-])-\d", text)]


def test_a_stop_stands_at_its_channel_line_label_and_amplifier_in_print() -> None:
    """Three wedges on one channel, and a crossed lead: read back from the PDF."""
    assessment = assessed("faults")
    assert all("STOP:" in text for text in in_print(assessment, CARRIED).values())
    for row in rows(assessment, "patch", "channel"):
        stopped = row["channel"].split()[0] in ("A3.1", "A4.3", "A4.4")
        assert ("STOP:" in row["channel"]) == stopped, row
    for sheet, head in (("lines", "on each pole pair"), ("labels", "also on the label")):
        for row in rows(assessment, sheet, head):
            assert ("STOP:" in row[head]) == (row["line"] in ("C6", "C7", "C8", "C9")), row


@given(rigs())
def test_every_stop_is_on_every_sheet_it_touches(rig: Rig) -> None:
    assessment = assess(rig)
    for finding in assessment.findings:
        if finding.severity != "stop":
            continue
        reason = finding.code.replace("-", " ")

        def marked(sheet: str, head: str, name: str, reason: str = reason) -> bool:
            cells = [row[head] for row in rows(assessment, sheet, head)]
            named = [cell for cell in cells if cell == name or cell.startswith((f"{name} ", f"{name}\u00a0"))]
            return all("STOP: " in cell and reason in cell for cell in named)

        section = assessment.sections.get(finding.at)
        channel = finding.at if finding.at in assessment.channels else section.patched if section else None
        if channel:
            assert marked("patch", "channel", channel), (finding, "patch")
            told = [row["channels"] for row in rows(assessment, "processor", "set rms dBu")]
            branch = assessment.branches[channel]
            if branch.feed and not branch.second_of_bridge:
                assert any(channel in cell and reason in cell for cell in told), (finding, "processor")
            (hung,) = {b.amplifier.id for b in assessment.branches.values() if b.id == channel}
            on = [
                row["channel and its feed"]
                for row in rows(assessment, "rack", "amplifier")
                if row["amplifier"] == hung
            ]
            assert any(reason in cell for cell in on), (finding, "rack")
            lines = {name for name, runs in assessment.runs.items() for run in runs if run.channel == channel}
            if section:
                lines &= {line.id for line in rig.lines if line.to == section.cabinet}
            for sheet, head in (("lines", "on each pole pair"), ("labels", "also on the label")):
                for row in rows(assessment, sheet, head):
                    assert row["line"] not in lines or reason in row[head], (finding, sheet)
            for row in rows(assessment, "meter", "from"):
                assert row["line"] not in lines or reason in row["from"], (finding, "meter")
            pulled = " ".join(row["for"] for row in rows(assessment, "pull", "for"))
            assert not lines or reason in pulled, (finding, "pull")
        if finding.at == "supply":
            (mains,) = sheets(assessment, (), ("mains",))
            assert any(reason in getattr(block, "text", "") for block in mains.blocks), (finding, "mains")
        if finding.at in assessment.circuits:
            assert marked("mains", "circuit", finding.at), (finding, "mains")
            assert marked("rack", "circuit", finding.at), (finding, "rack")


def test_failed_and_what_is_over_its_breaker_stand_on_every_sheet_that_is_carried() -> None:
    hall = preset("hall")
    dead = assess(fail(hall, ["P2"]))
    for sheet, head in (("rack", "circuit"), ("mains", "circuit"), ("patch", "channel"), ("lines", "on each pole pair"), ("labels", "also on the label"), ("processor", "channels")):  # fmt: skip
        cells = [row[head].replace("\u00a0", " ") for row in rows(dead, sheet, head)]
        assert any("P2 FAILED" in cell for cell in cells), sheet
    broken = assess(fail(hall, ["A1.1"]))
    for sheet, head in (("rack", "channel and its feed"), ("patch", "channel"), ("lines", "on each pole pair"), ("labels", "also on the label"), ("processor", "channels")):  # fmt: skip
        assert any("FAILED" in row[head] for row in rows(broken, sheet, head)), sheet
    over = {
        row["circuit"] for sheet in ("rack", "mains") for row in rows(assessed("faults"), sheet, "circuit")
    }
    assert {cell for cell in over if cell.startswith("P1")} == {"P1 149 % DRIVEN HARD"}


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"poles": (2, 1)}, "CROSSED: 1 from 2, 2 from 1"),
        ({"cores_per_pole": 2}, "2 CORES a pole"),
        ({"source": "R1-2"}, "SPLIT at R1-2"),
    ],
)
def test_crossed_doubled_and_split_lines_are_told_on_label_pull_list_and_line_sheet(
    change: dict[str, object], word: str
) -> None:
    rig = preset("small-room")
    rig = with_lines(rig, replace(rig.lines[0], **change))
    assessment = assess(rig)
    (line,) = (row for row in rows(assessment, "lines", "cable") if row["line"] == "C1")
    assert word in line["cable"].replace("\u00a0", " ")
    labels = [row for row in rows(assessment, "labels", "line") if row["line"] == "C1"]
    assert len(labels) == 2
    assert all(word in row["also on the label"].replace("\u00a0", " ") for row in labels)
    tested = [
        row["from"].replace("\u00a0", " ") for row in rows(assessment, "meter", "from") if row["line"] == "C1"
    ]
    assert tested
    assert all(word in told for told in tested)
    lengths = [row["for"].replace("\u00a0", " ") for row in rows(assessment, "pull", "for")]
    assert any(re.search(rf"\bC1 \([^)]*{word}", told) for told in lengths)
    plain = [row for row in rows(assessment, "labels", "line") if row["line"] == "C4"]
    assert not any(word in row["also on the label"] for row in plain)
    pulled = [row for row in rows(assessment, "pull", "for") if row["cable"].startswith("split lead")]
    assert [(row["cable"], row["length"], row["pull"], row["for"]) for row in pulled] == (
        [("split lead, 4-pole", "1 to 2", "1", "R1-2 (C1, C2)")] if word.startswith("SPLIT") else []
    )


def test_a_bridged_pair_is_one_with_one_input() -> None:
    rig = preset("small-room")
    first = rig.amplifiers()[0]
    rig = with_amplifier(rig, replace(first, mode=("bridged", "dual")))
    (told,) = (
        r["channel and its feed"] for r in rows(assess(rig), "rack", "amplifier") if r["amplifier"] == "A1"
    )
    assert told.replace("\u00a0", " ").split("; ")[0].startswith("1+2 bridged, input 1: sub")
    assert [part[:2] for part in told.split("; ")[1:]] == ["3:", "4:"]


def test_channels_of_different_gain_have_a_row_each() -> None:
    """A bridge has twice the voltage gain: 20·log10 2 = 6.02 dB more. dBu = 20·log10(V / 0.7746) − gain (IEC 60268-2)."""
    rig = preset("small-room")
    first = rig.amplifiers()[0]
    assessment = assess(with_amplifier(rig, replace(first, mode=("bridged", "dual"))))
    subs = [row for row in rows(assessment, "processor", "set rms dBu") if row["feed"] == "sub"]
    assert [row["gain dB"] for row in subs] == ["32", "38"]
    assert [re.findall(r"A1\.\d(?: bridged)?", row["channels"]) for row in subs] == [
        ["A1.3", "A1.4"],
        ["A1.1 bridged"],
    ]
    dual, bridged = (float(row["set rms dBu"].replace("−", "-")) for row in subs)
    assert dual - bridged == pytest.approx(6.02, abs=0.02)
    (sheet,) = sheets(assessment, (), ("processor",))
    assert any("DIFFERENT GAINS on sub" in getattr(block, "text", "") for block in sheet.blocks)


def test_the_results_pane_of_a_feed_tells_each_gain_too() -> None:
    rig = preset("small-room")
    alike = [words for words, _ in results.groups(assess(rig), "sub")]
    apart = dict(
        results.groups(
            assess(with_amplifier(rig, replace(rig.amplifiers()[0], mode=("bridged", "dual")))), "sub"
        )
    )
    assert alike == [""]
    assert list(apart) == ["", "Gain 32 dB", "Gain 38 dB"]
    assert {shown.figure.name for shown in apart["Gain 38 dB"]} >= {"limiter_rms", "limiter_rms_dbu"}


def assuming(*names: Assumable) -> Rig:
    """Small room with these figures of its first amplifier's model assumed."""
    rig = preset("small-room")
    amplifiers = (
        replace(model, assumed=names) if model.id == rig.amplifiers()[0].model else model
        for model in rig.equipment.amplifiers
    )
    return replace(rig, equipment=replace(rig.equipment, amplifiers=tuple(amplifiers)))


def test_an_assumed_gain_is_said_on_every_sheet_that_a_limiter_is_typed_from() -> None:
    rig, told = assuming("gain"), in_print(assess(assuming("gain")), ("cover", "page", "processor"))
    of_it = {a.id for a in rig.amplifiers() if a.model == rig.amplifiers()[0].model}
    for head in ("rms dBu", "set rms dBu"):
        for row in rows(assess(rig), "processor", head):
            mine = re.findall(r"(A\d)\.\d(?: bridged)?( GAIN ASSUMED)?", row["channels"])
            assert mine
            assert all(bool(marked) is (name in of_it) for name, marked in mine)
    for words in told.values():
        assert "ASSUMED, read off no data sheet" in words
        assert "gain 32 dB" in words
    assert "gain assumed" in told["Cover"]
    known = in_print(assess(preset("small-room")), ("cover", "page", "processor", "mains"))
    assert not any("ASSUMED" in words for words in known.values())


def test_assumed_figures_of_the_mains_are_said_where_amplifiers_hang_and_no_gain_is() -> None:
    told = in_print(assess(assuming("gain", "efficiency")), ("mains",))["Mains"]
    assert "efficiency 0.81" in told
    assert "A1\u00a0(R1) ASSUMED" in told or "A1 (R1) ASSUMED" in told
    assert "gain" not in told
    assert "ASSUMED" not in in_print(assess(assuming("gain")), ("mains",))["Mains"]


def test_an_assumed_weight_is_said_at_the_rack_and_on_the_equipment_sheet() -> None:
    told = in_print(assess(assuming("weight")), ("rack", "equipment"))
    assert all("ASSUMED" in words for words in told.values())
    assert not any("ASSUMED" in w for w in in_print(assess(assuming("gain")), ("rack", "equipment")).values())


def lengths(rig: Rig) -> None:
    """The length on the line sheet stands on both labels, and on the pull list beside the line."""
    assessment = assess(rig)
    on_sheet = {row["line"]: row["length"] for row in rows(assessment, "lines", "length")}
    assert on_sheet.keys() == {line.id for line in rig.lines}
    cables = {line.id: line.cable for line in rig.lines}
    for row in rows(assessment, "labels", "line"):
        assert f"{cables[row['line']]}, {on_sheet[row['line']]}" in row["also on the label"]
    pulled = [(row["cable"], row["length"], row["for"]) for row in rows(assessment, "pull", "for")]
    for name, length in on_sheet.items():
        mine = [(at, told) for cable, at, told in pulled if cable == cables[name] and name in told]
        if "owned" in length:
            assert any(f"{name} ({length}" in told and length.endswith(f"owned {at}") for at, told in mine)
        elif "SHORT" in length:
            assert any(length == f"asked {at.removesuffix(' or longer')}, SHORT" for at, _ in mine)
        else:
            assert any(at == length for at, _ in mine)


@given(rigs())
def test_each_plug_has_one_length_everywhere(rig: Rig) -> None:
    lengths(rig)


def test_a_longer_cable_that_stands_in_is_told_with_what_was_asked() -> None:
    stock = (Stock(cable="flex-4x2.5", length=Length.parse("20 m"), count=3),)
    rig = replace(preset("small-room"), stock=stock)
    lengths(rig)
    on_sheet = {row["line"]: row["length"] for row in rows(assess(rig), "lines", "length")}
    assert on_sheet == {
        "C1": "asked 5 m, SHORT",
        "C2": "asked 15 m, owned 20 m",
        "C3": "asked 10 m, owned 20 m",
        "C4": "asked 15 m, owned 20 m",
    }


def test_a_trim_counts_in_the_limiters_and_stands_at_its_channel() -> None:
    """Turned down by 6 dB at its input, a channel's limiter stands 6 dB higher before it: decibels add, shown to three figures."""
    rig = preset("small-room")
    (before, *_) = rows(assess(rig), "processor", "set rms dBu")
    trimmed = assess(edits.change(rig, "A1.1", trim=Trim.parse("-6 dB")))
    sub = [row for row in rows(trimmed, "processor", "set rms dBu") if row["feed"] == "sub"]
    assert len(sub) == 2
    assert "A1.1 trim −6 dB" in sub[0]["channels"]
    assert float(sub[0]["set rms dBu"]) - float(before["set rms dBu"]) == pytest.approx(6, abs=0.1)


def test_a_pair_that_was_found_wrong_is_on_every_sheet_of_its_line() -> None:
    """Where the plug is: panel, lines, labels, pull list, stage plan and signal path."""
    rig = preset("hall")
    found = tuple(Reading(line=rig.lines[4].id, pair=pair, ohms="open") for pair in (1, 2))
    assessment = assess(replace(rig, readings=found))
    told = in_print(assessment, ("rack", "stage", "path", "patch", "lines", "labels", "pull"))
    assert all("PAIRS1,2WRONGINTHEMETERCHECK" in "".join(text.split()) for text in told.values())


def test_what_is_reversed_or_failed_stands_at_the_cabinet_on_the_stage_plan() -> None:
    rig = fail(preset("faults"), ["A1.1"])
    text = in_print(assess(rig), ("stage",))["Stage plan"]
    assert "A1.1 FAILED" in text
    assert "REVERSED" in text
