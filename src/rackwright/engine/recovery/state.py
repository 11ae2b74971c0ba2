"""How a rig stands after some moves: what sounds, how loud, on which feed; reckoned without making the rig.

A quick screen for the search: it solves only the channels that a move touches, and only at their nominal loads. What
it lets through is judged by `assess` in full. Holds no move and no search.
"""

import functools
import math
from collections import defaultdict
from collections.abc import Collection, Mapping
from typing import NamedTuple, TypeAlias

from rackwright.engine import amplifier as source
from rackwright.engine import limits, network, outage
from rackwright.engine.assess import Assessed
from rackwright.engine.channel import Branch, unsolved
from rackwright.engine.findings.registry import fits
from rackwright.engine.recovery.failure import failed, named
from rackwright.engine.recovery.moved_index import before_and_after, index_after, touched
from rackwright.engine.recovery.moves import Move
from rackwright.model.equipment import Section
from rackwright.model.index import Index, pole_or_none
from rackwright.model.places import ChannelPlace, PolePair
from rackwright.model.rig import Amplifier, Feed, Spare, channel_name

SIMILAR = 0.5
"""What a section that plays a like feed in place of its own counts as lost, silence being 1: common practice."""

HALF = 0.5
"""Share of the octaves of a section's own feed that a like feed has to play."""

STEP = 0.1
"""dB; levels closer than this count as the same, for nobody hears it."""

Means: TypeAlias = str
"""In words, by what a plan brings sound back: `use a spare`."""

SPARE, DOUBLE, LINK, GIVE_UP, OTHER_FEED, CIRCUIT, MODE, LEAVE = (
    "use a spare",
    "share a channel",
    "link to a neighbour",
    "mute low-priority cabinets",
    "play a similar feed",
    "plug in elsewhere",
    "change a mode",
    "leave it silent",
)


class Rank(NamedTuple):
    """What a plan is judged by, less being better, in this order."""

    silent: float
    """Sum over the sections lost, each 1 for priority 1 and half as much with each step further down."""
    loss: float
    """dB, the largest level lost on a section that sounds, in steps of 0.1 dB."""
    moves: int
    warns: int = 0
    """New warnings."""


def weight(priority: float) -> float:
    """What silence of a section counts: 1 for priority 1, half as much with each step further down.

    Common practice, no source.
    """
    return float(2.0 ** (1 - priority))


class Sounding(NamedTuple):
    """What sounds on a channel."""

    feed: str
    voltages: Mapping[str, float]
    """Section → V rms at full power."""
    overloaded: bool
    """Whether its load is under the lowest rated one."""


SILENT = Sounding("", {}, False)


def sounding(index: Index, amplifier: Amplifier, channel: int) -> Sounding:
    """What sounds on a channel (index from 0): the same voltages as in the assessment of the rig."""
    if outage.of_channel(index, amplifier, channel):
        return SILENT
    branch, signs = unsolved(index, amplifier, channel)
    if not signs or not branch.live:
        return SILENT
    nominal = network.solve_nominal(branch.nodes)
    points = branch.output.points
    voltage = source.limit_voltage(points, 1 / nominal.admittance)
    names = (
        (f"{run.line.to}.{section.id}", section) for run in branch.all_runs for section in run.node.sections
    )
    parts = list(zip(names, nominal.transfers, strict=True))
    conductance = sum([network.conductance(section) for (_, section), _ in parts])
    return Sounding(
        branch.result.feed,
        {name: transfer * voltage for (name, _), transfer in parts},
        limits.load_nominal(branch).broken_by(1 / conductance),
    )


