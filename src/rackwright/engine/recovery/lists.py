"""A plan taken: the rig after it with its checklist, the ticks on that, and the return once all is repaired.

What a plan changed is kept with the rig, as it was and as it is now, so that the return plan outlives a crash and a save.
Holds no search and no wording of steps.
"""

from collections.abc import Callable, Iterable, Iterator
from typing import Any

from msgspec.structs import fields, replace

from rackwright.engine.findings.registry import listed
from rackwright.engine.recovery.failure import failed, named, repaired, states
from rackwright.engine.recovery.moves import Swap, apply, swapped
from rackwright.engine.recovery.plan import Plan
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.rig import Checklist, Line, Parts, Rig, State


def planned(rig: Rig) -> tuple[str, ...]:
    """The circuits and channels that are marked failed and that a plan was taken for."""
    return tuple(name for name in failed(rig) if lists_for(rig, (name,)))


def lists_for(rig: Rig, names: Iterable[str]) -> tuple[Checklist, ...]:
    """The lists with a return plan that any of those is left failed by: one that a spare stands in for fails anew."""
    wanted = set(names)
    return tuple(
        checklist
        for checklist in rig.checklists
        if checklist.way_back
        and any(
            name in wanted and _after(checklist).get(name, "failed") == "failed" for name in checklist.failed
        )
    )


def _after(checklist: Checklist) -> dict[str, State]:
    """The states that a plan left."""
    return states(checklist.after.circuits, checklist.after.amplifiers)


def unplanned(rig: Rig) -> tuple[str, ...]:
    """The circuits and channels that are marked failed and that no plan was taken for yet."""
    known = planned(rig)
    return tuple(name for name in failed(rig) if name not in known)


def take(plan: Plan, when: str = "") -> Rig:
    """The rig after the plan, with its checklist; `when` is the moment, as a reading carries it."""
    rig = plan.rig
    was = apply(rig, plan.back)
    before, after = _differing(was, rig)
    checklist = Checklist(
        id=_free(rig),
        title=f"{', '.join(named(was, plan.failed))}: {plan.title[:1].lower()}{plan.title[1:]}",
        failed=plan.failed,
        when=when,
        steps=plan.checklist,
        way_back=plan.way_back,
        before=before,
        after=after,
    )
    return replace(rig, checklists=(*rig.checklists, checklist))


def go_back(rig: Rig, name: str) -> Rig:
    """The rig with what that checklist's plan changed as it was, all of it working, and the return plan as its list.

    Raises EditError where there is no such checklist, or where this is not the return from how the rig is now: what
    the plan changed has been changed since, or what it brought back has failed again.
    """
    checklist = found(rig, name)
    if not checklist.way_back:
        raise EditError(f'"{checklist.title}" has no return plan: there is nothing to undo.')
    now, after = failed(rig), _after(checklist)
    if again := [
        each
        for each in now
        if any(each == n or each.startswith(f"{n}.") for n in checklist.failed if after.get(n) == "ok")
    ]:
        names = named(rig, again)
        raise EditError(f"{listed(names)} failed again after this plan was taken. {_first(rig, checklist)}")
    try:
        restored = _restored(rig, checklist)
    except EditError as error:
        wrong = str(error).partition(" Mark the failure again")[0]
        raise EditError(f"{wrong} {_first(rig, checklist)}") from None
    back = Checklist(
        id=checklist.id,
        title=f"Return: {checklist.title}",
        failed=checklist.failed,
        when=checklist.when,
        steps=checklist.way_back,
    )
    return _exchanged(restored, checklist, back)


def _first(rig: Rig, checklist: Checklist) -> str:
    """What comes before a return that can't be taken: that of the last later list that changed the same things."""
    mine = _changed(checklist)
    later = rig.checklists[rig.checklists.index(checklist) + 1 :]
    over = [other for other in later if other.way_back and mine & _changed(other)]
    if over:
        return f'Take the return of the later list "{over[-1].title}" first, once that is repaired.'
    return "Undo that first, or remove the list and patch it by hand."


def _changed(checklist: Checklist) -> set[str]:
    """The ids of what a plan changed."""
    parts = (checklist.before, checklist.after)
    return {item.id for each in parts for field in fields(Parts) for item in getattr(each, field.name)}


def _restored(rig: Rig, checklist: Checklist) -> Rig:
    """The rig with what the plan changed as it was; it may refer to what has been removed since. Raises EditError."""
    restored = rig
    for swap in _swaps(checklist.after, checklist.before):
        restored = swapped(restored, swap)
    edits.refuse_new_breach(rig, restored)
    return repaired(restored, [name for name in checklist.failed if name in failed(restored)])


def tick(rig: Rig, name: str, number: int) -> Rig:
    """The rig with that step, counted from 0, ticked, or not where it was. Raises EditError."""
    checklist = found(rig, name)
    steps = tuple(
        replace(step, done=not step.done) if i == number else step for i, step in enumerate(checklist.steps)
    )
    return _exchanged(rig, checklist, replace(checklist, steps=steps))


def put_away(rig: Rig, name: str) -> Rig:
    """The rig without that checklist. Raises EditError."""
    return _exchanged(rig, found(rig, name))


def found(rig: Rig, name: str) -> Checklist:
    """The checklist of that id. Raises EditError."""
    for checklist in rig.checklists:
        if checklist.id == name:
            return checklist
    raise EditError(f"There is no list {name} any more.")


def _exchanged(rig: Rig, old: Checklist, *new: Checklist) -> Rig:
    kept = [(checklist,) if checklist is not old else new for checklist in rig.checklists]
    return replace(rig, checklists=tuple(checklist for each in kept for checklist in each))


def _free(rig: Rig) -> str:
    taken = {checklist.id for checklist in rig.checklists}
    return next(name for i in range(1, len(taken) + 2) if (name := str(i)) not in taken)


_TABLES: dict[str, Callable[[Rig], Iterable[Any]]] = {
    "circuits": lambda rig: rig.circuits,
    "amplifiers": Rig.amplifiers,
    "sockets": Rig.sockets,
    "lines": lambda rig: rig.lines,
    "cabinets": lambda rig: rig.cabinets,
    "spares": lambda rig: rig.spares,
}
"""Table of `Parts` → where a rig has it."""


def _differing(*rigs: Rig) -> Iterator[Parts]:
    """Of two rigs what is not alike in both, for each of them."""
    both = {name: [{item.id: item for item in table(rig)} for rig in rigs] for name, table in _TABLES.items()}
    for mine, other in ((0, 1), (1, 0)):
        yield Parts(
            **{
                name: tuple(item for id_, item in tables[mine].items() if tables[other].get(id_) != item)
                for name, tables in both.items()
            }
        )


def _swaps(old: Parts, new: Parts) -> Iterator[Swap]:
    """What is exchanged to get from one to the other: by id, and a line that came for another to the same cabinet."""
    for field in fields(Parts):
        was, will = ({item.id: item for item in getattr(parts, field.name)} for parts in (old, new))
        came = {line.to: line for name, line in will.items() if name not in was and isinstance(line, Line)}
        for name, item in was.items():
            after = will.pop(name, None)
            if after is None and isinstance(item, Line) and item.to in came:
                after = came.pop(item.to)
                del will[after.id]
            yield Swap(item, after)
        yield from (Swap(None, item) for item in will.values())
