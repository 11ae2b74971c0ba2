"""Every single fault of a line that is thought of: the same line altered, so that each test is predicted in one way for all."""

import math
from collections.abc import Iterator, Sequence
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
from rackwright.model.rig import Line
from rackwright.units import ConductorSize, Length, of_si

STOCK_LENGTHS = (1.0, 2.0, 3.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 75.0, 100.0)
"""m: lengths that cables are usually made up in, besides those of the rig itself. Common practice, no source."""

STOCK_SIZES = tuple(map(ConductorSize.parse, ("1.5 mm2", "2.5 mm2", "4 mm2", "6 mm2")))
"""Sizes that loudspeaker cables usually have, besides those of the rig itself. Common practice, no source."""

LONGEST_EXTRA_LINK = 10.0
"""m: a cabinet too many hangs on a link of this length at most. Common practice, no source."""

Kind: TypeAlias = Literal[
    "as expected",
    "open",
    "cabinets",
    "wrong pole pair",
    "wrong cabinet",
    "driver open",
    "far short",
    "near short",
    "short along it",
    "cable",
]

LIKELIEST: tuple[Kind, ...] = (
    "as expected", "open", "cabinets", "wrong pole pair", "wrong cabinet", "driver open",
    "far short", "near short", "short along it", "cable",
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


NO_HARM: frozenset[Kind] = frozenset({"cable", "wrong pole pair"})
"""What a line that reads as expected may also be with no harm done: its pairs exchanged only where both drive one kind of
section, for any other exchange is what makes it not proved."""

NAMES: dict[Kind, str] = {
    "as expected": "as expected", "open": "open", "cabinets": "wrong cabinets", "wrong pole pair": "wrong pole pair",
    "wrong cabinet": "wrong cabinet", "driver open": "a driver open", "far short": "shorted far",
    "near short": "shorted near", "short along it": "shorted on the way", "cable": "other cable",
}  # fmt: skip


def faults(index: Index, line: Line, pair: int) -> tuple[Fault, ...]:
    """The line as expected, and every single fault thought of, on pole pair `pair` (from 1)."""
    ways = ways_behind(index, line, pair - 1)
    sounds = frozenset(cabinets_on(ways))
    right = Bench(ways)
    loaded = bool(sounds)
    found = [_fault("as expected", "as expected", right, sounds)]
    if loaded:
        found += [
            _fault("open", f"open in {line.id} or its plugs", Bench(ways, broken=True), frozenset()),
            _fault("open", f"open in {line.to}", Bench(ways, open_cabinet=True), frozenset()),
        ]
    found += _missing(ways)
    found += _extra(index, line, ways)
    found += _swapped(index, line, pair, ways)
    found += _drivers_open(ways)
    if ways:
        found += [
            _fault(
                "far short",
                f"shorted in the far plug of {line.id}",
                Bench(ways, shorted_far=True),
                frozenset(),
            ),
            _fault("far short", f"shorted in {line.to}", Bench(ways, shorted_cabinet=True), frozenset()),
            Fault(
                "short along it",
                f"shorted somewhere along {line.id}",
                Bench(ways, shorted_near=True),
                Bench(ways, shorted_far=True),
                frozenset(),
            ),
        ]
    found.append(
        _fault(
            "near short",
            f"shorted in the near plug of {line.id}",
            Bench(ways, shorted_near=True),
            frozenset(),
        )
    )
    return tuple(found + (_other_cables(index, line, right, sounds) if loaded else []))


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
            f"{link} not plugged, without {' and '.join(lost[link])}",
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
            f"a cabinet too many on {place}",
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


def _swapped(index: Index, line: Line, pair: int, ways: tuple[Way, ...]) -> list[Fault]:
    """This pair exchanged with each other pair of the line."""
    found = []
    for other in range(1, near_pairs(index, line) + 1):
        there = ways_behind(index, line, other - 1)
        sounds = frozenset(cabinets_on(there))
        if other != pair and (sounds or cabinets_on(ways)):
            bench = Bench(there, own=ways, swapped_with=other)
            found.append(_fault("wrong pole pair", f"pole pairs {pair} and {other} exchanged", bench, sounds))
    return found


def _drivers_open(ways: tuple[Way, ...]) -> list[Fault]:
    """One driver of several open."""
    drivers = [(w.cabinet, name) for way in ways for w in way.all() for name, _ in w.sections]
    if len(drivers) < 2:
        return []
    found = []
    for cabinet, name in drivers:
        left = tuple(_without_driver(way, cabinet, name) for way in ways)
        words = f"{cabinet}.{name} open, one driver of {len(drivers)}"
        found.append(_fault("driver open", words, Bench(left), frozenset(cabinets_on(left))))
    return found


def _without_driver(way: Way, cabinet: str, name: str) -> Way:
    left = tuple(s for s in way.sections if way.cabinet != cabinet or s[0] != name)
    return replace(
        way, sections=left, onward=tuple(_without_driver(link, cabinet, name) for link in way.onward)
    )


def elsewhere(index: Index, test: PairTest, sounded: Sequence[str]) -> Iterator[Fault]:
    """The line in each cabinet that sounded where it should not. No meter tells this from two cabinets alike."""
    line = index.lines[test.line]
    for name in sounded:
        if name in test.cabinets or name not in index.cabinets or name in _feeding(index, line):
            continue
        moved = replace(line, to=name)
        kept = (moved if other is line else other for other in index.rig.lines if other.to != name)
        there = ways_behind(Index(replace(index.rig, lines=tuple(kept))), moved, test.pair - 1)
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


SHORTS: frozenset[Kind] = frozenset({"far short", "near short", "short along it"})
