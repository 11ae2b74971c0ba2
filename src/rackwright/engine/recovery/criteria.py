"""What a plan is judged by, from the assessment of the rig that it leads to; and what no plan may do.

Each figure is rounded to its step, so that nothing is put before a quicker plan for what nobody hears. Holds no search.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from rackwright.engine.assess import Assessed
from rackwright.engine.finding import Finding
from rackwright.engine.recovery import cover
from rackwright.engine.recovery.task import HEARD, Task, mean
from rackwright.model.index import Index, pole_or_none
from rackwright.model.night import Rewiring, RewiringKind
from rackwright.model.racks import channel_name
from rackwright.model.rig import FRONT_OF_HOUSE, MoveTimes
from rackwright.units import LimiterSetting

BALANCE, LEVEL, SECONDS = 0.5, 1.0, 5.0
"""Steps, in dB, dB and s."""

GRAVER = 1e-3
"""Share of a limit by which a stop has to be further beyond it to count as graver."""


class Criteria(NamedTuple):
    """Less is better, in this order."""

    silence: float
    """Weight of what is silent."""
    balance: float
    """dB, the largest change between left and right."""
    change: float
    """dB, the largest change of level at unchanged processor settings."""
    loss: float
    """dB, the largest loss of maximum level."""
    seconds: float
    """Until the last section is back."""
    hush: float
    """Weight × s of what played and is muted meanwhile."""
    warns: int
    """New warnings."""
    spares: int
    racks: int
    """Those gone to."""

    @property
    def level(self) -> float:
        """dB, the larger of change and loss."""
        return max(self.change, self.loss)

    @property
    def full(self) -> bool:
        """Whether all is as it was: nothing silent, no level changed."""
        return not any(self[:4])


def rounded(figure: float, step: float) -> float:
    """To the nearest step, up from half a step."""
    return math.floor(figure / step + 0.5 + 1e-6) * step


def judged(task: Task, after: Assessed, moves: Sequence[Rewiring], seconds: float) -> Criteria:
    """What a plan is worth: the rig after it, the moves that lead there, and the s that its list takes."""
    changes = task.changes(after)
    losses = [
        20 * math.log10(task.voltages[name] / (after.sections[name].voltage or 0.0)) for name in changes
    ]
    silent = sum([weight for name, weight in task.weights.items() if name not in changes])
    known = {(f.code, f.at) for of in (task.before, task.broken) for f in of.findings if f.severity == "warn"}
    warns = {(f.code, f.at) for f in after.findings if f.severity == "warn"} - known
    return Criteria(
        round(silent, 6),
        balance(task, after),
        rounded(
            max([abs(c) for name, c in changes.items() if not _decided(task, name, c)], default=0.0), LEVEL
        ),
        rounded(max([0.0, *losses]), LEVEL),
        rounded(seconds, SECONDS),
        round(sum([hush(task, move) for move in moves]), 6),
        len(warns),
        sum([bool(move.by) for move in moves]),
        len(places(task.index, moves)),
    )


def balance(task: Task, after: Assessed) -> float:
    """dB, to its step, by which one side has come up against the other, of the kind and role where that is most."""
    changes = task.changes(after)
    worst = 0.0
    for sides in task.sides.values():
        one, other = (mean(names, changes) for names in sides.values())
        worst = max(worst, abs(one - other))
    return rounded(worst, BALANCE)


# --- what the crew does -------------------------------------------------------------------------------


TIMES: dict[RewiringKind, str] = {
    "unplug": "plug",
    "plug in": "plug",
    "amplifier": "spare_amplifier",
    "circuit": "circuit_plug",
    "mode": "mode",
    "line": "new_line",
    "plug": "plug",
    "repatch": "repatch",
    "feed": "feed",
    "trim": "trim",
    "limiter rms": "limiter",
    "limiter peak": "limiter",
}
"""Which of the crew's times a move takes."""

FETCHED = 0.4
"""Share of the time for a spare amplifier in which it is brought and set up beside the rack: common practice, no source."""


def time_of(times: MoveTimes, move: Rewiring) -> float:
    """Seconds that a move takes where it is made."""
    back = move.kind == "line" and not move.by  # a line that is there is plugged in, not laid
    return float(getattr(times, "plug" if back else TIMES[move.kind]).value)


def prepared(times: MoveTimes, move: Rewiring) -> float:
    """Seconds of those in which nothing need be silent: a line is laid, of which only the plugs are left to move; a spare brought."""
    if move.kind == "line" and move.by:
        return max(0.0, float(times.new_line.value) - 2 * float(times.plug.value))
    return FETCHED * float(times.spare_amplifier.value) if move.kind == "amplifier" else 0.0


def comes_down(move: Rewiring) -> bool:
    """Whether a limiter is set lower, or set where none was, or now in dBu where it was in volts, or the reverse."""
    if not (move.new and move.old):
        return bool(move.new)
    old, new = LimiterSetting.parse(move.old), LimiterSetting.parse(move.new)
    return old.in_dbu != new.in_dbu or new.value < old.value


