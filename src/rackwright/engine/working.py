"""How a figure came about: formula, numbers put in, result, source, step by step.

Each step's result is computed by the very functions that the assessment uses; the last step's is the
reported figure. Holds no judgement, and no formula that is not shown.
"""

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

from rackwright.engine import conductor, figures, loudspeaker, network, protection
from rackwright.engine.assess import Assessed
from rackwright.engine.branch import Branch, band_of
from rackwright.engine.network import Node, Run
from rackwright.model.equipment import Section
from rackwright.units import figure as number
from rackwright.units import reading


class Step(NamedTuple):
    """One step: what is reckoned, the formula in symbols, the numbers put in, the result."""

    what: str
    formula: str
    numbers: str
    value: float
    unit: str
    source: str

    @property
    def result(self) -> str:
        """The result to three figures with its unit."""
        return reading(self.value, self.unit)


class Working(NamedTuple):
    """The working of one figure of one place."""

    place: str
    label: str
    steps: tuple[Step, ...]

    @property
    def value(self) -> float:
        """The figure, as reported."""
        return self.steps[-1].value


class NoWorkingError(Exception):
    """There is no such place or figure, or nothing to reckon there; the message says what there is."""


IEC_60228 = "IEC 60228, class 5"
ASTM_B258 = "ASTM B258 and IEC 60028"
COPPER = "IEC 60028"
OHM = "Ohm's law"
SMALL_1972 = "Small, JAES 20(5), 1972"
SMALL_1973 = "Small, JAES 21(5), 1973"
COMMON = "common practice, no source"


def explain(assessment: Assessed, place: str, figure: str) -> tuple[Working, ...]:
    """The working of a figure: of a channel (`A1.1`), a section (`SUB-L1.upper`), each pole pair of a line, a rack.

    `figure` is its name (`damping_factor`) or its key in the JSON report. Raises NoWorkingError.
    """
    if place in assessment.branches:
        branch = assessment.branches[place]
        return (_working(place, figure, figures.CHANNEL_FIGURES, CHANNEL, branch, 0, branch.result),)
    if place in assessment.sections:
        result = assessment.sections[place]
        if result.channel is None:
            raise NoWorkingError(f"Nothing drives {place}, so it has no {figure}. Patch and feed it first.")
        branch = assessment.branches[result.channel]
        index = [section.id for section in branch.sections].index(place)
        return (_working(place, figure, figures.SECTION_FIGURES, SECTION, branch, index, result),)
    if place in assessment.runs:
        return tuple(
            _run_working(assessment, run.channel, run.line, run.far, figure) for run in assessment.runs[place]
        )
    raise NoWorkingError(no_place(assessment, place))


def _run_working(assessment: Assessed, channel: str, line: str, far: int, figure: str) -> Working:
    branch = assessment.branches[channel]
    index = next(i for i, run in enumerate(branch.runs) if (run.line, run.far) == (line, far))
    place = f"{line} pole pair {far}"
    return _working(place, figure, figures.RUN_FIGURES, RUN, branch, index, branch.runs[index])


def no_place(assessment: Assessed, place: str) -> str:
    index = assessment.index
    if place in index.amplifiers:
        return f"{place} is an amplifier: name one of its channels, such as {place}.1."
    if place in index.cabinets:
        model = index.loudspeaker_models[index.cabinets[place].model]
        names = ", ".join(f"{place}.{section.id}" for section in model.sections)
        return f"{place} is a cabinet: name one of its sections, {names}."
    if place in index.lines:
        return f"No channel is patched to {place}, so there is nothing to reckon."
    return (
        f'There is no "{place}" with figures. Name a channel (A1.1), a section (SUB-L1.upper) or a line (L1).'
    )


Explainer = Callable[[Branch, int], Iterator[Step]]


def _working(
    place: str,
    name: str,
    table: tuple[figures.Figure, ...],
    explainers: dict[str, Explainer],
    branch: Branch,
    index: int,
    result: object,
) -> Working:
    found = next((f for f in table if name in (f.name, f.key)), None)
    if found is None:
        known = ", ".join(f.name for f in table)
        raise NoWorkingError(f'{place} has no figure "{name}". It has: {known}.')
    if getattr(result, found.name) is None:
        raise NoWorkingError(f"{place} has no {found.label.lower()}: {_absence(found.name, branch)}.")
    return Working(place, found.label, tuple(explainers[found.name](branch, index)))


def _absence(name: str, branch: Branch) -> str:
    if name in ("q_total", "q_total_ideal", "ring_down", "ring_down_cycles"):
        return "its data sheet gives no driver data"
    if name == "capacitor":
        return "that is for a high section with a channel of its own"
    return "nothing is connected" if not branch.sections else "nothing drives it"


