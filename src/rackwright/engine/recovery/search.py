"""Searching for moves that bring sound back: every one to a depth where the rig is small, the promising ones where not.

Both searches give states that may be plans; which of them keep every limit is judged elsewhere.
"""

import math
from collections.abc import Callable, Iterator, Sequence

from rackwright.engine import outage
from rackwright.engine.recovery import possible_moves
from rackwright.engine.recovery.moved_index import touched
from rackwright.engine.recovery.moves import Move
from rackwright.engine.recovery.state import GIVE_UP, State
from rackwright.model.places import ChannelPlace, PolePair

EXACT = 2500
"""States looked at, at most, for a proof that no plan of so many moves is better."""

WIDTH = 10
"""States kept at each step of the bounded search."""

NEIGHBOURS = 4
"""Cabinets that a link is tried from, and like feeds that are tried."""

FREED, SPREADS = 6, 2
"""Channels that are tried to be freed for another feed, and ways in which their load is spread."""

MOST_MUTED = 4
"""Cabinets muted for one pole pair, at most."""


# --- every plan to a depth ----------------------------------------------------------------------------


def depth_within(start: State, limit: int, least: int, most: int) -> int:
    """To how many moves every plan can be looked at, in about `limit` states: 0 where to fewer than `least`."""
    depth = most
    for count, _ in enumerate(possible_moves.every(start), 1):
        while sum(math.comb(count, taken) for taken in range(1, depth + 1)) > limit:
            depth -= 1
        if depth < least:
            return 0
    return depth


def exhausted(start: State, depth: int) -> list[State]:
    """Every state that can be had in `depth` moves or fewer, no place being moved twice."""
    seen = {start.key}
    found = level = [start]
    for _ in range(depth):
        following = []
        for state in level:
            moved = {(move.kind, move.place) for move in state.moves}
            for move in possible_moves.every(state):
                key = state.key | {move.key}
                if key not in seen and (move.kind, move.place) not in moved:
                    seen.add(key)
                    following.append(state.after(move))
        found, level = found + following, following
    return found


def single(start: State) -> Iterator[State]:
    """Every state after one move that touches a channel on which something was lost."""
    lost = [start.task.broken.sections[name].patched for name in start.task.weights if start.lost(name)]
    places = [start.index.channels[name] for name in lost if name]
    channels = {(place.amplifier, place.channel) for place in places}
    for move in possible_moves.every(start):
        if channels.intersection(touched(start.index, move.swaps, 0)):
            yield start.after(move)


# --- promising plans ----------------------------------------------------------------------------------


def promising(
    start: State, width: int = WIDTH, is_plan: Callable[[State], bool] | None = None
) -> list[State]:
    """States that bring back the sections lost, the most important first, in every way that may be good.

    Takes the sections in turn, tries each way to bring one back on each of the `width` best states so far, those that
    differ in their means included, and leaving it silent too. With `is_plan`, which tells
    whether a state keeps every limit, only the best is looked for: the search ends where all is back.
    """
    lost = sorted(
        (name for name in start.task.weights if start.lost(name)), key=lambda name: -start.lost(name)
    )
    found, beam = [start], [start]
    for section in lost:
        following = {state.key: state for state in beam}
        for state in beam:
            if state.lost(section) == start.lost(section):
                better = (s for s in map(_direct, _ways(state, section)) if s.rank < state.rank)
                following |= {s.key: s for s in better}
        found += [state for key, state in following.items() if all(state is not kept for kept in beam)]
        beam = _kept(list(following.values()), width, diverse=is_plan is None)
        if is_plan and beam[0].rank[:2] == (0.0, 0.0) and is_plan(beam[0]):
            break
    return list({state.key: state for state in found}.values())


def _direct(state: State) -> State:
    """The state with each thing that was moved more than once moved once, where that leads to the same."""
    last = {(move.kind, move.place): move for move in state.moves}
    if len(last) == len(state.moves):
        return state
    after = possible_moves.replayed(state.task, last.values())
    return after if after is not None and after.rank < state.rank else state


def _kept(states: Sequence[State], width: int, diverse: bool) -> list[State]:
    """The best, and if diverse the best of each other means."""
    ranked = sorted(states, key=lambda state: state.rank)
    if not diverse:
        return ranked[:width]
    first = {state.means: state for state in reversed(ranked)}
    others = sorted(first.values(), key=lambda state: state.rank)[:width]
    return list({state.key: state for state in (*ranked[:width], *others)}.values())


def _ways(state: State, section: str) -> Iterator[State]:
    """The states in which a lost section may sound again."""
    cabinet = state.index.sections[section].cabinet
    way = _way(state, section)
    yield from _revived(state, section)
    if way is None:
        return
    socket, pair, line = way
    found = [
        *_repatched(state, section, socket, pair),
        *_unbridged(state, section, socket, pair),
        *_moved(state, line, socket),
        *_linked(state, section, cabinet),
    ]
    yield from found
    if all(after.lost(section) or GIVE_UP in after.means - state.means for after in found):
        yield from _freed(state, section, socket, pair)


