"""What to look at next: listening, lights, a plug swapped or pulled, a meter; each with its seconds and what it would show.

A check is a question to the rig with a suspicion made true, so that what it would show is found in one way for all.
Nothing here decides which check is best.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Literal, NamedTuple, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine import channel, network, outage, touch
from rackwright.engine.diagnosis.answers import AnswerError, asked_for, side_of
from rackwright.engine.diagnosis.faults import Light, Suspicion, Table
from rackwright.engine.recovery.failure import fail
from rackwright.model.index import Index, pole_or_none, wired_sections
from rackwright.model.lines import Line
from rackwright.model.places import LinePair
from rackwright.model.rig import FRONT_OF_HOUSE
from rackwright.units.wording import few, listed

Kind: TypeAlias = Literal["listen", "lights", "unplug", "swap", "meter"]

LOOK = 3.0
"""s to look at the lights of a channel. Common practice, no source."""
METER = 10.0
"""s to read a meter. Common practice, no source."""

MOST_FEEDS = 3
"""Feeds that are named for a test."""

OUTCOMES: dict[Kind, dict[str, str]] = {
    "listen": {
        "plays": "all of it plays", "quiet": "quiet, or part of it silent", "silent": "silent",
        "distorted": "it distorts", "humming": "it hums",
    },
    "lights": {
        "dark": "no light at all", "protect": "protect or clip light", "no signal": "power, but no signal light",
        "signal": "power and signal light",
    },
    "unplug": {"protect": "protect or clip light stays", "clear": "no protect or clip light"},
    "swap": {
        "stays": "the same cabinet is wrong", "moves": "the other cabinet is wrong now", "both": "both are wrong",
        "neither": "both play",
    },
    "meter": {"short": "short", "open": "open, or it jumps", "expected": "as expected"},
}  # fmt: skip
"""What each check can show, in words."""


class Check(Struct, frozen=True):
    """Something to look at, and how long that takes."""

    kind: Kind
    place: str
    words: str
    seconds: float

    @property
    def id(self) -> str:
        """As it is written: `lights A1.2`."""
        return f"{self.kind} {self.place}"


class _Walk(NamedTuple):
    seconds: float
    words: str


def check_of(table: Table, text: str) -> Check:
    """The check that is written so: `lights A1.2`. Raises AnswerError."""
    kind, _, place = text.strip().partition(" ")
    known: dict[str, Callable[[Table, str], Check | None]] = {
        "listen": listen, "lights": _lights, "unplug": _unplug, "swap": _swap, "meter": _meter,
    }  # fmt: skip
    if kind not in known:
        raise AnswerError(
            f'"{text}" is no test: begin with one of {", ".join(known)}, such as "lights A1.2".'
        )
    found = known[kind](table, place.strip())
    if found is None:
        raise AnswerError(f'"{text}": this can\'t be tested at "{place.strip()}". {_SUBJECTS[kind]}')
    return found


_SUBJECTS = {
    "lights": "Name a channel that has a feed, such as A1.2.",
    "unplug": "Name a line that leads from a socket.",
    "swap": "Name a socket that has another of its kind in its rack, with the same feeds and cabinets.",
    "meter": "Name a pole pair of a line that leads from a socket, such as C1/2, or a section within reach.",
}


def read_found(table: Table, text: str) -> tuple[Check, str]:
    """A test with what it showed, as typed: `lights A1.2=dark`. Raises AnswerError."""
    asked, sign, outcome = (part.strip() for part in text.rpartition("="))
    if not sign:
        raise AnswerError(f'"{text}" says no outcome: write it behind the test, such as "lights A1.2=dark".')
    check = check_of(table, asked)
    if outcome not in OUTCOMES[check.kind]:
        raise AnswerError(
            f'"{text}": {check.id} can\'t show "{outcome}". Write one of: {", ".join(OUTCOMES[check.kind])}.'
        )
    return check, outcome


def kept_found(table: Table, heard: Mapping[str, str]) -> dict[str, str]:
    """Of what a rig holds as heard the tests that can be made still, with what they showed."""
    return {test: outcome for test, outcome in heard.items() if _could_show(table, test, outcome)}


def _could_show(table: Table, test: str, outcome: str) -> bool:
    try:
        check = check_of(table, test)
    except AnswerError:
        return False
    return check.kind != "listen" and outcome in OUTCOMES[check.kind]


def candidates(table: Table, sections: Iterable[str], shorted: Iterable[str]) -> Iterator[Check]:
    """The checks, listening apart, of what those sections hang on; `shorted` are those that may be.

    A load that may be shorted is never swapped to another channel: its line is unplugged first.
    """
    patched = [table.meant[name] for name in sections]
    doubtful = [table.index.root_line(table.index.sections[name].cabinet) for name in shorted]
    lines = dict.fromkeys(filter(None, (table.index.root_line(each.cabinet) for each in patched)))
    channels = dict.fromkeys(each.channel or "" for each in patched)
    yield from filter(None, (_lights(table, name) for name in channels))
    for line in lines:
        yield from filter(None, [_unplug(table, line.id) if line in doubtful else _swap(table, line.source)])
        pairs = [name for name, pair in table.index.line_pairs.items() if pair.line == line.id]
        yield from filter(None, (_meter(table, name) for name in pairs))
    yield from filter(None, (_meter(table, each.id) for each in patched))
    others = dict.fromkeys(line for line in doubtful if line and line not in lines)
    yield from filter(None, (_unplug(table, line.id) for line in others))


def shows(table: Table, check: Check, causes: Suspicion) -> str:
    """What a check would show with those causes: a key of `OUTCOMES`."""
    if check.kind == "listen":
        return table.heard_of(asked_for(table, check.place), causes)
    if check.kind == "meter":
        return _measured(table, check.place, causes)
    if check.kind == "lights":
        return _light(table, check.place, causes)
    if check.kind == "unplug":
        line = table.index.lines[check.place]
        light = {
            _light(table, name, causes, unplugged=line.id) for name in table.index.channels_at(line.source)
        }
        return "protect" if "protect" in light else "clear"
    return _swapped(table, check.place, causes)


# --- the checks there are ---


def listen(table: Table, place: str) -> Check:
    """Hear one place with everything else muted. Raises AnswerError where nothing is heard of it."""
    sections = asked_for(table, place)
    feeds = [*dict.fromkeys(table.feeds[name] for name in sections)]
    only = ", ".join(feeds) if len(feeds) <= MOST_FEEDS else f"its {len(feeds)} feeds"
    at = _heard_at(table, sections, feeds)
    way = _way(table) if at else 0.0
    begin = f"Go to {few(at, 2)}; in" if at else "In"
    words = f"{begin} a song gap mute all but {only}{'' if only == place else f'; hear {place}'}."
    return Check("listen", place, words, way + 2 * table.rig.targets.times.mute.value)


def _heard_at(table: Table, sections: Sequence[str], feeds: Sequence[str]) -> list[str]:
    """The cabinets that one has to go to, to hear those alone; none where front of house does, which is always manned.

    There one tells the sides apart, not the cabinets of a side that play together, and hears no monitor.
    Common practice, no source.
    """
    cabinets = [*dict.fromkeys(table.meant[name].cabinet for name in sections)]
    sides = {side_of(table, name) for name in sections}
    beside = {name for name, feed in table.feeds.items() if feed in feeds and side_of(table, name) in sides}
    alone = beside <= {*sections} or len(cabinets) > 1
    heard = alone and any(table.index.cabinets[name].role != "monitor" for name in cabinets)
    return [] if heard else cabinets


def _lights(table: Table, name: str) -> Check | None:
    place = table.index.channels.get(name)
    if place is None or not table.before.channels[name].feed:
        return None
    walk = _to(table, place.amplifier)
    return Check("lights", name, f"{walk.words}look at the lights of {name}.", walk.seconds + LOOK)


def _unplug(table: Table, name: str) -> Check | None:
    line = table.index.lines.get(name)
    if line is None or line.source not in table.index.sockets:
        return None
    walk = _to(table, line.source)
    first, back = _made_safe(table, line.source)
    channels = table.index.channels_at(line.source)
    lights = f"the protect light{'' if len(channels) == 1 else 's'} of {listed(channels)}"
    up = "" if back else f", and turn {listed(channels)} up"
    words = f"{walk.words}{first}, unplug {name} at {line.source}, {back}look at {lights}; plug it in again if it stays{up}."
    return Check("unplug", name, words, walk.seconds + 2 * _plug(table) + LOOK)


def _swap(table: Table, socket: str) -> Check | None:
    twin = _twin(table.index, socket)
    if not twin:
        return None
    walk, times = _to(table, socket), table.rig.targets.times
    first, back = _made_safe(table, socket, twin)
    words = f"{walk.words}{first}, swap the plugs at {socket} and {twin}, {back or 'turn up, '}listen; swap them back the same way."
    return Check("swap", socket, words, walk.seconds + 2 * _plug(table) + 2 * times.mute.value)


def _meter(table: Table, name: str) -> Check | None:
    index = table.index
    if name in index.sections and name in table.meant:
        place = index.sections[name]
        cabinet = index.cabinets[place.cabinet]
        if cabinet.access == "flown":
            return None
        seconds = _way(table) + 2 * _plug(table) + METER
        words = f"Switch {_amplifiers(table, index.root_line(cabinet.id))} off, go to {cabinet.id}, unplug it and measure into the pole pair of {place.section}."
        return Check("meter", name, words, seconds)
    pair = index.line_pairs.get(name)
    if pair is None or index.lines[pair.line].source not in index.sockets or not _behind(index, pair):
        return None
    source = index.lines[pair.line].source
    walk = _to(table, source)
    off = _amplifiers(table, index.lines[pair.line])
    words = f"{walk.words}switch {off} off, unplug {pair.line} at {source} and measure into its pole pair {pair.pair + 1}."
    return Check("meter", name, words, walk.seconds + 2 * _plug(table) + METER)


def _amplifiers(table: Table, line: Line | None) -> str:
    """The amplifiers that a line which leads from a socket hangs on, as a person reads them out."""
    channels = table.index.channels_at(line.source) if line else ()
    return (
        listed([*dict.fromkeys(table.index.channels[name].amplifier for name in channels)]) or "its amplifier"
    )


def _made_safe(table: Table, *sockets: str) -> tuple[str, str]:
    """What comes before a plug is moved, and what brings the amplifier back where it was powered down."""
    first = touch.made_safe(table.index, table.before.branches.values(), sockets)
    if first != touch.MUTE:
        return first, "power up, "
    held = {name for socket in sockets for name in table.index.channels_at(socket)}
    return f"turn {listed([name for name in table.index.channels if name in held])} down", ""


def _plug(table: Table) -> float:
    return table.rig.targets.times.plug.value


def _to(table: Table, thing: str) -> _Walk:
    """The way to the rack that holds a thing, from where the crew stands."""
    rack = table.index.rack_of[thing].id
    if table.rig.targets.crew_at == rack:
        return _Walk(0.0, f"At {rack} ")
    return _Walk(_way(table), f"Go to {rack}, ")


def _way(table: Table) -> float:
    """s to go to another place from where the crew stands."""
    times, at = table.rig.targets.times, table.rig.targets.crew_at
    return (times.to_rack if at == FRONT_OF_HOUSE else times.between_racks).value


# --- what they show ---


def _light(table: Table, name: str, causes: Suspicion, unplugged: str = "") -> Light:
    """What a channel's lights show with those causes, a line pulled at its socket or none."""
    silencing = [cause.name for cause in causes if cause.heard == "silent"]
    index, place = table.after(silencing, unplugged), table.index.channels[name]
    amplifier, number = index.amplifiers[place.amplifier], place.channel
    if outage.of_power(index, amplifier):
        return "dark"
    told = {cause.name: cause.light for cause in causes if cause.light}
    if found := outage.of_amplifier(index, amplifier):
        return told.get(found.at, "dark")
    if found := outage.of_output(amplifier, number):
        return told.get(found.at, "protect")
    if outage.of_signal(index, amplifier, number):
        return "no signal"
    bare, signs = channel.unsolved(index, amplifier, number)
    reached = {f"{cabinet}.{section}" for cabinet, section in signs}
    limits = any(cause.light == "protect" and cause.place in reached for cause in causes)
    return "protect" if limits or bare.result.outage else "signal"


