"""What is done in the night: marked failed, planned for, repaired, kept as it is, ticked, heard; each an edit of the rig.

The return is `return_plan`'s. Holds no order of steps and no search.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence

from msgspec.structs import replace

from rackwright.engine.assess import assess
from rackwright.engine.recovery import known_good, sequence
from rackwright.engine.recovery.failure import baseline, fail, failed, named, repaired
from rackwright.engine.recovery.night_state import exchanged, free, lists_for, with_night
from rackwright.engine.recovery.rewiring import apply, difference
from rackwright.model import rules
from rackwright.model.edits import EditError
from rackwright.model.index import Index
from rackwright.model.night import Failure, NightList, Rewiring, Step
from rackwright.model.rig import Rig
from rackwright.units.wording import few, listed

MOST_NAMED = 3
"""Of what failed, in the name of a list."""


def mark(rig: Rig, names: Iterable[str], when: str = "") -> Rig:
    """The rig with those marked failed, and since when. Raises EditError where there is no such thing, or it can't fail so.

    What is heard now has led there: which loads it shows to be good is noted with the failure.
    """
    names = tuple(names)
    after = fail(rig, names)
    fresh = [name for name in failed(after) if name not in failed(rig)]
    good = known_good.by_answers(assess(rig), rig.heard) if rig.heard else ()
    new = [Failure(what=name, when=when, good=good) for name in fresh] if when or good else []
    return with_night(after, baseline(rig), rig.lists, failures=(*rig.failures.values(), *new))


def take(rig: Rig, names: Sequence[str], moves: Sequence[Rewiring], title: str, when: str = "") -> Rig:
    """The rig after a plan for those that failed, with its list. Raises EditError where the plan no longer fits."""
    after = apply(rig, moves)
    then = assess(rig)
    steps = sequence.steps(then, assess(after, then), moves, names)
    label = f"{few(named(rig, names), MOST_NAMED)}: {title[:1].lower()}{title[1:]}"
    new = NightList(
        id=free(rig), title=label, failed=tuple(names), when=when, moves=tuple(moves), steps=steps
    )
    return with_night(after, baseline(rig), (*rig.lists, new))


def repair(rig: Rig, names: Sequence[str]) -> Rig:
    """Those repaired, as `failed` names them. What has a list waits for its return, and is silent until then; the rest works at once."""
    waiting = {name for each in rig.lists if not each.returns for name in each.failed if name in names}
    lists = tuple(
        each
        if each.returns
        else replace(each, repaired=tuple(n for n in each.failed if n in names or n in each.repaired))
        for each in rig.lists
    )
    works = [name for name in names if name not in waiting]
    before = baseline(rig)
    return with_night(repaired(rig, works) if works else rig, before, lists)


def keep(rig: Rig, names: Sequence[str], when: str = "") -> Rig:
    """The rig with those working and their plans kept as they are: they belong to the baseline from now on.

    Raises EditError where a plan was made on top of others, or is for more than those.
    """
    mine = [
        each for each in lists_for(repair(rig, names), names) if {*each.failed} <= {*names, *each.repaired}
    ]
    others = [
        each
        for each in rig.lists
        if not each.returns
        and {*each.failed} & {*names}
        and {*each.failed} - {*names}
        and each.id not in {m.id for m in mine}
    ]
    if others:
        rest = listed([name for each in others for name in each.failed if name not in names])
        raise EditError(f"That plan is for {rest} too. Keep it once that is repaired, or take the return.")
    before = baseline(rig)
    for each in mine:
        try:
            before = apply(before, each.moves or ())
        except EditError:
            raise EditError(
                f'"{each.title}" was made on top of another plan. Keep or return that first.'
            ) from None
    working = [name for name in names if name in failed(rig)]
    after = repaired(rig, working)
    then = assess(rig)
    steps = sequence.steps(then, assess(after, then), ())
    left = [each for each in rig.lists if each.id not in {m.id for m in mine}]
    title = f"Kept as it is: {', '.join(named(rig, names))}"
    new = NightList(
        id=free(rig), title=title, failed=tuple(names), when=when, moves=(), steps=steps, returns=True
    )
    return with_night(after, before, (*left, *([new] if steps else [])))


def tick(rig: Rig, name: str, number: int) -> Rig:
    """The rig with that step, counted from 0, ticked, or not where it was. Raises EditError where there is no such list."""
    taken = found(rig, name)
    steps = tuple(
        replace(step, done=not step.done) if i == number else step for i, step in enumerate(taken.steps)
    )
    ticked = replace(taken, steps=steps)
    after = exchanged(rig, taken, *(() if ticked.returns and ticked.done else (ticked,)))
    if taken.returns or steps[number].kind != "check":
        return after
    answered = _answered(after, after.failures, steps[number])
    return with_night(after, baseline(after), after.lists, failures=answered.values())


def _answered(rig: Rig, known: Mapping[str, Failure], step: Step) -> dict[str, Failure]:
    """What is known of failures once a question is answered with no, so that no list asks it again; or is open again."""
    known, pairs = dict(known), Index(rig).line_pairs
    loads = tuple(each for each in step.at if each in pairs)
    for name in [each for each in failed(rig) if each in step.at]:
        was = known.get(name, Failure(what=name))
        good = tuple(each for each in was.good if each not in loads) + (loads if step.done else ())
        known[name] = replace(was, good=good, looked_at=step.done if not loads else was.looked_at)
    return known


def hear(rig: Rig, heard: Mapping[str, str]) -> Rig:
    """The rig with that as what is heard of places, and what tests showed."""
    return with_night(rig, baseline(rig), rig.lists, heard)


def put_away(rig: Rig, name: str) -> Rig:
    """The rig without that list. One that something still hangs on stays. Raises EditError."""
    taken = found(rig, name)
    if not taken.returns and (taken.moves or any(n in failed(rig) for n in taken.failed)):
        raise EditError(f'"{taken.title}" is in force: repair it and take the return, or keep it as it is.')
    return exchanged(rig, taken)


def by_hand(
    rig: Rig, edit: Callable[[Rig], Rig], label: str = "", when: str = "", tonight: bool = False
) -> Rig:
    """The rig after an edit by hand. Unless it is for `tonight` the return keeps it: it is made on the baseline too, where that has
    what it changes.

    Raises EditError, also where the baseline would break a rule with it.
    """
    after = edit(rig)
    if after is rig or not (tonight or rig.night):
        return after
    before, lists = baseline(rig), after.lists
    if tonight:
        moves = difference(rig, after)
        new = NightList(id=free(after), title=f"Tonight: {label}", when=when, moves=moves, steps=())
        return with_night(after, before, (*lists, new))
    try:
        before = edit(before)
    except EditError:
        if any(rules.check_baseline(with_night(after, before, lists))):
            raise
    return with_night(after, before, lists)


def is_rewiring(before: Rig, after: Rig) -> bool:
    """Whether an edit is one of the crew's moves, which may be meant for the night: others correct what is written down."""
    moves = difference(before, after)
    if not moves:
        return False
    try:
        return difference(apply(before, moves), after) == () and _only_moved(before, after)
    except EditError:
        return False


