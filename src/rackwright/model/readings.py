"""What a meter shows, as text, to ohms: a number, one with a unit, or the meter's word for an open circuit.

Holds the reading of the text only. What a reading means is the engine's business.
"""

import datetime
import math
import re

from rackwright.units import QuantityError, Resistance

OPEN_WORDS = frozenset({"open", "o", "ol", "o.l", "o.l.", "0l", "inf", "infinite", "∞"})
"""How meters and people say that no current flows."""

_BARE = re.compile(r"[.,]?\d+(?:[.,]\d*)?")
_WHEN = "%Y-%m-%d %H:%M"


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


def as_kept(text: str) -> str:
    """A reading as it is kept in a rig: what was typed, the unit put to a bare number. Raises QuantityError."""
    typed = text.strip()
    if not typed:
        return ""
    if math.isinf(ohms_of(typed)):
        return "open"
    return f"{typed.rstrip('.,')} ohm" if _BARE.fullmatch(typed) else typed


def is_date(text: str) -> bool:
    """Whether a text is a date and time as a reading carries it: `2026-05-01 14:30`, or the date alone."""
    for form in (_WHEN, "%Y-%m-%d"):
        try:
            if datetime.datetime.strptime(text, form).strftime(form) == text:
                return True
        except ValueError:
            continue
    return False


def stamp(moment: datetime.datetime) -> str:
    """A moment as a reading carries it."""
    return moment.strftime(_WHEN)
