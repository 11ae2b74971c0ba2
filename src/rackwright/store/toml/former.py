"""Keys of earlier versions of the program's files, put as those of today before anything is decoded, and the ids that the
demo equipment had.

A former key whose value has not the form that it had, or that stands beside the key of today, is left: decoding says
what is wrong with it.
"""

from collections.abc import Callable, Iterable
from typing import Any, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from rackwright.model.edits.sharing import each_amplifier, each_socket, mapped, updated
from rackwright.model.equipment import Equipment
from rackwright.model.fields import referring
from rackwright.model.index import Index
from rackwright.model.readings import Reading
from rackwright.model.rig import FORMAT, Rig

Data = dict[str, Any]
S = TypeVar("S", bound=Struct)

IDS = {
    "amplifiers": {
        "duo-1800": "amp-2ch-1800",
        "duo-3000": "amp-2ch-3000",
        "quad-2000": "amp-4ch-2000",
        "quad-1200": "amp-4ch-1200",
        "quad-600": "amp-4ch-600",
        "duo-900ab": "amp-2ch-900ab",
        "duo-550": "amp-2ch-550",
        "duo-250ab": "amp-2ch-250ab",
        "quad-250": "amp-4ch-250",
    },
    "connectors": {"locking-2": "2-pole", "locking-4": "4-pole", "locking-8": "8-pole"},
}
"""Kind → id of built-in equipment in an earlier version → its id today."""


def rig_of_today(data: Data) -> Data:
    """A rig file's data."""
    if data.get("format") == 1:
        data = {**data, "format": FORMAT}
    return _night(_each(_each(data, "circuits", _circuit), "readings", _reading))


def _night(data: Data) -> Data:
    """The lists of version 1, which kept what each plan had changed, as a night with its baseline."""
    lists = data.get("checklists") if isinstance(data, dict) else None
    if not isinstance(lists, list) or not all(isinstance(each, dict) for each in lists) or "night" in data:
        return data
    try:
        tables = {key: [*data.get(key, ())] for key in ("racks", "lines", "cabinets", "spares")}
        for plan in reversed([each for each in lists if each.get("way_back")]):
            was, made = plan.get("before", {}), plan.get("after", {})
            tables["racks"] = [
                rack
                | {
                    key: _restored(rack.get(key, ()), was.get(key, ()), ())
                    for key in ("amplifiers", "sockets")
                    if key in rack
                }
                for rack in tables["racks"]
            ]
            for key in ("cabinets", "spares"):
                tables[key] = _restored(tables[key], was.get(key, ()), ())
            tables["lines"] = [*_restored(tables["lines"], was.get("lines", ()), made.get("lines", ()))]
            there = {line["id"] for line in tables["lines"]}
            tables["lines"] += [line for line in was.get("lines", ()) if line["id"] not in there]
        taken = [
            {key: each[key] for key in ("id", "title", "failed", "when") if key in each}
            | {
                "steps": [
                    {"words": step["words"], "done": step.get("done", False)}
                    for step in each.get("steps", ())
                ]
            }
            | ({} if each.get("way_back") else {"returns": True})
            for each in lists
        ]
    except (AttributeError, KeyError, TypeError):
        return data
    rest = {key: value for key, value in data.items() if key != "checklists"}
    night = {
        "baseline": {key: table for key, table in tables.items() if table != data.get(key, [])},
        "lists": taken,
    }
    return {**rest, "night": [night]} if taken else rest


def _restored(items: Iterable[Data], was: Iterable[Data], made: Iterable[Data]) -> list[Data]:
    """The items as they were, and without what a plan brought."""
    former = {_name(item): item for item in was}
    new = {_name(item) for item in made} - former.keys()
    return [former.get(_name(item), item) for item in items if _name(item) not in new]


def _name(item: Data) -> Any:
    return item.get("id") or (item.get("amplifier"), item.get("cable"), item.get("length"))


def venue_of_today(data: Data) -> Data:
    """A venue file's data."""
    for old, new in (("runs", "lines"), ("places", "positions"), ("hookups", "mains")):
        data = _renamed(data, old, new)
    if isinstance(name := data.get("venue"), str):
        data = {**data, "venue": {"name": name}}
    venue = data.get("venue", {})
    if isinstance(data.get("contacts"), str) and isinstance(venue, dict) and "contacts" not in venue:
        data = {**data, "venue": {**venue, "contacts": data["contacts"]}}
        del data["contacts"]
    return _each(_each(data, "circuits", _circuit), "readings", _reading)


def with_ids(rig: Rig, known: Equipment) -> Rig:
    """The rig with built-in equipment called as today, where nothing `known` has the id that the rig calls it by."""

    def today(thing: S) -> S:
        return _with_id(thing, known)

    rig = each_socket(each_amplifier(rig, today), today)
    return updated(rig, spares=mapped(rig.spares, today), equipment=equipment_with_ids(rig.equipment, known))


def equipment_with_ids(entries: Equipment, known: Equipment) -> Equipment:
    """The same for what entries of equipment refer to."""
    return updated(entries, loudspeakers=mapped(entries.loudspeakers, lambda each: _with_id(each, known)))


def _with_id(thing: S, known: Equipment) -> S:
    today = {}
    for field in referring(type(thing)):
        former = getattr(thing, field.name)
        if (name := IDS.get(field.of, {}).get(former)) and all(
            each.id != former for each in getattr(known, field.of)
        ):
            today[field.name] = name
    return updated(thing, **today)


def with_bases(rig: Rig) -> Rig:
    """The rig with each reading that doesn't say what it was taken on saying so: an earlier version knew one line only."""
    if all(reading.stated for reading in rig.readings):
        return rig
    index = Index(rig)

    def stated(reading: Reading) -> Reading:
        line = index.lines.get(reading.line)
        if line is None or reading.model or reading.cable or reading.length:
            return reading
        return replace(
            reading,
            model=index.cabinets[line.to].model,
            cable=line.cable,
            length=line.length,
            behind=index.linked_on(line.to),
        )

    return replace(rig, readings=tuple(map(stated, rig.readings)))


def _each(data: Data, key: str, today: Callable[[Data], Data]) -> Data:
    items = data.get(key) if isinstance(data, dict) else None
    if not isinstance(items, list):
        return data
    return {**data, key: [today(each) if isinstance(each, dict) else each for each in items]}


def _circuit(data: Data) -> Data:
    return _renamed(data, "feed", "supply_cable")


def _reading(data: Data) -> Data:
    data = _renamed(data, "sounded", "heard_from")
    if isinstance(ok := data.get("polarity_ok"), bool) and "polarity" not in data:
        data = {**data, "polarity": "yes" if ok else ""}
        del data["polarity_ok"]
    return data


def _renamed(data: Data, old: str, new: str) -> Data:
    if old not in data or new in data:
        return data
    return {new if key == old else key: value for key, value in data.items()}
