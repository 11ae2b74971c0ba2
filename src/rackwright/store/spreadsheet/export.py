"""Things as CSV: equipment, stock and lines, with heads and cells of which the reader makes the same things again.

A loudspeaker has a row for each of its sections. The meter check's sheet is made where readings are judged.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from msgspec import Struct

from rackwright.model.equipment import (
    EQUIPMENT_KINDS,
    AmplifierModel,
    DampingRating,
    Equipment,
    LoudspeakerModel,
)
from rackwright.model.fields import fields
from rackwright.model.lines import Line, Stock
from rackwright.store.spreadsheet.cells import csv_text, plainly_decimal
from rackwright.store.spreadsheet.equipment import ASSUMED, wirings_text
from rackwright.store.spreadsheet.sheet import PAPER, TARGETS


def equipment_csv(kind: str, equipment: Equipment) -> str:
    """The entries of one of EQUIPMENT_KINDS."""
    entries: Sequence[Any] = getattr(equipment, kind)
    ways: dict[str, Callable[[Sequence[Any]], list[dict[str, str]]]] = {
        "amplifiers": _amplifiers,
        "loudspeakers": _loudspeakers,
    }
    return _csv(ways.get(kind, _plain_rows)(entries), EQUIPMENT_KINDS[kind])


def stock_csv(stock: Sequence[Stock]) -> str:
    """What is owned."""
    return _csv(_plain_rows(stock), Stock)


def lines_csv(lines: Sequence[Line], paper: str) -> str:
    """Lines, each with what the sheet is of."""
    return _csv([{**row, PAPER: paper} for row in _plain_rows(lines)], Line)


def _csv(rows: Sequence[Mapping[str, str]], thing: type[Struct]) -> str:
    """Rows under the heads that any of them has, at least those of an empty list."""
    heads = list(dict.fromkeys(head for row in rows for head in row)) or [
        _head(f.key) for f in fields(thing) if f.name != "assumed"
    ]
    return csv_text([heads, *([row.get(head, "") for head in heads] for row in rows)])


def _plain_rows(things: Sequence[Struct]) -> list[dict[str, str]]:
    return [_row(thing) for thing in things]


def _row(thing: Struct, but: Sequence[str] = ()) -> dict[str, str]:
    return {_head(f.key): _cell(getattr(thing, f.name)) for f in fields(type(thing)) if f.name not in but}


def _amplifiers(entries: Sequence[AmplifierModel]) -> list[dict[str, str]]:
    """With a column for each load that any of them is rated into."""
    rated = (("power", "ratings"), ("bridged power", "bridged"))
    loads = [
        (f"{words} {_digits(load)} ohm", field, load)
        for words, field in rated
        for load in dict.fromkeys(r.load.value for entry in entries for r in getattr(entry, field))
    ]
    rows = []
    for entry in entries:
        row = _row(entry, but=("ratings", "bridged", "damping_factor", "assumed"))
        for name in entry.assumed:
            row[_head(name)] += ASSUMED
        for head, field, load in loads:
            row[head] = next((_cell(r.power) for r in getattr(entry, field) if r.load.value == load), "")
        row |= _damping(entry.damping_factor)
        rows.append(row)
    return rows


def _digits(number: float) -> str:
    """A number that is told from every other."""
    short = f"{number:g}"
    return short if float(short) == number else repr(number)


def _damping(rating: DampingRating) -> dict[str, str]:
    return {"damping factor": _cell(rating.value), "damping load": _cell(rating.load)}


def _loudspeakers(entries: Sequence[LoudspeakerModel]) -> list[dict[str, str]]:
    return [row for entry in entries for row in _sections(entry)]


def _sections(entry: LoudspeakerModel) -> Iterator[dict[str, str]]:
    """A row for each section; what holds for the whole stands in the first."""
    whole = _row(entry, but=("sections", "wirings")) | {"wirings": wirings_text(entry.wirings)}
    for number, section in enumerate(entry.sections):
        own = {head: text for head, text in _row(section).items() if head != "id"}
        driver = _row(section.driver) if section.driver else {}
        first = whole if number == 0 else {"id": entry.id}
        yield {**dict.fromkeys(whole, ""), **first, "section": section.id, **own, **driver}


_HEADS = {target.key: target.names[0] for wanted in TARGETS.values() for target in wanted}


def _head(key: str) -> str:
    return _HEADS.get(key, key)


def _cell(value: Any) -> str:
    """A value as the reader takes it: a figure of which nothing could be thousands."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        spans = value and not isinstance(value[0], int)
        return (" to " if spans else " ").join(_cell(each) for each in value)
    if isinstance(value, str):
        return value
    text = f"{value:.12g}" if isinstance(value, float) else str(getattr(value, "text", value))
    return plainly_decimal(text)
