"""The rules of what is wired to what: references lead somewhere, pole pairs exist, lines make trees."""

import re
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

from rackwright.model.equipment import ConnectorModel
from rackwright.model.index import Index, pairs_carried
from rackwright.model.lines import Line
from rackwright.model.racks import Amplifier, Socket, read_pole
from rackwright.model.rig import Rig
from rackwright.model.rules.problem import Path, Problem, absent, missing, within

T = TypeVar("T")

_CHANNEL = re.compile(r"(?<![^\s.,+&])-*+([^\s.,+&]++\.\d+)")


def check_wiring(rig: Rig, index: Index) -> Iterator[Problem]:
    """Every breach of amplifiers, sockets, lines and cabinets, each by itself."""
    yield from _amplifiers(rig, index)
    yield from _sockets(rig, index)
    yield from check_lines(rig.lines, index)
    yield from _cabinets(rig, index)


def _amplifiers(rig: Rig, index: Index) -> Iterator[Problem]:
    for r, rack in enumerate(rig.racks):
        for a, amplifier in enumerate(rack.amplifiers):
            yield from _amplifier(("racks", r, "amplifiers", a), amplifier, index)


def _amplifier(path: Path, amplifier: Amplifier, index: Index) -> Iterator[Problem]:
    yield from within(path, amplifier)
    if amplifier.circuit and amplifier.circuit not in index.circuits:
        yield Problem((*path, "circuit"), *missing("circuit", amplifier.circuit, index.circuits))
    yield from absent((*path, "reaches"), "circuit", amplifier.reaches, index.circuits)
    for c, channel in enumerate(amplifier.channels):
        if channel.feed and channel.feed not in index.feeds:
            yield Problem((*path, "channels", c, "feed"), *missing("feed", channel.feed, index.feeds))
    model = index.amplifier_models.get(amplifier.model)
    if model is None:
        yield Problem((*path, "model"), *missing("amplifier model", amplifier.model, index.amplifier_models))
        return
    if len(amplifier.channels) > model.channels:
        yield Problem(
            (*path, "channels"),
            f"{amplifier.id} lists {len(amplifier.channels)} channels and {model.id} has {model.channels}",
            f"List {model.channels} at most.",
        )
    if not isinstance(amplifier.mode, str) and len(amplifier.mode) > (model.channels + 1) // 2:
        yield Problem(
            (*path, "mode"),
            f"{amplifier.id} has {len(amplifier.mode)} modes and {model.id} has {model.channels} channels",
            "Give one mode for all, or one for each two channels.",
        )
    elif model.channels % 2 and amplifier.pair_mode(model.channels - 1) != "dual":
        yield Problem(
            (*path, "mode"),
            f"The last channel of {amplifier.id} has no partner to be {amplifier.pair_mode(model.channels - 1)} with",
            'Give a list of modes with "dual" for the last.',
        )


def _sockets(rig: Rig, index: Index) -> Iterator[Problem]:
    for r, rack in enumerate(rig.racks):
        for s, socket in enumerate(rack.sockets):
            path: Path = ("racks", r, "sockets", s)
            connector = index.connector_models.get(socket.connector)
            if connector is None:
                yield Problem(
                    (*path, "connector"), *missing("connector", socket.connector, index.connector_models)
                )
            elif len(socket.poles) > connector.pole_pairs:
                yield Problem(
                    (*path, "poles"),
                    f"{socket.id} has {len(socket.poles)} pole pairs and {connector.id} has {connector.pole_pairs}",
                    f"List {connector.pole_pairs} at most.",
                )
            yield from _poles(path, socket, index)
            count = max(connector.pole_pairs if connector else 0, len(socket.poles))
            yield from _failed_pairs(path, socket, count)


def _failed_pairs(path: Path, thing: Socket | Line, count: int) -> Iterator[Problem]:
    for p, pair in enumerate(thing.failed_pairs):
        if not 1 <= pair <= count:
            wrong = f"There is no pole pair {pair} of {thing.id}"
            yield Problem((*path, "failed_pairs", p), wrong, f"Write numbers from 1 to {count}.")


def _poles(path: Path, socket: Socket, index: Index) -> Iterator[Problem]:
    for p, text in enumerate(socket.poles):
        place = (*path, "poles", p)
        try:
            pole = read_pole(text)
        except ValueError:
            yield _unreadable_pole(place, socket.id, p, text)
            continue
        if pole is None:
            continue
        amplifier = index.amplifiers.get(pole.amplifier)
        if amplifier is None:
            yield Problem(place, *missing("amplifier", pole.amplifier, index.amplifiers))
            continue
        model = index.amplifier_models.get(amplifier.model)
        if model is not None and pole.channel >= model.channels:
            yield Problem(
                place,
                f"{amplifier.id} has {model.channels} channels, and {text} would be number {pole.channel + 1}",
                f"Name a channel from {amplifier.id}.1 to {amplifier.id}.{model.channels}.",
            )


