"""The workings of what hangs on a channel: the channel itself, its runs, its sections.

Each step reckons from the results of those before it, with the functions that the assessment uses.
"""

import math
from collections.abc import Callable, Mapping
from typing import NamedTuple

from rackwright.engine import amplifier, conductor, loudspeaker, network, protection
from rackwright.engine.channel import Branch, band_of, over_frequency
from rackwright.engine.network import Node, Run
from rackwright.engine.workings.steps import (
    ASTM_B258,
    COMMON,
    COPPER,
    IEC_60228,
    OHM,
    SMALL_1972,
    SMALL_1973,
    NoWorkingError,
    Step,
    data_sheet,
    final,
    stated,
)
from rackwright.model.equipment import Driver, Section
from rackwright.model.rig import Supply
from rackwright.units import ConductorSize, floored, reading
from rackwright.units import figure as number


class Part(NamedTuple):
    """A channel's branch, and one of its runs or sections."""

    branch: Branch
    ambient: float
    """°C, of the conductors."""
    number: int = 0
    """Position of that run or section, from 0."""

    @property
    def run(self) -> Run:
        """The run."""
        return self.branch.all_runs[self.number]

    @property
    def section(self) -> Section:
        """The model of the section."""
        return self.branch.models[self.number]

    @property
    def way(self) -> list[Run]:
        """The runs from the terminals to the section."""
        owners = [run for run in self.branch.all_runs for _ in run.node.sections]
        return _way(self.branch, owners[self.number])


Explainer = Callable[[Part], list[Step]]


# --- a run --------------------------------------------------------------------------------------------


def _loop(run: Run, ambient: float) -> list[Step]:
    size, line = run.cable.size, run.line
    per_metre = conductor.resistance_per_metre(size)
    core = core_of(run.cable.id, size)
    copper = conductor.loop_resistance(size, line.length.value, line.cores_per_pole, ambient)
    parallel = f" / {line.cores_per_pole}" if line.cores_per_pole > 1 else ""
    there_and_back = Step(
        f"Copper of {line.id}, there and back",
        "2·l·r / cores · (1 + 0.00393 (T − 20))",
        f"2 · {reading(line.length.value, 'm')} · {reading(per_metre, 'Ω/m')}{parallel} · "
        f"(1 + 0.00393 · ({number(ambient)} − 20))",
        copper,
        "Ω",
        f"{COPPER}; T: {stated(ambient, Supply().ambient.value)}",
    )
    near, far = run.near_connector.contact_resistance, run.far_connector.contact_resistance
    contacts = conductor.CONTACTS * (near.value + far.value)
    whole = Step(
        f"Loop resistance of {line.id} with its contacts",
        "R = copper + 2·contact near + 2·contact far",
        f"{reading(copper, 'Ω')} + 2 · {reading(near.value, 'Ω')} + 2 · {reading(far.value, 'Ω')}",
        copper + contacts,
        "Ω",
        "series resistances",
    )
    return [core, there_and_back, whole]


def core_of(cable: str, size: ConductorSize) -> Step:
    """The resistance of one core of a cable, per metre at 20 °C."""
    other = size.equivalent()
    told = f"{size}" + (f" ({other})" if other else "")
    what, value = f"One core of {cable} at 20 °C, {told}", conductor.resistance_per_metre(size)
    if size.gauge is None:
        return Step(what, "r from the table, by area", told, value, "Ω/m", IEC_60228)
    rho, area = f"{conductor.RESISTIVITY * 1e9:.5g}", f"{size.value * 1e6:.5g}"
    numbers = f"{rho} Ω·mm²/km / 1000 / {area} mm² · {conductor.STRANDING}"
    source = f"{ASTM_B258}; {conductor.STRANDING} for strands: {COMMON}"
    return Step(what, f"r = ρ/A · {conductor.STRANDING}", numbers, value, "Ω/m", source)


def _run_resistance(part: Part) -> list[Step]:
    return _loop(part.run, part.ambient)


def _behind(node: Node) -> float:
    """Conductance in S of all that hangs at the far end of a run."""
    links = network.solve_nominal(node.links).admittance if node.links else 0.0
    return sum(map(network.conductance, node.sections)) + links


