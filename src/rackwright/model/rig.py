"""The rig: racks, amplifiers, sockets, lines and cabinets at one venue, as a value.

Frozen structs that mirror a rig file key by key. Things refer to one another by id, as on the crew's
tape; `Index` looks the ids up. Holds no physics and no rules: what is wrong with a rig is said by
`rules`, what it does by the engine.
"""

import functools
from typing import Literal, NamedTuple, TypeAlias

from msgspec import Struct, field

from rackwright.model.equipment import Equipment, SectionKind
from rackwright.model.mains import PHASES as PHASES
from rackwright.model.mains import Board as Board
from rackwright.model.mains import Circuit as Circuit
from rackwright.model.mains import Load as Load
from rackwright.model.mains import Measured as Measured
from rackwright.model.mains import Phase as Phase
from rackwright.model.mains import State as State
from rackwright.model.mains import Supply as Supply
from rackwright.model.mains import SupplyCable as SupplyCable
from rackwright.units import (
    Duration,
    Frequency,
    Length,
    Level,
    LimiterSetting,
    Resistance,
    Temperature,
    Trim,
)

FORMAT = 2
FORMATS = (1, FORMAT)
"""Those that are read."""

Polarity: TypeAlias = Literal["normal", "inverted"]
PeakScale: TypeAlias = Literal["sine", "peak"]
Mode: TypeAlias = Literal["dual", "parallel", "bridged"]
Fault: TypeAlias = Literal["open", "shorted", "distorted"]
"""What a driver does that has failed."""
FAULTS: tuple[Fault, ...] = ("open", "shorted", "distorted")
Side: TypeAlias = Literal["", "left", "right"]
Depth: TypeAlias = Literal["", "front", "middle", "back"]
Role: TypeAlias = Literal["audience", "fill", "delay", "monitor"]
Access: TypeAlias = Literal["ground", "flown"]
Tick: TypeAlias = Literal["", "yes", "no"]
"""What a test by eye or ear found; empty where nobody tested."""
RewiringKind: TypeAlias = Literal[
    "unplug", "plug in", "amplifier", "circuit", "mode", "line", "plug", "repatch", "feed", "trim", "limiter rms", "limiter peak",
]  # fmt: skip
"""What is done to a cabinet's plug; to an amplifier; to a channel pair; to the line of a cabinet; to a line's near end; to a pole
pair; to a channel; to a feed's limiters."""
StepKind: TypeAlias = Literal[
    "prepare", "check", "mute", "turn down", "switch off", "pull mains", "move", "plug mains", "start", "switch on", "turn up", "unmute",
]  # fmt: skip
"""What is done: a feed's output is muted at the processor, a channel's level turned down at the amplifier; the mains plug is
pulled of an amplifier that is off then, and plugged in and the amplifier started."""
FRONT_OF_HOUSE = "front of house"
MODES: tuple[Mode, ...] = ("dual", "parallel", "bridged")


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


class Feed(Struct, frozen=True, kw_only=True, gc=False):
    """A signal from the processor: one band, one polarity, one set of limiters."""

    id: str
    band: tuple[Frequency, Frequency] = (Frequency.parse("20 Hz"), Frequency.parse("20 kHz"))
    polarity: Polarity = "normal"
    limiter_rms: LimiterSetting | None = None
    """As set: volts at the amplifier output, or dBu as the processor shows it."""
    limiter_peak: LimiterSetting | None = None
    """As set: volts peak at the amplifier output, or dBu."""
    limiter_at: str = ""
    """The channel at whose output limiters in volts hold; at each channel's where empty."""
    limiter_peak_scale: PeakScale = "sine"
    """What the processor's peak limiter is calibrated in: the rms of a sine, or volts peak."""
    output: str = ""
    """Of the processor, as that is labelled."""
    side: Side = ""
    substitute_for: tuple[str, ...] = ()
    """The feeds that it may be played in place of."""
    state: State = "ok"
    """Failed: the processor's output is dead."""


class Channel(Struct, frozen=True, kw_only=True, gc=False):
    """One amplifier channel: the feed at its input, and whether it works."""

    feed: str = ""
    trim: Trim = Trim.parse("0 dB")
    """Its input attenuator: 0 dB or less."""
    input: str = ""
    """As the amplifier labels it."""
    state: State = "ok"
    input_state: State = "ok"
    """Failed: the signal lead into it is dead."""


