"""The rehearsal in rows: each failure with its best plan, the worst first, and what would help before the show."""

import itertools
from collections.abc import Sequence

from rackwright.console.rows import recovery
from rackwright.console.rows.row import Row, cut, heading, titles, words
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine.assess import Assessed
from rackwright.engine.recovery import Plan, Rehearsal, Rehearsed, as_called, in_short
from rackwright.units.text_table import wrap

NAME = 18
"""Cells of a name where there is little room for it: level and weight make room for so much."""
NAMES = 24
"""Names at most of what is silent."""
MOVE = 10
"""Cells below which a first move says nothing: it is left to the plan."""
LEGEND = (
    "Silent: sections that still are after this plan.",
    "Weight: of these, 1 for each of priority 1, a half of 2, a quarter of 3; where none is set, by role and kind.",
    "Level: how much quieter the section plays that loses most.",
    "Takes: until all that comes back plays; the time to find out why a circuit is dead is not counted.",
    "Both: an amplifier and its circuit at once; without mains, nothing has to be switched off first.",
)


def title(found: Rehearsal) -> list[str]:
    """How far it is; ever shorter, for a title that has little room."""
    if found.stage == "what would help" and found.done == found.total:
        return [
            "If it fails, the worst first: by the weight of what stays silent",
            "If it fails, the worst first",
        ]
    return [f"If it fails: {found.stage}, {found.done} of {found.total}"]


def failures(found: Rehearsal, width: int, glyphs: Glyphs) -> list[Row]:
    """A row for each failure, its name the place; below them what would help."""
    table = [_cells(each) for each in found.failures]
    heads = ("Fails", "", "Silent", "Weight", "Level", "Takes")
    sizes = [max(map(len, column)) for column in zip(heads, *table, strict=True)]
    for optional in ("Level", "Weight"):
        if sum(size + 2 for size in sizes if size) - sizes[1] + min(sizes[1], NAME) > width:
            sizes[heads.index(optional)] = 0
    taken = sum(size + 2 for size in sizes if size) - sizes[1]
    moves = max((len(each.plan.opening) for each in found.failures), default=0)
    sizes[1] = min(sizes[1], max(NAME, width - taken - 2 - moves), width - taken)
    room = width - taken - sizes[1]
    shown = room >= MOVE
    rows = [titles("".join(_row(heads, sizes, glyphs)) + ("What to do" if shown else ""))]
    for failure, cells in zip(found.failures, table, strict=True):
        kind, name, figures = _row(cells, sizes, glyphs)
        plan = failure.plan
        looks = "warn" if plan.silent else "ok" if plan.full else ""
        move = cut(_told(plan, room, glyphs), room, glyphs) if shown else ""
        parts = ((kind, "dim"), (name, "head"), (figures, looks), (move, ""))
        rows.append(Row(parts, failure.name))
    rows += [words(""), *(words(part, "dim") for part in wrap(" ".join(LEGEND), width))]
    rows += [words(""), heading("What would help before the show, most first")]
    return [*rows, *(words(part) for sentence in found.advice for part in wrap(sentence, width, "  "))]


def _cells(failure: Rehearsed) -> tuple[str, ...]:
    plan, like = failure.plan, f" +{len(failure.like)} alike" if failure.like else ""
    weight = f"{failure.best.silence:.2f}" if plan.silent else "–"
    return failure.shown_kind, failure.name + like, f"{len(plan.silent)}", weight, plan.level, plan.takes


def _row(cells: Sequence[str], sizes: Sequence[int], glyphs: Glyphs) -> tuple[str, str, str]:
    """What kind of thing fails, its name, and the figures, each with two blanks after it."""
    kind, name = (f"{cut(cell, size, glyphs)}  " for cell, size in zip(cells[:2], sizes[:2], strict=True))
    figures = zip(cells[2:], sizes[2:], strict=True)
    return kind, name, "".join(f"{glyphs.spelt(cell):>{size}}  " for cell, size in figures if size)


def _told(plan: Plan, room: int, glyphs: Glyphs) -> str:
    """As many of the moves as there is room for, and how many more there are."""
    for shown in range(len(plan.moves), 0, -1):
        more = len(plan.moves) - shown
        told = in_short(plan.moves[:shown]) + (f", and {more} more" if more else "")
        if len(glyphs.spelt(told)) <= room:
            return told
    return f"{plan.first}, +{len(plan.moves) - 1} more" if plan.moves[1:] else plan.first


def told(failure: Rehearsed, before: Assessed, width: int) -> list[Row]:
    """What one failure takes along, what the best plan for it costs, and its steps."""
    sure = "No plan of the moves searched is better." if failure.proven else "A better plan may exist."
    lost = f"Silent at first: {as_called(before, failure.lost, NAMES)}."
    like = [f"Interchangeable with it: {', '.join(failure.like)}."] if failure.like else []
    rows = [words(part) for sentence in (lost, *like, sure) for part in wrap(sentence, width, "  ")]
    return [
        *rows,
        *itertools.chain(*recovery.costs(failure.plan, width)),
        words(""),
        *recovery.first_of_all(width),
        words(""),
        *recovery.steps(failure.plan.steps, width),
    ]
