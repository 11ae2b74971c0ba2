"""The meter check: what a meter should show on each pole pair of a line, and which faults explain what it does show.

A line is measured at its near end, its plug pulled from the rack's panel (or from the link of the cabinet that it
continues from), everything behind it plugged in, amplifiers off. A fault is the same line altered, so that reading and
next test are predicted in one way for all. Sections are their DC resistances. Only single faults are thought of; a section
strapped to several pole pairs is reckoned on the pair that is measured. Meter leads are taken off beforehand. A line whose
pairs may be exchanged without a reading that shows it is not proved until somebody has listened.
"""

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Literal, NamedTuple, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.conductor import loop_resistance
from rackwright.engine.network import Run, runs_from
from rackwright.model.index import Index, pairs_carried
from rackwright.model.readings import ohms_of
from rackwright.model.rig import Line, Reading
from rackwright.units import ConductorSize, Length, QuantityError, of_si, reading

METER_SHARE, METER_OHMS = 0.01, 0.1
"""A meter's tolerance: ±(1 % of the reading + 0.1 Ω). Common practice, no source."""

DC_SPREAD = 0.07
"""Spread of a section's DC resistance about its data sheet's: ±7 %. Common practice, no source."""

OPEN = 10e3
"""Ω: a reading above this is an open circuit with damp or fingers across it. Common practice, no source."""

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


class Reach(NamedTuple):
    """A resistance in Ω with its bounds; all infinite where the circuit is open."""

    low: float
    likely: float
    high: float

    def shown_as(self, ohms: float) -> bool:
        """Whether a meter within its tolerance can show `ohms` (Ω) for it."""
        low, high = self.limits
        return low <= ohms <= high

    @property
    def limits(self) -> tuple[float, float]:
        """The least and the most that a meter within its tolerance shows for it, in Ω."""
        low = max(0.0, (self.low - METER_OHMS) / (1 + METER_SHARE)) if self.low < OPEN else OPEN
        return low, (self.high + METER_OHMS) / (1 - METER_SHARE)

    def apart_from(self, other: "Reach") -> bool:
        """Whether no reading can stand for both."""
        (low, high), (other_low, other_high) = self.limits, other.limits
        return high < other_low or other_high < low

    def __str__(self) -> str:
        return "open" if self.likely >= OPEN else reading(self.likely, "Ω")


class Way(Struct, frozen=True, gc=False):
    """A run as a meter sees it: its copper there and back, and what is in parallel at its far end."""

    copper: float
    """Ω, contacts included."""
    line: str
    cabinet: str
    sections: tuple[tuple[str, float], ...]
    """Each section's id and DC resistance in Ω."""
    onward: tuple["Way", ...]

    def all(self) -> Iterator["Way"]:
        """This and every way behind it."""
        yield self
        for way in self.onward:
            yield from way.all()


class Bench(Struct, frozen=True, gc=False):
    """One pole pair of a line as it lies there to be measured, with at most one fault."""

    ways: tuple[Way, ...]
    """More than one where the near pair is joined to several far pairs."""
    own: tuple[Way, ...] | None = None
    """What hangs on the pair at the cabinet, where that is not what the near end leads to."""
    shorted_near: bool = False
    shorted_far: bool = False
    """In the line's far plug."""
    shorted_cabinet: bool = False
    broken: bool = False
    """In the line itself."""
    open_cabinet: bool = False
    swapped_with: int = 0
    """The pole pair, from 1, that this one is exchanged with."""


class Fault(Struct, frozen=True, gc=False):
    """One way in which a line can be, right or wrong. `least` and `most` bound what is not known of it."""

    kind: Kind
    words: str
    least: Bench
    most: Bench
    sounds: frozenset[str] | None
    """The cabinets that sound on this pair; None where that can't be said."""

    def under(self, test: Callable[[Bench, float], float]) -> Reach:
        """What a test would meet: bounds from the spread of DC resistances."""
        low, high = test(self.least, 1 - DC_SPREAD), test(self.most, 1 + DC_SPREAD)
        likely = (test(self.least, 1.0) + test(self.most, 1.0)) / 2
        return Reach(low, likely, high)


