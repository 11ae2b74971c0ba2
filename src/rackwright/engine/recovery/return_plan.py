"""The return, computed from the rig as it stands: to the baseline with what is still failed, and with the plans of that.

Those plans are made on it in the order in which they were taken; one that no longer fits is searched again. Holds no order of
steps and no search.
"""

from collections.abc import Iterable, Iterator, Sequence

from msgspec.structs import replace

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.recovery import criteria, sequence, wording
from rackwright.engine.recovery.criteria import new_stops
from rackwright.engine.recovery.failure import baseline, fail, failed, named, place_of
from rackwright.engine.recovery.night import repair
from rackwright.engine.recovery.night_state import (
    free,
    open_returns,
    pending,
    to_return,
    unplanned,
    with_night,
)
from rackwright.engine.recovery.planner import meant, planned_for
from rackwright.engine.recovery.rewiring import apply, difference
from rackwright.engine.recovery.task import Task
from rackwright.engine.recovery.transition import Transition
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.night import NightList, Rewiring
from rackwright.model.rig import Rig
from rackwright.units.wording import listed


def go_back(rig: Rig, when: str = "") -> Rig:
    """The rig after the return of all that is repaired, with its list. Raises EditError where there is nothing to return."""
    if not to_return(rig):
        raise EditError("Nothing is repaired: there is nothing to return.")
    names = pending(rig)
    before, now = baseline(rig), assess(rig)
    target, kept = _target(now, before)
    change = Transition(now, assess(target, now), tried=[place_of(now.index, name) for name in names])
    steps = sequence.steps_of(change, (*difference(rig, target), *_spares_out(rig, kept)))
    titles = ", ".join(named(rig, names)) or "what was changed by hand"
    back = NightList(
        id=free(rig), title=f"Return: {titles}", failed=names, when=when, moves=(), steps=steps, returns=True
    )
    return with_night(
        target,
        before,
        (*open_returns(rig), *kept, *([back] if steps else [])),
        rig.heard,
        rig.failures.values(),
    )


def silenced_by_return(rig: Rig, names: Sequence[str]) -> str:
    """What goes silent that plays once those are repaired and all is returned, in a sentence; empty where nothing does.

    Raises EditError where there is nothing to return.
    """
    lists = go_back(repair(rig, names)).lists
    steps = [step for each in lists[-1:] if each.returns for step in each.steps if step.silent]
    if not steps:
        return ""
    count, longest = sum(step.silent for step in steps), max(step.silent_for for step in steps)
    long = f", for up to {wording.length(longest)}" if longest else ""
    return f"The return silences {count} section{'' if count == 1 else 's'} that play{'s' if count == 1 else ''}{long}: take it {wording.gap(longest)}."


def _spares_out(rig: Rig, kept: Iterable[NightList]) -> Iterator[Rewiring]:
    """The amplifiers that come back for spares of their own model, which no difference of two rigs shows."""
    left = {each.id for each in kept}
    for each in rig.lists:
        for move in each.moves or ():
            if move.kind == "amplifier" and move.old == move.new and each.id not in left:
                yield replace(move, by="", frees=move.by)


# --- where a return leads -----------------------------------------------------------------------------


def _target(now: Assessed, before: Rig) -> tuple[Rig, tuple[NightList, ...]]:
    """The baseline with what is still failed and the plans of that, and those plans as lists."""
    rig = now.index.rig
    works_again = set(pending(rig))
    open_ = [
        (each, [n for n in each.failed if n not in works_again]) for each in rig.lists if not each.returns
    ]
    fresh = [name for name in unplanned(rig) if name not in works_again]
    if not fresh and not any(names for each, names in open_ if each.failed):
        return before, ()
    then, target, kept = assess(meant(rig), now), before, []
    searched: set[str] = set()
    for each, names in open_:
        if each.failed and {*names} <= searched:  # planned for anew, for all of its lists at once
            continue
        target, made = _replayed(now, then, target, each, _known(target, names))
        kept.append(made)
        searched |= {*names} if made.moves != each.moves else set()
    return fail(target, _known(target, fresh)), tuple(kept)


def _known(rig: Rig, names: Iterable[str]) -> list[str]:
    """Those that the rig still has."""
    there = []
    for name in names:
        try:
            fail(rig, [name])
        except EditError:
            continue
        there.append(name)
    return there


def _replayed(
    now: Assessed, then: Assessed, rig: Rig, taken: NightList, names: list[str]
) -> tuple[Rig, NightList]:
    """A plan made anew on a rig, for those of its failures that are open; searched for where it no longer fits.

    `then` is the rig before the night; `now` only saves time.
    """
    broken = fail(rig, names)
    task = Task(then, assess(broken, now), failed(rig))
    whole = taken.moves is not None and len(names) == len(taken.failed)
    if whole:
        try:
            after = apply(broken, taken.moves or ())
            edits.refuse_new_breach(broken, after)
        except EditError:
            pass
        else:
            if _fits(task, after, bool(taken.failed)):
                return after, replace(taken, repaired=())
    if not taken.failed:
        return broken, replace(taken, moves=())
    best = planned_for(task, proof=False).best
    return best.rig, replace(
        taken,
        failed=tuple(names),
        repaired=(),
        moves=best.moves,
        steps=(),
        title=f"{listed(names)}: searched again",
    )


def _fits(task: Task, after: Rig, searched: bool) -> bool:
    """Whether a plan brings nothing that no plan may, and silences nothing that played but to even the sides; of one that was made by
    hand only a new stop counts."""
    then, now = task.broken, assess(after, task.broken)
    if any(new_stops(then, now)) or (searched and criteria.louder(task, now)):
        return False
    silent = [sum(s.channel is None for s in each.sections.values()) for each in (then, now)]
    return silent[1] <= silent[0] or criteria.balance(task, now) < criteria.balance(task, then)
