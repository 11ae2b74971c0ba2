"""Is it the channel or the load? What is asked before the load of a failed channel goes on a healthy one.

Its pole pairs, and the lines of plugs that move anyway, are taken off the failed channel, so that nothing else falls silent for
it. What has read good or played since the failure is not asked for again.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from rackwright.engine import touch
from rackwright.engine.network import Run
from rackwright.engine.recovery import known_good, wording
from rackwright.engine.recovery.jobs import Job, Piece
from rackwright.engine.recovery.orders import Action, Orders
from rackwright.engine.recovery.transition import Transition
from rackwright.model.index import pole_or_none
from rackwright.model.night import Rewiring
from rackwright.model.places import LinePair
from rackwright.units.wording import listed


class _TakenOff(NamedTuple):
    """What is taken off a channel to see whether it is the load."""

    orders: list[str]
    loads: list[str]


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

    def before(self, job: Job, piece: Piece, left: Sequence[Piece], off: set[str]) -> Iterator[Action]:
        """What is asked before a move; all that is taken off by the same hands with nothing more silent is asked with it."""
        asked: dict[str, dict[str, _TakenOff]] = defaultdict(dict)
        for name in self.good:
            if not self.loads(name, piece.move) or (name, piece.move) in self.asked:
                continue
            others = [each for each in self.jobs if each is not job and {*each.off} <= off]
            moves = [
                each.move for each in left if each.move.kind == "repatch" or each.channels == piece.channels
            ]
            moves += [move for each in others for move in each.moves if move.kind == "repatch"]
            moves = [move for move in moves if (name, move) not in self.asked]
            self.asked |= {(name, move) for move in moves}
            if (taken := self._taken_off(name, moves)).orders:
                asked[self.change.say.amplifier(name)][name] = taken
        for amplifier, each in asked.items():
            yield self._check(amplifier, each, amplifier in off)

    def before_swap(self, move: Rewiring) -> Iterator[Action]:
        """What is asked of an amplifier's failed channels before a spare takes their loads on, while the rest of it plays."""
        mine = [name for name in self.good if self.change.say.amplifier(name) == move.at]
        orders = {name: self._taken_off(name, [move]) for name in mine if not self.powers_down(name)}
        self.asked |= {(name, move) for name in orders}
        if asked := {name: taken for name, taken in orders.items() if taken.orders}:
            yield self._check(move.at, asked, False)

    def powers_down(self, channel: str) -> bool:
        """Whether nothing is taken off a channel with its amplifier on."""
        then = self.change.then
        return bool(touch.powered_down(then.index, then.branches.values(), [channel]))

    def _check(self, amplifier: str, asked: Mapping[str, _TakenOff], off: bool) -> Action:
        """The question for channels of one amplifier, each with what takes its load off it; its places are the channels, then the loads."""
        names, one = tuple(asked), len(asked) == 1
        taken = ", ".join(dict.fromkeys(order for each in asked.values() for order in each.orders))
        loads = dict.fromkeys(load for each in asked.values() for load in each.loads)
        how = (
            "measure with a meter what was on it. If that reads nearly 0 Ω, the load"
            if off
            else f"look whether {names[0]} recovers. If it does, the load"
            if one
            else f"look whether {listed(names)} recover. If one does, its load"
        )
        words = f"Is it the load? {taken[:1].upper()}{taken[1:]} and {how} is shorted: stop here and leave it off. If not, go on."
        where = self.change.say.rack_of(amplifier)[1]
        return self.order.action("check", words, where, (*names, *loads), self.order.times.plug.value)

    def loads(self, channel: str, move: Rewiring) -> list[Run]:
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

    def _taken_off(self, channel: str, moves: Sequence[Rewiring]) -> _TakenOff:
        """What takes the load that moves put on another channel off a failed one; nothing where none does."""
        off: dict[int, list[str]] = defaultdict(list)
        lines, loads = dict[str, None](), dict[str, None]()
        for move in moves:
            for root in self.loads(channel, move):
                loads[str(LinePair(root.line.id, root.near))] = None
                if move.kind in ("plug", "line"):
                    lines[root.line.id] = None
                else:
                    off[root.near].append(root.line.source)
        return _TakenOff(wording.taken_off(channel, off, list(lines)), [*loads])


def _is(text: str, channel: str) -> bool:
    pole = pole_or_none(text)
    return pole is not None and pole.name == channel
