"""Fields of a form: what each accepts, how it is read, what is said of it while it is typed.

Holds no widget and no rig: a field turns text into a value, or says in a sentence why it can't.
"""

import difflib
import math
import re
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any, NamedTuple, Self

from msgspec import Struct
from msgspec.structs import replace

from rackwright.model.rules import missing
from rackwright.units import (
    ApparentPower,
    ConductorSize,
    Current,
    Duration,
    Frequency,
    InputLevel,
    Length,
    Level,
    LimiterSetting,
    Mass,
    Power,
    Quantity,
    QuantityError,
    Temperature,
    Trim,
    Voltage,
    reading,
    typeset,
)
from rackwright.units.typography import spelled

Values = Mapping[str, Any]


class FieldError(Exception):
    """Text that a field can't take; the message says what it takes, `likely` the text that was meant, where one is likely."""

    def __init__(self, message: str, likely: str = "") -> None:
        super().__init__(message)
        self.likely = likely


class _Blank(Struct, kw_only=True):
    empty: str = ""
    """What leaving it empty means; it must be filled in where this is empty."""
    use: str = ""
    """What it is needed for."""
    example: str = ""
    """Stands beside an empty one: it is no default."""
    assumed: str = ""
    """What an empty one is taken to be, where no data sheet says it."""
    former: Any = None
    """What stood in it."""
    blank: Any = None
    """The value of one left empty."""
    long: bool = False
    """Whether what is said of it stands on lines of its own."""
    only: tuple[str, str] = ("", "")
    """The other field, and what must stand in it for this one to be asked for."""
    likely: Callable[[Values], str] | None = None
    """What is proposed, given what the other fields say, until it is filled in by hand; what it is given from the start where None."""


class Field(_Blank):
    """One line of a form. A kind of field says how text is parsed, and what else it needs to."""

    name: str
    label: str

    def read(self, text: Any) -> Any:
        """The value that `text` stands for, `blank` for one left empty, the former for one left as it was. Raises FieldError."""
        if text.strip():
            left = self.former is not None and same(text, self.text(self.former))
            return self.former if left else self.parse(text)
        if self.empty:
            return self.blank
        if self.example:
            raise FieldError(f"needed for {self.use}" if self.use else "needed")
        return self.parse("")

    @property
    def unfilled(self) -> str:
        """What stands in an empty one."""
        if self.assumed:
            return f"assumed {self._as_written(self.assumed)}"
        example = self._as_written(self.example)
        if self.empty:
            return f"taken as {example}" if self._as_written(self.empty) == example else self.empty
        try:
            self.read("")
        except FieldError as error:
            return str(error)
        return f"such as {example}" if example else ""

    @property
    def hint(self) -> str:
        """What is said beside an empty one: what the figure is for, where one is assumed; else an example."""
        if self.assumed:
            return self.empty
        example = self._as_written(self.example)
        return f"such as {example}" if example and example not in self.unfilled else ""

    def _as_written(self, text: str) -> str:
        """A text as it would stand in the field; one that can't be read stays: an id that is not there, so much a channel."""
        try:
            return self.text(self.parse(text)) if text else ""
        except FieldError:
            return text

    def after(self, value: Any) -> Self:
        """The field as it reads what is typed in place of `value`."""
        return replace(self, former=value)

    def write(self, value: Any) -> Any:
        """The text that stands for `value`, empty where there is none."""
        return "" if value is None else self.text(value)

    def note(self, text: Any) -> str:
        """What to say beside good text, or what leaving it empty means."""
        return self.meaning(self.parse(text), text) if text.strip() else self.empty

    def parse(self, text: str) -> Any:
        """The value of a text. Raises FieldError."""
        return text

    def text(self, value: Any) -> str:
        """The text of a value."""
        return str(value)

    def meaning(self, value: Any, text: str) -> str:
        """What a value comes to, where its text doesn't say it."""
        return ""


class Words(Field):
    """Free text."""

    required: bool = False
    lines: int = 1

    def read(self, text: str) -> str:
        """The text: one that is not required may be empty, whatever its example; the former for one left as it was."""
        left = self.former is not None and text == self.text(self.former)
        return str(self.former) if left else self.parse(text)

    def text(self, value: str) -> str:
        """Without the end of its last line, after which a box would show one more."""
        return value.removesuffix("\n")

    def parse(self, text: str) -> str:
        if self.required and not text.strip():
            raise FieldError("needed")
        return text.strip() if self.lines == 1 else text


