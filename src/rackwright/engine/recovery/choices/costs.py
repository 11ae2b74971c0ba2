"""What is minimised besides level: silence, seconds, what is muted meanwhile, spares and ways. Costs are never above the true ones."""

import functools
import math
from collections import Counter, defaultdict
from collections.abc import Collection

from rackwright.engine.allocation.program import EXACT, SLACK, Terms
from rackwright.engine.recovery import criteria
from rackwright.engine.recovery.choices.handling import Handling
from rackwright.engine.recovery.choices.patching import Patching

MOST_TOLD = 20_000
"""Sums of weights that are looked at."""


class Costs:
    """The sums that a programme is minimised by."""

    def __init__(self, patching: Patching) -> None:
        self.patching, self.columns = patching, patching.columns
        self.task, self.index, self.program = patching.task, patching.index, patching.program
        self._gone_to: dict[str, int] = {}
        self.always = 0.0
        """s that every list with a move takes besides."""
        self.silence = self._silence()
        self.seconds = self._seconds()
        self.grain = next(
            (g for g in (1.0, 0.5, 0.25) if all((f / g).is_integer() for _, f in self.seconds)), EXACT
        )
        """s, less than which no two lists are apart."""
        self._alone = self._each_alone()
        self.muting = {
            column: weight
            for column, moves in self.columns.moves.items()
            if (
                weight := sum(
                    [
                        self.task.heard.get(name, 0.0)
                        for move in moves
                        for name in criteria.muted(self.task.index, move)
                    ]
                )
            )
        }
        """Column → the weight of what plays and is muted for its moves."""
        self.hush: Terms = [
            (column, cost)
            for column, moves in self.columns.moves.items()
            if (cost := sum([criteria.hush(self.task, move) for move in moves]))
        ]

    def _silence(self) -> Terms:
        terms: list[tuple[int, float]] = []
        for name, weight in self.task.weights.items():
            if name in self.patching.inside and name not in self.task.left:
                terms.append((self.columns.one, weight))
                terms += [(use.sounds, -weight) for use in self.patching.by_section[name]]
            elif self.task.broken.sections[name].channel is None:
                terms.append((self.columns.one, weight))
        for name in filter(self.patching.inside.__contains__, self.task.weights):
            if len(uses := self.patching.by_section[name]) > 1:
                self.program.row([(use.sounds, 1.0) for use in uses], high=1)
        silent = self.program.column(0, sum(self.task.weights.values()), whole=False)
        self.program.row([(silent, -1.0), *terms], 0, 0)
        return [(silent, 1.0)]

    def less_silent(self, silence: float) -> float:
        """The most silence that is less: with whole sections silent there are steps, and a row at one is soon seen to be empty."""
        below = [each for each in self._silences if each < silence - 1e-5]
        return max(below) + SLACK if below else silence - 1e-5

    @functools.cached_property
    def _silences(self) -> Collection[float]:
        """What the silent sections can weigh together; nothing where that is too much to tell."""
        silent = {n for n in self.task.weights if self.task.broken.sections[n].channel is None}
        open_ = self.patching.inside - self.task.left
        always = sum([self.task.weights[name] for name in silent - open_])
        found = {round(always, 6)}
        weights = Counter([weight for name, weight in self.task.weights.items() if name in open_])
        for weight, count in weights.items():
            if len(found) * count > MOST_TOLD:
                return ()
            found = {round(one + weight * number, 6) for one in found for number in range(count + 1)}
        return found

    def _seconds(self) -> Terms:
        """The time of each move, the way to each rack, and what is handled for them; half of it where two divide it between them."""
        targets = self.index.rig.targets
        terms = [
            (column, sum([criteria.time_of(targets.times, move) for move in moves]))
            for column, moves in self.columns.moves.items()
        ]
        at: dict[str, list[int]] = defaultdict(list)
        for column, moves in self.columns.moves.items():
            for place in criteria.places(self.index, moves):
                at[place].append(column)
        away = {}
        for place, columns in at.items():
            gone = self.program.column()
            for group in self.columns.apart(columns):
                self.program.row([(gone, 1.0), *((column, -1.0) for column in group)], low=0)
            self._gone_to[place] = gone
            if place != targets.crew_at:
                away[place] = gone
        if away:
            first = criteria.walk(self.index, list(away)[:1])
            step = criteria.walk(self.index, list(away)[:2]) - first if len(away) > 1 else first
            terms += [(gone, step) for gone in away.values()]
            if first != step:
                some = self.program.column()
                for gone in away.values():
                    self.program.row([(some, 1.0), (gone, -1.0)], low=0)
                self.program.row([(some, 1.0), *((gone, -1.0) for gone in away.values())], high=0)
                terms.append((some, first - step))
        handling = Handling(self.patching)
        share = 1.0 / targets.crew
        self.always = share * handling.always
        return [(column, share * seconds) for column, seconds in [*terms, *handling.terms]]

    def _each_alone(self) -> dict[int, float]:
        """Column → the s that a plan takes at least that has it: its own, and of all that it makes so."""
        costs, forced = dict[int, float](), self.program.forced()
        for column, seconds in self.seconds:
            costs[column] = costs.get(column, 0.0) + seconds
        found = {}
        for column in self.columns.moves:
            reached, open_ = {column}, [column]
            while open_:
                new = [made for made in forced.get(open_.pop(), ()) if made not in reached]
                reached.update(new)
                open_ += new
            found[column] = sum([costs.get(each, 0.0) for each in reached])
        return found

    def slower(self, most: float) -> list[int]:
        """The columns of moves that no list of so many s has."""
        return [column for column, seconds in self._alone.items() if seconds > most + SLACK]

    def rest(self) -> Terms:
        """Spares used, then other feeds than what is lost has, then racks gone to, then the rig's order, all of it less than any hush.

        A root grows ever less: of two that could change places the first gets the first.
        """
        terms = [(gone, 1e-3) for gone in self._gone_to.values()]
        count, own = len(self.columns.moves), {self.task.feeds[name] for name in self.task.lost}
        for number, (column, moves) in enumerate(self.columns.moves.items()):
            spares = sum([bool(move.by) for move in moves])
            others = sum([move.kind == "feed" and move.new not in own for move in moves])
            terms.append((column, 1e-2 * spares + 5e-3 * others + 1e-4 * math.sqrt((1 + number) / count)))
        return terms
