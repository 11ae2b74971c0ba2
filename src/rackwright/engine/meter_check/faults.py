"""Every single fault of a line that is thought of: the same line altered, so that each test is predicted in one way for all."""

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Literal, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.conductor import loop_resistance
from rackwright.engine.meter_check.meter import (
    Bench,
    BenchTest,
    OhmRange,
    PairTest,
    Way,
    cabinets_on,
    near_pairs,
    predicted,
    ways_behind,
    without_link,
)
from rackwright.model.index import Index
from rackwright.model.lines import Line
from rackwright.units import ConductorSize, Length, of_si

STOCK_LENGTHS = (1.0, 2.0, 3.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 75.0, 100.0)
"""m: lengths that cables are usually made up in, besides those of the rig itself. Common practice, no source."""

STOCK_SIZES = tuple(map(ConductorSize.parse, ("1.5 mm2", "2.5 mm2", "4 mm2", "6 mm2")))
"""Sizes that loudspeaker cables usually have, besides those of the rig itself. Common practice, no source."""

LONGEST_EXTRA_LINK = 10.0
"""m: a cabinet too many hangs on a link of this length at most. Common practice, no source."""

BAD_CONTACTS = ((0.2, 0.5), (0.5, 1.0), (1.0, 2.0), (2.0, 5.0))
"""Ω that a worn, dirty or loose contact adds, in steps. Common practice, no source."""

Kind: TypeAlias = Literal[
    "as expected",
    "open",
    "cabinets",
    "wrong pole pair",
    "wrong cabinet",
    "driver open",
    "half section",
    "bad contact",
    "far short",
    "near short",
    "short behind",
    "short along it",
    "cable",
]

LIKELIEST: tuple[Kind, ...] = (
    "as expected", "open", "cabinets", "wrong pole pair", "wrong cabinet", "driver open",
    "half section", "bad contact", "far short", "near short", "short behind", "short along it", "cable",
)  # fmt: skip
"""The order in which explanations are told: that all is well, then what goes wrong most at load-in. Common
practice, no source. Within a kind the case comes first whose prediction is nearest the reading."""


class Fault(Struct, frozen=True, gc=False):
    """One way in which a line can be, right or wrong. `least` and `most` bound what is not known of it."""

    kind: Kind
    words: str
    least: Bench
    most: Bench
    sounds: frozenset[str] | None
    """The cabinets that sound on this pair; None where that can't be said."""

    def under(self, test: BenchTest) -> OhmRange:
        """What a test would meet."""
        return predicted(test, self.least, self.most)


UNTOLD: frozenset[Kind] = frozenset({"cable", "wrong pole pair", "bad contact"})
"""What a line that reads as expected may also be and is not told of: another cable and pairs exchanged do no harm, for where
the two drive other kinds of section the line is not proved; a bad contact within the spread of the coils no meter shows."""

NAMES: dict[Kind, str] = {
    "as expected": "as expected", "open": "open", "cabinets": "wrong cabinets", "wrong pole pair": "wrong pole pair",
    "wrong cabinet": "wrong cabinet", "driver open": "a driver open", "half section": "half a section",
    "bad contact": "bad contact", "far short": "shorted far", "near short": "shorted near",
    "short behind": "shorted behind a link", "short along it": "shorted on the way", "cable": "other cable",
}  # fmt: skip


def faults(index: Index, test: PairTest) -> tuple[Fault, ...]:
    """The line as expected, and every single fault thought of, on a pole pair."""
    line = index.lines[test.line]
    ways = ways_behind(index, line, test.pair - 1, test.coil_temperature)
    sounds = frozenset(cabinets_on(ways))
    right = Bench(ways)
    found = [_fault("as expected", "as expected", right, sounds)]
    if sounds:
        inside = f"open in {line.to}: its wiring, or all drivers of pole pair {test.pair}"
        found += [
            _fault("open", f"open in {line.id} or its plugs", Bench(ways, broken=True), frozenset()),
            _fault("open", inside, Bench(ways, open_cabinet=True), frozenset()),
        ]
    found += _missing(ways)
    found += _extra(index, line, ways)
    found += _swapped(index, test, ways)
    found += _drivers_open(ways)
    found += _half_sections(ways)
    found += _bad_contacts(line, ways, sounds)
    found += _shorts(line, ways)
    return tuple(found + (_other_cables(index, line, right, sounds) if sounds else []))


def _fault(kind: Kind, words: str, bench: Bench, sounds: frozenset[str] | None) -> Fault:
    return Fault(kind, words, bench, bench, sounds)


