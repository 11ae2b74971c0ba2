"""The wiring of one channel as a tree of resistances and sections, and its solution.

A branch starts at the amplifier's terminals; each run adds its loop and contact resistance; at a
cabinet the sections of the pole pair and the runs that continue from its link are in parallel. The same
solution serves numbers (nominal resistances) and arrays over frequency. Holds no amplifier: what stands at
the terminals is the caller's.
"""

import functools
import math
import operator
from collections.abc import Callable, Iterator, Mapping
from typing import Generic, NamedTuple, TypeVar

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine import outage
from rackwright.engine.conductor import CONTACTS, loop_resistance
from rackwright.engine.loudspeaker import Array, ComplexArray
from rackwright.model.equipment import CableModel, ConnectorModel, Section
from rackwright.model.index import Index, wired_sections
from rackwright.model.lines import Line
from rackwright.units import Resistance

Admittance = TypeVar("Admittance", float, ComplexArray)
Complex = TypeVar("Complex", complex, ComplexArray)


class Node(Struct, frozen=True, gc=False):
    """The electrical side of a run: its resistance, the sections at its far end, the runs that go on from there.

    Equal nodes behave alike wherever they stand, so that what is worked out for one serves all.
    """

    resistance: float
    """Ω there and back, contacts included."""
    sections: tuple[Section, ...]
    links: tuple["Node", ...]
    inductance: float = 0.0
    """H of the pair."""
    contacts: float = 0.0
    """Ω, what of its resistance is that of contacts."""

    def worn(self, times: float) -> "Node":
        """The same with contacts of so many times the resistance, here and behind."""
        more = self.contacts * (times - 1)
        links = tuple([link.worn(times) for link in self.links])
        return Node(self.resistance + more, self.sections, links, self.inductance, self.contacts * times)


class Run(Struct, frozen=True, gc=False):
    """One pole pair of one line, and all that hangs on its far end."""

    line: Line
    near: int
    """Pole pair at the near end, from 0."""
    far: int
    """Pole pair at the far end, from 0."""
    cable: CableModel
    near_connector: ConnectorModel
    far_connector: ConnectorModel
    links: tuple["Run", ...]
    node: Node

    def all_runs(self) -> Iterator["Run"]:
        """This run and those behind it, in the order in which a branch is solved."""
        yield self
        for link in self.links:
            yield from link.all_runs()

    def worn(self, times: float) -> "Run":
        """The same with contacts of so many times the resistance, here and behind."""
        return replace(
            self,
            near_connector=_worn(self.near_connector, times),
            far_connector=_worn(self.far_connector, times),
            links=tuple([link.worn(times) for link in self.links]),
            node=self.node.worn(times),
        )

    def apart(self, way: float = 0.0) -> Iterator[Node]:
        """Each cabinet behind this run on a run of its own, its cable as long as its way to the terminals is now."""
        whole = way + self.node.resistance
        yield Node(whole, self.node.sections, ())
        for link in self.links:
            yield from link.apart(whole - self.node.contacts)


def _worn(connector: ConnectorModel, times: float) -> ConnectorModel:
    contact = connector.contact_resistance.value * times
    return replace(connector, contact_resistance=Resistance(f"{contact:.6g} ohm", contact))


class Solution(NamedTuple, Generic[Admittance]):
    """A branch solved, relative to the voltage at its terminals; runs and sections in the order of the tree."""

    admittance: Admittance
    """S, seen by the amplifier, cable included."""
    transfers: tuple[Admittance, ...]
    """Each section's voltage over the terminals'."""
    far_ends: tuple[Admittance, ...]
    """The voltage at each run's far end over the terminals'."""
    loads: tuple[Admittance, ...]
    """S, of what hangs on each run's far end."""

    @property
    def currents(self) -> tuple[Admittance, ...]:
        """Each run's current in A per volt at the terminals."""
        return tuple([v * y for v, y in zip(self.far_ends, self.loads, strict=True)])


