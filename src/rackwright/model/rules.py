"""The rules that make a rig whole: ids that are unique, references that lead somewhere, wiring that is a tree.

`check` lists every breach with the path to it and what to do. A rig that breaks none can be assessed. What
is merely unwise, or wrong in an electrical way, is not a breach but a finding, and the engine's to say.
"""

import difflib
import re
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from typing import TypeAlias, TypeVar

from msgspec import Struct

from rackwright.model.equipment import AmplifierModel, ConnectorModel, Equipment, LoudspeakerModel, Section
from rackwright.model.index import Index, pairs_carried
from rackwright.model.readings import is_date, ohms_of
from rackwright.model.rig import FORMAT, Amplifier, Line, Rig, Socket, Stock, read_pole
from rackwright.units import QuantityError

Path: TypeAlias = tuple[str | int, ...]
T = TypeVar("T")

LONGEST_LEADS = 20.0
"""Ω: a meter's leads with more are broken, or the figure is a slip."""

_ID = re.compile(r"[^\s.\-][^\s.]*")
_LONGEST_ID = 60
"""Signs: no tape takes more."""
_CHANNEL = re.compile(r"(?<![^\s.,+&])-*+([^\s.,+&]++\.\d+)")


class Problem(Struct, frozen=True):
    """A breach: the path of keys and positions that leads to it, what is wrong, what to do."""

    path: Path
    wrong: str
    advice: str

    def __str__(self) -> str:
        return f"{self.wrong}. {self.advice}"


def check(rig: Rig) -> tuple[Problem, ...]:
    """Every breach of the rules in `rig`, in the order of the rig file."""
    index = Index(rig)
    return (
        *_format(rig),
        *_ids(rig, index),
        *_supply(rig),
        *_figures(rig),
        *_amplifiers(rig, index),
        *_sockets(rig, index),
        *_lines(rig, index),
        *_cabinets(rig, index),
        *_spares(rig, index),
        *check_stock(rig.stock, index.cable_models),
        *_readings(rig, index),
        *_checklists(rig),
        *_tree(rig, index),
        *check_equipment(rig.equipment, ("equipment",)),
    )


def missing(what: str, name: str, existing: Iterable[str]) -> tuple[str, str]:
    """The two sentences for a reference that leads nowhere: what is missing, what there is."""
    known = list(existing)
    wrong = f'There is no {what} "{name}"'
    if not known:
        return wrong, f"There is none yet: add {_a(what)} of that id first."
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    shown = ", ".join(known[:8]) + (f" and {len(known) - 8} more" if len(known) > 8 else "")
    return wrong, f'Did you mean "{near[0]}"? There are: {shown}.' if near else f"There are: {shown}."


def _a(kind: str) -> str:
    return f"an {kind}" if kind[:1] in "aeiou" else f"a {kind}"


def _format(rig: Rig) -> Iterator[Problem]:
    if rig.format != FORMAT:
        yield Problem(
            ("format",),
            f"This is format {rig.format}",
            f"This program reads format {FORMAT}; open it with the program that wrote it.",
        )


def places(rig: Rig) -> Iterator[tuple[Path, str, str]]:
    """Every id of a rig's own things: its path, its kind in words, the id."""
    for key, kind in (("circuits", "circuit"), ("feeds", "feed"), ("racks", "rack")):
        for i, item in enumerate(getattr(rig, key)):
            yield (key, i), kind, item.id
    for r, rack in enumerate(rig.racks):
        for a, amplifier in enumerate(rack.amplifiers):
            yield ("racks", r, "amplifiers", a), "amplifier", amplifier.id
        for s, socket in enumerate(rack.sockets):
            yield ("racks", r, "sockets", s), "socket", socket.id
    for key, kind in (("lines", "line"), ("cabinets", "cabinet")):
        for i, item in enumerate(getattr(rig, key)):
            yield (key, i), kind, item.id


