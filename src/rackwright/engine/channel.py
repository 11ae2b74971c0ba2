"""One amplifier channel with all that hangs on it: the unit that is solved, judged and kept.

A branch's figures depend on nothing outside it, so that a later rig can take it over as it is. Holds the
two solves put together; the formulae are those of the subject modules.
"""

import functools
import math
from collections.abc import Iterable, Mapping
from typing import TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine import amplifier as source
from rackwright.engine import frequency_response, loudspeaker, network, outage, protection
from rackwright.engine.finding import Finding, Limit
from rackwright.engine.frequency_response import Circuit
from rackwright.engine.network import Node, Run
from rackwright.engine.outage import Outage
from rackwright.engine.results import ChannelResult, PastRating, RunResult, SectionResult, TouchResult
from rackwright.model.equipment import AmplifierModel, Section, SectionKind
from rackwright.model.index import Index
from rackwright.model.racks import Amplifier, Feed, Mode, Socket, channel_name
from rackwright.model.rig import Targets


class Output(Struct, frozen=True, gc=False):
    """What an amplifier offers at one channel's terminals."""

    points: tuple[source.Point, ...]
    resistance: float
    """Ω."""
    open_voltage: float
    """V rms."""
    gain: float
    """dB."""
    worst_voltage: float
    """The highest voltage in V rms that it puts out: open-circuit or rated, the larger."""


class Branch(Struct, frozen=True, gc=False):
    """A channel, its wiring and its figures."""

    amplifier: Amplifier
    model: AmplifierModel
    channel: int
    """Index from 0."""
    mode: Mode
    feed: Feed | None
    targets: Targets
    output: Output
    taps: tuple[tuple[Socket, int, int], ...]
    """Socket, pole pair from 0, sign."""
    roots: tuple[Run, ...]
    all_runs: tuple[Run, ...]
    """Every run, in the order of `runs`."""
    result: ChannelResult
    second_of_bridge: bool = False
    """Whether this channel has no output of its own."""
    sound: bool = True
    """Whether nothing but want of power can keep it silent."""
    trim: float = 0.0
    """dB, of its input attenuator."""
    set_rms: float | None = None
    set_peak: float | None = None
    """V, V peak that the limiters of its feed come to at its output; None where none is set."""
    sections: tuple[SectionResult, ...] = ()
    models: tuple[Section, ...] = ()
    """The section models, in the order of `sections`."""
    runs: tuple[RunResult, ...] = ()
    touch: tuple[TouchResult, ...] = ()
    findings: tuple[Finding, ...] = ()
    polarities: tuple[tuple[SectionKind, int], ...] = ()
    """Each kind of section that sounds, with its polarity, once."""
    gains: tuple[tuple[SectionKind, float | None, float, float], ...] = ()
    """Each kind and sensitivity (dB) of section that sounds, with the lowest and the highest gain (dB) to it."""
    misfed: bool = False
    """Whether the feed does not fit one of the sections."""
    over_power: tuple[tuple[SectionResult, Section, Limit], ...] = ()
    """The sections that get more than they may without a limiter, with their limits."""
    past_ratings: tuple[PastRating, ...] = ()
    """The parts whose rating is under the current at full power."""

    @property
    def id(self) -> str:
        """The channel's name."""
        return self.result.id

    @property
    def nodes(self) -> tuple[Node, ...]:
        """The electrical side of the roots."""
        return tuple([run.node for run in self.roots])

    @property
    def undescribed(self) -> tuple[str, ...]:
        """The sections with no driver data, which curves over frequency take as resistors."""
        pairs = zip(self.sections, self.models, strict=True)
        return tuple([result.id for result, model in pairs if model.driver is None])

    @property
    def circuit(self) -> Circuit:
        """What hangs on its amplifier, over the band of its feed."""
        return Circuit(self.nodes, self.output.resistance, band_of(self.feed))

    def worn(self, times: float) -> "Branch":
        """The same wiring with contacts of so many times the resistance; its figures stay as they are."""
        roots = tuple([run.worn(times) for run in self.roots])
        return replace(self, roots=roots, all_runs=_every(roots))

    def way(self, section: int) -> list[Run]:
        """The runs from the terminals to a section, counted from 0."""
        owners = [run for run in self.all_runs for _ in run.node.sections]
        return network.way_to(self.roots, owners[section])

    @property
    def tapped(self) -> list[str]:
        """The pole pairs it is patched to, in words."""
        return [f"{socket.id} pole pair {pair + 1}" for socket, pair, _ in self.taps]

    @property
    def live(self) -> bool:
        """Whether sound comes out of it."""
        return self.result.state == "ok" and self.feed is not None and not self.second_of_bridge

    @property
    def live_with_power(self) -> bool:
        """Whether sound comes out of it once its amplifier has power."""
        return self.sound and self.feed is not None and not self.second_of_bridge

    @property
    def gain(self) -> float:
        """dB from the processor to the terminals."""
        return self.output.gain + self.trim


