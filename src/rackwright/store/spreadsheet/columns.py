"""What the columns of a spreadsheet are, by their heads, and what their cells say, as it would stand in a file of the program.

Heads are matched by likeness with the names of the fields in `model.fields`, units taken from heads or cells. Which
things there are is for `equipment` and `lists`; nothing is guessed here, and nothing written.
"""

import difflib
import re
from collections.abc import Iterable, Sequence
from typing import Any, Literal, NamedTuple, TypeVar, get_args, get_origin

from msgspec import Struct
from msgspec.structs import replace

from rackwright.model.equipment import DampingRating
from rackwright.model.fields import fields
from rackwright.model.rules import Problem
from rackwright.store.spreadsheet.cells import (
    LONGEST_FIGURE,
    Cells,
    Trouble,
    may_be_thousands,
    shown,
    thousands,
)
from rackwright.store.toml.decode import decode
from rackwright.units import ConductorSize, Quantity

ALIKE = 0.84
"""How like a name a head must be: 1 is the same."""
WHOLE, NUMBER, SHARE, TEXT, CHOICE, YES = "whole number", "number", "share", "text", "choice", "yes or no"
WHOLES, SPAN = "whole numbers", "two figures"
NOTHING = {"", "-", "–", "—", "n/a", "na", "?"}
_YES, _NO = {"yes", "y", "true", "1", "x"}, {"no", "n", "false", "0"}

Kind = type[Quantity] | str
Thing = TypeVar("Thing", bound=Struct)


class Target(NamedTuple):
    """A key of an entry, and what columns that hold it are called."""

    key: str
    kind: Kind
    names: tuple[str, ...]
    required: bool = True


class Column(NamedTuple):
    """A column of the file and what it was taken for."""

    position: int
    head: str
    key: str
    """Empty where it is not used; `rating 8 ohm`, `bridged 4 ohm` for a rated power."""
    kind: Kind = TEXT
    unit: str = ""
    """The unit that a bare number in it has; empty where its head names none."""
    load: str = ""
    """The load that its head names."""


_NUMBERED = {str: TEXT, int: WHOLE, bool: YES, float: NUMBER, DampingRating: NUMBER, tuple[int, ...]: WHOLES}


def targets(thing: type[Struct], *, but: Sequence[str] = ()) -> tuple[Target, ...]:
    """The columns of a thing's fields; lists of its parts have none of their own."""
    found = []
    for field in fields(thing):
        kind = _NUMBERED.get(field.kind, field.kind)
        arguments = get_args(kind)
        if get_origin(kind) is tuple and len(arguments) == 2 and arguments[0] is arguments[1]:
            kind = SPAN
        if field.name in but or get_origin(kind) in (tuple, dict):
            continue
        if get_origin(kind) is Literal:
            kind = CHOICE if isinstance(arguments[0], str) else WHOLE
        elif kind == NUMBER and field.high <= 1:
            kind = SHARE
        names = (field.key.replace("_", " "), *filter(None, field.heads.split(", ")))
        found.append(Target(field.key, kind, names, field.required and not field.assumed))
    return tuple(found)


LOAD = re.compile(r"(?<![\d.,])(?<!\de)(\d+(?:[.,]\d+)?)\s*(?:ohms?|Ω|Ω)(?![a-z])", re.IGNORECASE)
_FIGURES = re.compile(r"[+-]?(?:\d{1,15}(?:[.,]\d{0,15})?|[.,]\d{1,15})(?:[eE][+-]?\d{1,2})?")
BRACKETED = re.compile(r"[(\[]([^()\[\]]*)[)\]]")
_MISSING = re.compile(r'The key ".*" is missing\. Add it: .* = "?(.*?)"?\.')
_TO = re.compile(r"\s+to\s+|\s*[–…]\s*|\s+-\s+", re.IGNORECASE)


# --- heads --------------------------------------------------------------------------------------------


def match(
    heads: Sequence[str], wanted: Sequence[Target], taken: dict[int, Column] | None = None
) -> tuple[Column, ...]:
    """Each column and what it is taken for, those already `taken` as they are; a key goes to the column most like it."""
    found = dict(taken or {})
    offers = sorted(
        (
            (-likeness, i, number, column)
            for i, head in enumerate(heads)
            if i not in found
            for number, target in enumerate(wanted)
            for likeness, column in (_likeness(i, head, target),)
            if likeness >= ALIKE
        ),
        key=lambda offer: offer[:3],
    )
    used: set[str] = set()
    for _, i, _, column in offers:
        if i not in found and column.key not in used:
            found[i] = column
            used.add(column.key)
    return tuple(found.get(i, Column(i, head, "")) for i, head in enumerate(heads))


