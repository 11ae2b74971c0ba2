"""The workings of what supply cables take off the voltage: of a circuit's own, and of those on the way to a board."""

from collections.abc import Sequence

from rackwright.engine import conductor, mains
from rackwright.engine.workings.amplifier import WORDS, Explainer, Subject, group_current, on_circuit
from rackwright.engine.workings.cable import core_of
from rackwright.engine.workings.steps import (
    ADDED,
    ARITHMETIC,
    COPPER,
    OHM,
    RIG,
    Step,
    number,
    operand,
    stated,
)
from rackwright.model.mains import PHASES, Phase, Supply, SupplyCable


def _resistance(of: Subject, cable: SupplyCable, whose: str, ways: int) -> Step:
    """Of its conductors there and back, or one way, as warm as its class allows."""
    supply, core = of.rig.index.rig.supply, core_of("the supply cable", cable.size)
    degrees, twice = mains.temperature_of(cable, supply), "2·" if ways == 2 else ""
    why = "its class" if cable.conductor_class else stated(degrees, Supply().ambient.value)
    return Step(
        f"Supply cable{whose} of {cable.size}, {'there and back' if ways == 2 else 'one way'}",
        f"R = {twice}l·r · (1 + 0.00393 (T − 20)), {core.formula}",
        f"{'2 · ' if ways == 2 else ''}{operand(cable.length.value, 'm')} · {core.operand} · (1 + 0.00393 · ({number(degrees)} − 20))",
        conductor.loop_resistance(cable.size, cable.length.value, 1, degrees) * ways / 2,
        "Ω",
        f"{core.source}; {COPPER}; T: {why}",
    )


def of_circuit(duty: str) -> Explainer:
    """Of its own cable, and of those on the way to its board where one is stated."""

    def explain(of: Subject) -> list[Step]:
        circuit, result = of.rig.index.circuits[of.id], of.rig.circuits[of.id]
        phases = result.phases
        current = group_current(on_circuit, duty)(of)[-1]
        steps, lost = [], []
        if circuit.supply_cable:
            resistance = _resistance(of, circuit.supply_cable, "", 2)
            split = of.rig.supply.phases == 2
            share, over = {1: (1.0, ""), 2: (2.0, "2 · ") if split else (3**0.5, "√3 · "), 3: (2.0, "2 · ")}[
                len(phases)
            ]
            volts = operand(of.voltage, "V")
            own = Step(
                f"Drop in the supply cable {WORDS[duty]}, of the supply",
                {
                    1: "100 · I·R / V, R there and back",
                    3: "100 · I·R / 2V: nothing returns in the neutral",
                }.get(len(phases), f"100 · I·R / ({over}V), line to line"),
                f"100 · {current.operand} · {resistance.operand} / {f'({over}{volts})' if over else volts}",
                mains.supply_cable_drop(current.value, resistance.value, of.voltage) / share,
                "%",
                OHM,
            )
            steps, lost = [current, resistance, own], [own]
        if circuit.board and result.live and (way := _way(of, circuit.board, phases, duty)):
            steps, lost = [*steps, *way], [*lost, way[-1]]
        if len(lost) > 1:
            whole = Step(
                f"Drop from the origin {WORDS[duty]}",
                ADDED,
                " + ".join([step.operand for step in lost]),
                sum([step.value for step in lost]),
                "%",
                ARITHMETIC,
            )
            steps.append(whole)
        return steps

    return explain


def of_board(duty: str) -> Explainer:
    """From the origin up to it, on its worst phase."""
    return lambda of: _way(of, of.id, of.rig.boards[of.id].phases, duty)


def _way(of: Subject, name: str, phases: Sequence[Phase], duty: str) -> list[Step]:
    """What is lost up to a board on those phases: of several to neutral on the worst; nothing where no cable is stated."""
    index, split = of.rig.index, of.rig.supply.phases == 2
    board = index.boards[name]
    fall, way = mains.Fall(), []
    for at in reversed((board, *index.boards_above(board))):
        if at.supply_cable:
            held = [of.rig.circuits[each] for each in of.rig.boards[at.id].circuits]
            flow = mains.flows_of(held, split)[mains.DUTIES.index(duty)]
            resistance = _resistance(of, at.supply_cable, f" of {at.id}", 1)
            fall = fall.through(resistance.value, flow, split)
            way.append((at.id, resistance, flow))
    if not way:
        return []
    steps = [resistance for _, resistance, _ in way]
    if len(phases) == 2 and of.id in of.rig.circuits:  # line to line
        lost = fall.drop(phases, of.voltage, split)
        numbers = operand(lost, "%")
    else:
        worst = max(phases, key=lambda phase: fall.drop((phase,), of.voltage, split))
        lost = fall.drop((worst,), of.voltage, split)
        currents = [_beside_the_neutral(at, worst, flow, split) for at, _, flow in way]
        parts = [f"{r.operand} · {current.operand}" for r, current in zip(steps, currents, strict=True)]
        numbers = f"100 · ({' + '.join(parts)}) / {operand(of.voltage, 'V')}"
        name = f"{name} on {worst}"
        steps += currents
    return [
        *steps,
        Step(
            f"Drop from the origin up to {name} {WORDS[duty]}",
            "100 · Σ R·(I + I_N) / V, along the voltage",
            numbers,
            lost,
            "%",
            f"{OHM} with phasors; V: {RIG}",
        ),
    ]


def _beside_the_neutral(name: str, phase: Phase, flow: mains.Flow, split: bool) -> Step:
    """The current that takes voltage off a phase: its own, and along it what returns in the neutral."""
    k = PHASES.index(phase)
    own, across = flow.to_neutral[k], flow.across[k].real
    others = [flow.to_neutral[j] for j in range(2 if split else 3) if j != k]
    returning = sum(others) / (1 if split else 2)
    beside = " + ".join([operand(other, "A", 5) for other in others])
    return Step(
        f"Current of {phase} to {name} and what returns in the neutral, along the voltage of {phase}",
        "2·T − the other leg's T + A"
        if split
        else "2·T − half of the other phases' T + A; T to neutral, A line to line · cos 30°",
        f"2 · {operand(own, 'A', 5)} − ({beside})/{1 if split else 2} + {operand(across, 'A', 5)}",
        2 * own - returning + across,
        "A",
        "a sum of phasors, each along the voltage of its phase",
    )
