"""What is said to the crew for each thing it does between two rigs, as steps: where, in which words, how long.

Knows no order. The words for the moves themselves are `wording`'s.
"""

import itertools
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from rackwright.engine.recovery import criteria, wording
from rackwright.engine.recovery.transition import Transition
from rackwright.model.night import Rewiring, Step, StepKind
from rackwright.model.rig import FRONT_OF_HOUSE
from rackwright.units import reading
from rackwright.units.wording import listed

SWITCH_OFF, SWITCH_ON = 10.0, 20.0
"""s to switch an amplifier off and on, the two together the 30 s of a power cycle: common practice, no source."""
POWER_CYCLE = SWITCH_OFF + SWITCH_ON


class Action(NamedTuple):
    """A step, and the moves that it makes."""

    step: Step
    moves: tuple[Rewiring, ...] = ()


class Orders:
    """Steps from one rig to another."""

    def __init__(self, change: Transition) -> None:
        self.change, self.say = change, change.say
        self.times = change.then.index.rig.targets.times
        racks = (*change.then.index.rig.racks, *change.now.index.rig.racks)
        self.racks = {rack.id: rack for rack in racks}

    def action(
        self,
        kind: StepKind,
        words: str,
        where: str,
        at: tuple[str, ...],
        took: float = 0.0,
        moves: tuple[Rewiring, ...] = (),
        takes: str = "",
    ) -> Action:
        """A step; `took` in s, `takes` what of the crew's times that is."""
        return Action(Step(kind=kind, words=words, where=where, at=at, seconds=took, takes=takes), moves)

    # --- moves ---

    def move(
        self, move: Rewiring, settings: Sequence[Rewiring] = (), ready: bool = False, plays: bool = False
    ) -> Action:
        """A move, with the trims that an amplifier is put in with; `ready` where what it takes lies there; a trim of what `plays`."""
        takes = "plug" if move.kind == "line" and not move.by else criteria.TIMES[move.kind]
        took = criteria.time_of(self.times, move)
        words = self.say.words_ready(move) if ready else self.say.words(move, settings, plays)
        if ready:
            took, takes = took - criteria.prepared(self.times, move), ""
        elif settings:
            took, takes = took + self._setting(settings), ""
        where = self.say.place(move)[1]
        return self.action("move", words, where, (move.at,), took, (move, *settings), takes)

    def prepare(self, move: Rewiring, settings: Sequence[Rewiring], where: str) -> Action:
        """What a move takes made ready, an amplifier with its trims set."""
        took = criteria.prepared(self.times, move) + self._setting(settings)
        return self.action("prepare", self.say.preparing(move, settings), where, (move.at,), took)

    def _setting(self, settings: Sequence[Rewiring]) -> float:
        return sum([criteria.time_of(self.times, each) for each in settings])

    # --- what is silent for them ---

    def mute(self, feed: str) -> Action:
        """An output muted at the processor."""
        return self._desk("mute", f"Mute {self.say.output(feed)}.", feed)

    def unmute(self, feed: str) -> Action:
        """An output unmuted, with what plays then."""
        now = self.change.now
        names = [s.id for name in self.change.on_feed_after[feed] for s in now.branches[name].sections]
        plays = f": {wording.as_called(now, names)}" if names else ""
        words = f"Unmute {self.say.output(feed)} with its level down, and bring it up slowly{plays}."
        return self._desk("unmute", words, feed)

    def _desk(self, kind: StepKind, words: str, feed: str) -> Action:
        return self.action(kind, words, FRONT_OF_HOUSE, (feed,), self.times.mute.value, takes="mute")

    def turn_down(self, amplifier: str, names: tuple[str, ...], why: str = "") -> Action:
        """Channels of an amplifier turned down."""
        words = f"Turn {wording.channels(names)} ({self.say.slot(amplifier)}) down to nothing{f': {why}' if why else ''}."
        return self._turn("turn down", words, amplifier, names)

    def turn_up(self, amplifier: str, names: tuple[str, ...]) -> Action:
        """Channels of an amplifier turned up, with what plays then."""
        now = self.change.now
        branches = [now.branches[name] for name in names]
        trims = list(dict.fromkeys(reading(branch.trim, "dB") for branch in branches))
        played = [s.id for branch in branches if branch.live for s in branch.sections]
        how = f"up{' one at a time,' if len(names) > 1 else ''} slowly," if played else "back"
        why = wording.as_called(now, played) if played else "for later, as nothing plays there now"
        words = (
            f"Turn {wording.channels(names)} ({self.say.slot(amplifier)}) {how} to {listed(trims)}: {why}."
        )
        return self._turn("turn up", words, amplifier, names)

    def _turn(self, kind: StepKind, words: str, amplifier: str, names: tuple[str, ...]) -> Action:
        took = self.times.mute.value * len(names)
        takes = "mute" if len(names) == 1 else ""
        return self.action(kind, words, self.say.rack_of(amplifier)[1], names, took, takes=takes)

    def switch_off(self, name: str, why: str = "") -> Action:
        """An amplifier switched off."""
        words = f"Turn every channel of {self.say.unit(name)} down{' and' if why else ', then'} switch it off{f': {why}' if why else ''}."
        return self.action("switch off", words, self.say.rack_of(name)[1], (name,), SWITCH_OFF)

    def pull(self, name: str, goes_off: bool) -> Action:
        """An amplifier's mains plug pulled, after it is switched off where it is on."""
        circuit = self.change.then.index.amplifiers[name].circuit
        out = f" out of {circuit}" if circuit else ""
        off = f"Turn every channel of {self.say.unit(name)} down, switch it off and pull its mains plug{out}."
        words = off if goes_off else f"Pull the mains plug of {self.say.unit(name)}{out}."
        took = SWITCH_OFF if goes_off else 0.0
        return self.action("pull mains", words, self.say.rack_of(name)[1], (name,), took)

    def start(self, name: str, circuit: str, starts: bool, moves: tuple[Rewiring, ...]) -> Action:
        """An amplifier plugged into a circuit, where one is given, and switched on where it `starts`."""
        took = (self.times.circuit_plug.value if circuit else 0.0) + (SWITCH_ON if starts else 0.0)
        look = " Look first whether it reaches." if moves and not self._reaches(name, circuit) else ""
        lead = f"Plug the mains lead of {self.say.unit(name)} into {circuit}"
        alone = "with nothing else at the same time"
        kind: StepKind
        if circuit and starts:
            kind, words = "start", f"{lead} and switch it on, {alone}.{look}"
        elif circuit:
            kind, words = "plug mains", f"{lead}, and leave it off.{look}"
        else:
            kind, words = "switch on", f"Switch {self.say.unit(name)} on, {alone}."
        takes = "circuit_plug" if kind == "plug mains" else ""
        return self.action(kind, words, self.say.rack_of(name)[1], (name,), took, moves, takes)

    def _reaches(self, amplifier: str, circuit: str) -> bool:
        index = self.change.now.index
        return circuit in (index.amplifiers[amplifier].reaches or index.rack_of[amplifier].reaches)

    # --- where ---

    def rack(self, channel: str) -> str:
        """The rack of a channel or an amplifier."""
        return self.say.rack_of(self.say.amplifier(channel))[0]

    def by_amplifier(self, channels: Iterable[str]) -> list[tuple[str, tuple[str, ...]]]:
        """Channels in order, those of one amplifier together."""
        groups = itertools.groupby(self.by_rack(channels), key=self.say.amplifier)
        return [(amplifier, tuple(names)) for amplifier, names in groups]

    def by_rack(self, names: Iterable[str]) -> list[str]:
        """Channels or amplifiers, rack after rack."""
        amplifiers = (*self.change.now.index.amplifiers, *self.change.then.index.amplifiers)
        order = {name: i for i, name in enumerate(amplifiers)}
        return sorted(dict.fromkeys(names), key=lambda name: (order.get(self.say.amplifier(name), 0), name))
