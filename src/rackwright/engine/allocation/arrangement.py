"""Which amplifier goes on which circuit so that nothing is past its limit, with the fewest moves.

The programme proposes, the same limits and findings as in `check` judge: an arrangement that adds a finding is refused unless
it removes a graver one. Leaves out what it can't know: which amplifiers share a mains lead.
"""

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from rackwright.engine.allocation import order, tree
from rackwright.engine.allocation.assignment import Bound, Found, Programme
from rackwright.engine.allocation.gauges import CRITERIA, Levels, Places, Task, Worth
from rackwright.engine.allocation.order import Step
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.demand import SUPPLY
from rackwright.engine.finding import Finding, graver
from rackwright.model import edits
from rackwright.model.rig import Rig

FAMILIES: Mapping[str, str] = {
    "circuit-overloaded": "loading",
    "circuit-near-limit": "loading",
    "circuit-heavy-overload": "loading",
    **{
        f"{point}-{kind}": "loading"
        for point in ("board", "intake")
        for kind in ("overloaded", "near-limit", "heavy-overload")
    },
    "rcd-leakage": "leakage",
    "generator-overloaded": "generator",
    "generator-near-limit": "generator",
    "feed-drop": "drop",
    "inrush-over-band": "inrush",
    "supply-voltage-low": "voltage",
    "phases-uneven": "phases",
    "circuit-empty": "empty",
}
"""Codes of findings that are about one thing, of which the gravest is told."""
JUDGED = frozenset({*FAMILIES, "circuit-failed", "board-failed", "amplifier-without-circuit"})
"""The findings on the mains that a Worth judges; that nothing is better is proven of these."""


TRIES = 3
"""How often what is refused is asked for again without what it was refused for."""


class ArrangementError(Exception):
    """There is nothing to arrange. The message says to a person what to do."""


class Move(NamedTuple):
    """An amplifier to plug in elsewhere."""

    amplifier: str
    source: str
    """The circuit it is on today; empty where it has none."""
    to: str


class Arrangement(NamedTuple):
    """A proposal: what to move, in which order, and what that does."""

    moves: tuple[Move, ...]
    steps: tuple[Step, ...]
    """The moves in an order in which no step overloads what was not overloaded."""
    unplaced: tuple[str, ...]
    """Amplifiers without power that no circuit may carry."""
    before: Worth
    after: Worth
    assessment: Assessed
    """Of the rig rearranged."""
    fixed: tuple[Finding, ...]
    """Findings on the mains that the moves fix or make less grave."""
    added: tuple[Finding, ...]
    """Those that they add, each for a graver one that is fixed."""
    proven: bool
    """Whether no arrangement is better by any finding that is left on the mains; else none better was found."""

    def made_on(self, rig: Rig) -> Rig:
        """A rig with its amplifiers plugged in so: this one, or as it was before the night."""
        for move in self.moves:
            rig = edits.change(rig, move.amplifier, circuit=move.to)
        return rig


def propose(assessment: Assessed) -> Arrangement:
    """The best arrangement on the circuits that have power, by Worth.

    No amplifier loses its power, nothing comes past a limit that is a stop, or further past it, and nothing is found that
    is not found today, unless something graver is fixed by it. Raises ArrangementError where there is nothing to arrange.
    """
    task = _task(assessment)
    today = task.worth(task.homes)
    stay = _judged(assessment, task, Found(task.homes, today, True))
    if today[: CRITERIA.index("moves")] == (0.0,) * CRITERIA.index("moves"):
        return stay
    search = _Search(assessment, task, stay)
    proven, settled = search.best_within(())
    if not settled:
        proven = True
        for bounds in search.programme.branches():
            sure, settled = search.best_within(bounds)
            proven = proven and sure
            if not settled:
                search.best_within(bounds, halved=True)
    return search.best._replace(proven=proven and search.best.proven)


class _Search:
    """What the programme is asked, and the best of what is allowed so far."""

    def __init__(self, assessment: Assessed, task: Task, stay: Arrangement) -> None:
        self.assessment, self.task, self.best = assessment, task, stay
        self.today = task.levels(task.homes)
        self.programme = Programme(task, self.today)

    def best_within(self, bounds: tuple[Bound, ...], halved: bool = False) -> tuple[bool, bool]:
        """Whether nothing within bounds is better than the best then, and whether nothing of what was made last is refused.

        What no gauge shows is asked for again without it, `halved` with less there; so is what is not allowed, where there
        are bounds.
        """
        sure, cut = True, bounds
        for more in range(TRIES + 1):
            found = self.programme.solved(cut)
            made = _judged(self.assessment, self.task, found)
            unasked = _unasked(made, self.assessment, self.today)
            if not unasked and made.after.better(self.best.after):
                self.best = made
            refused = [*_unforeseen(self.task, found.places, made.added), *(unasked if bounds else ())]
            if not refused or more == TRIES:
                break
            cut, sure = (*cut, *self.programme.no_more(refused, found.places, halved)), False
        return sure and made.proven, not refused and not unasked