def _way(state: State, section: str) -> tuple[str, int, str] | None:
    """The socket, the pole pair (from 0) and the line by which a section is fed; None where it isn't."""
    index = state.index
    place = index.sections[section]
    cabinet = place.cabinet
    wirings = possible_moves.pairs_of(index, cabinet)
    pair = next((i for i, names in enumerate(wirings) if place.section in names), None)
    while pair is not None and (line := index.line_to.get(cabinet)) and not index.cabinets[cabinet].muted:
        ways = index.pole_map(line)
        if pair >= len(ways):
            return None
        pair, cabinet = ways[pair], line.source
        if cabinet in index.sockets:
            return cabinet, pair, line.id
    return None


def _made(state: State, *moves: Move | None) -> State | None:
    """The state after those moves; None where one can't be made."""
    for move in moves:
        if move is None:
            return None
        state = state.after(move)
    return state


def _relieved(state: State | None, spared: str) -> Iterator[State]:
    """The state; where a channel has too low a load, with cabinets muted that matter least on it."""
    for _ in range(MOST_MUTED):
        if state is None or not state.overloaded:
            break
        channel, cabinets = min(state.overloaded), state.index.cabinets
        names = _cabinets_on(state, channel) - {spared}
        least = max(names, key=lambda name: (cabinets[name].priority_of("full"), name), default=None)
        move = possible_moves.mute(state, least) if least else None
        if move is None:
            return
        state = state.after(move)
    if state is not None and not state.overloaded:
        yield state


def _revived(state: State, section: str) -> Iterator[State]:
    """With the amplifier itself brought back: a spare in its place, power from another circuit, another mode."""
    task, index = state.task, state.index
    patched = task.broken.sections[section].patched
    if patched is None:
        return
    place = index.channels[patched]
    amplifier = index.amplifiers[place.amplifier]
    for spare in list(state.spares.values()):
        if spare.amplifier and (
            move := possible_moves.replace_amplifier(state, amplifier.id, spare.amplifier)
        ):
            yield state.after(move)
    if outage.of_power(index, amplifier):
        for circuit in _with_room(state, amplifier.id):
            if move := possible_moves.plug_in(state, amplifier.id, circuit):
                yield state.after(move)
    if amplifier.pair_mode(place.channel) != "dual":
        first = ChannelPlace(amplifier.id, place.channel - place.channel % 2)
        move = possible_moves.set_mode(state, first, "dual")
        if move is not None:
            dual = state.after(move)
            yield dual
            way = _way(dual, section)
            if way is not None:
                yield from _repatched(dual, section, way[0], way[1], only=amplifier.id)


def _unbridged(state: State, section: str, socket: str, pair: int) -> Iterator[State]:
    """With another bridge of the rack given up, for the channel that this frees."""
    for channel in state.task.channels[state.task.rack[socket]]:
        place = state.index.channels[channel]
        amplifier = state.index.amplifiers[place.amplifier]
        if place.channel % 2 or amplifier.pair_mode(place.channel) != "bridged":
            continue
        for mode in ("parallel", "dual"):
            if move := possible_moves.set_mode(state, place, mode):
                yield from _repatched(state.after(move), section, socket, pair, only=amplifier.id)


def _with_room(state: State, amplifier: str) -> list[str]:
    """The circuits that may bear an amplifier, the roomiest first, driven hard if there are such."""
    before = state.task.before
    draws = {name: result.heavy_current for name, result in before.amplifiers.items()}
    loads = dict.fromkeys(state.index.circuits, 0.0)
    for other in state.index.amplifiers.values():
        if other.circuit in loads and other.id != amplifier:
            loads[other.circuit] += draws[other.id]
    left = {
        name: 1 - (loads[name] + draws[amplifier]) / circuit.breaker.value
        for name, circuit in state.index.circuits.items()
        if circuit.state == "ok"
    }
    return sorted(left, key=lambda name: -left[name])[:NEIGHBOURS]


def _repatched(state: State, section: str, socket: str, pair: int, only: str = "") -> Iterator[State]:
    """With the pole pair on another channel: of the same feed, of a like one, or given the feed."""
    task, index = state.task, state.index
    place, own = PolePair(socket, pair), task.feeds[section]
    cabinet = index.sections[section].cabinet
    like: list[State] = []
    for channel in task.channels[task.rack[socket]]:
        if (only and index.channels[channel].amplifier != only) or not possible_moves.drives(index, channel):
            continue
        patched = _made(state, possible_moves.repatch(state, place, channel))
        if patched is not None and (lost := patched.lost(section)) < state.lost(section):
            if lost:
                like.append(patched)
            else:
                yield from _relieved(patched, cabinet)
                yield from _bridged(patched, section, channel)
        if not state.heard[channel].voltages:
            fed = _made(state, possible_moves.give_feed(state, index.channels[channel], own))
            yield from _relieved(fed and _made(fed, possible_moves.repatch(fed, place, channel)), "")
        else:
            yield from _taken_over(state, section, place, channel)
    for patched in sorted(like, key=lambda s: s.rank)[:NEIGHBOURS]:
        yield from _relieved(patched, cabinet)


