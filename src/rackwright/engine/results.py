"""What an assessment says: frozen values, figures in SI, each looked up by id.

Holds no formula. A figure is None where there is nothing to say: a channel with no load, a section that
nothing drives.
"""

from collections.abc import Mapping
from typing import Literal, TypeAlias

from msgspec import Struct

from rackwright.model.equipment import SectionKind
from rackwright.model.rig import Mode, State

Severity: TypeAlias = Literal["stop", "warn", "note"]
SEVERITIES: tuple[Severity, ...] = ("stop", "warn", "note")


class Finding(Struct, frozen=True, gc=False):
    """A judgement: what is wrong at a place, how bad it is, and what to do."""

    code: str
    severity: Severity
    at: str
    """Id of a channel (`A1.1`), a section (`SUB-L1.upper`), or any other thing of the rig."""
    message: str
    advice: str


class ChannelResult(Struct, frozen=True, kw_only=True, gc=False):
    """An amplifier channel, or a bridged pair under its first channel's name, at full power."""

    id: str
    amplifier: str
    feed: str
    """The feed it plays: in parallel mode the first channel's. Empty where there is none."""
    state: State
    mode: Mode
    sections: int
    """How many it is patched to."""
    open_voltage: float
    """V rms with nothing connected."""
    output_resistance: float
    """Ω."""
    lowest_load: float
    """Ω, the lowest rated load."""
    load_nominal: float | None = None
    """Ω, its sections in parallel without cable."""
    load_terminal: float | None = None
    """Ω, the same seen through the cable."""
    load_minimum: float | None = None
    """Ω, lowest modulus at the terminals over the feed's band."""
    voltage: float | None = None
    """V rms at the terminals."""
    current: float | None = None
    """A rms."""
    power: float | None = None
    """W at the terminals."""
    limiter_rms: float | None = None
    """V rms at the amplifier output that its sections allow."""
    limiter_peak: float | None = None
    """V peak."""
    limiter_rms_dbu: float | None = None
    limiter_peak_dbu: float | None = None


class SectionResult(Struct, frozen=True, kw_only=True, gc=False):
    """A section of a cabinet at its amplifier's full power."""

    cabinet: str
    section: str
    kind: SectionKind
    channel: str | None = None
    """What drives it; None where nothing does."""
    patched: str | None = None
    """What it is patched to, sound or not."""
    polarity: int | None = None
    """+1 or −1, feed and patch together."""
    voltage: float | None = None
    """V rms."""
    power: float | None = None
    """W, V²/Z nominal."""
    loss: float | None = None
    """dB between the amplifier's terminals and the section."""
    source_resistance: float | None = None
    """Ω, what the section sees looking back."""
    damping_factor: float | None = None
    headroom: float | None = None
    """dB, power over the continuous rating."""
    q_total: float | None = None
    q_total_ideal: float | None = None
    """Total Q of the driver with the source resistance, and with none; None without driver data."""
    ripple: float | None = None
    """dB of level spread over the band, from the source resistance against the impedance."""
    ring_down: float | None = None
    """s to −20 dB; None without driver data."""
    ring_down_cycles: float | None = None
    capacitor: float | None = None
    """F, protective capacitor of a high section with a channel of its own."""

    @property
    def id(self) -> str:
        """`SUB-L1.upper`."""
        return f"{self.cabinet}.{self.section}"


class RunResult(Struct, frozen=True, kw_only=True, gc=False):
    """One pole pair of a line at full power."""

    line: str
    near: int
    """Pole pair at the near end, from 1."""
    far: int
    """Pole pair at the far end, from 1."""
    channel: str
    resistance: float
    """Ω there and back, contacts included."""
    current: float
    """A rms."""
    voltage: float
    """V rms at the far end."""
    loss: float
    """dB from the terminals to the far end."""


class RackResult(Struct, frozen=True, kw_only=True, gc=False):
    """A rack as a load on the floor and the room."""

    id: str
    weight: float
    """kg of its amplifiers."""
    units_used: int
    units: int


class Assessment(Struct, frozen=True, kw_only=True):
    """Everything the engine says of a rig."""

    channels: Mapping[str, ChannelResult]
    """`A1.1` → result, in the order of the rig; the second channel of a bridged pair included."""
    sections: Mapping[str, SectionResult]
    """`SUB-L1.upper` → result."""
    runs: Mapping[str, tuple[RunResult, ...]]
    """Line id → its pole pairs that a channel is patched to."""
    racks: Mapping[str, RackResult]
    findings: tuple[Finding, ...]
    """The gravest first."""

    def at(self, place: str) -> tuple[Finding, ...]:
        """The findings at a place: an id, and the channels or sections under it (`A1` has those of `A1.1`)."""
        return tuple(f for f in self.findings if f.at == place or f.at.startswith(place + "."))

    def worst(self) -> Severity | None:
        """The gravest severity found, None where all is well."""
        return self.findings[0].severity if self.findings else None

    def count(self, severity: Severity) -> int:
        """How many findings of that severity there are."""
        return sum(finding.severity == severity for finding in self.findings)
