"""`circuits`: what the mains carry, what to move, and the rearranged rig written out."""

import json
import os
from pathlib import Path

import pytest

from engine_working import odd
from rackwright.cli.circuits import lasting
from rackwright.engine import mains, recovery
from rackwright.engine.assess import assess
from rackwright.engine.cautions import PLANNING
from rackwright.model.rig import Rig
from rackwright.store import presets
from rackwright.store.rig_file import load, save
from rackwright.store.safe.file_lock import Lock, acquire
from shipped import assessed, preset

from .conftest import Run


def circuit_of(rig: Rig) -> dict[str, str]:
    return {amplifier.id: amplifier.circuit for amplifier in rig.amplifiers()}


def codes(rig: Rig) -> set[tuple[str, str]]:
    return {(finding.code, finding.at) for finding in assess(rig).findings}


FAULTS = presets.shipped_folder() / "faults.toml"
OVERLOAD = ("circuit-heavy-overload", "P1")


class TestThePage:
    def test_tells_what_trips_when_and_why(self, run: Run) -> None:
        told = run("circuits", "faults", "--fewest")
        assert told.status == 0
        row = next(line for line in told.out.splitlines() if line.startswith("P1 "))
        assert "1 s to 1 h" in row
        assert row.endswith("A1 A2 A3")
        assert "P1 driven hard, 23.8 A on D 16 A: its breaker trips within an hour" in told.out
        assert "IEC 60898-1, from memory" in told.out

    def test_ends_with_the_caution(self, run: Run) -> None:
        assert run("circuits", "hall").out.splitlines()[-1] == PLANNING

    def test_tells_phases_and_generator(self, run: Run) -> None:
        out = run("circuits", "outdoor-stage", "--fewest").out
        supply = assessed("outdoor-stage").supply
        assert f"Generator {supply.generator / 1000:.3g} kVA: {100 * supply.generator_loading:.3g} %" in out
        assert [line.split()[0] for line in out.partition("\nSupply\n")[2].splitlines()[1:5]] == [
            "L1",
            "L2",
            "L3",
            "all",
        ]

    def test_tells_an_order_to_switch_on_where_all_at_once_is_too_much(self, run: Run) -> None:
        """70 A rms of A2 with 28 A of A1 on a B breaker of 20 A, whose band begins at 60 A (IEC 60898-1, from memory)."""
        text = odd.RIG.replace('curve = "D"', 'curve = "B"').replace(
            "unit = 3\n", 'unit = 3\ncircuit = "P1"\n'
        )
        text = text.replace('inrush = "70 A"\n', 'inrush = "70 A"\ninrush_kind = "rms"\n')
        Path("odd.toml").write_text(text, "utf-8")
        out = run("circuits", "odd.toml").out
        feeds = out.partition("Supply cables and switch-on order")[2]
        row = next(line for line in feeds.splitlines() if line.startswith("P1 "))
        assert row.endswith("A1; A2: too much alone")

    def test_says_where_there_is_nothing_to_arrange(self, run: Run) -> None:
        Path("bare.toml").write_text('format = 1\nname = "Bare"\n', "utf-8")
        told = run("circuits", "bare.toml")
        assert told.status == 0
        assert "There are no circuits to arrange on" in told.out

    @pytest.mark.parametrize(
        ("over", "words"),
        [(0.9, "within rating"), (1.1, "1 h or more"), (1.2, "1 s or more"), (1.5, "1 s to 1 h"), (3, "0.1 s to 1 min"), (7, "up to 1 min"), (20, "trips at once")],
    )  # fmt: skip
    def test_tells_how_long_a_breaker_lasts(self, over: float, words: str) -> None:
        """Conventional currents of IEC 60898-1, from memory: 1.13 held for an hour, 1.45 tripped within one."""
        assert lasting(mains.endurance(16 * over, 16, "C", "iec")) == words

    def test_of_a_breaker_that_may_hold_or_trip_at_once_no_time_is_told(self) -> None:
        """UL 489, from memory: nothing between the rating and 1.35 times it."""
        assert lasting(mains.endurance(1.2 * 16, 16, "C", "us")) == "may trip"

    def test_adds_no_amperes_of_several_phases(self, run: Run) -> None:
        row = next(line for line in run("circuits", "hall").out.splitlines() if line.startswith("all "))
        assert row.split()[1:3] == ["-", "-"]
        supply = json.loads(run("check", "hall", "--json").out)["supply"]
        assert [supply[f"{duty}_a"] for duty in ("idle", "programme", "heavy")] == [None] * 3
        assert supply["neutral_harmonic_a"] is None
        assert supply["neutral_a"] == assessed("hall").supply.neutral


