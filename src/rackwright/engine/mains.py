"""The rig at the wall: input power and current, circuits, phases, generator, inrush, breakers, heat.

Holds what amplifiers take from the mains and what that asks of breakers and cables. Not which amplifier
ought to hang where (`arrangement`), nor what is too much (`findings.power`).
"""

import functools
import heapq
import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from operator import attrgetter
from typing import Literal, NamedTuple, TypeAlias

from rackwright.engine.channel import Branch
from rackwright.engine.conductor import loop_resistance
from rackwright.engine.results import (
    AmplifierResult,
    CircuitResult,
    Load,
    PhaseResult,
    SupplyResult,
)
from rackwright.model.index import Index
from rackwright.model.rig import PHASES, Amplifier, Circuit, Phase, Supply, channel_name

Rules: TypeAlias = Literal["iec", "us"]
Curve: TypeAlias = Literal["B", "C", "D"]


BANDS: dict[Curve, tuple[float, float]] = {"B": (3.0, 5.0), "C": (5.0, 10.0), "D": (10.0, 20.0)}
"""Instantaneous tripping over the rated current: holds below the first, trips at once at the second.

Source: IEC 60898-1, from memory.
"""

CORRECTED = 0.9
"""Power factor from which a power supply counts as power-factor corrected: common practice, no source."""


# --- formulae -----------------------------------------------------------------------------------------


def input_power(idle: float, output: float, efficiency: float, duty: float) -> float:
    """Input power in W: idle + duty · output / efficiency.

    `output` is the full sine power of all live channels (W). Duty 1/8 is music just below clipping, the
    non-clipped 1/8 power of IEC 62368-1 Annex E (from memory); 1/3 is driven hard (common practice).
    """
    return idle + duty * output / efficiency


def input_current(power: float, voltage: float, power_factor: float) -> float:
    """Input current in A rms: I = P/(V · power factor)."""
    return power / (voltage * power_factor)


def supply_cable_drop(current: float, resistance: float, voltage: float) -> float:
    """Share of `voltage` (V) lost in a single-phase supply cable, in %: 100·I·R/V, R there and back (Ω)."""
    return 100 * current * resistance / voltage


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


class Endurance(NamedTuple):
    """How long a breaker carries a current: a range, never a promise."""

    shortest: float
    """s for which it holds; 0 where it may trip at once."""
    longest: float
    """s by when it has tripped; infinite where it may never."""
    words: str


def endurance(current: float, breaker: float, curve: Curve, rules: Rules) -> Endurance:
    """How long a breaker of rated current `breaker` (A) carries `current` (A)."""
    if current <= breaker:
        return Endurance(math.inf, math.inf, "carries it")
    return (
        _miniature(current / breaker, breaker, *BANDS[curve])
        if rules == "iec"
        else _moulded(current / breaker, breaker)
    )


def _miniature(over: float, breaker: float, lower: float, upper: float) -> Endurance:
    """Conventional currents of IEC 60898-1, from memory, `over` being the current over the rated one.

    Holds 1.13 for an hour and trips within one at 1.45 (two hours above 63 A); at 2.55 trips after more than
    a second and within one minute (two above 32 A).
    """
    hours, minutes = (1 if breaker <= 63 else 2), (1 if breaker <= 32 else 2)
    hour, minute = _time(hours, "hour"), _time(minutes, "minute")
    if over >= upper:
        return Endurance(0.0, 0.1, "trips at once")
    if over >= lower:
        return Endurance(0.0, 60.0 * minutes, f"may trip at once, and does within {minute}")
    if over >= 2.55:
        return Endurance(0.1, 60.0 * minutes, f"trips within {minute}")
    if over >= 1.45:
        return Endurance(1.0, 3600.0 * hours, f"trips within {hour}, perhaps within minutes")
    if over > 1.13:
        return Endurance(1.0, math.inf, f"may trip within {hour}, or not at all")
    return Endurance(3600.0 * hours, math.inf, f"may trip, though hardly within {hour}")


