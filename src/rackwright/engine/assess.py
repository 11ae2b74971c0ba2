"""`assess`: a rig in, everything there is to say about it out.

Puts the subject modules together, and takes over from an earlier assessment every channel that an edit
did not touch: rigs share what they have in common, so that what changed is what is not the same object.
Holds no formula.
"""

import itertools
from collections.abc import Iterable, Iterator, Mapping
from operator import attrgetter

from msgspec.structs import replace

from rackwright.engine import findings, mains, touch
from rackwright.engine.channel import Branch, outage_of, trace
from rackwright.engine.demand import RackResult
from rackwright.engine.finding import Finding
from rackwright.engine.mains.cables import of_rig
from rackwright.engine.meter_check import Checked, wrong_readings
from rackwright.engine.results import Assessment, RunResult, SectionResult
from rackwright.model.index import Index
from rackwright.model.places import ChannelPlace
from rackwright.model.racks import Rack, channel_name
from rackwright.model.rig import Rig


class Assessed(Assessment, frozen=True, kw_only=True):
    """An assessment with what the next one can take over from it."""

    index: Index
    branches: dict[str, Branch]
    joined: dict[str, tuple[str, ...]]
    """The sections that several channels are patched to, and those channels."""
    power: mains.Mains
    """What the rig takes from the mains, with what that was worked out from."""
    cables: dict[str, mains.Cable]
    """The supply cables of circuits and boards that can be checked."""
    played: tuple[findings.Played, ...]
    """The feeds that something plays, with what was found on each."""
    wrong_readings: tuple[Checked, ...]
    """The pole pairs that the meter check found other than as expected."""
    named: dict[str, findings.Named]
    """Each part of the rig that holds names, with those that can't be printed."""

    def at(self, place: str) -> tuple[Finding, ...]:
        """The findings at a place and what is on it: at `A1` also those of `A1.1`, at `C1` those of `C1/2`, at `A1.1` those of what it drives."""
        driven = self.driven(place)
        return tuple(f for f in self.findings if place in (f.at, self.index.thing_at(f.at)) or f.at in driven)

    def driven(self, channel: str) -> frozenset[str]:
        """The pole pairs of lines that a channel drives; of anything else none."""
        branch = self.branches.get(channel)
        return (
            frozenset(f"{run.line.id}/{run.near + 1}" for run in branch.all_runs) if branch else frozenset()
        )

    def playing(self, feed: str) -> tuple[Branch, ...]:
        """The channels that drive something from a feed."""
        return next((each.branches for each in self.played if each.feed.id == feed), ())

    def silence(self, section: str) -> str:
        """Why a section is silent, in two or three words; empty where it sounds."""
        result = self.sections[section]
        if result.channel is not None:
            return ""
        if found := outage_of(self.index, self.branches, result):
            return str(found)
        if result.patched is None:
            return "no channel"
        return "second half of a bridge" if self.branches[result.patched].second_of_bridge else "no feed"


def assess(rig: Rig, prior: Assessment | None = None) -> Assessed:
    """Assess a rig that keeps the rules.

    `prior`, an assessment of an earlier rig, only saves time: the result is the same without it.
    """
    before = prior if isinstance(prior, Assessed) else None
    index = Index(rig, before.index if before else None)
    kept = unchanged(before, index) if before else {}
    branches = {name: kept.get(name) or _judged(index, place) for name, place in index.channels.items()}
    touched = [name for name in branches if name not in kept]
    sections, joined = _sections(index, branches, touched, before)
    fed = before if before and mains.fed_alike(before.index, index) else None
    power = mains.mains_of(
        index, branches, touched, before.amplifiers if before else {}, fed.power if fed else None
    )
    contacts = touch.gathered(branches.values())
    cables = of_rig(index, power.circuits, power.boards, *((fed.cables, fed.index) if fed else ()))
    played = findings.feeds_played(index, branches.values(), before.played if before else ())
    wrong = before.wrong_readings if before and _lines_alike(before.index, index) else wrong_readings(index)
    named = findings.named(rig, before.named if before else {})
    survey = findings.Survey(index, branches, sections, joined, power, contacts, cables, played, wrong, named)
    on_branches = itertools.chain.from_iterable([branch.findings for branch in branches.values()])
    found = itertools.chain(findings.said_on(survey, findings.of_rig(survey)), on_branches)
    return Assessed(
        channels={name: branch.result for name, branch in branches.items()},
        sections=sections,
        runs=_runs(index, branches, touched, before),
        racks=_racks(index, power, before),
        amplifiers=power.amplifiers,
        boards=power.boards,
        circuits=power.circuits,
        loads=power.loads,
        rcds=power.rcds,
        phases=power.phases,
        supply=power.supply,
        touch=contacts,
        findings=findings.gravest_first(found),
        index=index,
        branches=branches,
        joined=joined,
        power=power,
        cables=cables,
        played=played,
        wrong_readings=wrong,
        named=named,
    )


