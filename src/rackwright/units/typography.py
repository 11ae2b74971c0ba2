"""Typography at the edge: where Ω, −, → and their like may go out, and how they are spelled where they may not.

The one decision and the one table for console, commands and text papers; inside, every text has its full typography.
"""

import codecs
import functools
import locale
import os
import unicodedata
from collections.abc import Mapping
from typing import TextIO

_SPELLINGS = str.maketrans(
    {
        "Ω": "ohm", "µ": "u", "μ": "u", "°": "deg", "℃": "degC", "℉": "degF", "²": "^2", "³": "^3", "⁵": "^5", "½": "1/2",
        "−": "-", "–": "-", "—": "-", "→": "->", "±": "+/-", "×": "x", "·": "*", "√": "sqrt", "Σ": "sum", "‖": "||",
        "∞": "inf", "∠": "@", "ρ": "rho", "ω": "w", "π": "pi", "α": "alpha", "≥": ">=", "≤": "<=", "≠": "!=", "≈": "~",
        "′": "'", "″": '"', "‘": "'", "’": "'", "“": '"', "”": '"', "…": "...", "‹": "<", "›": ">", "█": "#", "░": ".",
        "▶": ">", "●": "*", "├": "+", "└": "`", "│": "|", "─": "-", "┌": "+", "┐": "+", "┘": "+",
    }
)  # fmt: skip


def ascii_only(environment: Mapping[str, str] = os.environ) -> bool:
    """Whether RACKWRIGHT_ASCII is set, the terminal is the Linux text console, or the locale is not UTF-8."""
    if environment.get("RACKWRIGHT_ASCII") or environment.get("TERM") == "linux":
        return True
    named = environment.get("LC_ALL") or environment.get("LC_CTYPE") or environment.get("LANG")
    return "utf" not in (named or locale.getpreferredencoding(False)).lower()


def alphabet(stream: TextIO | None) -> str:
    """The encoding in which text for a stream is spelled; empty where it takes full typography.

    That is a terminal in UTF-8 only: a pipe goes to searches and scripts, which know no sign but those of a keyboard.
    """
    encoding = codecs.lookup(getattr(stream, "encoding", None) or "utf-8").name
    if ascii_only():
        return encoding if encoding != "utf-8" and not os.environ.get("RACKWRIGHT_ASCII") else "ascii"
    return "" if encoding == "utf-8" and stream is not None and stream.isatty() else encoding


def spelled(text: str, encoding: str = "ascii", keep: str = "") -> str:
    """The text with its signs but those in `keep` spelled out; a letter that the encoding lacks is bare of its accents, or `?`.

    >>> spelled("4 mm², 2.67 Ω → −0.2 dB, Café")
    '4 mm2, 2.67 ohm -> -0.2 dB, Cafe'
    """
    if not encoding or text.isascii():
        return text
    spelt = text.replace("m²", "m2").replace("√Σ", "sqrt sum ").translate(_SPELLINGS)
    return (
        spelt
        if spelt.isascii()
        else "".join(sign if sign in keep else _letter(sign, encoding) for sign in spelt)
    )


@functools.lru_cache(maxsize=4096)
def _letter(sign: str, encoding: str) -> str:
    try:
        sign.encode(encoding)
    except UnicodeEncodeError:
        return unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode() or "?"
    return sign
