"""A night that is over, as rows: notes for next time, what happened, what still was failed, measured currents, the meter check, what was changed.

Computes nothing: log, readings and differences are given by store, engine and model.
"""

from collections.abc import Iterator, Sequence
from itertools import groupby

from rackwright.console.rows.row import Row, heading, words
from rackwright.engine import recovery
from rackwright.engine.meter_check import checked, progress
from rackwright.model.diff import difference
from rackwright.model.index import Index
from rackwright.model.rig import Rig
from rackwright.model.venue_facts import VenueFacts
from rackwright.papers.night import in_a_line
from rackwright.store.night_log import Event
from rackwright.units.text_table import wrap
from rackwright.units.wording import so_many

Part = tuple[str, Sequence[str]]
"""A heading and what stands under it."""


def rows(parts: Sequence[Part], width: int) -> list[Row]:
    """The parts that say anything, one under the other."""
    told: list[Row] = []
    for title, lines in parts:
        if any(line.strip() for line in lines):
            told += [words("")] if told else []
            told += [heading(title)]
            told += [words(line) for text in lines if text.strip() for line in wrap(text, width, "  ")]
    return told


def of_night(notes: str, events: Sequence[Event], rig: Rig) -> list[Part]:
    """What is known of a night and the rig as it was at its end."""
    failed = recovery.named(rig, recovery.failed(rig))
    return [
        ("Notes for next time", notes.splitlines()),
        ("What happened", list(_by_day(rig, events))),
        ("Failed at the end", [f"{', '.join(failed)}."] if failed else []),
        ("Measured", list(_measured(rig))),
        ("Meter check", list(_read(rig))),
        ("Contacts", rig.venue.contacts.splitlines()),
    ]


def _by_day(rig: Rig, events: Sequence[Event]) -> Iterator[str]:
    """Each event with its time, each day said once."""
    for day, of_it in groupby(events, key=lambda event: event.time.partition("T")[0]):
        yield day
        yield from (in_a_line(rig, each).removeprefix(f"{day} ") for each in of_it)


def counted(facts: VenueFacts) -> str:
    """How much is known of a venue."""
    counts = ((facts.circuits, "circuit"), (facts.lines, "line length"), (facts.positions, "position"))
    return ", ".join(so_many(len(each), word) for each, word in counts)


def of_venue(facts: VenueFacts) -> list[Part]:
    """What is saved of a venue, as one rig found it."""
    return [
        (f"As found by {facts.rig}" if facts.rig else "Written by hand", [f"{counted(facts)}."]),
        ("Notes", facts.notes.splitlines()),
        ("Contacts", facts.venue.contacts.splitlines()),
    ]


def changes(title: str, old: Rig, new: Rig) -> Part:
    """What differs between two rigs; what was measured and read since is told with the night."""
    found = [str(change) for change in difference(old, new)]
    return title, found or ["Nothing."]


def _measured(rig: Rig) -> Iterator[str]:
    for circuit in rig.circuits:
        if circuit.measured:
            yield f"{circuit.id} ({circuit.breaker}): {circuit.measured.current}, {circuit.measured.when}".removesuffix(
                ", "
            )


def _read(rig: Rig) -> Iterator[str]:
    if not rig.readings:
        return
    found = checked(Index(rig))
    yield f"{progress(found)}."
    yield from (
        f"{item.test.id} to {item.test.to}: {item.verdict}."
        for item in found
        if item.status not in ("as expected", "not tested")
    )
