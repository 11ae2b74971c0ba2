"""`check`: what it prints, its status, and the report for programs."""

import json
from typing import Any

import pytest
from msgspec.structs import replace

from engine_working import odd
from rackwright.engine.cautions import PLANNING
from rackwright.store.rig_file import save
from rackwright.units import Level
from rackwright.units.typography import spelled
from shipped import assessed, preset

from .conftest import Run

PRESETS = ("small-room", "hall", "outdoor-stage", "faults")

# The keys of the report, in their order, as agreed in the description of the report's format.
REPORT = ["format", "rig", "findings", "channels", "sections", "circuits", "racks"]
KEYS = {
    "findings": ["code", "severity", "at", "message", "advice"],
    "channels": [
        "id", "feed", "state", "load_nominal_ohm", "load_terminal_ohm", "load_minimum_ohm", "voltage_v", "current_a",
        "power_w", "open_voltage_v", "limiter_rms_v", "limiter_peak_v", "limiter_rms_dbu", "limiter_peak_dbu",
        "limiter_peak_sine_dbu",
    ],
    "sections": [
        "cabinet", "section", "channel", "polarity", "voltage_v", "power_w", "loss_db", "source_resistance_ohm",
        "damping_factor", "headroom_db", "q_total", "q_total_ideal", "ripple_db",
    ],
    "circuits": ["id", "idle_a", "programme_a", "heavy_a", "breaker_a", "loading", "drop_percent", "inrush_a"],
    "racks": ["id", "heat_w", "weight_kg", "units_used", "units"],
}  # fmt: skip


def report(run: Run, rig: str) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(run("check", rig, "--json").out)
    return told


def in_order(keys: list[str], wanted: list[str]) -> bool:
    return [key for key in keys if key in wanted] == wanted


class TestTheReport:
    @pytest.mark.parametrize("name", PRESETS)
    def test_has_every_key_in_its_order(self, run: Run, name: str) -> None:
        told = report(run, name)
        assert in_order(list(told), REPORT)
        for part, keys in KEYS.items():
            assert told[part] or (part, name) == ("findings", "small-room")
            for entry in told[part]:
                assert in_order(list(entry), keys), (part, entry)

    def test_holds_numbers_and_names(self, run: Run) -> None:
        told = report(run, "faults")
        assert told["format"] == 1
        assert told["rig"] == "Faults on purpose"
        section = next(s for s in told["sections"] if s["cabinet"] == "SUB-L1")
        names = {"cabinet": "SUB-L1", "section": "upper", "channel": "A1.1"}
        assert {key: section[key] for key in names} == names
        assert all(isinstance(section[key], int | float) for key in KEYS["sections"][3:])
        assert {finding["severity"] for finding in told["findings"]} == {"stop", "warn", "note"}

    def test_has_full_precision(self, run: Run) -> None:
        power = report(run, "hall")["channels"][0]["power_w"]
        assert power != float(f"{power:.6g}")

    def test_of_a_section_nothing_drives_is_null(self, run: Run, rig_file: str) -> None:
        silent = next(s for s in report(run, rig_file)["sections"] if s["cabinet"] == "B7")
        assert all(silent[key] is None for key in KEYS["sections"][2:])

    def test_of_a_channel_with_no_load_is_null(self, run: Run) -> None:
        spare = next(c for c in report(run, "hall")["channels"] if c["id"] == "A11.4")
        assert spare["load_nominal_ohm"] is spare["power_w"] is spare["limiter_rms_dbu"] is None
        assert spare["open_voltage_v"] > 0


@pytest.fixture
def rig_file(run: Run) -> str:
    """A rig file of everything, in the working folder."""
    with open("odd.toml", "w", encoding="utf-8") as file:
        file.write(odd.RIG)
    return "odd.toml"


class TestTheStatus:
    @pytest.mark.parametrize("words", [(), ("--json",)])
    @pytest.mark.parametrize(
        ("name", "status"), [("small-room", 0), ("hall", 0), ("outdoor-stage", 0), ("faults", 2)]
    )
    def test_is_that_of_the_gravest_finding(
        self, run: Run, name: str, status: int, words: tuple[str, ...]
    ) -> None:
        assert run("check", name, *words).status == status

    def test_of_a_warn_is_1(self, run: Run) -> None:
        """The hall with a target of 22, its least damping of a low section being 21.5."""
        hall = preset("hall")
        save(replace(hall, targets=replace(hall.targets, damping_factor=22.0)), "strict.toml")
        told = report(run, "strict.toml")
        assert {f["severity"] for f in told["findings"]} == {"warn", "note"}
        assert run("check", "strict.toml").status == 1


