"""The workings of what depends on frequency: a channel's network solved at one frequency, in moduli and angles.

Prints the frequency and every value put in, so that each step can be worked out again. Where an extreme lies is found by
`frequency_response`.
"""

import cmath
import math
from collections.abc import Iterator

from rackwright.engine import frequency_response, loudspeaker
from rackwright.engine.channel import Branch, band_of
from rackwright.engine.frequency_response import At
from rackwright.engine.limits import COMMON
from rackwright.engine.loudspeaker import LOWEST_MODULUS
from rackwright.engine.network import Run
from rackwright.engine.workings.cable import Part
from rackwright.engine.workings.steps import (
    OHM,
    SMALL_1972,
    SMALL_1973,
    Step,
    data_sheet,
    final,
    number,
    operand,
    polar,
)
from rackwright.model.equipment import USUAL_INDUCTANCE, CableModel, Section

_DIRECT = "Z = Re + jωLe + Res/(1 + jQms(f/fs − fs/f)), Res = Re·Qms/Qes"
_VENTED = "Z = Re + jωLe + 1/(1/Res + jωCmes + 1/(jωLces) + 1/(jωLceb + 1/(jωCmep) + Rel))"


class Network:
    """A channel's network at one frequency: complex impedances, and the steps that lead to them."""

    def __init__(self, branch: Branch, frequency: float, bare: float = 1.0) -> None:
        """A section without driver data is `bare` × its nominal resistance."""
        self.branch, self.frequency, self.bare = branch, frequency, bare
        self.steps: list[Step] = []
        sections = dict.fromkeys(branch.models)
        self.of_section = {section: self._section(section) for section in sections}
        self.seen: dict[int, complex] = {}
        self.behind: dict[int, complex] = {}
        self.roots = [z for run in branch.roots if (z := self._into(run)) is not None]

    @property
    def at(self) -> str:
        """The frequency as printed."""
        return operand(self.frequency, "Hz")

    @property
    def terminals(self) -> complex:
        """Ω, of all runs in parallel."""
        return 1 / sum([1 / z for z in self.roots])

    @property
    def together(self) -> str:
        """The runs in parallel, as printed."""
        return " ‖ ".join(polar(z, "Ω") for z in self.roots)

    def _section(self, section: Section) -> complex:
        z = loudspeaker.impedance_at(section, self.frequency, self.bare)
        driver, capacitor = section.driver, section.capacitor
        told = [f"f = {self.at}"]
        if driver is None:
            share = f"{number(self.bare)} · " if self.bare != 1 else ""
            formula, source = "Z = nominal", "data sheet: no driver data, so a resistor"
            told.append(f"nominal = {share}{section.nominal}")
            if self.bare != 1:
                source += "; IEC 60268-5: not under 80 % of rated"
        else:
            vented = driver.box == "vented"
            formula, source = (_VENTED, SMALL_1973) if vented else (_DIRECT, SMALL_1972)
            told += [
                f"Re = {section.dc_resistance}",
                f"Le = {driver.le}",
                f"fs = {driver.fs}",
                f"Qms = {number(driver.qms)}",
                f"Qes = {number(driver.qes)}",
            ]
            if vented:
                told += [f"α = {number(driver.alpha or 0)}", f"fb = {driver.fb}", f"QL = {number(driver.ql)}"]
        if capacitor is not None:
            formula += " + 1/(jωC)"
            told.append(f"C = {capacitor}")
        self.steps.append(
            Step(
                f"Impedance of {section.id} at {self.at}",
                formula,
                ", ".join(told),
                abs(z),
                "Ω",
                source,
                angle=_degrees(z),
            )
        )
        return z

    def _into(self, run: Run) -> complex | None:
        """What is seen into a run; None where nothing hangs on it."""
        loads = [self.of_section[section] for section in run.node.sections]
        loads += [z for link in run.links if (z := self._into(link)) is not None]
        if not loads:
            return None
        behind = 1 / sum([1 / z for z in loads])
        own = complex(run.node.resistance, 2 * math.pi * self.frequency * run.node.inductance)
        self.behind[id(run)], self.seen[id(run)] = behind, behind + own
        printed = " ‖ ".join(polar(z, "Ω") for z in loads)
        self.steps.append(
            Step(
                f"Seen into {run.line.id}",
                "Z = R + jωL + Z_behind",
                f"{operand(run.node.resistance, 'Ω')} + j·2·π·{self.at}·{operand(run.node.inductance, 'H')} + "
                + (f"({printed})" if len(loads) > 1 else printed),
                abs(behind + own),
                "Ω",
                f"{OHM}; {inductance_source(run.cable)}",
                angle=_degrees(behind + own),
            )
        )
        return behind + own

    def level(self, place: int) -> list[Step]:
        """From the amplifier's own voltage to the level at section number `place`, after the steps of the network."""
        branch, z = self.branch, self.terminals
        ratio = z / (z + branch.output.resistance)
        steps = [
            Step(
                "Voltage at the terminals as a share of the EMF behind Ro",
                "V/E = 1 / (1 + Ro/Z)",
                f"1 / (1 + {operand(branch.output.resistance, 'Ω')} / ({self.together}))",
                abs(ratio),
                "",
                OHM,
                angle=_degrees(ratio),
            ),
            *self.along(branch.way(place), ratio),
        ]
        ratio = cmath.rect(steps[-1].value, math.radians(steps[-1].angle or 0.0))
        section = branch.models[place]
        if section.capacitor is not None:
            past = ratio * loudspeaker.past_capacitor(section, self.frequency)
            steps.append(
                Step(
                    f"Past the capacitor of {section.id}",
                    "v = v_near · (1 − 1/(jωC·Z))",
                    f"({polar(ratio)}) · (1 − 1 / (j·2·π·{self.at}·{section.capacitor} · ({polar(self.of_section[section], 'Ω')})))",
                    abs(past),
                    "",
                    OHM,
                    angle=_degrees(past),
                )
            )
        last = final(steps)
        level = Step(
            f"Level at {self.at}",
            "20·log10 |V/E|",
            f"20·log10({number(last)})",
            20 * math.log10(last),
            "dB",
            "definition of the decibel",
        )
        return [*self.steps, *steps, level]

    def along(self, way: list[Run], ratio: complex) -> Iterator[Step]:
        """Each run of a way divides the voltage, `ratio` at its beginning."""
        for run in way:
            before, ratio = ratio, ratio * self.behind[id(run)] / self.seen[id(run)]
            yield Step(
                f"Voltage at {run.line.to}",
                "v = v_near · Z_behind / Z_seen",
                f"({polar(before)}) · ({polar(self.behind[id(run)], 'Ω')}) / ({polar(self.seen[id(run)], 'Ω')})",
                abs(ratio),
                "",
                OHM,
                angle=_degrees(ratio),
            )


