"""Every judgement, one small function each, in one registry.

A function decorated `judges_branch` looks at one channel and its wiring, one decorated `judges_rig` at the
rig as a whole; each yields findings. To add a finding, add a function. Computes no figure that the
subject modules don't.
"""

import itertools
import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from rackwright.engine import amplifier as source
from rackwright.engine import network, protection
from rackwright.engine.branch import Branch
from rackwright.engine.network import Run
from rackwright.engine.results import SEVERITIES, Finding, SectionResult
from rackwright.model.equipment import Section
from rackwright.model.index import Index, pole_or_none, wired_sections
from rackwright.model.rig import Cabinet, Feed, Rack
from rackwright.units import reading


@dataclass(frozen=True)
class Survey:
    """What the judgements on the whole rig look at."""

    index: Index
    branches: Mapping[str, Branch]
    sections: Mapping[str, SectionResult]
    joined: Mapping[str, tuple[str, ...]]
    """The sections that several channels are patched to, and those channels."""


BranchJudgement = Callable[[Branch], Iterator[Finding]]
RigJudgement = Callable[[Survey], Iterator[Finding]]

BRANCH_JUDGEMENTS: list[BranchJudgement] = []
RIG_JUDGEMENTS: list[RigJudgement] = []


def judges_branch(judgement: BranchJudgement) -> BranchJudgement:
    """Enter a judgement on one channel's branch in the registry."""
    BRANCH_JUDGEMENTS.append(judgement)
    return judgement


def judges_rig(judgement: RigJudgement) -> RigJudgement:
    """Enter a judgement on the whole rig in the registry."""
    RIG_JUDGEMENTS.append(judgement)
    return judgement


def of_branch(branch: Branch) -> tuple[Finding, ...]:
    """Every finding on a channel and what hangs on it."""
    return tuple(finding for judgement in BRANCH_JUDGEMENTS for finding in judgement(branch))


def of_rig(survey: Survey) -> tuple[Finding, ...]:
    """Every finding that takes the whole rig to see."""
    return tuple(finding for judgement in RIG_JUDGEMENTS for finding in judgement(survey))


def gravest_first(findings: Iterator[Finding]) -> tuple[Finding, ...]:
    """By severity; within one, in the order found."""
    return tuple(sorted(findings, key=lambda finding: SEVERITIES.index(finding.severity)))


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


# --- one channel ---------------------------------------------------------------------------------------


@judges_branch
def load_below_minimum(branch: Branch) -> Iterator[Finding]:
    channel = branch.result
    load, lowest = channel.load_nominal, channel.lowest_load
    if load is None or load >= lowest * (1 - 1e-9):
        return
    last = branch.sections[-1].cabinet
    what = f"{channel.amplifier} bridged" if channel.mode == "bridged" else channel.amplifier
    yield Finding(
        "load-below-minimum",
        "stop",
        channel.id,
        f"Load {reading(load, 'Ω')} is under the {reading(lowest, 'Ω')} that {what} is rated to drive.",
        f"Move {last} to another channel, or wire fewer sections in parallel."
        if len(branch.sections) > 1
        else f"Drive {last} from an amplifier rated for {reading(load, 'Ω')}"
        + (", or undo the bridge." if channel.mode == "bridged" else "."),
    )


@judges_branch
def impedance_dips(branch: Branch) -> Iterator[Finding]:
    channel = branch.result
    if channel.load_minimum is None or channel.load_nominal is None:
        return
    implied = 0.8 * channel.lowest_load
    if channel.load_minimum >= implied or channel.load_nominal < channel.lowest_load * (1 - 1e-9):
        return
    yield Finding(
        "impedance-dips",
        "warn",
        channel.id,
        f"Impedance falls to {reading(channel.load_minimum, 'Ω')} in the band, under the {reading(implied, 'Ω')} "
        f"that a {reading(channel.lowest_load, 'Ω')} rating implies.",
        "Take a section off this channel, or drive it from an amplifier with a lower rated load.",
    )


@judges_branch
def channel_failed(branch: Branch) -> Iterator[Finding]:
    if branch.result.state != "failed" or not branch.sections or branch.second_of_bridge:
        return
    cabinets = list(dict.fromkeys(section.cabinet for section in branch.sections))
    yield Finding(
        "channel-failed",
        "stop",
        branch.id,
        f"{branch.id} has failed and {_listed(cabinets)} {'is' if len(cabinets) == 1 else 'are'} silent on it.",
        f"Mute it, then re-patch {_listed(_sockets(branch))} to a sound channel.",
    )


