"""An impedance sweep from a file: text or CSV with a row for each frequency, as measuring programs and spreadsheets write it.

Columns are frequency in Hz, impedance in ohms and phase in degrees, in this order, between commas, semicolons, tabs or
blanks; what stands before the first figures, and rows that begin with a sign of remark, are passed over. Judges nothing.
"""

import math
import os
import re
from collections.abc import Iterator
from itertools import pairwise

from rackwright.store.spreadsheet.cells import CsvError, shown, text_of
from rackwright.units import reading

FEWEST, MOST = 12, 20_000
"""Points of a sweep that is one."""
KEPT_AN_OCTAVE = 48
"""Points that are kept of an octave: finer ones add nothing to what is judged."""
_REMARK = "*#;!%\"'/"


class SweepError(ValueError):
    """A file that is no sweep; as text it says where, what was expected and what to do."""


def read_sweep(path: str | os.PathLike[str]) -> tuple[tuple[float, float, float], ...]:
    """The sweep in a file: Hz, Ω and degrees, in the order of frequency. Raises SweepError."""
    name = os.fspath(path)
    try:
        lines = text_of(path, "an impedance sweep").splitlines()
    except CsvError as error:
        raise SweepError(str(error)) from None
    points = sorted(_points(name, lines))
    if not FEWEST <= len(points) <= MOST:
        raise SweepError(
            f"{name} has {len(points)} rows of figures; a sweep has {FEWEST} to {MOST:,}. "
            "Export frequency, ohms and phase, a row for each frequency."
        )
    for (frequency, *_), (other, *_) in pairwise(points):
        if frequency == other:
            raise SweepError(f"{name} has two rows for {reading(frequency, 'Hz')}. Export one sweep only.")
    return _thinned(points)


def _points(name: str, lines: list[str]) -> Iterator[tuple[float, float, float]]:
    begun = False
    for number, line in enumerate(lines, 1):
        if not line.strip() or line.lstrip()[0] in _REMARK:
            continue
        figures = [_figure(cell) for cell in _cells(line)[:3]]
        if None in figures and not begun:
            continue  # heads
        begun = True
        frequency, ohms, degrees = (*figures, None, None, None)[:3]
        if frequency is None or ohms is None or degrees is None:
            raise SweepError(
                f'{name}, line {number}: "{shown(line.strip())}" is not frequency, ohms and degrees. '
                "Write three figures, with a point for decimals."
            )
        if not (0.1 <= frequency <= 1e6 and 0 < ohms <= 1e6 and abs(degrees) <= 360):
            raise SweepError(
                f'{name}, line {number}: "{shown(line.strip())}" is no impedance: frequency in Hz, then ohms above 0, '
                "then degrees from −360 to 360. Export it in these units."
            )
        yield frequency, ohms, degrees


def _cells(line: str) -> list[str]:
    """The cells of a row; where blanks, tabs or semicolons are between them, a comma is that of decimals."""
    cells = [cell.strip() for cell in re.split(r"[;\t]|\s+", line.strip()) if cell.strip()]
    if len(cells) >= 3 and not any(cell.endswith(",") for cell in cells):
        return [cell.replace(",", ".") for cell in cells]
    return [cell.strip() for cell in line.split(",")]


def _figure(cell: str) -> float | None:
    try:
        value = float(cell.replace("−", "-"))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _thinned(points: list[tuple[float, float, float]]) -> tuple[tuple[float, float, float], ...]:
    """The first, the last, and of the others one for each step of an octave, the first in it."""
    steps = {round(KEPT_AN_OCTAVE * math.log2(point[0])): point for point in reversed(points)}
    kept = {points[0], *steps.values(), points[-1]}
    return tuple(sorted(kept))
