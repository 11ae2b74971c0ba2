"""What each channel may be: its setting (amplifier model and mode), its feed, the circuit of its amplifier. Knows no load that hangs on it."""

import math
from collections.abc import Callable, Sequence

from rackwright.engine import amplifier as source
from rackwright.engine import mains, outage
from rackwright.engine.allocation.program import Terms
from rackwright.engine.channel import output_of
from rackwright.engine.circuit_room import may_hang
from rackwright.engine.recovery.choices.columns import Columns, Setting
from rackwright.engine.recovery.choices.kept import kept
from rackwright.engine.recovery.loads import Load
from rackwright.model.night import Rewiring
from rackwright.model.racks import MODES, Amplifier, Mode, channel_name


class Channels:
    """The channels of the amplifiers that a programme has a say in."""

    def __init__(self, columns: Columns, amplifiers: Sequence[Amplifier], wanted: Sequence[str]) -> None:
        """`wanted` are the feeds that a channel may be given."""
        self.columns, self.task, self.index, self.program = (
            columns,
            columns.task,
            columns.index,
            columns.program,
        )
        self.settings_of = kept(self._settings_of)  # each of these is asked for every pole pair
        self.powered = kept(self._powered)
        self.ever_usable = kept(self._ever_usable)
        self._lowest = kept(self._lowest_of)
        self.allowed = kept(self._allowed)
        self.amplifiers = amplifiers
        self.names = [
            channel_name(a.id, n)
            for a in amplifiers
            for n in range(self.index.amplifier_models[a.model].channels)
        ]
        self.settings: dict[tuple[str, int], dict[tuple[str, Mode], int]] = {}
        self._of_setting: dict[tuple[str, int], dict[tuple[str, Mode], Setting]] = {}
        self.feeds: dict[str, dict[str, int]] = {}
        self.circuits: dict[str, dict[str, int]] = {}
        for amplifier in amplifiers:
            self._set(amplifier)
            self._power(amplifier)
            self._feed(amplifier, wanted)

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
        swaps = self.columns.one_of(
            {
                number: (Rewiring(kind="amplifier", at=amplifier.id, old=amplifier.model, new=m, by=m),)
                if number
                else ()
                for number, m in enumerate(models)
            }
        )
        for number, column in swaps.items():
            if number:
                self.columns.taken[models[number]].append(column)
        for first in range(0, count, 2):
            was = amplifier.pair_mode(first)
            paired = first + 1 < count
            modes = [was, *self._other_modes(amplifier, first)] if paired and not dead_rack else [was]
            at = channel_name(amplifier.id, first)
            mode_columns = self.columns.one_of(
                {m: (Rewiring(kind="mode", at=at, old=was, new=m),) if m != was else () for m in modes}
            )
            both = len(models) > 1 and len(modes) > 1
            key = (amplifier.id, first)
            self.settings[key], self._of_setting[key] = {}, {}
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
                    alone = column if len(modes) == 1 else mode_columns[mode]
                    options[mode] = self.settings[key][name] = self.program.column() if both else alone
                    self._of_setting[key][name] = Setting(
                        models[number], mode, output_of(model, mode == "bridged"), usable
                    )
                if both:
                    self.program.row([*((c, 1.0) for c in options.values()), (column, -1.0)], 0, 0)
            for mode, column in mode_columns.items() if both else ():
                held = [c for (_, m), c in self.settings[key].items() if m == mode]
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
        useful = {
            "dual": lame or idle or self.columns.wide,
            "parallel": lame,
            "bridged": idle or (single and (lame or self.columns.wide)),
        }
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
        options: dict[str, tuple[Rewiring, ...]] = {amplifier.circuit: ()}
        if outage.of_power(index, amplifier):
            barred = mains.barred(index, self.task.broken.cables)
            for circuit in index.rig.circuits:
                if outage.of_circuit(index, circuit) or not may_hang(index, barred, amplifier.id, circuit.id):
                    continue
                move = Rewiring(kind="circuit", at=amplifier.id, old=amplifier.circuit, new=circuit.id)
                options[circuit.id] = (move,)
        self.circuits[amplifier.id] = self.columns.one_of(options)

    def _powered(self, amplifier: str) -> Terms:
        """The columns of which one is 1 where an amplifier has power."""
        thing = self.index.amplifiers[amplifier]
        dead = bool(outage.of_power(self.index, thing))
        return [(c, 1.0) for name, c in self.circuits[amplifier].items() if name != thing.circuit or not dead]

    def _feed(self, amplifier: Amplifier, wanted: Sequence[str]) -> None:
        for number in range(self.index.amplifier_models[amplifier.model].channels):
            name, own = channel_name(amplifier.id, number), amplifier.channel(number).feed
            options: dict[str, tuple[Rewiring, ...]] = {own: ()}
            second = channel_name(
                amplifier.id, number + 1
            )  # in parallel mode it plays what the first is given
            joint = number % 2 == 0 and second in self.names and self.ever_usable(second)
            if self.ever_usable(name) or joint:
                for feed in wanted:
                    if feed != own and self.index.feeds[feed].state == "ok":
                        move = Rewiring(kind="feed", at=name, old=own, new=feed)
                        options[feed] = (move,)
            self.feeds[name] = self.columns.one_of(options)

    def place(self, channel: str) -> tuple[tuple[str, int], int]:
        """The pair of a channel, and which of the two it is."""
        at = self.index.channels[channel]
        return (at.amplifier, at.channel - at.channel % 2), at.channel % 2

    def first(self, channel: str) -> str:
        """The first channel of its pair."""
        return channel_name(*self.place(channel)[0])

    def joint(self, channel: str) -> list[int]:
        """The columns of the settings in which a channel plays what the first of its pair is given; none for that first one."""
        pair, half = self.place(channel)
        return [c for (_, mode), c in self.settings[pair].items() if mode != "dual"] if half else []

    def _settings_of(self, channel: str) -> Sequence[tuple[int, Setting, bool]]:
        """The columns and settings of a channel that has an output of its own in it, and whether it is usable so."""
        pair, half = self.place(channel)
        settings = [(column, self._of_setting[pair][name]) for name, column in self.settings[pair].items()]
        return [(c, s, s.usable[half]) for c, s in settings if s.mode != "bridged" or not half]

    def _ever_usable(self, channel: str) -> bool:
        return bool(self.powered(self.index.channels[channel].amplifier)) and any(
            usable for _, _, usable in self.settings_of(channel)
        )

    def may_bear(self, channel: str, load: Load) -> bool:
        """Whether a channel may have a load, by what it is rated for."""
        return load.conductance * self._lowest(channel) <= 1 + 1e-9

    def _lowest_of(self, channel: str) -> float:
        loads = [s.output.points[-1].load for _, s, usable in self.settings_of(channel) if usable]
        return min(loads, default=math.inf)

    def _allowed(self, channel: str, heard: tuple[str, ...]) -> bool:
        feeds = {*self.feeds[channel], *self.feeds[self.first(channel)]}
        return any(
            self.plays(feed) and all(self.task.may_play(name, feed) for name in heard) for feed in feeds
        )

    def plays(self, feed: str) -> bool:
        """Whether a feed is heard where it goes."""
        return feed in self.index.feeds and self.index.feeds[feed].state != "failed"

    def most_borne(self, channel: str, setting: Setting) -> float:
        """S, the most that may be on a channel: what its lowest rated load allows, or what is on it already."""
        now = self.task.broken.branches[channel].result.load_nominal
        return max(1 / setting.output.points[-1].load, 1 / now if now else 0.0) * 1.001

    def current_cap(self, channel: str, setting: Setting) -> float:
        """The admittance up to which the terminals carry the lasting current; infinite where they always do, and where an rms
        limiter may hold it down, which `assess` judges."""
        feeds = {*self.feeds[channel], *self.feeds[self.first(channel)]} & self.index.feeds.keys()
        if any(self.index.feeds[feed].limiter_rms for feed in feeds):
            return math.inf
        model = self.index.amplifier_models[setting.model]
        lasting = math.sqrt(self.index.rig.targets.heavy_duty)
        points, most = setting.output.points, model.max_current.value / lasting
        if source.limit_voltage(points, points[-1].load) / points[-1].load <= most:
            return math.inf
        return 1 / lowest_load(
            points[-1].load, 1e4, lambda load: source.limit_voltage(points, load) / load <= most
        )


def lowest_load(low: float, high: float, fits: Callable[[float], bool]) -> float:
    """The load in Ω from which on it fits, between one that does not and one that does."""
    for _ in range(60):
        middle = math.sqrt(low * high)
        if fits(middle):
            high = middle
        else:
            low = middle
    return high