def _lines_alike(before: Index, after: Index) -> bool:
    """Whether all that a meter sees, and what it showed, is as it was."""
    was, now = before.rig, after.rig
    tables = ("readings", "lines", "cabinets", "equipment", "stock")
    return (
        all(getattr(was, table) is getattr(now, table) for table in tables)
        and was.supply.ambient == now.supply.ambient
        and {each.id: each.connector for each in before.sockets.values()}
        == {each.id: each.connector for each in after.sockets.values()}
    )


def _judged(index: Index, place: ChannelPlace) -> Branch:
    branch = trace(index, index.amplifiers[place.amplifier], place.channel)
    branch = replace(branch, touch=touch.of_branch(index, branch))
    return replace(
        branch,
        findings=findings.of_branch(branch),
        misfed=findings.misfed(branch),
        over_power=findings.over_power(branch),
        past_ratings=findings.past_ratings(branch),
    )


def _sections(
    index: Index, branches: Mapping[str, Branch], touched: list[str], before: Assessed | None
) -> tuple[dict[str, SectionResult], dict[str, tuple[str, ...]]]:
    """Every section in the order of the rig, and those that several channels are patched to."""
    same_cabinets = (
        before is not None
        and before.index.rig.cabinets is index.rig.cabinets
        and before.index.rig.equipment == index.rig.equipment
    )
    if before is not None and same_cabinets and not before.joined:
        sections = _sections_changed(branches, touched, before)
        if sections is not None:
            return sections, {}
    return _all_sections(index, branches)


def _sections_changed(
    branches: Mapping[str, Branch], touched: list[str], before: Assessed
) -> dict[str, SectionResult] | None:
    """The sections of the rig before with those of the touched branches told anew; None where two channels meet."""
    sections = dict(before.sections)
    gone = [
        before.branches[name] for name in before.branches if branches.get(name) is not before.branches[name]
    ]
    for branch in gone:
        for result in branch.sections:
            sections[result.id] = _silent(result)
    for name in touched:
        for result in branches[name].sections:
            if sections[result.id].patched is not None:
                return None
            sections[result.id] = result
    return sections


def _silent(result: SectionResult) -> SectionResult:
    return SectionResult(cabinet=result.cabinet, section=result.section, kind=result.kind)


def _all_sections(
    index: Index, branches: Mapping[str, Branch]
) -> tuple[dict[str, SectionResult], dict[str, tuple[str, ...]]]:
    """Of a section on two channels the first that sounds is told."""
    driven: dict[str, SectionResult] = {}
    joined: dict[str, tuple[str, ...]] = {}
    for branch in branches.values():
        for result in branch.sections:
            name = f"{result.cabinet}.{result.section}"
            if name in driven:
                joined[name] = (*joined.get(name, (driven[name].patched or "",)), branch.id)
                if driven[name].channel is not None:
                    continue
            driven[name] = result
    sections = {
        name: driven.get(name) or SectionResult(cabinet=cabinet.id, section=section.id, kind=section.kind)
        for cabinet in index.rig.cabinets
        for section in index.loudspeaker_models[cabinet.model].sections
        for name in (f"{cabinet.id}.{section.id}",)
    }
    return sections, joined


def _runs(
    index: Index, branches: Mapping[str, Branch], touched: list[str], before: Assessed | None
) -> dict[str, tuple[RunResult, ...]]:
    """The runs of each line by pole pair, in the order of the rig; lines that no touched branch runs over stay."""
    if before is None or list(branches) != list(before.branches):
        found = _by_line(run for branch in branches.values() for run in branch.runs)
    else:
        lines = {run.line for name in touched for of in (before.branches, branches) for run in of[name].runs}
        stale = set(touched)
        others = (run for line in lines for run in before.runs.get(line, ()) if run.channel not in stale)
        renewed = (run for name in touched for run in branches[name].runs)
        kept = {line: runs for line, runs in before.runs.items() if line not in lines}
        found = kept | _by_line(itertools.chain(others, renewed))
    return {line: found[line] for line in index.lines if line in found}


