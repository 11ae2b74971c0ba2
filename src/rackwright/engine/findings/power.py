"""Judgements on the mains: circuits, feeds, phases, generator."""

import functools
import math
from collections.abc import Iterator, Sequence

from rackwright.engine import limits, mains, outage
from rackwright.engine.demand import SUPPLY, CircuitResult
from rackwright.engine.finding import WHERE, WHICH, Finding, Limit, Severity
from rackwright.engine.findings.registry import Survey, judges_rig
from rackwright.model.mains import PHASES
from rackwright.units import reading, told_apart
from rackwright.units.wording import listed

# --- circuits -----------------------------------------------------------------------------------------


@judges_rig
def circuit_loading(survey: Survey) -> Iterator[Finding]:
    """A circuit against its breaker, at programme and then driven hard: the gravest is told."""
    rules = survey.index.rig.supply.rules
    stop, near, heavy = limits.loading_stop(rules), limits.loading_near(rules), limits.loading_heavy()
    roomiest = functools.cache(functools.partial(mains.roomiest, survey.mains))
    well, just = mains.Bounds(near.value, heavy.value), mains.Bounds(stop.value, math.inf)

    def move_off(circuit: CircuitResult, limit: float, duty: mains.Duty, *bounds: mains.Bounds) -> str:
        """The first move that some bounds allow: the other end is well within its limits, or else just within."""
        others, amplifiers = roomiest(limit, duty), survey.mains.amplifiers
        moves = (mains.relief(circuit, others, amplifiers, each, duty, survey.takes) for each in bounds)
        return _move(circuit, next(filter(None, moves), None), limit, duty)

    for circuit in survey.mains.circuits.values():
        if stop.broken_by(circuit.loading):
            yield _overloaded(survey, circuit, stop, move_off(circuit, stop.value, "programme", well, just))
        elif near.broken_by(circuit.loading):
            yield _near(survey, circuit, near, move_off(circuit, near.value, "programme", well))
        elif heavy.broken_by(circuit.loading_heavy):
            yield _heavy(survey, circuit, heavy, move_off(circuit, heavy.value, "heavy", well))


def _overloaded(survey: Survey, circuit: CircuitResult, limit: Limit, advice: str) -> Finding:
    breaker = reading(circuit.breaker, "A")
    told, most = told_apart(circuit.programme_current, limit.value * circuit.breaker, "A")
    bound = (
        f"the {breaker} of its breaker"
        if limit.value == 1
        else f"{most}, {percent(limit.value)} of its {breaker} breaker for three hours or more ({limit.why})"
    )
    programme, heavy = _endured(survey, circuit, circuit.programme_current), _hard(survey, circuit)
    lasts = f": it {programme.words}" if circuit.loading > 1 else ""
    return Finding(
        "circuit-overloaded",
        "stop",
        circuit.id,
        f"Programme current {told} on {circuit.id} is over {bound}{lasts}; {heavy}.",
        advice,
        circuit.loading,
        limit,
    )


def _near(survey: Survey, circuit: CircuitResult, limit: Limit, advice: str) -> Finding:
    told, most = told_apart(circuit.programme_current, limit.value * circuit.breaker, "A")
    return Finding(
        "circuit-near-limit",
        "warn",
        circuit.id,
        f"Programme current {told} on {circuit.id} is over {most}, {percent(limit.value)} of its "
        f"{reading(circuit.breaker, 'A')} breaker; {_hard(survey, circuit)}.",
        advice,
        circuit.loading,
        limit,
    )


def _heavy(survey: Survey, circuit: CircuitResult, limit: Limit, advice: str) -> Finding:
    """A warning where the breaker is sure to trip in the end, a note where it may hold."""
    endured = _endured(survey, circuit, circuit.heavy_current)
    return Finding(
        "circuit-heavy-overload",
        "warn" if math.isfinite(endured.longest) else "note",
        circuit.id,
        f"{circuit.id} carries {reading(circuit.programme_current, 'A')} of its {reading(circuit.breaker, 'A')} "
        f"at programme; {_hard(survey, circuit)}.",
        f"{advice} Or don't drive it hard for long.",
        circuit.loading_heavy,
        limit,
    )


def _hard(survey: Survey, circuit: CircuitResult) -> str:
    return driven_hard(survey, circuit.heavy_current, _endured(survey, circuit, circuit.heavy_current))


def driven_hard(survey: Survey, current: float, endured: mains.Endurance) -> str:
    """How long a breaker carries what flows (A) driven hard, with the standard that says so."""
    source = mains.breaker_source(survey.index.rig.supply.rules)
    return f"driven hard, at {reading(current, 'A')}, it {endured.words} ({source})"