# --- a run --------------------------------------------------------------------------------------------


def _loop(run: Run) -> Iterator[Step]:
    size, line = run.cable.size, run.line
    per_metre = conductor.resistance_per_metre(size)
    other = size.equivalent()
    yield Step(
        f"One core of {run.cable.id} at 20 °C",
        "r = ρ/A · 1.02" if size.gauge is not None else "r from the table, by area",
        f"{size}" + (f" ({other})" if other else ""),
        per_metre,
        "Ω/m",
        f"{ASTM_B258}; 1.02 for strands: {COMMON}" if size.gauge is not None else IEC_60228,
    )
    factor = run.cable_resistance / (per_metre * 2 * line.length.value / line.cores_per_pole)
    temperature = 20 + (factor - 1) / conductor.TEMPERATURE_COEFFICIENT
    parallel = f" / {line.cores_per_pole}" if line.cores_per_pole > 1 else ""
    yield Step(
        f"Copper of {line.id}, there and back",
        "2·l·r / cores · (1 + 0.00393 (T − 20))",
        f"2 · {reading(line.length.value, 'm')} · {reading(per_metre, 'Ω/m')}{parallel} at {number(temperature)} °C",
        run.cable_resistance,
        "Ω",
        COPPER,
    )
    contacts = run.node.resistance - run.cable_resistance
    near, far = run.near_connector.contact_resistance, run.far_connector.contact_resistance
    yield Step(
        f"Loop resistance of {line.id} with its contacts",
        "copper + 2·contact near + 2·contact far",
        f"{reading(run.cable_resistance, 'Ω')} + 2 · {near} + 2 · {far} (contacts {reading(contacts, 'Ω')})",
        run.node.resistance,
        "Ω",
        "series resistances",
    )


def _run_resistance(branch: Branch, index: int) -> Iterator[Step]:
    yield from _loop(branch.all_runs[index])


def _behind(node: Node) -> float:
    """Conductance in S of all that hangs at the far end of a run."""
    links = network.solve_nominal(node.links).admittance if node.links else 0.0
    return sum(map(network.conductance, node.sections)) + links


def _way(branch: Branch, target: Run) -> list[Run]:
    """The runs from the terminals to a run's far end."""

    def search(run: Run) -> list[Run]:
        if run is target:
            return [run]
        for link in run.links:
            if found := search(link):
                return [run, *found]
        return []

    return next(found for root in branch.roots if (found := search(root)))


def _division(branch: Branch, target: Run) -> Iterator[Step]:
    """From the terminals to a run's far end: each run divides the voltage."""
    ratio = 1.0
    for run in _way(branch, target):
        yield from list(_loop(run))[-1:]
        behind = _behind(run.node)
        ratio /= 1 + run.node.resistance * behind
        seen = reading(1 / behind, "Ω") if behind else "nothing"
        yield Step(
            f"Voltage at {run.line.to} over the terminals'",
            "v = v_near / (1 + R/Z_behind)",
            f"R = {reading(run.node.resistance, 'Ω')}, behind it {seen}",
            ratio,
            "",
            OHM,
        )


def _run_current(branch: Branch, index: int) -> Iterator[Step]:
    target = branch.all_runs[index]
    yield from _terminal_voltage(branch)
    yield from _division(branch, target)
    result, behind = branch.runs[index], _behind(target.node)
    yield Step(
        "Current",
        "I = V_far / Z_behind",
        f"{reading(result.voltage, 'V')} / {reading(1 / behind if behind else math.inf, 'Ω')}",
        result.current,
        "A",
        OHM,
    )


def _run_voltage(branch: Branch, index: int) -> Iterator[Step]:
    yield from _terminal_voltage(branch)
    yield from _division(branch, branch.all_runs[index])
    result = branch.runs[index]
    yield Step(
        "Voltage at the far end", "V = v · V_terminal", f"of {_terminals(branch)}", result.voltage, "V", OHM
    )


def _run_loss(branch: Branch, index: int) -> Iterator[Step]:
    yield from _division(branch, branch.all_runs[index])
    yield Step("Loss", "−20·log10(v)", "", branch.runs[index].loss, "dB", "definition of the decibel")


# --- a channel ----------------------------------------------------------------------------------------


def _terminals(branch: Branch) -> str:
    return f"{reading(branch.result.voltage, 'V')} at {branch.id}"


def _impedances(branch: Branch) -> str:
    return " ∥ ".join(reading(section.nominal.value, "Ω") for section in branch.models)


