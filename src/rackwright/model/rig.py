"""The rig as a value: mains, feeds, racks, lines and cabinets at one venue, and what the user accepts of them.

Frozen structs that mirror a rig file key by key; what is in `mains`, `racks`, `lines`, `readings` and `night` is put together
here. Things refer to one another by id, as on the crew's tape; `Index` looks the ids up. Holds no physics and no rules: what is
wrong with a rig is said by `rules`, what it does by the engine.
"""

from typing import Literal

from msgspec import Struct

from rackwright.model.equipment import Equipment
from rackwright.model.lines import Cabinet, Line, Spare, Stock
from rackwright.model.mains import Board, Circuit, Load, Supply
from rackwright.model.night import Failure, Night, NightList
from rackwright.model.racks import Amplifier, Feed, Rack, Socket
from rackwright.model.readings import Reading
from rackwright.units import Duration, Level

FORMAT = 2
FORMATS = (1, FORMAT)
"""Those that are read."""

FRONT_OF_HOUSE = "front of house"


class Venue(Struct, frozen=True, kw_only=True, gc=False):
    """Where the rig stands, as free text; nothing where it stands nowhere yet."""

    name: str = ""
    date: str = ""
    times: str = ""
    """Load-in, doors, curfew."""
    address: str = ""
    contacts: str = ""
    """Who to call."""


class MoveTimes(Struct, frozen=True, kw_only=True, gc=False):
    """What the crew takes for each thing that it does after a failure: common practice, no source."""

    mute: Duration = Duration.parse("3 s")
    limiter: Duration = Duration.parse("15 s")
    feed: Duration = Duration.parse("15 s")
    trim: Duration = Duration.parse("10 s")
    repatch: Duration = Duration.parse("20 s")
    plug: Duration = Duration.parse("15 s")
    new_line: Duration = Duration.parse("60 s")
    mode: Duration = Duration.parse("60 s")
    between_racks: Duration = Duration.parse("60 s")
    to_rack: Duration = Duration.parse("60 s")
    """From front of house."""
    circuit_plug: Duration = Duration.parse("20 s")
    spare_amplifier: Duration = Duration.parse("300 s")


class Targets(Struct, frozen=True, kw_only=True, gc=False):
    """What the user accepts, and the duties that power and current are calculated for."""

    damping_factor: float = 20.0
    """Lowest accepted on sections of kind low."""
    cable_loss: Level = Level.parse("0.5 dB")
    """Highest accepted."""
    programme_duty: float = 0.125
    """Mean output power over full sine power: music just below clipping."""
    heavy_duty: float = 0.3333
    """The same, driven hard."""
    crew: Literal[1, 2] = 1
    """How many can move when something fails."""
    crew_at: str = FRONT_OF_HOUSE
    """Where they stand: front of house, or the id of a rack."""
    times: MoveTimes = MoveTimes()


class Rig(Struct, frozen=True, kw_only=True, gc=False):
    """Everything: one rig at one venue."""

    format: int = FORMAT
    name: str
    notes: str = ""
    wet: bool = False
    """Outdoors, or damp: what can be touched, and residual currents, are judged harder."""
    venue: Venue = Venue()
    supply: Supply = Supply()
    targets: Targets = Targets()
    boards: tuple[Board, ...] = ()
    circuits: tuple[Circuit, ...] = ()
    loads: tuple[Load, ...] = ()
    feeds: tuple[Feed, ...] = ()
    racks: tuple[Rack, ...] = ()
    lines: tuple[Line, ...] = ()
    cabinets: tuple[Cabinet, ...] = ()
    spares: tuple[Spare, ...] = ()
    stock: tuple[Stock, ...] = ()
    """What the company owns; where empty, the user's own list holds."""
    readings: tuple[Reading, ...] = ()
    """Of the meter check, one for a pole pair at most."""
    night: tuple[Night, ...] = ()
    """One while something that a plan was taken for, or that was changed for the night, is to be returned, or is heard."""
    equipment: Equipment = Equipment()
    """Every entry the rig uses, so that it opens the same anywhere."""

    @property
    def programme_duty(self) -> float:
        """The duty that programme is counted with here: the target's, or what was measured at the venue where that is more."""
        return max(self.targets.programme_duty, self.supply.measured_duty or 0.0)

    @property
    def lists(self) -> tuple[NightList, ...]:
        """The lists of the night."""
        return tuple(each for night in self.night for each in night.lists)

    @property
    def failures(self) -> dict[str, Failure]:
        """What is marked failed → since when, where that is known."""
        return {each.what: each for night in self.night for each in night.failures}

    @property
    def heard(self) -> dict[str, str]:
        """What is heard of places, and what tests showed."""
        return {place: said for night in self.night for place, said in night.heard.items()}

    @property
    def title(self) -> str:
        """What it is called, and where it stands: at the head of every screen, page and sheet."""
        return f"{self.name} at {self.venue.name}" if self.venue.name else self.name

    def amplifiers(self) -> tuple[Amplifier, ...]:
        """Every amplifier, rack after rack."""
        return tuple(amplifier for rack in self.racks for amplifier in rack.amplifiers)

    def sockets(self) -> tuple[Socket, ...]:
        """Every socket, rack after rack."""
        return tuple(socket for rack in self.racks for socket in rack.sockets)
