"""Recovery in rows: the plans beside one another, what one does to the rig (before, broken, after), its steps."""

import datetime
from collections.abc import Iterator, Sequence
from itertools import zip_longest
from typing import NamedTuple

from rackwright.console.rows import row
from rackwright.console.rows.row import Row, fit, titles, words, wrapped
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine import cautions
from rackwright.engine.assess import Assessed
from rackwright.engine.limits import LOADINGS
from rackwright.engine.recovery import Plan, Proposal, Recovery, TimeTaken, as_called, gap
from rackwright.model.night import NightList, Step
from rackwright.units import reading
from rackwright.units.formatting import whole_percent
from rackwright.units.text_table import wrap
from rackwright.units.wording import few, so_many

WHEN = ("Before", "Failed", "After")
MOST = (6, 3, 2, 1)
"""Names in a title, as many as fit."""
ROLE, MOVE = 18, 24
"""Cells of what a plan is shown as, at most where the moves need the rest; under so many for the move it stands below that."""


def plans(found: Recovery, width: int) -> list[Row]:
    """A row for each plan, the most complete first: its first move, what it takes and what it leaves; the place is its number from 0.

    Words that don't fit go on below: which plan it is nobody may have to guess.
    """
    named, shown_as = "First move", "Shown as"
    longest = max(len(each) for each in (named, *(plan.opening for plan in found.plans)))
    role = max(len(each) for each in (shown_as, *(plan.shown_as for plan in found.plans)))
    cells = [_figures(plan) for plan in found.plans]
    heads = ("Takes", "Silent", "Level")
    sizes = [2 + max(map(len, column)) for column in zip(heads, *cells, strict=True)]
    rest = width - sum(sizes) - 5
    role = min(role, max(ROLE, rest - longest))
    below = rest - role < MOVE
    room = min(rest + 1 if below else rest - role, longest)
    head = "".join(f"{each:>{size}}" for each, size in zip(heads, sizes, strict=True))
    rows = [titles(f"   {fit(named, room)}{head}{'' if below else f'  {shown_as}'}")]
    for number, (plan, figures) in enumerate(zip(found.plans, cells, strict=True)):
        beside = "".join(f"{each:>{size}}" for each, size in zip(figures, sizes, strict=True))
        style = "ok" if plan.full else "warn" if plan.silent else ""
        told, why = [(part, "") for part in wrap(plan.opening, room)], plan.shown_as
        if below:
            lines = [[part] for part in (*told, *((part, "dim") for part in wrap(why, width - 4)))]
            lines[0].append((beside, style))
        else:
            roles = [(f"  {part}", "dim") for part in wrap(why, role)]
            lines = [list(parts) for parts in zip_longest(told, [(beside, style)], roles, fillvalue=("", ""))]
        for line, parts in enumerate(lines):
            widths = (room, len(beside), 0)[: len(parts)]
            filled = ((text.ljust(size), look) for (text, look), size in zip(parts, widths, strict=True))
            lead = (f"{number + 1}. " if line == 0 else "   ", "head")
            rows.append(Row((lead, *filled), str(number), selectable=line == 0))
    return rows


def _figures(plan: Plan) -> tuple[str, str, str]:
    """What a plan takes, what stays silent with it, and by how much it is quieter."""
    return plan.takes, f"{len(plan.silent)}", plan.level


class _Line(NamedTuple):
    """A figure of the rig before the failure, broken, and after the plan; the gravity of the last."""

    label: str
    cells: tuple[str, str, str]
    style: str = ""


