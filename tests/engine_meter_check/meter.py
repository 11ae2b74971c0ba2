"""A line on the bench as a circuit of both conductors, its faults put in by hand, and what a meter shows on it.

Written from the rig alone with the standards' tables and numpy: none of the engine's code. Every conductor is a resistor
of its own; a meter sends one ampere in at the near end and reads the voltage.
"""

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from rackwright.model.lines import Line
from rackwright.model.rig import Rig

# Ω/m of one core at 20 °C: IEC 60228 class 5; contacts of 2 mΩ as the rigs here have them.
PER_METRE = {"1.5 mm2": 13.3e-3, "2.5 mm2": 7.98e-3, "4 mm2": 4.95e-3, "6 mm2": 3.30e-3}
COPPER = 0.00393  # per kelvin: IEC 60028
BROKEN = 1e9
"""Ω of a break, as a meter sees damp air."""
SHORT = 1e-4

Node = tuple[str, int, str]
Edge = tuple[Node, Node, float]


class Amiss(NamedTuple):
    """What is wrong with the line under test, or behind it."""

    near_short: bool = False
    far_short: bool = False
    crushed: tuple[str, float] = ("", 0.0)
    """A line, and the share of the way along it at which its cores touch."""
    broken: bool = False
    exchanged: tuple[int, int] | None = None
    open_drivers: frozenset[tuple[str, str]] = frozenset()
    changed: tuple[tuple[str, str], float] = (("", ""), 1.0)
    """A section, and what its resistance is multiplied by."""
    contact: tuple[str, float] = ("", 0.0)
    """A line, and the Ω more in one pole of its plugs."""
    unplugged: str = ""
    extra_on: str = ""
    size: str = ""
    length: float = 0.0


class Nature(NamedTuple):
    """What the sheet does not know: how the real things are."""

    spread: Mapping[tuple[str, str], float] = {}
    """What each section's DC resistance at 20 °C is multiplied by."""
    coil: float = 20.0
    """°C of the voice coils."""
    copper: float = 1.0
    """Of the standard's maximum, which conductors stay under."""
    contact: float = 2e-3
    """Ω of a contact."""


def shown(rig: Rig, line_id: str, pair: int, amiss: Amiss, nature: Nature = Nature()) -> float:  # noqa: B008
    """Ω at the near end of a line's pole pair (from 1)."""
    line = next(line for line in rig.lines if line.id == line_id)
    ends = (("near", pair, "+"), ("near", pair, "-"))
    edges = _line(rig, line, amiss, nature, near="near", first=True)
    if amiss.near_short:
        edges.append((*ends, SHORT))
    edges.append((*ends, BROKEN))
    return min(_resistance(edges, *ends), BROKEN)


def _line(rig: Rig, line: Line, amiss: Amiss, nature: Nature, near: str, first: bool) -> list[Edge]:
    """The conductors of a line and all that hangs on its far end, for each of its pairs."""
    cable = next(cable for cable in rig.equipment.cables if cable.id == line.cable)
    edges: list[Edge] = []
    size, metres = cable.size.text, line.length.value
    if first:
        size, metres = amiss.size or size, amiss.length or metres
    pairs = cable.cores // 2 // line.cores_per_pole
    core = PER_METRE[size] * metres * (1 + COPPER * (rig.supply.ambient.value - 20)) / line.cores_per_pole
    crushed, share = amiss.crushed
    for far in range(1, pairs + 1):
        near_pair = _exchanged(far, amiss.exchanged) if first else far
        for side in "+-":
            worn = amiss.contact[1] if amiss.contact[0] == line.id and side == "+" else 0.0
            ohms = BROKEN if first and amiss.broken and side == "+" else core * nature.copper
            ohms += 2 * nature.contact + worn
            if crushed == line.id:
                middle = (f"{line.id} crushed", far, side)
                edges.append(((near, near_pair, side), middle, max(ohms * share, SHORT)))
                edges.append((middle, (line.to, far, side), max(ohms * (1 - share), SHORT)))
            else:
                edges.append(((near, near_pair, side), (line.to, far, side), ohms))
        if crushed == line.id:
            edges.append(((f"{line.id} crushed", far, "+"), (f"{line.id} crushed", far, "-"), SHORT))
        if first and amiss.far_short:
            edges.append(((line.to, far, "+"), (line.to, far, "-"), SHORT))
    edges += _cabinet(rig, line.to, line.to, amiss, nature)
    if amiss.extra_on == line.to:
        extra = f"{line.to} extra"
        for far in range(1, pairs + 1):
            edges += [
                ((line.to, far, side), (extra, far, side), PER_METRE[cable.size.text] * 5) for side in "+-"
            ]
        edges += _cabinet(rig, line.to, extra, amiss, nature)
    for onward in rig.lines:
        if onward.source == line.to and onward.id != amiss.unplugged:
            edges += _line(rig, onward, amiss, nature, near=line.to, first=False)
    return edges


def _exchanged(pair: int, two: tuple[int, int] | None) -> int:
    return {two[0]: two[1], two[1]: two[0]}.get(pair, pair) if two else pair


def _cabinet(rig: Rig, cabinet_id: str, node: str, amiss: Amiss, nature: Nature) -> list[Edge]:
    cabinet = next(cabinet for cabinet in rig.cabinets if cabinet.id == cabinet_id)
    model = next(model for model in rig.equipment.loudspeakers if model.id == cabinet.model)
    dc = {section.id: section.dc_resistance.value for section in model.sections}
    hot = 1 + COPPER * (nature.coil - 20)
    where, times = amiss.changed
    return [
        (
            (node, far, "+"),
            (node, far, "-"),
            dc[name] * hot * nature.spread.get((node, name), 1.0) * (times if where == (node, name) else 1.0),
        )
        for far, names in enumerate(model.wirings[cabinet.wiring], start=1)
        for name in names
        if (node, name) not in amiss.open_drivers
    ]


def _resistance(edges: list[Edge], plus: Node, minus: Node) -> float:
    """Nodal analysis with one ampere from `minus` to `plus`; nodes that float are left with damp air to earth."""
    nodes = dict.fromkeys(node for edge in edges for node in edge[:2])
    place = {node: i for i, node in enumerate(nodes)}
    matrix, injected = np.eye(len(place)) * 1e-7, np.zeros(len(place))
    for one, other, ohms in edges:
        a, b = place[one], place[other]
        matrix[[a, b, a, b], [a, b, b, a]] += np.array([1, 1, -1, -1]) / ohms
    injected[place[plus]], injected[place[minus]] = 1.0, -1.0
    volts = np.linalg.solve(matrix, injected)
    ohms = float(volts[place[plus]] - volts[place[minus]])
    return math.inf if ohms > 1e5 else ohms
