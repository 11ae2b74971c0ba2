"""`equipment`: list what is known, show one entry, import a spreadsheet."""

from collections.abc import Callable
from typing import Any

import click

from rackwright.cli.importing import command as import_command
from rackwright.cli.opening import Refusal, known_equipment, nearest
from rackwright.cli.page import Page, Span, emit
from rackwright.cli.status import USAGE
from rackwright.cli.words import EQUIPMENT
from rackwright.model.equipment import Equipment
from rackwright.store.toml.encode import entry_text


@click.group(invoke_without_command=True)
@click.pass_context
def command(context: click.Context) -> None:
    """List the equipment known, or show one entry."""
    if context.invoked_subcommand is None:
        context.invoke(list_equipment)


@command.command("list")
def list_equipment() -> None:
    """List all that is known, kind after kind."""
    equipment_page(known_equipment()).print()


@command.command("show")
@click.argument("name", type=EQUIPMENT)
def show_equipment(name: str) -> None:
    """Show one entry as TOML."""
    entries = known_equipment().entries()
    found = [entry for entry in entries if entry.id == name]
    if not found:
        near = nearest(name, [entry.id for entry in entries])
        hint = f' Did you mean "{near}"?' if near else ""
        raise Refusal(f'There is no equipment "{name}".{hint} List all: rackwright equipment', USAGE)
    emit("".join(f"{entry_text(entry)}\n" for entry in found))


command.add_command(import_command)


def equipment_page(library: Equipment) -> Page:
    """Every entry, kind after kind."""
    page = Page()
    kinds: tuple[tuple[str, tuple[Any, ...], Callable[[Any], str]], ...] = (
        ("Amplifiers", library.amplifiers, lambda e: f"{e.channels} channels, {e.height} U"),
        ("Loudspeakers", library.loudspeakers, lambda e: ", ".join(s.id for s in e.sections)),
        ("Cables", library.cables, lambda e: f"{e.cores} × {e.size} ({e.size.equivalent()})"),
        ("Connectors", library.connectors, lambda e: f"{e.pole_pairs} pole pairs"),
    )
    for heading, entries, words in kinds:
        page.heading(heading)
        page.table(("id", "name", ""), [(entry.id, entry.name, words(entry)) for entry in entries])
    page.gap()
    page.say(Span("Show one: rackwright equipment show ID", "dim"))
    return page
