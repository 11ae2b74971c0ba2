"""What can be done for a failure as a mixed-integer programme: which bundle at which socket, each pole pair on which channel.

A column of 0 or 1 stands for something that is so in the end; where the crew has to make it so, it carries the move. Channels
have a setting (amplifier model and mode), a feed and a trim; amplifiers a circuit. What the programme claims of a plan is
what the assessment will find: loads and gains are taken from there. Holds no judgement: a plan is what `planner` lets pass.
"""

import functools
import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from rackwright.engine.allocation.program import EXACT, SLACK, Solved, Terms
from rackwright.engine.recovery import criteria, loads
from rackwright.engine.recovery.choices.channels import Channels
from rackwright.engine.recovery.choices.columns import Columns
from rackwright.engine.recovery.choices.costs import Costs
from rackwright.engine.recovery.choices.level import Level
from rackwright.engine.recovery.choices.mains import Mains
from rackwright.engine.recovery.choices.patching import Patching
from rackwright.engine.recovery.choices.worth import Worth, needy
from rackwright.engine.recovery.criteria import Criteria
from rackwright.engine.recovery.loads import Bundle
from rackwright.engine.recovery.rewiring import in_order
from rackwright.engine.recovery.task import TRIM, Task
from rackwright.model.index import pole_or_none
from rackwright.model.night import Rewiring
from rackwright.model.racks import Amplifier

_ORDER = ("silence", "balance", "change", "loss")


class Promise(NamedTuple):
    """What the programme claims: the moves, and their criteria as far as it knows them."""

    done: tuple[tuple[Rewiring, ...], ...]
    """The moves, those together that the programme decides on together."""
    figures: tuple[float, ...]
    """Silence, balance, change, loss, seconds."""
    proven: bool
    rows: Sequence[tuple[Terms, float]]
    """Those that hold all of it but the seconds."""

    @property
    def moves(self) -> tuple[Rewiring, ...]:
        """In the order in which they can be made."""
        return in_order([move for moves in self.done for move in moves])


