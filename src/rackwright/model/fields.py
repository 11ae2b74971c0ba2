"""What a person fills in of each kind of thing: the one table behind forms, columns of a spreadsheet, bounds and messages.

Name, type and whether a file must have it are the structs' own; the table adds the rest. Lists of parts, which are things of
their own, stand only where equipment has them.
"""

import functools
import math
from collections import Counter
from collections.abc import Mapping
from types import NoneType
from typing import Any, NamedTuple, get_args

from msgspec import Struct, structs

from rackwright.model import equipment, lines, mains, racks, readings, rig
from rackwright.units import Quantity

RACK_UNITS = "rack units"


class Field(NamedTuple):
    """What the table says of a field; the rest, from `name` on, is its struct's."""

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
    percent: bool = False
    """Whether a form shows it in per cent, a part of one as it is."""
    of: str = ""
    """The kind of equipment whose id it holds."""
    use: str = ""
    """What it is needed for, where a person may ask."""
    assumed: str = ""
    """What it is taken to be where it is not known, on the safe side but for gain, which has none: common practice, no source.

    `50 W/channel` is that for each of them. Empty where it must be known.
    """
    name: str = ""
    key: str = ""
    """Its name in a file."""
    kind: Any = str
    """The type of what stands in it, None aside."""
    required: bool = False
    """Whether a file must have it."""
    only: tuple[str, str] = ("", "")
    """The other field, and what it must say for this one to mean anything."""
    called: str = ""
    """Its label amid a sentence: to the comma, where no other of its kind begins with the same."""

    @property
    def unit(self) -> str:
        """Of a bare number, where the label tells one."""
        return RACK_UNITS if self.label.endswith(RACK_UNITS) else ""


def _id(example: str) -> Field:
    return Field("Id", example=example, heads="model, model id, type, article, item")


def _name(example: str) -> Field:
    return Field("Name", example=example, heads="description, title")


_CURRENT = "maximum current, current, rated current, max output current, output current"
_UNSTATED = "not stated"
_Q = (0.01, 1000)

