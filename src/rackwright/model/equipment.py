"""Equipment: what an amplifier, loudspeaker, cable or connector of a given make is, as its data sheet says.

Frozen structs that mirror the `[[equipment.*]]` entries of a rig file. Holds no physics: what follows
from the figures is the engine's business.
"""

from typing import Literal, TypeAlias, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from rackwright.units import (
    Capacitance,
    ConductorSize,
    Current,
    Frequency,
    Impedance,
    Inductance,
    Level,
    LineInductance,
    Mass,
    Power,
    ResidualCurrent,
    Resistance,
    Voltage,
)

SectionKind: TypeAlias = Literal["low", "mid", "high", "full"]
Box: TypeAlias = Literal["sealed", "vented", "free air"]
Assumable: TypeAlias = Literal[
    "gain", "idle_power", "efficiency", "power_factor", "inrush", "max_current", "weight"
]
"""A figure of an amplifier that a job sheet lacks, and that may be assumed."""


class Rating(Struct, frozen=True, kw_only=True, gc=False):
    """One rated point: the power one channel delivers into a load."""

    load: Impedance
    power: Power


class DampingRating(Struct, frozen=True, kw_only=True, gc=False):
    """A damping factor as rated, and the load it is stated for (IEC 60268-3)."""

    value: float
    load: Impedance


class AmplifierModel(Struct, frozen=True, kw_only=True, gc=False):
    """A power amplifier's data sheet."""

    id: str
    name: str = ""
    channels: int
    height: int
    """Rack units."""
    ratings: tuple[Rating, ...]
    """One channel's rated points, in any order."""
    bridged: tuple[Rating, ...] = ()
    """A bridged pair's rated points; derived from `ratings` where empty."""
    open_voltage: Voltage | None = None
    damping_factor: DampingRating
    gain: Level
    idle_power: Power
    efficiency: float
    """Output power over input power above idle, 0 to 1."""
    power_factor: float
    inrush: Current
    inrush_kind: Literal["peak", "rms"] = "peak"
    """What its data sheet states."""
    leakage: ResidualCurrent = ResidualCurrent.parse("1 mA")
    """To earth; the usual one is common practice, no source."""
    mains: tuple[Voltage, Voltage] | None = None
    """The lowest and the highest supply that it takes; not stated where None."""
    output: Literal["", "full bridge"] = ""
    """Full bridge: both contacts of a channel are live to earth."""
    terminals: Literal["exposed", "shrouded"]
    max_current: Current
    """Of one output terminal."""
    weight: Mass
    assumed: tuple[Assumable, ...] = ()
    """The figures that no data sheet says: they stand here all the same, so that they are the same wherever it is read."""


class Driver(Struct, frozen=True, kw_only=True, gc=False):
    """Small-signal parameters of the driver or drivers of a section, and their box.

    Sealed and free air: as mounted. Vented: `fs`, `qms`, `qes` in free air, with `alpha` (compliance
    ratio), `fb` (box tuning) and `ql` (box loss).
    """

    fs: Frequency
    qms: float
    qes: float
    le: Inductance
    box: Box = "sealed"
    alpha: float | None = None
    fb: Frequency | None = None
    ql: float = 7.0


class Section(Struct, frozen=True, kw_only=True, gc=False):
    """A part of a loudspeaker with its own pair of terminals: one driver, or several wired as one."""

    id: str
    kind: SectionKind
    nominal: Impedance
    dc_resistance: Resistance
    continuous: Power
    programme: Power | None = None
    peak: Power | None = None
    lowest: Frequency
    highest: Frequency | None = None
    """Above this the section gives nothing useful; not stated where None."""
    sensitivity: Level | None = None
    """Level at 1 m for 2.83 V."""
    capacitor: Capacitance | None = None
    """In series with it, in the cabinet or in its plug; none where None."""
    driver: Driver | None = None


class LoudspeakerModel(Struct, frozen=True, kw_only=True, gc=False):
    """A loudspeaker's data sheet."""

    id: str
    name: str = ""
    connector: str
    """Id of the connector of its input and its link."""
    sections: tuple[Section, ...]
    wirings: dict[str, tuple[tuple[str, ...], ...]]
    """Name → for each pole pair the sections it drives in parallel. Never mutated."""
    weight: Mass | None = None

    def section(self, section_id: str) -> Section:
        """The section of that id. Raises KeyError."""
        for section in self.sections:
            if section.id == section_id:
                return section
        raise KeyError(section_id)


USUAL_INDUCTANCE = LineInductance.parse("0.65 uH/m")
"""Of a cable whose data sheet states none: common practice, no source."""


class CableModel(Struct, frozen=True, kw_only=True, gc=False):
    """A loudspeaker cable by the metre."""

    id: str
    name: str = ""
    cores: int
    size: ConductorSize
    max_current: Current
    """Of one core."""
    inductance: LineInductance = USUAL_INDUCTANCE
    """Of a pair there and back."""


class ConnectorModel(Struct, frozen=True, kw_only=True, gc=False):
    """A loudspeaker connector."""

    id: str
    name: str = ""
    pole_pairs: int
    contact_resistance: Resistance
    """Of one mated contact."""
    max_current: Current
    """Of one contact."""
    shrouded: bool


EquipmentEntry: TypeAlias = AmplifierModel | LoudspeakerModel | CableModel | ConnectorModel
E = TypeVar("E", AmplifierModel, LoudspeakerModel, CableModel, ConnectorModel)


class Equipment(Struct, frozen=True, kw_only=True, gc=False):
    """A set of equipment entries: what a rig carries, a user's library, or the built-in catalogue."""

    amplifiers: tuple[AmplifierModel, ...] = ()
    loudspeakers: tuple[LoudspeakerModel, ...] = ()
    cables: tuple[CableModel, ...] = ()
    connectors: tuple[ConnectorModel, ...] = ()

    def over(self, other: "Equipment") -> "Equipment":
        """Both sets, an entry of this one taking the place of an entry of `other` with the same id."""
        return Equipment(
            amplifiers=_over(self.amplifiers, other.amplifiers),
            loudspeakers=_over(self.loudspeakers, other.loudspeakers),
            cables=_over(self.cables, other.cables),
            connectors=_over(self.connectors, other.connectors),
        )

    def without(self, kind: str, name: str) -> "Equipment":
        """The set without the entry of that kind and id."""
        return replace(self, **{kind: tuple(held for held in getattr(self, kind) if held.id != name)})

    def entries(self) -> tuple[EquipmentEntry, ...]:
        """Every entry, kind after kind."""
        return (*self.amplifiers, *self.loudspeakers, *self.cables, *self.connectors)


EQUIPMENT_KINDS: dict[str, type[EquipmentEntry]] = {
    "amplifiers": AmplifierModel,
    "loudspeakers": LoudspeakerModel,
    "cables": CableModel,
    "connectors": ConnectorModel,
}
"""Kind, the name of its table → what its entries are."""


def noun(kind: str) -> str:
    """What one of a kind is called: `amplifier` of `amplifiers`."""
    return kind.removesuffix("s")


def equipment_kind(entry: EquipmentEntry) -> str:
    """Which of EQUIPMENT_KINDS an entry is."""
    return next(kind for kind, model in EQUIPMENT_KINDS.items() if isinstance(entry, model))


def _over(nearer: tuple[E, ...], further: tuple[E, ...]) -> tuple[E, ...]:
    taken = {entry.id: entry for entry in nearer}
    kept = tuple(taken.pop(entry.id, entry) for entry in further)
    return kept + tuple(entry for entry in nearer if entry.id in taken)
