"""The mains as a value: supply, boards, circuits and what other than amplifiers hangs on them, as a tree.

Frozen structs that mirror a rig file key by key. The supply feeds boards and circuits, a board more of both, by a supply cable
each; its rating is that of the device at the near end of that cable. Holds no physics and no rules.
"""

from typing import Literal, TypeAlias

from msgspec import Struct, field

from rackwright.units import (
    ApparentPower,
    ConductorSize,
    Current,
    Frequency,
    Length,
    Power,
    ResidualCurrent,
    Resistance,
    Temperature,
    Voltage,
    typeset,
)

State: TypeAlias = Literal["ok", "failed"]
Phase: TypeAlias = Literal["L1", "L2", "L3"]
Phases: TypeAlias = Literal["L1", "L2", "L3", "L1-L2", "L2-L3", "L1-L3", "L1-L2-L3"]
"""One or more of them. Of a circuit: two are line to line, three a five-pin outlet."""
SomePhases: TypeAlias = Literal["", "L1", "L2", "L3", "L1-L2", "L2-L3", "L1-L3", "L1-L2-L3"]
"""The same; not stated where empty."""
Curve: TypeAlias = Literal["B", "C", "D"]
ConductorClass: TypeAlias = Literal["", "cord", "60 degC", "90 degC", "fixed"]
"""Not stated; a cord, a flexible cable of that temperature, or fixed wiring."""
Laid: TypeAlias = Literal["", "free air", "grouped", "drum", "conduit", "clipped"]
PHASES: tuple[Phase, ...] = ("L1", "L2", "L3")
_PHASES_OF: dict[Phases, tuple[Phase, ...]] = {
    "L1": ("L1",),
    "L2": ("L2",),
    "L3": ("L3",),
    "L1-L2": ("L1", "L2"),
    "L2-L3": ("L2", "L3"),
    "L1-L3": ("L1", "L3"),
    "L1-L2-L3": PHASES,
}


def phases_of(phases: Phases) -> tuple[Phase, ...]:
    """Each of them by itself."""
    return _PHASES_OF[phases]


class Supply(Struct, frozen=True, kw_only=True, gc=False):
    """The mains, phase to neutral, and whose rules judge the circuits."""

    voltage: Voltage = Voltage.parse("230 V")
    frequency: Frequency = Frequency.parse("50 Hz")
    rules: Literal["iec", "us"] = "iec"
    ambient: Temperature = Temperature.parse("20 degC")
    """Conductor temperature of loudspeaker and mains cables."""
    phases: Literal[1, 2, 3] | None = None
    """How many it has, 2 being split phase; where None, three as soon as circuits stand on more than one."""
    rating: Current | None = None
    """Of the intake's protective device, per phase; not stated where None."""
    curve: Curve = "C"
    neutral: Current | None = None
    """What the neutral may carry; as much as a phase where None."""
    source_impedance: Resistance | None = None
    """Loop impedance at the intake."""
    generator: ApparentPower | None = None
    """Its rating, all phases together; None on the public mains."""
    generator_power_factor: float = 0.8
    """Its rated kW over its kVA."""
    generator_dip: float = 0.05
    """Share of its voltage that a generator loses from no load to its rating."""
    measured_duty: float | None = None
    """The duty that clamp readings at this venue asked for, taken over by the crew: programme counts with no less."""
    failed_phases: tuple[Phase, ...] = ()
    """Those that are dead, and with them every circuit on them."""

    def device(self, rating: Current | None, curve: Curve) -> str:
        """A breaker as papers name it: `C 16 A`; under US rules `16 A`, for UL 489 has no curves (from memory).

        Empty where its rating is not stated.
        """
        if rating is None:
            return ""
        return f"{curve} {rating}" if self.rules == "iec" else f"{rating}"

    def rated(self, rating: Current | None, curve: Curve) -> str:
        """The same where ratings stand in a column: `16 A C`."""
        if rating is None:
            return ""
        return f"{rating} {curve}" if self.rules == "iec" else f"{rating}"

    @property
    def guard(self) -> str:
        """What trips by residual current, as the trade there calls it."""
        return "RCD" if self.rules == "iec" else "GFCI"


class SupplyCable(Struct, frozen=True, kw_only=True, gc=False):
    """The mains cable that feeds a board or a circuit."""

    length: Length
    size: ConductorSize
    conductor_class: ConductorClass = field(default="", name="class")
    laid: Laid = ""
    grouped: int | None = None
    """How many loaded cables lie together, this one included."""
    layers: int | None = None
    """On the drum."""
    earth: ConductorSize | None = None
    """Of its earth conductor; as the others where None."""
    max_current: Current | None = None
    """What its maker lets it carry as it is laid; from tables where None."""

    @property
    def made_and_laid(self) -> str:
        """As papers say it: `90 °C, free air`; empty where neither is stated."""
        return ", ".join(filter(None, (typeset(self.conductor_class), self.laid)))


class Board(Struct, frozen=True, kw_only=True, gc=False):
    """A distribution board between supply and circuits."""

    id: str
    source: str = field(default="", name="from")
    """Id of the board that feeds it; the supply where empty."""
    rating: Current | None = None
    """Of the device at the near end of its supply cable, per phase; not stated where None."""
    curve: Curve = "C"
    neutral: Current | None = None
    """What the neutral may carry; as much as a phase where None."""
    phase: SomePhases = ""
    """Those that it has; all of its parent's where empty."""
    rcd: ResidualCurrent | None = None
    """Rated residual current of the one that guards it."""
    supply_cable: SupplyCable | None = None
    state: State = "ok"
    """Failed: dead, and with it all that hangs on it."""


class Measured(Struct, frozen=True, kw_only=True, gc=False):
    """A current as a clamp meter showed it: the mean over a minute or more, of the fullest phase."""

    current: Current
    when: str = ""
    """`2026-05-01 21:00`, local time."""


class Circuit(Struct, frozen=True, kw_only=True, gc=False):
    """A mains circuit at the venue."""

    id: str
    board: str = ""
    """Id of the board that it leaves from; the supply where empty."""
    phase: Phases = "L1"
    breaker: Current
    curve: Curve = "C"
    neutral: Current | None = None
    """What the neutral may carry; as much as a phase where None."""
    rcd: ResidualCurrent | None = None
    """Rated residual current of its own."""
    supply_cable: SupplyCable | None = None
    measured: Measured | None = None
    state: State = "ok"
    """Failed: tripped or dead, and with it every amplifier on it."""


class Load(Struct, frozen=True, kw_only=True, gc=False):
    """What else hangs on a circuit: lights, backline, catering. It counts in full at every duty."""

    id: str
    name: str = ""
    circuit: str = ""
    power: Power | None = None
    current: Current | None = None
    """A, of each phase; one of the two is stated."""
    power_factor: float = 1.0
    leakage: ResidualCurrent | None = None
    """To earth; none where not stated."""
    inrush: Current | None = None
    position: str = ""
    state: State = "ok"
    """Failed: it draws nothing."""
