"""From one rig to another: what each move takes silent or switched off, and what plays before and after.

Orders nothing and words nothing.
"""

import functools
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from rackwright.engine import touch
from rackwright.engine.assess import Assessed
from rackwright.engine.channel import Branch
from rackwright.engine.outage import Outage
from rackwright.engine.recovery.failure import repaired
from rackwright.engine.recovery.standing import Standing, standing
from rackwright.engine.recovery.wording import Wording
from rackwright.model.index import Index, pole_or_none
from rackwright.model.night import Rewiring


class Transition:
    """The rig before, the rig after, and how the crew has made either safe."""

    def __init__(
        self,
        broken: Assessed,
        after: Assessed,
        fresh: Sequence[str] = (),
        was: Standing | None = None,
        tried: Sequence[str] = (),
    ) -> None:
        """`was`, what is made safe before, only saves time."""
        self.then, self.now = broken, after
        self.say = Wording(broken, after)
        self.fresh = fresh
        """What has failed and has not been made safe yet, as `fail` takes it."""
        self.tried = frozenset(tried)
        """The channels that somebody may have turned up since they were made safe, to see whether they work."""
        self.will = standing(after)
        self.was = was or (_made_safe(broken, fresh) if fresh else standing(broken))

    def to(self, after: Assessed) -> "Transition":
        """The same with another rig after."""
        return Transition(self.then, after, self.fresh, self.was)

    def handled(self, move: Rewiring) -> tuple[str, ...]:
        """The channels whose output a move handles: none of them may be live."""
        match move.kind:
            case "repatch":
                return tuple(pole.name for text in (move.old, move.new) if (pole := pole_or_none(text)))
            case "plug" | "line":
                ends = [end for end in (move.old, move.new) if end]
                return tuple(c for end in ends for s in (self.then, self.now) for c in _reaching(s, end))
            case "unplug" | "plug in":
                return tuple(_reaching(self.then, move.at) or _reaching(self.now, move.at))
            case "feed":
                return (move.at,)
            case _:
                return ()

    def off(self, move: Rewiring) -> tuple[str, ...]:
        """The amplifiers that are off for a move: for what it does, where muting isn't enough, and the dead."""
        if move.kind in ("mode", "amplifier", "circuit"):
            return (self.say.amplifier(move.at),)
        channels, places = self.handled(move), self._touched(move)
        found = {a for name in channels if (a := self.say.amplifier(name)) in self.will.off}
        for state in (self.then, self.now):
            known = [place for place in places if state.index.place(place)]
            found |= touch.powered_down(state.index, state.branches.values(), known)
        return tuple(self.in_order(found, {**self.then.index.amplifiers, **self.now.index.amplifiers}))

    def _touched(self, move: Rewiring) -> list[str]:
        """Where plugs and patches are moved."""
        match move.kind:
            case "repatch":
                return list(self.handled(move))
            case "plug":
                return [end for end in (move.old, move.new) if end]
            case "line":
                return [end for end in (move.old, move.new, move.at) if end]
            case "unplug" | "plug in":
                return [self.say.socket_of(move) or move.at]
            case _:
                return []

    def of_amplifier(self, amplifier: str) -> list[str]:
        """An amplifier's channels."""
        states = (self.then, self.now)
        return list(
            dict.fromkeys(b.id for s in states for b in s.branches.values() if b.amplifier.id == amplifier)
        )

    def playing(self, channel: str) -> bool:
        """Whether something is heard of a channel before."""
        return _sounds(self.then.branches.get(channel))

    def will_play(self, channel: str) -> bool:
        """Whether something is to be heard of a channel after."""
        return _sounds(self.now.branches.get(channel)) and channel not in self.will.down

    def stands_ready(self, channel: str) -> bool:
        """Whether a healthy channel is patched and plays nothing after: once what hung on it is back nobody is sent to turn it up."""
        branch = self.now.branches.get(channel)
        if branch is None or branch.feed is None or not branch.taps or channel in self.will.down:
            return False
        return branch.live or branch.result.outage == Outage(branch.feed.id)

    def can_sound(self, channel: str) -> bool:
        """Whether a channel has or gets both a feed and something to drive, so that handling it is heard."""
        found = [b for s in (self.then, self.now) if (b := s.branches.get(channel))]
        return any(b.feed is not None for b in found) and not any(b.second_of_bridge for b in found)

    def stays_dead(self, name: str) -> bool:
        """Whether a channel or an amplifier is turned down or off all through: jobs that only share it needn't wait for one another,
        so that what plays is silent for its own move alone."""
        return name in self.will.down or self.say.amplifier(name) in self.will.off

    @functools.cached_property
    def on_feed(self) -> Mapping[str, Sequence[str]]:
        """Feed → the channels that play it before; none for those that none plays."""
        return _by_feed(self.then)

    @functools.cached_property
    def on_feed_after(self) -> Mapping[str, Sequence[str]]:
        """Feed → the channels that play it after; none for those that none plays."""
        return _by_feed(self.now)

    def feeds(self, channel: str) -> tuple[str, str]:
        """What a channel plays before and after."""
        before, after = (
            branch.result.feed if (branch := state.branches.get(channel)) else ""
            for state in (self.then, self.now)
        )
        return before, after

    def in_order(self, names: Iterable[str], order: Iterable[str]) -> list[str]:
        """Names in the order of others."""
        wanted = set(names)
        return [name for name in order if name in wanted]


def _made_safe(broken: Assessed, fresh: Sequence[str]) -> Standing:
    """What is made safe of what has failed, but for what has failed freshly."""
    return standing(broken, Index(repaired(broken.index.rig, fresh, broken.index), broken.index))


def _by_feed(state: Assessed) -> dict[str, list[str]]:
    """Feed → the channels that play it."""
    found: dict[str, list[str]] = defaultdict(list)
    for branch in state.branches.values():
        if _sounds(branch):
            found[branch.result.feed].append(branch.id)
    return found


def _sounds(branch: Branch | None) -> bool:
    return branch is not None and branch.live and bool(branch.sections)


def _reaching(state: Assessed, place: str) -> list[str]:
    """The channels that stand on a socket's or a cabinet's connector."""
    index = state.index
    if place in index.cabinets and (line := index.line_to.get(place)):
        if runs := state.runs.get(line.id):
            return list(dict.fromkeys(run.channel for run in runs))
        root = index.root(place)
        return _reaching(state, root) if root else []
    return list(index.channels_at(place))
