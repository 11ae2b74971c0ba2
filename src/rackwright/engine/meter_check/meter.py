"""What a meter should show on each pole pair of a line: its tolerance, the line as it sees it, and the tests there are.

A line is measured at its near end, its plug pulled from the rack's panel (or from the link of the cabinet that it
continues from), everything behind it plugged in, amplifiers off. Conductors have the ambient temperature, coils one that is
stated. A section strapped to several pole pairs is calculated on the pair that is measured. Meter leads are taken off beforehand.
"""

import math
from collections.abc import Callable, Container, Iterable, Iterator
from typing import NamedTuple, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.loudspeaker import hot_resistance
from rackwright.engine.network import Run, runs_from
from rackwright.model.equipment import Section
from rackwright.model.index import Index, pairs_carried
from rackwright.model.lines import Line
from rackwright.units import reading
from rackwright.units.formatting import on_a_meter

METER_SHARE, METER_OHMS = 0.01, 0.1
"""A meter's tolerance: ±(1 % of the reading + 0.1 Ω). Common practice, no source."""

DC_TOLERANCE = 0.07
"""How far a section's DC resistance may be from its data sheet's: ±7 %. Common practice, no source."""

COPPER_TOLERANCE = 0.05
"""How far conductors may be under the standard's maximum: 5 %. Common practice, no source."""

OPEN = 10e3
"""Ω: a reading above this is an open circuit with damp or fingers across it. Common practice, no source."""


class OhmRange(NamedTuple):
    """A resistance in Ω with its bounds; all infinite where the circuit is open."""

    low: float
    likely: float
    high: float
    why: str = ""
    """Why it is open where nothing is wrong."""

    def shown_as(self, ohms: float) -> bool:
        """Whether a meter within its tolerance can show `ohms` (Ω) for it."""
        low, high = self.limits
        return low <= ohms <= high

    @property
    def limits(self) -> tuple[float, float]:
        """The least and the most that a meter within its tolerance shows for it, in Ω."""
        low = max(0.0, (self.low - METER_OHMS) / (1 + METER_SHARE)) if self.low < OPEN else OPEN
        return low, (self.high + METER_OHMS) / (1 - METER_SHARE)

    def __str__(self) -> str:
        if self.likely < OPEN:
            return f"{on_a_meter(self.likely)} Ω" if self.likely >= 1 else reading(self.likely, "Ω")
        return f"open ({self.why})" if self.why else "open"


class Way(Struct, frozen=True, gc=False):
    """A run as a meter sees it: its copper there and back, and what is in parallel at its far end."""

    copper: float
    """Ω, contacts included."""
    line: str
    cabinet: str
    sections: tuple[tuple[str, float], ...]
    """Each section's id and DC resistance in Ω; infinite behind a capacitor."""
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
    contact: float = 0.0
    """Ω that a bad contact in the line's plugs adds."""
    open_cabinet: bool = False
    swapped_with: int = 0
    """The pole pair, from 1, that this one is exchanged with."""


class Spread(NamedTuple):
    """How far real things are from their data sheets: factors of coils and of cables."""

    coils: float = 1.0
    copper: float = 1.0


LEAST, LIKELY, MOST = Spread(1 - DC_TOLERANCE, 1 - COPPER_TOLERANCE), Spread(), Spread(1 + DC_TOLERANCE)

BenchTest: TypeAlias = Callable[[Bench, Spread], float]
"""A test: a bench and how far its things are from their data sheets → Ω."""


def predicted(test: BenchTest, least: Bench, most: Bench) -> OhmRange:
    """What a test would meet between two benches: bounds from the tolerances of coils and copper, common practice, no source.

    >>> right = Bench(ways_behind(index, line, 0, 20.0))
    >>> str(predicted(read_near, right, right))
    '5.57 Ω'
    """
    likely = test(least, LIKELY)
    if most is not least:
        likely = (likely + test(most, LIKELY)) / 2
    return OhmRange(test(least, LEAST), likely, test(most, MOST))


