"""The journal against the kill signal: whatever ends a session, the next one gets the rig as it was at the last key."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import rackwright
from model.rigs import RIG
from rackwright.model.rig import Rig
from rackwright.store import rig_file
from rackwright.store.home import VARIABLE
from rackwright.store.safe.journal import Recoverable, recoverable

from .edits import rigs_of

PLACES = [Path(rackwright.__file__).parents[1], Path(__file__).parents[1]]


def deaths(tmp_path: Path, way: str, rigs: int, *more: str) -> list[list[str]]:
    """The marks of each victim of that way to die, run in the folders 0, 1, … of `tmp_path`."""
    start = tmp_path / "start.toml"
    rig_file.save(RIG, start)
    done = subprocess.run(
        [sys.executable, "-m", "store_session.victims", way, tmp_path, start, "7", str(rigs), *more],
        env=os.environ | {"PYTHONPATH": os.pathsep.join(map(str, PLACES))},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def left_in(home: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Recoverable, ...]:
    monkeypatch.setenv(VARIABLE, str(home))
    return recoverable()


def last(marks: list[str], word: str) -> int:
    return max((int(mark.split()[1]) for mark in marks if mark.startswith(word)), default=0)


@pytest.mark.parametrize("signal", ["SIGKILL", "SIGHUP", "SIGTERM"])
def test_after_each_step_the_rig_of_that_step_comes_back(signal, tmp_path, monkeypatch):
    rigs = rigs_of(RIG, 7, 10)
    victims = deaths(tmp_path, "after_each_step", 10, signal)
    assert len(victims) == 10
    for number in range(1, 11):
        (found,) = left_in(tmp_path / str(number), monkeypatch)
        assert found.rig() == rigs[number - 1]
        assert not found.owner_alive
        assert (found.path, found.name) == (tmp_path / "venue.toml", rigs[number - 1].name)


def test_each_session_goes_on_from_where_the_one_before_was_killed(tmp_path, monkeypatch):
    rigs = rigs_of(RIG, 7, 8)
    assert [marks[0] for marks in deaths(tmp_path, "one_life_after_another", 8)] == [
        f"found {number}" for number in range(8)
    ]
    (found,) = left_in(tmp_path / "one", monkeypatch)
    assert found.rig() == rigs[-1]


def test_killed_at_any_moment_the_last_rig_or_the_one_being_written_comes_back(tmp_path, monkeypatch):
    rigs = rigs_of(RIG, 7, 12)
    victims = deaths(tmp_path, "at_any_moment", 12, "24")
    for number, marks in enumerate(victims):
        assert_one_of_two(left_in(tmp_path / str(number), monkeypatch), rigs, marks)
    assert len({last(marks, "begun") for marks in victims}) > 5


def test_killed_at_each_call_to_the_system(tmp_path, monkeypatch):
    rigs = rigs_of(RIG, 7, 3)
    victims = deaths(tmp_path, "at_each_call", 3)
    assert victims[-1][-2:] == ["discarded", "exit 0"]
    assert len(victims) > 30
    for number, marks in enumerate(victims):
        left = left_in(tmp_path / str(number), monkeypatch)
        if "discarded" in marks:
            assert left == ()
        elif "discards" in marks:
            assert [found.rig() for found in left] in ([], [rigs[-1]])
        else:
            assert_one_of_two(left, rigs, marks)
        assert not list((tmp_path / str(number)).glob("journal/*.new")), (
            "what was never a journal is cleared away"
        )


def assert_one_of_two(left: tuple[Recoverable, ...], rigs: list[Rig], marks: list[str]) -> None:
    """Only the last rig recorded or the one being recorded is there, and nothing only if nothing had been recorded."""
    done, begun = last(marks, "done"), last(marks, "begun")
    possible = [[rig] for rig in rigs[max(done - 1, 0) : begun]]
    assert [found.rig() for found in left] in possible + ([[]] if done == 0 else [])
