"""How a night is kept in the rig: what is failed, what waits for its return, which lists there are, and the one way to write it.

Makes no plan and no step.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from msgspec.structs import replace

from rackwright.engine import outage
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.channel import outage_of
from rackwright.engine.recovery.failure import TABLES, baseline, fail, failed, place_of, repaired
from rackwright.engine.recovery.rewiring import difference
from rackwright.model.index import Index
from rackwright.model.night import Baseline, Failure, Night, NightList
from rackwright.model.readings import of_lines
from rackwright.model.rig import Rig

# --- what there is ------------------------------------------------------------------------------------


def planned(rig: Rig) -> tuple[str, ...]:
    """What is marked failed and has a list, as `fail` takes it."""
    return tuple(name for name in failed(rig) if lists_for(rig, (name,)))


def unplanned(rig: Rig) -> tuple[str, ...]:
    """What is marked failed and has no list yet, the latest first."""
    known, order = planned(rig), [*rig.failures]
    fresh = [name for name in failed(rig) if name not in known]
    return tuple(sorted(fresh, key=lambda name: -order.index(name) if name in order else 1))


def to_plan_for(now: Assessed) -> tuple[str, ...]:
    """What is marked failed and has no list yet, but for that on which nothing hangs: no plan speaks of it, and no return waits for it."""
    rig = repaired(now.index.rig, index=now.index)
    working = assess(rig, now)
    names = unplanned(now.index.rig)
    return tuple(
        [n for n in names if _silent(assess(fail(rig, [n], working.index), working)) > _silent(working)]
    )


def _silent(now: Assessed) -> int:
    return sum(section.channel is None for section in now.sections.values())


def left_silent(now: Assessed) -> tuple[str, ...]:
    """What is marked failed and not repaired, and has a list that leaves something silent which plays once it works."""
    found, marked = dict[str, None](), failed(now.index.rig)
    for each in now.index.rig.lists:
        names = [name for name in each.failed if name in marked and name not in each.repaired]
        if names and not each.returns and silent_for(now, names):
            found |= dict.fromkeys(names)
    return tuple(found)


def silent_for(now: Assessed, names: Sequence[str]) -> int:
    """How many sections are silent that play once those work."""
    then = assess(repaired(now.index.rig, names, now.index), now).sections
    return sum(each.channel is None and then[name].channel is not None for name, each in now.sections.items())


def lists_for(rig: Rig, names: Iterable[str]) -> tuple[NightList, ...]:
    """The plans taken for any of those that failed: one that a spare stands in for fails anew, and has none."""
    wanted = set(names)
    return tuple(
        each
        for each in rig.lists
        if not each.returns and any(_left_failed(rig, each, name) for name in wanted & {*each.failed})
    )


def _left_failed(rig: Rig, taken: NightList, name: str) -> bool:
    """Whether a plan leaves that failed: it does unless a spare amplifier stands in."""
    replaced = {move.at for move in taken.moves or () if move.kind == "amplifier"}
    index = Index(rig)
    return index.thing_at(place_of(index, name)) not in replaced


def stood_in_for(rig: Rig, place: str = "") -> tuple[str, ...]:
    """What failed where a spare stands in now, at that place or anywhere: no longer marked failed, it comes back with its return."""
    before, marked = Index(baseline(rig)), failed(rig)
    found: dict[str, None] = {}
    for each in rig.lists:
        for move in () if each.returns else each.moves or ():
            line = before.line_to.get(move.at)
            at, was = (move.line.id, line and line.id) if move.line else (move.at, move.at)
            if not move.by or move.kind not in ("amplifier", "line"):
                continue
            gone = {
                name: place_of(before, name) for name in each.failed if name not in (*marked, *each.repaired)
            }
            found |= dict.fromkeys(
                name for name, own in gone.items() if before.thing_at(own) == was and place in ("", at, own)
            )
    return tuple(found)


def pending(rig: Rig) -> tuple[str, ...]:
    """What is repaired and not returned yet."""
    return tuple(name for each in rig.lists for name in each.repaired)


def under_way(rig: Rig) -> bool:
    """Whether something is failed, or changed for the night; a list that leaves the rig as it is changes nothing."""
    plans = any(not each.returns or each.failed for each in rig.lists)
    return bool(failed(rig)) or plans or any(night.baseline != Baseline() for night in rig.night)


def is_partial(now: Assessed) -> bool:
    """Whether something is silent that would sound with everything working and plugged in, a section that is blown and taken off too."""
    silent = (section for section in now.sections.values() if section.channel is None)
    cabinets = now.index.cabinets
    return any(
        outage_of(now.index, now.branches, section)
        or outage.fault(cabinets[section.cabinet], section.section)
        for section in silent
    )


def to_return(rig: Rig) -> bool:
    """Whether a return would change something: something is repaired, or nothing is failed and the rig is not as it was."""
    if pending(rig):
        return True
    in_force = failed(rig) or any(each.failed for each in rig.lists if not each.returns)
    return bool(rig.night) and not in_force and _changed(rig)


def _changed(rig: Rig) -> bool:
    return replace(rig, night=()) != baseline(rig)


def open_before(rig: Rig, taken: NightList) -> tuple[NightList, ...]:
    """The lists for failures that were taken before a list and are not done: it begins where they end."""
    earlier = rig.lists[: rig.lists.index(taken)] if taken.failed else ()
    return tuple(each for each in earlier if each.failed and not each.done)


def begun(rig: Rig, taken: NightList) -> str:
    """When what a list is for failed, else when the list was taken."""
    known = [rig.failures[name].when for name in taken.failed if name in rig.failures]
    return min(filter(None, known), default=taken.when)


# --- how the night is kept ----------------------------------------------------------------------------


def with_night(
    rig: Rig,
    before: Rig,
    lists: Iterable[NightList],
    heard: Mapping[str, str] | None = None,
    failures: Iterable[Failure] | None = None,
) -> Rig:
    """The rig with that baseline, those lists, and what is heard and known of failures, where None as it is; with nothing of it
    there is no night."""
    lists, heard = tuple(lists), dict(rig.heard if heard is None else heard)
    working, marked = repaired(rig), failed(rig)
    known = tuple(
        each for each in (rig.failures.values() if failures is None else failures) if each.what in marked
    )
    tables: dict[str, Any] = {
        name: getattr(before, name) for name in TABLES if getattr(before, name) != getattr(working, name)
    }
    if not lists and not marked and not difference(working, before):
        rig, tables = before, {}
    if (readings := of_lines(rig.readings, rig.lines, before.lines)) != rig.readings:
        rig = replace(rig, readings=readings)
    if not tables and not lists and not heard and not known:
        return replace(rig, night=())
    night = Night(baseline=Baseline(**tables), failures=known, lists=lists, heard=heard)
    return replace(rig, night=(night,))


def exchanged(rig: Rig, old: NightList, *new: NightList) -> Rig:
    """The rig with other lists in place of one."""
    kept = ((each,) if each is not old else new for each in rig.lists)
    return with_night(rig, baseline(rig), (each for group in kept for each in group))


def free(rig: Rig) -> str:
    """An id that no list has."""
    taken = {each.id for each in rig.lists}
    return next(name for i in range(1, len(taken) + 2) if (name := str(i)) not in taken)


def open_returns(rig: Rig) -> tuple[NightList, ...]:
    """The returns that are not ticked off."""
    return tuple(each for each in rig.lists if each.returns and not each.done)
