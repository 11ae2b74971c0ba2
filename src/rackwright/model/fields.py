"""What a person fills in of each kind of thing: the one table behind forms, columns of a spreadsheet, bounds and messages.

Name, type and whether a file must have it are the structs' own; the table adds the rest. Lists of parts, which are things of
their own, stand only where equipment has them.
"""

import functools
import math
from types import NoneType
from typing import Any, NamedTuple, get_args

from msgspec import Struct, structs

from rackwright.model.equipment import (
    AmplifierModel,
    CableModel,
    ConnectorModel,
    DampingRating,
    Driver,
    LoudspeakerModel,
    Section,
)
from rackwright.model.rig import (
    Amplifier,
    Cabinet,
    Channel,
    Circuit,
    Feed,
    FeedCable,
    Line,
    Rack,
    Reading,
    Rig,
    Socket,
    Spare,
    Stock,
    Supply,
    Targets,
    Venue,
)
from rackwright.units import Quantity


class Told(NamedTuple):
    """What the table says of a field."""

    label: str
    low: float = -math.inf
    high: float = math.inf
    example: str = ""
    """As it is typed; where empty, the first of a quantity."""
    empty: str = ""
    """What leaving it empty means; empty where it must be filled in."""
    heads: str = ""
    """What the head of its column may be beside its name, with commas between."""
    words: tuple[str, ...] = ()
    """What its choices mean."""


class Field(NamedTuple):
    """A field with what its struct says of it."""

    name: str
    key: str
    """Its name in a file."""
    kind: Any
    """The type of what stands in it."""
    required: bool
    """Whether a file must have it."""
    told: Told


_ID = Told("Id", heads="model, model id, type, article, item")
_NAME = Told("Name", heads="description, title")
_CURRENT = "maximum current, current, rated current, max output current, output current"
_UNSTATED = "not stated"
_Q = (0.01, 1000)

