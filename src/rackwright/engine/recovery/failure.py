"""What has failed, as a state of the rig: anything of it marked failed, and the rig with that repaired.

What has failed is written as its place: `A1.2`, `C1/2`, `TOP-L1.high`, `L2`. Where a place can fail in several ways the
rarer ones are written behind it: `A1.2=input`, `TOP-L1.high=shorted`. Holds no search and no judgement of what a failure does.
"""

from collections.abc import Iterable, Sequence
from typing import Any

from msgspec.structs import fields, replace

from rackwright.engine import outage
from rackwright.engine.outage import Outage
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.index import Index
from rackwright.model.lines import FAULTS
from rackwright.model.mains import PHASES
from rackwright.model.night import Baseline
from rackwright.model.places import ChannelPlace, LinePair, PolePair, SectionPlace, Thing
from rackwright.model.racks import Amplifier, channel_name
from rackwright.model.rig import Rig

_INPUT = "input"
_WRITTEN = {"failed": "", FAULTS[0]: "", outage.INPUT: f"={_INPUT}"}

TABLES = tuple(field.name for field in fields(Baseline))
"""What of a rig the night may change."""


def fail(rig: Rig, names: Iterable[str], index: Index | None = None) -> Rig:
    """The rig with each of those marked failed. Raises EditError where there is no such thing, or it can't fail so.

    `index`, that of `rig`, only saves time.
    """
    for name in names:
        index = Index(rig, index)
        rig = _marked(rig, index, name, True)
    return rig


def repaired(rig: Rig, names: Iterable[str] | None = None, index: Index | None = None) -> Rig:
    """The rig with those working, everything where none are given. Raises EditError where there is no such thing.

    `index`, that of `rig`, only saves time.
    """
    for name in failed(rig) if names is None else names:
        index = Index(rig, index)
        rig = _marked(rig, index, name, False)
    return rig


def baseline(rig: Rig) -> Rig:
    """The rig as it was before the first failure, everything working."""
    changed = {
        name: table for night in rig.night for name in TABLES if (table := getattr(night.baseline, name))
    }
    return repaired(replace(rig, night=(), **changed))


def failed(rig: Rig) -> tuple[str, ...]:
    """What is marked failed, in the order of the rig file."""
    return tuple(map(written, outage.marked(rig)))


def failed_at(rig: Rig, place: str) -> tuple[str, ...]:
    """What is marked failed at a place, in the words that `fail` takes; of a line also its pole pairs."""
    pairs = [
        LinePair(line.id, pair - 1) for line in rig.lines if line.id == place for pair in line.failed_pairs
    ]
    here = {place, *map(str, pairs)}
    return tuple(written(each) for each in outage.marked(rig) if each.at in here)


def written(failure: Outage) -> str:
    """A failure in the words that `fail` takes: the place alone for the way in which it fails most often."""
    return failure.at + _WRITTEN.get(failure.what, f"={failure.what}")


def place_of(index: Index, failure: str) -> str:
    """The place that a failure is at, as `fail` takes it; an id may hold the sign that stands before the way it failed."""
    return failure if index.place(failure) else failure.rpartition("=")[0] or failure


def ways(index: Index, place: str) -> dict[str, str]:
    """In which ways a place can fail: in the words that `fail` takes → in words, that which is most likely first."""
    match index.place(place):
        case ChannelPlace():
            return {place: "the channel itself", f"{place}={_INPUT}": "the signal lead into it"}
        case SectionPlace():
            return {place if fault == FAULTS[0] else f"{place}={fault}": fault for fault in FAULTS}
        case Thing(kind="line"):
            pairs = [pair for pair in index.line_pairs.values() if pair.line == place]
            apart = {str(pair): f"pole pair {pair.pair + 1} of it" for pair in pairs if len(pairs) > 1}
            return {place: "the whole line"} | apart
        case None:
            return {}
        case _:
            return {place: "all of it"}


def _marked(rig: Rig, index: Index, name: str, dead: bool) -> Rig:
    """The rig with that marked failed, or working."""
    change = edits.unchecked(edits.change)
    failure, name = name, place_of(index, name)
    how, place = failure[len(name) + 1 :], index.place(name)
    state = "failed" if dead else "ok"
    ways = (_INPUT,) if isinstance(place, ChannelPlace) else FAULTS if isinstance(place, SectionPlace) else ()
    if how and how not in ways:
        known = (
            f" Write one of: {', '.join(f'{name}={way}' for way in ways)}."
            if ways
            else f" Write {name} alone."
        )
        raise EditError(f'{name} can\'t fail as "{how}".{known}')
    match place:
        case Thing(kind="phase"):
            others = [phase for phase in rig.supply.failed_phases if phase != name]
            phases = tuple(phase for phase in PHASES if phase in others or (dead and phase == name))
            return replace(rig, supply=replace(rig.supply, failed_phases=phases))
        case None:
            raise EditError(
                f'Nothing called "{name}" can fail. Name a channel such as "A1.2", an amplifier, a rack, a circuit, a '
                f"phase, a feed, a socket, a line, a cabinet, a pole pair or a section."
            )
        case ChannelPlace():
            key = "input_state" if how else "state"
            return change(rig, name, **{key: state})
        case SectionPlace():
            faults: dict[str, Any] = dict(index.cabinets[place.cabinet].faults)
            faults.pop(place.section, None)
            return change(
                rig, place.cabinet, faults=faults | ({place.section: how or FAULTS[0]} if dead else {})
            )
        case PolePair() | LinePair():
            held = (index.sockets | index.lines)[place.thing].failed_pairs
            pairs = {*held, place.pair + 1} if dead else {*held} - {place.pair + 1}
            return change(rig, place.thing, failed_pairs=tuple(sorted(pairs)))
        case thing:
            return change(rig, thing.id, state=state)


def in_words(rig: Rig, name: str) -> str:
    """A failure, as `fail` takes it, as a person names it: `the signal lead of A10.3`, `TOP-L1.high (shorted)`."""
    place = name.removesuffix(f"={_INPUT}")
    if place != name and place in Index(rig).channels:
        return f"the signal lead of {place}"
    place, sign, fault = name.rpartition("=")
    return f"{place} ({fault})" if sign and fault in FAULTS else name


def named(rig: Rig, names: Sequence[str]) -> tuple[str, ...]:
    """What has failed as a person names it, in that order: an amplifier where all the channels that it has are among them."""
    whole: dict[str, str] = {}
    for amplifier in rig.amplifiers():
        own = _channels_of(rig, amplifier)
        if len(own) > 1 and {*own} <= {*names}:
            whole |= dict.fromkeys(own, amplifier.id)
    return tuple(dict.fromkeys(whole.get(name) or in_words(rig, name) for name in names))


def _channels_of(rig: Rig, amplifier: Amplifier) -> list[str]:
    count = next(model.channels for model in rig.equipment.amplifiers if model.id == amplifier.model)
    return [channel_name(amplifier.id, number) for number in range(count)]