def _unreadable_pole(place: Path, socket_id: str, pair: int, text: str) -> Problem:
    named = _CHANNEL.findall(text)
    if len(named) > 1:
        return Problem(
            place,
            f"Two channels, {' and '.join(named)}, drive pole pair {pair + 1} of {socket_id}",
            "Name one: joining two outputs destroys both.",
        )
    return Problem(
        place,
        f'"{text}" is not a channel',
        'Write a channel such as "A1.1", "-A1.1" for reversed polarity, or "" for not wired.',
    )


def check_lines(lines: Sequence[Line], index: Index) -> Iterator[Problem]:
    """Every breach of lines between the things of that index, each by itself."""
    for i, line in enumerate(lines):
        path: Path = ("lines", i)
        if line.source not in index.sockets and line.source not in index.cabinets:
            ends = [*index.sockets, *index.cabinets]
            yield Problem((*path, "from"), *missing("socket or cabinet", line.source, ends))
        if line.to not in index.cabinets:
            yield Problem((*path, "to"), *missing("cabinet", line.to, index.cabinets))
        if line.cable not in index.cable_models:
            yield Problem((*path, "cable"), *missing("cable", line.cable, index.cable_models))
            yield from within(path, line)
        else:
            yield from _cores(path, line, index)


def _cores(path: Path, line: Line, index: Index) -> Iterator[Problem]:
    cable = index.cable_models[line.cable]
    near, far = _connector(index.near_connector, line), _connector(index.cabinet_connector, line.to)
    if line.cores_per_pole < 1 or pairs_carried(cable, line.cores_per_pole) < 1:
        yield Problem(
            (*path, "cores_per_pole"),
            f"{line.cores_per_pole} cores per pole don't fit the {cable.cores} cores of {cable.id}",
            f"Write a number from 1 to {cable.cores // 2}.",
        )
        return
    carried = pairs_carried(cable, line.cores_per_pole)
    yield from _failed_pairs(path, line, max(near.pole_pairs if near else 0, carried))
    if len(line.poles) > carried:
        yield Problem(
            (*path, "poles"),
            f"{line.id} maps {len(line.poles)} pole pairs and its cable carries {carried}",
            "List as many as the cable carries, or use a cable with more cores, or fewer cores per pole.",
        )
    if far is not None and len(line.poles) > far.pole_pairs:
        yield Problem(
            (*path, "poles"),
            f"{line.id} maps {len(line.poles)} pole pairs and the connector of {line.to} has {far.pole_pairs}",
            f"List {far.pole_pairs} at most.",
        )
    for p, pair in enumerate(line.poles):
        if pair < 1 or (near is not None and pair > near.pole_pairs):
            limit = f"from 1 to {near.pole_pairs}" if near else "of 1 or more"
            yield Problem(
                (*path, "poles", p),
                f"There is no pole pair {pair} at {line.source}",
                f"Write a number {limit}.",
            )


def _connector(look_up: Callable[[T], ConnectorModel], end: T) -> ConnectorModel | None:
    """The connector at an end; None where the way to it dangles, which another rule says."""
    try:
        return look_up(end)
    except KeyError:
        return None


def _cabinets(rig: Rig, index: Index) -> Iterator[Problem]:
    for i, cabinet in enumerate(rig.cabinets):
        yield from within(("cabinets", i), cabinet)
        model = index.loudspeaker_models.get(cabinet.model)
        if model is None:
            yield Problem(
                ("cabinets", i, "model"),
                *missing("loudspeaker model", cabinet.model, index.loudspeaker_models),
            )
        elif cabinet.wiring and cabinet.wiring not in model.wirings:
            yield Problem(
                ("cabinets", i, "wiring"), *missing(f"wiring of {model.id}", cabinet.wiring, model.wirings)
            )
        yield from absent(("cabinets", i, "links_to"), "cabinet", cabinet.links_to, index.cabinets)
        if model is not None:
            named = [section.id for section in model.sections]
            for name in cabinet.faults:
                if name not in named:
                    yield Problem(
                        ("cabinets", i, "faults", name), *missing(f"section of {model.id}", name, named)
                    )


def tree(rig: Rig, index: Index) -> Iterator[Problem]:
    """Every cabinet fed twice, every loop of lines."""
    into: dict[str, list[int]] = defaultdict(list)
    for i, line in enumerate(rig.lines):
        into[line.to].append(i)
    for cabinet, lines in into.items():
        if len(lines) > 1 and cabinet in index.cabinets:
            names = " and ".join(rig.lines[i].id for i in lines)
            yield Problem(
                ("lines", lines[-1], "to"),
                f"{cabinet} is fed twice, by {names}",
                "Unplug one: a second line would join two amplifier outputs at the cabinet.",
            )
    seen: set[str] = set()
    for i, line in enumerate(rig.lines):
        loop = _loop(line, index)
        if loop and not seen.intersection(loop):
            seen.update(loop)
            yield Problem(
                ("lines", i, "from"),
                f"The lines {' → '.join(loop)} run in a loop",
                "Start the first of them at a rack socket.",
            )


def _loop(line: Line, index: Index) -> tuple[str, ...]:
    """The ids of the lines of the loop that `line` is part of, empty where it is in none."""
    trail: list[str] = []
    current: Line | None = line
    while current is not None and current.id not in trail:
        trail.append(current.id)
        current = index.line_to.get(current.source)
    return tuple(reversed(trail)) if current is line else ()
