"""A rehearsal in several processes: what it says is the same, and none of them is left."""

import math
import pickle
import subprocess
import sys
from contextlib import suppress

import pytest

from rackwright.engine.assess import assess
from rackwright.engine.recovery import stages
from rackwright.engine.recovery.every_failure import Asked, Rehearser, grouped
from rackwright.model.edits import EditError
from rackwright.workers import Workers

from .test_rehearse import RIG


def told(found):
    """What a rehearsal says in the end of each stage."""
    return {each.stage: each for each in found}


@pytest.fixture(scope="module")
def alone():
    return told(stages(RIG))


@pytest.mark.parametrize("count", [1, 3])
def test_says_the_same_in_however_many_processes(alone, count):
    with Workers(count, soon=0) as several:
        assert told(stages(RIG, answers=several.answers)) == alone
        assert len(several.running) == count


def test_starts_none_for_what_is_soon_done(alone):
    with Workers(2, soon=math.inf) as none:
        assert told(stages(RIG, answers=none.answers)) == alone
        assert not none.running


def test_is_worked_out_here_where_no_process_can_be_started(alone, monkeypatch):
    def refused(*_, **__):
        raise BlockingIOError

    monkeypatch.setattr(subprocess, "Popen", refused)
    with Workers(2, soon=0) as none:
        assert told(stages(RIG, answers=none.answers)) == alone


def test_is_worked_out_here_where_the_processes_end(alone):
    with Workers(2, soon=0) as several:
        found = stages(RIG, answers=several.answers)
        next(found)
        for worker in several.running:
            worker.process.kill()
        assert told(found) == alone
        assert not several.running


def test_what_goes_wrong_in_a_process_is_raised_here():
    with Workers(2, soon=0) as several, pytest.raises(EditError, match="NOTHING"):
        [*several.answers(Rehearser.rehearsed, Rehearser(assess(RIG)), [Asked(("NOTHING",), "rack")])]


class LeftError(Exception):
    pass


@pytest.mark.parametrize("count", [0, 2])
def test_is_ended_by_what_is_raised_between_and_leaves_no_process(count):
    begun = []

    def between():
        if begun:
            raise LeftError

    with Workers(count, soon=0) as several:
        found = stages(RIG, between=between, answers=several.answers)
        next(found)
        begun += [several, *(worker.process for worker in several.running)]
        with pytest.raises(LeftError):
            list(found)
    assert len(begun) == 1 + count
    assert all(process.returncode is not None for process in begun[1:])


MANY = 1000


def test_a_process_ends_in_the_midst_of_its_work_once_whoever_asks_has_ended():
    pipe = subprocess.PIPE
    command = (sys.executable, "-m", "rackwright.workers")
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=subprocess.DEVNULL) as process:
        asked = grouped(assess(RIG))[0]
        pickle.dump(RIG, process.stdin)
        for _ in range(MANY):
            pickle.dump((Rehearser.rehearsed, asked), process.stdin)
        process.stdin.flush()
        answered = 0
        with suppress(EOFError, pickle.UnpicklingError):
            while pickle.load(process.stdout).names == asked.names:
                answered += 1
                process.stdin.close()
    assert 0 < answered < MANY
    assert process.returncode == 0
