"""Which loads are known to be good since something failed: they have read as they should, or played.

A load is a pole pair of a line that leads from a socket, `C1/2`, with all behind it. Judges no reading itself.
"""

from collections.abc import Iterator, Mapping

from rackwright.engine.assess import Assessed
from rackwright.engine.channel import Branch
from rackwright.engine.meter_check.kept_readings import checked
from rackwright.engine.meter_check.meter import pair_test
from rackwright.engine.network import Run
from rackwright.model.index import Index, wired_sections
from rackwright.model.places import LinePair

_SWAPPED = ("neither", "moves")
"""What a swap of two plugs shows where the cabinet that was silent plays at the other socket. A channel that protects with its line
unplugged too does so for itself: that is what a list would ask."""


def since(broken: Assessed, failure: str) -> frozenset[str]:
    """The loads that are known to be good since that failed, as `fail` takes it."""
    index, known = broken.index, broken.index.rig.failures.get(failure)
    good = {*by_answers(broken, index.rig.heard), *(known.good if known else ())}
    begun = known.when if known else ""
    if lines := {each.line for each in index.rig.readings if begun and each.when >= begun}:
        good |= {
            each.test.id
            for each in checked(index, lines=lines)
            if each.reading and each.reading.when >= begun and each.status in ("as expected", "drifted")
        }
    return frozenset(good)


def by_answers(assessed: Assessed, heard: Mapping[str, str]) -> tuple[str, ...]:
    """The loads that what was heard and tested shows to be good."""
    if not heard:
        return ()
    pairs = assessed.index.line_pairs
    plays = {place for place, said in heard.items() if said == "plays"}
    swapped = {
        test.removeprefix("swap ")
        for test, said in heard.items()
        if test.startswith("swap ") and said in _SWAPPED
    }
    cleared = {
        test.removeprefix("unplug ")
        for test, said in heard.items()
        if test.startswith("unplug ") and said == "protect"
    }
    read = [
        test.removeprefix("meter ")
        for test, said in heard.items()
        if test.startswith("meter ") and said == "expected"
    ]
    played = [
        f"{root.line.id}/{root.near + 1}"
        for branch in assessed.branches.values()
        for root in branch.roots
        if root.line.source in swapped
        or root.line.id in cleared
        or plays & {*_called(assessed, branch, root)}
    ]
    seen = [name for name in read if name in pairs and not _unseen(assessed.index, pairs[name])]
    return tuple(name for name in dict.fromkeys((*seen, *played)) if name in pairs)


def _unseen(index: Index, pair: LinePair) -> bool:
    """Whether a reading leaves open what is behind a capacitor."""
    return bool(pair_test(index, index.lines[pair.line], pair.pair).unseen)


def _called(assessed: Assessed, branch: Branch, root: Run) -> Iterator[str]:
    """By which names what a load drives is answered for: its sections; cabinets, feed and side, which play as a whole."""
    index, feed = assessed.index, branch.feed
    if feed is not None:
        yield feed.id
        yield feed.side
    for run in root.all_runs():
        cabinet = index.cabinets[run.line.to]
        yield cabinet.id
        yield cabinet.side or (feed.side if feed is not None else "")
        wired = wired_sections(cabinet, index.loudspeaker_models[cabinet.model])
        if run.far < len(wired):
            yield from (f"{cabinet.id}.{section}" for section in wired[run.far])