def comparison(found: Recovery, plan: Proposal, width: int, glyphs: Glyphs) -> list[Row]:
    """What the failure did and what the plan makes of it, figure by figure, and what is near a limit then."""
    lines = list(_lines(found, plan))
    cells = [tuple(map(glyphs.spelt, line.cells)) for line in lines]  # ASCII takes more of them
    sizes = [2 + max(map(len, column)) for column in zip(WHEN, *cells, strict=True)]
    room = min(width - sum(sizes), max(len(line.label) for line in lines))
    rows = [titles(" " * room + "".join(f"{name:>{size}}" for name, size in zip(WHEN, sizes, strict=True)))]
    for line, figures in zip(lines, cells, strict=True):
        *above, label = wrapped(line.label, room, glyphs)
        before, broken, after = (f"{cell:>{size}}" for cell, size in zip(figures, sizes, strict=True))
        rows += map(words, above)
        rows.append(
            Row(((f"{label:<{room}}", ""), (before, "dim"), (broken, ""), (after, line.style or "head")))
        )
    rows.append(words(""))
    for finding in plan.near:
        first, *rest = wrap(finding.sentence, width - 5)
        rows.append(Row(((f"{finding.severity} ", finding.severity), (first, ""))))
        rows += [words(f"     {part}") for part in rest]
    rows += [words("")] if plan.near else []
    rows += [words(part, "dim") for part in wrap(found.unsearched, width)]
    return rows


def costs(plan: Plan, width: int) -> tuple[list[Row], list[Row]]:
    """What is to be known of a plan before its steps: what nobody knows of it, and of what is lost by it the gravest; and the rest."""
    style = "warn" if plan.silent else ""
    first, *rest = ([words(part, style) for part in wrap(text, width, "  ")] for text in plan.costs)
    unsure = [
        words(part, "warn")
        for text in plan.unsure
        for part in wrap(f"Only if {text}: look first.", width, "  ")
    ]
    return [*first, *unsure], [row for each in rest for row in each]


def _lines(found: Recovery, plan: Proposal) -> Iterator[_Line]:
    standing = (found.before, found.broken, plan.assessment)
    counts = ("0", str(len(found.lost)), str(len(plan.silent)))
    yield _Line("Silent sections", counts, "stop" if plan.silent else "ok")
    for feed in _feeds(found, plan):
        yield _level(found, plan, feed)
    yield from _damping(found, plan)
    for label, pick in (
        ("Lowest load", _load),
        ("Most loaded circuit", _circuit),
        ("Stops", lambda assessment: str(assessment.count("stop"))),
        ("Warnings", lambda assessment: str(assessment.count("warn"))),
    ):
        cells = [pick(assessment) for assessment in standing]
        if any(cells):
            yield _Line(label, (cells[0], cells[1], cells[2]))


def _feeds(found: Recovery, plan: Plan) -> list[str]:
    """The feeds on which something is lost or quieter."""
    lost = [_feed(found, name) for name in (*found.lost, *plan.silent)]
    return list(dict.fromkeys((*lost, *(level.feed for level in plan.levels))))


def _feed(found: Recovery, section: str) -> str:
    return found.before.channels[found.before.sections[section].channel or ""].feed


def _level(found: Recovery, plan: Plan, feed: str) -> _Line:
    silent = any(_feed(found, name) == feed for name in plan.silent)
    quieter = max((level.loss for level in plan.levels if level.feed == feed), default=0.0)
    broken = "silent" if any(_feed(found, name) == feed for name in found.lost) else "0 dB"
    after = "part silent" if silent else f"−{quieter:.1f} dB" if quieter else "0 dB"
    return _Line(f"{feed}, quietest", ("0 dB", broken, after), "stop" if silent else "warn" if quieter else "ok")  # fmt: skip


def _damping(found: Recovery, plan: Proposal) -> Iterator[_Line]:
    """The lowest damping factor among the low sections that the failure or the plan touches."""
    names = {*found.lost, *(change.section for change in plan.damping)}
    cells = []
    for assessment in (found.before, found.broken, plan.assessment):
        factors = [
            section.damping_factor
            for name in names
            if (section := assessment.sections[name]).kind == "low" and section.damping_factor
        ]
        cells.append(reading(min(factors), "") if factors else "–")
    if cells[0] != "–":
        yield _Line("Lowest damping there", (cells[0], cells[1], cells[2]), "warn" if plan.damping else "ok")


def _load(assessment: Assessed) -> str:
    found = [
        (channel.load_nominal / channel.lowest_load, channel.load_nominal)
        for channel in assessment.channels.values()
        if channel.load_nominal and channel.lowest_load and channel.state == "ok"
    ]
    return reading(min(found)[1], "Ω") if found else ""


