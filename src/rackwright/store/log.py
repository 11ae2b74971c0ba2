"""The log: what went wrong inside the program, for whoever puts it right. One small file in the user's folder.

Nothing in the program reads it, and what can't be written to it is let go.
"""

import contextlib
import os
import traceback
from datetime import datetime
from pathlib import Path

from rackwright.store import files
from rackwright.store.home import home
from rackwright.store.safe import state_folder
from rackwright.units.safe_text import safe

NAME = "log.txt"
MOST = 1 << 20
"""Bytes after which the log is begun anew; the one before is kept as `log.old.txt`."""
STATUS = 70
"""With what a process ends where the program itself is at fault: EX_SOFTWARE of sysexits.h."""


def note(doing: str, error: BaseException) -> Path | None:
    """Add an error with where it arose; the log's path, None where it can't be written."""
    told = "".join(traceback.format_exception(error))
    now = datetime.now().astimezone().isoformat(timespec="seconds")
    with contextlib.suppress(OSError, RuntimeError):  # the latter where the user's folder has no place
        path = state_folder.folder("") / NAME
        if path.is_file() and path.stat().st_size > MOST:
            os.replace(path, home() / "log.old.txt")
        handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_NONBLOCK | os.O_CLOEXEC, 0o600)
        with open(handle, "a", encoding="utf-8", errors="backslashreplace") as log:
            files.check(os.fstat(handle))
            log.write(f"{now} process {os.getpid()}, {doing}\n{told}\n")
        return path
    return None


def sentence(doing: str, error: BaseException) -> str:
    """Note an error, and say for a person what failed, with what, and where more of it stands."""
    path = note(doing, error)
    where = f" More is in {path}." if path is not None else ""
    text = " ".join(str(error).split())[:120]
    return safe(
        f"{doing[:1].upper()}{doing[1:]} failed: {type(error).__name__}{f' ({text})' if text else ''}.{where}"
    )
