"""What goes silent at each step that played before it, and for how long.

Takes steps as they are ordered; a step with ways in it is silent from where the way ends.
"""

import itertools
import math
from collections import defaultdict
from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from rackwright.engine.recovery import wording
from rackwright.engine.recovery.criteria import prepared, time_of
from rackwright.engine.recovery.transition import Transition
from rackwright.model.night import Rewiring, Step
from rackwright.model.rig import MoveTimes

NEAR = 10.0
"""s by which times of silence differ that are told as one."""


def silent(
    change: Transition, steps: Sequence[Step], own: Sequence[float]
) -> dict[int, dict[str, float | None]]:
    """Step → section → s until it plays again, None where it doesn't; `own` are the steps' s without ways."""
    ends = list(itertools.accumulate(step.seconds for step in steps))
    hushed: dict[str, int] = {}
    back: dict[str, int] = {}
    for number, step in enumerate(steps):
        for name in _silenced(change, step):
            hushed.setdefault(name, number)
        back |= dict.fromkeys(_restored(change, step), number)
    found: dict[int, dict[str, float | None]] = defaultdict(dict)
    for channel, number in hushed.items():
        for section in change.then.branches[channel].sections:
            after = change.now.sections.get(section.id)
            again = back.get(after.channel) if after and after.channel else None
            begun = ends[number] - own[number]
            found[number][section.id] = None if again is None else ends[again] - begun
    return found


def shorter_at_desk(times: MoveTimes, move: Rewiring, muted: int, handled: int, after: int) -> bool:
    """Whether muting outputs for work away from the racks is less silence in all than to walk to the rack and back for the few
    channels that are handled: all sections on those outputs count there, what comes back later for the ways here.

    `muted` are the sections on the outputs, `handled` those that play on the channels, `after` those that play there after.
    """
    ready = prepared(times, move)
    there, way = time_of(times, move) - ready, float(times.between_racks.value)
    later = max(0, after - handled) * (3 if ready else 2) * way
    return muted * (2 * float(times.mute.value) + there) < handled * (2 * way + there) + later


def told_quiet(change: Transition, steps: Sequence[Step], own: Sequence[float]) -> Iterator[Step]:
    """The steps with what is silent from each."""
    found = silent(change, steps, own)
    for number, step in enumerate(steps):
        if not (those := found.get(number)):
            yield step
            continue
        longest = max((length for length in those.values() if length is not None), default=0.0)
        quiet = ", ".join(_told(change, those))
        yield replace(step, quiet=quiet, silent=len(those), silent_for=longest)


def _told(change: Transition, silent: dict[str, float | None]) -> Iterator[str]:
    """What is silent and for how long, those together that are so about as long, what comes back first, first."""
    groups: list[tuple[float, list[str]]] = []
    for name, length in sorted(silent.items(), key=lambda each: each[1] or math.inf):
        known = math.inf if length is None else length
        if groups and (groups[-1][0] == known or known - groups[-1][0] <= NEAR):
            groups[-1] = (known, [*groups[-1][1], name])
        else:
            groups.append((known, [name]))
    for length, names in groups:
        long = "until the return" if math.isinf(length) else f"for about {wording.length(length)}"
        ordered = [name for name in silent if name in names]
        yield f"{wording.as_called(change.then, ordered)} silent {long}"


def _silenced(change: Transition, step: Step) -> list[str]:
    """The channels that played and don't after a step."""
    if step.kind == "mute":
        return [*change.on_feed[step.at[0]]]
    if step.kind not in ("turn down", "switch off", "pull mains"):
        return []
    branches = change.then.branches.values()
    return [b.id for b in branches if (b.id in step.at or b.amplifier.id in step.at) and change.playing(b.id)]


def _restored(change: Transition, step: Step) -> list[str]:
    """The channels that play again after a step."""
    if step.kind == "unmute":
        return [*change.on_feed_after[step.at[0]]]
    return list(step.at) if step.kind == "turn up" else []
