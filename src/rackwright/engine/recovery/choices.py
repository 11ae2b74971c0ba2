"""What can be done for a failure as a mixed-integer programme: which bundle at which socket, each pole pair on which channel.

A column of 0 or 1 stands for something that is so in the end; where the crew has to make it so, it carries the move. Channels
have a setting (amplifier model and mode), a feed and a trim; amplifiers a circuit. What the programme claims of a plan is
what the assessment will find: loads and gains are taken from there. Holds no judgement: a plan is what `planner` lets pass.
"""

import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple, TypeAlias

from msgspec.structs import replace

from rackwright.engine import amplifier as source
from rackwright.engine import limits, outage
from rackwright.engine.allocation.program import SLACK, Program, Solved, Terms
from rackwright.engine.channel import Output, output_of
from rackwright.engine.recovery import criteria, loads
from rackwright.engine.recovery.loads import Bundle, Load, Variant
from rackwright.engine.recovery.rewiring import in_order
from rackwright.engine.recovery.task import Task
from rackwright.engine.results import SectionResult
from rackwright.model.index import pole_or_none
from rackwright.model.rig import MODES, Amplifier, Mode, Rewiring, channel_name
from rackwright.units import Trim

HALF = 0.5
"""dB, the step of an input attenuator: common practice, no source."""
DEEPEST = 48
"""Steps down that a trim may go."""
BIG = 100.0
"""dB, more than any gain or change."""
SEEN = 0.24
"""dB of mismatch from which a trim is thought of: less rounds to nothing."""

Pair: TypeAlias = tuple[int, int, int]
"""Bundle, variant, pole pair."""


class Setting(NamedTuple):
    """How a channel pair may be set."""

    model: str
    mode: Mode
    output: Output
    usable: tuple[bool, ...]
    """By channel of the pair: whether it gives sound where its amplifier has power."""


class Use(NamedTuple):
    """A pole pair on a channel."""

    column: int
    sounds: int
    """The column that says whether it sounds; the same where that is sure."""
    pair: Pair
    socket: str
    channel: str
    moved: bool


class Promise(NamedTuple):
    """What the programme claims: the moves, and their criteria as far as it knows them."""

    moves: tuple[Rewiring, ...]
    figures: tuple[float, ...]
    """Silence, balance, change, loss, seconds."""
    proven: bool