_TABLE: dict[type[Struct], dict[str, Field]] = {
    equipment.AmplifierModel: {
        "id": _id("amp-2ch-900"),
        "name": _name("900 W, 2 ch"),
        "channels": Field("Channels", 1, 64, "2", heads="number of channels, channel count, ch"),
        "height": Field("Height, rack units", 1, 60, "2", heads="rack units, units, height units, ru, u"),
        "ratings": Field("Rated power, channel", example="1100 W at 8 ohm, 1800 W at 4 ohm"),
        "bridged": Field(
            "Rated power, bridged",
            example="3600 W at 8 ohm",
            empty="not stated: calculated from the line above",
        ),
        "damping_factor": Field("Damping factor", use="damping", example="400 at 8 ohm", heads="damping, df"),
        "gain": Field("Gain", use="limiters", example="32 dB", heads="voltage gain", assumed="32 dB"),
        "terminals": Field(
            "Output terminals",
            heads="output terminals",
            words=("contacts can be touched", "contacts covered"),
        ),
        "open_voltage": Field(
            "Open-circuit voltage", example="105 V", empty="from the ratings", heads="open circuit voltage"
        ),
        "idle_power": Field(
            "Power when idle",
            use="circuits",
            example="60 W",
            heads="power idle, idle, idle consumption, quiescent power",
            assumed="50 W/channel",
        ),
        "efficiency": Field(
            "Efficiency", low=0.05, high=1, example="0.8", percent=True, use="circuits", assumed="0.6"
        ),
        "power_factor": Field(
            "Power factor, 0 to 1",
            low=0.05,
            high=1,
            example="0.62",
            use="circuits",
            heads="pf, cos phi",
            assumed="0.6",
        ),
        "inrush": Field(
            "Inrush current", use="switching on", example="45 A", heads="inrush current", assumed="60 A"
        ),
        "max_current": Field("Highest current, terminal", use="safe current", heads=_CURRENT, assumed="20 A"),
        "weight": Field("Weight", use="racks", heads="mass", assumed="12 kg/unit"),
        "inrush_kind": Field("Inrush is stated as", empty="peak"),
        "leakage": Field(
            "Leakage to earth", example="1 mA", empty="1 mA", heads="leakage current, earth leakage"
        ),
        "mains": Field("Mains voltage", example="100 to 240 V", empty=_UNSTATED),
        "output": Field(
            "Output stage", empty="one contact at earth", words=("one contact at earth", "both contacts live")
        ),
        "assumed": Field("Figures that are assumed", example="gain", empty="none"),
    },
    equipment.DampingRating: {"value": Field("Damping factor", 1, 1e5, "400")},
    equipment.LoudspeakerModel: {
        "id": _id("top-12"),
        "name": _name("12 inch top"),
        "connector": Field("Connector", heads="input connector, connectors", of="connectors"),
        "sections": Field("Sections"),
        "wirings": Field("Wirings"),
        "weight": Field("Weight", empty=_UNSTATED, heads="mass"),
    },
    equipment.Section: {
        "id": Field("Id", example="high"),
        "kind": Field("Kind", heads="band, way"),
        "nominal": Field("Nominal impedance", example="8 ohm", heads="nominal impedance, impedance"),
        "dc_resistance": Field("DC resistance", example="5.4 ohm", heads="dcr, re"),
        "continuous": Field("Continuous power", heads="continuous power, power, rated power, aes power"),
        "programme": Field(
            "Programme power", example="1.6 kW", empty="2 × continuous", heads="program, programme power"
        ),
        "peak": Field("Peak power", example="3.2 kW", empty="4 × continuous", heads="peak power"),
        "lowest": Field("Lowest frequency", heads="lowest frequency, from, low limit"),
        "highest": Field(
            "Highest frequency", example="16 kHz", empty=_UNSTATED, heads="highest frequency, to, high limit"
        ),
        "sensitivity": Field(
            "Sensitivity, 2.83 V at 1 m", example="98 dB", empty=_UNSTATED, heads="sensitivity 2.83 v"
        ),
        "capacitor": Field("Capacitor in series", empty="none", heads="series capacitor, capacitor"),
    },
    equipment.Driver: {
        "box": Field("Driver's box", heads="enclosure"),
        "fs": Field("Resonance, fs", example="34 Hz", heads="resonance"),
        "qms": Field("Mechanical Q, Qms", *_Q, "6.5"),
        "qes": Field("Electrical Q, Qes", *_Q, "0.4"),
        "le": Field("Inductance, Le", heads="inductance, coil inductance"),
        "alpha": Field("Compliance ratio, α", 0.01, 100, "1.1", "vented box only", "compliance ratio"),
        "fb": Field("Tuning of the box, fb", example="36 Hz", empty="vented box only", heads="tuning"),
        "ql": Field("Loss of the box, QL", *_Q, "7", "7", "box loss"),
    },
    equipment.CableModel: {
        "id": _id("flex-4x2.5"),
        "name": _name("4 × 2.5 mm²"),
        "cores": Field("Cores", 2, 64, "4", heads="number of cores, conductors"),
        "size": Field("Size of a core", heads="cross section, area, gauge, conductor size"),
        "max_current": Field("Highest current of a core", heads=_CURRENT),
        "inductance": Field(
            "Inductance of a pair", empty="0.65 µH/m", heads="inductance, cable inductance, loop inductance"
        ),
    },
    equipment.ConnectorModel: {
        "id": _id("4-pole"),
        "name": _name("Locking 4-pole"),
        "pole_pairs": Field("Pole pairs", 1, 16, "2", heads="pairs, number of pole pairs"),
        "contact_resistance": Field("Contact resistance", example="2 mohm"),
        "max_current": Field("Highest current, contact", heads=_CURRENT),
        "shrouded": Field("Shrouded", heads="touch proof"),
    },
    rig.Rig: {"name": Field("Name"), "notes": Field("Notes"), "wet": Field("Wet or damp")},
    rig.Venue: {
        "name": Field("Name"),
        "date": Field("Date"),
        "times": Field("Times"),
        "address": Field("Address"),
        "contacts": Field("Contacts"),
    },
    mains.Supply: {
        "voltage": Field("Supply voltage, L–N"),
        "frequency": Field("Supply frequency"),
        "rules": Field("Mains rules", words=("IEC rules", "US rules")),
        "phases": Field("Phases"),
        "generator": Field("Generator, if any", empty="not set"),
        "generator_power_factor": Field("Generator power factor", 0.1, 1, "0.8"),
        "generator_dip": Field("Generator voltage dip", 0, 0.3, "0.05", percent=True),
        "rating": Field("Intake rating per phase", example="63 A", empty=_UNSTATED),
        "curve": Field("Curve of the intake"),
        "neutral": Field("Rating of the neutral", example="63 A", empty="as a phase"),
        "source_impedance": Field("Loop impedance, intake", example="0.35 ohm", empty=_UNSTATED),
        "measured_duty": Field("Duty as measured", 0.125, 1, "0.17", "none", percent=True),
        "ambient": Field("Temperature of cables"),
    },
    rig.Targets: {
        "damping_factor": Field("Lowest damping factor, bass", 0.1, 9999, "20"),
        "cable_loss": Field("Highest cable loss"),
        "programme_duty": Field("Programme duty", 0.001, 1, "0.125", percent=True),
        "heavy_duty": Field("Duty when driven hard", 0.001, 1, "0.3333", percent=True),
        "crew": Field("Crew who can move", example="1"),
        "crew_at": Field("Where they stand", example="front of house"),
    },
    rig.MoveTimes: {
        "mute": Field("Mute or unmute"),
        "limiter": Field("Set a limiter"),
        "feed": Field("Change a feed"),
        "trim": Field("Set a trim"),
        "repatch": Field("Re-patch a pole pair"),
        "plug": Field("Move a plug"),
        "new_line": Field("Run a new line"),
        "mode": Field("Change a pair's mode"),
        "between_racks": Field("Walk between racks"),
        "to_rack": Field("Walk to the racks"),
        "circuit_plug": Field("Move a mains plug"),
        "spare_amplifier": Field("Fit a spare amplifier"),
    },
    mains.Board: {
        "id": Field("Id"),
        "source": Field("From board"),
        "rating": Field("Rating per phase", example="32 A", empty=_UNSTATED),
        "curve": Field("Curve"),
        "neutral": Field("Rating of the neutral", example="32 A", empty="as a phase"),
        "phase": Field("Phases", words=("all that feed it", "", "", "", "", "", "", "")),
        "rcd": Field("RCD", example="30 mA", empty="none"),
    },
    mains.Circuit: {
        "id": Field("Id"),
        "board": Field("Board"),
        "phase": Field(
            "Phase", words=("", "", "", "line to line", "line to line", "line to line", "five-pin")
        ),
        "breaker": Field("Breaker"),
        "curve": Field("Curve"),
        "neutral": Field("Rating of the neutral", example="16 A", empty="as a phase"),
        "rcd": Field("RCD", example="30 mA", empty="none"),
    },
    mains.SupplyCable: {
        "length": Field("Supply cable length", empty="not set"),
        "size": Field("Supply cable size", empty="not set"),
        "conductor_class": Field(
            "Supply cable class", words=(_UNSTATED, "", "60 °C, flexible", "90 °C, flexible", "fixed wiring")
        ),
        "laid": Field("Laid", words=(_UNSTATED, "", "", "", "", "")),
        "grouped": Field("Loaded cables together", 2, 99, "3", _UNSTATED, only=("laid", "grouped")),
        "layers": Field("Layers on the drum", 1, 99, "3", "3", only=("laid", "drum")),
        "earth": Field("Earth conductor size", example="4 mm2", empty="as the others"),
        "max_current": Field("Highest current", example="25 A", empty="from tables"),
    },
    mains.Measured: {
        "current": Field("Measured current", example="7.2 A"),
        "when": Field("Measured when", example="2026-05-01"),
    },
    mains.Load: {
        "id": Field("Id"),
        "name": Field("Name"),
        "circuit": Field("Circuit"),
        "power": Field("Power", example="1.2 kW", empty=_UNSTATED),
        "current": Field("Current per phase", example="6 A", empty=_UNSTATED),
        "power_factor": Field("Power factor, 0 to 1", 0.05, 1, "1"),
        "leakage": Field("Leakage to earth", example="1 mA", empty="none"),
        "inrush": Field("Inrush current, peak", example="45 A", empty="none"),
        "position": Field("Position", example="stage left"),
    },
    racks.Feed: {
        "id": Field("Id"),
        "polarity": Field("Polarity"),
        "limiter_rms": Field("Rms limiter, V or dBu", example="78 V", empty="not set"),
        "limiter_peak": Field("Peak limiter, V peak or dBu", example="11.2 dBu", empty="not set"),
        "limiter_at": Field("Limiter volts are at", example="A1.1", empty="each channel"),
        "limiter_peak_scale": Field("Scale of peak limiter dBu", words=("sine, rms", "volts peak")),
        "output": Field("Processor output", example="Output 3"),
        "side": Field("Side", words=("not stated", "", "")),
        "substitute_for": Field("May stand in for", example="top-right", empty="no other feed"),
    },
    racks.Rack: {
        "id": Field("Id"),
        "name": Field("Name"),
        "height": Field("Height, rack units", 1, 999, "12"),
        "reaches": Field("Circuits in reach", example="P1, P2", empty=_UNSTATED),
    },
    racks.Amplifier: {
        "id": Field("Id"),
        "model": Field("Model", of="amplifiers"),
        "unit": Field("Lowest rack unit", 1, 999, "1"),
        "circuit": Field("Circuit"),
        "reaches": Field("Circuits in reach", example="P1, P2", empty="its rack's"),
    },
    racks.Channel: {
        "feed": Field("Feed"),
        "trim": Field("Trim, 0 dB or less"),
        "input": Field("Amplifier input", example="Input A"),
        "state": Field("State"),
        "input_state": Field("Signal lead into it"),
    },
    racks.Socket: {"id": Field("Id"), "connector": Field("Connector", of="connectors")},
    lines.Line: {
        "id": Field("Id", heads="line, line id, line number, cable number"),
        "source": Field("From", heads="near end, socket, source, starts at"),
        "to": Field("To", heads="far end, cabinet, leads to, loudspeaker"),
        "cable": Field("Cable", of="cables", heads="cable type, cable model, type, model"),
        "length": Field("Length", heads="cable length, run length"),
        "cores_per_pole": Field("Cores per pole", 1, 32, "1", heads="cores in parallel"),
        "poles": Field("Order of pole pairs", example="2 1", empty="straight", heads="pole pairs, crossed"),
    },
    lines.Cabinet: {
        "id": Field("Id"),
        "model": Field("Model", of="loudspeakers"),
        "wiring": Field("Wiring"),
        "priority": Field("Priority, 1 is first", 1, 999, "1", "by role and kind"),
        "position": Field("Position", example="stage left"),
        "side": Field("Side", words=("not stated", "", "")),
        "depth": Field("Depth", words=("not stated", "", "", "")),
        "role": Field("Role"),
        "access": Field("Access", words=("on the ground", "flown, out of reach")),
        "links_to": Field("Link cable reaches", example="TOP-L2", empty=_UNSTATED),
    },
    lines.Spare: {
        "cable": Field("Cable", of="cables"),
        "length": Field("Length"),
        "amplifier": Field("Amplifier model", of="amplifiers"),
        "count": Field("Quantity", 0, 999, "1"),
        "case": Field("Flight case", example="case 3"),
    },
    lines.Stock: {
        "cable": Field("Cable", of="cables", heads="cable type, cable model, type, model, item, article"),
        "length": Field("Length", heads="cable length"),
        "count": Field(
            "Quantity", 0, 99_999, "1", heads="quantity, how many, qty, pieces, pcs, owned, stock"
        ),
        "case": Field("Flight case", example="case 3", heads="in case, box, flight case, kept in, shelf"),
    },
    readings.Reading: {"pair": Field("Pole pair", 1, 16, "1")},
}


