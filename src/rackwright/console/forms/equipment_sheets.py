"""What a form asks for each kind of equipment entry: every key of its struct, and the entry that the values make.

Pure: holds no widget, reads and writes no file. What an entry must keep to is said by `model.rules`.
"""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, get_args

from msgspec.structs import replace

from rackwright.console.forms.equipment_fields import Damping, Figure, Given, Parts, PartSheet, Poles, Ratings
from rackwright.console.widgets.fields import (
    Choice,
    Field,
    FieldError,
    Measure,
    Option,
    Values,
    Whole,
    Words,
    fixed,
)
from rackwright.model.equipment import (
    AmplifierModel,
    Box,
    CableModel,
    ConnectorModel,
    Driver,
    Equipment,
    EquipmentEntry,
    LoudspeakerModel,
    Section,
    SectionKind,
)
from rackwright.model.rules import Problem, check_equipment
from rackwright.units import (
    ConductorSize,
    Current,
    Frequency,
    Impedance,
    Inductance,
    Level,
    Mass,
    Power,
    Resistance,
    Voltage,
)

UNSTATED = "not stated"
"""The box of a section whose driver's figures are not known."""
Wiring = tuple[str, tuple[tuple[str, ...], ...]]
"""A wiring's name, and for each pole pair the sections it drives."""


def sheet(kind: str, entry: EquipmentEntry | None, known: Equipment) -> PartSheet:
    """The form of an entry of one of EQUIPMENT_KINDS, empty for None; `known` has the connectors to choose from."""
    return _SHEETS[kind](entry, known)


def told(problems: Iterable[Problem]) -> str:
    """The first three problems, one a line."""
    return "\n".join(dict.fromkeys(str(problem) for problem in list(problems)[:3]))


def _values(fields: Iterable[Field], struct: Any) -> dict[str, Any]:
    """What a struct holds under the fields' names, nothing for None."""
    return {} if struct is None else {field.name: getattr(struct, field.name) for field in fields}


def _names() -> tuple[Field, ...]:
    return Words("id", "Id", True), Words("name", "Name")


def _needed(name: str, label: str, kind: Any) -> Given:
    return Given(Measure(name, label, kind))


def _optional(name: str, label: str, kind: Any, empty: str) -> Given:
    return Given(Measure(name, label, kind), empty)


# --- amplifiers, cables, connectors ---


def _amplifier(entry: Any, _known: Equipment) -> PartSheet:
    fields: tuple[Field, ...] = (
        *_names(),
        Given(Whole("channels", "Channels", 1, 64), example="2"),
        Given(Whole("height", "Height, rack units", 1, 60), example="2"),
        Ratings("ratings", "Rated power of a channel"),
        Ratings("bridged", "Rated power, bridged", "not stated: reckoned from the line above"),
        _optional("open_voltage", "Open-circuit voltage", Voltage, "from the ratings"),
        Given(Damping("damping_factor", "Damping factor"), example="400 at 8 ohm"),
        _needed("gain", "Gain", Level),
        _needed("idle_power", "Power when idle", Power),
        Given(Figure("efficiency", "Efficiency, 0 to 1", 0.05, 1), example="0.8"),
        Given(Figure("power_factor", "Power factor, 0 to 1", 0.05, 1), example="0.62"),
        _needed("inrush", "Inrush current", Current),
        Choice("terminals", "Output terminals", _terminals),
        _needed("max_current", "Highest current, terminal", Current),
        _needed("weight", "Weight", Mass),
    )
    return PartSheet(fields, _values(fields, entry), lambda given: AmplifierModel(**given))


def _terminals(_values: Values) -> tuple[Option, ...]:
    return Option("exposed", "bare posts"), Option("shrouded", "touch-proof")


def _cable(entry: Any, _known: Equipment) -> PartSheet:
    fields: tuple[Field, ...] = (
        *_names(),
        Given(Whole("cores", "Cores", 1, 64), example="4"),
        _needed("size", "Size of a core", ConductorSize),
        _needed("max_current", "Highest current of a core", Current),
    )
    return PartSheet(fields, _values(fields, entry), lambda given: CableModel(**given))


def _connector(entry: Any, _known: Equipment) -> PartSheet:
    fields: tuple[Field, ...] = (
        *_names(),
        Given(Whole("pole_pairs", "Pole pairs", 1, 16), example="2"),
        _needed("contact_resistance", "Resistance of a contact", Resistance),
        _needed("max_current", "Highest current, contact", Current),
        Choice("shrouded", "Touch-proof", fixed("no", "yes")),
    )
    values = _values(fields, entry)
    if values:
        values["shrouded"] = "yes" if values["shrouded"] else "no"

    def build(given: Values) -> ConnectorModel:
        return ConnectorModel(**{**given, "shrouded": given["shrouded"] == "yes"})

    return PartSheet(fields, values, build)


# --- loudspeakers ---


def _loudspeaker(entry: Any, known: Equipment) -> PartSheet:
    connectors = tuple(Option(c.id, c.name) for c in known.connectors)
    fields: tuple[Field, ...] = (
        *_names(),
        Choice("connector", "Connector", lambda _values: connectors),
        _sections(),
        _wirings(known),
        _optional("weight", "Weight", Mass, UNSTATED),
    )
    values = _values(fields, entry)
    if values:
        values["wirings"] = tuple(entry.wirings.items())

    def build(given: Values) -> LoudspeakerModel:
        return LoudspeakerModel(**{**given, "wirings": dict(given["wirings"])})

    return PartSheet(fields, values, build)


