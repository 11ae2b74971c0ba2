"""What would help most before the show: one more spare, plugs exchanged between racks or amplifiers, circuits between amplifiers.

Each is tried by failing, with it, what it may ease. A rig with it is judged by its first plans, the rig as it is by the best
known: what helps only after a long search isn't told. Holds no order of failures.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from itertools import combinations
from typing import Literal, NamedTuple, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.recovery.alike import classes
from rackwright.engine.recovery.criteria import Criteria, new_stops
from rackwright.engine.recovery.every_failure import Answers, Rehearsed, Rehearser
from rackwright.model.index import Index, pairs_carried, pole_or_none, wired_sections
from rackwright.model.lines import Spare
from rackwright.model.racks import Amplifier, Channel, Rack, Socket
from rackwright.model.rig import Rig
from rackwright.units.wording import few

HelpKind: TypeAlias = Literal["channel", "cable", "amplifier", "plugs", "circuits"]


class Help(Struct, frozen=True, kw_only=True):
    """What one thing done before the show would do for all failures together."""

    kind: HelpKind
    what: str
    """The amplifier or cable that is spare, with its length; empty where things are exchanged."""
    rack: str
    """Where a spare channel would be; empty for anything else."""
    exchanged: tuple[tuple[str, str], ...]
    """The sockets whose plugs, or the amplifiers whose circuits, are exchanged."""
    helps: tuple[str, ...]
    """The failures that it eases, the most eased first."""
    number: int
    """How many those are, with what is interchangeable with them."""
    silent: float
    """The weight that it saves from silence, summed over the failures."""
    balance: float
    """dB saved between left and right, summed over the failures."""
    level: float
    """dB of level saved, summed over the failures."""

    @property
    def worth(self) -> tuple[float, float, float]:
        return self.silent, self.balance, self.level


def advised(each: Help) -> str:
    """What to do, and what that eases, in a sentence."""
    exchanged = ", ".join(f"{one} with {other}" for one, other in each.exchanged)
    what = {
        "channel": f"Add a spare channel of {each.what} in {each.rack}",
        "amplifier": f"Take a spare {each.what} along",
        "cable": f"Take a spare {each.what} along, to link from a cabinet that it reaches",
        "plugs": f"Exchange the plugs at {exchanged}, if the cables reach",
        "circuits": f"Exchange the mains plugs of {exchanged}, if the cables reach",
    }[each.kind]
    return (
        f"{what}: {each.number} failure{'s cost' if each.number > 1 else ' costs'} less, {few(each.helps)}."
    )


class _Offer(NamedTuple):
    """The rig with something done before the show."""

    kind: HelpKind
    what: str
    model: str
    """Of the amplifier or the cable."""
    rack: str
    rig: Rig
    exchanged: tuple[tuple[str, str], ...] = ()


class _Trial(NamedTuple):
    """A failure to try an offer on, how many are like it, and what the best known plan is worth without."""

    best: Criteria
    name: str
    names: tuple[str, ...]
    number: int


_Tried: TypeAlias = tuple[_Offer, list[_Trial]]


def helps(
    rehearser: Rehearser, failures: Sequence[Rehearsed], answers: Answers
) -> Iterator[tuple[tuple[Help, ...], int, int]]:
    """What helps, the most first, after each search; and of how many searches that is."""
    before = rehearser.now
    offers = ((offer, _trials(before, offer, failures)) for offer in _offers(before, failures))
    tried = [(offer, trials) for offer, trials in offers if trials]
    total = sum(len(trials) for _, trials in tried)
    found: dict[int, Help] = {}
    done = 0
    for number, each in answers(_worth, rehearser, tried):
        if each is not None and each.helps:
            found[number] = each
        done += len(tried[number][1])
        told = [found[number] for number in sorted(found)]
        yield tuple(sorted(told, key=lambda each: each.worth, reverse=True)), done, total


def _worth(rehearser: Rehearser, tried: _Tried) -> Help | None:
    """What an offer saves; None where no rig may be so. A spare can't make anything worse; where things are exchanged what is
    worse counts too."""
    offer, trials = tried
    changed = assess(offer.rig, rehearser.now)
    if next(new_stops(rehearser.now, changed), None) is not None:
        return None
    with_it = Rehearser(changed, rehearser.between)
    eased: list[tuple[tuple[float, float, float], _Trial]] = []
    for trial in trials:
        was, now = trial.best, with_it.best(trial.names, proof=False)[1].criteria
        saved = was.silence - now.silence, was.balance - now.balance, was.level - now.level
        if saved > (0.0, 0.0, 0.0) or (offer.exchanged and saved < (0.0, 0.0, 0.0)):
            eased.append((saved, trial))
    eased.sort(key=lambda each: each[0], reverse=True)
    silent, balance, level = (
        round(sum([saved[i] * trial.number for saved, trial in eased]), 6) for i in range(3)
    )
    better = (silent, balance, level) > (0.0, 0.0, 0.0)
    told = [trial for saved, trial in eased if saved > (0.0, 0.0, 0.0)] if better else []
    return Help(
        kind=offer.kind,
        what=offer.what,
        rack=offer.rack,
        exchanged=offer.exchanged,
        helps=tuple([trial.name for trial in told]),
        number=sum([trial.number for trial in told]),
        silent=silent,
        balance=balance,
        level=level,
    )


def _offers(before: Assessed, failures: Sequence[Rehearsed]) -> Iterator[_Offer]:
    """A channel in each kind of rack, an amplifier of each model, a length of each cable, all as in use; then exchanges."""
    index = before.index
    rig, alike = index.rig, classes(index)
    for rack in {alike[rack.id]: rack for rack in reversed(rig.racks) if rack.amplifiers}.values():
        model = Counter(amplifier.model for amplifier in rack.amplifiers).most_common(1)[0][0]
        yield _Offer("channel", model, model, rack.id, _with_channel(rig, rack, model, before))
    for model in dict.fromkeys(amplifier.model for amplifier in rig.amplifiers()):
        yield _Offer("amplifier", model, model, "", _with_spare(rig, Spare(amplifier=model)))
    for cable in _cables(rig, before):
        shortest = min(
            (line.length for line in rig.lines if line.cable == cable), key=lambda length: length.value
        )
        spare = Spare(cable=cable, length=shortest)
        yield _Offer("cable", spare.id, cable, "", _with_spare(rig, spare))
    costly = {name for f in failures if any(f.best[:4]) for name in (f.name, *f.like)}
    yield from _exchanges(before, alike, costly)


# --- one more spare -----------------------------------------------------------------------------------
def _cables(rig: Rig, before: Assessed) -> list[str]:
    """Of each number of cores the cable that is used most."""
    used = Counter(line.cable for line in rig.lines)
    cores = {name: before.index.cable_models[name].cores for name in used}
    return list({cores[name]: name for name, _ in reversed(used.most_common())}.values())


def _with_spare(rig: Rig, spare: Spare) -> Rig:
    known = any(other.id == spare.id for other in rig.spares)
    more = tuple(replace(s, count=s.count + 1) if s.id == spare.id else s for s in rig.spares)
    return replace(rig, spares=more if known else (*more, spare))


def _with_channel(rig: Rig, rack: Rack, model: str, before: Assessed) -> Rig:
    """The rig with an amplifier of which one channel works, over the top of a rack and on no circuit."""
    name = "SPARE"
    while before.index.place(name):
        name += "-"
    count = before.index.amplifier_models[model].channels
    channels = (Channel(), *[Channel(state="failed")] * (count - 1))
    spare = Amplifier(id=name, model=model, unit=rack.height + 1, channels=channels)
    racks = tuple(replace(r, amplifiers=(*r.amplifiers, spare)) if r.id == rack.id else r for r in rig.racks)
    return replace(rig, racks=racks)


def _trials(before: Assessed, offer: _Offer, failures: Sequence[Rehearsed]) -> list[_Trial]:
    if offer.exchanged:
        return _touched(before.index, offer, failures)
    eased = _eased_by(before, offer, failures)
    if offer.kind != "channel":
        return [_Trial(f.best, f.name, f.names, 1 + len(f.like)) for f in eased]
    there = {name for name, rack in before.index.rack_of.items() if rack.id == offer.rack}
    return [_Trial(f.best, f.name, f.names, _among(f, there)) for f in eased]


def _among(failure: Rehearsed, things: Collection[str]) -> int:
    """How many of a failure and those like it are of those things, itself counted."""
    return 1 + sum(all(part.partition(".")[0] in things for part in each.split("+")) for each in failure.like)


def _eased_by(before: Assessed, offer: _Offer, failures: Iterable[Rehearsed]) -> list[Rehearsed]:
    """The failures that a spare may ease: those that leave something silent, or where none do, something quieter."""
    open_ones = [f for f in failures if f.best.silence] or [f for f in failures if f.best.loss]
    index = before.index
    if offer.kind == "channel":
        there = {name for name, rack in index.rack_of.items() if rack.id == offer.rack}
        roots = {f.name: {index.root(before.sections[n].cabinet) for n in f.lost} for f in open_ones}
        return [f for f in open_ones if roots[f.name] & there and f.name != offer.rack]
    if offer.kind == "amplifier":
        model = index.amplifier_models[offer.model]
        least = {rack.id: [a.id for a in rack.amplifiers] for rack in index.rig.racks}
        channels = {
            f.name: min(
                index.amplifier_models[index.amplifiers[name].model].channels
                for name in least.get(f.name, [f.name])
            )
            for f in open_ones
            if f.kind in ("amplifier", "rack")
        }
        return [f for f in open_ones if channels.get(f.name, model.channels + 1) <= model.channels]
    return [f for f in open_ones if any(_may_link(before, offer, name) for name in f.lost)]


def _may_link(before: Assessed, offer: _Offer, section: str) -> bool:
    """Whether a cable has a pole pair for a section, and a cabinet whose line starts at the same rack plays its feed."""
    index = before.index
    cabinet = before.sections[section].cabinet
    wiring = wired_sections(index.cabinets[cabinet], index.loudspeaker_models[index.cabinets[cabinet].model])
    pairs = [pair for pair, names in enumerate(wiring) if before.sections[section].section in names]
    model = index.cable_models[offer.model]
    if not pairs or pairs[0] >= pairs_carried(model, 1):
        return False
    feed = before.channels[before.sections[section].channel or ""].feed
    racks = {root: index.rack_of[root].id for root in index.sockets}
    own = racks.get(index.root(cabinet) or "")
    return any(
        other.cabinet != cabinet
        and other.channel is not None
        and before.channels[other.channel].feed == feed
        and racks.get(index.root(other.cabinet) or "") == own
        for other in before.sections.values()
    )


# --- things exchanged ---------------------------------------------------------------------------------


def _exchanges(before: Assessed, alike: dict[str, Hashable], costly: Collection[str]) -> Iterator[_Offer]:
    """Every second plug exchanged between two racks or amplifiers, every second amplifier between two circuits.

    Only where both play the same on different sides, so that nothing but the side changes, and where the failure of one of
    them costs something.
    """
    index, rig = before.index, before.index.rig
    sockets = [socket for socket in rig.sockets() if index.lines_from.get(socket.id)]
    units: dict[str, list[str]] = defaultdict(list)
    for socket in sockets:
        units[index.rack_of[socket.id].id].append(socket.id)
        for name in dict.fromkeys(pole.amplifier for pole in map(pole_or_none, socket.poles) if pole):
            units[name].append(socket.id)
    plays: dict[str, Hashable] = {socket.id: _plays(index, socket) for socket in sockets}
    sides = _sides(before)
    apart = {name: rack.id for name, rack in index.rack_of.items()}
    for pairs in _alternate(units, plays, sides, alike, costly, apart):
        yield _Offer("plugs", "", "", "", _replugged(rig, pairs), pairs)
    fed: dict[str, list[str]] = defaultdict(list)
    drives: dict[str, Hashable] = {}
    for rack in rig.racks:
        for amplifier in rack.amplifiers:
            fed[amplifier.circuit].append(amplifier.id)
            feeds = tuple(sorted(channel.feed for channel in amplifier.channels))
            drives[amplifier.id] = rack.id, rack.reaches, amplifier.reaches, amplifier.model, feeds
    for pairs in _alternate({c: fed[c] for c in index.circuits}, drives, sides, alike, costly, {}):
        yield _Offer("circuits", "", "", "", _recircuited(index, pairs), pairs)


def _alternate(
    units: Mapping[str, Sequence[str]],
    plays: Mapping[str, Hashable],
    sides: Mapping[str, Collection[str]],
    alike: Mapping[str, Hashable],
    costly: Collection[str],
    apart: Mapping[str, str],
) -> Iterator[tuple[tuple[str, str], ...]]:
    """For two units each kind of two what to exchange: of what plays the same every second. None for two that are `apart`."""
    tried: set[Hashable] = set()
    for one, other in combinations(units, 2):
        kinds = alike.get(one), alike.get(other)
        if kinds in tried or apart.get(one) != apart.get(other) or not {one, other} & {*costly}:
            continue
        if {*units[one]} & {*units[other]}:
            continue
        pairs: list[tuple[str, str]] = []
        for kind in dict.fromkeys(plays[name] for name in units[one]):
            here, there = ([name for name in units[unit] if plays[name] == kind] for unit in (one, other))
            pairs += [*zip(here, there, strict=False)][1::2]
        if any(sides.get(a) != sides.get(b) for a, b in pairs):
            tried.add(kinds)
            yield tuple(pairs)


def _sides(before: Assessed) -> dict[str, set[str]]:
    """Socket or amplifier → the sides of what it drives."""
    index = before.index
    found: dict[str, set[str]] = defaultdict(set)
    for section in before.sections.values():
        if section.channel is not None:
            branch = before.branches[section.channel]
            side = index.cabinets[section.cabinet].side or (branch.feed.side if branch.feed else "")
            found[index.root(section.cabinet) or ""].add(side)
            found[branch.amplifier.id].add(side)
    return found


def _plays(index: Index, socket: Socket) -> Hashable:
    """What a socket plays, and the models that hang on it."""
    poles = map(pole_or_none, socket.poles)
    feeds = tuple(
        pole and (pole.sign, index.amplifiers[pole.amplifier].feed_of(pole.channel)) for pole in poles
    )
    return socket.connector, feeds, _hung(index, socket.id)


def _hung(index: Index, place: str) -> Hashable:
    cabinets = ((line, index.cabinets[line.to]) for line in index.lines_from.get(place, ()))
    return tuple((line.cable, line.poles, c.model, c.wiring, _hung(index, c.id)) for line, c in cabinets)


def _replugged(rig: Rig, pairs: Iterable[tuple[str, str]]) -> Rig:
    other = {name: to for a, b in pairs for name, to in ((a, b), (b, a))}
    lines = tuple(replace(line, source=other.get(line.source, line.source)) for line in rig.lines)
    return replace(rig, lines=lines)


def _recircuited(index: Index, pairs: Iterable[tuple[str, str]]) -> Rig:
    circuits = {a.id: a.circuit for a in index.rig.amplifiers()}
    changed = {name: circuits[to] for a, b in pairs for name, to in ((a, b), (b, a))}
    racks = tuple(
        replace(r, amplifiers=tuple(replace(a, circuit=changed.get(a.id, a.circuit)) for a in r.amplifiers))
        for r in index.rig.racks
    )
    return replace(index.rig, racks=racks)


def _touched(index: Index, offer: _Offer, failures: Iterable[Rehearsed]) -> list[_Trial]:
    """The racks, amplifiers and circuits that an exchange is between, each by itself."""
    ends = [name for pair in offer.exchanged for name in pair]
    if offer.kind == "circuits":
        places = {index.amplifiers[name].circuit for name in ends}
    else:
        poles = [pole for name in ends for pole in map(pole_or_none, index.sockets[name].poles) if pole]
        amplifiers = {pole.amplifier for pole in poles}
        places = {index.rack_of[name].id for name in ends} | amplifiers
        places |= {index.amplifiers[name].circuit for name in amplifiers}
    return [
        _Trial(failure.best, name, (name,), 1)
        for failure in failures
        for name in (failure.name, *failure.like)
        if name in places
    ]