class Explanation(Struct, frozen=True):
    """A kind of fault that fits a reading, with the cases of it that fit, nearest first."""

    kind: Kind
    cases: tuple[Fault, ...]

    @property
    def words(self) -> str:
        """The cases in words, of many the nearest three."""
        told = list(dict.fromkeys(case.words for case in self.cases))
        more = f" ({len(told) - 3} more fit)" if len(told) > 3 else ""
        return "; or ".join(told[:3]) + more


class NextTest(Struct, frozen=True):
    """The test to do next, and what each explanation predicts for it."""

    words: str
    predictions: tuple[tuple[str, str], ...]
    """An explanation in words, and what it predicts."""

    @property
    def sentence(self) -> str:
        """What to do, then what to look for."""
        told = "; ".join(f"{seen}: {explanation}" for explanation, seen in self.predictions)
        return f"{self.words} {told[:1].upper()}{told[1:]}." if told else self.words


class PairTest(Struct, frozen=True):
    """One pole pair of one line, and what a meter should show on it."""

    line: str
    pair: int
    """From 1."""
    source: str
    to: str
    expected: Reach
    cabinets: tuple[str, ...]
    """Those that should be heard."""
    kinds: frozenset[str] = frozenset()
    """The kinds of the sections on it: low, mid, high, full."""

    @property
    def id(self) -> str:
        """What it is called: `C1/1`."""
        return f"{self.line}/{self.pair}"


class Judgement(Struct, frozen=True):
    """What a reading says of a pole pair."""

    test: PairTest
    ohms: float
    """Meter leads taken off."""
    explanations: tuple[Explanation, ...]
    """Likeliest first; empty where no single fault fits."""
    next_test: NextTest | None

    @property
    def as_expected(self) -> bool:
        """Whether nothing need be wrong."""
        return bool(self.explanations) and self.explanations[0].kind == "as expected"

    @property
    def verdict(self) -> str:
        """In a few words: the likeliest, and what fits as well; of a good line only what would do harm."""
        if not self.explanations:
            return "no single fault fits"
        first, *others = [NAMES[explanation.kind] for explanation in self.listed]
        return f"{first} (or {', '.join(others)})" if others else first

    @property
    def listed(self) -> tuple[Explanation, ...]:
        """The explanations that are worth telling: all of a fault, of a good line those that would do harm."""
        return tuple(e for e in self.explanations if not self.as_expected or e.kind not in HARMLESS)


HARMLESS: frozenset[Kind] = frozenset({"cable", "wrong pole pair"})
"""What a line that reads as expected may also be with no harm done: its pairs exchanged only where both drive one kind of
section, for any other exchange is what makes it not proved."""

_MOST_CASES = 6
"""Cases of one kind that the next test is foretold for."""

NAMES: dict[Kind, str] = {
    "as expected": "as expected", "open": "open", "cabinets": "wrong cabinets", "wrong pole pair": "wrong pole pair",
    "wrong cabinet": "wrong cabinet", "driver open": "a driver open", "far short": "shorted far",
    "near short": "shorted near", "short along it": "shorted on the way", "cable": "other cable",
}  # fmt: skip


# --- what should be seen --------------------------------------------------------------------------------


def pair_tests(index: Index) -> tuple[PairTest, ...]:
    """Every pole pair of every line, socket after socket as the crew walks, each line before those that continue it."""
    return tuple(
        _pair_test(index, line, pair) for line in _walked(index) for pair in range(_near_pairs(index, line))
    )


def _walked(index: Index) -> Iterator[Line]:
    def onward(place: str) -> Iterator[Line]:
        for line in index.lines_from.get(place, ()):
            yield line
            yield from onward(line.to)

    walked = [line for socket in index.sockets for line in onward(socket)]
    yield from walked
    seen = {line.id for line in walked}
    yield from (line for line in index.rig.lines if line.id not in seen)


def _near_pairs(index: Index, line: Line) -> int:
    """Pole pairs at the near end that a meter can be put on."""
    carried = pairs_carried(index.cable_models[line.cable], line.cores_per_pole)
    return max(min(carried, index.near_connector(line).pole_pairs), *(line.poles or (1,)))