def _missing(ways: tuple[Way, ...]) -> list[Fault]:
    """Each link pulled: too few cabinets."""
    links = dict.fromkeys(w.line for way in ways for w in way.all() if w is not way)
    cut = {link: tuple(without_link(way, link) for way in ways) for link in links}
    lost = {link: [c for c in cabinets_on(ways) if c not in cabinets_on(left)] for link, left in cut.items()}
    return [
        _fault(
            "cabinets",
            f"{link} not plugged, or open: without {' and '.join(lost[link])}",
            Bench(cut[link]),
            frozenset(cabinets_on(cut[link])),
        )
        for link in links
        if lost[link]
    ]


def _extra(index: Index, line: Line, ways: tuple[Way, ...]) -> list[Fault]:
    """A cabinet more at each cabinet, like any of those that are there."""
    here = [w for way in ways for w in way.all()]
    loads = dict.fromkeys(w.sections for w in here if w.sections)
    size = index.cable_models[line.cable].size
    ambient = index.rig.supply.ambient.value
    longest = loop_resistance(size, LONGEST_EXTRA_LINK, line.cores_per_pole, ambient)

    def with_one_more(place: str, load: tuple[tuple[str, float], ...], copper: float) -> Bench:
        return Bench(tuple(_added(way, place, load, copper) for way in ways))

    return [
        Fault(
            "cabinets",
            f"a cabinet too many, linked from {place}",
            with_one_more(place, load, 0.0),
            with_one_more(place, load, longest),
            None,
        )
        for place in dict.fromkeys(w.cabinet for w in here)
        for load in loads
    ]


def _added(way: Way, place: str, load: tuple[tuple[str, float], ...], copper: float) -> Way:
    more = (Way(copper, "", "", load, ()),) if way.cabinet == place else ()
    return replace(way, onward=(*(_added(link, place, load, copper) for link in way.onward), *more))


def _swapped(index: Index, test: PairTest, ways: tuple[Way, ...]) -> list[Fault]:
    """This pair exchanged with each other pair of the line."""
    found, line = [], index.lines[test.line]
    for other in range(1, near_pairs(index, line) + 1):
        there = ways_behind(index, line, other - 1, test.coil_temperature)
        sounds = frozenset(cabinets_on(there))
        if other != test.pair and (sounds or cabinets_on(ways)):
            bench = Bench(there, own=ways, swapped_with=other)
            words = f"pole pairs {test.pair} and {other} exchanged"
            found.append(_fault("wrong pole pair", words, bench, sounds))
    return found


def _drivers_open(ways: tuple[Way, ...]) -> list[Fault]:
    """One driver of several open, or all those of a cabinet of several; of those that a meter sees."""
    seen = {
        w.cabinet: tuple(n for n, ohms in w.sections if ohms < math.inf) for way in ways for w in way.all()
    }
    held = {cabinet: names for cabinet, names in seen.items() if names}
    count = sum(map(len, held.values()))
    gone: list[tuple[str, tuple[str, ...], str]] = [
        (cabinet, (name,), f"{cabinet}.{name} open, one driver of {count}")
        for cabinet, names in held.items()
        for name in names
    ]
    gone += [
        (cabinet, names, f"all drivers of {cabinet} open")
        for cabinet, names in held.items()
        if len(names) > 1
    ]
    found = []
    for cabinet, names, words in gone:
        left = tuple(_changed(way, cabinet, dict.fromkeys(names, math.inf)) for way in ways)
        if any(w.sections for way in left for w in way.all()):
            found.append(_fault("driver open", words, Bench(left), frozenset(cabinets_on(left))))
    return found


def _half_sections(ways: tuple[Way, ...]) -> list[Fault]:
    """Half the drivers of a section gone: open where they are in parallel, shorted where they are in series."""
    return [
        _fault(
            "half section",
            f"half of {w.cabinet}.{name} {said}",
            Bench(tuple(_changed(way, w.cabinet, {name: ohms * times}) for way in ways)),
            frozenset(cabinets_on(ways)),
        )
        for root in ways
        for w in root.all()
        for name, ohms in w.sections
        if ohms < math.inf
        for times, said in (
            (2.0, "open, if its drivers are in parallel"),
            (0.5, "shorted, if its drivers are in series"),
        )
    ]


def _bad_contacts(line: Line, ways: tuple[Way, ...], sounds: frozenset[str]) -> list[Fault]:
    """A bad contact in the plugs of the line, or of a link behind it."""
    if not sounds:
        return []
    links = dict.fromkeys(w.line for way in ways for w in way.all() if w is not way)
    found = []
    for least, most in BAD_CONTACTS:
        words = f"a bad contact of {least:g} to {most:g} Ω in the plugs of"
        ends = Bench(ways, contact=least), Bench(ways, contact=most)
        found.append(Fault("bad contact", f"{words} {line.id}", *ends, sounds))
        for link in links:
            low, high = (Bench(tuple(_lengthened(way, link, ohms) for way in ways)) for ohms in (least, most))
            found.append(Fault("bad contact", f"{words} {link}", low, high, sounds))
    return found


