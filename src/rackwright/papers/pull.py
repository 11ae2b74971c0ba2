"""The pull list: which cables to take from the store, by type and by the lengths that the company owns.

Every line takes one cable: none is joined from two, since each joint is one more contact to fail.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from rackwright.engine.assess import Assessed
from rackwright.model.rig import Rig, Stock
from rackwright.papers.document import Sheet, Table, Words
from rackwright.papers.lines import walk
from rackwright.papers.words import NOTHING
from rackwright.units import Length


class Wanted(NamedTuple):
    """One cable that is needed: for a line, or as a spare."""

    cable: str
    length: Length
    purpose: str
    """The line's id, or `spare`."""


class Pulled(NamedTuple):
    """A cable that is needed, and the stocked length that does it; None where none is left that is long enough."""

    wanted: Wanted
    stocked: Length | None


def wanted_of(rig: Rig, lines: Iterable[Wanted]) -> tuple[Wanted, ...]:
    """Those of the lines, then the cables that stand by."""
    spares = (
        Wanted(spare.cable, spare.length, "spare")
        for spare in rig.spares
        if spare.cable and spare.length is not None
        for _ in range(spare.count)
    )
    return (*lines, *spares)


def pull(wanted: Sequence[Wanted], stock: Sequence[Stock]) -> tuple[Pulled, ...]:
    """For each cable wanted a stocked one of its type that is long enough, lines before spares.

    The longest needs choose first and take the shortest that does. As whatever serves a longer need serves a shorter one
    too, no choice serves more lines.
    """
    left = Counter({(s.cable, s.length.value): s.count for s in stock})
    shown = {(s.cable, s.length.value): s.length for s in stock}
    found: dict[int, Length | None] = {}
    order = sorted(range(len(wanted)), key=lambda i: (wanted[i].purpose == "spare", -wanted[i].length.value))
    for i in order:
        cable, need = wanted[i].cable, wanted[i].length.value
        fits = [key for key in shown if key[0] == cable and key[1] >= need * (1 - 1e-9) and left[key] > 0]
        if chosen := min(fits, key=lambda key: key[1], default=None):
            left[chosen] -= 1
        found[i] = shown[chosen] if chosen else None
    return tuple(Pulled(need, found[i]) for i, need in enumerate(wanted))


def pull_sheet(assessment: Assessed, stock: Sequence[Stock]) -> Sheet:
    """Counts by type and length; where stock is listed, by stocked length and with what is short."""
    index = assessment.index
    lines = (Wanted(line.cable, line.length, line.id) for line in walk(index))
    wanted = wanted_of(index.rig, lines)
    if not stock:
        told = Words(
            "No stock is listed, so the lengths are those of the rig. List what you own as [[stock]] in the rig file, or in stock.toml in your own folder."
        )
        table = _counted([Pulled(need, need.length) for need in wanted], {})
        return Sheet(name="pull", title="Cables to pull", blocks=(told, table))
    pulled = pull(wanted, stock)
    short = [each.wanted for each in pulled if each.stocked is None]
    owned = {(s.cable, s.length.value): s.count for s in stock}
    blocks: list[Words | Table] = [_counted([each for each in pulled if each.stocked is not None], owned)]
    if short:
        blocks = [
            Words(
                f"SHORT of {len(short)} cable{'s' if len(short) > 1 else ''}: hire or make them before load-in."
            ),
            *blocks,
            _short(short),
        ]
    return Sheet(name="pull", title="Cables to pull", blocks=tuple(blocks))


def _counted(pulled: Sequence[Pulled], owned: dict[tuple[str, float], int]) -> Table:
    """Cables by type and length, the longest first."""
    groups: dict[tuple[str, float], list[Pulled]] = {}
    for each in pulled:
        if each.stocked is not None:
            groups.setdefault((each.wanted.cable, each.stocked.value), []).append(each)
    rows = []
    for key in sorted(groups, key=lambda key: (key[0], -key[1])):
        names = [each.wanted.purpose for each in groups[key]]
        of_lines, spares = [name for name in names if name != "spare"], names.count("spare")
        length = groups[key][0].stocked
        told = [*of_lines, *([f"{spares} spare"] if spares else [])]
        count = f"{owned[key]}" if key in owned else NOTHING
        rows.append((key[0], str(length), f"{len(names)}", count, ", ".join(told)))
    return Table(
        heads=("cable", "length", "pull", "owned", "for"),
        rows=tuple(rows),
        right=frozenset({"pull", "owned"}),
    )


def _short(wanted: Sequence[Wanted]) -> Table:
    groups: dict[tuple[str, float], list[Wanted]] = {}
    for need in wanted:
        groups.setdefault((need.cable, need.length.value), []).append(need)
    rows = tuple(
        (cable, f"{needs[0].length} or longer", f"{len(needs)}", ", ".join(need.purpose for need in needs))
        for (cable, _), needs in sorted(groups.items(), key=lambda item: (item[0][0], -item[0][1]))
    )
    return Table(
        name="short",
        heading="Short: not in stock, or all taken",
        heads=("cable", "length", "missing", "for"),
        rows=rows,
        right=frozenset({"missing"}),
    )
