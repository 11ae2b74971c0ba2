"""Whether an amplifier may be plugged into a circuit: the checks that every advice, arrangement and plan passes before a person does.

Holds what may hang where, what it would draw there, and what that does to everything on the way from the intake. Which
amplifier ought to go is for `findings`, `allocation` and `recovery`.
"""

from collections.abc import Mapping

from rackwright.engine import limits, mains
from rackwright.engine.demand import AmplifierResult, BoardResult, SupplyResult
from rackwright.engine.mains import Cable, Mains
from rackwright.model.index import Index
from rackwright.model.mains import phases_of


def may_hang(index: Index, barred: frozenset[str], amplifier: str, circuit: str) -> bool:
    """Whether its lead gets there, its data sheet allows the voltage, and no cable on the way fails a check (`barred`)."""
    own = index.amplifiers[amplifier]
    reached = own.reaches or index.rack_of[amplifier].reaches
    allowed = limits.mains_voltage(index.amplifier_models[own.model])
    broken = any(limit.broken_by(volts_at(index, circuit)) for limit in allowed)
    return not broken and circuit not in barred and (not reached or circuit in reached)


def volts_at(index: Index, circuit: str) -> float:
    """V that an amplifier gets on a circuit: three phases feed each amplifier from one of them.

    By definition of the voltages: `mains.across`.

    >>> volts_at(index, "P1")
    230.0
    """
    phases = len(phases_of(index.circuits[circuit].phase))
    return index.rig.supply.voltage.value * (mains.across(index, circuit) if phases == 2 else 1.0)


def currents_on(index: Index, amplifier: AmplifierResult, circuit: str) -> tuple[float, float]:
    """A in each phase that an amplifier would take there, at programme and driven hard.

    By `mains.input_current`, by definition of the power factor.

    >>> [round(amperes, 2) for amperes in currents_on(index, hall.amplifiers["A1"], "P2")]
    [2.34, 5.5]
    """
    volts = index.rig.supply.voltage.value * mains.across(index, circuit)
    programme, heavy = (
        mains.input_current(power, volts, amplifier.power_factor)
        for power in (amplifier.programme_power, amplifier.heavy_power)
    )
    return programme, heavy


def takes(
    index: Index,
    power: Mains,
    cables: Mapping[str, Cable],
    barred: frozenset[str],
    amplifier: str,
    circuit: str,
) -> bool:
    """Whether everything on the way to a circuit keeps within its limits with an amplifier more on it.

    Boards, intake, supply cables and RCDs; of the circuit's own breaker nothing is asked. Between circuits of another
    voltage nothing is advised: what is drawn changes.
    """
    result = power.amplifiers[amplifier]
    if not may_hang(index, barred, amplifier, circuit):
        return False
    if mains.across(index, circuit) != mains.across(index, result.circuit):
        return False
    target, home = index.circuits[circuit], index.circuits.get(result.circuit)
    nodes = (circuit, *(board.id for board in index.boards_above(target)))
    there = {home.id, *(board.id for board in index.boards_above(home))} if home else set()
    ways = [cables[node] for node in nodes if node in cables and node not in there]
    leakage = index.amplifier_models[index.amplifiers[amplifier].model].leakage.value
    rcds = [power.rcds[node] for node in nodes if node in power.rcds and node not in there]
    rules = index.rig.supply.rules
    points: list[BoardResult | SupplyResult] = [power.boards[node] for node in nodes if node in power.boards]
    return (
        all(cable.holds(result.programme_current) for cable in ways)
        and all(not limits.rcd(rcd.rating, rules).broken_by(rcd.leakage + leakage) for rcd in rcds)
        and all(_has_room(index, power, point, result, circuit) for point in (*points, power.supply))
    )


def _has_room(
    index: Index, power: Mains, point: BoardResult | SupplyResult, amplifier: AmplifierResult, circuit: str
) -> bool:
    """Whether a board, or the intake, is within its rating on the phases of a circuit with an amplifier more there."""
    if point.rating is None:
        return True
    rules, home = index.rig.supply.rules, index.circuits.get(amplifier.circuit)
    below = home is not None and (isinstance(point, SupplyResult) or home.id in point.circuits)
    had = phases_of(home.phase) if home and below and power.circuits[home.id].live else ()
    near, heavy = limits.loading_near(rules).value, limits.loading_heavy().value
    lines = {
        line.id: line for line in (power.phases.values() if isinstance(point, SupplyResult) else point.lines)
    }
    for phase in phases_of(index.circuits[circuit].phase):
        if phase in had:
            continue
        line = lines.get(phase)
        at_programme = (line.programme_current if line else 0.0) + amplifier.programme_current
        hard = (line.heavy_current if line else 0.0) + amplifier.heavy_current
        if at_programme > near * point.rating or hard > heavy * point.rating:
            return False
    return True