def _way(branch: Branch, target: Run) -> list[Run]:
    """The runs from the terminals to a run's far end, that run the last."""

    def search(run: Run) -> list[Run]:
        if run is target:
            return [run]
        return next(([run, *found] for link in run.links if (found := search(link))), [])

    return next(found for root in branch.roots if (found := search(root)))


def _division(way: list[Run], ambient: float) -> list[Step]:
    """From the terminals to the end of a way: each run divides the voltage."""
    steps, ratio = [], 1.0
    for run in way:
        whole = _loop(run, ambient)[-1]
        behind = _behind(run.node)
        before, ratio = ratio, ratio / (1 + whole.value * behind)
        far = f"{reading(whole.value, 'Ω')} / {reading(1 / behind, 'Ω')}" if behind else "0"
        steps += [
            whole,
            Step(
                f"Voltage at {run.line.to} over the terminals'"
                + ("" if behind else ": nothing is connected behind it"),
                "v = v_near / (1 + R/Z_behind)",
                f"{number(before)} / (1 + {far})",
                ratio,
                "",
                OHM,
            ),
        ]
    return steps


def _run_voltage(part: Part) -> list[Step]:
    terminals = _terminal_voltage(part)
    division = _division(_way(part.branch, part.run), part.ambient)
    return [*terminals, *division, _divided("Voltage at the far end", terminals, division)]


def _divided(what: str, terminals: list[Step], division: list[Step]) -> Step:
    ratio, whole = final(division), final(terminals)
    return Step(
        what, "V = v · V_terminal", f"{number(ratio)} · {reading(whole, 'V')}", ratio * whole, "V", OHM
    )


def _run_current(part: Part) -> list[Step]:
    steps = _run_voltage(part)
    voltage, behind = final(steps), _behind(part.run.node)
    seen = reading(1 / behind if behind else math.inf, "Ω")
    current = Step(
        "Current", "I = V_far / Z_behind", f"{reading(voltage, 'V')} / {seen}", voltage * behind, "A", OHM
    )
    return [*steps, current]


def _run_loss(part: Part) -> list[Step]:
    division = _division(_way(part.branch, part.run), part.ambient)
    return [*division, _loss(division)]


def _loss(division: list[Step]) -> Step:
    ratio = final(division)
    numbers = f"−20·log10({number(ratio, 4)})"
    return Step("Loss", "−20·log10(v)", numbers, -20 * math.log10(ratio), "dB", "definition of the decibel")


# --- a channel ----------------------------------------------------------------------------------------


def _parallel(loads: list[float]) -> str:
    return " ∥ ".join(reading(load, "Ω") for load in loads)


def _load_nominal(part: Part) -> list[Step]:
    loads = [section.nominal.value for section in part.branch.models]
    total = 1 / sum([1 / load for load in loads])
    return [Step("Sections in parallel, no cable", "1/Z = Σ 1/Z_n", _parallel(loads), total, "Ω", OHM)]


def _seen_into(run: Run, ambient: float) -> list[Step]:
    """The load seen into a run; no step where nothing hangs on it."""
    links = [steps for link in run.links if (steps := _seen_into(link, ambient))]
    loads = [section.nominal.value for section in run.node.sections] + [final(steps) for steps in links]
    if not loads:
        return []
    whole = _loop(run, ambient)[-1]
    seen = Step(
        f"Seen into {run.line.id}",
        "Z = R + Z_behind",
        f"{reading(whole.value, 'Ω')} + " + (f"({_parallel(loads)})" if len(loads) > 1 else _parallel(loads)),
        whole.value + 1 / sum([1 / load for load in loads]),
        "Ω",
        OHM,
    )
    return [*(step for steps in links for step in steps), whole, seen]


def _load_terminal(part: Part) -> list[Step]:
    roots = [steps for run in part.branch.roots if (steps := _seen_into(run, part.ambient))]
    loads = [final(steps) for steps in roots]
    total = Step(
        "Load at the terminals",
        "1/Z = Σ 1/Z of each run",
        _parallel(loads),
        1 / sum([1 / load for load in loads]),
        "Ω",
        OHM,
    )
    return [*(step for steps in roots for step in steps), total]