def _value(value: float | None) -> float:
    if value is None:
        raise NoWorkingError("There is nothing to reckon.")
    return value


def _load_nominal(branch: Branch, _index: int = 0) -> Iterator[Step]:
    yield Step(
        "Sections in parallel, no cable",
        "1/Z = Σ 1/Z_n",
        _impedances(branch),
        _value(branch.result.load_nominal),
        "Ω",
        OHM,
    )


def _load_terminal(branch: Branch, _index: int = 0) -> Iterator[Step]:
    for root in branch.roots:
        yield from list(_loop(root))[-1:]
        behind = _behind(root.node)
        if not behind:
            continue
        yield Step(
            f"Seen into {root.line.id}",
            "Z = R + Z_behind",
            f"{reading(root.node.resistance, 'Ω')} + {reading(1 / behind, 'Ω')}",
            root.node.resistance + 1 / behind,
            "Ω",
            OHM,
        )
    yield Step(
        "Load at the terminals",
        "1/Z = Σ 1/Z of each run",
        f"{len(branch.roots)} run" + ("s" if len(branch.roots) > 1 else ""),
        _value(branch.result.load_terminal),
        "Ω",
        OHM,
    )


def _load_minimum(branch: Branch, _index: int = 0) -> Iterator[Step]:
    low, high = band_of(branch.feed)
    bare = [section.id for section in branch.models if section.driver is None]
    how = "each section's impedance from its driver data"
    if bare:
        how += f"; {', '.join(dict.fromkeys(bare))} as {number(loudspeaker.LOWEST_MODULUS)} × nominal"
    yield Step(
        "Lowest modulus at the terminals",
        "min |Z(f)| of the same network",
        f"{reading(low, 'Hz')} to {reading(high, 'Hz')}, {loudspeaker.POINTS_PER_OCTAVE} points an octave; {how}",
        _value(branch.result.load_minimum),
        "Ω",
        f"{SMALL_1972}; {SMALL_1973}; IEC 60268-5",
    )


def _terminal_voltage(branch: Branch, _index: int = 0) -> Iterator[Step]:
    yield from list(_load_terminal(branch))[-1:]
    points = branch.output.points
    rated = ", ".join(
        f"{reading(p.voltage, 'V')} {reading(p.current, 'A')} at {reading(p.load, 'Ω')}" for p in points
    )
    yield Step(
        "Voltage at which it limits into that load",
        "V = √(P·Z) at rated loads; between them where V = Z·I meets the line that joins them",
        f"{rated}; Z = {reading(branch.result.load_terminal, 'Ω')}",
        _value(branch.result.voltage),
        "V",
        f"a sagging supply: {COMMON}",
    )


def _terminal_current(branch: Branch, _index: int = 0) -> Iterator[Step]:
    yield from _terminal_voltage(branch)
    numbers = f"{reading(branch.result.voltage, 'V')} / {reading(branch.result.load_terminal, 'Ω')}"
    yield Step("Current", "I = V/Z", numbers, _value(branch.result.current), "A", OHM)


def _terminal_power(branch: Branch, _index: int = 0) -> Iterator[Step]:
    yield from _terminal_voltage(branch)
    numbers = f"{reading(branch.result.voltage, 'V')}² / {reading(branch.result.load_terminal, 'Ω')}"
    yield Step("Power", "P = V²/Z", numbers, _value(branch.result.power), "W", OHM)


def _open_voltage(branch: Branch, _index: int = 0) -> Iterator[Step]:
    stated = branch.model.open_voltage
    twice = "; twice one channel's, bridged" if branch.mode == "bridged" else ""
    yield Step(
        "Voltage with nothing connected",
        "as stated"
        if stated
        else "two highest rated loads extrapolated to I = 0, at most 1.15 × the highest rated",
        (f"{stated}" if stated else _first_points(branch)) + twice,
        branch.result.open_voltage,
        "V",
        "data sheet" if stated else COMMON,
    )


def _first_points(branch: Branch) -> str:
    return ", ".join(f"{rating.power} at {rating.load}" for rating in branch.model.ratings[:2])


def _limiter_rms(branch: Branch, _index: int = 0) -> Iterator[Step]:
    worst = min(branch.models, key=protection.limiter_rms)
    yield Step(
        f"Highest rms voltage that {worst.id} bears"
        + (", the least of its sections" if len(branch.models) > 1 else ""),
        "V = √(P_continuous·Z)",
        f"√({worst.continuous} · {worst.nominal})",
        _value(branch.result.limiter_rms),
        "V",
        "IEC 60268-5, AES2: continuous rating",
    )