def _moulded(over: float, breaker: float) -> Endurance:
    """Calibration of UL 489, from memory: trips within an hour at 1.35 (two above 50 A), within minutes at 2."""
    hours = 1 if breaker <= 50 else 2
    minutes = next((m for size, m in ((30, 2), (50, 4), (100, 6), (150, 8)) if breaker <= size), 10)
    if over >= 2.0:
        return Endurance(0.0, 60.0 * minutes, f"trips within {minutes} minutes, perhaps at once")
    if over >= 1.35:
        return Endurance(0.0, 3600.0 * hours, f"trips within {_time(hours, 'hour')}, perhaps within minutes")
    return Endurance(0.0, math.inf, f"may trip within {_time(hours, 'hour')}, or not at all")


def _time(count: int, unit: str) -> str:
    return f"{'an' if unit == 'hour' else 'a'} {unit}" if count == 1 else f"two {unit}s"


def breaker_source(rules: Rules) -> str:
    """The standard that `endurance` goes by."""
    return "IEC 60898-1, from memory" if rules == "iec" else "UL 489, from memory"


# --- the rig's parts ----------------------------------------------------------------------------------

FIELDS = (
    "idle_power",
    "programme_power",
    "heavy_power",
    "idle_current",
    "programme_current",
    "heavy_current",
    "heat",
    "heat_heavy",
)
_figures = attrgetter(*FIELDS)
_NOTHING = (0.0,) * len(FIELDS)


def total(loads: Iterable[Load]) -> dict[str, float]:
    """The sums of each figure of loads on one phase, by its name."""
    sums = map(sum, zip(*map(_figures, loads), strict=True))
    return dict(zip(FIELDS, tuple(sums) or _NOTHING, strict=True))


def whole(loads: Iterable[Load], voltage: float, one_phase: bool) -> dict[str, float | None]:
    """The figures of a Whole, by name: powers and VA at `voltage` (V) added, amperes only where all is on one phase."""
    sums = total(loads)
    return {
        name: None if name.endswith("current") and not one_phase else figure for name, figure in sums.items()
    } | {
        "apparent": voltage * sums["programme_current"],
        "apparent_heavy": voltage * sums["heavy_current"],
    }


def on_one_phase(index: Index, amplifiers: Iterable[Amplifier], phases: Literal[1, 3]) -> bool:
    """Whether the currents of amplifiers may be added; where one without a circuit will be plugged in nobody knows."""
    if phases == 1:
        return True
    circuits = [index.circuits.get(amplifier.circuit) for amplifier in amplifiers]
    return len({circuit and circuit.phase for circuit in circuits}) <= 1


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
        circuit.id: of_circuit(circuit, on.get(circuit.id, ()), supply) for circuit in index.rig.circuits
    }
    phases = {
        name: _phase(name, [c for c in circuits.values() if c.phase == name], supply)
        for name in sorted({circuit.phase for circuit in circuits.values()})
    }
    return Mains(amplifiers, circuits, phases, _supply(index, amplifiers, circuits, phases))


def of_amplifier(index: Index, amplifier: Amplifier, branches: Mapping[str, Branch]) -> AmplifierResult:
    """An amplifier at the mains: its idle power, and what its live channels put into their own wiring.

    A channel that has failed or has no feed draws nothing; a bridged pair counts once. Without power, on a circuit
    that has failed or on none, it counts at what it would draw: it has to be plugged in somewhere.
    """
    model, supply, targets = index.amplifier_models[amplifier.model], index.rig.supply, index.rig.targets
    own = [branches[channel_name(amplifier.id, channel)] for channel in range(model.channels)]
    output = sum([branch.result.power or 0.0 for branch in own if branch.live_with_power])
    idle = model.idle_power.value
    programme = input_power(idle, output, model.efficiency, targets.programme_duty)
    heavy = input_power(idle, output, model.efficiency, targets.heavy_duty)
    voltage, factor = supply.voltage.value, model.power_factor
    return AmplifierResult(
        id=amplifier.id,
        circuit=amplifier.circuit,
        output=output,
        power_factor=factor,
        inrush=model.inrush.value,
        idle_power=idle,
        programme_power=programme,
        heavy_power=heavy,
        idle_current=input_current(idle, voltage, factor),
        programme_current=input_current(programme, voltage, factor),
        heavy_current=input_current(heavy, voltage, factor),
        heat=programme - targets.programme_duty * output,
        heat_heavy=heavy - targets.heavy_duty * output,
    )