def _load_minimum(part: Part) -> list[Step]:
    branch = part.branch
    low, high = band = band_of(branch.feed)
    bare = [section.id for section in branch.models if section.driver is None]
    how = "each section's impedance from its driver data"
    if bare:
        how += f"; {', '.join(dict.fromkeys(bare))} as {number(loudspeaker.LOWEST_MODULUS)} × nominal"
    lowest = Step(
        "Lowest modulus at the terminals",
        "min |Z(f)| of the same network",
        f"{reading(low, 'Hz')} to {reading(high, 'Hz')}, {loudspeaker.POINTS_PER_OCTAVE} points an octave; {how}",
        over_frequency(branch.nodes, branch.output.resistance, band)[0],
        "Ω",
        f"{SMALL_1972}; {SMALL_1973}; IEC 60268-5",
    )
    return [lowest]


def _terminal_voltage(part: Part) -> list[Step]:
    load = _load_terminal(part)[-1]
    points = part.branch.output.points
    rated = ", ".join(
        f"{reading(p.voltage, 'V')} {reading(p.current, 'A')} at {reading(p.load, 'Ω')}" for p in points
    )
    voltage = Step(
        "Voltage at which it limits into that load",
        "V = √(P·Z) at rated loads; between them where V = Z·I meets the line that joins them",
        f"{rated}; Z = {reading(load.value, 'Ω')}",
        amplifier.limit_voltage(points, load.value),
        "V",
        f"{ratings_source(part.branch)}; a sagging supply: {COMMON}",
    )
    return [load, voltage]


def ratings_source(branch: Branch) -> str:
    """Whose the rated points of a channel or bridged pair are: a bridge's may follow from those of one channel."""
    model = branch.model
    if branch.mode == "bridged" and not model.bridged:
        return f"bridged: 2 · P of one channel at half the load; {data_sheet(model.id)} for one"
    return data_sheet(model.id)


def _terminal_current(part: Part) -> list[Step]:
    load, voltage = steps = _terminal_voltage(part)
    numbers = f"{reading(voltage.value, 'V')} / {reading(load.value, 'Ω')}"
    return [*steps, Step("Current", "I = V/Z", numbers, voltage.value / load.value, "A", OHM)]


def _terminal_power(part: Part) -> list[Step]:
    load, voltage = steps = _terminal_voltage(part)
    numbers = f"{reading(voltage.value, 'V')}² / {reading(load.value, 'Ω')}"
    return [*steps, Step("Power", "P = V²/Z", numbers, voltage.value**2 / load.value, "W", OHM)]


def open_voltage(part: Part) -> list[Step]:
    """The voltage of a channel or bridged pair with nothing connected."""
    model, bridged = part.branch.model, part.branch.mode == "bridged"
    stated = model.open_voltage
    single = Step(
        "Voltage with nothing connected",
        "as stated"
        if stated
        else "the two highest rated loads extrapolated to I = 0, at least the highest rated voltage, at most 1.15 × it",
        f"{stated}" if stated else _points(part),
        amplifier.open_voltage(model),
        "V",
        data_sheet(model.id) if stated else COMMON,
    )
    if not bridged:
        return [single]
    twice = Step(
        "The same of the bridged pair",
        "V = 2·V of one channel",
        f"2 · {single.result}",
        2 * single.value,
        "V",
        "two channels in series, in opposite polarity",
    )
    return [single, twice]


def _points(part: Part) -> str:
    points = amplifier.rated_points(part.branch.model)[:2]
    return ", ".join(
        f"{reading(p.voltage, 'V')} and {reading(p.current, 'A')} at {reading(p.load, 'Ω')}" for p in points
    )


def _least(part: Part, limit: Callable[[Section], float]) -> tuple[Section, str]:
    worst = min(part.branch.models, key=limit)
    return worst, f"{worst.id}" + (", the lowest of its sections" if len(part.branch.models) > 1 else "")


def _limiter_rms(part: Part) -> list[Step]:
    worst, section = _least(part, protection.limiter_rms)
    voltage = Step(
        f"Highest safe rms limiter for {section}",
        "V = √(P_continuous·Z)",
        f"√({worst.continuous} · {worst.nominal})",
        protection.limiter_rms(worst),
        "V",
        "IEC 60268-5, AES2: continuous rating",
        cap=True,
    )
    return [voltage]


