"""One channel of a rig as a circuit of both conductors, and its nodal analysis: an independent way to the network's figures.

Written from the rig alone, with the tables of the standards and none of the engine's code. Every conductor of
every pole pair is a resistor of its own, there and back, from contact to contact.
"""

import math
from fractions import Fraction
from typing import NamedTuple

import numpy as np

from rackwright.model.lines import Line
from rackwright.model.rig import Rig

# Ω/m of one core at 20 °C. Metric: IEC 60228 class 5. Gauge: 17.241 Ω·mm²/km (IEC 60028) over the area of ASTM B258,
# stranded 2 % over that (common practice, no source).
PER_METRE = {
    "2.5 mm2": 7.98e-3,
    "4 mm2": 4.95e-3,
    "12 AWG": 1.02 * 17.241e-3 / (math.pi / 4 * (0.127 * 92 ** ((36 - 12) / 39)) ** 2),
}

Node = tuple[str, int, str]


class Resistor(NamedTuple):
    """Between two nodes, named by what it is: ("line", id, pole pair at the far end, side) or ("section", id)."""

    name: tuple[str, ...]
    plus: Node
    minus: Node
    ohms: float


PLUS, MINUS, EMF = ("terminals", 0, "+"), ("terminals", 0, "-"), ("emf", 0, "+")


def circuit(rig: Rig, channel: str, bridged: bool) -> list[Resistor]:
    """Every resistor that hangs on a channel, its output resistance first. An EMF of 1 V is meant from MINUS to EMF."""
    model = _of(rig.equipment.amplifiers, _of(rig.amplifiers(), channel.rpartition(".")[0]).model)
    output = model.damping_factor.load.value / model.damping_factor.value * (2 if bridged else 1)
    resistors = [Resistor(("output",), EMF, PLUS, output)]
    for socket in rig.sockets():
        for pair, pole in enumerate(socket.poles, start=1):
            if pole.lstrip("-") == channel:
                turned = pole.startswith("-")
                ends = (MINUS, PLUS) if turned else (PLUS, MINUS)
                resistors += _onward(rig, socket.id, pair, ends)
    return resistors


def _onward(rig: Rig, place: str, pair: int, ends: tuple[Node, Node]) -> list[Resistor]:
    """What leaves a pole pair (from 1) of a socket or a cabinet's link, whose two conductors are at `ends`."""
    found = []
    for line in rig.lines:
        for far in _arrivals(rig, line, pair) if line.source == place else ():
            there: tuple[Node, Node] = ((line.to, far, "+"), (line.to, far, "-"))
            ohms = _conductor(rig, line)
            found += [
                Resistor(("line", line.id, str(far), "go"), ends[0], there[0], ohms),
                Resistor(("line", line.id, str(far), "return"), there[1], ends[1], ohms),
            ]
            cabinet = _of(rig.cabinets, line.to)
            speaker = _of(rig.equipment.loudspeakers, cabinet.model)
            wiring = speaker.wirings[cabinet.wiring or next(iter(speaker.wirings))]
            found += [
                Resistor(
                    ("section", f"{cabinet.id}.{name}"), *there, _of(speaker.sections, name).nominal.value
                )
                for name in (wiring[far - 1] if far <= len(wiring) else ())
            ]
            found += _onward(rig, line.to, far, there)
    return found


def _arrivals(rig: Rig, line: Line, pair: int) -> list[int]:
    """The pole pairs at a line's far end that a pair at its near end arrives on."""
    if line.poles:
        return [far for far, near in enumerate(line.poles, start=1) if near == pair]
    carried = _of(rig.equipment.cables, line.cable).cores // 2 // line.cores_per_pole
    return [pair] if pair <= min(carried, *(c.pole_pairs for c in _connectors(rig, line))) else []


def _conductor(rig: Rig, line: Line) -> float:
    """Ω of one conductor of one pole: a contact at either end, and the cores in parallel, at their temperature."""
    size = _of(rig.equipment.cables, line.cable).size.text
    core = PER_METRE[size] * line.length.value * (1 + 0.00393 * (rig.supply.ambient.value - 20))
    return core / line.cores_per_pole + sum(c.contact_resistance.value for c in _connectors(rig, line))


