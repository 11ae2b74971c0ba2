"""The rig at the wall: input power and current, circuits, phases, generator, inrush, breakers.

Holds what amplifiers take from the mains and what that asks of breakers and cables. Not which amplifier
ought to hang where (`allocation`), nor what is too much (`findings.power`).
"""

from rackwright.engine.mains.breaker import BANDS, Endurance, Rules, breaker_source, endurance
from rackwright.engine.mains.cables import Cable, barred
from rackwright.engine.mains.circuit import (
    drop_share,
    of_circuit,
    supply_cable_drop,
    supply_cable_resistance,
    temperature_of,
)
from rackwright.engine.mains.currents import (
    DUTIES,
    FIELDS,
    across,
    countable_duty,
    input_current,
    input_power,
    measured_duty,
    on_one_phase,
    whole,
)
from rackwright.engine.mains.fault_current import PERSONS
from rackwright.engine.mains.flow import (
    CORRECTED,
    Fall,
    Flow,
    imbalance,
    neutral_current,
    vector_sum,
)
from rackwright.engine.mains.inrush import SwitchOn, group_inrush, pack, switch_on
from rackwright.engine.mains.room import Bounds, Duty, Relief, relief, roomiest
from rackwright.engine.mains.supply import Mains, fed_alike, mains_of
from rackwright.engine.mains.tree import flows_of

__all__ = [
    "BANDS",
    "CORRECTED",
    "DUTIES",
    "FIELDS",
    "PERSONS",
    "Bounds",
    "Cable",
    "Duty",
    "Endurance",
    "Fall",
    "Flow",
    "Mains",
    "Relief",
    "Rules",
    "SwitchOn",
    "across",
    "barred",
    "breaker_source",
    "countable_duty",
    "drop_share",
    "endurance",
    "fed_alike",
    "flows_of",
    "group_inrush",
    "imbalance",
    "input_current",
    "input_power",
    "mains_of",
    "measured_duty",
    "neutral_current",
    "of_circuit",
    "on_one_phase",
    "pack",
    "relief",
    "roomiest",
    "supply_cable_drop",
    "supply_cable_resistance",
    "switch_on",
    "temperature_of",
    "vector_sum",
    "whole",
]
