"""`venue`: list venues, save a rig's facts of one, apply a venue's facts to a rig."""

import shlex

import click

from rackwright.cli.group import Group
from rackwright.cli.page import Page


@click.group(cls=Group)
def venue() -> None:
    """Save a venue's facts, and apply them to another rig.

    VENUE is a venue file, or the name of one that rackwright venue list shows.
    """


@venue.command("list")
def list_venues() -> None:
    """List the venues: yours and the shipped ones."""
    from rackwright.cli.lists import venues_page
    from rackwright.store.venues import listed

    venues_page(listed()).print()


@venue.command("save")
@click.argument("rig")
@click.option("--out", "target", metavar="VENUE", required=True, help="The venue file to write: a new one.")
@click.option("--name", default="", help="The venue's name.")
def save_venue(rig: str, target: str, name: str) -> None:
    """Save the facts of RIG's venue to a file.

    They are supply, circuits, line lengths, positions and readings."""
    from rackwright.cli.opening import Refusal, opened

    source = opened(rig)
    from rackwright.model.venue import split
    from rackwright.store import venues
    from rackwright.store.safe.atomic_write import SaveError

    facts, _ = split(source.rig, name)
    try:
        venues.save(facts, target)
    except SaveError as error:
        raise Refusal(str(error)) from None
    page = Page()
    page.say(
        f"Wrote {len(facts.circuits)} circuits, {len(facts.lines)} line lengths, {len(facts.positions)} positions. Add notes and "
        "contacts to it by hand:"
    )
    page.to_copy(str(target))
    page.say("Apply it to another rig:")
    page.to_copy(f"rackwright venue apply RIG {shlex.quote(str(target))} --out SHOW.toml")
    page.print()


@venue.command("apply")
@click.argument("rig")
@click.argument("venue")
@click.option("--out", "target", metavar="SHOW", required=True, help="The rig file to write.")
def apply_venue(rig: str, venue: str, target: str) -> None:
    """Apply VENUE's facts to RIG, and list what has no match."""
    from rackwright.cli.opening import Refusal, opened
    from rackwright.cli.saving import see_that_it_is_free, tell_saved, write

    source = opened(rig)
    see_that_it_is_free(target, source.file)
    from rackwright.model import rules
    from rackwright.model.venue import join
    from rackwright.store import venues
    from rackwright.store.toml.read import RigFileError
    from rackwright.units.safe_text import safe

    try:
        facts = venues.load(venue, source.rig.name)
    except RigFileError as error:
        raise Refusal(str(error)) from None
    joined = join(source.rig, facts)
    if problems := rules.check(joined.rig):
        raise Refusal(
            "\n".join((f"{venue} does not fit this rig:", *(safe(f"  {problem}") for problem in problems)))
        )
    aside = write(joined.rig, target)
    page = Page()
    for sentence in joined.unmatched:
        page.say(sentence, first="- ")
    tell_saved(page, target, aside)
    page.print()
