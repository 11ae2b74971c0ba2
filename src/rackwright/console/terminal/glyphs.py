"""The signs that panes are drawn with: one set for terminals with Unicode, one in plain ASCII.

Holds signs only. Every sign that carries a meaning stands beside a word that carries it too.
"""

from typing import NamedTuple

from rackwright.units.typography import spelled


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
    box: str
    """Its four corners, then its side."""
    ohm: str
    ascii: bool

    def spelt(self, text: str) -> str:
        """`text` as this terminal shows it."""
        return spelled(text) if self.ascii else text


UNICODE = Glyphs("├─ ", "└─ ", "│  ", "   ", "█", "░", "→", "·", "▶", "●", "─", "┌┐└┘│", "Ω", False)
ASCII = Glyphs("+- ", "`- ", "|  ", "   ", "#", ".", "->", ".", ">", "*", "-", "++++|", "ohm", True)
