"""`venue`: list venues, save a rig's facts of one, apply a venue's facts to a rig."""

import shlex
from collections.abc import Iterable

import click

from rackwright.cli.group import Group
from rackwright.cli.opening import Refusal, opened
from rackwright.cli.page import Page, Span
from rackwright.cli.saving import see_that_it_is_free, tell_saved, write
from rackwright.cli.words import FILE, RIG, VENUE
from rackwright.model import rules
from rackwright.model.venue import join, split
from rackwright.store import venues
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.toml.read import RigFileError
from rackwright.store.venues import Kept
from rackwright.units.safe_text import safe


@click.group(cls=Group, former={"split": "save", "join": "apply"})
def command() -> None:
    """Save a venue's facts; apply them to a rig.

    VENUE is a venue file, or the name of one that rackwright venue list shows.
    """


@command.command("list")
def list_venues() -> None:
    """List the venues: yours and the built-in ones."""
    venues_page(venues.listed()).print()


@command.command("save")
@click.argument("rig", type=RIG)
@click.option(
    "--out", "target", metavar="VENUE", type=FILE, required=True, help="The venue file to write: a new one."
)
@click.option("--name", default="", help="The venue's name.")
def save_venue(rig: str, target: str, name: str) -> None:
    """Save the facts of RIG's venue to a file.

    They are supply, circuits, line lengths, positions and readings.
    """
    source = opened(rig)
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


@command.command("apply")
@click.argument("rig", type=RIG)
@click.argument("venue", type=VENUE)
@click.option("--out", "target", metavar="SHOW", type=FILE, required=True, help="The rig file to write.")
def apply_venue(rig: str, venue: str, target: str) -> None:
    """Apply VENUE's facts to RIG.

    What has no match is listed.
    """
    source = opened(rig)
    see_that_it_is_free(target, source.file)
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


def venues_page(known: Iterable[Kept]) -> Page:
    """The venues with their titles, the first line of their notes, and how much is known of each."""
    page = Page()
    rows = [
        (
            kept.name,
            kept.origin,
            kept.error or f"{kept.title}. {kept.first_note}".removeprefix(". ").removesuffix(" "),
            *(
                map(str, (len(v.circuits), len(v.lines), len(v.positions)))
                if (v := kept.facts)
                else ("", "", "")
            ),
        )
        for kept in known
    ]
    figures = ("circuits", "lines", "positions")
    page.table(("venue", "from", "what it is", *figures), rows, right=figures)
    page.gap()
    page.say(Span("Apply one to a rig: rackwright venue apply RIG VENUE --out SHOW.toml", "dim"))
    return page
