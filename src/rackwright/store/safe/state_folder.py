"""Folders of the user's folder in which the program keeps what only it reads: journals, locks. Knows no file in them."""

import contextlib
import errno
import os
from pathlib import Path

from rackwright.store.home import home


def folder(name: str) -> Path:
    """The folder of that name, made where it isn't there yet, open to nobody else. Raises OSError."""
    path = home() / name
    if not path.is_dir():
        missing = [parent for parent in path.parents if not parent.exists()]
        path.mkdir(mode=0o700, parents=True, exist_ok=True)
        for made in (path, *missing):
            with contextlib.suppress(OSError):  # a folder above may be closed to reading
                settle(made.parent)
    return path


def settle(path: Path) -> None:
    """Make what was made, renamed or removed in a folder safe on the disk. Raises OSError."""
    handle = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some file systems settle folders by themselves
            raise
    finally:
        os.close(handle)
