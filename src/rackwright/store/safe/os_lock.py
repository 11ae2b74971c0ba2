"""Holding a file for as long as this process lives.

The system itself keeps the hold (`flock`) and drops it with the process, however that ends. So no process number,
no clock and no file left behind can make it wrong. Knows nothing of what the file holds.
"""

import errno
import fcntl
import os
import time
from pathlib import Path
from typing import NamedTuple

from rackwright.store import files

_UNKNOWN_HERE = {errno.ENOLCK, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EINVAL}
"""What a file system answers that can't hold files: some network disks."""
_PAUSE = 0.01


class Grip(NamedTuple):
    """A file held by this process; closing the handle lets go."""

    handle: int
    sure: bool
    """False where the file system can't hold files: then anybody else can have it open as well."""


def take(path: Path, *, create: bool = True, tries: int = 1) -> Grip | None:
    """Hold the file; None where another session has it, still after that many tries. Raises OSError."""
    flags = os.O_RDWR | os.O_CLOEXEC | os.O_NONBLOCK | (os.O_CREAT if create else 0)
    while tries:
        handle = os.open(path, flags, 0o600)
        try:
            files.check(os.fstat(handle))
            held = _flock(handle, fcntl.LOCK_EX)
            if held is not False and leads_to(path, handle):
                return Grip(handle, held is True)
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)
        if held is False:  # else the file was removed or replaced meanwhile, which is no failed try
            tries -= 1
            if tries:
                time.sleep(_PAUSE)
    return None


def is_held(path: Path) -> bool | None:
    """Whether a session holds the file; None where the file system can't tell. Raises OSError."""
    while True:
        handle = files.handle_of(path)
        try:
            free = _flock(handle, fcntl.LOCK_SH)
            if leads_to(path, handle):
                return None if free is None else not free
        finally:
            os.close(handle)


def leads_to(path: Path, handle: int) -> bool:
    """Whether the name still leads to the file that is open. Raises OSError."""
    try:
        return os.path.samestat(os.stat(path), os.fstat(handle))
    except FileNotFoundError:
        return False


def _flock(handle: int, kind: int) -> bool | None:
    """Whether the file could be held; None where the file system has no such thing."""
    try:
        fcntl.flock(handle, kind | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError as error:
        if error.errno in _UNKNOWN_HERE:
            return None
        raise
    return True
