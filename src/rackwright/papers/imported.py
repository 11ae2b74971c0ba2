"""What a spreadsheet of any kind brings to a rig: seen before it is done, and as an edit of the rig or of what its night returns to."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from rackwright.engine.recovery import baseline
from rackwright.model.edits import EditError
from rackwright.model.equipment import Equipment
from rackwright.model.rig import Rig
from rackwright.papers.identity import recognised
from rackwright.papers.readings import filled
from rackwright.store.spreadsheet.cells import CsvError
from rackwright.store.spreadsheet.sheet import READINGS, Sheet, into, read_sheet


class Imported(NamedTuple):
    """What a spreadsheet holds, and the rig before and after it."""

    sheet: Sheet
    before: Rig
    after: Rig
    """As before where anything is wrong."""
    notes: Sequence[str]
    edit: Callable[[Rig], Rig]
    """The import into that rig, or into the one that its night returns to. Raises EditError."""


def imported(rig: Rig, known: Equipment, file: str, kind: str = "", worksheet: str = "") -> Imported:
    """What the file brings to the rig, with the equipment `known`; a row of a line that only the rig tonight has, or only that
    before the failure, is of that alone.

    Raises CsvError, as `read_sheet` does.
    """
    lines = {line.id for each in (rig, baseline(rig)) for line in each.lines}

    def taken(other: Rig) -> tuple[Sheet, Rig, Sequence[str]]:
        elsewhere = lines - {line.id for line in other.lines}
        sheet = read_sheet(file, known, kind, worksheet, other, elsewhere)
        try:
            if sheet.kind == READINGS:
                return sheet, *filled(other, file, worksheet=worksheet)
            notes = recognised(other, file, sheet.papers)
            return sheet, other if sheet.wrong else into(other, sheet), notes
        except EditError as error:
            raise CsvError(f"{file} does not fit this rig: {error}") from None

    sheet, after, notes = taken(rig)

    def edit(other: Rig) -> Rig:
        if other is rig:
            return after
        try:
            found, changed, _ = taken(other)
        except CsvError as error:
            raise EditError(str(error)) from None
        if found.wrong:
            raise EditError(f"{file} does not fit this rig: {found.wrong[0]}")
        return changed

    return Imported(sheet, rig, after, notes, edit)
