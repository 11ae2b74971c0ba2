"""The seconds of a list besides its moves: what is turned down, switched off, looked at and brought up again for them.

Never more than `sequence` takes, so that what the programme calls slower is slower. Each is a column that is 1 where any of
its reasons is: what is done once for several moves counts once.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence

from rackwright.engine import outage
from rackwright.engine.allocation.program import Terms
from rackwright.engine.recovery import criteria
from rackwright.engine.recovery.choices.patching import Patching
from rackwright.engine.recovery.load_check import LoadChecks
from rackwright.engine.recovery.orders import POWER_CYCLE, SWITCH_OFF, SWITCH_ON
from rackwright.engine.recovery.silence import shorter_at_desk
from rackwright.model.night import Rewiring
from rackwright.model.places import Thing


class Handling:
    """What handling costs in a programme."""

    def __init__(self, patching: Patching) -> None:
        self.patching, self.channels, self.columns = patching, patching.channels, patching.columns
        self.task, self.index, self.program = patching.task, patching.index, patching.program
        self.times = self.index.rig.targets.times
        self.change = self.task.change
        self.by_channel: dict[str, list[int]] = defaultdict(list)
        """Channel → the columns of the moves that handle it."""
        self._off: dict[str, list[int]] = defaultdict(list)
        """Amplifier → the columns of the moves that it is off for."""
        for column, moves in self.columns.moves.items():
            if column in self.patching.patched:
                self._note(column, filter(None, [self.patching.patched[column]]))
                continue
            for move in moves:
                self._note(column, self.change.handled(move), move)
        for name, uses in self.patching.uses.items():
            for use in uses:
                if use.moved:
                    self._note(use.column, (name,))
        self._is_off: dict[str, int] = {}
        self._told: dict[tuple[tuple[int, ...], Terms], int] = {}
        self._pairs = {
            column: ("pair", u.pair[0], u.pair[2])
            for uses in self.patching.uses.values()
            for u in uses
            for column in (u.column, u.sounds)
            if column not in self.columns.moves
        }
        self._at_desk = self._muted()
        self.terms: Terms = [*self._switching(), *self._turning(), *self._checks(), *self._ways_back()]

    @property
    def always(self) -> float:
        """s that every list takes that has a move: an amplifier that failed is switched off and on once."""
        failed = [name for name in self.task.fresh if self._kind(name) == "amplifier"]
        powered = [n for n in failed if not outage.of_power(self.index, self.index.amplifiers[n])]
        return POWER_CYCLE * len(powered)

    def _kind(self, name: str) -> str:
        place = self.index.place(name)
        return place.kind if isinstance(place, Thing) else ""

    def _note(self, column: int, handled: Iterable[str], move: Rewiring | None = None) -> None:
        """What a move handles, and which amplifiers it finds dead or takes off."""
        off = dict[str, None]()
        for name in handled:
            self.by_channel[name].append(column)
            if (amplifier := self.index.channels[name].amplifier) in self.change.will.off:
                off[amplifier] = None
        if move and move.kind in ("mode", "amplifier", "circuit"):
            off[self.index.channels[move.at].amplifier if move.kind == "mode" else move.at] = None
        for amplifier in off:
            self._off[amplifier].append(column)

    def _any(self, columns: Iterable[int], but: Terms = ()) -> int:
        """A column that is 1 where any of those is, but where others are: a row for all of which one at most is 1."""
        key = tuple(dict.fromkeys(columns)), tuple(but)
        if key not in self._told:
            self._told[key] = self._own(key[0], but)
        return self._told[key]

    def _own(self, columns: Iterable[int], but: Terms = ()) -> int:
        """The same as one that nothing else is given, so that more rows may be put on it."""
        found = self.program.column(whole=False)
        for group in self._apart(columns):
            self.program.row([(found, 1.0), *((column, -1.0) for column in group), *but], low=0)
        return found

    def _apart(self, columns: Iterable[int]) -> Collection[Collection[int]]:
        """The columns in groups of which one at most is 1."""
        return self.columns.apart(columns, self._pairs)

    def _switching(self) -> Terms:
        """Amplifiers off, and on again."""
        terms: list[tuple[int, float]] = []
        for amplifier, columns in self._off.items():
            thing = self.index.amplifiers[amplifier]
            if amplifier not in self.change.was.off:
                terms.append((self._any(columns), SWITCH_OFF))
            of_kind: dict[str, list[int]] = defaultdict(list)
            for column in columns:
                for move in self.columns.moves.get(column, ()):
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
        muted = self._at_desk
        sounding = {use.sounds for uses in self.patching.by_section.values() for use in uses}
        terms: list[tuple[int, float]] = [(column, 2 * mute) for column in muted.values()]
        for name in self.channels.names:
            branch = self.task.broken.branches[name]
            if branch.second_of_bridge:
                continue
            amplifier = self.index.channels[name].amplifier
            at_desk = [(muted[branch.result.feed], 1.0)] if branch.result.feed in muted else []
            dead = name in self.change.was.down or amplifier in self.change.was.off
            off = self._off_for(amplifier)
            feeds = [(c, -1.0) for c in self._new_feeds(name)]
            new = feeds if at_desk else []  # what comes to play another feed is not muted at the desk
            moved = [use.column for use in self.patching.uses[name] if use.moved]
            arrives = [self._any(moved)] if moved else []
            if arrives:  # for all that comes, too: a few channels bear it only if they are turned up whole
                self.program.row(
                    [*self.patching.coming(name), (arrives[0], -self.patching.room(name))], high=0
                )
            handled = [*arrives, *(c for c in self.by_channel[name] if c not in moved)]
            if branch.feed is not None and not dead and handled:
                switched = [(c, 1.0) for c in off]
                down = self._any(handled, [*switched, *at_desk])
                if new:
                    down = self._own([down])
                    self.program.row([(down, 1.0), *new, *switched], low=0)
                terms.append((down, mute))
            plays = self.change.playing(name)
            uses = [use for use in self.patching.uses[name] if use.sounds in sounding]
            stays = self._apart([u.sounds for u in uses if plays and not u.moved])
            comes = [u.sounds for u in uses if u.moved]
            back = [
                *(arrives if comes == moved else comes),
                *(u.sounds for u in uses if not u.moved and not plays),
            ]
            up = self.program.column(whole=False)
            if back:
                sounds = self._any(back) if len(back) > 1 else back[0]
                self.program.row([(up, 1.0), (sounds, -1.0), *at_desk], low=0)
                if new:
                    self.program.row([(up, 1.0), (sounds, -1.0), *new], low=-1)
            terms.append((up, mute))
            if stays and (reasons := [*handled, *off]):  # what plays on is turned up again as well
                silent = self._any(reasons, at_desk)
                for group in stays:
                    self.program.row([(up, 1.0), (silent, -1.0), *((c, -1.0) for c in group)], low=-1)
        return terms

    def _off_for(self, amplifier: str) -> list[int]:
        """The column that is 1 where an amplifier is off for a move; none where it never is."""
        columns = self._off.get(amplifier)
        if not columns:
            return []
        if amplifier not in self._is_off:
            self._is_off[amplifier] = column = self._any(columns)
            self.program.row([(column, 1.0), *((c, -1.0) for c in columns)], high=0)
        return [self._is_off[amplifier]]

    def _muted(self) -> dict[str, int]:
        """The feeds that may be muted at the processor."""
        found = {}
        for feed in self.index.feeds:
            playing = self.change.on_feed[feed]
            reasons = [
                [*self.by_channel[name], *self._off.get(self.index.channels[name].amplifier, ())]
                for name in playing
            ]
            if all(reasons):
                found[feed] = self.program.column(whole=False)
                for columns in reasons:
                    self.program.row([(found[feed], 1.0), *((c, -1.0) for c in columns)], high=0)
        return found

    def _ways_back(self) -> Terms:
        """From the rack, where what is handled is turned down, to where a cabinet stands, and back, where it is turned up again; before
        it there, where a link is made ready.

        Not where its output is muted at the desk, or may be: nothing comes onto its channels but what is lost. What comes to
        play another feed is not.
        """
        apart: dict[tuple[tuple[str, bool], tuple[int, ...] | None, tuple[int, ...]], list[int]] = (
            defaultdict(list)
        )
        for column, moves in self.columns.moves.items():
            for move in moves:
                heard = [name for name in dict.fromkeys(self.change.handled(move)) if self._turned_down(name)]
                place = self.change.say.place(move)[0]
                if move.kind not in ("line", "unplug") or not heard or place in self.index.racks:
                    continue
                feeds = dict.fromkeys(self.task.broken.branches[name].result.feed for name in heard)
                at_desk = tuple([self._at_desk[feed] for feed in feeds if feed in self._at_desk])
                new = tuple([c for name in heard for c in self._new_feeds(name)])
                desk = None if self._silent_from_afar(move, heard) else at_desk
                apart[(place, False), desk, new].append(column)
                linked = move.new in self.index.cabinets and criteria.prepared(self.times, move)
                if linked and any(map(self.change.playing, heard)):
                    apart[(place, True), desk, new].append(column)
        gone: dict[tuple[str, bool], int] = defaultdict(lambda: self.program.column(whole=False))
        for (key, desk, new), columns in apart.items():
            there = gone[key]
            for group in self._apart(columns):
                terms = [(there, 1.0), *((c, -1.0) for c in group)]
                if desk is not None:
                    self.program.row([*terms, *((c, 1.0) for c in desk)], low=0)
                for column in new if desk is None or desk else ():
                    self.program.row([*terms, (column, -1.0)], low=-1)
        way = float(self.times.between_racks.value)
        back = [(self._any(gone.values()), way)] if gone else []
        return [*((there, way) for there in gone.values()), *back]

    def _new_feeds(self, channel: str) -> Iterator[int]:
        """The columns of the feeds that a channel may be given."""
        return (c for c in self.channels.feeds[channel].values() if c in self.columns.moves)

    def _turned_down(self, name: str) -> bool:
        """Whether a channel that is handled has to be turned down at the rack, or its output muted."""
        off = self.index.channels[name].amplifier in self.change.was.off | self.change.will.off
        return not off and name not in self.change.was.down and self.change.can_sound(name)

    def _silent_from_afar(self, move: Rewiring, heard: Sequence[str]) -> bool:
        """Whether the outputs of channels may be muted at the desk for a move."""
        then, change = self.task.broken, self.change
        feeds = {then.branches[name].result.feed for name in heard}
        muted = min(sum(len(then.branches[c].sections) for c in change.on_feed[feed]) for feed in feeds)
        handled = sum(len(then.branches[name].sections) for name in heard if change.playing(name))
        return shorter_at_desk(self.times, move, muted, handled, handled + len(self.task.lost))

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