class PairTest(Struct, frozen=True):
    """One pole pair of one line, and what a meter should show on it."""

    line: str
    pair: int
    """From 1."""
    source: str
    to: str
    expected: OhmRange
    cabinets: tuple[str, ...]
    """Those that should be heard."""
    sections: tuple[str, ...]
    """Their drivers on it: `B1.high`."""
    coil_temperature: float
    """°C of the voice coils."""
    kinds: frozenset[str] = frozenset()
    """The kinds of the sections on it: low, mid, high, full."""
    unseen: tuple[str, ...] = ()
    """The sections that no meter sees, each behind a capacitor: `B1.high`."""

    @property
    def id(self) -> str:
        """What it is called: `C1/1`."""
        return f"{self.line}/{self.pair}"


# --- what should be seen --------------------------------------------------------------------------------


def pair_tests(
    index: Index, coil_temperature: float | None = None, lines: Container[str] | None = None
) -> tuple[PairTest, ...]:
    """Every pole pair of every line, or of those of these ids, socket after socket as the crew walks, each line before those that continue it.

    `coil_temperature` in °C: ambient where None, as at load-in; after a show coils are hotter.
    """
    return tuple(
        pair_test(index, line, pair, coil_temperature)
        for line in _walked(index)
        if lines is None or line.id in lines
        for pair in range(near_pairs(index, line))
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


def near_pairs(index: Index, line: Line) -> int:
    """Pole pairs at the near end that a meter can be put on."""
    carried = pairs_carried(index.cable_models[line.cable], line.cores_per_pole)
    return max(min(carried, index.near_connector(line).pole_pairs), *(line.poles or (1,)))


def pair_test(index: Index, line: Line, pair: int, coil_temperature: float | None = None) -> PairTest:
    """The test of pole pair `pair` (from 0) of a line, coils at `coil_temperature` (°C), at ambient where None.

    Copper and coils by their temperature [1]_; tolerances: common practice, no source.

    >>> str(pair_test(index, line, 0).expected)
    '5.79 Ω'

    .. [1] IEC 60028.
    """
    hot = index.rig.supply.ambient.value if coil_temperature is None else coil_temperature
    ways = ways_behind(index, line, pair, hot)
    right = Bench(ways)
    expected = predicted(read_near, right, right)
    if expected.likely >= OPEN and cabinets_on(ways):
        expected = expected._replace(why="capacitor")
    seen = {
        f"{w.cabinet}.{name}": ohms < math.inf for way in ways for w in way.all() for name, ohms in w.sections
    }
    return PairTest(
        line.id,
        pair + 1,
        line.source,
        line.to,
        expected,
        cabinets_on(ways),
        tuple(seen),
        hot,
        _kinds(index, ways),
        tuple(name for name, by_meter in seen.items() if not by_meter),
    )


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


def cabinets_on(ways: Iterable[Way]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(w.cabinet for way in ways for w in way.all() if w.sections))


def runs_behind(index: Index, line: Line, pair: int) -> tuple[Run, ...]:
    """The runs from pole pair `pair` (from 0) of a line's near end."""
    return tuple(run for run in runs_from(index, line.source, pair, {}, 1) if run.line is line)


def ways_behind(index: Index, line: Line, pair: int, coil_temperature: float) -> tuple[Way, ...]:
    """What hangs on pole pair `pair` (from 0) of a line's near end, coils at `coil_temperature` (°C).

    Coils as of `loudspeaker.hot_resistance` [1]_.

    >>> [round(way.copper, 3) for way in ways_behind(index, line, 0, 20.0)]
    [0.174]

    .. [1] IEC 60028.
    """
    return tuple(_way(run, coil_temperature) for run in runs_behind(index, line, pair))


def _way(run: Run, coil_temperature: float) -> Way:
    sections = tuple(
        (section.id, _direct_current(section, coil_temperature)) for section in run.node.sections
    )
    links = tuple(_way(link, coil_temperature) for link in run.links)
    return Way(run.node.resistance, run.line.id, run.line.to, sections, links)


def _direct_current(section: Section, coil_temperature: float) -> float:
    """Ω that a meter finds at a section, its coil at `coil_temperature` (°C)."""
    if section.capacitor is not None:
        return math.inf
    return hot_resistance(section.dc_resistance.value, coil_temperature)


# --- tests: a bench and how far its things are from their data sheets → Ω -------------------------------


def _parallel(ohms: Iterable[float]) -> float:
    """Resistances in parallel, Ω; infinite where there are none, zero where one is a short."""
    total = 0.0
    for each in ohms:
        if each == 0.0:
            return 0.0
        total += 1 / each
    return 1 / total if total else math.inf


def _behind(way: Way, spread: Spread) -> float:
    """What is in parallel at a way's far end, in Ω."""
    drivers = [ohms * spread.coils for _, ohms in way.sections]
    return _parallel(drivers + [link.copper * spread.copper + _behind(link, spread) for link in way.onward])


def read_near(bench: Bench, spread: Spread) -> float:
    """Measure at the near end as everything lies: Ω, by the law of resistances in series and in parallel [1]_.

    >>> round(read_near(Bench(ways_behind(index, line, 0, 20.0)), LIKELY), 2)
    5.57

    .. [1] Ohm's law and Kirchhoff's.
    """
    if bench.shorted_near:
        return 0.0
    if bench.broken or (bench.open_cabinet and not bench.shorted_far):
        return math.inf
    shorted = bench.shorted_far or bench.shorted_cabinet
    return bench.contact + _parallel(
        way.copper * spread.copper + (0.0 if shorted else _behind(way, spread)) for way in bench.ways
    )


def read_unplugged(bench: Bench, spread: Spread) -> float:
    """Measure at the near end, the far plug pulled.

    Open, by definition, unless shorted on the way.

    >>> read_unplugged(Bench(ways_behind(index, line, 0, 20.0)), LIKELY)
    inf
    """
    unplugged = tuple(replace(way, sections=(), onward=()) for way in bench.ways)
    return read_near(replace(bench, ways=unplugged, shorted_cabinet=False), spread)


def read_bridged(bench: Bench, spread: Spread) -> float:
    """Measure at the near end, the far plug pulled and this pair bridged in it.

    The line's loop, as of `read_near` [1]_.

    >>> round(read_bridged(Bench(ways_behind(index, line, 0, 20.0)), LIKELY), 2)
    0.17

    .. [1] Ohm's law and Kirchhoff's.
    """
    if bench.swapped_with and not bench.shorted_near:
        return math.inf
    return read_near(replace(bench, shorted_far=True), spread)


def read_cabinet(bench: Bench, spread: Spread) -> float:
    """Measure into the cabinet at the far end, the line pulled out of it.

    As of `read_near` [1]_.

    >>> round(read_cabinet(Bench(ways_behind(index, line, 0, 20.0)), LIKELY), 2)
    5.4

    .. [1] Ohm's law and Kirchhoff's.
    """
    if bench.shorted_cabinet:
        return 0.0
    if bench.open_cabinet:
        return math.inf
    ways = bench.ways if bench.own is None else bench.own
    return _parallel(_behind(way, spread) for way in ways)


def read_without(line: str) -> BenchTest:
    """Measure at the near end, a link pulled.

    As of `read_near` [1]_.

    >>> round(read_without("C99")(Bench(ways_behind(index, line, 0, 20.0)), LIKELY), 2)
    5.57

    .. [1] Ohm's law and Kirchhoff's.
    """

    def test(bench: Bench, spread: Spread) -> float:
        return read_near(replace(bench, ways=tuple(without_link(way, line) for way in bench.ways)), spread)

    return test


def without_link(way: Way, line: str) -> Way:
    return replace(way, onward=tuple(without_link(link, line) for link in way.onward if link.line != line))
