"""Which process a session is, in words for a person, and whether it still lives.

A process number alone is soon another process's, so the moment it started and the boot of the machine go with it.
Good for telling who, and for a guess where the file system can't hold files; `os_lock` is the one to trust.
"""

import functools
import getpass
import os
import signal
from pathlib import Path
from typing import Annotated

from msgspec import Meta, Struct


class Owner(Struct, frozen=True):
    """A process that keeps a journal or a lock."""

    user: str
    host: str
    process: Annotated[int, Meta(gt=0, lt=2**31)]
    started: str
    """When the process started, in the system's own count; empty where the system doesn't say."""
    boot: str
    """Which run of the machine; empty where the system doesn't say."""

    def __str__(self) -> str:
        return f"{self.user} on {self.host}, process {self.process}"

    def lives(self) -> bool | None:
        """Whether that process still runs; None where it ran on another machine."""
        if self.host != os.uname().nodename:
            return None
        if self.boot != _boot():
            return False
        try:
            os.kill(self.process, 0)
        except ProcessLookupError:
            return False
        except PermissionError:
            pass  # it runs, for another user
        return _started(self.process) == self.started

    def end(self, number: signal.Signals) -> bool:
        """Send that process the signal; whether it could be: it runs on this machine, and is still the same. Never oneself."""
        if not self.lives() or self.process == os.getpid():
            return False
        try:
            os.kill(self.process, number)
        except OSError:
            return False
        return True


def this_process() -> Owner:
    """The process that asks."""
    number = os.getpid()
    return Owner(_user(), os.uname().nodename, number, _started(number), _boot())


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return f"user {os.getuid()}"


@functools.cache
def _boot() -> str:
    return _read("/proc/sys/kernel/random/boot_id")


def _started(process: int) -> str:
    """Clock ticks from boot to the start of a process, `ended` where it only waits to be cleared away."""
    fields = _read(f"/proc/{process}/stat").rpartition(")")[2].split()  # proc(5): the name may hold blanks
    if not fields:
        return ""
    return "ended" if fields[0] in "ZX" else fields[19]


def _read(path: str) -> str:
    try:
        return Path(path).read_text("ascii", "replace").strip()
    except OSError:
        return ""
