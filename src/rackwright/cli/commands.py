"""The commands: what each asks for, and its exit status. What they print is in a module of each one's name."""

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from rackwright import __version__
from rackwright.cli.equipment_import import import_equipment
from rackwright.cli.group import FORMER, Group
from rackwright.cli.meter_check import meter
from rackwright.cli.opening import Refusal, known_equipment, looks_like_a_file, nearest, opened
from rackwright.cli.page import Page, emit
from rackwright.cli.papers import papers
from rackwright.cli.recover import recover, rehearse
from rackwright.cli.saving import see_that_it_is_free, tell_saved, tell_written, write
from rackwright.cli.status import USAGE
from rackwright.cli.venue import venue
from rackwright.store.home import home

if TYPE_CHECKING:
    from rackwright.engine.assess import Assessed
    from rackwright.units import Temperature

SEVERITY_STATUS = {None: 0, "note": 0, "warn": 1, "stop": 2}
NO_SCREEN = ("", "dumb", "unknown")
"""What TERM says of a terminal that only prints."""


class _Commands(Group):
    """The commands; a first word that is none of them is a rig to open in the console."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command asked for, or the console with its rig."""
        if args and args[0] not in {*self.commands, *FORMER} and not args[0].startswith("-"):
            near = "" if looks_like_a_file(args[0]) else nearest(args[0], list(self.commands))
            if near and not os.path.exists(args[0]):
                raise click.UsageError(f'There is no command "{args[0]}". Did you mean "{near}"?')
            args = ["open", *args]
        return super().resolve_command(ctx, args)


@click.group(
    cls=_Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@click.version_option(__version__, prog_name="rackwright")
@click.pass_context
def commands(context: click.Context) -> int | None:
    """Build amplifier racks, wire them to loudspeakers, see what the wiring does.

    With no command, opens the console; name a RIG to open it. RIG is a rig file or the name of a preset.
    """
    status: int | None = context.invoke(open_console) if context.invoked_subcommand is None else None
    return status


@commands.command("open")
@click.argument("rig", required=False)
def open_console(rig: str | None = None) -> int:
    """Open the console: build and change a rig by keys."""
    home()  # where there is none, it is said before the screen is the console's
    found = opened(rig) if rig else None
    # closed ones are None; the screen is drawn on standard error
    if not all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr)):
        raise Refusal("The console needs a terminal. Try: rackwright check RIG")
    if os.environ.get("TERM", "") in NO_SCREEN:
        raise Refusal(
            "The console needs a terminal that can place text on a screen, and TERM says that this one can't. "
            "Set TERM to what it is, such as xterm-256color, or try: rackwright check RIG"
        )

    from rackwright.console.run import run
    from rackwright.store import presets

    if found is None or found.file is not None:
        return run(found.file if found else None)
    return run(preset=presets.find(rig or ""))


@commands.command()
@click.argument("rig")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
@click.option(
    "--coil", metavar="TEMPERATURE", help='Power, damping and Q with hot coils, such as "150 degC".'
)
def check(rig: str, as_json: bool, coil: str | None) -> int:
    """Check a whole rig: its figures, and what is wrong.

    Exit status 0: nothing above a note; 1: a warn; 2: a stop; 3: the file can't be used.
    """
    temperature = _temperature(coil)
    if as_json and temperature is not None:
        raise click.UsageError("--coil is for the tables: leave out --json.")
    loaded = opened(rig).rig

    from rackwright.engine.assess import assess

    assessment = assess(loaded)
    if as_json:
        from rackwright.cli.report import as_text

        emit(f"{as_text(loaded, assessment)}\n")
        return SEVERITY_STATUS[assessment.worst()]

    from rackwright.cli.check import Hot, check_page

    hot = None
    if temperature is not None:
        from rackwright.engine.hot_coils import heated

        hot = Hot(temperature, assess(heated(loaded, temperature.value)))
    check_page(loaded, assessment, hot).print()
    return SEVERITY_STATUS[assessment.worst()]


