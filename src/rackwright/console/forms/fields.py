"""The field that a form shows for each field of `model.fields`, and the fields for what only a data sheet has.

Each turns one line of text into a value of the model and back; a list of parts, which no line could hold, is
passed through as it is. Holds no widget.
"""

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any, Literal, NamedTuple, get_args, get_origin

from msgspec import Struct
from msgspec.structs import replace

from rackwright.console.widgets.fields import (
    Choice,
    Field,
    FieldError,
    Measure,
    Names,
    Number,
    Option,
    Pairs,
    Share,
    Values,
    Whole,
    Words,
    YesNo,
    digits,
    fixed,
    keyed,
    same,
)
from rackwright.model import fields
from rackwright.model.equipment import DampingRating, Rating
from rackwright.units import Impedance, Length, Power, Quantity, QuantityError, Voltage, reading
from rackwright.units.wording import so_many

_BETWEEN = re.compile(r"(?<!\d),|,(?!\d)|;")
"""A comma between two digits is a decimal comma, any other ends a rating."""
_AT = re.compile(r"\s+(?:at|into)\s+|\s*[@/:]\s*|(?<=[A-Za-zΩ])\s+(?=\d)", re.IGNORECASE)
_BETWEEN_LENGTHS = re.compile(r"[;\n\t]|,(?!\d)|(?<!\d),")
_PLAIN_NUMBERS = re.compile(r"\d+([.,]\d+)?(\s+\d+([.,]\d+)?)+")
_BARE_RATING = re.compile(r"\d+([.,]\d+)?[@/:]\d+([.,]\d+)?")
_PRINTED = re.compile(r"\b\d+\s*[x×]\s*(?=\d)|\s*(?:\brms\b|\bper channel\b|/\s*ch\b)", re.IGNORECASE)
"""What a rear panel adds to the power of one channel: how many there are, that it is meant for each, that it is an rms figure."""
_FIGURE = r"\d[\d.,]*\s*[A-Za-zΩ]+"
_PAIR = re.compile(rf"({_FIGURE}\s*(?:\b(?:at|into)\b|[@/:])?\s*{_FIGURE})[\s/]+(?=\d)", re.IGNORECASE)
_THOUSANDS = re.compile(r"(?<=\d)[ \u00a0\u202f](?=\d{3}\b)")
_TO = re.compile(r"\s+to\s+|\s*[–-]\s*|(?<=\w)\s+(?=[\d.,])", re.IGNORECASE)
Wired = tuple[tuple[str, ...], ...]
"""For each pole pair the sections it drives."""


class Ratings(Field, kw_only=True):
    """Rated points, as data sheets and rear panels print them: `1100 W at 8 ohm, 1800 W at 4 ohm`, `8 Ω: 2 x 1100 W`, `1100@8`."""

    long: bool = True

    def parse(self, text: str) -> tuple[Rating, ...]:
        text = _PAIR.sub(r"\1, ", _THOUSANDS.sub("", _PRINTED.sub("", text)))
        given = [part.strip() for part in _BETWEEN.split(text) if part.strip()]
        if all(_BARE_RATING.fullmatch(word) for word in text.split()):
            given = text.split()
        parts = [each for part in given or [text] for each in _ratings_in(part)]
        return tuple(Rating(load=load, power=power) for power, load in map(_point, parts))

    def text(self, value: tuple[Rating, ...]) -> str:
        return ", ".join(f"{r.power} at {r.load}" for r in value)

    def meaning(self, value: tuple[Rating, ...], text: str) -> str:
        """How many there are, and the lowest load; what is read, where it was written shorter."""
        if not same(text, self.text(value)):
            return f"= {self.text(value)}"
        lowest = min(rating.load.value for rating in value)
        count = f"{len(value)} loads" if len(value) > 1 else "1 load"
        return f"{count}, the lowest {reading(lowest, 'Ω')}"


def _ratings_in(text: str) -> list[str]:
    """The ratings in a text, also where the comma that parts two of them has digits on both sides: `900@8,1500@4`."""
    return text.split(",") if len(_AT.findall(text)) > 1 else [text]


def _point(text: str) -> tuple[Power, Impedance]:
    power, load = _halves(text, "1100 W at 8 ohm")
    if _is_load(power):
        power, load = load, power
    return _quantity(Power, power, "W"), _quantity(Impedance, load, "ohm")


def _is_load(text: str) -> bool:
    try:
        Impedance.parse(text)
    except QuantityError:
        return False
    return True


def _halves(text: str, example: str) -> tuple[str, str]:
    halves = _AT.split(text)
    if len(halves) != 2:
        raise FieldError(f'"{text}" is not a figure at a load. Write it such as {example}')
    return halves[0], halves[1]


