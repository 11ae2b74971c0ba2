"""How the tests start the console: as its own process, with a user's folder of its own and no setting of this machine."""

import os
import sys
from pathlib import Path

import rackwright
from rackwright.store.home import VARIABLE

_CALL = "from rackwright.cli import main; main()"


def console(*arguments: str, first: str = "") -> list[str]:
    """The command that runs the program under test, installed or not; `first` is run in it before."""
    return [sys.executable, "-c", f"{first}\n{_CALL}", *arguments]


def environment(home: Path) -> dict[str, str]:
    """What the program finds set: UTF-8, colours, that user's folder."""
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "USER", "TMPDIR") if name in os.environ}
    return {
        **kept,
        "LANG": "C.UTF-8",
        "PYTHONPATH": str(Path(rackwright.__file__).parents[1]),
        VARIABLE: str(home),
    }
