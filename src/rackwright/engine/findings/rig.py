"""Judgements that take the whole rig to see: joined outputs, silence, crossed poles, polarity, space, spares."""

import itertools
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from rackwright.engine import touch
from rackwright.engine.channel import Branch, outage_of
from rackwright.engine.finding import PLANS, Finding
from rackwright.engine.findings.registry import Survey, fits, judges_rig
from rackwright.engine.outage import passes
from rackwright.engine.results import SectionResult
from rackwright.model.equipment import SectionKind
from rackwright.model.index import Index, pole_or_none, wired_sections
from rackwright.model.lines import Cabinet
from rackwright.model.racks import Feed, Rack
from rackwright.units.wording import few, listed


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
            f"{listed(list(channels))} are joined in {section.cabinet}: both drive {section.section}.",
            "Keep both amplifiers off, and unpatch one of the two before switching anything on.",
        )


@judges_rig
def bridge_second_wired(survey: Survey) -> Iterator[Finding]:
    for branch in survey.branches.values():
        if not branch.second_of_bridge or not branch.taps:
            continue
        first = f"{branch.amplifier.id}.{branch.channel}"
        sockets = [socket.id for socket, _, _ in branch.taps]
        safe = touch.made_safe(survey.index, survey.branches.values(), [branch.id, first, *sockets])
        yield Finding(
            "bridge-second-wired",
            "stop",
            branch.id,
            f"{branch.id} is wired, and is the second half of the bridge {first}.",
            f"{safe[:1].upper()}{safe[1:]}, then wire {listed(branch.tapped)} to {first}, or set the pair to dual.",
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
            "Use a cable with more cores, or another wiring of the cabinet.",
        )
    near = ways[pair]
    socket = index.sockets.get(line.source)
    if socket is None:
        return _way_back(index, line.source, near)
    pole = pole_or_none(socket.pole(near))
    if pole is None:
        return Gap(f"pole pair {near + 1} of {socket.id} is not wired", "Patch a channel to it.")
    return pole.name


@judges_rig
def section_silent(survey: Survey) -> Iterator[Finding]:
    """Sections that no channel reaches; those on a failed channel or one with no feed are told there.

    What is silent for a failure, or at a muted cabinet or behind one, is told there too.
    """
    index = survey.index
    unreached = [
        result
        for result in survey.silent
        if result.patched is None and outage_of(index, survey.branches, result) is None
    ]
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


def _behind(index: Index, cabinet: str) -> list[str]:
    """A cabinet and all that hangs on its link."""
    return [
        cabinet,
        *(name for line in index.lines_from.get(cabinet, ()) for name in _behind(index, line.to)),
    ]


@judges_rig
def cabinet_muted(survey: Survey) -> Iterator[Finding]:
    index = survey.index
    for cabinet in index.rig.cabinets:
        if not cabinet.muted:
            continue
        behind = _behind(index, cabinet.id)[1:]
        too = (
            f", and {listed(behind)} behind it {'is' if len(behind) == 1 else 'are'} silent too"
            if behind
            else ""
        )
        yield Finding(
            "cabinet-muted",
            "note",
            cabinet.id,
            f"{cabinet.id} is muted: its plug is pulled{too}.",
            "Plug it in again when there is power for it.",
        )


def _gap(index: Index, cabinet: Cabinet, section: str) -> Gap:
    wiring = wired_sections(cabinet, index.loudspeaker_models[cabinet.model])
    pairs = [pair for pair, names in enumerate(wiring) if section in names]
    if not pairs:
        return Gap(
            f"the wiring {cabinet.wiring or 'of the cabinet'} doesn't use it", "Choose another wiring."
        )
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
            as_wired = fits(feed_a, at_a) and fits(feed_b, at_b)
            if as_wired or not (fits(feed_a, at_b) and fits(feed_b, at_a)):
                continue
            yield Finding(
                "poles-crossed",
                "stop",
                cabinet.id,
                f"Pole pairs {a + 1} and {b + 1} of {cabinet.id} are crossed: "
                f"{listed([s.id for s in at_a])} gets {feed_a.id}, {listed([s.id for s in at_b])} gets {feed_b.id}.",
                f"{_made_safe(survey, cabinet.id)}, then exchange the two pole pairs at the socket, or remove the crossed adaptor.",
            )


