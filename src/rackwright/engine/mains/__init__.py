"""The rig at the wall: input power and current, circuits, phases, generator, inrush, breakers.

Holds what amplifiers take from the mains and what that asks of breakers and cables. Not which amplifier
ought to hang where (`allocation`), nor what is too much (`findings.power`).
"""

from rackwright.engine.mains.breaker import BANDS, Endurance, Rules, breaker_source, endurance
from rackwright.engine.mains.cables import Cable, barred
from rackwright.engine.mains.circuit import of_circuit, supply_cable_drop, supply_cable_resistance
from rackwright.engine.mains.currents import FIELDS, input_current, input_power, on_one_phase, whole
from rackwright.engine.mains.fault_current import PERSONS
from rackwright.engine.mains.inrush import SwitchOn, group_inrush, pack, switch_on
from rackwright.engine.mains.room import Bounds, Duty, Relief, relief, roomiest
from rackwright.engine.mains.supply import (
    CORRECTED,
    Mains,
    imbalance,
    neutral_current,
    reckon,
    uncorrected_on,
    vector_sum,
)

__all__ = [
    "BANDS",
    "CORRECTED",
    "FIELDS",
    "PERSONS",
    "Bounds",
    "Cable",
    "Duty",
    "Endurance",
    "Mains",
    "Relief",
    "Rules",
    "SwitchOn",
    "barred",
    "breaker_source",
    "endurance",
    "group_inrush",
    "imbalance",
    "input_current",
    "input_power",
    "neutral_current",
    "of_circuit",
    "on_one_phase",
    "pack",
    "reckon",
    "relief",
    "roomiest",
    "supply_cable_drop",
    "supply_cable_resistance",
    "switch_on",
    "uncorrected_on",
    "vector_sum",
    "whole",
]
