"""A failure to recover from: the rig with everything working and the rig as it stands, and what each section is worth."""

import functools
from collections.abc import Callable, Collection, Mapping, Sequence

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.findings.registry import fits
from rackwright.engine.recovery.failure import failed, repaired
from rackwright.engine.recovery.transition import Transition
from rackwright.model.equipment import Section
from rackwright.model.lines import Cabinet, Side

SILENT = -20.0
"""dB that a silent section counts in the mean level of its side: common practice, no source."""

HEARD = 0.5
"""dB by which a level may change unheard: common practice, no source."""

TRIM = 0.5
"""dB, the step of an input attenuator: common practice, no source."""


_OF_BEFORE = ("weights", "feeds", "gains", "voltages", "models", "sides")
"""What a task takes from the rig with everything working."""


def mean(names: Sequence[str], changes: Mapping[str, float]) -> float:
    """dB, of the changes of sections; what has none is silent."""
    return sum([changes.get(name, SILENT) for name in names]) / len(names)


def weight(priority: float) -> float:
    """What silence of a section counts: 1 for priority 1, half as much with each step further down.

    Common practice, no source.
    """
    return float(2.0 ** (1 - priority))


class Task:
    """What is to be recovered, and from where."""

    def __init__(
        self,
        before: Assessed,
        broken: Assessed,
        planned: Collection[str] = (),
        between: Callable[[], None] = lambda: None,
        like: "Task | None" = None,
    ) -> None:
        """`like`, another failure of the same rig, only saves time."""
        self.before, self.broken, self.between = before, broken, between
        self.index = broken.index
        self.planned = frozenset(planned)
        """What has failed that an earlier plan was taken for."""
        if like is not None and like.before is before:
            self.__dict__.update({name: getattr(like, name) for name in _OF_BEFORE})
        else:
            self._told_before(before)
        self._changes: tuple[Assessed | None, dict[str, float]] = (None, {})
        self.heard = {name: sum(self._playing(name)) for name in broken.branches}
        """Channel → the weight of what still plays on it."""

    def _told_before(self, before: Assessed) -> None:
        cabinets, models = before.index.cabinets, before.index.loudspeaker_models
        sounded = {name: s for name, s in before.sections.items() if s.channel is not None}
        self.weights = {name: weight(cabinets[s.cabinet].priority_of(s.kind)) for name, s in sounded.items()}
        """Of the sections that sounded, in the order of the rig: no other is missed."""
        self.feeds = {name: before.channels[s.channel or ""].feed for name, s in sounded.items()}
        self.gains = {name: s.gain or 0.0 for name, s in sounded.items()}
        """dB from processor to section."""
        self.voltages = {name: s.voltage or 0.0 for name, s in sounded.items()}
        self.models: dict[str, Section] = {
            name: models[cabinets[s.cabinet].model].section(s.section) for name, s in sounded.items()
        }
        self.sides = self._sides(cabinets)

    def _sides(self, cabinets: Mapping[str, Cabinet]) -> dict[tuple[str, str], dict[Side, list[str]]]:
        """Kind and role → side → sections; only where both sides have some. A monitor is one player's, and is none the better
        for another that is as quiet."""
        found: dict[tuple[str, str], dict[Side, list[str]]] = {}
        for name in self.weights:
            section = self.before.sections[name]
            cabinet = cabinets[section.cabinet]
            side = cabinet.side or self.before.index.feeds[self.feeds[name]].side
            if side and cabinet.role != "monitor":
                found.setdefault((section.kind, cabinet.role), {}).setdefault(side, []).append(name)
        return {key: sides for key, sides in found.items() if len(sides) == 2}

    def _playing(self, channel: str) -> list[float]:
        sections = self.broken.branches[channel].sections
        return [self.weights.get(s.id, 0.0) for s in sections if s.channel is not None]

    def may_play(self, section: str, feed: str) -> bool:
        """Whether a section may play a feed: its own, or one declared to stand in for it of a band that it can take."""
        own = self.feeds[section]
        played = self.index.feeds.get(feed)
        if feed == own or played is None:
            return feed == own
        return own in played.substitute_for and fits(played, [self.models[section]])

    def changes(self, after: Assessed) -> dict[str, float]:
        """Section that plays → dB by which it is louder than before the failure, at unchanged processor settings."""
        if self._changes[0] is not after:  # asked for again and again of the same
            self._changes = after, self._changes_to(after)
        return self._changes[1]

    def _changes_to(self, after: Assessed) -> dict[str, float]:
        found = {}
        for name in self.weights:
            section = after.sections[name]
            if section.channel is not None and section.gain is not None and section.voltage:
                found[name] = section.gain - self.gains[name]
        return found

    @functools.cached_property
    def covering(self) -> dict[str, float]:
        """Section → dB by which it is louder than before the failure, for an earlier plan turned it up to cover for another."""
        return {name: change for name, change in self.changes(self.broken).items() if change > HEARD}

    @functools.cached_property
    def fresh(self) -> tuple[str, ...]:
        """What has failed and has not been made safe yet."""
        return tuple(name for name in failed(self.index.rig) if name not in self.planned)

    @functools.cached_property
    def lost(self) -> tuple[str, ...]:
        """The sections that are silent for what has failed, what matters most first."""
        silent = [name for name in self.weights if self.broken.sections[name].channel is None]
        return tuple(sorted(silent, key=lambda name: -self.weights[name]))

    @functools.cached_property
    def change(self) -> Transition:
        """From the rig as it stands to itself."""
        return Transition(self.broken, self.broken, self.fresh)

    @functools.cached_property
    def earlier(self) -> Assessed:
        """The rig as it stood before what no plan was taken for yet: what an earlier plan left is decided, and stays so."""
        if not self.planned or not self.fresh:
            return self.before
        return assess(repaired(self.index.rig, self.fresh, self.index), self.broken)

    @functools.cached_property
    def just_lost(self) -> tuple[str, ...]:
        """Those of them that play again once what no plan was taken for yet works."""
        return tuple(name for name in self.lost if self.earlier.sections[name].channel is not None)

    @functools.cached_property
    def left(self) -> frozenset[str]:
        """The sections that are silent and were before: nothing is done for them."""
        return frozenset(self.lost).difference(self.just_lost)