def _quantity(kind: type[Quantity], text: str, unit: str = "") -> Any:
    """The quantity; a bare number is of that unit."""
    try:
        bare = unit and re.fullmatch(r"\d+([.,]\d+)?", text.strip())
        return keyed(kind.parse(f"{text} {unit}" if bare else text))
    except QuantityError as error:
        raise FieldError(str(error), error.likely) from None


class Damping(Field):
    """A damping factor and the load it is stated for: `400 at 8 ohm`, `400@4`; a bare one is stated for 8 Ω (common practice, no source)."""

    def parse(self, text: str) -> DampingRating:
        figure, load = _halves(text, "400 at 8 ohm") if _AT.search(text) else (text, "8 ohm")
        try:
            value = float(figure.replace(",", "."))
        except ValueError:
            raise FieldError(f'"{figure}" is not a number. Write the whole such as 400 at 8 ohm') from None
        return DampingRating(value=value, load=_quantity(Impedance, load, "ohm"))

    def text(self, value: DampingRating) -> str:
        return f"{digits(value.value)} at {value.load}"

    def meaning(self, value: DampingRating, text: str) -> str:
        """The whole, where it was written shorter."""
        return "" if same(text, self.text(value)) else f"= {self.text(value)}"


class Lengths(Field):
    """A length for all of several lines, or one for each in order: `12 m, 18 m`, `12 18`."""

    of: tuple[str, ...]
    """What the lines lead to."""
    length: Measure

    def after(self, value: Any) -> "Lengths":
        """A bare number is of the unit that the first length has."""
        return replace(self, length=self.length.after(value[0])) if value else self

    def parse(self, text: str) -> tuple[Length, ...]:
        parts = self._parts(_BETWEEN_LENGTHS.split(text))
        if len(split := self._parts(re.split(r"[;,\n\t]", text))) == len(self.of) != len(parts):
            parts = split  # no comma was a decimal one
        try:
            found: tuple[Any, ...] = tuple(map(self.length.parse, parts))
        except FieldError as error:
            raise FieldError(f"{error} {self._forms}", error.likely if len(parts) == 1 else "") from None
        if len(found) not in (1, len(self.of)):
            raise FieldError(f"{so_many(len(found), 'length')} for {len(self.of)} lines. {self._forms}")
        return found * len(self.of) if len(found) == 1 else found

    def _parts(self, texts: Sequence[str]) -> list[str]:
        """The lengths in texts that commas parted: blanks part plain numbers, but where they may stand in one for its thousands."""
        return [
            part for text in texts for part in (text.split() if self._lists(text) else [text.strip()]) if part
        ]

    def _lists(self, text: str) -> bool:
        if not _PLAIN_NUMBERS.fullmatch(text.strip()):
            return False
        whole = _THOUSANDS.sub("", text).strip()
        return len(whole.split()) > 1 or float(whole.replace(",", ".")) > self.length.kind.high

    @property
    def _forms(self) -> str:
        return f"One for all, or {len(self.of)} such as {self.example}"

    def text(self, value: tuple[Length, ...]) -> str:
        same = len({each.text for each in value}) == 1
        return str(value[0]) if same else ", ".join(map(str, value))

    def meaning(self, value: tuple[Length, ...], text: str) -> str:
        """Which line gets which length; where all get one, how to write one for each."""
        if len({each.text for each in value}) == 1:
            return f"{value[0]} each; or {len(self.of)} such as {self.example}"
        return ", ".join(f"{name} {length}" for name, length in zip(self.of, value, strict=True))


def lengths_to(of: tuple[str, ...], length: Measure) -> Lengths:
    """The field for lines to those."""
    return Lengths(
        "lengths", "Length of all, or each", of, length, example=", ".join(("12", "18", "20")[: len(of)])
    )


class Span(Field):
    """Two quantities, the lower first: `100 to 240 V`, `35-90`, `1.6-18k`; one left out stays: `-120`, `40-`."""

    kind: type[Quantity]

    def parse(self, text: str) -> tuple[Any, Any]:
        ends = _TO.split(text.strip())
        if len(ends) > 2:
            ends = _TO.split(_THOUSANDS.sub("", text).strip())
        if len(ends) != 2 or not any(ends) or not (all(ends) or self.former):
            low, high = _TO.split(self.example)
            keeping = f"; {low}- or -{high} keeps the other end" if self.former else ""
            raise FieldError(
                f'"{text}" is not a lowest and a highest. Write them such as {self.example}{keeping}'
            )
        read = Measure(self.name, self.label, self.kind).parse
        upper = read(ends[1]) if ends[1] else self.former[1]
        if not ends[0]:
            return self.former[0], upper
        if (unit := ends[1].lstrip("0123456789.,")) and re.fullmatch(r"[\d.,]+", ends[0]):
            lower = read(ends[0] + unit)
            if lower.value < upper.value:
                return lower, upper
        return read(ends[0]), upper

    def text(self, value: tuple[Quantity, Quantity]) -> str:
        return f"{value[0]} to {value[1]}"

    def meaning(self, value: tuple[Quantity, Quantity], text: str) -> str:
        """Both with their units, where it was written shorter."""
        whole = " to ".join(reading(each.value, each.unit, 4) for each in value)
        return "" if text in (whole, f"{value[0]} to {value[1]}") else f"= {whole}"