def _sections() -> Parts:
    return Parts(
        "sections", "Sections", "section", f"{'Id':<14}{'Kind':<6}{'Nominal':<10}{'Continuous':<12}Fed from",
        lambda s: f"{s.kind:<6}{s.nominal!s:<10}{s.continuous!s:<12}{s.lowest}",
        lambda s: s.id,
        lambda section, _others: section_sheet(section),
        lambda section, name: replace(section, id=name),
    )  # fmt: skip


def _wirings(known: Equipment) -> Parts:
    return Parts(
        "wirings", "Wirings", "wiring", f"{'Name':<14}Pole pair 1 / 2 …",
        lambda wiring: Poles("", "").write(wiring[1]),
        lambda wiring: wiring[0],
        lambda wiring, others: wiring_sheet(wiring, others, known),
        lambda wiring, name: (name, wiring[1]),
    )  # fmt: skip


def section_sheet(section: Section | None) -> PartSheet:
    """The form of a loudspeaker's section and of the driver in it."""
    fields: tuple[Field, ...] = (
        Words("id", "Id", True),
        Choice("kind", "Kind", fixed(*get_args(SectionKind))),
        _needed("nominal", "Nominal impedance", Impedance),
        _needed("dc_resistance", "DC resistance", Resistance),
        _needed("continuous", "Continuous power", Power),
        _optional("programme", "Programme power", Power, "2 × continuous"),
        _optional("peak", "Peak power", Power, "4 × continuous"),
        _needed("lowest", "Not to be fed from below", Frequency),
        _optional("highest", "Of no use above", Frequency, UNSTATED),
    )
    driver: tuple[Field, ...] = (
        Choice("box", "Driver's box", _boxes),
        _optional("fs", "Resonance, fs", Frequency, UNSTATED),
        Given(Figure("qms", "Mechanical Q, qms", 0.01, 1000), UNSTATED),
        Given(Figure("qes", "Electrical Q, qes", 0.01, 1000), UNSTATED),
        _optional("le", "Inductance, le", Inductance, UNSTATED),
        Given(Figure("alpha", "Compliance ratio, alpha", 0.01, 100), "vented box only"),
        _optional("fb", "Tuning of the box, fb", Frequency, "vented box only"),
        Given(Figure("ql", "Loss of the box, ql", 0.01, 1000), "7"),
    )
    values = _values(fields, section)
    if section is not None and section.driver is not None:
        values |= _values(driver, section.driver)
    own = [field.name for field in fields]

    def build(given: Values) -> Section:
        built = Section(**{name: given[name] for name in own}, driver=_driver(given))
        _refuse(_alone(built), "sections")
        return built

    return PartSheet((*fields, *driver), values, build, _left_out)


def _boxes(_values: Values) -> tuple[Option, ...]:
    return Option(UNSTATED, "the figures below are left out"), *(Option(box) for box in get_args(Box))


def _driver(given: Values) -> Driver | None:
    if given["box"] == UNSTATED:
        return None
    needed = ("fs", "qms", "qes", "le")
    if missing := [name for name in needed if given[name] is None]:
        raise FieldError(
            f'A {given["box"]} driver needs {", ".join(missing)}. Or choose "{UNSTATED}" as its box.'
        )
    stated = {name: given[name] for name in (*needed, "box", "alpha", "fb", "ql") if given[name] is not None}
    return Driver(**stated)


def _left_out(given: Values) -> str:
    figures = [given[name] for name in ("fs", "qms", "qes", "le", "alpha", "fb") if given[name] is not None]
    return (
        "The driver's figures are left out: its box is not stated."
        if figures and given["box"] == UNSTATED
        else ""
    )


def _alone(section: Section) -> Equipment:
    """Equipment that holds a section and nothing else to speak of."""
    holder = LoudspeakerModel(id="-", connector="", sections=(section,), wirings={})
    return Equipment(loudspeakers=(holder,))


def _refuse(equipment: Equipment, key: str) -> None:
    """Raise FieldError with the problems that stand under that key of the one loudspeaker."""
    found = [
        problem for problem in check_equipment(equipment) if problem.path[:3] == ("loudspeakers", 0, key)
    ]
    if found:
        raise FieldError(told(found))


def wiring_sheet(wiring: Wiring | None, others: Mapping[str, Any], known: Equipment) -> PartSheet:
    """The form of a wiring of the loudspeaker whose other fields hold `others`."""
    fields: tuple[Field, ...] = (
        Words("name", "Name", True),
        Given(Poles("poles", "Pole pairs"), example=_example(others["sections"])),
    )
    values = {} if wiring is None else {"name": wiring[0], "poles": wiring[1]}

    def build(given: Values) -> Wiring:
        holder = LoudspeakerModel(
            id=others["id"] or "it",
            connector=others["connector"],
            sections=others["sections"],
            wirings={given["name"]: given["poles"]},
        )
        _refuse(Equipment(loudspeakers=(holder,), connectors=known.connectors), "wirings")
        return given["name"], given["poles"]

    return PartSheet(fields, values, build)


def _example(sections: tuple[Section, ...]) -> str:
    """A wiring of these sections, one a pole pair."""
    return " / ".join(section.id for section in sections) or "upper + lower / -"


_SHEETS: dict[str, Callable[[Any, Equipment], PartSheet]] = {
    "amplifiers": _amplifier,
    "loudspeakers": _loudspeaker,
    "cables": _cable,
    "connectors": _connector,
}
