"""Which amplifier goes on which circuit so that nothing is past its limit, with the fewest moves.

The programme proposes, the same limits and findings as in `check` judge: an arrangement that adds a finding is refused unless
it removes a graver one. Leaves out what it can't know: which amplifiers share a mains lead.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple, TypeAlias

from rackwright.engine.allocation import gauges, order
from rackwright.engine.allocation.gauges import CRITERIA, Criterion, Movable, Places, Task, Worth, graver
from rackwright.engine.allocation.order import Step
from rackwright.engine.allocation.program import SLACK, Program, Terms
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.findings.power import SUPPLY
from rackwright.engine.results import Finding, Severity
from rackwright.model import edits
from rackwright.model.rig import Rig

FAMILIES: Mapping[str, str] = {
    "circuit-overloaded": "loading",
    "circuit-near-limit": "loading",
    "circuit-heavy-overload": "loading",
    "generator-overloaded": "generator",
    "generator-near-limit": "generator",
    "feed-drop": "drop",
    "inrush-over-band": "inrush",
    "supply-voltage-low": "voltage",
    "phases-uneven": "phases",
    "circuit-empty": "empty",
}
"""Codes of findings that are about one thing, of which the gravest is told."""
JUDGED = frozenset({*FAMILIES, "circuit-failed", "amplifier-without-circuit"})
"""The findings on the mains that a Worth judges; that nothing is better is proven of these."""


NODES = 200
"""Of the search tree for one criterion, at most."""
FEW = 10
"""The same for what comes after one that is not proven to be least."""
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
    rig: Rig
    """Rearranged."""
    assessment: Assessed
    """Of that rig."""
    fixed: tuple[Finding, ...]
    """Findings on the mains that the moves fix or make less grave."""
    added: tuple[Finding, ...]
    """Those that they add, each for a graver one that is fixed."""
    proven: bool
    """Whether no arrangement is better by any finding that is left on the mains; else none better was found."""


def propose(assessment: Assessed) -> Arrangement:
    """The best arrangement on the circuits that have power, by Worth.

    No amplifier loses its power, nothing comes past a limit that is a stop, or further past it, and nothing is found that
    is not found today, unless something graver is fixed by it. Raises ArrangementError where there is nothing to arrange.
    """
    task = _task(assessment)
    today = task.worth(task.homes)
    stay = _judged(assessment, task, _Found(task.homes, today, True))
    if today[: CRITERIA.index("moves")] == (0.0,) * CRITERIA.index("moves"):
        return stay
    programme = _Programme(task, task.levels(task.homes))
    free = _judged(assessment, task, programme.solved(()))
    if not _unasked(free, assessment):
        return free if free.after.better(stay.after) else stay
    best, proven = stay, True
    for bounds in programme.branches():
        made = _judged(assessment, task, programme.solved(bounds))
        for _ in range(TRIES):
            if not (refused := _unasked(made, assessment)):
                break
            bounds, proven = (*bounds, *programme.no_more(refused)), False
            made = _judged(assessment, task, programme.solved(bounds))
        proven = proven and made.proven
        if not _unasked(made, assessment) and made.after.better(best.after):
            best = made
    return best._replace(proven=proven and best.proven)


def _task(assessment: Assessed) -> Task:
    if not assessment.circuits:
        raise ArrangementError("There are no circuits to arrange on. List those at the venue first.")
    task = gauges.task(assessment)
    if not task.breakers:
        raise ArrangementError(
            "Every circuit has failed: there is none to arrange on. Repair one, or add one, first."
        )
    if not task.movables:
        raise ArrangementError("There are no amplifiers to arrange. Put one in a rack first.")
    return task


# --- what check says of it ------------------------------------------------------------------------------


class _Found(NamedTuple):
    """What the programme found, and whether there is nothing better."""

    places: Places
    promised: Worth
    proven: bool


def _judged(assessment: Assessed, task: Task, found: _Found) -> Arrangement:
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
    return Arrangement(
        moves=moves,
        steps=order.steps(task, found.places),
        unplaced=tuple([name for name, at in found.places.items() if not at]),
        before=task.worth(task.homes),
        after=kept,
        rig=rig,
        assessment=after,
        fixed=tuple(fixed),
        added=tuple(added),
        proven=found.proven and same and _as_reckoned(task, found.places, after),
    )


def _as_reckoned(task: Task, places: Places, after: Assessed) -> bool:
    """Whether each circuit carries what the programme took it for, and `check` finds what the gauges show and no more."""
    loads, found = task.sums(places, "programme"), mains_findings(after)
    carried = all(
        math.isclose(after.circuits[name].programme_current, loads[name] + rest, rel_tol=1e-6, abs_tol=1e-6)
        for name, rest in task.fixed.items()
    )
    told = {key: f.severity for key, f in _gravest(found).items() if f.code in FAMILIES}
    return carried and told == task.levels(places) and {f.code for f in found} <= JUDGED


def mains_findings(assessment: Assessed) -> list[Finding]:
    """The findings on circuits, boards and supply."""
    places, codes = (
        {*assessment.circuits, *assessment.boards, SUPPLY},
        ("amplifier-without-circuit", "mains-voltage"),
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


def _unasked(made: Arrangement, before: Assessed) -> list[Finding]:
    """What is added though nothing graver is fixed.

    That the neutral carries more than each phase is no loss where phases were evened and it carries no more than before.
    """
    neutral = before.supply.neutral or 0.0
    return [
        add
        for add in made.added
        if not any(graver(fix.severity, add.severity) for fix in made.fixed)
        and (add.code != "neutral-harmonics" or (add.figure or 0.0) > neutral)
    ]


# --- the programme --------------------------------------------------------------------------------------

_Bound: TypeAlias = tuple[Terms, float]
NEW: tuple[tuple[Severity, Criterion], ...] = (("warn", "new_warnings"), ("note", "new_notes"))


class _Group(NamedTuple):
    """Amplifiers that are alike in all that counts."""

    names: tuple[str, ...]
    one: Movable
    on: Mapping[str, int]
    """Circuit → the column of how many hang there."""
    without: int | None
    """The column of how many have no power, where they have none today."""


class _Programme:
    """How many of each kind of amplifier go on each circuit."""

    def __init__(self, task: Task, today: Mapping[tuple[str, str], Severity]) -> None:
        self.task, self.today, self.program = task, today, Program()
        self.new: dict[tuple[str, str, Severity], int] = {}
        self.counts: dict[int, int] = {}
        self.groups = [self._group(names) for names in _alike(task.movables)]
        self.terms: dict[Criterion, list[tuple[int, float]]] = defaultdict(list)
        self._keep_limits()
        self._keep_even()
        self._count()

    def _group(self, alike: Sequence[Movable]) -> _Group:
        one, count, program = alike[0], len(alike), self.program
        on = {name: program.column(0, count) for name in one.draws}
        self.counts |= dict.fromkeys(on.values(), count)
        without = None if one.home else program.column(0, count)
        program.row([*((column, 1.0) for column in on.values()), *([(without, 1.0)] if without is not None else ())],
                    count, count)  # fmt: skip
        return _Group(tuple([each.id for each in alike]), one, on, without)

    def _carried(self, circuits: Mapping[str, float], figure: gauges.Figure) -> list[tuple[int, float]]:
        """A of the amplifiers on those circuits, each with its factor."""
        return [
            (group.on[name], factor * group.one.draws[name].of(figure))
            for group in self.groups
            for name, factor in circuits.items()
            if name in group.on
        ]

    def _keep_limits(self) -> None:
        """Excesses of each gauge, what is new, and nothing past a stop, or further past it than today."""
        excess: dict[tuple[str, Criterion], int] = {}
        values = self.task.values(self.task.homes)
        full: dict[tuple[str, str], float] = {}
        for gauge, now in zip(self.task.gauges, values, strict=True):
            if gauge.severity == "stop":
                key = gauge.place, gauge.family
                full[key] = max(1.0, now / gauge.limit, full.get(key, 0.0))
        for gauge in self.task.gauges:
            carried = self._carried(gauge.circuits, gauge.figure)
            if gauge.severity == "stop":
                most = full[gauge.place, gauge.family] * gauge.limit
                self.program.row(carried, high=most * (1 + 1e-9) - gauge.rest)
            elif new := self._new(gauge.place, gauge.family, gauge.severity):
                most = max(0.0, self._most(carried) + gauge.rest - gauge.limit)
                self.program.row(
                    [*carried, *((column, -most) for column in new)], high=gauge.limit - gauge.rest
                )
            if gauge.criterion:
                key = gauge.place, gauge.criterion
                if key not in excess:
                    excess[key] = self.program.column(0, math.inf, whole=False)
                    self.terms[gauge.criterion].append((excess[key], 1.0))
                self.program.row([*carried, (excess[key], -gauge.scale)], high=gauge.limit - gauge.rest)

    def _new(self, place: str, family: str, severity: Severity) -> list[int]:
        """The columns of being as grave as that or graver, where it is less grave today; counted by the graver."""
        level = self.today.get((place, family))
        if level and not graver(severity, level):
            return []
        columns = []
        for each, criterion in NEW:
            if graver(severity, each):
                continue
            key = place, family, each
            if key not in self.new:
                self.new[key] = self.program.column()
                self.terms[criterion].append((self.new[key], 1.0))
            columns.append(self.new[key])
        return columns

    def _most(self, carried: Terms) -> float:
        """What terms may come to."""
        return sum([factor * self.counts[column] for column, factor in carried])

    def _keep_even(self) -> None:
        """How far the fullest or the emptiest phase is from the mean, as if all had power."""
        if not self.task.phases:
            return
        program, count = self.program, len(self.task.phases)
        whole = sum(self.task.fixed.values()) + sum(
            [
                max(draw.programme for draw in movable.draws.values())
                for movable in self.task.movables
                if movable.draws
            ]
        )
        mean = whole / count
        if mean <= 0:
            return
        deviation, past = (program.column(0, math.inf, whole=False) for _ in range(2))
        everywhere = [
            (column, f / count)
            for column, f in self._carried(dict.fromkeys(self.task.breakers, 1.0), "programme")
        ]
        fixed = {phase: sum([self.task.fixed[c] for c in circuits]) for phase, circuits in self.task.phases}
        middle = sum(fixed.values()) / count
        for phase, circuits in self.task.phases:
            own = self._carried(dict.fromkeys(circuits, 1.0), "programme")
            off = [*own, *((column, -f) for column, f in everywhere)]
            program.row([*off, (deviation, -1.0)], high=middle - fixed[phase])
            program.row([*off, (deviation, 1.0)], low=middle - fixed[phase])
        program.row([(deviation, 1.0), (past, -mean)], high=self.task.accepted(mean))
        if new := self._new("supply", "phases", self.task.uneven):
            program.row([(past, 1.0), *((column, -float(count)) for column in new)], high=0.0)
        self.terms["imbalance"].append((deviation, 1 / mean))
        self.terms["uneven"].append((past, 1.0))

    def _count(self) -> None:
        program, task = self.program, self.task
        worst = program.column(0, math.inf, whole=False)
        for name, breaker in task.breakers.items():
            carried = self._carried({name: 1.0}, "programme")
            program.row([*carried, (worst, -breaker)], high=-task.fixed[name])
            there = [group.on[name] for group in self.groups if name in group.on]
            if not task.fixed[name] and (new := self._new(name, "empty", "note")):
                program.row([(column, 1.0) for column in (*new, *there)], low=1.0)
        self.terms["worst"].append((worst, 1.0))
        for group in self.groups:
            if group.without is not None:
                self.terms["unplaced"].append((group.without, 1.0))
            self.terms["moves"] += [(c, 1.0) for name, c in group.on.items() if name != group.one.home]

    def branches(self) -> Iterator[tuple[_Bound, ...]]:
        """Bounds of which an arrangement keeps one set: nothing new is found, or something graver than that is fixed."""
        warnings, notes = ((self.terms[each], 0.0) for each in ("new_warnings", "new_notes"))
        yield warnings, notes
        yield warnings, self._something_fixed("warn")
        yield (self._something_fixed("stop"),)

    def no_more(self, found: Iterable[Finding]) -> Iterator[_Bound]:
        """Bounds by which circuits carry no more driven hard than today, where something is found that no gauge shows."""
        today = self.task.sums(self.task.homes, "heavy")
        for name in {finding.at for finding in found if finding.at in today}:
            yield self._carried({name: 1.0}, "heavy"), today[name]

    def _something_fixed(self, least: Severity) -> _Bound:
        """One or more of what is as grave as that today is less grave afterwards."""
        one_of = []
        for place, family in (key for key, level in self.today.items() if not graver(least, level)):
            fixed = self.program.column()
            one_of.append((fixed, -1.0))
            level = self.today[place, family]
            for gauge in self.task.gauges:
                if (gauge.place, gauge.family) != (place, family) or graver(level, gauge.severity):
                    continue
                carried = self._carried(gauge.circuits, gauge.figure)
                most = self._most(carried)
                self.program.row([*carried, (fixed, most + gauge.rest - gauge.limit)], high=most)
        waiting = [group for group in self.groups if group.without is not None]
        for home in {group.one.plugged for group in waiting}:
            if not home and least == "stop":
                continue  # on no circuit it is a warning
            fixed = self.program.column()
            one_of.append((fixed, -1.0))
            there = [group for group in waiting if group.one.plugged == home]
            count = float(sum([len(group.names) for group in there]))
            all_of_them = count if home else 1.0
            without = [(group.without or 0, 1.0) for group in there]
            self.program.row([*without, (fixed, all_of_them)], high=count)
        return one_of, -1.0

    def solved(self, bounds: tuple[_Bound, ...]) -> "_Found":
        """The best for one criterion after the other; what is there today where the bounds leave nothing."""
        held, now, proven = list(bounds), None, True
        promised: dict[Criterion, float] = dict.fromkeys(CRITERIA, 0.0)
        for criterion in CRITERIA:
            terms = self.terms[criterion]
            if not terms and now is not None:
                continue
            if now is None or self.program.value(terms, now) > SLACK:
                solved = self.program.minimised(terms, held, now, NODES if proven else FEW)
                if solved is None:
                    proven = False
                    break
                now, proven = solved.columns, proven and solved.proven
            promised[criterion] = self.program.value(terms, now)
            held.append((terms, promised[criterion] + SLACK))
        if now is None:
            return _Found(self.task.homes, self.task.worth(self.task.homes), proven)
        return _Found(self._places(now), Worth(**promised), proven)

    def _places(self, columns: Sequence[float]) -> dict[str, str]:
        places: dict[str, str] = {}
        for group in self.groups:
            counts = {name: round(columns[column]) for name, column in group.on.items()}
            stay = counts.pop(group.one.home, 0)
            others = [name for name, count in counts.items() for _ in range(count)]
            ends = [group.one.home] * stay + others
            places |= dict(zip(group.names, [*ends, *[""] * (len(group.names) - len(ends))], strict=True))
        return places


def _alike(movables: Iterable[Movable]) -> Iterator[list[Movable]]:
    groups: dict[object, list[Movable]] = defaultdict(list)
    for each in movables:
        groups[each.home, each.plugged, tuple(each.draws.items())].append(each)
    yield from groups.values()