def place_of(index: Index, move: Rewiring) -> str:
    """The rack at which a move is made; front of house for what the processor does."""
    if move.kind in ("limiter rms", "limiter peak"):
        return FRONT_OF_HOUSE
    thing = index.thing_at(move.at)
    if thing in index.rack_of:
        return index.rack_of[thing].id
    root = index.root(thing) or (index.root(move.line.source) if move.line else "") or ""
    return index.rack_of[root].id if root in index.rack_of else ""


def places(index: Index, moves: Iterable[Rewiring]) -> tuple[str, ...]:
    """The racks that moves are made at."""
    found = dict.fromkeys(place_of(index, move) for move in moves)
    return tuple(place for place in found if place not in ("", FRONT_OF_HOUSE))


def walk(index: Index, racks: Sequence[str]) -> float:
    """Seconds on the way to those racks from where the crew stands."""
    targets = index.rig.targets
    away = [rack for rack in racks if rack != targets.crew_at]
    if not away:
        return 0.0
    between = float(targets.times.between_racks.value)
    first = between if targets.crew_at in index.racks else float(targets.times.to_rack.value)
    return first + between * (len(away) - 1)


def hush(task: Task, move: Rewiring) -> float:
    """Weight × seconds of what still plays and is muted for a move."""
    quiet = sum([task.heard.get(name, 0.0) for name in muted(task.index, move)])
    times = task.index.rig.targets.times
    return quiet * (time_of(times, move) - prepared(times, move)) if quiet else 0.0


def muted(index: Index, move: Rewiring) -> set[str]:
    """The channels that are muted for a move."""
    match move.kind:
        case "repatch":
            return {pole.name for text in (move.old, move.new) if (pole := pole_or_none(text))}
        case "plug" | "line" | "unplug" | "plug in":
            roots = {index.root(move.at), move.new if move.new in index.sockets else index.root(move.new)}
            return {name for root in roots if root for name in index.channels_at(root)}
        case "amplifier" | "circuit":
            return set(index.channels_of(index.amplifiers[move.at]))
        case "mode":
            at = index.channels[move.at]
            return {name for name, place in index.channels.items() if place.amplifier == at.amplifier}
        case "feed":
            return {move.at}
        case _:
            return set()


def channels(index: Index, moves: Iterable[Rewiring], at: str) -> frozenset[str]:
    """The channels that moves and a place have to do with; none where the place is of the mains, which join all."""
    thing = index.thing_at(at)
    if not (index.root(thing) or thing in index.rack_of):
        return frozenset()
    found = {name for move in moves for name in muted(index, move)}
    if thing in index.amplifiers:
        found |= {at} if at in index.channels else index.channels_of(index.amplifiers[thing]).keys()
    for name in tuple(found):
        place = index.channels[name]
        if index.amplifiers[place.amplifier].pair_mode(place.channel) != "dual":
            found.add(channel_name(place.amplifier, place.channel ^ 1))
    return frozenset(found)


# --- what no plan may do ------------------------------------------------------------------------------


def new_stops(broken: Assessed, after: Assessed) -> Iterator[Finding]:
    """The stops that the rig as it stands has not, and those that are graver than there."""
    known: dict[tuple[str, str], float] = {}
    for finding in broken.findings:
        if finding.severity == "stop":
            key = finding.code, finding.at
            known[key] = max(finding.excess, known.get(key, finding.excess))
    for finding in after.findings:
        if finding.severity != "stop":
            return
        was = known.get((finding.code, finding.at))
        if was is None or finding.excess > was + GRAVER:
            yield finding


def refusal(task: Task, after: Assessed) -> Finding | str | None:
    """Why the rig after some moves is no plan: a stop, a section that is louder, plays what it should not or comes onto what is dead; None where it is one."""
    for finding in new_stops(task.broken, after):
        return finding
    if too_loud := louder(task, after):
        return too_loud
    for name, section in after.sections.items():
        if section.channel is None:
            onto = section.patched and section.patched != task.broken.sections[name].patched
            if onto and after.channels[section.patched or ""].outage:
                return name
            continue
        if name not in task.feeds:
            if task.broken.sections[name].channel is None:
                return name
            continue
        if not task.may_play(name, after.channels[section.channel].feed):
            return name
        if section.polarity != task.before.sections[name].polarity:
            return name
    return None


def louder(task: Task, after: Assessed) -> str | None:
    """A section that is louder than before the failure and than as the rig stands, and does not cover for another; None where none is."""
    up = {
        name: change
        for name, change in task.changes(after).items()
        if change > HEARD + 1e-6 and not _decided(task, name, change)
    }
    may = cover.allowed(task, after) if up else {}
    for name, change in up.items():
        channel = after.sections[name].channel or ""
        if change > may.get(name, 0.0) + 1e-6 or not cover.within_limits(after, channel):
            return name
    return None


def _decided(task: Task, name: str, change: float) -> bool:
    """Whether a section is louder by no more than what an earlier plan turned it up by."""
    return HEARD < change <= task.covering.get(name, 0.0) + 1e-6
