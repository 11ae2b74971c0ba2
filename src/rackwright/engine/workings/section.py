"""The workings of a section: level, damping, headroom, response."""

from collections.abc import Mapping

from rackwright.engine import amplifier, decay, loudspeaker, network, protection
from rackwright.engine.channel import band_of
from rackwright.engine.conductor import WORN
from rackwright.engine.limits import COMMON
from rackwright.engine.workings import frequency
from rackwright.engine.workings.cable import Explainer, Part, divided_voltage, loss_step, voltage_division
from rackwright.engine.workings.channel import load_terminal, terminal_voltage
from rackwright.engine.workings.steps import (
    OHM,
    SCHROEDER,
    SMALL_1972,
    SMALL_1973,
    NoWorkingError,
    Step,
    assumed_too,
    final,
    number,
    operand,
)
from rackwright.model.equipment import Driver


def _section_voltage(part: Part) -> list[Step]:
    terminals, division = terminal_voltage(part), voltage_division(part.way, part.ambient)
    return [*terminals, *division, divided_voltage("Voltage at the section", terminals, division)]


def _section_power(part: Part) -> list[Step]:
    return _power_of(part, _section_voltage(part)[-1])


def _limited_power(part: Part) -> list[Step]:
    full, limiter = terminal_voltage(part)[-1], part.branch.set_rms
    if limiter is None:
        raise NoWorkingError("Its feed has no rms limiter.")
    held = Step(
        "Voltage at the terminals, limiter and amplifier",
        "the smaller of the two",
        f"{operand(limiter, 'V')}, {full.operand}",
        min(limiter, full.value),
        "V",
        "limiter as set",
    )
    division = voltage_division(part.way, part.ambient)
    steps = [full, held, *division]
    return [*steps, *_power_of(part, divided_voltage("Voltage at the section", [held], division))]


def _power_of(part: Part, voltage: Step) -> list[Step]:
    nominal = part.section.nominal
    numbers = f"({voltage.operand})² / {nominal}"
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
        f"{branch.model.gain}{bridge} + {trim} dB − {lost[-1].operand}",
        branch.gain - loss,
        "dB",
        f"IEC 60268-3: gain; decibels add{assumed_too(branch.model, 'gain')}",
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
        "Voltage at the section as a share of the EMF behind Ro",
        "V/E = v / (1 + Ro/Z_terminal)",
        f"{number(transfer)} / (1 + {output.operand} / {load.operand})",
        transfer / (1 + output.value / load.value),
        "",
        OHM,
    )
    damping = Step(
        "Damping factor",
        "D = V / (E − V)",
        f"{number(share.value, 6)} / (1 − {number(share.value, 6)})",
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
        f"10·log10({steps[-1].operand} / {section.continuous})",
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
        f"{number(driver.qes)} · ({operand(coil, 'Ω')} + {source.operand}) / {operand(coil, 'Ω')}",
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


def _decay(part: Part, resistance: float, seen: str) -> Step:
    """The fall of the energy still to come: found from the poles, so that the step names what is put in."""
    driver, low = _driver(part), band_of(part.branch.feed)[0]
    vented = driver.box == "vented"
    tuned = f", α = {number(driver.alpha or 0)}, fb = {driver.fb}, QL = {number(driver.ql)}" if vented else ""
    return Step(
        f"Decay to −20 dB after {decay.CYCLES} cycles; Le and the processor's filters left out",
        "E(t) = E(0)/100, the energy of the sound still to come after the stop",
        f"f = {operand(low, 'Hz')}, fs = {driver.fs}, Qms = {number(driver.qms)}, Qes = {number(driver.qes)}, "
        f"Re = {operand(part.section.dc_resistance.value, 'Ω')}, R = {seen}{tuned}",
        decay.decay(part.section, resistance, low) or 0.0,
        "s",
        f"{SMALL_1973 if vented else SMALL_1972}; {SCHROEDER}",
    )


def _decay_as_wired(part: Part) -> list[Step]:
    _driver(part)
    source = _source_resistance(part)[-1]
    return [source, _decay(part, source.value, source.operand)]


def _decay_ideal(part: Part) -> list[Step]:
    return [_decay(part, 0.0, "0 Ω")]


def _level(part: Part) -> list[Step]:
    voltage, sensitivity = _section_voltage(part)[-1], part.section.sensitivity
    if sensitivity is None:
        raise NoWorkingError("Its data sheet gives no sensitivity.")
    level = Step(
        "Level at 1 m",
        "L = S + 20·log10(V / 2.83 V)",
        f"{sensitivity} + 20·log10({voltage.operand} / {loudspeaker.REFERENCE} V)",
        loudspeaker.level(sensitivity.value, voltage.value),
        "dB",
        "IEC 60268-5, from memory: characteristic sensitivity; S: data sheet",
    )
    return [voltage, level]


def _worn(part: Part, explainer: Explainer) -> list[Step]:
    """What an explainer makes of the same wiring with worn contacts."""
    runs = part.way
    connectors = dict.fromkeys(c for run in runs for c in (run.near_connector, run.far_connector))
    contacts = [
        Step(
            f"A worn or dirty contact of {connector.id}",
            f"{number(WORN)} × that of a good one",
            f"{number(WORN)} · {connector.contact_resistance}",
            WORN * connector.contact_resistance.value,
            "Ω",
            COMMON,
        )
        for connector in connectors
    ]
    worn = part.branch.worn(WORN)
    return [*contacts, *explainer(part._replace(branch=worn))]


def _capacitor(part: Part) -> list[Step]:
    start = band_of(part.branch.feed)[0]
    value = Step(
        "Protective capacitor in series",
        "C = 1/(2π·f·Z), f an octave under what it plays",
        f"f = {operand(protection.turnover(part.section, start), 'Hz')}, Z = {part.section.nominal}",
        protection.protective_capacitor(part.section, start),
        "F",
        COMMON,
    )
    return [value]


SECTION: Mapping[str, Explainer] = {
    "voltage": _section_voltage,
    "power": _section_power,
    "limited_power": _limited_power,
    "loss": _section_loss,
    "source_resistance": _source_resistance,
    "damping_factor": _damping,
    "headroom": _headroom,
    "gain": _gain,
    "q_total": _q_total,
    "q_total_ideal": _q_ideal,
    "ripple": frequency.ripple,
    "decay": _decay_as_wired,
    "decay_ideal": _decay_ideal,
    "level": _level,
    "band_top_loss": frequency.band_top_loss,
    "damping_factor_worn": lambda part: _worn(part, _damping),
    "loss_worn": lambda part: _worn(part, _section_loss),
    "advised_capacitor": _capacitor,
}
