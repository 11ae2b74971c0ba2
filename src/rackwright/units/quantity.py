"""What a quantity is, and the parser of what a person types for one.

A quantity is frozen, compares by what was typed, and is made with `parse`: `Length.parse("80 ft")` is a length of 24.384 m
that is saved as `80 ft` again. The kinds are in `quantities`.
"""

import functools
import math
import re
from typing import Any, ClassVar, Self

from msgspec import Struct

from rackwright.units.wording import listed

_NUMBER = r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)(?:[eE][+-]?\d+)?"
_QUANTITY = re.compile(rf"^({_NUMBER})\s*(.*)$", re.DOTALL)
_THOUSANDS = re.compile(r"^[+-]?[1-9]\d{0,2}(,\d{3})+$")


class QuantityError(ValueError):
    """Text that is not the quantity expected.

    The message is a sentence for a person: what is wrong, then the forms accepted, then the likely
    meaning where there is one. `likely` repeats that meaning as text that would parse, or is empty.
    """

    def __init__(self, wrong: str, forms: str, likely: str = "") -> None:
        self.wrong, self.forms, self.likely = wrong, forms, likely
        hint = f' Did you mean "{likely}"?' if likely else ""
        super().__init__(f"{wrong}. Write {forms}.{hint}")


class Quantity(Struct, frozen=True, gc=False):
    """A quantity: `text` as it was typed, `value` in SI units."""

    text: str
    value: float

    dimension: ClassVar[str] = ""
    """What it is, with its article: `a length`."""
    unit: ClassVar[str] = ""
    """The SI unit, as shown to a person."""
    spellings: ClassVar[dict[str, tuple[float, float]]] = {}
    """Unit as typed → (factor, offset): SI value = factor · number + offset."""
    pint_unit: ClassVar[str] = ""
    """The SI unit, as pint writes it."""
    low: ClassVar[float] = 0.0
    high: ClassVar[float] = math.inf
    """A value outside low..high is a slip."""
    examples: ClassVar[tuple[str, ...]] = ()

    @classmethod
    def parse(cls, text: object) -> Self:
        """Read what a person typed.

        Raises QuantityError where it is no text, has no unit, one of another dimension, or a value out
        of bounds.
        """
        if isinstance(text, bool) or not isinstance(text, str):
            raise cls._no_text(text)
        stripped = text.strip().replace("−", "-")
        value = cls._value(stripped)
        if not math.isfinite(value):
            raise QuantityError(f'"{stripped}" is not a finite number', cls.forms())
        if not cls.low <= value <= cls.high:
            raise cls._out_of_bounds(stripped, value)
        return cls(stripped, value)

    @classmethod
    def forms(cls) -> str:
        """The accepted forms in words: `a length such as "25 m" or "80 ft"`."""
        quoted = [f'"{example}"' for example in cls.examples]
        return f"{cls.dimension} such as {listed(quoted, 'or')}"

    @classmethod
    def _value(cls, text: str) -> float:
        match = _QUANTITY.match(text)
        if match is None:
            raise QuantityError(f'"{text}" is not {cls.dimension}', cls.forms())
        number, unit = match.group(1), match.group(2).strip()
        if _THOUSANDS.match(number):
            raise cls._ambiguous_comma(text, number, unit)
        magnitude = float(number.replace(",", "."))
        if not unit:
            raise QuantityError(f'"{text}" has no unit', cls.forms(), cls._with_likely_unit(number))
        found = cls._spelling(unit)
        if found is None:
            found = cls._ask_pint(text, unit)
        return found[0] * magnitude + found[1]

    @classmethod
    def _spelling(cls, unit: str) -> tuple[float, float] | None:
        if unit in cls.spellings:
            return cls.spellings[unit]
        alike = {
            value
            for known, value in cls.spellings.items()
            if known.casefold() == unit.casefold() and not _prefixes_differ(known, unit, value[0])
        }
        return alike.pop() if len(alike) == 1 else None

    @classmethod
    def _ask_pint(cls, text: str, unit: str) -> tuple[float, float]:
        for other in Quantity.__subclasses__():
            if other is not cls and unit in other.spellings:
                raise QuantityError(f'"{text}" is {other.dimension}, not {cls.dimension}', cls.forms())
        half_typed = any(known.startswith(unit) for known in cls.spellings)  # no reason to load pint at a key
        found = _pint_factor(unit, cls.pint_unit) if cls.pint_unit and not half_typed else None
        if found is None:
            raise QuantityError(f'"{unit}" in "{text}" is not a unit of {cls.dimension}', cls.forms())
        return found, 0.0

    @classmethod
    def _no_text(cls, given: object) -> QuantityError:
        if isinstance(given, int | float) and not isinstance(given, bool):
            likely = cls._with_likely_unit(str(given))
            return QuantityError(
                f"{given} is a plain number with no unit", f"{cls.forms()}, in quotes", likely
            )
        return QuantityError(f"{given!r} is not {cls.dimension}", f"{cls.forms()}, in quotes")

    @classmethod
    def _with_likely_unit(cls, number: str) -> str:
        """The number with the first unit of the examples that puts it within the bounds; empty where none does."""
        pointed = number.replace(",", ".")
        units = (example.partition(" ")[2] for example in cls.examples)
        return next((f"{pointed} {unit}" for unit in units if cls._fits(float(pointed), unit)), "")

    @classmethod
    def _fits(cls, number: float, unit: str) -> bool:
        found = cls._spelling(unit)
        return found is not None and cls.low <= found[0] * number + found[1] <= cls.high

    @classmethod
    def _ambiguous_comma(cls, text: str, number: str, unit: str) -> QuantityError:
        whole = number.replace(",", "")
        likely = "" if unit else cls._with_likely_unit(whole)
        if cls._fits(float(whole), unit):
            likely = f"{whole} {unit}"
        return QuantityError(f'The comma in "{text}" could mean thousands or decimals', cls.forms(), likely)

    @classmethod
    def _out_of_bounds(cls, text: str, value: float) -> QuantityError:
        match = _QUANTITY.match(text)
        number = match.group(1) if match else ""
        likely = cls._with_likely_unit(number.lstrip("+-") if cls.low >= 0 else number) if number else ""
        if value <= 0 < cls.low:
            return QuantityError(
                f'"{text}" is not above zero, as {cls.dimension} must be', cls.forms(), likely
            )
        bound, word = (cls.low, "below") if value < cls.low else (cls.high, "above")
        shown = typeset(f"{bound:f}".rstrip("0").rstrip(".") + f" {cls.unit}")
        return QuantityError(
            f'"{text}" is {word} {shown}, the limit for {cls.dimension} here', cls.forms(), likely
        )

    def __str__(self) -> str:
        """As a person reads it, whatever the keyboard had: `2.5 mm²`."""
        return typeset(self.text)


