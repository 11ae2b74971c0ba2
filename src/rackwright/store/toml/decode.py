"""Plain data, as tomllib gives it, to frozen structs.

Collects every problem with its path instead of stopping at the first. Follows the structs' own types, so a key added
to the model is read with no change here. Knows no file and no line, and checks no reference: that is for `place` and for
`model.rules`.
"""

import difflib
import functools
import math
from collections import defaultdict
from collections.abc import Callable, Iterable
from types import NoneType, UnionType
from typing import Any, Final, Literal, NamedTuple, TypeAlias, TypeVar, Union, cast, get_args, get_origin

import msgspec
from msgspec import Struct
from msgspec.structs import FieldInfo

from rackwright.model.assumed import assumable, assumption
from rackwright.model.fields import Field, fields
from rackwright.model.rules import Path, Problem
from rackwright.units import Quantity, QuantityError

S = TypeVar("S", bound=Struct)
Read: TypeAlias = Callable[[Any, Path, list[Problem]], Any]

BAD: Final = object()
"""What a reader gives where there is nothing to build on."""

LONGEST_TEXT = 100_000
"""Signs of a name or of notes."""
_LONGEST_QUANTITY = 100
_LONGEST_LIST = 100_000
"""Items: ten times those of the largest rig."""
_MOST_UNKNOWN = 100
"""Unknown keys of a table that are told one by one."""
_LARGEST = 2**63
"""TOML promises no larger whole number, and a longer one can't even be printed."""
_COUNTS = {1: "One value is", 2: "Two values are", 3: "Three values are"}


def decode(data: object, kind: type[S], path: Path = ()) -> tuple[S | None, tuple[Problem, ...]]:
    """Read `data` as a `kind`: the struct, and every problem met on the way.

    Where a value can't be read, what was surely meant, or failing that a neutral stand-in, takes its place,
    so that a caller can check the rest. With problems the struct is good for that only. It is None where not even
    that could be built.
    """
    problems: list[Problem] = []
    value = _reader(kind)(data, path, problems)
    return (None if value is BAD else value), tuple(problems)


@functools.cache
def _reader(kind: Any) -> Read:
    """The reader of values of a type: of a struct's field, of a tuple's items."""
    if kind in _PLAIN:
        return _PLAIN[kind]
    origin, arguments = get_origin(kind), get_args(kind)
    if origin is Literal:
        return (
            _choice_reader(arguments) if isinstance(arguments[0], str) else _number_choice_reader(arguments)
        )
    if origin is tuple:
        return _list_reader(arguments[0]) if arguments[-1] is Ellipsis else _fixed_reader(arguments)
    if origin is dict:
        return _dict_reader(arguments[1])
    if origin in (Union, UnionType):
        return _union_reader(tuple(a for a in arguments if a is not NoneType))
    if issubclass(kind, Quantity):
        return _quantity_reader(kind)
    return _struct_reader(kind)


# ---- Tables --------------------------------------------------------------------------------------------


class _Key(NamedTuple):
    field: FieldInfo
    read: Read


def _struct_reader(kind: type[Struct]) -> Read:
    keys = {field.encode_name: _Key(field, _reader(field.type)) for field in msgspec.structs.fields(kind)}
    required = {name: key.field for name, key in keys.items() if key.field.required}

    def read(data: Any, path: Path, problems: list[Problem]) -> Any:
        if not isinstance(data, dict):
            return _no_table(kind, data, path, problems)
        values: dict[str, Any] = {}
        unknown = [name for name in data if name not in keys]
        for name, value in data.items():
            if key := keys.get(name):
                values[key.field.name] = key.read(value, (*path, name), problems)
        complete = True
        if len(unknown) > _MOST_UNKNOWN:
            more = f"There are {len(unknown) - _MOST_UNKNOWN} more unknown keys here"
            problems.append(Problem(path, more, f"The keys here are: {', '.join(keys)}."))
        for name in unknown[:_MOST_UNKNOWN]:
            near = nearest(name, keys, 0.8) or _keys_below(kind).get(name) or nearest(name, keys)
            problems.append(_unknown(path, name, near, keys))
            # read as the key it resembles, so that what hangs on it is not reported as missing
            meant = keys.get(near)
            value = meant.read(data[name], (*path, name), problems) if meant else None
            if meant and meant.field.name not in values:
                values[meant.field.name] = value
            elif isinstance(data[name], list | dict) and near:
                complete = False
        absent = [name for name, field in required.items() if field.name not in values]
        for name in absent:
            example = _examples(kind).get(name) or _example(name, required[name].type)
            problems.append(_absent(path, name, example, _assumed(kind, name, data)))
        for name in absent:
            values[required[name].name] = _stand_in(required[name].type)
        return kind(**values) if complete and all(value is not BAD for value in values.values()) else BAD

    return read


