"""Showing any text without obeying it: a name or a note in someone's file must not steer the terminal.

Signs that steer (`units.safe_text`) take no cell, so they are left out of every line drawn instead of being written out,
wherever the text comes from. Knows nothing of what is drawn.
"""

from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter

from rackwright.units.safe_text import STEERING

_OBEYED = dict.fromkeys((*STEERING, *range(0xD800, 0xE000)))
"""Halves of characters among them: no terminal can be sent one."""


class SafeText(LineFilter):
    """Leaves signs out that a terminal would obey. They take no cell, so nothing shifts."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments with only what prints."""
        if all(text.isprintable() for text, _, control in segments if not control):
            return segments
        return [
            segment if segment.control else Segment(segment.text.translate(_OBEYED), segment.style)
            for segment in segments
        ]