def _shape(index: Index, socket: str) -> object:
    """What a socket plays and what hangs on it, as far as another must be alike to take its place for a moment."""
    held = index.sockets[socket]
    poles = map(pole_or_none, held.poles)
    feeds = [pole and (pole.sign, index.amplifiers[pole.amplifier].feed_of(pole.channel)) for pole in poles]
    return held.connector, feeds, _hung(index, socket)


def _hung(index: Index, place: str) -> object:
    cabinets = ((line, index.cabinets[line.to]) for line in index.lines_from.get(place, ()))
    return [(line.poles, c.model, c.wiring, c.muted, _hung(index, c.id)) for line, c in cabinets]


def _twin(index: Index, socket: str) -> str:
    """The first other socket of the rack that plays the same to the same cabinets; empty where there is none."""
    if socket not in index.sockets or not index.lines_from.get(socket):
        return ""
    shape = _shape(index, socket)
    others = (each.id for each in index.rack_of[socket].sockets if each.id != socket)
    return next((name for name in others if _shape(index, name) == shape), "")


def _swapped(table: Table, socket: str, causes: Suspicion) -> str:
    twin = _twin(table.index, socket)
    other = {socket: twin, twin: socket}
    rig = table.index.rig
    lines = tuple(
        replace(line, source=other[line.source]) if line.source in other else line for line in rig.lines
    )
    after = Index(fail(replace(rig, lines=lines), [cause.name for cause in causes]), table.index)
    gone = table.taken_along(after)

    def wrong(place: str) -> bool:
        """Whether anything behind the line that was at this socket is not as it should be."""
        return not gone.isdisjoint(_behind_socket(table.index, place))

    here, there = wrong(socket), wrong(twin)
    return "both" if here and there else "stays" if here else "moves" if there else "neither"


