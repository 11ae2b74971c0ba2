"""The typeface of printed papers: where its files are, how wide its signs are, and what it can't print.

Source Sans, open-licensed (SIL OFL), which comes in a package of its own and has Ω, −, × and →.
"""

import functools
import unicodedata
from importlib.resources import files

from rackwright.units.text_table import wrap

REGULAR, BOLD = "", "B"
_FILES = {REGULAR: "SourceSansPro-Regular.ttf", BOLD: "SourceSansPro-Bold.ttf"}


def file_of(style: str) -> str:
    """The path of the file of a style, `REGULAR` or `BOLD`."""
    return str(files("font_source_sans_pro") / "files" / _FILES[style])


@functools.cache
def _advances(style: str) -> dict[int, float]:
    """Sign → its width in em."""
    from fontTools.ttLib import TTFont

    font = TTFont(file_of(style), lazy=True)
    em, widths = font["head"].unitsPerEm, font["hmtx"]
    return {code: widths[name][0] / em for code, name in font.getBestCmap().items()}


@functools.lru_cache(maxsize=16384)
def width(text: str, style: str, size: float) -> float:
    """Width in mm of a text at `size` points; a sign that the typeface lacks counts as a square one of another."""
    advances = _advances(style)
    return sum(advances.get(ord(sign), 1.0) for sign in text) * size * MM_PER_POINT


MM_PER_POINT = 25.4 / 72


class SignError(ValueError):
    """A text holds a sign that the typeface lacks: any other in its place would name another thing."""

    def __init__(self, sign: str, text: str) -> None:
        shown = f"{sign} (U+{ord(sign):04X})" if sign.isprintable() else f"U+{ord(sign):04X}"
        super().__init__(f'the typeface of the PDFs has no {shown}, used in "{text}"')


@functools.lru_cache(maxsize=16384)
def printable(text: str) -> str:
    """The text as it is printed: composed, all white space single. Raises SignError where a sign can't be printed."""
    known = _advances(REGULAR)
    composed = unicodedata.normalize("NFC", text)
    shown = "".join(" " if sign.isspace() and sign != "\u00a0" else sign for sign in composed)
    for sign in shown:
        if ord(sign) not in known or not (sign.isprintable() or sign == "\u00a0"):
            raise SignError(sign, text)
    return " ".join(part for part in shown.split(" ") if part)


def wrapped(text: str, style: str, size: float, room: float) -> list[str]:
    """A printable text in lines of at most `room` mm."""
    return wrap(text, room, size=lambda part: width(part, style, size))
