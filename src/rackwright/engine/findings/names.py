"""Names that the typeface of printed papers can't show, told where they are entered.

Every text that a person gave is looked at once: what was found in a table of the rig stays as long as the table does.
"""

from collections.abc import Callable, Iterator, Mapping
from operator import attrgetter
from typing import Any

from rackwright.engine.finding import Finding
from rackwright.engine.findings.registry import Named, Survey, judges_rig
from rackwright.model.rig import Rig
from rackwright.units.printable import INSTEAD, lacking, unprinted

_TABLES: dict[str, Callable[[Any], str]] = {
    "racks": lambda each: f"{each.id} {each.name}",
    "cabinets": lambda each: f"{each.id} {each.position}",
    "feeds": lambda each: f"{each.id} {each.output}",
    "loads": lambda each: f"{each.id} {each.name} {each.position}",
    "circuits": attrgetter("id"),
    "boards": attrgetter("id"),
    "lines": attrgetter("id"),
}
"""Table of a rig → what is printed of each thing in it."""


def named(rig: Rig, earlier: Mapping[str, Named]) -> dict[str, Named]:
    """Each part of a rig with its texts that can't be printed; of an `earlier` rig what is the same object stays."""
    found = {"rig": Named(None, _lacking([("", text) for text in _head(rig)]))}
    for name in (*_TABLES, "equipment"):
        part, was = getattr(rig, name), earlier.get(name)
        found[name] = was if was and was.part is part else Named(part, _lacking(_texts(name, part)))
    return found


def _head(rig: Rig) -> tuple[str, ...]:
    venue = rig.venue
    return rig.name, rig.notes, venue.name, venue.date, venue.times, venue.address, venue.contacts


def _texts(name: str, part: Any) -> list[tuple[str, str]]:
    if name == "equipment":
        return [("", f"{each.id} {each.name}") for each in part.entries()]
    text = _TABLES[name]
    texts = [(each.id, text(each)) for each in part]
    if name == "racks":
        texts += [(each.id, each.id) for rack in part for each in (*rack.amplifiers, *rack.sockets)]
    return texts


def _lacking(texts: list[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    return tuple([(at, text) for at, text in texts if not text.isascii() and unprinted(text)])


@judges_rig
def name_unprinted(survey: Survey) -> Iterator[Finding]:
    """A name with a sign that the typeface of printed papers lacks: they can't be written as PDF."""
    found = [text for part in survey.named.values() for text in part.unprinted]
    if found:
        told = lacking([text for _, text in found])
        yield Finding("name-unprinted", "warn", found[0][0], told, INSTEAD)
