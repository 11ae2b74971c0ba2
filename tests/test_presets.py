"""The shipped presets: that they load, are what their notes say, and that the mends the notes tell do mend."""

import re
import tomllib
from pathlib import Path

import pytest
from msgspec.structs import replace

from rackwright.engine.assess import Assessed, assess
from rackwright.model.rig import Amplifier, Channel, Rig
from rackwright.model.rules import check
from rackwright.store.rigfile import load

FOLDER = Path(__file__).parents[1] / "presets"
NAMES = ("small-room", "hall", "outdoor-stage")
STOCKED = {"5 m", "10 m", "15 m", "20 m", "25 m", "30 m"}


@pytest.fixture(scope="module")
def rigs() -> dict[str, Rig]:
    return {name: load(FOLDER / f"{name}.toml") for name in NAMES}


@pytest.fixture(scope="module")
def assessments(rigs: dict[str, Rig]) -> dict[str, Assessed]:
    return {name: assess(rig) for name, rig in rigs.items()}


def told(assessed: Assessed, *severities: str) -> set[str]:
    return {finding.code for finding in assessed.findings if finding.severity in severities}


def with_amplifier(rig: Rig, changed: Amplifier) -> Rig:
    racks = tuple(
        replace(rack, amplifiers=tuple(changed if a.id == changed.id else a for a in rack.amplifiers))
        for rack in rig.racks
    )
    return replace(rig, racks=racks)


def amplifier(rig: Rig, name: str) -> Amplifier:
    return next(a for a in rig.amplifiers() if a.id == name)


def test_the_shipped_presets_are_these() -> None:
    assert {path.stem for path in FOLDER.glob("*.toml")} == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
class TestEach:
    def test_keeps_the_rules(self, name: str, rigs: dict[str, Rig]) -> None:
        assert check(rigs[name]) == ()

    def test_takes_its_equipment_from_the_catalogue(self, name: str) -> None:
        assert "equipment" not in tomllib.loads((FOLDER / f"{name}.toml").read_text("utf-8"))

    def test_says_that_it_is_invented(self, name: str, rigs: dict[str, Rig]) -> None:
        assert rigs[name].notes.strip().startswith("Invented for the demo.")

    def test_has_the_sections_its_notes_claim(
        self, name: str, rigs: dict[str, Rig], assessments: dict[str, Assessed]
    ) -> None:
        claimed = re.search(r"(\d+) loudspeaker sections", rigs[name].notes)
        assert claimed is not None
        assert len(assessments[name].sections) == int(claimed[1])

    def test_drives_every_section(self, name: str, assessments: dict[str, Assessed]) -> None:
        assert [s.id for s in assessments[name].sections.values() if s.channel is None] == []

    def test_feeds_no_high_section_from_below_its_lowest(
        self, name: str, rigs: dict[str, Rig], assessments: dict[str, Assessed]
    ) -> None:
        assessed = assessments[name]
        starts = {feed.id: feed.band[0].value for feed in rigs[name].feeds}
        cabinets = {cabinet.id: cabinet.model for cabinet in rigs[name].cabinets}
        models = {model.id: model for model in rigs[name].equipment.loudspeakers}
        highs = [s for s in assessed.sections.values() if s.kind == "high"]
        assert highs
        for high in highs:
            lowest = models[cabinets[high.cabinet]].section(high.section).lowest.value
            assert starts[assessed.channels[high.channel or ""].feed] >= lowest, high.id

    def test_runs_lines_of_stocked_lengths(self, name: str, rigs: dict[str, Rig]) -> None:
        assert {str(line.length) for line in rigs[name].lines} <= STOCKED

    def test_names_every_finding_it_shows(
        self, name: str, rigs: dict[str, Rig], assessments: dict[str, Assessed]
    ) -> None:
        assert [c for c in told(assessments[name], "stop", "warn", "note") if c not in rigs[name].notes] == []


@pytest.mark.parametrize("name", ["small-room", "hall"])
def test_room_and_hall_are_sound(name: str, assessments: dict[str, Assessed]) -> None:
    """Neither names a stop or a warn, so neither shows one."""
    assert told(assessments[name], "stop", "warn") == set()