def runs_from(
    index: Index, place: str, pair: int, seen: dict[tuple[str, str], int], sign: int
) -> tuple[Run, ...]:
    """The runs that leave pole pair `pair` (from 0) of a socket or of a cabinet's link.

    None goes to a muted cabinet, whose plug is pulled, and none where the pole pair has failed.

    `seen` collects (cabinet, section) → `sign`, in the order in which a branch is solved: a section strapped
    to two pole pairs of one channel counts once.
    """
    lines = index.lines_from.get(place)
    if not lines:
        return ()
    return tuple(
        [
            _run(index, line, pair, far, seen, sign)
            for line in lines
            if not index.cabinets[line.to].muted and outage.passes(line, pair)
            for far, near in enumerate(index.pole_map(line))
            if near == pair
        ]
    )


def way_to(roots: tuple[Run, ...], target: Run) -> list[Run]:
    """The runs from the terminals to a run's far end, that run the last."""

    def search(run: Run) -> list[Run]:
        if run is target:
            return [run]
        return next(([run, *found] for link in run.links if (found := search(link))), [])

    return next(found for root in roots if (found := search(root)))


def _run(index: Index, line: Line, near: int, far: int, seen: dict[tuple[str, str], int], sign: int) -> Run:
    cabinet = index.cabinets[line.to]
    model = index.loudspeaker_models[cabinet.model]
    wiring = wired_sections(cabinet, model)
    there = wiring[far] if far < len(wiring) else ()
    names = [n for n in there if (cabinet.id, n) not in seen and outage.fault(cabinet, n) != "open"]
    for name in names:
        seen[cabinet.id, name] = sign
    cable = index.cable_models[line.cable]
    near_connector, far_connector = index.near_connector(line), index.connector_models[model.connector]
    copper = loop_resistance(
        cable.size, line.length.value, line.cores_per_pole, index.rig.supply.ambient.value
    )
    contacts = CONTACTS * (near_connector.contact_resistance.value + far_connector.contact_resistance.value)
    links = runs_from(index, cabinet.id, far, seen, sign)
    node = Node(
        copper + contacts,
        tuple([model.section(n) for n in names]),
        tuple([run.node for run in links]),
        cable.inductance.value * line.length.value / line.cores_per_pole,
        contacts,
    )
    return Run(line, near, far, cable, near_connector, far_connector, links, node)


def sections_of(nodes: tuple[Node, ...]) -> Iterator[Section]:
    """Every section behind the nodes, in the order in which a branch is solved."""
    for node in nodes:
        yield from node.sections
        yield from sections_of(node.links)


def solve(
    roots: tuple[Node, ...],
    load_admittance: Callable[[Section], Admittance],
    nothing: Admittance,
    series: Callable[[Node], Admittance],
) -> Solution[Admittance]:
    """Solve a branch for one volt at its terminals.

    Each run: Y_near = Y_far/(1 + Z·Y_far), V_far = V_near/(1 + Z·Y_far), Y_far being the sections and
    the further runs in parallel, Z what `series` gives in Ω [1]_. `nothing` is a zero of the kind that `load_admittance` gives.

    >>> solved = solve(branch.nodes, conductance, 0.0, lambda node: node.resistance)
    >>> round(1 / solved.admittance, 3)
    8.174

    .. [1] Ohm's law and Kirchhoff's.
    """
    one = nothing + 1
    divisors: list[Admittance] = []
    loads: list[Admittance] = []

    def together(parts: list[Admittance]) -> Admittance:
        return functools.reduce(operator.add, parts) if parts else nothing

    def gather(node: Node) -> Admittance:
        place = len(divisors)
        divisors.append(nothing)
        loads.append(nothing)
        at_far = [load_admittance(section) for section in node.sections]
        at_far += [gather(link) for link in node.links]
        loads[place] = total = together(at_far)
        divisors[place] = divisor = one + series(node) * total
        return total / divisor

    total = together([gather(root) for root in roots])

    transfers: list[Admittance] = []
    far_ends: list[Admittance] = []

    def divide(node: Node, voltage: Admittance) -> None:
        there = voltage / divisors[len(far_ends)]
        far_ends.append(there)
        transfers.extend([there] * len(node.sections))
        for link in node.links:
            divide(link, there)

    for root in roots:
        divide(root, one)
    return Solution(total, tuple(transfers), tuple(far_ends), tuple(loads))


def conductance(section: Section) -> float:
    """1/nominal resistance, in S, by definition.

    >>> conductance(sub)
    0.125
    """
    return 1 / section.nominal.value


