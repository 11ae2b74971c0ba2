"""What can be done for a failure as a mixed-integer programme: which bundle at which socket, each pole pair on which channel.

A column of 0 or 1 stands for something that is so in the end; where the crew has to make it so, it carries the move. Channels
have a setting (amplifier model and mode), a feed and a trim; amplifiers a circuit. What the programme claims of a plan is
what the assessment will find: loads and gains are taken from there. Holds no judgement: a plan is what `planner` lets pass.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from rackwright.engine.allocation.program import SLACK, Solved, Terms
from rackwright.engine.recovery import criteria, loads
from rackwright.engine.recovery.choices.channels import Channels
from rackwright.engine.recovery.choices.columns import Columns
from rackwright.engine.recovery.choices.costs import Costs
from rackwright.engine.recovery.choices.level import HALF, Level
from rackwright.engine.recovery.choices.mains import Mains
from rackwright.engine.recovery.choices.patching import Patching
from rackwright.engine.recovery.choices.worth import Worth, needy
from rackwright.engine.recovery.loads import Bundle
from rackwright.engine.recovery.rewiring import in_order
from rackwright.engine.recovery.task import Task
from rackwright.model.index import pole_or_none
from rackwright.model.rig import Amplifier, Rewiring
from rackwright.units import Trim


class Promise(NamedTuple):
    """What the programme claims: the moves, and their criteria as far as it knows them."""

    moves: tuple[Rewiring, ...]
    figures: tuple[float, ...]
    """Silence, balance, change, loss, seconds."""
    proven: bool


class Choices:
    """The programme of one task."""

    def __init__(self, task: Task, wide: bool = True) -> None:
        """Where not `wide`, what plays stays as it is: nothing of it is moved or given up to make room."""
        self.task, self.index = task, task.index
        self.columns = Columns(task, wide)
        self.program = self.columns.program
        racks = loads.scope(task)
        bundles = loads.bundles(task, racks)
        missing = needy(task)
        wanted = dict.fromkeys(feed for b in bundles for feed in _feeds_of(task, b, missing))
        channels = Channels(self.columns, _concerned(task, racks, bundles), list(wanted))
        patching = Patching(Worth(channels, bundles, missing))
        self.split = patching.split
        self.level = Level(patching)
        Mains(patching).hold()
        self.costs = Costs(patching)
        self._all_full: list[tuple[Terms, float]] | None = None

    def best(
        self, held: Sequence[tuple[Terms, float]] = (), first: str = "silence", full: bool = True
    ) -> Promise | None:
        """The first plan in order, or by seconds first, under some rows more; None where there is none.

        Where it is known that no plan is `full`, time is saved.
        """
        rows = list(held)
        if (
            full
            and first == "silence"
            and (solved := self.program.minimised(self.costs.seconds, [*rows, *self._full()]))
        ):
            figures = {"silence": 0.0, "balance": 0.0, "change": 0.0, "loss": 0.0}
            rows += self._full()
            return self._finished(solved, rows, figures, solved.proven)
        order = ["silence", "balance", "change", "loss"]
        proven, figures = True, {}
        solved = None
        if first != "silence":
            if (solved := self.program.minimised(self.costs.seconds, rows)) is None:
                return None
            figures["seconds"] = criteria.rounded(solved.value, criteria.SECONDS)
            rows.append((self.costs.seconds, figures["seconds"] + criteria.SECONDS / 2 - 1e-5))
        for name in order:
            if name in ("change", "loss"):
                assert solved is not None
                told = self._stepped(name, solved, rows)
                solved, figures[name], proven = told[0], told[1], proven and told[2]
                continue
            terms = self.costs.silence if name == "silence" else self.level.tilt
            if not terms:
                figures[name] = 0.0
                continue
            now = self.program.minimised(terms, rows)
            if now is None:
                return None
            solved, proven = now, proven and now.proven
            figures[name] = (
                round(now.value, 6) if name == "silence" else criteria.rounded(now.value, criteria.BALANCE)
            )
            most = now.value + SLACK if name == "silence" else figures[name] + criteria.BALANCE / 2 - 1e-5
            rows.append((terms, most))
        assert solved is not None
        now = self.program.minimised(self.costs.seconds, rows)
        return self._finished(now or solved, rows, figures, proven and now is not None and now.proven)

    def _full(self) -> list[tuple[Terms, float]]:
        """Rows of a plan by which nothing is lost."""
        if self._all_full is None:
            tilt = [(self.level.tilt, criteria.BALANCE / 2 - 1e-5)] if self.level.tilt else []
            self._all_full = [
                (self.costs.silence, SLACK),
                *tilt,
                *self.level.quieter_rows(0),
                *self.level.loss_rows(0),
            ]
        return self._all_full

    def _finished(
        self, solved: Solved, rows: list[tuple[Terms, float]], figures: dict[str, float], proven: bool
    ) -> Promise:
        """Of the quickest the one that is least heard, and the first of the rig."""
        figures["seconds"] = criteria.rounded(
            self.program.value(self.costs.seconds, solved.columns), criteria.SECONDS
        )
        rows.append((self.costs.seconds, figures["seconds"] + criteria.SECONDS / 2 - 1e-5))
        last = self.program.minimised([*self.costs.hush, *self.costs.rest()], rows)
        told = tuple([figures[name] for name in ("silence", "balance", "change", "loss", "seconds")])
        return Promise(self._moves(last or solved), told, proven and last is not None and last.proven)

    def _stepped(
        self, name: str, solved: Solved, rows: list[tuple[Terms, float]]
    ) -> tuple[Solved, float, bool]:
        """The least change, or loss, to its step; its rows are held from then on."""
        make, of = (
            (self.level.quieter_rows, self.level.change_of)
            if name == "change"
            else (self.level.loss_rows, self.level.loss_of)
        )
        reached = round(criteria.rounded(of(solved), criteria.LEVEL) / criteria.LEVEL)
        for step in range(reached):
            more = make(step)
            if now := self.program.minimised(self.costs.silence, [*rows, *more]):
                rows += more
                return now, step * criteria.LEVEL, now.proven
        rows += make(reached)
        return solved, reached * criteria.LEVEL, True

    def _moves(self, solved: Solved) -> tuple[Rewiring, ...]:
        found = []
        for column, moves in self.columns.moves.items():
            if not solved.on(column):
                continue
            for move in moves:
                if move.kind == "trim":
                    steps = solved.columns[self.level.trims[move.at]]
                    if not steps:
                        continue
                    was = self.level.trim(move.at).value
                    move = replace(move, new=str(Trim.parse(f"{was + HALF * steps:g} dB")))
                found.append(move)
        return in_order(found)

    def without(self, moves: Sequence[Rewiring], about: Collection[str] = ()) -> None:
        """Never those moves again, whatever their trims; where channels are named, whatever is done besides to others than these."""
        done = {_key(move) for move in moves}
        made: dict[tuple[tuple[str, ...], ...], list[int]] = defaultdict(list)
        terms: list[tuple[int, float]] = []
        for column, each in self.columns.moves.items():
            if each[0].kind == "trim":
                continue
            if about and criteria.channels(self.index, each, each[0].at).isdisjoint(about):
                continue
            keys = tuple([_key(move) for move in each])
            if done.issuperset(keys):
                made[keys].append(
                    column
                )  # a move stands in the columns of several variants: one of them is taken
            else:
                terms.append((column, 1.0))
        terms += [(column, -1.0) for columns in made.values() for column in columns]
        self.program.row(terms, low=1 - len(made))


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


def _key(move: Rewiring) -> tuple[str, str, str, str]:
    """Equal for moves that do the same."""
    return move.kind, move.at, move.new, move.by
