"""The gauges of a rig's mains: every breaker, device, cable, RCD and generator, read from an assessment with the limits of `check`.

Holds what each limit is a sum of. What an arrangement is worth by them is `gauges`'s.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from rackwright.engine import limits, mains
from rackwright.engine.allocation.gauges import EQUAL, Criterion, Draw, Figure, Gauge, Movable, Task
from rackwright.engine.assess import Assessed
from rackwright.engine.circuit_room import currents_on, may_hang
from rackwright.engine.demand import (
    SUPPLY,
    AmplifierResult,
    BoardResult,
    CircuitResult,
    LineCurrent,
    PhaseResult,
    SupplyResult,
)
from rackwright.engine.finding import Limit, Severity
from rackwright.engine.mains.breaker import Curve
from rackwright.model.mains import PHASES


def task(assessment: Assessed) -> Task:
    """What there is to arrange."""
    live = {circuit.id: circuit for circuit in assessment.circuits.values() if circuit.live}
    barred = mains.barred(assessment.index, assessment.cables)
    movables = tuple([_movable(assessment, live, barred, a) for a in assessment.amplifiers.values()])
    on: dict[str, list[Draw]] = {name: [] for name in live}
    for movable in movables:
        if movable.home:
            on[movable.home].append(movable.draws[movable.home])
    fixed = {
        name: max(0.0, circuit.programme_current - sum([draw.programme for draw in on[name]]))
        for name, circuit in live.items()
    }
    count = assessment.supply.phases
    phases = tuple(
        [
            (p, frozenset([c.id for c in live.values() if p in c.phases]))
            for p in PHASES[: count if count > 1 else 0]
        ]
    )
    view = _View(assessment, live, on)
    gauges = [
        *(gauge for circuit in live.values() for gauge in view.of_circuit(circuit)),
        *view.of_points(),
        *view.of_rcds(),
        *view.of_generator(phases),
    ]
    return Task(
        movables=movables,
        gauges=tuple(gauges),
        breakers={name: circuit.breaker for name, circuit in live.items()},
        sites={name: (circuit.board, circuit.phase) for name, circuit in live.items()},
        fixed={name: rest if rest > EQUAL else 0.0 for name, rest in fixed.items()},
        phases=phases,
        uneven="note" if assessment.supply.generator is None else "warn",
    )


def _movable(
    assessment: Assessed,
    live: Mapping[str, CircuitResult],
    barred: frozenset[str],
    amplifier: AmplifierResult,
) -> Movable:
    index = assessment.index
    leakage = index.amplifier_models[index.amplifiers[amplifier.id].model].leakage.value
    home = amplifier.circuit if amplifier.circuit in live else ""
    draws = {
        name: Draw(
            *currents_on(index, amplifier, name),
            amplifier.inrush,
            amplifier.known_inrush,
            leakage,
            amplifier.programme_power,
            amplifier.heavy_power,
        )
        for name in live
        if name == home or may_hang(index, barred, amplifier.id, name)
    }
    return Movable(amplifier.id, home, amplifier.circuit, draws)


class _View(NamedTuple):
    """An assessment, its live circuits, and what the amplifiers on each take."""

    assessment: Assessed
    live: Mapping[str, CircuitResult]
    on: Mapping[str, Sequence[Draw]]

    def _rest(self, today: float, figure: Figure, circuits: Mapping[str, float]) -> float:
        """What a gauge shows today less what of it the amplifiers make."""
        moved = [factor * draw.of(figure) for name, factor in circuits.items() for draw in self.on[name]]
        return today - sum(moved)

    def of_circuit(self, circuit: CircuitResult) -> Iterator[Gauge]:
        """Breaker, inrush, drum and drop of a circuit."""
        index, supply = self.assessment.index, self.assessment.index.rig.supply
        own, one = index.circuits[circuit.id], {circuit.id: 1.0}
        yield from self._loading(
            circuit.id, circuit.breaker, own.curve, one, circuit.programme_current, circuit.heavy_current
        )
        yield from self._inrush(circuit.id, limits.inrush(circuit), one)
        cable = self.assessment.cables.get(circuit.id)
        if cable and cable.capacity.ratings and cable.capacity.drum and not cable.barred:
            rest = self._rest(circuit.programme_current, "programme", one)
            yield Gauge(
                circuit.id,
                "cable",
                "stop",
                "over",
                "programme",
                one,
                rest,
                cable.capacity.highest,
                circuit.breaker,
            )
        if (lost := self._lost(circuit)) and circuit.drop is not None and circuit.drop_heavy is not None:
            most = limits.drop(supply, self.assessment.boards.get(circuit.board)).value
            percent = {circuit.id: lost}
            rest, rest_heavy = (
                self._rest(circuit.drop, "programme", percent),
                self._rest(circuit.drop_heavy, "heavy", percent),
            )
            yield Gauge(circuit.id, "drop", "warn", "drop", "programme", percent, rest, most, 1.0)
            yield Gauge(circuit.id, "drop", "note", "drop_heavy", "heavy", percent, rest_heavy, most, 1.0)

    def _loading(
        self,
        place: str,
        rating: float,
        curve: Curve,
        circuits: Mapping[str, float],
        now: float,
        now_heavy: float,
    ) -> Iterator[Gauge]:
        """A breaker, or one phase of a device above it."""
        rules = self.assessment.index.rig.supply.rules
        rest, rest_heavy = self._rest(now, "programme", circuits), self._rest(now_heavy, "heavy", circuits)
        rows: tuple[tuple[Severity, Criterion | None, Figure, float, float], ...] = (
            ("stop", "over", "programme", rest, limits.loading_stop(rules).value * rating),
            ("warn", "near", "programme", rest, limits.loading_near(rules).value * rating),
            ("note", "heavy", "heavy", rest_heavy, limits.loading_heavy().value * rating),
            ("warn", None, "heavy", rest_heavy, _sure_to_trip(rating, curve, rules)),
        )
        for severity, criterion, figure, kept, limit in rows:
            yield Gauge(place, "loading", severity, criterion, figure, circuits, kept, limit, rating)

    def _inrush(self, place: str, limit: Limit | None, circuits: Mapping[str, float]) -> Iterator[Gauge]:
        """All at once behind a device, or on one phase of it."""
        if limit is None:
            return
        rows: list[tuple[Severity, Criterion | None, Figure]] = [
            ("note", "inrush", "inrush"),
            ("warn", None, "known_inrush"),
        ]
        if all(each.inrush == each.known_inrush for each in self.assessment.amplifiers.values()):
            rows = [("warn", "inrush", "inrush")]
        for severity, criterion, figure in rows:
            now = sum([getattr(self.live[name], figure) for name in circuits])
            rest = self._rest(now, figure, circuits)
            yield Gauge(place, "inrush", severity, criterion, figure, circuits, rest, limit.value, 1.0)

    def of_points(self) -> Iterator[Gauge]:
        """Boards and the intake, phase by phase."""
        assessment, index = self.assessment, self.assessment.index
        supply = assessment.supply
        every: tuple[LineCurrent | PhaseResult, ...] = tuple(assessment.phases.values())
        points: list[
            tuple[str, BoardResult | SupplyResult, Curve, tuple[str, ...], Sequence[LineCurrent]]
        ] = [
            (board.id, board, index.boards[board.id].curve, board.circuits, board.lines)
            for board in assessment.boards.values()
            if board.live
        ]
        for place, point, curve, below, lines in (
            *points, (SUPPLY, supply, index.rig.supply.curve, tuple(self.live), every),
        ):  # fmt: skip
            for line in lines if point.rating else ():
                circuits = {c: 1.0 for c in below if c in self.live and line.id in self.live[c].phases}
                yield from self._loading(
                    place, point.rating or 0.0, curve, circuits, line.programme_current, line.heavy_current
                )
                yield from self._inrush(place, limits.inrush(point), circuits)

    def of_rcds(self) -> Iterator[Gauge]:
        """What leaks behind each RCD."""
        boards, rules = self.assessment.boards, self.assessment.index.rig.supply.rules
        for rcd in self.assessment.rcds.values():
            below = boards[rcd.id].circuits if rcd.id in boards else (rcd.id,)
            circuits = {c: 1.0 for c in below if c in self.live}
            limit = limits.rcd(rcd.rating, rules).value
            rest = self._rest(rcd.leakage, "leakage", circuits)
            yield Gauge(rcd.id, "leakage", "warn", "leakage", "leakage", circuits, rest, limit, limit)

    def of_generator(self, phases: Sequence[tuple[str, frozenset[str]]]) -> Iterator[Gauge]:
        """Each phase as if all carried what it does, and the whole, which no arrangement changes; by its kVA and by its kW."""
        own, supply = self.assessment.index.rig.supply, self.assessment.supply
        volts, capacity, power = own.voltage.value, supply.generator, supply.generator_power
        if capacity is None or power is None:
            return
        sums: tuple[tuple[Figure, Figure, float, float, float], ...] = (
            ("programme", "heavy", capacity / volts, supply.apparent / volts, supply.apparent_heavy / volts),
            ("power", "heavy_power", power, supply.programme_power, supply.heavy_power),
        )
        for figure, heavy, rating, whole, whole_heavy in sums:
            yield from _generator({}, (figure, heavy), (whole, whole_heavy), rating)
            for phase, on in phases:
                line = self.assessment.phases.get(phase)  # type: ignore[call-overload]
                circuits = {c: 1.0 if figure == "programme" else 1.0 / len(self.live[c].phases) for c in on}
                today = [getattr(line, _SHOWN[each]) if line else 0.0 for each in (figure, heavy)]
                rests = self._rest(today[0], figure, circuits), self._rest(today[1], heavy, circuits)
                yield from _generator(circuits, (figure, heavy), rests, rating / len(phases))
        yield from self._voltage(supply.apparent_heavy / capacity)

    def _voltage(self, loading: float) -> Iterator[Gauge]:
        """%, that a generator and supply cables take driven hard; past its rating it takes what it does there, of uneven phases more."""
        supply = self.assessment.index.rig.supply
        dip, least = 100 * supply.generator_dip * min(loading, 1.0), limits.lowest_voltage().value
        for name, circuit in self.live.items():
            lost = {name: self._lost(circuit)}
            rest = dip + self._rest(circuit.drop_heavy or 0.0, "heavy", lost)
            if dip <= least:
                yield Gauge(name, "voltage", "warn", "voltage", "heavy", lost, rest, least, 1.0)

    def _lost(self, circuit: CircuitResult) -> float:
        """% that an ampere loses in a circuit's own supply cable."""
        own, supply = self.assessment.index.circuits[circuit.id], self.assessment.index.rig.supply
        resistance = mains.supply_cable_resistance(own, supply) or 0.0
        return mains.supply_cable_drop(1.0, resistance, supply.voltage.value) * mains.drop_share(own, supply)


_SHOWN: Mapping[Figure, str] = {
    "programme": "programme_current",
    "heavy": "heavy_current",
    "power": "programme_power",
    "heavy_power": "heavy_power",
}


def _sure_to_trip(breaker: float, curve: Curve, rules: mains.Rules) -> float:
    """A, from which a breaker trips in the end."""
    tried = (1.30, 1.35, 1.45)
    sure = (
        r
        for r in tried
        if math.isfinite(mains.endurance(r * breaker * (1 + 1e-9), breaker, curve, rules).longest)
    )
    return next(sure, tried[-1]) * breaker


def _generator(
    circuits: Mapping[str, float], figures: tuple[Figure, Figure], rests: tuple[float, float], rating: float
) -> Iterator[Gauge]:
    near, hard = limits.generator_near().value, limits.generator_full().value
    rows: tuple[tuple[Severity, Criterion, int, float], ...] = (
        ("stop", "over", 0, 1.0),
        ("warn", "generator", 0, near),
        ("warn", "generator", 1, hard),
    )
    for severity, criterion, duty, share in rows:
        yield Gauge(
            SUPPLY,
            "generator",
            severity,
            criterion,
            figures[duty],
            circuits,
            rests[duty],
            share * rating,
            rating,
        )
