"""What an assessment says of the mains: what each part of the rig takes from them, and what every point of the tree carries.

Frozen values, figures in SI; holds no formula. A figure is None where there is nothing to say.
"""

from typing import Literal, NamedTuple

from msgspec import Struct

from rackwright.model.equipment import Assumable
from rackwright.model.mains import Phase, Phases, State

SUPPLY = "supply"
"""What the supply as a whole is called as a place; a phase of it is `supply.L1`."""


def point_name(at: str) -> str:
    """What a circuit, a board or the supply is called in a sentence."""
    return "the intake" if at == SUPPLY else at


BTU_PER_HOUR = 3.412142
"""BTU/h in one watt. Source: NIST SP 811, 1 Btu(IT)/h = 0.2930711 W."""
DRAWN: tuple[Assumable, ...] = ("idle_power", "efficiency", "power_factor")
"""What an amplifier's current rests on, of its figures that may be assumed; its power on all but the last."""


class Demand(Struct, frozen=True, kw_only=True, gc=False):
    """What a part of the rig takes from the mains at each duty, and the heat it leaves in the room."""

    idle_power: float
    programme_power: float
    heavy_power: float
    """W, input."""
    apparent: float
    """VA at programme."""
    apparent_heavy: float
    heat: float
    """W at programme: input power less what leaves on the speaker lines."""
    heat_heavy: float

    @property
    def real(self) -> float:
        """kW at programme."""
        return self.programme_power / 1000

    @property
    def heat_btu(self) -> float:
        """BTU/h at programme."""
        return self.heat * BTU_PER_HOUR


class Draw(Demand, frozen=True, kw_only=True, gc=False):
    """A demand on one phase, or on several alike."""

    idle_current: float
    programme_current: float
    heavy_current: float
    """A rms, in each phase: the sum of what it carries."""


class Whole(Demand, frozen=True, kw_only=True, gc=False):
    """A demand that may lie on several phases, whose currents are never added."""

    idle_current: float | None
    programme_current: float | None
    heavy_current: float | None
    """A rms; None with more than one phase."""


class Plugged(Draw, frozen=True, kw_only=True, gc=False):
    """What hangs on a circuit: what it draws, or would where it has no power or no circuit yet."""

    id: str
    circuit: str
    """Empty where it has none."""
    power_factor: float
    inrush: float
    """A rms, of a stated peak that of a sine with it."""
    known_inrush: float
    """What of it is not assumed."""


class AmplifierResult(Plugged, frozen=True, kw_only=True, gc=False):
    """An amplifier as a load on the mains."""

    output: float
    """W, full power of its live channels together."""


class LoadResult(Plugged, frozen=True, kw_only=True, gc=False):
    """What else hangs on a circuit."""

    state: State


class Edge(NamedTuple):
    """Where the instantaneous band of a device begins, or would by IEC 60898-1."""

    at: str
    """Of its circuit or board, or SUPPLY."""
    current: float
    """A."""


class CircuitResult(Draw, frozen=True, kw_only=True, gc=False):
    """A mains circuit and what hangs on it; one that has failed carries nothing."""

    id: str
    board: str
    """Empty where it leaves from the supply."""
    phase: Phases
    phases: tuple[Phase, ...]
    """Each of those that it is on."""
    amplifiers: tuple[str, ...]
    loads: tuple[str, ...]
    breaker: float
    """A."""
    loading: float
    """Programme current over the breaker."""
    loading_heavy: float
    drop: float | None
    """% of the supply lost in supply cables from the origin at programme; None where none is stated."""
    drop_heavy: float | None
    inrush: float
    """A rms, all that hangs on it switched together."""
    known_inrush: float
    """What of it is not assumed."""
    inrush_limit: float | None
    """A, where the breaker's instantaneous band begins; None under US rules, which know none."""
    first_to_trip: Edge
    """Of its breaker and the devices before it the one whose band begins lowest."""
    own_drop: tuple[float | None, float | None]
    """What of its drop its own cable takes, at programme and driven hard."""
    uncorrected: tuple[float, float, float]
    """A, what of its current comes in pulses: idle, at programme, driven hard."""
    measured: float | None = None
    """A, as a clamp meter showed it."""
    measured_duty: float | None = None
    """The duty at which it would draw that; None where nothing on it depends on one."""
    state: State = "ok"

    @property
    def live(self) -> bool:
        """Whether it has power."""
        return self.state == "ok"