@functools.cache
def _keys_below(kind: type[Struct]) -> dict[str, str]:
    """Keys that belong in a table inside this one, where that is plain: `sockets` → `racks.sockets`."""
    found: dict[str, list[str]] = defaultdict(list)
    for field in msgspec.structs.fields(kind):
        inner = next((part for part in (field.type, *get_args(field.type)) if _is_table(part)), None)
        for below in msgspec.structs.fields(inner) if inner else ():
            found[below.encode_name].append(f"{field.encode_name}.{below.encode_name}")
    return {name: '" or "'.join(places) for name, places in found.items() if len(places) <= 2}


def _is_table(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, Struct) and not issubclass(kind, Quantity)


def nearest(name: str, known: Iterable[str], likeness: float = 0.66) -> str:
    """The known name that `name` most resembles, empty where none comes near (1 is the same)."""
    folded = {item.casefold(): item for item in known}
    found = difflib.get_close_matches(name[:80].casefold(), folded, n=1, cutoff=likeness)
    return folded[found[0]] if found else ""


def _no_table(kind: type[Struct], data: object, path: Path, problems: list[Problem]) -> Any:
    key = path[-1] if path else ""
    if isinstance(data, list) and isinstance(key, str):
        advice = f"Write its header once and in single brackets, [{key}], or the table alone: {{ … }}."
        problems.append(Problem(path, "One table is expected, and this is a list", advice))
        if len(data) == 1 and isinstance(data[0], dict):
            return _reader(kind)(data[0], (*path, 0), problems)
        return BAD
    advice = f"Write keys and values: {_example(str(key) if isinstance(key, str) else '', kind)}."
    problems.append(Problem(path, f"A table is expected, and {_what(data)}", advice))
    return BAD


def _unknown(path: Path, name: str, near: str, keys: Iterable[str]) -> Problem:
    advice = f'Did you mean "{near}"?' if near else f"The keys here are: {', '.join(keys)}."
    return Problem((*path, name), f"There is no key {_quoted(name)} here", advice)


def _absent(path: Path, name: str, example: str, assumed: str) -> Problem:
    return Problem((*path, name), f'The key "{name}" is missing', f"Add it: {example}.{assumed}")


def _assumed(kind: type[Struct], name: str, data: dict[str, Any]) -> str:
    """What to write in place of a figure that is not known; nothing where it must be."""
    field = next((field for field in assumable(kind) if field.key == name), None)
    if field is None:
        return ""
    figure = assumption(field, data)
    written = figure if field.kind is float else f'"{figure}"'
    return f' If no data sheet says it, add {name} = {written} and list it: assumed = ["{name}"].'


@functools.cache
def _examples(kind: type[Struct]) -> dict[str, str]:
    """For each key of a table, what a person might write there."""
    return {field.key: _example_of(field) for field in fields(kind)}


def _example_of(field: Field) -> str:
    """That of the field's own, where it is a number or a quantity."""
    if field.kind in (int, float):
        return f"{field.key} = {field.example}"
    measured = isinstance(field.kind, type) and issubclass(field.kind, Quantity)
    return f'{field.key} = "{field.example}"' if measured else ""


@functools.lru_cache(1000)
def _example(name: str, kind: Any) -> str:
    if kind in _EXAMPLES:
        return f"{name} = {_EXAMPLES[kind]}"
    origin = get_origin(kind)
    if origin is Literal:
        return f"{name} = " + " or ".join(f'"{choice}"' for choice in get_args(kind))
    if origin in (tuple, dict):
        return f"{name} = {'[ … ]' if origin is tuple else '{ … }'}"
    if issubclass(kind, Quantity):
        return f'{name} = "{kind.examples[0]}"'
    fields = sorted(msgspec.structs.fields(kind), key=lambda field: not field.required)
    inside = ", ".join(f"{field.encode_name} = …" for field in fields[:2])
    return f"{name} = {{ {inside} }}" if name else f"{{ {inside} }}"


def _dict_reader(kind: Any) -> Read:
    read_value = _reader(kind)

    def read(data: Any, path: Path, problems: list[Problem]) -> Any:
        if not isinstance(data, dict):
            problems.append(
                Problem(path, f"A table is expected, and {_what(data)}", "Write keys and values: { … }.")
            )
            return BAD
        values = {name: read_value(value, (*path, name), problems) for name, value in data.items()}
        return BAD if any(value is BAD for value in values.values()) else values

    return read