def of_circuit(circuit: Circuit, amplifiers: Sequence[AmplifierResult], supply: Supply) -> CircuitResult:
    """A circuit with the amplifiers that hang on it; one that has failed carries none of them."""
    carried = amplifiers if circuit.state == "ok" else ()
    sums = total(carried)
    breaker, voltage = circuit.breaker.value, supply.voltage.value
    resistance = supply_cable_resistance(circuit, supply)
    drops = [
        None if resistance is None else supply_cable_drop(sums[duty], resistance, voltage)
        for duty in ("programme_current", "heavy_current")
    ]
    return CircuitResult(
        id=circuit.id,
        phase=circuit.phase,
        state=circuit.state,
        amplifiers=tuple([amplifier.id for amplifier in amplifiers]),
        breaker=breaker,
        loading=sums["programme_current"] / breaker,
        loading_heavy=sums["heavy_current"] / breaker,
        drop=drops[0],
        drop_heavy=drops[1],
        inrush=sum([amplifier.inrush for amplifier in carried]),
        inrush_limit=BANDS[circuit.curve][0] * breaker,
        **sums,
    )


def supply_cable_resistance(circuit: Circuit, supply: Supply) -> float | None:
    """Resistance in Ω of a circuit's supply cable, there and back; None where none is stated."""
    cable = circuit.supply_cable
    return loop_resistance(cable.size, cable.length.value, 1, supply.ambient.value) if cable else None


def _phase(name: Phase, circuits: list[CircuitResult], supply: Supply) -> PhaseResult:
    sums = total(circuits)
    voltage = supply.voltage.value
    return PhaseResult(
        id=name,
        apparent=voltage * sums["programme_current"],
        apparent_heavy=voltage * sums["heavy_current"],
        **sums,
    )


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
        if circuit.phase == phase and circuit.live
        for name in circuit.amplifiers
        if amplifiers[name].power_factor < CORRECTED
    ]


def phase_count(supply: Supply, used: Iterable[Phase]) -> Literal[1, 3]:
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


# --- switching on -------------------------------------------------------------------------------------


class SwitchOn(NamedTuple):
    """An order in which to switch amplifiers on so that each group's inrush stays under a breaker's band."""

    limit: float
    """A, where the breaker's instantaneous band begins."""
    groups: tuple[tuple[str, ...], ...]
    """Amplifiers to switch together, one group after the other, the heaviest inrush first."""
    over: tuple[str, ...]
    """Amplifiers that exceed the limit on their own, and are in no group."""
    fewest: bool
    """Whether it is sure that no fewer groups would do."""


def switch_on(circuit: CircuitResult, amplifiers: Mapping[str, AmplifierResult]) -> SwitchOn:
    """The switch-on sequence of a circuit: groups whose inrush together does not exceed the band's lower edge.

    What is on already idles beside it, some percent of the edge, and is left out. A circuit that has failed
    switches nothing on.
    """
    names = circuit.amplifiers if circuit.live else ()
    return _sequence(tuple([(amplifiers[name].inrush, name) for name in names]), circuit.inrush_limit)


def group_inrush(group: Iterable[str], amplifiers: Mapping[str, AmplifierResult]) -> float:
    """Inrush in A of amplifiers switched on together."""
    return sum(amplifiers[name].inrush for name in group)


@functools.lru_cache(maxsize=4096)
def _sequence(inrushes: tuple[tuple[float, str], ...], limit: float) -> SwitchOn:
    over = tuple([name for inrush, name in inrushes if inrush > limit])
    items = sorted([item for item in inrushes if item[0] <= limit], key=lambda item: -item[0])
    packed, fewest = pack([inrush for inrush, _ in items], limit)
    groups = [[items[i] for i in group] for group in packed]
    groups.sort(key=lambda group: -sum([inrush for inrush, _ in group]))
    return SwitchOn(limit, tuple(tuple([name for _, name in group]) for group in groups), over, fewest)


PACKING_STEPS = 20_000
PACKED_EXACTLY = 40
"""Up to so many amplifiers fewer groups are searched for than first-fit decreasing makes."""


