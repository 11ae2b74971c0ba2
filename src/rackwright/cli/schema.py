"""`schema`: what a report as JSON holds, as JSON Schema, for programs that read it."""

import click

from rackwright.cli.opening import Refusal, meant
from rackwright.cli.page import Page, Span, emit
from rackwright.cli.report import json_text
from rackwright.cli.status import USAGE
from rackwright.cli.words import REPORT


@click.command()
@click.argument("name", type=REPORT, required=False)
def command(name: str | None) -> None:
    """Print the JSON Schema of what a command prints with --json.

    NAME is the command. Without one, lists those that there are.
    """
    from rackwright.cli.report_types import REPORTS, schema  # makes all types

    if name is None:
        page = Page()
        rows = [(each, report.command, report.kind.__doc__ or "") for each, report in REPORTS.items()]
        page.table(("schema", "of what this prints", "what is in it"), rows)
        page.gap()
        page.say(Span("Print one, by the draft 2020-12: rackwright schema NAME", "dim"))
        page.print()
        return
    if name not in REPORTS:
        hint = meant(name, REPORTS, f"There are: {', '.join(REPORTS)}.")
        raise Refusal(f'There is no schema "{name}". {hint}', USAGE)
    emit(json_text(schema(name)))
