"""The workings of the points of the mains tree where circuits meet: supply, phases, boards; of neutral, generator, RCD."""

from collections.abc import Mapping, Sequence

from rackwright.engine import mains
from rackwright.engine.limits import COMMON
from rackwright.engine.workings import drop
from rackwright.engine.workings.amplifier import (
    WORDS,
    Explainer,
    Subject,
    band_of,
    btu_of,
    current_of,
    group_current,
    heat_of,
    inrush_of,
    is_dead,
    on_circuit,
    plugged_apparent,
    power_in,
    sum_of,
)
from rackwright.engine.workings.steps import (
    ADDED,
    ARITHMETIC,
    RIG,
    Step,
    final,
    number,
    operand,
    stated,
    terms,
)
from rackwright.model.mains import PHASES, Board, Phase, Supply


def _point(of: Subject) -> tuple[Sequence[str], Sequence[Phase], str]:
    """The circuits that meet in a board or the supply, the phases there, and how it is said."""
    if board := of.rig.boards.get(of.id):
        return board.circuits, board.phases, f" in {board.id}"
    count = of.rig.supply.phases
    return tuple(of.rig.circuits), PHASES if count == 3 else of.rig.index.supply_phases, ""


# --- currents -----------------------------------------------------------------------------------------


def _line(of: Subject, phase: Phase, duty: str) -> Step:
    """The current of a phase in a point: of what hangs to neutral, and at 30° to it of what hangs line to line."""
    circuits, _, where = _point(of)
    results = [result for name in circuits if phase in (result := of.rig.circuits[name]).phases]
    parts = [(c.id, final(group_current(on_circuit, duty)(of._replace(id=c.id)))) for c in results]
    what = f"Current of {phase}{where} {WORDS[duty]}"
    if all(len(c.phases) != 2 for c in results):
        return sum_of(what, parts, "A")
    return Step(
        what,
        "|Σ I to neutral + Σ I∠±30° line to line|"
        if of.rig.supply.phases == 3
        else f"{ADDED}, what hangs across both legs in each",
        terms(parts, "A"),
        _flow(of, circuits, duty).lines[PHASES.index(phase)],
        "A",
        "a sum of phasors, each along the voltage of its phase",
    )


def _flow(of: Subject, circuits: Sequence[str], duty: str) -> mains.Flow:
    results = [of.rig.circuits[name] for name in circuits]
    split = of.rig.supply.phases == 2
    return mains.flows_of(results, split)[mains.DUTIES.index(duty)]


def _phases(of: Subject, duty: str) -> list[Step]:
    """The current of each phase; one that nothing hangs on carries none."""
    return [_line(of, phase, duty) for phase in _point(of)[1]]


def _fullest(duty: str) -> Explainer:
    return lambda of: _largest(f"Highest phase {WORDS[duty]}", _phases(of, duty))


def _largest(what: str, phases: list[Step]) -> list[Step]:
    each = ", ".join([step.operand for step in phases])
    most = max([step.value for step in phases])
    return [*phases, Step(what, "max", f"max({each})" if phases[1:] else each, most, "A", ARITHMETIC)]


def _stated(of: Subject) -> Board | Supply:
    """The point as the rig has it."""
    return of.rig.index.boards.get(of.id) or of.rig.index.rig.supply


def _rating(of: Subject) -> list[Step]:
    rating = _stated(of).rating
    return (
        [Step("Rating of its device, per phase", "as stated", f"{rating}", rating.value, "A", RIG)]
        if rating
        else []
    )


