"""Which channels the moves of a plan touch."""

from collections.abc import Collection, Iterable

from rackwright.engine.assess import Assessed
from rackwright.engine.recovery.moves import Move
from rackwright.engine.recovery.state import Task
from rackwright.model.index import pole_or_none
from rackwright.model.rig import Amplifier, Cabinet, Line, Socket, channel_name


def touched_by(task: Task, assessment: Assessed, moves: Iterable[Move]) -> set[str]:
    """The channels that the moves touch, those included that only the rig before or only the rig after them has."""
    found: set[str] = set()
    for move in moves:
        for swap in move.swaps:
            found |= _of(task.broken, swap.before, swap.after) | _of(assessment, swap.after, swap.before)
    return found


def present_on(assessed: Assessed, channels: Collection[str]) -> list[str]:
    """Those of the channels that a rig has, in its order: a spare may have more of them than what it replaces."""
    return [name for name in assessed.branches if name in channels]


def _of(assessed: Assessed, item: object, other: object) -> set[str]:
    """The channels that a thing is on; of a socket or an amplifier those that it has otherwise than `other`."""
    index = assessed.index
    match item:
        case Socket():
            theirs = other.poles if isinstance(other, Socket) else ()
            poles = [p for i, p in enumerate(item.poles) if i >= len(theirs) or theirs[i] != p]
            return {pole.name for text in poles if (pole := pole_or_none(text))}
        case Line() | Cabinet():
            root = index.root(item.id)
            carried = {run.channel for run in assessed.runs.get(item.id, ())}
            poles = list(index.sockets[root].poles) if root else []
            return carried or {pole.name for text in poles if (pole := pole_or_none(text))}
        case Amplifier():
            count = index.amplifier_models[item.model].channels
            told = [i for i in range(count) if _differs(item, other, i)]
            return {channel_name(item.id, i) for i in told}
        case _:
            return set()


def _differs(amplifier: Amplifier, other: object, channel: int) -> bool:
    if not isinstance(other, Amplifier):
        return True
    if (amplifier.model, amplifier.circuit) != (other.model, other.circuit):
        return True
    return amplifier.channel(channel) != other.channel(channel) or amplifier.pair_mode(
        channel
    ) != other.pair_mode(channel)
