"""A breach of the rules, and the sentences that several rules share."""

import difflib
import re
from collections.abc import Collection, Iterable, Iterator
from typing import TypeAlias

from msgspec import Struct

from rackwright.model.fields import bounded
from rackwright.units.wording import some

Path: TypeAlias = tuple[str | int, ...]

_ID = re.compile(r"[^\s.\-][^\s.]*")
_LONGEST_ID = 60
"""Signs: no tape takes more."""


class Problem(Struct, frozen=True):
    """A breach: the path of keys and positions that leads to it, what is wrong, what to do."""

    path: Path
    wrong: str
    advice: str

    def __str__(self) -> str:
        return f"{self.wrong}. {self.advice}"


def within(path: Path, thing: Struct) -> Iterator[Problem]:
    """Every number of a thing that is out of the bounds of its field."""
    for name, low, high, field in bounded(type(thing)):
        number = getattr(thing, name)
        if number is not None and not low <= number <= high:
            key = field.key.replace("_", " ").capitalize()
            yield Problem(
                (*path, field.key),
                f"{key} {number:g} is outside {low:g} to {high:g}",
                f"Write one such as {field.example}.",
            )


def missing(what: str, name: str, existing: Iterable[str]) -> tuple[str, str]:
    """The two sentences for a reference that leads nowhere: what is missing, what there is."""
    known = list(existing)
    wrong = f'There is no {what} "{name}"'
    if not known:
        return wrong, f"There is none yet: add {with_article(what)} of that id first."
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    shown = some(known, 8)
    return wrong, f'Did you mean "{near[0]}"? There are: {shown}.' if near else f"There are: {shown}."


def absent(path: Path, what: str, names: Iterable[str], existing: Collection[str]) -> Iterator[Problem]:
    """Every name of a list that leads nowhere."""
    for i, name in enumerate(names):
        if name not in existing:
            yield Problem((*path, i), *missing(what, name, existing))


def with_article(kind: str) -> str:
    """The kind with its article."""
    return f"an {kind}" if kind[:1] in "aeiou" else f"a {kind}"


def bad_id(path: Path, name: str) -> Iterator[Problem]:
    """What is wrong with an id, as a rig's things and the sections of a loudspeaker have one."""
    if len(name) > _LONGEST_ID:
        long = f"An id of {len(name)} characters is too long for a label"
        yield Problem((*path, "id"), long, f"Write {_LONGEST_ID} at most.")
    elif not _ID.fullmatch(name):
        yield _no_id(path, name)


def _no_id(path: Path, name: str) -> Problem:
    better = re.sub(r"[\s.]+", "-", name.strip()).lstrip("-")
    advice = "Use letters, digits, - and _, with no space or dot and no - at the start" + (
        f', such as "{better}".' if better else "."
    )
    return Problem((*path, "id"), f'"{name}" can\'t be an id' if name else "The id is empty", advice)
