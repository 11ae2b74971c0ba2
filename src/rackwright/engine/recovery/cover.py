"""Cover for what no move brings back: its neighbours turned up by what they lack without it, or its opposite twin muted.

A neighbour is of the same kind, role and side, and plays the same feed. How far it may come up is said here, whether its
channel stays within its limits `assess` says. Proposes end states; each is judged as any plan is.
"""

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from msgspec.structs import replace

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.channel import Branch
from rackwright.engine.recovery import loads
from rackwright.engine.recovery.rewiring import apply, in_order
from rackwright.engine.recovery.task import TRIM, Task, mean
from rackwright.model.lines import Side
from rackwright.model.night import Rewiring
from rackwright.model.places import PolePair

MOST = 6.0
"""dB that a neighbour comes up at most: common practice, no source."""

EVEN = 0.25
"""dB between the sides that round to none."""

TENFOLD = {"low": 20.0}
"""By kind, dB that ten of a kind are louder than one: lows lie close enough by their wavelength to add up in phase [1]_."""
ELSE = 10.0
"""dB of any other kind, which adds up in power [1]_.

.. [1] Twice as many are 6 dB louder in phase and 3 dB in power: from memory.
"""

_UNSAFE = frozenset({"limiter-too-high", "limiter-for-one-gain", "over-power-without-limiter"})
"""What lets more through than a driver stands, but where it is a note."""
_CLIPPED = frozenset({"clips-before-limiter", "short-of-power"})


# --- neighbours ---------------------------------------------------------------------------------------


def allowed(task: Task, after: Assessed) -> dict[str, float]:
    """Section → dB by which it may be louder than before the failure: what its side lacks without those that are silent."""
    found: dict[str, float] = {}
    heard = task.changes(after)
    for (kind, _), sides in task.sides.items():
        groups: dict[tuple[str, str], list[str]] = defaultdict(list)
        for side, names in sides.items():
            for name in names:
                groups[side, task.feeds[name]].append(name)
        for names in groups.values():
            left = [name for name in names if name in heard]
            if 0 < len(left) < len(names):
                lacking = TENFOLD.get(kind, ELSE) * math.log10(len(names) / len(left))
                found |= dict.fromkeys(left, min(MOST, lacking))
    return found


def within_limits(after: Assessed, channel: str) -> bool:
    """Whether a channel may be louder: what hangs on it stands all that its limiter lets through, and it does not clip before."""
    branch = after.branches[channel]
    at = {channel, branch.result.feed, *(section.id for section in branch.sections)}
    return not any(
        f.code in _CLIPPED or (f.code in _UNSAFE and f.severity != "note")
        for f in after.findings
        if f.at in at
    )


def turned_up(task: Task, after: Assessed) -> tuple[Rewiring, ...]:
    """The trims by which the neighbours of what is silent come up, on the side that is quieter; none where there is no room."""
    may, heard = allowed(task, after), task.changes(after)
    for sides in task.sides.values():
        means = {side: mean(names, heard) for side, names in sides.items()}
        for side, names in sides.items():
            fresh = any(name not in heard and name not in task.left for name in names)
            if not fresh or means[side] > max(means.values()) - EVEN:
                may = {name: most for name, most in may.items() if name not in names}
    steps = {branch.id: n for branch in after.branches.values() if (n := _room(branch, may, heard))}
    while steps:
        trims = tuple([_trim(after.branches[channel], n) for channel, n in steps.items()])
        louder = assess(apply(after.index.rig, trims, after.index), after)
        over = [channel for channel in steps if not within_limits(louder, channel)]
        if not over:
            return trims
        steps = {channel: left for channel, n in steps.items() if (left := n - (channel in over))}
    return ()


def _room(branch: Branch, may: Mapping[str, float], heard: Mapping[str, float]) -> int:
    """Steps that a channel may come up: all that hangs on it may, and its trim goes so far."""
    names = [section.id for section in branch.sections]
    if not branch.live or not names or any(name not in may for name in names):
        return 0
    most = min(-branch.trim, *[may[name] - heard[name] for name in names])
    return max(0, math.floor(most / TRIM + 1e-6))


def _trim(branch: Branch, steps: int) -> Rewiring:
    old = branch.amplifier.channel(branch.channel).trim
    return Rewiring(kind="trim", at=branch.id, old=old.text, new=f"{old.value + TRIM * steps:g} dB")


def together(moves: Sequence[Rewiring], trims: Sequence[Rewiring]) -> tuple[Rewiring, ...]:
    """The moves of a plan and trims after them, each channel trimmed once."""
    last = {trim.at: trim for trim in trims}
    first = {move.at: move.old for move in moves if move.kind == "trim" and move.at in last}
    kept = [move for move in moves if move.kind != "trim" or move.at not in last]
    joined = [replace(trim, old=first.get(trim.at, trim.old)) for trim in trims]
    return in_order([*kept, *(trim for trim in joined if trim.old != trim.new)])


# --- the opposite twin --------------------------------------------------------------------------------


def muted(task: Task, after: Assessed) -> tuple[Rewiring, ...]:
    """The moves that mute the opposite twins of what is silent, where more of their kind plays on that side; none where there is none."""
    twins = _twins(task, after)
    index, found = after.index, []
    homes = dict.fromkeys(root for name in twins if (root := index.root(after.sections[name].cabinet)))
    for home in homes:
        for line in index.lines_from[home]:
            behind = {name for cabinet in loads.behind(index, line.to) for name in _heard(after, cabinet)}
            if behind and behind <= twins and not index.cabinets[line.to].muted:
                found.append(Rewiring(kind="unplug", at=line.to, old=home, new=""))
                twins -= behind
        for pair, load in enumerate(loads.hanging(index, home)):
            on = {
                name for name in (load.sections if load else ()) if after.sections[name].channel is not None
            }
            if on and on <= twins:
                at = str(PolePair(home, pair))
                found.append(Rewiring(kind="repatch", at=at, old=index.sockets[home].pole(pair), new=""))
    return tuple(found)


def _twins(task: Task, after: Assessed) -> set[str]:
    """What plays and stands opposite to something silent: the same place in the rig's order, of as many of that model on either side."""
    found: set[str] = set()
    cabinets = after.index.cabinets
    for sides in task.sides.values():
        of: dict[tuple[str, ...], dict[Side, list[str]]] = defaultdict(lambda: defaultdict(list))
        for side, names in sides.items():
            for name in names:
                cabinet = cabinets[after.sections[name].cabinet]
                of[cabinet.model, cabinet.depth, after.sections[name].section][side].append(name)
        for apart in of.values():
            if len({len(names) for names in apart.values()}) == 1 < len(apart):
                found |= set(_opposite(task, after, *apart.values()))
    return found


def _opposite(task: Task, after: Assessed, one: Sequence[str], other: Sequence[str]) -> Iterator[str]:
    plays = [[after.sections[name].channel is not None for name in names] for names in (one, other)]
    pairs = list(zip(one, other, *plays, strict=True))
    if any(here and there for _, _, here, there in pairs):
        for a, b, here, there in pairs:
            if here != there and (b if here else a) not in task.left:
                yield a if here else b


def _heard(after: Assessed, cabinet: str) -> Iterator[str]:
    return (s.id for s in after.sections.values() if s.cabinet == cabinet and s.channel is not None)
