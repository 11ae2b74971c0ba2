"""What an assessment says: frozen values, figures in SI, each looked up by id.

Holds no formula. A figure is None where there is nothing to say: a channel with no load, a section that
nothing drives.
"""

import math
from collections.abc import Mapping
from typing import Literal, TypeAlias

from msgspec import Struct

from rackwright.engine import decay, frequency_response, loudspeaker, network
from rackwright.engine.conductor import WORN
from rackwright.engine.demand import (
    SUPPLY,
    AmplifierResult,
    BoardResult,
    CircuitResult,
    LoadResult,
    Meeting,
    PhaseResult,
    RackResult,
    RcdResult,
    SupplyResult,
)
from rackwright.engine.finding import SEVERITIES, Finding, Limit, Severity, counted
from rackwright.engine.frequency_response import Circuit
from rackwright.engine.outage import Outage
from rackwright.model.equipment import Section, SectionKind
from rackwright.model.mains import Phase, State
from rackwright.model.racks import Mode


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
    outage: Outage | None = None
    """Where it has failed, what keeps it silent."""
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
    load_minimum_at: float | None = None
    """Hz, where it is."""
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
    """dBu of the volts peak."""
    limiter_peak_sine_dbu: float | None = None
    """The same on the scale of a processor that is calibrated in the rms of a sine."""


class SectionResult(Struct, frozen=True, kw_only=True, gc=False):
    """A section of a cabinet at its amplifier's full power."""

    cabinet: str
    section: str
    kind: SectionKind
    channel: str | None = None
    """What drives it; None where nothing does."""
    patched: str | None = None
    """What it is patched to, failed or not."""
    polarity: int | None = None
    """+1 or −1, feed and patch together."""
    voltage: float | None = None
    """V rms."""
    power: float | None = None
    """W, V²/Z nominal."""
    limited_power: float | None = None
    """W, the same while the rms limiter of its feed holds the terminals; None where none is set."""
    gain: float | None = None
    """dB from the processor to the section: the amplifier's, its trim, the cable."""
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
    advised_capacitor: float | None = None
    """F, protective capacitor of a high section with a channel of its own."""
    circuit: Circuit | None = None
    """Its channel's, where it sounds."""
    place: int = 0
    """Which of the circuit's sections it is, from 0."""

    @property
    def id(self) -> str:
        """`SUB-L1.upper`."""
        return f"{self.cabinet}.{self.section}"

    @property
    def model(self) -> Section | None:
        """What it is, where it sounds."""
        return self.circuit.sections[self.place] if self.circuit else None

    # What follows is found when asked for: it would take longer than all the rest.

    @property
    def level(self) -> float | None:
        """dB at 1 m at full power; None without a sensitivity."""
        model = self.model
        if model is None or model.sensitivity is None or self.voltage is None:
            return None
        return loudspeaker.level(model.sensitivity.value, self.voltage)

    @property
    def ripple(self) -> float | None:
        """dB of level spread over the band, from the source's impedance against its own."""
        return frequency_response.ripples(self.circuit)[self.place].spread if self.circuit else None

    @property
    def band_top_loss(self) -> float | None:
        """dB between the amplifier's terminals and the section at the top of the band, the cable's inductance included."""
        return frequency_response.band_top_losses(self.circuit)[self.place] if self.circuit else None

    @property
    def damping_factor_worn(self) -> float | None:
        """The damping factor with worn contacts."""
        return self._worn()[1]

    @property
    def loss_worn(self) -> float | None:
        """dB between the amplifier's terminals and the section with worn contacts."""
        return self._worn()[0]

    def _worn(self) -> tuple[float | None, float | None]:
        if self.circuit is None:
            return None, None
        circuit = self.circuit.worn(WORN)
        solution = network.solve_nominal(circuit.roots)
        transfer = solution.transfers[self.place]
        damping = network.damping_factor(transfer, solution.admittance, circuit.output_resistance)
        return -20 * math.log10(transfer), damping

    @property
    def decay(self) -> float | None:
        """s to −20 dB after a burst, as wired; None where it is silent, without driver data, and behind a capacitor."""
        return self._decay(self.source_resistance)

    @property
    def decay_ideal(self) -> float | None:
        """s to −20 dB after a burst with no source resistance."""
        return self._decay(0.0)

    def _decay(self, resistance: float | None) -> float | None:
        model = self.model
        if self.circuit is None or model is None or resistance is None:
            return None
        return decay.decay(model, resistance, self.circuit.band[0])


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