def _pair_test(index: Index, line: Line, pair: int) -> PairTest:
    ways = _ways(index, line, pair)
    right = Fault("as expected", "", Bench(ways), Bench(ways), None)
    expected = right.under(read_near)
    return PairTest(line.id, pair + 1, line.source, line.to, expected, _sounding(ways), _kinds(index, ways))


def _kinds(index: Index, ways: Iterable[Way]) -> frozenset[str]:
    """The kinds of the sections behind those ways."""
    return frozenset(
        section.kind
        for way in ways
        for w in way.all()
        if w.sections
        for section in index.loudspeaker_models[index.cabinets[w.cabinet].model].sections
        if section.id in dict(w.sections)
    )


def _sounding(ways: Iterable[Way]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(w.cabinet for way in ways for w in way.all() if w.sections))


def _ways(index: Index, line: Line, pair: int) -> tuple[Way, ...]:
    """What hangs on pole pair `pair` (from 0) of a line's near end."""
    return tuple(_way(run) for run in runs_from(index, line.source, pair, {}, 1) if run.line is line)


def _way(run: Run) -> Way:
    sections = tuple((section.id, section.dc_resistance.value) for section in run.node.sections)
    return Way(
        run.node.resistance, run.line.id, run.line.to, sections, tuple(_way(link) for link in run.links)
    )


# --- tests: a bench and the share of the data sheet's DC resistance → Ω ---------------------------------


def _parallel(ohms: Iterable[float]) -> float:
    """Resistances in parallel, Ω; infinite where there are none, zero where one is a short."""
    found = list(ohms)
    return 0.0 if 0.0 in found else 1 / total if (total := sum(1 / each for each in found)) else math.inf


def _behind(way: Way, spread: float) -> float:
    """What is in parallel at a way's far end, in Ω."""
    drivers = [ohms * spread for _, ohms in way.sections]
    return _parallel([*drivers, *(link.copper + _behind(link, spread) for link in way.onward)])


def read_near(bench: Bench, spread: float) -> float:
    """Measure at the near end as everything lies."""
    if bench.shorted_near:
        return 0.0
    if bench.broken or (bench.open_cabinet and not bench.shorted_far):
        return math.inf
    shorted = bench.shorted_far or bench.shorted_cabinet
    return _parallel(way.copper + (0.0 if shorted else _behind(way, spread)) for way in bench.ways)


def read_unplugged(bench: Bench, spread: float) -> float:
    """Measure at the near end, the far plug pulled."""
    unplugged = tuple(replace(way, sections=(), onward=()) for way in bench.ways)
    return read_near(replace(bench, ways=unplugged, shorted_cabinet=False), spread)


def read_bridged(bench: Bench, spread: float) -> float:
    """Measure at the near end, the far plug pulled and this pair bridged in it."""
    if bench.swapped_with and not bench.shorted_near:
        return math.inf
    return read_near(replace(bench, shorted_far=True), spread)


def read_cabinet(bench: Bench, spread: float) -> float:
    """Measure into the cabinet at the far end, the line pulled out of it."""
    if bench.shorted_cabinet:
        return 0.0
    if bench.open_cabinet:
        return math.inf
    ways = bench.ways if bench.own is None else bench.own
    return _parallel(_behind(way, spread) for way in ways)


def _read_without(line: str) -> Callable[[Bench, float], float]:
    """Measure at the near end, a link pulled."""

    def test(bench: Bench, spread: float) -> float:
        return read_near(replace(bench, ways=tuple(_cut(way, line) for way in bench.ways)), spread)

    return test


def _cut(way: Way, line: str) -> Way:
    return replace(way, onward=tuple(_cut(link, line) for link in way.onward if link.line != line))


# --- faults ---------------------------------------------------------------------------------------------


