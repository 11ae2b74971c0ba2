"""The workings of the mains and of touch: amplifiers, circuits, phases, racks, the supply, terminals.

Each step reckons from the results of those before it, with the functions that the assessment uses.
"""

from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple, TypeAlias

from rackwright.engine import conductor, mains, touch
from rackwright.engine.assess import Assessed
from rackwright.engine.results import BTU_PER_HOUR
from rackwright.engine.workings.steps import (
    COMMON,
    COPPER,
    OHM,
    RIG,
    SUM,
    Step,
    data_sheet,
    final,
    stated,
    terms,
)
from rackwright.engine.workings.wiring import Part, core_of, open_voltage, ratings_source
from rackwright.model.equipment import AmplifierModel
from rackwright.model.rig import PHASES, Circuit, Phase, Supply, Targets, channel_name
from rackwright.units import figure as number
from rackwright.units import reading

CURRENT = "definition of the power factor"
DUTIES = {
    "programme": (Targets().programme_duty, "IEC 62368-1 Annex E, non-clipped 1/8 power, from memory"),
    "heavy": (Targets().heavy_duty, COMMON),
}
"""The usual duties, and whose they are; another is the rig's own."""
BTU = "NIST SP 811: 1 Btu(IT)/h = 0.2930711 W"
WORDS = {"idle": "idle", "programme": "at programme", "heavy": "driven hard"}


class Subject(NamedTuple):
    """Something at the mains, by its id."""

    rig: Assessed
    id: str

    @property
    def voltage(self) -> float:
        """V, phase to neutral."""
        return self.rig.index.rig.supply.voltage.value


Explainer: TypeAlias = Callable[[Subject], list[Step]]


def _sum(what: str, parts: Iterable[tuple[str, float]], unit: str) -> Step:
    """The sum of named parts, which may be none."""
    known = list(parts)
    return Step(what, "Σ", terms(known, unit) or "nothing", sum([v for _, v in known]), unit, SUM)


# --- an amplifier -------------------------------------------------------------------------------------


def _model(of: Subject) -> AmplifierModel:
    return of.rig.index.amplifier_models[of.rig.index.amplifiers[of.id].model]


def _duty(of: Subject, duty: str) -> float:
    targets = of.rig.index.rig.targets
    return targets.heavy_duty if duty == "heavy" else targets.programme_duty


def _duty_source(of: Subject, duty: str) -> str:
    usual, source = DUTIES[duty]
    return source if _duty(of, duty) == usual else RIG


def _output(of: Subject) -> Step:
    """Without power, an amplifier counts at what it would draw elsewhere."""
    amplifier = of.rig.index.amplifiers[of.id]
    names = [channel_name(of.id, channel) for channel in range(_model(of).channels)]
    live = [branch for name in names if (branch := of.rig.branches[name]).live_with_power]
    elsewhere = f", once it has power: {amplifier.circuit} has failed" if _dead(of, amplifier.circuit) else ""
    what = f"Full power of its live channels{elsewhere}"
    return _sum(what, [(b.id, b.result.power or 0.0) for b in live], "W")