class Task:
    """A failure to recover from: the rig before and after it, and what each section is worth."""

    def __init__(self, before: Assessed, broken: Assessed, planned: Collection[str] = ()) -> None:
        self.before, self.broken = before, broken
        self.index = broken.index
        self.planned = frozenset(planned)
        """The failed circuits and channels that an earlier plan was taken for: they stay failed in the return plan."""
        self.to_repair = named(self.index.rig, [n for n in failed(self.index.rig) if n not in self.planned])
        """What the return plan waits for, as a person names it."""
        cabinets = before.index.cabinets
        sounded = {name: s for name, s in before.sections.items() if s.channel is not None}
        self.levels = {name: s.voltage or 0.0 for name, s in sounded.items()}
        self.feeds = {name: before.channels[s.channel or ""].feed for name, s in sounded.items()}
        self.weights = {name: weight(cabinets[s.cabinet].priority_of(s.kind)) for name, s in sounded.items()}
        self.sections: dict[str, Section] = {
            name: before.index.loudspeaker_models[cabinets[s.cabinet].model].section(s.section)
            for name, s in sounded.items()
        }
        self.rack = {name: rack.id for name, rack in self.index.rack_of.items()}
        self.channels: dict[str, list[str]] = defaultdict(list)
        """Rack → its channels."""
        for branch in broken.branches.values():
            self.channels[self.rack[branch.amplifier.id]].append(branch.id)
        self.soundings: dict[tuple[object, ...], Sounding] = {}
        """Those that were worked out: a channel as it is set, its taps, the wiring → what sounds on it."""
        self.order = {name: i for i, name in enumerate(broken.branches)}
        self.overloaded = {
            name
            for name, branch in broken.branches.items()
            if branch.result.load_nominal is not None
            and limits.load_nominal(branch).broken_by(branch.result.load_nominal)
        }
        self.heard = {name: _heard(branch) for name, branch in broken.branches.items()}
        """What sounds on each channel of the broken rig."""
        self.busy = {name for name, heard in self.heard.items() if heard.voltages}
        self.lost_as = functools.cache(self._lost_as)

    def _lost_as(self, section: str, feed: str) -> float:
        """What share of a section is lost while it plays that feed: 0 on its own, 1 where it is no use."""
        own = self.feeds[section]
        if feed == own:
            return 0.0
        played, wanted = self.index.feeds.get(feed), self.index.feeds[own]
        like = (
            played is not None and _overlap(wanted, played) >= HALF and fits(played, [self.sections[section]])
        )
        return SIMILAR if like else 1.0

    @functools.cached_property
    def origin(self) -> "State":
        """The broken rig, before any move."""
        return _origin(self)


def _overlap(wanted: Feed, played: Feed) -> float:
    """The share of the octaves of `wanted` that `played` has too."""
    (low, high), (start, end) = ((feed.band[0].value, feed.band[1].value) for feed in (wanted, played))
    return max(0.0, math.log(min(high, end) / max(low, start)) / math.log(high / low))


class State:
    """A rig as it stands after moves."""

    __slots__ = (
        "altered",
        "heard",
        "index",
        "loss",
        "means",
        "moves",
        "overloaded",
        "rank",
        "silent",
        "spares",
        "task",
        "where",
        "wiring",
    )

    task: Task
    index: Index
    """As of the rig after the moves, but for its `rig`."""
    spares: dict[str, Spare]
    moves: tuple[Move, ...]
    wiring: frozenset[tuple[str, ChannelPlace | PolePair | str, str, str]]
    """The keys of the moves of lines, links and mutes: with these a channel's taps say what hangs on it."""
    rank: Rank
    """How good it is, warnings left out."""
    means: frozenset[Means]
    heard: Mapping[str, Sounding]
    where: Mapping[str, tuple[str, ...]]
    """Section → the channels it sounds on."""
    altered: Mapping[str, tuple[float, str] | None]
    """The sections that sound otherwise than before the failure: V and feed, None where silent."""
    silent: float
    loss: float
    """As in its rank."""
    overloaded: frozenset[str]
    """Channels under their lowest load that were not so loaded in the broken rig."""

    @property
    def key(self) -> frozenset[tuple[str, ChannelPlace | PolePair | str, str, str]]:
        """Equal for states that the same moves led to, in any order."""
        return frozenset(move.key for move in self.moves)

    def lost(self, section: str) -> float:
        """What silence of a section, or the wrong feed, counts now; 0 where all is as it should be."""
        worth = self.task.weights.get(section, 0.0)
        if section not in self.altered or worth == 0.0:
            return 0.0
        now = self.altered[section]
        return worth if now is None else worth * self.task.lost_as(section, now[1])

    def after(self, move: Move) -> "State":
        """How it stands after one more move."""
        state = State()
        state.task, state.moves = self.task, (*self.moves, move)
        state.index = index_after(self.index, move.swaps)
        state.spares = self.spares | {
            s.id: s for _, s in before_and_after(move.swaps) if isinstance(s, Spare)
        }
        ends = {*touched(self.index, move.swaps, 0), *touched(state.index, move.swaps, 1)}
        state.wiring = self.wiring | {move.key} if move.kind in ("line", "link", "mute") else self.wiring
        anew = {channel_name(*at): state.sounding(at) for at in sorted(ends)}
        state.heard = {**self.heard, **anew}
        state.means = self.means | self._by(move, state)
        overloaded = {name for name, s in anew.items() if s.overloaded and name not in self.task.overloaded}
        state.overloaded = frozenset((self.overloaded - anew.keys()) | overloaded)
        self._hear(state, anew)
        return state

    def sounding(self, at: tuple[str, int]) -> Sounding:
        """What sounds on a channel, given as its amplifier and its index from 0."""
        amplifier, channel = self.index.amplifiers[at[0]], at[1]
        taps = tuple([(socket.id, pair, sign) for socket, pair, sign in self.index.taps.get(at, ())])
        first = channel - channel % 2
        pair = (amplifier.pair_mode(channel), amplifier.channel(first), amplifier.channel(first + 1))
        key = (at, taps, self.wiring, amplifier.model, amplifier.state, amplifier.circuit, pair)
        known = self.task.soundings.get(key)
        if known is None:
            known = self.task.soundings[key] = sounding(self.index, amplifier, channel)
        return known

    def _hear(self, state: "State", anew: Mapping[str, Sounding]) -> None:
        """Set what sounds where in the state after, `anew` being the channels that sound otherwise."""
        where, altered = dict(self.where), dict(self.altered)
        names = {name for channel in anew for name in self.heard.get(channel, SILENT).voltages}
        names.update(*(heard.voltages for heard in anew.values()))
        order = self.task.order
        for name in names:
            on = [channel for channel in where.get(name, ()) if channel not in anew]
            on += [channel for channel, heard in anew.items() if name in heard.voltages]
            if len(on) > 1:
                on.sort(key=lambda channel: order.get(channel, len(order)))
            where[name] = tuple(on)
            told = state.heard[on[0]] if on else None
            altered[name] = None if told is None else (told.voltages[name], told.feed)
        state.where, state.altered = where, altered
        state.silent, state.loss = _scored(self.task, altered)
        state.rank = Rank(state.silent, state.loss, len(state.moves))

    def _by(self, move: Move, after: "State") -> set[Means]:
        """By what a move brings sound back."""
        match move.kind:
            case "mute":
                return {GIVE_UP}
            case "link":
                return {LINK}
            case "circuit":
                return {CIRCUIT}
            case "mode":
                return {MODE}
            case "amplifier":
                return {SPARE}
            case "feed" | "pole":
                pole = pole_or_none(move.new) if move.kind == "pole" else None
                return self._used(pole.name if pole else str(move.place))
            case "line":
                poles = map(pole_or_none, after.index.sockets[move.new].poles)
                return set().union(*(self._used(pole.name) for pole in poles if pole))
            case _:
                return set()

    def _used(self, channel: str) -> set[Means]:
        """What it is to put something on a channel: one that drove nothing is a spare, one that does is shared."""
        if channel not in self.task.busy:
            return {SPARE}
        shared = self.heard[channel].voltages.keys() & self.task.heard[channel].voltages
        return {DOUBLE} if shared else set()