def _ids(rig: Rig, index: Index) -> Iterator[Problem]:
    first: dict[str, str] = {}
    for path, kind, name in places(rig):
        yield from _id(path, name)
        if name in first:
            yield Problem(
                (*path, "id"),
                f'The id "{name}" is taken by {_a(first[name])} already',
                "Give one of the two another id: each is the only one of its name on the crew's tape.",
            )
        first.setdefault(name, kind)
        if pair := index.pole_pairs.get(name):
            yield Problem(
                (*path, "id"),
                f'The id "{name}" reads as pole pair {pair.pair + 1} of {pair.socket}',
                "Give one of the two another id.",
            )


def _id(path: Path, name: str) -> Iterator[Problem]:
    if len(name) > _LONGEST_ID:
        told = f"An id of {len(name)} signs goes on no tape"
        yield Problem((*path, "id"), told, f"Write {_LONGEST_ID} at most.")
    elif not _ID.fullmatch(name):
        yield _bad_id(path, name)


def _bad_id(path: Path, name: str) -> Problem:
    better = re.sub(r"[\s.]+", "-", name.strip()).lstrip("-")
    advice = "Use letters, digits, - and _, with no space or dot and no - at the start" + (
        f', such as "{better}".' if better else "."
    )
    return Problem((*path, "id"), f'"{name}" can\'t be an id' if name else "The id is empty", advice)


def _supply(rig: Rig) -> Iterator[Problem]:
    supply = rig.supply
    if not 0 <= supply.generator_dip <= 0.3:
        yield Problem(
            ("supply", "generator_dip"),
            f"A generator's dip of {supply.generator_dip:g} is outside 0 to 0.3",
            "Write the share of its voltage that it loses at full load, such as 0.05.",
        )
    used = sorted({circuit.phase for circuit in rig.circuits})
    if supply.phases == 1 and len(used) > 1:
        yield Problem(
            ("supply", "phases"),
            f"The supply has a single phase and circuits stand on {' and '.join(used)}",
            "Write phases = 3, or put every circuit on one phase.",
        )


def _figures(rig: Rig) -> Iterator[Problem]:
    targets = rig.targets
    if not 0 < targets.damping_factor < 1e4:
        yield Problem(
            ("targets", "damping_factor"),
            f"A damping target of {targets.damping_factor:g} is outside 0 to 10000",
            "Write one such as 20.",
        )
    for key in ("programme_duty", "heavy_duty"):
        if not 0 < getattr(targets, key) <= 1:
            yield Problem(
                ("targets", key),
                f"A duty of {getattr(targets, key)} is outside 0 to 1",
                "Write the share of full power, such as 0.125.",
            )
    for i, feed in enumerate(rig.feeds):
        low, high = feed.band
        if low.value >= high.value:
            yield Problem(
                ("feeds", i, "band"),
                f"The band of {feed.id} ends at {high}, which is not above its start at {low}",
                "Write the lower edge first.",
            )
    for i, rack in enumerate(rig.racks):
        yield from _at_least_one(("racks", i, "height"), rack.height, "a rack's height in units")
    for i, cabinet in enumerate(rig.cabinets):
        yield from _at_least_one(("cabinets", i, "priority"), cabinet.priority, "a priority")


def _at_least_one(path: Path, number: int, what: str, most: int = 999) -> Iterator[Problem]:
    if not 1 <= number <= most:
        yield Problem(path, f"{number} can't be {what}", f"Write a whole number from 1 to {most}.")


def _amplifiers(rig: Rig, index: Index) -> Iterator[Problem]:
    for r, rack in enumerate(rig.racks):
        for a, amplifier in enumerate(rack.amplifiers):
            yield from _amplifier(("racks", r, "amplifiers", a), amplifier, index)


def _amplifier(path: Path, amplifier: Amplifier, index: Index) -> Iterator[Problem]:
    yield from _at_least_one((*path, "unit"), amplifier.unit, "a rack unit")
    if amplifier.circuit and amplifier.circuit not in index.circuits:
        yield Problem((*path, "circuit"), *missing("circuit", amplifier.circuit, index.circuits))
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
            "Give one mode for all, or one for each pair of channels.",
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
            "Name one: two outputs joined destroy each other.",
        )
    return Problem(
        place,
        f'"{text}" names no channel',
        'Write a channel such as "A1.1", "-A1.1" for reversed polarity, or "" for not wired.',
    )