class TestThePage:
    def test_tells_a_figure_apart_from_its_limit(self, run: Run) -> None:
        """Of a loss 0.01 mdB over its target three digits would read as the target."""
        loss = assessed("small-room").sections["SUB-R1.left"].loss or 0.0
        target = Level.parse(f"{loss - 1e-5:.6f} dB")
        rig = preset("small-room")
        save(replace(rig, targets=replace(rig.targets, cable_loss=target)), "near.toml")
        (row,) = [
            line.split()
            for line in run("check", "near.toml").out.splitlines()
            if "SUB-R1.left " in line and " A1.3 " in line
        ]
        assert target.value < float(row[5]) < target.value + 2e-5
        assert row[4] == "+0.4"  # headroom, as the racks and the results tell it

    def test_tells_channels_sections_circuits_racks_and_findings(self, run: Run) -> None:
        out = run("check", "outdoor-stage").out
        headings = ["Channels at full power", "Sections", "Circuits", "Racks", "Findings"]
        places = [out.index(f"\n{heading}") for heading in headings]
        assert places == sorted(places)

    def test_tells_a_circuit_s_figures(self, run: Run) -> None:
        out = run("check", "outdoor-stage").out
        circuit = next(c for c in report(run, "outdoor-stage")["circuits"] if c["id"] == "P7")
        words = next(line.split() for line in out.splitlines() if line.startswith("P7 "))
        shown = [f"{circuit[key]:.3g}" for key in ("programme_a", "heavy_a")]
        shares = [f"{100 * circuit[key]:.3g}" for key in ("loading", "loading_heavy")]
        assert words[5:10] == [*shown, *shares, f"{circuit['drop_percent']:.3g}"]

    def test_tells_every_finding_or_where_it_is(self, run: Run) -> None:
        out = " ".join(run("check", "faults").out.split())
        for finding in report(run, "faults")["findings"]:
            assert finding["at"] in out
            said = spelled(" ".join(finding["message"].split()))
            assert finding["severity"] == "note" or said in out or said.replace(finding["at"], "each") in out

    def test_tells_what_is_the_same_of_several_places_once(self, run: Run) -> None:
        """Four channels of one model with exposed posts."""
        out = " ".join(run("check", "faults").out.split())
        assert out.count("warn A1.1, A1.2, A2.1 and A2.2 Voltage on exposed posts of each reaches 105 V") == 1
        assert out.count("on exposed posts") == 1

    def test_folds_notes_alike(self, run: Run) -> None:
        """Four chains of lows: the first in full, three by their places."""
        out = " ".join(run("check", "outdoor-stage").out.split())
        chains = [f for f in report(run, "outdoor-stage")["findings"] if f["code"] == "lows-chained"]
        assert len(chains) == 4
        assert chains[0]["message"] in out
        assert f"And 3 more like it: {', '.join(f['at'] for f in chains[1:])}." in out
        assert chains[1]["message"] not in out

    @pytest.mark.parametrize("name", PRESETS)
    def test_ends_with_verdict_and_caution(self, run: Run, name: str) -> None:
        *_, verdict, last = run("check", name).out.splitlines()
        counts = {
            "small-room": "0 stops, 0 warnings, 0 notes. No problems found.",
            "hall": "0 stops, 0 warnings, 1 note.",
            "faults": "3 stops, ",
        }
        assert verdict.startswith(counts.get(name, "0 stops, 0 warnings, "))
        assert last == PLANNING

    def test_shows_hot_coils_beside_cold_ones(self, run: Run) -> None:
        out = run("check", "small-room", "--coil", "302 degF").out
        assert "voice coils at 302 degF" in out
        hot = [line.split() for line in out.partition("W hot")[2].splitlines() if line.startswith("SUB-")]
        assert all(float(line[2]) < float(line[1]) for line in hot)
        assert len(hot) == 4

    def test_shows_what_rests_on_clean_contacts_and_the_levels_of_each_feed(self, run: Run) -> None:
        out = run("check", "small-room", "--worn").out
        worn = out.partition("Sections with worn contacts")[2].partition("Levels at 1 m")
        found = [line.split() for line in worn[0].splitlines() if line.startswith(("SUB-", "TOP-"))]
        assert len(found) == 8
        assert all(
            float(damping) > float(worse) and float(loss) < float(more)
            for _, damping, worse, loss, more, _ in found
        )
        assert "sub-double-15" in worn[2]

    def test_names_what_is_silent(self, run: Run, rig_file: str) -> None:
        out = run("check", rig_file).out
        assert any(line.split()[:2] == ["B7.low", "silent:"] for line in out.splitlines())
