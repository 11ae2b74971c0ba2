"""Every rule of a rig, and those of what is neither wiring nor mains: ids, bands, spares, stock, readings."""

from collections.abc import Collection, Iterator, Sequence
from typing import Any

from msgspec.structs import replace

from rackwright.model.index import Index
from rackwright.model.lines import Line, Stock
from rackwright.model.readings import Reading, is_date, of_lines, ohms_of
from rackwright.model.rig import FORMAT, FORMATS, FRONT_OF_HOUSE, Rig
from rackwright.model.rules.equipment import check_equipment
from rackwright.model.rules.mains import check_mains
from rackwright.model.rules.problem import Path, Problem, absent, bad_id, missing, with_article, within
from rackwright.model.rules.wiring import check_wiring, tree
from rackwright.units import QuantityError

COUNTS = ("channels", "pole_pairs")
"""Of equipment entries: so many places a rig has of each."""
LONGEST_LEADS = 20.0
"""Ω: a meter's leads with more are broken, or the figure is a slip."""


def check(rig: Rig) -> tuple[Problem, ...]:
    """Every breach of the rules in `rig`, in the order of the rig file; counts alone where equipment has impossible ones.

    What has a quadrillion channels can't be indexed.
    """
    equipment = check_equipment(rig.equipment, ("equipment",))
    if counts := tuple(problem for problem in equipment if problem.path[-1] in COUNTS):
        return counts
    index = Index(rig)
    return (
        *_format(rig),
        *_ids(rig, index),
        *check_mains(rig, index),
        *within(("targets",), rig.targets),
        *_bands(rig),
        *(problem for i, rack in enumerate(rig.racks) for problem in within(("racks", i), rack)),
        *_reach(rig, index),
        *check_wiring(rig, index),
        *_spares(rig, index),
        *check_stock(rig.stock, index.cable_models),
        *check_readings(rig.readings, index.lines | _lines_before(rig), index.cabinets),
        *_night(rig),
        *tree(rig, index),
        *equipment,
    )


def _format(rig: Rig) -> Iterator[Problem]:
    if rig.format not in FORMATS:
        yield Problem(
            ("format",),
            f"This is format {rig.format}",
            f"This program reads formats up to {FORMAT}; open it with the program that wrote it.",
        )


def _places(rig: Rig) -> Iterator[tuple[Path, str, str]]:
    """Every id of a rig's own things: its path, its kind in words, the id."""
    for key, kind in (
        ("boards", "board"),
        ("circuits", "circuit"),
        ("loads", "load"),
        ("feeds", "feed"),
        ("racks", "rack"),
    ):
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
    pairs = index.pole_pairs | index.line_pairs
    for path, kind, name in _places(rig):
        yield from bad_id(path, name)
        if name in first:
            yield Problem(
                (*path, "id"),
                f'The id "{name}" is taken by {with_article(first[name])} already',
                "Give one of the two another id: each is the only one of its name on the crew's tape.",
            )
        first.setdefault(name, kind)
        if pair := pairs.get(name):
            yield Problem(
                (*path, "id"),
                f'The id "{name}" reads as pole pair {pair.pair + 1} of {pair.thing}',
                "Give one of the two another id.",
            )


def _reach(rig: Rig, index: Index) -> Iterator[Problem]:
    for i, rack in enumerate(rig.racks):
        yield from absent(("racks", i, "reaches"), "circuit", rack.reaches, index.circuits)
    for i, feed in enumerate(rig.feeds):
        if feed.limiter_at and feed.limiter_at not in index.channels:
            yield Problem(("feeds", i, "limiter_at"), *missing("channel", feed.limiter_at, index.channels))
    places = (FRONT_OF_HOUSE, *index.racks)
    if rig.targets.crew_at not in places:
        yield Problem(("targets", "crew_at"), *missing("rack", rig.targets.crew_at, places))


