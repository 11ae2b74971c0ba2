"""Which places of a rig have figures, which figures those are, and why one of them may have no value."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from typing import NamedTuple

from rackwright.engine import figures, limits
from rackwright.engine.assess import Assessed
from rackwright.engine.channel import Branch, outage_of
from rackwright.engine.demand import SUPPLY, BoardResult
from rackwright.engine.figures import Figure, Shown
from rackwright.engine.results import SectionResult
from rackwright.engine.workings import (
    amplifier,
    cable,
    channel,
    circuit,
    rack,
    run,
    section,
    supply,
    supply_cable,
    touch,
)
from rackwright.engine.workings.steps import ASSUMED, NoWorkingError, Step, Working

TOUCH = Figure("touch_voltage", "voltage_v", "Voltage at a touch", "V")


class Place(NamedTuple):
    """A place with figures: the working of each, and why one of them is absent."""

    name: str
    shown: tuple[Shown, ...]
    explainers: Mapping[str, Callable[[], list[Step]]]
    absent: Callable[[str], str]
    """A figure's name → why it has no value."""


def explain(assessment: Assessed, place: str, figure: str) -> tuple[Working, ...]:
    """The working of a figure of a place, one for each pole pair where the place is a line.

    A place is a channel (`A1.1`), a section (`SUB-L1.upper`), a line, a circuit, an amplifier, a rack, a socket or cabinet
    that can be touched, the `supply` or a phase of it (`supply.L1`). `figure` is its name (`damping_factor`)
    or its key in the JSON report. Raises NoWorkingError.
    """
    return tuple(_working(found, figure) for found in places(assessment, place))


def places(assessment: Assessed, place: str) -> tuple[Place, ...]:
    """A place with its figures; each pole pair of a line is one. Raises NoWorkingError."""
    for find in (_of_wiring, _of_mains, _of_touch):
        if found := find(assessment, place):
            return found
    raise NoWorkingError(_no_place(assessment, place))


def _working(place: Place, asked: str) -> Working:
    name = asked.strip().lower().replace("-", "_").replace(" ", "_")
    found = next((s for s in place.shown if name in (s.figure.name, s.figure.key)), None)
    if found is None:
        names = [shown.figure.name for shown in place.shown]
        raise NoWorkingError(
            f'{place.name} has no figure "{asked}".{_hint(name, names)} It has: {", ".join(names)}.'
        )
    if found.value is None:
        raise NoWorkingError(
            f'{place.name} has no "{found.figure.label}": {place.absent(found.figure.name)}.'
        )
    steps = tuple(place.explainers[found.figure.name]())
    if found.assumed and not any(ASSUMED in step.source for step in steps):
        *before, last = steps
        steps = (*before, last._replace(source=f"{last.source}; rests on figures that are assumed"))
    return Working(place.name, found.figure.label, steps)


# --- channels, sections, lines ------------------------------------------------------------------------


def _of_wiring(assessment: Assessed, place: str) -> tuple[Place, ...]:
    if branch := assessment.branches.get(place):
        return (_channel(assessment, branch),)
    if place in assessment.sections:
        return (_section(assessment, place),)
    return tuple(
        _run(assessment, assessment.branches[run.channel], run.line, run.far)
        for run in assessment.runs.get(place, ())
    )


def _bound(
    assessment: Assessed, branch: Branch, index: int, explainers: Mapping[str, cable.Explainer]
) -> dict[str, Callable[[], list[Step]]]:
    part = cable.Part(branch, assessment.index.rig.supply.ambient.value, index)
    return {name: partial(explainer, part) for name, explainer in explainers.items()}


def _channel(assessment: Assessed, branch: Branch) -> Place:
    shown, explainers = figures.of_channel(branch), _bound(assessment, branch, 0, channel.CHANNEL)

    def absent(name: str) -> str:
        if branch.second_of_bridge:
            return (
                f"it is the second half of a bridged pair, listed as {branch.amplifier.id}.{branch.channel}"
            )
        return "nothing is connected to it"

    explainers["touch_voltage"] = partial(touch.touch_voltage, amplifier.Subject(assessment, branch.id))
    return Place(branch.id, (*shown, _touch(assessment, branch.id)), explainers, absent)


