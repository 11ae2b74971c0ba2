"""The workings of a circuit: its load, its breaker, its supply cable."""

from collections.abc import Mapping

from rackwright.engine.limits import COMMON
from rackwright.engine.workings import drop
from rackwright.engine.workings.amplifier import (
    WORDS,
    Explainer,
    Subject,
    added_up,
    band_of,
    demand,
    group_current,
    inrush_of,
    on_circuit,
)
from rackwright.engine.workings.steps import ARITHMETIC, RIG, Step, final, number
from rackwright.model.mains import Circuit


def _circuit(of: Subject) -> Circuit:
    return of.rig.index.circuits[of.id]


def _breaker(of: Subject) -> list[Step]:
    breaker = _circuit(of).breaker
    side_by_side = Step(
        "What six loaded side by side carry each, about",
        "0.8 × rating",
        f"0.8 · {breaker}",
        0.8 * breaker.value,
        "A",
        COMMON,
    )
    return [
        side_by_side,
        Step("Rated current of the breaker", "as stated", f"{breaker}", breaker.value, "A", RIG),
    ]


def _loading(duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        steps, breaker = group_current(on_circuit, duty)(of), _circuit(of).breaker
        loading = Step(
            f"Loading {WORDS[duty]}",
            "I / breaker",
            f"{steps[-1].operand} / {breaker}",
            final(steps) / breaker.value,
            "ratio",
            ARITHMETIC,
        )
        return [*steps, loading]

    return explain


def _group_inrush(of: Subject) -> list[Step]:
    return added_up(of, on_circuit(of), inrush_of, "Inrush, all switched on together", "A")


def _inrush_limit(of: Subject) -> list[Step]:
    circuit = _circuit(of)
    return [band_of(circuit.breaker, circuit.curve)]


def _measured(of: Subject) -> list[Step]:
    measured = _circuit(of).measured
    if measured is None:
        return []
    when = f", {measured.when}" if measured.when else ""
    return [
        Step(f"Clamp meter{when}", "as measured", f"{measured.current}", measured.current.value, "A", RIG)
    ]


def _measured_duty(of: Subject) -> list[Step]:
    measured = _measured(of)[-1]
    idle, heavy = (group_current(on_circuit, duty)(of)[-1] for duty in ("idle", "heavy"))
    share = of.rig.index.rig.targets.heavy_duty
    own = Step(
        "The duty at which it would draw that",
        "(I − idle) / ((driven hard − idle) / its duty), idle with what else hangs there",
        f"({measured.operand} − {idle.operand}) / (({heavy.operand} − {idle.operand}) / {number(share)})",
        of.rig.circuits[of.id].measured_duty or 0.0,
        "",
        "input power grows in proportion to the duty",
    )
    return [measured, idle, heavy, own]


CIRCUIT: Mapping[str, Explainer] = {
    **demand(on_circuit),
    "breaker": _breaker,
    "loading": _loading("programme"),
    "loading_heavy": _loading("heavy"),
    "drop": drop.of_circuit("programme"),
    "drop_heavy": drop.of_circuit("heavy"),
    "inrush": _group_inrush,
    "inrush_limit": _inrush_limit,
    "measured": _measured,
    "measured_duty": _measured_duty,
}
