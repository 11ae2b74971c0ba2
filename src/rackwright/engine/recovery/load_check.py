"""Is it the channel or the load? What is asked before the load of a failed channel goes on a healthy one.

Its pole pairs, and the lines of plugs that move anyway, are taken off the failed channel, so that nothing else falls silent for
it. What has read good or played since the failure is not asked for again.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence

from rackwright.engine.recovery import known_good, wording
from rackwright.engine.recovery.jobs import Job, Task
from rackwright.engine.recovery.orders import Action, Orders
from rackwright.engine.recovery.transition import Transition
from rackwright.model.index import pole_or_none
from rackwright.model.places import LinePair
from rackwright.model.rig import Rewiring


class LoadChecks:
    """The checks of one list, each load asked for once."""

    def __init__(self, change: Transition, jobs: Sequence[Job]) -> None:
        self.change, self.jobs = change, jobs
        self.order = Orders(change)
        self.asked = set[tuple[str, Rewiring]]()
        """Channels and moves by which it has been looked at whether it is the load."""
        self.good = {
            name: known_good.since(change.then, name) for name in change.fresh if name in change.then.branches
        }

    def before(self, job: Job, task: Task, left: Sequence[Task], off: set[str]) -> Iterator[Action]:
        """What is asked before a move; all that is taken off by the same hands with nothing more silent is asked with it."""
        for name in self.good:
            if not self._loads(name, task.move) or (name, task.move) in self.asked:
                continue
            others = [each for each in self.jobs if each is not job and {*each.off} <= off]
            moves = [
                each.move for each in left if each.move.kind == "repatch" or each.channels == task.channels
            ]
            moves += [move for each in others for move in each.moves if move.kind == "repatch"]
            moves = [move for move in moves if (name, move) not in self.asked]
            self.asked |= {(name, move) for move in moves}
            if taken := self._taken_off(name, moves):
                yield self._check(name, taken, off)

    def _check(self, name: str, taken: str, off: set[str]) -> Action:
        amplifier = self.change.say.amplifier(name)
        how = (
            "measure with a meter what was on it. If that reads nearly 0 Ω"
            if amplifier in off
            else f"look whether {name} recovers. If it does"
        )
        words = f"Is it the load? {taken} and {how}, the load is shorted: stop here and leave it off. If not, go on."
        where = self.change.say.rack_of(amplifier)[1]
        return self.order.action("check", words, where, (name,), self.order.times.plug.value)

    def _loads(self, channel: str, move: Rewiring) -> bool:
        """Whether a move puts what hangs on a channel on another, and that isn't known to be good."""
        return any(load not in self.good[channel] for load in self._moved(channel, move))

    def _moved(self, channel: str, move: Rewiring) -> list[str]:
        """The loads of a channel that a move puts on another."""
        index = self.change.then.index
        roots = self.change.then.branches[channel].roots
        if move.kind == "repatch" and move.new and _is(move.old, channel):
            pair = index.pole_pairs[move.at]
            return [
                str(LinePair(r.line.id, r.near))
                for r in roots
                if r.line.source == pair.socket and r.near == pair.pair
            ]
        if move.kind == "plug":
            return [str(LinePair(r.line.id, r.near)) for r in roots if r.line.source == move.old]
        return []

    def _taken_off(self, channel: str, moves: Sequence[Rewiring]) -> str:
        """What takes the load that moves put on another channel off a failed one, as orders; nothing where none does."""
        index = self.change.then.index
        doubtful = [move for move in moves if self._loads(channel, move)]
        off: dict[int, list[str]] = defaultdict(list)
        for move in doubtful:
            if move.kind == "repatch":
                off[index.pole_pairs[move.at].pair].append(index.pole_pairs[move.at].socket)
        return wording.taken_off(channel, off, [move.at for move in doubtful if move.kind == "plug"])


def _is(text: str, channel: str) -> bool:
    pole = pole_or_none(text)
    return pole is not None and pole.name == channel
