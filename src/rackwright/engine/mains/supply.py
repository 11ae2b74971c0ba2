"""The whole rig at the mains: circuits and boards, phases, neutral, generator."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Literal

from msgspec import Struct

from rackwright.engine.channel import Branch
from rackwright.engine.demand import (
    AmplifierResult,
    BoardResult,
    CircuitResult,
    Draw,
    LoadResult,
    PhaseResult,
    RcdResult,
    SupplyResult,
)
from rackwright.engine.mains.circuit import of_circuit
from rackwright.engine.mains.currents import (
    FIELDS,
    measured_duty,
    of_amplifier,
    of_load,
    on_one_phase,
    total,
    whole,
)
from rackwright.engine.mains.flow import Flow, imbalance
from rackwright.engine.mains.tree import Tree, all_same, flows_of, grown, inrush, lines_of, meeting
from rackwright.model.index import Index
from rackwright.model.mains import PHASES, Load, Phase
from rackwright.model.racks import Amplifier


class Mains(Struct, frozen=True):
    """The rig as a load: amplifiers and what else there is, the tree that they hang on, the phases in use, and all together."""

    index: Index
    amplifiers: dict[str, AmplifierResult]
    loads: dict[str, LoadResult]
    tree: Tree
    phases: dict[Phase, PhaseResult]
    supply: SupplyResult

    @property
    def circuits(self) -> dict[str, CircuitResult]:
        """Each with its drop from the origin."""
        return self.tree.circuits

    @property
    def boards(self) -> dict[str, BoardResult]:
        """In the order of the rig."""
        return self.tree.boards

    @property
    def rcds(self) -> dict[str, RcdResult]:
        """Of boards, then of circuits."""
        return self.tree.rcds

    @property
    def points(self) -> tuple[BoardResult | SupplyResult, ...]:
        """Where circuits meet: every board, then the intake."""
        return (*self.boards.values(), self.supply)


def mains_of(
    index: Index,
    branches: Mapping[str, Branch],
    touched: Sequence[str],
    kept: Mapping[str, AmplifierResult],
    earlier: Mains | None = None,
) -> Mains:
    """What the rig takes from the mains.

    Of an earlier rig `kept` amplifiers are taken over that have no branch among the `touched` ones, and of what it took,
    where it was fed alike, circuits, boards and the intake where nothing changed that hangs on them.
    """
    stale = {branches[name].amplifier.id for name in touched}
    amplifiers = {
        name: kept[name] if name in kept and name not in stale else of_amplifier(index, amplifier, branches)
        for name, amplifier in index.amplifiers.items()
    }
    same_circuits = earlier is not None and earlier.index.rig.circuits is index.rig.circuits
    loads = (
        earlier.loads
        if earlier and same_circuits
        else {name: of_load(index, load) for name, load in index.loads.items()}
    )
    on: dict[str, list[AmplifierResult]] = defaultdict(list)
    for amplifier in amplifiers.values():
        on[amplifier.circuit].append(amplifier)
    beside: dict[str, list[LoadResult]] = defaultdict(list)
    for load in loads.values():
        beside[load.circuit].append(load)
    were = earlier.index.circuits if earlier else {}
    own: dict[str, CircuitResult] = {}
    for name, circuit in index.circuits.items():
        here, was = on.get(name, ()), None
        if earlier and were.get(name) is circuit:
            was = earlier.tree.own[name]
        if was and was.amplifiers == tuple([a.id for a in here]) and all(kept.get(a.id) is a for a in here):
            own[name] = was
        else:
            own[name] = of_circuit(circuit, here, index, beside.get(name, ()))
    tree = Tree(own, {}, {}, own, {})
    if index.boards or any(circuit.rcd for circuit in index.rig.circuits):
        tree = grown(index, own, _leakages(index), earlier.tree if earlier else None)
    as_it_was = earlier and all_same(own.values(), earlier.tree.own.values())
    if earlier and as_it_was and all_same(amplifiers.values(), kept.values()):
        return Mains(index, amplifiers, loads, tree, earlier.phases, earlier.supply)
    flows = flows_of(list(own.values()), index.rig.supply.phases == 2)
    phases = _phases(own, flows)
    draws = (*amplifiers.values(), *loads.values())
    supply = _supply(index, draws, phases, flows, tuple(own.values()))
    return Mains(index, amplifiers, loads, tree, phases, supply)


def fed_alike(before: Index, now: Index) -> bool:
    """Whether nothing but circuits, and what amplifiers take, can have changed in the mains of two rigs."""
    was, rig = before.rig, now.rig
    return (was.supply, was.boards, was.loads, was.targets) == (
        rig.supply,
        rig.boards,
        rig.loads,
        rig.targets,
    ) and before.supply_phases == now.supply_phases


def _leakages(index: Index) -> dict[str, float]:
    """Circuit → the standing leakage (A) of what is plugged into it."""
    leaking: dict[str, float] = defaultdict(float)
    for amplifier in index.amplifiers.values():
        leaking[amplifier.circuit] += index.amplifier_models[amplifier.model].leakage.value
    for load in index.loads.values():
        leaking[load.circuit] += load.leakage.value if load.leakage and load.state == "ok" else 0.0
    return leaking


def _phases(
    circuits: Mapping[str, CircuitResult], flows: tuple[Flow, Flow, Flow]
) -> dict[Phase, PhaseResult]:
    """Each phase that a circuit is on: an even share of the power of those on several, its current as a phasor."""
    used = {phase for circuit in circuits.values() for phase in circuit.phases}
    lines = {line.id: line for line in lines_of(flows, PHASES)}
    found: dict[Phase, PhaseResult] = {}
    for phase in sorted(used):
        sums = total([circuit for circuit in circuits.values() if circuit.phases == (phase,)])
        for circuit in circuits.values():
            if len(circuit.phases) > 1 and phase in circuit.phases:
                sums = {name: sums[name] + getattr(circuit, name) / len(circuit.phases) for name in FIELDS}
        line = lines[phase]
        sums["idle_current"] = line.idle_current
        sums["programme_current"], sums["heavy_current"] = line.programme_current, line.heavy_current
        found[phase] = PhaseResult(id=phase, **sums)
    return found


def _supply(
    index: Index,
    draws: Sequence[Draw],
    phases: Mapping[Phase, PhaseResult],
    flows: tuple[Flow, Flow, Flow],
    circuits: Sequence[CircuitResult],
) -> SupplyResult:
    supply = index.rig.supply
    count: Literal[1, 2, 3] = supply.phases or (3 if len(phases) > 1 else 1)
    several = count > 1
    things: tuple[Amplifier | Load, ...] = (*index.amplifiers.values(), *index.loads.values())
    sums = whole(draws, on_one_phase(index, things, count))
    lines = [flow.lines[:count] if several else flow.lines for flow in flows]
    capacity = supply.generator.value if supply.generator else None
    rated_power = capacity * supply.generator_power_factor if capacity else None
    volts = supply.voltage.value
    loadings = {
        duty: _loading(capacity, sums[f"apparent{heavy}"], [volts * line for line in lines[number]], count)
        for number, (duty, heavy) in enumerate((("programme", ""), ("heavy", "_heavy")), start=1)
    }
    real = {
        duty: _loading(
            rated_power, sums[f"{duty}_power"], [getattr(p, f"{duty}_power") for p in phases.values()], count
        )
        for duty in loadings
    }
    dips = {
        duty: 100 * supply.generator_dip * loading
        if loading is not None and max(loading, real[duty] or 0.0) <= 1
        else None
        for duty, loading in loadings.items()
    }
    return SupplyResult(
        phases=count,
        measured_duty=measured_duty(
            [(c.measured, c) for c in circuits if c.measured is not None], index.rig.targets.heavy_duty
        ),
        imbalance=imbalance(lines[1]) if several else None,
        imbalance_heavy=imbalance(lines[2]) if several else None,
        generator=capacity,
        generator_power=rated_power,
        generator_loading=loadings["programme"],
        generator_loading_heavy=loadings["heavy"],
        generator_real_loading=real["programme"],
        generator_real_loading_heavy=real["heavy"],
        dip=dips["programme"],
        dip_heavy=dips["heavy"],
        **meeting(flows, PHASES[:count] if several else PHASES, supply, several, count == 2),  # type: ignore[arg-type]
        **inrush(circuits, PHASES, supply, supply.rules),  # type: ignore[arg-type]
        **sums,  # type: ignore[arg-type]
    )


def _loading(
    rating: float | None, all_of_it: float | None, each: Sequence[float], count: int
) -> float | None:
    """Load over a generator's rating: of the whole, or as if all phases carried what the fullest does. None on the mains."""
    if not rating or all_of_it is None:
        return None
    fullest = count * max(each, default=0.0) if count > 1 else 0.0
    return max(all_of_it, fullest) / rating
