"""The stage plan: every cabinet where it stands, by side, depth and role, with its position in words and the line that it gets.

Sides and depths are words in the rig, so that the plan says which is left of which, and not how far.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from itertools import groupby, zip_longest

from msgspec.structs import replace

from rackwright.engine.assess import Assessed
from rackwright.model.lines import Cabinet, Role, Stock
from rackwright.model.rig import Rig
from rackwright.papers.document import Drawing, Sheet, Words
from rackwright.papers.drawing import (
    GAP,
    PAD,
    WIDTH,
    Box,
    Rule,
    Said,
    Strip,
    abreast,
    heading,
    large,
    named,
    paragraphs,
    row,
    under,
)
from rackwright.papers.lines import by_position, lengths, near_end, pole_at, state_of, walk
from rackwright.papers.marks import Marks, marked
from rackwright.papers.phrases import REPATCHING
from rackwright.papers.typeface import BOLD

ZONES: tuple[tuple[str, tuple[Role, ...]], ...] = (
    ("On stage: monitors", ("monitor",)),
    ("In front of the stage, and beside it", ("audience", "fill")),
    ("In the house: delays", ("delay",)),
)
"""Heading → the roles under it, from the back of the stage to the back of the house."""
DEPTHS = {"back": "at the back", "middle": "in the middle", "front": "at the front", "": ""}
ABREAST = 4
AISLE = 8.0
"""mm between the sides."""
HALF = (WIDTH - AISLE) / 2
HOW = Words(
    "Seen from above, the audience at the foot of the page. Left and right are those of a performer who faces the audience. "
    "Not to scale: on a side those of a model stand from the outside in as their words tell, else in the order of the rig; the words say where each goes."
)
OUTSIDE_IN = {
    "outermost": 1.0,
    "far": 0.8,
    "outer": 0.8,
    "inner": 0.3,
    "innermost": 0.1,
    "centre": 0.1,
    "center": 0.1,
}
"""Words of a position → how far from the middle, of the way to the outside; 0.5 where none tells."""
IN_A_ROW = re.compile(r"\b(\d+) of (\d+)\b")
"""A place counted from one end of a row to the other."""


def any_position(rig: Rig) -> bool:
    """Whether there is anything to draw."""
    return any(cabinet.position for cabinet in rig.cabinets)


def stage_sheet(assessment: Assessed, stock: Sequence[Stock]) -> Sheet:
    """Every cabinet once; those without a position by themselves."""
    index, marks = assessment.index, Marks(assessment)
    lengths_ = lengths(index.rig, walk(index), stock)

    def said(cabinet: Cabinet) -> tuple[Said, ...]:
        line = index.line_to.get(cabinet.id)
        wrong = marks.standing(cabinet)
        flown = "flown" if cabinet.access == "flown" else ""
        place = paragraphs(cabinet.position)
        if line is None:
            return (*named(cabinet.id, wrong, flown), *place, Said("NO LINE", BOLD))
        plug = marked(f"{line.id} from {near_end(index, line)}, {lengths_[line.id]}", marks.line(line))
        poles = (pole_at(index, line, far) for far in range(len(index.pole_map(line))))
        states = (marked(pole.name, told) for pole in poles if pole and (told := state_of(marks, pole)))
        return (*named(cabinet.id, wrong, flown), *place, *paragraphs(plug, *states, style=BOLD))

    strips: list[Strip] = []
    for title, roles in ZONES:
        of_it = [c for c in index.rig.cabinets if c.role in roles and c.position]
        for depth, where in DEPTHS.items():
            here = [c for c in of_it if c.depth == depth]
            if here:
                head = heading(large(f"{title}, {where}" if where else title))
                strips += under((*head, *_sides(here)), _placed(here, said))
        if roles == ("monitor",) and strips:
            strips.append(Strip(2 * GAP, (), (Rule(0, GAP, WIDTH, GAP, 0.8),)))
    if nowhere := [c for c in index.rig.cabinets if not c.position]:
        strips += under(heading(large("Without a position")), abreast(map(said, nowhere), ABREAST))
    drawing = Drawing(tuple(strips), (by_position(assessment),))
    return Sheet(name="stage", title="Stage plan", blocks=(REPATCHING, HOW, drawing))


def _sides(cabinets: Sequence[Cabinet]) -> Iterator[Strip]:
    """Over each side its name, where there is anything on one."""
    if any(cabinet.side for cabinet in cabinets):
        yield from _over((-PAD, "Stage right"), (HALF + AISLE - PAD, "Stage left"))


def _over(*names: tuple[float, str]) -> Iterator[Strip]:
    """Names at places mm from the left, on one page with what comes next."""
    for strip in row([Box(x, HALF, paragraphs(name), 0) for x, name in names]):
        yield replace(strip, with_next=True)


def _placed(cabinets: Sequence[Cabinet], said: Callable[[Cabinet], tuple[Said, ...]]) -> Iterator[Strip]:
    """Stage right at the left of the page and stage left at its right, the outermost first, then those of neither side across it."""
    sides = {side: _outside_in([c for c in cabinets if c.side == side]) for side in ("right", "left", "")}
    space = (HALF - GAP) / 2
    places = [x + i * (space + GAP) for x in (0, HALF + AISLE) for i in range(2)]
    for abreast_ in zip_longest(*(_twos(sides[side]) for side in ("right", "left")), fillvalue=()):
        right, left = abreast_
        told = [*zip(right, places, strict=False), *zip(left, reversed(places), strict=False)]
        yield from row(
            [Box(x, space, said(cabinet)) for cabinet, x in sorted(told, key=lambda each: each[1])]
        )
        yield Strip(GAP)
    if sides[""] and len(sides[""]) < len(cabinets):
        yield from _over((-PAD, "No side given"))
    yield from abreast(map(said, sides[""]), ABREAST)


def _outside_in(cabinets: Sequence[Cabinet]) -> list[Cabinet]:
    """The cabinets of a side in the order of the rig, those of a model that stand together there from the outside in."""
    groups = groupby(cabinets, key=lambda cabinet: cabinet.model)
    return [each for _, alike in groups for each in sorted(alike, key=_from_the_middle, reverse=True)]


def _from_the_middle(cabinet: Cabinet) -> float:
    """How far out its words say that it stands, 1 being the outside."""
    words = cabinet.position.casefold()
    if (counted := IN_A_ROW.search(words)) and (count := int(counted[2])) > 1:
        return abs(2 * (int(counted[1]) - 1) / (count - 1) - 1)
    return next((OUTSIDE_IN[word] for word in re.findall(r"\w+", words) if word in OUTSIDE_IN), 0.5)


def _twos(cabinets: Sequence[Cabinet]) -> list[Sequence[Cabinet]]:
    return [cabinets[i : i + 2] for i in range(0, len(cabinets), 2)]
