"""The steps of a list, in the order in which they are safe: a pure function of the rig before, the rig after and the moves between.

The one sequencer: plans, returns and the seconds that a plan takes all come from it. Moves that share a channel, an amplifier, a
circuit or a spare are one job, and each job is: mute or switch off, move, plug in, switch on, bring up one at a time. What has
failed is turned down or switched off and stays so; what works again comes back. Front of house is always manned, who stands at
the desk does what is done there. Holds no search and no judgement of a plan.
"""

import itertools
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from rackwright.engine import outage, touch
from rackwright.engine.assess import Assessed
from rackwright.engine.channel import Branch
from rackwright.engine.findings.registry import listed
from rackwright.engine.recovery import criteria, wording
from rackwright.engine.recovery.failure import repaired
from rackwright.engine.recovery.wording import Wording
from rackwright.model.index import Index, pole_or_none
from rackwright.model.places import Thing
from rackwright.model.rig import FRONT_OF_HOUSE, Rewiring, Rig, Step, StepKind
from rackwright.units import reading

SWITCH_OFF, SWITCH_ON = 10.0, 20.0
"""s to switch an amplifier off and on, the two together the 30 s of a power cycle: common practice, no source."""
POWER_CYCLE = SWITCH_OFF + SWITCH_ON


class Action(NamedTuple):
    """A step, and the moves that it makes."""

    step: Step
    moves: tuple[Rewiring, ...] = ()


class Standing(NamedTuple):
    """What of a rig the crew has made safe because it has failed."""

    down: frozenset[str] = frozenset()
    """Channels whose level is turned down at the amplifier."""
    off: frozenset[str] = frozenset()
    """Amplifiers that are switched off."""
    pulled: frozenset[str] = frozenset()
    """Amplifiers whose mains plug is pulled."""


def standing(assessed: Assessed) -> Standing:
    """What is made safe once every failure of a rig has its list: what is dead is turned down, switched off, unplugged."""
    return _standing(assessed.index, assessed.branches.values())


def steps(
    broken: Assessed, after: Assessed, moves: Sequence[Rewiring], fresh: Sequence[str] = ()
) -> tuple[Step, ...]:
    """The steps from one rig to the other. `fresh` is what has failed and has not been made safe yet, as `fail` takes it."""
    return tuple(action.step for action in actions(broken, after, moves, fresh))


def lasting(steps: Sequence[Step], rig: Rig) -> float:
    """s until the last section that comes back is back, with the crew that there is: two divide the places between them."""
    needed = [step for step in steps if not step.later]
    if rig.targets.crew == 1:
        return sum(step.seconds for step in needed)
    clocks = [0.0, 0.0]
    for _, group in itertools.groupby(needed, key=lambda step: step.where):
        clocks[clocks.index(min(clocks))] += sum(step.seconds for step in group)
    return max(clocks)


def actions(
    broken: Assessed, after: Assessed, moves: Sequence[Rewiring], fresh: Sequence[str] = ()
) -> tuple[Action, ...]:
    """The steps with the moves that each makes."""
    return tuple(_Sequencer(broken, after, fresh).run(moves))


# --- what is dead -------------------------------------------------------------------------------------


def _standing(index: Index, branches: Iterable[Branch]) -> Standing:
    down, off, pulled = set(), set(), set()
    for amplifier in index.amplifiers.values():
        if outage.of_amplifier(index, amplifier):
            pulled.add(amplifier.id)
            off.add(amplifier.id)
        elif outage.of_power(index, amplifier):
            off.add(amplifier.id)
    for branch in branches:
        if branch.amplifier.id not in off and not branch.second_of_bridge and _dead(index, branch):
            down.add(branch.id)
    return Standing(frozenset(down), frozenset(off), frozenset(pulled))


def _dead(index: Index, branch: Branch) -> bool:
    """Whether a channel of an amplifier that works is dead itself, or its lead, or is shorted; one whose feed is dead is healthy."""
    amplifier = index.amplifiers[branch.amplifier.id]
    entry = branch.channel - branch.channel % 2 if branch.mode != "dual" else branch.channel
    return (
        outage.of_output(amplifier, branch.channel) is not None
        or amplifier.channel(entry).input_state == "failed"
        or any(
            outage.fault(index.cabinets[s.cabinet], s.section) == "shorted"
            for s in branch.sections
            if s.cabinet in index.cabinets
        )
    )


