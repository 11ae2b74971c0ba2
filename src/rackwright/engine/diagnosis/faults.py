"""The table: each single fault of each kind of thing, the sections that it takes along, and what is heard of them.

Which sections those are is read from the rig with that marked failed, by the same look-ups as `assess`. What a fault
sounds like, and how often it comes, is common practice, no source. Knows no answers.
"""

from collections.abc import Iterable, Iterator
from typing import Literal, NamedTuple, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine import channel, outage
from rackwright.engine.assess import Assessed, assess, unchanged
from rackwright.engine.recovery.failure import fail, failed, place_of, repaired
from rackwright.engine.results import Assessment
from rackwright.model.index import Index
from rackwright.model.lines import FAULTS
from rackwright.model.mains import PHASES
from rackwright.model.places import Thing
from rackwright.model.rig import Rig

Heard: TypeAlias = Literal["plays", "quiet", "silent", "distorted", "humming"]
"""What is heard of a section."""
GRAVEST: tuple[Heard, ...] = ("silent", "distorted", "humming", "quiet", "plays")
"""Of two faults on one section the graver is heard."""
Light: TypeAlias = Literal["", "dark", "protect", "no signal", "signal"]
"""What a channel's lights show; empty where that follows from what has failed."""
Kind: TypeAlias = Literal[
    "phase", "board", "circuit", "feed", "rack", "amplifier", "channel", "input", "socket", "pole pair of a socket", "line",
    "pole pair of a line", "cabinet", "open", "shorted", "distorted",
]  # fmt: skip

CALLED: dict[Kind, str] = {
    "input": "signal lead", "open": "driver open", "shorted": "driver shorted", "distorted": "driver distorted",
}  # fmt: skip
"""What a person calls those kinds whose own word says too little."""


class Way(NamedTuple):
    """One way in which a thing fails."""

    heard: Heard
    rate: float
    """How often it comes beside the others."""
    light: Light = ""


_CONTACT = (Way("silent", 20), Way("quiet", 8), Way("distorted", 8))
_PLUG = (Way("silent", 16), Way("quiet", 7), Way("distorted", 7.5))
WAYS: dict[Kind, tuple[Way, ...]] = {
    "line": _CONTACT,
    "pole pair of a line": _CONTACT,
    "socket": _PLUG,
    "pole pair of a socket": _PLUG,
    "input": (Way("silent", 12), Way("quiet", 7, "signal"), Way("humming", 7, "signal")),
    "open": (Way("silent", 8),),
    "shorted": (Way("silent", 5, "protect"), Way("quiet", 1, "protect"), Way("distorted", 1, "protect")),
    "distorted": (Way("distorted", 7), Way("quiet", 5)),
    "cabinet": (Way("silent", 6), Way("quiet", 4), Way("distorted", 4)),
    "channel": (
        Way("silent", 2, "protect"), Way("silent", 1, "signal"), Way("quiet", 1, "signal"),
        Way("distorted", 2, "signal"), Way("humming", 2, "signal"),
    ),
    "amplifier": (
        Way("silent", 1, "dark"), Way("silent", 1, "protect"), Way("distorted", 0.5, "signal"),
        Way("humming", 0.5, "signal"),
    ),
    "feed": (Way("silent", 1), Way("quiet", 0.4), Way("distorted", 0.4), Way("humming", 0.4)),
    "circuit": (Way("silent", 1.5),),
    "rack": (Way("silent", 0.5, "dark"),),
    "phase": (Way("silent", 0.3),),
    "board": (Way("silent", 0.3),),
}  # fmt: skip
"""What each fault sounds like and how often it comes: plug and line before driver before channel before amplifier.

A dirty contact or a lost leg of a balanced lead makes quiet, a lost screen hums, a rubbing coil distorts, a shorted load
that the amplifier limits is faint or distorted. Common practice, no source.
"""


class Cause(Struct, frozen=True, kw_only=True):
    """A fault, in one of the ways in which it shows."""

    name: str
    """As `recovery.fail` takes it."""
    place: str = ""
    """Where it is."""
    kind: Kind
    heard: Heard
    """What is heard of the sections that it takes along."""
    at: frozenset[str]
    """Those sections."""
    rate: float
    light: Light = ""


Suspicion: TypeAlias = tuple[Cause, ...]
"""Causes that are there together: none, one, or a pair."""


