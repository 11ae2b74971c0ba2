"""The signs that panes are drawn with: one set for terminals with Unicode, one in plain ASCII.

Holds signs only. Every sign that carries a meaning stands beside a word that carries it too.
"""

import locale
import os
from collections.abc import Mapping
from typing import NamedTuple


class Glyphs(NamedTuple):
    """One set of signs."""

    tee: str
    corner: str
    bar: str
    gap: str
    full: str
    empty: str
    arrow: str
    dot: str
    cursor: str
    chosen: str
    rule: str
    ohm: str
    ascii: bool


UNICODE = Glyphs("├─ ", "└─ ", "│  ", "   ", "█", "░", "→", "·", "▶", "●", "─", "Ω", False)
ASCII = Glyphs("+- ", "`- ", "|  ", "   ", "#", ".", "->", ".", ">", "*", "-", "ohm", True)

_PLAIN = str.maketrans(
    {
        "Ω": " ohm", "±": "+/-", "×": "x", "→": "->", "·": "*", "−": "-", "–": "-", "—": "-", "…": "...", "°": "deg ",
        "²": "2", "′": "'", "″": '"', "“": '"', "”": '"', "‘": "'", "’": "'", "∥": "||", "√": "sqrt", "Σ": "sum ",
        "π": "pi", "ρ": "rho", "∞": "inf", "µ": "u", "≥": ">=", "≠": "!=", "≤": "<=", "█": "#", "░": ".", "▶": ">", "●": "*",
        "├": "+", "└": "`", "│": "|", "─": "-", "┌": "+", "┐": "+", "┘": "+", "≈": "~", "⁵": "5",
    }
)  # fmt: skip


def plain(text: str) -> str:
    """`text` in ASCII: the field's signs spelt out, any other sign as `?`."""
    if text.isascii():
        return text
    spelt = text.replace(" Ω", " ohm").replace(" mΩ", " mohm").replace("kΩ", "kohm").replace("mΩ", "mohm")
    return spelt.translate(_PLAIN).encode("ascii", "replace").decode("ascii")


def fitting(environment: Mapping[str, str] = os.environ) -> Glyphs:
    """The set for this terminal: ASCII where RACKWRIGHT_ASCII is set, on TERM=linux, or where the locale has no UTF-8."""
    if environment.get("RACKWRIGHT_ASCII"):
        return ASCII
    if environment.get("TERM") == "linux":
        return ASCII
    named = environment.get("LC_ALL") or environment.get("LC_CTYPE") or environment.get("LANG") or ""
    utf8 = "utf" in named.lower() or (not named and "utf" in locale.getpreferredencoding(False).lower())
    return UNICODE if utf8 else ASCII
