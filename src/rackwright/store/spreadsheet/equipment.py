"""Equipment from a spreadsheet: columns matched by their heads, units taken from heads or cells.

Gives the entries, or every row that has a problem and why; never some of both. Writes nothing, and guesses no figure that
is not there: one that may be assumed is, and is named so. A loudspeaker has a row for each of its sections.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from msgspec.structs import replace

from rackwright.model.assumed import assumable, completed
from rackwright.model.equipment import EQUIPMENT_KINDS, Driver, Equipment, Section
from rackwright.model.rules import Problem
from rackwright.store.library import breaches
from rackwright.store.spreadsheet import columns
from rackwright.store.spreadsheet.cells import Cells, Trouble
from rackwright.store.spreadsheet.columns import CHOICE, TEXT, WHOLE, Column, Target, targets
from rackwright.store.toml.encode import plain
from rackwright.units import Impedance, Power

_DRIVER = tuple(column._replace(required=False) for column in targets(Driver))
_SECTION = targets(Section, but=("id",))
TARGETS: dict[str, tuple[Target, ...]] = {
    kind: targets(model, but=("output", "inrush_kind")) for kind, model in EQUIPMENT_KINDS.items()
}
"""Kind of equipment → the columns it may have; to these come rated powers, by their loads."""
TARGETS["amplifiers"] += (
    Target("damping_load", Impedance, ("damping factor load", "damping load"), False),
    Target("inrush_kind", CHOICE, ("inrush kind", "inrush is stated as"), False),
    Target("output", CHOICE, ("output stage",), False),
)
TARGETS["loudspeakers"] += (
    Target("section", TEXT, ("section", "section id", "driver"), False),
    Target("pair", WHOLE, ("pair", "pole pair", "poles"), False),
    Target("wirings", TEXT, ("wirings", "wiring"), False),
    *_SECTION,
    *_DRIVER,
)
STANDARD = "standard"
"""What the wiring is called of a list that has no column for it."""
ASSUMED = " (assumed)"
"""Behind a figure that is assumed; an empty cell of one that may be is assumed, too."""
_SAID = re.compile(r"\s*(\(assumed\)|\bassumed)$", re.IGNORECASE)
_WORD = re.compile(r'\s*(?:"((?:[^"]|"")*)"|([^"/+:;]*))\s*')


# --- columns ------------------------------------------------------------------------------------------


def match(heads: Sequence[str], kind: str) -> tuple[Column, ...]:
    """Each column and what it is taken for; a key goes to the column most like it."""
    rated = enumerate(heads) if kind == "amplifiers" else ()
    taken = {i: column for i, head in rated if (column := _rating(i, head))}
    return columns.match(heads, TARGETS[kind], taken)


def _rating(position: int, head: str) -> Column | None:
    """A column of rated power into the load that its head names."""
    bare = columns.plain(head)
    load = columns.LOAD.search(head)
    if load is None or "damping" in bare or re.search(r"\bdf\b", bare):
        return None
    text = f"{load.group(1).replace(',', '.')} ohm"
    rest = columns.BRACKETED.sub(
        lambda found: f" {found.group(1)} ", head[: load.start()] + " " + head[load.end() :]
    )
    unit = next((word for word in rest.split() if Power._spelling(word)), "")
    if not unit and "power" not in bare:
        return None
    key = "bridged" if re.search(r"bridge|\bbtl\b", bare) else "rating"
    return Column(position, head, f"{key} {text}", Power, unit, text)


# --- rows ---------------------------------------------------------------------------------------------


class _Row(NamedTuple):
    line: int
    values: dict[str, Any]
    ratings: list[dict[str, str]]
    bridged: list[dict[str, str]]


def read(
    kind: str, cells: Cells, taken: Sequence[Column], known: Equipment, troubles: list[Trouble]
) -> Equipment:
    """What the rows hold as that kind of equipment, which may refer to that `known`; what is wrong is added to the troubles.

    Empty where anything is wrong, or a column is missing.
    """
    lacking = missing(kind, taken)
    rows = [_row(kind, row, taken, troubles) for row in cells.rows]
    entries, lines = _speakers(rows, taken, troubles) if kind == "loudspeakers" else _singles(kind, rows)
    of_rows = [(of_one[0], entry) for of_one, entry in zip(lines, entries, strict=True)]
    built, problems = columns.decoded(kind, of_rows, EQUIPMENT_KINDS[kind])
    made = replace(Equipment(), **{kind: tuple(built.values())})
    there = {column.key.partition(" ")[0].replace("rating", "ratings") for column in taken}
    for problem in columns.with_breaches(problems, breaches(made, known), [*built]):
        of_column = columns.is_blank(problem) or problem.path[-1] == "ratings"
        if not (lacking and of_column and problem.path[-1] not in there):
            columns.add(troubles, _in_columns(problem), _line_of(problem, lines), taken)
    return Equipment() if lacking or troubles else made


def _in_columns(problem: Problem) -> Problem:
    """The problem of a section's id at the column that holds it."""
    of_section = len(problem.path) == 5 and problem.path[2] == "sections" and problem.path[4] == "id"
    return replace(problem, path=(*problem.path[:4], "section")) if of_section else problem