def share(columns: Sequence[Column], wanted: Sequence[Target]) -> float:
    """How much of what is needed is there, 0 to 1."""
    keys = {column.key for column in columns}
    needed = [target.key for target in wanted if target.required]
    return sum(key in keys for key in needed) / len(needed)


def _likeness(position: int, head: str, target: Target) -> tuple[float, Column]:
    """How like a column's head is to what a target is called, its unit left aside."""
    bracketed = BRACKETED.search(head)
    inside = bracketed.group(1).strip() if bracketed else ""
    load = LOAD.search(head) if target.key == "damping_factor" else None
    bare = plain(BRACKETED.sub(" ", head if load is None else head[: load.start()] + head[load.end() :]))
    bare = re.sub(r"\s*(@|\bat\b|\binto\b)\s*$", "", bare).strip()
    unit = inside if _is_unit(target.kind, inside) else ""
    ways = [(bare, unit)]
    if not unit and " " in head.strip():
        words = head.replace(",", " ").split()
        if _is_unit(target.kind, words[-1]):
            ways.append((plain(" ".join(words[:-1])), words[-1]))
    best = max(
        ((_alike(name, way), its) for way, its in ways for name in target.names),
        key=lambda found: found[0],
    )
    text = f"{load.group(1).replace(',', '.')} ohm" if load else ""
    return best[0], Column(position, head, target.key, target.kind, best[1], text)


def _alike(name: str, head: str) -> float:
    """How alike the two are; 0 where their lengths alone rule it out, or which letters they have."""
    compared = difflib.SequenceMatcher(None, name, head)
    if compared.real_quick_ratio() < ALIKE or compared.quick_ratio() < ALIKE:
        return 0.0
    return compared.ratio()


def plain(head: str) -> str:
    """A head without case and marks."""
    return " ".join(re.sub(r"[_\-./:,]+", " ", head.casefold()).split())


def _is_unit(kind: Kind, text: str) -> bool:
    if not text:
        return False
    if kind == SHARE:
        return text in ("%", "percent")
    if isinstance(kind, str):
        return False
    if kind is ConductorSize and text.casefold() == "awg":
        return True
    return kind._spelling(text) is not None


# --- cells --------------------------------------------------------------------------------------------


def values(
    row: tuple[int, Sequence[str]], columns: Sequence[Column], troubles: list[Trouble]
) -> list[tuple[Column, Any]]:
    """What the cells of a row say that say something; what is wrong with one is added to the troubles."""
    line, cells = row
    found = []
    for column in columns:
        cell = cells[column.position]
        if not column.key or cell.casefold() in NOTHING:
            continue
        try:
            found.append((column, _value(cell, column)))
        except ValueError as error:
            troubles.append(Trouble(line, column.position, str(error)))
    return found


def _value(cell: str, column: Column) -> Any:
    """A cell as it would stand in an equipment file. Raises ValueError saying what is wrong."""
    kind = column.kind
    if kind in (TEXT, CHOICE):
        return cell.casefold() if kind == CHOICE else cell
    if kind == SPAN:
        return [end.strip() for end in _TO.split(cell)]
    if kind == WHOLES:
        return [_plain_number(part, column._replace(kind=WHOLE)) for part in re.split(r"[\s,;]+", cell)]
    if len(cell) > LONGEST_FIGURE:
        raise ValueError(f'"{shown(cell)}" is not a number. Write one, with its unit.')
    if kind == YES:
        if cell.casefold() not in _YES | _NO:
            raise ValueError(f'"{cell}" is neither yes nor no. Write one of the two.')
        return cell.casefold() in _YES
    if kind != SHARE and may_be_thousands(cell):
        raise ValueError(thousands(cell))
    if isinstance(kind, str):
        return _plain_number(cell, column)
    bare = re.fullmatch(r"[+-]?(\d+([.,]\d+)?|[1-4]/0)", cell)
    if not column.unit and _FIGURES.fullmatch(cell) and kind._spelling("") is None:
        example = kind.examples[0]
        unit = example.rpartition(" ")[2]
        raise ValueError(
            f'There is no unit. Write "{example}", or for all rows the head "{shown(column.head)} ({unit})".'
        )
    text = f"{cell} {column.unit}".strip() if bare else cell
    return kind.parse(text).text


