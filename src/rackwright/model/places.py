"""Places of a rig as values: a channel, a pole pair, a section, or a thing by its id, each printing as the crew writes it.

An id may hold nearly any sign, so a written name is never taken apart: `Index.place` looks it up among what the rig
has, and the rules see to it that no two places are written alike.
"""

from typing import ClassVar, TypeAlias

from msgspec import Struct

from rackwright.model.racks import channel_name


class ChannelPlace(Struct, frozen=True, gc=False):
    """A channel of an amplifier: `A1.2`."""

    kind: ClassVar[str] = "channel"
    amplifier: str
    channel: int
    """Index from 0."""

    def __str__(self) -> str:
        return channel_name(self.amplifier, self.channel)

    @property
    def thing(self) -> str:
        """The id of the thing that it is on."""
        return self.amplifier


class PolePair(Struct, frozen=True, gc=False):
    """A pole pair of a rack's socket: `R1-1/2`."""

    kind: ClassVar[str] = "pole"
    socket: str
    pair: int
    """Index from 0."""

    def __str__(self) -> str:
        return f"{self.socket}/{self.pair + 1}"

    @property
    def thing(self) -> str:
        """The id of the thing that it is on."""
        return self.socket


class LinePair(Struct, frozen=True, gc=False):
    """A pole pair of a line: `C1/2`."""

    kind: ClassVar[str] = "line pair"
    line: str
    pair: int
    """Index from 0, at the near end."""

    def __str__(self) -> str:
        return f"{self.line}/{self.pair + 1}"

    @property
    def thing(self) -> str:
        """The id of the thing that it is on."""
        return self.line


class SectionPlace(Struct, frozen=True, gc=False):
    """A section of a cabinet: `SUB-L1.upper`."""

    kind: ClassVar[str] = "section"
    cabinet: str
    section: str

    def __str__(self) -> str:
        return f"{self.cabinet}.{self.section}"

    @property
    def thing(self) -> str:
        """The id of the thing that it is on."""
        return self.cabinet


class Thing(Struct, frozen=True, gc=False):
    """Whatever has an id of its own."""

    kind: str
    """`board`, `circuit`, `load`, `feed`, `rack`, `amplifier`, `socket`, `line`, `cabinet`, `phase`."""
    id: str

    def __str__(self) -> str:
        return self.id

    @property
    def thing(self) -> str:
        """Its id."""
        return self.id


Place: TypeAlias = ChannelPlace | PolePair | LinePair | SectionPlace | Thing
