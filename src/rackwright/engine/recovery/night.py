"""The night: plans taken and their lists, what is repaired, and the return, computed from the rig as it stands.

The baseline is the rig with everything working and nothing changed for the night. A return goes to the baseline with what is
still failed, and with the plans of those failures made on it in the order in which they were taken; one that no longer fits is
searched again. Holds no order of steps and no search.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from msgspec.structs import replace

from rackwright.engine import outage
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.channel import outage_of
from rackwright.engine.findings.registry import listed
from rackwright.engine.recovery import sequence
from rackwright.engine.recovery.criteria import new_stops
from rackwright.engine.recovery.failure import TABLES, baseline, fail, failed, named, place_of, repaired
from rackwright.engine.recovery.planner import recover
from rackwright.engine.recovery.rewiring import apply, difference
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.index import Index
from rackwright.model.rig import Baseline, Night, NightList, Rewiring, Rig, Step

# --- what there is ------------------------------------------------------------------------------------


def planned(rig: Rig) -> tuple[str, ...]:
    """What is marked failed and has a list, as `fail` takes it."""
    return tuple(name for name in failed(rig) if lists_for(rig, (name,)))


def unplanned(rig: Rig) -> tuple[str, ...]:
    """What is marked failed and has no list yet."""
    known = planned(rig)
    return tuple(name for name in failed(rig) if name not in known)


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


def pending(rig: Rig) -> tuple[str, ...]:
    """What is repaired and not returned yet."""
    return tuple(name for each in rig.lists for name in each.repaired)


def under_way(rig: Rig) -> bool:
    """Whether something is failed, or changed for the night."""
    return bool(failed(rig)) or any(night.lists or night.baseline != Baseline() for night in rig.night)


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


# --- what is done -------------------------------------------------------------------------------------


def mark(rig: Rig, names: Iterable[str]) -> Rig:
    """The rig with those marked failed. Raises EditError where there is no such thing, or it can't fail so."""
    return _with(fail(rig, names), baseline(rig), rig.lists)


def take(rig: Rig, names: Sequence[str], moves: Sequence[Rewiring], title: str, when: str = "") -> Rig:
    """The rig after a plan for those that failed, with its list. Raises EditError where the plan no longer fits."""
    after = apply(rig, moves)
    steps = sequence.steps(assess(rig), assess(after), moves, names)
    label = f"{', '.join(named(rig, names))}: {title[:1].lower()}{title[1:]}"
    new = NightList(
        id=_free(rig), title=label, failed=tuple(names), when=when, moves=tuple(moves), steps=steps
    )
    return _with(after, baseline(rig), (*rig.lists, new))


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
    return _with(repaired(rig, works) if works else rig, before, lists)


def go_back(rig: Rig, when: str = "") -> Rig:
    """The rig after the return of all that is repaired, with its list. Raises EditError where there is nothing to return."""
    if not to_return(rig):
        raise EditError("Nothing is repaired: there is nothing to return.")
    names = pending(rig)
    before = baseline(rig)
    target, kept = _target(rig, before)
    steps = sequence.steps(assess(rig), assess(target), (*difference(rig, target), *_spares_out(rig, kept)))
    titles = ", ".join(named(rig, names)) or "what was changed by hand"
    back = NightList(
        id=_free(rig), title=f"Return: {titles}", failed=names, when=when, moves=(), steps=steps, returns=True
    )
    return _with(target, before, (*_returns(rig), *kept, *([back] if steps else [])), rig.heard)


def _spares_out(rig: Rig, kept: Iterable[NightList]) -> Iterator[Rewiring]:
    """The amplifiers that come back for spares of their own model, which no difference of two rigs shows."""
    left = {each.id for each in kept}
    for each in rig.lists:
        for move in each.moves or ():
            if move.kind == "amplifier" and move.old == move.new and each.id not in left:
                yield replace(move, by="", frees=move.by)


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
    steps = sequence.steps(assess(rig), assess(after), ())
    left = [each for each in rig.lists if each.id not in {m.id for m in mine}]
    title = f"Kept as it is: {', '.join(named(rig, names))}"
    new = NightList(
        id=_free(rig), title=title, failed=tuple(names), when=when, moves=(), steps=steps, returns=True
    )
    return _with(after, before, (*left, *([new] if steps else [])))