def _sockets(branch: Branch) -> list[str]:
    return [f"{socket.id} pole pair {pair + 1}" for socket, pair, _ in branch.taps]


@judges_branch
def channel_without_feed(branch: Branch) -> Iterator[Finding]:
    if (
        branch.feed is not None
        or not branch.sections
        or branch.result.state == "failed"
        or branch.second_of_bridge
    ):
        return
    yield Finding(
        "channel-without-feed",
        "warn",
        branch.id,
        f"{branch.id} drives {branch.sections[0].cabinet} and has no feed: it stays silent.",
        "Give it a feed.",
    )


@judges_branch
def bridge_second_wired(branch: Branch) -> Iterator[Finding]:
    if not branch.second_of_bridge or not branch.taps:
        return
    first = f"{branch.amplifier.id}.{branch.channel}"
    yield Finding(
        "bridge-second-wired",
        "stop",
        branch.id,
        f"{branch.id} is wired, and is the second half of the bridge {first}.",
        f"Power down, then wire {_listed(_sockets(branch))} to {first}, or set the pair to dual.",
    )


@judges_branch
def pair_feeds_differ(branch: Branch) -> Iterator[Finding]:
    if branch.mode == "dual" or branch.channel % 2 == 0 or branch.channel >= branch.model.channels:
        return
    own = branch.amplifier.channel(branch.channel).feed
    first = branch.amplifier.channel(branch.channel - 1).feed
    if own in ("", first):
        return
    yield Finding(
        "pair-feeds-differ",
        "warn",
        branch.id,
        f"{branch.id} is set to {own}, and in {branch.mode} mode its pair plays "
        f"{first or 'nothing, since the first channel has no feed'}.",
        "Set both channels to one feed, or the pair to dual.",
    )


@judges_branch
def band_too_low(branch: Branch) -> Iterator[Finding]:
    if branch.feed is None:
        return
    start = branch.feed.band[0]
    for result, section in zip(branch.sections, branch.models, strict=True):
        if not _too_low(branch.feed, section):
            continue
        yield Finding(
            "band-too-low",
            "stop" if section.kind in ("high", "mid") else "warn",
            result.id,
            f"{branch.feed.id} starts at {start}, under the {section.lowest} that {result.id} may be fed from.",
            f"Patch it to a feed that starts at {section.lowest} or above, or raise the band of {branch.feed.id}.",
        )


@judges_branch
def band_misses_section(branch: Branch) -> Iterator[Finding]:
    if branch.feed is None:
        return
    start, end = branch.feed.band
    for result, section in zip(branch.sections, branch.models, strict=True):
        if not _misses(branch.feed, section):
            continue
        span = f"{section.lowest} to {section.highest}" if section.highest else f"{section.lowest} and up"
        yield Finding(
            "band-misses-section",
            "warn",
            result.id,
            f"{branch.feed.id} plays {start} to {end}, and {result.id} is made for {span}.",
            "Patch it to the feed that is meant for it.",
        )


@judges_branch
def current_over_rating(branch: Branch) -> Iterator[Finding]:
    """Full-power current against every part it flows through.

    Driven hard, the mean-square current is the heavy duty's share of full power, so the lasting current is
    √duty of the full one: over a rating it is a stop, the full current over it a warn.
    """
    channel = branch.result
    if channel.current is None:
        return
    lasting = math.sqrt(branch.targets.heavy_duty)
    terminals = branch.model.max_current.value
    yield from _over(channel.id, channel.current, terminals, lasting, f"the terminals of {channel.amplifier}")
    runs = (run for root in branch.roots for run in root.all_runs())
    for run, result in zip(runs, branch.runs, strict=True):
        for rating, part in _ratings(run):
            if result.current > rating:
                yield from _over(result.line, result.current, rating, lasting, part)


def _ratings(run: Run) -> Iterator[tuple[float, str]]:
    yield run.cable.max_current.value * run.line.cores_per_pole, f"{run.line.id}'s cable, {run.cable.id}"
    for connector in dict.fromkeys((run.near_connector, run.far_connector)):
        yield connector.max_current.value, f"its {connector.id} connector"


def _over(at: str, current: float, rating: float, lasting: float, part: str) -> Iterator[Finding]:
    if current <= rating:
        return
    hard = current * lasting > rating
    yield Finding(
        "current-over-rating",
        "stop" if hard else "warn",
        at,
        f"Current {reading(current, 'A')} at full power is over the {reading(rating, 'A')} of {part}"
        + (f", and {reading(current * lasting, 'A')} of it lasts when driven hard." if hard else "."),
        "Split the load over more lines or pole pairs, use more cores in parallel, or a part rated for it.",
    )


