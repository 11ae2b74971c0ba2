"""What amplifiers take from the mains, and the sums of that."""

import math
from collections.abc import Iterable, Mapping
from operator import attrgetter
from typing import Literal

from rackwright.engine.channel import Branch
from rackwright.engine.demand import AmplifierResult, Draw, LoadResult
from rackwright.engine.mains.flow import volts_across
from rackwright.engine.mains.inrush import held
from rackwright.model.index import Index
from rackwright.model.mains import Load, phases_of
from rackwright.model.racks import Amplifier, channel_name


def input_power(idle: float, output: float, efficiency: float, duty: float) -> float:
    """Input power in W: idle + duty · output / efficiency.

    `output` is the full sine power of all live channels (W). Duty 1/8 is music just below clipping [1]_; 1/3 is driven
    hard (common practice, no source).

    >>> input_power(60.0, 3600.0, 0.8, 1 / 8)
    622.5

    .. [1] IEC 62368-1 Annex E, non-clipped 1/8 power, from memory.
    """
    return idle + duty * output / efficiency


def input_current(power: float, voltage: float, power_factor: float) -> float:
    """Input current in A rms: I = P/(V · power factor), by definition of the power factor.

    >>> round(input_current(622.5, 230.0, 0.62), 2)
    4.37
    """
    return power / (voltage * power_factor)


DUTIES = ("idle", "programme", "heavy")
FIELDS = (
    "idle_power",
    "programme_power",
    "heavy_power",
    "idle_current",
    "programme_current",
    "heavy_current",
    "apparent",
    "apparent_heavy",
    "heat",
    "heat_heavy",
)
_figures = attrgetter(*FIELDS)
_NOTHING = (0.0,) * len(FIELDS)
_NO_CURRENTS = {name: None for name in FIELDS if name.endswith("current")}


def total(draws: Iterable[Draw]) -> dict[str, float]:
    """The sums of each figure of what is drawn on the same phases, by its name.

    Currents of one phase, and powers, add [1]_.

    >>> round(total([hall.amplifiers["A1"], hall.amplifiers["A2"]])["programme_current"], 2)
    4.67

    .. [1] Ohm's law and Kirchhoff's.
    """
    sums = map(sum, zip(*map(_figures, draws), strict=True))
    return dict(zip(FIELDS, tuple(sums) or _NOTHING, strict=True))


def whole(draws: Iterable[Draw], one_phase: bool) -> dict[str, float | None]:
    """The figures of a Whole, by name: powers and VA added, amperes only where all is on one phase.

    Currents of different phases don't add; apparent powers count as if they did, by definition an upper bound.

    >>> whole(hall.circuits.values(), one_phase=False)["programme_current"] is None
    True
    """
    sums = total(draws)
    return {**sums, **({} if one_phase else _NO_CURRENTS)}


def on_one_phase(index: Index, things: Iterable[Amplifier | Load], phases: Literal[1, 2, 3]) -> bool:
    """Whether the currents of things may be added; where one without a circuit will be plugged in nobody knows."""
    if phases == 1:
        return True
    circuits = [index.circuits.get(thing.circuit) for thing in things]
    return len({circuit and circuit.phase for circuit in circuits}) <= 1