# ---- Lists ---------------------------------------------------------------------------------------------


def _list_reader(kind: Any) -> Read:
    read_item = _reader(kind)
    of_tables = _is_table(kind)

    def read(data: Any, path: Path, problems: list[Problem]) -> Any:
        if not isinstance(data, list):
            problems.append(_no_list(data, path, of_tables))
            item = read_item(data, path, problems if of_tables and isinstance(data, dict) else [])
            return BAD if item is BAD else (item,)
        if len(data) > _LONGEST_LIST:
            told = f"This list has {len(data)} items, too many for a rig"
            problems.append(Problem(path, told, f"Write {_LONGEST_LIST} at most."))
            return ()
        items = tuple([read_item(item, (*path, i), problems) for i, item in enumerate(data)])
        return BAD if any(item is BAD for item in items) else items

    return read


def _no_list(data: object, path: Path, of_tables: bool) -> Problem:
    key = path[-1] if path else ""
    if of_tables:
        told = "this is a single table" if isinstance(data, dict) else _what(data)
        advice = (
            f"Write the header of each in double brackets, [[{key}]], or the tables as a list: [ {{ … }} ]."
        )
        return Problem(path, f"A list of tables is expected, and {told}", advice)
    inside = f'"{data}"' if isinstance(data, str) and len(data) < 40 else "…"
    return Problem(path, f"A list is expected, and {_what(data)}", f"Put it in square brackets: [{inside}].")


def _fixed_reader(kinds: tuple[Any, ...]) -> Read:
    readers = tuple(_reader(kind) for kind in kinds)
    shape = ", ".join(
        f'"{kind.examples[min(i, len(kind.examples) - 1)]}"' if issubclass(kind, Quantity) else "…"
        for i, kind in enumerate(kinds)
    )

    def read(data: Any, path: Path, problems: list[Problem]) -> Any:
        if not isinstance(data, list) or len(data) != len(readers):
            told = f"this is a list of {len(data)}" if isinstance(data, list) else _what(data)
            expected = _COUNTS.get(len(readers), f"{len(readers)} values are")
            problems.append(Problem(path, f"{expected} expected, and {told}", f"Write [{shape}]."))
            items = tuple(_stand_in(kind) for kind in kinds)
        else:
            items = tuple(item(data[i], (*path, i), problems) for i, item in enumerate(readers))
        return BAD if any(item is BAD for item in items) else items

    return read


def _union_reader(kinds: tuple[Any, ...]) -> Read:
    """One type, or one for a list and one for anything else."""
    lists = [_reader(kind) for kind in kinds if get_origin(kind) is tuple]
    others = [_reader(kind) for kind in kinds if get_origin(kind) is not tuple]
    if not lists or not others:
        return (others or lists)[0]

    def read(data: Any, path: Path, problems: list[Problem]) -> Any:
        return (lists if isinstance(data, list) else others)[0](data, path, problems)

    return read


# ---- Single values -------------------------------------------------------------------------------------


def _quantity_reader(kind: type[Quantity]) -> Read:
    def read(data: Any, path: Path, problems: list[Problem]) -> Any:
        if _may_be_quantity(data):
            try:
                return kind.parse(data)
            except QuantityError as error:
                hint = f' Did you mean "{error.likely}"?' if error.likely else ""
                problems.append(Problem(path, error.wrong, f"Write {error.forms}.{hint}"))
        else:
            expected = kind.dimension[:1].upper() + kind.dimension[1:]
            problems.append(
                Problem(path, f"{expected} is expected, and {_what(data)}", f"Write {kind.forms()}.")
            )
        return _stand_in(kind)

    return read


def _may_be_quantity(data: object) -> bool:
    if isinstance(data, str):
        return len(data) <= _LONGEST_QUANTITY
    return isinstance(data, int | float) and not isinstance(data, bool) and abs(data) < _LARGEST


def _choice_reader(choices: tuple[str, ...]) -> Read:
    listed = ", ".join(f'"{choice}"' for choice in choices if choice)

    def read(data: Any, path: Path, problems: list[Problem]) -> Any:
        if isinstance(data, str) and data in choices:
            return data
        near = nearest(data, choices) if isinstance(data, str) else ""
        hint = f'Did you mean "{near}"? ' if near else ""
        told = f"{_quoted(data)} is none of the choices" if isinstance(data, str) else f"{_what(data)}"
        wrong = told if isinstance(data, str) else f"One of the choices is expected, and {told}"
        problems.append(Problem(path, wrong, f"{hint}Write one of {listed}."))
        return near or choices[0]

    return read


