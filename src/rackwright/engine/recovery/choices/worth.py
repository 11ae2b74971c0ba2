"""Which choices are worth offering the programme: every other leads to nothing that a simpler plan has not. Holds no column."""

import math
from collections.abc import Sequence

from rackwright.engine import outage
from rackwright.engine.allocation.program import SLACK
from rackwright.engine.recovery import criteria
from rackwright.engine.recovery.choices.channels import Channels
from rackwright.engine.recovery.choices.kept import kept
from rackwright.engine.recovery.loads import Bundle, Load, Variant
from rackwright.engine.recovery.task import Task
from rackwright.model.index import pole_or_none


def needy(task: Task) -> set[str]:
    """The sections that are silent, or not as loud as they were, and were not left so by an earlier plan."""
    found = {*task.just_lost}
    for name in task.weights:
        now, then = task.broken.sections[name], task.earlier.sections[name]
        if now.channel is None or not now.voltage or now.gain is None:
            continue
        loss = 20 * math.log10(task.voltages[name] / now.voltage)
        left = (now.gain, now.voltage) == (then.gain, then.voltage)
        if max(task.gains[name] - now.gain, loss) >= criteria.LEVEL / 2 and not left:
            found.add(name)
    return found


def needed(task: Task, load: Load, loss: float) -> float:
    """V at the terminals that no section is quieter with by more than so many dB."""
    return max(
        (
            task.voltages[name] * 10 ** (-loss / 20) / transfer
            for name, transfer in zip(load.sections, load.transfers, strict=True)
            if name in task.voltages
        ),
        default=0.0,
    )


class Worth:
    """What is missing, and what may be moved or given up for it."""

    def __init__(self, channels: Channels, bundles: Sequence[Bundle], needy: set[str]) -> None:
        self.channels, self.columns, self.bundles, self.needy = channels, channels.columns, bundles, needy
        self.task, self.index = channels.task, channels.index
        self._missing = sum(self.task.weights[name] for name in needy)
        self._wanting = self._wants_of_needy()
        self._may_evict: dict[str, bool] = {}
        self.pointless = kept(self._pointless)

    def _wants_of_needy(self) -> list[Load]:
        """Each pole pair that something is needed for."""
        return [
            load
            for b in self.bundles
            for load in b.variants[0].loads
            if load and self.needy.intersection(load.sections)
        ]

    def _kind(self, channel: str) -> tuple[object, ...]:
        """Channels that offer the same are of one kind."""
        at = self.index.channels[channel]
        amplifier = self.index.amplifiers[at.amplifier]
        return (amplifier.model, amplifier.pair_mode(at.channel), amplifier.channel(at.channel).trim.value)

    def playing(self, channel: str) -> str:
        """The feed of what plays on a channel as the rig stands; empty where nothing does."""
        return self.task.broken.branches[channel].result.feed if self.task.heard.get(channel) else ""

    def moving(self, load: Load, old: str, new: str) -> bool:
        """Whether moving what plays well makes room that what is missing has not got there itself.

        It has where the other channel stands as open to it: then moving two things is worse than moving one.
        """
        if not self.columns.wide or not self.task.heard.get(old):
            return False
        feed, there = self.playing(old), self.playing(new)
        if there not in ("", feed):
            return False
        need = self._terminal(load)
        for other in self._wanting:
            names = [name for name in other.sections if name in self.task.feeds]
            if not self.channels.allowed(old, tuple(names)) or not self.channels.may_bear(old, other):
                continue
            if self._kind(old) != self._kind(new):
                return True
            larger = other.conductance > load.conductance * (1 + 1e-9) or self._terminal(other) > 1.05 * need
            apart = there == feed and not all(self.task.may_play(name, feed) for name in names)
            if larger or apart or (there and self._otherwise_loud(other, new)):
                return True
        return False

    def _otherwise_loud(self, load: Load, channel: str) -> bool:
        """Whether a load needs a trim there that the channel hasn't, so that it goes with nothing that plays there."""
        gain = self.task.broken.branches[channel].gain
        return any(
            abs(gain + 20 * math.log10(transfer) - self.task.gains[name]) > criteria.BALANCE / 2
            for name, transfer in zip(load.sections, load.transfers, strict=True)
            if name in self.task.gains and transfer
        )

    def _terminal(self, load: Load) -> float:
        """V at the terminals with which its sections were as loud as before."""
        return needed(self.task, load, 0.0)

    def _pointless(self, own: str, new: str) -> bool:
        """Whether the channel that something was on is there again before another, or no later."""
        here, there = (self.index.amplifiers[self.index.channels[name].amplifier] for name in (own, new))
        if self.columns.wide and here is not there:
            return False
        pole = self.index.channels[own]
        whole = here.channel(pole.channel).state == here.channel(pole.channel).input_state == "ok"
        if not whole or not self.channels.ever_usable(own):
            return False
        if here is there:
            return here.state == "failed" or bool(outage.of_power(self.index, here))
        unpowered = [bool(outage.of_power(self.index, each)) for each in (here, there)]
        return here.state == "ok" and all(unpowered)

    def evictable(self, channel: str) -> bool:
        """Whether what plays on a channel may be given up, or go elsewhere, for something that is missing."""
        if channel not in self._may_evict:
            on = [
                load
                for b in self.bundles
                for k, load in enumerate(b.variants[0].loads)
                if load
                and (pole := pole_or_none(self.index.sockets[b.socket].pole(k)))
                and pole.name == channel
            ]
            self._may_evict[channel] = all(
                self.giving_up([n for n in load.sections if n in self.task.weights and n not in self.needy])
                or any(
                    new != channel and self.channels.may_bear(new, load) and self.moving(load, channel, new)
                    for new in self.channels.names
                )
                for load in on
            )
        return self._may_evict[channel]

    def giving_up(self, names: Sequence[str]) -> bool:
        """Whether giving that up may bring more back."""
        weight = min((self.task.weights[name] for name in names), default=0.0)
        if not self.columns.wide and weight:
            return False
        return weight < self._missing + SLACK if self.task.sides else weight < self._missing - SLACK

    def unplugging(self, variant: Variant, names: Sequence[str]) -> bool:
        """Whether that gives up less than it may bring back, or frees a channel from a shorted section."""
        kept = {name for load in variant.loads if load for name in load.sections}
        given = [name for name in names if name not in kept and name not in self.needy]
        if given and not self.columns.wide:
            return False
        return sum(self.task.weights[name] for name in given) < self._missing + SLACK
