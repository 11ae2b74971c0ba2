"""The pull list: which cables and split leads to take from the store, cables by type and by the lengths that the company owns."""

from collections.abc import Mapping, Sequence

from rackwright.engine.assess import Assessed
from rackwright.model.index import Index
from rackwright.model.lines import Stock
from rackwright.model.stock import Pulled, by_length, cables_of, owned
from rackwright.papers.document import Sheet, Table, Words
from rackwright.papers.lines import length_of, walk
from rackwright.papers.marks import Marks
from rackwright.papers.phrases import TICKED, counted
from rackwright.units import NOTHING
from rackwright.units.wording import so_many


def pull_sheet(assessment: Assessed, stock: Sequence[Stock]) -> Sheet:
    """Counts by type and length; where stock is listed, by stocked length and with what is short."""
    index = assessment.index
    pulled = cables_of(index.rig, walk(index), stock)
    told = _told(assessment, pulled)
    splits = [*_split_leads(index), *_adaptors(index)]
    if not stock:
        words = Words(
            "No stock is listed, so the lengths are those of the rig: pull one as long, or longer. List what you own in the console, in the tables (t), to see what is short."
        )
        return Sheet(name="pull", title="Cables to pull", blocks=(words, _counted(pulled, {}, told, splits)))
    short = [each for each in pulled if each.stocked is None]
    blocks: list[Words | Table] = [_counted(pulled, owned(stock), told, splits)]
    if short:
        blocks = [
            Words(f"SHORT of {counted(len(short), 'cable')}: hire or make them before load-in."),
            *blocks,
            _short(short, told),
        ]
    return Sheet(name="pull", title="Cables to pull", blocks=tuple(blocks))


def _told(assessment: Assessed, pulled: Sequence[Pulled]) -> dict[str, str]:
    """Line id → it with what there is to know of its cable: `L5 (asked 15 m, owned 20 m; CROSSED: 1 from 2)`."""
    marks, found = Marks(assessment), {}
    for each in pulled:
        line = assessment.index.lines.get(each.wanted.line)
        if line is not None:
            notes = (*((length_of(each),) if each.longer else ()), *marks.line(line))
            found[line.id] = f"{line.id} ({'; '.join(notes)})" if notes else line.id
    return found


def _split_leads(index: Index) -> list[tuple[str, ...]]:
    """A row for each kind of lead that several lines out of one socket take; how many are owned nothing says."""
    needed: dict[tuple[str, int], list[str]] = {}
    for socket in index.sockets.values():
        lines = [line.id for line in index.lines_from.get(socket.id, ())]
        if len(lines) > 1:
            needed.setdefault((socket.connector, len(lines)), []).append(f"{socket.id} ({', '.join(lines)})")
    return [
        (f"split lead, {connector}", f"1 to {ways}", f"{len(at)}", NOTHING, ", ".join(at))
        for (connector, ways), at in sorted(needed.items())
    ]


def _adaptors(index: Index) -> list[tuple[str, ...]]:
    """A row for each kind of adaptor: a line leads from one connector to another; how many are owned nothing says."""
    needed: dict[tuple[str, str], list[str]] = {}
    for line in index.rig.lines:
        near, far = index.near_connector(line).id, index.cabinet_connector(line.to).id
        if near != far:
            needed.setdefault((near, far), []).append(line.id)
    return [
        (f"adaptor, {near} to {far}", NOTHING, f"{len(at)}", NOTHING, ", ".join(at))
        for (near, far), at in sorted(needed.items())
    ]


def _counted(
    pulled: Sequence[Pulled],
    owned: Mapping[tuple[str, float], int],
    told: dict[str, str],
    splits: Sequence[tuple[str, ...]],
) -> Table:
    """Cables by type and length, the longest first, then the leads that split them and the adaptors."""
    rows = []
    for cable, length, of_it in by_length(pulled, lambda each: each.stocked):
        count = owned.get((cable, length.value))
        held = NOTHING if count is None else f"{count}"
        rows.append((cable, f"{length}", f"{len(of_it)}", held, _purposes(of_it, told)))
    return Table(
        heads=("cable", "length", "pull", "owned", "for", *TICKED),
        rows=tuple((*row, "", "") for row in (*rows, *splits)),
        right=frozenset({"pull", "owned"}),
        written=frozenset(TICKED),
    )


def _purposes(pulled: Sequence[Pulled], told: dict[str, str]) -> str:
    lines = [told[each.wanted.line] for each in pulled if each.wanted.line]
    spares = len(pulled) - len(lines)
    return ", ".join([*lines, *([so_many(spares, "spare")] if spares else [])])


def _short(pulled: Sequence[Pulled], told: dict[str, str]) -> Table:
    rows = tuple(
        (cable, f"{length} or longer", f"{len(of_it)}", _purposes(of_it, told))
        for cable, length, of_it in by_length(pulled, lambda each: each.wanted.length)
    )
    return Table(
        name="short",
        heading="Short: not in stock, or all taken",
        heads=("cable", "length", "missing", "for"),
        rows=rows,
        right=frozenset({"missing"}),
    )