_TYPESET = (
    (re.compile(r"^([+-]?[\d.,]*\d)(?=(?:(?!R)[^\W\d_]|°)\D*$|mm\^?2$)"), r"\1 "),
    (re.compile(r"^-"), "−"), (re.compile(r"(?<![A-Za-z])mm\^?2$"), "mm²"), (re.compile(r"(?<![A-Za-z])([mkM]?)ohms?$"), r"\1Ω"),
    (re.compile(r"(?<![A-Za-z])deg ?([CF])$"), r"°\1"), (re.compile(r"(?<![A-Za-z])u(?=[A-Z])"), "µ"),
)  # fmt: skip


@functools.lru_cache(maxsize=4096)
def typeset(text: str) -> str:
    """A quantity with the signs of its unit, a blank before it (SI brochure, 5.4.3), and a minus for a hyphen.

    >>> [typeset(text) for text in ("2.5 mm2", "8 ohm", "20mohm", "35degC", "0.65 uH/m", "-3dB", "2k2")]
    ['2.5 mm²', '8 Ω', '20 mΩ', '35 °C', '0.65 µH/m', '−3 dB', '2k2']
    """
    for pattern, sign in _TYPESET:
        text = pattern.sub(sign, text)
    return text


@functools.cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


@functools.lru_cache(maxsize=256)
def _pint_factor(unit: str, into: str) -> float | None:
    """Factor from `unit` to the SI unit `into`, None where pint knows none.

    pint's own table of units follows NIST SP 811 and BIPM's SI brochure.
    """
    if not re.fullmatch(r"[^\W\d_][\w ]*(?:(?:\*\*|\^)\d)?", unit):
        return None
    registry = _registry()
    try:
        zero = registry.Quantity(0.0, unit).to(into).magnitude
        one = registry.Quantity(1.0, unit).to(into).magnitude
    except Exception:  # pint raises many kinds on odd text; each means the same here: no such unit
        return None
    return float(one) if zero == 0 else None


def _prefixes_differ(known: str, typed: str, factor: float) -> bool:
    """Whether two spellings alike but for case are milli and mega: `MW` must not be read as `mW`."""
    return factor in (1e-3, 1e6) and known[0] != typed[0]