OF_ONE_UNIT = (Frequency, Voltage, Current, Power, ApparentPower, Level, Trim, Duration)
"""Kinds whose bare number can only mean one thing to a person."""
OF_TWO_SYSTEMS = (Length, Mass, Temperature, ConductorSize, LimiterSetting)
"""Kinds of which a person uses one system of units or the other."""
_BARE = re.compile(r"[+\-−]?(\d+([.,]\d+)?|[.,]\d+)")
_THOUSANDS = re.compile(r"([+\-−]?(?:\d+(?:[.,]\d+)?|[.,]\d+))\s*[kK]")
"""A number with the prefix of a unit that is left out."""
_NUMBER = re.compile(r"[+\-−]?[\d.,]+\s*")


class Measure(Field):
    """A quantity with its unit, typed any way a person types it; a bare number is of the field's usual unit."""

    kind: type[Quantity]
    usual: str = ""
    """The unit of what stood in it."""

    def after(self, value: Any) -> "Measure":
        """In place of `80 ft`, a bare number is feet."""
        usual = _NUMBER.sub("", value.text, count=1) if value is not None else ""
        return replace(self, former=value, usual=usual)

    def parse(self, text: str) -> Quantity:
        try:
            return keyed(self.kind.parse(text))
        except QuantityError as error:
            raised = error
            for meant in self._meant(text.strip(), error.likely):
                try:
                    return keyed(self.kind.parse(meant))
                except QuantityError as other:
                    raised = other
            raise FieldError(str(raised), raised.likely) from None

    def _meant(self, text: str, likely: str) -> Sequence[str]:
        """What a bare number may mean: of the unit that stood there, of the example's; nothing where a guess could do harm."""
        if self.kind in OF_ONE_UNIT and (thousands := _THOUSANDS.fullmatch(text)):
            return (f"{thousands[1]} k{self.kind.unit}",)
        if not _BARE.fullmatch(text):
            return ()
        example = _NUMBER.sub("", self.example or self.kind.examples[0], count=1)
        as_before = (f"{text} {self.usual}",) if self.usual and self.kind in OF_TWO_SYSTEMS else ()
        if self.kind is LimiterSetting or (self.kind is ConductorSize and text.isdigit()):
            return as_before  # V or dBu, mm² or AWG
        return (*as_before, likely if likely and self.kind in OF_ONE_UNIT else f"{text} {example}")

    def meaning(self, value: Quantity, text: str) -> str:
        """The value in SI, or its equivalent in the other system."""
        if isinstance(value, ConductorSize):
            metric = f"{value.value * 1e6:g} mm²"
            return (
                value.equivalent() if value.gauge is not None else "" if same(text, metric) else f"= {metric}"
            )
        if isinstance(value, LimiterSetting) and value.in_dbu:
            value = InputLevel(value.text, value.value)
        if _same_unit(value, text):
            return ""
        plain = reading(value.value, value.unit, 4)
        return "" if same(text, plain) else f"= {plain}"


def same(text: str, other: str) -> bool:
    """Whether two texts are one but for blanks and for how a keyboard spells a sign."""
    return spelled(text).replace(" ", "") == spelled(other).replace(" ", "")


def keyed(value: Quantity) -> Quantity:
    """The quantity as files have it, in the signs of a keyboard, whatever those of a field are."""
    return replace(value, text=spelled(value.text))


def _same_unit(value: Quantity, text: str) -> bool:
    """Whether a text has a whole unit that is the usual one or a decimal part of it, and so says all that there is to say."""
    match = re.fullmatch(r"([+\-−]?\d[\d.]*)\s*([^\d\s.,]+)", typeset(text.strip()))
    if match is None or not match[2].endswith(value.unit):
        return False
    typed = float(match[1].replace("−", "-"))
    ratio = value.value / typed if typed else 1.0
    return ratio > 0 and math.isclose(round(math.log10(ratio)), math.log10(ratio), abs_tol=1e-9)


class Whole(Field):
    """A whole number."""

    low: int = 1
    high: int = 999

    def parse(self, text: str) -> int:
        try:
            number = int(text)
        except ValueError:
            number = self.low - 1
        if not self.low <= number <= self.high:
            raise FieldError(f"Write a whole number from {self.low} to {self.high}")
        return number


