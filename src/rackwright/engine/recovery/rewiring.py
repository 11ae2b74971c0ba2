"""What the crew does with its hands to get from one rig to another: moves, each a value that fits any rig in which its thing is as it was.

`difference` finds the moves, `apply` makes them. Marking something failed or repaired is no move. Holds no order in which they
are safe, no wording of steps, and no search.
"""

from collections import Counter
from collections.abc import Iterable, Iterator

from msgspec.structs import replace

from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.index import Index
from rackwright.model.lines import Cabinet, Line, Spare
from rackwright.model.night import Rewiring, RewiringKind
from rackwright.model.places import PolePair
from rackwright.model.racks import Amplifier, Feed, channel_name
from rackwright.model.rig import Rig
from rackwright.units import LimiterSetting, Trim

__all__ = ["Rewiring", "RewiringKind", "apply", "difference"]


def difference(before: Rig, after: Rig) -> tuple[Rewiring, ...]:
    """The moves from one rig to another that differs from it by moves, and in what is marked failed.

    In the order in which they can be made one after the other: what makes room comes before what fills it.
    """
    then, now = Index(before), Index(after)
    spares = Counter({s.id: s.count for s in after.spares})
    spares.subtract({s.id: s.count for s in before.spares})
    found = [
        *_of_cabinets(then, now),
        *_of_amplifiers(then, now),
        *_of_sockets(then, now),
        *_of_feeds(then, now),
    ]
    moves = [_with_spares(move, then, spares) for move in (*found, *_of_lines(then, now))]
    return in_order(moves)


_ORDER: tuple[RewiringKind, ...] = (
    "unplug", "amplifier", "circuit", "mode", "line", "plug", "repatch", "feed", "trim", "limiter rms", "limiter peak", "plug in",
)  # fmt: skip


def in_order(moves: Iterable[Rewiring]) -> tuple[Rewiring, ...]:
    """In the order in which they can be made one after the other."""
    return tuple(sorted(moves, key=lambda move: _ORDER.index(move.kind)))


def apply(rig: Rig, moves: Iterable[Rewiring], index: Index | None = None) -> Rig:
    """The rig after those moves, whatever else of it was changed. Raises EditError where one of them no longer fits.

    `index`, that of `rig`, only saves time.
    """
    for move in moves:
        index = Index(rig, index)
        rig = _applied(rig, index, move)
    return rig


# --- finding them -------------------------------------------------------------------------------------


def _of_cabinets(then: Index, now: Index) -> Iterator[Rewiring]:
    for name, cabinet in now.cabinets.items():
        if name in then.cabinets and then.cabinets[name].muted != cabinet.muted:
            line = now.line_to.get(name)
            at = line.source if line else ""
            ends = (at, "") if cabinet.muted else ("", at)
            yield Rewiring(kind="unplug" if cabinet.muted else "plug in", at=name, old=ends[0], new=ends[1])


def _of_amplifiers(then: Index, now: Index) -> Iterator[Rewiring]:
    for name, amplifier in now.amplifiers.items():
        was = then.amplifiers.get(name)
        if was is None:
            continue
        if was.model != amplifier.model:
            yield Rewiring(kind="amplifier", at=name, old=was.model, new=amplifier.model)
        if was.circuit != amplifier.circuit:
            yield Rewiring(kind="circuit", at=name, old=was.circuit, new=amplifier.circuit)
        count = max(len(then.channels_of(was)), len(now.channels_of(amplifier)))
        for first in range(0, count - 1, 2):
            modes = was.pair_mode(first), amplifier.pair_mode(first)
            if modes[0] != modes[1]:
                yield Rewiring(kind="mode", at=channel_name(name, first), old=modes[0], new=modes[1])
        for number in range(count):
            at, old, new = channel_name(name, number), was.channel(number), amplifier.channel(number)
            if old.feed != new.feed:
                yield Rewiring(kind="feed", at=at, old=old.feed, new=new.feed)
            if old.trim.value != new.trim.value:
                yield Rewiring(kind="trim", at=at, old=old.trim.text, new=new.trim.text)


def _of_sockets(then: Index, now: Index) -> Iterator[Rewiring]:
    for name, socket in now.sockets.items():
        was = then.sockets.get(name)
        for pair in range(max(len(socket.poles), len(was.poles)) if was else 0):
            if was and was.pole(pair) != socket.pole(pair):
                yield Rewiring(
                    kind="repatch", at=str(PolePair(name, pair)), old=was.pole(pair), new=socket.pole(pair)
                )


def _of_lines(then: Index, now: Index) -> Iterator[Rewiring]:
    for name in now.cabinets:
        old, new = then.line_to.get(name), now.line_to.get(name)
        if old and new and _only_moved(old, new):
            if old.source != new.source:
                yield Rewiring(kind="plug", at=new.id, old=old.source, new=new.source)
        elif old or new:
            ends = (line.source if line else "" for line in (old, new))
            yield Rewiring(kind="line", at=name, old=next(ends), new=next(ends), line=new)


def _only_moved(old: Line, new: Line) -> bool:
    """Whether a line is the same one, wherever its near end is and whatever of it has failed."""
    return old == replace(new, source=old.source, state=old.state, failed_pairs=old.failed_pairs)


