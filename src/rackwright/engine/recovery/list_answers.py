"""A question of a list that is answered with yes: it plays again, or it is the load. Then the rest of the list is not done.

The rig is as before the plan, but for what was done of it; a load stays off, marked failed, and what was made safe for the list
comes back by steps of its own. Makes no new plan.
"""

from collections.abc import Iterable, Iterator, Sequence

from msgspec.structs import replace

from rackwright.engine import outage
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.network import Run
from rackwright.engine.recovery import sequence
from rackwright.engine.recovery.failure import baseline, fail, failed, repaired
from rackwright.engine.recovery.night import found
from rackwright.engine.recovery.night_state import with_night
from rackwright.engine.recovery.orders import Orders
from rackwright.engine.recovery.rewiring import apply, difference
from rackwright.engine.recovery.standing import Standing, standing
from rackwright.engine.recovery.transition import Transition
from rackwright.model.edits import EditError
from rackwright.model.index import wired_sections
from rackwright.model.night import Failure, NightList, Rewiring, Step
from rackwright.model.places import LinePair, PolePair
from rackwright.model.rig import Rig
from rackwright.units.wording import listed


def plays_again(rig: Rig, name: str, number: int, when: str = "") -> Rig:
    """The rig once what a step asked for plays again: it works, and the list is gone.

    What hung on a circuit that was reset was switched off first: it comes back by a list of its own. Raises EditError where another
    plan rests on it.
    """
    taken, before = found(rig, name), _before(rig, name)
    works = [each for each in taken.steps[number].at if each in failed(before)]
    lists = [each for each in rig.lists if each is not taken]
    after = repaired(before, works)
    done = [step for step in taken.steps if step.done]
    then = assess(before)
    off = [why.at for a in then.index.amplifiers.values() if (why := outage.of_power(then.index, a))]
    if {*off} & {*works} and (back := tuple(_brought_back(then, assess(after, then), done))):
        title = f"Return: {listed(works)}"
        lists.append(
            replace(taken, title=title, failed=tuple(works), when=when, moves=(), steps=back, returns=True)
        )
    return with_night(after, baseline(rig), lists)


def loads_asked(rig: Rig, name: str, number: int) -> dict[str, dict[str, tuple[str, ...]]]:
    """Channel that a step asked about → load that was taken off it → its sections; nothing of a question that is of no load.

    Raises EditError.
    """
    asked: dict[str, dict[str, tuple[str, ...]]] = {}
    then = assess(_before(rig, name))
    for load, (channel, run) in _taken_off(then, found(rig, name).steps[number]).items():
        asked.setdefault(channel, {})[load] = tuple(_sections(then, run))
    return asked


def is_the_load(
    rig: Rig, name: str, number: int, loads: Sequence[str], sections: Sequence[str], when: str = ""
) -> Rig:
    """The rig once it is those loads, those sections of them shorted: they stay off, their channel works again, and what was taken off
    to look goes back. Raises EditError."""
    taken, before = found(rig, name), _before(rig, name)
    then, moves = assess(before), taken.moves or ()
    ticked = tuple(replace(s, done=True) for i, s in enumerate(taken.steps) if s.done or i == number)
    made = _made(then, rig, taken)
    hung = _taken_off(then, taken.steps[number])
    off = {load: _off(then, run, moves) for load, (_, run) in hung.items()}
    works = dict.fromkeys(hung[load][0] for load in loads)
    shorted = [f"{each}=shorted" for each in sections]
    half = apply(before, (*made, *_each_once(off.values())))
    stays = _each_once(off[load] for load in loads)
    after = fail(repaired(apply(before, (*made, *stays)), works), shorted)
    back = tuple(_brought_back(assess(half), assess(after), ticked))
    title = f"{listed([*works])}: {listed(loads)} {'is' if len(loads) == 1 else 'are'} shorted and off"
    new = replace(taken, title=title, failed=tuple(shorted), moves=(*made, *stays), steps=(*ticked, *back))
    good = tuple(load for load in hung if load not in loads)
    known = [replace(e, good=(*e.good, *good)) for e in rig.failures.values() if e.what not in works]
    known += [Failure(what=each, when=when) for each in shorted]
    lists = [new if each is taken else each for each in rig.lists]
    return with_night(after, baseline(rig), lists, failures=known)