def _limiter_peak(part: Part) -> list[Step]:
    worst, section = _least(part, protection.limiter_peak)
    stated = f"{worst.peak}" if worst.peak else f"4 · {worst.continuous}"
    voltage = Step(
        f"Highest safe peak limiter for {section}",
        "V = √(P_peak·Z)",
        f"√({stated} · {worst.nominal})",
        protection.limiter_peak(worst),
        "V peak",
        "data sheet: peak rating" if worst.peak else f"peak = 4 × continuous: {COMMON}",
        cap=True,
    )
    return [voltage]


def _at_input(part: Part, steps: list[Step]) -> list[Step]:
    gain = part.branch.output.gain
    level = Step(
        "The same at the amplifier's input",
        "20·log10(V / 0.7746 V) − gain",
        f"20·log10({reading(floored(final(steps), 4), 'V', 4)} / 0.7746 V) − {reading(gain, 'dB', 4)}",
        protection.input_level(final(steps), gain),
        "dBu",
        "0 dBu = 0.7746 V",
        cap=True,
    )
    return [*steps, level]


# --- a section ----------------------------------------------------------------------------------------


def _section_voltage(part: Part) -> list[Step]:
    terminals, division = _terminal_voltage(part), _division(part.way, part.ambient)
    return [*terminals, *division, _divided("Voltage at the section", terminals, division)]


def _section_power(part: Part) -> list[Step]:
    voltage, nominal = _section_voltage(part)[-1], part.section.nominal
    numbers = f"{voltage.result}² / {nominal}"
    return [voltage, Step("Power", "P = V²/Z nominal", numbers, voltage.value**2 / nominal.value, "W", OHM)]


def _section_loss(part: Part) -> list[Step]:
    division = _division(part.way, part.ambient)
    return [*division, _loss(division)]


def _damping(part: Part) -> list[Step]:
    branch = part.branch
    rating, bridged = branch.model.damping_factor, branch.mode == "bridged"
    output = Step(
        "Output resistance of the amplifier",
        "Ro = rated load / damping factor" + (", twice for a bridged pair" if bridged else ""),
        f"{rating.load} / {number(rating.value)}" + (" · 2" if bridged else ""),
        amplifier.output_resistance(branch.model, bridged),
        "Ω",
        "IEC 60268-3",
    )
    load = _load_terminal(part)[-1]
    division = _division(part.way, part.ambient)
    transfer = final(division)
    share = Step(
        "Voltage at the section over the EMF behind Ro",
        "V/E = v / (1 + Ro/Z_terminal)",
        f"{number(transfer)} / (1 + {output.result} / {load.result})",
        transfer / (1 + output.value / load.value),
        "",
        OHM,
    )
    damping = Step(
        "Damping factor",
        "D = V / (E − V)",
        f"{number(share.value, 4)} / (1 − {number(share.value, 4)})",
        network.damping_factor(transfer, 1 / load.value, output.value),
        "",
        "IEC 60268-3, at the section instead of the terminals",
    )
    return [output, load, *division, share, damping]


def _source_resistance(part: Part) -> list[Step]:
    steps, nominal = _damping(part), part.section.nominal
    numbers = f"{nominal} / {number(final(steps))}"
    seen = Step("Source resistance", "R = Z/D", numbers, nominal.value / final(steps), "Ω", "IEC 60268-3")
    return [*steps, seen]


def _headroom(part: Part) -> list[Step]:
    steps, section = _section_power(part), part.section
    headroom = Step(
        "Headroom",
        "10·log10(P/P_continuous)",
        f"10·log10({steps[-1].result} / {section.continuous})",
        protection.headroom(final(steps), section),
        "dB",
        "IEC 60268-5, AES2: continuous rating",
    )
    return [*steps, headroom]


def _driver(part: Part) -> Driver:
    driver = part.section.driver
    if driver is None:
        raise NoWorkingError("Its data sheet gives no driver data.")
    return driver


