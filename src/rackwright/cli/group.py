"""A group of commands that still reads the names that its commands had in an earlier version."""

import os

import click

from rackwright.cli.page import tell

FORMER = {"linetest": "meter", "split": "save", "join": "apply"}


class Group(click.Group):
    """Reads a former name of one of its commands, and says on standard error what to write."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command asked for, under either name."""
        if args and (name := FORMER.get(args[0], "")) in self.commands and not os.path.exists(args[0]):
            tell(f"Write {ctx.command_path} {name}: {args[0]} is its old name.")
            args = [name, *args[1:]]
        return super().resolve_command(ctx, args)