def _misfed(survey: Survey) -> list[Cabinet]:
    """The cabinets on a channel whose feed does not fit all its sections."""
    names = {
        result.cabinet for branch in survey.branches.values() if branch.misfed for result in branch.sections
    }
    return [survey.index.cabinets[name] for name in sorted(names)]


def _feed_of(survey: Survey, cabinet: str, section: str) -> Feed | None:
    patched = survey.sections[f"{cabinet}.{section}"].patched
    return survey.branches[patched].feed if patched else None


@judges_rig
def polarity_mixed(survey: Survey) -> Iterator[Finding]:
    sides: dict[tuple[str, SectionKind], set[int]] = defaultdict(set)
    for branch in survey.branches.values():
        for kind, polarity in branch.polarities:
            sides[branch.result.feed, kind].add(polarity)
    for (feed, kind), found in sides.items():
        if len(found) > 1:
            yield _mixed(survey, feed, kind)


def _mixed(survey: Survey, feed: str, kind: SectionKind) -> Finding:
    alike: dict[int, list[str]] = defaultdict(list)
    for section in survey.sections.values():
        if section.channel is None or section.polarity is None or section.kind != kind:
            continue
        if survey.branches[section.channel].result.feed == feed:
            alike[section.polarity].append(section.id)
    fewer = min(alike.values(), key=len)
    return Finding(
        "polarity-mixed",
        "warn",
        feed,
        f"{few(fewer)} {'has' if len(fewer) == 1 else 'have'} "
        f"the opposite polarity to the other {kind} sections on {feed}.",
        "Reverse the pole pair at the socket, or, if intended, give what differs a feed of its own.",
    )


@judges_rig
def socket_split(survey: Survey) -> Iterator[Finding]:
    """Several lines out of one socket: a split, which takes a lead or a connector that the rig does not hold."""
    index = survey.index
    several = {place: lines for place, lines in index.lines_from.items() if len(lines) > 1}
    for socket in index.sockets.values() if several else ():
        if lines := several.get(socket.id):
            yield Finding(
                "socket-split",
                "warn",
                socket.id,
                f"{listed([line.id for line in lines])} {'both' if len(lines) == 2 else 'all'} start at {socket.id}, which takes one plug.",
                "Use a split lead, link the second cabinet from the first, or give it a socket of its own.",
            )


@judges_rig
def rack_space(survey: Survey) -> Iterator[Finding]:
    for rack in survey.index.rig.racks:
        yield from _overfull(rack, survey.index)


def _overfull(rack: Rack, index: Index) -> Iterator[Finding]:
    taken: dict[int, str] = {}
    for amplifier in rack.amplifiers:
        top = amplifier.unit + index.amplifier_models[amplifier.model].height - 1
        units = range(amplifier.unit, top + 1)
        if top > rack.height:
            yield Finding(
                "rack-overfull",
                "warn",
                amplifier.id,
                f"{amplifier.id} reaches unit {top}, over the {rack.height} of {rack.id}.",
                "Move it down, or to another rack.",
            )
        for other in sorted({taken[unit] for unit in units if unit in taken}) if taken else ():
            yield Finding(
                "units-overlap",
                "warn",
                amplifier.id,
                f"{amplifier.id} and {other} are in the same unit of {rack.id}.",
                "Move one of the two.",
            )
        taken.update(dict.fromkeys(units, amplifier.id))


