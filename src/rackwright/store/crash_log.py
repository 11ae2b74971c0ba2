"""What went wrong inside the program, written down for whoever has to find out why.

A text file in the user's folder. Never fails itself: where nothing can be written, nothing is.
"""

import contextlib
import os
import traceback
from datetime import datetime
from pathlib import Path

from rackwright import __version__
from rackwright.store import state

NAME = "errors.log"
LARGEST = 1_000_000
"""Bytes; past it the log is begun anew, the former one kept as `errors.log.1`."""


def note(error: BaseException, doing: str = "") -> Path | None:
    """Add an error, and what was being done, to the log; where the log stands, None where nothing could be written."""
    when = datetime.now().astimezone().isoformat(timespec="seconds")
    told = "".join(traceback.format_exception(error))
    entry = f"{when} rackwright {__version__} {doing}".rstrip() + f"\n{told}\n"
    with contextlib.suppress(OSError, ValueError):
        path = state.folder("") / NAME
        if os.path.lexists(path) and not (os.path.isfile(path) and not os.path.islink(path)):
            return None
        if os.path.exists(path) and path.stat().st_size > LARGEST:
            os.replace(path, path.with_name(f"{NAME}.1"))
        handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600)
        with os.fdopen(handle, "ab") as file:
            file.write(entry.encode("utf-8", "backslashreplace"))
        return path
    return None


def sentence(error: BaseException, doing: str = "") -> str:
    """Note an error, and say so to a person."""
    path = note(error, doing)
    where = f" The details are in {path}." if path else ""
    return (
        f"This should not have happened: {type(error).__name__}.{where} Report it, with what you did before."
    )
