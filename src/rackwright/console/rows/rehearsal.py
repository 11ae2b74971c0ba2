"""The rehearsal in rows: each failure with its best plan, the worst first, and what would help before the show."""

import itertools

from rackwright.console.rows import recovery
from rackwright.console.rows.row import Row, cut, heading, titles, words
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine.assess import Assessed
from rackwright.engine.recovery import LEVEL_HEAD, Rehearsal, Rehearsed, as_called
from rackwright.units.text_table import wrap

KIND, NAME, TIME, SILENT, LEVEL = 9, 21, 7, 7, 5
"""Cells of the columns before the first move, of the name where there is little room for it."""
NAMES = 24
"""Names at most of what is silent."""
MOVE = 12
"""Cells below which a first move says nothing: it is left to the plan."""


def title(found: Rehearsal) -> str:
    """How far it is."""
    if found.stage == "what would help" and found.done == found.total:
        return "If it fails, the worst first: silent by priority"
    return f"If it fails: {found.stage}, {found.done} of {found.total}"


def failures(found: Rehearsal, width: int, glyphs: Glyphs) -> list[Row]:
    """A row for each failure, its name the place; below them what would help."""
    numbers = f"{'Silent':>{SILENT}}{LEVEL_HEAD:>{LEVEL}}{'Time':>{TIME}}"
    name = max((len(_name(each)) for each in found.failures), default=0)
    moves = max((len(each.plan.opening) for each in found.failures), default=0)
    name = min(name, max(NAME, width - KIND - 1 - len(numbers) - 2 - moves))
    room = width - KIND - 1 - name - len(numbers) - 3  # one before the scroll bar
    rows = [titles(f"{'Fails':<{KIND}} {'':<{name}}{numbers}{'  First move' if room >= MOVE else ''}")]
    rows += [_failure(failure, name, room, glyphs) for failure in found.failures]
    if room >= MOVE and not all(each.proven for each in found.failures):
        rows += [words(""), words("Faint moves: a better plan may exist.", "dim")]
    rows += [words(""), heading("What would help before the show, most first")]
    return [*rows, *(words(part) for sentence in found.advice for part in wrap(sentence, width, "  "))]


def _name(failure: Rehearsed) -> str:
    return failure.name + (f" +{len(failure.like)} like it" if failure.like else "")


def _failure(failure: Rehearsed, name: int, room: int, glyphs: Glyphs) -> Row:
    plan = failure.plan
    level = f"−{failure.best.level:g}" if failure.best.level else "0"
    time = f"{plan.seconds:.0f} s" if plan.moves else "–"
    figures = f"{len(plan.silent):>{SILENT}}{glyphs.spelt(level):>{LEVEL}}{glyphs.spelt(time):>{TIME}}"
    move = f"  {cut(plan.opening, room, glyphs)}" if room >= MOVE else ""
    return Row(
        (
            (f"{failure.kind:<{KIND}} ", "dim"),
            (cut(_name(failure), name, glyphs), "head"),
            (figures, "warn" if plan.silent else "ok" if plan.full else ""),
            (move, "" if failure.proven else "dim"),
        ),
        failure.name,
    )


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
