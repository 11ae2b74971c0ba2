"""Writing the user's own equipment: an entry saved or removed, every other entry of its file kept as it was typed.

A new entry goes into `library.toml` in the folder `equipment` of the user's folder; one that stands in another file of
that folder is saved there again. Nothing is written that `library` could not read back.
"""

import contextlib
import os
from pathlib import Path

from msgspec.structs import replace

from rackwright.model.equipment import Equipment, EquipmentEntry, equipment_kind
from rackwright.store import library, rig_file
from rackwright.store.home import home
from rackwright.store.safe import atomic_write
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.toml.decode import decode
from rackwright.store.toml.encode import as_toml, plain
from rackwright.store.toml.read import RigFileError, parse, read_text, refusal_of

__all__ = [
    "RigFileError",
    "SaveError",
    "own_file",
    "remove_entry",
    "save_entries",
    "save_entry",
    "with_entry",
    "write_own",
]


def own_file() -> Path:
    """The file that a new entry goes into."""
    return home() / "equipment" / "library.toml"


def save_entry(entry: EquipmentEntry, former: str = "") -> Path | None:
    """Write `entry` to the user's equipment, in place of the entry of its kind called `former`, else of its own id.

    The file is written wholly or not at all. Comments are lost with it, so where the file has some, or isn't TOML, its
    text is first copied beside it; returns the path of that copy, None where none was needed. Raises SaveError, and
    RigFileError where a file of the user can't be read or could not be read afterwards.
    """
    kind = equipment_kind(entry)
    path = _file_with(kind, former or entry.id) or own_file()
    return _write(path, with_entry(_entries(path), entry, former))


def save_entries(entries: Equipment) -> Path | None:
    """Write all of `entries` to the user's equipment at once, each in place of the one of its kind and id.

    All or nothing, in one file. Returns and raises as `save_entry`; SaveError also where one of them stands in another
    file of the user.
    """
    path = own_file()
    for entry in entries.entries():
        if (held := _file_with(equipment_kind(entry), entry.id)) not in (None, path):
            raise SaveError(
                path, f"{entry.id} is in {held}", "Take it out there first, or out of what is read."
            )
    own = _entries(path)
    for entry in entries.entries():
        own = with_entry(own, entry)
    return _write(path, own)


def remove_entry(kind: str, name: str) -> Path | None:
    """Take the entry of that kind (`amplifiers` …) and id out of the user's equipment; where there is none, nothing happens.

    A file left with no entry is removed. Returns and raises as `save_entry`; RigFileError also where another entry of
    the user needs this one.
    """
    path = _file_with(kind, name)
    return None if path is None else _write(path, _entries(path).without(kind, name))


def with_entry(own: Equipment, entry: EquipmentEntry, former: str = "") -> Equipment:
    """`own` with `entry` in place of the one of its kind called `former`, else of its own id; last where there is none."""
    kind, replaced = equipment_kind(entry), former or entry.id
    held: tuple[EquipmentEntry, ...] = getattr(own, kind)
    if all(known.id != replaced for known in held):
        return _with_kind(own, kind, (*held, entry))
    return _with_kind(own, kind, tuple(entry if known.id == replaced else known for known in held))


def _with_kind(own: Equipment, kind: str, held: tuple[EquipmentEntry, ...]) -> Equipment:
    return replace(own, **{kind: held})


def _file_with(kind: str, name: str) -> Path | None:
    """The user's file that holds the entry. Raises RigFileError."""
    held = (path for path in library.user_files() if any(e.id == name for e in getattr(_entries(path), kind)))
    return next(held, None)


def _entries(path: Path) -> Equipment:
    """The entries of one file, their references unchecked; none where there is no such file. Raises RigFileError."""
    if not os.path.exists(path):
        return Equipment()
    text = read_text(path)
    if not text.strip():
        return Equipment()
    data = parse(text, str(path))
    entries, problems = decode(data, Equipment)
    if problems or entries is None:
        raise refusal_of(str(path), problems, text, data)
    return entries


def _write(path: Path, entries: Equipment) -> Path | None:
    text = as_toml(plain(entries)) if entries.entries() else ""
    _refuse_unreadable(path, text)
    return write_own(path, text)


def write_own(path: Path, text: str) -> Path | None:
    """Write a file of the user's folder, or remove it where nothing is left to say. Returns where its text was kept, if it had comments.

    Raises SaveError.
    """
    try:
        content = text.encode("utf-8")
        path.parent.mkdir(parents=True, exist_ok=True)
    except UnicodeEncodeError as error:
        reason = f"a text of it has half a character (U+{ord(error.object[error.start]):04X})"
        raise SaveError(path, reason, "Find it and type it again.") from None
    except OSError as error:
        raise atomic_write.save_error(path, error) from None
    aside = _kept_aside(path)
    if content:
        atomic_write.write(path, content)
    else:
        _unlink(path)
    return aside


def _refuse_unreadable(path: Path, text: str) -> None:
    """Raise RigFileError where the user's files, with that text in one of them, could not be read as a library."""
    found = Equipment()
    for each in sorted({*library.user_files(), path}):
        content = text if each == path else read_text(each)
        if not content.strip():
            continue
        entries = library.equipment_of(content, str(each), found.over(library.built_in()))
        if twice := library.listed_twice(entries, found):
            raise refusal_of(str(each), twice, content, parse(content, str(each)))
        found = library.followed_by(found, entries)


def _unlink(path: Path) -> None:
    try:
        with contextlib.suppress(FileNotFoundError):
            path.unlink()
    except OSError as error:
        raise atomic_write.save_error(path, error) from None


def _kept_aside(path: Path) -> Path | None:
    """Copy a text that the save would lose some of to `NAME.before-save.txt`: as `.toml` it would be read as equipment."""
    former = rig_file._content(path) or b""
    if not rig_file.loses(former):
        return None
    names = rig_file._names_beside(path.with_suffix(".txt"))
    copy = next(name for name in names if rig_file._content(name) in (None, former))
    if rig_file._content(copy) is None:
        atomic_write.write(copy, former, like=path)
    return copy
