"""`export`: equipment, stock, lines or readings as a spreadsheet, to be changed there and imported again."""

import click

from rackwright.cli.opening import Refusal, known_equipment, opened
from rackwright.cli.page import Page
from rackwright.cli.saving import write_text
from rackwright.cli.words import FILE, RIG
from rackwright.papers.readings import exported
from rackwright.store.rig_file import RigFileError
from rackwright.store.spreadsheet.sheet import KINDS
from rackwright.store.stock import own_stock


@click.command()
@click.argument("kind", type=click.Choice(KINDS))
@click.argument("file", type=FILE)
@click.option("--of", "rig", metavar="RIG", type=RIG, help="What this rig has; lines and readings need one.")
def command(kind: str, file: str, rig: str | None) -> int:
    """Export equipment, stock, lines or readings as CSV.

    Without a rig it is all equipment that is known, and your own stock. Never overwrites.
    """
    source = opened(rig).rig if rig is not None else None
    if source is None and kind in ("lines", "readings"):
        raise click.UsageError(f"{kind} are a rig's: name it with --of.")
    try:
        stock = source.stock if source else own_stock()
    except RigFileError as error:
        raise Refusal(str(error)) from None
    known = source.equipment if source else known_equipment()
    write_text(file, exported(kind, known, stock, source))
    page = Page()
    page.say("Wrote:")
    page.to_copy(file)
    page.print()
    return 0
