"""Which bundle hangs at which socket, and each of its pole pairs on which channel. What is offered is `worth`'s."""

import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from rackwright.engine import limits, outage
from rackwright.engine.allocation.program import Terms
from rackwright.engine.recovery.choices.columns import Pair, Use
from rackwright.engine.recovery.choices.kept import kept
from rackwright.engine.recovery.choices.sockets import Sockets, lame, leaves
from rackwright.engine.recovery.choices.worth import Worth
from rackwright.engine.recovery.loads import Bundle, Load, Variant
from rackwright.model.index import pole_or_none
from rackwright.model.night import Rewiring
from rackwright.model.places import PolePair
from rackwright.model.racks import channel_name


class _Way(NamedTuple):
    """A pole pair on a channel, at whatever socket."""

    pair: Pair
    channel: str
    sounds: bool
    """Whether it sounds where the channel does."""
    moved: bool


class Patching:
    """What may hang where in a programme."""

    def __init__(self, worth: Worth) -> None:
        self.worth, self.channels = worth, worth.channels
        self.columns, self.bundles = worth.columns, worth.bundles
        self.task, self.index, self.program = worth.task, worth.index, worth.columns.program
        self.sockets = Sockets(worth)
        self._near = kept(self._near_in)
        self.uses: dict[str, list[Use]] = defaultdict(list)
        """Channel → what may be on it."""
        self.by_section: dict[str, list[Use]] = defaultdict(list)
        """Section → what may bring it back, or keeps it playing."""
        self._at: dict[str, list[int]] = defaultdict(list)
        """Socket → the columns of what may be plugged into it."""
        self._follows: dict[str, list[int]] = defaultdict(list)
        """Socket → the columns of what is plugged from it, or into it, where another line was: one of them, so that none waits for the other."""
        self.patched: dict[int, str] = {}
        """The columns of pole pairs that are patched anew, and the channel that they leave; none where a plug was moved there, which handles it."""
        self._gone: dict[str, list[int]] = defaultdict(list)
        self._linked: dict[str, list[int]] = defaultdict(list)
        self.inside = {
            name
            for b in self.bundles
            for v in b.variants
            for load in v.loads
            if load
            for name in load.sections
        }
        """The sections that the programme has a say in."""
        self.split = False
        """Whether one plug moved may bring back what is missing together with what plays."""
        self._shorted = self._with_shorts()
        self._ways: dict[_Way, list[int]] = defaultdict(list)
        for number, bundle in enumerate(self.bundles):
            self._hang(number, bundle)
        self._use()
        self.columns.spares()
        for cabinet, taken in self._linked.items():
            self.program.row([*((c, 1.0) for c in taken), *((c, -1.0) for c in self._gone[cabinet])], 0, 0)
        self._one_plug_a_socket()
        self._free_the_bridged()
        for name in self.channels.names:
            self._bear(name)
            self._free_of_shorts(name)
            self._feed_what_hangs(name)

    def _near_in(self, rack: str) -> Sequence[str]:
        index = self.index
        return [n for n in self.channels.names if index.rack_of[index.channels[n].amplifier].id == rack]

    def _hang(self, number: int, bundle: Bundle) -> None:
        index = self.index
        home = index.sockets[bundle.socket]
        rack = index.rack_of[home.id]
        others = [
            s.id
            for s in rack.sockets
            if s.id != home.id and s.connector == home.connector and not index.lines_from.get(s.id)
        ]
        if not lame(home):
            others = [name for name in others if any(index.sockets[name].poles)]
        any_lame = any(lame(s) for s in rack.sockets if s is home or index.lines_from.get(s.id))
        taken = list(self.sockets.vacated(bundle)) if self.columns.wide else []
        options: list[tuple[int, Variant, str, list[int] | None, tuple[Rewiring, ...]]] = []
        needed = self.sockets.needed(bundle)
        names = [
            n for load in bundle.variants[0].loads if load for n in load.sections if n in self.task.weights
        ]
        self.split |= bool(needed and others and not self.worth.needy.issuperset(names))
        for v, variant in enumerate(bundle.variants):
            if (
                variant.moves
                and variant.moves[0].kind == "unplug"
                and not self.worth.unplugging(variant, names)
            ):
                continue
            free = [*others, *taken] if needed else others if self.sockets.gives_room(bundle) else []
            for at in [home.id, *free] if variant.movable else [home.id]:
                gains = None if at == home.id or any_lame else list(self.sockets.gaining(bundle, variant, at))
                if gains == []:
                    continue
                moves = variant.moves
                if at != home.id:
                    line = bundle.lines[0]
                    if moves and moves[-1].line and moves[-1].line.source == home.id:
                        moves = (replace(moves[-1], new=at, line=replace(moves[-1].line, source=at)),)
                    else:
                        moves = (*moves, Rewiring(kind="plug", at=line.id, old=home.id, new=at))
                options.append((v, variant, at, gains, moves))
        columns = self.columns.one_of({number: option[-1] for number, option in enumerate(options)})
        for column, (v, variant, at, gains, moves) in zip(columns.values(), options, strict=True):
            if not (at == home.id and leaves(bundle, variant)):
                self._at[at].append(column)
            if at in taken:
                self._follows[bundle.socket].append(column)
                self._follows[at].append(column)
            for move in moves:
                if move.kind == "line":
                    self.columns.taken[move.by].append(column)
            if variant.linked:
                self._linked[variant.linked].append(column)
            if variant.left:
                self._gone[variant.left].append(column)
            for k, load in enumerate(variant.loads):
                if load is not None:
                    self._patch((number, v, k), at, load, column, at == home.id, only=gains == [k])

    def _one_plug_a_socket(self) -> None:
        for columns in (*self._at.values(), *self._follows.values()):
            self.program.row([(c, 1.0) for c in columns], high=1)

    def _free_the_bridged(self) -> None:
        """A pair is bridged with nothing on its second half: what an empty socket has there comes off, or a line is plugged in."""
        for socket in self.index.rig.sockets():
            for k, text in enumerate(socket.poles if not self.index.lines_from.get(socket.id) else ()):
                pole = pole_or_none(text)
                bridged = self._bridged(pole.name) if pole and pole.name in self.channels.names else []
                if bridged:
                    at = str(PolePair(socket.id, k))
                    off = self.columns.add(Rewiring(kind="repatch", at=at, old=text, new=""))
                    free = [(c, 1.0) for c in (off, *self._at[socket.id])]
                    self.program.row([*free, *((c, -1.0) for c in bridged)], low=0)

    def _bridged(self, channel: str) -> list[int]:
        """The columns of a bridge that a channel may come to be the second half of."""
        pair, half = self.channels.place(channel)
        if not half or self.index.amplifiers[pair[0]].pair_mode(pair[1]) == "bridged":
            return []
        return [c for (_, mode), c in self.channels.settings[pair].items() if mode == "bridged"]

    def _patch(self, pair: Pair, socket: str, load: Load, there: int, home: bool, only: bool) -> None:
        """What a pole pair may be patched to while its bundle is at a socket; `only` to what is there, where it came for that."""
        index, task = self.index, self.task
        number, _, k = pair
        own_socket = index.sockets[self.bundles[number].socket]
        text = index.sockets[socket].pole(k)
        was = pole_or_none(text)
        at = f"{socket}/{k + 1}"
        passes = outage.passes(index.sockets[socket], k)
        heard = [name for name in load.sections if name in task.feeds]
        options: list[tuple[tuple[Rewiring, ...], _Way | None]] = []
        own = own_socket.pole(k)
        base = pole_or_none(own)
        same = home or (
            (load.shorted or not heard) and (text == own or (was is not None and not self._feed_of(was.name)))
        )
        if was and was.name in self.channels.feeds and same:
            sounds = bool(heard) and not load.shorted
            options.append(((), _Way(pair, was.name, sounds, moved=False) if passes else None))
        elif was is None:
            options.append(((), None))
        needy = bool(self.worth.needy.intersection(load.sections))
        given = [n for n in heard if n not in self.worth.needy]
        if was and not only and (not home or load.shorted or self.worth.giving_up(given)):
            options.append(((Rewiring(kind="repatch", at=at, old=text, new=""),), None))
        wide, variant = self.columns.wide, self.bundles[number].variants[pair[1]]
        stays = bool(variant.left)  # with a cabinet linked elsewhere nothing else of the bundle is changed
        around = wide or (needy and not given)  # else what plays would move too
        if (around or not home) and passes and heard and not load.shorted and not stays and base is not None:
            near = self._near(index.rack_of[socket].id)
            playing_on = {task.broken.sections[n].channel for n in heard}
            crossed = bool(variant.moves) and base.name not in playing_on  # by a line of other poles
            own_channels = index.channels_at(own_socket.id)
            others = near if around else ()
            for name in dict.fromkeys([*([base.name] if base.name in near else ()), *others]):
                if not self.channels.ever_usable(name) or (home and was and was.name == name):
                    continue
                new = f"{'-' if base.sign < 0 else ''}{name}"
                if (only and new != text) or not self.channels.may_bear(name, load):
                    continue
                comes_along = needy or (wide and (new == text or crossed))
                if name != base.name and not (comes_along or self.worth.moving(load, base.name, name)):
                    continue
                if name != base.name and self.worth.pointless(base.name, name):
                    continue
                if name != base.name and not self.channels.allowed(name, tuple(heard)):
                    continue
                playing = self.worth.playing(name)
                other = playing and not all(task.may_play(n, playing) for n in heard)
                leaves = not home and wide and name in own_channels
                if needy and other and not leaves and not self.worth.evictable(name):
                    continue
                way = _Way(pair, name, sounds=True, moved=True)
                move = Rewiring(kind="repatch", at=at, old=text, new=new)
                options.append(((move,) if new != text else (), way))
        alone = len(options) == 1 and not options[0][0]
        columns = [there] if alone else [self.columns.add(*moves, of=(number, k)) for moves, _ in options]
        for column, (moves, on) in zip(columns, options, strict=True):
            if on:
                self._ways[on].append(column)
            if moves:
                self.patched[column] = was.name if was and home else ""
        if not alone:
            self.program.row([*((c, 1.0) for c in columns), (there, -1.0)], 0, 0)

    def _feed_of(self, channel: str) -> str:
        """What a channel is given as the rig stands, whatever hangs on it."""
        at = self.index.channels.get(channel)
        return self.index.amplifiers[at.amplifier].feed_of(at.channel) if at else ""

    def _use(self) -> None:
        """Each pole pair on each channel, whatever the socket it hangs at: what it may play there, and whether it sounds.

        Nothing comes onto a channel that gives no sound; what stays on its own may.
        """
        together: dict[tuple[int, int, str, tuple[str, ...], bool], list[int]] = defaultdict(list)
        for way, columns in self._ways.items():
            column = columns[0]
            if len(columns) > 1:
                column = self.program.column()
                self.program.row([(column, 1.0), *((c, -1.0) for c in columns)], 0, 0)
            number, _, k = way.pair
            names = [name for name in self.load(way.pair).sections if name in self.task.feeds]
            own = pole_or_none(self.index.sockets[self.bundles[number].socket].pole(k))
            new = way.sounds and (own is None or own.name != way.channel)
            together[number, k, way.channel, tuple(self._fit(way, names, new)), new].append(column)
            sounds = self.columns.none
            if way.sounds:
                sounds = column if new else self._sounding(way.channel, column)
            use = Use(column, sounds, way.pair, way.channel, way.moved)
            self.uses[way.channel].append(use)
            if way.sounds and sounds != self.columns.none:
                for name in names:
                    self.by_section[name].append(use)
        for (_, _, channel, feeds, new), columns in together.items():
            self._hold_feed(channel, feeds, columns)
            for terms in self._conditions(channel) if new else ():
                self.program.row([*((c, 1.0) for c in columns), *((c, -f) for c, f in terms)], high=0)

    def _fit(self, way: _Way, names: Sequence[str], new: bool) -> Iterator[str]:
        """The feeds that may be on the channel of a pole pair, or on the first of its pair, for what hangs there."""
        at = self.index.channels[way.channel]
        kept = self.index.amplifiers[at.amplifier].feed_of(at.channel)
        for feed in {
            **self.channels.feeds[way.channel],
            **self.channels.feeds[self.channels.first(way.channel)],
        }:
            stays = feed == kept and not (names and way.moved)
            plays = names and all(self.task.may_play(name, feed) for name in names)
            if stays or (plays and (self.channels.plays(feed) or not new)):
                yield feed

    def _hold_feed(self, channel: str, feeds: Sequence[str], columns: Sequence[int]) -> None:
        """One of those feeds for what is on a channel, of which one column at most is 1; and no bridge that it is the second half of."""
        on = [(column, 1.0) for column in columns]
        if second := self._bridged(channel):
            self.program.row([*on, *((c, 1.0) for c in second)], high=1)
        self._give(channel, on, set(feeds))

    def _give(self, channel: str, on: Terms, feeds: Collection[str]) -> None:
        """What is on a channel is given one of those feeds: itself, or where it is joint the first of its pair."""
        joint = self.channels.joint(channel)
        givers = [(channel, -1.0, 0.0), *([(self.channels.first(channel), 1.0, 1.0)] if joint else [])]
        for own, sign, slack in givers:
            options = self.channels.feeds[own]
            if any(feed not in feeds for feed in options):
                fit = [(c, -1.0) for feed, c in options.items() if feed in feeds]
                self.program.row([*on, *fit, *((c, sign) for c in joint)], high=slack)

    def _feed_what_hangs(self, channel: str) -> None:
        """No channel is given a feed that nothing on it plays, nor on the second of its pair."""
        at = self.index.channels[channel]
        second = channel_name(at.amplifier, at.channel + 1) if at.channel % 2 == 0 else ""
        uses = [(use.column, -1.0) for name in (channel, second) for use in self.uses.get(name, ())]
        given = [(c, 1.0) for c in self.channels.feeds[channel].values() if c in self.columns.moves]
        if given:
            self.program.row([*given, *uses], high=0)

    def _conditions(self, channel: str) -> list[Terms]:
        """Of each of those one is 1 where a channel works."""
        found: list[Terms] = []
        settings = self.channels.settings_of(channel)
        if not settings or not all(usable for _, _, usable in settings):  # a bridge's second half has none
            found.append([(c, 1.0) for c, _, usable in settings if usable])
        amplifier = self.index.channels[channel].amplifier
        if len(powered := self.channels.powered(amplifier)) < len(self.channels.circuits[amplifier]):
            found.append(powered)
        return found

    def _sounding(self, channel: str, column: int) -> int:
        """The column that says whether what is patched to a channel sounds."""
        conditions = self._conditions(channel)
        givers = {channel, self.channels.first(channel)} if self.channels.joint(channel) else {channel}
        heard = [self.channels.plays(feed) for own in givers for feed in self.channels.feeds[own]]
        if not (all(conditions) and any(heard)):
            return self.columns.none
        dead = not all(heard)
        if not conditions and not dead and channel not in self._shorted:
            return column
        sounds = self.program.column()
        self.program.row([(sounds, 1.0), (column, -1.0)], high=0)
        for terms in conditions:
            self.program.row([(sounds, 1.0), *((c, -f) for c, f in terms)], high=0)
        if dead:
            self._give(
                channel, [(sounds, 1.0)], [feed for feed in self.index.feeds if self.channels.plays(feed)]
            )
        elif channel not in self._shorted:
            together = [(column, 1.0), *(term for terms in conditions for term in terms)]
            self.program.row([(sounds, 1.0), *((c, -f) for c, f in together)], low=-len(conditions))
        return sounds

    def _with_shorts(self) -> set[str]:
        """The channels that a shorted section keeps silent."""
        poles = (
            pole_or_none(self.index.sockets[bundle.socket].pole(k))
            for bundle in self.bundles
            for k, load in enumerate(bundle.variants[0].loads)
            if load and load.shorted
        )
        return {pole.name for pole in poles if pole}

    def _free_of_shorts(self, channel: str) -> None:
        """Nothing sounds on a channel while a shorted section hangs on it."""
        uses = self.uses[channel]
        for short in (use for use in uses if self.load(use.pair).shorted):
            for use in uses:
                if not self.load(use.pair).shorted:
                    self.program.row([(use.sounds, 1.0), (short.column, 1.0)], high=1)

    def load(self, pair: Pair) -> Load:
        bundle, variant, k = pair
        load = self.bundles[bundle].variants[variant].loads[k]
        assert load is not None
        return load

    def coming(self, channel: str) -> Terms:
        """S of what may come onto a channel."""
        return [(u.column, self.load(u.pair).conductance) for u in self.uses[channel] if u.moved]

    def room(self, channel: str) -> float:
        """S, the most that may come onto a channel besides what stays there."""
        stays = [self.load(u.pair).conductance for u in self.uses[channel] if u.column == self.columns.one]
        borne = [self.channels.most_borne(channel, s) for _, s, _ in self.channels.settings_of(channel)]
        return max(borne, default=0.0) - sum(stays)

    def _bear(self, channel: str) -> None:
        """What is on a channel together is not under its lowest rated load, but where it was."""
        uses, settings = self.uses[channel], self.channels.settings_of(channel)
        if not any(use.moved or use.pair[1] for use in uses) and len(settings) == 1:
            return
        branch = self.task.broken.branches[channel]
        now = branch.result.load_nominal
        borne = []
        for column, setting, _ in settings:
            most = (1 + 1e-9) / setting.output.points[-1].load
            same = setting.mode == branch.mode and setting.model == branch.amplifier.model
            if now and same and limits.load_nominal(branch).broken_by(now):
                most = 1.0009 / now
            borne.append((column, -most))
        self.program.row([*((u.column, self.load(u.pair).conductance) for u in uses), *borne], high=0)
        terminals = []
        for column, setting, _ in settings:
            terminals.append((column, -self.channels.current_cap(channel, setting)))
        if all(math.isfinite(cap) for _, cap in terminals):
            self.program.row([*((u.column, self.load(u.pair).admittance) for u in uses), *terminals], high=0)