def _bands(rig: Rig) -> Iterator[Problem]:
    known = {feed.id for feed in rig.feeds}
    for i, feed in enumerate(rig.feeds):
        yield from absent(("feeds", i, "substitute_for"), "feed", feed.substitute_for, known)
        low, high = feed.band
        if low.value >= high.value:
            yield Problem(
                ("feeds", i, "band"),
                f"The band of {feed.id} ends at {high}, which is not above its start at {low}",
                "Write the lower edge first.",
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
        yield from within(path, spare)
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
        yield from within(path, owned)
        if (owned.cable, owned.length.value) in seen:
            yield Problem(
                path, f"The stock of {owned.id} is listed twice", "Keep one, with the count of both."
            )
        seen.add((owned.cable, owned.length.value))


def check_baseline(rig: Rig) -> Iterator[Problem]:
    """The first breach in a rig as it was before the night, the rig itself keeping the rules: asked where one is opened."""
    for night in rig.night[:1]:
        tables: dict[str, Any] = {
            name: t for name in night.baseline.__struct_fields__ if (t := getattr(night.baseline, name))
        }
        readings = of_lines(rig.readings, tables.get("lines", rig.lines))
        for problem in check(replace(rig, night=(), readings=readings, **tables))[:1]:
            yield Problem(
                ("night", 0, "baseline"),
                f"The rig as it was before the failure breaks a rule: {problem.wrong}",
                "Correct that, or remove [[night]] from the file: then nothing is to be returned.",
            )


def _night(rig: Rig) -> Iterator[Problem]:
    if len(rig.night) > 1:
        yield Problem(("night", 1), "There are two nights", "Remove one: a rig is in one night at a time.")
    seen: set[str] = set()
    for night in rig.night[:1]:
        for i, each in enumerate(night.lists):
            if each.id in seen:
                path: Path = ("night", 0, "lists", i, "id")
                yield Problem(path, f'There are two lists "{each.id}"', "Give each its own id.")
            seen.add(each.id)


MOST_POINTS = 2000
"""Of a sweep: 48 an octave over ten octaves are 480."""


def _sweep(path: Path, sweep: tuple[tuple[float, float, float], ...]) -> Iterator[Problem]:
    advice = "Write rows of Hz, ohms and degrees, the frequencies rising."
    if sweep and not 2 <= len(sweep) <= MOST_POINTS:
        yield Problem(path, f"A sweep of {len(sweep)} points is none", f"Write 2 to {MOST_POINTS}. {advice}")
    before = 0.0
    for i, (frequency, ohms, _) in enumerate(sweep):
        if not (before < frequency <= 1e6 and 0 < ohms <= 1e6):
            told = f"{frequency:g} Hz with {ohms:g} Ω does not follow {before:g} Hz as an impedance"
            yield Problem((*path, i), told, advice)
        before = frequency


def _lines_before(rig: Rig) -> dict[str, Line]:
    """The lines of the rig as it was before the night, where that changed any: what they read is kept for the return."""
    return {line.id: line for night in rig.night for line in night.baseline.lines}


def check_readings(
    readings: Sequence[Reading], lines: Collection[str], cabinets: Collection[str]
) -> Iterator[Problem]:
    """Every breach in readings, of lines and cabinets of those ids."""
    seen: set[str] = set()
    for i, reading in enumerate(readings):
        path: Path = ("readings", i)
        if reading.line not in lines:
            yield Problem((*path, "line"), *missing("line", reading.line, lines))
        yield from within(path, reading)
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
                (*path, "when"), f'"{reading.when}" is not a date and time', 'Write "2026-05-01 14:30".'
            )
        yield from _sweep((*path, "sweep"), reading.sweep)
        for s, cabinet in enumerate(reading.heard_from):
            if cabinet not in cabinets:
                yield Problem((*path, "heard_from", s), *missing("cabinet", cabinet, cabinets))
        if reading.id in seen:
            yield Problem(
                path,
                f"There are two readings of {reading.line} pole pair {reading.pair}",
                "Keep the later one.",
            )
        seen.add(reading.id)
