"""At which sockets a bundle's line may be plugged in besides its own. Holds no column."""

from collections.abc import Iterator

from rackwright.engine import outage
from rackwright.engine.recovery.choices.worth import Worth
from rackwright.engine.recovery.loads import Bundle, Variant
from rackwright.model.index import pole_or_none
from rackwright.model.racks import Socket


class Sockets:
    """Where what is missing finds what its own socket lacks."""

    def __init__(self, worth: Worth) -> None:
        self.worth, self.channels, self.bundles = worth, worth.channels, worth.bundles
        self.columns, self.task, self.index = worth.columns, worth.task, worth.index

    def gives_room(self, bundle: Bundle) -> bool:
        """Whether its socket may be for another of which the own is lame."""
        return self.columns.wide and any(
            lame(self.index.sockets[other.socket])
            and self.needed(other)
            and self._same_plug(other.socket, bundle.socket)
            for other in self.bundles
            if other is not bundle and len(other.lines) == 1
        )

    def _same_plug(self, one: str, other: str) -> bool:
        connectors = {self.index.sockets[name].connector for name in (one, other)}
        return len(connectors) == 1 and self.index.rack_of[one] is self.index.rack_of[other]

    def gaining(self, bundle: Bundle, variant: Variant, socket: str) -> Iterator[int]:
        """The pole pairs that find a channel at another socket that they lack at their own, and shorted ones that find none. Where there
        is none re-patching where they are is quicker."""
        for k, load in enumerate(variant.loads):
            base = pole_or_none(self.index.sockets[bundle.socket].pole(k))
            there = pole_or_none(self.index.sockets[socket].pole(k))
            if load is not None and load.shorted and base is not None and there is None:
                yield k
            if load is None or base is None or there is None or base.sign != there.sign or load.shorted:
                continue
            name, heard = there.name, [n for n in load.sections if n in self.task.feeds]
            needy = self.worth.needy.intersection(load.sections)
            if not needy or name == base.name or not outage.passes(self.index.sockets[socket], k):
                continue
            if name not in self.channels.feeds or not self.channels.ever_usable(name):
                continue
            bears = self.channels.may_bear(name, load) and self.channels.allowed(name, tuple(heard))
            if bears and not self.worth.pointless(base.name, name):
                yield k

    def needed(self, bundle: Bundle) -> bool:
        """Whether something of a bundle is missing."""
        return any(self.worth.needy.intersection(load.sections) for load in bundle.loads)

    def vacated(self, bundle: Bundle) -> Iterator[str]:
        """The sockets that another's only line may leave, and that have what the bundle's own has not."""
        own_lame = lame(self.index.sockets[bundle.socket])
        for other in self.bundles:
            socket = self.index.sockets[other.socket]
            if other is bundle or not self._same_plug(socket.id, bundle.socket) or len(other.lines) != 1:
                continue
            channels = [n for n in self.index.channels_at(socket.id) if n in self.channels.names]
            if not own_lame and all(self.task.broken.channels[name].outage for name in channels):
                continue
            goes = any(leaves(other, variant) for variant in other.variants)
            if goes or self.needed(other) or self.gives_room(other):
                yield socket.id


def lame(socket: Socket) -> bool:
    """Whether a socket, or a pole pair of it, has failed."""
    return socket.state != "ok" or bool(socket.failed_pairs)


def leaves(bundle: Bundle, variant: Variant) -> bool:
    """Whether the bundle's only line is gone from its socket in a variant: its cabinet is linked to another."""
    return len(bundle.lines) == 1 and variant.left == bundle.lines[0].to
