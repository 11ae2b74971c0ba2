"""The steps of a list, in the order in which they are safe: a pure function of the rig before, the rig after and the moves between.

The one sequencer: plans, returns and the seconds that a plan takes all come from it. In each job what can be made ready comes
first, then what silences nothing; a channel that plays is turned down just before its first move, and whatever can sound comes
back as soon as its last move is made. What has failed is turned down or switched off and stays so; what works again comes
back. Front of house is always manned, who stands at the desk does what is done there. Holds no search and no judgement of a plan.
"""

import itertools
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from rackwright.engine import outage
from rackwright.engine.assess import Assessed
from rackwright.engine.recovery import criteria
from rackwright.engine.recovery.jobs import Job, Piece, arranged, exchanges, jobs, silences
from rackwright.engine.recovery.load_check import LoadChecks
from rackwright.engine.recovery.orders import POWER_CYCLE, Action, Orders
from rackwright.engine.recovery.silence import shorter_at_desk, told_quiet
from rackwright.engine.recovery.standing import Standing, standing
from rackwright.engine.recovery.transition import Transition
from rackwright.model.night import Rewiring, Step
from rackwright.model.places import Thing
from rackwright.model.rig import FRONT_OF_HOUSE, Rig

__all__ = ["Action", "Standing", "actions", "lasting", "standing", "steps", "steps_of"]


def steps(
    broken: Assessed, after: Assessed, moves: Sequence[Rewiring], fresh: Sequence[str] = ()
) -> tuple[Step, ...]:
    """The steps from one rig to the other. `fresh` is what has failed and has not been made safe yet, as `fail` takes it."""
    return steps_of(Transition(broken, after, fresh), moves)


def steps_of(change: Transition, moves: Sequence[Rewiring]) -> tuple[Step, ...]:
    """The steps of moves that make a change."""
    return tuple(action.step for action in actions(change, moves))


def actions(change: Transition, moves: Sequence[Rewiring]) -> Iterator[Action]:
    """Those steps with the moves that each makes."""
    return _Sequencer(change).run(moves)


def lasting(steps: Sequence[Step], rig: Rig) -> float:
    """s until the last section that comes back is back, with the crew that there is: two divide the places between them."""
    needed = [step for step in steps if not step.later]
    if rig.targets.crew == 1:
        return sum(step.seconds for step in needed)
    clocks = [0.0, 0.0]
    for _, group in itertools.groupby(needed, key=lambda step: step.where):
        clocks[clocks.index(min(clocks))] += sum(step.seconds for step in group)
    return max(clocks)


class _Left(NamedTuple):
    """What of a job is still to be done."""

    pieces: list[Piece]
    trims: list[Piece]

    def needs(self, channel: str, amplifier: str) -> bool:
        """Whether a move is still to be made for which a channel is silent."""
        return any(channel in piece.channels or amplifier in piece.off for piece in self.pieces)

    def needs_off(self, amplifier: str) -> bool:
        """Whether a move is still to be made for which an amplifier is off."""
        return any(amplifier in piece.off for piece in self.pieces)