class PastRating(Struct, frozen=True, gc=False):
    """A part that the full-power current flows through and is over the rating of."""

    at: str
    """A channel (its amplifier's terminals) or a line."""
    current: float
    """A rms at full power."""
    limit: Limit
    whose: str
    """The part, in words."""


TouchClass: TypeAlias = Literal["ES1", "ES2", "ES3"]
Contact: TypeAlias = Literal["terminals", "socket", "cabinet"]


class TouchResult(Struct, frozen=True, kw_only=True, gc=False):
    """A place where a channel's voltage stands on metal."""

    place: str
    """A channel (its amplifier's terminals), a socket or a cabinet (their connector)."""
    contact: Contact
    channel: str
    """Whose voltage it is: the highest that stands there."""
    voltage: float
    """V rms, worst case."""
    touch_class: TouchClass
    exposed: bool
    """Whether a finger reaches it."""
    why: str


class Assessment(Struct, frozen=True, kw_only=True):
    """Everything the engine says of a rig."""

    channels: Mapping[str, ChannelResult]
    """`A1.1` → result, in the order of the rig; the second channel of a bridged pair included."""
    sections: Mapping[str, SectionResult]
    """`SUB-L1.upper` → result."""
    runs: Mapping[str, tuple[RunResult, ...]]
    """Line id → its pole pairs that a channel is patched to."""
    racks: Mapping[str, RackResult]
    amplifiers: Mapping[str, AmplifierResult]
    boards: Mapping[str, BoardResult]
    circuits: Mapping[str, CircuitResult]
    loads: Mapping[str, LoadResult]
    rcds: Mapping[str, RcdResult]
    """Board or circuit → its RCD."""
    phases: Mapping[Phase, PhaseResult]
    """Those in use, `L1` first."""
    supply: SupplyResult
    touch: Mapping[str, TouchResult]
    """Channel → its terminals, socket or cabinet → its connector where a finger reaches it."""
    findings: tuple[Finding, ...]
    """The gravest first."""

    @property
    def working_loads(self) -> Mapping[str, LoadResult]:
        """What else is switched on."""
        return {name: load for name, load in self.loads.items() if load.state == "ok"}

    def most_loaded(self, heavy: bool) -> tuple[str, float] | None:
        """The circuit, board or SUPPLY whose device is nearest to its rating, at programme or driven hard, and how near."""
        points: dict[str, CircuitResult | Meeting] = {**self.circuits, **self.boards, SUPPLY: self.supply}
        shares = {name: point.loading_heavy if heavy else point.loading for name, point in points.items()}
        known = [(name, share) for name, share in shares.items() if share]
        return max(known, key=lambda each: each[1], default=None)

    def worst(self) -> Severity | None:
        """The gravest severity found, None where all is well."""
        return self.findings[0].severity if self.findings else None

    def count(self, severity: Severity) -> int:
        """How many findings of that severity there are."""
        return sum(finding.severity == severity for finding in self.findings)

    def counts(self) -> tuple[str, ...]:
        """How many findings of each severity there are, in words, the gravest first."""
        return tuple(counted(self.count(severity), severity) for severity in SEVERITIES)

    @property
    def verdict(self) -> str:
        """What to do about the gravest finding, in a sentence."""
        return {
            "stop": "Fix every stop before switching anything on.",
            "warn": "Usable; read the warnings.",
        }.get(self.worst() or "", "No problems found.")
