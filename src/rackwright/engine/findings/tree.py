"""Judgements on the mains tree above the circuits: intake and boards, neutrals, RCDs, other loads, what was measured.

One cause, one finding: a board or the intake is reported only where nothing below it explains it, or where it is graver.
"""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from rackwright.engine import limits, mains
from rackwright.engine.circuit_room import volts_at
from rackwright.engine.demand import SUPPLY, BoardResult, CircuitResult, SupplyResult, point_name
from rackwright.engine.finding import IN_ORDER, Finding, Limit, Severity, graver
from rackwright.engine.findings.power import driven_hard, percent, without_power
from rackwright.engine.findings.registry import Survey, judges_rig
from rackwright.engine.mains import Rules
from rackwright.model.mains import Curve
from rackwright.model.rig import Rig
from rackwright.units import reading, told_apart
from rackwright.units.wording import listed

INTAKE = "intake"
"""What the supply is called in the codes of findings on it."""


class _Grade(NamedTuple):
    """How a point stands against its protective device."""

    kind: str
    """The end of the finding's code."""
    severity: Severity
    limit: Limit
    figure: float


def _grade(
    loading: float, loading_heavy: float, rating: float, curve: Curve, rules: Rules, bounds: tuple[Limit, ...]
) -> _Grade | None:
    stop, near, heavy = bounds
    if stop.broken_by(loading):
        return _Grade("overloaded", "stop", stop, loading)
    if near.broken_by(loading):
        return _Grade("near-limit", "warn", near, loading)
    if heavy.broken_by(loading_heavy):
        endured = mains.endurance(loading_heavy * rating, rating, curve, rules)
        severity: Severity = "warn" if math.isfinite(endured.longest) else "note"
        return _Grade("heavy-overload", severity, heavy, loading_heavy)
    return None


@judges_rig
def point_loading(survey: Survey) -> Iterator[Finding]:
    """Boards and the intake against their devices, the gravest of programme and driven hard."""
    index, supply = survey.index, survey.mains.supply
    if not survey.mains.boards and not supply.rating:
        return
    rules = index.rig.supply.rules
    bounds = (limits.loading_stop(rules), limits.loading_near(rules), limits.loading_heavy())
    grades: dict[str, _Grade | None] = {
        c.id: _grade(c.loading, c.loading_heavy, c.breaker, index.circuits[c.id].curve, rules, bounds)
        for c in survey.mains.circuits.values()
    }
    for point in survey.mains.points:
        if point.rating and point.loading is not None and point.loading_heavy is not None:
            grades[_id(point)] = _grade(
                point.loading, point.loading_heavy, point.rating, _curve(survey, point), rules, bounds
            )
    for point in survey.mains.points:
        grade = grades.get(_id(point))
        if grade is None:
            continue
        below = [found for name in _below(survey, point) if (found := grades.get(name))]
        explaining = [g for g in below if grade.kind == "heavy-overload" or g.kind != "heavy-overload"]
        if all(graver(grade.severity, each.severity) for each in explaining):
            yield _loaded(survey, point, grade)


def _id(point: CircuitResult | BoardResult | SupplyResult) -> str:
    return SUPPLY if isinstance(point, SupplyResult) else point.id


def _curve(survey: Survey, point: BoardResult | SupplyResult) -> Curve:
    index = survey.index
    return (index.boards[point.id] if isinstance(point, BoardResult) else index.rig.supply).curve


def _below(survey: Survey, point: BoardResult | SupplyResult) -> list[str]:
    """Everything that a point feeds, boards and circuits."""
    if isinstance(point, SupplyResult):
        return [*survey.mains.boards, *survey.mains.circuits]
    index = survey.index
    boards = [
        name for name, board in index.boards.items() if index.boards[point.id] in index.boards_above(board)
    ]
    return [*boards, *point.circuits]