@functools.lru_cache(maxsize=256)
def output_of(model: AmplifierModel, bridged: bool) -> Output:
    """A channel's, or a bridged pair's, output."""
    points, open_voltage = source.rated_points(model, bridged), source.open_voltage(model, bridged)
    return Output(
        points,
        source.output_resistance(model, bridged),
        open_voltage,
        source.gain(model, bridged),
        max(open_voltage, *(point.voltage for point in points)),
    )


Signs: TypeAlias = dict[tuple[str, str], int]
"""(cabinet, section) → the sign it is wired with, in the order in which a branch is solved."""


def trace(index: Index, amplifier: Amplifier, channel: int) -> Branch:
    """Follow the wiring of a channel (index from 0) from its terminals to the sections, and solve it.

    A network of resistances at full power and at 1 V [1]_; what is figured of it has its source in `network`, `amplifier`,
    `loudspeaker` and `protection`.

    >>> round(trace(index, index.amplifiers["A1"], 0).result.load_terminal or 0, 3)
    8.174

    .. [1] Ohm's law and Kirchhoff's.
    """
    bare, signs = unsolved(index, amplifier, channel)
    return _solved(bare, signs) if signs else bare


def unsolved(index: Index, amplifier: Amplifier, channel: int) -> tuple[Branch, Signs]:
    """A channel with its wiring and no figure of it, and the sections it reaches."""
    model = index.amplifier_models[amplifier.model]
    mode = amplifier.pair_mode(channel)
    feed = index.feeds.get(amplifier.feed_of(channel))
    taps = tuple(index.taps.get((amplifier.id, channel), ()))
    signs: Signs = {}
    roots: list[Run] = []
    for socket, pole_pair, sign in taps:
        if outage.passes(socket, pole_pair):
            roots += network.runs_from(index, socket.id, pole_pair, signs, sign)
    output = output_of(model, mode == "bridged")
    shorts = [
        (c, s)
        for c, s in signs
        if index.cabinets[c].faults and outage.fault(index.cabinets[c], s) == "shorted"
    ]
    cause = (
        outage.of_amplifier(index, amplifier)
        or outage.of_output(amplifier, channel)
        or outage.of_signal(index, amplifier, channel)
        or (Outage(".".join(shorts[0]), "shorted") if shorts else None)
    )
    dead = outage.of_power(index, amplifier)
    trim = _trim(amplifier, channel)
    result = ChannelResult(
        id=channel_name(amplifier.id, channel),
        amplifier=amplifier.id,
        feed=feed.id if feed else "",
        state="failed" if dead or cause else "ok",
        outage=dead or cause,
        mode=mode,
        sections=len(signs),
        open_voltage=output.open_voltage,
        output_resistance=output.resistance,
        lowest_load=source.lowest_load(output.points),
    )
    return Branch(
        amplifier,
        model,
        channel,
        mode,
        feed,
        index.rig.targets,
        output,
        taps,
        tuple(roots),
        _every(roots),
        result,
        mode == "bridged" and channel % 2 == 1,
        cause is None,
        trim,
        *_limiters(index, feed, output.gain + trim),
    ), signs


def _every(roots: Iterable[Run]) -> tuple[Run, ...]:
    """The roots and all behind them, in the order in which a branch is solved."""
    return tuple([run for root in roots for run in root.all_runs()])


def _trim(amplifier: Amplifier, channel: int) -> float:
    """dB, of a channel's input attenuator; a bridged pair's is its first channel's."""
    bridged = amplifier.pair_mode(channel) == "bridged"
    return amplifier.channel(channel - channel % 2 if bridged else channel).trim.value


def _limiters(index: Index, feed: Feed | None, gain: float) -> tuple[float | None, float | None]:
    """What a feed's limiters come to at an output of `gain` dB."""
    if feed is None or (feed.limiter_rms is None and feed.limiter_peak is None):
        return None, None
    stated = gain_at(index, feed.limiter_at)
    rms, peak = feed.limiter_rms, feed.limiter_peak
    return (
        protection.set_voltage(rms, gain, stated) if rms else None,
        protection.set_voltage(peak, gain, stated, feed.limiter_peak_scale) if peak else None,
    )


def gain_at(index: Index, channel: str) -> float | None:
    """dB from the processor to the terminals of the channel of that name: `amplifier.gain` and its trim; None where there is none.

    Levels in dB add by definition.

    >>> gain_at(index, "A1.1")
    32.0
    """
    place = index.channels.get(channel)
    if place is None:
        return None
    amplifier = index.amplifiers[place.amplifier]
    bridged = amplifier.pair_mode(place.channel) == "bridged"
    return source.gain(index.amplifier_models[amplifier.model], bridged) + _trim(amplifier, place.channel)