def _behind_socket(index: Index, socket: str) -> set[str]:
    cabinets = [socket]
    found: set[str] = set()
    while cabinets:
        place = cabinets.pop()
        onward = [line.to for line in index.lines_from.get(place, ())]
        cabinets += onward
        found.update(name for name, each in index.sections.items() if each.cabinet in onward)
    return found


def _behind(index: Index, pair: LinePair) -> set[tuple[str, str]]:
    """The sections that a meter sees at the near end of a pole pair: none that is behind a capacitor."""
    reached: dict[tuple[str, str], int] = {}
    network.runs_from(index, index.lines[pair.line].source, pair.pair, reached, 1)
    models = {cabinet: index.loudspeaker_models[index.cabinets[cabinet].model] for cabinet, _ in reached}
    return {each for each in reached if models[each[0]].section(each[1]).capacitor is None}


def _measured(table: Table, name: str, causes: Suspicion) -> str:
    after = table.after(tuple(cause.name for cause in causes))
    if pair := table.index.line_pairs.get(name):
        expected, seen = _behind(table.index, pair), _behind(after, pair)
    else:
        expected, seen = _inside(table.index, name), _inside(after, name)
    if any(outage.fault(after.cabinets[cabinet], section) == "shorted" for cabinet, section in seen):
        return "short"
    return "open" if expected - seen else "expected"


def _inside(index: Index, name: str) -> set[tuple[str, str]]:
    """The sections on the pole pairs of a cabinet that drive one of it, as far as they conduct."""
    place = index.sections[name]
    cabinet = index.cabinets[place.cabinet]
    pairs = wired_sections(cabinet, index.loudspeaker_models[cabinet.model])
    sections = {each for pair in pairs if place.section in pair for each in pair}
    return {(cabinet.id, each) for each in sections if outage.fault(cabinet, each) != "open"}