def _each_once(moves: Iterable[Rewiring]) -> tuple[Rewiring, ...]:
    """A line that carries several loads is unplugged once."""
    return tuple(dict.fromkeys(moves))


def _before(rig: Rig, name: str) -> Rig:
    """The rig before the plan of a list was taken, its failures marked. Raises EditError where a later plan rests on it."""
    taken = found(rig, name)
    before = replace(baseline(rig), night=rig.night)
    try:
        for each in rig.lists:
            if each is not taken:
                before = apply(before, each.moves or ())
        marked = [*failed(rig), *(each for each in taken.failed if each not in failed(rig))]
        before = fail(before, marked)
        apply(before, taken.moves or ())
    except EditError:
        raise EditError(f'Another plan rests on "{taken.title}". Return that first, or undo it.') from None
    return before


def _taken_off(then: Assessed, step: Step) -> dict[str, tuple[str, Run]]:
    """Load that a question had taken off → the channel that it hung on, and its line there."""
    return {
        load: (branch.id, run)
        for branch in then.branches.values()
        for run in branch.roots
        if (load := str(LinePair(run.line.id, run.near))) in step.at and branch.id in step.at
    }


def _sections(then: Assessed, root: Run) -> Iterator[str]:
    for run in root.all_runs():
        cabinet = then.index.cabinets[run.line.to]
        wired = wired_sections(cabinet, then.index.loudspeaker_models[cabinet.model])
        yield from (f"{cabinet.id}.{section}" for section in wired[run.far])


def _made(then: Assessed, rig: Rig, taken: NightList) -> tuple[Rewiring, ...]:
    """The moves of the steps that are ticked."""
    moves = taken.moves or ()
    change = Transition(then, assess(apply(then.index.rig, moves), then), taken.failed)
    actions = list(sequence.actions(change, moves))
    if [action.step.words for action in actions] != [step.words for step in taken.steps]:
        if any(step.done and step.kind == "move" for step in taken.steps):
            raise EditError(f'"{taken.title}" was begun. Tick it to its end, and plan again.')
        return ()
    pairs = zip(actions, taken.steps, strict=True)
    return tuple(move for action, step in pairs if step.done for move in action.moves)


def _off(then: Assessed, run: Run, moves: Sequence[Rewiring]) -> Rewiring:
    """The move by which a load was taken off its channel to look whether it recovers: the plug of a line that was to move, else its
    pole pair."""
    source = run.line.source
    if any(move.kind in ("plug", "line") and move.old == source for move in moves):
        return Rewiring(kind="unplug", at=run.line.to, old=source)
    old = then.index.sockets[source].pole(run.near)
    return Rewiring(kind="repatch", at=str(PolePair(source, run.near)), old=old)


def _brought_back(half: Assessed, after: Assessed, done: Sequence[Step]) -> Iterator[Step]:
    """The steps by which comes back what was silent for the list and isn't for the load."""
    was = standing(half)
    down, off, pulled, muted = {*was.down}, {*was.off}, {*was.pulled}, dict[str, None]()
    for step in done:
        match step.kind:
            case "turn down":
                down.update(step.at)
            case "turn up":
                down.difference_update(step.at)
            case "switch off" | "pull mains":
                off.update(step.at)
                pulled.update(step.at if step.kind == "pull mains" else ())
                down.update(
                    name for each in step.at for name in half.index.channels_of(half.index.amplifiers[each])
                )
            case "switch on" | "start" | "plug mains":
                off.difference_update(step.at if step.kind != "plug mains" else ())
                pulled.difference_update(step.at)
            case "mute":
                muted |= dict.fromkeys(step.at)
            case "unmute":
                for feed in step.at:
                    muted.pop(feed, None)
            case _:
                pass
    change = Transition(half, after, was=Standing(frozenset(down), frozenset(off), frozenset(pulled)))
    yield from sequence.steps_of(change, difference(half.index.rig, after.index.rig))
    yield from (Orders(change).unmute(feed).step for feed in muted)