@judges_rig
def failed(survey: Survey) -> Iterator[Finding]:
    """What is marked failed and what is silent for it; of circuits and boards that is said with what they carried."""
    lost: dict[str, list[SectionResult]] = defaultdict(list)
    what: dict[str, str] = {}
    for section in survey.silent:
        found = outage_of(survey.index, survey.branches, section)
        if (
            found
            and found.what != "unplugged"
            and found.at not in survey.index.circuits
            and found.at not in survey.index.boards
        ):
            lost[found.at].append(section)
            what[found.at] = found.what
    for at, sections in lost.items():
        place = survey.index.place(at)
        kind = place.kind if place else "phase"
        silent = _silent(survey, sections)
        others = [section.section for section in sections] if silent == [at] else silent
        lost_on_it = f"{listed(others)} {'is' if len(others) == 1 else 'are'} silent on it"
        branch = survey.branches.get(at)
        tapped = branch.tapped if branch else []
        sockets = [socket.id for socket, _, _ in branch.taps] if branch else []
        yield Finding(
            _KINDS.get(kind, kind) + "-failed",
            "stop",
            at,
            f"{at} {_SAID[what[at]]} and {'silent' if kind == 'section' else lost_on_it}.",
            f"{_made_safe(survey, at, *sockets)}, then re-patch {listed(tapped)} to a working channel."
            if kind == "channel" and tapped
            else f"{PLANS}.",
        )
    for cabinet in survey.index.rig.cabinets:
        for name, fault in cabinet.faults.items():
            if fault == "distorted":
                yield Finding(
                    "section-distorted",
                    "warn",
                    f"{cabinet.id}.{name}",
                    f"{cabinet.id}.{name} is distorted: its driver is damaged.",
                    "Mute it or turn it down before it shorts, and have it repaired.",
                )


def _silent(survey: Survey, sections: Sequence[SectionResult]) -> list[str]:
    """The cabinets of the sections; of one that plays on in part, the sections."""
    models = survey.index.loudspeaker_models
    found = Counter(section.cabinet for section in sections)
    whole = {name for name in found if found[name] == len(models[survey.index.cabinets[name].model].sections)}
    return list(dict.fromkeys(each.cabinet if each.cabinet in whole else each.id for each in sections))


def _made_safe(survey: Survey, *places: str) -> str:
    """What comes before plugs and patches are moved there and at the sockets that feed them, as an order."""
    roots = filter(None, map(survey.index.root, places))
    order = touch.made_safe(survey.index, survey.branches.values(), [*places, *roots])
    return order[0].upper() + order[1:]


_KINDS = {"pole": "pole-pair", "line pair": "line-pair"}
_SAID = {"failed": "has failed", "input failed": "gets no signal", "open": "is open", "shorted": "is shorted"}


@judges_rig
def channel_unused(survey: Survey) -> Iterator[Finding]:
    for branch in survey.branches.values():
        if branch.sections or branch.second_of_bridge:
            continue
        dead = branch.result.outage
        where = f"is patched to {listed(branch.tapped)} and nothing" if branch.taps else "drives nothing"
        if branch.taps:
            where += " that works is connected there" if _leads(survey, branch) else " is connected there"
        told, advice = f"{where} (a spare)", "Keep it for a failure, or share the load with it."
        if dead is not None:
            own = dead.at == branch.id and dead.what == "failed"
            told = "has failed and drives nothing" if own else f"drives nothing, and is dead: {dead}"
            advice = "Have it repaired." if own else "As a spare it counts once that is repaired."
        from_there = (line for tap, _, _ in branch.taps for line in survey.index.lines_from.get(tap.id, ()))
        if doubled := [line.id for line in from_there if line.cores_per_pole > 1]:
            advice += f" Strap no core of {listed(doubled)} to it in the plug: that joins two outputs."
        yield Finding("channel-unused", "note", branch.id, f"{branch.id} {told}.", advice)


def _leads(survey: Survey, branch: Branch) -> bool:
    """Whether a failure keeps a channel from what it is patched to."""
    index = survey.index
    for socket, pair, _ in branch.taps:
        if not passes(socket, pair):
            return True
        for line in index.lines_from.get(socket.id, ()):
            cabinet = index.cabinets[line.to]
            if not passes(line, pair) or cabinet.state == "failed" or cabinet.faults:
                return True
    return False
