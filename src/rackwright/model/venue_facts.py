"""The facts of a venue, key by key as its file has them. What becomes of them at a rig is in `venue`."""

from msgspec import Struct

from rackwright.model.lines import Access, Depth, Line, Role, Side
from rackwright.model.mains import Board, Circuit, Load, Supply
from rackwright.model.readings import Reading
from rackwright.model.rig import FORMAT, Venue
from rackwright.units import Length


class LineLength(Struct, frozen=True, kw_only=True, gc=False):
    """How long a line of that id is here."""

    line: str
    to: str = ""
    """Id of the cabinet it leads to: another rig's line of that id that leads elsewhere is another one. Any where empty."""
    length: Length

    def fits(self, line: Line) -> bool:
        """Whether a line is the one that was measured: of that id, to that cabinet."""
        return self.line == line.id and self.to in ("", line.to)


class Position(Struct, frozen=True, kw_only=True, gc=False):
    """Where a cabinet of that id stands here; what is None isn't known, and stays as the rig has it."""

    cabinet: str
    model: str = ""
    position: str = ""
    side: Side | None = None
    depth: Depth | None = None
    role: Role | None = None
    access: Access | None = None
    links_to: tuple[str, ...] | None = None


class Hookup(Struct, frozen=True, kw_only=True, gc=False):
    """The circuit that an amplifier of that id is plugged into here."""

    amplifier: str
    model: str = ""
    place: str = ""
    """Rack and unit, `R1/3`."""
    circuit: str


class Match(Struct, frozen=True, kw_only=True, gc=False):
    """What a person said once of two ids: which thing of a rig has the facts of which that the venue knows."""

    rig: str
    """Name of the rig."""
    known: str
    """The venue's id."""
    here: str = ""
    """The rig's; nothing where it is none of the rig's."""


class Reach(Struct, frozen=True, kw_only=True, gc=False):
    """The circuits that the mains leads of a rack or an amplifier of that id get to here."""

    thing: str
    circuits: tuple[str, ...]


class VenueFacts(Struct, frozen=True, kw_only=True, gc=False):
    """The facts of one venue, as one rig found them: those of another rig stand in a file of their own."""

    format: int = FORMAT
    rig: str = ""
    """Name of the rig that they were taken from; empty where they were written by hand."""
    notes: str = ""
    wet: bool = False
    venue: Venue = Venue()
    supply: Supply = Supply()
    boards: tuple[Board, ...] = ()
    circuits: tuple[Circuit, ...] = ()
    loads: tuple[Load, ...] = ()
    lines: tuple[LineLength, ...] = ()
    positions: tuple[Position, ...] = ()
    mains: tuple[Hookup, ...] = ()
    reaches: tuple[Reach, ...] = ()
    readings: tuple[Reading, ...] = ()
    """Of the meter check: they prove lines of that rig only, and only as they were."""
    matches: tuple[Match, ...] = ()
    """Of other rigs, or of this one since its ids were changed."""

    @property
    def title(self) -> str:
        """What the venue is called, and the rig by which it is known: two rigs' facts of one venue differ in it."""
        return ", as found by ".join(part for part in (self.venue.name, self.rig) if part)