@judges_branch
def cable_loss(branch: Branch) -> Iterator[Finding]:
    limit = branch.targets.cable_loss
    for result in branch.sections:
        if result.loss is None or result.loss <= limit.value:
            continue
        yield Finding(
            "cable-loss",
            "warn",
            result.id,
            f"Cable takes {reading(result.loss, 'dB')}, over the {limit} accepted.",
            "Shorten the run, use a larger size or cores in parallel, or give it a run of its own.",
        )


@judges_branch
def damping_low(branch: Branch) -> Iterator[Finding]:
    target = branch.targets.damping_factor
    for result in branch.sections:
        damping = result.damping_factor
        if result.kind != "low" or damping is None or damping >= target:
            continue
        yield Finding(
            "damping-low",
            "warn",
            result.id,
            f"Damping factor {reading(damping, '')} is under the {reading(target, '')} accepted: "
            f"{reading(result.source_resistance, 'Ω')} of amplifier and cable.",
            "Shorten the run, use a larger size or cores in parallel, or put fewer drivers on the channel.",
        )


@judges_branch
def chained_lows(branch: Branch) -> Iterator[Finding]:
    """Low sections linked from cabinet to cabinet, against the same cabinets each on its own run."""
    if not branch.live or all(not run.links for run in branch.roots):
        return
    chained = list(dict.fromkeys(cabinet for root in branch.roots for cabinet in _lows_behind(root)))
    if len(chained) < 2:
        return
    lows = [r for r in branch.sections if r.kind == "low" and r.cabinet in chained]
    worst = min(lows, key=lambda result: result.damping_factor or math.inf)
    place = branch.sections.index(worst)
    nodes = tuple(node for root in branch.roots for node in root.apart())
    apart = network.solve_nominal(nodes)
    voltage = source.limit_voltage(branch.output.points, 1 / apart.admittance) * apart.transfers[place]
    damping = network.damping_factor(apart.transfers[place], apart.admittance, branch.output.resistance)
    gained = 20 * math.log10(voltage / (worst.voltage or math.inf))
    yield Finding(
        "lows-chained",
        "note",
        branch.id,
        f"{_listed(chained)} share a run: {worst.id} has a damping factor of {reading(worst.damping_factor, '')}; "
        f"on a run of its own it would have {reading(damping, '')}, and {reading(gained, 'dB')} more level.",
        "Give each its own run from the rack where sockets and cable allow.",
    )


def _lows_behind(root: Run) -> list[str]:
    """The cabinets of one chain with a low section, empty where there is only one."""
    cabinets = [run.line.to for run in root.all_runs() if any(s.kind == "low" for s in run.node.sections)]
    return cabinets if len(cabinets) > 1 else []


@judges_branch
def power_against_rating(branch: Branch) -> Iterator[Finding]:
    limited = branch.feed is not None and branch.feed.limiter_rms is not None
    for result, section in zip(branch.sections, branch.models, strict=True):
        if result.headroom is None:
            continue
        have = f"{reading(result.power, 'W')} into {section.continuous} continuous"
        if result.headroom < protection.SHORT:
            yield Finding(
                "short-of-power",
                "warn",
                result.id,
                f"Power is short: {have}, {reading(result.headroom, 'dB')}; it is likely to be driven into clipping.",
                "Drive fewer sections from the channel, bridge the pair where its load allows, or take a larger amplifier.",
            )
        elif result.headroom > protection.OVER and not limited:
            yield Finding(
                "over-power-without-limiter",
                "warn",
                result.id,
                f"Power is ample: {have}, +{reading(result.headroom, 'dB')}, and no rms limiter is set.",
                f"Set the limiter of its feed to {reading(protection.limiter_rms(section), 'V')} rms or less.",
            )


@judges_branch
def limiter_too_high(branch: Branch) -> Iterator[Finding]:
    feed, channel = branch.feed, branch.result
    if feed is None or channel.voltage is None or channel.limiter_rms is None or channel.limiter_peak is None:
        return
    reach_peak = channel.open_voltage * math.sqrt(2)
    for name, limiter, allowed, reach, unit in (
        ("rms", feed.limiter_rms, channel.limiter_rms, channel.voltage, "V"),
        ("peak", feed.limiter_peak, channel.limiter_peak, reach_peak, "V peak"),
    ):
        if limiter is None or limiter.value <= allowed * (1 + 1e-9):
            continue
        harmless = reach <= allowed
        yield Finding(
            "limiter-too-high",
            "note" if harmless else "warn",
            channel.id,
            f"The {name} limiter of {feed.id} is set to {limiter}, over the {reading(allowed, unit)} that its sections bear"
            + (f"; {channel.amplifier} itself stops at {reading(reach, unit)}." if harmless else "."),
            f"Set it to {reading(allowed, unit)} or less.",
        )