class Amplifier(Struct, frozen=True, kw_only=True, gc=False):
    """An amplifier in a rack."""

    id: str
    model: str
    unit: int
    """Lowest rack unit it occupies."""
    circuit: str = ""
    mode: Mode | tuple[Mode, ...] = "dual"
    """One for all channel pairs, or one for each pair."""
    channels: tuple[Channel, ...] = ()
    """In order; those of the model that are not named here have no feed."""
    state: State = "ok"
    reaches: tuple[str, ...] = ()
    """The circuits that its mains lead gets to; its rack's where empty."""

    def feed_of(self, channel: int) -> str:
        """The feed that a channel (index from 0) plays."""
        return self.channel(self.input_of(channel)).feed

    def input_of(self, channel: int) -> int:
        """The channel whose input a channel (index from 0) plays: in parallel mode and in a bridge its pair's first."""
        return channel - channel % 2 if self.pair_mode(channel) != "dual" else channel

    def pair_mode(self, channel: int) -> Mode:
        """The mode of the pair that holds channel index `channel` (from 0)."""
        if isinstance(self.mode, str):
            return self.mode
        pair = channel // 2
        return self.mode[pair] if pair < len(self.mode) else "dual"

    def channel(self, index: int) -> Channel:
        """The channel of that index (from 0); one with no feed where none is named."""
        return self.channels[index] if index < len(self.channels) else NO_CHANNEL


NO_CHANNEL = Channel()


class Socket(Struct, frozen=True, kw_only=True, gc=False):
    """A connector on a rack's output panel."""

    id: str
    connector: str
    poles: tuple[str, ...] = ()
    """What drives pole pair 1, 2, …: `A1.1`, `-A1.1` reversed, or empty."""

    state: State = "ok"
    failed_pairs: tuple[int, ...] = ()
    """Its pole pairs that are dead, from 1."""

    def pole(self, index: int) -> str:
        """What drives the pole pair of that index (from 0); empty where none is named."""
        return self.poles[index] if index < len(self.poles) else ""


class Rack(Struct, frozen=True, kw_only=True, gc=False):
    """A rack: amplifiers by rack unit, and its output panel."""

    id: str
    name: str = ""
    height: int
    """Rack units."""
    amplifiers: tuple[Amplifier, ...] = ()
    sockets: tuple[Socket, ...] = ()
    state: State = "ok"
    reaches: tuple[str, ...] = ()
    """The circuits that its mains leads get to; not stated where empty."""


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


class FormerReading(Struct, frozen=True, kw_only=True, gc=False):
    """What a meter showed on the same line on an earlier day."""

    ohms: str
    lead_resistance: Resistance = Resistance.parse("0 ohm")
    coil_temperature: Temperature | None = None
    when: str = ""


class Reading(Struct, frozen=True, kw_only=True, gc=False):
    """What the meter check found on one pole pair of a line, measured at the line's near end."""

    line: str
    pair: int = 1
    """Pole pair at the near end, from 1."""
    ohms: str = ""
    """As the meter showed it, `5.9 ohm` or `open`; empty where nothing is measured."""
    lead_resistance: Resistance = Resistance.parse("0 ohm")
    """What the meter showed with its leads touched together, still within `ohms`."""
    coil_temperature: Temperature | None = None
    """Of the voice coils; that of the air where not stated, as before they have played."""
    polarity: Tick = ""
    """Whether it was seen to be right."""
    heard: Tick = ""
    """Whether the drivers of this pair were heard, and no others."""
    heard_from: tuple[str, ...] = ()
    """Ids of the cabinets that were heard on this pair; empty where nobody noted them."""
    when: str = ""
    """`2026-05-01 14:30`, local time."""
    note: str = ""
    last: FormerReading | None = None
    """What it read on an earlier day."""
    sweep: tuple[tuple[float, float, float], ...] = ()
    """Impedance over frequency: Hz, Ω and degrees, in the order of frequency."""
    model: str = ""
    """Of the cabinet that the line led to when it was measured; like `cable` and `length` any where not stated."""
    cable: str = ""
    length: Length | None = None
    behind: tuple[str, ...] | None = None
    """Ids of the cabinets that were linked on behind it; any where not stated."""

    @property
    def id(self) -> str:
        """What it is called: `C1/1`."""
        return f"{self.line}/{self.pair}"

    @property
    def stated(self) -> bool:
        """Whether it says what it was taken on."""
        return bool(self.model and self.cable and self.length)

    def taken_on(self, line: Line, model: str, behind: tuple[str, ...]) -> bool:
        """Whether it was taken on that line as it is: `model` is that of its cabinet, `behind` those linked on. If not it is history, no proof."""
        length = self.length is None or self.length.value == line.length.value
        same = self.model in ("", model) and self.cable in ("", line.cable) and length
        return same and self.behind in (None, behind)


class Rewiring(Struct, frozen=True, kw_only=True, gc=False):
    """One thing that the crew does with its hands."""

    kind: RewiringKind
    at: str
    """The place as it is written: a cabinet, an amplifier, the first channel of a pair, a line, a pole pair, a channel, a feed."""
    old: str = ""
    """From where or what; empty for nothing."""
    new: str = ""
    """To where or what."""
    line: Line | None = None
    """Of a move of the line to a cabinet: what comes; None where it only goes."""
    by: str = ""
    """The spare that it takes."""
    frees: str = ""
    """The spare that it gives back."""