@functools.cache
def fields(kind: type[Struct]) -> tuple[Field, ...]:
    """The fields of a kind of thing that a person fills in, in the order of a form."""
    known = {field.name: field for field in structs.fields(kind)}
    table = _TABLE.get(kind, {})
    begins = Counter(field.label.partition(",")[0] for field in table.values())
    return tuple(_field(known[name], field, begins) for name, field in table.items())


@functools.cache
def field(kind: type[Struct], name: str) -> Field | None:
    """That one of them, where a form has it."""
    return next((field for field in fields(kind) if field.name == name), None)


def _field(own: structs.FieldInfo, field: Field, begins: Mapping[str, int]) -> Field:
    kind = own.type
    if NoneType in get_args(kind):
        kind = next(part for part in get_args(kind) if part is not NoneType)
    measured = isinstance(kind, type) and issubclass(kind, Quantity)
    example = field.example or (kind.examples[0] if measured else "")
    begin = field.label.partition(",")[0]
    called = begin if begins[begin] == 1 else field.label
    return field._replace(
        example=example, name=own.name, key=own.encode_name, kind=kind, required=own.required, called=called
    )


@functools.cache
def bounded(kind: type[Struct]) -> tuple[tuple[str, float, float, Field], ...]:
    """Each field of a kind of thing that holds a number with bounds: its name, the bounds, the field."""
    return tuple(
        (field.name, field.low, field.high, field) for field in fields(kind) if field.low > -math.inf
    )


@functools.cache
def referring(kind: type[Struct]) -> tuple[Field, ...]:
    """The fields of a kind of thing that hold the id of an equipment entry."""
    return tuple(field for field in fields(kind) if field.of)