def _circuit(assessment: Assessed) -> str:
    found = [(circuit.loading, name) for name, circuit in assessment.circuits.items() if circuit.live]
    return f"{max(found)[1]} {whole_percent(max(found)[0], *LOADINGS)}" if found else ""


def looking(names: Sequence[str]) -> list[str]:
    """For what plans are looked for; ever shorter, for a title that has little room."""
    return [f"{few(names, most)} failed: looking for plans …" for most in MOST]


def failed(found: Recovery, names: Sequence[str]) -> list[str]:
    """What has failed and what is silent for it; ever shorter, for a title that has little room."""
    lost, before = found.just_lost, len(found.lost) - len(found.just_lost)
    counted = so_many(len(lost), "section")
    silent = [f"{as_called(found.before, lost, most)} silent" for most in MOST] if lost else []
    cabinets = {name.rpartition(".")[0] for name in lost}
    if len(cabinets) < len(lost):  # the columns count sections
        silent = [f"{each}, {counted}" for each in silent]
    told = [*silent, f"{counted} silent"] if lost else ["nothing more is silent"]
    earlier = f", {before} from before" if before else ""
    return [f"{few(names, most)} failed: {each}{earlier}" for most in MOST for each in told]


def first_of_all(width: int) -> list[Row]:
    """What is to be done before anything else: above a list, below a long one nobody sees it."""
    return [words(part, "caution") for part in wrap(f"{cautions.SMOKE} {cautions.IN_STEPS}", width)]


def begins_after(before: Sequence[NightList], width: int) -> list[Row]:
    """Which lists are to be finished before one: what it says is so once they are."""
    told = [f"First finish {each.title}: {each.ticked} of {len(each.steps)} done." for each in before]
    return [words(part, "warn") for text in told for part in wrap(text, width, "  ")]


def steps(listed: Sequence[Step], width: int) -> list[Row]:
    """A list: a row that can be picked for each step, its number from 0 the place; further rows for long words."""
    rows: list[Row] = []
    digits = len(str(len(listed)))
    for number, step in enumerate(listed):
        box, style = ("[x]", "dim") if step.done else ("[ ]", "")
        where = f"{step.where[:1].upper()}{step.where[1:]}: " if step.where else ""
        first, *rest = wrap(f"{where}{step.words}", width - digits - 6)
        lead = f"{box} {number + 1:>{digits}}. "
        rows.append(Row(((lead, "ok" if step.done else "head"), (first, style)), str(number)))
        more = [(part, style) for part in rest]
        if step.quiet:
            when = gap(step.silent_for)
            told = wrap(f"{when[:1].upper()}{when[1:]}: {step.quiet}.", width - len(lead))
            more += [(part, "dim" if step.done else "warn") for part in told]
        indent = " " * len(lead), ""
        rows += [Row((indent, each), str(number), selectable=False) for each in more]
    return rows


def title(shown: NightList, begun: str, now: datetime.datetime) -> list[str]:
    """A list's name, how far it is, and how long ago it began, or what it is for failed; ever shorter, for a title that has little
    room."""
    done = f"{shown.ticked} of {len(shown.steps)} done"
    names = [] if shown.returns else [shown.title.partition(": ")[0]]
    told = [f"{name}, {done}" for name in (shown.title, *names)]
    try:
        gone = now - datetime.datetime.fromisoformat(begun)
    except (ValueError, TypeError):  # written by hand: no time that counts
        return told
    minutes = max(0, int(gone.total_seconds() // 60))
    ago = f"about {minutes} min gone" if minutes else "under 1 min gone"
    return [f"{each}, {ago}" for each in told] + told[-1:] if minutes < 600 else told


def times(taken: Sequence[TimeTaken] | None, width: int, locked: bool) -> list[Row]:
    """What steps took otherwise than planned, and how to keep it."""
    if not taken:
        return []
    first = "With the edit lock off, press" if locked else "Press"
    told = [*(each.words for each in taken), f"{first} t to keep what they took as the crew's times."]
    return [words(""), *(words(part, "note") for text in told for part in wrap(text, width))]


def caution(width: int) -> list[Row]:
    """What more to heed while following a list, at its end."""
    return row.caution(cautions.FOLLOWING, width)
