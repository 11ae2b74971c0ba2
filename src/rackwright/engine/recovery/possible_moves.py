"""Which moves the crew can make from where a rig stands: within reach, with the spares there are.

What counts as within reach: a pole pair is re-patched, and a line moved, inside its own rack; a cabinet is linked on
from one whose line starts at the same rack and whose link is free, with a connector of the same kind; an amplifier
is replaced where none of its channels works, so that this silences nothing. Whether a cable or a mains lead is
long enough is not known here: the words of such a move say to look first. Holds no search.
"""

import itertools
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from typing import Any, TypeAlias, cast

from msgspec.structs import replace

from rackwright.engine import outage
from rackwright.engine.recovery.moves import Move, MoveKind, Swap
from rackwright.engine.recovery.state import State, Task
from rackwright.model.index import Index, pole_or_none, wired_sections
from rackwright.model.places import ChannelPlace, PolePair
from rackwright.model.rig import (
    MODES,
    NO_CHANNEL,
    Amplifier,
    Cabinet,
    Line,
    Mode,
    Pole,
    channel_name,
    read_pole,
)

Candidate: TypeAlias = tuple[ChannelPlace | PolePair | str, str, str]
Maker: TypeAlias = Callable[[State, Any, str, str], Move | None]
"""A state, what is moved, where to or what to, and by what → the move; None where it can't be made."""


def every(state: State) -> Iterator[Move]:
    """Every move that can be made."""
    for kind, candidates in _CANDIDATES.items():
        make = MAKERS[kind]
        yield from (move for words in candidates(state) if (move := make(state, *words)) is not None)


def remake(state: State, move: Move) -> Move | None:
    """The same move from another state; None where it can't be made there."""
    return MAKERS[move.kind](state, move.place, move.new, move.by)


def replayed(task: Task, moves: Iterable[Move]) -> State | None:
    """The state after those moves, each made anew from the broken rig; None where one can't be made."""
    after = task.origin
    for move in moves:
        again = remake(after, move)
        if again is None:
            return None
        after = after.after(again)
    return after


# --- making each move ---------------------------------------------------------------------------------


def repatch(state: State, place: PolePair, new: str, by: str = "") -> Move | None:
    """Re-patch a pole pair to a channel of the same rack; its polarity stays."""
    socket, channel = state.index.sockets[place.socket], state.index.channels[new]
    old = socket.pole(place.pair)
    was = pole_or_none(old)
    if state.task.rack[socket.id] != state.task.rack[channel.amplifier] or not drives(state.index, new):
        return None
    if was and was.name == new:
        return None
    poles = [*socket.poles, *[""] * (place.pair + 1 - len(socket.poles))]
    poles[place.pair] = Pole(channel.amplifier, channel.channel, was.sign if was else 1).text
    swap = Swap(socket, replace(socket, poles=tuple(poles)))
    return Move(kind="pole", place=place, old=old, new=poles[place.pair], swaps=(swap,))


def move_line(state: State, place: str, new: str, by: str = "") -> Move | None:
    """Move a line's near end to a free socket of the same rack and connector."""
    index, line = state.index, state.index.lines.get(place)
    if line is None or line.source not in index.sockets or index.lines_from.get(new):
        return None
    here, there = index.sockets[line.source], index.sockets[new]
    if state.task.rack[here.id] != state.task.rack[new] or here.connector != there.connector:
        return None
    if not any(map(pole_or_none, there.poles)):
        return None
    swap = Swap(line, replace(line, source=new))
    return Move(kind="line", place=place, old=here.id, new=new, swaps=(swap,))


def link(state: State, place: str, new: str, by: str) -> Move | None:
    """Feed a cabinet from the link of another, with a spare cable in place of its own line."""
    index, spare = state.index, state.spares.get(by)
    own = index.line_to.get(place)
    if own is None or spare is None or spare.length is None or spare.count < 1 or index.lines_from.get(new):
        return None
    root, other = index.root(place), index.root(new)
    if root is None or other is None or state.task.rack[root] != state.task.rack[other]:
        return None
    cabinet, neighbour = index.cabinets[place], index.cabinets[new]
    if cabinet.muted or neighbour.muted or new in _behind(index, place):
        return None
    if index.cabinet_connector(place) is not index.cabinet_connector(new):
        return None
    line = Line(id=_free_id(index, own.id), source=new, to=place, cable=spare.cable, length=spare.length)
    swaps = (Swap(own, line), Swap(spare, replace(spare, count=spare.count - 1)))
    return Move(kind="link", place=place, old=own.id, new=new, by=by, swaps=swaps)


