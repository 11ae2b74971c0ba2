"""A drawing as inline SVG: vector, black on white, its words as text, in their own size as in print."""

from collections.abc import Iterable, Iterator, Sequence
from html import escape

from rackwright.papers.drawing import WIDTH, Rule, Strip, Text
from rackwright.papers.typeface import BOLD, MM_PER_POINT, width


def as_svg(strips: Sequence[Strip]) -> str:
    """A picture for each part of it that may begin a page, one under the other."""
    return "\n".join(map(_picture, _kept_together(strips)))


def _kept_together(strips: Sequence[Strip]) -> Iterator[list[Strip]]:
    part: list[Strip] = []
    for strip in strips:
        part.append(strip)
        if not strip.with_next:
            yield part
            part = []
    if part:
        yield part


def _picture(strips: Iterable[Strip]) -> str:
    y, marks = 0.0, []
    for strip in strips:
        marks += [*(_rule(r, y) for r in strip.rules), *(_text(t, y) for t in strip.texts)]
        y += strip.height
    size = f"{WIDTH + 2:.2f} {y:.2f}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH + 2:.2f}mm" height="{y:.2f}mm" viewBox="-1 0 {size}" '
        f'overflow="visible" font-family="Source Sans Pro, Source Sans 3, sans-serif" stroke="none">{"".join(marks)}</svg>'
    )


def _rule(rule: Rule, y: float) -> str:
    dashes = ' stroke-dasharray="1.5"' if rule.dashed else ""
    return (
        f'<line x1="{rule.x1:.2f}" y1="{rule.y1 + y:.2f}" x2="{rule.x2:.2f}" y2="{rule.y2 + y:.2f}" '
        f'stroke="#000" stroke-width="{rule.weight:.2f}"{dashes}/>'
    )


def _text(text: Text, y: float) -> str:
    """As wide as it was measured, whatever typeface the reader has, so that nothing runs into its neighbour."""
    bold = ' font-weight="bold"' if text.style == BOLD else ""
    wide = width(text.words, text.style, text.size)
    return (
        f'<text x="{text.x:.2f}" y="{text.y + y:.2f}" font-size="{text.size * MM_PER_POINT:.2f}"{bold} '
        f'textLength="{wide:.2f}" lengthAdjust="spacingAndGlyphs">{escape(text.words)}</text>'
    )