@judges_branch
def clips_before_limiter(branch: Branch) -> Iterator[Finding]:
    feed, channel = branch.feed, branch.result
    if feed is None or feed.limiter_peak is None or channel.voltage is None:
        return
    clip = channel.voltage * math.sqrt(2)
    if feed.limiter_peak.value <= clip:
        return
    yield Finding(
        "clips-before-limiter",
        "note",
        channel.id,
        f"{channel.id} clips at {reading(clip, 'V peak')}, before the peak limiter of {feed.id} acts at {feed.limiter_peak}.",
        f"Set the peak limiter to {reading(clip, 'V peak')} or less to keep it out of clipping.",
    )


# --- the whole rig -------------------------------------------------------------------------------------


@judges_rig
def outputs_joined(survey: Survey) -> Iterator[Finding]:
    """A section strapped to two pole pairs that two channels drive."""
    told: set[str] = set()
    for name, channels in survey.joined.items():
        section = survey.sections[name]
        if section.cabinet in told:
            continue
        told.add(section.cabinet)
        yield Finding(
            "outputs-joined",
            "stop",
            section.cabinet,
            f"{_listed(list(channels))} are joined in {section.cabinet}: both drive {section.section}.",
            "Power down and unpatch one of the two before anything is switched on.",
        )


class Gap(NamedTuple):
    """Where the way back from a pole pair ends, in words, and what to do."""

    why: str
    advice: str


def _way_back(index: Index, cabinet_id: str, pair: int) -> str | Gap:
    """Follow a pole pair (from 0) from a cabinet back to the channel that drives it, or to the gap."""
    line = index.line_to.get(cabinet_id)
    if line is None:
        return Gap(f"no line leads to {cabinet_id}", "Connect it to a socket or to a neighbour's link.")
    ways = index.pole_map(line)
    if pair >= len(ways):
        return Gap(
            f"{line.id} carries {len(ways)} pole pair{'' if len(ways) == 1 else 's'} and this is on pair {pair + 1}",
            "Take a cable with more cores, or another wiring of the cabinet.",
        )
    near = ways[pair]
    socket = index.sockets.get(line.source)
    if socket is None:
        return _way_back(index, line.source, near)
    text = socket.poles[near] if near < len(socket.poles) else ""
    pole = pole_or_none(text)
    if pole is None:
        return Gap(f"pole pair {near + 1} of {socket.id} is not wired", "Patch a channel to it.")
    return pole.name


@judges_rig
def section_silent(survey: Survey) -> Iterator[Finding]:
    """Sections that no channel reaches; those on a failed channel or one with no feed are told there."""
    index = survey.index
    unreached = [result for result in survey.sections.values() if result.patched is None]
    for cabinet in dict.fromkeys(
        result.cabinet for result in unreached if result.cabinet not in index.line_to
    ):
        yield Finding(
            "section-silent",
            "warn",
            cabinet,
            f"{cabinet} is silent: no line leads to it.",
            "Connect it to a socket or to a neighbour's link.",
        )
    for result in unreached:
        if result.cabinet in index.line_to:
            gap = _gap(index, index.cabinets[result.cabinet], result.section)
            yield Finding(
                "section-silent",
                "warn",
                result.id,
                f"{result.cabinet} {result.section} is silent: {gap.why}.",
                gap.advice,
            )


def _gap(index: Index, cabinet: Cabinet, section: str) -> Gap:
    wiring = wired_sections(cabinet, index.loudspeaker_models[cabinet.model])
    pairs = [pair for pair, names in enumerate(wiring) if section in names]
    if not pairs:
        return Gap(f"the wiring {cabinet.wiring or 'of the cabinet'} leaves it out", "Choose another wiring.")
    end = _way_back(index, cabinet.id, pairs[0])
    return end if isinstance(end, Gap) else Gap(f"{end} does not reach it", "Check the poles of its line.")


