"""What of a night an edit changed, as the night log notes it, and what a console without control reports to the one that has it.

Writes nothing down.
"""

from collections.abc import Iterator
from typing import NamedTuple

from msgspec.structs import replace

from rackwright.engine.recovery.failure import failed
from rackwright.engine.recovery.night import hear, tick
from rackwright.engine.recovery.night_state import stood_in_for
from rackwright.model.night import NightList
from rackwright.model.rig import Rig


class Happening(NamedTuple):
    """What the night log notes, by itself or as the report of a console that has no control."""

    event: str
    place: str = ""
    words: str = ""
    list: str = ""
    """The list that a step is of."""
    step: int = 0
    """Which, from 0."""
    takes: str = ""
    """Which of the crew's times it is made of, by its name in `MoveTimes`."""


def happened(before: Rig, after: Rig) -> Iterator[Happening]:
    """What of the night an edit changed, in the order in which it is told."""
    was, now = failed(before), failed(after)
    yield from (Happening("failed", name) for name in now if name not in was)
    said = before.heard
    yield from (
        Happening("heard", place, word) for place, word in after.heard.items() if said.get(place) != word
    )
    known = {each.id: each for each in before.lists}
    left = {each.id: each for each in after.lists}
    for name, each in left.items():
        old = known.get(name)
        if old is None or old.title != each.title:
            alone = "list" if each.returns else "changed for the night"
            planned = "plan" if each.moves or each.steps else "decided"
            event = alone if not each.failed else "return" if each.returns else planned
            yield Happening(event, ", ".join(each.failed), each.title.removeprefix("Return: "))
            continue
        yield from (Happening("repaired", place) for place in each.repaired if place not in old.repaired)
        yield from _ticks(old, each)
    for name, each in known.items():
        if name not in left:
            if each.returns and each.ticked == len(each.steps) - 1:
                yield _ticked(each, each.following)
            yield Happening("list closed", ", ".join(each.failed), each.title)
    yield from _back(before, after)


def _back(before: Rig, after: Rig) -> Iterator[Happening]:
    """What is no longer failed: it works, or a spare stands in; one that a spare stood in for works once that is out again."""
    now = failed(after)
    gone = [name for name in failed(before) if name not in now]
    spares = stood_in_for(after) if after.lists else ()
    yield from (Happening("spare stands in" if name in spares else "working", name) for name in gone)
    if before.lists and after.lists != before.lists:
        out = (name for name in stood_in_for(before) if name not in (*spares, *now))
        yield from (Happening("working", name) for name in out)


def _ticks(old: NightList, new: NightList) -> Iterator[Happening]:
    for number, (was, step) in enumerate(zip(old.steps, new.steps, strict=False)):
        if step.done != was.done:
            yield _ticked(new, number, "done" if step.done else "not done")


def _ticked(taken: NightList, number: int, event: str = "done") -> Happening:
    step = taken.steps[number]
    return Happening(event, step.where, step.words, taken.id, number, step.takes)


def reports(before: Rig, after: Rig) -> Iterator[Happening]:
    """What was ticked and heard between the two, for the console in control to make so: a list that is gone was ticked to its end."""
    left = {each.id: each for each in after.lists}
    for each in before.lists:
        done = replace(each, steps=tuple([replace(step, done=True) for step in each.steps]))
        yield from _ticks(each, left.get(each.id, done))
    for place in {**before.heard, **after.heard}:
        if (said := after.heard.get(place)) != before.heard.get(place):
            yield Happening("heard" if said else "taken back", place, said or "")


def with_report(rig: Rig, report: Happening) -> Rig:
    """The rig with that made so; as it is where it is so already, or there is no such step any more."""
    if report.event in ("heard", "taken back"):
        others = {place: said for place, said in rig.heard.items() if place != report.place}
        heard = others | {report.place: report.words} if report.event == "heard" else others
        return rig if heard == rig.heard else hear(rig, heard)
    taken = next((each for each in rig.lists if each.id == report.list), None)
    if taken is None or not 0 <= report.step < len(taken.steps):
        return rig
    step = taken.steps[report.step]
    is_so = step.words != report.words or step.done == (report.event == "done")
    return rig if is_so else tick(rig, taken.id, report.step)
