"""The night on paper: what is failed, the lists that are open with room to tick, and the night log; an event of it in a line."""

from collections.abc import Iterator, Sequence

from rackwright.engine import cautions, recovery
from rackwright.engine.assess import Assessed
from rackwright.model.night import NightList
from rackwright.model.rig import Rig
from rackwright.papers.document import Block, Sheet, Table, Words
from rackwright.papers.phrases import REPATCHING
from rackwright.store.night_log import Event
from rackwright.units import NOTHING

DONE = "done"


def any_night(rig: Rig, log: Sequence[Event]) -> bool:
    """Whether there is anything to say of one."""
    return bool(rig.lists or log or recovery.failed(rig))


def night_sheet(assessment: Assessed, log: Sequence[Event]) -> Sheet:
    """What has failed, each list, then the log."""
    rig = assessment.index.rig
    failed, waiting = recovery.named(rig, recovery.failed(rig)), recovery.named(rig, recovery.pending(rig))
    told = (
        Words(f"FAILED: {', '.join(failed)}." if failed else "Nothing is failed.", bool(failed)),
        *([Words(f"Repaired, to be returned: {', '.join(waiting)}.")] if waiting else []),
    )
    lists = tuple(_list(each) for each in rig.lists)
    blocks: tuple[Block, ...] = (*told, Words(cautions.SMOKE, True), REPATCHING, *lists, *_log(rig, log))
    return Sheet(name="night", title="Night", blocks=blocks)


def _list(each: NightList) -> Words | Table:
    """Its steps; what it changes where it has none."""
    if not each.steps:
        moves = recovery.in_short(each.moves or ())
        return Words(f"{each.title}. {moves or 'There is nothing to do'}.")
    return Table(
        name="lists",
        part=("list", each.title),
        heading=f"{each.title}: {each.ticked} of {len(each.steps)} done",
        heads=("step", "where", "what to do", "goes silent", DONE),
        right=frozenset({"step"}),
        written=frozenset({DONE}),
        rows=tuple(
            (f"{n}", step.where or NOTHING, step.words, step.quiet or NOTHING, "yes" if step.done else "")
            for n, step in enumerate(each.steps, 1)
        ),
    )


def _log(rig: Rig, log: Sequence[Event]) -> Iterator[Table]:
    rows = tuple(
        (
            event.time.replace("T", " "),
            event.by or NOTHING,
            event.event,
            _where(rig, event) or NOTHING,
            event.words or NOTHING,
        )
        for event in told(log)
    )
    if rows:
        yield Table(
            name="log", heading="Night log", heads=("time", "by", "what", "at", "in words"), rows=rows
        )


def told(log: Sequence[Event]) -> list[Event]:
    """The events for people: that a console took another's report over says nothing that the report doesn't."""
    return [event for event in log if not event.answers]


def in_a_line(rig: Rig, event: Event) -> str:
    """An event as one line: when, by whom, what, and of what."""
    who = f" {event.by}" if event.by else ""
    named = all(name in event.words for name in _places(rig, event))
    what = event.words if named else ": ".join(part for part in (_where(rig, event), event.words) if part)
    said = f"{event.event}: "
    what = what[len(said) :] if what.casefold().startswith(said) else what
    return f"{event.time.replace('T', ' ')}{who}  {event.event}: {what}"


def _where(rig: Rig, event: Event) -> str:
    """What it happened to, as a person names it."""
    return ", ".join(_places(rig, event))


def _places(rig: Rig, event: Event) -> list[str]:
    return [recovery.in_words(rig, name) for name in event.place.split(", ")]