def _bridged(state: State, section: str, channel: str) -> Iterator[State]:
    """With the spare pair of a channel bridged, where a bridge drove the section before."""
    task = state.task
    if task.before.channels[task.before.sections[section].channel or ""].mode == "bridged":
        bridged = _made(state, possible_moves.set_mode(state, state.index.channels[channel], "bridged"))
        if bridged is not None and bridged.silent <= state.silent:
            yield from _relieved(bridged, "")


def _taken_over(state: State, section: str, place: PolePair, channel: str) -> Iterator[State]:
    """With the pole pair on a channel whose own cabinets matter less, and are muted."""
    task = state.task
    names = sorted(_cabinets_on(state, channel))
    cabinets = [state.index.cabinets[name] for name in names]
    heard = [name for cabinet in cabinets for name in possible_moves.sections_heard(state, cabinet)]
    worths = [task.weights.get(name, 0.0) for name in heard]
    if len(names) > MOST_MUTED or any(worth >= task.weights[section] for worth in worths):
        return
    worth = sum(worths)
    if worth >= state.silent:
        return
    after = state
    for name in names:
        if muted := possible_moves.mute(after, name):
            after = after.after(muted)
    if fed := possible_moves.give_feed(after, after.index.channels[channel], task.feeds[section]):
        after = after.after(fed)
    if (patched := possible_moves.repatch(after, place, channel)) and not (
        taken := after.after(patched)
    ).overloaded:
        yield taken


def _freed(state: State, section: str, socket: str, pair: int) -> Iterator[State]:
    """With the pole pair on a channel whose own load others of its feed take over, so that it is free."""
    task, place, own = state.task, PolePair(socket, pair), state.task.feeds[section]
    near = [name for name in task.channels[task.rack[socket]] if state.heard[name].voltages]
    taps = {name: _taps(state, name) for name in near}
    for channel in sorted(near, key=lambda name: len(taps[name]))[:FREED]:
        feed = state.heard[channel].feed
        others = sorted(
            (name for name in near if name != channel and state.heard[name].feed == feed),
            key=lambda name: len(state.heard[name].voltages),
        )
        for first in range(min(len(others), SPREADS) if feed != own else 0):
            after: State | None = state
            for number, tap in enumerate(taps[channel]):
                to = others[(first + number) % len(others)]
                after = _made(after, possible_moves.repatch(after, tap, to)) if after else None
            fed = (
                _made(after, possible_moves.give_feed(after, after.index.channels[channel], own))
                if after
                else None
            )
            yield from _relieved(fed and _made(fed, possible_moves.repatch(fed, place, channel)), "")


def _taps(state: State, channel: str) -> list[PolePair]:
    """The pole pairs that a channel drives something on."""
    place = state.index.channels[channel]
    found = state.index.taps.get((place.amplifier, place.channel), ())
    return [PolePair(socket.id, pair) for socket, pair, _ in found if state.index.lines_from.get(socket.id)]


def _cabinets_on(state: State, channel: str) -> set[str]:
    """The cabinets of which something sounds on a channel."""
    return {state.index.sections[name].cabinet for name in state.heard[channel].voltages}


def _moved(state: State, line: str, socket: str) -> Iterator[State]:
    """With the line at another socket of the rack."""
    rack = state.task.rack[socket]
    for other in state.index.sockets:
        if state.task.rack[other] == rack and other != socket:
            yield from _relieved(_made(state, possible_moves.move_line(state, line, other)), "")


def _linked(state: State, section: str, cabinet: str) -> Iterator[State]:
    """With the cabinet linked on from one that plays the feed, the nearest in the rig's order first."""
    task, index = state.task, state.index
    cables = sorted(
        (spare for spare in state.spares.values() if spare.cable and spare.count and spare.length),
        key=lambda spare: spare.length.value if spare.length else 0.0,
    )
    if not cables:
        return
    order = list(index.cabinets)
    at = order.index(cabinet)
    playing = {
        index.sections[name].cabinet
        for name, channels in state.where.items()
        if channels and state.heard[channels[0]].feed == task.feeds[section]
    }
    others = (name for name in order if name in playing and name != cabinet)
    near = sorted(others, key=lambda name: abs(order.index(name) - at))
    tried = 0
    for neighbour in near:
        made = [_made(state, possible_moves.link(state, cabinet, neighbour, spare.id)) for spare in cables]
        for after in made:
            yield from _relieved(after, cabinet)
        tried += any(made)
        if tried == NEIGHBOURS:
            return