def _section(assessment: Assessed, place: str) -> Place:
    result = assessment.sections[place]
    if result.channel is None:
        why = _silence(assessment, result)
        nothing = tuple(Shown(figure, None, None) for figure in figures.SECTION_FIGURES)
        return Place(place, nothing, {}, lambda name: why)
    branch = assessment.branches[result.channel]
    index = [section.id for section in branch.sections].index(place)

    def absent(name: str) -> str:
        if name == "advised_capacitor":
            return "one is for a high section with a channel of its own"
        if name == "limited_power":
            return "its feed has no rms limiter"
        if name == "level":
            return "its data sheet gives no sensitivity"
        if name.startswith("decay") and branch.models[index].capacitor is not None:
            return "a capacitor in series makes another system of it"
        return "its data sheet gives no driver data"

    explainers = _bound(assessment, branch, index, section.SECTION)
    return Place(place, figures.of_section(branch, index), explainers, absent)


def _silence(assessment: Assessed, section: SectionResult) -> str:
    """Why nothing drives a section."""
    if failed := outage_of(assessment.index, assessment.branches, section):
        return f"it is silent: {failed}"
    if section.patched is None:
        return "no channel is patched to it"
    second = assessment.branches[section.patched].second_of_bridge
    why = "is the second half of a bridged pair" if second else "has no feed"
    return f"{section.patched}, which it is patched to, {why}"


def _run(assessment: Assessed, branch: Branch, line: str, far: int) -> Place:
    index = next(i for i, run in enumerate(branch.runs) if (run.line, run.far) == (line, far))
    explainers = _bound(assessment, branch, index, run.RUN)
    return Place(
        f"{line} pole pair {far}", figures.of_run(branch, index), explainers, lambda name: "nothing flows"
    )


# --- the mains ----------------------------------------------------------------------------------------


def _of_mains(assessment: Assessed, place: str) -> tuple[Place, ...]:
    if place in assessment.circuits:
        shown = figures.of_circuit(assessment, place)
        explainers = {**circuit.CIRCUIT, **(supply_cable.SUPPLY_CABLE if place in assessment.cables else {})}
        return (_at_mains(assessment, place, place, shown, explainers, "its supply cable is not stated"),)
    if place in assessment.boards:
        shown, board = figures.of_board(assessment, place), assessment.boards[place]
        explainers = {**supply.BOARD, **(supply_cable.SUPPLY_CABLE if place in assessment.cables else {})}
        return (_at_mains(assessment, place, place, shown, explainers, _no_board_figure(board)),)
    if place in assessment.loads:
        shown = figures.of_load(assessment, place)
        return (_at_mains(assessment, place, place, shown, amplifier.LOAD),)
    if place in assessment.amplifiers:
        shown = figures.of_amplifier(assessment, place)
        return (_at_mains(assessment, place, place, shown, amplifier.AMPLIFIER),)
    if place in assessment.racks:
        shown = figures.of_rack(assessment, place)
        return (_at_mains(assessment, place, place, shown, rack.RACK),)
    if place == SUPPLY:
        shown = figures.of_supply(assessment)
        return (_at_mains(assessment, place, place, shown, supply.SUPPLY, None),)
    for phase, result in assessment.phases.items():
        if place in (phase, f"{SUPPLY}.{phase}"):
            shown = figures.of_phase(assessment, result.id)
            return (_at_mains(assessment, place, phase, shown, supply.PHASE),)
    return ()


