"""A folder of files that the program makes anew each time, such as papers: what it wrote there before it replaces, what
someone else wrote or changed since it leaves alone.

A small list in the folder says what was written there. Knows nothing of what the files hold.
"""

import contextlib
import hashlib
import json
import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from rackwright.store import files
from rackwright.store.safe import atomic_write
from rackwright.store.safe.atomic_write import SaveError

LIST = ".rackwright-papers.json"
"""The revision that the files are of, and file name → SHA-256 of what was written."""
_SHOWN = 5


class Written(NamedTuple):
    """What became of a bundle."""

    new: tuple[str, ...]
    replaced: tuple[str, ...]
    removed: tuple[str, ...] = ()
    """Files of an earlier revision that stood there as they were written."""
    stale: tuple[str, ...] = ()
    """Files of an earlier revision that were changed since, and so left alone."""


def write(folder: str | os.PathLike[str], files: Mapping[str, bytes], revision: str = "") -> Written:
    """Write the files into the folder, making it where it is missing.

    A folder holds one revision: what was written there of another and is not written anew is removed, or, where it was
    changed since, left and named.
    Raises SaveError before anything is written where a file of one of the names isn't ours, or was changed since;
    SaveError also where the system refuses, each file then being wholly the old or wholly the new one.
    """
    where = Path(folder)
    with _made(where):
        return _written(where, files, revision)


@contextlib.contextmanager
def _made(where: Path) -> Iterator[None]:
    """Have the folder there; where it can't be filled, what was made for it goes again, if nothing is in it."""
    missing = [each for each in (where, *where.parents) if not os.path.lexists(each)]
    try:
        try:
            where.mkdir(parents=True, exist_ok=True)
        except FileExistsError:
            raise SaveError(where, "this is a file, and a folder is needed", "Name another folder.") from None
        except (OSError, ValueError) as error:
            raise atomic_write.save_error(where, error) from None
        yield
    except SaveError:
        for each in missing:
            with contextlib.suppress(OSError):
                each.rmdir()
        raise


def _written(where: Path, files: Mapping[str, bytes], revision: str) -> Written:
    if os.path.islink(where / LIST):
        raise SaveError(where, f"{LIST} there is a link", "Remove it, or name another folder.")
    earlier, known = _known(where / LIST)
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
    for name, content in files.items():
        atomic_write.write(where / name, content)
    removed, stale = (
        _cleared(where, {n: d for n, d in known.items() if n not in files})
        if earlier != revision
        else ((), ())
    )
    kept = {name: digest for name, digest in known.items() if name not in removed and name not in stale}
    made = {"revision": revision, "files": kept | {name: _sha(content) for name, content in files.items()}}
    atomic_write.write(where / LIST, json.dumps(made, indent=1, sort_keys=True).encode())
    return Written(
        tuple(name for name in files if name not in present),
        tuple(name for name in files if name in present),
        removed,
        stale,
    )


def _cleared(where: Path, known: Mapping[str, str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Remove those files that are still as they were written; which were removed, and which stand there otherwise."""
    removed, stale = [], []
    for name, digest in known.items():
        found = _digest(where / name)
        if found == digest:
            try:
                (where / name).unlink()
            except OSError as error:
                raise atomic_write.save_error(where / name, error) from None
            removed.append(name)
        elif found is not None:
            stale.append(name)
    return tuple(removed), tuple(stale)


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
    except (OSError, ValueError):
        return ""


def _known(path: Path) -> tuple[str, dict[str, str]]:
    """The revision and the files that were written there before; nothing where there is no list, or none to be read.

    A list of the first format is file name → SHA-256, of no revision that is known.
    """
    with contextlib.suppress(OSError, ValueError, RecursionError):
        listed = json.loads(files.read(path))
        if isinstance(listed, dict):
            revision, named = listed.get("revision"), listed.get("files", listed)
            if isinstance(named, dict):
                return str(revision), {n: d for n, d in named.items() if isinstance(d, str) and _plain(n)}
    return "", {}


def _plain(name: str) -> bool:
    """Whether it names a file of the folder itself."""
    return name not in ("", ".", "..") and not set(name) & {"/", "\\", "\0"}
