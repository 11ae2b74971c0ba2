"""Who has a rig open: a small file for each console, which it alone writes and holds (`os_lock`) for as long as it lives.

A console says in it what it wants, never what another is to do: so nothing is lost or done twice, whoever ends when. Who
may write the rig is decided by its lock (`file_lock`) and by nothing that stands here.
"""

import contextlib
import os
from datetime import datetime
from pathlib import Path
from typing import Any

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from rackwright.store import files
from rackwright.store.safe import file_lock, state_folder
from rackwright.store.safe.os_lock import Grip, is_held, take
from rackwright.store.safe.process import Owner, this_process

_FOLDER = "consoles"
_SUFFIX = ".console"


class Console(Struct, frozen=True):
    """What one console says of itself."""

    name: str
    """Its own, and no other's."""
    owner: Owner
    since: datetime
    initials: str = ""
    asks: int = 0
    """The number of its request for control; 0 where it has none."""
    insists: bool = False
    """Whether it takes control without an answer: none came in time."""
    offers: bool = False
    """Whether whoever asks is given control."""
    refuses: tuple[tuple[str, int], ...] = ()
    """Whose request is refused, and its number."""
    gives: tuple[str, int] | None = None
    """To whom control was given, and at which request."""
    signs: int = 0
    """How often it was seen that somebody is at its keys, while it is asked for control."""

    def __str__(self) -> str:
        return self.initials or f"{self.owner.user} {self.owner.process}"


class Presence:
    """This console's own file. Where the disk refuses it, others don't see this console; the lock holds all the same."""

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.key = file_lock.key(path)
        self.says = Console(os.urandom(8).hex(), this_process(), datetime.now().astimezone())
        self._file: Path | None = None
        self._grip: Grip | None = None
        self._known: dict[str, Console] = {}
        self._write()

    def say(self, **changes: Any) -> None:
        """Say something else of this console."""
        said = replace(self.says, **changes)
        if said != self.says or self._grip is None:
            self.says = said
            self._write()

    def others(self) -> tuple[Console, ...]:
        """The other consoles on this rig that live, the longest there first; none where the disk doesn't say."""
        found = {}
        with contextlib.suppress(OSError):
            for file in state_folder.folder(_FOLDER).glob(f"{self.key}-*{_SUFFIX}"):
                if file != self._file:
                    with contextlib.suppress(FileNotFoundError):
                        if (console := self._look(file)) is not None:
                            found[file.stem] = console
        self._known = found
        return tuple(sorted(found.values(), key=lambda each: (each.since, each.name)))

    def close(self) -> None:
        """Be gone."""
        if self._grip is not None and self._file is not None:
            with contextlib.suppress(OSError):
                self._file.unlink()
            os.close(self._grip.handle)
        self._grip = None

    def _write(self) -> None:
        with contextlib.suppress(OSError, UnicodeEncodeError):
            content = msgspec.json.encode(self.says)
            if self._grip is None:
                self._file = state_folder.folder(_FOLDER) / f"{self.key}-{self.says.name}{_SUFFIX}"
                self._grip = take(self._file)
            if self._grip is not None:
                os.pwrite(self._grip.handle, content, 0)
                os.ftruncate(self._grip.handle, len(content))

    def _look(self, file: Path) -> Console | None:
        """What a console says; what it said last where it is in the midst of writing, None where it has ended."""
        held = is_held(file)
        if held is False:
            with contextlib.suppress(OSError):
                file.unlink()
            return None
        try:
            console = msgspec.json.decode(files.read(file), type=Console)
        except (ValueError, OverflowError, RecursionError):
            return self._known.get(file.stem)
        return console if held or console.owner.lives() is not False else None