_TABLE: dict[type[Struct], dict[str, Told]] = {
    AmplifierModel: {
        "id": _ID,
        "name": _NAME,
        "channels": Told("Channels", 1, 64, "2", heads="number of channels, channel count, ch"),
        "height": Told("Height, rack units", 1, 60, "2", heads="rack units, units, height units, ru, u"),
        "ratings": Told("Rated power of a channel", example="1100 W at 8 ohm, 1800 W at 4 ohm"),
        "bridged": Told("Rated power, bridged", empty="not stated: calculated from the line above"),
        "open_voltage": Told("Open-circuit voltage", empty="from the ratings", heads="open circuit voltage"),
        "damping_factor": Told("Damping factor", example="400 at 8 ohm", heads="damping, df"),
        "gain": Told("Gain", heads="voltage gain"),
        "idle_power": Told("Power when idle", heads="power idle, idle, idle consumption, quiescent power"),
        "efficiency": Told("Efficiency, 0 to 1", 0.05, 1, "0.8"),
        "power_factor": Told("Power factor, 0 to 1", 0.05, 1, "0.62", heads="pf, cos phi"),
        "inrush": Told("Inrush current", heads="inrush current"),
        "terminals": Told(
            "Output terminals",
            heads="output terminals",
            words=("contacts can be touched", "contacts covered"),
        ),
        "max_current": Told("Highest current, terminal", heads=_CURRENT),
        "weight": Told("Weight", heads="mass"),
    },
    DampingRating: {"value": Told("Damping factor", 1, 1e5, "400")},
    LoudspeakerModel: {
        "id": _ID,
        "name": _NAME,
        "connector": Told("Connector", heads="input connector, connectors"),
        "sections": Told("Sections"),
        "wirings": Told("Wirings"),
        "weight": Told("Weight", empty=_UNSTATED, heads="mass"),
    },
    Section: {
        "id": Told("Id"),
        "kind": Told("Kind", heads="band, way"),
        "nominal": Told("Nominal impedance", heads="nominal impedance, impedance"),
        "dc_resistance": Told("DC resistance", heads="dcr, re"),
        "continuous": Told("Continuous power", heads="continuous power, power, rated power, aes power"),
        "programme": Told("Programme power", empty="2 × continuous", heads="program, programme power"),
        "peak": Told("Peak power", empty="4 × continuous", heads="peak power"),
        "lowest": Told("Lowest frequency", heads="lowest frequency, from, low limit"),
        "highest": Told("Highest frequency", empty=_UNSTATED, heads="highest frequency, to, high limit"),
    },
    Driver: {
        "box": Told("Driver's box", heads="enclosure"),
        "fs": Told("Resonance, fs", heads="resonance"),
        "qms": Told("Mechanical Q, qms", *_Q, "6.5"),
        "qes": Told("Electrical Q, qes", *_Q, "0.4"),
        "le": Told("Inductance, le", heads="inductance, coil inductance"),
        "alpha": Told("Compliance ratio, alpha", 0.01, 100, "1.1", "vented box only", "compliance ratio"),
        "fb": Told("Tuning of the box, fb", empty="vented box only", heads="tuning"),
        "ql": Told("Loss of the box, ql", *_Q, "7", "7", "box loss"),
    },
    CableModel: {
        "id": _ID,
        "name": _NAME,
        "cores": Told("Cores", 2, 64, "4", heads="number of cores, conductors"),
        "size": Told("Size of a core", heads="cross section, area, gauge, conductor size"),
        "max_current": Told("Highest current of a core", heads=_CURRENT),
    },
    ConnectorModel: {
        "id": _ID,
        "name": _NAME,
        "pole_pairs": Told("Pole pairs", 1, 16, "2", heads="pairs, number of pole pairs"),
        "contact_resistance": Told("Resistance of a contact"),
        "max_current": Told("Highest current, contact", heads=_CURRENT),
        "shrouded": Told("Shrouded", heads="touch proof"),
    },
    Rig: {"name": Told("Name"), "notes": Told("Notes")},
    Venue: {
        "name": Told("Name"),
        "date": Told("Date"),
        "times": Told("Times"),
        "address": Told("Address"),
        "contacts": Told("Contacts"),
    },
    Supply: {
        "voltage": Told("Supply, phase to neutral"),
        "frequency": Told("Supply frequency"),
        "rules": Told("Mains rules"),
        "phases": Told("Phases"),
        "generator": Told("Generator rating, if any", empty="not set"),
        "generator_dip": Told("Its voltage dip, none to full load", 0, 0.3, "0.05"),
        "ambient": Told("Cable temperature"),
    },
    Targets: {
        "damping_factor": Told("Lowest damping factor", 0.1, 9999, "20"),
        "cable_loss": Told("Highest cable loss"),
        "programme_duty": Told("Programme duty", 0.001, 1, "0.125"),
        "heavy_duty": Told("Heavy duty", 0.001, 1, "0.3333"),
    },
    Circuit: {
        "id": Told("Id"),
        "phase": Told("Phase"),
        "breaker": Told("Breaker"),
        "curve": Told("Curve"),
    },
    FeedCable: {
        "length": Told("Feed cable, length", empty="not set"),
        "size": Told("Feed cable, size", empty="not set"),
    },
    Feed: {
        "id": Told("Id"),
        "polarity": Told("Polarity"),
        "limiter_rms": Told("Limiter, rms, at the output", empty="not set"),
        "limiter_peak": Told("Limiter, volts peak", empty="not set"),
    },
    Rack: {"id": Told("Id"), "name": Told("Name"), "height": Told("Height, rack units", 1, 999, "12")},
    Amplifier: {
        "id": Told("Id"),
        "model": Told("Model"),
        "unit": Told("Lowest rack unit", 1, 999, "1"),
        "circuit": Told("Circuit"),
    },
    Channel: {"feed": Told("Feed"), "state": Told("State")},
    Socket: {"id": Told("Id"), "connector": Told("Connector")},
    Line: {
        "id": Told("Id"),
        "source": Told("From"),
        "to": Told("To"),
        "cable": Told("Cable"),
        "length": Told("Length"),
        "cores_per_pole": Told("Cores in parallel per pole", 1, 32, "1"),
        "poles": Told("Pole pairs, if crossed"),
    },
    Cabinet: {
        "id": Told("Id"),
        "model": Told("Model"),
        "wiring": Told("Wiring"),
        "priority": Told("Priority, 1 matters most", 1, 999, "1"),
        "position": Told("Position"),
    },
    Spare: {
        "cable": Told("Cable"),
        "length": Told("Length"),
        "amplifier": Told("Amplifier model"),
        "count": Told("How many", 0, 999, "1"),
    },
    Stock: {
        "cable": Told("Cable"),
        "length": Told("Length"),
        "count": Told("How many", 0, 99_999, "1"),
    },
    Reading: {"pair": Told("Pole pair", 1, 16, "1")},
}


@functools.cache
def fields(kind: type[Struct]) -> tuple[Field, ...]:
    """The fields of a kind of thing that a person fills in, in the order of a form."""
    known = {field.name: field for field in structs.fields(kind)}
    return tuple(_field(known[name], told) for name, told in _TABLE.get(kind, {}).items())


def _field(field: structs.FieldInfo, told: Told) -> Field:
    kind = field.type
    if NoneType in get_args(kind):
        kind = next(part for part in get_args(kind) if part is not NoneType)
    if not told.example and isinstance(kind, type) and issubclass(kind, Quantity):
        told = told._replace(example=kind.examples[0])
    return Field(field.name, field.encode_name, kind, field.required, told)


@functools.cache
def bounded(kind: type[Struct]) -> tuple[Field, ...]:
    """The fields of a kind of thing that hold a number with bounds."""
    return tuple(field for field in fields(kind) if field.told.low > -math.inf)
