"""Cells of a CSV that a spreadsheet will open: what it would run as a formula has an apostrophe in front, and is read
back without it. A number is no formula, whatever its sign. Knows no sheet.
"""

import re

from rackwright.units.safe_text import safe

_RUN = re.compile(r"'*[=+\-@＝＋－＠]")
"""How a cell begins that is run, or that stands behind apostrophes already (common practice, no source)."""
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?")


def cell(text: str) -> str:
    """The text as it may stand in a cell; of that `read` makes the text again, but for signs that steer."""
    shown = safe(text)
    return f"'{shown}" if _RUN.match(shown) and not _NUMBER.fullmatch(shown) else shown


def read(shown: str) -> str:
    """The text that a cell stands for."""
    return shown[1:] if shown.startswith("'") and _RUN.match(shown) else shown