def _input(duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        model = _model(of)
        idle = model.idle_power.value
        if duty == "idle":
            return [Step("Idle power", "as stated", f"{model.idle_power}", idle, "W", data_sheet(model.id))]
        output, share = _output(of), _duty(of, duty)
        power = Step(
            f"Input power {WORDS[duty]}",
            "P = idle + duty · output / efficiency",
            f"{model.idle_power} + {number(share, 4)} · {output.result} / {number(model.efficiency)}",
            mains.input_power(idle, output.value, model.efficiency, share),
            "W",
            f"duty: {_duty_source(of, duty)}; idle power and efficiency: {data_sheet(model.id)}",
        )
        return [output, power]

    return explain


def _current(duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        steps, factor = _input(duty)(of), _model(of).power_factor
        current = Step(
            f"Current of {of.id} {WORDS[duty]}",
            "I = P/(V · power factor)",
            f"{steps[-1].result} / ({reading(of.voltage, 'V')} · {number(factor)})",
            mains.input_current(final(steps), of.voltage, factor),
            "A",
            CURRENT,
        )
        return [*steps, current]

    return explain


def _heat(of: Subject) -> list[Step]:
    steps = _input("programme")(of)
    output, power = steps
    share = _duty(of, "programme")
    heat = Step(
        f"Heat of {of.id} at programme",
        "input power − duty · output: what doesn't go to the speaker lines",
        f"{power.result} − {number(share, 4)} · {output.result}",
        power.value - share * output.value,
        "W",
        "conservation of energy",
    )
    return [*steps, heat]


def _inrush(of: Subject) -> list[Step]:
    model = _model(of)
    words = f"Inrush of {of.id}"
    return [Step(words, "as stated", f"{model.inrush}", model.inrush.value, "A", data_sheet(model.id))]


# --- several amplifiers together ----------------------------------------------------------------------


def _added(of: Subject, names: Iterable[str], explain: Explainer, what: str, unit: str) -> list[Step]:
    """What some amplifiers come to together, each told by its last step."""
    each = [(name, explain(of._replace(id=name))[-1]) for name in names]
    total = _sum(what, [(name, step.value) for name, step in each], unit)
    return [*(step for _, step in each), total]


def _in_btu(steps: list[Step]) -> list[Step]:
    heat = steps[-1]
    btu = Step(
        "The same in BTU/h", "× 3.412", f"3.412 · {heat.result}", heat.value * BTU_PER_HOUR, "BTU/h", BTU
    )
    return [*steps, btu]


def _dead(of: Subject, circuit: str) -> bool:
    return circuit in of.rig.circuits and not of.rig.circuits[circuit].live


def _on_circuit(of: Subject) -> tuple[str, ...]:
    """The amplifiers that a circuit carries: none once it has failed."""
    result = of.rig.circuits[of.id]
    return result.amplifiers if result.live else ()


def _in_rack(of: Subject) -> tuple[str, ...]:
    return tuple(amplifier.id for amplifier in of.rig.index.racks[of.id].amplifiers)


Members: TypeAlias = Callable[[Subject], tuple[str, ...]]


def _group_current(members: Members, duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        dead = f": {of.id} has failed and carries nothing" if _dead(of, of.id) else ""
        return _added(of, members(of), _current(duty), f"Current {WORDS[duty]}{dead}", "A")

    return explain


def _group_apparent(members: Members, duty: str) -> Explainer:
    what = f"Apparent power {WORDS[duty]}"
    return lambda of: _added(of, members(of), _amplifier_apparent(duty), what, "VA")


def _group_heat(members: Members) -> Explainer:
    return lambda of: _added(of, members(of), _heat, "Heat at programme", "W")


def _btu(heat: Explainer) -> Explainer:
    return lambda of: _in_btu(heat(of))


def _demand(members: Members) -> dict[str, Explainer]:
    heat = _group_heat(members)
    currents = {f"{duty}_current": _group_current(members, duty) for duty in WORDS}
    return {**currents, "heat": heat, "heat_btu": _btu(heat)}


# --- a circuit ----------------------------------------------------------------------------------------


def _circuit(of: Subject) -> Circuit:
    return of.rig.index.circuits[of.id]


def _breaker(of: Subject) -> list[Step]:
    breaker = _circuit(of).breaker
    return [Step("Rated current of the breaker", "as stated", f"{breaker}", breaker.value, "A", RIG)]


def _loading(duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        steps, breaker = _group_current(_on_circuit, duty)(of), _circuit(of).breaker
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
        current = _group_current(_on_circuit, duty)(of)[-1]
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
    return _added(of, _on_circuit(of), _inrush, "Inrush, all switched on together", "A")


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


# --- a rack -------------------------------------------------------------------------------------------


def _stated_sum(what: str, stated: Callable[[AmplifierModel], float], unit: str) -> Explainer:
    """A sum over a rack of what the data sheets of its amplifiers state."""

    def explain(of: Subject) -> list[Step]:
        parts = [(name, stated(_model(of._replace(id=name)))) for name in _in_rack(of)]
        return [_sum(what, parts, unit)._replace(source="data sheets of its amplifiers")]

    return explain


def _rack_units(of: Subject) -> list[Step]:
    height = of.rig.index.racks[of.id].height
    return [Step("Height of the rack", "as stated", f"{height}", float(height), "", RIG)]


# --- phases and the whole supply ----------------------------------------------------------------------


def _phase_current(duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        on = [c.id for c in of.rig.index.circuits.values() if c.phase == of.id]
        parts = [(c, _group_current(_on_circuit, duty)(of._replace(id=c))[-1].value) for c in on]
        return [_sum(f"Current of {of.id} {WORDS[duty]}", parts, "A")]

    return explain


def _phase_apparent(duty: str) -> Explainer:
    return lambda of: _apparent(of, _phase_current(duty)(of), duty)


def _apparent(of: Subject, steps: list[Step], duty: str) -> list[Step]:
    apparent = Step(
        f"Apparent power of {of.id} {WORDS[duty]}",
        "S = V·I",
        f"{reading(of.voltage, 'V')} · {steps[-1].result}",
        of.voltage * final(steps),
        "VA",
        "definition of apparent power",
    )
    return [*steps, apparent]


def _whole(of: Subject, explain: Explainer, what: str, unit: str) -> Step:
    """A sum over the whole rig, put down by circuit."""
    groups: dict[str, list[str]] = {circuit: [] for circuit in of.rig.index.circuits}
    for name, amplifier in of.rig.index.amplifiers.items():
        groups.setdefault(amplifier.circuit, []).append(name)
    parts = [
        (
            f"{circuit}, failed:" if _dead(of, circuit) else circuit or "on no circuit",
            sum([final(explain(of._replace(id=name))) for name in names]),
        )
        for circuit, names in groups.items()
        if names
    ]
    return _sum(what, parts, unit)


def _whole_current(duty: str) -> Explainer:
    return lambda of: [_whole(of, _current(duty), f"Current of the whole rig {WORDS[duty]}", "A")]


def _whole_heat(of: Subject) -> list[Step]:
    return [_whole(of, _heat, "Heat of the whole rig at programme", "W")]


def _amplifier_apparent(duty: str) -> Explainer:
    return lambda of: _apparent(of, _current(duty)(of), duty)


def _whole_apparent(duty: str) -> Explainer:
    what = f"Apparent power of the whole rig {WORDS[duty]}"
    return lambda of: [_whole(of, _amplifier_apparent(duty), what, "VA")]


def _phases(of: Subject, duty: str) -> list[Step]:
    """The current of each phase; one that nothing hangs on carries none."""
    return [_phase_current(duty)(of._replace(id=name))[-1] for name in PHASES]


def _named(phases: list[Step], unit: str = "A", sign: str = ", ") -> str:
    return terms(zip(PHASES, [step.value for step in phases], strict=True), unit, sign)


def _imbalance(of: Subject) -> list[Step]:
    phases = _phases(of, "programme")
    share = Step(
        "Imbalance of the phases at programme",
        "largest |I − mean| / mean",
        f"{_named(phases)}; mean {reading(sum([p.value for p in phases]) / 3, 'A')}",
        mains.imbalance([p.value for p in phases]),
        "ratio",
        "as NEMA MG 1 defines it for voltages, from memory",
    )
    return [*phases, share]


def _neutral(of: Subject) -> list[Step]:
    """Corrected loads cancel as phasors do; the pulses of uncorrected ones add up by their squares."""
    phases = _phases(of, "programme")
    uncorrected = [_uncorrected(of, name) for name in PHASES]
    pulsed = [step.value for step in uncorrected]
    smooth = [max(phase.value - pulse, 0.0) for phase, pulse in zip(phases, pulsed, strict=True)]
    neutral = Step(
        "Neutral current at programme, at most",
        "min(√ΣT², |C1 + C2∠−120° + C3∠120°| + √ΣU²), T all, U uncorrected, C = T − U",
        f"T {_named(phases)}; U {_named(uncorrected)}",
        mains.neutral_current(smooth, pulsed),
        "A",
        f"sum of phasors; pulses of different phases don't cancel: {COMMON}",
    )
    return [*phases, *uncorrected, neutral]


def _uncorrected(of: Subject, phase: Phase) -> Step:
    """The current of a phase's amplifiers without power-factor correction."""
    on = mains.uncorrected_on(phase, of.rig.amplifiers, of.rig.circuits)
    currents = [(a.id, final(_current("programme")(of._replace(id=a.id)))) for a in on]
    return _sum(
        f"Amplifiers on {phase} with a power factor under {mains.CORRECTED:g}, at programme", currents, "A"
    )._replace(source=f"no power-factor correction under that: {COMMON}")


def _generator(of: Subject) -> list[Step]:
    rating = of.rig.index.rig.supply.generator
    return (
        [Step("Rating of the generator", "as stated", f"{rating}", rating.value, "VA", RIG)] if rating else []
    )


def _generator_loading(duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        whole = _whole_apparent(duty)(of)[-1]
        three = of.rig.supply.phases == 3
        phases = _phases(of, duty) if three else []
        fullest = max([step.value for step in phases], default=0.0)
        steps = [whole, *phases]
        if three:
            steps += [
                Step(
                    f"Load on the generator {WORDS[duty]}, as if all phases were like the most loaded",
                    "max(S of all, 3 · V · I of the most loaded phase)",
                    f"max({whole.result}, 3 · {reading(of.voltage, 'V')} · {reading(fullest, 'A')})",
                    max(whole.value, 3 * of.voltage * fullest),
                    "VA",
                    f"a phase carries a third of the rating: {COMMON}",
                )
            ]
        load, rating = steps[-1], _generator(of)[-1]
        share = Step(
            f"Loading of the generator {WORDS[duty]}",
            "S / rating",
            f"{load.result} / {rating.result}",
            load.value / rating.value,
            "ratio",
            "a ratio",
        )
        return [*steps, rating, share]

    return explain


def _dip(of: Subject) -> list[Step]:
    steps, share = _generator_loading("programme")(of), of.rig.index.rig.supply.generator_dip
    dip = Step(
        "Fall of the generator's voltage at programme",
        "dip at its rating × loading",
        f"{number(100 * share)} % · {number(final(steps))}",
        100 * share * final(steps),
        "%",
        f"dip at its rating: {stated(share, Supply().generator_dip)}; in proportion to the load: {COMMON}",
    )
    return [*steps, dip]


# --- touch --------------------------------------------------------------------------------------------


def touch_voltage(of: Subject) -> list[Step]:
    """The worst voltage at a channel's terminals, or on a socket's or cabinet's exposed contacts."""
    result = of.rig.touch[of.id]
    branch = of.rig.branches[result.channel]
    nothing_connected = open_voltage(Part(branch, of.rig.index.rig.supply.ambient.value))
    points = branch.output.points
    rated = Step(
        f"Highest rated voltage of {branch.id}" + (", bridged" if branch.mode == "bridged" else ""),
        "V = √(P·Z), the largest",
        ", ".join(f"{reading(p.voltage, 'V')} at {reading(p.load, 'Ω')}" for p in points),
        max([p.voltage for p in points]),
        "V",
        ratings_source(branch),
    )
    worst = max(final(nothing_connected), rated.value)
    level = touch.touch_class(worst)
    reach = "a finger reaches it" if result.exposed else "shrouded: out of reach"
    stands = Step(
        f"Highest voltage at {of.id}: class {level}, {touch.SPANS[level]}; {reach}",
        "the larger of the two",
        f"{nothing_connected[-1].result}, {rated.result}",
        worst,
        "V",
        touch.SOURCE,
    )
    return [*nothing_connected, rated, stands]


AMPLIFIER: Mapping[str, Explainer] = {
    **{f"{duty}_current": _current(duty) for duty in WORDS},
    "programme_power": _input("programme"),
    "heavy_power": _input("heavy"),
    "inrush": _inrush,
    "heat": _heat,
}
CIRCUIT: Mapping[str, Explainer] = {
    **_demand(_on_circuit),
    "breaker": _breaker,
    "loading": _loading("programme"),
    "loading_heavy": _loading("heavy"),
    "drop": _drop("programme"),
    "drop_heavy": _drop("heavy"),
    "inrush": _group_inrush,
    "inrush_limit": _inrush_limit,
}
RACK: Mapping[str, Explainer] = {
    **_demand(_in_rack),
    "apparent": _group_apparent(_in_rack, "programme"),
    "apparent_heavy": _group_apparent(_in_rack, "heavy"),
    "weight": _stated_sum("Weight of its amplifiers", lambda model: model.weight.value, "kg"),
    "units_used": _stated_sum("Units its amplifiers take", lambda model: float(model.height), ""),
    "units": _rack_units,
}
PHASE: Mapping[str, Explainer] = {
    **{f"{duty}_current": _phase_current(duty) for duty in WORDS},
    "apparent": _phase_apparent("programme"),
    "apparent_heavy": _phase_apparent("heavy"),
}
SUPPLY: Mapping[str, Explainer] = {
    **{f"{duty}_current": _whole_current(duty) for duty in WORDS},
    "apparent": _whole_apparent("programme"),
    "apparent_heavy": _whole_apparent("heavy"),
    "generator": _generator,
    "generator_loading": _generator_loading("programme"),
    "generator_loading_heavy": _generator_loading("heavy"),
    "dip": _dip,
    "imbalance": _imbalance,
    "neutral": _neutral,
    "heat": _whole_heat,
    "heat_btu": _btu(_whole_heat),
}