# --- jobs ---------------------------------------------------------------------------------------------


class _Job:
    """Moves that have to be done together, and what is silent while they are."""

    def __init__(self) -> None:
        self.moves: list[Rewiring] = []
        self.channels: dict[str, None] = {}
        """Those that are handled, or come back."""
        self.off: dict[str, None] = {}
        """Amplifiers that are switched off for it, or come back."""
        self.pulled: dict[str, None] = {}
        self.handled: list[str] = []
        """Places where plugs and patches are moved."""


class _Sequencer:
    """Makes the steps from one rig to another."""

    def __init__(self, broken: Assessed, after: Assessed, fresh: Sequence[str]) -> None:
        self.then, self.now = broken, after
        self.say = Wording(broken, after)
        index = Index(repaired(broken.index.rig, fresh), broken.index) if fresh else broken.index
        self.fresh = fresh
        self.was = _standing(index, broken.branches.values())
        self.will = standing(after)
        self.times = broken.index.rig.targets.times
        self.here = broken.index.rig.targets.crew_at
        self.racks = {rack.id: rack for rack in (*broken.index.rig.racks, *after.index.rig.racks)}

    def run(self, moves: Sequence[Rewiring]) -> Iterator[Action]:
        """All the steps."""
        yield from self._checks(moves)
        self.off, self.down, self.pulled = set(self.was.off), set(self.was.down), set(self.was.pulled)
        circuits = [move for move in moves if move.kind == "circuit"]
        self.exchanged = {move.old for move in circuits} & {move.new for move in circuits}
        """Circuits that are left before they take another amplifier on."""
        self.jobs = sorted(self._jobs(moves), key=self._order)
        self.asked = set[tuple[str, Rewiring]]()
        """Channels and moves by which it has been looked at whether it is the load."""
        self.claimed = {channel for job in self.jobs if job.moves for channel in job.channels}
        for job in self.jobs:
            yield from self._job(job)
        yield from self._made_safe()

    # --- dividing the moves ---

    def _jobs(self, moves: Sequence[Rewiring]) -> list[_Job]:
        parts: list[tuple[_Job, set[str]]] = []
        for move in moves:
            job = _Job()
            job.moves.append(move)
            job.channels |= dict.fromkeys(self._channels(move))
            job.handled += self._handled(move)
            self._switched_off(job)
            parts.append((job, self._tokens(move, job)))
        for amplifier in self._in_order(self.was.off - self.will.off, self.now.index.amplifiers):
            job = _Job()
            job.off[amplifier] = None
            parts.append((job, {amplifier}))
        for channel in self._in_order(self.was.down - self.will.down, self.now.branches):
            job = _Job()
            job.channels[channel] = None
            parts.append((job, {channel}))
        return [_merged(group) for group in _connected(parts)]

    def _in_order(self, names: Iterable[str], order: Iterable[str]) -> list[str]:
        wanted = set(names)
        return [name for name in order if name in wanted]

    def _switched_off(self, job: _Job) -> None:
        """Note which amplifiers a move takes switched off: for what it does, where muting isn't enough, and the dead."""
        for move in job.moves:
            if move.kind in ("mode", "amplifier", "circuit"):
                amplifier = self.say.amplifier(move.at)
                job.off[amplifier] = None
                if move.kind != "mode":
                    job.pulled[amplifier] = None
        for state in (self.then, self.now):
            known = [place for place in job.handled if state.index.place(place)]
            off = touch.powered_down(state.index, state.branches.values(), known)
            job.off |= dict.fromkeys(self._in_order(off, state.index.amplifiers))
        for channel in job.channels:
            amplifier = self.say.amplifier(channel)
            if amplifier in self.will.off:
                job.off[amplifier] = None
        for amplifier in job.off:
            if amplifier in self.will.pulled | self.was.pulled:
                job.pulled[amplifier] = None

    def _tokens(self, move: Rewiring, job: _Job) -> set[str]:
        """What moves share that have to be done together."""
        tokens = {*job.channels, *job.off, *(f"spare {name}" for name in (move.by, move.frees) if name)}
        for amplifier in job.off:
            tokens |= {b.id for b in self.then.branches.values() if b.amplifier.id == amplifier}
        tokens = {token for token in tokens if not self._stays_dead(token)}
        if move.kind == "circuit":
            tokens |= {move.old, move.new} & self.exchanged
        if move.kind in ("limiter rms", "limiter peak"):
            tokens |= {
                f"output {move.at}",
                *self._on_feed(self.now, move.at),
                *self._on_feed(self.then, move.at),
            }
        if move.kind == "trim":
            tokens.add(move.at)
        if move.kind == "plug":
            tokens |= {f"socket {move.old}", f"socket {move.new}"}
        return tokens

    def _stays_dead(self, name: str) -> bool:
        """Whether a channel or an amplifier is turned down or off all through: jobs that only share it needn't wait for one another,
        so that what plays is silent for its own move alone."""
        return name in self.will.down or self.say.amplifier(name) in self.will.off

    def _on_feed(self, state: Assessed, feed: str) -> list[str]:
        return [b.id for b in state.branches.values() if b.live and b.sections and b.result.feed == feed]

    def _channels(self, move: Rewiring) -> list[str]:
        """The channels whose output is handled."""
        match move.kind:
            case "repatch":
                return [pole.name for text in (move.old, move.new) if (pole := pole_or_none(text))]
            case "plug" | "line":
                ends = (move.old, move.new)
                return [c for end in ends if end for s in (self.then, self.now) for c in _reaching(s, end)]
            case "unplug" | "plug in":
                return _reaching(self.then, move.at) or _reaching(self.now, move.at)
            case "feed":
                return [move.at]
            case _:
                return []

    def _handled(self, move: Rewiring) -> list[str]:
        match move.kind:
            case "repatch":
                return self._channels(move)
            case "plug":
                return [end for end in (move.old, move.new) if end]
            case "line":
                return [end for end in (move.old, move.new, move.at) if end]
            case "unplug" | "plug in":
                return [move.at]
            case _:
                return []

    def _order(self, job: _Job) -> tuple[int, ...]:
        """Jobs where the crew stands first, then in the rig's order, so that no place is visited twice; there what comes back
        with no move before what is moved onto it."""
        places = [self.here, *self.racks]
        at = [self.say.place(move)[0] for move in job.moves]
        at += [self.say.rack_of(self.say.amplifier(name))[0] for name in (*job.off, *job.channels)]
        found = sorted({places.index(place) if place in places else len(places) for place in at})
        return (found[0], bool(job.moves), *found[1:])

    # --- one job ---

    def _job(self, job: _Job) -> Iterator[Action]:
        outputs = self._outputs(job)
        made = [
            *(self._desk("mute", f"Mute {self.say.output(feed)}.", feed) for feed in outputs),
            *self._hushed(job, outputs),
            *self._load_checks(job),
            *(self._move(move) for move in self._arranged(job.moves)),
            *self._started(job),
            *self._raised(job),
            *(self._desk("unmute", self._unmuted(feed), feed) for feed in outputs),
        ]
        own = [action.step.seconds for action in made]
        yield from self._told_quiet(self._walked(self._awaited(made)), own)

    def _desk(self, kind: StepKind, words: str, feed: str) -> Action:
        return self._action(kind, words, FRONT_OF_HOUSE, (feed,), self.times.mute.value)

    def _hushed(self, job: _Job, outputs: Sequence[str]) -> Iterator[Action]:
        """Channels turned down, amplifier by amplifier, and the amplifiers that are switched off or unplugged."""
        wanted = [
            name
            for name in job.channels
            if name not in self.down
            and self.say.amplifier(name) not in {*self.off, *job.off}
            and not self._muted_by(name, outputs)
            and self._can_sound(name)
        ]
        for amplifier, names in self._by_amplifier(wanted):
            self.down |= {*names}
            words = f"Turn {wording.channels(names)} ({self.say.slot(amplifier)}) down to nothing."
            yield self._action(
                "turn down", words, self.say.rack_of(amplifier)[1], names, self.times.mute.value * len(names)
            )
        for name in self._by_rack(job.off):
            pulls, goes_off = name in job.pulled and name not in self.pulled, name not in self.off
            self.off.add(name)
            if pulls:
                self.pulled.add(name)
                yield self._pull(name, goes_off)
            elif goes_off:
                words = f"Turn every channel of {self.say.unit(name)} down, then switch it off."
                yield self._action("switch off", words, self.say.rack_of(name)[1], (name,), SWITCH_OFF)

    def _started(self, job: _Job) -> Iterator[Action]:
        """Mains plugs in again, and amplifiers on, one at a time, with every channel still down."""
        for name in self._by_rack(job.off):
            circuit, moved = (
                self._circuit(name),
                tuple(m for m in job.moves if m.kind == "circuit" and m.at == name),
            )
            plugs = name in self.pulled and name not in self.will.pulled and bool(circuit)
            starts = name in self.off and name not in self.will.off and (plugs or name not in self.pulled)
            took = (self.times.circuit_plug.value if plugs else 0.0) + (SWITCH_ON if starts else 0.0)
            look = " Look first whether it reaches." if moved and not self._reaches(name, circuit) else ""
            lead = f"Plug the mains lead of {self.say.unit(name)} into {circuit}"
            alone = "with nothing else at the same time"
            kind: StepKind
            if plugs and starts:
                kind, words = "start", f"{lead} and switch it on, {alone}.{look}"
            elif plugs:
                kind, words = "plug mains", f"{lead}, and leave it off.{look}"
            elif starts:
                kind, words = "switch on", f"Switch {self.say.unit(name)} on, {alone}."
            else:
                continue
            if plugs:
                self.pulled.discard(name)
            if starts:
                self.off.discard(name)
                self.down |= {b.id for b in self.now.branches.values() if b.amplifier.id == name}
            yield self._action(kind, words, self.say.rack_of(name)[1], (name,), took, moved)

    def _raised(self, job: _Job) -> Iterator[Action]:
        """Channels turned up, one at a time: those handled, and those that no other job handles of amplifiers started."""
        own = {b.id for b in self.now.branches.values() if b.amplifier.id in job.off} - self.claimed
        wanted = [
            name
            for name in {*job.channels, *own} & self.down
            if (branch := self.now.branches.get(name)) and branch.live and branch.sections
            if name not in self.will.down and branch.amplifier.id not in self.off
        ]
        for amplifier, names in self._by_amplifier(wanted):
            self.down -= {*names}
            branches = [self.now.branches[name] for name in names]
            trims = list(dict.fromkeys(reading(branch.trim, "dB") for branch in branches))
            one = " one at a time," if len(names) > 1 else ""
            words = (
                f"Turn {wording.channels(names)} ({self.say.slot(amplifier)}) up{one} slowly, to {listed(trims)}: "
                f"{wording.as_called(self.now, [s.id for branch in branches for s in branch.sections])}."
            )
            yield self._action(
                "turn up", words, self.say.rack_of(amplifier)[1], names, self.times.mute.value * len(names)
            )

    def _unmuted(self, feed: str) -> str:
        names = [
            s.id for b in self.now.branches.values() if b.live and b.result.feed == feed for s in b.sections
        ]
        plays = f": {wording.as_called(self.now, names)}" if names else ""
        return f"Un-mute {self.say.output(feed)} with its level down, and bring it up slowly{plays}."

    def _outputs(self, job: _Job) -> list[str]:
        """The feeds that are muted at the processor: all that plays them is handled, and plays them after."""
        found = []
        handled = {*job.channels} | {b.id for b in self.then.branches.values() if b.amplifier.id in job.off}
        wanted = [
            c for c in job.channels if self.say.amplifier(c) not in {*job.off, *self.was.off, *self.will.off}
        ]
        for feed in self.then.index.feeds:
            mine = [
                c
                for c in wanted
                if self._feeds(c) == (feed, feed) and c not in self.was.down | self.will.down
            ]
            if mine and set(self._on_feed(self.then, feed)) <= handled:
                found.append(feed)
        return found

    def _feeds(self, channel: str) -> tuple[str, str]:
        """What a channel plays before and after."""
        return tuple(  # type: ignore[return-value]
            branch.result.feed if (branch := state.branches.get(channel)) else ""
            for state in (self.then, self.now)
        )

    def _muted_by(self, channel: str, outputs: Sequence[str]) -> bool:
        dead = channel in self.will.down
        return not dead and self._feeds(channel)[0] in outputs and self._feeds(channel)[1] in outputs

    def _can_sound(self, channel: str) -> bool:
        """Whether a channel has or gets both a feed and something to drive, so that handling it is heard."""
        found = [b for s in (self.then, self.now) if (b := s.branches.get(channel))]
        return any(b.feed is not None for b in found) and not any(b.second_of_bridge for b in found)

    def _pull(self, name: str, goes_off: bool) -> Action:
        circuit = self.then.index.amplifiers[name].circuit
        out = f" out of {circuit}" if circuit else ""
        off = f"Turn every channel of {self.say.unit(name)} down, switch it off and pull its mains plug{out}."
        words = off if goes_off else f"Pull the mains plug of {self.say.unit(name)}{out}."
        took = SWITCH_OFF if goes_off else 0.0
        return self._action("pull mains", words, self.say.rack_of(name)[1], (name,), took)

    # --- before and after ---

    def _checks(self, moves: Sequence[Rewiring]) -> Iterator[Action]:
        """What is looked at first, and ends the list where it says so."""
        index = self.then.index
        for name in self.fresh:
            place = index.place(name)
            what = place.kind if isinstance(place, Thing) else ""
            if what in ("circuit", "phase"):
                words = (
                    f"Find out why {name} went dead before plugging its amplifiers in elsewhere: they may trip that too. "
                    "Reset it once at most, and only who knows why it tripped."
                )
                yield self._action("check", words, FRONT_OF_HOUSE, (name,))
            elif what == "amplifier" and moves and not outage.of_power(index, index.amplifiers[name]):
                words = f"Switch {self.say.unit(name)} off, wait, and switch it on once. If it plays again, stop here."
                yield from self._walked(
                    [self._action("check", words, self.say.rack_of(name)[1], (name,), POWER_CYCLE)]
                )

    def _load_checks(self, job: _Job) -> Iterator[Action]:
        """Whether it isn't the load that failed, before that goes on a healthy channel: its pole pairs, and the lines of plugs
        that move anyway, are taken off, so that nothing else falls silent for it. Asked once for all that can be taken off by then."""
        for name in self.fresh:
            if name not in job.channels:
                continue
            others = [each for each in self.jobs if each is not job and {*each.off} <= self.off]
            moves = [*job.moves, *(m for each in others for m in each.moves if m.kind == "repatch")]
            taken = self._taken_off(name, [move for move in moves if (name, move) not in self.asked])
            self.asked |= {(name, move) for move in moves}
            if not taken:
                continue
            amplifier = self.say.amplifier(name)
            how = (
                "measure with a meter what was on it. If that reads nearly 0 Ω"
                if amplifier in self.off
                else f"look whether {name} recovers. If it does"
            )
            words = f"Is it the load? {taken} and {how}, the load is shorted: stop here and leave it off. If not, go on."
            yield self._action("check", words, self.say.rack_of(amplifier)[1], (name,), self.times.plug.value)

    def _taken_off(self, channel: str, moves: Sequence[Rewiring]) -> str:
        """What takes the load that moves put on another channel off a failed one, as orders; nothing where none does."""
        pairs = self.then.index.pole_pairs
        on_it = {run.line.source for run in self.then.branches[channel].roots}
        off: dict[int, list[str]] = defaultdict(list)
        for move in moves:
            if (
                move.kind == "repatch"
                and move.new
                and _is(move.old, channel)
                and pairs[move.at].socket in on_it
            ):
                off[pairs[move.at].pair].append(pairs[move.at].socket)
        lines = [move.at for move in moves if move.kind == "plug" and move.old in on_it]
        return wording.taken_off(channel, off, lines)

    def _made_safe(self) -> Iterator[Action]:
        """What has failed and no job came by: it may come back by itself, and all at once."""
        made = []
        dead = [name for name in self.will.down - self.down if self._can_sound(name)]
        for amplifier, names in self._by_amplifier(dead):
            words = f"Turn {wording.channels(names)} ({self.say.slot(amplifier)}) down to nothing: what is dead may come back by itself."
            made.append(
                self._action(
                    "turn down",
                    words,
                    self.say.rack_of(amplifier)[1],
                    names,
                    self.times.mute.value * len(names),
                )
            )
        for name in self._by_rack(self.will.off - self.off):
            if name in self.will.pulled - self.pulled:
                made.append(self._pull(name, True))
                continue
            words = f"Turn every channel of {self.say.unit(name)} down and switch it off: it may come back by itself."
            made.append(self._action("switch off", words, self.say.rack_of(name)[1], (name,), SWITCH_OFF))
        made += [
            self._pull(name, False) for name in self._by_rack((self.will.pulled - self.pulled) & self.off)
        ]
        for action in self._walked(made):
            yield action._replace(step=replace(action.step, later=True))

    # --- moves ---

    def _arranged(self, moves: Sequence[Rewiring]) -> list[Rewiring]:
        """The moves of a job rack by rack; a plug goes where another is only after that has left."""
        left = [move for move in moves if move.kind != "circuit"]
        kept: list[Rewiring] = []
        while left:
            busy = {move.old for move in left if move.kind == "plug"}
            free = [m for m in left if m.kind != "plug" or m.new not in busy - {m.old}]
            chosen = (free or left)[0]
            left.remove(chosen)
            kept.append(chosen)
        limiters = [m for m in kept if m.kind.startswith("limiter")]
        return [m for m in kept if m not in limiters] + limiters

    def _move(self, move: Rewiring) -> Action:
        took = criteria.time_of(self.times, move)
        return self._action("move", self.say.words(move), self.say.place(move)[1], (move.at,), took, (move,))

    def _circuit(self, amplifier: str) -> str:
        return self.now.index.amplifiers[amplifier].circuit

    def _reaches(self, amplifier: str, circuit: str) -> bool:
        thing = self.now.index.amplifiers[amplifier]
        return circuit in (thing.reaches or self.now.index.rack_of[amplifier].reaches)

    def _by_amplifier(self, channels: Iterable[str]) -> list[tuple[str, tuple[str, ...]]]:
        """Channels in order, those of one amplifier together."""
        groups = itertools.groupby(self._by_rack(channels), key=self.say.amplifier)
        return [(amplifier, tuple(names)) for amplifier, names in groups]

    def _by_rack(self, names: Iterable[str]) -> list[str]:
        """Channels or amplifiers, rack after rack."""
        order = {name: i for i, name in enumerate((*self.now.index.amplifiers, *self.then.index.amplifiers))}
        return sorted(dict.fromkeys(names), key=lambda name: (order.get(self.say.amplifier(name), 0), name))

    def _action(
        self,
        kind: StepKind,
        words: str,
        where: str,
        at: tuple[str, ...],
        took: float = 0.0,
        moves: tuple[Rewiring, ...] = (),
    ) -> Action:
        return Action(Step(kind=kind, words=words, where=where, at=at, seconds=took), moves)

    def _awaited(self, made: list[Action]) -> list[Action]:
        """What is muted at the desk waits until somebody stands where the work is: the way there is not walked in silence."""
        first = next(
            (a.step.where for a in made if a.step.where not in (FRONT_OF_HOUSE, self._read(self.here))), None
        )
        if first is None or made[0].step.where != FRONT_OF_HOUSE:
            return made
        way = self._way_to(first)
        step = made[0].step
        words = (
            f"Once somebody stands at {first.removeprefix('at ')}: {step.words[:1].lower()}{step.words[1:]}"
        )
        return [made[0]._replace(step=replace(step, words=words, seconds=step.seconds + way)), *made[1:]]

    def _way_to(self, where: str) -> float:
        """s to walk to a place from where the crew is, which it is then."""
        way = self.times.to_rack if self.here == FRONT_OF_HOUSE else self.times.between_racks
        self.here = next((rack for rack in self.racks if f"rack {rack}" == where), where)
        return way.value

    def _walked(self, made: list[Action]) -> list[Action]:
        """With the ways between the places."""
        walked = []
        for action in made:
            where = action.step.where
            if where != FRONT_OF_HOUSE and where != self._read(self.here):
                took = action.step.seconds + self._way_to(where)
                action = action._replace(step=replace(action.step, seconds=took))
            walked.append(action)
        return walked

    def _read(self, place: str) -> str:
        """A place where the crew stands as it is read out."""
        rack = self.racks.get(place)
        return f"rack {rack.id}" if rack else place

    def _told_quiet(self, made: list[Action], own: list[float]) -> Iterator[Action]:
        """With what goes silent at each step that played before it, and for how long; `own` are the steps' s without ways."""
        ends = list(itertools.accumulate(action.step.seconds for action in made))
        hushed: dict[str, int] = {}
        back: dict[str, int] = {}
        for number, (step, _) in enumerate(made):
            for name in self._silenced(step):
                hushed.setdefault(name, number)
            back |= dict.fromkeys(self._restored(step), number)
        silent: dict[int, dict[str, float | None]] = defaultdict(dict)
        for channel, number in hushed.items():
            for section in self.then.branches[channel].sections:
                after = self.now.sections.get(section.id)
                again = back.get(after.channel) if after and after.channel else None
                begun = ends[number] - own[number]
                silent[number][section.id] = None if again is None else ends[again] - begun
        for number, action in enumerate(made):
            if not (those := silent.get(number)):
                yield action
                continue
            lengths = [length for length in those.values() if length is not None]
            long = f"for about {wording.length(max(lengths))}" if lengths else "until the return"
            quiet = f"{wording.as_called(self.then, list(those))} silent {long}"
            yield action._replace(step=replace(action.step, quiet=quiet))

    def _silenced(self, step: Step) -> list[str]:
        """The channels that played and don't after a step."""
        if step.kind == "mute":
            return self._on_feed(self.then, step.at[0])
        if step.kind not in ("turn down", "switch off", "pull mains"):
            return []
        playing = (b for b in self.then.branches.values() if b.live and b.sections)
        return [b.id for b in playing if b.id in step.at or b.amplifier.id in step.at]

    def _restored(self, step: Step) -> list[str]:
        """The channels that play again after a step."""
        if step.kind == "unmute":
            return self._on_feed(self.now, step.at[0])
        return list(step.at) if step.kind == "turn up" else []


