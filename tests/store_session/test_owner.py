"""Whether a process still lives, told from what was written down about it."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from msgspec.structs import replace

from rackwright.store.safe.process import _started, this_process

pytestmark = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="the system doesn't tell")


def test_this_process_lives_and_is_named():
    assert this_process().lives() is True
    assert f"process {this_process().process}" in str(this_process())


def test_another_process_lives_until_it_is_killed_even_before_it_is_cleared_away():
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as process:
        other = replace(this_process(), process=process.pid, started=_started(process.pid))
        assert other.lives() is True
        process.kill()
        os.waitid(os.P_PID, process.pid, os.WEXITED | os.WNOWAIT)
        assert other.lives() is False
    assert other.lives() is False


@pytest.mark.parametrize(
    ("change", "lives"),
    [({"started": "1"}, False), ({"boot": "another run"}, False), ({"host": "another-machine"}, None)],
)
def test_a_number_used_again_another_run_and_another_machine(change, lives):
    assert replace(this_process(), **change).lives() is lives