class Number(Field):
    """A plain number; a decimal comma is taken too."""

    low: float
    high: float

    def parse(self, text: str) -> float:
        try:
            number = float(text.replace(",", "."))
        except ValueError:
            number = self.low - 1
        if not self.low <= number <= self.high:
            raise FieldError(f"Write a number from {self.low:g} to {self.high:g}")
        return number

    def text(self, value: float) -> str:
        return digits(value)


class Share(Number):
    """A part of the whole, in per cent; a bare number is taken as files have it, 0.05, where it can be that."""

    def parse(self, text: str) -> float:
        figure = text.strip().removesuffix("%")
        try:
            number = float(figure.replace(",", "."))
        except ValueError:
            number = math.nan
        percent = figure != text.strip() or not self.low <= number <= self.high
        value = round(number / 100, 12) if percent else number
        if not self.low <= value <= self.high:
            raise FieldError(f"Write per cent, from {self.text(self.low)} to {self.text(self.high)}")
        return value

    def text(self, value: float) -> str:
        return f"{digits(round(100 * value, 10))} %"

    def meaning(self, value: float, text: str) -> str:
        """The per cent, where they were written otherwise."""
        written = self.text(value)
        return "" if same(text, written) else f"= {written}"


def digits(number: float) -> str:
    """A number with all its digits, and with no point where it is whole."""
    return str(int(number)) if float(number).is_integer() else repr(float(number))


class Pairs(Field):
    """A list of pole-pair numbers, separated by spaces or commas; straight where empty."""

    def parse(self, text: str) -> tuple[int, ...]:
        parts = text.replace(",", " ").split()
        if not all(part.isascii() and part.isdigit() and int(part) > 0 for part in parts):
            raise FieldError("Write pole pairs such as 2 1, or nothing for straight")
        return tuple(int(part) for part in parts)

    def text(self, value: tuple[int, ...]) -> str:
        return " ".join(str(number) for number in value)

    def meaning(self, value: tuple[int, ...], text: str) -> str:
        """Which far pole pair is which near one."""
        return ", ".join(f"far {i} is near {p}" for i, p in enumerate(value, 1))


class Names(Field):
    """A list of ids of one kind of thing, separated by commas or spaces: no id has any in it."""

    what: str = ""
    """The kind of thing."""
    known: Collection[str] = ()

    def parse(self, text: str) -> tuple[str, ...]:
        names = tuple(dict.fromkeys(re.findall(r"[^\s,;]+", text)))
        for name in names:
            if name not in self.known:
                near = difflib.get_close_matches(name, self.known, n=1, cutoff=0.5)
                likely = ", ".join(near[0] if each == name else each for each in names) if near else ""
                raise FieldError("{}. {}".format(*missing(self.what, name, self.known)), likely)
        return names

    def text(self, value: tuple[str, ...]) -> str:
        return ", ".join(value)


class Option(NamedTuple):
    """One of the values to choose from."""

    value: str
    words: str = ""
    also: str = ""
    """Words that find it and are not shown."""

    @property
    def name(self) -> str:
        """What stands for it: the words, where they begin with the value or it is empty."""
        begins = self.words.casefold().startswith(typeset(self.value).casefold())
        return self.words if self.words and begins else self.value or "(none)"

    @property
    def more(self) -> str:
        """What is said beside that."""
        return "" if self.name == self.words else self.words


class Choice(Field):
    """One of several values; the widget shows the option's words."""

    options: Callable[[Values], Sequence[Option]]
    """What can be chosen, given what the other fields say."""

    def read(self, text: str) -> Any:
        """The value itself."""
        return text

    def write(self, value: Any) -> str:
        """The value itself."""
        return str(value or "")


class YesNo(Choice):
    """Yes or no, as a choice of the two."""

    def read(self, text: str) -> bool:
        """Whether it is yes."""
        return text == "yes"

    def write(self, value: Any) -> str:
        """The word for it."""
        return "yes" if value else "no"


def fixed(*values: str) -> Callable[[Values], Sequence[Option]]:
    """Options that do not depend on anything."""
    options = tuple(Option(value) for value in values)
    return lambda _values: options
