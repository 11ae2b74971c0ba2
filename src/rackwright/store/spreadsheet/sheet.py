"""A spreadsheet that comes in: of which kind it is, by its columns, and what it holds or all that is wrong with it."""

import os
from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from rackwright.model import edits
from rackwright.model.assumed import said
from rackwright.model.equipment import EQUIPMENT_KINDS, Equipment, EquipmentEntry
from rackwright.model.lines import Stock
from rackwright.model.rig import Rig
from rackwright.store import library_edits, stock
from rackwright.store.library import built_in, user_library
from rackwright.store.rig_file import told_aside
from rackwright.store.spreadsheet import columns, equipment, lists
from rackwright.store.spreadsheet.cells import Cells, CsvError, Trouble, read_cells, sentences
from rackwright.store.spreadsheet.columns import Column, Target
from rackwright.store.stock import own_stock, stock_with
from rackwright.units.printable import INSTEAD, lacking

READINGS = "readings"
"""Read elsewhere, with the rig's pole pairs at hand."""
KINDS = (*EQUIPMENT_KINDS, *lists.TARGETS, READINGS)
TARGETS: Mapping[str, Sequence[Target]] = {**equipment.TARGETS, **lists.TARGETS}
PAPER = "paper"
"""The column that says in each row which rig, venue and revision it is of."""
_OF_READINGS = {"line", "pair", "reading"}


class KindError(CsvError):
    """Columns that fit no one kind of thing."""


class Sheet(NamedTuple):
    """What a spreadsheet holds: how its columns were taken, and its things or what is wrong."""

    kind: str
    """One of KINDS."""
    columns: tuple[Column, ...]
    missing: tuple[str, ...]
    """Names of columns that are needed and not there."""
    entries: Equipment | tuple[Stock, ...] | Rig
    """The rig with its lines as the rows say; of no use where anything is wrong."""
    troubles: tuple[Trouble, ...]
    papers: tuple[str, ...]
    """What its rows say that they are of."""

    @property
    def wrong(self) -> tuple[str, ...]:
        """What is wrong, each with its row and column and what to do; nothing where nothing is."""
        heads = [column.head for column in self.columns]
        lacking = "; ".join(self.missing)
        return (
            *([f"Columns are missing: {lacking}. Add them: no figure is guessed."] if lacking else []),
            *sentences(self.troubles, heads),
        )


def read_sheet(
    path: str | os.PathLike[str],
    known: Equipment,
    kind: str = "",
    worksheet: str = "",
    rig: Rig | None = None,
    elsewhere: Collection[str] = (),
) -> Sheet:
    """What a CSV file or a workbook holds; it may refer to the equipment `known` and, of lines, changes those of `rig`.

    Rows of lines of the ids `elsewhere` are passed over. `kind` is one of KINDS; where empty, the one whose columns the file has. Of readings only the columns are looked at.
    Raises CsvError, KindError where no one kind fits.
    """
    cells = read_cells(path, "what is to be read", worksheet)
    kind = kind or _likeliest(cells.heads, os.fspath(path))
    if kind == READINGS:
        return Sheet(kind, (), (), Equipment(), (), papers(cells))
    taken = _match(cells.heads, kind)
    troubles = columns.troubles_of(cells, taken)
    missing = _missing(kind, taken)
    entries: Equipment | tuple[Stock, ...] | Rig = ()
    if kind in EQUIPMENT_KINDS:
        entries = equipment.read(kind, cells, taken, known, troubles)
    elif kind == "stock":
        entries = lists.read_stock(cells, taken, [cable.id for cable in known.cables], troubles)
    elif rig is None:
        raise CsvError(f"{os.fspath(path)} is a list of lines. Name the rig that they belong to.")
    else:
        entries = lists.read_lines(cells, taken, rig, known, troubles, elsewhere)
    return Sheet(kind, taken, missing, entries, tuple(sorted(troubles)), papers(cells))


def _match(heads: Sequence[str], kind: str) -> tuple[Column, ...]:
    """Each column and what it is taken for in a sheet of that kind."""
    return equipment.match(heads, kind) if kind in EQUIPMENT_KINDS else columns.match(heads, TARGETS[kind])


