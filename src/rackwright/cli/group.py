"""The commands by name and in a line each; the module of one is imported when it is asked for."""

import os
from collections.abc import Mapping
from importlib import import_module
from typing import Any

import click
from click.shell_completion import CompletionItem

from rackwright import __version__
from rackwright.cli.opening import looks_like_a_file, nearest
from rackwright.cli.page import tell
from rackwright.cli.status import STATUSES

SUMMARIES = {
    "open": "Build and change a rig by keys.",
    "check": "Judge a rig: figures, and what is wrong.",
    "why": "Show how a figure came about.",
    "explain": "What a finding means, and what to do.",
    "help": "Read on units, files, keys, papers, mains.",
    "circuits": "What circuits carry; a better arrangement.",
    "diagnose": "What may have failed, from what is heard.",
    "recover": "Plans for a failure.",
    "rehearse": "The best plan for every failure.",
    "night": "Print the night log, or close it.",
    "meter": "What a meter should show, and what it did.",
    "papers": "Write the sheets that the crew wires from.",
    "diff": "List what differs between two rigs.",
    "venue": "Save a venue's facts; apply them to a rig.",
    "presets": "List the presets, or copy one out.",
    "equipment": "List the equipment, or import more.",
    "import": "Read equipment, stock, lines, readings.",
    "export": "Write them as a spreadsheet.",
    "schema": "What is in a report as JSON.",
    "completion": "Have the shell complete words.",
}
_MODULES = {"import": "importing"}
"""Of commands whose names are words of the language."""


class Group(click.Group):
    """Commands of which former names are read too, with a note."""

    def __init__(self, *args: Any, former: Mapping[str, str] | None = None, **options: Any) -> None:
        super().__init__(*args, **options)
        self.former = former or {}

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, or of the name that it has now."""
        if now := self.former.get(cmd_name):
            tell(f"Write {ctx.command_path} {now}: {cmd_name} is its old name.")
        return self.named(ctx, now or cmd_name)

    def named(self, ctx: click.Context, name: str) -> click.Command | None:
        """The command that has this name."""
        return super().get_command(ctx, name)


class _Rackwright(Group):
    """All commands; a first word that is none of them is a rig to open in the console."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """In the order in which they are wanted."""
        return list(SUMMARIES)

    def named(self, ctx: click.Context, name: str) -> click.Command | None:
        """The command of its module."""
        found: click.Command | None = (
            import_module(f"rackwright.cli.{_MODULES.get(name, name)}").command if name in SUMMARIES else None
        )
        return found

    def shell_complete(self, ctx: click.Context, incomplete: str) -> "list[CompletionItem[Any]]":
        """Commands, of which none is imported for that, and rigs; else options."""
        if incomplete.startswith("-"):
            return click.Command.shell_complete(self, ctx, incomplete)
        from rackwright.cli.words import RIG

        found = [
            CompletionItem(name, help=told) for name, told in SUMMARIES.items() if name.startswith(incomplete)
        ]
        rigs = RIG.shell_complete(ctx, self.params[0], incomplete)
        return [*found, *(item for item in rigs if item.type == "plain" or not found)]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """A line for each, of which none is imported for that."""
        with formatter.section("Commands"):
            formatter.write_dl(list(SUMMARIES.items()))

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The exit statuses."""
        with formatter.section("Exit statuses"):
            formatter.write_dl([(str(status), told) for status, told in STATUSES.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command asked for, or the console with its rig."""
        known = bool(args) and args[0] in {*SUMMARIES, *self.former}
        if ctx.resilient_parsing and not known:  # a shell asks what might follow: nothing is told
            return "open", self.named(ctx, "open"), args
        if args and not known and not args[0].startswith("-"):
            near = "" if looks_like_a_file(args[0]) else nearest(args[0], list(SUMMARIES))
            if near and not os.path.exists(args[0]) and not _is_preset(args[0]):
                raise click.UsageError(f'There is no command "{args[0]}". Did you mean "{near}"?')
            args = ["open", *args]
        return super().resolve_command(ctx, args)


def _is_preset(name: str) -> bool:
    """Whether a preset is called so, such as `hall`, which is much like `help`."""
    from rackwright.store import presets

    return name in presets.names()


@click.group(
    cls=_Rackwright,
    former={"linetest": "meter"},
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@click.version_option(__version__, prog_name="rackwright")
@click.pass_context
def commands(context: click.Context) -> int | None:
    """Build amplifier racks, wire them to loudspeakers, see what the wiring does.

    With no command, opens the console; name a RIG to open it. RIG is a rig file or the name of a preset.
    """
    if context.invoked_subcommand is None and (console := commands.get_command(context, "open")):
        status: int = context.invoke(console)
        return status
    return None
