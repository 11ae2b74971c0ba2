"""A folder of files that the program makes anew each time, such as papers: what it wrote there before it replaces, what
someone else wrote or changed since it leaves alone.

A small list in the folder says what was written there. Knows nothing of what the files hold.
"""

import contextlib
import hashlib
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from rackwright.store import atomic, files
from rackwright.store.atomic import SaveError

LIST = ".rackwright-papers.json"
"""File name → SHA-256 of what was written."""
_SHOWN = 5


class Written(NamedTuple):
    """What became of a bundle."""

    new: tuple[str, ...]
    replaced: tuple[str, ...]


def write(folder: str | os.PathLike[str], files: Mapping[str, bytes]) -> Written:
    """Write the files into the folder, making it where it is missing.

    Raises SaveError before anything is written where a file of one of the names isn't ours, or was changed since;
    SaveError also where the system refuses, each file then being wholly the old or wholly the new one.
    """
    where = Path(folder)
    try:
        where.mkdir(parents=True, exist_ok=True)
    except FileExistsError:
        raise SaveError(where, "this is a file, and a folder is needed", "Name another folder.") from None
    except (OSError, ValueError) as error:
        raise atomic.save_error(where, error) from None
    if os.path.islink(where / LIST):
        raise SaveError(where, f"{LIST} there is a link", "Remove it, or name another folder.")
    known = _known(where / LIST)
    present = {name: digest for name in files if (digest := _digest(where / name)) is not None}
    foreign = [
        name for name, digest in present.items() if digest != known.get(name) and digest != _sha(files[name])
    ]
    if foreign:
        shown = ", ".join(foreign[:_SHOWN]) + (
            f" and {len(foreign) - _SHOWN} more" if len(foreign) > _SHOWN else ""
        )
        reason = f"{shown} there {'is' if len(foreign) == 1 else 'are'} not as this program wrote {'it' if len(foreign) == 1 else 'them'}"
        raise SaveError(where, reason, "Move it away, or name another folder.")
    made = known | {name: _sha(content) for name, content in files.items()}
    for name, content in files.items():
        atomic.write(where / name, content)
    atomic.write(where / LIST, json.dumps(made, indent=1, sort_keys=True).encode())
    return Written(
        tuple(name for name in files if name not in present), tuple(name for name in files if name in present)
    )


def _sha(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _digest(path: Path) -> str | None:
    """The digest of what stands there; None where nothing does, empty where it is a link or can't be read."""
    if os.path.islink(path):
        return ""
    try:
        with files.opened(path) as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except FileNotFoundError:
        return None
    except OSError:
        return ""


def _known(path: Path) -> dict[str, str]:
    """What was written there before; nothing where there is no list, or one that can't be read."""
    with contextlib.suppress(OSError, ValueError, RecursionError):
        listed = json.loads(files.read(path))
        if isinstance(listed, dict):
            return {name: digest for name, digest in listed.items() if isinstance(digest, str)}
    return {}