def tick(rig: Rig, name: str, number: int) -> Rig:
    """The rig with that step, counted from 0, ticked, or not where it was. Raises EditError where there is no such list."""
    taken = found(rig, name)
    steps = tuple(
        replace(step, done=not step.done) if i == number else step for i, step in enumerate(taken.steps)
    )
    ticked = replace(taken, steps=steps)
    return _exchanged(rig, taken, *(() if ticked.returns and ticked.done else (ticked,)))


def hear(rig: Rig, heard: Mapping[str, str]) -> Rig:
    """The rig with that as what is heard of places, and what tests showed."""
    return _with(rig, baseline(rig), rig.lists, heard)


def put_away(rig: Rig, name: str) -> Rig:
    """The rig without that list. One that something still hangs on stays. Raises EditError."""
    taken = found(rig, name)
    if not taken.returns and (taken.moves or any(n in failed(rig) for n in taken.failed)):
        raise EditError(f'"{taken.title}" is in force: repair it and take the return, or keep it as it is.')
    return _exchanged(rig, taken)


def by_hand(before: Rig, after: Rig, for_good: Rig | None, label: str = "", when: str = "") -> Rig:
    """The rig after an edit by hand: `for_good` is the baseline with the same edit made, None where it is for the night only."""
    lists = after.lists
    if for_good is None:
        moves = difference(before, after)
        new = NightList(id=_free(after), title=f"Tonight: {label}", when=when, moves=moves, steps=())
        lists = (*lists, new)
    return _with(after, for_good or baseline(before), lists)


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
    """A rig of the past with the ticks of now, and what is heard now: what was done stays done."""
    ticked = {each.id: each.steps for each in now.lists}
    lists = tuple(
        replace(each, steps=_ticked(each.steps, ticked[each.id])) if each.id in ticked else each
        for each in rig.lists
    )
    if lists != rig.lists:
        rig = replace(rig, night=tuple(replace(night, lists=lists) for night in rig.night))
    return rig if rig.heard == now.heard else hear(rig, now.heard)


def _ticked(then: tuple[Step, ...], now: tuple[Step, ...]) -> tuple[Step, ...]:
    if [step.words for step in then] != [step.words for step in now]:
        return then
    return now


class Happening(NamedTuple):
    """What the night log notes."""

    event: str
    place: str = ""
    words: str = ""


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
            event = "return" if each.returns else "plan" if each.failed else "changed for the night"
            yield Happening(event, ", ".join(each.failed), each.title)
            continue
        yield from (Happening("repaired", place) for place in each.repaired if place not in old.repaired)
        yield from _ticks(old, each)
    for name, each in known.items():
        if name not in left:
            if each.returns and each.ticked == len(each.steps) - 1:
                yield Happening("done", each.steps[each.following].where, each.steps[each.following].words)
            yield Happening("list closed", ", ".join(each.failed), each.title)
    yield from (Happening("working", name) for name in was if name not in now)


def _ticks(old: NightList, new: NightList) -> Iterator[Happening]:
    for was, step in zip(old.steps, new.steps, strict=False):
        if step.done != was.done:
            yield Happening("done" if step.done else "not done", step.where, step.words)


class Report(NamedTuple):
    """What a console that has no control ticked or heard, for the one that has it to make it so."""

    event: str
    place: str
    words: str
    list: str = ""
    """The list that a step is of."""
    step: int = 0
    """Which, from 0."""