def _endured(survey: Survey, circuit: CircuitResult, current: float) -> mains.Endurance:
    curve = survey.index.circuits[circuit.id].curve
    return mains.endurance(current, circuit.breaker, curve, survey.index.rig.supply.rules)


def _move(circuit: CircuitResult, move: mains.Relief | None, limit: float, duty: mains.Duty) -> str:
    if move is None:
        return (
            "Ask for another circuit: no other has room for any of its amplifiers."
            if circuit.amplifiers
            else f"Unplug what can be spared of {listed(list(circuit.loads))}, or ask for another circuit."
        )
    after = f"{move.to} then carries {percent(move.there)} of its breaker, {circuit.id} {percent(move.left)}"
    hard = " driven hard" if duty == "heavy" else ""
    more = (
        ""
        if move.left <= limit
        else f" {circuit.id} is still over then: move more, or rearrange the whole rig."
    )
    return f"Move {move.amplifier} to {move.to}: {after}{hard}.{more}"


def percent(share: float) -> str:
    return f"{100 * share:.3g} %" if share < 10 else f"{100 * share:.0f} %"


@judges_rig
def circuit_failed(survey: Survey) -> Iterator[Finding]:
    """A circuit without power, and what its amplifiers take elsewhere: a stop where cabinets are silent for it."""
    for circuit in survey.mains.circuits.values():
        if circuit.live or _outage(survey, circuit) in survey.index.boards:
            continue
        if not circuit.amplifiers:
            yield Finding(
                "circuit-failed",
                "note",
                circuit.id,
                f"{circuit.id} has failed; nothing is plugged into it.",
                "Plug nothing into it until it is repaired.",
            )
            continue
        severity, message = without_power(survey, circuit.id, circuit.amplifiers)
        until = f" Until then {WHERE}." if severity == "stop" else ""
        yield Finding(
            "circuit-failed",
            severity,
            circuit.id,
            message,
            f"Find out why before anyone resets it, and switch its amplifiers off first.{until}",
        )


def without_power(survey: Survey, at: str, amplifiers: Sequence[str]) -> tuple[Severity, str]:
    """What amplifiers without power take along and would take elsewhere: a stop where cabinets are silent for it."""
    among = set(amplifiers)
    silent = {
        section.cabinet
        for branch in survey.branches.values()
        if branch.amplifier.id in among
        for section in branch.sections
    }
    are = (
        f", and {len(silent)} cabinet{' is' if len(silent) == 1 else 's are'} silent for it" if silent else ""
    )
    load = mains.whole([survey.mains.amplifiers[name] for name in amplifiers], False)
    return "stop" if silent else "note", (
        f"{at} has failed: {listed(amplifiers)} {'has' if len(amplifiers) == 1 else 'have'} no power{are}. "
        f"Plugged in elsewhere, {reading(load['apparent'], 'VA')} at programme, "
        f"{reading(load['apparent_heavy'], 'VA')} driven hard."
    )


def _outage(survey: Survey, circuit: CircuitResult) -> str:
    """What a dead circuit is dead for."""
    found = outage.of_circuit(survey.index, survey.index.circuits[circuit.id])
    return found.at if found else ""


@judges_rig
def supply_cable_drop(survey: Survey) -> Iterator[Finding]:
    supply = survey.index.rig.supply
    for circuit in survey.mains.circuits.values():
        board = survey.mains.boards.get(circuit.board)
        in_all = board is not None and board.drop is not None
        limit = limits.drop(supply, board)
        if circuit.drop is None or circuit.drop_heavy is None or not limit.broken_by(circuit.drop_heavy):
            continue
        if board and board.drop_heavy is not None and limit.broken_by(board.drop_heavy):
            continue
        at_programme = limit.broken_by(circuit.drop)
        when, drop = ("At programme", circuit.drop) if at_programme else ("Driven hard", circuit.drop_heavy)
        cables = (
            f"supply cables from the origin to the end of {circuit.id} take"
            if in_all
            else f"the supply cable of {circuit.id} takes"
        )
        branch = "advised in all" if in_all else "advised for a branch, 5 % in all"
        whole = branch if supply.rules == "us" else "accepted"
        told, most = told_apart(drop, limit.value, "%")
        yield Finding(
            "feed-drop",
            "warn" if at_programme else "note",
            circuit.id,
            f"{when} {cables} {told}, over the {most} {whole} ({limit.why}).",
            "Use a larger or shorter supply cable, or move an amplifier to another circuit.",
            drop,
            limit,
        )


