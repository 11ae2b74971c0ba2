"""The commands `recover` and `rehearse`: what they print, what they write, and their exit status."""

import json

import pytest
from msgspec.structs import replace

from rackwright.cli.run import run
from rackwright.engine.assess import assess
from rackwright.engine.recovery import fail, recover
from rackwright.store.home import VARIABLE
from rackwright.store.rig_file import load
from shipped import preset

STEPS = (
    "Turn channel",
    "Re-patch pole pair 1 of socket R3-1 from channel A9.1 to channel A11.4",
)
"""Both feeds are of 65 V on a panel of shrouded contacts: no finger stands between them, so muting is enough."""


@pytest.fixture(autouse=True)
def own_home(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "home"))


@pytest.fixture
def hall():
    return preset("hall")


def test_recover_tells_the_plans_and_the_first_in_full(capsys):
    assert run(["recover", "hall", "--failed", "A9.1"]) == 0
    out = capsys.readouterr().out
    assert "Now silent: MON-1.low." in out
    assert "Plan 1 loses nothing; of the moves searched none is better." in out
    assert "Not searched: a link beyond a link, " in " ".join(out.split())
    assert all(step in " ".join(out.split()) for step in STEPS)


def test_recover_writes_the_rig_after_the_plan_asked_for(capsys, tmp_path, hall):
    target = tmp_path / "after.toml"
    assert run(["recover", "hall", "--failed", "A9.1", "--plan", "2", "--apply", str(target)]) == 0
    told = capsys.readouterr().out.splitlines()
    assert told[told.index("Wrote:") + 1].strip() == str(target)
    written, plan = load(target), recover(hall, ["A9.1"]).plans[1]
    assert replace(written, night=()) == plan.rig
    assert [list_.steps for list_ in written.lists] == [plan.steps]


def test_recover_never_overwrites_another_file(capsys, tmp_path):
    target = tmp_path / "there.toml"
    target.write_text("mine")
    assert run(["recover", "hall", "--failed", "A9.1", "--apply", str(target)]) == 3
    assert target.read_text() == "mine"


def test_recover_reports_as_json(capsys, hall):
    assert run(["recover", "hall", "--failed", "A9.1", "--circuit", "P6", "--json"]) in (0, 1)
    report = json.loads(capsys.readouterr().out)
    assert report["failed"] == ["P6", "A9.1"]
    assert "a link beyond a link" in report["unsearched"]
    broken = assess(fail(hall, ["A9.1", "P6"]))
    assert set(report["lost"]) == {name for name, s in broken.sections.items() if s.channel is None}
    best = report["plans"][0]
    assert best["full"] == (best["silent_weight"] == 0)
    assert best["moves"]
    assert {step["kind"] for step in best["steps"]} >= {"turn down", "move"}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--failed", "A99"], 'Nothing called "A99" can fail'),
        (["--failed", "A1.9"], 'Nothing called "A1.9" can fail'),
        (["--circuit", "A1"], 'There is no circuit "A1"'),
        ([], "Nothing has failed. Name what has"),
        (["--failed", "A9.1", "--plan", "9"], "no plan 9"),
    ],
)
def test_recover_refuses_what_it_can_t_do(capsys, words, told):
    assert run(["recover", "hall", *words]) == 64
    assert told in capsys.readouterr().err


def test_rehearse_tells_what_fails_worst_and_what_would_help(capsys):
    assert run(["rehearse", "small-room", "--quick"]) == 1
    captured = capsys.readouterr()
    lines = captured.out.splitlines()
    first = lines[next(i for i, line in enumerate(lines) if line.startswith("fails")) + 1]
    assert first.split()[:2] == ["rack", "R1"]
    assert "TOP-L1" in captured.out
    assert captured.err == "", "the bar is for a terminal only"


def test_rehearse_needs_nowhere_to_draw_how_far_it_is(capsys, monkeypatch):
    monkeypatch.setattr("sys.stderr", None)  # closed where it was started
    assert run(["rehearse", "small-room", "--quick"]) == 1
    assert "Best plan per failure" in capsys.readouterr().out


def test_rehearse_reports_as_json(capsys):
    assert run(["rehearse", "small-room", "--json", "--quick"]) == 1
    report = json.loads(capsys.readouterr().out)
    assert {failure["kind"] for failure in report["failures"]} == {
        "channel",
        "amplifier",
        "rack",
        "circuit",
        "line",
        "feed",
        "pair",
        "connector",
    }
    assert {entry["cabinet"] for entry in report["silent_for_good"]} == {"TOP-L1", "TOP-R1"}