def _plain_number(cell: str, column: Column) -> float | int:
    percent = column.kind == SHARE and (cell.endswith("%") or column.unit != "")
    text = re.sub(r"\s*[uU]$", "", cell) if column.key == "height" else cell.rstrip("% ")
    if not _FIGURES.fullmatch(text):
        raise ValueError(f'"{shown(cell)}" is not a {column.kind}. Write only digits.')
    number = float(text.replace(",", "."))
    if column.kind == WHOLE:
        if not number.is_integer():
            raise ValueError(f'"{cell}" is not a whole number. Write one such as 2.')
        if column.key == "pair" and not 1 <= number <= 16:
            raise ValueError(f'"{cell}" is not a pole pair. Write a number from 1 to 16.')
        return int(number)
    return round(number / 100, 6) if percent else number


def troubles_of(cells: Cells, columns: Sequence[Column]) -> list[Trouble]:
    """What is wrong with the file, as far as it matters to the columns that are used."""
    used = {column.position for column in columns if column.key}
    nothing = [] if cells.rows else [Trouble(1, -1, "There is no row under the heads.")]
    return [*cells.troubles, *(each for each in cells.lost if each.column in used), *nothing]


def decoded(
    kind: str, entries: Sequence[tuple[int, dict[str, Any]]], thing: type[Thing]
) -> tuple[dict[int, Thing], list[Problem]]:
    """The entries, given with their rows, by their number, to check against the rules; what is wrong with any, at its `kind` and number.

    Each for itself, what it lacks filled in, so that one that can't be used hides nothing of the others nor of itself. With
    problems they are good for the rules only.
    """
    built, problems = dict[int, Thing](), list[Problem]()
    for number, (row, entry) in enumerate(entries):
        read, found = decode(entry, thing, (kind, number))
        problems += found
        if read is None:
            read, _ = decode(_filled_in(entry, thing, row), thing, (kind, number))
        if read is not None:
            built[number] = read
    return built, problems


def _filled_in(entry: dict[str, Any], thing: type[Struct], row: int) -> dict[str, Any]:
    """The entry with something in place of what it lacks: a text that stands nowhere else, a number within its bounds."""
    lacking: dict[str, Any] = {
        field.key: field for field in fields(thing) if field.required and field.key not in entry
    }
    for key, field in lacking.items():
        if field.kind is str:
            lacking[key] = f"{key} of row {row}"
        elif field.kind is int:
            lacking[key] = int(field.example)
        else:
            lacking[key] = [] if get_origin(field.kind) is tuple else {}
    return lacking | entry


def with_breaches(
    problems: Sequence[Problem], breaches: Iterable[Problem], numbers: Sequence[int]
) -> list[Problem]:
    """With what those that could be built do against the rules, each at its number among all, unless that place is told of already."""
    said = {problem.path for problem in problems}
    found = [*problems]
    for breach in breaches:
        kind, place, *rest = breach.path
        path = (kind, numbers[place] if isinstance(place, int) else place, *rest)
        if not said & {path, *(path[:end] for end in range(3, len(path)))}:
            found.append(replace(breach, path=path))
    return found


def number_in(problem: Problem, at: int) -> int:
    """The number at that place of a problem's path; 0 where there is none."""
    number = problem.path[at] if len(problem.path) > at else 0
    return number if isinstance(number, int) else 0


def add(troubles: list[Trouble], problem: Problem, line: int, columns: Sequence[Column]) -> None:
    """Add what is wrong with what the rows say, at the column that says it, unless that is told of already."""
    keys = [part for part in problem.path[1:] if isinstance(part, str)]
    at = {column.key: column.position for column in columns}.get(keys[-1] if keys else "", -1)
    about = " ".join(keys).replace("_", " ") if at < 0 else ""
    if any(told.line == line and told.column == at >= 0 for told in troubles):
        return
    blank = is_blank(problem)
    if at >= 0 and blank:
        told = (
            "It is blank, or as good as that."
            if blank[1].startswith("…")
            else f"It is blank. Write one such as {blank[1]}."
        )
        troubles.append(Trouble(line, at, told))
    else:
        troubles.append(Trouble(line, at, f"{about}: {problem}" if about else str(problem)))


def is_blank(problem: Problem) -> re.Match[str] | None:
    """Whether the problem is that nothing is said; the match's first group is what might be."""
    return _MISSING.fullmatch(str(problem))
