"""The line sheet and the labels: both ends of every cable, and what is on each of its pole pairs.

In the order in which the crew walks: rack after rack, socket after socket, and from a cabinet on to those linked from it.
"""

from collections.abc import Iterator

from rackwright.engine.assess import Assessed
from rackwright.model.index import Index, wired_sections
from rackwright.model.rig import Cabinet, Line, Pole, read_pole
from rackwright.papers.document import Label, Labels, Sheet, Table, Words
from rackwright.papers.racks import feed_of, rack_title
from rackwright.papers.words import NOTHING, POWER_DOWN, listed

HEADS = ("line", "from", "to", "position", "cable", "length", "what is on each pair")


def line_sheet(assessment: Assessed) -> Sheet:
    """Every line with both its ends; then every cabinet by its position."""
    index = assessment.index
    lines = walk(index)
    tables = [
        Table(
            heading=title,
            part=("rack", rack),
            heads=HEADS,
            rows=tuple(_line_row(index, line) for line in lines if start_rack(index, line) == rack),
        )
        for rack, title in (*((r.id, rack_title(r)) for r in index.rig.racks), ("", "From no socket"))
    ]
    cabinets = sorted(index.rig.cabinets, key=lambda cabinet: (cabinet.position.casefold(),))
    by_position = Table(
        name="cabinets",
        heading="Cabinets by position",
        heads=("position", "cabinet", "model", "wiring", "line in", "link out"),
        rows=tuple(_cabinet_row(index, cabinet) for cabinet in cabinets),
    )
    key = Words(
        "On each pair: channel, feed → section. A pair that arrives from another is told as 1 from 2."
    )
    return Sheet(
        name="lines",
        title="Lines",
        blocks=(POWER_DOWN, key, *(table for table in (*tables, by_position) if table.rows)),
    )


def label_sheet(assessment: Assessed) -> Sheet:
    """A label for each end of every line."""
    index = assessment.index
    labels = tuple(label for line in walk(index) for label in _labels(index, line))
    cut = Words("Cut along the lines. One label for each end of every cable.")
    return Sheet(name="labels", title="Cable labels", blocks=(cut, Labels(labels)))


def walk(index: Index) -> tuple[Line, ...]:
    """Every line once, in walking order; those that no socket feeds last."""
    found: dict[str, Line] = {}

    def follow(place: str) -> None:
        for line in index.lines_from.get(place, ()):
            if line.id not in found:
                found[line.id] = line
                follow(line.to)

    for socket in index.rig.sockets():
        follow(socket.id)
    for line in index.rig.lines:
        if line.id not in found and line.source not in index.line_to:
            follow(line.source)
    return tuple(found.values())


def pole_at(index: Index, line: Line, far: int) -> Pole | None:
    """What drives pole pair `far` (from 0) at the far end of a line; None where nothing does."""
    pairs = index.pole_map(line)
    if far >= len(pairs):
        return None
    socket = index.sockets.get(line.source)
    if socket is None:
        before = index.line_to.get(line.source)
        return pole_at(index, before, pairs[far]) if before else None
    return read_pole(socket.poles[pairs[far]]) if pairs[far] < len(socket.poles) else None


def start_rack(index: Index, line: Line) -> str:
    """The rack that a line is fed from; empty where it is from none."""
    socket = index.root(line.id)
    return index.rack_of[socket].id if socket else ""


def _line_row(index: Index, line: Line) -> tuple[str, ...]:
    return (
        line.id,
        near_end(index, line),
        line.to,
        index.cabinets[line.to].position or NOTHING,
        line.cable + (f", {line.cores_per_pole} cores a pole" if line.cores_per_pole > 1 else ""),
        str(line.length),
        "; ".join(_pairs(index, line)),
    )


def near_end(index: Index, line: Line) -> str:
    """Where a line begins: `R1-1`, `link of SUB-L1`."""
    return line.source if line.source in index.sockets else f"link of {line.source}"


def _pairs(index: Index, line: Line) -> Iterator[str]:
    """What is on each pole pair of the far end: `1: A1.1 sub → upper`; a pair with nothing at either end is left out."""
    cabinet = index.cabinets[line.to]
    wiring = wired_sections(cabinet, index.loudspeaker_models[cabinet.model])
    if cabinet.muted:
        yield f"MUTED: leave the plug out of {cabinet.id}"
    for far, near in enumerate(index.pole_map(line)):
        pair = f"{far + 1}" if near == far else f"{far + 1} from {near + 1}"
        sections = wiring[far] if far < len(wiring) else ()
        pole = pole_at(index, line, far)
        if pole is None and not sections:
            continue
        goes_to = " and ".join(sections) or "no section here"
        yield f"{pair}: {_driven(index, pole)} → {goes_to}".replace(" ", "\u00a0")


def _driven(index: Index, pole: Pole | None) -> str:
    if pole is None:
        return "nothing"
    feed = feed_of(index, index.amplifiers[pole.amplifier], pole.channel) or "no feed"
    return f"{pole.name} {feed}{' REVERSED' if pole.sign < 0 else ''}"


def _cabinet_row(index: Index, cabinet: Cabinet) -> tuple[str, ...]:
    line = index.line_to.get(cabinet.id)
    model = index.loudspeaker_models[cabinet.model]
    told = f"{line.id} from {near_end(index, line)}" if line else "NO LINE"
    return (
        cabinet.position or NOTHING,
        cabinet.id + (" MUTED" if cabinet.muted else ""),
        model.id,
        cabinet.wiring or next(iter(model.wirings), NOTHING),
        told,
        listed(f"{on.id} to {on.to}" for on in index.lines_from.get(cabinet.id, ())),
    )


def _labels(index: Index, line: Line) -> tuple[Label, Label]:
    cabinet = index.cabinets[line.to]
    near, cable = near_end(index, line), f"{line.cable}, {line.length}"
    rack = index.rack_of.get(line.source)
    begins = (
        rack_title(rack)
        if rack
        else index.cabinets[line.source].position
        if line.source in index.cabinets
        else ""
    )
    return (
        Label(line.id, "near end", near, _present(begins, f"other end: {cabinet.id}", cable)),
        Label(line.id, "far end", cabinet.id, _present(cabinet.position, f"other end: {near}", cable)),
    )


def _present(*words: str) -> tuple[str, ...]:
    return tuple(word for word in words if word)