def of_amplifier(index: Index, amplifier: Amplifier, branches: Mapping[str, Branch]) -> AmplifierResult:
    """An amplifier at the mains: its idle power, and what its live channels put into their own wiring.

    A channel that has failed or has no feed draws nothing; a bridged pair counts once. Without power, on a circuit
    that has failed or on none, it counts at what it would draw: it has to be plugged in somewhere.

    By `input_power` and `input_current` [1]_.

    >>> round(of_amplifier(index, index.amplifiers["A1"], hall.branches).programme_power)
    523

    .. [1] IEC 62368-1 Annex E, non-clipped 1/8 power, from memory.
    """
    model, supply, targets = index.amplifier_models[amplifier.model], index.rig.supply, index.rig.targets
    own = [branches[channel_name(amplifier.id, channel)] for channel in range(model.channels)]
    output = sum([branch.result.power or 0.0 for branch in own if branch.live_with_power])
    idle = model.idle_power.value
    programme = input_power(idle, output, model.efficiency, index.rig.programme_duty)
    heavy = input_power(idle, output, model.efficiency, targets.heavy_duty)
    voltage, factor = supply.voltage.value * across(index, amplifier.circuit), model.power_factor
    inrush = held(model.inrush.value, model.inrush_kind)
    return AmplifierResult(
        id=amplifier.id,
        circuit=amplifier.circuit,
        output=output,
        power_factor=factor,
        inrush=inrush,
        known_inrush=0.0 if "inrush" in model.assumed else inrush,
        idle_power=idle,
        programme_power=programme,
        heavy_power=heavy,
        idle_current=input_current(idle, voltage, factor),
        programme_current=input_current(programme, voltage, factor),
        heavy_current=input_current(heavy, voltage, factor),
        apparent=programme / factor,
        apparent_heavy=heavy / factor,
        heat=programme - index.rig.programme_duty * output,
        heat_heavy=heavy - targets.heavy_duty * output,
    )


def of_load(index: Index, load: Load) -> LoadResult:
    """What else hangs on a circuit: the same at every duty. One that has failed draws nothing.

    By definition of the power factor.

    >>> from rackwright.model.mains import Load
    >>> from rackwright.units import Power
    >>> of_load(index, Load(id="LIGHTS", circuit="P1", power=Power.parse("1.15 kW"))).programme_current
    5.0
    """
    volts, factor = index.rig.supply.voltage.value * across(index, load.circuit), load.power_factor
    if load.state == "failed":
        apparent = 0.0
    elif load.power:
        apparent = load.power.value / factor
    else:
        apparent = volts * load.current.value if load.current else 0.0
    power, current = apparent * factor, apparent / volts
    inrush = held(load.inrush.value) if load.inrush and load.state == "ok" else 0.0
    return LoadResult(
        id=load.id,
        circuit=load.circuit,
        state=load.state,
        power_factor=factor,
        inrush=inrush,
        known_inrush=inrush,
        idle_power=power,
        programme_power=power,
        heavy_power=power,
        idle_current=current,
        programme_current=current,
        heavy_current=current,
        apparent=apparent,
        apparent_heavy=apparent,
        heat=0.0,
        heat_heavy=0.0,
    )


def measured_duty(circuits: Iterable[tuple[float, Draw]], heavy_duty: float) -> float | None:
    """The duty at which circuits would draw what was measured (A), `heavy_duty` being that of their heavy current.

    Σ(I − idle) / Σ(what a duty of 1 adds): idle with what else hangs there, `input_power` solved for the duty. None where
    nothing depends on a duty. Common practice, no source.

    >>> round(measured_duty([(hall.circuits["P1"].programme_current, hall.circuits["P1"])], 1 / 3), 3)
    0.125
    """
    known = list(circuits)
    more = sum([current - draw.idle_current for current, draw in known])
    each = sum([(draw.heavy_current - draw.idle_current) / heavy_duty for _, draw in known])
    return max(more / each, 0.0) if each > 0 else None


def countable_duty(measured: float, heavy_duty: float) -> float:
    """A measured duty as programme may be counted with: rounded up, and no more than that of driven hard, which stays.

    Common practice, no source.

    >>> countable_duty(0.1413, 1 / 3)
    0.142
    """
    return min(math.ceil(1000 * measured - 1e-9) / 1000, heavy_duty)


def across(index: Index, name: str) -> float:
    """Volt-amperes over volts to neutral and amperes in each phase, of what hangs on the circuit of that id.

    By definition of the voltages: `volts_across`.

    >>> across(index, "P1")
    1.0
    """
    circuit = index.circuits.get(name)
    return volts_across(len(phases_of(circuit.phase)), index.rig.supply.phases == 2) if circuit else 1.0
