"""The response sheet: figures as assessed, unlike cabinets by level, and the kick as it is computed."""

import math
import re

import numpy as np
import pytest
from msgspec.structs import replace

import rigs
from rackwright.console.rows.results import rows
from rackwright.console.terminal.glyphs import UNICODE
from rackwright.engine import decay
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.levels import levels_by_feed
from rackwright.papers.contents import Given, sheets
from rackwright.papers.document import Drawing, Sheet, Table, Words
from rackwright.papers.drawing import WIDTH
from rackwright.units import Length, Level
from shipped import assessed


def response(assessment: Assessed, given: Given | None = None) -> Sheet:
    (sheet,) = sheets(assessment, (), ("response",), given or Given())
    return sheet


def test_nobody_gets_it_who_did_not_ask() -> None:
    assert "response" not in [sheet.name for sheet in sheets(assessed("small-room"), ())]


def test_every_section_that_sounds_has_its_figures() -> None:
    room = assessed("small-room")
    (table,) = [each for each in response(room).tables() if each.name == "sections"]
    assert [row[0] for row in table.rows] == [s.id for s in room.sections.values() if s.channel]
    for row in table.rows:
        cells = dict(zip(table.heads, row, strict=True))
        assert float(cells["worn"]) < float(cells["DF"])
        assert float(cells["worn dB"]) > float(cells["loss dB"])


def test_unlike_cabinets_on_one_feed_stand_side_by_side_in_level() -> None:
    stage = assessed("outdoor-stage")
    levels = levels_by_feed(stage)
    assert levels
    for feed, playing in levels.items():
        for each in playing:
            sounding = [
                s
                for s in stage.sections.values()
                if s.channel
                and stage.channels[s.channel].feed == feed
                and s.section == each.section
                and stage.index.cabinets[s.cabinet].model == each.model
            ]
            assert each.number == len(sounding)
            # Sensitivity is for 2.83 V, 1 W into 8 Ω: the level rises with 20·log10 of the voltage.
            most = max(s.voltage or 0.0 for s in sounding)
            assert each.full[1] == pytest.approx(each.sensitivity + 20 * math.log10(most / 2.83))
        assert min(each.under_loudest[0] for each in playing) == pytest.approx(0)


def unlike() -> Assessed:
    """A woofer and a wedge on one feed, the wedge 6 dB more sensitive."""
    made = rigs.rig(
        rigs.amplifier("A1", "full", "full"),
        rigs.socket("S1", "A1.1"),
        rigs.socket("S2", "A1.2"),
        rigs.line("L1", "S1", "C1"),
        rigs.line("L2", "S2", "C2"),
        rigs.cabinet("C1", "woofer"),
        rigs.cabinet("C2", "wedge"),
    )
    for model, level in ((rigs.WOOFER, "94 dB"), (rigs.WEDGE, "100 dB")):
        sections = tuple(replace(s, sensitivity=Level.parse(level)) for s in model.sections)
        made = rigs.changed(made, model.id, sections=sections)
    return assess(made)


def test_the_results_of_a_feed_lay_unlike_cabinets_side_by_side() -> None:
    told = ["".join(text for text, _ in row.parts) for row in rows(unlike(), "full", 60, UNICODE)]
    for name in ("1 × woofer cone", "1 × wedge whole"):
        place = next(at for at, text in enumerate(told) if name in text)
        assert "Level at 1 m" in told[place + 1]
        assert "Under the loudest" in told[place + 2]


def test_the_processor_sheet_advises_a_capacitor_and_says_what_is_fitted() -> None:
    (sheet,) = sheets(assessed("outdoor-stage"), (), ("processor",))
    (table,) = [each for each in sheet.tables() if each.name == "capacitors"]
    told = {row[0]: row[1:4] for row in table.rows}
    assert told["side-high"] == ("8 Ω", "33.2 µF", "–")  # 1/(2π·600 Hz·8 Ω)
    assert told["delay-high"] == ("16 Ω", "–", "8.2 µF")  # two on a channel: none is advised


def curves(drawing: Drawing) -> list[list[tuple[float, float]]]:
    """The thickest solid line of each plot as points, which is the one as wired."""
    return [
        [(rule.x1, rule.y1) for rule in strip.rules if rule.weight == 0.5][: 400 // 3]
        for strip in drawing.strips[:2]
    ]


def test_the_kick_drawn_is_the_kick() -> None:
    room = assessed("small-room")
    sheet = response(room)
    drawing = next(block for block in sheet.blocks if isinstance(block, Drawing))
    name = re.match(r"(\S+), a kick", drawing.strips[0].texts[0].words)
    assert name is not None
    result = room.sections[name[1]]
    model = result.model
    assert model is not None
    assert model.driver is not None
    assert result.circuit is not None
    low = result.circuit.band[0]
    for points, part in zip(curves(drawing), ("pressure", "motion"), strict=True):
        x, y = np.array(points).T
        time = x / WIDTH * 7 / low
        kick = decay.kick(model.driver, model.dc_resistance.value, result.source_resistance or 0.0, low, time)
        drawn, expected = y.mean() - y, getattr(kick, part)
        assert np.corrcoef(drawn, expected)[0, 1] == pytest.approx(1, abs=1e-6)


def test_a_kick_is_compared_with_the_revision_before_and_says_what_can_be_heard() -> None:
    room = assessed("small-room")
    rig = room.index.rig
    longer = replace(rig, lines=tuple(replace(each, length=Length.parse("60 m")) for each in rig.lines))
    sheet = response(room, Given(before=longer))
    tables = [each for each in sheet.written() if isinstance(each, Table) and each.name.startswith("kick-")]
    assert all("before" in [row[0] for row in table.rows] for table in tables)
    assert all({"ideal source"} <= {row[0] for row in table.rows} for table in tables)
    told = [block.text for block in sheet.blocks if isinstance(block, Words)]
    assert sum("common practice, no source" in text for text in told) >= 2
