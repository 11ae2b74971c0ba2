"""Fields of a form: what each accepts, how it is read, what is said of it while it is typed.

Holds no widget and no rig: a field turns text into a value, or says in a sentence why it can't.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple, Protocol

from rackwright.units import (
    ApparentPower,
    ConductorSize,
    Current,
    Frequency,
    Level,
    Power,
    Quantity,
    QuantityError,
    Voltage,
    reading,
)

Values = Mapping[str, Any]


class FieldError(Exception):
    """Text that a field can't take; the message says what it takes."""


class Field(Protocol):
    """One line of a form."""

    @property
    def name(self) -> str:
        """What its value is called."""

    @property
    def label(self) -> str:
        """What stands before it."""

    def read(self, text: str) -> Any:
        """The value that `text` stands for. Raises FieldError."""

    def write(self, value: Any) -> str:
        """The text that stands for `value`."""

    def note(self, text: str) -> str:
        """What to say beside good text."""


class Words(NamedTuple):
    """Free text."""

    name: str
    label: str
    required: bool = False
    lines: int = 1

    def read(self, text: str) -> str:
        """The text itself."""
        if self.required and not text.strip():
            raise FieldError(f"{self.label} can't be empty")
        return text.strip() if self.lines == 1 else text

    def write(self, value: Any) -> str:
        """The text itself."""
        return str(value or "")

    def note(self, _text: str) -> str:
        """Nothing."""
        return ""


OF_ONE_UNIT = (Frequency, Voltage, Current, Power, ApparentPower, Level)
"""Kinds whose bare number can only mean one thing to a person."""


def _is_bare(text: str) -> bool:
    return text.strip().replace(",", ".", 1).replace(".", "", 1).isdigit()


class Measure(NamedTuple):
    """A quantity with its unit, typed any way a person types it."""

    name: str
    label: str
    kind: type[Quantity]

    def read(self, text: str) -> Quantity:
        """The quantity."""
        try:
            return self.kind.parse(text)
        except QuantityError as error:
            if error.likely and self.kind in OF_ONE_UNIT and _is_bare(text):
                return self.kind.parse(error.likely)
            raise FieldError(str(error)) from None

    def write(self, value: Any) -> str:
        """As it was typed."""
        return value.text if isinstance(value, Quantity) else ""

    def note(self, text: str) -> str:
        """The parsed value in SI, or its equivalent in the other system."""
        value = self.read(text)
        if isinstance(value, ConductorSize):
            return value.equivalent()
        plain = reading(value.value, value.unit, 4)
        return "" if plain.replace(" ", "") == text.replace(" ", "") else f"= {plain}"


class Whole(NamedTuple):
    """A whole number."""

    name: str
    label: str
    low: int = 1
    high: int = 999

    def read(self, text: str) -> int:
        """The number."""
        try:
            number = int(text)
        except ValueError:
            number = self.low - 1
        if not self.low <= number <= self.high:
            raise FieldError(f"Write a whole number from {self.low} to {self.high}")
        return number

    def write(self, value: Any) -> str:
        """In digits."""
        return str(value)

    def note(self, _text: str) -> str:
        """Nothing."""
        return ""


class Number(NamedTuple):
    """A plain number."""

    name: str
    label: str
    low: float
    high: float

    def read(self, text: str) -> float:
        """The number; a decimal comma is taken too."""
        try:
            number = float(text.replace(",", "."))
        except ValueError:
            number = self.low - 1
        if not self.low <= number <= self.high:
            raise FieldError(f"Write a number from {self.low:g} to {self.high:g}")
        return number

    def write(self, value: Any) -> str:
        """In digits."""
        return digits(value)

    def note(self, _text: str) -> str:
        """Nothing."""
        return ""


def digits(number: float) -> str:
    """A number with all its digits, and with no point where it is whole."""
    return str(int(number)) if float(number).is_integer() else repr(float(number))


class Pairs(NamedTuple):
    """A list of pole-pair numbers; straight where empty."""

    name: str
    label: str

    def read(self, text: str) -> tuple[int, ...]:
        """The numbers, separated by spaces or commas."""
        parts = text.replace(",", " ").split()
        if not all(part.isascii() and part.isdigit() and int(part) > 0 for part in parts):
            raise FieldError("Write pole pairs such as 2 1, or nothing for straight")
        return tuple(int(part) for part in parts)

    def write(self, value: Any) -> str:
        """Separated by spaces."""
        return " ".join(str(number) for number in value or ())

    def note(self, text: str) -> str:
        """What the map means."""
        pairs = self.read(text)
        return ", ".join(f"far {i} is near {p}" for i, p in enumerate(pairs, 1)) if pairs else "straight"


class Option(NamedTuple):
    """One of the values to choose from."""

    value: str
    words: str = ""


class Choice(NamedTuple):
    """One of several values."""

    name: str
    label: str
    options: Callable[[Values], Sequence[Option]]
    """What can be chosen, given what the other fields say."""

    def read(self, text: str) -> str:
        """The value itself."""
        return text

    def write(self, value: Any) -> str:
        """The value itself."""
        return str(value or "")

    def note(self, _text: str) -> str:
        """Nothing: the widget shows the option's words."""
        return ""


class YesNo(Choice):
    """Yes or no, as a choice of the two."""

    def read(self, text: str) -> Any:
        """Whether it is yes."""
        return text == "yes"

    def write(self, value: Any) -> str:
        """The word for it."""
        return "yes" if value else "no"


def fixed(*values: str) -> Callable[[Values], Sequence[Option]]:
    """Options that do not depend on anything."""
    options = tuple(Option(value) for value in values)
    return lambda _values: options
