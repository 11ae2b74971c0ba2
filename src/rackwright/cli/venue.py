"""`venue`: list venues, save a rig's facts of one, apply a venue's facts to a rig."""

import shlex
from collections.abc import Iterable
from typing import Any

import click

from rackwright.cli.group import Group
from rackwright.cli.opening import Refusal, opened
from rackwright.cli.page import Page, Span, emit
from rackwright.cli.report import REPORT_FORMAT, json_text
from rackwright.cli.saving import see_that_it_is_free, tell_saved, write
from rackwright.cli.words import FILE, RIG, VENUE
from rackwright.model import rules
from rackwright.model.venue import join, split
from rackwright.model.venue_ids import matched, proposed
from rackwright.store import nights, venues
from rackwright.store.nights import Past
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
@click.option("--json", "as_json", is_flag=True, help="Print the list as JSON.")
def list_venues(as_json: bool) -> None:
    """List the venues: yours and the built-in ones."""
    if as_json:
        emit(json_text(venues_report(venues.listed(), nights.past())))
    else:
        venues_page(venues.listed()).print()


@command.command("nights")
@click.argument("venue", default="")
def list_nights(venue: str) -> None:
    """List the nights that are over, the last first."""
    page = Page()
    rows = [
        (night.day, night.closed.venue, night.closed.rig, night.closed.words.partition("\n")[0])
        for night in nights.past()
        if venue.casefold() in ("", night.closed.venue.casefold())
    ]
    page.table(("date", "venue", "rig", "for next time"), rows)
    if not rows:
        page.say("No night is closed here yet: rackwright night RIG --close, or key V of the console.")
    page.print()


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
@click.option("--match", is_flag=True, help="Match what has other ids there, by position or model.")
def apply_venue(rig: str, venue: str, target: str, match: bool) -> None:
    """Apply VENUE's facts to RIG.

    What has no match is listed.
    """
    source = opened(rig)
    see_that_it_is_free(target, source.file)
    try:
        facts = venues.load(venue, source.rig.name)
    except RigFileError as error:
        raise Refusal(str(error)) from None
    proposals = proposed(source.rig, facts)
    joined = join(source.rig, matched(source.rig, facts, proposals, match))
    if problems := rules.check(joined.rig):
        raise Refusal(
            "\n".join((f"{venue} does not fit this rig:", *(safe(f"  {problem}") for problem in problems)))
        )
    aside = write(joined.rig, target)
    page = Page()
    for each in proposals:
        page.say(f"{each.here} {'is' if match else 'may be'} {each.known} there: {each.why}.", first="- ")
    if proposals and not match:
        page.say("Take these for the same with --match.")
    for sentence in joined.unmatched:
        page.say(sentence, first="- ")
    tell_saved(page, target, aside)
    page.print()


def venues_report(known: Iterable[Kept], past: Iterable[Past]) -> dict[str, Any]:
    """The list of venues and of the nights there as plain data."""
    return {
        "format": REPORT_FORMAT,
        "venues": [
            {
                "name": kept.name,
                "from": kept.origin,
                "venue": kept.facts.venue.name if kept.facts else None,
                "rig": kept.facts.rig if kept.facts else None,
                "circuits": len(kept.facts.circuits) if kept.facts else None,
                "lines": len(kept.facts.lines) if kept.facts else None,
                "positions": len(kept.facts.positions) if kept.facts else None,
                "error": kept.error or None,
            }
            for kept in known
        ],
        "nights": [
            {
                "date": night.day,
                "venue": night.closed.venue,
                "rig": night.closed.rig or None,
                "notes": night.closed.words,
                "log": str(night.path),
                "rig_file": str(night.rig_path) if night.closed.rig else None,
            }
            for night in past
        ],
    }


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
