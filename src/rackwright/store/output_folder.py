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
from rackwright.units.wording import some

LIST = ".rackwright-papers.json"
"""The revision that the files are of with its number and what it was made from, and file name → SHA-256 of what was written."""
ASIDE = "earlier"
"""The folder in it that stale files are moved to."""
_SHOWN = 5


class Written(NamedTuple):
    """What became of a bundle."""

    new: tuple[str, ...]
    replaced: tuple[str, ...]
    removed: tuple[str, ...] = ()
    """Files of an earlier revision that stood there as they were written."""
    stale: tuple[str, ...] = ()
    """Files of an earlier revision that were changed since: where they were moved to."""


class _Listed(NamedTuple):
    """What was written there before."""

    revision: str = ""
    number: int = 0
    source: str = ""
    before: str = ""
    """The source of the revision before that."""
    files: Mapping[str, str] = {}
    """Name → SHA-256."""


def number(folder: str | os.PathLike[str], revision: str) -> int:
    """The number that a revision has in the folder, or will have once it is written there: from 1."""
    listed = _known(Path(folder) / LIST)
    return listed.number + (listed.revision != revision or not listed.number)


def source_before(folder: str | os.PathLike[str], revision: str) -> str:
    """What the revision before that one was made from; empty where there was none, or it isn't known."""
    listed = _known(Path(folder) / LIST)
    return listed.before if listed.revision == revision else listed.source


def write(
    folder: str | os.PathLike[str], files: Mapping[str, bytes], revision: str = "", source: str = ""
) -> Written:
    """Write the files into the folder, making it where it is missing; `source` is what they are made from.

    A folder holds one revision: what was written there of another is removed where it is not written anew, or, where it was
    changed since, moved aside and named.
    Raises SaveError before anything is written where a file of one of the names isn't ours, or was changed since it was
    written of this revision; SaveError also where the system refuses, each file then being wholly the old or wholly the new one.
    """
    where = Path(folder)
    with _made(where):
        return _written(where, files, revision, source)


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


def _written(where: Path, files: Mapping[str, bytes], revision: str, source: str) -> Written:
    for link in (LIST, ASIDE):
        if os.path.islink(where / link):
            raise SaveError(where, f"{link} there is a link", "Remove it, or name another folder.")
    listed = _known(where / LIST)
    known, other = listed.files, listed.revision != revision
    present = {name: digest for name in files if (digest := _digest(where / name)) is not None}
    changed = [
        name for name, digest in present.items() if digest != known.get(name) and digest != _sha(files[name])
    ]
    filled = [name for name in changed if other and name in known and present[name]]
    if foreign := [name for name in changed if name not in filled]:
        reason = f"{some(foreign, _SHOWN)} there {'is' if len(foreign) == 1 else 'are'} not as this program wrote {'it' if len(foreign) == 1 else 'them'}"
        raise SaveError(where, reason, "Move it away, or name another folder.")
    stale = [_aside(where, name, listed.number) for name in filled]
    for name, content in files.items():
        atomic_write.write(where / name, content)
    gone = {name: digest for name, digest in known.items() if name not in files} if other else {}
    removed, moved = _cleared(where, gone, listed.number)
    made = {
        "revision": revision,
        "number": listed.number + (other or not listed.number),
        "source": source,
        "before": listed.source if other else listed.before,
        "files": {name: digest for name, digest in known.items() if name not in gone}
        | {name: _sha(content) for name, content in files.items()},
    }
    atomic_write.write(where / LIST, json.dumps(made, indent=1, sort_keys=True).encode())
    return Written(
        tuple(name for name in files if name not in present),
        tuple(name for name in files if name in present and name not in filled),
        removed,
        (*stale, *moved),
    )


def _cleared(where: Path, known: Mapping[str, str], number: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Remove those files that are still as they were written, move aside those that are not; which, and where to."""
    removed, moved = [], []
    for name, digest in known.items():
        found = _digest(where / name)
        if found == digest:
            try:
                (where / name).unlink()
            except OSError as error:
                raise atomic_write.save_error(where / name, error) from None
            removed.append(name)
        elif found:
            moved.append(_aside(where, name, number))
    return tuple(removed), tuple(moved)


def _aside(where: Path, name: str, number: int) -> str:
    """Move a file of an earlier revision out of the way, over nothing that is there; its new name."""
    stem, dot, ending = name.partition(".")
    free = (f"{stem} {number}{again}{dot}{ending}" for again in ("", *(f" ({n})" for n in range(2, 10_000))))
    try:
        (where / ASIDE).mkdir(exist_ok=True)
        target = next(each for each in free if not os.path.lexists(where / ASIDE / each))
        (where / name).rename(where / ASIDE / target)
    except OSError as error:
        raise atomic_write.save_error(where / ASIDE, error) from None
    return f"{ASIDE}/{target}"


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


def _known(path: Path) -> _Listed:
    """What was written there before; nothing where there is no list, or none to be read.

    A list of the first format is file name → SHA-256, of no revision that is known.
    """
    with contextlib.suppress(OSError, ValueError, RecursionError):
        listed = json.loads(files.read(path))
        if isinstance(listed, dict):
            named, count = listed.get("files", listed), listed.get("number", 0)
            if isinstance(named, dict):
                return _Listed(
                    str(listed.get("revision")),
                    count if isinstance(count, int) else 0,
                    str(listed.get("source", "")),
                    str(listed.get("before", "")),
                    {n: d for n, d in named.items() if isinstance(d, str) and _plain(n)},
                )
    return _Listed()


def _plain(name: str) -> bool:
    """Whether it names a file of the folder itself."""
    return name not in ("", ".", "..") and not set(name) & {"/", "\\", "\0"}
