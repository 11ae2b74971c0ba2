"""What amplifiers take from the mains, and the sums of that."""

from collections.abc import Iterable, Mapping
from operator import attrgetter
from typing import Literal

from rackwright.engine.channel import Branch
from rackwright.engine.results import AmplifierResult, Load
from rackwright.model.index import Index
from rackwright.model.rig import Amplifier, channel_name


def input_power(idle: float, output: float, efficiency: float, duty: float) -> float:
    """Input power in W: idle + duty · output / efficiency.

    `output` is the full sine power of all live channels (W). Duty 1/8 is music just below clipping, the
    non-clipped 1/8 power of IEC 62368-1 Annex E (from memory); 1/3 is driven hard (common practice).
    """
    return idle + duty * output / efficiency


def input_current(power: float, voltage: float, power_factor: float) -> float:
    """Input current in A rms: I = P/(V · power factor)."""
    return power / (voltage * power_factor)


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
_NO_CURRENTS = {name: None for name in FIELDS if name.endswith("current")}


def total(loads: Iterable[Load]) -> dict[str, float]:
    """The sums of each figure of loads on one phase, by its name."""
    sums = map(sum, zip(*map(_figures, loads), strict=True))
    return dict(zip(FIELDS, tuple(sums) or _NOTHING, strict=True))


def whole(loads: Iterable[Load], voltage: float, one_phase: bool) -> dict[str, float | None]:
    """The figures of a Whole, by name: powers and VA at `voltage` (V) added, amperes only where all is on one phase."""
    sums = total(loads)
    apparent = {
        "apparent": voltage * sums["programme_current"],
        "apparent_heavy": voltage * sums["heavy_current"],
    }
    return {**sums, **apparent, **({} if one_phase else _NO_CURRENTS)}


def on_one_phase(index: Index, amplifiers: Iterable[Amplifier], phases: Literal[1, 2, 3]) -> bool:
    """Whether the currents of amplifiers may be added; where one without a circuit will be plugged in nobody knows."""
    if phases == 1:
        return True
    circuits = [index.circuits.get(amplifier.circuit) for amplifier in amplifiers]
    return len({circuit and circuit.phase for circuit in circuits}) <= 1


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