def _limiter_peak(branch: Branch, _index: int = 0) -> Iterator[Step]:
    worst = min(branch.models, key=protection.limiter_peak)
    stated = f"{worst.peak}" if worst.peak else f"4 · {worst.continuous}"
    yield Step(
        f"Highest peak voltage that {worst.id} bears"
        + (", the least of its sections" if len(branch.models) > 1 else ""),
        "V = √(P_peak·Z)",
        f"√({stated} · {worst.nominal})",
        _value(branch.result.limiter_peak),
        "V peak",
        "data sheet" if worst.peak else f"peak = 4 × continuous: {COMMON}",
    )


def _at_input(branch: Branch, voltage: float | None, dbu: float | None) -> Step:
    return Step(
        "At the amplifier's input",
        "20·log10(V/0.7746) − gain",
        f"{reading(voltage, 'V')}, gain {reading(branch.output.gain, 'dB')}",
        _value(dbu),
        "dBu",
        "0 dBu = 0.7746 V",
    )


def _limiter_rms_dbu(branch: Branch, _index: int = 0) -> Iterator[Step]:
    yield from _limiter_rms(branch)
    yield _at_input(branch, branch.result.limiter_rms, branch.result.limiter_rms_dbu)


def _limiter_peak_dbu(branch: Branch, _index: int = 0) -> Iterator[Step]:
    yield from _limiter_peak(branch)
    yield _at_input(branch, branch.result.limiter_peak, branch.result.limiter_peak_dbu)


# --- a section ----------------------------------------------------------------------------------------


def _run_of(branch: Branch, index: int) -> Run:
    """The run at whose far end a branch's section of that index hangs."""
    owners = [run for run in branch.all_runs for _ in run.node.sections]
    return owners[index]


def _section_voltage(branch: Branch, index: int) -> Iterator[Step]:
    yield from _terminal_voltage(branch)
    yield from _division(branch, _run_of(branch, index))
    result = branch.sections[index]
    yield Step(
        "Voltage at the section",
        "V = v · V_terminal",
        f"of {_terminals(branch)}",
        _value(result.voltage),
        "V",
        OHM,
    )


def _section_power(branch: Branch, index: int) -> Iterator[Step]:
    yield from list(_section_voltage(branch, index))[-1:]
    result, section = branch.sections[index], branch.models[index]
    numbers = f"{reading(result.voltage, 'V')}² / {section.nominal}"
    yield Step("Power", "P = V²/Z nominal", numbers, _value(result.power), "W", OHM)


def _section_loss(branch: Branch, index: int) -> Iterator[Step]:
    yield from _division(branch, _run_of(branch, index))
    yield Step(
        "Loss", "−20·log10(v)", "", _value(branch.sections[index].loss), "dB", "definition of the decibel"
    )


def _damping(branch: Branch, index: int) -> Iterator[Step]:
    rating, result = branch.model.damping_factor, branch.sections[index]
    bridged = branch.mode == "bridged"
    yield Step(
        "Output resistance of the amplifier",
        "Ro = rated load / damping factor" + (", twice for a bridged pair" if bridged else ""),
        f"{rating.load} / {number(rating.value)}" + (" · 2" if bridged else ""),
        branch.output.resistance,
        "Ω",
        "IEC 60268-3",
    )
    division = list(_division(branch, _run_of(branch, index)))
    yield from division
    load, transfer = _value(branch.result.load_terminal), division[-1].value
    yield Step(
        "Voltage at the section over the EMF behind Ro",
        "V/E = v / (1 + Ro/Z_terminal)",
        f"{number(transfer)} / (1 + {reading(branch.output.resistance, 'Ω')} / {reading(load, 'Ω')})",
        transfer / (1 + branch.output.resistance / load),
        "",
        OHM,
    )
    damping = _value(result.damping_factor)
    yield Step(
        "Damping factor",
        "D = V / (E − V)",
        "",
        damping,
        "",
        "IEC 60268-3, at the section instead of the terminals",
    )


def _source_resistance(branch: Branch, index: int) -> Iterator[Step]:
    yield from _damping(branch, index)
    result, section = branch.sections[index], branch.models[index]
    numbers = f"{section.nominal} / {number(_value(result.damping_factor))}"
    yield Step("Source resistance", "R = Z/D", numbers, _value(result.source_resistance), "Ω", "IEC 60268-3")


def _headroom(branch: Branch, index: int) -> Iterator[Step]:
    yield from _section_power(branch, index)
    result, section = branch.sections[index], branch.models[index]
    numbers = f"{reading(result.power, 'W')} over {section.continuous}"
    yield Step(
        "Headroom", "10·log10(P/P_continuous)", numbers, _value(result.headroom), "dB", "IEC 60268-5, AES2"
    )


