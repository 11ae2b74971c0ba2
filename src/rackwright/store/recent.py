"""The rigs worked on last, newest first. Keeps names only, and is no loss when it is lost."""

import json
import os
from pathlib import Path
from typing import Any

from msgspec import Struct

from rackwright.store import files
from rackwright.store.home import home
from rackwright.store.safe import atomic_write, state_folder

MOST = 12
_FILE = "recent.json"


class Recent(Struct, frozen=True):
    """A rig worked on lately."""

    path: Path
    name: str
    """The rig's."""
    missing: bool
    """Whether its file is not there now: moved, deleted, or on a disk that is not plugged in."""


def recent() -> tuple[Recent, ...]:
    """The rigs worked on last, newest first; whatever can't be read of the list is left out."""
    return tuple(Recent(Path(path), name, not os.path.isfile(path)) for path, name in _entries())


def remember(path: str | os.PathLike[str], name: str) -> None:
    """Put a rig at the head of the list. Raises SaveError, OSError."""
    own = os.path.abspath(path)
    _write([(own, name), *((other, title) for other, title in _entries() if other != own)])


def forget(path: str | os.PathLike[str]) -> None:
    """Take a rig off the list. Raises SaveError, OSError."""
    own = os.path.abspath(path)
    _write([(other, title) for other, title in _entries() if other != own])


def _entries() -> list[tuple[str, str]]:
    try:
        listed: Any = json.loads(files.read(home() / _FILE))
    except (OSError, ValueError, RecursionError):
        return []
    found: dict[str, str] = {}
    for entry in listed if isinstance(listed, list) else []:
        match entry:
            case {"path": str(path), "name": str(name)} if path and "\0" not in path:
                found.setdefault(path, name)
    return list(found.items())[:MOST]


def _write(entries: list[tuple[str, str]]) -> None:
    # json rather than msgspec: a file name may hold bytes that are no text, which only json writes and reads back
    plain = [{"path": path, "name": name} for path, name in entries[:MOST]]
    atomic_write.write(state_folder.folder("") / _FILE, (json.dumps(plain, indent=1) + "\n").encode("ascii"))