@judges_rig
def inrush_over_band(survey: Survey) -> Iterator[Finding]:
    for circuit in survey.mains.circuits.values():
        limit = limits.inrush(circuit)
        if limit is None or not limit.broken_by(circuit.inrush):
            continue
        sequence = mains.switch_on(circuit, survey.mains.amplifiers)
        starting = [*circuit.amplifiers, *(name for name in circuit.loads if survey.mains.loads[name].inrush)]
        curve = survey.index.circuits[circuit.id].curve
        told, most = told_apart(circuit.inrush, limit.value, "A")
        yield Finding(
            "inrush-over-band",
            "warn" if limit.broken_by(circuit.known_inrush) else "note",
            circuit.id,
            f"Inrush of {listed(starting)} together, {told} rms, is over the "
            f"{most} at which a {reading(circuit.breaker, 'A')} {curve} breaker "
            f"may trip at once ({mains.breaker_source('iec')}).",
            _switch_on_words(sequence),
            circuit.inrush,
            limit,
        )


def _switch_on_words(sequence: mains.SwitchOn) -> str:
    groups = [listed(list(group)) for group in sequence.groups]
    steps = f"Switch on {', then '.join(groups)}, some seconds apart." if groups else ""
    if not sequence.over:
        return steps
    verb = "exceeds" if len(sequence.over) == 1 else "each exceed"
    return (
        f"{steps} {listed(list(sequence.over))} {verb} it alone: ask for a circuit that carries it.".strip()
    )


@judges_rig
def amplifier_without_circuit(survey: Survey) -> Iterator[Finding]:
    circuits, amplifiers = survey.mains.circuits, survey.mains.amplifiers
    if not circuits:
        if amplifiers:
            yield Finding(
                "no-circuits",
                "note",
                SUPPLY,
                f"No circuits are listed: {reading(survey.mains.supply.apparent, 'VA')} at programme "
                "are checked against no breaker.",
                "List the circuits at the venue, and say which amplifier is on which.",
            )
        return
    near = limits.loading_near(survey.index.rig.supply.rules).value
    well = mains.Bounds(near, limits.loading_heavy().value)
    roomiest = mains.roomiest(survey.mains, near, "programme")
    for amplifier in amplifiers.values():
        if amplifier.circuit:
            continue
        having = (circuit for circuit in roomiest if well.allow(circuit, amplifier))
        room = next((circuit for circuit in having if survey.takes(circuit.id, amplifier.id)), None)
        yield Finding(
            "amplifier-without-circuit",
            "warn",
            amplifier.id,
            f"{amplifier.id} is on no circuit; it draws {reading(amplifier.programme_current, 'A')} at programme.",
            f"Put it on one: {room.id} has room, {reading(room.breaker - room.programme_current, 'A')}."
            if room
            else "Ask for another circuit: none that has power has room for it.",
        )


@judges_rig
def circuit_empty(survey: Survey) -> Iterator[Finding]:
    for circuit in survey.mains.circuits.values():
        if circuit.live and not circuit.amplifiers and not circuit.loads:
            yield Finding(
                "circuit-empty",
                "note",
                circuit.id,
                f"{circuit.id} has nothing on it: {reading(circuit.breaker, 'A')} to spare.",
                "Plug nothing into it before its supply cable is as it should be."
                if circuit.id in survey.barred
                else "Use it for a circuit that is nearly full, or remove it from the rig.",
            )


# --- phases and generator -----------------------------------------------------------------------------


@judges_rig
def phases_uneven(survey: Survey) -> Iterator[Finding]:
    supply, phases = survey.mains.supply, survey.mains.phases
    if not supply.imbalance:
        return
    largest = max(circuit.breaker for circuit in survey.mains.circuits.values())
    names = PHASES[: supply.phases]
    currents = {name: phases[name].programme_current if name in phases else 0.0 for name in names}
    limit = limits.imbalance(sum(currents.values()) / len(names), largest)
    if not limit.broken_by(supply.imbalance):
        return
    told, most = told_apart(supply.imbalance, limit.value, "ratio")
    shown = ", ".join(f"{name} {reading(current, 'A')}" for name, current in currents.items())
    yield Finding(
        "phases-uneven",
        "note" if supply.generator is None else "warn",
        SUPPLY,
        f"Phases are uneven by {told} at programme, over the {most} accepted: {shown}; "
        f"the neutral carries up to {reading(supply.neutral, 'A')}.",
        f"Move amplifiers from the most loaded phase to the least loaded; {WHICH}.",
        supply.imbalance,
        limit,
    )