def _loading(duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        steps, rating = _fullest(duty)(of), _rating(of)[-1]
        share = Step(
            f"Loading {WORDS[duty]}",
            "I / rating",
            f"{steps[-1].operand} / {rating.operand}",
            final(steps) / rating.value,
            "ratio",
            ARITHMETIC,
        )
        return [*steps, rating, share]

    return explain


def _phase_apparent(duty: str) -> Explainer:
    """Of a phase of the supply: what hangs on several is an even share of each."""

    def explain(of: Subject) -> list[Step]:
        on = [c for c in of.rig.circuits.values() if of.id in c.phases]
        parts = [
            (
                c.id if len(c.phases) == 1 else f"{c.id}, 1/{len(c.phases)} of it,",
                sum(
                    [
                        final(plugged_apparent(duty)(of._replace(id=name)))
                        for name in on_circuit(of._replace(id=c.id))
                    ]
                )
                / len(c.phases),
            )
            for c in on
        ]
        return [sum_of(f"Apparent power of {of.id} {WORDS[duty]}", parts, "VA")]

    return explain


def _phase_current(duty: str) -> Explainer:
    return lambda of: [_line(of._replace(id="supply"), _PHASE_OF[of.id], duty)]


_PHASE_OF = {str(phase): phase for phase in PHASES}


def _inrush(of: Subject) -> list[Step]:
    circuits, phases, _ = _point(of)
    steps = []
    for phase in phases:
        on = [c for name in circuits if phase in (c := of.rig.circuits[name]).phases and c.live]
        parts = [
            (c.id, sum([final(inrush_of(of._replace(id=each))) for each in (*c.amplifiers, *c.loads)]))
            for c in on
        ]
        steps.append(sum_of(f"Inrush on {phase}, all switched on together", parts, "A"))
    return _largest("Inrush on its most loaded phase", steps)


def _inrush_limit(of: Subject) -> list[Step]:
    thing = _stated(of)
    return [band_of(thing.rating, thing.curve)] if thing.rating else []


# --- sums ---------------------------------------------------------------------------------------------


def _whole(of: Subject, explain: Explainer, what: str, unit: str, loads: bool = True) -> Step:
    """A sum over the whole rig, or over what hangs below a board, put down by circuit."""
    board = of.rig.boards.get(of.id)
    groups: dict[str, list[str]] = {circuit: [] for circuit in of.rig.index.circuits}
    things = (*of.rig.amplifiers.values(), *(of.rig.loads.values() if loads else ()))
    for thing in things:
        groups.setdefault(thing.circuit, []).append(thing.id)
    if board:
        groups = {name: groups[name] for name in board.circuits if of.rig.circuits[name].live}
    parts = [
        (
            f"{circuit}, failed:" if is_dead(of, circuit) else circuit or "on no circuit",
            sum([final(explain(of._replace(id=name))) for name in names]),
        )
        for circuit, names in groups.items()
        if names
    ]
    return sum_of(what + (f" below {board.id}" if board else " of the whole rig"), parts, unit)


def _whole_current(duty: str) -> Explainer:
    return lambda of: [_whole(of, current_of(duty), f"Current {WORDS[duty]}", "A")]


def _whole_heat(of: Subject) -> list[Step]:
    return [_whole(of, heat_of, "Heat at programme", "W", loads=False)]


def _whole_apparent(duty: str) -> Explainer:
    return lambda of: [_whole(of, plugged_apparent(duty), f"Apparent power {WORDS[duty]}", "VA")]


def _plugged_power(duty: str) -> Explainer:
    """Real power of an amplifier or of what else hangs on a circuit."""

    def explain(of: Subject) -> list[Step]:
        if load := of.rig.loads.get(of.id):
            return [Step(f"Power of {of.id}", "as stated", "", load.programme_power, "W", RIG)]
        return power_in(duty)(of)

    return explain


def _real_power(of: Subject, duty: str) -> Step:
    return _whole(of, _plugged_power(duty), f"Real power {WORDS[duty]}", "W")


def _real(of: Subject) -> list[Step]:
    power = _real_power(of, "programme")
    return [
        power,
        Step("The same in kW", "P", power.operand, power.value / 1000, "kW", ARITHMETIC),
    ]


# --- neutral, imbalance -------------------------------------------------------------------------


def _imbalance(of: Subject) -> list[Step]:
    phases = _phases(of, "programme")
    each = [f"{name} {operand(step.value, 'A', 5)}" for name, step in zip(_point(of)[1], phases, strict=True)]
    share = Step(
        "Imbalance of the phases at programme",
        "largest |I − mean| / mean",
        f"{', '.join(each)}; mean {operand(sum([p.value for p in phases]) / len(phases), 'A', 5)}",
        mains.imbalance([p.value for p in phases]),
        "ratio",
        "as NEMA MG 1 defines it for voltages, from memory",
    )
    return [*phases, share]


def _neutral(duty: str) -> Explainer:
    """Corrected loads cancel as phasors do; the pulses of uncorrected ones add up by their squares."""

    def explain(of: Subject) -> list[Step]:
        circuits, phases, where = _point(of)
        split, flow = of.rig.supply.phases == 2, _flow(of, circuits, duty)
        all_of, pulsed = (
            terms([(p, figures[PHASES.index(p)]) for p in phases], "A", ", ")
            for figures in (flow.to_neutral, flow.uncorrected)
        )
        neutral = Step(
            f"Neutral current{where} {WORDS[duty]}, at most",
            "|C1 − C2| + |U1 − U2|, U uncorrected, C = T − U"
            if split
            else "min(√ΣT², |C1 + C2∠−120° + C3∠120°| + √ΣU²), T all, U uncorrected, C = T − U",
            f"T {all_of}; U {pulsed}",
            flow.neutral(split),
            "A",
            f"sum of phasors; pulses of different phases don't cancel; uncorrected under a power factor of "
            f"{mains.CORRECTED:g}; what hangs line to line adds nothing: {COMMON}",
        )
        return [*_phases(of, duty), neutral]

    return explain


def _neutral_rating(of: Subject) -> list[Step]:
    thing = _stated(of)
    said = thing.neutral or thing.rating
    words = "as stated" if thing.neutral else "as a phase"
    return [Step("Rating of the neutral", words, f"{said}", said.value, "A", RIG)] if said else []


# --- generator ----------------------------------------------------------------------------------------


def _generator(of: Subject) -> list[Step]:
    rating = of.rig.index.rig.supply.generator
    return (
        [Step("Rating of the generator", "as stated", f"{rating}", rating.value, "VA", RIG)] if rating else []
    )


_PART = {2: "half", 3: "a third"}


def _generator_loading(duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        whole = _whole_apparent(duty)(of)[-1]
        count = of.rig.supply.phases
        phases = _phases(of, duty) if count > 1 else []
        fullest = max([step.value for step in phases], default=0.0)
        steps = [whole, *phases]
        if count > 1:
            steps += [
                Step(
                    f"Load on the generator {WORDS[duty]}, as if all phases were like the most loaded",
                    f"max(S of all, {count} · V · I of the most loaded phase)",
                    f"max({whole.operand}, {count} · {operand(of.voltage, 'V')} · {operand(fullest, 'A')})",
                    max(whole.value, count * of.voltage * fullest),
                    "VA",
                    f"a phase carries {_PART[count]} of the rating: {COMMON}",
                )
            ]
        load, rating = steps[-1], _generator(of)[-1]
        share = Step(
            f"Loading of the generator {WORDS[duty]}",
            "S / rating",
            f"{load.operand} / {rating.operand}",
            load.value / rating.value,
            "ratio",
            ARITHMETIC,
        )
        return [*steps, rating, share]

    return explain


def _generator_real_loading(duty: str) -> Explainer:
    def explain(of: Subject) -> list[Step]:
        supply, steps = of.rig.index.rig.supply, [_real_power(of, duty)]
        factor = supply.generator_power_factor
        rated = _generator(of)[-1]
        kilowatts = Step(
            "Real power that the generator is rated for",
            "rating · power factor",
            f"{rated.operand} · {number(factor)}",
            rated.value * factor,
            "W",
            stated(factor, Supply().generator_power_factor),
        )
        count = of.rig.supply.phases
        load = final(steps)
        if count > 1:
            fullest = max([getattr(phase, f"{duty}_power") for phase in of.rig.phases.values()], default=0.0)
            load = max(load, count * fullest)
            steps += [
                Step(
                    f"Real power {WORDS[duty]}, as if all phases were like the most loaded",
                    f"max(P of all, {count} · P of the most loaded phase)",
                    f"max({steps[-1].operand}, {count} · {operand(fullest, 'W')})",
                    load,
                    "W",
                    f"a phase carries {_PART[count]} of the rating: {COMMON}",
                )
            ]
        share = Step(
            f"Real power {WORDS[duty]} as a share of what the generator is rated for",
            "P / rated P",
            f"{operand(load, 'W')} / {kilowatts.operand}",
            load / kilowatts.value,
            "ratio",
            ARITHMETIC,
        )
        return [*steps, rated, kilowatts, share]

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
_MEETING: Mapping[str, Explainer] = {
    **{f"{duty}_current": _whole_current(duty) for duty in WORDS},
    "fullest": _fullest("programme"),
    "fullest_heavy": _fullest("heavy"),
    "rating": _rating,
    "loading": _loading("programme"),
    "loading_heavy": _loading("heavy"),
    "inrush": _inrush,
    "inrush_limit": _inrush_limit,
    "neutral": _neutral("programme"),
    "neutral_heavy": _neutral("heavy"),
    "neutral_rating": _neutral_rating,
    "apparent": _whole_apparent("programme"),
    "apparent_heavy": _whole_apparent("heavy"),
    "real": _real,
}
SUPPLY: Mapping[str, Explainer] = {
    **_MEETING,
    "generator": _generator,
    "generator_loading": _generator_loading("programme"),
    "generator_loading_heavy": _generator_loading("heavy"),
    "generator_real_loading": _generator_real_loading("programme"),
    "generator_real_loading_heavy": _generator_real_loading("heavy"),
    "dip": _dip,
    "imbalance": _imbalance,
    "heat": _whole_heat,
    "heat_btu": btu_of(_whole_heat),
}
BOARD: Mapping[str, Explainer] = {
    **_MEETING,
    "drop": drop.of_board("programme"),
    "drop_heavy": drop.of_board("heavy"),
}