def faults(index: Index, line: Line, pair: int) -> tuple[Fault, ...]:
    """The line as expected, and every single fault thought of, on pole pair `pair` (from 1)."""
    ways = _ways(index, line, pair - 1)
    sounds = frozenset(_sounding(ways))
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
    cut = {link: tuple(_cut(way, link) for way in ways) for link in links}
    lost = {link: [c for c in _sounding(ways) if c not in _sounding(left)] for link, left in cut.items()}
    return [
        _fault(
            "cabinets",
            f"{link} not plugged, without {' and '.join(lost[link])}",
            Bench(cut[link]),
            frozenset(_sounding(cut[link])),
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
    for other in range(1, _near_pairs(index, line) + 1):
        there = _ways(index, line, other - 1)
        sounds = frozenset(_sounding(there))
        if other != pair and (sounds or _sounding(ways)):
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
        found.append(_fault("driver open", words, Bench(left), frozenset(_sounding(left))))
    return found


def _without_driver(way: Way, cabinet: str, name: str) -> Way:
    left = tuple(s for s in way.sections if way.cabinet != cabinet or s[0] != name)
    return replace(
        way, sections=left, onward=tuple(_without_driver(link, cabinet, name) for link in way.onward)
    )


def _elsewhere(index: Index, test: PairTest, sounded: Sequence[str]) -> Iterator[Fault]:
    """The line in each cabinet that sounded where it should not. No meter tells this from two cabinets alike."""
    line = index.lines[test.line]
    for name in sounded:
        if name in test.cabinets or name not in index.cabinets or name in _feeding(index, line):
            continue
        moved = replace(line, to=name)
        kept = (moved if other is line else other for other in index.rig.lines if other.to != name)
        there = _ways(Index(replace(index.rig, lines=tuple(kept))), moved, test.pair - 1)
        words = f"{line.id} in {name} instead of {line.to}"
        yield _fault("wrong cabinet", words, Bench(there), frozenset(_sounding(there)))


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


# --- judging a reading ----------------------------------------------------------------------------------


def judge(index: Index, test: PairTest, ohms: float, sounded: Sequence[str] = ()) -> Judgement:
    """All that explains a reading of `ohms` (Ω, leads taken off, infinite where open), and the next test.

    `sounded`, where not empty, are the cabinets that were heard on the pair: faults under which others would sound
    are out, and that the line is in one of theirs is thought of.
    """
    line = index.lines[test.line]
    shown = math.inf if ohms > OPEN else max(ohms, 0.0)
    fitting = [
        fault
        for fault in (*faults(index, line, test.pair), *_elsewhere(index, test, sounded))
        if fault.under(read_near).shown_as(shown)
        and (not sounded or fault.sounds is None or fault.sounds == frozenset(sounded))
    ]
    grouped = [
        Explanation(kind, tuple(sorted(cases, key=lambda fault: _distance(fault, shown))))
        for kind in LIKELIEST
        if (cases := [fault for fault in fitting if fault.kind == kind])
    ]
    return _with_next_test(index, Judgement(test, shown, tuple(grouped), None))


def _with_next_test(index: Index, said: Judgement) -> Judgement:
    line = index.lines[said.test.line]
    return replace(said, next_test=_next_test(index, line, said.test, said.listed))


def _distance(fault: Fault, ohms: float) -> float:
    likely = fault.under(read_near).likely
    return 0.0 if likely == ohms else abs(likely - ohms)


class _Test(NamedTuple):
    words: str
    predict: Callable[[Fault], Reach]


def _next_test(index: Index, line: Line, test: PairTest, found: Sequence[Explanation]) -> NextTest | None:
    """The test that tells most of the explanations apart, the easiest first among equals; a look where none does."""
    if not found:
        return NextTest("Measure again, then measure line and cabinet each by itself.", ())
    if sum(len(explanation.cases) for explanation in found) == 1:
        return None
    gains = [(_gain(candidate, found), candidate) for candidate in _tests(index, line, test)]
    gain, best = max(gains, key=lambda item: item[0])
    if gain == 0:
        return NextTest(_look([explanation.kind for explanation in found], test), ())
    if len(found) == 1:
        by_words = {case.words: case for case in reversed(found[0].cases)}
        nearest = list(reversed(by_words.items()))[:_MOST_CASES]
        told = tuple((words, _range(best, [case])) for words, case in nearest)
    else:
        told = tuple((NAMES[explanation.kind], _range(best, explanation.cases)) for explanation in found)
    return NextTest(best.words, told)


def _tests(index: Index, line: Line, test: PairTest) -> Iterator[_Test]:
    """Every test there is, the easiest first."""
    others = [pair for pair in range(1, _near_pairs(index, line) + 1) if pair != test.pair]
    for other in others:
        yield _Test(f"Measure pole pair {other} of {line.id}.", _on_other_pair(index, line, test.pair, other))
    at = f"at the near end of {line.id}"
    links = dict.fromkeys(w.line for way in _ways(index, line, test.pair - 1) for w in way.all())
    for link in links:
        if link != line.id:
            pulled = _read_without(link)
            yield _Test(
                f"Pull {link} at {index.lines[link].source} and measure again {at}.",
                lambda fault, pulled=pulled: fault.under(pulled),  # type: ignore[misc]
            )
    yield _Test(f"Unplug {line.to} and measure again {at}.", lambda fault: fault.under(read_unplugged))
    yield _Test(
        f"Unplug {line.to} and measure pole pair {test.pair} at its input.",
        lambda fault: fault.under(read_cabinet),
    )
    yield _Test(
        f"Unplug {line.to}, bridge pole pair {test.pair} in the far plug and measure again {at}.",
        lambda fault: fault.under(read_bridged),
    )


def _on_other_pair(index: Index, line: Line, pair: int, other: int) -> Callable[[Fault], Reach]:
    """What another pair would show: the loads exchanged where the two are, else as expected, where that can be said."""
    here, there = (_pair_test(index, line, number - 1).expected for number in (pair, other))
    unknown = Reach(0.0, math.nan, math.inf)

    def predict(fault: Fault) -> Reach:
        if fault.kind in ("cabinets", "cable"):
            return unknown
        return here if fault.least.swapped_with == other else there

    return predict


def _gain(test: _Test, found: Sequence[Explanation]) -> float:
    """How many pairs of explanations a test tells apart, each explanation's cases sharing its weight."""
    cases = [(test.predict(case), 1 / len(e.cases)) for e in found for case in e.cases]
    return sum(
        weight * other_weight
        for i, (seen, weight) in enumerate(cases)
        for other, other_weight in cases[i + 1 :]
        if seen.apart_from(other)
    )


def _range(test: _Test, cases: Sequence[Fault]) -> str:
    """What an explanation's cases predict for a test, in words."""
    seen = [test.predict(case) for case in cases]
    words = list(dict.fromkeys(map(_on_a_meter, seen)))
    return words[0] if len(words) == 1 else f"{words[0]} or {words[1]}" if len(words) == 2 else _span(seen)


def _span(seen: Sequence[Reach]) -> str:
    ordered = sorted(seen, key=lambda each: each.likely)
    return f"{_on_a_meter(ordered[0])} to {_on_a_meter(ordered[-1])}"


def _on_a_meter(each: Reach) -> str:
    """A prediction as a hand meter would show it, which knows nothing finer than a tenth of an ohm."""
    if math.isnan(each.likely):
        return "anything"
    if each.likely < METER_OHMS or each.low <= 0.0 < each.high < OPEN:
        return f"under {reading(max(each.high, METER_OHMS), 'Ω')}"
    return str(each)


def _look(kinds: Sequence[Kind], test: PairTest) -> str:
    """What to look at where no meter reading tells the explanations apart."""
    looks = {
        "wrong pole pair": f"touch a small battery to pole pair {test.pair} and hear which driver clicks",
        "cabinets": "count the cabinets that sound",
        "driver open": "listen to each driver",
        "cable": "read size and length on the cable",
    }
    told = [look for kind, look in looks.items() if kind in kinds]
    todo = ", ".join(told) or "look at both plugs"
    return f"No reading tells these apart within the meter's tolerance: {todo}."


# --- readings kept with the rig -------------------------------------------------------------------------


def measured(kept: Reading) -> float | None:
    """The resistance in Ω that a kept reading stands for, its leads taken off; None where nothing was measured."""
    if not kept.ohms:
        return None
    try:
        return max(ohms_of(kept.ohms) - kept.lead_resistance.value, 0.0)
    except QuantityError:
        return None


Standing: TypeAlias = Literal["not tested", "wrong", "not proved", "as expected"]


class Checked(Struct, frozen=True):
    """A pole pair with the reading kept of it and what that says; None where there is none."""

    test: PairTest
    reading: Reading | None
    judgement: Judgement | None
    earlier: Reading | None = None
    """One that was taken on another cabinet model, cable or length: history, no proof."""
    rivals: tuple[PairTest, ...] = ()
    """The pairs that drive other kinds of section, and that it may be exchanged with for all that is known."""

    @property
    def wrong(self) -> tuple[str, ...]:
        """What was found wrong, by meter, eye and ear."""
        found = []
        if self.judgement is not None and not self.judgement.as_expected:
            found.append(self.judgement.verdict)
        if (kept := self.reading) is None:
            return tuple(found)
        if kept.polarity == "no":
            found.append("polarity reversed")
        if kept.heard_from and set(kept.heard_from) != set(self.test.cabinets):
            expected = " ".join(self.test.cabinets) or "none"
            found.append(f"heard from {' '.join(kept.heard_from)}, expected {expected}")
        elif kept.heard == "no":
            found.append("not heard as it should be")
        return tuple(found)

    @property
    def standing(self) -> Standing:
        """How it stands. It is proved by nothing but a reading, with what was heard where that leaves a doubt."""
        if self.wrong:
            return "wrong"
        if self.judgement is None:
            return "not tested"
        return "not proved" if self.rivals else "as expected"

    @property
    def verdict(self) -> str:
        """In a few words; empty where it is not tested."""
        if self.wrong:
            return "; ".join(self.wrong)
        if self.rivals:
            return f"not proved: may be exchanged with pole pair {' or '.join(str(rival.pair) for rival in self.rivals)}"
        return self.judgement.verdict if self.judgement is not None else ""

    @property
    def proof(self) -> str:
        """The listening test that proves it before power; empty where it needs none."""
        if self.standing != "not proved":
            return ""
        test, others = self.test, " or ".join(dict.fromkeys(_kind_words(rival) for rival in self.rivals))
        return (
            f"Don't power it yet. Touch a small battery to pole pair {test.pair} of {test.line} for a moment: the "
            f"{_kind_words(test)} driver of {' and '.join(test.cabinets)} clicks, not the {others}. Then note heard: yes."
        )

    @property
    def caution(self) -> str:
        """What to mind before the verdict is trusted, or the line powered; empty where nothing."""
        if self.judgement is None or self.reading is None:
            return ""
        kinds = {explanation.kind for explanation in self.judgement.explanations}
        if kinds & SHORTS and not self.reading.lead_resistance.value:
            return "Write the resistance of the meter's leads (touch them together): without it nothing says where the short is."
        if "wrong pole pair" in kinds and not self.judgement.as_expected:
            return "Don't power it: a high driver may be on a low band."
        return ""


def _kind_words(test: PairTest) -> str:
    return " and ".join(sorted(test.kinds)) or "none"


SHORTS: frozenset[Kind] = frozenset({"far short", "near short", "short along it"})


def checked(index: Index) -> tuple[Checked, ...]:
    """Every pole pair of every line with what is known of it."""
    kept = {item.id: item for item in index.rig.readings}
    found = {test.id: _checked(index, test, kept.get(test.id)) for test in pair_tests(index)}
    left = {name: _exchanges_left(index, item, found) for name, item in found.items()}
    return tuple(_with_rivals(_seen_together(left[name], left), left) for name in left)


def _checked(index: Index, test: PairTest, kept: Reading | None) -> Checked:
    if kept is not None and not _current(index, kept):
        return Checked(test, None, None, kept)
    ohms = measured(kept) if kept else None
    if kept is None or ohms is None:
        return Checked(test, kept, None)
    heard = kept.heard_from or (test.cabinets if kept.heard == "yes" else ())
    return Checked(test, kept, judge(index, test, ohms, heard))


def _current(index: Index, kept: Reading) -> bool:
    """Whether a reading was taken on its line as that is now."""
    line = index.lines.get(kept.line)
    return line is not None and kept.taken_on(line, index.cabinets[line.to].model)


def _exchanges(item: Checked) -> set[int]:
    """The pole pairs that it may be exchanged with, by what is known of it alone."""
    explanations = item.judgement.explanations if item.judgement is not None else ()
    return {
        case.least.swapped_with
        for each in explanations
        for case in each.cases
        if case.kind == "wrong pole pair"
    }


def _exchanges_left(index: Index, item: Checked, found: Mapping[str, Checked]) -> Checked:
    """An exchange takes two: what the other pair's reading or either's drivers heard rule out is left out."""
    out = set()
    for other in _exchanges(item):
        there = found.get(f"{item.test.line}/{other}")
        read_otherwise = (
            there is not None and there.judgement is not None and item.test.pair not in _exchanges(there)
        )
        if read_otherwise or _heard_right(item) or _heard_right(there):
            out.add(other)
    if not out or item.judgement is None:
        return item
    explanations = (
        replace(each, cases=tuple(case for case in each.cases if case.least.swapped_with not in out))
        for each in item.judgement.explanations
    )
    said = replace(item.judgement, explanations=tuple(each for each in explanations if each.cases))
    return replace(item, judgement=_with_next_test(index, said))


def _heard_right(item: Checked | None) -> bool:
    return item is not None and item.reading is not None and item.reading.heard == "yes"


def _seen_together(item: Checked, found: Mapping[str, Checked]) -> Checked:
    """With two pairs exchanged, each reads what the other should: where both do, that is the likeliest."""
    said = item.judgement
    if said is None or said.as_expected:
        return item
    exchanged = [explanation for explanation in said.explanations if explanation.kind == "wrong pole pair"]
    others = (found.get(f"{item.test.line}/{other}") for other in _exchanges(item))
    if not any(other is not None and other.judgement is not None for other in others):
        return item
    rest = [explanation for explanation in said.explanations if explanation.kind != "wrong pole pair"]
    return replace(item, judgement=replace(said, explanations=(*exchanged, *rest)))


def _with_rivals(item: Checked, found: Mapping[str, Checked]) -> Checked:
    """With the pairs named that it may be exchanged with to the harm of a driver."""
    others = (found.get(f"{item.test.line}/{other}") for other in sorted(_exchanges(item)))
    harmful = tuple(
        other.test for other in others if other is not None and other.test.kinds != item.test.kinds
    )
    return replace(item, rivals=harmful) if harmful else item


def wrong_pairs(index: Index) -> tuple[str, ...]:
    """The pole pairs, `C1/1`, on which something was found wrong: a reading out of its limits, a no, another cabinet."""
    found = []
    for kept in index.rig.readings:
        line, ohms = index.lines.get(kept.line), measured(kept)
        if line is None or kept.pair > _near_pairs(index, line) or not _current(index, kept):
            continue  # of another line, or of a pair that is not there now
        item = Checked(_pair_test(index, line, kept.pair - 1), kept, None)
        shown = math.inf if ohms is not None and ohms > OPEN else ohms
        if item.wrong or (shown is not None and not item.test.expected.shown_as(shown)):
            found.append(kept.id)
    return tuple(found)


class Progress(NamedTuple):
    """How far the meter check has come, in pole pairs."""

    measured: int
    as_expected: int
    total: int
    heard: int = 0
    wrong: int = 0
    not_proved: int = 0

    def __str__(self) -> str:
        doubts = ((self.wrong, "wrong"), (self.not_proved, "not proved"))
        told = "".join(f", {count} {words}" for count, words in doubts if count)
        return f"{self.measured} of {self.total} measured{told}, {self.heard} heard"


def progress(found: Sequence[Checked]) -> Progress:
    """How many pole pairs are measured, how they stand, and on how many somebody listened."""
    standings = [item.standing for item in found]
    heard = sum(
        item.reading is not None and bool(item.reading.heard or item.reading.heard_from) for item in found
    )
    return Progress(
        sum(item.judgement is not None for item in found),
        standings.count("as expected"),
        len(found),
        heard,
        standings.count("wrong"),
        standings.count("not proved"),
    )


def clean(found: Sequence[Checked]) -> bool:
    """Whether nothing that was tested is wrong or left in doubt."""
    return all(item.standing in ("not tested", "as expected") for item in found)
