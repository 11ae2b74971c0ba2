"""`import`: equipment, stock, lines or readings of a spreadsheet, all of it or nothing."""

from collections.abc import Sequence

import click

from rackwright.cli.meter import sheet_page
from rackwright.cli.opening import Refusal, known_equipment, opened
from rackwright.cli.page import Page, Span
from rackwright.cli.saving import TONIGHT, edited, see_that_it_is_free, tell_how_long, tell_saved, write
from rackwright.cli.status import UNUSABLE
from rackwright.cli.words import FILE, RIG
from rackwright.engine.meter_check import checked
from rackwright.model.diff import difference
from rackwright.model.index import Index
from rackwright.model.rig import Rig
from rackwright.papers import identity
from rackwright.papers.imported import imported
from rackwright.store.rig_file import RigFileError, SaveError
from rackwright.store.spreadsheet.cells import CsvError
from rackwright.store.spreadsheet.sheet import (
    KINDS,
    READINGS,
    Sheet,
    assumed,
    into_own,
    news,
    read_sheet,
    unprinted,
)

MOST_TROUBLES = 50


@click.command("import")
@click.argument("file", type=FILE)
@click.option("--kind", type=click.Choice(KINDS), metavar="KIND", help=f"What it holds: {', '.join(KINDS)}.")
@click.option("--worksheet", default="", metavar="NAME", help="The worksheet, where there are several.")
@click.option("--into", "rig", metavar="RIG", type=RIG, help="Into this rig; lines and readings need one.")
@click.option("--apply", "target", metavar="OUT", type=FILE, help="The file that the rig is written to.")
@click.option("--dry-run", is_flag=True, help="Show what would be imported; write nothing.")
@TONIGHT
def command(
    file: str,
    kind: str | None,
    worksheet: str,
    rig: str | None,
    target: str | None,
    dry_run: bool,
    tonight: bool,
) -> int:
    """Import a spreadsheet, all of it or nothing.

    It is CSV or a workbook (.xlsx, .xls, .ods), and holds amplifiers, loudspeakers, cables, connectors, stock, lines, lengths or readings. Equipment and stock go into
    your own lists, or into a rig. Columns are matched by their heads, and the match is shown. A unit is in the head,
    'weight (kg)', or in the cell. A rated power names its load: 'power 8 ohm (W)'. A loudspeaker has a row for each
    section, with the same id. If any row has a problem, all problems are listed and nothing is imported.
    """
    if rig is not None and target is None and not dry_run:
        raise click.UsageError(
            "--into reads into a rig: name the file to write with --apply, or say --dry-run."
        )
    if target is not None and rig is None:
        raise click.UsageError("--apply writes a rig: name the rig with --into.")
    if tonight and rig is None:
        raise click.UsageError("--tonight is said of a rig: name the rig with --into.")
    source = opened(rig) if rig is not None else None
    before = source.rig if source else None
    if target is not None and source is not None:
        see_that_it_is_free(target, source.file)
    page, changed = Page(), None
    notes: Sequence[str] = ()
    try:
        if before is None:
            sheet = read_sheet(file, known_equipment(), kind or "", worksheet)
            if sheet.kind == READINGS:
                raise CsvError(f"{file} is a sheet of readings. Name the rig that they are of: --into RIG.")
        else:
            found = imported(before, before.equipment.over(known_equipment()), file, kind or "", worksheet)
            sheet, notes = found.sheet, found.notes
            changed = edited(before, found.edit, "imported", tonight)
        if changed is not None and sheet.kind == READINGS:
            page = sheet_page(changed, checked(Index(changed)))
            for note in notes:
                page.say(note)
        else:
            _matching(page, sheet)
            if sheet.wrong:
                _problems(page, sheet, file)
                page.print()
                return UNUSABLE
            for note in notes:
                page.say(note)
            _changes(page, sheet, before, changed)
            if before is not None and changed is not None:
                tell_how_long(page, before, changed, tonight)
            for said in assumed(sheet):
                page.say(said)
            if told := unprinted(sheet):
                page.gap()
                page.say(told)
        if not dry_run:
            _write(page, sheet, changed, target)
    except (CsvError, RigFileError, SaveError) as error:
        raise Refusal(str(error)) from None
    if dry_run:
        page.gap()
        page.say("Nothing is written yet. Leave out --dry-run to import.")
    page.print()
    return 0


def _matching(page: Page, sheet: Sheet) -> None:
    page.heading(f"Columns, read as {sheet.kind}")
    rows = [
        (
            column.head or f"(column {column.position + 1})",
            f"{column.key.replace('_', ' ')}{f', at {column.load}' if column.load and column.key == 'damping_factor' else ''}"
            or ("what it is of" if column.head == identity.COLUMN else "not used"),
            column.unit or ("" if isinstance(column.kind, str) else "in the cell"),
        )
        for column in sheet.columns
    ]
    page.table(("column", "used as", "unit"), rows)


def _problems(page: Page, sheet: Sheet, file: str) -> None:
    page.heading(f"Nothing is imported from {file}")
    for wrong in sheet.wrong[:MOST_TROUBLES]:
        where, _, reason = wrong.partition(": ")
        page.say(Span(f"{where}:", "bold"), reason, rest="  ")
    if len(sheet.wrong) > MOST_TROUBLES:
        page.say(f"And {len(sheet.wrong) - MOST_TROUBLES} more.")


def _changes(page: Page, sheet: Sheet, rig: Rig | None, changed: Rig | None) -> None:
    page.heading("Entries" if rig is None else "Changes")
    if rig is None or changed is None:
        page.table(("id", "name", ""), news(sheet))
        return
    for change in difference(rig, changed):
        page.say(str(change), first="- ")
    if changed == rig:
        page.say("None: the rig has all of it already.")


def _write(page: Page, sheet: Sheet, changed: Rig | None, target: str | None) -> None:
    if changed is not None and target is not None:
        tell_saved(page, target, write(changed, target))
        return
    page.gap()
    page.say(into_own(sheet))
