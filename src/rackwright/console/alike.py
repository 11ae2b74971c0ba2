"""Which places are like one: of its kind, and of its model, cable, connector, rack, feed, circuit or side.

Pure: what is chosen of them is the session's.
"""

from collections.abc import Iterator, Mapping, Sequence

from rackwright.console.related import kind_of
from rackwright.engine.assess import Assessed


def alike(assessment: Assessed, place: str) -> dict[str, tuple[str, ...]]:
    """In words what the place has in common with others of its kind → these and it, in order; nothing for the whole rig."""
    kind = kind_of(assessment, place)
    others = _of_kind(assessment, kind)
    if place not in others:
        return {}
    facts = {name: dict(_facts(assessment, kind, name)) for name in others}
    found = {
        f"{fact} {value}": tuple(name for name in others if facts[name].get(fact) == value)
        for fact, value in facts[place].items()
    }
    return {**found, f"every {kind}": tuple(others)}


def _of_kind(assessment: Assessed, kind: str) -> Sequence[str]:
    index = assessment.index
    places: Mapping[str, Mapping[str, object]] = {
        "channel": assessment.branches, "section": assessment.sections, "pole": index.pole_pairs, "line pair": index.line_pairs,
    }  # fmt: skip
    return tuple(places.get(kind) or getattr(index, f"{kind}s", {}))


def _facts(assessment: Assessed, kind: str, name: str) -> Iterator[tuple[str, str]]:
    """What is told of a place: its model, where it is, what it plays, what it hangs on."""
    index = assessment.index
    thing = index.thing_at(name)
    if kind == "section":
        thing = assessment.sections[name].cabinet
    item = next(
        (
            table[thing]
            for table in (index.amplifiers, index.sockets, index.lines, index.cabinets, index.loads)
            if thing in table
        ),
        None,
    )
    told = [(fact, getattr(item, fact, "")) for fact in ("model", "cable", "connector", "circuit", "side")]
    told.append(("rack", index.rack_of[thing].id if thing in index.rack_of else ""))
    told.append(("feed", _feed(assessment, kind, name, thing)))
    if kind in ("circuit", "board", "feed"):
        held = getattr(index, f"{kind}s")[name]
        told += [(fact, str(getattr(held, fact, ""))) for fact in ("board", "phase", "source", "side")]
    return ((fact, value) for fact, value in told if value)


def _feed(assessment: Assessed, kind: str, name: str, thing: str) -> str:
    """What it plays; of a cabinet and a line what the first section plays that plays anything."""
    if kind == "channel":
        return assessment.branches[name].result.feed or ""
    if kind == "pole":
        pair = assessment.index.pole_pairs[name]
        pole = assessment.index.sockets[pair.socket].pole(pair.pair).removeprefix("-")
        return (assessment.branches[pole].result.feed or "") if pole in assessment.branches else ""
    cabinet = assessment.index.lines[thing].to if thing in assessment.index.lines else thing
    of_it = [
        s
        for s in assessment.sections.values()
        if (s.section == name if kind == "section" else s.cabinet == cabinet)
    ]
    feeds = (assessment.branches[s.channel].result.feed for s in of_it if s.channel in assessment.branches)
    return next((feed for feed in feeds if feed), "")
