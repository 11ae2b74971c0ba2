"""Running the command as a user does, in this process or in one of its own."""

import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

import rackwright
from rackwright.cli import main
from rackwright.store.home import VARIABLE


class Outcome(NamedTuple):
    """What a command left behind."""

    status: int
    out: str
    err: str


Run = Callable[..., Outcome]


@pytest.fixture(autouse=True)
def own_home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A user's folder and a working folder of the test's own; no terminal."""
    folder = tmp_path_factory.mktemp("home")
    monkeypatch.setenv(VARIABLE, str(folder))
    monkeypatch.delenv("COLUMNS", raising=False)
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.chdir(tmp_path_factory.mktemp("work"))
    return folder


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run the command of these words in this process."""

    def call(*words: str) -> Outcome:
        with pytest.raises(SystemExit) as ended:
            main(words)
        out, err = capsys.readouterr()
        assert isinstance(ended.value.code, int)
        return Outcome(ended.value.code, out, err)

    return call


def start(words: Sequence[str], stdout: int = subprocess.PIPE, **env: str) -> "subprocess.Popen[bytes]":
    """Start `python -m rackwright` with these words, and these variables besides the tester's."""
    package = Path(rackwright.__file__).parents[1]
    return subprocess.Popen(
        [sys.executable, "-m", "rackwright", *words],
        stdin=subprocess.DEVNULL,
        stdout=stdout,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(package), **env},
    )
