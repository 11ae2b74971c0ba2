"""Noticing that a file on disk is no longer what this session last read or wrote. Reads, and keeps nothing.

Take the fingerprint of a file before reading the rig from it, and that of the content written after a save; compare
with the file's before overwriting it. Then a change in between is noticed, whenever it came.
"""

import contextlib
import os
from collections.abc import Sequence
from pathlib import Path

from rackwright.store import files


def fingerprint(path: str | os.PathLike[str]) -> str | None:
    """What tells the file's content from any other; None where there is no such file. Raises OSError."""
    import hashlib

    try:
        with files.opened(path) as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except (FileNotFoundError, NotADirectoryError):
        return None


def fingerprint_of(content: bytes) -> str:
    """The fingerprint of a file that holds `content`."""
    import hashlib  # loads TLS with it, which a preset is opened without

    return hashlib.sha256(content).hexdigest()


def signs_of(names: Sequence[Path]) -> object:
    """What differs once one of these files is written. Raises OSError."""
    stats = []
    for name in names:
        with contextlib.suppress(FileNotFoundError):
            stat = name.stat()
            stats.append((name, stat.st_mtime_ns, stat.st_size, stat.st_ino))
    return stats