def _by_line(runs: Iterable[RunResult]) -> dict[str, tuple[RunResult, ...]]:
    by_line: dict[str, list[RunResult]] = {}
    for run in runs:
        by_line.setdefault(run.line, []).append(run)
    return {line: tuple(sorted(of, key=attrgetter("far", "channel"))) for line, of in by_line.items()}


def _racks(index: Index, power: mains.Mains, before: Assessed | None) -> dict[str, RackResult]:
    """Those whose amplifiers take what they took before stay."""
    racks = index.rig.racks
    if before is None or before.supply.phases != power.supply.phases:
        return {rack.id: _rack(rack, index, power) for rack in racks}
    taken, was = before.amplifiers, before.index.racks
    changed = {
        index.rack_of[name].id for name, load in power.amplifiers.items() if taken.get(name) is not load
    }
    return {
        rack.id: before.racks[rack.id]
        if rack.id not in changed and was.get(rack.id) is rack
        else _rack(rack, index, power)
        for rack in racks
    }


def _rack(rack: Rack, index: Index, power: mains.Mains) -> RackResult:
    one_phase = mains.on_one_phase(index, rack.amplifiers, power.supply.phases)
    models = [index.amplifier_models[amplifier.model] for amplifier in rack.amplifiers]
    loads = [power.amplifiers[amplifier.id] for amplifier in rack.amplifiers]
    return RackResult(
        id=rack.id,
        weight=sum(model.weight.value for model in models),
        units_used=sum(model.height for model in models),
        units=rack.height,
        **mains.whole(loads, one_phase),  # type: ignore[arg-type]
    )


def unchanged(prior: Assessed, index: Index) -> dict[str, Branch]:
    """The branches of an earlier assessment that hold in this rig too."""
    before, after = prior.index.rig, index.rig
    if before is after:
        return prior.branches
    if (before.supply, before.targets, before.equipment) != (after.supply, after.targets, after.equipment):
        return {}
    if _reordered(prior.index.lines, index.lines) or _reordered(prior.index.sockets, index.sockets):
        return {}
    stale = set(_touched(prior.index, index))
    return {name: branch for name, branch in prior.branches.items() if name not in stale}


def _touched(before: Index, after: Index) -> Iterator[str]:
    """The channels whose branch an edit can have changed."""
    amplifiers = _changed(before.amplifiers, after.amplifiers)
    for name in _changed(before.racks, after.racks):
        held = [index.racks[name] for index in (before, after) if name in index.racks]
        if len({rack.state for rack in held}) > 1:
            amplifiers += [amplifier.id for amplifier in held[-1].amplifiers]
    powered = set(_changed(before.circuits, after.circuits))
    if _changed(before.boards, after.boards):
        powered |= {circuit.id for circuit in after.circuits.values() if circuit.board}
    if powered:
        amplifiers += [name for name, a in after.amplifiers.items() if a.circuit in powered]
    sockets = set(_changed(before.sockets, after.sockets))
    for place in itertools.chain(
        _changed(before.lines, after.lines), _changed(before.cabinets, after.cabinets)
    ):
        sockets.update(root for index in (before, after) if (root := index.root(place)))
    for index in (before, after):
        for name in amplifiers:
            if amplifier := index.amplifiers.get(name):
                model = index.amplifier_models[amplifier.model]
                yield from (channel_name(name, channel) for channel in range(model.channels))
        for name in sockets:
            yield from index.channels_at(name)
    feeds = set(_changed(before.feeds, after.feeds))
    moved = set(amplifiers)
    for feed in after.feeds.values():
        if moved and feed.limiter_at in after.channels and after.channels[feed.limiter_at].amplifier in moved:
            feeds.add(feed.id)
    if feeds:
        for amplifier in after.amplifiers.values():
            if any(channel.feed in feeds for channel in amplifier.channels):
                model = after.amplifier_models[amplifier.model]
                yield from (channel_name(amplifier.id, channel) for channel in range(model.channels))


def _changed(before: Mapping[str, object], after: Mapping[str, object]) -> list[str]:
    """The ids whose thing is another object than before, or stands in one of the two only."""
    if before == after:
        return []
    return [name for name in {**before, **after} if before.get(name) is not after.get(name)]


def _reordered(before: Mapping[str, object], after: Mapping[str, object]) -> bool:
    """Whether the ids that stand in both do so in another order, as the runs and findings of a branch then do."""
    if before is after or [*before] == [*after]:
        return False
    return [name for name in before if name in after] != [name for name in after if name in before]
