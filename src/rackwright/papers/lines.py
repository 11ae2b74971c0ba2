"""The line sheet: both ends of every cable, and what is on each of its pole pairs.

In the order in which the crew walks: rack after rack, socket after socket, and from a cabinet on to those linked from it.
"""

from collections.abc import Iterator, Mapping, Sequence

from rackwright.engine.assess import Assessed
from rackwright.model.index import Index, wired_sections
from rackwright.model.lines import Cabinet, Line, Stock
from rackwright.model.racks import Pole, read_pole
from rackwright.model.rig import Rig
from rackwright.model.stock import Pulled, cables_of
from rackwright.papers.document import Sheet, Table, Words
from rackwright.papers.marks import Marks, flags, marked
from rackwright.papers.phrases import REPATCHING, listed, rack_title
from rackwright.units import NOTHING

HEADS = ("line", "from", "to", "position", "cable", "length", "on each pole pair")


def line_sheet(assessment: Assessed, stock: Sequence[Stock]) -> Sheet:
    """Every line with both its ends; then every cabinet by its position."""
    key = Words(
        "On each pole pair: channel, feed → section. 1 from 2 means: pole pair 1 at the far end is pole pair 2 at the near end."
    )
    tables = (*line_tables(assessment, stock), by_position(assessment))
    return Sheet(
        name="lines",
        title="Lines",
        blocks=(REPATCHING, key, *(table for table in tables if table.rows)),
    )


def line_tables(assessment: Assessed, stock: Sequence[Stock]) -> list[Table]:
    """The lines of each rack, then those that come from no socket."""
    index, marks = assessment.index, Marks(assessment)
    lines = walk(index)
    lengths_ = lengths(index.rig, lines, stock)
    return [
        Table(
            heading=title,
            part=("rack", rack),
            heads=HEADS,
            rows=tuple(
                _line_row(index, marks, line, lengths_[line.id])
                for line in lines
                if start_rack(index, line) == rack
            ),
        )
        for rack, title in (*((r.id, rack_title(r)) for r in index.rig.racks), ("", "From no socket"))
    ]


def by_position(assessment: Assessed) -> Table:
    """Every cabinet with the lines at its two sockets."""
    index, marks = assessment.index, Marks(assessment)
    cabinets = sorted(index.rig.cabinets, key=lambda cabinet: (cabinet.position.casefold(),))
    return Table(
        name="cabinets",
        heading="Cabinets by position",
        heads=("position", "cabinet", "model", "wiring", "line in", "link out"),
        rows=tuple(_cabinet_row(index, marks, cabinet) for cabinet in cabinets),
    )


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


def lengths(rig: Rig, walked: Sequence[Line], stock: Sequence[Stock]) -> Mapping[str, str]:
    """Line id → its length in words: `15 m`; `asked 15 m, owned 20 m`; `asked 15 m, SHORT`."""
    return {each.wanted.line: length_of(each) for each in cables_of(rig, walked, stock)}


def length_of(pulled: Pulled) -> str:
    """The one length where what is owned is what is asked, both where they differ."""
    asked, stocked = pulled.wanted.length, pulled.stocked
    if stocked is None:
        return f"asked {asked}, SHORT"
    return f"asked {asked}, owned {stocked}" if pulled.longer else f"{stocked}"


def pole_at(index: Index, line: Line, far: int) -> Pole | None:
    """What drives pole pair `far` (from 0) at the far end of a line; None where nothing does."""
    pairs = index.pole_map(line)
    if far >= len(pairs):
        return None
    socket = index.sockets.get(line.source)
    if socket is None:
        before = index.line_to.get(line.source)
        return pole_at(index, before, pairs[far]) if before else None
    return read_pole(socket.pole(pairs[far]))


def start_rack(index: Index, line: Line) -> str:
    """The rack that a line is fed from; empty where it is from none."""
    socket = index.root(line.id)
    return index.rack_of[socket].id if socket else ""


def _line_row(index: Index, marks: Marks, line: Line, length: str) -> tuple[str, ...]:
    return (
        line.id,
        marked(near_end(index, line), marks.own(line.source)),
        marked(line.to, marks.cabinet(line.to)),
        index.cabinets[line.to].position or NOTHING,
        "; ".join((line.cable, *flags(index, line))),
        length,
        "; ".join((*pairs_of(index, marks, line), *marks.found(line), *marks.stops(line))),
    )


def near_end(index: Index, line: Line) -> str:
    """Where a line begins: `R1-1`, `link of SUB-L1`."""
    return line.source if line.source in index.sockets else f"link of {line.source}"


def pairs_of(index: Index, marks: Marks, line: Line) -> Iterator[str]:
    """What is on each pole pair of the far end: `1: A1.1 sub → upper`; a pair with nothing at either end is left out."""
    cabinet = index.cabinets[line.to]
    wiring = wired_sections(cabinet, index.loudspeaker_models[cabinet.model])
    if cabinet.muted:
        yield f"MUTED: don't plug into {cabinet.id}"
    for far, near in enumerate(index.pole_map(line)):
        pair = f"{far + 1}" if near == far else f"{far + 1} from {near + 1}"
        sections = wiring[far] if far < len(wiring) else ()
        pole = pole_at(index, line, far)
        if pole is None and not sections:
            continue
        goes_to = " and ".join(sections) or without_section(index, cabinet.id, far)
        yield f"{pair}: {_driven(index, marks, pole)} → {goes_to}".replace(" ", "\u00a0")


def without_section(index: Index, cabinet: str, pair: int) -> str:
    """What is said of a pole pair on which a cabinet has no section."""
    on = _leads_on(index, cabinet, pair)
    return f"on to {listed(on)}" if on else "not used"


def _leads_on(index: Index, cabinet: str, pair: int) -> list[str]:
    """The lines from a cabinet's link by which its pole pair goes on to a section somewhere."""
    return [
        line.id
        for line in index.lines_from.get(cabinet, ())
        if any(near == pair and _used(index, line.to, far) for far, near in enumerate(index.pole_map(line)))
    ]


def _used(index: Index, name: str, pair: int) -> bool:
    cabinet = index.cabinets[name]
    wiring = wired_sections(cabinet, index.loudspeaker_models[cabinet.model])
    return bool(pair < len(wiring) and wiring[pair]) or bool(_leads_on(index, name, pair))


def _driven(index: Index, marks: Marks, pole: Pole | None) -> str:
    if pole is None:
        return "nothing"
    feed = index.amplifiers[pole.amplifier].feed_of(pole.channel) or "no feed"
    return " ".join((pole.name, feed, *state_of(marks, pole)))


def _cabinet_row(index: Index, marks: Marks, cabinet: Cabinet) -> tuple[str, ...]:
    line = index.line_to.get(cabinet.id)
    model = index.loudspeaker_models[cabinet.model]
    told = marked(f"{line.id} from {near_end(index, line)}", marks.line(line)) if line else "NO LINE"
    return (
        cabinet.position or NOTHING,
        marked(cabinet.id, marks.standing(cabinet)),
        model.id,
        cabinet.wiring or next(iter(model.wirings), NOTHING),
        told,
        listed(f"{on.id} to {on.to}" for on in index.lines_from.get(cabinet.id, ())),
    )


def state_of(marks: Marks, pole: Pole) -> tuple[str, ...]:
    """What is unusual about what drives a pole pair: `REVERSED`, `FAILED`."""
    return (*(("REVERSED",) if pole.sign < 0 else ()), *marks.state(pole.name))
