"""The workings of a circuit: its load, its breaker, its supply cable."""

from collections.abc import Mapping

from rackwright.engine import conductor, mains
from rackwright.engine.workings.amplifier import (
    WORDS,
    Explainer,
    Subject,
    added_up,
    demand,
    group_current,
    inrush_of,
)
from rackwright.engine.workings.cable import core_of
from rackwright.engine.workings.steps import COPPER, OHM, RIG, Step, final, stated
from rackwright.model.rig import Circuit, Supply
from rackwright.units import figure as number
from rackwright.units import reading


def on_circuit(of: Subject) -> tuple[str, ...]:
    """The amplifiers that a circuit carries: none once it has failed."""
    result = of.rig.circuits[of.id]
    return result.amplifiers if result.live else ()


def _circuit(of: Subject) -> Circuit:
    return of.rig.index.circuits[of.id]


def _breaker(of: Subject) -> list[Step]:
    breaker = _circuit(of).breaker
    return [Step("Rated current of the breaker", "as stated", f"{breaker}", breaker.value, "A", RIG)]


def _loading(duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        steps, breaker = group_current(on_circuit, duty)(of), _circuit(of).breaker
        loading = Step(
            f"Loading {WORDS[duty]}",
            "I / breaker",
            f"{steps[-1].result} / {breaker}",
            final(steps) / breaker.value,
            "ratio",
            "a ratio",
        )
        return [*steps, loading]

    return explain


def _drop(duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        current = group_current(on_circuit, duty)(of)[-1]
        cable, ambient = _circuit(of).supply_cable, of.rig.index.rig.supply.ambient.value
        if cable is None:
            return []
        core = core_of("the supply cable", cable.size)
        resistance = Step(
            f"Supply cable of {cable.size}, there and back",
            f"R = 2·l·r · (1 + 0.00393 (T − 20)), {core.formula}",
            f"2 · {reading(cable.length.value, 'm')} · {core.result} · (1 + 0.00393 · ({number(ambient)} − 20))",
            conductor.loop_resistance(cable.size, cable.length.value, 1, ambient),
            "Ω",
            f"{core.source}; {COPPER}; T: {stated(ambient, Supply().ambient.value)}",
        )
        drop = Step(
            f"Drop in the supply cable {WORDS[duty]}, of the supply",
            "100 · I·R / V, R there and back",
            f"100 · {current.result} · {resistance.result} / {reading(of.voltage, 'V')}",
            mains.supply_cable_drop(current.value, resistance.value, of.voltage),
            "%",
            OHM,
        )
        return [current, resistance, drop]

    return explain


def _group_inrush(of: Subject) -> list[Step]:
    return added_up(of, on_circuit(of), inrush_of, "Inrush, all switched on together", "A")


def _inrush_limit(of: Subject) -> list[Step]:
    circuit = _circuit(of)
    factor = mains.BANDS[circuit.curve][0]
    limit = Step(
        "Where the breaker may begin to trip at once",
        f"{number(factor)} × breaker for curve {circuit.curve}",
        f"{number(factor)} · {circuit.breaker}",
        factor * circuit.breaker.value,
        "A",
        "IEC 60898-1, from memory",
    )
    return [limit]


CIRCUIT: Mapping[str, Explainer] = {
    **demand(on_circuit),
    "breaker": _breaker,
    "loading": _loading("programme"),
    "loading_heavy": _loading("heavy"),
    "drop": _drop("programme"),
    "drop_heavy": _drop("heavy"),
    "inrush": _group_inrush,
    "inrush_limit": _inrush_limit,
}