def _missing(kind: str, taken: Sequence[Column]) -> tuple[str, ...]:
    if kind in EQUIPMENT_KINDS:
        return equipment.missing(kind, taken)
    needed = [each for each in TARGETS[kind] if each.required and (kind == "stock" or each.key == "id")]
    return tuple(t.names[0] for t in needed if all(column.key != t.key for column in taken))


def papers(cells: Cells) -> tuple[str, ...]:
    """What the rows say that they are of."""
    if PAPER not in cells.heads:
        return ()
    at = cells.heads.index(PAPER)
    return tuple(sorted({row[at] for _, row in cells.rows if row[at]}))


def _likeliest(heads: Sequence[str], name: str) -> str:
    """The kind whose columns the heads are: of those of which most of what is needed is there, the one that takes most of them."""
    if {head.casefold() for head in heads} >= _OF_READINGS:
        return READINGS
    used = [head for head in heads if head and head != PAPER]
    fits = {kind: _fit(heads, kind, len(used)) for kind in TARGETS}
    first, second = sorted(fits.values(), reverse=True)[:2]
    if not first or first < 1.2 * second:
        raise KindError(f"{name}: its columns fit no one kind. Name it: {', '.join(KINDS)}.")
    return max(fits, key=lambda kind: fits[kind])


def _fit(heads: Sequence[str], kind: str, count: int) -> float:
    taken = _match(heads, kind)
    share = columns.share(taken, TARGETS[kind])
    return share * sum(bool(column.key) for column in taken) / count if share >= 0.5 else 0.0


def into(rig: Rig, sheet: Sheet) -> Rig:
    """The rig with what the sheet holds, each thing in place of the one of its id. Raises EditError."""
    entries = sheet.entries
    if isinstance(entries, Rig):
        return entries
    if isinstance(entries, Equipment):
        return edits.with_equipment(rig, *entries.entries()) if entries.entries() else rig
    return edits.change_settings(rig, stock=stock_with(rig.stock, entries))


def into_own(sheet: Sheet) -> str:
    """Write equipment or stock into the user's own lists; what became of that. Raises RigFileError, SaveError."""
    entries = sheet.entries
    if isinstance(entries, Equipment):
        count, path, aside = (
            len(entries.entries()),
            library_edits.own_file(),
            library_edits.save_entries(entries),
        )
    else:
        assert isinstance(entries, tuple)
        count, path, aside = len(entries), stock.stock_file(), stock.add_to_own_stock(entries)
    return " ".join(filter(None, (f"Added all {count} to {path}.", told_aside(aside))))


def unprinted(sheet: Sheet) -> str:
    """Which name of what it holds can't be printed, and what to do; empty where all can."""
    entries = sheet.entries
    if isinstance(entries, Equipment):
        texts = [f"{each.id} {each.name}" for each in entries.entries()]
    elif isinstance(entries, Rig):
        texts = [each.id for each in entries.lines]
    else:
        texts = [each.case for each in entries]
    told = lacking(texts)
    return f"{told} {INSTEAD}" if told else ""


def assumed(sheet: Sheet) -> list[str]:
    """Of each entry that it holds the figures that are assumed."""
    entries = sheet.entries.amplifiers if isinstance(sheet.entries, Equipment) else ()
    return [
        f"{each.id}: blank or assumed, and counted with: {figures}."
        for each in entries
        if (figures := said(each))
    ]


def news(sheet: Sheet) -> list[tuple[str, str, str]]:
    """Of what goes into the user's own lists: id, name, and what it takes the place of. Raises RigFileError."""
    entries = sheet.entries
    if isinstance(entries, Equipment):
        own, shipped = (getattr(each, sheet.kind) for each in (user_library(), built_in()))
        found = getattr(entries, sheet.kind)
        return [(e.id, e.name, _instead(e.id, own, shipped)) for e in found]
    stock = entries if isinstance(entries, tuple) else ()
    held = {(each.cable, each.length.value): each for each in own_stock()}
    return [
        (each.id, f"{each.count}", "replaces yours" if (each.cable, each.length.value) in held else "new")
        for each in stock
    ]


def _instead(name: str, own: Sequence[EquipmentEntry], shipped: Sequence[EquipmentEntry]) -> str:
    if any(entry.id == name for entry in own):
        return "replaces yours"
    return "overrides the built-in" if any(entry.id == name for entry in shipped) else "new"
