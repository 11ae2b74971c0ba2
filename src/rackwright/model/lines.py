"""Lines, the cabinets at their ends, and what stands by: spares, and the cables that the company owns.

Frozen structs that mirror a rig file key by key. Holds no physics and no rules.
"""

from typing import Literal, TypeAlias

from msgspec import Struct, field

from rackwright.model.equipment import SectionKind
from rackwright.model.mains import State
from rackwright.units import Length

Fault: TypeAlias = Literal["open", "shorted", "distorted"]
"""What a driver does that has failed."""
FAULTS: tuple[Fault, ...] = ("open", "shorted", "distorted")
Side: TypeAlias = Literal["", "left", "right"]
Depth: TypeAlias = Literal["", "front", "middle", "back"]
Role: TypeAlias = Literal["audience", "fill", "delay", "monitor"]
Access: TypeAlias = Literal["ground", "flown"]


class Line(Struct, frozen=True, kw_only=True, gc=False):
    """One cable run: from a rack socket, or from a cabinet's link, to a cabinet."""

    id: str
    source: str = field(name="from")
    """Id of the socket or cabinet at the near end."""
    to: str
    """Id of the cabinet at the far end."""
    cable: str
    length: Length
    poles: tuple[int, ...] = ()
    """For each pole pair of the far end the pole pair of the near end it is joined to; straight where empty."""
    cores_per_pole: int = 1
    state: State = "ok"
    failed_pairs: tuple[int, ...] = ()
    """Its pole pairs that are dead, from 1, counted at the near end."""


class Cabinet(Struct, frozen=True, kw_only=True, gc=False):
    """A loudspeaker in its place."""

    id: str
    model: str
    wiring: str = ""
    """One of the model's wirings; its first where empty."""
    priority: int | None = None
    """1 matters most when something must go silent; where not stated it follows role and kind of section."""
    position: str = ""
    side: Side = ""
    depth: Depth = ""
    role: Role = "audience"
    access: Access = "ground"
    """Flown: out of reach until it comes down."""
    links_to: tuple[str, ...] = ()
    """The cabinets that a cable from it is known to reach."""
    state: State = "ok"
    """Failed as a whole: nothing of it sounds; what hangs on its link goes on."""
    faults: dict[str, Fault] = {}
    """Section → what is wrong with it."""

    def priority_of(self, kind: SectionKind) -> float:
        """Of a section of that kind: as stated, else by role, subs half a step later. Common practice, no source."""
        if self.priority is not None:
            return self.priority
        return (1.0 if self.role == "audience" else 2.0) + (0.5 if kind == "low" else 0.0)

    muted: bool = False
    """Silent by choice: its plug is pulled, so that what hangs on its link is silent too."""


class Spare(Struct, frozen=True, kw_only=True, gc=False):
    """Equipment of one kind that stands by for a failure: a cable of one length, or an amplifier."""

    cable: str = ""
    """Id of a cable model; with it goes `length`."""
    length: Length | None = None
    amplifier: str = ""
    """Id of an amplifier model."""
    count: int = 1
    """How many of it; none once the last is in use."""
    case: str = ""
    """Where it is kept."""

    @property
    def id(self) -> str:
        """What it is called: `flex-4x2.5 5 m`, `amp-2ch-1800`."""
        return f"{self.cable} {self.length or ''}".rstrip() if self.cable else self.amplifier


class Stock(Struct, frozen=True, kw_only=True, gc=False):
    """Cables of one type and length that the company owns, for the pull list to choose from."""

    cable: str
    """Id of a cable model."""
    length: Length
    count: int = 1
    """How many of it, those in use included."""
    case: str = ""
    """Where it is kept."""

    @property
    def id(self) -> str:
        """What it is called: `flex-4x2.5 20 m`."""
        return f"{self.cable} {self.length}"
