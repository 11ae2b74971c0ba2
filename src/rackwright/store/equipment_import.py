"""Equipment from a spreadsheet saved as CSV: columns matched by their heads, units taken from heads or cells.

Gives the entries, or every row that has a problem and why; never some of both. Writes nothing, and guesses no figure that
is not there. A loudspeaker has a row for each of its sections.
"""

import difflib
import os
import re
from collections.abc import Iterator, Sequence
from typing import Any, Literal, NamedTuple, get_origin

from msgspec import Struct

from rackwright.model.equipment import EQUIPMENT_KINDS, DampingRating, Driver, Equipment, Section
from rackwright.model.fields import fields
from rackwright.model.rules import Problem
from rackwright.store.library import breaches
from rackwright.store.spreadsheet import (
    LONGEST_FIGURE,
    Cells,
    CsvError,
    Trouble,
    may_be_thousands,
    read_cells,
    shown,
    thousands,
)
from rackwright.store.toml.decode import decode
from rackwright.units import ConductorSize, Impedance, Power, Quantity

ALIKE = 0.84
"""How like a name a head must be: 1 is the same."""
WHOLE, NUMBER, SHARE, TEXT, CHOICE, YES = "whole number", "number", "share", "text", "choice", "yes or no"
_NOTHING = {"", "-", "–", "—", "n/a", "na", "?"}
_YES, _NO = {"yes", "y", "true", "1", "x"}, {"no", "n", "false", "0"}

Kind = type[Quantity] | str


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


class Sheet(NamedTuple):
    """What a file holds: how its columns were taken, and its entries or what is wrong."""

    kind: str
    columns: tuple[Column, ...]
    missing: tuple[str, ...]
    """Names of columns that are needed and not there."""
    entries: Equipment
    """Empty where anything is wrong."""
    troubles: tuple[Trouble, ...]


_NUMBERED = {str: TEXT, int: WHOLE, bool: YES, float: NUMBER, DampingRating: NUMBER}


def _columns(thing: type[Struct], *, but: Sequence[str] = ()) -> tuple[Target, ...]:
    """The columns of a thing's fields; lists of its parts have none of their own."""
    columns = []
    for field in fields(thing):
        if field.name in but or get_origin(field.kind) in (tuple, dict):
            continue
        kind = _NUMBERED.get(field.kind, field.kind)
        if get_origin(kind) is Literal:
            kind = CHOICE
        elif kind == NUMBER and field.high <= 1:
            kind = SHARE
        names = (field.name.replace("_", " "), *filter(None, field.heads.split(", ")))
        columns.append(Target(field.name, kind, names, field.required))
    return tuple(columns)


_DRIVER = tuple(column._replace(required=False) for column in _columns(Driver))
_SECTION = _columns(Section, but=("id",))
TARGETS: dict[str, tuple[Target, ...]] = {
    kind: _columns(model, but=("output", "inrush_kind")) for kind, model in EQUIPMENT_KINDS.items()
}
TARGETS["amplifiers"] += (Target("damping_load", Impedance, ("damping factor load", "damping load"), False),)
TARGETS["loudspeakers"] += (
    Target("section", TEXT, ("section", "section id", "driver"), False),
    Target("pair", WHOLE, ("pair", "pole pair", "poles"), False),
    *_SECTION,
    *_DRIVER,
)

_LOAD = re.compile(r"(?<![\d.,])(?<!\de)(\d+(?:[.,]\d+)?)\s*(?:ohms?|Ω|Ω)(?![a-z])", re.IGNORECASE)
_FIGURES = re.compile(r"[+-]?(?:\d{1,15}(?:[.,]\d{0,15})?|[.,]\d{1,15})(?:[eE][+-]?\d{1,2})?")
_BRACKETED = re.compile(r"[(\[]([^()\[\]]*)[)\]]")


# --- the file -----------------------------------------------------------------------------------------


def read_csv(path: str | os.PathLike[str], known: Equipment, kind: str = "") -> Sheet:
    """What a CSV file holds; entries may refer to those `known`.

    `kind` is one of EQUIPMENT_KINDS; where empty, the one whose columns the file has. Raises CsvError.
    """
    cells = read_cells(path, "the equipment")
    chosen = kind or _likeliest(cells.heads, os.fspath(path))
    return _read(chosen, match(cells.heads, chosen), cells, known)


# --- columns ------------------------------------------------------------------------------------------