def test_the_hall_gives_every_sub_woofer_a_channel_and_a_run(
    rigs: dict[str, Rig], assessments: dict[str, Assessed]
) -> None:
    woofers = [s for s in assessments["hall"].sections.values() if s.cabinet.startswith("SUB-")]
    assert len({s.channel for s in woofers}) == len(woofers) == 16
    assert {line.source for line in rigs["hall"].lines}.isdisjoint(c.id for c in rigs["hall"].cabinets)


def test_damping_of_a_hall_sub_worked_by_hand(assessments: dict[str, Assessed]) -> None:
    """8 Ω at the end of 10 m of 2.5 mm², 30 °C, two mated connectors, an amplifier of 8 Ω / 500.

    7.98 Ω/km: IEC 60228, class 5, plain copper. 0.00393 per kelvin: IEC 60028. Worked here, not by the engine.
    """
    loop = 2 * 10 * 7.98e-3 * (1 + 0.00393 * (30 - 20))
    expected = 8 / (loop + 4 * 0.002 + 8 / 500)
    assert assessments["hall"].sections["SUB-L1.upper"].damping_factor == pytest.approx(expected, rel=1e-6)


def test_the_stage_shows_each_severity(assessments: dict[str, Assessed]) -> None:
    assert all(assessments["outdoor-stage"].count(severity) for severity in ("stop", "warn", "note"))


def test_the_stage_places_its_findings_where_the_notes_say(assessments: dict[str, Assessed]) -> None:
    stage = assessments["outdoor-stage"]
    places: dict[str, set[str]] = {}
    for finding in stage.findings:
        if finding.severity != "note":
            places.setdefault(finding.code, set()).add(finding.at.partition(".")[0])
    assert places == {
        "load-below-minimum": {"A13"},
        "short-of-power": {"MON-10", "MON-11", "MON-12"},
        "circuit-heavy-overload": {"P7"},
        "damping-low": {"SUB-L9", "SUB-L10"},
        "cable-loss": {"SUB-L10", "OUT-L1", "OUT-L2"},
        "touch-voltage": {"A14"},
    }


@pytest.mark.parametrize(("name", "circuit"), [("A9", "P6"), ("A7", "P3")])
def test_moving_one_amplifier_mends_the_overloaded_circuit_of_the_stage(
    name: str, circuit: str, rigs: dict[str, Rig], assessments: dict[str, Assessed]
) -> None:
    rig = rigs["outdoor-stage"]
    mended = assess(with_amplifier(rig, replace(amplifier(rig, name), circuit=circuit)))
    before = {(f.code, f.at) for f in assessments["outdoor-stage"].findings}
    after = {(f.code, f.at) for f in mended.findings}
    assert before - after == {("circuit-heavy-overload", "P7")}
    assert after <= before


def test_the_spare_channel_mends_the_stop_of_the_stage(rigs: dict[str, Rig]) -> None:
    rig = rigs["outdoor-stage"]
    spare = amplifier(rig, "A13")
    rig = with_amplifier(rig, replace(spare, channels=(*spare.channels[:3], Channel(feed="mix6"))))
    racks = tuple(
        replace(
            rack, sockets=tuple(replace(s, poles=("A13.4",)) if s.id == "R5-12" else s for s in rack.sockets)
        )
        for rack in rig.racks
    )
    mended = assess(replace(rig, racks=racks))
    assert told(mended, "stop") == set()
    assert "short-of-power" not in told(mended, "warn")


def test_a_run_of_its_own_mends_the_chain_of_the_stage(rigs: dict[str, Rig]) -> None:
    rig = rigs["outdoor-stage"]
    lines = tuple(
        replace(line, source="R1-10", cable="flex-4x4", length=type(line.length).parse("20 m"))
        if line.to == "SUB-L10"
        else line
        for line in rig.lines
    )
    assert "damping-low" not in told(assess(replace(rig, lines=lines)), "warn")
