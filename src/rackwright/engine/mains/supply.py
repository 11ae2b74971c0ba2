"""Phases, neutral and generator, and the whole rig as a load."""

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from operator import attrgetter
from typing import Literal, NamedTuple

from rackwright.engine.channel import Branch
from rackwright.engine.mains.circuit import of_circuit
from rackwright.engine.mains.currents import of_amplifier, on_one_phase, whole
from rackwright.engine.results import AmplifierResult, CircuitResult, Load, PhaseResult, SupplyResult
from rackwright.model.index import Index
from rackwright.model.mains import PHASES, Phase, Supply, phases_of

CORRECTED = 0.9
"""Power factor from which a power supply counts as power-factor corrected: common practice, no source."""


def imbalance(currents: Sequence[float]) -> float:
    """Largest deviation of a phase from the mean of all, over the mean; 0 where nothing flows."""
    mean = sum(currents) / len(currents)
    return max(abs(current - mean) for current in currents) / mean if mean > 0 else 0.0


def vector_sum(first: float, second: float, third: float) -> float:
    """|I1 + I2∠−120° + I3∠120°| in A: three phase currents (A) at one angle to their voltages, which lie 120° apart."""
    along, across = first - (second + third) / 2, math.sqrt(3) / 2 * (third - second)
    size = math.hypot(along, across)
    return size if size > 1e-9 * max(first, second, third) else 0.0  # less is what rounding leaves


def neutral_current(corrected: Sequence[float], uncorrected: Sequence[float]) -> float:
    """Neutral current in A, at most, of the corrected and the uncorrected loads' currents (A) on three phases.

    min(√ΣT², |vector sum of C| + √ΣU²), T = C + U. C flows at one angle to its voltage; U comes in pulses about the
    voltage's peaks, which meet those of another phase with the other sign or not at all, so that mean squares add
    up at most. It is the whole, not an addition. Common practice, no source; the tests hold it against pulses.
    """
    whole = math.hypot(*[c + u for c, u in zip(corrected, uncorrected, strict=True)])
    return min(whole, vector_sum(*corrected) + math.hypot(*uncorrected))


class Mains(NamedTuple):
    """The rig as a load: amplifiers, circuits, the phases in use, and all together."""

    amplifiers: dict[str, AmplifierResult]
    circuits: dict[str, CircuitResult]
    phases: dict[Phase, PhaseResult]
    supply: SupplyResult


def reckon(
    index: Index,
    branches: Mapping[str, Branch],
    kept_branches: Mapping[str, Branch],
    kept: Mapping[str, AmplifierResult],
) -> Mains:
    """What the rig takes from the mains.

    `kept` holds an earlier rig's amplifiers; one all of whose branches stand unchanged in `kept_branches` is
    taken over.
    """
    stale = {
        branch.amplifier.id for name, branch in branches.items() if kept_branches.get(name) is not branch
    }
    amplifiers = {
        name: kept[name] if name in kept and name not in stale else of_amplifier(index, amplifier, branches)
        for name, amplifier in index.amplifiers.items()
    }
    on: dict[str, list[AmplifierResult]] = defaultdict(list)
    for result in amplifiers.values():
        on[result.circuit].append(result)
    supply = index.rig.supply
    circuits = {
        circuit.id: of_circuit(circuit, on.get(circuit.id, ()), index) for circuit in index.rig.circuits
    }
    phases = {
        name: _phase(name, [c for c in circuits.values() if name in phases_of(c.phase)], supply)
        for name in PHASES
        if any(name in phases_of(circuit.phase) for circuit in circuits.values())
    }
    return Mains(amplifiers, circuits, phases, _supply(index, amplifiers, circuits, phases))


def _phase(name: Phase, circuits: list[CircuitResult], supply: Supply) -> PhaseResult:
    return PhaseResult(id=name, **whole(circuits, supply.voltage.value, one_phase=True))  # type: ignore[arg-type]


def _supply(
    index: Index,
    amplifiers: Mapping[str, AmplifierResult],
    circuits: Mapping[str, CircuitResult],
    phases: Mapping[Phase, PhaseResult],
) -> SupplyResult:
    supply = index.rig.supply
    uncorrected = {phase: uncorrected_on(phase, amplifiers, circuits) for phase in PHASES}
    programme, heavy = (
        _at_duty(supply, amplifiers, phases, uncorrected, attrgetter(f"{duty}_current"))
        for duty in ("programme", "heavy")
    )
    count = phase_count(supply, phases)
    sums = whole(
        amplifiers.values(), supply.voltage.value, on_one_phase(index, index.amplifiers.values(), count)
    )
    return SupplyResult(
        phases=count,
        imbalance=programme.imbalance,
        imbalance_heavy=heavy.imbalance,
        neutral=programme.neutral,
        neutral_heavy=heavy.neutral,
        generator=supply.generator.value if supply.generator else None,
        generator_loading=programme.generator_loading,
        generator_loading_heavy=heavy.generator_loading,
        dip=programme.dip,
        dip_heavy=heavy.dip,
        **sums,  # type: ignore[arg-type]
    )


def uncorrected_on(
    phase: Phase, amplifiers: Mapping[str, AmplifierResult], circuits: Mapping[str, CircuitResult]
) -> list[AmplifierResult]:
    """The amplifiers without power-factor correction that a phase carries."""
    return [
        amplifiers[name]
        for circuit in circuits.values()
        if phase in phases_of(circuit.phase) and circuit.live
        for name in circuit.amplifiers
        if amplifiers[name].power_factor < CORRECTED
    ]


def phase_count(supply: Supply, used: Iterable[Phase]) -> Literal[1, 2, 3]:
    """How many phases the supply has: as stated, else three as soon as more than one is used."""
    return supply.phases or (3 if len(tuple(used)) > 1 else 1)


class _AtDuty(NamedTuple):
    imbalance: float | None
    neutral: float | None
    generator_loading: float | None
    dip: float | None


def _at_duty(
    supply: Supply,
    amplifiers: Mapping[str, AmplifierResult],
    phases: Mapping[Phase, PhaseResult],
    uncorrected: Mapping[Phase, list[AmplifierResult]],
    figure: Callable[[Load], float],
) -> _AtDuty:
    """The supply at the duty whose current `figure` reads."""
    three = phase_count(supply, phases) == 3
    lines = [figure(phases[name]) if name in phases else 0.0 for name in PHASES]
    pulsed = [sum(map(figure, uncorrected[name])) for name in PHASES]
    smooth = [max(line - pulse, 0.0) for line, pulse in zip(lines, pulsed, strict=True)]
    loading = generator_loading(supply, sum(map(figure, amplifiers.values())), lines if three else ())
    return _AtDuty(
        imbalance=imbalance(lines) if three else None,
        neutral=neutral_current(smooth, pulsed) if three else None,
        generator_loading=loading,
        dip=100 * supply.generator_dip * loading if loading is not None and loading <= 1 else None,
    )


def generator_loading(supply: Supply, current: float, lines: Sequence[float]) -> float | None:
    """Load over a generator's rating: of the whole, or as if all phases carried what the fullest of `lines` does (A).

    `current` (A) is that of all amplifiers, `lines` those of three phases, none on a single one. None on the mains.
    """
    if supply.generator is None:
        return None
    return supply.voltage.value * max([current, *(3 * line for line in lines)]) / supply.generator.value