class Step(Struct, frozen=True, kw_only=True, gc=False):
    """A line of a list."""

    kind: StepKind = "move"
    words: str
    """What to do, verb first."""
    where: str = ""
    """Where whoever does it stands, as it is read out."""
    at: tuple[str, ...] = ()
    """The places of the rig that it is done to: feeds, channels, amplifiers, or what is moved."""
    seconds: float = 0.0
    """With the way there."""
    quiet: str = ""
    """What goes silent for it that played, and how long; such a step waits for a gap between songs."""
    silent: int = 0
    """How many sections that is."""
    silent_for: float = 0.0
    """s, of that which is silent longest; 0 where it stays so until the return."""
    takes: str = ""
    """Which of the crew's times it is made of, by its name in `MoveTimes`; empty where it is of several, or a way is in it."""
    later: bool = False
    """Whether sound comes back without it: it makes safe what has failed."""
    done: bool = False


class NightList(Struct, frozen=True, kw_only=True, gc=False):
    """A plan that was taken, or a return, or an edit by hand for this night, with the steps that are ticked."""

    id: str
    title: str
    failed: tuple[str, ...] = ()
    """What it is for, as it is marked failed; nothing for an edit by hand."""
    repaired: tuple[str, ...] = ()
    """What of that is repaired while the return is still to come."""
    when: str = ""
    """`2026-05-01 21:40`, local time."""
    moves: tuple[Rewiring, ...] | None = None
    """What it changes; None of one that an earlier version took."""
    steps: tuple[Step, ...] = ()
    returns: bool = False
    """Whether it is a return: it is gone once it is ticked off."""

    @property
    def ticked(self) -> int:
        """How many steps are done."""
        return sum(step.done for step in self.steps)

    @property
    def done(self) -> bool:
        """Whether every step is done."""
        return self.ticked == len(self.steps)

    @property
    def following(self) -> int:
        """The first step that is not done, from 0, or the last."""
        return next((i for i, step in enumerate(self.steps) if not step.done), max(len(self.steps) - 1, 0))


class Baseline(Struct, frozen=True, kw_only=True, gc=False):
    """What the night changed of a rig as it was before the first failure: whole tables, each empty where it is as it is now."""

    feeds: tuple[Feed, ...] = ()
    racks: tuple[Rack, ...] = ()
    lines: tuple[Line, ...] = ()
    cabinets: tuple[Cabinet, ...] = ()
    spares: tuple[Spare, ...] = ()


class Failure(Struct, frozen=True, kw_only=True, gc=False):
    """When something was marked failed, and what is known to be good since."""

    what: str
    """As it is marked: `A1.2`, `A1.2=input`, `C1/2`."""
    when: str = ""
    """`2026-05-01 21:40`, local time."""
    good: tuple[str, ...] = ()
    """Pole pairs of lines, `C1/2`, that read or played as they should since, with all behind them."""


class Night(Struct, frozen=True, kw_only=True, gc=False):
    """What a rig is for one night because something has failed."""

    baseline: Baseline = Baseline()
    failures: tuple[Failure, ...] = ()
    """What is marked failed, where it is known since when."""
    lists: tuple[NightList, ...] = ()
    """In the order in which they were taken."""
    heard: dict[str, str] = {}
    """Places and tests → what is heard of them and what they showed, until what has failed is marked."""


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


class Pole(NamedTuple):
    """A pole-pair entry of a socket, read: which channel, and +1 or −1."""

    amplifier: str
    channel: int
    """Index from 0."""
    sign: int

    @property
    def name(self) -> str:
        """The channel's name: `A1.1`."""
        return channel_name(self.amplifier, self.channel)

    @property
    def text(self) -> str:
        """The entry as it is written in a socket."""
        return f"{'-' if self.sign < 0 else ''}{self.name}"


def channel_name(amplifier_id: str, channel: int) -> str:
    """What a channel is called, `channel` being its index from 0: `A1.1`."""
    return f"{amplifier_id}.{channel + 1}"


@functools.lru_cache(maxsize=65536)
def read_pole(text: str) -> Pole | None:
    """A socket's pole entry, None for one that is not wired.

    The one text of a rig that is taken apart, for so the file format has it: an amplifier's id, in which there is no dot,
    then the last dot, then a number. Raises ValueError for text of another form.
    """
    if not text:
        return None
    sign, name = (-1, text[1:]) if text.startswith("-") else (1, text)
    amplifier, dot, number = name.rpartition(".")
    if (
        not dot
        or not amplifier
        or "." in amplifier
        or not number.isascii()
        or not number.isdigit()
        or int(number) < 1
    ):
        raise ValueError(text)
    return Pole(amplifier, int(number) - 1, sign)
