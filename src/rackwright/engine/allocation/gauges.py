"""Every limit on the mains as a sum over the amplifiers on some circuits: what an arrangement of them is judged by.

Taken from an assessment, whose figures and limits are those that the findings judge by. Holds what may hang where and how
grave each limit is; which arrangement is best is found by `arrangement`.
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Literal, NamedTuple, TypeAlias

from rackwright.engine import limits, mains
from rackwright.engine.assess import Assessed
from rackwright.engine.mains.breaker import Curve
from rackwright.engine.results import SEVERITIES, AmplifierResult, CircuitResult, Severity
from rackwright.model.mains import phases_of
from rackwright.model.rig import PHASES

Figure: TypeAlias = Literal["programme", "heavy", "inrush"]
Places: TypeAlias = Mapping[str, str]
"""Amplifier → its circuit; empty where it has no power."""
Criterion: TypeAlias = Literal[
    "unplaced", "over", "new_warnings", "near", "heavy", "generator", "drop", "voltage", "uneven", "inrush", "drop_heavy",
    "new_notes", "moves", "worst", "imbalance",
]  # fmt: skip

EQUAL = 1e-6
"""Two figures closer than this are the same."""


class Worth(NamedTuple):
    """What an arrangement is judged by, less being better, in this order.

    Each circuit counts by how far it is past its limit, so that none hides behind a worse one. What would be found that
    is not found today comes before everything that is not graver.
    """

    unplaced: float = 0.0
    """Amplifiers without power, for want of a circuit that may carry them."""
    over: float = 0.0
    """Past what is a stop, over the breaker or the generator's rating."""
    new_warnings: float = 0.0
    """How many are found that are not found today, or are less grave."""
    near: float = 0.0
    """Past what is comfortable, over the breaker."""
    heavy: float = 0.0
    """Driven hard, past the breaker."""
    generator: float = 0.0
    """Past what is comfortable, or driven hard past its rating."""
    drop: float = 0.0
    """% that supply cables take past what is accepted."""
    voltage: float = 0.0
    """% that a generator's voltage and the drop leave under what equipment must bear, driven hard."""
    uneven: float = 0.0
    """Imbalance of the phases past what is accepted."""
    inrush: float = 0.0
    """A, past where the breaker may trip at once."""
    drop_heavy: float = 0.0
    new_notes: float = 0.0
    moves: float = 0.0
    worst: float = 0.0
    """Largest programme current over its breaker."""
    imbalance: float = 0.0

    def better(self, other: "Worth") -> bool:
        """Whether it beats another, what is as close as EQUAL being the same."""
        for mine, theirs in zip(self, other, strict=True):
            if abs(mine - theirs) > EQUAL * (1 + abs(theirs)):
                return mine < theirs
        return False


CRITERIA: tuple[Criterion, ...] = Worth._fields  # type: ignore[assignment]


class Draw(NamedTuple):
    """What an amplifier takes of a circuit, A."""

    programme: float
    heavy: float
    inrush: float

    def of(self, figure: Figure) -> float:
        """One of the figures by its name."""
        return self.programme if figure == "programme" else self.heavy if figure == "heavy" else self.inrush


class Movable(NamedTuple):
    """An amplifier, where it hangs, and what it would take where it may hang."""

    id: str
    home: str
    """Its circuit; empty where it has no power."""
    plugged: str
    """The circuit that it is plugged into, dead or not; empty where there is none."""
    draws: Mapping[str, Draw]
    """By circuit: those with power within its reach that take its mains voltage, its home always."""


class Gauge(NamedTuple):
    """One limit on the sum that hangs on some circuits."""

    place: str
    family: str
    """What the findings at that place are about: of one family the gravest is told."""
    severity: Severity
    """Of being past it."""
    criterion: Criterion | None
    """What it counts to by how far it is past; None where only how grave it is matters."""
    figure: Figure
    circuits: Mapping[str, float]
    """With what factor the amperes on each count."""
    rest: float
    """What hangs there that no arrangement moves."""
    limit: float
    scale: float
    """What an excess is counted over."""


