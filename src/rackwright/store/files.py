"""Reading a file that comes from outside: a regular one, and no larger than makes sense.

A pipe can keep a reader waiting for ever, and a device can feed it for ever; both are refused, as a file past its limit
is, with an OSError that says so. Every file that the program reads, it reads here. Knows nothing of what a file holds.
"""

import errno
import os
import stat
from io import BufferedReader
from pathlib import Path

LONGEST_NAME = 60
"""Signs."""
LARGEST = 5_000_000
"""Bytes. A rig of ten thousand sections takes less than half of it."""
_FLAGS = os.O_CLOEXEC | os.O_NONBLOCK | os.O_NOCTTY
"""Opening never waits, and takes no terminal over."""


class NoFileError(OSError):
    """What stands under the name is no file to read: a pipe, a device, a socket."""


class TooLargeError(OSError):
    """The file holds more than was to be expected."""


def check(status: os.stat_result) -> None:
    """Raise IsADirectoryError for a folder, NoFileError for what is no regular file."""
    if stat.S_ISDIR(status.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if not stat.S_ISREG(status.st_mode):
        raise NoFileError(errno.EINVAL, "it is a pipe or a device, not a file")


def handle_of(path: str | os.PathLike[str], flags: int = os.O_RDONLY) -> int:
    """Open a regular file and give its handle, never waiting. Raises OSError; ValueError for a name that can't be one."""
    check(os.stat(path))  # looked at first, for merely opening a device can do something
    handle = os.open(path, flags | _FLAGS)
    try:
        check(os.fstat(handle))
    except BaseException:
        os.close(handle)
        raise
    return handle


def opened(path: str | os.PathLike[str]) -> BufferedReader:
    """The regular file of that name, open for reading. Raises OSError, ValueError."""
    return open(handle_of(path), "rb")


def plain_name(words: str) -> str:
    """Words as a name that any system takes: `the-cellar-2026-05-01`; empty where there is no letter or digit in them."""
    return "-".join("".join(sign if sign.isalnum() else " " for sign in words.lower()).split())[:LONGEST_NAME]


def read(path: str | os.PathLike[str], largest: int = LARGEST) -> bytes:
    """What the file holds. Raises OSError, TooLargeError where that is more than `largest` bytes; ValueError."""
    with opened(path) as file:
        content = file.read(largest + 1)
    if len(content) > largest:
        raise TooLargeError(errno.EFBIG, f"it is larger than {largest // 1_000_000} MB")
    return content


def toml_in(folder: Path) -> tuple[Path, ...]:
    """The TOML files of a folder by name, none where it can't be looked into."""
    try:
        return tuple(sorted(folder.glob("*.toml")))
    except (OSError, ValueError):
        return ()
