"""The programme of an arrangement: how many amplifiers of each kind go on each circuit, the best for one criterion after the other.

Keeps what is a stop, counts what would be new; whether `check` agrees is seen by `arrangement`.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple, TypeAlias

from rackwright.engine.allocation import gauges
from rackwright.engine.allocation.gauges import CRITERIA, Criterion, Levels, Movable, Places, Task, Worth
from rackwright.engine.allocation.program import SLACK, Program, Terms
from rackwright.engine.demand import SUPPLY
from rackwright.engine.finding import Finding, Severity, graver

NODES = 200
"""Of the search tree for one criterion, at most."""
FEW = 10
"""The same for what comes after one that is not proven to be least."""


class Found(NamedTuple):
    """What the programme found, and whether there is nothing better."""

    places: Places
    promised: Worth
    proven: bool


Bound: TypeAlias = tuple[Terms, float]
NEW: tuple[tuple[Severity, Criterion], ...] = (("warn", "new_warnings"), ("note", "new_notes"))


class _Group(NamedTuple):
    """Amplifiers that are alike in all that counts."""

    names: tuple[str, ...]
    one: Movable
    on: Mapping[str, int]
    """Circuit → the column of how many hang there."""
    without: int | None
    """The column of how many have no power, where they have none today."""


class Programme:
    """How many of each kind of amplifier go on each circuit."""

    def __init__(self, task: Task, today: Levels) -> None:
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
        if new := self._new(SUPPLY, "phases", self.task.uneven):
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

    def branches(self) -> Iterator[tuple[Bound, ...]]:
        """Bounds of which an arrangement keeps one set: nothing new is found, or something graver than that is fixed."""
        warnings, notes = ((self.terms[each], 0.0) for each in ("new_warnings", "new_notes"))
        yield warnings, notes
        yield warnings, self._something_fixed("warn")
        yield (self._something_fixed("stop"),)

    def no_more(self, found: Iterable[Finding], places: Places, halved: bool) -> Iterator[Bound]:
        """Bounds against what no gauge shows: each leaves out what loads that point the same, see `_otherwise`.

        `halved` they leave out more, to be through soon: what the circuits there carry driven hard gains half as much.
        """
        today, now = (self.task.sums(each, "heavy") for each in (self.task.homes, places))
        for at in dict.fromkeys(finding.at for finding in found):
            below = {c: 1.0 for c, (board, _) in self.task.sites.items() if at in (c, board, SUPPLY)}
            was, then = (sum([sums[c] for c in below]) for sums in (today, now))
            if halved and then > was:
                yield self._carried(below, "heavy"), (was + then) / 2
            else:
                yield self._otherwise(at, places)

    def _otherwise(self, at: str, places: Places) -> Bound:
        """Some amplifier hangs on other phases than there, at a board's on another board too: else its neutral is the same."""
        elsewhere = []
        for group in self.groups:
            sites: dict[object, list[int]] = defaultdict(list)
            for name, column in group.on.items():
                sites[self._site(at, name)].append(column)
            if group.without is not None:
                sites[None].append(group.without)
            count, there = len(group.names), Counter(self._site(at, places[name]) for name in group.names)
            for site, held in there.items():
                fewer = self.program.column()
                elsewhere.append((fewer, -1.0))
                columns = [(column, 1.0) for column in sites[site]]
                self.program.row([*columns, (fewer, float(count - held + 1))], high=float(count))
        return elsewhere, -1.0

    def _site(self, at: str, circuit: str) -> object:
        """What of a circuit's place tells how it loads a point: its phases, below a board its board, and the point itself."""
        if not circuit:
            return None
        board, phase = self.task.sites[circuit]
        return phase if at == SUPPLY else (phase, circuit == at) if at in self.task.sites else (phase, board)

    def _something_fixed(self, least: Severity) -> Bound:
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
        for home in dict.fromkeys(group.one.plugged for group in waiting):
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

    def solved(self, bounds: tuple[Bound, ...]) -> Found:
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
            return Found(self.task.homes, self.task.worth(self.task.homes), proven)
        return Found(self._places(now), Worth(**promised), proven)

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
