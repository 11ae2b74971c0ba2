"""What a form asks for each kind of equipment entry, and the entry that the values make.

Pure: holds no widget, reads and writes no file. What an entry must keep to is said by `model.rules`.
"""

from collections.abc import Iterable, Mapping
from typing import Any, get_args

from msgspec.structs import replace

from rackwright.console.forms.fields import Parts, PartSheet, Poles, Wired, asked
from rackwright.console.rows.tables import described
from rackwright.console.widgets.fields import Choice, Field, FieldError, Option, Values, Words
from rackwright.model.assumed import completed, unusual
from rackwright.model.equipment import (
    EQUIPMENT_KINDS,
    Box,
    Driver,
    Equipment,
    EquipmentEntry,
    LoudspeakerModel,
    Section,
)
from rackwright.model.fields import fields as fields_of
from rackwright.model.rules import Problem, check_equipment

UNSTATED = "not stated"
"""The box of a section whose driver's figures are not known."""
Wiring = tuple[str, Wired]
"""A wiring's name, and for each pole pair the sections it drives."""


def sheet(kind: str, entry: EquipmentEntry | None, known: Equipment) -> PartSheet:
    """The form of an entry of one of EQUIPMENT_KINDS, empty for None; `known` has the connectors to choose from."""
    model: Any = EQUIPMENT_KINDS[kind]
    names = [field.name for field in fields_of(model) if field.name != "assumed"]
    connectors = tuple(Option(c.id, described(c)) for c in known.connectors)
    choices: dict[str, Any] = {"sections": _sections(), "wirings": _wirings(known)}
    fields = asked(model, *names, connector=lambda _values: connectors, **choices)
    kept = {} if entry is None else unusual(entry)
    fields = tuple(
        replace(field, assumed=str(kept[field.name])) if field.name in kept else field for field in fields
    )
    values = _values(fields, entry) | dict.fromkeys(getattr(entry, "assumed", ()))
    return PartSheet(fields, values, lambda given: model(**completed(model, _stated(given), kept)))


def _stated(given: Values) -> dict[str, Any]:
    """What is filled in."""
    return {name: value for name, value in given.items() if value is not None}


def sentences(problems: Iterable[Problem]) -> str:
    """The first three problems, one a line."""
    return "\n".join(dict.fromkeys(str(problem) for problem in list(problems)[:3]))


def _values(fields: Iterable[Field], struct: Any) -> dict[str, Any]:
    """What a struct holds under the fields' names, nothing for None."""
    return {} if struct is None else {field.name: getattr(struct, field.name) for field in fields}


def _sections() -> Parts:
    return Parts(
        "sections", "Sections", "section", f"{'Id':<14}{'Kind':<5}{'Nominal':>9}{'Continuous':>13}{'Lowest':>10}",
        lambda s: f"{s.kind:<5}{s.nominal!s:>9}{s.continuous!s:>13}{s.lowest!s:>10}",
        lambda s: s.id,
        lambda section, _others: section_sheet(section),
        lambda section, name: replace(section, id=name),
    )  # fmt: skip


def _wirings(known: Equipment) -> Parts:
    return Parts(
        "wirings", "Wirings", "wiring", f"{'Name':<14}Pole pairs, in order",
        lambda wiring: Poles("", "").text(wiring[1]),
        lambda wiring: wiring[0],
        lambda wiring, others: wiring_sheet(wiring, others, known),
        lambda wiring, name: (name, wiring[1]),
        dict,
    )  # fmt: skip


def section_sheet(section: Section | None) -> PartSheet:
    """The form of a loudspeaker's section and of the driver in it."""
    fields = asked(Section)
    figures = asked(Driver, box=_boxes)
    driver = tuple(
        field if isinstance(field, Choice) else replace(field, empty=field.empty or UNSTATED)
        for field in figures
    )
    values = _values(fields, section)
    if section is not None and section.driver is not None:
        values |= _values(driver, section.driver)
    own = [field.name for field in fields]

    def build(given: Values) -> Section:
        built = Section(**_stated({name: given[name] for name in own}), driver=_driver(given))
        _refuse(_alone(built), "sections")
        return built

    return PartSheet((*fields, *driver), values, build, _left_out)


def _boxes(_values: Values) -> tuple[Option, ...]:
    return Option(UNSTATED, "figures below are left out"), *(Option(box) for box in get_args(Box))


def _driver(given: Values) -> Driver | None:
    if given["box"] == UNSTATED:
        return None
    if missing := [
        field.label for field in fields_of(Driver) if field.required and given[field.name] is None
    ]:
        raise FieldError(
            f'A {given["box"]} driver needs {"; ".join(missing)}. Or choose "{UNSTATED}" as its box.'
        )
    return Driver(**_stated({field.name: given[field.name] for field in fields_of(Driver)}))


def _left_out(given: Values) -> str:
    lost = given["box"] == UNSTATED and any(
        given[field.name] is not None for field in fields_of(Driver) if field.name not in ("box", "ql")
    )
    return "The driver's figures are left out: its box is not stated." if lost else ""


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
        raise FieldError(sentences(found))


def wiring_sheet(wiring: Wiring | None, others: Mapping[str, Any], known: Equipment) -> PartSheet:
    """The form of a wiring of the loudspeaker whose other fields hold `others`."""
    fields: tuple[Field, ...] = (
        Words("name", "Name", True),
        Poles("poles", "Pole pairs", example=_example(others["sections"])),
    )
    values = {} if wiring is None else {"name": wiring[0], "poles": wiring[1]}

    def build(given: Values) -> Wiring:
        holder = LoudspeakerModel(
            id=others.get("id") or "it",
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
