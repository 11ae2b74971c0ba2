"""How the tests start the console: as its own process, with a user's folder of its own and no setting of this machine."""

import os
import sys
from collections.abc import Mapping
from pathlib import Path

import rackwright
from rackwright.store.home import VARIABLE

from . import warm
from .terminal import Process, Start

_CALL = "from rackwright.cli import main; main()"


def call(*words: str) -> list[str]:
    """The command that runs the program under test from cold, installed or not."""
    return [sys.executable, "-c", _CALL, *words]


def console(*words: str, first: str = "") -> Start:
    """Starts the program under test in a process forked from a warm one; `first` is run in it before."""

    def start(terminal: int, environment: Mapping[str, str], folder: str) -> Process:
        return warm.fork(words, first, terminal, environment, folder)

    return start


def environment(home: Path) -> dict[str, str]:
    """What the program finds set: UTF-8, colours, that user's folder."""
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "USER", "TMPDIR") if name in os.environ}
    return {
        **kept,
        "LANG": "C.UTF-8",
        "PYTHONPATH": str(Path(rackwright.__file__).parents[1]),
        VARIABLE: str(home),
    }