HALL = presets.shipped_folder() / "hall.toml"


class TestADeadCircuit:
    @pytest.fixture
    def rig(self) -> Rig:
        """The hall with P2 dead, as a file; A3 and A4 hang on it."""
        text = HALL.read_text("utf-8").replace('id = "P2", phase', 'id = "P2", state = "failed", phase')
        Path("dead.toml").write_text(text, "utf-8")
        return load("dead.toml")

    def test_is_given_nothing_and_its_cabinets_play_again(self, run: Run, rig: Rig) -> None:
        out = run("circuits", "dead.toml", "--apply", "new.toml").out
        before, after = assess(rig), assess(load("new.toml"))
        assert any(section.channel is None for section in before.sections.values())
        assert all(section.channel for section in after.sections.values())
        assert after.circuits["P2"].amplifiers == ()
        rows = [line for line in out.splitlines() if line.startswith("P2 ")]
        assert "failed" in rows[0]
        assert rows[1].endswith("-")
        assert "Fixes circuit-failed (stop) at P2" in out
        assert "Without power, counted as if plugged in elsewhere: A3 A4." in out

    def test_is_left_for_circuits_within_reach(self, run: Run, rig: Rig) -> None:
        run("circuits", "dead.toml", "--apply", "new.toml")
        before, after = circuit_of(rig), circuit_of(load("new.toml"))
        moved = {name for name in before if before[name] != after[name]}
        assert moved >= {"A3", "A4"}
        index = assess(rig).index
        for name in moved:
            assert after[name] in (index.amplifiers[name].reaches or index.rack_of[name].reaches)


