"""The workings of the phases, the neutral, the generator and the whole rig."""

from collections.abc import Mapping

from rackwright.engine import mains
from rackwright.engine.workings.amplifier import (
    WORDS,
    Explainer,
    Subject,
    amplifier_apparent,
    apparent_of,
    btu_of,
    current_of,
    group_current,
    heat_of,
    is_dead,
    sum_of,
)
from rackwright.engine.workings.circuit import on_circuit
from rackwright.engine.workings.steps import COMMON, RIG, Step, final, stated, terms
from rackwright.model.mains import PHASES, Phase, Supply, phases_of
from rackwright.units import figure as number
from rackwright.units import reading


def _phase_current(duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        on = [c.id for c in of.rig.index.circuits.values() if of.id in phases_of(c.phase)]
        parts = [(c, group_current(on_circuit, duty)(of._replace(id=c))[-1].value) for c in on]
        return [sum_of(f"Current of {of.id} {WORDS[duty]}", parts, "A")]

    return explain


def _phase_apparent(duty: str) -> Explainer:
    return lambda of: apparent_of(of, _phase_current(duty)(of), duty)


def _whole(of: Subject, explain: Explainer, what: str, unit: str) -> Step:
    """A sum over the whole rig, put down by circuit."""
    groups: dict[str, list[str]] = {circuit: [] for circuit in of.rig.index.circuits}
    for name, amplifier in of.rig.index.amplifiers.items():
        groups.setdefault(amplifier.circuit, []).append(name)
    parts = [
        (
            f"{circuit}, failed:" if is_dead(of, circuit) else circuit or "on no circuit",
            sum([final(explain(of._replace(id=name))) for name in names]),
        )
        for circuit, names in groups.items()
        if names
    ]
    return sum_of(what, parts, unit)


def _whole_current(duty: str) -> Explainer:
    return lambda of: [_whole(of, current_of(duty), f"Current of the whole rig {WORDS[duty]}", "A")]


def _whole_heat(of: Subject) -> list[Step]:
    return [_whole(of, heat_of, "Heat of the whole rig at programme", "W")]


def _whole_apparent(duty: str) -> Explainer:
    what = f"Apparent power of the whole rig {WORDS[duty]}"
    return lambda of: [_whole(of, amplifier_apparent(duty), what, "VA")]


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
    currents = [(a.id, final(current_of("programme")(of._replace(id=a.id)))) for a in on]
    return sum_of(
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
    "heat_btu": btu_of(_whole_heat),
}
