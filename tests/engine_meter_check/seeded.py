"""Faults put into the hall's lines, and what a meter shows on them, by the circuit of the tests' own: open core, pole pairs
exchanged, a short in the far plug, one of two woofers dead, two lines each in the other's cabinet, and two pairs of one
line exchanged that read as good as the same.
"""

import math
from collections.abc import Mapping

from msgspec.structs import replace

from engine_meter_check.meter import Amiss, Nature, shown
from rackwright.model.rig import Rig

SEEDED = {
    ("C6", 2): Amiss(broken=True),
    ("C13", 1): Amiss(exchanged=(1, 2)),
    ("C13", 2): Amiss(exchanged=(1, 2)),
    ("C9", 1): Amiss(far_short=True),
    ("C3", 2): Amiss(open_drivers=frozenset({("SUB-L3", "lower")})),
}
CROSSED = {"C10": "SUB-R3", "C11": "SUB-R2"}
"""The fifth: these two lines each in the other's cabinet, which no meter tells."""
ALIKE = {("C20", 1): Amiss(exchanged=(1, 2)), ("C20", 2): Amiss(exchanged=(1, 2))}
"""A monitor's low and high driver: 6.99 and 6.47 Ω, so that each pair reads within the limits of the other."""
LEADS = 0.3
"""Ω of the meter's own leads."""


def measure(
    hall: Rig, line: str, pair: int, faults: Mapping[tuple[str, int], Amiss] = SEEDED, spread: float = 0.04
) -> str:
    """What the meter shows on the hall as it was plugged, coils off their data sheet by up to `spread`, leads included."""
    plugged = replace(hall, lines=tuple(replace(one, to=CROSSED.get(one.id, one.to)) for one in hall.lines))
    sections = [
        (cabinet.id, section.id)
        for cabinet in hall.cabinets
        for model in hall.equipment.loudspeakers
        if model.id == cabinet.model
        for section in model.sections
    ]
    factors = {name: 1 + spread * math.sin(place) for place, name in enumerate(sections)}
    ohms = shown(
        plugged,
        line,
        pair,
        faults.get((line, pair), Amiss()),
        Nature(factors, hall.supply.ambient.value),
    )
    return "OL" if ohms > 1e5 else f"{ohms + LEADS:.2f}"
