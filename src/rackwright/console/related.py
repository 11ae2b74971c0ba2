"""What a place is, which feeds it plays, and which places light up with it: what drives it, what it drives, the way between."""

from collections.abc import Iterable

from rackwright.engine.assess import Assessed
from rackwright.model.index import pole_or_none
from rackwright.model.mains import phases_of
from rackwright.model.places import PolePair

KINDS = ("board", "circuit", "load", "feed", "rack", "amplifier", "socket", "line", "cabinet")


def kind_of(assessment: Assessed, place: str) -> str:
    """What a place is: `channel`, `section`, `pole`, `line pair`, `phase`, `rig`, or one of KINDS; empty where there is none."""
    if not place:
        return "rig"
    found = assessment.index.place(place)
    return found.kind if found else ""


def related(assessment: Assessed, place: str) -> frozenset[str]:
    """The places that light up with `place`: what drives it, what it drives, the way between, the place itself."""
    index = assessment.index
    kind = kind_of(assessment, place)
    lit = {place}
    match kind:
        case "channel":
            lit |= _of_branch(assessment, place)
        case "amplifier":
            for branch in assessment.branches.values():
                if branch.amplifier.id == place:
                    lit |= _of_branch(assessment, branch.id)
        case "section":
            patched = assessment.sections[place].patched
            lit |= _upstream(assessment, assessment.sections[place].cabinet)
            lit |= {patched} if patched else set()
        case "cabinet":
            lit |= _upstream(assessment, place) | _channels_of(assessment, place)
        case "line" | "line pair":
            line = index.lines[index.thing_at(place)]
            lit |= _upstream(assessment, line.to) | _channels_of(assessment, line.to)
        case "socket" | "pole":
            pairs = [pair for pair in index.pole_pairs.values() if place in (pair.socket, str(pair))]
            lit |= {pair.socket for pair in pairs}
            lit |= {
                branch.id
                for branch in assessment.branches.values()
                for socket, number, _ in branch.taps
                if PolePair(socket.id, number) in pairs
            }
        case "feed":
            lit |= {b.id for b in assessment.branches.values() if b.feed is not None and b.feed.id == place}
        case "circuit":
            lit |= _on_circuits(assessment, (place,))
        case "board":
            below = assessment.boards[place].circuits
            lit |= {*below} | _on_circuits(assessment, below)
        case "load":
            lit |= {index.loads[place].circuit} - {""}
        case "phase":
            on_it = {c.id for c in index.circuits.values() if place in phases_of(c.phase)}
            lit |= on_it | _on_circuits(assessment, on_it)
    return frozenset(lit)


def feeds_of(assessment: Assessed, place: str) -> tuple[str, ...]:
    """The feeds that a channel, a pole pair, a section, a cabinet, or a line and what it leads to play, each once."""
    index = assessment.index
    match kind_of(assessment, place):
        case "channel":
            channels = [place]
        case "pole":
            pair = index.pole_pairs[place]
            pole = pole_or_none(index.sockets[pair.socket].pole(pair.pair))
            channels = [pole.name] if pole else []
        case "section":
            channels = [assessment.sections[place].channel or ""]
        case _:
            thing = index.thing_at(place)
            cabinet = index.lines[thing].to if thing in index.lines else thing
            channels = [s.channel or "" for s in assessment.sections.values() if s.cabinet == cabinet]
    feeds = (assessment.branches[name].result.feed for name in channels if name in assessment.branches)
    return tuple(dict.fromkeys(feed for feed in feeds if feed))


def _on_circuits(assessment: Assessed, circuits: Iterable[str]) -> set[str]:
    results = [assessment.circuits[circuit] for circuit in circuits]
    return {name for result in results for name in (*result.amplifiers, *result.loads)}


def _of_branch(assessment: Assessed, channel: str) -> set[str]:
    branch = assessment.branches[channel]
    lit = {channel, branch.amplifier.id}
    lit |= {socket.id for socket, _, _ in branch.taps} | {
        str(PolePair(s.id, pair)) for s, pair, _ in branch.taps
    }
    for run in branch.all_runs:
        lit |= {run.line.id, run.line.to}
    return lit | {section.id for section in branch.sections}


def _upstream(assessment: Assessed, cabinet: str) -> set[str]:
    index, lit = assessment.index, {cabinet}
    while line := index.line_to.get(cabinet):
        lit |= {line.id, line.source}
        cabinet = line.source
    return lit


def _channels_of(assessment: Assessed, cabinet: str) -> set[str]:
    return {s.patched for s in assessment.sections.values() if s.cabinet == cabinet and s.patched}
