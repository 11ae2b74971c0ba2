"""The page that says whether the whole rig is ready for doors, and leads on to what is open."""

from collections.abc import Sequence

from textual.events import Key

from rackwright.console.rows.row import Row, caution, words, wrapped
from rackwright.console.screens.pages import FlowingPage
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine import cautions
from rackwright.engine.readiness import Point

MOST_OPEN = 4
"""Things told of a point."""
INSET = 6


class ReadyPage(FlowingPage):
    """Each point, those that are open first, with the key that leads on from it: that gives the key, esc None."""

    def __init__(self, points: Sequence[tuple[Point, str]], glyphs: Glyphs) -> None:
        super().__init__("Ready for doors?", lambda width: ready_rows(points, width, glyphs), glyphs)
        self._keys = [key for point, key in points if point.left]

    def on_key(self, event: Key) -> None:
        """A key that is told of acts here too."""
        if event.character in self._keys:
            event.stop()
            self.dismiss(event.character)


def ready_rows(points: Sequence[tuple[Point, str]], width: int, glyphs: Glyphs) -> list[Row]:
    """The answer, then each point: what of it is open, what to do, and the key for that."""
    still = [(point, key) for point, key in points if point.left]
    told = f"Not yet: {len(still)} of {len(points)} points are open." if still else "Yes: nothing is open."
    rows = [words(told, "warn" if still else "ok")]
    for point, key in still:
        more = len(point.left) - MOST_OPEN
        left = [*point.left[:MOST_OPEN], *([f"and {more} more"] if more > 0 else [])]
        advice, *rest = wrapped(f"{key}  {point.advice}", width - INSET, glyphs, "   ")
        rows += [words(""), _point("open", "warn", point)]
        rows += [
            words(" " * INSET + line) for text in left for line in wrapped(text, width - INSET, glyphs, "  ")
        ]
        rows.append(Row(((" " * INSET, ""), (advice[:1], "head"), (advice[1:], "")), selectable=False))
        rows += [words(" " * INSET + line) for line in rest]
    done = [_point("done", "ok", point) for point, _ in points if not point.left]
    return [*rows, *([words("")] if done else []), *done, *caution(cautions.PLANNING, width)]


def _point(word: str, style: str, point: Point) -> Row:
    return Row(((f"{word:<{INSET}}", style), (point.told, "head")), selectable=False)
