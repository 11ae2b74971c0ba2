"""The steps that the workings of channels, runs and sections share: copper, and the voltage that it leaves."""

import math
from collections.abc import Callable
from typing import NamedTuple

from rackwright.engine import conductor, network
from rackwright.engine.channel import Branch
from rackwright.engine.limits import COMMON
from rackwright.engine.network import Node, Run
from rackwright.engine.workings.steps import (
    ASTM_B258,
    COPPER,
    IEC_60228,
    OHM,
    Step,
    final,
    number,
    operand,
    stated,
)
from rackwright.model.equipment import Section
from rackwright.model.mains import Supply
from rackwright.units import ConductorSize


class Part(NamedTuple):
    """A channel's branch, and one of its runs or sections."""

    branch: Branch
    ambient: float
    """°C, of the conductors."""
    number: int = 0
    """Position of that run or section, from 0."""

    @property
    def run(self) -> Run:
        """The run."""
        return self.branch.all_runs[self.number]

    @property
    def section(self) -> Section:
        """The model of the section."""
        return self.branch.models[self.number]

    @property
    def way(self) -> list[Run]:
        """The runs from the terminals to the section."""
        return self.branch.way(self.number)


Explainer = Callable[[Part], list[Step]]


def loop_steps(run: Run, ambient: float) -> list[Step]:
    size, line = run.cable.size, run.line
    per_metre = conductor.resistance_per_metre(size)
    core = core_of(run.cable.id, size)
    copper = conductor.loop_resistance(size, line.length.value, line.cores_per_pole, ambient)
    parallel = f" / {line.cores_per_pole}" if line.cores_per_pole > 1 else ""
    there_and_back = Step(
        f"Copper of {line.id}, there and back",
        "2·l·r / cores · (1 + 0.00393 (T − 20))",
        f"2 · {operand(line.length.value, 'm')} · {operand(per_metre, 'Ω/m')}{parallel} · "
        f"(1 + 0.00393 · ({number(ambient)} − 20))",
        copper,
        "Ω",
        f"{COPPER}; T: {stated(ambient, Supply().ambient.value)}",
    )
    near, far = run.near_connector.contact_resistance, run.far_connector.contact_resistance
    contacts = conductor.CONTACTS * (near.value + far.value)
    whole = Step(
        f"Loop resistance of {line.id} with its contacts",
        "R = copper + 2·contact near + 2·contact far",
        f"{operand(copper, 'Ω')} + 2 · {operand(near.value, 'Ω')} + 2 · {operand(far.value, 'Ω')}",
        copper + contacts,
        "Ω",
        "series resistances",
    )
    return [core, there_and_back, whole]


def core_of(cable: str, size: ConductorSize) -> Step:
    """The resistance of one core of a cable, per metre at 20 °C."""
    other = size.equivalent()
    told = f"{size}" + (f" ({other})" if other else "")
    what, value = f"One core of {cable} at 20 °C, {told}", conductor.resistance_per_metre(size)
    if size.gauge is None:
        return Step(what, "r from the table, by area", told, value, "Ω/m", IEC_60228)
    rho, area = f"{conductor.RESISTIVITY * 1e9:.5g}", f"{size.value * 1e6:.5g}"
    numbers = f"{rho} Ω·mm²/km / 1000 / {area} mm² · {conductor.STRANDING}"
    source = f"{ASTM_B258}; {conductor.STRANDING} for strands: {COMMON}"
    return Step(what, f"r = ρ/A · {conductor.STRANDING}", numbers, value, "Ω/m", source)


def conductance_behind(node: Node) -> float:
    """Conductance in S of all that hangs at the far end of a run."""
    links = network.solve_nominal(node.links).admittance if node.links else 0.0
    return sum(map(network.conductance, node.sections)) + links


def voltage_division(way: list[Run], ambient: float) -> list[Step]:
    """From the terminals to the end of a way: each run divides the voltage."""
    steps, ratio = [], 1.0
    for run in way:
        whole = loop_steps(run, ambient)[-1]
        behind = conductance_behind(run.node)
        before, ratio = ratio, ratio / (1 + whole.value * behind)
        far = f"{operand(whole.value, 'Ω')} / {operand(1 / behind, 'Ω')}" if behind else "0"
        steps += [
            whole,
            Step(
                f"Voltage at {run.line.to} as a share of that at the terminals"
                + ("" if behind else ": nothing is connected behind it"),
                "v = v_near / (1 + R/Z_behind)",
                f"{number(before)} / (1 + {far})",
                ratio,
                "",
                OHM,
            ),
        ]
    return steps


def divided_voltage(what: str, terminals: list[Step], division: list[Step]) -> Step:
    ratio, whole = final(division), final(terminals)
    return Step(
        what, "V = v · V_terminal", f"{number(ratio)} · {operand(whole, 'V')}", ratio * whole, "V", OHM
    )


def loss_step(division: list[Step]) -> Step:
    ratio = final(division)
    numbers = f"−20·log10({number(ratio)})"
    return Step("Loss", "−20·log10(v)", numbers, -20 * math.log10(ratio), "dB", "definition of the decibel")
