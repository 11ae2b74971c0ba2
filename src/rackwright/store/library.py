"""The equipment known without a rig: the built-in demo catalogue, and over it the user's own files.

The user's library is every `*.toml` in the folder `equipment` of the user's folder. Writes nothing.
"""

import functools
from pathlib import Path

from rackwright.model.equipment import EQUIPMENT_KINDS, Equipment
from rackwright.model.rules import Problem, check_equipment
from rackwright.store import files
from rackwright.store.home import home
from rackwright.store.toml import former
from rackwright.store.toml.decode import decode
from rackwright.store.toml.read import parse, read_text, refusal_of


@functools.cache
def built_in() -> Equipment:
    """The demo equipment shipped with the program."""
    from rackwright import (
        catalogue,
    )  # what it imports costs more than opening a rig that carries its equipment

    return equipment_of(catalogue.text(), "built-in catalogue", Equipment())


def library() -> Equipment:
    """The user's entries over the built-in ones. Raises RigFileError naming the file that can't be used."""
    return user_library().over(built_in())


def user_library() -> Equipment:
    """The entries of the user's own equipment files. Raises RigFileError naming the file that can't be used."""
    found = Equipment()
    for path in user_files():
        text = read_text(path)
        entries = equipment_of(text, str(path), found.over(built_in()))
        if twice := listed_twice(entries, found):
            raise refusal_of(str(path), twice, text, parse(text, str(path)))
        found = followed_by(found, entries)
    return found


def user_files() -> tuple[Path, ...]:
    """The user's equipment files, by name."""
    return files.toml_in(home() / "equipment")


def equipment_of(text: str, name: str, known: Equipment) -> Equipment:
    """The entries of an equipment file's text; they may refer to one another and to those `known`. Raises RigFileError."""
    data = parse(text, name)
    entries, problems = decode(data, Equipment)
    if entries is not None:
        told = {problem.path for problem in problems}
        entries = former.equipment_with_ids(entries, followed_by(entries, known))
        problems += tuple(p for p in breaches(entries, known) if p.path not in told)
    if problems or entries is None:
        raise refusal_of(name, problems, text, data)
    return entries


def followed_by(first: Equipment, rest: Equipment) -> Equipment:
    """All of `first`, then what `rest` has under other ids."""
    joined = {}
    for kind in EQUIPMENT_KINDS:
        taken = {entry.id for entry in getattr(first, kind)}
        added = (entry for entry in getattr(rest, kind) if entry.id not in taken)
        joined[kind] = (*getattr(first, kind), *added)
    return Equipment(**joined)


def breaches(entries: Equipment, known: Equipment) -> tuple[Problem, ...]:
    """What is wrong with these entries, not with those `known`, which they may refer to."""

    def is_theirs(problem: Problem) -> bool:
        kind, number = problem.path[0], problem.path[1]
        return isinstance(number, int) and number < len(getattr(entries, str(kind)))

    return tuple(filter(is_theirs, check_equipment(followed_by(entries, known))))


def listed_twice(entries: Equipment, earlier: Equipment) -> tuple[Problem, ...]:
    """The entries whose id an earlier file of the user has: which of the two holds would be a matter of chance."""
    return tuple(
        Problem(
            (kind, i, "id"),
            f'"{entry.id}" is in another of your equipment files too',
            "Delete one of the two, or give it another id.",
        )
        for kind in EQUIPMENT_KINDS
        for i, entry in enumerate(getattr(entries, kind))
        if entry.id in {known.id for known in getattr(earlier, kind)}
    )
