"""Venue files: the facts of one venue as TOML, in a file of their own, among the user's venues or the shipped ones.

The user's are every `*.toml` in the folder `venues` of the user's folder; one of the same name as a shipped venue takes
its place. Overwrites a file only where told to.
"""

import os
from pathlib import Path
from typing import Any, Literal

from msgspec import Struct

from rackwright.model import rules
from rackwright.model.rig import Rig
from rackwright.model.rules import Problem, missing
from rackwright.model.venue_facts import VenueFacts
from rackwright.store import files
from rackwright.store.home import home
from rackwright.store.presets import shipped_folder
from rackwright.store.safe import atomic_write
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.toml import former
from rackwright.store.toml.decode import decode
from rackwright.store.toml.encode import as_toml, plain
from rackwright.store.toml.read import RigFileError, parse, read_text, refusal_of


class Kept(Struct, frozen=True):
    """A venue as listed; where `error` is not empty it can't be used."""

    name: str
    path: Path
    origin: Literal["shipped", "yours"]
    facts: VenueFacts | None = None
    error: str = ""
    """The first of its problems."""

    @property
    def title(self) -> str:
        """What the venue calls itself, and the rig that it is known by."""
        return self.facts.title if self.facts else ""

    @property
    def first_note(self) -> str:
        """The first line of its notes."""
        return self.facts.notes.strip().partition("\n")[0] if self.facts else ""


def folder() -> Path:
    """Where the user's venues are kept."""
    return home() / "venues"


def names() -> tuple[str, ...]:
    """The user's venues and the shipped ones, by name."""
    return tuple(sorted(_files()))


def listed() -> tuple[Kept, ...]:
    """Every venue by name; one that can't be read is listed with its error."""
    return tuple(_kept(path) for _, path in sorted(_files().items()))


def load(name: str, rig: str = "") -> VenueFacts:
    """The facts of a file, or the user's or the shipped ones of that name. Raises RigFileError.

    Where the name is no file's, and there are facts of the same venue taken from the rig of that name, those.
    """
    path = Path(name) if os.path.isfile(name) else _files().get(name, Path(name))
    found = loads(read_text(path), os.fspath(path))
    own = None if os.path.isfile(name) or found.rig == rig else of_rig(found.venue.name, rig)
    return own.facts if own and own.facts else found


def of_rig(venue: str, rig: str) -> Kept | None:
    """The facts of the venue called so, as the rig called so found it."""
    return next(
        (k for k in listed() if k.facts and k.facts.venue.name == venue != "" and k.facts.rig == rig), None
    )


def notes_of(venue: str, rig: str) -> str:
    """What is noted of the venue called so: by the rig called so, else by others, the user's before the shipped ones."""
    there = [(k.facts, k.origin) for k in listed() if k.facts and k.facts.venue.name == venue != ""]
    own = [facts for facts, _ in there if facts.rig == rig]
    others = [facts for facts, _ in sorted(there, key=lambda each: each[1] != "yours")]
    return next((facts.notes for facts in own or others), "")


def own_name(facts: VenueFacts) -> tuple[str, bool]:
    """The name under which a rig's facts of a venue are kept, beside those that other rigs found there; whether they are yet."""
    first, beside = (files.plain_name(f"{facts.venue.name} {rig}") or "venue" for rig in ("", facts.rig))
    known = {kept.name: kept.facts for kept in listed()}
    names = (first, beside, *(f"{beside}-{number}" for number in range(2, len(known) + 3)))
    own = next((name for name in names if (there := known.get(name)) and there.rig == facts.rig), None)
    return (own, True) if own else (next(name for name in names if name not in known), False)


def loads(text: str, name: str = "venue") -> VenueFacts:
    """The venue of a file's text, `name` being what messages call the file. Raises RigFileError."""
    data = former.venue_of_today(parse(text, name))
    venue, problems = decode(data, VenueFacts)
    if venue is not None:
        told = {problem.path for problem in problems}
        problems += tuple(problem for problem in _breaches(venue) if problem.path not in told)
    if venue is None or problems:
        raise refusal_of(name, problems, text, data)
    return venue


def dumps(venue: VenueFacts) -> str:
    """The venue as the text of a venue file; `loads` gives an equal venue back."""
    return as_toml(plain(venue))


def save(venue: VenueFacts, path: str | os.PathLike[str], *, over: bool = False) -> None:
    """Write a venue file. Raises SaveError, also where the file exists already and is not to be written `over`."""
    if os.path.lexists(path) and not over:
        raise SaveError(path, "it exists already", "Name a new file, or move that one away.")
    atomic_write.write(path, dumps(venue).encode("utf-8"))


def keep(venue: VenueFacts, name: str, *, over: bool = False) -> Path:
    """Write the user's venue of that name, making the folder; where it stands. Raises SaveError, as `save` does."""
    path = folder() / f"{name}.toml"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise atomic_write.save_error(path, error) from None
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
        return Kept(path.stem, path, origin, error=error.first)


def _breaches(venue: VenueFacts) -> tuple[Problem, ...]:
    """The rules that a venue breaks by itself; whether it fits a rig is said when the two are joined."""
    tables: dict[str, Any] = {key: getattr(venue, key) for key in ("supply", "boards", "circuits", "loads")}
    bare = Rig(format=venue.format, name="", **tables)
    known = [circuit.id for circuit in venue.circuits]
    dangling = (
        Problem(("mains", i, "circuit"), *missing("circuit", hookup.circuit, known))
        for i, hookup in enumerate(venue.mains)
        if hookup.circuit not in known
    )
    out_of_reach = (
        problem
        for i, reach in enumerate(venue.reaches)
        for problem in rules.absent(("reaches", i, "circuits"), "circuit", reach.circuits, known)
    )
    return (*rules.check(bare), *dangling, *out_of_reach)