def reports(before: Rig, after: Rig) -> Iterator[Report]:
    """What was ticked and heard between the two."""
    left = {each.id: each for each in after.lists}
    for each in before.lists:
        now = left[each.id].steps if each.id in left else [replace(step, done=True) for step in each.steps]
        for number, (was, step) in enumerate(zip(each.steps, now, strict=False)):
            if was.done != step.done:
                yield Report("done" if step.done else "not done", was.where, was.words, each.id, number)
    for place in {**before.heard, **after.heard}:
        if (said := after.heard.get(place)) != before.heard.get(place):
            yield Report("heard" if said else "taken back", place, said or "")


def with_report(rig: Rig, report: Report) -> Rig:
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


# --- how the night is kept ----------------------------------------------------------------------------


def _with(rig: Rig, before: Rig, lists: Iterable[NightList], heard: Mapping[str, str] | None = None) -> Rig:
    """The rig with that baseline, those lists and what is heard, where None as it is; with nothing of it there is no night."""
    lists, heard = tuple(lists), dict(rig.heard if heard is None else heard)
    working = repaired(rig)
    tables: dict[str, Any] = {
        name: getattr(before, name) for name in TABLES if getattr(before, name) != getattr(working, name)
    }
    if not lists and not failed(rig) and not difference(working, before):
        rig, tables = before, {}
    if not tables and not lists and not heard:
        return replace(rig, night=())
    return replace(rig, night=(Night(baseline=Baseline(**tables), lists=lists, heard=heard),))


def _exchanged(rig: Rig, old: NightList, *new: NightList) -> Rig:
    kept = ((each,) if each is not old else new for each in rig.lists)
    return _with(rig, baseline(rig), (each for group in kept for each in group))


def _free(rig: Rig) -> str:
    taken = {each.id for each in rig.lists}
    return next(name for i in range(1, len(taken) + 2) if (name := str(i)) not in taken)


def _returns(rig: Rig) -> tuple[NightList, ...]:
    return tuple(each for each in rig.lists if each.returns and not each.done)


# --- where a return leads -----------------------------------------------------------------------------


def _target(rig: Rig, before: Rig) -> tuple[Rig, tuple[NightList, ...]]:
    """The baseline with what is still failed and the plans of that, and those plans as lists."""
    mended = set(pending(rig))
    open_ = [(each, [n for n in each.failed if n not in mended]) for each in rig.lists if not each.returns]
    fresh = [name for name in unplanned(rig) if name not in mended]
    if not fresh and not any(names for each, names in open_ if each.failed):
        return before, ()
    target, kept = before, []
    for each, names in open_:
        if each.failed and not names:
            continue
        target, made = _replayed(target, each, _known(target, names))
        kept.append(made)
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


def _replayed(rig: Rig, taken: NightList, names: list[str]) -> tuple[Rig, NightList]:
    """A plan made anew on a rig, for those of its failures that are open; searched for where it no longer fits."""
    broken = fail(rig, names)
    whole = taken.moves is not None and len(names) == len(taken.failed)
    if whole:
        try:
            after = apply(broken, taken.moves or ())
            edits.refuse_new_breach(broken, after)
        except EditError:
            pass
        else:
            if _fits(broken, after):
                return after, replace(taken, repaired=())
    if not taken.failed:
        return broken, replace(taken, moves=())
    best = recover(broken, planned=failed(rig), proof=False).best
    return best.rig, replace(
        taken,
        failed=tuple(names),
        repaired=(),
        moves=best.moves,
        steps=(),
        title=f"{listed(names)}: searched again",
    )


def _fits(broken: Rig, after: Rig) -> bool:
    """Whether a plan brings no stop that was not there, and silences nothing that played."""
    then = assess(broken)
    now = assess(after, then)
    return not any(new_stops(then, now)) and not _silenced(then, now)


def _silenced(then: Assessed, now: Assessed) -> bool:
    return sum(s.channel is None for s in now.sections.values()) > sum(
        s.channel is None for s in then.sections.values()
    )
