"""The workings of an amplifier at the mains, and of what several come to together."""

from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple, TypeAlias

from rackwright.engine import mains
from rackwright.engine.assess import Assessed
from rackwright.engine.demand import BTU_PER_HOUR, DRAWN
from rackwright.engine.limits import COMMON
from rackwright.engine.workings.steps import (
    ADDED,
    ARITHMETIC,
    RIG,
    Step,
    assumed_too,
    final,
    number,
    operand,
    terms,
    whose,
)
from rackwright.model.equipment import AmplifierModel
from rackwright.model.mains import Curve
from rackwright.model.racks import channel_name
from rackwright.model.rig import Targets
from rackwright.units import Current

CURRENT = "definition of the power factor"
DUTIES = {
    "programme": (Targets().programme_duty, "IEC 62368-1 Annex E, non-clipped 1/8 power, from memory"),
    "heavy": (Targets().heavy_duty, COMMON),
}
"""The usual duties, and whose they are; another is the rig's own."""
BTU = "NIST SP 811: 1 Btu(IT)/h = 0.2930711 W"
WORDS = {"idle": "at idle", "programme": "at programme", "heavy": "driven hard"}


class Subject(NamedTuple):
    """Something at the mains, by its id."""

    rig: Assessed
    id: str

    @property
    def voltage(self) -> float:
        """V, phase to neutral."""
        return self.rig.index.rig.supply.voltage.value


Explainer: TypeAlias = Callable[[Subject], list[Step]]


def sum_of(what: str, parts: Iterable[tuple[str, float]], unit: str) -> Step:
    """The sum of named parts, which may be none."""
    known = list(parts)
    return Step(what, ADDED, terms(known, unit) or "nothing", sum([v for _, v in known]), unit, ARITHMETIC)


def model_of(of: Subject) -> AmplifierModel:
    return of.rig.index.amplifier_models[of.rig.index.amplifiers[of.id].model]


def _duty(of: Subject, duty: str) -> float:
    rig = of.rig.index.rig
    return rig.targets.heavy_duty if duty == "heavy" else rig.programme_duty


def _duty_source(of: Subject, duty: str) -> str:
    usual, source = DUTIES[duty]
    return source if _duty(of, duty) == usual else RIG


def _output(of: Subject) -> Step:
    """Without power, an amplifier counts at what it would draw elsewhere."""
    amplifier = of.rig.index.amplifiers[of.id]
    names = [channel_name(of.id, channel) for channel in range(model_of(of).channels)]
    live = [branch for name in names if (branch := of.rig.branches[name]).live_with_power]
    elsewhere = (
        f", once it has power: {amplifier.circuit} has failed" if is_dead(of, amplifier.circuit) else ""
    )
    what = f"Full power of its live channels{elsewhere}"
    return sum_of(what, [(b.id, b.result.power or 0.0) for b in live], "W")


