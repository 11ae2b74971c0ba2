"""The cover: the verdict first, then where and when, what is in the bundle, what changed since last time, and who signs."""

from collections.abc import Iterator

from rackwright.engine import recovery
from rackwright.engine.assess import Assessed
from rackwright.engine.finding import Finding, grouped, places, sentence_of
from rackwright.model.diff import difference
from rackwright.model.rig import Rig
from rackwright.papers import findings
from rackwright.papers.document import Block, Contents, Sheet, Table, Words
from rackwright.papers.marks import assumed_words, warning
from rackwright.papers.phrases import PLANNING, REPATCHING, counted
from rackwright.papers.stage import any_position

MOST_CHANGES = 12
"""That are named; the sheet of changes has them all."""
SIGNED = ("Wired and labelled", "Meter check done", "Mains tested", "Switched on")


def cover_sheet(assessment: Assessed, before: Rig | None, venue_notes: str = "") -> Sheet:
    """The cover of a rig's papers; `before` is the rig of the revision before, `venue_notes` what is kept with the venue."""
    blocks: tuple[Block, ...] = (
        *verdict(assessment),
        *_venue(assessment.index.rig, venue_notes),
        Contents(),
        *_left_out(assessment.index.rig),
        *_changed(before, assessment.index.rig),
        _signatures(),
        REPATCHING,
        PLANNING,
    )
    return Sheet(name="cover", title="Cover", blocks=blocks)


def verdict(assessment: Assessed) -> Iterator[Words | Table]:
    """How it stands, each stop in a box, what has failed, and which warnings there are where."""
    rig, stops = assessment.index.rig, grouped([f for f in assessment.findings if f.severity == "stop"])
    counts = ", ".join(assessment.counts())
    yield Words(f"{'STOP. ' if stops else ''}{counts}. {assessment.verdict}", bool(stops))
    yield from (Words(f"STOP: {sentence_of(group)} {group[0].advice}".rstrip(), True) for group in stops)
    if failed := recovery.named(rig, recovery.failed(rig)):
        yield Words(f"FAILED: {', '.join(failed)}.", True)
    yield from assumed_words(assessment)
    yield from _warnings(assessment)


def _warnings(assessment: Assessed) -> Iterator[Table]:
    """By what they are called at their places on the other sheets."""
    found: dict[str, list[Finding]] = {}
    for finding in assessment.findings:
        if finding.severity == "warn":
            found.setdefault(warning(finding, assessment.index.rig.supply.guard), []).append(finding)
    if found:
        yield Table(
            name="warnings",
            heading=f"Warnings, in full on the sheet {findings.TITLE}",
            heads=("what", "at"),
            rows=tuple((what, places(group)) for what, group in found.items()),
        )


def _venue(rig: Rig, notes: str) -> Iterator[Table]:
    venue = rig.venue
    facts = (
        ("venue", venue.name),
        ("date", venue.date),
        ("times", venue.times),
        ("address", venue.address),
        ("contacts", venue.contacts),
        *_noted("venue notes", notes),
        *_noted("notes", rig.notes),
    )
    if rows := tuple((what, said) for what, said in facts if said):
        yield Table(name="venue", heading="Where and when", heads=("what", "as noted"), rows=rows)


def _noted(what: str, notes: str) -> Iterator[tuple[str, str]]:
    """A row for each paragraph: a cell of all could be taller than a page."""
    lines = [line for line in notes.splitlines() if line.strip()]
    yield from zip((what, *[""] * len(lines)), lines, strict=False)


def _left_out(rig: Rig) -> Iterator[Words]:
    if rig.cabinets and not any_position(rig):
        yield Words(
            "The stage plan is left out, for no cabinet has a position: give each its position, side and depth, then write "
            "the papers again."
        )


def _changed(before: Rig | None, rig: Rig) -> Iterator[Table]:
    if before is None:
        return
    changes = difference(before, rig)
    rows = tuple((str(change),) for change in changes[:MOST_CHANGES])
    if (more := len(changes) - MOST_CHANGES) > 0:
        rows = (*rows, (f"and {more} more: write the papers with changes since that rig",))
    if rows:
        yield Table(
            name="changed",
            heading=f"Since the last revision: {counted(len(changes), 'change')}",
            heads=("what",),
            rows=rows,
        )


def _signatures() -> Table:
    blank = ("name", "date, time", "signature")
    return Table(
        name="signed",
        heading="Signed",
        heads=("what", *blank),
        written=frozenset(blank),
        rows=tuple((what, *("",) * len(blank)) for what in SIGNED),
    )