def _merged(jobs: Sequence[_Job]) -> _Job:
    whole = _Job()
    for job in jobs:
        whole.moves += job.moves
        whole.channels |= job.channels
        whole.off |= job.off
        whole.pulled |= job.pulled
    return whole


def _connected(parts: Sequence[tuple[_Job, set[str]]]) -> list[list[_Job]]:
    """The jobs in groups, each of those that share a token."""
    groups: list[tuple[list[_Job], set[str]]] = []
    for job, tokens in parts:
        near = [group for group in groups if group[1] & tokens]
        jobs = [each for group in near for each in group[0]]
        shared = tokens.union(*(group[1] for group in near))
        groups = [group for group in groups if group not in near]
        groups.append(([*jobs, job], shared))
    return [jobs for jobs, _ in groups]


def _reaching(state: Assessed, place: str) -> list[str]:
    """The channels that stand on a socket's or a cabinet's connector."""
    index = state.index
    if place in index.cabinets and (line := index.line_to.get(place)):
        if runs := state.runs.get(line.id):
            return list(dict.fromkeys(run.channel for run in runs))
        root = index.root(place)
        return _reaching(state, root) if root else []
    socket = index.sockets.get(place)
    return [pole.name for text in socket.poles if (pole := pole_or_none(text))] if socket else []


def _is(text: str, channel: str) -> bool:
    pole = pole_or_none(text)
    return pole is not None and pole.name == channel
