"""Is it the channel or the load? What is asked before the load of a failed channel goes on a healthy one.

Its pole pairs, and the lines of plugs that move anyway, are taken off the failed channel, so that nothing else falls silent for
it. What has read good or played since the failure is not asked for again.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence

from rackwright.engine import touch
from rackwright.engine.network import Run
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

    def before_swap(self, move: Rewiring) -> Iterator[tuple[str, Action]]:
        """What is asked of an amplifier's failed channels before a spare takes their loads on, while the rest of it plays."""
        for name in self.good:
            if self.change.say.amplifier(name) == move.at and not self._powers_down(name):
                self.asked.add((name, move))
                if taken := self._taken_off(name, [move]):
                    yield name, self._check(name, taken, set())

    def _powers_down(self, channel: str) -> bool:
        """Whether nothing is taken off a channel with its amplifier on."""
        then = self.change.then
        return bool(touch.powered_down(then.index, then.branches.values(), [channel]))

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

    def _loads(self, channel: str, move: Rewiring) -> list[Run]:
        """The loads of a channel that a move puts on another, and that aren't known to be good."""
        return [
            root
            for root in self.change.then.branches[channel].roots
            if self._moves(channel, move, root)
            and str(LinePair(root.line.id, root.near)) not in self.good[channel]
        ]

    def _moves(self, channel: str, move: Rewiring, root: Run) -> bool:
        match move.kind:
            case "repatch":
                pair = self.change.then.index.pole_pairs[move.at]
                there = (root.line.source, root.near) == (pair.socket, pair.pair)
                return bool(move.new) and _is(move.old, channel) and there
            case "plug" | "line":
                return root.line.source == move.old != move.new
            case "amplifier":
                return self.change.say.amplifier(channel) == move.at
            case _:
                return False

    def _taken_off(self, channel: str, moves: Sequence[Rewiring]) -> str:
        """What takes the load that moves put on another channel off a failed one, as orders; nothing where none does."""
        off: dict[int, list[str]] = defaultdict(list)
        lines: dict[str, None] = {}
        for move in moves:
            for root in self._loads(channel, move):
                if move.kind in ("plug", "line"):
                    lines[root.line.id] = None
                else:
                    off[root.near].append(root.line.source)
        return wording.taken_off(channel, off, list(lines))


def _is(text: str, channel: str) -> bool:
    pole = pole_or_none(text)
    return pole is not None and pole.name == channel