class PhaseResult(Draw, frozen=True, kw_only=True, gc=False):
    """The circuits of one phase together."""

    id: Phase


class LineCurrent(Struct, frozen=True, kw_only=True, gc=False):
    """The current of one phase in a point of the tree."""

    id: Phase
    idle_current: float
    programme_current: float
    heavy_current: float
    """A rms."""


class Meeting(Whole, frozen=True, kw_only=True, gc=False):
    """A point of the mains tree where circuits meet, behind a protective device."""

    rating: float | None
    """A, of each phase; None where it is not stated."""
    fullest: float
    """A at programme, of its most loaded phase."""
    fullest_heavy: float
    loading: float | None
    """That over its rating."""
    loading_heavy: float | None
    inrush: float
    """A rms, of its fullest phase, all that hangs below it switched together."""
    known_inrush: float
    """The same of what is not assumed."""
    inrush_limit: float | None
    """A, where its device's instantaneous band begins; None where that is not stated, and under US rules."""
    neutral: float | None
    """A at programme, at most, harmonics of uncorrected power supplies included; None on a single phase."""
    neutral_heavy: float | None
    neutral_rating: float | None
    """A; None where it is not stated, and on a single phase."""


class BoardResult(Meeting, frozen=True, kw_only=True, gc=False):
    """A distribution board and all that hangs below it."""

    id: str
    source: str
    """Id of the board that feeds it; the supply where empty."""
    phases: tuple[Phase, ...]
    state: State
    circuits: tuple[str, ...]
    """All below it."""
    lines: tuple[LineCurrent, ...]
    drop: float | None
    """% of the supply lost from the origin up to it at programme; None where no cable on the way is stated."""
    drop_heavy: float | None

    @property
    def live(self) -> bool:
        """Whether it has power."""
        return self.state == "ok"


class RcdResult(Struct, frozen=True, kw_only=True, gc=False):
    """A residual-current device with what leaks behind it."""

    id: str
    """Of its board or circuit."""
    rating: float
    """A."""
    leakage: float
    """A, standing, at most."""


class SupplyResult(Meeting, frozen=True, kw_only=True, gc=False):
    """The whole rig at the mains.

    Amplifiers and loads on no circuit, or on one that has failed, are included: they have to be plugged in somewhere.
    """

    phases: Literal[1, 2, 3]
    measured_duty: float | None
    """The duty at which all circuits that were measured would draw that together; None where it can't be told."""
    imbalance: float | None
    """Largest deviation of a phase from the mean, over the mean, at programme; None on a single phase."""
    imbalance_heavy: float | None
    generator: float | None
    """VA, as rated; None on the public mains."""
    generator_power: float | None
    """W that it is rated for: by definition its VA times its power factor."""
    generator_loading: float | None
    """Programme load over the rating, of the whole or of the fullest phase, whichever is more."""
    generator_loading_heavy: float | None
    generator_real_loading: float | None
    """The same of real power, over the kW that it is rated for."""
    generator_real_loading_heavy: float | None
    dip: float | None
    """% by which the generator's voltage falls at programme; None past its rating, where it is not known."""
    dip_heavy: float | None


class RackResult(Whole, frozen=True, kw_only=True, gc=False):
    """A rack as a load on the floor, the mains and the room."""

    id: str
    weight: float
    """kg of its amplifiers."""
    units_used: int
    units: int