def _loaded(survey: Survey, point: BoardResult | SupplyResult, grade: _Grade) -> Finding:
    at, rating = _id(point), point.rating or 0.0
    what = point_name(at)
    phase, takers = _most_loaded(survey, point)
    endured = mains.endurance(
        point.fullest_heavy, rating, _curve(survey, point), survey.index.rig.supply.rules
    )
    hard = driven_hard(survey, point.fullest_heavy, endured)
    told, most = told_apart(point.fullest, grade.limit.value * rating, "A")
    bound = (
        f"{most}, {percent(grade.limit.value)} of its {reading(rating, 'A')} device"
        if grade.limit.value < 1
        else f"the {reading(rating, 'A')} of its device"
    )
    programme = f"{phase} of {what} carries {told} at programme"
    message = (
        f"{programme}; {hard}." if grade.kind == "heavy-overload" else f"{programme}, over {bound}; {hard}."
    )
    return Finding(
        f"{'board' if isinstance(point, BoardResult) else INTAKE}-{grade.kind}",
        grade.severity,
        at,
        message[:1].upper() + message[1:],
        f"Unplug what can be spared on {phase}{takers}, or have a licensed electrician feed some of it from elsewhere.",
        grade.figure,
        grade.limit,
    )


def _most_loaded(survey: Survey, point: BoardResult | SupplyResult) -> tuple[str, str]:
    """The phase that carries most at programme, and what takes most of it."""
    if isinstance(point, BoardResult):
        phase = max(point.lines, key=lambda line: line.programme_current).id
        circuits: Sequence[str] = point.circuits
    else:
        phase = max(survey.mains.phases.values(), key=lambda found: found.programme_current).id
        circuits = tuple(survey.mains.circuits)
    on = [c for name in circuits if phase in (c := survey.mains.circuits[name]).phases]
    most: CircuitResult = max(on, key=lambda circuit: circuit.programme_current)
    return phase, f" ({most.id} takes {reading(most.programme_current, 'A')} of it)"


@judges_rig
def point_inrush(survey: Survey) -> Iterator[Finding]:
    """All behind a board or the intake coming on at once, where nothing below it that is as grave explains it."""
    over: dict[str, tuple[Limit, Severity]] = {
        _id(point): (limit, "warn" if limit.broken_by(point.known_inrush) else "note")
        for point in (*survey.mains.points, *survey.mains.circuits.values())
        if (limit := limits.inrush(point)) and limit.broken_by(point.inrush)
    }
    for point in survey.mains.points:
        if _id(point) not in over:
            continue
        limit, severity = over[_id(point)]
        if any(below in over and not graver(severity, over[below][1]) for below in _below(survey, point)):
            continue
        told, most = told_apart(point.inrush, limit.value, "A")
        yield Finding(
            "inrush-over-band",
            severity,
            _id(point),
            f"Inrush of all behind {point_name(_id(point))} together, {told} rms on its most loaded phase, "
            f"is over the {most} at which its {reading(point.rating, 'A')} {_curve(survey, point)} device may trip "
            f"at once ({mains.breaker_source('iec')}).",
            f"Switch on group after group, {IN_ORDER}; after an outage switch all off first.",
            point.inrush,
            limit,
        )


# --- neutral ------------------------------------------------------------------------------------------


@judges_rig
def neutral_overloaded(survey: Survey) -> Iterator[Finding]:
    """A neutral over its rating, which nothing protects: at programme a stop, driven hard a warning."""
    found = {}
    for point in survey.mains.points:
        if point.neutral_rating is None or point.neutral is None or point.neutral_heavy is None:
            continue
        limit = limits.neutral_rating(point.neutral_rating)
        if limit.broken_by(point.neutral_heavy):
            severity: Severity = "stop" if limit.broken_by(point.neutral) else "warn"
            found[_id(point)] = point, severity, limit
    for name, (point, severity, limit) in found.items():
        below = [found[each][1] for each in _below(survey, point) if each in found]
        if not all(graver(severity, each) for each in below):
            continue
        figure = point.neutral if severity == "stop" else point.neutral_heavy
        programme, hard = (
            told_apart(each or 0.0, limit.value, "A")[0] for each in (point.neutral, point.neutral_heavy)
        )
        yield Finding(
            "neutral-overloaded",
            severity,
            name,
            f"The neutral of {point_name(name)} carries up to {programme} at programme, "
            f"{hard} driven hard, over the "
            f"{reading(limit.value, 'A')} that it is rated for, and no breaker protects it: pulses of power supplies "
            "without power-factor correction don't cancel in it (common practice, no source).",
            "Even the phases, or have a licensed electrician give it a larger neutral.",
            figure,
            limit,
        )