def _only_moved(before: Rig, after: Rig) -> bool:
    things: list[list[str]] = [
        [each.id for table in (r.racks, r.amplifiers(), r.sockets(), r.cabinets, r.feeds) for each in table]
        for r in (before, after)
    ]
    return things[0] == things[1]


def found(rig: Rig, name: str) -> NightList:
    """The list of that id. Raises EditError."""
    for each in rig.lists:
        if each.id == name:
            return each
    raise EditError(f"There is no list {name} any more.")


def with_ticks_of(rig: Rig, now: Rig) -> Rig:
    """A rig of the past with the ticks of now, and what is heard now: what was done stays done.

    What was heard until something was marked failed counts again where that mark is undone.
    """
    ticked = {each.id: each.steps for each in now.lists}
    lists = tuple(
        replace(each, steps=_ticked(each.steps, ticked[each.id])) if each.id in ticked else each
        for each in rig.lists
    )
    if lists != rig.lists:
        rig = replace(rig, night=tuple(replace(night, lists=lists) for night in rig.night))
    answered = _answers_of(rig, now)
    if answered != rig.failures:
        rig = with_night(rig, baseline(rig), rig.lists, failures=answered.values())
    led_to_a_mark = not now.heard and not {*failed(now)} <= {*failed(rig)}
    return rig if led_to_a_mark or rig.heard == now.heard else hear(rig, now.heard)


def _answers_of(rig: Rig, now: Rig) -> dict[str, Failure]:
    """What is known of a rig's failures, with what was answered since, also where a spare stands in for one now."""
    known = {
        name: replace(each, good=same.good, looked_at=same.looked_at)
        if (same := now.failures.get(name)) and same.when == each.when
        else each
        for name, each in rig.failures.items()
    }
    for step in (step for each in now.lists if not each.returns for step in each.steps):
        if step.kind == "check" and step.done:
            known = _answered(rig, known, step)
    return known


def _ticked(then: tuple[Step, ...], now: tuple[Step, ...]) -> tuple[Step, ...]:
    if [step.words for step in then] != [step.words for step in now]:
        return then
    return now
