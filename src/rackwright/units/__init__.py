"""Quantities as a person types them (`25 m`, `80'`, `12 AWG`, `4R7`), to SI and back.

Holds one frozen type per dimension, each with the text that was typed and its SI value, the spellings
accepted, and the bounds outside of which a value is surely a slip. Spellings in common use are
looked up in a table so that a rig opens at once; any other spelling is asked of pint, which is only then
imported. Knows nothing of rigs, and computes no physics beyond the definition of a wire gauge.
"""

from rackwright.units.formatting import (
    NOTHING,
    capped,
    figure,
    floored,
    of_si,
    percent,
    reading,
    short,
    told_apart,
)
from rackwright.units.gauge import gauge_area, gauge_name, neighbours
from rackwright.units.quantities import (
    ApparentPower,
    Capacitance,
    ConductorSize,
    Current,
    Duration,
    Frequency,
    Impedance,
    Inductance,
    InputLevel,
    Length,
    Level,
    LimiterSetting,
    LineInductance,
    Mass,
    Power,
    ResidualCurrent,
    Resistance,
    Temperature,
    Trim,
    Voltage,
)
from rackwright.units.quantity import Quantity, QuantityError, typeset

__all__ = [
    "NOTHING",
    "ApparentPower",
    "Capacitance",
    "ConductorSize",
    "Current",
    "Duration",
    "Frequency",
    "Impedance",
    "Inductance",
    "InputLevel",
    "Length",
    "Level",
    "LimiterSetting",
    "LineInductance",
    "Mass",
    "Power",
    "Quantity",
    "QuantityError",
    "ResidualCurrent",
    "Resistance",
    "Temperature",
    "Trim",
    "Voltage",
    "capped",
    "figure",
    "floored",
    "gauge_area",
    "gauge_name",
    "neighbours",
    "of_si",
    "percent",
    "reading",
    "short",
    "told_apart",
    "typeset",
]
