"""A rig's index after moves, without making the rig; and the channels that moves change."""

import copy
import itertools
from collections.abc import Iterable, Iterator
from typing import TypeAlias

from rackwright.engine.recovery.moves import Swap
from rackwright.model.index import Index, pole_or_none
from rackwright.model.rig import Amplifier, Cabinet, Circuit, Line, Socket


def before_and_after(swaps: Iterable[Swap]) -> Iterator[tuple[object, object]]:
    return ((swap.before, swap.after) for swap in swaps)


def index_after(index: Index, swaps: Iterable[Swap]) -> Index:
    """The index of the rig with those swaps made; its `rig` stays the one before."""
    after = copy.copy(index)
    for old, new in before_and_after(swaps):
        match new or old:
            case Amplifier() as amplifier:
                after.amplifiers = {**after.amplifiers, amplifier.id: amplifier}
                after.channels = after.channels | after.channels_of(amplifier)
            case Cabinet() as cabinet:
                after.cabinets = {**after.cabinets, cabinet.id: cabinet}
            case Circuit() as circuit:
                after.circuits = {**after.circuits, circuit.id: circuit}
            case Socket() as socket:
                after.sockets = {**after.sockets, socket.id: socket}
                after.taps = _retapped(after.taps, old, socket)
            case Line() as line:
                _reline(after, old, line)
    return after


Taps: TypeAlias = dict[tuple[str, int], list[tuple[Socket, int, int]]]


def _retapped(taps: Taps, old: object, new: Socket) -> Taps:
    """The taps with those of one socket told anew."""
    poles = [*(old.poles if isinstance(old, Socket) else ()), *new.poles]
    ends = {(pole.amplifier, pole.channel) for text in poles if (pole := pole_or_none(text))}
    after = taps.copy()
    for end in ends:
        after[end] = [tap for tap in taps.get(end, ()) if tap[0].id != new.id]
    for pair, text in enumerate(new.poles):
        if pole := pole_or_none(text):
            after[pole.amplifier, pole.channel].append((new, pair, pole.sign))
    return after


def _reline(index: Index, old: object, new: Line) -> None:
    """Put a line in place of another in an index of its own tables."""
    index.lines, index.line_to = dict(index.lines), {**index.line_to, new.to: new}
    index.lines_from = index.lines_from.copy()
    if isinstance(old, Line):
        del index.lines[old.id]
        index.lines_from[old.source] = [line for line in index.lines_from[old.source] if line.id != old.id]
    index.lines[new.id] = new
    index.lines_from[new.source] = [*index.lines_from.get(new.source, ()), new]


def touched(index: Index, swaps: Iterable[Swap], side: int) -> Iterator[tuple[str, int]]:
    """The channels that swaps change, as (amplifier, index), seen before (side 0) or after (side 1) them."""
    for pair in before_and_after(swaps):
        match pair[side]:
            case Amplifier() as amplifier:
                model = index.amplifier_models[amplifier.model]
                yield from ((amplifier.id, channel) for channel in range(model.channels))
            case Socket() as socket:
                other = pair[1 - side]
                poles = other.poles if isinstance(other, Socket) else ()
                yield from _ends(
                    mine
                    for mine, its in itertools.zip_longest(socket.poles, poles, fillvalue="")
                    if mine != its
                )
            case Line() | Cabinet() as place:
                if root := index.root(place.id):
                    yield from _ends(index.sockets[root].poles)


def _ends(poles: Iterable[str]) -> Iterator[tuple[str, int]]:
    return ((pole.amplifier, pole.channel) for text in poles if (pole := pole_or_none(text)))