class Task(NamedTuple):
    """Amplifiers to arrange, and what judges the arrangement."""

    movables: tuple[Movable, ...]
    gauges: tuple[Gauge, ...]
    breakers: Mapping[str, float]
    """Live circuit → A."""
    fixed: Mapping[str, float]
    """Live circuit → A at programme that no arrangement moves."""
    phases: tuple[tuple[str, frozenset[str]], ...]
    """Each phase that has to be even with the others, with its circuits; none on a single one."""
    uneven: Severity
    """How grave uneven phases are."""

    @property
    def homes(self) -> dict[str, str]:
        """Where everything hangs today."""
        return {movable.id: movable.home for movable in self.movables}

    def sums(self, places: Places, figure: Figure) -> dict[str, float]:
        """A of the movable amplifiers on each live circuit."""
        sums = dict.fromkeys(self.breakers, 0.0)
        for movable in self.movables:
            if at := places[movable.id]:
                sums[at] += movable.draws[at].of(figure)
        return sums

    def values(self, places: Places) -> list[float]:
        """What each gauge shows."""
        sums = {figure: self.sums(places, figure) for figure in ("programme", "heavy", "inrush")}
        return [
            gauge.rest + sum([factor * sums[gauge.figure][c] for c, factor in gauge.circuits.items()])
            for gauge in self.gauges
        ]

    def levels(self, places: Places) -> dict[tuple[str, str], Severity]:
        """How grave what is found is, by place and family; nothing where all is within."""
        found: dict[tuple[str, str], Severity] = {}
        for gauge, value in zip(self.gauges, self.values(places), strict=True):
            key = gauge.place, gauge.family
            if value > gauge.limit * (1 + 1e-9) and (key not in found or graver(gauge.severity, found[key])):
                found[key] = gauge.severity
        if self.unevenness(places)[0] > 0:
            found["supply", "phases"] = self.uneven
        used = {at for at in places.values() if at}
        return found | {(c, "empty"): "note" for c in self.breakers if c not in used and not self.fixed[c]}

    def accepted(self, mean: float) -> float:
        """A by which a phase may deviate from that mean."""
        return limits.imbalance(mean, max(self.breakers.values())).value * mean if mean > 0 else 0.0

    def unevenness(self, places: Places) -> tuple[float, float]:
        """The imbalance of the phases past what is accepted, and the imbalance."""
        loads = self.sums(places, "programme")
        each = [sum([loads[c] + self.fixed[c] for c in circuits]) for _, circuits in self.phases]
        mean = sum(each) / len(each) if each else 0.0
        if mean <= 0:
            return 0.0, 0.0
        deviation = max([abs(phase - mean) for phase in each])
        past = deviation - self.accepted(mean)
        return past / mean if past > 1e-9 * mean else 0.0, deviation / mean

    def worth(self, places: Places) -> Worth:
        """What an arrangement is worth."""
        excess: dict[tuple[str, Criterion], float] = {}
        for gauge, value in zip(self.gauges, self.values(places), strict=True):
            if gauge.criterion:
                key = gauge.place, gauge.criterion
                excess[key] = max((value - gauge.limit) / gauge.scale, excess.get(key, 0.0))
        sums: dict[Criterion, float] = dict.fromkeys(CRITERIA, 0.0)
        for (_, criterion), past in excess.items():
            sums[criterion] += past
        today, levels = self.levels(self.homes), self.levels(places)
        new = [level for key, level in levels.items() if key not in today or graver(level, today[key])]
        sums["new_warnings"], sums["new_notes"] = new.count("warn"), new.count("note")
        loads = self.sums(places, "programme")
        sums["worst"] = max([(loads[c] + self.fixed[c]) / breaker for c, breaker in self.breakers.items()])
        sums["uneven"], sums["imbalance"] = self.unevenness(places)
        sums["moves"] = sum([places[name] != home for name, home in self.homes.items()])
        sums["unplaced"] = sum([not at for at in places.values()])
        return Worth(**sums)


def graver(one: Severity, other: Severity) -> bool:
    """Whether one severity is graver than the other."""
    return SEVERITIES.index(one) < SEVERITIES.index(other)


# --- taken from an assessment ---------------------------------------------------------------------------


def task(assessment: Assessed) -> Task:
    """What there is to arrange."""
    live = {circuit.id: circuit for circuit in assessment.circuits.values() if circuit.live}
    movables = tuple([_movable(assessment, live, amplifier) for amplifier in assessment.amplifiers.values()])
    on: dict[str, list[Draw]] = {name: [] for name in live}
    for movable in movables:
        if movable.home:
            on[movable.home].append(movable.draws[movable.home])
    fixed = {
        name: max(0.0, circuit.programme_current - sum([draw.programme for draw in on[name]]))
        for name, circuit in live.items()
    }
    three = assessment.supply.phases == 3
    phases = tuple(
        [(phase, frozenset([c.id for c in live.values() if phase in phases_of(c.phase)])) for phase in PHASES]
    )
    gauges = [
        gauge for circuit in live.values() for gauge in _of_circuit(assessment, circuit, on[circuit.id])
    ]
    gauges += _of_generator(assessment, live, phases if three else ())
    return Task(
        movables=movables,
        gauges=tuple(gauges),
        breakers={name: circuit.breaker for name, circuit in live.items()},
        fixed={name: rest if rest > EQUAL else 0.0 for name, rest in fixed.items()},
        phases=phases if three else (),
        uneven="note" if assessment.supply.generator is None else "warn",
    )


