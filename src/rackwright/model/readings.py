"""What the meter check found, and what a meter shows, as text, to ohms: a number, one with a unit, or its word for an open circuit.

Holds the keeping and reading only. What a reading means is the engine's business.
"""

import datetime
import math
import re
from collections.abc import Iterable
from typing import Literal, TypeAlias

from msgspec import Struct

from rackwright.model.lines import Line
from rackwright.units import Length, QuantityError, Resistance, Temperature

OPEN_WORDS = frozenset({"open", "o", "ol", "o.l", "o.l.", "0l", "inf", "infinite", "∞"})
"""How meters and people say that no current flows."""

_BARE = re.compile(r"[.,]?\d+(?:[.,]\d*)?")
_WHENS = ("%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M", "%Y-%m-%d")


def ohms_of(text: str) -> float:
    """The resistance in Ω that a meter's reading stands for: infinite for `open`, ohms where no unit is typed.

    Raises QuantityError.
    """
    typed = text.strip()
    if typed.casefold() in OPEN_WORDS:
        return math.inf
    try:
        return Resistance.parse(f"{typed.rstrip('.,')} ohm" if _BARE.fullmatch(typed) else typed).value
    except QuantityError as error:
        raise QuantityError(error.wrong, 'the meter\'s figure in ohms such as "5.9", or "open"') from None


def temperature_of(text: str) -> Temperature | None:
    """The temperature of coils as typed, a bare number in °C; None where nothing is typed. Raises QuantityError."""
    typed = text.strip()
    return (
        Temperature.parse(f"{typed} degC" if _BARE.fullmatch(typed.lstrip("+-")) else typed)
        if typed
        else None
    )


def as_kept(text: str) -> str:
    """A reading as it is kept in a rig: what was typed, the unit put to a bare number. Raises QuantityError."""
    typed = text.strip()
    if not typed:
        return ""
    if math.isinf(ohms_of(typed)):
        return "open"
    return f"{typed.rstrip('.,')} ohm" if _BARE.fullmatch(typed) else typed


def is_date(text: str) -> bool:
    """Whether a text is a date and time as a reading carries it: `2026-05-01 14:30:05`, to the minute, or the date alone."""
    for form in _WHENS:
        try:
            if datetime.datetime.strptime(text, form).strftime(form) == text:
                return True
        except ValueError:
            continue
    return False


Tick: TypeAlias = Literal["", "yes", "no"]
"""What a test by eye or ear found; empty where nobody tested."""


class FormerReading(Struct, frozen=True, kw_only=True, gc=False):
    """What a meter showed on the same line on an earlier day."""

    ohms: str
    lead_resistance: Resistance = Resistance.parse("0 ohm")
    coil_temperature: Temperature | None = None
    when: str = ""


class Reading(Struct, frozen=True, kw_only=True, gc=False):
    """What the meter check found on one pole pair of a line, measured at the line's near end."""

    line: str
    pair: int = 1
    """Pole pair at the near end, from 1."""
    ohms: str = ""
    """As the meter showed it, `5.9 ohm` or `open`; empty where nothing is measured."""
    lead_resistance: Resistance = Resistance.parse("0 ohm")
    """What the meter showed with its leads touched together, still within `ohms`."""
    coil_temperature: Temperature | None = None
    """Of the voice coils; that of the air where not stated, as before they have played."""
    polarity: Tick = ""
    """Whether it was seen to be right."""
    heard: Tick = ""
    """Whether the drivers of this pair were heard, and no others."""
    heard_from: tuple[str, ...] = ()
    """Ids of the cabinets that were heard on this pair; empty where nobody noted them."""
    when: str = ""
    """`2026-05-01 14:30:05`, local time: by it a reading is told from what failed before it."""
    note: str = ""
    last: FormerReading | None = None
    """What it read on an earlier day."""
    sweep: tuple[tuple[float, float, float], ...] = ()
    """Impedance over frequency: Hz, Ω and degrees, in the order of frequency."""
    model: str = ""
    """Of the cabinet that the line led to when it was measured; like `cable` and `length` any where not stated."""
    cable: str = ""
    length: Length | None = None
    behind: tuple[str, ...] | None = None
    """Ids of the cabinets that were linked on behind it; any where not stated."""

    @property
    def id(self) -> str:
        """What it is called: `C1/1`."""
        return f"{self.line}/{self.pair}"

    @property
    def stated(self) -> bool:
        """Whether it says what it was taken on."""
        return bool(self.model and self.cable and self.length)

    def taken_on(self, line: Line, model: str, behind: tuple[str, ...]) -> bool:
        """Whether it was taken on that line as it is: `model` is that of its cabinet, `behind` those linked on. If not it is history, no proof."""
        length = self.length is None or self.length.value == line.length.value
        same = self.model in ("", model) and self.cable in ("", line.cable) and length
        return same and self.behind in (None, behind)


def of_lines(readings: Iterable[Reading], *tables: Iterable[Line]) -> tuple[Reading, ...]:
    """Those of lines in the tables: a spare line that has done its duty is in none."""
    there = {line.id for lines in tables for line in lines}
    return tuple(reading for reading in readings if reading.line in there)
