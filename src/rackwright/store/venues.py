"""Venue files: the facts of one venue as TOML, in a file of their own, among the user's venues or the shipped ones.

The user's are every `*.toml` in the folder `venues` of the user's folder; one of the same name as a shipped venue takes
its place. Overwrites a file only where told to.
"""

import os
from pathlib import Path
from typing import Literal

from msgspec import Struct

from rackwright.model import rules
from rackwright.model.rig import Rig
from rackwright.model.rules import Problem, missing
from rackwright.model.venue import Venue
from rackwright.store import atomic, files
from rackwright.store.atomic import SaveError
from rackwright.store.decode import decode
from rackwright.store.encode import as_toml, plain
from rackwright.store.home import home
from rackwright.store.presets import shipped_folder
from rackwright.store.reading import RigFileError, parse, read_text, refusal_of


class Kept(Struct, frozen=True):
    """A venue as listed; where `error` is not empty it can't be used."""

    name: str
    path: Path
    origin: Literal["shipped", "yours"]
    venue: Venue | None = None
    error: str = ""
    """The first of its problems."""

    @property
    def title(self) -> str:
        """What the venue calls itself."""
        return self.venue.venue if self.venue else ""

    @property
    def first_note(self) -> str:
        """The first line of its notes."""
        return self.venue.notes.strip().partition("\n")[0] if self.venue else ""


def folder() -> Path:
    """Where the user's venues are kept."""
    return home() / "venues"


def names() -> tuple[str, ...]:
    """The user's venues and the shipped ones, by name."""
    return tuple(sorted(_files()))


def listed() -> tuple[Kept, ...]:
    """Every venue by name; one that can't be read is listed with its error."""
    return tuple(_kept(path) for _, path in sorted(_files().items()))


def load(name: str) -> Venue:
    """The venue of a file, or the user's or the shipped venue of that name. Raises RigFileError."""
    path = Path(name) if os.path.isfile(name) else _files().get(name, Path(name))
    return loads(read_text(path), os.fspath(path))


def loads(text: str, name: str = "venue") -> Venue:
    """The venue of a file's text, `name` being what messages call the file. Raises RigFileError."""
    data = parse(text, name)
    venue, problems = decode(data, Venue)
    if venue is not None:
        told = {problem.path for problem in problems}
        problems += tuple(problem for problem in _breaches(venue) if problem.path not in told)
    if venue is None or problems:
        raise refusal_of(name, problems, text, data)
    return venue


def dumps(venue: Venue) -> str:
    """The venue as the text of a venue file; `loads` gives an equal venue back."""
    return as_toml(plain(venue))


def save(venue: Venue, path: str | os.PathLike[str], *, over: bool = False) -> None:
    """Write a venue file. Raises SaveError, also where the file exists already and is not to be written `over`."""
    if os.path.lexists(path) and not over:
        raise SaveError(path, "it exists already", "Name a new file, or move that one away.")
    atomic.write(path, dumps(venue).encode("utf-8"))


def keep(venue: Venue, name: str, *, over: bool = False) -> Path:
    """Write the user's venue of that name, making the folder; where it stands. Raises SaveError, as `save` does."""
    path = folder() / f"{name}.toml"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise atomic.save_error(path, error) from None
    save(venue, path, over=over)
    return path


def _files() -> dict[str, Path]:
    folders = (shipped_folder() / "venues", folder())
    return {path.stem: path for each in folders for path in files.toml_in(each)}


def _kept(path: Path) -> Kept:
    origin: Literal["shipped", "yours"] = "yours" if path.parent == folder() else "shipped"
    try:
        return Kept(path.stem, path, origin, loads(read_text(path), os.fspath(path)))
    except RigFileError as error:
        return Kept(path.stem, path, origin, error=str(error).partition("\n\n")[0])


def _breaches(venue: Venue) -> tuple[Problem, ...]:
    """The rules that a venue breaks by itself; whether it fits a rig is said when the two are joined."""
    bare = Rig(format=venue.format, name="", supply=venue.supply, circuits=venue.circuits)
    known = [circuit.id for circuit in venue.circuits]
    dangling = (
        Problem(("hookups", i, "circuit"), *missing("circuit", hookup.circuit, known))
        for i, hookup in enumerate(venue.hookups)
        if hookup.circuit not in known
    )
    return (*rules.check(bare), *dangling)
