"""Showing any text without obeying it: a name or a note in someone's file must not steer the terminal.

Signs that print nothing (ECMA-48 control functions, and Unicode's that turn the reading direction) are left out of
every line drawn, wherever the text comes from. Knows nothing of what is drawn.
"""

from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter

_DIRECTIONS = (*range(0x200E, 0x2010), *range(0x2028, 0x202F), *range(0x2066, 0x206A))
_OBEYED = dict.fromkeys((*range(0x20), *range(0x7F, 0xA0), *_DIRECTIONS))


class Harmless(LineFilter):
    """Leaves signs out that a terminal would obey. They take no cell, so nothing shifts."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments with only what prints."""
        if all(text.isprintable() for text, _, control in segments if not control):
            return segments
        return [
            segment if segment.control else Segment(segment.text.translate(_OBEYED), segment.style)
            for segment in segments
        ]
