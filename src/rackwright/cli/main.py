"""The commands and their exit status; what they print is in `tables` and `report`."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from rackwright import __version__

if TYPE_CHECKING:
    from rackwright.model.rig import Rig

USAGE, UNUSABLE, INTERRUPTED = 64, 3, 130
"""Exit status: the command's words are off; a file can't be used; Ctrl-C."""

SEVERITY_STATUS = {None: 0, "note": 0, "warn": 1, "stop": 2}


def main() -> None:
    """Run the command; every ending is a status and, at most, a sentence."""
    try:
        status = commands.main(standalone_mode=False)
    except click.UsageError as error:
        error.show()
        status = USAGE
    except click.ClickException as error:
        error.show()
        status = error.exit_code
    except (KeyboardInterrupt, click.Abort):
        status = INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()  # the reader has gone; say nothing more
        status = 0
    sys.exit(status if isinstance(status, int) else 0)


class Refusal(click.ClickException):
    """Something the user must mend; its message goes to standard error as it is."""

    exit_code = UNUSABLE

    def show(self, file: Any = None) -> None:
        """Print the message with no prefix."""
        click.echo(self.format_message(), file=file, err=file is None)


def opened(name: str) -> "Rig":
    """The rig of a file, or of the preset of that name where there is no such file. Raises Refusal."""
    from rackwright.store import presets
    from rackwright.store.rigfile import RigFileError, load

    path = Path(name)
    if not path.exists() and (preset := presets.find(name)):
        path = preset.path
    try:
        return load(path)
    except RigFileError as error:
        raise Refusal(str(error)) from None


class _Commands(click.Group):
    """The commands; a first word that is none of them is a rig to open in the console."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command asked for, or the console with its rig."""
        if args and self.get_command(ctx, args[0]) is None and not args[0].startswith("-"):
            args = ["open", *args]
        return super().resolve_command(ctx, args)


@click.group(
    cls=_Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@click.version_option(__version__, prog_name="rackwright")
@click.pass_context
def commands(context: click.Context) -> None:
    """Build amplifier racks, wire them to loudspeakers, see what the wiring does.

    With no command: open the console, on RIG where one is named. RIG is a rig file, or the name of
    a preset.
    """
    if context.invoked_subcommand is None:
        context.invoke(open_console)


@commands.command("open")
@click.argument("rig", required=False)
def open_console(rig: str | None = None) -> None:
    """Open the console: build and change a rig by keys."""
    from rackwright.store import presets

    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise Refusal("The console needs a terminal. Try: rackwright check RIG")
    path = Path(rig) if rig else None
    preset = presets.find(rig) if rig and path is not None and not path.exists() else None
    if path is not None and preset is None and not path.exists():
        opened(str(path))  # tells what is wrong with the name
    from rackwright.console.app import run

    run(path, preset)


@commands.command()
@click.argument("rig")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
@click.option(
    "--coil", metavar="TEMPERATURE", help='Power, damping and Q with hot coils, such as "150 degC".'
)
def check(rig: str, as_json: bool, coil: str | None) -> int:
    """Judge a whole rig: figures, and what is wrong.

    Exit status 0: nothing above a note; 1: a warn; 2: a stop; 3: the file can't be used.
    """
    from rackwright.engine.assess import assess

    loaded = opened(rig)
    temperature = _temperature(coil)
    assessment = assess(loaded)
    if as_json:
        from rackwright.cli.report import as_text

        click.echo(as_text(loaded, assessment))
    else:
        from rackwright.cli import tables

        hot = None
        if temperature is not None:
            from rackwright.engine.hot import heated

            hot = temperature, assess(heated(loaded, temperature.value))
        tables.check(loaded, assessment, hot)
    return SEVERITY_STATUS[assessment.worst()]


def _temperature(coil: str | None) -> Any:
    if coil is None:
        return None
    from rackwright.units import QuantityError, Temperature

    try:
        return Temperature.parse(coil)
    except QuantityError as error:
        raise click.BadParameter(str(error), param_hint="--coil") from None


@commands.command()
@click.argument("rig")
@click.argument("place")
@click.argument("figure", required=False)
def why(rig: str, place: str, figure: str | None) -> None:
    """Show how a figure came about, step by step.

    PLACE is a channel (A1.1), a section (SUB-L1.upper) or a line (L1). With no FIGURE, lists those
    that the place has.
    """
    from rackwright.cli import tables
    from rackwright.engine.assess import assess
    from rackwright.engine.working import NoWorkingError, explain

    assessment = assess(opened(rig))
    try:
        if figure is None:
            tables.figures(assessment, place)
        else:
            tables.workings(explain(assessment, place, figure))
    except NoWorkingError as error:
        raise Refusal(str(error)) from None


@commands.command()
@click.argument("before")
@click.argument("after")
def diff(before: str, after: str) -> int:
    """List what differs between two rigs. Exit status 1 where anything does."""
    from rackwright.model.diff import difference

    changes = difference(opened(before), opened(after))
    for change in changes:
        click.echo(str(change))
    if not changes:
        click.echo("The two rigs are the same.")
    return 1 if changes else 0


@commands.group(invoke_without_command=True)
@click.pass_context
def presets(context: click.Context) -> None:
    """List the presets, or copy one out to a rig file."""
    if context.invoked_subcommand is None:
        context.invoke(list_presets)


@presets.command("list")
def list_presets() -> None:
    """List the presets: the user's and the shipped ones."""
    from rackwright.cli import tables
    from rackwright.store.presets import listed

    tables.presets(listed())


@presets.command("copy")
@click.argument("name")
@click.argument("target", type=click.Path(path_type=Path), required=False)
def copy_preset(name: str, target: Path | None) -> None:
    """Copy the preset NAME to the file TARGET, by default NAME.toml here. Never overwrites."""
    from rackwright.store.presets import PresetError, copy_out
    from rackwright.store.rigfile import RigFileError, SaveError

    target = target or Path(f"{name}.toml")
    try:
        copy_out(name, target)
    except (PresetError, RigFileError, SaveError) as error:
        raise Refusal(str(error)) from None
    click.echo(f"Wrote {target}. See what it does: rackwright check {target}")


@commands.group(invoke_without_command=True)
@click.pass_context
def equipment(context: click.Context) -> None:
    """List the equipment known, or show one entry."""
    if context.invoked_subcommand is None:
        context.invoke(list_equipment)


@equipment.command("list")
def list_equipment() -> None:
    """List every amplifier, loudspeaker, cable and connector known."""
    from rackwright.cli import tables

    tables.equipment(_library())


@equipment.command("show")
@click.argument("name")
def show_equipment(name: str) -> None:
    """Show one entry as it stands in an equipment file."""
    import difflib

    from rackwright.store.encode import entry_text

    entries = _library().entries()
    found = [entry for entry in entries if entry.id == name]
    if not found:
        near = difflib.get_close_matches(name, [entry.id for entry in entries], n=1, cutoff=0.4)
        hint = f' Did you mean "{near[0]}"?' if near else ""
        raise Refusal(f'There is no equipment "{name}".{hint} List it all: rackwright equipment')
    for entry in found:
        click.echo(entry_text(entry))


def _library() -> Any:
    from rackwright.store.library import library
    from rackwright.store.rigfile import RigFileError

    try:
        return library()
    except RigFileError as error:
        raise Refusal(str(error)) from None
