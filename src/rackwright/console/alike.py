"""Which places are like one: of its kind, and of its model, cable, connector, rack, feed, circuit or side.

Pure: what is chosen of them is the session's.
"""

from collections.abc import Iterator, Mapping, Sequence

from rackwright.console.related import feeds_of, kind_of
from rackwright.engine.assess import Assessed

_OF_MAINS_AND_FEEDS = ("board", "phase", "source", "side")
_OF_THE_REST = ("model", "cable", "connector", "circuit", "side")


def alike(assessment: Assessed, place: str) -> dict[str, tuple[str, ...]]:
    """In words what the place has in common with others of its kind → these and it, in order; nothing for the whole rig."""
    kind = kind_of(assessment, place)
    others = of_kind(assessment, kind)
    if place not in others:
        return {}
    facts = {name: dict(_facts(assessment, kind, name)) for name in others}
    found = {
        f"{fact} {value}": tuple(name for name in others if facts[name].get(fact) == value)
        for fact, value in facts[place].items()
    }
    return {**found, f"every {kind}": others}


def of_kind(assessment: Assessed, kind: str) -> tuple[str, ...]:
    """Every place of that kind, in order; nothing for the whole rig."""
    index = assessment.index
    places: Mapping[str, Mapping[str, object]] = {
        "channel": assessment.branches, "section": assessment.sections, "pole": index.pole_pairs, "line pair": index.line_pairs,
    }  # fmt: skip
    return tuple(places.get(kind) or getattr(index, f"{kind}s", {}))


def _facts(assessment: Assessed, kind: str, name: str) -> Iterator[tuple[str, str]]:
    """What is told of a place: its model, where it is, what it plays (the first of several feeds), what it hangs on."""
    index = assessment.index
    thing = index.thing_at(name)
    tables: Sequence[Mapping[str, object]] = (
        index.amplifiers, index.sockets, index.lines, index.cabinets, index.loads, index.circuits, index.boards, index.feeds,
    )  # fmt: skip
    item = next((table[thing] for table in tables if thing in table), None)
    told = _OF_MAINS_AND_FEEDS if kind in ("circuit", "board", "feed") else _OF_THE_REST
    facts = [(fact, getattr(item, fact, "")) for fact in told]
    facts.append(("rack", index.rack_of[thing].id if thing in index.rack_of else ""))
    facts.append(("feed", next(iter(feeds_of(assessment, name)), "")))
    return ((fact, value) for fact, value in facts if value)
