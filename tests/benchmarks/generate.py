"""Rigs of any size for the benchmarks, of invented equipment.

Four sections to an amplifier channel pair, as a hall has them: a double woofer at the end of a run and a second linked
on from it, each of its two sections on a pole pair of its own.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import rigs
from rackwright.model.lines import Line
from rackwright.model.racks import Rack
from rackwright.model.rig import Rig
from rigs import amplifier, cabinet, line, socket

STOCKED = 8
"""Lengths of cable that a store has, where lengths are not all distinct."""


def rig(sections: int, distinct: bool) -> Rig:
    """A rig of about `sections` sections (a multiple of four), its long runs of distinct or of stocked lengths."""
    pairs = range(max(1, round(sections / 4)))
    return Rig(
        name=f"{4 * len(pairs)} sections",
        feeds=rigs.FEEDS[:1],
        racks=tuple(_rack(i) for i in pairs),
        lines=tuple(line for i in pairs for line in _lines(i, i if distinct else i % STOCKED)),
        cabinets=tuple(cabinet(f"C{i}{end}", "double", "split") for i in pairs for end in ("a", "b")),
        equipment=rigs.EQUIPMENT,
    )


def _rack(i: int) -> Rack:
    driving = amplifier(f"A{i}", "sub", "sub", circuit="")
    return Rack(id=f"R{i}", height=4, amplifiers=(driving,), sockets=(socket(f"S{i}", f"A{i}.1", f"A{i}.2"),))


def _lines(i: int, tenths: int) -> tuple[Line, Line]:
    return (
        line(f"L{i}a", f"S{i}", f"C{i}a", f"{10 + tenths / 10:g} m"),
        line(f"L{i}b", f"C{i}a", f"C{i}b", "5 m"),
    )
