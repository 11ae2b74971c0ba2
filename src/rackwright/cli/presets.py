"""`presets`: list the presets, or copy one out."""

from collections.abc import Iterable
from pathlib import Path

import click

from rackwright.cli.opening import Refusal
from rackwright.cli.page import Page, Span
from rackwright.cli.saving import tell_written
from rackwright.cli.words import PRESET
from rackwright.store.presets import Preset, PresetError, copy_out, listed
from rackwright.store.rig_file import RigFileError, SaveError


@click.group(invoke_without_command=True)
@click.pass_context
def command(context: click.Context) -> None:
    """List the presets, or copy one out."""
    if context.invoked_subcommand is None:
        context.invoke(list_presets)


@command.command("list")
def list_presets() -> None:
    """List the presets: yours and the shipped ones."""
    presets_page(listed()).print()


@command.command("copy")
@click.argument("name", type=PRESET)
@click.argument("target", type=click.Path(path_type=Path), required=False)
def copy_preset(name: str, target: Path | None) -> None:
    """Copy the preset NAME to a rig file.

    TARGET is a new file; by default NAME.toml in this folder.
    """
    target = target or Path(f"{name}.toml")
    try:
        copy_out(name, target)
    except (PresetError, RigFileError, SaveError) as error:
        raise Refusal(str(error)) from None
    page = Page()
    tell_written(page, str(target))
    page.print()


def presets_page(presets: Iterable[Preset]) -> Page:
    """The presets with their names and the first line of their notes."""
    page = Page()
    rows = [
        (p.name, p.origin, p.error or f"{p.title}. {p.notes.partition(chr(10))[0]}".removesuffix(" "))
        for p in presets
    ]
    page.table(("preset", "from", "what it is"), rows)
    page.gap()
    page.say(Span("Check one: rackwright check NAME. Copy one: rackwright presets copy NAME FILE", "dim"))
    return page
