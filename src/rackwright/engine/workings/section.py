"""The workings of a section: level, damping, headroom, response."""

from collections.abc import Mapping

from rackwright.engine import amplifier, loudspeaker, network, protection
from rackwright.engine.channel import band_of, over_frequency
from rackwright.engine.workings.cable import Explainer, Part, divided_voltage, loss_step, voltage_division
from rackwright.engine.workings.channel import load_terminal, terminal_voltage
from rackwright.engine.workings.steps import COMMON, OHM, SMALL_1972, SMALL_1973, NoWorkingError, Step, final
from rackwright.model.equipment import Driver
from rackwright.units import figure as number
from rackwright.units import reading


def _section_voltage(part: Part) -> list[Step]:
    terminals, division = terminal_voltage(part), voltage_division(part.way, part.ambient)
    return [*terminals, *division, divided_voltage("Voltage at the section", terminals, division)]


def _section_power(part: Part) -> list[Step]:
    voltage, nominal = _section_voltage(part)[-1], part.section.nominal
    numbers = f"{voltage.result}² / {nominal}"
    return [voltage, Step("Power", "P = V²/Z nominal", numbers, voltage.value**2 / nominal.value, "W", OHM)]


def _section_loss(part: Part) -> list[Step]:
    division = voltage_division(part.way, part.ambient)
    return [*division, loss_step(division)]


def _gain(part: Part) -> list[Step]:
    branch, lost = part.branch, _section_loss(part)
    loss, trim = final(lost), number(branch.trim).replace("-", "−")
    bridged = branch.output.gain - branch.model.gain.value
    bridge = f" + {number(bridged)} dB" if branch.mode == "bridged" else ""
    gain = Step(
        "Gain from the processor",
        "gain" + (" + bridging" if bridge else "") + " + trim − loss",
        f"{branch.model.gain}{bridge} + {trim} dB − {lost[-1].result}",
        branch.gain - loss,
        "dB",
        "IEC 60268-3: gain; decibels add",
    )
    return [*lost, gain]


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
    load = load_terminal(part)[-1]
    division = voltage_division(part.way, part.ambient)
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


SECTION: Mapping[str, Explainer] = {
    "voltage": _section_voltage,
    "power": _section_power,
    "loss": _section_loss,
    "source_resistance": _source_resistance,
    "damping_factor": _damping,
    "headroom": _headroom,
    "gain": _gain,
    "q_total": _q_total,
    "q_total_ideal": _q_ideal,
    "ripple": _ripple,
    "ring_down": _ring_down,
    "ring_down_cycles": _ring_down_cycles,
    "capacitor": _capacitor,
}