def _q_total(part: Part) -> list[Step]:
    source = _source_resistance(part)[-1]
    driver, coil = _driver(part), part.section.dc_resistance.value
    electrical = Step(
        "Electrical Q with the source resistance",
        "Qes' = Qes (Re + R)/Re",
        f"{number(driver.qes)} · ({reading(coil, 'Ω')} + {source.result}) / {reading(coil, 'Ω')}",
        driver.qes * (coil + source.value) / coil,
        "",
        SMALL_1972,
    )
    qes, qms = number(electrical.value), number(driver.qms)
    total = Step(
        "Total Q",
        "Qts' = Qes'·Qms/(Qes' + Qms)",
        f"{qes} · {qms} / ({qes} + {qms})",
        loudspeaker.q_total(driver, coil, source.value),
        "",
        SMALL_1972,
    )
    return [source, electrical, total]


def _q_ideal(part: Part) -> list[Step]:
    driver = _driver(part)
    qes, qms = number(driver.qes), number(driver.qms)
    ideal = Step(
        "Total Q with no source resistance",
        "Qts = Qes·Qms/(Qes + Qms)",
        f"{qes} · {qms} / ({qes} + {qms})",
        loudspeaker.q_total(driver, part.section.dc_resistance.value, 0.0),
        "",
        SMALL_1972,
    )
    return [ideal]


def _ring_down(part: Part) -> list[Step]:
    steps, driver = _q_total(part), _driver(part)
    rings = final(steps) >= loudspeaker.RINGS
    time = Step(
        "Decay to −20 dB" if rings else "The same, without ringing: Q is under ½",
        "t = 2Q·ln 10/(2π·fs)" if rings else "t = ln 10/(2π·fs·(1/2Q − √(1/4Q² − 1)))",
        f"Q = {number(final(steps))}, fs = {driver.fs}",
        loudspeaker.ring_down(final(steps), driver.fs.value)[0],
        "s",
        "poles of a second-order system",
    )
    return [*steps, time]


def _ring_down_cycles(part: Part) -> list[Step]:
    steps, driver = _ring_down(part), _driver(part)
    cycles = Step(
        "In cycles of fs",
        "t·fs",
        f"{steps[-1].result} · {driver.fs}",
        final(steps) * driver.fs.value,
        "cycles",
        "poles of a second-order system",
    )
    return [*steps, cycles]


def _ripple(part: Part) -> list[Step]:
    branch = part.branch
    low, high = band = band_of(branch.feed)
    how = "impedance from its driver data" if part.section.driver else "a resistor: no driver data"
    ripple = Step(
        "Spread of level over the band",
        "20·log10(max |V/E| / min |V/E|)",
        f"{reading(low, 'Hz')} to {reading(high, 'Hz')}, {how}",
        over_frequency(branch.nodes, branch.output.resistance, band)[1][part.number],
        "dB",
        f"{SMALL_1972}; {SMALL_1973}",
    )
    return [ripple]


def _capacitor(part: Part) -> list[Step]:
    start = band_of(part.branch.feed)[0]
    value = Step(
        "Protective capacitor in series",
        "C = 1/(2π·f·Z), f an octave under the band",
        f"f = {reading(start / 2, 'Hz')}, Z = {part.section.nominal}",
        protection.protective_capacitor(part.section, start),
        "F",
        COMMON,
    )
    return [value]


CHANNEL: Mapping[str, Explainer] = {
    "load_nominal": _load_nominal,
    "load_terminal": _load_terminal,
    "load_minimum": _load_minimum,
    "voltage": _terminal_voltage,
    "current": _terminal_current,
    "power": _terminal_power,
    "open_voltage": open_voltage,
    "limiter_rms": _limiter_rms,
    "limiter_peak": _limiter_peak,
    "limiter_rms_dbu": lambda part: _at_input(part, _limiter_rms(part)),
    "limiter_peak_dbu": lambda part: _at_input(part, _limiter_peak(part)),
}
SECTION: Mapping[str, Explainer] = {
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
RUN: Mapping[str, Explainer] = {
    "resistance": _run_resistance,
    "current": _run_current,
    "voltage": _run_voltage,
    "loss": _run_loss,
}