class Poles(Field, kw_only=True):
    """What each pole pair drives, none where it is empty or `-`: `upper + lower / -`."""

    long: bool = True

    def parse(self, text: str) -> Wired:
        pairs = tuple(_sections(part) for part in text.split("/"))
        if not any(pairs):
            raise FieldError("Write the sections of each pole pair, such as upper / lower")
        return pairs

    def text(self, value: Wired) -> str:
        return " / ".join(" + ".join(pair) or "-" for pair in value)

    def meaning(self, value: Wired, text: str) -> str:
        """The same, pole pair after pole pair."""
        return ", ".join(f"{i}: {' and '.join(pair) or 'none'}" for i, pair in enumerate(value, 1))


def _sections(text: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in text.split("+") if name.strip() not in ("", "-"))


class PartSheet(NamedTuple):
    """The form of one part of an entry."""

    fields: tuple[Field, ...]
    values: Mapping[str, Any]
    build: Callable[[Mapping[str, Any]], Any]
    """Raises FieldError where the values can't stand together."""
    remark: Callable[[Mapping[str, Any]], str] = lambda _values: ""
    """What to say of values that can."""


class Parts(Field):
    """A list of parts, each with a form of its own: a loudspeaker's sections, its wirings."""

    noun: str
    columns: str
    """The heading of the list."""
    words: Callable[[Any], str]
    """What a row of the list says of a part after its name."""
    name_of: Callable[[Any], str]
    sheet: Callable[[Any, Mapping[str, Any]], PartSheet]
    """The form of a part, None for a new one, given what the other fields hold."""
    renamed: Callable[[Any, str], Any]
    """The same part under another name."""
    whole: Callable[[tuple[Any, ...]], Any] = tuple
    """What the entry holds them as."""

    def read(self, value: Any) -> Any:
        """The parts themselves. Raises FieldError where there is none."""
        if not value:
            raise FieldError("needed")
        return self.whole(value)

    def write(self, value: Any) -> Any:
        """The parts themselves, those of a table each with its name."""
        return tuple(value.items() if isinstance(value, Mapping) else value or ())

    def note(self, _value: Any) -> str:
        """How to get at them."""
        return "space opens the list"

    @property
    def hint(self) -> str:
        """The same."""
        return self.note(())


Options = Callable[[Values], Sequence[Option]]


class Known(NamedTuple):
    """What a list of ids may hold."""

    what: str
    """The kind of thing."""
    ids: Collection[str]


def asked(thing: type[Struct], *names: str, **instead: Field | Known | Options) -> tuple[Field, ...]:
    """The fields of a form for those fields of a thing, for all of them where none is named.

    `instead` gives the options of one that is chosen from what there is, the ids that one may list, or another field.
    """
    return tuple(
        _field(field, instead.get(field.name))
        for field in fields.fields(thing)
        if field.name in names or not names
    )


def _field(field: fields.Field, instead: Field | Known | Options | None) -> Field:
    name, label, kind = field.name, field.label, field.kind
    if isinstance(instead, Known):
        return Names(
            name, label, instead.what, instead.ids, example=field.example, empty=field.empty, blank=()
        )
    if instead is not None:
        return Choice(name, label, instead) if callable(instead) else instead
    if get_origin(kind) is Literal and isinstance(get_args(kind)[0], int):
        return Whole(name, label, min(get_args(kind)), max(get_args(kind)), example=field.example)
    if get_origin(kind) is Literal:
        options = tuple(map(Option, get_args(kind), field.words or ("",) * len(get_args(kind))))
        return Choice(name, label, lambda _values: options)
    if kind is bool:
        return YesNo(name, label, fixed("no", "yes"))
    if kind is str:
        empty = field.empty or ("" if field.required else "not stated")
        return Words(name, label, field.required, example=field.example, empty=empty)
    if kind == tuple[int, ...]:
        return Pairs(name, label, empty=field.empty, example=field.example, blank=())
    blank: dict[str, Any] = {
        "empty": field.empty,
        "example": field.example,
        "use": field.use,
        "only": field.only,
    }
    if field.assumed:
        blank |= {"empty": f"used for {field.use}", "assumed": field.assumed}
    if kind is int:
        return Whole(name, label, int(field.low), int(field.high), **blank)
    if kind is float:
        return (Share if field.percent else Number)(name, label, field.low, field.high, **blank)
    if kind is DampingRating:
        return Damping(name, label, **blank)
    if kind == tuple[Voltage, Voltage]:
        return Span(name, label, Voltage, **blank)
    if kind == tuple[Rating, ...]:
        return Ratings(name, label, **blank)
    return Measure(name, label, kind, **blank)
