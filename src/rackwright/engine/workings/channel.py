"""The workings of a channel: its loads, what it gives, its limiters."""

from collections.abc import Callable, Mapping

from rackwright.engine import amplifier, protection
from rackwright.engine.channel import Branch
from rackwright.engine.limits import COMMON
from rackwright.engine.network import Run
from rackwright.engine.workings import frequency
from rackwright.engine.workings.cable import Explainer, Part, loop_steps
from rackwright.engine.workings.steps import OHM, Step, assumed_too, data_sheet, final, operand
from rackwright.model.equipment import Section
from rackwright.units import floored


def _parallel(loads: list[float]) -> str:
    return " ‖ ".join(operand(load, "Ω") for load in loads)


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
    whole = loop_steps(run, ambient)[-1]
    seen = Step(
        f"Seen into {run.line.id}",
        "Z = R + Z_behind",
        f"{operand(whole.value, 'Ω')} + " + (f"({_parallel(loads)})" if len(loads) > 1 else _parallel(loads)),
        whole.value + 1 / sum([1 / load for load in loads]),
        "Ω",
        OHM,
    )
    return [*(step for steps in links for step in steps), whole, seen]


def load_terminal(part: Part) -> list[Step]:
    roots = [steps for run in part.branch.roots if (steps := _seen_into(run, part.ambient))]
    loads = [final(steps) for steps in roots]
    total = Step(
        "Load at the terminals",
        "1/Z = Σ 1/Z of each line",
        _parallel(loads),
        1 / sum([1 / load for load in loads]),
        "Ω",
        OHM,
    )
    return [*(step for steps in roots for step in steps), total]


def terminal_voltage(part: Part) -> list[Step]:
    load = load_terminal(part)[-1]
    points = part.branch.output.points
    rated = ", ".join(
        f"{operand(p.voltage, 'V')} and {operand(p.current, 'A')} at {operand(p.load, 'Ω')}" for p in points
    )
    highest, lowest = points[0], points[-1]
    if load.value > highest.load:
        how = "V = √(P·Z) at rated loads; above the highest rated load, the V of that one"
    elif load.value < lowest.load:
        how = "I = √(P/Z) at rated loads; under the lowest rated load, the I of that one: V = Z·I"
    else:
        how = "V = √(P·Z) at rated loads; between them where V = Z·I meets the line that joins them"
    voltage = Step(
        "Voltage at which it limits into that load",
        how,
        f"{rated}; Z = {operand(load.value, 'Ω')}",
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
    load, voltage = steps = terminal_voltage(part)
    numbers = f"{operand(voltage.value, 'V')} / {operand(load.value, 'Ω')}"
    return [*steps, Step("Current", "I = V/Z", numbers, voltage.value / load.value, "A", OHM)]


def _terminal_power(part: Part) -> list[Step]:
    load, voltage = steps = terminal_voltage(part)
    numbers = f"({operand(voltage.value, 'V')})² / {operand(load.value, 'Ω')}"
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
        f"2 · {single.operand}",
        2 * single.value,
        "V",
        "two channels in series, in opposite polarity",
    )
    return [single, twice]


def _points(part: Part) -> str:
    points = amplifier.rated_points(part.branch.model)[:2]
    return ", ".join(
        f"{operand(p.voltage, 'V')} and {operand(p.current, 'A')} at {operand(p.load, 'Ω')}" for p in points
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


def _at_input(part: Part, steps: list[Step], unit: str = "dBu") -> list[Step]:
    gain = part.branch.gain
    level = Step(
        "The same at the amplifier's input",
        "20·log10(V / 0.7746 V) − gain" + (" with its trim" if part.branch.trim else ""),
        f"20·log10({operand(floored(final(steps), 4), 'V')} / 0.7746 V) − {operand(gain, 'dB')}",
        protection.input_level(final(steps), gain),
        unit,
        f"0 dBu = 0.7746 V; rounded down{assumed_too(part.branch.model, 'gain')}",
        cap=True,
    )
    return [*steps, level]


def _peak_at_input(part: Part) -> list[Step]:
    return _at_input(part, _limiter_peak(part), "dBu peak")


def _on_the_sine_scale(part: Part) -> list[Step]:
    steps = _peak_at_input(part)
    sine = Step(
        "The same where the processor shows the rms of a sine",
        "level − 20·log10(√2)",
        f"{operand(floored(final(steps), 4), 'dBu peak')} − 20·log10(√(2))",
        protection.sine_level(final(steps)),
        "dBu sine",
        "a sine's peak is √2 times its rms; rounded down",
        cap=True,
    )
    return [*steps, sine]


CHANNEL: Mapping[str, Explainer] = {
    "load_nominal": _load_nominal,
    "load_terminal": load_terminal,
    "load_minimum": frequency.load_minimum,
    "load_minimum_at": frequency.load_minimum_at,
    "voltage": terminal_voltage,
    "current": _terminal_current,
    "power": _terminal_power,
    "open_voltage": open_voltage,
    "limiter_rms": _limiter_rms,
    "limiter_peak": _limiter_peak,
    "limiter_rms_dbu": lambda part: _at_input(part, _limiter_rms(part)),
    "limiter_peak_dbu": _peak_at_input,
    "limiter_peak_sine_dbu": _on_the_sine_scale,
}
