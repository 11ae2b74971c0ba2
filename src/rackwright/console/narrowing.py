"""What the panes can be narrowed to, so that only a part of a large rig is read: what needs care, a feed, a rack, a side.

Pure: which of it is shown is the session's.
"""

from collections.abc import Iterable, Iterator

from rackwright.console.related import related
from rackwright.engine.assess import Assessed
from rackwright.model.places import PolePair

CARE = "stops and warnings"


def choices(assessment: Assessed) -> dict[str, tuple[str, ...]]:
    """In words what the panes can be narrowed to → the places that this starts from."""
    index, branches = assessment.index, assessment.branches.values()
    found = {CARE: tuple(f.at for f in assessment.findings if f.severity != "note")}
    for feed in index.feeds:
        playing = (b.id for b in branches if b.feed is not None and b.feed.id == feed)
        found[f"feed {feed}"] = (feed, *playing)
    for rack in index.racks.values():
        found[f"rack {rack.id}"] = (rack.id, *(amplifier.id for amplifier in rack.amplifiers))
    for side in ("left", "right"):
        on_it = {each.id for each in index.cabinets.values() if each.side == side}
        sections = (name for name, each in assessment.sections.items() if each.cabinet in on_it)
        found[side] = (*on_it, *sections)
    return {told: places for told, places in found.items() if places}


def places(assessment: Assessed, told: str) -> frozenset[str]:
    """All that is shown of a choice: where it starts, what drives that, what it drives, and the way between."""
    lit = {place for start in choices(assessment).get(told, ()) for place in related(assessment, start)}
    return frozenset(lit | set(_pole_pairs(assessment, lit)))


def shown(assessment: Assessed, told: str, among: Iterable[str]) -> tuple[str, ...]:
    """Those of some places that are shown of a choice, all where nothing is narrowed: no key acts on what is not."""
    seen = places(assessment, told) if told else None
    return tuple(place for place in among if seen is None or place in seen)


def _pole_pairs(assessment: Assessed, lit: set[str]) -> Iterator[str]:
    """Those of the sockets among them that the channels among them are on."""
    for branch in assessment.branches.values():
        for socket, number, _ in branch.taps if branch.id in lit else ():
            if socket.id in lit:
                yield str(PolePair(socket.id, number))
