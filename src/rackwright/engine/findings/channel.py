"""Judgements on one channel and what hangs on it: load, feed, loss, damping, power."""

import math
from collections.abc import Iterator

from rackwright.engine import amplifier as source
from rackwright.engine import limits, network, protection
from rackwright.engine.channel import Branch
from rackwright.engine.finding import Finding
from rackwright.engine.findings.registry import judges_branch, misses, too_low
from rackwright.engine.network import Run
from rackwright.units import reading, told_apart
from rackwright.units.wording import listed


@judges_branch
def load_below_minimum(branch: Branch) -> Iterator[Finding]:
    channel = branch.result
    load, limit = channel.load_nominal, limits.load_nominal(branch)
    if load is None or branch.second_of_bridge or not limit.broken_by(load):
        return
    told, least = told_apart(load, limit.value, "Ω")
    last = branch.sections[-1].cabinet
    what = f"{channel.amplifier} bridged" if channel.mode == "bridged" else channel.amplifier
    yield Finding(
        "load-below-minimum",
        "stop",
        channel.id,
        f"Load {told} is under the {least} that {what} is rated to drive.",
        f"Move {last} to another channel, or wire fewer sections in parallel."
        if len(branch.sections) > 1
        else f"Drive {last} from an amplifier rated for {told}"
        + (", or undo the bridge." if channel.mode == "bridged" else "."),
        load,
        limit,
    )


@judges_branch
def impedance_dips(branch: Branch) -> Iterator[Finding]:
    channel = branch.result
    if channel.load_minimum is None or channel.load_nominal is None or branch.second_of_bridge:
        return
    limit = limits.load_minimum(branch)
    if not limit.broken_by(channel.load_minimum) or limits.load_nominal(branch).broken_by(
        channel.load_nominal
    ):
        return
    told, least = told_apart(channel.load_minimum, limit.value, "Ω")
    yield Finding(
        "impedance-dips",
        "warn",
        channel.id,
        f"Impedance falls to {told} in the band, under the {least} "
        f"that a {reading(channel.lowest_load, 'Ω')} rating implies.",
        "Remove a section from this channel, or drive it from an amplifier with a lower rated load.",
        channel.load_minimum,
        limit,
    )


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
        f"{branch.id} is set to {own}, and in {branch.mode} mode both channels play "
        f"{first or 'nothing, since the first channel has no feed'}.",
        "Set both channels to one feed, or the pair to dual.",
    )


@judges_branch
def band_too_low(branch: Branch) -> Iterator[Finding]:
    if branch.feed is None:
        return
    start = branch.feed.band[0]
    for result, section in zip(branch.sections, branch.models, strict=True):
        if not too_low(branch.feed, section):
            continue
        yield Finding(
            "band-too-low",
            "stop" if section.kind in ("high", "mid") else "warn",
            result.id,
            f"{branch.feed.id} starts at {start}, under {section.lowest}, the lowest frequency of {result.id}.",
            f"Patch it to a feed that starts at {section.lowest} or above, or raise the band of {branch.feed.id}.",
            start.value,
            limits.band_start(section),
        )


@judges_branch
def band_misses_section(branch: Branch) -> Iterator[Finding]:
    if branch.feed is None:
        return
    start, end = branch.feed.band
    for result, section in zip(branch.sections, branch.models, strict=True):
        if not misses(branch.feed, section):
            continue
        span = f"{section.lowest} to {section.highest}" if section.highest else f"{section.lowest} and up"
        yield Finding(
            "band-misses-section",
            "warn",
            result.id,
            f"{branch.feed.id} plays {start} to {end}, and {result.id} is made for {span}.",
            "Patch it to its own feed.",
        )