def _number_choice_reader(choices: tuple[int, ...]) -> Read:
    listed = " or ".join(map(str, choices))

    def read(data: Any, path: Path, problems: list[Problem]) -> Any:
        if isinstance(data, int) and not isinstance(data, bool) and data in choices:
            return data
        problems.append(
            Problem(path, f"{listed} is expected, and {_what(data)}", f"Write {listed}, with no quotes.")
        )
        return choices[0]

    return read


def _text(data: Any, path: Path, problems: list[Problem]) -> Any:
    if isinstance(data, str):
        if len(data) > LONGEST_TEXT:
            told = f"This text has {len(data)} characters, too many"
            problems.append(Problem(path, told, f"Cut it to {LONGEST_TEXT} at most."))
            return data[:_LONGEST_QUANTITY]
        return data
    plain = isinstance(data, bool | int | float) and abs(data) < _LARGEST
    meant = str(data).lower() if plain else ""
    advice = f'Write "{meant}", in quotes.' if meant else "Write it in quotes."
    problems.append(Problem(path, f"Text is expected, and {_what(data)}", advice))
    return meant or BAD


def _whole(data: Any, path: Path, problems: list[Problem]) -> Any:
    if isinstance(data, int) and not isinstance(data, bool) and abs(data) < _LARGEST:
        return data
    number = _number_in(data)
    meant = int(number) if number is not None and number.is_integer() and abs(number) < _LARGEST else None
    advice = "Write one such as 1, without quotes." if meant is None else f"Write {meant}, without quotes."
    if isinstance(data, float) and meant is not None:
        advice = f"Write {meant}, with no point."
    problems.append(Problem(path, f"A whole number is expected, and {_what(data)}", advice))
    return BAD if meant is None else meant


def _real(data: Any, path: Path, problems: list[Problem]) -> Any:
    if isinstance(data, float) and math.isfinite(data):
        return data
    if isinstance(data, int) and not isinstance(data, bool) and abs(data) < _LARGEST:
        return float(data)
    meant = _number_in(data)
    advice = (
        "Write one such as 0.8, without quotes." if meant is None else f"Write {meant:g}, without quotes."
    )
    finite = "A finite number" if isinstance(data, float) else "A number"
    problems.append(Problem(path, f"{finite} is expected, and {_what(data)}", advice))
    return math.nan if meant is None else meant


def _boolean(data: Any, path: Path, problems: list[Problem]) -> Any:
    if isinstance(data, bool):
        return data
    problems.append(
        Problem(path, f"true or false is expected, and {_what(data)}", "Write true or false, without quotes.")
    )
    return isinstance(data, str) and data.lower() == "true"


def _number_in(data: object) -> float | None:
    """The finite number that a value surely means, `"3"` in quotes as well; None where it means none."""
    if isinstance(data, bool) or not isinstance(data, str | float):
        return None
    try:
        number = float(data if isinstance(data, float) else data.replace(",", ".")[:_LONGEST_QUANTITY])
    except ValueError:
        return None
    return number if math.isfinite(number) else None


_PLAIN: dict[Any, Read] = {str: _text, int: _whole, float: _real, bool: _boolean}
_EXAMPLES: dict[Any, str] = {str: '"…"', int: "1", float: "1.0", bool: "true"}


def _stand_in(kind: Any) -> Any:
    """A value that breaks no rule by itself: a quantity that is no number; BAD where there is none."""
    if get_origin(kind) is Literal:
        return get_args(kind)[0]
    if kind is float:
        return math.nan
    if kind is bool:
        return False
    if isinstance(kind, type) and issubclass(kind, Quantity):
        return cast(Any, kind)(text="", value=float("nan"))  # a new one each: no two compare or hash alike
    return BAD


def _what(data: object) -> str:
    """A value and what it is, in words: `"3" in quotes is text`."""
    if isinstance(data, bool):
        return f"{str(data).lower()} is a yes or no"
    if isinstance(data, str):
        return f"{_quoted(data)} in quotes is text"
    if isinstance(data, int):
        return f"{data} is a number" if abs(data) < _LARGEST else "this number is too large"
    if isinstance(data, float):
        return f"{data} is a number with a point" if math.isfinite(data) else f"this is {data}"
    if isinstance(data, list):
        return "this is a list"
    return "this is a table" if isinstance(data, dict) else "this is a date or a time"


def _quoted(text: str) -> str:
    return f'"{text}"' if len(text) <= 60 else f'"{text[:57]}…"'
