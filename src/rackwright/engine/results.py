"""What an assessment says: frozen values, figures in SI, each looked up by id.

Holds no formula. A figure is None where there is nothing to say: a channel with no load, a section that
nothing drives.
"""

import math
from collections.abc import Mapping
from typing import Literal, NamedTuple, TypeAlias

from msgspec import Struct

from rackwright.engine import decay, frequency_response, loudspeaker, network
from rackwright.engine.conductor import WORN
from rackwright.engine.frequency_response import Circuit
from rackwright.engine.outage import Outage
from rackwright.model.equipment import Section, SectionKind
from rackwright.model.mains import Phase, Phases, State, phases_of
from rackwright.model.racks import Mode

Severity: TypeAlias = Literal["stop", "warn", "note"]
SEVERITIES: tuple[Severity, ...] = ("stop", "warn", "note")
_COUNTED = {"stop": "stop", "warn": "warning", "note": "note"}

SUPPLY = "supply"
"""What the supply as a whole is called as a place; a phase of it is `supply.L1`."""


def point_name(at: str) -> str:
    """What a circuit, a board or the supply is called in a sentence."""
    return "the intake" if at == SUPPLY else at


def graver(one: Severity, other: Severity | None) -> bool:
    """Whether one severity is graver than the other; than nothing each is."""
    return other is None or SEVERITIES.index(one) < SEVERITIES.index(other)


def counted(number: int, severity: Severity) -> str:
    """So many findings of a severity in words: `0 stops`, `1 warning`."""
    return f"{number} {_COUNTED[severity]}{'' if number == 1 else 's'}"


BTU_PER_HOUR = 3.412142
"""BTU/h in one watt. Source: NIST SP 811, 1 Btu(IT)/h = 0.2930711 W."""


class Limit(Struct, frozen=True, gc=False):
    """What a figure is held against."""

    bound: Literal["at least", "at most"]
    value: float
    why: str
    """Whose limit it is."""

    def margin(self, figure: float) -> float:
        """How far inside the limit a figure is: 1 with all to spare, 0 at the limit, below 0 past it."""
        if self.bound == "at most":
            return 1 - figure / self.value if self.value else (0.0 if figure <= 0 else -1.0)
        return 1 - self.value / figure if figure > 0 else -1.0

    def broken_by(self, figure: float) -> bool:
        """Whether a figure is past the limit, by more than rounding makes of a figure that is at it."""
        slack = 1e-9 * abs(self.value)
        return figure > self.value + slack if self.bound == "at most" else figure < self.value - slack


class Finding(Struct, frozen=True, gc=False):
    """A judgement: what is wrong at a place, how bad it is, and what to do."""

    code: str
    severity: Severity
    at: str
    """Id of a channel (`A1.1`), a section (`SUB-L1.upper`), or any other thing of the rig."""
    message: str
    advice: str
    figure: float | None = None
    """In the unit of its limit; None where there are no degrees."""
    limit: Limit | None = None
    """What the figure is past."""

    @property
    def excess(self) -> float:
        """How far the figure is past its limit, as a share of it, more being graver; 0 where there are no degrees."""
        return 0.0 if self.limit is None or self.figure is None else -self.limit.margin(self.figure)

    @property
    def sentence(self) -> str:
        """The message, the place before it where it does not begin with it."""
        return self.message if self.message.startswith(self.at) else f"{self.at}: {self.message}"


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
    def phases(self) -> tuple[Phase, ...]:
        """Those that it is on."""
        return phases_of(self.phase)

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


class RackResult(Whole, frozen=True, kw_only=True, gc=False):
    """A rack as a load on the floor, the mains and the room."""

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
