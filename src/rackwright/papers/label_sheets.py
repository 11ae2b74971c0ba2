"""Labels on sheets that are die cut, and as flags to wrap around a cable: sizes, where each stands, what is set how large.

The sizes are those that office shops sell for A4 and letter paper, by their dimensions (common practice, no source): print one
page on plain paper and hold it against the sheet first. A flag is folded around the cable and stuck back to back, so both
halves say the same. Rig, venue, revision and time stand under the labels; where the sheet has no margin for them, on each label.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from rackwright.papers.document import Header, Label
from rackwright.papers.drawing import Rule, Strip, Text, joined, line_height, moved, outline
from rackwright.papers.typeface import BOLD, REGULAR, printable, wrapped

LARGE = 14.0
SMALL = (10.0, 9.0, 8.0, 7.0)
"""Points, of what is not the id or the place: the largest with which all labels fit, else the last."""
FOLDING = "Cut along the lines. Fold around the cable at the dashed ones, and stick both halves together."
INSET = 2.0
"""mm."""
FOOT, FOOT_SIZE = 12.0, 8.0
"""mm of margin under the labels of which half can be printed by any printer (common practice, no source), and points."""


class LabelSheet(NamedTuple):
    """Where the labels of a sheet are, in mm: size, how many, the first one's corner, from one to the next."""

    width: float
    height: float
    across: int
    down: int
    left: float
    top: float
    step_x: float
    step_y: float
    letter: bool = False
    wrap: float = 0.0
    """What goes around the cable, in the middle of a flag; 0 of a label."""


SHEETS: Mapping[str, LabelSheet] = {
    "flag": LabelSheet(90.0, 36.0, 2, 7, 15.0, 14.0, 90.0, 36.0, wrap=20.0),
    "63.5x38.1": LabelSheet(63.5, 38.1, 3, 7, 7.25, 15.15, 66.0, 38.1),
    "70x37": LabelSheet(70.0, 37.0, 3, 8, 0.0, 0.5, 70.0, 37.0),
    "99.1x38.1": LabelSheet(99.1, 38.1, 2, 7, 4.65, 15.15, 101.6, 38.1),
    "99.1x57": LabelSheet(99.1, 57.0, 2, 5, 4.65, 6.0, 101.6, 57.0),
    "4x1.33in": LabelSheet(101.6, 33.87, 2, 7, 3.96, 21.17, 106.7, 33.87, letter=True),
    "4x2in": LabelSheet(101.6, 50.8, 2, 5, 3.96, 12.7, 106.7, 50.8, letter=True),
}
"""By their size in mm, of those for letter paper in inches; `flag` is cut from plain paper, or from tape, of either size."""
FLAG = "flag"


def pages(labels: Sequence[Label], header: Header, height: float) -> Iterator[Strip]:
    """The labels, sheet after sheet of that height in mm; one that its size does not take goes on on the next."""
    sheet = SHEETS[header.labels]
    room = sheet.width / 2 - sheet.wrap / 2 if sheet.wrap else sheet.width
    bottom = sheet.top + (sheet.down - 1) * sheet.step_y + sheet.height
    margin = height - bottom >= FOOT
    of = f"revision {header.revision}" if margin else header.words
    for size in SMALL:
        faces = [face for each in labels for face in _faces(each, of, sheet.height, room, size)]
        if len(faces) == len(labels):
            break
    held = sheet.across * sheet.down
    for start in range(0, len(faces), held):
        page = faces[start : start + held]
        how = (Text(sheet.left, 10.0, FOLDING, REGULAR, 11.0),) if sheet.wrap else ()
        number = f"page {start // held + 1} of {-(-len(faces) // held)}"
        foot = _foot(header, number, sheet, bottom, height) if margin else ()
        yield joined(
            [Strip(0, (*how, *foot)), *(_placed(sheet, face, i, room) for i, face in enumerate(page))]
        )


def _foot(header: Header, number: str, sheet: LabelSheet, bottom: float, height: float) -> tuple[Text, ...]:
    """What the sheet is of, in the margin under its labels: as many lines of the rig's name and the venue's as it takes."""
    x, step = sheet.left + INSET, line_height(FOOT_SIZE)
    room = (sheet.across - 1) * sheet.step_x + sheet.width - 2 * INSET
    told = printable(f"{header.date} · revision {header.revision} · {number}")
    lines = [told, *wrapped(printable(header.rig), REGULAR, FOOT_SIZE, room)]
    most = max(2, int((height - bottom - FOOT / 2) / step))
    if len(lines) > most:
        lines = [*lines[: most - 1], f"{lines[most - 1][:-1]}…"]
    return tuple(Text(x, bottom + (i + 1) * step, line, REGULAR, FOOT_SIZE) for i, line in enumerate(lines))


def _faces(label: Label, of: str, height: float, room: float, size: float) -> Iterator[Strip]:
    """What is printed on one label; on a further one, under its id, what that does not take."""
    head = (f"{label.name}  {label.end}", BOLD, LARGE)
    rest = (
        (f"→ {label.place}", BOLD, LARGE),
        *((line, REGULAR, size) for line in (*label.lines, of)),
    )
    texts, y = _lines([], 1.0, head, room)
    begun = y
    for words in rest:
        more, below = _lines(texts, y, words, room)
        if below + 1.0 > height and y > begun:
            yield Strip(height, tuple(texts))
            texts, y = _lines([], 1.0, head, room)
            more, below = _lines(texts, y, words, room)
        texts, y = more, below
    yield Strip(height, tuple(texts))


def _lines(
    texts: list[Text], y: float, words: tuple[str, str, float], room: float
) -> tuple[list[Text], float]:
    text, style, size = words
    found = list(texts)
    for line in wrapped(printable(text), style, size, room - 2 * INSET):
        y += line_height(size)
        found.append(Text(INSET, y - line_height(size) * 0.22, line, style, size))
    return found, y


def _placed(sheet: LabelSheet, face: Strip, number: int, room: float) -> Strip:
    """A label where it stands; a flag with both its halves, and lines to cut and to fold."""
    down, across = divmod(number, sheet.across)
    x, y = sheet.left + across * sheet.step_x, sheet.top + down * sheet.step_y
    if not sheet.wrap:
        return moved(face, x, y)
    folds = tuple(Rule(at, 0, at, sheet.height, 0.15, True) for at in (room, room + sheet.wrap))
    cut = (*outline(0, 0, sheet.width, sheet.height, 0.15), *folds)
    halves = joined([face, moved(face, room + sheet.wrap, 0), Strip(0, (), cut)])
    return moved(halves, x, y)