def _solved(branch: Branch, signs: Signs) -> Branch:
    nodes = branch.nodes
    nominal = network.solve_nominal(nodes)
    load = 1 / nominal.admittance
    voltage = source.limit_voltage(branch.output.points, load)
    circuit = branch.circuit
    lowest = frequency_response.lowest_modulus(circuit)
    models = tuple(network.sections_of(nodes))
    limit_rms = min([protection.limiter_rms(section) for section in models])
    limit_peak = min([protection.limiter_peak(section) for section in models])
    result = replace(
        branch.result,
        load_nominal=1 / sum([network.conductance(section) for section in models]),
        load_terminal=load,
        load_minimum=lowest.value,
        load_minimum_at=lowest.frequency,
        voltage=voltage,
        current=voltage / load,
        power=voltage * voltage / load,
        limiter_rms=limit_rms,
        limiter_peak=limit_peak,
        limiter_rms_dbu=protection.input_level(limit_rms, branch.gain),
        limiter_peak_dbu=(at_input := protection.input_level(limit_peak, branch.gain)),
        limiter_peak_sine_dbu=protection.sine_level(at_input),
    )
    parts = zip(signs.items(), models, nominal.transfers, strict=True)
    feed = branch.feed if branch.live else None
    sections = tuple(
        [
            _section(branch, feed, cabinet, section, sign, voltage, transfer, nominal.admittance, circuit, at)
            if feed
            else SectionResult(cabinet=cabinet, section=section.id, kind=section.kind, patched=branch.id)
            for at, (((cabinet, _), sign), section, transfer) in enumerate(parts)
        ]
    )
    runs = zip(branch.all_runs, nominal.far_ends, nominal.currents, strict=True)
    return replace(
        branch,
        result=result,
        sections=sections,
        models=models,
        gains=_gains(sections, models),
        polarities=tuple({(s.kind, s.polarity): None for s in sections if s.polarity is not None}),
        runs=tuple([_run(branch.id, run, far, current, voltage) for run, far, current in runs]),
    )


def _gains(
    sections: tuple[SectionResult, ...], models: tuple[Section, ...]
) -> tuple[tuple[SectionKind, float | None, float, float], ...]:
    found: dict[tuple[SectionKind, float | None], list[float]] = {}
    for result, model in zip(sections, models, strict=True):
        if result.gain is not None:
            sensitivity = model.sensitivity.value if model.sensitivity else None
            found.setdefault((result.kind, sensitivity), []).append(result.gain)
    return tuple([(kind, stated, min(gains), max(gains)) for (kind, stated), gains in found.items()])


def _section(
    branch: Branch,
    feed: Feed,
    cabinet: str,
    section: Section,
    sign: int,
    terminals: float,
    transfer: float,
    branch_conductance: float,
    circuit: Circuit,
    at: int,
) -> SectionResult:
    """A section that sounds, number `at` of `circuit`; `terminals` is the voltage there."""
    channel, impedance, voltage = branch.result.id, section.nominal.value, terminals * transfer
    level = 20 * math.log10(transfer)
    power = voltage * voltage / impedance
    damping = network.damping_factor(transfer, branch_conductance, branch.output.resistance)
    q, q_ideal = _alignment(section, impedance / damping)
    alone = section.kind == "high" and branch.result.sections == 1
    return SectionResult(
        cabinet=cabinet,
        section=section.id,
        kind=section.kind,
        channel=channel,
        patched=channel,
        polarity=-sign if feed.polarity == "inverted" else sign,
        voltage=voltage,
        power=power,
        limited_power=None
        if branch.set_rms is None
        else (min(branch.set_rms, terminals) * transfer) ** 2 / impedance,
        gain=branch.gain + level,
        loss=-level,
        source_resistance=impedance / damping,
        damping_factor=damping,
        headroom=protection.headroom(power, section),
        q_total=q,
        q_total_ideal=q_ideal,
        circuit=circuit,
        place=at,
        advised_capacitor=protection.protective_capacitor(section, feed.band[0].value) if alone else None,
    )


def _alignment(section: Section, source_resistance: float) -> tuple[float | None, float | None]:
    """Total Q as wired and ideal."""
    driver = section.driver
    if driver is None:
        return None, None
    coil = section.dc_resistance.value
    return loudspeaker.q_total(driver, coil, source_resistance), loudspeaker.q_total(driver, coil, 0.0)


def _run(channel: str, run: Run, far: float, current: float, voltage: float) -> RunResult:
    return RunResult(
        line=run.line.id,
        near=run.near + 1,
        far=run.far + 1,
        channel=channel,
        resistance=run.node.resistance,
        current=current * voltage,
        voltage=far * voltage,
        loss=-20 * math.log10(far),
    )


def outage_of(index: Index, branches: Mapping[str, Branch], section: SectionResult) -> Outage | None:
    """What has failed that a section is silent for; None where it sounds, and where it is silent with nothing failed."""
    if section.channel is not None:
        return None
    if section.patched is None:
        return outage.of_section(index, section.cabinet, section.section)
    return branches[section.patched].result.outage


def band_of(feed: Feed | None) -> tuple[float, float]:
    """The band in Hz that a feed sends; the audible one where there is no feed."""
    return (feed.band[0].value, feed.band[1].value) if feed else loudspeaker.AUDIBLE