def power_in(duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        model = model_of(of)
        idle = model.idle_power.value
        if duty == "idle":
            told = f"{model.idle_power}"
            return [Step("Idle power", "as stated", told, idle, "W", whose(model, "idle_power"))]
        output, share = _output(of), _duty(of, duty)
        power = Step(
            f"Input power {WORDS[duty]}",
            "P = idle + duty · output / efficiency",
            f"{model.idle_power} + {number(share)} · {output.operand} / {number(model.efficiency)}",
            mains.input_power(idle, output.value, model.efficiency, share),
            "W",
            f"duty: {_duty_source(of, duty)}; {whose(model, 'idle_power', 'efficiency')}",
        )
        return [output, power]

    return explain


def current_of(duty: str) -> Explainer:
    """Of an amplifier, or of what else hangs on a circuit."""

    def explain(of: Subject) -> list[Step]:
        if of.id in of.rig.loads:
            return load_current(of)
        steps, model = power_in(duty)(of), model_of(of)
        factor, rests = model.power_factor, [name for name in DRAWN if duty != "idle" or name != "efficiency"]
        across, words, times = _across(of, of.rig.amplifiers[of.id].circuit)
        current = Step(
            f"Current of {of.id} {WORDS[duty]}{words}",
            f"I = P/({times}V · power factor)",
            f"{steps[-1].operand} / ({times}{operand(of.voltage, 'V')} · {number(factor)})",
            mains.input_current(final(steps), across * of.voltage, factor),
            "A",
            CURRENT + assumed_too(model, *rests),
        )
        return [*steps, current]

    return explain


_ACROSS = {
    2.0: (", across the two legs", "2 · "),
    1.732: (", line to line", "√3 · "),
    3.0: (", in each of three phases", "3 · "),
}
"""Volt-amperes over volts to neutral and amperes in a phase → how it hangs, and the factor as it is written."""


def _across(of: Subject, circuit: str) -> tuple[float, str, str]:
    """Volt-amperes over volts to neutral and amperes on a circuit, how it hangs there, and the factor as it is written."""
    across = mains.across(of.rig.index, circuit)
    return across, *_ACROSS.get(round(across, 3), ("", ""))


def load_current(of: Subject) -> list[Step]:
    """The current of what else hangs on a circuit, the same at every duty."""
    load, result = of.rig.index.loads[of.id], of.rig.loads[of.id]
    if load.power is None or load.state == "failed":
        said = "failed: it draws nothing" if load.state == "failed" else f"{load.current}"
        return [Step(f"Current of {of.id}", "as stated", said, result.programme_current, "A", RIG)]
    _, words, times = _across(of, load.circuit)
    current = Step(
        f"Current of {of.id}, in full at every duty{words}",
        f"I = P/({times}V · power factor)",
        f"{load.power} / ({times}{operand(of.voltage, 'V')} · {number(load.power_factor)})",
        result.programme_current,
        "A",
        CURRENT,
    )
    return [current]


def heat_of(of: Subject) -> list[Step]:
    steps = power_in("programme")(of)
    output, power = steps
    share = _duty(of, "programme")
    heat = Step(
        f"Heat of {of.id} at programme",
        "input power − duty · output: what doesn't go to the speaker lines",
        f"{power.operand} − {number(share)} · {output.operand}",
        power.value - share * output.value,
        "W",
        "conservation of energy",
    )
    return [*steps, heat]


def inrush_of(of: Subject) -> list[Step]:
    """What a data sheet states, a peak over √2, for breakers are rated in rms."""
    if load := of.rig.index.loads.get(of.id):
        result, stated, source = of.rig.loads[of.id].inrush, load.inrush or "0 A", RIG
    else:
        model = model_of(of)
        result, stated, source = of.rig.amplifiers[of.id].inrush, model.inrush, whose(model, "inrush")
        if model.inrush_kind == "rms":
            return [Step(f"Inrush of {of.id}", "rms, as stated", f"{stated}", result, "A", source)]
    return [Step(f"Inrush of {of.id}, rms", "stated peak / √2", f"{stated} / √(2)", result, "A", source)]


def band_of(rating: Current, curve: Curve) -> Step:
    """Where the instantaneous band of a device begins."""
    factor = mains.BANDS[curve][0]
    return Step(
        "Where the breaker may begin to trip at once",
        f"{number(factor)} × rating for curve {curve}",
        f"{number(factor)} · {rating}",
        factor * rating.value,
        "A",
        "IEC 60898-1, from memory",
    )


def added_up(of: Subject, names: Iterable[str], explain: Explainer, what: str, unit: str) -> list[Step]:
    """What some amplifiers come to together, each told by its last step."""
    each = [(name, explain(of._replace(id=name))[-1]) for name in names]
    total = sum_of(what, [(name, step.value) for name, step in each], unit)
    return [*(step for _, step in each), total]


def _in_btu(steps: list[Step]) -> list[Step]:
    heat = steps[-1]
    btu = Step(
        "The same in BTU/h", "× 3.412", f"3.412 · {heat.operand}", heat.value * BTU_PER_HOUR, "BTU/h", BTU
    )
    return [*steps, btu]


def is_dead(of: Subject, circuit: str) -> bool:
    return circuit in of.rig.circuits and not of.rig.circuits[circuit].live


def on_circuit(of: Subject) -> tuple[str, ...]:
    """The amplifiers and loads that a circuit carries: none once it has failed."""
    result = of.rig.circuits[of.id]
    return (*result.amplifiers, *result.loads) if result.live else ()


Members: TypeAlias = Callable[[Subject], tuple[str, ...]]


def group_current(members: Members, duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        dead = f": {of.id} has failed and carries nothing" if is_dead(of, of.id) else ""
        return added_up(of, members(of), current_of(duty), f"Current {WORDS[duty]}{dead}", "A")

    return explain


def group_apparent(members: Members, duty: str) -> Explainer:
    what = f"Apparent power {WORDS[duty]}"
    return lambda of: added_up(of, members(of), plugged_apparent(duty), what, "VA")


def _group_heat(members: Members) -> Explainer:
    return lambda of: added_up(of, members(of), heat_of, "Heat at programme", "W")


def btu_of(heat: Explainer) -> Explainer:
    return lambda of: _in_btu(heat(of))


def demand(members: Members) -> dict[str, Explainer]:
    heat = _group_heat(lambda of: tuple([name for name in members(of) if name in of.rig.amplifiers]))
    currents = {f"{duty}_current": group_current(members, duty) for duty in WORDS}
    return {**currents, "heat": heat, "heat_btu": btu_of(heat)}


def plugged_apparent(duty: str) -> Explainer:
    """Of an amplifier, or of what else hangs on a circuit."""

    def explain(of: Subject) -> list[Step]:
        thing = of.rig.loads.get(of.id) or of.rig.amplifiers[of.id]
        across, _, times = _across(of, thing.circuit)
        steps = current_of(duty)(of)
        apparent = Step(
            f"Apparent power of {of.id} {WORDS[duty]}",
            f"S = {times}V·I",
            f"{times}{operand(of.voltage, 'V')} · {steps[-1].operand}",
            across * of.voltage * final(steps),
            "VA",
            "definition of apparent power",
        )
        return [*steps, apparent]

    return explain


AMPLIFIER: Mapping[str, Explainer] = {
    **{f"{duty}_current": current_of(duty) for duty in WORDS},
    "programme_power": power_in("programme"),
    "heavy_power": power_in("heavy"),
    "inrush": inrush_of,
    "heat": heat_of,
}

LOAD: Mapping[str, Explainer] = {"programme_current": load_current, "apparent": plugged_apparent("programme")}
