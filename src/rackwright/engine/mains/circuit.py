"""A circuit with what hangs on it and its supply cable."""

from collections.abc import Sequence

from msgspec.structs import replace

from rackwright.engine import outage
from rackwright.engine.conductor import loop_resistance
from rackwright.engine.demand import SUPPLY, AmplifierResult, CircuitResult, Edge, LoadResult, Plugged
from rackwright.engine.mains.breaker import BANDS, band
from rackwright.engine.mains.cable_capacity import TEMPERATURES
from rackwright.engine.mains.currents import DUTIES, measured_duty, total
from rackwright.engine.mains.flow import CORRECTED
from rackwright.model.index import Index
from rackwright.model.mains import Board, Circuit, Supply, SupplyCable, phases_of


def supply_cable_drop(current: float, resistance: float, voltage: float) -> float:
    """Share of `voltage` (V) lost in a single-phase supply cable, in %: 100·I·R/V, R there and back (Ω) [1]_.

    Without reactance, which matters from 50 mm² on (common practice, no source).

    >>> supply_cable_drop(10.0, 0.575, 230.0)
    2.5

    .. [1] Ohm's law.
    """
    return 100 * current * resistance / voltage


def of_circuit(
    circuit: Circuit, amplifiers: Sequence[AmplifierResult], index: Index, loads: Sequence[LoadResult] = ()
) -> CircuitResult:
    """A circuit with the amplifiers and loads that hang on it; one that is dead carries none of them.

    Its drop is that of its own cable.
    """
    dead, supply = outage.of_circuit(index, circuit), index.rig.supply
    carried: tuple[Plugged, ...] = () if dead else (*amplifiers, *loads)
    sums = total(carried)
    breaker, voltage = circuit.breaker.value, supply.voltage.value
    resistance = supply_cable_resistance(circuit, supply)
    share = drop_share(circuit, supply)
    drops = [
        None if resistance is None else share * supply_cable_drop(sums[duty], resistance, voltage)
        for duty in ("programme_current", "heavy_current")
    ]
    pulsed = [each for each in carried if each.power_factor < CORRECTED]
    uncorrected = sums if len(pulsed) == len(carried) else total(pulsed)
    edges = band(breaker, circuit.curve, supply.rules)
    measured = circuit.measured.current.value if circuit.measured and not dead else None
    result = CircuitResult(
        id=circuit.id,
        board=circuit.board,
        phase=circuit.phase,
        phases=phases_of(circuit.phase),
        state="failed" if dead else "ok",
        amplifiers=tuple([amplifier.id for amplifier in amplifiers]),
        loads=tuple([load.id for load in loads]),
        breaker=breaker,
        loading=sums["programme_current"] / breaker,
        loading_heavy=sums["heavy_current"] / breaker,
        drop=drops[0],
        drop_heavy=drops[1],
        own_drop=(drops[0], drops[1]),
        inrush=sum([each.inrush for each in carried]),
        known_inrush=sum([each.known_inrush for each in carried]),
        inrush_limit=edges[0] if edges else None,
        first_to_trip=_first_to_trip(index, circuit),
        uncorrected=tuple([uncorrected[f"{duty}_current"] for duty in DUTIES]),  # type: ignore[arg-type]
        measured=measured,
        **sums,
    )
    if measured is None:
        return result
    return replace(result, measured_duty=measured_duty([(measured, result)], index.rig.targets.heavy_duty))


def _first_to_trip(index: Index, circuit: Circuit) -> Edge:
    """Of its breaker and the devices on the way to it the one whose band begins lowest, the circuit's where two are alike."""
    supply = index.rig.supply
    devices = [
        (circuit.id, circuit.breaker, circuit.curve),
        *((board.id, board.rating, board.curve) for board in index.boards_above(circuit)),
        (SUPPLY, supply.rating, supply.curve),
    ]
    edges = [Edge(at, BANDS[curve][0] * rating.value) for at, rating, curve in devices if rating]
    return min(edges, key=lambda edge: edge.current)


def drop_share(circuit: Circuit, supply: Supply) -> float:
    """What of the single-phase drop a circuit has.

    There and back is the loop; on three phases alike nothing comes back; line to line there is more voltage: by definition
    of the voltages, 120° or 180° apart.

    >>> drop_share(circuit, index.rig.supply)
    1.0
    """
    count = len(phases_of(circuit.phase))
    return 1.0 if count == 1 else 0.5 if count == 3 or supply.phases == 2 else 3**-0.5


def supply_cable_resistance(thing: Circuit | Board, supply: Supply) -> float | None:
    """Resistance in Ω of the supply cable of a circuit or a board, there and back [1]_; None where none is stated.

    >>> round(supply_cable_resistance(circuit, index.rig.supply), 4)
    0.4147

    .. [1] IEC 60228, class 5; IEC 60028.
    """
    cable = thing.supply_cable
    return (
        loop_resistance(cable.size, cable.length.value, 1, temperature_of(cable, supply)) if cable else None
    )


def temperature_of(cable: SupplyCable, supply: Supply) -> float:
    """°C of a supply cable's conductors: by definition of its class, and where none is stated that of the air, as in version 1.

    >>> temperature_of(circuit.supply_cable, index.rig.supply)
    30.0
    """
    kind = cable.conductor_class
    return TEMPERATURES["60 degC" if kind == "cord" else kind] if kind else supply.ambient.value