@functools.lru_cache(maxsize=65536)
def solve_nominal(roots: tuple[Node, ...]) -> Solution[float]:
    """The branch with every section at its nominal resistance.

    As of `solve` [1]_.

    >>> [round(transfer, 4) for transfer in solve_nominal(branch.nodes).transfers]
    [0.9787]

    .. [1] Ohm's law and Kirchhoff's.
    """
    return solve(roots, conductance, 0.0, operator.attrgetter("resistance"))


def solve_over(
    roots: tuple[Node, ...], admittance: Callable[[Section], ComplexArray], frequency: Array
) -> Solution[ComplexArray]:
    """The branch at `frequency` (Hz, shape (n,)); `admittance` gives S of shape (n,). A run is Z = R + jωL.

    As of `solve` [1]_.

    >>> from rackwright.engine import loudspeaker
    >>> at = np.array([36.0, 72.0])
    >>> solved = solve_over(branch.nodes, lambda of: 1 / loudspeaker.impedance(of, at), at)
    >>> np.round(1 / np.abs(solved.admittance), 2).tolist()
    [7.49, 16.06]

    .. [1] Ohm's law and Kirchhoff's.
    """
    turns = 2j * np.pi * frequency
    return solve(
        roots,
        admittance,
        np.zeros(len(frequency), dtype=np.complex128),
        lambda node: np.asarray(node.resistance + node.inductance * turns),
    )


def admittance_over(
    roots: tuple[Node, ...], of_sections: Mapping[int, ComplexArray], frequency: Array
) -> ComplexArray:
    """What the amplifier sees of the branch at `frequency` (Hz, shape (n,)), in S; as of `solve_over`, and no more.

    `of_sections` gives S for the `id` of each section, one of each model being the same object.

    By the law of impedances in parallel and in series [1]_.

    >>> from rackwright.engine import loudspeaker
    >>> at = np.array([36.0, 72.0])
    >>> each = {id(of): 1 / loudspeaker.impedance(of, at) for of in sections_of(branch.nodes)}
    >>> np.round(1 / np.abs(admittance_over(branch.nodes, each, at)), 2).tolist()
    [7.49, 16.06]

    .. [1] Ohm's law and Kirchhoff's.
    """
    return functools.reduce(operator.add, _seen(roots, of_sections, np.asarray(2j * np.pi * frequency)))


def admittance_at(roots: tuple[Node, ...], of_sections: Mapping[int, complex], frequency: float) -> complex:
    """What the amplifier sees of the branch at one `frequency` (Hz), in S, as of `admittance_over`.

    By the same law [1]_.

    >>> from rackwright.engine import loudspeaker
    >>> each = {id(of): 1 / loudspeaker.impedance_at(of, 36.0) for of in sections_of(branch.nodes)}
    >>> round(1 / abs(admittance_at(branch.nodes, each, 36.0)), 2)
    7.49

    .. [1] Ohm's law and Kirchhoff's.
    """
    return functools.reduce(operator.add, _seen(roots, of_sections, 2j * math.pi * frequency))


def _seen(nodes: tuple[Node, ...], of_sections: Mapping[int, Complex], s: Complex) -> list[Complex]:
    """S, of each of the nodes with something on it; they are in parallel."""
    parts = []
    for node in nodes:
        behind = list(map(of_sections.__getitem__, map(id, node.sections)))
        if node.links:
            behind += _seen(node.links, of_sections, s)
        if behind:
            total = behind[0] if len(behind) == 1 else functools.reduce(operator.add, behind)
            parts.append(total / (1 + (node.resistance + node.inductance * s) * total))
    return parts


def damping_factor(transfer: float, branch_conductance: float, output_resistance: float) -> float:
    """Damping factor of a section whose voltage over the terminals' is `transfer`.

    With unit EMF behind the output resistance Ro, V = transfer/(1 + Ro·G), and D = V/(1 − V): the shared
    resistance of a chain counts once per driver that shares it. For n equal drivers at the end of one run
    of loop R it is the trade's (Z/n)/R [1]_.

    >>> round(damping_factor(8 / (8 + 0.4), 1 / (8 + 0.4), 0.02), 2)
    19.05

    .. [1] IEC 60268-3 defines the damping factor, of an amplifier; this is the same at the section.
    """
    voltage = transfer / (1 + output_resistance * branch_conductance)
    return voltage / (1 - voltage)
