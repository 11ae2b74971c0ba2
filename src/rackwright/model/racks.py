"""Feeds, and the racks that amplify them: amplifiers by rack unit, their channels, and the sockets that they are patched to.

Frozen structs that mirror a rig file key by key. Holds no physics and no rules.
"""

import functools
from typing import Literal, NamedTuple, TypeAlias

from msgspec import Struct

from rackwright.model.lines import Side
from rackwright.model.mains import State
from rackwright.units import Frequency, LimiterSetting, Trim

Polarity: TypeAlias = Literal["normal", "inverted"]
PeakScale: TypeAlias = Literal["sine", "peak"]
Mode: TypeAlias = Literal["dual", "parallel", "bridged"]
MODES: tuple[Mode, ...] = ("dual", "parallel", "bridged")


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


def pole_shown(text: str) -> str:
    """A socket's pole entry as a person reads it: `−A1.1` reversed."""
    return text.replace("-", "−", 1) if text.startswith("-") else text


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
