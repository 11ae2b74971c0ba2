"""`night`: what happened in the night, as it was noted beside the rig's file; closing it files it with the venue's history."""

import datetime
from pathlib import Path

import click
from msgspec.structs import replace

from rackwright.cli.opening import Refusal, opened
from rackwright.cli.page import Page, Span, emit
from rackwright.cli.report import REPORT_FORMAT, json_text
from rackwright.cli.saving import tell_saved, write
from rackwright.cli.status import USAGE
from rackwright.cli.words import RIG
from rackwright.engine import recovery
from rackwright.engine.recovery import TimeTaken
from rackwright.model.rig import Rig
from rackwright.model.venue import split
from rackwright.papers.night import in_a_line, told
from rackwright.store import night_log, nights, venues
from rackwright.store.night_log import Event
from rackwright.store.safe.atomic_write import SaveError


@click.command()
@click.argument("rig", type=RIG)
@click.option("--close", is_flag=True, help="File the log with the venue's history: the night is over.")
@click.option(
    "--note", default="", metavar="TEXT", help="For next time, filed with the night that --close ends."
)
@click.option("--keep-times", is_flag=True, help="Keep what steps really took as the crew's times.")
@click.option("--json", "as_json", is_flag=True, help="Print the log as JSON.")
def command(rig: str, close: bool, note: str, keep_times: bool, as_json: bool) -> int:
    """Print the night log of RIG, and what is still to return."""
    source = opened(rig)
    if source.file is None:
        raise Refusal(f"{rig} is a preset, which has no night log. Name a rig file.", USAGE)
    log = night_log.path_of(source.file)
    try:
        events = night_log.read(log)
    except OSError as error:
        raise Refusal(f"{log} can't be read: {error.strerror}. Check its folder.") from None
    if as_json:
        emit(
            json_text(
                {
                    "format": REPORT_FORMAT,
                    "rig": source.rig.name,
                    "events": [_report(event) for event in events],
                }
            )
        )
    else:
        night_page(source.rig, events).print()
    if keep_times:
        _keep_times(source.rig, events, str(source.file))
    if close:
        _close(source.rig, events, source.file, note)
    return 0


def _report(event: Event) -> dict[str, str]:
    return {name: getattr(event, name) for name in event.__struct_fields__}


def night_page(rig: Rig, events: tuple[Event, ...]) -> Page:
    """The log in order, then how the rig stands."""
    page = Page()
    page.say(Span(f"Night log: {rig.title}", "bold"))
    for event in told(events):
        page.say(in_a_line(rig, event), rest="    ")
    if not events:
        page.say("Nothing is noted.")
    page.gap()
    failed, waiting = recovery.named(rig, recovery.failed(rig)), recovery.named(rig, recovery.pending(rig))
    page.say(f"Still failed: {', '.join(failed)}." if failed else "Nothing is failed.")
    if waiting:
        page.say(f"Repaired, to be returned: {', '.join(waiting)}.")
    for each in rig.lists:
        if not each.done:
            page.say(f"List {each.title}: {each.ticked} of {len(each.steps)} done.")
    taken = _taken(rig, events)
    if taken:
        page.gap()
        for time in taken:
            page.say(time.words)
        page.say("Keep what they took as the crew's times: --keep-times, or key t at the end of a list.")
    return page


def _taken(rig: Rig, events: tuple[Event, ...]) -> tuple[TimeTaken, ...]:
    return recovery.times_taken(rig.targets.times, night_log.taken(events))


def _keep_times(rig: Rig, events: tuple[Event, ...], file: str) -> None:
    """Write the times to the rig's file. Raises Refusal where there are none to keep."""
    if not (taken := _taken(rig, events)):
        raise Refusal(
            "There are no times to keep: too few steps took much longer or shorter than planned.", USAGE
        )
    aside = write(recovery.keep_times(rig, taken), file)
    page = Page()
    tell_saved(page, file, aside)
    page.print()


def _close(rig: Rig, events: tuple[Event, ...], file: Path, notes: str) -> None:
    """File the night with its venue. Raises Refusal while something is to be returned, or nothing is noted."""
    if not events:
        raise Refusal("There is nothing to close: the log is empty.", USAGE)
    if recovery.to_return(rig) or any(not each.done for each in rig.lists):
        raise Refusal(
            "The night isn't over: a list or a return is open. Finish it in the console, key R.", USAGE
        )
    try:
        kept = _keep(rig, notes)
        filed = nights.close(rig, file, notes, datetime.datetime.now())
    except SaveError as error:
        raise Refusal(str(error)) from None
    page = Page()
    if kept:
        page.say("Saved what is known of the venue for the next time:")
        page.to_copy(str(kept))
    page.say("Closed. The log, and beside it the rig as it is now:")
    page.to_copy(str(filed.path))
    page.to_copy(str(filed.rig_path))
    page.print()


def _keep(rig: Rig, notes: str) -> Path | None:
    """Save the facts of the venue that the rig is at, the new notes before those of earlier nights; None where it names none."""
    facts, _ = split(rig)
    if not facts.venue.name:
        return None
    own, known = venues.of_rig(facts.venue.name, rig.name), venues.notes_of(facts.venue.name, rig.name)
    noted = known if notes in known else "\n".join(filter(None, (notes, known)))
    matches = own.facts.matches if own and own.facts else ()
    here = replace(facts.venue, date="", times="")
    facts = replace(facts, venue=here, notes=noted, matches=matches)
    return venues.keep(facts, venues.own_name(facts)[0], over=True)