# --- residual current ---------------------------------------------------------------------------------


def _milli(current: float) -> str:
    return reading(1000 * current, "mA")


@judges_rig
def rcd_leakage(survey: Survey) -> Iterator[Finding]:
    """What leaks behind an RCD while all is well; one above another is reported where that one is not."""
    rules = survey.index.rig.supply.rules
    over = {
        name: limit
        for name, rcd in survey.mains.rcds.items()
        if (limit := limits.rcd(rcd.rating, rules)).broken_by(rcd.leakage)
    }
    for name, limit in over.items():
        board = survey.mains.boards.get(name)
        if board and any(below in over for below in _below(survey, board)):
            continue
        rcd, guard = survey.mains.rcds[name], survey.index.rig.supply.guard
        told, most = told_apart(1000 * rcd.leakage, 1000 * limit.value, "mA")
        least = 0.004 if rules == "us" and rcd.rating <= limits.CLASS_A else rcd.rating / 2
        yield Finding(
            "rcd-leakage",
            "warn",
            name,
            f"Up to {told} leaks to earth behind the {_milli(rcd.rating)} {guard} of {name}, over the "
            f"{most} of {limit.why}: from {_milli(least)} on it may trip.",
            f"Spread what leaks over more than one {guard}; measure with a leakage clamp. Never leave it out.",
            rcd.leakage,
            limit,
        )


@judges_rig
def rcd_missing(survey: Survey) -> Iterator[Finding]:
    """Outdoors or in the damp one warning for the rig: circuits that no RCD for persons stands before."""
    if not survey.index.rig.wet:
        return
    rcds = survey.mains.rcds
    bare = [
        circuit.id
        for circuit in survey.mains.circuits.values()
        if circuit.live
        and (circuit.amplifiers or circuit.loads)
        and not any(
            name in rcds and rcds[name].rating <= mains.PERSONS
            for name in (
                circuit.id,
                *(b.id for b in survey.index.boards_above(survey.index.circuits[circuit.id])),
            )
        )
    ]
    if bare:
        guard = survey.index.rig.supply.guard
        yield Finding(
            "rcd-missing",
            "warn",
            SUPPLY,
            f"The rig stands outdoors or in the damp, and no {guard} of {_milli(mains.PERSONS)} or less is stated before "
            f"{listed(bare)}.",
            f"Ask the electrician before anything is plugged in, and state each {guard} that there is.",
        )


# --- boards that are dead, what was measured, where an amplifier may hang -------------------------------


@judges_rig
def board_failed(survey: Survey) -> Iterator[Finding]:
    """A dead board, and what hangs below it: a stop where cabinets are silent for it."""
    for name, board in survey.index.boards.items():
        if board.state != "failed":
            continue
        result = survey.mains.boards[name]
        amplifiers = [a for c in result.circuits for a in survey.mains.circuits[c].amplifiers]
        severity, message = (
            without_power(survey, name, amplifiers)
            if amplifiers
            else ("note", f"{name} has failed; no amplifier is on it.")
        )
        yield Finding(
            "board-failed",
            severity,
            name,
            message,
            "Find out why before anyone resets it, and switch what hangs below it off first.",
        )