class TestApply:
    @pytest.mark.parametrize("words", [(), ("--fewest",)])
    def test_mends_the_overload(self, run: Run, words: tuple[str, ...]) -> None:
        assert OVERLOAD in codes(preset("faults"))
        told = run("circuits", "faults", *words, "--apply", "mended.toml")
        assert told.status == 0
        assert "Wrote:\n  mended.toml" in told.out
        assert OVERLOAD not in codes(load("mended.toml"))

    def test_moves_what_it_says_and_changes_nothing_else(self, run: Run) -> None:
        out = run("circuits", "faults", "--fewest", "--apply", "mended.toml").out
        table = out.partition("\nstep  ")[2].partition("\n\n")[0].splitlines()[1:]
        said = {name: (source, to) for _, name, source, to, *_ in map(str.split, table)}
        before, after = circuit_of(preset("faults")), circuit_of(load("mended.toml"))
        assert {name: (before[name], after[name]) for name in before if before[name] != after[name]} == said
        assert len(run("diff", "faults", "mended.toml").out.splitlines()) == len(said)

    def test_takes_few_moves_where_asked(self, run: Run) -> None:
        """One of the three amplifiers on P1 has to go: one move is enough, as the preset's notes say."""
        run("circuits", "faults", "--fewest", "--apply", "mended.toml")
        before, after = circuit_of(preset("faults")), circuit_of(load("mended.toml"))
        assert sum(before[name] != after[name] for name in before) == 1

    def test_writes_over_the_rig_s_own_file_and_keeps_its_comments(self, run: Run) -> None:
        Path("show.toml").write_text(FAULTS.read_text("utf-8"), "utf-8")
        told = run("circuits", "show.toml", "--fewest", "--apply", "./show.toml")
        assert told.status == 0
        assert OVERLOAD not in codes(load("show.toml"))
        assert "show.before-save.toml" in told.out
        assert Path("show.before-save.toml").read_text("utf-8") == FAULTS.read_text("utf-8")

    @pytest.mark.parametrize("rig", ["faults", "show.toml"])
    def test_never_writes_over_another_file(self, run: Run, rig: str) -> None:
        Path("show.toml").write_text(FAULTS.read_text("utf-8"), "utf-8")
        Path("other.toml").write_text("mine", "utf-8")
        told = run("circuits", rig, "--apply", "other.toml")
        assert (told.status, told.out) == (3, "")
        assert "exists already and is not touched" in told.err
        assert Path("other.toml").read_text("utf-8") == "mine"

    def test_never_writes_over_a_preset_that_was_not_named_as_a_file(self, run: Run) -> None:
        before = FAULTS.read_bytes()
        assert run("circuits", "faults", "--apply", str(FAULTS)).status == 3
        assert FAULTS.read_bytes() == before

    def test_never_writes_through_a_dangling_link(self, run: Run) -> None:
        os.symlink("nowhere.toml", "link.toml")
        assert run("circuits", "faults", "--fewest", "--apply", "link.toml").status == 3
        assert not Path("nowhere.toml").exists()

    def test_leaves_a_rig_alone_that_is_open_elsewhere(self, run: Run) -> None:
        Path("show.toml").write_text(FAULTS.read_text("utf-8"), "utf-8")
        lock = acquire("show.toml")
        assert isinstance(lock, Lock)
        told = run("circuits", "show.toml", "--fewest", "--apply", "show.toml")
        assert (told.status, told.out) == (3, "")
        assert "show.toml is open" in told.err
        lock.release()
        assert run("circuits", "show.toml", "--fewest", "--apply", "show.toml").status == 0

    def test_says_where_it_can_t_write(self, run: Run) -> None:
        told = run("circuits", "faults", "--fewest", "--apply", "no-such-folder/new.toml")
        assert (told.status, told.out) == (3, "")
        assert "there is no such folder" in told.err

    def test_of_a_rig_with_no_circuits_says_so(self, run: Run) -> None:
        Path("bare.toml").write_text('format = 1\nname = "Bare"\n', "utf-8")
        told = run("circuits", "bare.toml", "--apply", "new.toml")
        assert (told.status, told.out) == (3, "")
        assert not Path("new.toml").exists()


@pytest.mark.parametrize("tonight", [False, True])
def test_a_rearrangement_during_a_night_stays_for_good_or_until_the_return(run: Run, tonight: bool) -> None:
    before = preset("faults")
    found = recovery.recover(before, ["A1.1"], proof=False)
    taken = recovery.take(found.broken.index.rig, found.failed, found.best.moves, found.best.title)
    save(taken, "show.toml")
    done = run("circuits", "show.toml", "--apply", "show.toml", *(["--tonight"] if tonight else []))
    assert ("For tonight: the return undoes it." if tonight else "For good: it stays after") in done.out
    there = load("show.toml")
    assert circuit_of(there) != circuit_of(taken)
    returned = recovery.go_back(recovery.repair(there, ["A1.1"]))
    assert circuit_of(returned) == circuit_of(before if tonight else there)


def test_only_what_the_crew_plugs_in_a_night_can_be_for_tonight(run: Run) -> None:
    refused = run("circuits", "faults", "--apply", "new.toml", "--tonight")
    assert (refused.status, "Nothing is failed or changed tonight" in refused.err) == (64, True)
    save(recovery.mark(preset("hall"), ["A9.1"]), "show.toml")
    Path("in.csv").write_text("cable,length (m),count\nflex-4x2.5,10,4\n", encoding="utf-8")
    refused = run("import", "in.csv", "--into", "show.toml", "--dry-run", "--tonight")
    assert (refused.status, "Only what the crew plugs" in refused.err) == (64, True)
    assert run("import", "in.csv", "--into", "show.toml", "--dry-run").status == 0