@judges_branch
def capacitor_in_band(branch: Branch) -> Iterator[Finding]:
    """A capacitor in series that cuts into what its section is to play."""
    if branch.feed is None:
        return
    limit = limits.capacitor_corner(branch.feed)
    for result, section in zip(branch.sections, branch.models, strict=True):
        corner = protection.corner(section)
        if corner is None or not limit.broken_by(corner):
            continue
        advised = protection.protective_capacitor(section, limit.value)
        yield Finding(
            "capacitor-in-band",
            "warn",
            result.id,
            f"Its capacitor of {section.capacitor} takes 3 dB and more from {result.id} under {reading(corner, 'Hz')}, "
            f"and {branch.feed.id} begins at {branch.feed.band[0]}.",
            f"Fit one of {reading(advised, 'F')} or more (common practice, no source), or have the processor make up for it.",
            corner,
            limit,
        )


@judges_branch
def cable_loss(branch: Branch) -> Iterator[Finding]:
    limit = limits.loss(branch)
    for result in branch.sections:
        if result.loss is None or not limit.broken_by(result.loss):
            continue
        told, most = told_apart(result.loss, limit.value, "dB")
        yield Finding(
            "cable-loss",
            "warn",
            result.id,
            f"Cable loss is {told}, over the {most} accepted.",
            "Use a shorter line, a larger size or cores in parallel, or give it a line of its own.",
            result.loss,
            limit,
        )


@judges_branch
def damping_low(branch: Branch) -> Iterator[Finding]:
    limit = limits.damping_factor(branch)
    for result in branch.sections:
        damping = result.damping_factor
        if result.kind != "low" or damping is None or not limit.broken_by(damping):
            continue
        told, least = told_apart(damping, limit.value, "")
        yield Finding(
            "damping-low",
            "warn",
            result.id,
            f"Damping factor {told} is under the {least} accepted: "
            f"{reading(result.source_resistance, 'Ω')} of amplifier and cable.",
            "Use a shorter line, a larger size or cores in parallel, or put fewer drivers on the channel.",
            damping,
            limit,
        )


@judges_branch
def chained_lows(branch: Branch) -> Iterator[Finding]:
    """Low sections linked from cabinet to cabinet, against the same cabinets each on its own line."""
    if not branch.live or all(not run.links for run in branch.roots):
        return
    chained = list(dict.fromkeys(cabinet for root in branch.roots for cabinet in _lows_behind(root)))
    if len(chained) < 2:
        return
    lows = [r for r in branch.sections if r.kind == "low" and r.cabinet in chained]
    worst = min(lows, key=lambda result: result.damping_factor or math.inf)
    place = branch.sections.index(worst)
    nodes = tuple([node for root in branch.roots for node in root.apart()])
    apart = network.solve_nominal(nodes)
    voltage = source.limit_voltage(branch.output.points, 1 / apart.admittance) * apart.transfers[place]
    damping = network.damping_factor(apart.transfers[place], apart.admittance, branch.output.resistance)
    gained = 20 * math.log10(voltage / (worst.voltage or math.inf))
    yield Finding(
        "lows-chained",
        "note",
        branch.id,
        f"{listed(chained)} share a line: {worst.id} has a damping factor of {reading(worst.damping_factor, '')}; "
        f"on a line of its own it would have {reading(damping, '')}, and {reading(gained, 'dB')} more level.",
        "Give each its own line from the rack where sockets and cable allow.",
    )


def _lows_behind(root: Run) -> list[str]:
    """The cabinets of one chain with a low section, empty where there is only one."""
    cabinets = [run.line.to for run in root.all_runs() if any(s.kind == "low" for s in run.node.sections)]
    return cabinets if len(cabinets) > 1 else []


@judges_branch
def short_of_power(branch: Branch) -> Iterator[Finding]:
    for result, section in zip(branch.sections, branch.models, strict=True):
        limit = limits.headroom_short()
        if result.headroom is None or not limit.broken_by(result.headroom):
            continue
        yield Finding(
            "short-of-power",
            "warn",
            result.id,
            f"Less power than the rating: {reading(result.power, 'W')} into {section.continuous} continuous, "
            f"{reading(result.headroom, 'dB')}; clipping is likely.",
            "Drive fewer sections from the channel, bridge the pair where its load allows, or use a larger amplifier.",
            result.headroom,
            limit,
        )