def _degrees(z: complex) -> float:
    return math.degrees(cmath.phase(z))


def inductance_source(cable: CableModel) -> str:
    """Whose the inductance of a cable is, with its value."""
    usual = cable.inductance == USUAL_INDUCTANCE
    return f"L: {cable.inductance}, {COMMON if usual else data_sheet(cable.id)}"


def load_minimum(part: Part) -> list[Step]:
    """The lowest modulus at the terminals, at the frequency where it is."""
    branch = part.branch
    found = frequency_response.lowest_modulus(branch.circuit)
    network = Network(branch, found.frequency, LOWEST_MODULUS)
    low, high = (operand(end, "Hz") for end in band_of(branch.feed))
    lowest = Step(
        f"Modulus at the terminals at {network.at}, the lowest from {low} to {high}",
        "1/Z = Σ 1/Z of each line, at the frequency where |Z| is lowest",
        network.together,
        found.value,
        "Ω",
        OHM,
    )
    return [*network.steps, lowest]


def load_minimum_at(part: Part) -> list[Step]:
    """The frequency of it: the last step is the modulus there, then where it is."""
    found = frequency_response.lowest_modulus(part.branch.circuit)
    *steps, lowest = load_minimum(part)
    where = Step(
        "Frequency of the lowest impedance",
        f"found by trying the band, {loudspeaker.POINTS_PER_OCTAVE} points an octave, then ever closer about the lowest",
        operand(found.frequency, "Hz"),
        found.frequency,
        "Hz",
        "definition of the lowest; found by search, to 0.01 %",
    )
    return [*steps, lowest, where]


def ripple(part: Part) -> list[Step]:
    """The level at its highest and at its lowest, and what is between."""
    branch = part.branch
    found = frequency_response.ripples(branch.circuit)[part.number]

    def told(at: At) -> list[Step]:
        return Network(branch, at.frequency).level(part.number)

    highest, lowest = told(found.highest), told(found.lowest)
    low, high = (operand(end, "Hz") for end in band_of(branch.feed))
    one, other = (number(at.value) for at in found)
    spread = Step(
        f"Spread of level from {low} to {high}",
        "highest − lowest",
        f"({one} dB) − ({other} dB)",
        found.spread,
        "dB",
        "definition of the spread",
    )
    return [*highest, *lowest, spread]


def band_top_loss(part: Part) -> list[Step]:
    """What is lost in cables at the top of the band."""
    branch = part.branch
    network = Network(branch, branch.circuit.band[1])
    steps = list(network.along(branch.way(part.number), 1 + 0j))
    loss = Step(
        f"Loss at {network.at}, the top of the band",
        "−20·log10 |v|",
        f"−20·log10({number(final(steps))})",
        frequency_response.band_top_losses(branch.circuit)[part.number],
        "dB",
        "definition of the decibel",
    )
    return [*network.steps, *steps, loss]