def _heard(branch: Branch) -> Sounding:
    """What sounds on a branch that is solved."""
    told = {s.id: s.voltage for s in branch.sections if s.channel and s.voltage is not None}
    if not told:
        return SILENT
    load = branch.result.load_nominal
    overloaded = load is not None and limits.load_nominal(branch).broken_by(load)
    return Sounding(branch.result.feed, told, overloaded)


def _origin(task: Task) -> State:
    state = State()
    state.task, state.index, state.moves, state.means = task, task.index, (), frozenset()
    state.wiring, state.spares = frozenset(), {spare.id: spare for spare in task.index.rig.spares}
    state.heard, state.overloaded = task.heard, frozenset()
    where: dict[str, tuple[str, ...]] = {}
    for channel, heard in state.heard.items():
        for name in heard.voltages:
            where[name] = (*where.get(name, ()), channel)
    state.where = where
    now = {name: state.heard[on[0]] for name, on in where.items()}
    state.altered = {
        name: (now[name].voltages[name], now[name].feed) if name in now else None
        for name in task.weights
        if name not in now or now[name].feed != task.feeds[name] or _quieter(task, name, now[name])
    }
    state.silent, state.loss = _scored(task, state.altered)
    state.rank = Rank(state.silent, state.loss, 0)
    return state


def _quieter(task: Task, name: str, now: Sounding) -> bool:
    return now.voltages[name] != task.levels[name]


def _scored(task: Task, altered: Mapping[str, tuple[float, str] | None]) -> tuple[float, float]:
    """The weight of what is lost, and the largest level lost in steps of 0.1 dB."""
    silent = loss = 0.0
    for name, now in altered.items():
        worth = task.weights.get(name)
        if worth is None:
            continue
        share = 1.0 if now is None else task.lost_as(name, now[1])
        silent += worth * share
        if now is not None and share < 1:
            loss = max(loss, 20 * math.log10(task.levels[name] / now[0]))
    return silent, round(round(loss / STEP) * STEP, 1)