def match(heads: Sequence[str], kind: str) -> tuple[Column, ...]:
    """Each column and what it is taken for; a key goes to the column most like it."""
    taken: dict[int, Column] = {}
    if kind == "amplifiers":
        taken = {i: column for i, head in enumerate(heads) if (column := _rating(i, head))}
    offers = sorted(
        (
            (-likeness, i, number, column)
            for i, head in enumerate(heads)
            if i not in taken
            for number, target in enumerate(TARGETS[kind])
            for likeness, column in (_likeness(i, head, target),)
            if likeness >= ALIKE
        ),
        key=lambda offer: offer[:3],
    )
    used: set[str] = set()
    for _, i, _, column in offers:
        if i not in taken and column.key not in used:
            taken[i] = column
            used.add(column.key)
    return tuple(taken.get(i, Column(i, head, "")) for i, head in enumerate(heads))


def _rating(position: int, head: str) -> Column | None:
    """A column of rated power into the load that its head names."""
    bare = _plain(head)
    load = _LOAD.search(head)
    if load is None or "damping" in bare or re.search(r"\bdf\b", bare):
        return None
    text = f"{load.group(1).replace(',', '.')} ohm"
    rest = _BRACKETED.sub(
        lambda found: f" {found.group(1)} ", head[: load.start()] + " " + head[load.end() :]
    )
    unit = next((word for word in rest.split() if Power._spelling(word)), "")
    if not unit and "power" not in bare:
        return None
    key = "bridged" if re.search(r"bridge|\bbtl\b", bare) else "rating"
    return Column(position, head, f"{key} {text}", Power, unit, text)


def _likeness(position: int, head: str, target: Target) -> tuple[float, Column]:
    """How like a column's head is to what a target is called, its unit left aside."""
    bracketed = _BRACKETED.search(head)
    inside = bracketed.group(1).strip() if bracketed else ""
    load = _LOAD.search(head) if target.key == "damping_factor" else None
    plain = _plain(_BRACKETED.sub(" ", head if load is None else head[: load.start()] + head[load.end() :]))
    plain = re.sub(r"\s*(@|\bat\b|\binto\b)\s*$", "", plain).strip()
    unit = inside if _is_unit(target.kind, inside) else ""
    ways = [(plain, unit)]
    if not unit and " " in head.strip():
        words = head.replace(",", " ").split()
        if _is_unit(target.kind, words[-1]):
            ways.append((_plain(" ".join(words[:-1])), words[-1]))
    best = max(
        ((_alike(name, way), its) for way, its in ways for name in target.names),
        key=lambda found: found[0],
    )
    text = f"{load.group(1).replace(',', '.')} ohm" if load else ""
    return best[0], Column(position, head, target.key, target.kind, best[1], text)


def _alike(name: str, head: str) -> float:
    """How alike the two are; 0 where their lengths alone rule it out."""
    if 2 * min(len(name), len(head)) < ALIKE * (len(name) + len(head)):
        return 0.0
    return difflib.SequenceMatcher(None, name, head).ratio()


def _plain(head: str) -> str:
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


def _likeliest(heads: Sequence[str], name: str) -> str:
    """The kind of equipment whose columns the heads are. Raises CsvError where that is not plain."""
    shares = {kind: _share(heads, kind) for kind in EQUIPMENT_KINDS}
    first, second = sorted(shares.values(), reverse=True)[:2]
    if first < 0.5 or first - second < 0.1:
        raise CsvError(
            f"{name}: its columns fit no one kind. Name it: --kind {' or '.join(EQUIPMENT_KINDS)}."
        )
    return max(shares, key=lambda kind: shares[kind])


def _share(heads: Sequence[str], kind: str) -> float:
    """How much of what an entry of a kind needs is there."""
    keys = {column.key for column in match(heads, kind)}
    needed = [target.key for target in TARGETS[kind] if target.required]
    return sum(key in keys for key in needed) / len(needed)


# --- rows ---------------------------------------------------------------------------------------------


class _Row(NamedTuple):
    line: int
    values: dict[str, Any]
    ratings: list[dict[str, str]]
    bridged: list[dict[str, str]]


def _read(kind: str, columns: tuple[Column, ...], cells: Cells, known: Equipment) -> Sheet:
    missing = _missing(kind, columns)
    troubles = list(cells.troubles)
    read = [_row(line, row, columns, troubles) for line, row in cells.rows]
    if not cells.rows:
        troubles.append(Trouble(1, "There is no row under the headings."))
    if missing or troubles:
        return Sheet(kind, columns, missing, Equipment(), tuple(sorted(troubles)))
    entries, lines = _speakers(read) if kind == "loudspeakers" else _singles(kind, read)
    made, problems = decode({kind: entries}, Equipment)
    if made is not None:
        said = {problem.path for problem in problems}
        problems += tuple(p for p in breaches(made, known) if p.path not in said)
    found = tuple(sorted({Trouble(_line_of(problem, lines), _sentence(problem)) for problem in problems}))
    return Sheet(kind, columns, (), made if made is not None and not found else Equipment(), found)