@judges_rig
def measured_over_programme(survey: Survey) -> Iterator[Finding]:
    """What a clamp meter showed asks for a duty over that of programme: then the figures at programme are too low."""
    measured = [(c.measured, c) for c in survey.mains.circuits.values() if c.measured is not None]
    duty, limit = survey.mains.supply.measured_duty, limits.measured_duty(survey.index.rig.programme_duty)
    if duty is None or not limit.broken_by(duty):
        return
    counted = duty_to_count(survey.index.rig, duty)
    told, most = told_apart(duty, limit.value, "")
    names = [circuit.id for _, circuit in measured]
    amperes = ", ".join(f"{circuit.id} {reading(current, 'A')}" for current, circuit in measured)
    yield Finding(
        "measured-over-programme",
        "warn",
        names[0] if len(names) == 1 else SUPPLY,
        f"Measured {amperes}: a duty of {told}, over the {most} that programme is counted with.",
        "Turn down: that is more than driven hard is counted with."
        if counted is None
        else f"Let programme count with it at this venue: set its duty as measured to {counted:g}, in the "
        "form of the intake or with the reading.",
        duty,
        limit,
    )


def duty_to_count(rig: Rig, measured: float | None) -> float | None:
    """The duty that programme is to be counted with for what was measured; None where it is already, or with that of driven hard."""
    limit, hard = limits.measured_duty(rig.programme_duty), rig.targets.heavy_duty
    if measured is None or limit.value >= hard or not limit.broken_by(measured):
        return None
    return mains.countable_duty(measured, hard)


@judges_rig
def load_without_circuit(survey: Survey) -> Iterator[Finding]:
    """What else there is and hangs nowhere yet, as amplifiers without a circuit are told."""
    for load in survey.mains.loads.values():
        if not load.circuit and load.state == "ok":
            yield Finding(
                "load-without-circuit",
                "note",
                load.id,
                f"{load.id} is on no circuit; it draws {reading(load.programme_current, 'A')} on a single phase.",
                "Say which circuit it hangs on: until then no breaker is checked for it.",
            )


@judges_rig
def mains_voltage(survey: Survey) -> Iterator[Finding]:
    """An amplifier on a circuit whose voltage its data sheet doesn't allow."""
    index = survey.index
    for name, amplifier in index.amplifiers.items():
        model = index.amplifier_models[amplifier.model]
        if model.mains is None or amplifier.circuit not in index.circuits:
            continue
        volts, (least, most) = volts_at(index, amplifier.circuit), model.mains
        limit = next((limit for limit in limits.mains_voltage(model) if limit.broken_by(volts)), None)
        if limit is None:
            continue
        yield Finding(
            "mains-voltage",
            "stop",
            name,
            f"{name} would get {reading(volts, 'V')} on {amplifier.circuit}; it takes {least} to {most}.",
            "Don't plug it in: move it to a circuit with its voltage.",
            volts,
            limit,
        )


@judges_rig
def board_drop(survey: Survey) -> Iterator[Finding]:
    """What is lost up to a board, where the way to the board before it loses less than is accepted."""
    for board in survey.mains.boards.values():
        limit = limits.drop(survey.index.rig.supply, board)
        if board.drop is None or board.drop_heavy is None or not limit.broken_by(board.drop_heavy):
            continue
        before = survey.mains.boards.get(board.source)
        if before and before.drop_heavy is not None and limit.broken_by(before.drop_heavy):
            continue
        at_programme = limit.broken_by(board.drop)
        when, drop = ("At programme", board.drop) if at_programme else ("Driven hard", board.drop_heavy)
        told, most = told_apart(drop, limit.value, "%")
        yield Finding(
            "feed-drop",
            "warn" if at_programme else "note",
            board.id,
            f"{when} supply cables from the origin to {board.id} take {told}, over the {most} accepted "
            f"({limit.why}).",
            "Use a larger or shorter supply cable, or unplug what can be spared behind it.",
            drop,
            limit,
        )
