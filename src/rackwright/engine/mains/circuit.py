"""A circuit with the amplifiers on it and its supply cable."""

from collections.abc import Sequence

from rackwright.engine import outage
from rackwright.engine.conductor import loop_resistance
from rackwright.engine.mains.breaker import BANDS
from rackwright.engine.mains.currents import total
from rackwright.engine.results import AmplifierResult, CircuitResult
from rackwright.model.index import Index
from rackwright.model.rig import Circuit, Supply


def supply_cable_drop(current: float, resistance: float, voltage: float) -> float:
    """Share of `voltage` (V) lost in a single-phase supply cable, in %: 100·I·R/V, R there and back (Ω)."""
    return 100 * current * resistance / voltage


def of_circuit(circuit: Circuit, amplifiers: Sequence[AmplifierResult], index: Index) -> CircuitResult:
    """A circuit with the amplifiers that hang on it; one that is dead carries none of them."""
    dead, supply = outage.of_circuit(index, circuit), index.rig.supply
    carried = () if dead else amplifiers
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
        state="failed" if dead else "ok",
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
