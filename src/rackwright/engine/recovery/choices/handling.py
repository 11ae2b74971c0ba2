"""The seconds of a list besides its moves: what is turned down, switched off, looked at and brought up again for them.

Never more than `sequence` takes, so that what the programme calls slower is slower. Each is a column that is 1 where any of
its reasons is: what is done once for several moves counts once.
"""

from collections import defaultdict
from collections.abc import Iterable

from rackwright.engine import outage
from rackwright.engine.allocation.program import Terms
from rackwright.engine.recovery.choices.patching import Patching
from rackwright.engine.recovery.load_check import LoadChecks
from rackwright.engine.recovery.orders import POWER_CYCLE, SWITCH_OFF, SWITCH_ON
from rackwright.engine.recovery.transition import Transition, on_feed
from rackwright.model.night import Rewiring
from rackwright.model.places import Thing


class Handling:
    """What handling costs in a programme."""

    def __init__(self, patching: Patching) -> None:
        self.patching, self.channels, self.columns = patching, patching.channels, patching.columns
        self.task, self.index, self.program = patching.task, patching.index, patching.program
        self.times = self.index.rig.targets.times
        self.change = Transition(self.task.broken, self.task.broken, self.task.fresh)
        self.by_channel: dict[str, list[int]] = defaultdict(list)
        """Channel → the columns of the moves that handle it."""
        self._off: dict[str, list[int]] = defaultdict(list)
        """Amplifier → the columns of the moves that it is off for."""
        for column, moves in self.columns.moves.items():
            for move in moves:
                self._note(column, move)
        self._pairs = {
            u.sounds: ("pair", u.channel, u.pair[0], u.pair[2])
            for uses in self.patching.uses.values()
            for u in uses
            if u.sounds not in self.columns.moves
        }
        self.terms: Terms = [*self._switching(), *self._turning(), *self._checks()]

    @property
    def always(self) -> float:
        """s that every list takes that has a move: an amplifier that failed is switched off and on once."""
        failed = [name for name in self.task.fresh if self._kind(name) == "amplifier"]
        powered = [n for n in failed if not outage.of_power(self.index, self.index.amplifiers[n])]
        return POWER_CYCLE * len(powered)

    def _kind(self, name: str) -> str:
        place = self.index.place(name)
        return place.kind if isinstance(place, Thing) else ""

    def _note(self, column: int, move: Rewiring) -> None:
        """What a move handles, and which amplifiers it finds dead or takes off."""
        handled = self.change.handled(move)
        for name in handled:
            self.by_channel[name].append(column)
        off = [a for name in handled if (a := self.index.channels[name].amplifier) in self.change.will.off]
        if move.kind in ("mode", "amplifier", "circuit"):
            off.append(self.index.channels[move.at].amplifier if move.kind == "mode" else move.at)
        for amplifier in dict.fromkeys(off):
            self._off[amplifier].append(column)

    def _any(self, columns: Iterable[int], but: Terms = ()) -> int:
        """A column that is 1 where any of those is, but where others are: a row for all of which one at most is 1."""
        found = self.program.column(whole=False)
        apart: dict[tuple[object, ...], dict[int, None]] = defaultdict(dict)
        for column in columns:
            apart[self._one_of(column)][column] = None
        for group in apart.values():
            self.program.row([(found, 1.0), *((column, -1.0) for column in group), *but], low=0)
        return found

    def _one_of(self, column: int) -> tuple[object, ...]:
        """Equal for columns of which one at most is 1: a pole pair is patched, a line plugged, a feed given once."""
        if column in self._pairs:
            return self._pairs[column]
        moves = self.columns.moves.get(column)
        return (moves[-1].kind, moves[-1].at) if moves else (column,)

    def _switching(self) -> Terms:
        """Amplifiers off, and on again."""
        terms: list[tuple[int, float]] = []
        for amplifier, columns in self._off.items():
            thing = self.index.amplifiers[amplifier]
            if amplifier not in self.change.was.off:
                terms.append((self._any(columns), SWITCH_OFF))
            of_kind: dict[str, list[int]] = defaultdict(list)
            for column in columns:
                for move in self.columns.moves[column]:
                    of_kind[move.kind].append(column)
            powered, works = not outage.of_power(self.index, thing), thing.state == "ok"
            on = [
                *(of_kind["mode"] if powered and works else ()),
                *(of_kind["circuit"] if works else ()),
                *(of_kind["amplifier"] if powered else ()),
            ]
            if on:
                terms.append((self._any(on), SWITCH_ON))
            if thing.circuit and powered:
                plug = float(self.times.circuit_plug.value)
                terms += [(column, plug) for column in of_kind["amplifier"]]
        return terms

    def _turning(self) -> Terms:
        """Channels down and up, or their outputs muted where all that plays them is handled."""
        mute = float(self.times.mute.value)
        muted = self._muted()
        terms: list[tuple[int, float]] = [(column, 2 * mute) for column in muted.values()]
        for name in self.channels.names:
            branch = self.task.broken.branches[name]
            if branch.second_of_bridge:
                continue
            amplifier = self.index.channels[name].amplifier
            at_desk = [(muted[branch.result.feed], 1.0)] if branch.result.feed in muted else []
            dead = name in self.change.was.down or amplifier in self.change.was.off
            if branch.feed is not None and not dead and self.by_channel[name]:
                off = [(c, 1.0) for c in self._off.get(amplifier, ())]
                terms.append((self._any(self.by_channel[name], [*off, *at_desk]), mute))
            up = [u.sounds for u in self.patching.uses[name] if u.moved or not self.change.playing(name)]
            if up:
                terms.append((self._any(up, at_desk), mute))
        return terms

    def _muted(self) -> dict[str, int]:
        """The feeds that may be muted at the processor."""
        found = {}
        for feed in self.index.feeds:
            playing = on_feed(self.task.broken, feed)
            reasons = [
                [*self.by_channel[name], *self._off.get(self.index.channels[name].amplifier, ())]
                for name in playing
            ]
            if all(reasons):
                found[feed] = self.program.column(whole=False)
                for columns in reasons:
                    self.program.row([(found[feed], 1.0), *((c, -1.0) for c in columns)], high=0)
        return found

    def _checks(self) -> Terms:
        """Whether it is the load, before that of a failed channel goes on another; in an amplifier that is off nothing is looked at
        for a spare."""
        checks = LoadChecks(self.change, ())
        terms: list[tuple[int, float]] = []
        for name in checks.good:
            powers_down = checks.powers_down(name)
            doubtful = [
                column
                for column, moves in self.columns.moves.items()
                if any(
                    checks.loads(name, move) and not (powers_down and move.kind == "amplifier")
                    for move in moves
                )
            ]
            if doubtful:
                terms.append((self._any(doubtful), float(self.times.plug.value)))
        return terms