def _of_feeds(then: Index, now: Index) -> Iterator[Rewiring]:
    for name, feed in now.feeds.items():
        was = then.feeds.get(name)
        for kind in _LIMITERS:
            key = _LIMITERS[kind]
            old, new = getattr(was, key, None), getattr(feed, key)
            if was and old != new:
                yield Rewiring(kind=kind, at=name, old=_typed(old), new=_typed(new))


_LIMITERS: dict[RewiringKind, str] = {"limiter rms": "limiter_rms", "limiter peak": "limiter_peak"}


def _with_spares(move: Rewiring, then: Index, spares: Counter[str]) -> Rewiring:
    """With the spares that it takes and frees, `spares` being what is left of the changes of their counts."""
    if move.kind == "amplifier":
        old, new = move.old, move.new
    elif move.kind == "line":
        old, new = _spare_id(then.line_to.get(move.at)), _spare_id(move.line)
    else:
        return move
    takes, frees = spares[new] < 0, spares[old] > 0
    spares.update({new: takes} if takes else {})
    spares.subtract({old: frees} if frees else {})
    return replace(move, by=new if takes else "", frees=old if frees else "")


def _spare_id(line: Line | None) -> str:
    return Spare(cable=line.cable, length=line.length).id if line else ""


# --- making them --------------------------------------------------------------------------------------


def _applied(rig: Rig, index: Index, move: Rewiring) -> Rig:
    place = index.place(move.at)
    if place is None:
        raise EditError(f"{move.at} is no longer there.")
    rig = _spared(rig, move)
    change = edits.unchecked(edits.change)
    match move.kind:
        case "unplug" | "plug in":
            cabinet: Cabinet = index.cabinets[move.at]
            _holds(
                move, "plugged in" if not cabinet.muted else "", "plugged in" if move.kind == "unplug" else ""
            )
            return change(rig, move.at, muted=move.kind == "unplug")
        case "amplifier":
            amplifier = index.amplifiers[move.at]
            _holds(move, amplifier.model)
            return change(rig, move.at, model=move.new, state="ok", channels=_as_new(amplifier))
        case "circuit":
            _holds(move, index.amplifiers[move.at].circuit)
            return change(rig, move.at, circuit=move.new)
        case "mode":
            return _with_mode(rig, index, move)
        case "line":
            return _with_line(rig, index, move)
        case "plug":
            _holds(move, index.lines[move.at].source)
            return change(rig, move.at, source=move.new)
        case "repatch":
            pair = index.pole_pairs[move.at]
            _holds(move, index.sockets[pair.socket].pole(pair.pair))
            return edits.unchecked(edits.patch)(rig, pair.socket, pair.pair + 1, move.new)
        case "feed" | "trim":
            at = index.channels[move.at]
            channel = index.amplifiers[at.amplifier].channel(at.channel)
            _holds(move, channel.trim.text if move.kind == "trim" else channel.feed)
            return change(
                rig, move.at, **{move.kind: Trim.parse(move.new) if move.kind == "trim" else move.new}
            )
        case _:
            feed: Feed = index.feeds[move.at]
            key = _LIMITERS[move.kind]
            _holds(move, _typed(getattr(feed, key)))
            return change(rig, move.at, **{key: LimiterSetting.parse(move.new) if move.new else None})


def _typed(setting: LimiterSetting | None) -> str:
    return setting.text if setting else ""


def _holds(move: Rewiring, now: str, wanted: str | None = None) -> None:
    """Raises EditError where the thing isn't as it was when the move was found."""
    if now != (move.old if wanted is None else wanted):
        raise EditError(f"{move.at} has been changed since.")


def _as_new(amplifier: Amplifier) -> tuple[object, ...]:
    return tuple(replace(channel, state="ok") for channel in amplifier.channels)


def _with_mode(rig: Rig, index: Index, move: Rewiring) -> Rig:
    at = index.channels[move.at]
    amplifier = index.amplifiers[at.amplifier]
    _holds(move, amplifier.pair_mode(at.channel))
    count = len(index.channels_of(amplifier))
    modes = [amplifier.pair_mode(first) for first in range(0, count, 2)]
    modes[at.channel // 2] = move.new  # type: ignore[call-overload]
    one = len(set(modes)) == 1
    return edits.unchecked(edits.change)(rig, amplifier.id, mode=modes[0] if one else tuple(modes))


def _with_line(rig: Rig, index: Index, move: Rewiring) -> Rig:
    old = index.line_to.get(move.at)
    _holds(move, old.source if old else "")
    at = rig.lines.index(old) if old else len(rig.lines)
    lines = [line for line in rig.lines if line is not old]
    if move.line:
        if any(line.id == move.line.id for line in lines):
            raise EditError(f"{move.line.id} is in use elsewhere.")
        lines.insert(at, move.line)
    return replace(rig, lines=tuple(lines))


def _spared(rig: Rig, move: Rewiring) -> Rig:
    """The rig with the spares that a move takes gone, and those that it frees there."""
    step = Counter({move.frees: 1} if move.frees else {})
    step.subtract({move.by: 1} if move.by else {})
    if not any(step.values()):
        return rig
    if any(spare.count + step[spare.id] < 0 for spare in rig.spares):
        raise EditError(f"There is no spare {move.by} left.")
    spares = tuple(replace(s, count=s.count + step[s.id]) if step[s.id] else s for s in rig.spares)
    return replace(rig, spares=spares)