def _connectors(rig: Rig, line: Line):
    sockets = {socket.id: socket.connector for socket in rig.sockets()}
    boxes = {box.id: _of(rig.equipment.loudspeakers, box.model).connector for box in rig.cabinets}
    return [_of(rig.equipment.connectors, (sockets | boxes)[end]) for end in (line.source, line.to)]


def _of(things, name):
    (found,) = [thing for thing in things if thing.id == name]
    return found


class Solved(NamedTuple):
    """Voltages and currents for an EMF of 1 V."""

    terminals: float
    voltages: dict[tuple[str, ...], float]
    """Across each resistor, + to −."""
    currents: dict[tuple[str, ...], float]

    def load(self) -> float:
        return self.terminals / self.currents["output",]


def solve(resistors: list[Resistor]) -> Solved:
    """Nodal analysis: conductances stamped into a matrix, the EMF and its resistance as a current source."""
    nodes = {
        node: i for i, node in enumerate(dict.fromkeys(n for r in resistors for n in r[1:3] if n != MINUS))
    }
    matrix, injected = np.zeros((len(nodes) + 1,) * 2), np.zeros(len(nodes) + 1)
    place = nodes | {MINUS: len(nodes)}
    for resistor in resistors:
        a, b = place[resistor.plus], place[resistor.minus]
        matrix[[a, b, a, b], [a, b, b, a]] += np.array([1, 1, -1, -1]) / resistor.ohms
    # The EMF is known: its row says so, and the column of the reference is left out.
    matrix[place[EMF]], injected[place[EMF]] = 0, 1
    matrix[place[EMF], place[EMF]] = 1
    potentials = np.append(np.linalg.solve(matrix[:-1, :-1], injected[:-1]), 0.0)
    return _told(resistors, {node: potentials[i] for node, i in place.items()})


def solve_by_lcapy(resistors: list[Resistor]) -> Solved:
    """The same by lcapy, in exact fractions."""
    from lcapy import Circuit  # slow to load, for the one worker that runs this

    names = {MINUS: "0"}
    for resistor in resistors:
        for node in resistor[1:3]:
            names.setdefault(node, str(len(names)))
    netlist = [f"V1 {names[EMF]} 0 {{1}}"] + [
        f"R{i} {names[r.plus]} {names[r.minus]} {{{Fraction(r.ohms).limit_denominator(10**9)}}}"
        for i, r in enumerate(resistors, start=1)
    ]
    solved = Circuit("\n".join(netlist))
    return _told(resistors, {node: float(solved[name].V.dc.expr) for node, name in names.items()})


def _told(resistors: list[Resistor], potentials: dict[Node, float]) -> Solved:
    across = {r.name: potentials[r.plus] - potentials[r.minus] for r in resistors}
    currents = {r.name: across[r.name] / r.ohms for r in resistors}
    return Solved(potentials[PLUS], across, currents)


# --- with inductances and capacitors, at one frequency ---


class Element(NamedTuple):
    """A resistor (Ω), inductance (H) or capacitor (F) between two nodes."""

    kind: str
    plus: Node
    minus: Node
    value: float


class Alternating(NamedTuple):
    """What an EMF of 1 V at a frequency makes."""

    load: complex
    """Ω at the terminals."""
    sections: dict[str, complex]
    """V at each section, past its capacitor."""


def elements(rig: Rig, channel: str, bridged: bool) -> tuple[list[Element], dict[str, tuple[Node, Node]]]:
    """Each conductor as a resistor and half the pair's inductance, each driver as the circuit of Small 1972 and 1973."""
    found: list[Element] = []
    drivers: dict[str, tuple[Node, Node]] = {}
    for part in circuit(rig, channel, bridged):
        if part.name[0] == "output":
            found.append(Element("R", part.plus, part.minus, part.ohms))
        elif part.name[0] == "line":
            line, between = _of(rig.lines, part.name[1]), (".".join(part.name), 0, "between")
            henries = _of(rig.equipment.cables, line.cable).inductance.value * line.length.value
            found.append(Element("R", part.plus, between, part.ohms))
            found.append(Element("L", between, part.minus, henries / line.cores_per_pole / 2))
        else:
            found += _section(rig, part, drivers)
    return found, drivers