def _number(problem: Problem, at: int) -> int:
    number = problem.path[at] if len(problem.path) > at else 0
    return number if isinstance(number, int) else 0


def _line_of(problem: Problem, lines: list[list[int]]) -> int:
    """The line that a problem's path leads to: the section's, where it is one of a section."""
    of_entry = lines[_number(problem, 1)]
    section = _number(problem, 3) if len(problem.path) > 3 and problem.path[2] == "sections" else 0
    return of_entry[min(section, len(of_entry) - 1)]


def _sentence(problem: Problem) -> str:
    keys = [
        str(part)
        for part in problem.path[2:]
        if isinstance(part, str) and part not in ("sections", "wirings")
    ]
    return f"{' '.join(keys).replace('_', ' ')}: {problem}" if keys else str(problem)


def _missing(kind: str, columns: tuple[Column, ...]) -> tuple[str, ...]:
    keys = {column.key for column in columns}
    names = [target.names[0] for target in TARGETS[kind] if target.required and target.key not in keys]
    if kind == "amplifiers":
        if not any(key.startswith("rating ") for key in keys):
            names.append("power 8 ohm (W)")
        damping = next((column for column in columns if column.key == "damping_factor"), None)
        if damping is not None and not damping.load and "damping_load" not in keys:
            names.append("damping load (ohm), or damping factor 8 ohm as the head")
    return tuple(names)


def _row(line: int, cells: Sequence[str], columns: tuple[Column, ...], troubles: list[Trouble]) -> _Row:
    row = _Row(line, {}, [], [])
    for column in columns:
        cell = cells[column.position]
        if not column.key or cell.casefold() in _NOTHING:
            continue
        try:
            value = _value(cell, column)
        except ValueError as error:
            troubles.append(Trouble(line, f"{column.head}: {error}"))
            continue
        if column.key.startswith(("rating ", "bridged ")):
            (row.bridged if column.key.startswith("bridged") else row.ratings).append(
                {"load": column.load, "power": value}
            )
        elif column.key == "damping_factor":
            row.values[column.key] = {"value": value, **({"load": column.load} if column.load else {})}
        else:
            row.values[column.key] = value
    if load := row.values.pop("damping_load", ""):
        row.values.setdefault("damping_factor", {})["load"] = load
    return row


def _value(cell: str, column: Column) -> Any:
    """A cell as it would stand in an equipment file. Raises ValueError saying what is wrong."""
    kind = column.kind
    if kind in (TEXT, CHOICE):
        return cell.casefold() if kind == CHOICE else cell
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


def _singles(kind: str, rows: list[_Row]) -> tuple[list[dict[str, Any]], list[list[int]]]:
    """An entry a row."""
    entries = []
    for row in rows:
        powers = {"ratings": row.ratings} if kind == "amplifiers" else {}
        bridged = {"bridged": row.bridged} if row.bridged else {}
        entries.append({**row.values, **powers, **bridged})
    return entries, [[row.line] for row in rows]


def _speakers(rows: list[_Row]) -> tuple[list[dict[str, Any]], list[list[int]]]:
    """An entry for the rows of one id, each of them a section; the first row says what holds for the whole."""
    groups: dict[str, list[_Row]] = {}
    for row in rows:
        groups.setdefault(str(row.values.get("id", "")), []).append(row)
    return [_speaker(of_one) for of_one in groups.values()], [
        [row.line for row in of_one] for of_one in groups.values()
    ]


def _speaker(rows: list[_Row]) -> dict[str, Any]:
    whole: dict[str, Any] = {
        key: rows[0].values[key] for key in ("id", "name", "connector", "weight") if key in rows[0].values
    }
    sections, pairs = [], dict[int, list[str]]()
    for number, row in enumerate(rows, 1):
        name = str(row.values.get("section") or row.values.get("kind", ""))
        section: dict[str, Any] = {"id": name}
        section |= {key: row.values[key] for key, *_ in _SECTION if key in row.values}
        if driver := {key: row.values[key] for key, *_ in _DRIVER if key in row.values}:
            section["driver"] = driver
        sections.append(section)
        pairs.setdefault(int(row.values.get("pair", number)), []).append(name)
    wiring = list(_by_pair(pairs))
    return whole | {"sections": sections, "wirings": {"standard": wiring}}


def _by_pair(pairs: dict[int, list[str]]) -> Iterator[list[str]]:
    for pair in range(1, max(pairs) + 1):
        yield pairs.get(pair, [])