class Choices:
    """The programme of one task."""

    def __init__(self, task: Task, wide: bool = True) -> None:
        """Where not `wide`, what plays stays as it is: nothing of it is moved or given up to make room."""
        self.task, self.index, self.wide = task, task.index, wide
        self.program = Program()
        self.one = self.program.column(1, 1)
        self.moves: dict[int, tuple[Rewiring, ...]] = {}
        """Column → what the crew does where it is 1."""
        self.racks = loads.scope(task)
        self.bundles = loads.bundles(task, self.racks)
        self._settings: dict[tuple[str, int], dict[tuple[str, Mode], int]] = {}
        self._of_setting: dict[tuple[str, int], dict[tuple[str, Mode], Setting]] = {}
        self._feeds: dict[str, dict[str, int]] = {}
        self._circuits: dict[str, dict[str, int]] = {}
        self._trims: dict[str, int] = {}
        self.uses: dict[str, list[Use]] = defaultdict(list)
        """Channel → what may be on it."""
        self._taken: dict[str, list[int]] = defaultdict(list)
        """Spare → the columns that take one of it."""
        self._at: dict[str, list[int]] = defaultdict(list)
        """Socket → the columns of what may be plugged into it."""
        self._gone_to: dict[str, int] = {}
        self._inside = {
            name
            for b in self.bundles
            for v in b.variants
            for load in v.loads
            if load
            for name in load.sections
        }
        """The sections that the programme has a say in."""
        self._by_section: dict[str, list[Use]] = defaultdict(list)
        self._gone: dict[str, list[int]] = defaultdict(list)
        self._linked: dict[str, list[int]] = defaultdict(list)
        self.amplifiers = self._concerned()
        self.channels = [
            channel_name(a.id, n)
            for a in self.amplifiers
            for n in range(self.index.amplifier_models[a.model].channels)
        ]
        self._shorted = self._with_shorts()
        self.needy = self._needy()
        self._missing = sum(task.weights[name] for name in self.needy)
        self._wanting = self._wants_of_needy()
        self._may_evict: dict[str, bool] = {}
        self._all_full: list[tuple[Terms, float]] | None = None
        wanted = dict.fromkeys(f for b in self.bundles for f in self._feeds_of(b))
        for amplifier in self.amplifiers:
            self._set(amplifier)
            self._power(amplifier)
            self._feed(amplifier, list(wanted))
        for number, bundle in enumerate(self.bundles):
            self._hang(number, bundle)
        self._spares()
        for cabinet, taken in self._linked.items():
            self.program.row([*((c, 1.0) for c in taken), *((c, -1.0) for c in self._gone[cabinet])], 0, 0)
        self._one_plug_a_socket()
        for name in self.channels:
            self._bear(name)
            self._free_of_shorts(name)
        self._mismatched()
        self.tilt = self._tilts()
        for terms, most in self._louder_rows():
            self.program.row(terms, high=most)
        self._breakers()
        self.silence = self._silence()
        self.seconds = self._seconds()
        self.muting = {
            column: weight
            for column, moves in self.moves.items()
            if (
                weight := sum(
                    [task.heard.get(name, 0.0) for move in moves for name in criteria.muted(task.index, move)]
                )
            )
        }
        """Column → the weight of what plays and is muted for its moves."""
        self.hush: Terms = [
            (column, cost)
            for column, moves in self.moves.items()
            if (cost := sum([criteria.hush(task, move) for move in moves]))
        ]

    # --- what there is ----------------------------------------------------------------------------------

    def _concerned(self) -> list[Amplifier]:
        """The amplifiers of the racks, and those elsewhere that something of them is patched to."""
        names = {a.id for rack in self.racks for a in self.index.racks[rack].amplifiers}
        for bundle in self.bundles:
            poles = map(pole_or_none, self.index.sockets[bundle.socket].poles)
            names |= {pole.amplifier for pole in poles if pole and pole.amplifier in self.index.amplifiers}
        return [a for a in self.index.amplifiers.values() if a.id in names]

    def _with_shorts(self) -> set[str]:
        """The channels that a shorted section keeps silent."""
        poles = (
            pole_or_none(self.index.sockets[bundle.socket].pole(k))
            for bundle in self.bundles
            for k, load in enumerate(bundle.variants[0].loads)
            if load and load.shorted
        )
        return {pole.name for pole in poles if pole}

    def _needy(self) -> set[str]:
        """The sections that are silent, or not as loud as they were."""
        found = set()
        for name in self.task.weights:
            now = self.task.broken.sections[name]
            if now.channel is None or not now.voltage or now.gain is None:
                found.add(name)
            else:
                loss = 20 * math.log10(self.task.voltages[name] / now.voltage)
                if max(abs(now.gain - self.task.gains[name]), loss) >= criteria.LEVEL / 2:
                    found.add(name)
        return found

    def _wants_of_needy(self) -> list[Load]:
        """Each pole pair that something is needed for."""
        return [
            load
            for b in self.bundles
            for load in b.variants[0].loads
            if load and self.needy.intersection(load.sections)
        ]

    def _kind(self, channel: str) -> tuple[object, ...]:
        """Channels that offer the same are of one kind."""
        at = self.index.channels[channel]
        amplifier = self.index.amplifiers[at.amplifier]
        return (amplifier.model, amplifier.pair_mode(at.channel), amplifier.channel(at.channel).trim.value)

    def _playing(self, channel: str) -> str:
        """The feed of what plays on a channel as the rig stands; empty where nothing does."""
        return self.task.broken.branches[channel].result.feed if self.task.heard.get(channel) else ""

    def _worth_moving(self, load: Load, old: str, new: str) -> bool:
        """Whether moving what plays well makes room that what is missing has not got there itself.

        It has where the other channel stands as open to it: then moving two things is worse than moving one.
        """
        if not self.wide or not self.task.heard.get(old):
            return False
        feed, there = self._playing(old), self._playing(new)
        if there not in ("", feed):
            return False
        need = self._terminal(load)
        for other in self._wanting:
            names = [name for name in other.sections if name in self.task.feeds]
            if not self._allowed(old, names) or not self._may_bear(old, other):
                continue
            if self._kind(old) != self._kind(new):
                return True
            larger = other.conductance > load.conductance * (1 + 1e-9) or self._terminal(other) > 1.05 * need
            apart = there == feed and not all(self.task.may_play(name, feed) for name in names)
            if larger or apart:
                return True
        return False

    def _terminal(self, load: Load) -> float:
        """V at the terminals with which its sections were as loud as before."""
        return self._needed_by(load, 0.0)

    def _pointless(self, own: str, new: str) -> bool:
        """Whether the channel that something was on is there again before another, or no later."""
        here, there = (self.index.amplifiers[self.index.channels[name].amplifier] for name in (own, new))
        if self.wide and here is not there:
            return False
        pole = self.index.channels[own]
        whole = here.channel(pole.channel).state == here.channel(pole.channel).input_state == "ok"
        if not whole or not self._ever_usable(own):
            return False
        if here is there:
            return here.state == "failed" or bool(outage.of_power(self.index, here))
        unpowered = [bool(outage.of_power(self.index, each)) for each in (here, there)]
        return here.state == "ok" and all(unpowered)

    def _evictable(self, channel: str) -> bool:
        """Whether what plays on a channel may be given up, or go elsewhere, for something that is missing."""
        if channel not in self._may_evict:
            on = [
                load
                for b in self.bundles
                for k, load in enumerate(b.variants[0].loads)
                if load
                and (pole := pole_or_none(self.index.sockets[b.socket].pole(k)))
                and pole.name == channel
            ]
            self._may_evict[channel] = all(
                self._worth_less([n for n in load.sections if n in self.task.weights and n not in self.needy])
                or any(
                    new != channel and self._may_bear(new, load) and self._worth_moving(load, channel, new)
                    for new in self.channels
                )
                for load in on
            )
        return self._may_evict[channel]

    def _worth_less(self, names: Sequence[str]) -> bool:
        """Whether giving that up may bring more back."""
        weight = min((self.task.weights[name] for name in names), default=0.0)
        if not self.wide and weight:
            return False
        return weight < self._missing + SLACK if self.task.sides else weight < self._missing - SLACK

    def _feeds_of(self, bundle: Bundle) -> Iterator[str]:
        for load in bundle.variants[0].loads:
            for name in load.sections if load else ():
                if name in self.task.feeds and name in self.needy:
                    yield from (feed for feed in self.index.feeds if self.task.may_play(name, feed))

    def _near(self, socket: str) -> Iterator[str]:
        rack = self.index.rack_of[socket]
        return (
            name for name in self.channels if self.index.rack_of[self.index.channels[name].amplifier] is rack
        )

    def _column(self, *moves: Rewiring) -> int:
        """A column that stands for moves; for nothing to be done where there are none."""
        column = self.program.column()
        if moves:
            self.moves[column] = moves
        return column

    # --- channels ---------------------------------------------------------------------------------------

    def _set(self, amplifier: Amplifier) -> None:
        index = self.index
        count = index.amplifier_models[amplifier.model].channels
        dead_rack = index.rack_of[amplifier.id].state == "failed"
        models = [amplifier.model]
        broken = amplifier.state == "failed" or any(
            amplifier.channel(n).state == "failed" for n in range(count)
        )
        if broken and not dead_rack:
            models += [
                s.amplifier
                for s in index.rig.spares
                if s.count
                and s.amplifier in index.amplifier_models
                and index.amplifier_models[s.amplifier].channels >= count
                and s.amplifier not in models[1:]
            ]
        swaps = {
            number: self.program.column()
            if not number
            else self._column(Rewiring(kind="amplifier", at=amplifier.id, old=amplifier.model, new=m, by=m))
            for number, m in enumerate(models)
        }
        self.program.row([(column, 1.0) for column in swaps.values()], 1, 1)
        for number, column in swaps.items():
            if number:
                self._taken[models[number]].append(column)
        for first in range(0, count, 2):
            was = amplifier.pair_mode(first)
            paired = first + 1 < count
            modes = [was, *self._other_modes(amplifier, first)] if paired and not dead_rack else [was]
            at = channel_name(amplifier.id, first)
            mode_columns = {
                m: self.program.column()
                if m == was
                else self._column(Rewiring(kind="mode", at=at, old=was, new=m))
                for m in modes
            }
            key = (amplifier.id, first)
            self._settings[key], self._of_setting[key] = {}, {}
            for number, column in swaps.items():
                options = {}
                for mode in modes:
                    model = index.amplifier_models[models[number]]
                    usable = tuple(
                        [
                            not dead_rack and self._usable(amplifier, n, mode, new=number > 0)
                            for n in range(first, min(first + 2, count))
                        ]
                    )
                    name = (f"{number}", mode)
                    options[mode] = self._settings[key][name] = self.program.column()
                    self._of_setting[key][name] = Setting(
                        models[number], mode, output_of(model, mode == "bridged"), usable
                    )
                self.program.row([*((c, 1.0) for c in options.values()), (column, -1.0)], 0, 0)
            for mode, column in mode_columns.items():
                held = [c for (_, m), c in self._settings[key].items() if m == mode]
                self.program.row([*((c, 1.0) for c in held), (column, -1.0)], 0, 0)

    def _other_modes(self, amplifier: Amplifier, first: int) -> list[Mode]:
        """What else a pair may be set to: what gets round a failure in it or frees a channel, and a bridge of what one channel drives."""
        was = amplifier.pair_mode(first)
        halves = [amplifier.channel(number) for number in (first, first + 1)]
        lame = amplifier.state == "failed" or any(
            half.state == "failed" or half.input_state == "failed" for half in halves
        )
        pair = [channel_name(amplifier.id, number) for number in (first, first + 1)]
        branches = self.task.before.branches
        idle = not any(branches[name].sections for name in pair if name in branches)
        single = sum(bool(branches[name].sections) for name in pair if name in branches) < 2
        useful = {"dual": lame or idle or self.wide, "parallel": lame, "bridged": idle or (lame and single)}
        return [mode for mode in MODES if mode != was and useful[mode]]

    def _usable(self, amplifier: Amplifier, channel: int, mode: Mode, new: bool) -> bool:
        first = channel - channel % 2
        if mode == "bridged" and channel != first:
            return False
        own = (first, first + 1) if mode == "bridged" else (channel,)
        works = new or (amplifier.state == "ok" and all(amplifier.channel(n).state == "ok" for n in own))
        entry = channel if mode == "dual" else first
        return works and amplifier.channel(entry).input_state == "ok"

    def _power(self, amplifier: Amplifier) -> None:
        index = self.index
        column = self.program.column()
        options = {amplifier.circuit: column}
        if outage.of_power(index, amplifier):
            rack = index.rack_of[amplifier.id]
            reached = amplifier.reaches or rack.reaches
            for circuit in index.rig.circuits:
                if outage.of_circuit(index.rig.supply, circuit) or (reached and circuit.id not in reached):
                    continue
                move = Rewiring(kind="circuit", at=amplifier.id, old=amplifier.circuit, new=circuit.id)
                options[circuit.id] = self._column(move)
        self.program.row([(c, 1.0) for c in options.values()], 1, 1)
        self._circuits[amplifier.id] = options

    def _powered(self, amplifier: str) -> Terms:
        """The columns of which one is 1 where an amplifier has power."""
        thing = self.index.amplifiers[amplifier]
        dead = bool(outage.of_power(self.index, thing))
        return [
            (c, 1.0) for name, c in self._circuits[amplifier].items() if name != thing.circuit or not dead
        ]

    def _feed(self, amplifier: Amplifier, wanted: Sequence[str]) -> None:
        for number in range(self.index.amplifier_models[amplifier.model].channels):
            name, own = channel_name(amplifier.id, number), amplifier.channel(number).feed
            options = {own: self.program.column()}
            second = channel_name(
                amplifier.id, number + 1
            )  # in parallel mode it plays what the first is given
            joint = number % 2 == 0 and second in self.channels and self._ever_usable(second)
            if self._ever_usable(name) or joint:
                for feed in wanted:
                    if feed != own and self.index.feeds[feed].state == "ok":
                        move = Rewiring(kind="feed", at=name, old=own, new=feed)
                        options[feed] = self._column(move)
            self.program.row([(c, 1.0) for c in options.values()], 1, 1)
            self._feeds[name] = options

    def _place(self, channel: str) -> tuple[tuple[str, int], int]:
        """The pair of a channel, and which of the two it is."""
        at = self.index.channels[channel]
        return (at.amplifier, at.channel - at.channel % 2), at.channel % 2

    def _settings_of(self, channel: str) -> Iterator[tuple[int, Setting, bool]]:
        """The columns and settings of a channel that has an output of its own in it, and whether it is usable so."""
        pair, half = self._place(channel)
        for name, column in self._settings[pair].items():
            setting = self._of_setting[pair][name]
            if setting.mode != "bridged" or not half:
                yield column, setting, setting.usable[half]

    def _ever_usable(self, channel: str) -> bool:
        return bool(self._powered(self.index.channels[channel].amplifier)) and any(
            usable for _, _, usable in self._settings_of(channel)
        )

    def _spares(self) -> None:
        """No more spares in use than there are."""
        for spare in self.index.rig.spares:
            if taken := self._taken.get(spare.id):
                self.program.row([(c, 1.0) for c in taken], high=spare.count)

    # --- bundles ----------------------------------------------------------------------------------------

    def _hang(self, number: int, bundle: Bundle) -> None:
        index = self.index
        home = index.sockets[bundle.socket]
        rack = index.rack_of[home.id]
        others = [
            s.id
            for s in rack.sockets
            if s.id != home.id and s.connector == home.connector and not index.lines_from.get(s.id)
        ]
        if home.state == "ok" and not home.failed_pairs:
            others = [name for name in others if any(index.sockets[name].poles)]
        columns = []
        needed = any(self.needy.intersection(load.sections) for load in bundle.variants[0].loads if load)
        names = [
            n for load in bundle.variants[0].loads if load for n in load.sections if n in self.task.weights
        ]
        for v, variant in enumerate(bundle.variants):
            if (
                variant.moves
                and variant.moves[0].kind == "unplug"
                and not self._worth_unplugging(variant, names)
            ):
                continue
            for at in [home.id, *others] if variant.movable and needed else [home.id]:
                moves = variant.moves
                if at != home.id:
                    line = bundle.lines[0]
                    if moves and moves[-1].kind == "line" and moves[-1].line:
                        moves = (replace(moves[-1], new=at, line=replace(moves[-1].line, source=at)),)
                    else:
                        moves = (Rewiring(kind="plug", at=line.id, old=home.id, new=at),)
                column = self._column(*moves)
                columns.append(column)
                self._at[at].append(column)
                for move in moves:
                    if move.kind == "line":
                        self._taken[move.by].append(column)
                if variant.linked:
                    self._linked[variant.linked].append(column)
                if variant.left:
                    self._gone[variant.left].append(column)
                for k, load in enumerate(variant.loads):
                    if load is not None:
                        self._patch((number, v, k), at, load, column, at == home.id)
        self.program.row([(c, 1.0) for c in columns], 1, 1)

    def _worth_unplugging(self, variant: Variant, names: Sequence[str]) -> bool:
        """Whether that gives up less than it may bring back, or frees a channel from a shorted section."""
        kept = {name for load in variant.loads if load for name in load.sections}
        given = [name for name in names if name not in kept and name not in self.needy]
        if given and not self.wide:
            return False
        return sum(self.task.weights[name] for name in given) < self._missing + SLACK

    def _one_plug_a_socket(self) -> None:
        for name, columns in self._at.items():
            if not self.index.lines_from.get(name):
                self.program.row([(c, 1.0) for c in columns], high=1)

    def _patch(self, pair: Pair, socket: str, load: Load, there: int, home: bool) -> None:
        """What a pole pair may be patched to while its bundle is at a socket."""
        index, task = self.index, self.task
        number, _, k = pair
        own_sign = loads.sign_of(index, self.bundles[number].socket, k)
        text = index.sockets[socket].pole(k)
        was = pole_or_none(text)
        at = f"{socket}/{k + 1}"
        passes = outage.passes(index.sockets[socket], k)
        heard = [name for name in load.sections if name in task.feeds]
        columns = []
        own = index.sockets[self.bundles[number].socket].pole(k)
        same = home or (text == own and (load.shorted or not heard))
        if was and was.name in self._feeds and same:
            columns.append(column := self._column())
            if passes:
                self._use(pair, socket, load, was.name, column, bool(heard) and not load.shorted, moved=False)
        elif was is None:
            columns.append(self._column())
        needy = bool(self.needy.intersection(load.sections))
        if was and (not home or load.shorted or self._worth_less([n for n in heard if n not in self.needy])):
            columns.append(self._column(Rewiring(kind="repatch", at=at, old=text, new="")))
        variant = self.bundles[number].variants[pair[1]]
        stays = bool(variant.left)  # with a cabinet linked elsewhere nothing else of the bundle is changed
        if passes and heard and not load.shorted and not stays and self._was_wired(number, k):
            base = pole_or_none(index.sockets[self.bundles[number].socket].pole(k))
            for name in sorted(self._near(socket), key=lambda name: base is None or name != base.name):
                if not self._ever_usable(name) or (home and was and was.name == name):
                    continue
                if not self._may_bear(name, load) or not self._allowed(name, heard):
                    continue
                if base and name != base.name and not needy and not self._worth_moving(load, base.name, name):
                    continue
                if base and name != base.name and self._pointless(base.name, name):
                    continue
                playing = self._playing(name)
                other = playing and not all(task.may_play(n, playing) for n in heard)
                if needy and other and not self._evictable(name):
                    continue
                new = f"{'-' if own_sign < 0 else ''}{name}"
                column = (
                    self._column()
                    if new == text
                    else self._column(Rewiring(kind="repatch", at=at, old=text, new=new))
                )
                columns.append(column)
                self._use(pair, socket, load, name, column, True, moved=True)
        self.program.row([*((c, 1.0) for c in columns), (there, -1.0)], 0, 0)

    def _was_wired(self, number: int, k: int) -> bool:
        return pole_or_none(self.index.sockets[self.bundles[number].socket].pole(k)) is not None

    def _may_bear(self, channel: str, load: Load) -> bool:
        return any(
            load.conductance * setting.output.points[-1].load <= 1 + 1e-9
            for _, setting, usable in self._settings_of(channel)
            if usable
        )

    def _allowed(self, channel: str, heard: Sequence[str]) -> bool:
        first = channel_name(*self._place(channel)[0])
        feeds = {*self._feeds[channel], *self._feeds[first]}
        return any(all(self.task.may_play(name, feed) for name in heard) for feed in feeds)

    def _use(
        self, pair: Pair, socket: str, load: Load, channel: str, column: int, heard: bool, moved: bool
    ) -> None:
        """A pole pair on a channel: what it may play there, and whether it sounds."""
        program, task = self.program, self.task
        names = [name for name in load.sections if name in task.feeds]
        (amplifier, first_number), half = self._place(channel)
        first = channel_name(amplifier, first_number)
        second = [c for n, c in self._settings[amplifier, first_number].items() if n[1] == "bridged" and half]
        if second and self.index.amplifiers[amplifier].pair_mode(first_number) != "bridged":
            program.row([(column, 1.0), *((c, 1.0) for c in second)], high=1)
        joint = [c for n, c in self._settings[amplifier, first_number].items() if n[1] != "dual" and half]
        for own, others in ((channel, [(c, 1.0) for c in joint]), (first, [(c, -1.0) for c in joint])):
            if own == channel or joint:
                options = self._feeds[own]
                kept = self.index.amplifiers[amplifier].feed_of(self.index.channels[channel].channel)
                fit = [
                    (c, 1.0)
                    for feed, c in options.items()
                    if (not names and feed == kept)
                    or (names and all(task.may_play(n, feed) for n in names))
                    or (not moved and feed == kept)
                ]
                if len(fit) == len(options):
                    continue
                slack = 0.0 if own == channel else 1.0
                program.row(
                    [(column, 1.0), *((c, -1.0) for c, _ in fit), *((c, -f) for c, f in others)], high=slack
                )
        sounds = self._sounding(channel, column, names) if heard else column
        use = Use(column, sounds, pair, socket, channel, moved)
        self.uses[channel].append(use)
        if heard:
            for name in names:
                self._by_section[name].append(use)

    def _sounding(self, channel: str, column: int, names: Sequence[str]) -> int:
        """The column that says whether what is patched to a channel sounds."""
        conditions: list[tuple[Terms, float]] = []
        settings = list(self._settings_of(channel))
        if not all(usable for _, _, usable in settings):
            conditions.append(([(c, 1.0) for c, _, usable in settings if usable], 0.0))
        amplifier = self.index.channels[channel].amplifier
        if len(powered := self._powered(amplifier)) < len(self._circuits[amplifier]):
            conditions.append((powered, 0.0))
        (_, number), half = self._place(channel)
        first = channel_name(amplifier, number)
        dead = [
            c
            for own in {channel, first}
            for feed, c in self._feeds[own].items()
            if feed == "" or feed not in self.index.feeds or self.index.feeds[feed].state == "failed"
        ]
        if not conditions and not dead and channel not in self._shorted:
            return column
        sounds = self.program.column()
        self.program.row([(sounds, 1.0), (column, -1.0)], high=0)
        for terms, constant in conditions:
            self.program.row([(sounds, 1.0), *((c, -f) for c, f in terms)], high=constant)
        if dead:
            joint = [c for n, c in self._settings[amplifier, number].items() if n[1] != "dual" and half]
            for own, sign, slack in ((channel, -1.0, 0.0), (first, 1.0, 1.0)):
                if own == channel or joint:
                    live = [c for feed, c in self._feeds[own].items() if c not in dead]
                    self.program.row(
                        [(sounds, 1.0), *((c, -1.0) for c in live), *((c, sign) for c in joint)], high=slack
                    )
        elif channel not in self._shorted:
            together = [(column, 1.0), *(term for terms, _ in conditions for term in terms)]
            constant = sum(constant for _, constant in conditions)
            self.program.row([(sounds, 1.0), *((c, -f) for c, f in together)], low=constant - len(conditions))
        return sounds

    def _free_of_shorts(self, channel: str) -> None:
        """Nothing sounds on a channel while a shorted section hangs on it."""
        uses = self.uses[channel]
        for short in (use for use in uses if self._load(use.pair).shorted):
            for use in uses:
                if not self._load(use.pair).shorted:
                    self.program.row([(use.sounds, 1.0), (short.column, 1.0)], high=1)

    def _load(self, pair: Pair) -> Load:
        bundle, variant, k = pair
        load = self.bundles[bundle].variants[variant].loads[k]
        assert load is not None
        return load

    def _bear(self, channel: str) -> None:
        """What is on a channel together is not under its lowest rated load, but where it was."""
        uses, settings = self.uses[channel], list(self._settings_of(channel))
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
        self.program.row([*((u.column, self._load(u.pair).conductance) for u in uses), *borne], high=0)
        terminals = []
        for column, setting, _ in settings:
            terminals.append((column, -self._current_cap(setting)))
        if all(math.isfinite(cap) for _, cap in terminals):
            self.program.row([*((u.column, self._load(u.pair).admittance) for u in uses), *terminals], high=0)

    def _most_borne(self, channel: str) -> float:
        """S, the most that may be on a channel: what its lowest rated load allows, or what is on it already."""
        now = self.task.broken.branches[channel].result.load_nominal
        rated = max(
            [0.0, *(1 / setting.output.points[-1].load for _, setting, _ in self._settings_of(channel))]
        )
        return max(rated, 1 / now if now else 0.0) * 1.001

    def _current_cap(self, setting: Setting) -> float:
        """The admittance up to which the terminals bear the lasting current; infinite where they always do."""
        model = self.index.amplifier_models[setting.model]
        lasting = math.sqrt(self.index.rig.targets.heavy_duty)
        points, most = setting.output.points, model.max_current.value / lasting
        if source.limit_voltage(points, points[-1].load) / points[-1].load <= most:
            return math.inf
        return 1 / _lowest_load(
            points[-1].load, 1e4, lambda load: source.limit_voltage(points, load) / load <= most
        )

    # --- level ------------------------------------------------------------------------------------------

    def _trim(self, channel: str) -> Trim:
        """As it is set before any move."""
        at = self.index.channels[channel]
        return self.index.amplifiers[at.amplifier].channel(at.channel).trim

    def _mismatched(self) -> None:
        """A trim for each channel on which something may come to be louder or quieter than it was, or that has room up."""
        for name in self.channels:
            if not self._ever_usable(name):
                continue
            trim = self._trim(name).value
            off = any(
                abs(setting.output.gain + trim + difference) > SEEN
                for _, setting, usable in self._settings_of(name)
                if usable
                for use in self.uses[name]
                for difference in self._differences(use)
            )
            room = math.floor(-trim / HALF + 1e-9)
            if not off and not (room > 0 and self.task.sides):
                continue
            steps = self.program.column(-DEEPEST, room)
            changed = self.program.column()
            self.program.row([(steps, 1.0), (changed, DEEPEST)], low=0)
            self.program.row([(steps, 1.0), (changed, -room)], high=0)
            pair, _ = self._place(name)
            anew = [(c, float(DEEPEST)) for n, c in self._settings[pair].items() if not self._as_was(pair, n)]
            new = [(use.column, float(DEEPEST)) for use in self.uses[name] if use.moved or use.pair[1]]
            self.program.row([(steps, 1.0), *anew, *new], low=0)
            self._trims[name] = steps
            old = str(self._trim(name))
            self.moves[changed] = (Rewiring(kind="trim", at=name, old=old, new=old),)

    def _as_was(self, pair: tuple[str, int], name: tuple[str, Mode]) -> bool:
        amplifier = self.index.amplifiers[pair[0]]
        return name == ("0", amplifier.pair_mode(pair[1]))

    def _differences(self, use: Use) -> list[float]:
        """dB by which each section's way from the terminals is over its whole gain before the failure."""
        load = self._load(use.pair)
        return [
            20 * math.log10(transfer) - self.task.gains[name]
            for name, transfer in zip(load.sections, load.transfers, strict=True)
            if name in self.task.gains
        ]

    def _gain(self, channel: str) -> Terms:
        """dB from the processor to a channel's terminals."""
        terms: list[tuple[int, float]] = [
            (column, setting.output.gain) for column, setting, _ in self._settings_of(channel)
        ]
        terms.append((self.one, self._trim(channel).value))
        if channel in self._trims:
            terms.append((self._trims[channel], HALF))
        return terms

    def _alike(self) -> dict[tuple[Pair, str], list[Use]]:
        """Uses by pole pair and channel, whatever the socket."""
        found: dict[tuple[Pair, str], list[Use]] = defaultdict(list)
        for uses in self.uses.values():
            for use in uses:
                if self._differences(use):
                    found[use.pair, use.channel].append(use)
        return found

    def _louder_rows(self) -> list[tuple[Terms, float]]:
        """Nothing comes back louder: higher gain is trimmed down."""
        return self.change_rows(0, (1.0,))

    def change_rows(self, step: int, signs: Sequence[float] = (1.0, -1.0)) -> list[tuple[Terms, float]]:
        """Rows that keep every section within so many steps of its level at unchanged processor settings."""
        most = (step + 0.5) * criteria.LEVEL - 1e-6
        rows: list[tuple[Terms, float]] = []
        for (_, channel), uses in self._alike().items():
            differences = self._differences(uses[0])
            sound = [(use.sounds, 1.0) for use in uses]
            for sign in signs:
                far = max(differences) if sign > 0 else -min(differences)
                terms = [(c, sign * f) for c, f in self._gain(channel)]
                top = self._most(channel, sign) + far - most
                if top > 0:
                    rows.append(([*terms, *((c, top) for c, _ in sound)], most - far + top))
        return rows

    def _most(self, channel: str, sign: float) -> float:
        """dB, the highest gain that a channel may have, or the lowest with its sign turned."""
        trim = self._trim(channel).value
        gains = [sign * (setting.output.gain + trim) for _, setting, _ in self._settings_of(channel)]
        if len(gains) < len(self._settings[self._place(channel)[0]]):
            gains.append(sign * trim)  # as the second of a bridge it has no gain
        if channel not in self._trims:
            return max(gains, default=0.0)
        return max(gains) + (-trim if sign > 0 else DEEPEST * HALF)

    def change_of(self, solved: Solved) -> float:
        """dB, the largest change of level at a solution."""
        worst = max(
            [abs((s.gain or 0.0) - self.task.gains[n]) for n, s in self._outside().items() if s.channel],
            default=0.0,
        )
        for (_, channel), uses in self._alike().items():
            if any(solved.on(use.sounds) for use in uses):
                gain = self.program.value(self._gain(channel), solved.columns)
                worst = max(worst, *[abs(gain + way) for way in self._differences(uses[0])])
        return worst

    def _outside(self) -> dict[str, SectionResult]:
        """The sections that the programme has no say in."""
        return {n: self.task.broken.sections[n] for n in self.task.weights if n not in self._inside}

    def _tilts(self) -> Terms:
        """The column of the largest change between left and right, in dB; none where there are no sides."""
        if not self.task.sides:
            return []
        tilt = self.program.column(0, BIG, whole=False)
        for sides in self.task.sides.values():
            terms: list[tuple[int, float]] = []
            for sign, (_, names) in zip((1.0, -1.0), sorted(sides.items()), strict=True):
                for name in names:
                    terms += [(c, sign * f / len(names)) for c, f in self._change_of(name)]
            self.program.row([(tilt, 1.0), *((c, -f) for c, f in terms)], low=0)
            self.program.row([(tilt, 1.0), *terms], low=0)
        return [(tilt, 1.0)]

    def _change_of(self, name: str) -> Terms:
        """dB by which a section's level changes; what is silent counts as so far down."""
        section = self.task.broken.sections[name]
        if name not in self._inside:
            told = section.channel is not None and section.gain is not None
            return [(self.one, (section.gain or 0.0) - self.task.gains[name] if told else criteria.SILENT)]
        uses = self._by_section[name]
        ways = [self._way(use, name) for use in uses]
        gains = [self._only_gain(use.channel) for use in uses]
        known = [way + gain for way, gain in zip(ways, gains, strict=True) if gain is not None]
        if len(known) == len(uses):
            heard = [(use.sounds, change - criteria.SILENT) for use, change in zip(uses, known, strict=True)]
            return [(self.one, criteria.SILENT), *heard]
        column = self.program.column(-BIG, BIG, whole=False)
        for sign in (1.0, -1.0):
            silent = [(use.sounds, BIG) for use in uses]
            self.program.row([(column, sign), *silent], low=sign * criteria.SILENT)
            for use, way in zip(uses, ways, strict=True):
                gain = [(c, -sign * f) for c, f in self._gain(use.channel)]
                self.program.row([(column, sign), *gain, (use.sounds, -BIG)], low=sign * way - BIG)
        return [(column, 1.0)]

    def _way(self, use: Use, name: str) -> float:
        """dB by which a section's way from the terminals is over its whole gain before the failure."""
        load = self._load(use.pair)
        return 20 * math.log10(load.transfers[load.sections.index(name)]) - self.task.gains[name]

    def _only_gain(self, channel: str) -> float | None:
        """dB from the processor to a channel's terminals, where nothing can change it."""
        gains = {setting.output.gain for _, setting, _ in self._settings_of(channel)}
        if channel in self._trims or len(gains) != 1:
            return None
        return gains.pop() + self._trim(channel).value

    def loss_rows(self, step: int) -> list[tuple[Terms, float]]:
        """Rows that keep every section within so many steps of its maximum level before."""
        most = (step + 0.5) * criteria.LEVEL - 1e-6
        rows: list[tuple[Terms, float]] = []
        for channel in self.channels:
            uses = self.uses[channel]
            every = [(u.column, self._load(u.pair).admittance) for u in uses]
            settings = list(self._settings_of(channel))
            whole = min(sum(y for _, y in every), self._most_borne(channel))
            if not whole:
                continue
            grouped: dict[float, list[Use]] = defaultdict(list)
            for use in uses:
                if (needed := self._needed(use, most)) > 0:
                    grouped[round(needed, 6)].append(use)
            for needed, those in grouped.items():
                caps = [
                    min(max(_admittance_for(setting.output.points, needed), 0.0), whole)
                    for _, setting, _ in settings
                ]
                least = min(caps)
                if least >= whole:
                    continue
                more = [
                    (c, least - cap) for (c, _, _), cap in zip(settings, caps, strict=True) if cap > least
                ]
                rows += [([*every, *more, (use.sounds, whole - least)], whole) for use in those]
        return rows

    def _needed(self, use: Use, loss: float) -> float:
        return self._needed_by(self._load(use.pair), loss)

    def _needed_by(self, load: Load, loss: float) -> float:
        """V at the terminals that no section is quieter with by more than so many dB."""
        return max(
            (
                self.task.voltages[name] * 10 ** (-loss / 20) / transfer
                for name, transfer in zip(load.sections, load.transfers, strict=True)
                if name in self.task.voltages
            ),
            default=0.0,
        )

    def loss_of(self, solved: Solved) -> float:
        """dB, the largest loss of maximum level at a solution."""
        worst = max(
            (
                20 * math.log10(self.task.voltages[name] / s.voltage)
                for name, s in self._outside().items()
                if s.voltage
            ),
            default=0.0,
        )
        for channel in self.channels:
            on = [use for use in self.uses[channel] if solved.on(use.column)]
            total = sum(self._load(use.pair).admittance for use in on)
            setting = next((s for c, s, _ in self._settings_of(channel) if solved.on(c)), None)
            if not total or setting is None:
                continue
            voltage = source.limit_voltage(setting.output.points, 1 / total)
            for use in on:
                load = self._load(use.pair)
                for name, transfer in zip(load.sections, load.transfers, strict=True):
                    if name in self.task.voltages and solved.on(use.sounds):
                        worst = max(worst, 20 * math.log10(self.task.voltages[name] / (voltage * transfer)))
        return worst

    # --- the mains --------------------------------------------------------------------------------------

    def _breakers(self) -> None:
        """No circuit over its breaker at programme, reckoned with the least that an amplifier can draw for its loads."""
        index, targets = self.index, self.index.rig.targets
        if all(len(options) == 1 for options in self._circuits.values()):
            return
        stop = limits.loading_stop(index.rig.supply.rules).value
        inside = {a.id for a in self.amplifiers}
        for circuit in index.rig.circuits:
            if outage.of_circuit(index.rig.supply, circuit):
                continue
            result = self.task.broken.circuits[circuit.id]
            most = max(stop * result.breaker, result.programme_current * (1 + criteria.GRAVER))
            terms: list[tuple[int, float]] = []
            for name in result.amplifiers:
                if name not in inside:
                    terms.append((self.one, self.task.broken.amplifiers[name].programme_current))
                else:
                    terms += self._draw(index.amplifiers[name], targets.programme_duty)
            for amplifier in self.amplifiers:
                column = self._circuits[amplifier.id].get(circuit.id)
                if column is None or amplifier.circuit == circuit.id:
                    continue
                draw = self._draw(amplifier, targets.programme_duty)
                top = self._most_drawn(amplifier, targets.programme_duty)
                carried = self.program.column(0, top, whole=False)
                self.program.row([(carried, 1.0), *((c, -f) for c, f in draw), (column, -top)], low=-top)
                terms.append((carried, 1.0))
            self.program.row(terms, high=most + 1e-6)

    def _most_drawn(self, amplifier: Amplifier, duty: float) -> float:
        """A, more than `_draw` can come to."""
        draw = self._draw(amplifier, duty)
        model, supply = self.index.amplifier_models[amplifier.model], self.index.rig.supply
        full = sum(
            max(
                [
                    0.0,
                    *(p.voltage * p.current for _, s, _ in self._settings_of(name) for p in s.output.points),
                ]
            )
            for name in (channel_name(amplifier.id, n) for n in range(model.channels))
        )
        return draw[0][1] + duty / model.efficiency * full / (supply.voltage.value * model.power_factor)

    def _draw(self, amplifier: Amplifier, duty: float) -> Terms:
        model, supply = self.index.amplifier_models[amplifier.model], self.index.rig.supply
        volt_amperes = supply.voltage.value * model.power_factor
        terms: list[tuple[int, float]] = [(self.one, model.idle_power.value / volt_amperes)]
        for number in range(model.channels):
            name = channel_name(amplifier.id, number)
            settings = [s for _, s, usable in self._settings_of(name) if usable]
            if not settings or any(s.model != amplifier.model for s in settings):
                continue
            least = min(source.limit_voltage(s.output.points, s.output.points[-1].load) for s in settings)
            factor = duty / model.efficiency / volt_amperes * least * least
            terms += [(use.sounds, factor * self._load(use.pair).admittance) for use in self.uses[name]]
        return terms

    # --- what is minimised ------------------------------------------------------------------------------

    def _silence(self) -> Terms:
        terms: list[tuple[int, float]] = []
        for name, weight in self.task.weights.items():
            if name in self._inside:
                terms.append((self.one, weight))
                terms += [(use.sounds, -weight) for use in self._by_section[name]]
            elif self.task.broken.sections[name].channel is None:
                terms.append((self.one, weight))
        for name in self._inside & self.task.weights.keys():
            if len(uses := self._by_section[name]) > 1:
                self.program.row([(use.sounds, 1.0) for use in uses], high=1)
        return terms

    def _seconds(self) -> Terms:
        """The time of each move, and the way to each rack."""
        targets = self.index.rig.targets
        terms = [
            (column, sum([criteria.time_of(targets.times, move) for move in moves]))
            for column, moves in self.moves.items()
        ]
        at: dict[str, list[int]] = defaultdict(list)
        for column, moves in self.moves.items():
            for place in criteria.places(self.index, moves):
                at[place].append(column)
        away = {}
        for place, columns in at.items():
            gone = self.program.column()
            for column in columns:
                self.program.row([(gone, 1.0), (column, -1.0)], low=0)
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
        return terms

    def _rest(self) -> Terms:
        """Spares used, then racks gone to, then the rig's order, all of it less than any hush."""
        terms = [(gone, 1e-3) for gone in self._gone_to.values()]
        count = len(self.moves)
        for number, (column, moves) in enumerate(self.moves.items()):
            spares = sum([bool(move.by) for move in moves])
            terms.append((column, 1e-2 * spares + 1e-4 * (1 + number) / count))
        return terms

    # --- asking -----------------------------------------------------------------------------------------

    def best(
        self, held: Sequence[tuple[Terms, float]] = (), first: str = "silence", full: bool = True
    ) -> Promise | None:
        """The first plan in order, or by seconds first, under some rows more; None where there is none.

        Where it is known that no plan is `full`, time is saved.
        """
        rows = list(held)
        if full and first == "silence" and (solved := self._minimised(self.seconds, [*rows, *self._full()])):
            figures = {"silence": 0.0, "balance": 0.0, "change": 0.0, "loss": 0.0}
            rows += self._full()
            return self._finished(solved, rows, figures, solved.proven)
        order = ["silence", "balance", "change", "loss"]
        proven, figures = True, {}
        solved = None
        if first != "silence":
            if (solved := self._minimised(self.seconds, rows)) is None:
                return None
            figures["seconds"] = criteria.rounded(solved.value, criteria.SECONDS)
            rows.append((self.seconds, figures["seconds"] + criteria.SECONDS / 2 - 1e-5))
        for name in order:
            if name in ("change", "loss"):
                assert solved is not None
                told = self._stepped(name, solved, rows)
                solved, figures[name], proven = told[0], told[1], proven and told[2]
                continue
            terms = self.silence if name == "silence" else self.tilt
            if not terms:
                figures[name] = 0.0
                continue
            now = self._minimised(terms, rows)
            if now is None:
                return None
            solved, proven = now, proven and now.proven
            figures[name] = (
                round(now.value, 6) if name == "silence" else criteria.rounded(now.value, criteria.BALANCE)
            )
            most = now.value + SLACK if name == "silence" else figures[name] + criteria.BALANCE / 2 - 1e-5
            rows.append((terms, most))
        assert solved is not None
        now = self._minimised(self.seconds, rows)
        return self._finished(now or solved, rows, figures, proven and now is not None and now.proven)

    def _minimised(self, terms: Terms, rows: Sequence[tuple[Terms, float]]) -> Solved | None:
        return self.program.minimised(terms, rows)

    def _full(self) -> list[tuple[Terms, float]]:
        """Rows of a plan by which nothing is lost."""
        if self._all_full is None:
            tilt = [(self.tilt, criteria.BALANCE / 2 - 1e-5)] if self.tilt else []
            self._all_full = [(self.silence, SLACK), *tilt, *self.change_rows(0), *self.loss_rows(0)]
        return self._all_full

    def _finished(
        self, solved: Solved, rows: list[tuple[Terms, float]], figures: dict[str, float], proven: bool
    ) -> Promise:
        """Of the quickest the one that is least heard, and the first of the rig."""
        figures["seconds"] = criteria.rounded(
            self.program.value(self.seconds, solved.columns), criteria.SECONDS
        )
        rows.append((self.seconds, figures["seconds"] + criteria.SECONDS / 2 - 1e-5))
        last = self._minimised([*self.hush, *self._rest()], rows)
        told = tuple([figures[name] for name in ("silence", "balance", "change", "loss", "seconds")])
        return Promise(self._moves(last or solved), told, proven and last is not None and last.proven)

    def _stepped(
        self, name: str, solved: Solved, rows: list[tuple[Terms, float]]
    ) -> tuple[Solved, float, bool]:
        """The least change, or loss, to its step; its rows are held from then on."""
        make, of = (self.change_rows, self.change_of) if name == "change" else (self.loss_rows, self.loss_of)
        reached = round(criteria.rounded(of(solved), criteria.LEVEL) / criteria.LEVEL)
        for step in range(reached):
            more = make(step)
            if now := self._minimised(self.silence, [*rows, *more]):
                rows += more
                return now, step * criteria.LEVEL, now.proven
        rows += make(reached)
        return solved, reached * criteria.LEVEL, True

    def _moves(self, solved: Solved) -> tuple[Rewiring, ...]:
        found = []
        for column, moves in self.moves.items():
            if not solved.on(column):
                continue
            for move in moves:
                if move.kind == "trim":
                    steps = solved.columns[self._trims[move.at]]
                    if not steps:
                        continue
                    was = self._trim(move.at).value
                    move = replace(move, new=str(Trim.parse(f"{was + HALF * steps:g} dB")))
                found.append(move)
        return in_order(found)

    def without(self, moves: Sequence[Rewiring], but: bool = False) -> None:
        """Never those moves again, whatever their trims: alone, or with `but`, together with any others either."""
        done = {_key(move) for move in moves}
        terms: list[tuple[int, float]] = []
        count = 0
        for column, each in self.moves.items():
            if each[0].kind == "trim":
                continue
            if all(_key(move) in done for move in each):
                terms.append((column, -1.0))
                count += 1
            elif not but:
                terms.append((column, 1.0))
        self.program.row(terms, low=1 - count)


def _key(move: Rewiring) -> tuple[str, str, str, str]:
    """Equal for moves that do the same."""
    return move.kind, move.at, move.new, move.by


def _admittance_for(points: tuple[source.Point, ...], voltage: float) -> float:
    """The admittance up to which the terminals hold a voltage: infinite where always, under 0 where never."""
    if voltage > points[0].voltage * (1 + 1e-9):
        return -1.0
    low, high = 1e-3, points[0].load
    if source.limit_voltage(points, low) >= voltage:
        return math.inf
    return 1 / _lowest_load(low, high, lambda load: source.limit_voltage(points, load) >= voltage)


def _lowest_load(low: float, high: float, fits: Callable[[float], bool]) -> float:
    """The load in Ω from which on it fits, between one that does not and one that does."""
    for _ in range(60):
        middle = math.sqrt(low * high)
        if fits(middle):
            high = middle
        else:
            low = middle
    return high