@judges_rig
def neutral_harmonics(survey: Survey) -> Iterator[Finding]:
    """The neutral may carry more than any phase, which only uncorrected power supplies bring about."""
    supply = survey.mains.supply
    fullest = max([phase.programme_current for phase in survey.mains.phases.values()], default=0.0)
    limit = limits.neutral(fullest)
    if supply.neutral is None or supply.neutral_rating or not limit.broken_by(supply.neutral):
        return
    yield Finding(
        "neutral-harmonics",
        "note",
        SUPPLY,
        f"The neutral carries up to {reading(supply.neutral, 'A')} at programme, "
        f"{reading(supply.neutral_heavy, 'A')} driven hard, more than the {reading(fullest, 'A')} of the most loaded phase: "
        "pulses of power supplies without power-factor correction don't cancel in it (common practice, no source).",
        "Use a supply cable with a neutral rated for that, and let a licensed electrician check it.",
        supply.neutral,
        limit,
    )


@judges_rig
def generator_loading(survey: Survey) -> Iterator[Finding]:
    supply = survey.mains.supply
    power = supply.generator_power
    real, real_heavy = supply.generator_real_loading, supply.generator_real_loading_heavy
    loading, heavy = supply.generator_loading, supply.generator_loading_heavy
    if power is None or loading is None or heavy is None or real is None or real_heavy is None:
        return
    of_power = max(real, real_heavy) > max(loading, heavy)
    if of_power:
        loading, heavy = real, real_heavy
    near, full = limits.generator_near(), limits.generator_full()
    if not near.broken_by(loading) and not full.broken_by(heavy):
        return
    over = full.broken_by(loading)
    limit = near if near.broken_by(loading) and not over else full
    programme, hard = (told_apart(each, limit.value, "ratio")[0] for each in (loading, heavy))
    takes, of = {
        1: ("that is", "the"),
        2: ("its most loaded leg takes", "its half of the"),
        3: ("its most loaded phase takes", "its third of the"),
    }[supply.phases]
    capacity = reading(supply.generator, "VA")
    if of_power:
        factor = survey.index.rig.supply.generator_power_factor
        capacity = f"{reading(power / 1000, 'kW')} (power factor {factor:g})"
    dip = (
        " Its voltage is not known."
        if supply.dip is None
        else f" Its voltage falls by about {supply.dip:.2g} % at programme, "
        + ("driven hard not known." if supply.dip_heavy is None else f"{supply.dip_heavy:.2g} % driven hard.")
    )
    yield Finding(
        "generator-overloaded" if over else "generator-near-limit",
        "stop" if over else "warn",
        SUPPLY,
        f"The generator carries {reading(supply.apparent, 'VA')} at programme, "
        f"{reading(supply.apparent_heavy, 'VA')} driven hard: {takes} {programme} and {hard} "
        f"of {of} {capacity} rating, over {percent(limit.value)}.{dip}",
        "Use a larger generator, even the phases, or switch off amplifiers that can be spared.",
        loading if near.broken_by(loading) else heavy,
        limit,
    )


@judges_rig
def supply_voltage_low(survey: Survey) -> Iterator[Finding]:
    """The generator's dip and the feed's drop together, driven hard.

    Past the rating the dip is not known: what it is at the rating is the least of it.
    """
    loading, known = survey.mains.supply.generator_loading_heavy, survey.mains.supply.dip_heavy
    if loading is None:
        return
    limit = limits.lowest_voltage()
    dip = 100 * survey.index.rig.supply.generator_dip if known is None else known
    past, most, least = (" past its rating", " at best", "at least ") if known is None else ("", "", "")
    for circuit in survey.mains.circuits.values():
        lost = dip + (circuit.drop_heavy or 0.0)
        if not circuit.live or not circuit.amplifiers or not limit.broken_by(lost):
            continue
        nominal = survey.index.rig.supply.voltage
        left = nominal.value * (1 - lost / 100)
        told, over = told_apart(lost, limit.value, "%")
        yield Finding(
            "supply-voltage-low",
            "warn",
            circuit.id,
            f"Driven hard, generator{past} and supply cable leave {reading(left, 'V')} of {nominal}{most} at the end of "
            f"{circuit.id}, {least}{told} under, over the {over} accepted ({limit.why}).",
            "Use a larger generator, or a larger or shorter supply cable.",
            lost,
            limit,
        )
