"""`equipment import`: a spreadsheet's equipment into the user's library, all of it or nothing."""

import click

from rackwright.cli.opening import Refusal
from rackwright.cli.page import Page, Span
from rackwright.cli.status import UNUSABLE
from rackwright.cli.words import FILE
from rackwright.model.equipment import Equipment
from rackwright.store import library_edits
from rackwright.store.equipment_import import Sheet, read_csv
from rackwright.store.library import built_in, user_library
from rackwright.store.rig_file import RigFileError, SaveError
from rackwright.store.spreadsheet import CsvError

KINDS = ("amplifiers", "loudspeakers", "cables", "connectors")
MOST_TROUBLES = 50


@click.command("import")
@click.argument("file", type=FILE)
@click.option(
    "--kind", type=click.Choice(KINDS), help="The kind of the rows; found from the columns if not given."
)
@click.option("--dry-run", is_flag=True, help="Show what would be imported; write nothing.")
def import_equipment(file: str, kind: str | None, dry_run: bool) -> int:
    """Import the equipment of a CSV file.

    It goes into your library. Columns are matched by their headings, and the match is shown. A unit is in the heading, 'weight (kg)', or in the
    cell. A rated power names its load: 'power 8 ohm (W)'. A loudspeaker has a row for each section, with the same id.
    If any row has a problem, all problems are listed and nothing is imported.
    """
    try:
        own = user_library()
        sheet = read_csv(file, own.over(built_in()), kind or "")
    except (CsvError, RigFileError) as error:
        raise Refusal(str(error)) from None
    page = Page()
    _matching(page, sheet)
    if sheet.missing or sheet.troubles:
        _problems(page, sheet)
        page.print()
        return UNUSABLE
    _entries(page, sheet, own, built_in())
    if not dry_run:
        try:
            aside = library_edits.save_entries(sheet.entries)
        except (SaveError, RigFileError) as error:
            raise Refusal(str(error)) from None
        page.gap()
        page.say(f"Added all {len(sheet.entries.entries())} to {library_edits.own_file()}.")
        if aside is not None:
            page.say(f"The previous text, with its comments, is saved in {aside}.")
    else:
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
            or "not used",
            column.unit or ("" if isinstance(column.kind, str) else "in the cell"),
        )
        for column in sheet.columns
    ]
    page.table(("column", "used as", "unit"), rows)


def _problems(page: Page, sheet: Sheet) -> None:
    page.heading("Nothing is imported")
    if sheet.missing:
        page.say(
            f"Columns are missing: {'; '.join(sheet.missing)}. Add them from the data sheets: no figure is guessed."
        )
    for trouble in sheet.troubles[:MOST_TROUBLES]:
        page.say(Span(f"line {trouble.line}", "bold"), trouble.reason, rest="  ")
    if len(sheet.troubles) > MOST_TROUBLES:
        page.say(f"And {len(sheet.troubles) - MOST_TROUBLES} more.")


def _entries(page: Page, sheet: Sheet, own: Equipment, shipped: Equipment) -> None:
    page.heading("Entries")
    mine = {entry.id for entry in getattr(own, sheet.kind)}
    theirs = {entry.id for entry in getattr(shipped, sheet.kind)}
    rows = [
        (
            entry.id,
            entry.name,
            "replaces yours"
            if entry.id in mine
            else "overrides the built-in"
            if entry.id in theirs
            else "new",
        )
        for entry in getattr(sheet.entries, sheet.kind)
    ]
    page.table(("id", "name", ""), rows)