def _lines(rig: Rig, index: Index) -> Iterator[Problem]:
    for i, line in enumerate(rig.lines):
        path: Path = ("lines", i)
        if line.source not in index.sockets and line.source not in index.cabinets:
            ends = [*index.sockets, *index.cabinets]
            yield Problem((*path, "from"), *missing("socket or cabinet", line.source, ends))
        if line.to not in index.cabinets:
            yield Problem((*path, "to"), *missing("cabinet", line.to, index.cabinets))
        if line.cable not in index.cable_models:
            yield Problem((*path, "cable"), *missing("cable", line.cable, index.cable_models))
        else:
            yield from _cores(path, line, index)


def _cores(path: Path, line: Line, index: Index) -> Iterator[Problem]:
    cable = index.cable_models[line.cable]
    near, far = _connector(index.near_connector, line), _connector(index.cabinet_connector, line.to)
    if line.cores_per_pole < 1 or pairs_carried(cable, line.cores_per_pole) < 1:
        yield Problem(
            (*path, "cores_per_pole"),
            f"{line.cores_per_pole} cores per pole can't be had from the {cable.cores} cores of {cable.id}",
            f"Write a number from 1 to {cable.cores // 2}.",
        )
        return
    carried = pairs_carried(cable, line.cores_per_pole)
    if len(line.poles) > carried:
        yield Problem(
            (*path, "poles"),
            f"{line.id} maps {len(line.poles)} pole pairs and its cable carries {carried}",
            "List as many as the cable carries, take a cable of more cores, or fewer cores per pole.",
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
    """The connector at an end; None where the way to it dangles, which is told elsewhere."""
    try:
        return look_up(end)
    except KeyError:
        return None


def _cabinets(rig: Rig, index: Index) -> Iterator[Problem]:
    for i, cabinet in enumerate(rig.cabinets):
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


def _spares(rig: Rig, index: Index) -> Iterator[Problem]:
    seen: set[str] = set()
    for i, spare in enumerate(rig.spares):
        path: Path = ("spares", i)
        if bool(spare.cable) == bool(spare.amplifier):
            yield Problem(
                path,
                "A spare is a cable or an amplifier",
                'Write one of the two: cable = "…" with its length, or amplifier = "…".',
            )
        elif spare.cable and spare.cable not in index.cable_models:
            yield Problem((*path, "cable"), *missing("cable", spare.cable, index.cable_models))
        elif spare.amplifier and spare.amplifier not in index.amplifier_models:
            yield Problem(
                (*path, "amplifier"), *missing("amplifier model", spare.amplifier, index.amplifier_models)
            )
        elif bool(spare.cable) != (spare.length is not None):
            yield Problem(
                (*path, "length"),
                f"The spare {spare.id} has no length"
                if spare.cable
                else f"The spare {spare.id} is an amplifier and has a length",
                'Write it such as length = "5 m".' if spare.cable else "Leave the length out.",
            )
        if not 0 <= spare.count <= 999:
            yield Problem(
                (*path, "count"),
                f"{spare.count} can't be a count of spares",
                "Write a whole number from 0 to 999.",
            )
        if spare.id in seen:
            yield Problem(path, f"The spare {spare.id} is listed twice", "Keep one, with the count of both.")
        seen.add(spare.id)


def check_stock(stock: Sequence[Stock], cables: Collection[str]) -> Iterator[Problem]:
    """Every breach in a list of what the company owns, `cables` being the ids of the cable models there are."""
    seen: set[tuple[str, float]] = set()
    for i, owned in enumerate(stock):
        path: Path = ("stock", i)
        if owned.cable not in cables:
            yield Problem((*path, "cable"), *missing("cable", owned.cable, cables))
        if not 0 <= owned.count <= 99_999:
            yield Problem(
                (*path, "count"),
                f"{owned.count} can't be a count of cables",
                "Write a whole number from 0 to 99999.",
            )
        if (owned.cable, owned.length.value) in seen:
            yield Problem(
                path, f"The stock of {owned.id} is listed twice", "Keep one, with the count of both."
            )
        seen.add((owned.cable, owned.length.value))


def _checklists(rig: Rig) -> Iterator[Problem]:
    seen: set[str] = set()
    for i, checklist in enumerate(rig.checklists):
        if checklist.id in seen:
            yield Problem(
                ("checklists", i, "id"), f'There are two checklists "{checklist.id}"', "Give each its own id."
            )
        seen.add(checklist.id)


def _readings(rig: Rig, index: Index) -> Iterator[Problem]:
    seen: set[str] = set()
    for i, reading in enumerate(rig.readings):
        path: Path = ("readings", i)
        if reading.line not in index.lines:
            yield Problem((*path, "line"), *missing("line", reading.line, index.lines))
        yield from _at_least_one((*path, "pair"), reading.pair, "a pole pair", 16)
        if reading.ohms:
            try:
                ohms_of(reading.ohms)
            except QuantityError as error:
                yield Problem((*path, "ohms"), error.wrong, f"Write {error.forms}.")
        if reading.lead_resistance.value > LONGEST_LEADS:
            yield Problem(
                (*path, "lead_resistance"),
                f"Leads of {reading.lead_resistance} are over {LONGEST_LEADS:g} Ω",
                "Touch the meter's leads together and write what it shows.",
            )
        if reading.when and not is_date(reading.when):
            yield Problem(
                (*path, "when"), f'"{reading.when}" is no date and time', 'Write "2026-05-01 14:30".'
            )
        for s, cabinet in enumerate(reading.heard_from):
            if cabinet not in index.cabinets:
                yield Problem((*path, "heard_from", s), *missing("cabinet", cabinet, index.cabinets))
        if reading.id in seen:
            yield Problem(
                path,
                f"There are two readings of {reading.line} pole pair {reading.pair}",
                "Keep the later one.",
            )
        seen.add(reading.id)


def _tree(rig: Rig, index: Index) -> Iterator[Problem]:
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
    told: set[str] = set()
    for i, line in enumerate(rig.lines):
        loop = _loop(line, index)
        if loop and not told.intersection(loop):
            told.update(loop)
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


def check_equipment(equipment: Equipment, path: Path = ()) -> tuple[Problem, ...]:
    """Every breach in a set of equipment entries; a loudspeaker's connector is looked up in the same set."""
    return (
        *_equipment_ids(equipment, path),
        *(
            p
            for i, e in enumerate(equipment.amplifiers)
            for p in _amplifier_model((*path, "amplifiers", i), e)
        ),
        *(
            p
            for i, e in enumerate(equipment.loudspeakers)
            for p in _loudspeaker_model((*path, "loudspeakers", i), e, equipment)
        ),
        *(
            Problem(
                (*path, "cables", i, "cores"),
                f"{e.id} has {e.cores} cores",
                "Write an even number from 2 to 64: a pole pair takes two.",
            )
            for i, e in enumerate(equipment.cables)
            if e.cores % 2 or not 2 <= e.cores <= 64
        ),
        *(
            p
            for i, e in enumerate(equipment.connectors)
            for p in _at_least_one(
                (*path, "connectors", i, "pole_pairs"), e.pole_pairs, "a count of pole pairs", 16
            )
        ),
    )


def _equipment_ids(equipment: Equipment, path: Path) -> Iterator[Problem]:
    for kind in ("amplifiers", "loudspeakers", "cables", "connectors"):
        seen: set[str] = set()
        for i, entry in enumerate(getattr(equipment, kind)):
            if not entry.id or entry.id != entry.id.strip():
                yield Problem(
                    (*path, kind, i, "id"), f'"{entry.id}" can\'t be an id', "Write one with no space around."
                )
            if entry.id in seen:
                yield Problem(
                    (*path, kind, i, "id"),
                    f'"{entry.id}" stands twice among the {kind}',
                    "Give one of the two another id.",
                )
            seen.add(entry.id)


def _amplifier_model(path: Path, model: AmplifierModel) -> Iterator[Problem]:
    yield from _at_least_one((*path, "channels"), model.channels, "a count of channels", 64)
    yield from _at_least_one((*path, "height"), model.height, "a height in rack units", 60)
    if not model.ratings:
        yield Problem(
            (*path, "ratings"), f"{model.id} has no rated power", "Give one load and its power at least."
        )
    for key in ("ratings", "bridged"):
        loads = [rating.load.value for rating in getattr(model, key)]
        if len(set(loads)) < len(loads):
            yield Problem((*path, key), f"{model.id} is rated twice for one load", "Keep one of the two.")
    for key in ("efficiency", "power_factor"):
        if not 0.05 <= getattr(model, key) <= 1:
            yield Problem(
                (*path, key),
                f"{getattr(model, key)} is outside 0.05 to 1",
                "Write a share, such as 0.80 for 80 %.",
            )
    if not 1 <= model.damping_factor.value <= 1e5:
        yield Problem(
            (*path, "damping_factor", "value"),
            f"A damping factor of {model.damping_factor.value:g} is outside 1 to 100000",
            "Write the data sheet's figure, such as 400.",
        )


def _loudspeaker_model(path: Path, model: LoudspeakerModel, equipment: Equipment) -> Iterator[Problem]:
    connectors = {entry.id: entry for entry in equipment.connectors}
    connector = connectors.get(model.connector)
    if connector is None:
        yield Problem((*path, "connector"), *missing("connector", model.connector, connectors))
    if not model.sections:
        yield Problem((*path, "sections"), f"{model.id} has no section", "Give one at least.")
    if not model.wirings:
        yield Problem(
            (*path, "wirings"), f"{model.id} has no wiring", "Say which pole pair drives which sections."
        )
    names = [section.id for section in model.sections]
    for i, section in enumerate(model.sections):
        yield from _section((*path, "sections", i), section, names)
    for wiring, pairs in model.wirings.items():
        if connector is not None and len(pairs) > connector.pole_pairs:
            yield Problem(
                (*path, "wirings", wiring),
                f"Wiring {wiring} uses {len(pairs)} pole pairs and {connector.id} has {connector.pole_pairs}",
                f"Use {connector.pole_pairs} at most.",
            )
        for p, sections in enumerate(pairs):
            place = (*path, "wirings", wiring, p)
            yield from (
                Problem(place, *missing(f"section of {model.id}", name, names))
                for name in sections
                if name not in names
            )
            if len(set(sections)) < len(sections):
                yield Problem(
                    place, f"Wiring {wiring} drives a section twice from one pole pair", "Name it once."
                )


def _section(path: Path, section: Section, names: list[str]) -> Iterator[Problem]:
    yield from _id(path, section.id)
    if names.count(section.id) > 1:
        yield Problem(
            (*path, "id"), f'"{section.id}" stands twice among the sections', "Rename one of the two."
        )
    if section.dc_resistance.value < 0.05:
        yield Problem(
            (*path, "dc_resistance"),
            "A driver's DC resistance can't be zero",
            "Write what a meter shows, such as 5.4 ohm.",
        )
    if section.highest is not None and section.highest.value <= section.lowest.value:
        yield Problem(
            (*path, "highest"),
            f"highest, {section.highest}, is not above lowest, {section.lowest}",
            "Exchange them.",
        )
    driver = section.driver
    if driver is None:
        return
    for key in ("qms", "qes", "ql"):
        if not 0.01 <= getattr(driver, key) <= 1000:
            yield Problem(
                (*path, "driver", key),
                f"{key} = {getattr(driver, key):g} is outside 0.01 to 1000",
                "Write the data sheet's figure.",
            )
    if driver.box != "vented":
        return
    if driver.alpha is None or not 0.01 <= driver.alpha <= 100:
        yield Problem(
            (*path, "driver", "alpha"),
            "A vented box needs its compliance ratio alpha",
            "Write a number such as alpha = 1.1.",
        )
    if driver.fb is None:
        yield Problem(
            (*path, "driver", "fb"), "A vented box needs its tuning fb", 'Write it such as fb = "36 Hz".'
        )