def give_feed(state: State, place: ChannelPlace, new: str, by: str = "") -> Move | None:
    """Give another feed to a channel on which nothing sounds."""
    if not drives(state.index, str(place)):
        return None
    amplifier, at = state.index.amplifiers[place.amplifier], place.channel
    mode = amplifier.pair_mode(at)
    if mode == "parallel" and at % 2:
        return None
    halves = [at] if mode == "dual" else [at, at + 1]
    heard_on = [channel_name(amplifier.id, half) for half in halves]
    old = amplifier.channel(at).feed
    if old == new or any(name in state.heard and state.heard[name].voltages for name in heard_on):
        return None
    listed = amplifier.channels + (NO_CHANNEL,) * (at + 1 - len(amplifier.channels))
    channels = (*listed[:at], replace(listed[at], feed=new), *listed[at + 1 :])
    swap = Swap(amplifier, replace(amplifier, channels=channels))
    return Move(kind="feed", place=place, old=old, new=new, swaps=(swap,))


def set_mode(state: State, place: ChannelPlace, new: str, by: str = "") -> Move | None:
    """Set the mode of the pair whose first channel is named; both halves are in it."""
    if place.channel % 2:
        return None
    amplifier = state.index.amplifiers[place.amplifier]
    count = state.index.amplifier_models[amplifier.model].channels
    old = amplifier.pair_mode(place.channel)
    if place.channel + 1 >= count or new == old or outage.of_power(state.index, amplifier):
        return None
    modes: list[Mode] = [amplifier.pair_mode(first) for first in range(0, count, 2)]
    modes[place.channel // 2] = next(mode for mode in MODES if mode == new)
    swap = Swap(amplifier, replace(amplifier, mode=tuple(modes)))
    return Move(kind="mode", place=place, old=old, new=new, swaps=(swap,))


def mute(state: State, place: str, new: str = "", by: str = "") -> Move | None:
    """Pull the plug of a cabinet that sounds."""
    index, cabinet = state.index, state.index.cabinets[place]
    line = index.line_to.get(place)
    if cabinet.muted or line is None or not sections_heard(state, cabinet):
        return None
    swap = Swap(cabinet, replace(cabinet, muted=True))
    return Move(kind="mute", place=place, old="", new="muted", by=line.id, swaps=(swap,))


def replace_amplifier(state: State, place: str, new: str, by: str = "") -> Move | None:
    """Put a spare in place of an amplifier of which no channel works."""
    index, spare = state.index, state.spares.get(new)
    amplifier = index.amplifiers[place]
    model, old = index.amplifier_models.get(new), index.amplifier_models[amplifier.model]
    if spare is None or spare.cable or spare.count < 1 or model is None or model.channels < old.channels:
        return None
    dead = amplifier.state == "failed" or all_failed(amplifier, old.channels)
    if outage.of_power(index, amplifier) or index.rack_of[place].state == "failed" or not dead:
        return None
    channels = tuple(replace(channel, state="ok") for channel in amplifier.channels)
    modes = tuple(amplifier.pair_mode(first) for first in range(0, old.channels, 2))
    mode = amplifier.mode if model.channels == old.channels else modes
    swaps = (
        Swap(amplifier, replace(amplifier, model=new, channels=channels, mode=mode, state="ok")),
        Swap(spare, replace(spare, count=spare.count - 1)),
    )
    return Move(kind="amplifier", place=place, old=old.id, new=new, swaps=swaps)


def plug_in(state: State, place: str, new: str, by: str = "") -> Move | None:
    """Plug an amplifier that has no power into a working circuit."""
    index, amplifier = state.index, state.index.amplifiers[place]
    if not outage.of_power(index, amplifier) or outage.of_circuit(index, index.circuits[new]):
        return None
    swap = Swap(amplifier, replace(amplifier, circuit=new))
    return Move(kind="circuit", place=place, old=amplifier.circuit, new=new, swaps=(swap,))


MAKERS: dict[MoveKind, Maker] = {
    "pole": lambda state, place, new, by: repatch(state, place, cast(Pole, read_pole(new)).name, by),
    "line": move_line,
    "link": link,
    "feed": give_feed,
    "mode": set_mode,
    "mute": mute,
    "amplifier": replace_amplifier,
    "circuit": plug_in,
}


# --- what might be moved ------------------------------------------------------------------------------


def _poles(state: State) -> Iterator[Candidate]:
    for place in used_pairs(state):
        rack = state.task.rack[place.socket]
        yield from ((place, channel, "") for channel in state.task.channels[rack])


def used_pairs(state: State) -> Iterator[PolePair]:
    """Every pole pair of a socket that a line carries on."""
    for socket in state.index.sockets.values():
        lines = state.index.lines_from.get(socket.id, ())
        pairs = {pair for line in lines for pair in state.index.pole_map(line)}
        yield from (PolePair(socket.id, pair) for pair in sorted(pairs))


def _lines(state: State) -> Iterator[Candidate]:
    index, racks = state.index, state.task.rack
    for line in index.lines.values():
        if line.source in index.sockets:
            near = [name for name in index.sockets if racks[name] == racks[line.source]]
            yield from ((line.id, name, "") for name in near if name != line.source)


def _links(state: State) -> Iterator[Candidate]:
    cables = [spare.id for spare in state.spares.values() if spare.cable and spare.count]
    by_rack: dict[str, list[str]] = defaultdict(list)
    for cabinet in state.index.cabinets if cables else ():
        if root := state.index.root(cabinet):
            by_rack[state.task.rack[root]].append(cabinet)
    for near in by_rack.values():
        for cabinet, other in itertools.permutations(near, 2):
            yield from ((cabinet, other, by) for by in cables)


def _feeds(state: State) -> Iterator[Candidate]:
    places = state.task.index.channels.values()
    return ((place, feed, "") for place in places for feed in state.index.feeds)


def _modes(state: State) -> Iterator[Candidate]:
    return ((place, mode, "") for place in state.task.index.channels.values() for mode in MODES)


def _mutes(state: State) -> Iterator[Candidate]:
    return ((cabinet, "", "") for cabinet in state.index.cabinets)


def _amplifiers(state: State) -> Iterator[Candidate]:
    spares = [spare for spare in state.spares.values() if spare.amplifier and spare.count]
    return ((name, spare.amplifier, "") for name in state.index.amplifiers for spare in spares)


def _circuits(state: State) -> Iterator[Candidate]:
    without = [a.id for a in state.index.amplifiers.values() if outage.of_power(state.index, a)]
    return ((name, circuit, "") for name in without for circuit in state.index.circuits)


_CANDIDATES: dict[MoveKind, Callable[[State], Iterator[Candidate]]] = {
    "pole": _poles,
    "line": _lines,
    "link": _links,
    "feed": _feeds,
    "mode": _modes,
    "mute": _mutes,
    "amplifier": _amplifiers,
    "circuit": _circuits,
}


# --- looking ------------------------------------------------------------------------------------------


def drives(index: Index, channel: str) -> bool:
    """Whether a channel has an output of its own that works."""
    place = index.channels.get(channel)
    if place is None or outage.of_power(index, amplifier := index.amplifiers[place.amplifier]):
        return False
    bridged = amplifier.pair_mode(place.channel) == "bridged"
    halves = (place.channel, place.channel + 1) if bridged else (place.channel,)
    working = not outage.of_amplifier(index, amplifier) and all(
        amplifier.channel(half).state == amplifier.channel(half).input_state == "ok" for half in halves
    )
    return working and not (bridged and place.channel % 2)


def all_failed(amplifier: Amplifier, count: int) -> bool:
    """Whether each of its `count` channels is marked failed."""
    return all(amplifier.channel(channel).state == "failed" for channel in range(count))


def sections_heard(state: State, cabinet: Cabinet) -> list[str]:
    """The sections of a cabinet that sound."""
    model = state.index.loudspeaker_models[cabinet.model]
    names = (f"{cabinet.id}.{section.id}" for section in model.sections)
    return [name for name in names if state.where.get(name)]


def _behind(index: Index, cabinet: str) -> list[str]:
    return [
        cabinet,
        *(name for line in index.lines_from.get(cabinet, ()) for name in _behind(index, line.to)),
    ]


def _free_id(index: Index, like: str) -> str:
    """`LINK-1` or the next that is free."""
    number = 1
    while index.place(f"LINK-{number}"):
        number += 1
    return f"LINK-{number}"


def pairs_of(index: Index, cabinet: str) -> tuple[tuple[str, ...], ...]:
    """For each pole pair of a cabinet, the sections it drives."""
    placed = index.cabinets[cabinet]
    return wired_sections(placed, index.loudspeaker_models[placed.model])
