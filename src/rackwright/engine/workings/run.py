"""The workings of a run of cable."""

import math
from collections.abc import Mapping

from rackwright.engine import network
from rackwright.engine.workings.cable import (
    Explainer,
    Part,
    conductance_behind,
    divided_voltage,
    loop_steps,
    loss_step,
    voltage_division,
)
from rackwright.engine.workings.channel import terminal_voltage
from rackwright.engine.workings.steps import OHM, Step, final, operand


def _run_resistance(part: Part) -> list[Step]:
    return loop_steps(part.run, part.ambient)


def _run_voltage(part: Part) -> list[Step]:
    terminals = terminal_voltage(part)
    division = voltage_division(network.way_to(part.branch.roots, part.run), part.ambient)
    return [*terminals, *division, divided_voltage("Voltage at the far end", terminals, division)]


def _run_current(part: Part) -> list[Step]:
    steps = _run_voltage(part)
    voltage, behind = final(steps), conductance_behind(part.run.node)
    seen = operand(1 / behind if behind else math.inf, "Ω")
    current = Step(
        "Current", "I = V_far / Z_behind", f"{operand(voltage, 'V')} / {seen}", voltage * behind, "A", OHM
    )
    return [*steps, current]


def _run_loss(part: Part) -> list[Step]:
    division = voltage_division(network.way_to(part.branch.roots, part.run), part.ambient)
    return [*division, loss_step(division)]


RUN: Mapping[str, Explainer] = {
    "resistance": _run_resistance,
    "current": _run_current,
    "voltage": _run_voltage,
    "loss": _run_loss,
}