def _temperature(coil: str | None) -> "Temperature | None":
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
    """Show how a figure is calculated, step by step.

    PLACE is a channel (A1.1), a section (SUB-L1.upper), a line (C1), a circuit (P1), an amplifier (A1), a rack
    (R1), the supply, or a phase of it (supply.L1). With no FIGURE, lists the figures of PLACE.
    """
    loaded = opened(rig).rig

    from rackwright.cli.why import figures_page, working_page
    from rackwright.engine.assess import assess
    from rackwright.engine.workings import NoWorkingError, explain, places

    assessment = assess(loaded)
    try:
        page = (
            figures_page(places(assessment, place))
            if figure is None
            else working_page(explain(assessment, place, figure), _cautious(assessment, place))
        )
    except NoWorkingError as error:
        raise Refusal(str(error), USAGE) from None
    page.print()


@commands.command()
@click.argument("rig")
@click.option(
    "--fewest", is_flag=True, help="Move only what it takes to keep breakers and phases within limits."
)
@click.option(
    "--apply",
    "target",
    metavar="OUT",
    help="Write the rearranged rig to the file OUT: a new one, or RIG's own.",
)
def circuits(rig: str, fewest: bool, target: str | None) -> None:
    """Show the circuits' loading, and a better arrangement."""
    source = opened(rig)
    if target is not None:
        see_that_it_is_free(target, source.file)

    from rackwright.cli.circuits import circuits_page, proposed
    from rackwright.engine.allocation.arrangement import ArrangementError
    from rackwright.engine.assess import assess

    assessment = assess(source.rig)
    try:
        proposal = proposed(source.rig, assessment, fewest)
    except ArrangementError as error:
        if target is not None:
            raise Refusal(str(error)) from None
        circuits_page(source.rig, assessment, str(error)).print()
        return
    page = circuits_page(source.rig, assessment, proposal)
    if target is not None:
        tell_saved(page, target, write(proposal.chosen.rig, target))
    page.print()


def _cautious(assessment: "Assessed", place: str) -> bool:
    """Whether a place has figures of the mains or of touch."""
    return place not in assessment.sections and place not in assessment.runs


@commands.command()
@click.argument("before")
@click.argument("after")
def diff(before: str, after: str) -> int:
    """List what differs between two rigs. Exit status 1 where anything does."""
    old, new = opened(before).rig, opened(after).rig

    from rackwright.model.diff import difference

    changes = difference(old, new)
    page = Page()
    for change in changes or ("The two rigs are the same.",):
        page.say(str(change), rest="  ")
    page.print()
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
    from rackwright.cli.lists import presets_page
    from rackwright.store.presets import listed

    presets_page(listed()).print()


@presets.command("copy")
@click.argument("name")
@click.argument("target", type=click.Path(path_type=Path), required=False)
def copy_preset(name: str, target: Path | None) -> None:
    """Copy the preset NAME to a rig file.

    TARGET is a new file; by default NAME.toml in this folder."""
    from rackwright.store.presets import PresetError, copy_out
    from rackwright.store.rig_file import RigFileError, SaveError

    target = target or Path(f"{name}.toml")
    try:
        copy_out(name, target)
    except (PresetError, RigFileError, SaveError) as error:
        raise Refusal(str(error)) from None
    page = Page()
    tell_written(page, str(target))
    page.print()


@commands.group(invoke_without_command=True)
@click.pass_context
def equipment(context: click.Context) -> None:
    """List the equipment known, or show one entry."""
    if context.invoked_subcommand is None:
        context.invoke(list_equipment)


@equipment.command("list")
def list_equipment() -> None:
    """List every amplifier, loudspeaker, cable and connector known."""
    from rackwright.cli.lists import equipment_page

    equipment_page(known_equipment()).print()


@equipment.command("show")
@click.argument("name")
def show_equipment(name: str) -> None:
    """Show one entry as TOML."""
    from rackwright.store.toml.encode import entry_text

    entries = known_equipment().entries()
    found = [entry for entry in entries if entry.id == name]
    if not found:
        near = nearest(name, [entry.id for entry in entries])
        hint = f' Did you mean "{near}"?' if near else ""
        raise Refusal(f'There is no equipment "{name}".{hint} List all: rackwright equipment', USAGE)
    emit("".join(f"{entry_text(entry)}\n" for entry in found))


for command in (recover, rehearse, meter, papers, venue):
    commands.add_command(command)
equipment.add_command(import_equipment)