@judges_rig
def poles_crossed(survey: Survey) -> Iterator[Finding]:
    """Two pole pairs of a cabinet whose feeds fit each other's sections and not their own."""
    for cabinet in _misfed(survey):
        model = survey.index.loudspeaker_models[cabinet.model]
        ends = [
            (pair, feed, [model.section(name) for name in names])
            for pair, names in enumerate(wired_sections(cabinet, model))
            if names and (feed := _feed_of(survey, cabinet.id, names[0])) is not None
        ]
        for (a, feed_a, at_a), (b, feed_b, at_b) in itertools.combinations(ends, 2):
            as_wired = _fits(feed_a, at_a) and _fits(feed_b, at_b)
            if as_wired or not (_fits(feed_a, at_b) and _fits(feed_b, at_a)):
                continue
            yield Finding(
                "poles-crossed",
                "stop",
                cabinet.id,
                f"Pole pairs {a + 1} and {b + 1} of {cabinet.id} are crossed: "
                f"{_listed([s.id for s in at_a])} gets {feed_a.id}, {_listed([s.id for s in at_b])} gets {feed_b.id}.",
                "Mute both, then exchange the two pole pairs at the socket, or take the crossed adaptor out.",
            )


def _misfed(survey: Survey) -> list[Cabinet]:
    """The cabinets with a section whose feed does not fit it."""
    names = {
        result.cabinet
        for branch in survey.branches.values()
        if branch.feed is not None
        for result, section in zip(branch.sections, branch.models, strict=True)
        if not _fits(branch.feed, [section])
    }
    return [survey.index.cabinets[name] for name in sorted(names)]


def _feed_of(survey: Survey, cabinet: str, section: str) -> Feed | None:
    patched = survey.sections[f"{cabinet}.{section}"].patched
    return survey.branches[patched].feed if patched else None


def _too_low(feed: Feed, section: Section) -> bool:
    return feed.band[0].value < section.lowest.value


def _misses(feed: Feed, section: Section) -> bool:
    start, end = feed.band
    above = section.highest is not None and start.value >= section.highest.value
    return above or end.value <= section.lowest.value


def _fits(feed: Feed, sections: list[Section]) -> bool:
    return not any(
        _misses(feed, section) or (section.kind in ("high", "mid") and _too_low(feed, section))
        for section in sections
    )


@judges_rig
def polarity_mixed(survey: Survey) -> Iterator[Finding]:
    groups: dict[tuple[str, str], dict[int, list[str]]] = defaultdict(lambda: defaultdict(list))
    for section in survey.sections.values():
        if section.channel is not None and section.polarity is not None:
            feed = survey.branches[section.channel].result.feed
            groups[feed, section.kind][section.polarity].append(section.id)
    for (feed, kind), sides in groups.items():
        if len(sides) < 2:
            continue
        fewer = min(sides.values(), key=len)
        yield Finding(
            "polarity-mixed",
            "warn",
            feed,
            f"{_listed(fewer[:6])}{' and more' if len(fewer) > 6 else ''} {'has' if len(fewer) == 1 else 'have'} "
            f"the opposite polarity to the other {kind} sections on {feed}.",
            "Turn the pole pair at the socket, or, if it is meant so, give them a feed of their own.",
        )


@judges_rig
def rack_space(survey: Survey) -> Iterator[Finding]:
    for rack in survey.index.rig.racks:
        yield from _overfull(rack, survey.index)


def _overfull(rack: Rack, index: Index) -> Iterator[Finding]:
    taken: dict[int, str] = {}
    for amplifier in rack.amplifiers:
        top = amplifier.unit + index.amplifier_models[amplifier.model].height - 1
        if top > rack.height:
            yield Finding(
                "rack-overfull",
                "warn",
                amplifier.id,
                f"{amplifier.id} reaches unit {top}, over the {rack.height} of {rack.id}.",
                "Move it down, or to another rack.",
            )
        others = {taken[unit] for unit in range(amplifier.unit, top + 1) if unit in taken}
        for other in sorted(others):
            yield Finding(
                "units-overlap",
                "warn",
                amplifier.id,
                f"{amplifier.id} and {other} both take the same unit of {rack.id}.",
                "Move one of the two.",
            )
        taken.update(dict.fromkeys(range(amplifier.unit, top + 1), amplifier.id))


@judges_rig
def channel_unused(survey: Survey) -> Iterator[Finding]:
    for branch in survey.branches.values():
        if branch.taps or branch.second_of_bridge:
            continue
        failed = branch.result.state == "failed"
        yield Finding(
            "channel-unused",
            "note",
            branch.id,
            f"{branch.id} has failed and drives nothing."
            if failed
            else f"{branch.id} drives nothing: a spare.",
            "Have it mended." if failed else "Keep it for a failure, or share the load with it.",
        )