def _at_mains(
    assessment: Assessed,
    name: str,
    subject_id: str,
    shown: tuple[Shown, ...],
    explainers: Mapping[str, amplifier.Explainer],
    absence: str | None = None,
) -> Place:
    subject = amplifier.Subject(assessment, subject_id)
    generator = assessment.index.rig.supply.generator is not None
    told = {each.figure.name for each in shown}
    bound = {key: partial(explainer, subject) for key, explainer in explainers.items() if key in told}
    return Place(name, shown, bound, lambda figure: absence or _no_supply_figure(figure, generator))


def _no_board_figure(board: BoardResult) -> str:
    """Why a board lacks a figure."""
    lacking = []
    if board.rating is None:
        lacking.append("its rating is not stated")
    if board.drop is None:
        lacking.append("no supply cable on the way to it is stated")
    if board.neutral is None:
        lacking.append("it has a single phase")
    return ", or ".join(lacking) or "it is not stated"


def _no_supply_figure(name: str, stated: bool) -> str:
    """Why the supply, or a rack, lacks a figure; `stated` is whether a generator is."""
    if name.endswith("_current"):
        return (
            "currents of different phases are never added; ask for its apparent power, or a phase's current"
        )
    if name in ("rating", "loading", "loading_heavy", "neutral_rating"):
        return "the rating of the intake is not stated"
    if name in ("imbalance", "neutral", "neutral_heavy"):
        return "the supply is on a single phase"
    if stated:
        return "past its rating a generator's voltage is not known"
    return "no generator is stated"


# --- touch --------------------------------------------------------------------------------------------


def _of_touch(assessment: Assessed, place: str) -> tuple[Place, ...]:
    if place not in assessment.touch:
        return ()
    explainers = {"touch_voltage": partial(touch.touch_voltage, amplifier.Subject(assessment, place))}
    return (Place(place, (_touch(assessment, place),), explainers, lambda name: "there is no voltage"),)


def _touch(assessment: Assessed, place: str) -> Shown:
    result = assessment.touch.get(place)
    if result is None:
        return Shown(TOUCH, None, None)
    limit = limits.touch_voltage(result.voltage, assessment.index.rig.wet) if result.exposed else None
    return Shown(TOUCH, result.voltage, limit)


# --- places that are not there ------------------------------------------------------------------------


def _no_place(assessment: Assessed, place: str) -> str:
    index = assessment.index
    if place in index.cabinets:
        model = index.loudspeaker_models[index.cabinets[place].model]
        names = ", ".join(f"{place}.{section.id}" for section in model.sections)
        return f"{place} is a cabinet: name one of its sections, {names}."
    if place in index.lines:
        return f"No channel is patched to {place}, so there is nothing to calculate."
    if place in index.sockets:
        return f"{place} is a shrouded socket: name what drives it, or one of its lines."
    if place in index.feeds:
        played = [branch.id for branch in assessment.branches.values() if branch.result.feed == place]
        return f"{place} is a feed: name a channel that plays it" + (
            f", such as {played[0]}." if played else "."
        )
    near = _hint(place, tuple(known_places(assessment)))
    return (
        f'There is no "{place}" in this rig.{near} Name a channel (A1.1), a section (SUB-L1.upper), a line, a circuit, '
        f"a board, an amplifier, a rack or {SUPPLY}."
    )


def known_places(assessment: Assessed) -> Iterator[str]:
    """Every place that has figures, the channels first."""
    yield from assessment.branches
    yield from assessment.sections
    yield from assessment.runs
    yield from assessment.boards
    yield from assessment.circuits
    yield from assessment.loads
    yield from assessment.amplifiers
    yield from assessment.racks
    yield SUPPLY
    yield from (f"{SUPPLY}.{phase}" for phase in assessment.phases)
    yield from (place for place in assessment.touch if place not in assessment.branches)


def _hint(word: str, known: Sequence[str]) -> str:
    """` Did you mean "…"?` for the nearest of the known words, capitals aside; empty where none is near."""
    import difflib

    by_lower = {name.lower(): name for name in reversed(known)}
    near = difflib.get_close_matches(word.lower(), by_lower, n=1, cutoff=0.5)
    return f' Did you mean "{by_lower[near[0]]}"?' if near else ""