def pack(sizes: Sequence[float], capacity: float) -> tuple[list[list[int]], bool]:
    """Positions of `sizes` (largest first, none over `capacity`) in few groups, and whether none fewer would do.

    First-fit decreasing, then, where that is above the bound Σ/capacity, a search that is bounded in steps.
    """
    full = capacity * (1 + 1e-12)
    groups: list[list[int]] = []
    filled: list[float] = []
    for i, size in enumerate(sizes):
        room = next((g for g, load in enumerate(filled) if load + size <= full), None)
        if room is None:
            groups.append([i])
            filled.append(size)
        else:
            groups[room].append(i)
            filled[room] += size
    bound = math.ceil(sum(sizes) / full)
    if len(sizes) > PACKED_EXACTLY:
        return groups, len(groups) <= bound
    steps = PACKING_STEPS
    while len(groups) > bound:
        better, steps = _pack_into(sizes, full, len(groups) - 1, steps)
        if better is None:
            return groups, steps > 0
        groups = better
    return groups, True


def _pack_into(
    sizes: Sequence[float], full: float, count: int, steps: int
) -> tuple[list[list[int]] | None, int]:
    """A packing into `count` groups, None where there is none or the steps ran out; and the steps left."""
    filled = [0.0] * count
    where = [0] * len(sizes)

    def place(i: int) -> bool:
        nonlocal steps
        if i == len(sizes):
            return True
        tried = set()
        for group in range(count):
            if filled[group] in tried or filled[group] + sizes[i] > full:
                continue
            tried.add(filled[group])
            steps -= 1
            if steps <= 0:
                return False
            before = filled[group]
            filled[group] += sizes[i]
            where[i] = group
            if place(i + 1):
                return True
            filled[group] = before
        return False

    if not place(0):
        return None, steps
    return [[i for i, at in enumerate(where) if at == group] for group in range(count)], steps


# --- one move -----------------------------------------------------------------------------------------


class Relief(NamedTuple):
    """One amplifier to plug in elsewhere, and the share of its breaker that each end then carries."""

    amplifier: str
    to: str
    left: float
    there: float


Duty: TypeAlias = Literal["programme", "heavy"]

CANDIDATES = 6
"""Circuits with the most room that a move is looked for to."""


class Bounds(NamedTuple):
    """Current over breaker that a circuit may carry with one more amplifier, at each duty."""

    programme: float
    heavy: float

    def allow(self, circuit: CircuitResult, amplifier: AmplifierResult) -> bool:
        """Whether a circuit has power and stays within with the amplifier on it as well."""
        return (
            circuit.live
            and circuit.programme_current + amplifier.programme_current <= self.programme * circuit.breaker
            and circuit.heavy_current + amplifier.heavy_current <= self.heavy * circuit.breaker
        )


def roomiest(mains: Mains, limit: float, duty: Duty) -> tuple[CircuitResult, ...]:
    """The live circuits with the most current left under `limit` of their breaker, at a duty."""
    figure = attrgetter(f"{duty}_current")
    live = [circuit for circuit in mains.circuits.values() if circuit.live]
    return tuple(heapq.nlargest(CANDIDATES, live, key=lambda c: limit * c.breaker - figure(c)))


def relief(
    circuit: CircuitResult,
    others: Iterable[CircuitResult],
    amplifiers: Mapping[str, AmplifierResult],
    bounds: Bounds,
    duty: Duty,
) -> Relief | None:
    """The one move off a circuit that leaves the fuller of its ends least full at a duty, the other within bounds.

    None where no other circuit has room for any of its amplifiers. To arrange the whole rig is `arrangement`'s.
    """
    figure = attrgetter(f"{duty}_current")
    load, breaker = figure(circuit), circuit.breaker
    targets = [(figure(other), other) for other in others if other.id != circuit.id]
    best, least = None, load / breaker
    for name in circuit.amplifiers:
        current = figure(amplifiers[name])
        left = (load - current) / breaker
        for load_there, there in targets:
            full = (load_there + current) / there.breaker
            if full < least and left < least and bounds.allow(there, amplifiers[name]):
                best, least = Relief(name, there.id, left, full), max(left, full)
    return best
