"""Structs to TOML, as a person would write a rig file.

Leaves out what equals its default, keeps every quantity as it was typed, and writes racks, lines and the like as
tables, channels and ratings on one line. Values are tomli-w's; the layout is our own, because tomli-w spreads a list of
two over four lines and folds short tables into one. What it writes is plain TOML 1.0. Writes no file.
"""

import functools
import re
from collections.abc import Iterator
from typing import Any

import msgspec
import tomli_w
from msgspec import Struct

from rackwright.model.equipment import EquipmentEntry, equipment_kind
from rackwright.units import Quantity
from rackwright.units.safe_text import safe

_ALWAYS = "format"
_INLINE = {
    "supply_cable",
    "measured",
    "channels",
    "ratings",
    "bridged",
    "damping_factor",
    "driver",
    "faults",
    "heard",
    "steps",
    "moves",
    "last",
}
"""Keys whose tables are written on one line."""
_WIDTH = 100
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_RISKY_QUOTE = re.compile(r'"(?="|\Z)')
_KEPT = "\n\t" + "".join(map(chr, range(0xD800, 0xE000)))
"""Halves of characters among them: TOML has no way to write one, and whoever saves says so."""


def plain(value: Any) -> Any:
    """A struct, and all in it, as dicts, lists, text and numbers, in the order of the rig file."""
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, Struct):
        return {name: plain(item) for name, item in kept(value)}
    if isinstance(value, tuple):
        return [plain(item) for item in value]
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    return value


def kept(value: Struct) -> Iterator[tuple[str, Any]]:
    """What is written of a struct, by the key of the rig file: not what equals its default."""
    for name, key, always, default in _fields(type(value)):
        item = getattr(value, name)
        if always or item not in (default, {}):
            yield key, item


@functools.cache
def _fields(kind: type[Struct]) -> list[tuple[str, str, bool, Any]]:
    """Of each field its name, its key, whether it is always written, and its default."""
    fields = msgspec.structs.fields(kind)
    return [(f.name, f.encode_name, f.required or f.name == _ALWAYS, f.default) for f in fields]


def as_toml(table: dict[str, Any]) -> str:
    """Plain data as TOML text. `tomllib.loads` gives the same data back."""
    text = "\n".join(_table(table, ())).lstrip("\n") + "\n"
    return safe(
        text, keep=_KEPT
    )  # what steers can only stand in a text in quotes, where TOML has the same escapes


def entry_text(entry: EquipmentEntry, inside: str = "") -> str:
    """An equipment entry as it stands in an equipment file; with inside="equipment", in a rig file."""
    table: dict[str, Any] = {equipment_kind(entry): [plain(entry)]}
    return as_toml({inside: table} if inside else table)


def _table(table: dict[str, Any], path: tuple[str, ...]) -> Iterator[str]:
    """The lines of a table: its own keys, then the tables in it, each under its header."""
    inner = {key: value for key, value in table.items() if key not in _INLINE and _holds_tables(value)}
    for key, value in table.items():
        if key not in inner:
            yield _entry(key, value)
    for key, value in inner.items():
        header = ".".join(_key(part) for part in (*path, key))
        if isinstance(value, list):
            for item in value:
                yield from ("", f"[[{header}]]")
                yield from _table(item, (*path, key))
            continue
        if not value or any(key in _INLINE or not _holds_tables(item) for key, item in value.items()):
            yield from ("", f"[{header}]")
        yield from _table(value, (*path, key))


def _holds_tables(value: object) -> bool:
    if isinstance(value, list):
        return bool(value) and all(isinstance(item, dict) for item in value)
    return isinstance(value, dict)


def _entry(key: str, value: Any) -> str:
    if isinstance(value, str) and "\n" in value:
        return f'{_key(key)} = """\n{_many_lines(value)}"""'
    line = f"{_key(key)} = {_value(value)}"
    if len(line) <= _WIDTH or not isinstance(value, list):
        return line
    items = "".join(f"  {_value(item)},\n" for item in value)
    return f"{_key(key)} = [\n{items}]"


def _value(value: Any) -> str:
    if isinstance(value, list):
        inside = ", ".join(_value(item) for item in value)
        return f"[ {inside} ]" if _holds_tables(value) else f"[{inside}]"
    if isinstance(value, dict):
        inside = ", ".join(f"{_key(key)} = {_value(item)}" for key, item in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return tomli_w.dumps({"": value}).removeprefix('"" = ').removesuffix("\n")


def _many_lines(text: str) -> str:
    """Text for a multi-line string: line ends stay, and all that TOML would change or refuse is escaped."""
    return _RISKY_QUOTE.sub(r'\\"', text.replace("\\", "\\\\"))


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _value(key)
