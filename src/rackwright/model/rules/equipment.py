"""The rules of equipment entries, whether a rig carries them or a library holds them."""

from collections.abc import Iterator

from rackwright.model.equipment import (
    EQUIPMENT_KINDS,
    AmplifierModel,
    CableModel,
    Equipment,
    LoudspeakerModel,
    Section,
)
from rackwright.model.rules.problem import Path, Problem, bad_id, missing, within


def check_equipment(equipment: Equipment, path: Path = ()) -> tuple[Problem, ...]:
    """Every breach in a set of equipment entries; a loudspeaker's connector is looked up in the same set."""
    return tuple(_equipment(equipment, path))


def _equipment(equipment: Equipment, path: Path) -> Iterator[Problem]:
    for kind in EQUIPMENT_KINDS:
        seen: set[str] = set()
        for i, entry in enumerate(getattr(equipment, kind)):
            place = (*path, kind, i)
            yield from _entry_id(place, entry.id, kind if entry.id in seen else "")
            yield from within(place, entry)
            seen.add(entry.id)
            if isinstance(entry, AmplifierModel):
                yield from _amplifier_model(place, entry)
            elif isinstance(entry, LoudspeakerModel):
                yield from _loudspeaker_model(place, entry, equipment)
            elif isinstance(entry, CableModel) and entry.cores % 2:
                yield Problem(
                    (*place, "cores"),
                    f"{entry.id} has {entry.cores} cores",
                    "Write an even number: a pole pair takes two.",
                )


def _entry_id(path: Path, name: str, twice_among: str) -> Iterator[Problem]:
    if not name or name != name.strip():
        yield Problem((*path, "id"), f'"{name}" can\'t be an id', "Write one with no space around.")
    if twice_among:
        yield Problem(
            (*path, "id"),
            f'"{name}" is listed twice under the {twice_among}',
            "Give one of the two another id.",
        )


def _amplifier_model(path: Path, model: AmplifierModel) -> Iterator[Problem]:
    yield from within((*path, "damping_factor"), model.damping_factor)
    if not model.ratings:
        yield Problem(
            (*path, "ratings"), f"{model.id} has no rated power", "Give one load and its power at least."
        )
    for key in ("ratings", "bridged"):
        loads = [rating.load.value for rating in getattr(model, key)]
        if len(set(loads)) < len(loads):
            yield Problem((*path, key), f"{model.id} is rated twice for one load", "Keep one of the two.")
    if model.mains and model.mains[0].value > model.mains[1].value:
        yield Problem(
            (*path, "mains"),
            f"The mains voltage of {model.id} ends at {model.mains[1]}, under its start at {model.mains[0]}",
            "Write the lower one first.",
        )


def _loudspeaker_model(path: Path, model: LoudspeakerModel, equipment: Equipment) -> Iterator[Problem]:
    connectors = {entry.id: entry for entry in equipment.connectors}
    connector = connectors.get(model.connector)
    if connector is None:
        yield Problem((*path, "connector"), *missing("connector", model.connector, connectors))
    if not model.sections:
        yield Problem((*path, "sections"), f"{model.id} has no section", "Give one at least.")
    if not model.wirings:
        yield Problem(
            (*path, "wirings"), f"{model.id} has no wiring", "Say which pole pair drives which sections."
        )
    names = [section.id for section in model.sections]
    for i, section in enumerate(model.sections):
        yield from _section((*path, "sections", i), section, names)
    for wiring, pairs in model.wirings.items():
        if connector is not None and len(pairs) > connector.pole_pairs:
            yield Problem(
                (*path, "wirings", wiring),
                f"Wiring {wiring} uses {len(pairs)} pole pairs and {connector.id} has {connector.pole_pairs}",
                f"Use {connector.pole_pairs} at most.",
            )
        for p, sections in enumerate(pairs):
            place = (*path, "wirings", wiring, p)
            yield from (
                Problem(place, *missing(f"section of {model.id}", name, names))
                for name in sections
                if name not in names
            )
            if len(set(sections)) < len(sections):
                yield Problem(
                    place, f"Wiring {wiring} drives a section twice from one pole pair", "Name it once."
                )


def _section(path: Path, section: Section, names: list[str]) -> Iterator[Problem]:
    yield from bad_id(path, section.id)
    if names.count(section.id) > 1:
        yield Problem(
            (*path, "id"), f'"{section.id}" is listed twice under the sections', "Rename one of the two."
        )
    if section.dc_resistance.value < 0.05:
        yield Problem(
            (*path, "dc_resistance"),
            "A driver's DC resistance can't be zero",
            "Write what a meter shows, such as 5.4 ohm.",
        )
    if section.highest is not None and section.highest.value <= section.lowest.value:
        yield Problem(
            (*path, "highest"),
            f"highest, {section.highest}, is not above lowest, {section.lowest}",
            "Exchange them.",
        )
    driver = section.driver
    if driver is None:
        return
    yield from within((*path, "driver"), driver)
    if driver.box != "vented":
        return
    if driver.alpha is None:
        yield Problem(
            (*path, "driver", "alpha"),
            "A vented box needs its compliance ratio alpha",
            "Write a number such as alpha = 1.1.",
        )
    if driver.fb is None:
        yield Problem(
            (*path, "driver", "fb"), "A vented box needs its tuning fb", 'Write it such as fb = "36 Hz".'
        )
