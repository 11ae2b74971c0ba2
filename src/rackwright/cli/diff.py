"""`diff`: what differs between two rigs."""

import click

from rackwright.cli.opening import opened
from rackwright.cli.page import Page
from rackwright.cli.words import RIG
from rackwright.model.diff import difference


@click.command()
@click.argument("before", type=RIG)
@click.argument("after", type=RIG)
def command(before: str, after: str) -> int:
    """List what differs between two rigs."""
    old, new = opened(before).rig, opened(after).rig

    changes = difference(old, new)
    page = Page()
    for change in changes or ("The two rigs are the same.",):
        page.say(str(change), rest="  ")
    page.print()
    return 1 if changes else 0