class _Sequencer:
    """Makes the steps from one rig to another."""

    def __init__(self, change: Transition) -> None:
        self.change = change
        self.order = Orders(change)
        self.here = change.then.index.rig.targets.crew_at
        self.off, self.down, self.pulled = set(change.was.off), set(change.was.down), set(change.was.pulled)
        self.tried = set(change.tried)
        self.muted: dict[str, None] = {}

    def run(self, moves: Sequence[Rewiring]) -> Iterator[Action]:
        """All the steps."""
        yield from self._checks(moves)
        self.exchanged = exchanges(moves)
        found = jobs(self.change, moves, self.here)
        self.checks = LoadChecks(self.change, found)
        self.claimed = {channel for job in found if job.pieces for channel in job.channels}
        for job in found:
            made = list(self._job(job))
            own = [action.step.seconds for action in made]
            walked = self._walked(made)
            told = told_quiet(self.change, [action.step for action in walked], own)
            yield from (Action(step, made.moves) for step, made in zip(told, walked, strict=True))
        yield from self._made_safe()

    # --- one job ---

    def _job(self, job: Job) -> Iterator[Action]:
        lower, rest, higher = _limiters_apart(job.pieces)
        trims = [piece for piece in rest if piece.move.kind == "trim"]
        left = _Left(arranged([piece for piece in rest if piece not in trims], self.change), trims)
        self.outputs = self._outputs(job)
        for piece in lower:
            yield self.order.move(piece.move)
        settings = {piece: self._settings(piece, left) for piece in left.pieces}
        left.trims[:] = [t for t in trims if not any(t.move in each for each in settings.values())]
        to_prepare = list(left.pieces)
        yield from self._back(job, left)
        while left.pieces:
            piece = left.pieces[0]
            if piece.move.kind == "amplifier" or silences(self.change, piece):
                for each in to_prepare:
                    yield from self._prepared(each, settings[each])
                to_prepare.clear()
            yield from self._made_silent(job, left, piece)
            left.pieces.remove(piece)
            if piece.move.kind != "circuit":  # its plug goes in as the amplifier is started
                yield self.order.move(piece.move, settings[piece], bool(self._ready_at(piece)))
            yield from self._back(job, left)
        for piece in left.trims:
            at = piece.move.at
            plays = self.change.playing(at) and self.change.will_play(at) and at not in self.down
            yield self.order.move(piece.move, plays=plays)
        for piece in higher:
            yield self.order.move(piece.move)

    def _prepared(self, piece: Piece, settings: Sequence[Rewiring]) -> Iterator[Action]:
        """What a move takes made ready, while what will be silent for it plays still."""
        if piece.move.kind == "amplifier":
            for check in self.checks.before_swap(piece.move):
                asked = (name for name in check.step.at if name in self.change.then.branches)
                if names := tuple(name for name in asked if name not in self.down):
                    self.down |= {*names}
                    yield self.order.turn_down(piece.move.at, names)
                yield check
        if where := self._ready_at(piece):
            yield self.order.prepare(piece.move, settings, where)

    def _ready_at(self, piece: Piece) -> str:
        """Where what a move takes is made ready; empty where that saves no silence."""
        change, place = self.change, self.change.say.place(piece.move)[1]
        if not criteria.prepared(self.order.times, piece.move) or not silences(change, piece):
            return ""
        if piece.move.kind == "amplifier" or all(
            map(self._output_of, filter(change.playing, piece.channels))
        ):
            return place
        new = (
            piece.move.new
        )  # the channels are turned down at the rack: a line that begins there is laid to there
        return change.say.rack_of(new)[1] if new in change.now.index.sockets else place

    def _settings(self, piece: Piece, left: _Left) -> tuple[Rewiring, ...]:
        """The trims that an amplifier is put in with."""
        if piece.move.kind != "amplifier":
            return ()
        return tuple(t.move for t in left.trims if self.change.say.amplifier(t.move.at) == piece.move.at)

    def _made_silent(self, job: Job, left: _Left, piece: Piece) -> Iterator[Action]:
        """Whatever is silent for a move. A pole pair is taken off what is dead, to see whether it is the load, while the rest plays."""
        if piece.move.kind == "repatch" and not piece.off:
            yield from self._hushed(
                job, left, piece, [c for c in piece.channels if not self.change.playing(c)]
            )
        else:
            yield from self._hushed(job, left, piece, piece.channels)
            yield from self._switched_off(job, piece)
        yield from self.checks.before(job, piece, left.pieces, self.off)
        yield from self._hushed(job, left, piece, piece.channels)

    def _hushed(self, job: Job, left: _Left, piece: Piece, names: Sequence[str]) -> Iterator[Action]:
        """Channels of a move turned down, or their outputs muted, with what else of the job is to be there and doesn't play."""
        for feed in dict.fromkeys(filter(None, map(self._output_of, names))):
            if feed not in self.muted:
                self.muted[feed] = None
                yield self.order.mute(feed)
        wanted = [name for name in names if self._to_turn_down(name, piece.off)]
        racks = {self.order.rack(name) for name in wanted}
        wanted += [
            name
            for name in job.channels
            if self.order.rack(name) in racks
            and not self.change.playing(name)
            and left.needs(name, self.change.say.amplifier(name))
            and self._to_turn_down(name, job.off)
        ]
        for amplifier, names in self.order.by_amplifier(wanted):
            self.down |= {*names}
            self.tried -= {*names}
            yield self.order.turn_down(amplifier, names)

    def _to_turn_down(self, name: str, off: Sequence[str]) -> bool:
        return (
            (name not in self.down or name in self.tried)
            and self.change.say.amplifier(name) not in {*self.off, *off}
            and not self._output_of(name)
            and self.change.can_sound(name)
        )

    def _switched_off(self, job: Job, piece: Piece) -> Iterator[Action]:
        """The amplifiers that are off or unplugged for a move; those that exchange their circuits all at once."""
        wanted = dict.fromkeys(piece.off)
        if piece.move.kind == "circuit" and {piece.move.old, piece.move.new} & self.exchanged:
            wanted |= dict.fromkeys(name for other in job.pieces if other.move.kind == "circuit" for name in other.off)  # fmt: skip
        for name in self.order.by_rack(wanted):
            unplugs = any(m.kind in ("amplifier", "circuit") and m.at == name for m in job.moves)
            unplugs = unplugs or name in self.change.will.pulled | self.change.was.pulled
            pulls, goes_off = unplugs and name not in self.pulled, name not in self.off
            self.off.add(name)
            if pulls:
                self.pulled.add(name)
                yield self.order.pull(name, goes_off)
            elif goes_off:
                yield self.order.switch_off(name)

    def _back(self, job: Job, left: _Left) -> Iterator[Action]:
        """What no move is left for: amplifiers on, one at a time, with every channel down, then channels up, then outputs unmuted."""
        for name in self.order.by_rack(job.off):
            if not left.needs_off(name):
                yield from self._started(job, name)
        own = {b.id for b in self.change.now.branches.values() if b.amplifier.id in job.off} - self.claimed
        names = [
            name
            for name in {*job.channels, *own}
            if not left.needs(name, amplifier := self.change.say.amplifier(name))
            and (self.change.will_play(name) or self.change.stands_ready(name))
            and amplifier not in self.off
            and (name in self.down or self._output_of(name) in self.muted)
        ]
        for piece in [piece for piece in left.trims if piece.move.at in names]:
            left.trims.remove(piece)
            yield self.order.move(piece.move)
        for amplifier, group in self.order.by_amplifier(name for name in names if name in self.down):
            self.down -= {*group}
            yield self.order.turn_up(amplifier, group)
        for feed in [*self.muted]:
            handled = {*self.change.on_feed[feed], *self.change.on_feed_after[feed]}
            if not any(left.needs(name, self.change.say.amplifier(name)) for name in handled):
                del self.muted[feed]
                yield self.order.unmute(feed)

    def _started(self, job: Job, name: str) -> Iterator[Action]:
        """An amplifier's mains plug in again, and it on."""
        will = self.change.will
        moved = tuple(m for m in job.moves if m.kind == "circuit" and m.at == name)
        circuit = self.change.now.index.amplifiers[name].circuit
        plugs = name in self.pulled and name not in will.pulled and bool(circuit)
        starts = name in self.off and name not in will.off and (plugs or name not in self.pulled)
        if plugs:
            self.pulled.discard(name)
        if starts:
            self.off.discard(name)
            self.down |= {b.id for b in self.change.now.branches.values() if b.amplifier.id == name}
        if plugs or starts:
            yield self.order.start(name, circuit if plugs else "", starts, moved)

    def _outputs(self, job: Job) -> list[str]:
        """The feeds that are muted at the processor: all that plays them is handled, and plays them after."""
        change, found = self.change, []
        handled = {*job.channels} | {name for amplifier in job.off for name in change.of_amplifier(amplifier)}
        off = {*job.off, *change.was.off, *change.will.off}
        dead = change.was.down | change.will.down
        wanted = [c for c in job.channels if change.say.amplifier(c) not in off and c not in dead]
        for feed in change.then.index.feeds:
            mine = any(change.feeds(c) == (feed, feed) for c in wanted)
            if mine and set(change.on_feed[feed]) <= handled:
                found.append(feed)
        return [*found, *(f for piece in job.pieces for f in self._muted_from_afar(piece) if f not in found)]

    def _muted_from_afar(self, piece: Piece) -> list[str]:
        """The feeds muted for work away from the racks, where that is less silence than to walk to the rack and back."""
        change, times = self.change, self.order.times
        if piece.off or change.say.place(piece.move)[0] in self.order.racks:
            return []
        heard = [c for c in dict.fromkeys(piece.channels) if change.can_sound(c) and c not in self.down]
        feeds = dict.fromkeys(change.feeds(c)[0] for c in heard)
        if any(change.feeds(c)[0] != change.feeds(c)[1] or change.stays_dead(c) for c in heard):
            return []
        muted = sum(_sections(change.then, c) for feed in feeds for c in change.on_feed[feed])
        handled = sum(_sections(change.then, c) for c in heard if change.playing(c))
        after = sum(_sections(change.now, c) for c in heard if change.will_play(c))
        return list(feeds) if shorter_at_desk(times, piece.move, muted, handled, after) else []

    def _output_of(self, channel: str) -> str:
        """The output that is muted in place of turning a channel down; empty where none is.

        One to which nothing is patched was turned down as it was taken off: it has to be turned up.
        """
        before, after = self.change.feeds(channel)
        branch = self.change.then.branches.get(channel)
        if channel in self.change.will.down or branch is None or not branch.taps:
            return ""
        return before if before == after and before in self.outputs else ""

    # --- before and after ---

    def _checks(self, moves: Sequence[Rewiring]) -> Iterator[Action]:
        """What is looked at first, and ends the list where it says so."""
        index = self.change.then.index
        for name in self.change.fresh:
            place, known = index.place(name), index.rig.failures.get(name)
            what = place.kind if isinstance(place, Thing) and not (known and known.looked_at) else ""
            if what in ("circuit", "board", "phase") and self._amplifiers_of(name):
                elsewhere = any(move.kind == "circuit" for move in moves)
                before = (
                    " before plugging its amplifiers in elsewhere: they may trip that too"
                    if elsewhere
                    else ""
                )
                words = f"Find out why {name} went dead{before}. One reset at most, by those who know why it tripped, with all that hangs on it switched off. If it holds, stop here."
                yield self.order.action("check", words, FRONT_OF_HOUSE, (name,))
            elif what == "amplifier" and moves and not outage.of_power(index, index.amplifiers[name]):
                words = f"Switch {self.change.say.unit(name)} off, wait, and switch it on once. If it plays again, stop here."
                check = self.order.action(
                    "check", words, self.change.say.rack_of(name)[1], (name,), POWER_CYCLE
                )
                yield from self._walked([check])

    def _amplifiers_of(self, name: str) -> list[str]:
        """The amplifiers that are dead for a circuit, a board or a phase."""
        index = self.change.then.index
        found = {a.id: outage.of_power(index, a) for a in index.amplifiers.values()}
        return [amplifier for amplifier, why in found.items() if why and why.at == name]

    def _made_safe(self) -> Iterator[Action]:
        """What has failed and no job came by: it may come back by itself, and all at once."""
        made = []
        change, will = self.change, self.change.will
        dead = [name for name in will.down - self.down if change.can_sound(name)]
        for amplifier, names in self.order.by_amplifier(dead):
            made.append(self.order.turn_down(amplifier, names, "what is dead may come back by itself"))
        for name in self.order.by_rack(will.off - self.off):
            if name in will.pulled - self.pulled:
                made.append(self.order.pull(name, True))
            else:
                made.append(self.order.switch_off(name, "it may come back by itself"))
        made += [
            self.order.pull(n, False) for n in self.order.by_rack((will.pulled - self.pulled) & self.off)
        ]
        for action in self._walked(made):
            yield action._replace(step=replace(action.step, later=True))

    # --- ways ---

    def _walked(self, made: Sequence[Action]) -> list[Action]:
        """With the ways between the places. What is muted at the desk waits until somebody stands where the work is: the way
        there is not walked in silence."""
        walked = []
        for number, action in enumerate(made):
            step, where = action.step, action.step.where
            if step.kind == "mute":
                where = next((a.step.where for a in made[number:] if a.step.where != FRONT_OF_HOUSE), where)
            if where not in (FRONT_OF_HOUSE, self._read(self.here)):
                words = step.words
                if step.kind == "mute":
                    words = (
                        f"Once somebody stands at {where.removeprefix('at ')}: {words[:1].lower()}{words[1:]}"
                    )
                step = replace(step, words=words, seconds=step.seconds + self._way_to(where), takes="")
            walked.append(action._replace(step=step))
        return walked

    def _way_to(self, where: str) -> float:
        """s to walk to a place from where the crew is, which it is then."""
        times = self.order.times
        way = times.to_rack if self.here == FRONT_OF_HOUSE else times.between_racks
        self.here = next((rack for rack in self.order.racks if f"rack {rack}" == where), where)
        return way.value

    def _read(self, place: str) -> str:
        """A place where the crew stands as it is read out."""
        return f"rack {place}" if place in self.order.racks else place


def _limiters_apart(pieces: Iterable[Piece]) -> tuple[list[Piece], list[Piece], list[Piece]]:
    """The limiters that come down, which protect what is to come; all the rest; those that go up, once what they held is gone."""
    lower, rest, higher = [], [], []
    for piece in pieces:
        if not piece.move.kind.startswith("limiter"):
            rest.append(piece)
        elif criteria.comes_down(piece.move):
            lower.append(piece)
        else:
            higher.append(piece)
    return lower, rest, higher


def _sections(state: Assessed, channel: str) -> int:
    """How many sections hang on a channel."""
    return len(state.branches[channel].sections) if channel in state.branches else 0