def _section(rig: Rig, part: Resistor, drivers: dict[str, tuple[Node, Node]]) -> list[Element]:
    name = part.name[1]
    cabinet = _of(rig.cabinets, name.rpartition(".")[0])
    section = _of(_of(rig.equipment.loudspeakers, cabinet.model).sections, name.rpartition(".")[2])
    inner: list[Node] = [(name, number, "inner") for number in range(5)]
    found, plus, minus = [], part.plus, part.minus
    if section.capacitor is not None:
        found.append(Element("C", plus, inner[0], section.capacitor.value))
        plus = inner[0]
    drivers[name] = plus, minus
    driver = section.driver
    if driver is None:
        return [*found, Element("R", plus, minus, section.nominal.value)]
    re, ws = section.dc_resistance.value, 2 * math.pi * driver.fs.value
    lces = re / (ws * driver.qes)
    found += [
        Element("R", plus, inner[1], re),
        Element("L", inner[1], inner[2], driver.le.value),
        Element("R", inner[2], minus, re * driver.qms / driver.qes),
        Element("C", inner[2], minus, driver.qes / (ws * re)),
        Element("L", inner[2], minus, lces),
    ]
    if driver.box == "vented":
        wb, lceb = 2 * math.pi * driver.fb.value, lces / driver.alpha
        found += [
            Element("L", inner[2], inner[3], lceb),
            Element("C", inner[3], inner[4], 1 / (wb**2 * lceb)),
            Element("R", inner[4], minus, wb * lceb / driver.ql),
        ]
    return found


def alternating(rig: Rig, channel: str, bridged: bool, frequency: float) -> Alternating:
    """Nodal analysis at `frequency` (Hz): admittances stamped into a matrix."""
    parts, drivers = elements(rig, channel, bridged)
    names = dict.fromkeys(node for part in parts for node in (part.plus, part.minus))
    place = {node: at for at, node in enumerate(node for node in names if node != MINUS)} | {MINUS: -1}
    size, jw = len(names), 2j * math.pi * frequency
    matrix, injected = np.zeros((size, size), complex), np.zeros(size, complex)
    for part in parts:
        admittance = {"R": 1 / part.value, "L": 1 / (jw * part.value), "C": jw * part.value}[part.kind]
        a, b = place[part.plus], place[part.minus]
        matrix[[a, b, a, b], [a, b, b, a]] += np.array([1, 1, -1, -1]) * admittance
    matrix[place[EMF]], injected[place[EMF]], matrix[place[EMF], place[EMF]] = 0, 1, 1
    volts = np.append(np.linalg.solve(matrix[:-1, :-1], injected[:-1]), 0)
    output = next(part for part in parts if part.plus == EMF)
    current = (1 - volts[place[PLUS]]) / output.value
    across = {name: complex(volts[place[a]] - volts[place[b]]) for name, (a, b) in drivers.items()}
    return Alternating(complex(volts[place[PLUS]] / current), across)


def load_by_lcapy(rig: Rig, channel: str, bridged: bool, frequency: float) -> complex:
    """Ω at the terminals, by lcapy's nodal analysis."""
    from lcapy import Circuit  # slow to load, for the one worker that runs this

    parts = [part for part in elements(rig, channel, bridged)[0] if part.plus != EMF]
    names = {MINUS: "0"}
    for part in parts:
        for node in (part.plus, part.minus):
            names.setdefault(node, str(len(names)))
    netlist = [
        f"{part.kind}{i} {names[part.plus]} {names[part.minus]} {{{Fraction(part.value).limit_denominator(10**12)}}}"
        for i, part in enumerate(parts, start=1)
    ]
    ratio = Circuit("\n".join(netlist)).impedance(int(names[PLUS]), 0).as_expr().sympy
    (s,) = ratio.free_symbols
    return complex(ratio.subs(s, 2j * math.pi * frequency))