class Choices:
    """The programme of one task."""

    def __init__(self, task: Task, wide: bool = True) -> None:
        """Where not `wide`, what plays stays as it is: nothing of it is moved or given up to make room."""
        self.task, self.index = task, task.index
        self.columns = Columns(task, wide)
        self.program = self.columns.program
        racks = loads.scope(task)
        missing = needy(task)
        bundles = loads.bundles(task, racks, () if wide else task.weights.keys() - missing)
        wanted = dict.fromkeys(feed for b in bundles for feed in _feeds_of(task, b, missing))
        channels = Channels(self.columns, _concerned(task, racks, bundles), list(wanted))
        patching = Patching(Worth(channels, bundles, missing))
        self.split = patching.split
        self._patching, self.level = patching, Level(patching)
        Mains(patching).hold()
        plays = any(patching.by_section[name] for name in missing)
        self.futile = not (wide or plays or self.level.trims)
        """Whether nothing that is missing may play again, nor any level be changed."""
        self._last: Solved | None = None
        self._all_but: dict[int, list[tuple[Terms, float]]] = {}

    @functools.cached_property
    def costs(self) -> Costs:
        """What a plan is minimised by."""
        return Costs(self._patching)

    def best(
        self,
        held: Sequence[tuple[Terms, float]] = (),
        first: str = "silence",
        full: bool = True,
        known: Criteria | None = None,
    ) -> Promise | None:
        """The first plan in order, or by seconds first, under some rows more; None where there is none, or none before one that is `known`.

        Where it is known that no plan is `full`, time is saved.
        """
        rows, figures, proven = list(held), dict[str, float](), True
        quick = self.within(known) if known else []
        tried = -1
        for tried in (0, 1) if full and first == "silence" else ():
            figures = {**dict.fromkeys(_ORDER, 0.0), "loss": tried * criteria.LEVEL}
            there = known and known[:4] == tuple(figures.values())
            if self.level.may_lose(tried):
                whole = [*rows, *self._nothing_but(tried)]
                if solved := self._minimised(self.costs.seconds, [*whole, *(quick if there else ())]):
                    return self._finished(solved, whole, figures, solved.proven)
            if there:
                return None
        figures = {}
        solved = None
        if first != "silence":
            slowest = [(self.costs.seconds, self._seconds_in(known.seconds))] if known else []
            if (solved := self._minimised(self.costs.seconds, [*rows, *slowest])) is None:
                return None
            rows.append((self.costs.seconds, self._band(solved)))
            known = known if slowest and slowest[0][1] <= rows[-1][1] + SLACK else None
        for name in _ORDER:
            most = (
                getattr(known, name) if known else math.inf
            )  # infinite too once something is before what is known
            if name in ("change", "loss"):
                lost = any(figures.values())  # else it is known that there is none of the steps tried
                told = self._stepped(name, solved, rows, most, 0 if name == "change" or lost else tried + 1)
                now, figures[name] = told
            else:
                now = self._least(name, solved, rows, most)
                if now is None and math.isinf(most):
                    return None
                figures[name] = self._figure(name, now) if now else most
                terms, step = (
                    (self.costs.silence, 0.0) if name == "silence" else (self.level.tilt, criteria.BALANCE)
                )
                rows.append((terms, figures[name] + (step / 2 - 1e-5 if step else SLACK)))
            solved = now or solved
            proven = proven and (now is None or now.proven)
            if figures[name] < most - SLACK:
                known = None
        if first == "silence" or known:
            limit = self.within(known, quieter=first != "silence") if known else []
            now = self._minimised(self.costs.seconds, [*rows, *limit])
            if now is None and (known or solved is None):
                return None
            solved, proven = now or solved, proven and now is not None and now.proven
        assert solved is not None
        return self._finished(solved, rows, figures, proven)

    def _minimised(self, terms: Terms, rows: Sequence[tuple[Terms, float]]) -> Solved | None:
        """The least sum under some rows more; what takes longer than a row on the seconds allows is left out."""
        seconds = [most for held, most in rows if held is self.costs.seconds]
        never = self.costs.slower(min(seconds)) if seconds else ()
        apart = 0.99 * self.costs.grain if terms is self.costs.seconds else EXACT
        found = self.program.minimised(terms, rows, self._start(rows, never), never=never, apart=apart)
        self._last = found or self._last
        return found

    def _start(self, rows: Sequence[tuple[Terms, float]], never: Collection[int]) -> list[float] | None:
        """What was found last, where it keeps those rows too: then nothing worse need be looked at."""
        if self._last is None or any(self._last.on(column) for column in never):
            return None
        columns = list(self._last.columns)
        for column, _ in self.level.tilt:  # that is free to be more
            columns[column] = self.level.tilt_of(self._last)
        kept = all(self.program.value(terms, columns) <= most + SLACK for terms, most in rows)
        return columns if kept else None

    def _figure(self, name: str, solved: Solved) -> float:
        if name == "silence":
            return round(self.program.value(self.costs.silence, solved.columns), 6)
        return criteria.rounded(self.level.tilt_of(solved), criteria.BALANCE)

    def _least(
        self, name: str, solved: Solved | None, rows: Sequence[tuple[Terms, float]], most: float
    ) -> Solved | None:
        """A solution of the least silence, or balance: what is there already where that is 0; None where that is what is known, or none is."""
        terms = self.costs.silence if name == "silence" else self.level.tilt
        there = self._figure(name, solved) if solved is not None else math.inf
        figure = min(there, most)
        if not figure:
            return solved if most else None
        less = self.costs.less_silent(figure) if name == "silence" else figure - criteria.BALANCE / 2 - 1e-5
        limit = [] if math.isinf(figure) else [(terms, less)]
        better = self._minimised(terms, [*rows, *limit])
        return better or (solved if there < most else None)

    def within(self, known: Criteria, quieter: bool = False) -> list[tuple[Terms, float]]:
        """The rows of a plan that is quicker than one; or as quick, and less is silent for it."""
        slower = 0.5 if quieter else -0.5
        seconds = known.seconds - self.costs.always + slower * criteria.SECONDS - 1e-5
        seconds = math.floor(seconds / self.costs.grain) * self.costs.grain + SLACK
        return [(self.costs.seconds, seconds), *([(self.costs.hush, known.hush - 1e-3)] if quieter else [])]

    def next(
        self, promise: Promise, known: Criteria, but: Sequence[tuple[Terms, float]], quieter: bool
    ) -> Promise | None:
        """As good in all but the seconds, a plan that may take fewer than what is known, or as many and less silent, but for those."""
        least = self.costs.hush if quieter else self.costs.seconds
        solved = self._minimised(least, [*promise.rows, *but, *self.within(known, quieter)])
        return solved and promise._replace(done=self._done(solved), proven=solved.proven)

    def _nothing_but(self, loss: int) -> list[tuple[Terms, float]]:
        """Rows of a plan by which nothing is lost but so many steps of maximum level."""
        if loss not in self._all_but:
            tilt = [(self.level.tilt, criteria.BALANCE / 2 - 1e-5)] if self.level.tilt else []
            self._all_but[loss] = [
                (self.costs.silence, SLACK),
                *tilt,
                *self.level.quieter_rows(0),
                *self.level.loss_rows(loss),
            ]
        return self._all_but[loss]

    def _finished(
        self, solved: Solved, rows: list[tuple[Terms, float]], figures: dict[str, float], proven: bool
    ) -> Promise:
        """Of the quickest the one that is least heard, and the first of the rig."""
        band = self._band(solved)
        quiet = [*self.costs.hush, *self.costs.rest()]
        # The solver keeps to a start where what is better is so by the rig's order alone, and calls it the best: it gets a row.
        self._last = None
        there = self.program.value(quiet, solved.columns) + SLACK
        last = self._minimised(quiet, [*rows, (self.costs.seconds, band), (quiet, there)])
        done = self._done(last or solved)
        seconds = criteria.rounded(band + self.costs.always - criteria.SECONDS / 2, criteria.SECONDS)
        told = (*[figures[name] for name in _ORDER], seconds)
        return Promise(done, told, proven and last is not None and last.proven, rows)

    def _band(self, solved: Solved) -> float:
        """s, the most that is told as no more than a solution takes."""
        told = self.costs.always + self.program.value(self.costs.seconds, solved.columns)
        return self._seconds_in(criteria.rounded(told, criteria.SECONDS))

    def _seconds_in(self, told: float) -> float:
        """The most of its sum of what is told as so many s."""
        return told - self.costs.always + criteria.SECONDS / 2 - 1e-5

    def _stepped(
        self, name: str, solved: Solved | None, rows: list[tuple[Terms, float]], most: float, first: int
    ) -> tuple[Solved | None, float]:
        """The least change, or loss, to its step, from a first step on; its rows are held from then on. No solution where none is
        less than is known, or than that of a solution."""
        change = name == "change"
        make = self.level.quieter_rows if change else self.level.loss_rows
        if math.isinf(most):
            assert solved is not None
            most = self.level.change_of(solved) if change else self.level.loss_of(solved)
        reached, now = round(criteria.rounded(most, criteria.LEVEL) / criteria.LEVEL), None
        step = first  # mostly there is one of the first step, else mostly none of less than is there
        while step < reached:
            if better := self._minimised((), [*rows, *make(step)]):
                now = better
                told = self.level.change_of(now) if change else self.level.loss_of(now)
                reached = min(step, round(criteria.rounded(told, criteria.LEVEL) / criteria.LEVEL))
            elif step > first or step + 1 == reached:
                break
            step = max(first + 1, reached - 1)
        rows += make(reached)
        return now, reached * criteria.LEVEL

    def _done(self, solved: Solved) -> tuple[tuple[Rewiring, ...], ...]:
        found = []
        for column, moves in self.columns.moves.items():
            if not solved.on(column):
                continue
            if moves[0].kind == "trim":
                steps = solved.columns[self.level.trims[moves[0].at]]
                if not steps:
                    continue
                was = self.level.trim(moves[0].at).value
                moves = (replace(moves[0], new=f"{was + TRIM * steps:g} dB"),)
            found.append(moves)
        return tuple(found)

    def without(self, done: Sequence[Sequence[Rewiring]], about: Collection[str] = ()) -> None:
        """Never those moves again, whatever their trims; where channels are named, whatever is done besides to others than these."""
        terms, most = self.other_than(done, about)
        self.program.row(terms, high=most)
        self._last = None

    def not_all(self, done: Sequence[Sequence[Rewiring]]) -> tuple[Terms, float]:
        """The row of any plan that leaves one of those moves out: with more moves than these it is no quicker."""
        terms, most = self.other_than(done)
        return [(column, factor) for column, factor in terms if factor > 0], most

    def other_than(
        self, done: Sequence[Sequence[Rewiring]], about: Collection[str] = ()
    ) -> tuple[Terms, float]:
        """The row of any other plan than those moves, whatever their trims."""
        keys = {_key(moves) for moves in done}
        made: dict[tuple[tuple[str, ...], ...], list[int]] = defaultdict(list)
        terms: list[tuple[int, float]] = []
        for column, each in self.columns.moves.items():
            if each[0].kind == "trim":
                continue
            if about and criteria.channels(self.index, each, each[0].at).isdisjoint(about):
                continue
            if (
                key := _key(each)
            ) in keys:  # moves stand in the columns of several variants: one of them is taken
                made[key].append(column)
            else:
                terms.append((column, -1.0))
        terms += [(column, 1.0) for columns in made.values() for column in columns]
        return terms, len(made) - 1.0


def _concerned(task: Task, racks: Sequence[str], bundles: Sequence[Bundle]) -> list[Amplifier]:
    """The amplifiers of the racks, and those elsewhere that something of them is patched to."""
    index = task.index
    names = {a.id for rack in racks for a in index.racks[rack].amplifiers}
    for bundle in bundles:
        poles = map(pole_or_none, index.sockets[bundle.socket].poles)
        names |= {pole.amplifier for pole in poles if pole and pole.amplifier in index.amplifiers}
    return [a for a in index.amplifiers.values() if a.id in names]


def _feeds_of(task: Task, bundle: Bundle, missing: set[str]) -> Iterator[str]:
    """The feeds that what is missing in a bundle may play."""
    for load in bundle.loads:
        for name in load.sections:
            if name in task.feeds and name in missing:
                yield from (feed for feed in task.index.feeds if task.may_play(name, feed))


def _key(moves: Sequence[Rewiring]) -> tuple[tuple[str, ...], ...]:
    """Equal for moves that do the same."""
    return tuple([(move.kind, move.at, move.new, move.by) for move in moves])