def _task(assessment: Assessed) -> Task:
    if not assessment.circuits:
        raise ArrangementError("There are no circuits to arrange on. List those at the venue first.")
    task = tree.task(assessment)
    if not task.breakers:
        raise ArrangementError(
            "Every circuit has failed: there is none to arrange on. Repair one, or add one, first."
        )
    if not task.movables:
        raise ArrangementError("There are no amplifiers to arrange. Put one in a rack first.")
    return task


# --- what check says of it ------------------------------------------------------------------------------


def _judged(assessment: Assessed, task: Task, found: Found) -> Arrangement:
    """A proposal carried out, and judged as `check` does."""
    moves = tuple(
        [Move(m.id, m.plugged, at) for m in task.movables if (at := found.places[m.id]) and at != m.home]
    )
    rig = assessment.index.rig
    for move in moves:
        rig = edits.unchecked(edits.change)(rig, move.amplifier, circuit=move.to)
    after = assess(rig, assessment) if moves else assessment
    fixed, added = _fixed_and_added(assessment, after)
    kept = task.worth(found.places)
    same = not kept.better(found.promised) and not found.promised.better(kept)
    beyond = [finding.severity for finding in _unforeseen(task, found.places, added)]
    kept = kept._replace(
        new_warnings=kept.new_warnings + beyond.count("warn"), new_notes=kept.new_notes + beyond.count("note")
    )
    return Arrangement(
        moves=moves,
        steps=order.steps(task, found.places),
        unplaced=tuple([name for name, at in found.places.items() if not at]),
        before=task.worth(task.homes),
        after=kept,
        assessment=after,
        fixed=tuple(fixed),
        added=tuple(added),
        proven=found.proven and same and _as_calculated(task, found.places, after),
    )


def _as_calculated(task: Task, places: Places, after: Assessed) -> bool:
    """Whether each circuit carries what the programme took it for, and `check` finds what the gauges show and no more."""
    loads, found = task.sums(places, "programme"), mains_findings(after)
    carried = all(
        math.isclose(after.circuits[name].programme_current, loads[name] + rest, rel_tol=1e-6, abs_tol=1e-6)
        for name, rest in task.fixed.items()
    )
    told = {key: f.severity for key, f in _gravest(found).items() if f.code in FAMILIES}
    levels = task.levels(places)
    explained = {
        key for key in levels if key not in told and (key[0] not in task.breakers or key[1] == "drop")
    }
    shown = {key: level for key, level in levels.items() if key not in explained}
    return carried and told == shown and {f.code for f in found} <= JUDGED


def mains_findings(assessment: Assessed) -> list[Finding]:
    """The findings on circuits, boards and supply."""
    places, codes = (
        {*assessment.circuits, *assessment.boards, SUPPLY},
        ("amplifier-without-circuit", "mains-voltage", "figures-assumed"),
    )
    return [f for f in assessment.findings if f.at in places or f.code in codes]


def _fixed_and_added(before: Assessed, after: Assessed) -> tuple[list[Finding], list[Finding]]:
    """The findings on the mains that moves fix or make less grave, and those that they add or make graver."""
    was, now = (_gravest(mains_findings(each)) for each in (before, after))
    return (
        [f for key, f in was.items() if key not in now or graver(f.severity, now[key].severity)],
        [f for key, f in now.items() if key not in was or graver(f.severity, was[key].severity)],
    )


def _gravest(found: Iterable[Finding]) -> dict[tuple[str, str], Finding]:
    """The gravest of each family at each place."""
    told: dict[tuple[str, str], Finding] = {}
    for finding in found:  # the gravest first
        told.setdefault((finding.at, FAMILIES.get(finding.code, finding.code)), finding)
    return told


def _unforeseen(task: Task, places: Places, added: Iterable[Finding]) -> list[Finding]:
    """What is added that no gauge shows; that the neutral carries more than each phase is judged by `_unasked`."""
    levels = task.levels(places)
    return [
        add
        for add in added
        if (add.at, FAMILIES.get(add.code, add.code)) not in levels and add.code != "neutral-harmonics"
    ]


def _unasked(made: Arrangement, before: Assessed, today: Levels) -> list[Finding]:
    """What is added though nothing graver is fixed.

    What was hidden today behind a cause below it, as grave, is not added by whoever fixes that. That the neutral carries more
    than each phase is no loss where phases were evened and it carries no more than before, or more amplifiers have power.
    """
    neutral = before.supply.neutral or 0.0
    more_power = made.after.unplaced < made.before.unplaced
    return [
        add
        for add in made.added
        if not any(graver(fix.severity, add.severity) for fix in made.fixed)
        and graver(add.severity, today.get((add.at, FAMILIES.get(add.code, add.code))))
        and (add.code != "neutral-harmonics" or ((add.figure or 0.0) > neutral and not more_power))
    ]