class Table:
    """Every single fault of a rig as it stands, whatever is marked failed in it already.

    `prior`, an assessment of much the same rig, only saves time.
    """

    def __init__(self, rig: Rig, prior: Assessment | None = None) -> None:
        self.rig = rig
        self.before: Assessed = assess(rig, prior)
        meant = assess(repaired(rig), self.before) if failed(rig) else self.before
        self.meant = {name: section for name, section in meant.sections.items() if section.channel}
        """The sections that play with everything working."""
        self.feeds = {
            name: meant.channels[section.channel or ""].feed for name, section in self.meant.items()
        }
        """Those, and the feed of each."""
        states = {name: self._now(name) for name in self.meant}
        self.now = {name: heard for name, heard in states.items() if heard != "plays"}
        """Those that don't play now, for what is marked failed, and what is heard of each."""
        self._after: dict[tuple[tuple[str, ...], str], Index] = {}
        self.causes = tuple(self._causes())
        """Every single fault in every way, in the order of the rig."""

    @property
    def index(self) -> Index:
        """The look-ups of the rig as it stands."""
        return self.before.index

    def _causes(self) -> Iterator[Cause]:
        marked = {*failed(self.rig)}
        return (
            Cause(name=name, place=place, kind=kind, heard=way.heard, at=at, rate=way.rate, light=way.light)
            for kind, name in possible(self.index)
            if name not in marked
            for place in (place_of(self.index, name),)
            for at in (self.taken_along(Index(fail(self.rig, [name], self.index), self.index)),)
            for way in WAYS[kind]
        )

    def after(self, names: Iterable[str], unplugged: str = "") -> Index:
        """The look-ups of the rig with those failed besides, and that line pulled at its near end."""
        failing = (*names,)
        if (failing, unplugged) not in self._after:
            to = self.index.lines[unplugged].to if unplugged else ""
            rig = fail(self.rig, failing, self.index)
            cabinets = tuple(replace(c, muted=True) if c.id == to else c for c in rig.cabinets)
            rig = replace(rig, cabinets=cabinets) if to else rig
            self._after[failing, unplugged] = Index(rig, self.index)
        return self._after[failing, unplugged]

    def taken_along(self, after: Index) -> frozenset[str]:
        """The sections of which something graver is heard in that rig than now."""
        return frozenset(
            name
            for name, heard in self.changed(after).items()
            if name in self.meant and GRAVEST.index(heard) < GRAVEST.index(self.now.get(name, GRAVEST[-1]))
        )

    def changed(self, after: Index) -> dict[str, Heard]:
        """The sections that hang on what differs in another rig, and what is heard of each there."""
        kept = unchanged(self.before, after)
        stale = [branch for name, branch in self.before.branches.items() if kept.get(name) is not branch]
        names = {section.id for branch in stale for section in branch.sections}
        plays: set[str] = set()
        for branch in stale:
            bare, signs = channel.unsolved(after, after.amplifiers[branch.amplifier.id], branch.channel)
            names.update(f"{cabinet}.{section}" for cabinet, section in signs)
            plays.update(f"{cabinet}.{section}" for cabinet, section in signs if bare.live)
        if self.before.joined:
            plays.update(s.id for branch in kept.values() if branch.live for s in branch.sections)
        return {name: self._heard(after, name) if name in plays else "silent" for name in names}

    def _now(self, name: str) -> Heard:
        return self._heard(self.index, name) if self.before.sections[name].channel else "silent"

    def _heard(self, after: Index, name: str) -> Heard:
        place = after.sections[name]
        fault = outage.fault(after.cabinets[place.cabinet], place.section)
        return "distorted" if fault == "distorted" else "plays"

    def heard(self, section: str, causes: Suspicion) -> Heard:
        """What is heard of a section with those causes."""
        states = [cause.heard for cause in causes if section in cause.at]
        return min([*states, self.now.get(section, GRAVEST[-1])], key=GRAVEST.index)

    def heard_of(self, sections: Iterable[str], causes: Suspicion) -> Heard:
        """What is heard of several sections in one word: where only some are silent they are quiet together."""
        states = {self.heard(name, causes) for name in sections}
        if len(states) == 1:
            return states.pop()
        return next((state for state in ("distorted", "humming") if state in states), "quiet")


def possible(index: Index) -> Iterator[tuple[Kind, str]]:
    """Every single fault there may be: its kind, and its name as `recovery.fail` takes it."""
    yield from (("phase", phase) for phase in PHASES if index.place(phase) == Thing("phase", phase))
    yield from (("board", name) for name in index.boards)
    yield from (("circuit", name) for name in index.circuits)
    yield from (("feed", name) for name in index.feeds)
    yield from (("rack", name) for name in index.racks)
    yield from (("amplifier", name) for name in index.amplifiers)
    for name in index.channels:
        yield "channel", name
        yield "input", f"{name}=input"
    yield from (("socket", name) for name in index.sockets)
    yield from (("pole pair of a socket", name) for name in index.pole_pairs)
    yield from (("line", name) for name in index.lines)
    yield from (("pole pair of a line", name) for name in index.line_pairs)
    yield from (("cabinet", name) for name in index.cabinets)
    for name, place in index.sections.items():
        if place.section in index.cabinets[place.cabinet].faults:
            continue
        for kind in FAULTS:
            yield kind, name if kind == FAULTS[0] else f"{name}={kind}"