def _lengthened(way: Way, link: str, ohms: float) -> Way:
    """With so much more in a link."""
    onward = tuple(_lengthened(each, link, ohms) for each in way.onward)
    return replace(way, copper=way.copper + ohms if way.line == link else way.copper, onward=onward)


def _shorts(line: Line, ways: tuple[Way, ...]) -> list[Fault]:
    """At each end of the line, along it, and behind each link."""
    at_near = Bench(ways, shorted_near=True)
    near = _fault("near short", f"shorted in the near plug of {line.id}", at_near, frozenset())
    if not ways:
        return [near]
    at_far = Bench(ways, shorted_far=True)
    links = dict.fromkeys((w.line, w.cabinet) for way in ways for w in way.all() if w is not way)
    return [
        _fault("far short", f"shorted in the far plug of {line.id}", at_far, frozenset()),
        _fault("far short", f"shorted in {line.to}", Bench(ways, shorted_cabinet=True), frozenset()),
        Fault("short along it", f"shorted somewhere along {line.id}", at_near, at_far, frozenset()),
        *(
            Fault(
                "short behind",
                f"shorted in {link} or {cabinet}",
                Bench(tuple(_shorted(way, link, 0.0) for way in ways)),
                Bench(tuple(_shorted(way, link, 1.0) for way in ways)),
                None,
            )
            for link, cabinet in links
        ),
        near,
    ]


def _shorted(way: Way, link: str, share: float) -> Way:
    """With a link shorted so far along it."""
    if way.line == link:
        return replace(way, copper=way.copper * share, sections=((_SHORT, 0.0),), onward=())
    return replace(way, onward=tuple(_shorted(each, link, share) for each in way.onward))


_SHORT = "a short"


def _changed(way: Way, cabinet: str, ohms: Mapping[str, float]) -> Way:
    """With other resistances (Ω) of sections of a cabinet; one that is to be infinite is left out."""
    own = ohms if way.cabinet == cabinet else {}
    left = tuple((name, own.get(name, usual)) for name, usual in way.sections if own.get(name) != math.inf)
    return replace(way, sections=left, onward=tuple(_changed(link, cabinet, ohms) for link in way.onward))


def elsewhere(index: Index, test: PairTest, sounded: Sequence[str]) -> Iterator[Fault]:
    """The line in each cabinet that sounded where it should not. No meter tells this from two cabinets alike."""
    line = index.lines[test.line]
    for name in sounded:
        if name in test.cabinets or name not in index.cabinets or name in _feeding(index, line):
            continue
        moved = replace(line, to=name)
        kept = (moved if other is line else other for other in index.rig.lines if other.to != name)
        there = ways_behind(
            Index(replace(index.rig, lines=tuple(kept))), moved, test.pair - 1, test.coil_temperature
        )
        words = f"{line.id} in {name} instead of {line.to}"
        yield _fault("wrong cabinet", words, Bench(there), frozenset(cabinets_on(there)))


def _feeding(index: Index, line: Line) -> Iterator[str]:
    """The line's own cabinet and those that it is fed through, whether or not an amplifier feeds them."""
    before: Line | None = line
    while before is not None:
        yield before.to
        yield before.source
        before = index.line_to.get(before.source)


def _other_cables(index: Index, line: Line, right: Bench, sounds: frozenset[str]) -> list[Fault]:
    """The line's cable of every other stocked size, and every other stocked length."""
    size, length, cores = index.cable_models[line.cable].size, line.length.value, line.cores_per_pole
    ambient = index.rig.supply.ambient.value
    usual = loop_resistance(size, length, cores, ambient)

    def with_copper(ohms: float, words: str) -> Fault:
        ways = tuple(replace(way, copper=way.copper - usual + ohms) for way in right.ways)
        return _fault("cable", words, Bench(ways), sounds)

    sizes = {s.value: s for s in (*STOCK_SIZES, *(c.size for c in index.cable_models.values()))}
    lengths = {length_: of_si(Length, length_) for length_ in STOCK_LENGTHS}
    lengths |= {stocked.length.value: stocked.length for stocked in index.rig.stock}
    lengths |= {other.length.value: other.length for other in index.rig.lines}
    return [
        *(
            with_copper(
                loop_resistance(other, length, cores, ambient), f"{line.id} of {other} instead of {size}"
            )
            for other in sizes.values()
            if not math.isclose(other.value, size.value, rel_tol=0.05)
        ),
        *(
            with_copper(
                loop_resistance(size, other.value, cores, ambient),
                f"{line.id} of {other} instead of {line.length}",
            )
            for other in lengths.values()
            if not math.isclose(other.value, length, rel_tol=0.01)
        ),
    ]


SHORTS: frozenset[Kind] = frozenset({"far short", "near short", "short behind", "short along it"})
