"""Venue files: the facts of one venue as TOML, in a file of their own or among the user's venues.

The user's are every `*.toml` in the folder `venues` of the user's folder. Never overwrites a file.
"""

import os
from pathlib import Path

from rackwright.model import rules
from rackwright.model.rig import Rig
from rackwright.model.rules import Problem, missing
from rackwright.model.venue import Venue
from rackwright.store import atomic
from rackwright.store.atomic import SaveError
from rackwright.store.decode import decode
from rackwright.store.encode import as_toml, plain
from rackwright.store.home import home
from rackwright.store.reading import parse, read_text, refusal_of


def folder() -> Path:
    """Where the user's venues are kept."""
    return home() / "venues"


def names() -> tuple[str, ...]:
    """The user's venues, by name."""
    return tuple(sorted(path.stem for path in folder().glob("*.toml")))


def load(name: str) -> Venue:
    """The venue of a file, or of the user's venue of that name. Raises RigFileError."""
    kept = folder() / f"{name}.toml"
    path = kept if not os.path.isfile(name) and kept.is_file() else Path(name)
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


def save(venue: Venue, path: str | os.PathLike[str]) -> None:
    """Write a new venue file. Raises SaveError, also where the file exists already."""
    if os.path.lexists(path):
        raise SaveError(path, "it exists already", "Name a new file, or move that one away.")
    atomic.write(path, dumps(venue).encode("utf-8"))


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
