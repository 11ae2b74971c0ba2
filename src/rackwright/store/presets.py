"""Presets: rig files to start from, those shipped with the program and the user's own.

The user's are every `*.toml` in the folder `presets` of the user's folder; one of the same name as a shipped preset
takes its place. Never overwrites a file.
"""

import os
from pathlib import Path
from typing import Literal

from msgspec import Struct

from rackwright.model.rig import Rig
from rackwright.store import files
from rackwright.store.home import home
from rackwright.store.rig_file import dumps, load, loads
from rackwright.store.safe import atomic_write
from rackwright.store.toml.decode import decode, nearest
from rackwright.store.toml.encode import entry_text
from rackwright.store.toml.read import RigFileError, parse, read_text


class Preset(Struct, frozen=True):
    """A preset as listed; `error` is empty where it can be used."""

    name: str
    path: Path
    origin: Literal["shipped", "yours"]
    rig: Rig | None = None
    error: str = ""
    """The first of its problems."""

    @property
    def title(self) -> str:
        """The rig's name."""
        return self.rig.name if self.rig else ""

    @property
    def notes(self) -> str:
        """The rig's notes."""
        return self.rig.notes.strip() if self.rig else ""


class PresetError(Exception):
    """A preset that can't be copied as asked. The message says to a person what is wrong and what to do."""


def listed() -> tuple[Preset, ...]:
    """Every preset by name; one that can't be read is listed with its error."""
    return tuple(_preset(path) for _, path in sorted(_files().items()))


def names() -> tuple[str, ...]:
    """The names of all presets, none of which is read for that."""
    return tuple(sorted(_files()))


def find(name: str) -> Preset | None:
    """The preset of that name, None where there is none."""
    path = _files().get(name)
    return _preset(path) if path else None


def copy_out(name: str, target: str | os.PathLike[str]) -> None:
    """Write the preset `name` to the new file `target`.

    The copy keeps the preset's text, comments included, and carries the equipment it uses, so that it opens the same
    anywhere. Raises PresetError, RigFileError, SaveError.
    """
    path = _files().get(name)
    if path is None:
        near = nearest(name, _files())
        hint = f'Did you mean "{near}"?' if near else f"There are: {', '.join(sorted(_files()))}."
        raise PresetError(f'There is no preset "{name}". {hint}')
    if os.path.lexists(target):
        raise PresetError(f"{os.fspath(target)} exists already. Name a new file, or move that one away.")
    atomic_write.write(target, _carrying_its_equipment(read_text(path), str(path)).encode("utf-8"))


def shipped_folder() -> Path:
    """Where the shipped presets are: in the installed package, or at the top of a source checkout."""
    package = Path(__file__).resolve().parents[1]
    inside = package / "presets"
    return inside if inside.is_dir() else package.parents[1] / "presets"


def _files() -> dict[str, Path]:
    folders = (shipped_folder(), home() / "presets")
    return {path.stem: path for folder in folders for path in files.toml_in(folder)}


def _preset(path: Path) -> Preset:
    origin: Literal["shipped", "yours"] = "shipped" if path.parent == shipped_folder() else "yours"
    try:
        rig = load(path)
    except RigFileError as error:
        return Preset(path.stem, path, origin, error=error.first)
    return Preset(path.stem, path, origin, rig)


def _carrying_its_equipment(text: str, name: str) -> str:
    """The text of a rig file with the entries it uses put behind it.

    Written anew, without its comments, only where entries can't be put behind it.
    """
    rig = loads(text, name)
    own, _ = decode(parse(text, name), Rig)
    carried = () if own is None else own.equipment.entries()
    added = [entry_text(entry, "equipment") for entry in rig.equipment.entries() if entry not in carried]
    whole = "\n".join([text if text.endswith("\n") else f"{text}\n", *added]) if added else text
    try:
        return whole if loads(whole, name) == rig else dumps(rig)
    except RigFileError:
        return dumps(rig)