def _line_of(problem: Problem, lines: list[list[int]]) -> int:
    """The line that a problem's path leads to: the section's, where it is one of a section."""
    of_entry = lines[columns.number_in(problem, 1)]
    section = columns.number_in(problem, 3) if problem.path[2:3] == ("sections",) else 0
    return of_entry[min(section, len(of_entry) - 1)]


def missing(kind: str, columns: Sequence[Column]) -> tuple[str, ...]:
    """Names of columns that are needed and not there."""
    keys = {column.key for column in columns}
    names = [target.names[0] for target in TARGETS[kind] if target.required and target.key not in keys]
    if kind == "amplifiers":
        if not any(key.startswith("rating ") for key in keys):
            names.append("power 8 ohm (W)")
        damping = next((column for column in columns if column.key == "damping_factor"), None)
        if damping is not None and not damping.load and "damping_load" not in keys:
            names.append("damping load (ohm), or damping factor 8 ohm as the head")
    return tuple(names)


def _row(
    kind: str, cells: tuple[int, Sequence[str]], taken: Sequence[Column], troubles: list[Trouble]
) -> _Row:
    line, texts = cells[0], list(cells[1])
    row = _Row(line, {}, [], [])
    names = {field.key for field in assumable(EQUIPMENT_KINDS[kind])}
    assumed = [c for c in taken if c.key in names and _SAID.search(texts[c.position])]
    for column in assumed:
        texts[column.position] = _SAID.sub("", texts[column.position])
    for column, value in columns.values((line, texts), taken, troubles):
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
    if assumed:
        row.values["assumed"] = [column.key for column in assumed]
    return row


def _singles(kind: str, rows: list[_Row]) -> tuple[list[dict[str, Any]], list[list[int]]]:
    """An entry a row."""
    entries = []
    for row in rows:
        powers = {"ratings": row.ratings} if kind == "amplifiers" else {}
        bridged = {"bridged": row.bridged} if row.bridged else {}
        known = completed(EQUIPMENT_KINDS[kind], row.values)
        entries.append({**{key: plain(value) for key, value in known.items()}, **powers, **bridged})
    return entries, [[row.line] for row in rows]


def _speakers(
    rows: list[_Row], taken: Sequence[Column], troubles: list[Trouble]
) -> tuple[list[dict[str, Any]], list[list[int]]]:
    """An entry for the rows of one id, each of them a section; the first row says what holds for the whole."""
    groups: dict[str, list[_Row]] = {}
    for row in rows:
        groups.setdefault(str(row.values.get("id", f" {row.line}")), []).append(row)
    at = next((column.position for column in taken if column.key == "wirings"), -1)
    return [_speaker(of_one, at, troubles) for of_one in groups.values()], [
        [row.line for row in of_one] for of_one in groups.values()
    ]


def _speaker(rows: list[_Row], at: int, troubles: list[Trouble]) -> dict[str, Any]:
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
    wirings = {STANDARD: list(_by_pair(pairs))}
    try:
        wirings = wirings_of(str(rows[0].values.get("wirings", ""))) or wirings
    except ValueError as error:
        troubles.append(Trouble(rows[0].line, at, str(error)))
    return whole | {"sections": sections, "wirings": wirings}


def _by_pair(pairs: dict[int, list[str]]) -> Iterator[list[str]]:
    for pair in range(1, max(pairs) + 1):
        yield pairs.get(pair, [])


def wirings_of(text: str) -> dict[str, list[list[str]]]:
    """Wirings as a cell says them, `standard: lower + upper / -; split: lower / upper`: the sections of each pole pair, `-` for none.

    A name that holds one of these signs stands in quotes. Raises ValueError.
    """
    found: dict[str, list[list[str]]] = {}
    name: str | None = None
    pairs, at = list[list[str]](), 0
    while at < len(text) or name is not None:
        word = _WORD.match(text, at)
        assert word is not None
        quoted = word[1] is not None
        said = word[1].replace('""', '"') if quoted else word[2].strip()
        sign, at = text[word.end() : word.end() + 1], word.end() + 1
        if sign == ":" and name is None and (said or quoted) and said not in found:
            name, pairs = said, [[]]
            continue
        if name is None or sign not in ("", "/", "+", ";"):
            raise ValueError(
                f'"{text}" is not how pole pairs are wired. Write it such as standard: lower + upper / -'
            )
        if quoted or said not in ("", "-"):
            pairs[-1].append(said)
        if sign == "/":
            pairs.append([])
        elif sign in ("", ";"):
            found[name] = [] if pairs == [[]] and not said else pairs
            name = None
    return found


def wirings_text(wirings: Mapping[str, Sequence[Sequence[str]]]) -> str:
    """The cell of which `wirings_of` makes the wirings again."""
    return "; ".join(
        f"{_quoted(name)}: {' / '.join(' + '.join(map(_quoted, pair)) or '-' for pair in pairs)}".rstrip()
        for name, pairs in wirings.items()
    )


def _quoted(name: str) -> str:
    plain = _WORD.fullmatch(name) and name == name.strip() and name not in ("", "-") and '"' not in name
    return name if plain else '"' + name.replace('"', '""') + '"'