def _movable(assessment: Assessed, live: Mapping[str, CircuitResult], amplifier: AmplifierResult) -> Movable:
    index = assessment.index
    own = index.amplifiers[amplifier.id]
    reached = own.reaches or index.rack_of[amplifier.id].reaches
    home = amplifier.circuit if amplifier.circuit in live else ""
    draw = Draw(amplifier.programme_current, amplifier.heavy_current, amplifier.inrush)
    barred = mains.barred(index, assessment.cables)
    draws = {
        name: draw
        for name in live
        if name == home or (name not in barred and (not reached or name in reached))
    }
    return Movable(amplifier.id, home, amplifier.circuit, draws)


def _of_circuit(assessment: Assessed, circuit: CircuitResult, on: Sequence[Draw]) -> Iterator[Gauge]:
    supply = assessment.index.rig.supply
    curve = assessment.index.circuits[circuit.id].curve

    def gauge(
        family: str,
        severity: Severity,
        criterion: Criterion | None,
        figure: Figure,
        limit: float,
        scale: float = circuit.breaker,
    ) -> Gauge:
        today = {
            "programme": circuit.programme_current,
            "heavy": circuit.heavy_current,
            "inrush": circuit.inrush,
        }
        rest = max(0.0, today[figure] - sum([draw.of(figure) for draw in on]))
        return Gauge(circuit.id, family, severity, criterion, figure, {circuit.id: 1.0}, rest, limit, scale)

    breaker = circuit.breaker
    yield gauge("loading", "stop", "over", "programme", limits.loading_stop(supply.rules).value * breaker)
    yield gauge("loading", "warn", "near", "programme", limits.loading_near(supply.rules).value * breaker)
    yield gauge("loading", "note", "heavy", "heavy", limits.loading_heavy().value * breaker)
    yield gauge("loading", "warn", None, "heavy", _sure_to_trip(breaker, curve, supply.rules))
    yield gauge("inrush", "warn", "inrush", "inrush", limits.inrush(circuit).value, 1.0)
    cable = assessment.cables.get(circuit.id)
    if cable and cable.capacity.ratings and cable.capacity.drum and not cable.barred:
        yield gauge("cable", "stop", "over", "programme", cable.capacity.highest)
    if resistance := mains.supply_cable_resistance(assessment.index.circuits[circuit.id], supply):
        percent = supply.voltage.value / 100 / resistance
        most = limits.drop(supply.rules).value * percent
        yield gauge("drop", "warn", "drop", "programme", most, percent)
        yield gauge("drop", "note", "drop_heavy", "heavy", most, percent)


def _sure_to_trip(breaker: float, curve: Curve, rules: mains.Rules) -> float:
    """A, from which a breaker trips in the end."""
    tried = (1.30, 1.35, 1.45)
    sure = (
        r
        for r in tried
        if math.isfinite(mains.endurance(r * breaker * (1 + 1e-9), breaker, curve, rules).longest)
    )
    return next(sure, tried[-1]) * breaker


def _of_generator(
    assessment: Assessed, live: Iterable[str], phases: Sequence[tuple[str, frozenset[str]]]
) -> Iterator[Gauge]:
    """Each phase as if all carried what it does, and the whole, which no arrangement changes."""
    supply = assessment.index.rig.supply
    if supply.generator is None:
        return
    full = supply.generator.value / supply.voltage.value
    amplifiers = assessment.amplifiers.values()
    programme = sum([amplifier.programme_current for amplifier in amplifiers])
    heavy = sum([amplifier.heavy_current for amplifier in amplifiers])
    yield from _generator({}, programme, heavy, full)
    for _, circuits in phases:
        yield from _generator(dict.fromkeys(circuits, 1.0), 0.0, 0.0, full / 3)
    if not phases:
        yield from _voltage(assessment, live, heavy / full)


def _voltage(assessment: Assessed, live: Iterable[str], loading: float) -> Iterator[Gauge]:
    """%, that a generator on one phase and a supply cable take driven hard; past its rating it takes what it does there."""
    supply = assessment.index.rig.supply
    dip, least = 100 * supply.generator_dip * min(loading, 1.0), limits.lowest_voltage().value
    for name in live:
        resistance = mains.supply_cable_resistance(assessment.index.circuits[name], supply) or 0.0
        lost = {name: 100 * resistance / supply.voltage.value}
        if dip <= least:
            yield Gauge(name, "voltage", "warn", "voltage", "heavy", lost, dip, least, 1.0)


def _generator(
    circuits: Mapping[str, float], programme: float, heavy: float, rating: float
) -> Iterator[Gauge]:
    limit, hard = limits.generator_near().value, limits.generator_full().value
    rows: tuple[tuple[Severity, Criterion, Figure, float, float], ...] = (
        ("stop", "over", "programme", programme, 1.0),
        ("warn", "generator", "programme", programme, limit),
        ("warn", "generator", "heavy", heavy, hard),
    )
    for severity, criterion, figure, rest, share in rows:
        yield Gauge(
            "supply", "generator", severity, criterion, figure, circuits, rest, share * rating, rating
        )