def _q_total(branch: Branch, index: int) -> Iterator[Step]:
    yield from list(_source_resistance(branch, index))[-1:]
    section, result = branch.models[index], branch.sections[index]
    driver, coil = section.driver, section.dc_resistance.value
    if driver is None:
        raise NoWorkingError(f"{result.id} has no driver data.")
    source = _value(result.source_resistance)
    qes = driver.qes * (coil + source) / coil
    yield Step(
        "Electrical Q with the source resistance",
        "Qes' = Qes (Re + R)/Re",
        f"{number(driver.qes)} · ({reading(coil, 'Ω')} + {reading(source, 'Ω')}) / {reading(coil, 'Ω')}",
        qes,
        "",
        SMALL_1972,
    )
    numbers = f"{number(qes)} · {number(driver.qms)} / ({number(qes)} + {number(driver.qms)})"
    yield Step("Total Q", "Qts' = Qes'·Qms/(Qes' + Qms)", numbers, _value(result.q_total), "", SMALL_1972)


def _q_ideal(branch: Branch, index: int) -> Iterator[Step]:
    driver = branch.models[index].driver
    if driver is None:
        raise NoWorkingError("There is no driver data.")
    numbers = f"{number(driver.qes)} · {number(driver.qms)} / ({number(driver.qes)} + {number(driver.qms)})"
    ideal = _value(branch.sections[index].q_total_ideal)
    yield Step(
        "Total Q with no source resistance", "Qts = Qes·Qms/(Qes + Qms)", numbers, ideal, "", SMALL_1972
    )


def _ring_down(branch: Branch, index: int) -> Iterator[Step]:
    yield from _q_total(branch, index)
    result, driver = branch.sections[index], branch.models[index].driver
    fs = f", fs = {driver.fs}" if driver else ""
    numbers = f"Q = {number(_value(result.q_total))}{fs}"
    source = "second-order system"
    yield Step("Ring-down to −20 dB", "t = 2Q·ln 10/(2π·fs)", numbers, _value(result.ring_down), "s", source)


def _ring_down_cycles(branch: Branch, index: int) -> Iterator[Step]:
    yield from _ring_down(branch, index)
    result = branch.sections[index]
    yield Step(
        "In cycles", "t·fs = 0.733 Q", "", _value(result.ring_down_cycles), "cycles", "second-order system"
    )


def _ripple(branch: Branch, index: int) -> Iterator[Step]:
    low, high = band_of(branch.feed)
    yield Step(
        "Spread of level over the band",
        "20·log10(max |V/E| / min |V/E|)",
        f"{reading(low, 'Hz')} to {reading(high, 'Hz')}, {_driver_words(branch.models[index])}",
        _value(branch.sections[index].ripple),
        "dB",
        f"{SMALL_1972}; {SMALL_1973}",
    )


def _driver_words(section: Section) -> str:
    return "impedance from its driver data" if section.driver else "a resistor: no driver data"


def _capacitor(branch: Branch, index: int) -> Iterator[Step]:
    start = band_of(branch.feed)[0]
    yield Step(
        "Protective capacitor in series",
        "C = 1/(2π·f·Z), f an octave under the band",
        f"f = {reading(start / 2, 'Hz')}, Z = {branch.models[index].nominal}",
        _value(branch.sections[index].capacitor),
        "F",
        COMMON,
    )


CHANNEL: dict[str, Explainer] = {
    "load_nominal": _load_nominal,
    "load_terminal": _load_terminal,
    "load_minimum": _load_minimum,
    "voltage": _terminal_voltage,
    "current": _terminal_current,
    "power": _terminal_power,
    "open_voltage": _open_voltage,
    "limiter_rms": _limiter_rms,
    "limiter_peak": _limiter_peak,
    "limiter_rms_dbu": _limiter_rms_dbu,
    "limiter_peak_dbu": _limiter_peak_dbu,
}
SECTION: dict[str, Explainer] = {
    "voltage": _section_voltage,
    "power": _section_power,
    "loss": _section_loss,
    "source_resistance": _source_resistance,
    "damping_factor": _damping,
    "headroom": _headroom,
    "q_total": _q_total,
    "q_total_ideal": _q_ideal,
    "ripple": _ripple,
    "ring_down": _ring_down,
    "ring_down_cycles": _ring_down_cycles,
    "capacitor": _capacitor,
}
RUN: dict[str, Explainer] = {
    "resistance": _run_resistance,
    "current": _run_current,
    "voltage": _run_voltage,
    "loss": _run_loss,
}
