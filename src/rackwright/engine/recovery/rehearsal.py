"""`rehearse`: everything failing in turn, and which single spare would help most.

One failure at a time, and the pairs that fail together, each from the rig as it stands; of those that are interchangeable one
is searched. The search is `recover`'s, so that both say the same.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator
from typing import Literal, NamedTuple, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.recovery.alike import classes
from rackwright.engine.recovery.criteria import Criteria
from rackwright.engine.recovery.failure import fail
from rackwright.engine.recovery.plan import Plan
from rackwright.engine.recovery.planner import Search, Verdict
from rackwright.engine.recovery.task import Task
from rackwright.engine.results import Assessment
from rackwright.model.index import pairs_carried, wired_sections
from rackwright.model.rig import Amplifier, Channel, Rack, Rig, Spare

FailingKind: TypeAlias = Literal["channel", "amplifier", "rack", "circuit", "line", "feed", "pair"]
Progress: TypeAlias = Callable[[int, int], None]
"""Told how many searches are done, of how many."""


class Rehearsed(Struct, frozen=True, kw_only=True):
    """One thing failing, and the best there is to do."""

    name: str
    """As `recover` takes it; of a pair both, joined by `+`."""
    kind: FailingKind
    like: tuple[str, ...]
    """Those that are interchangeable with it, itself left out."""
    lost: tuple[str, ...]
    """The sections that fall silent, what matters most first."""
    broken: Criteria
    """Before anything is done."""
    plan: Plan
    """The best one."""
    for_good: tuple[str, ...]
    """The cabinets of priority 1 of which some section stays silent."""

    @property
    def best(self) -> Criteria:
        """What the best plan is worth."""
        return self.plan.criteria

    @property
    def names(self) -> tuple[str, ...]:
        """What fails, one by one."""
        return tuple(self.name.split("+")) if self.kind == "pair" else (self.name,)


class SpareWorth(Struct, frozen=True, kw_only=True):
    """What one more spare would do for all failures together."""

    kind: Literal["channel", "cable", "amplifier"]
    what: str
    """The amplifier or cable it is, with its length."""
    rack: str
    """Where a channel would be; empty for a cable or an amplifier in stock."""
    helps: tuple[str, ...]
    """The failures it eases, the most eased first."""
    silent: float
    """The weight that it saves from silence, summed over the failures."""
    loss: float
    """dB that are still lost with it, summed over the failures it eases."""


class Rehearsal(Struct, frozen=True, kw_only=True):
    """Every failure there may be, and what would help."""

    failures: tuple[Rehearsed, ...]
    """The worst first; of those that are interchangeable one."""
    spares: tuple[SpareWorth, ...]
    """What helps most first; only what helps."""

    @property
    def for_good(self) -> dict[str, tuple[str, ...]]:
        """Cabinet of priority 1 → the failures that would silence a section of it for good."""
        found: dict[str, list[str]] = defaultdict(list)
        for failure in self.failures:
            for cabinet in failure.for_good:
                found[cabinet].append(failure.name)
        return {cabinet: tuple(names) for cabinet, names in found.items()}


def rehearse(rig: Rig, prior: Assessment | None = None, progress: Progress | None = None) -> Rehearsal:
    """Fail everything in turn. `prior`, an assessment of much the same rig, only saves time."""
    before = assess(rig, prior)
    groups = _grouped(before)
    offers = list(_offers(rig, before))
    count = _Count(progress or (lambda _done, _total: None), len(groups))
    failures = []
    for (names, kind), like in groups:
        failures.append(_rehearsed(before, names, kind, like))
        count.one()
    tried = [(offer, _eased_by(before, offer, failures)) for offer in offers]
    count.more(sum(len(eased) for _, eased in tried))
    spares = [_worth(offer, eased, count, before) for offer, eased in tried]
    return Rehearsal(
        failures=tuple(sorted(failures, key=lambda f: (f.best[:5], f.broken), reverse=True)),
        spares=tuple(
            sorted((s for s in spares if s.helps), key=lambda s: (-s.silent, -len(s.helps), s.loss))
        ),
    )


class _Count:
    def __init__(self, tell: Progress, total: int) -> None:
        self._tell, self._done, self._total = tell, 0, total

    def one(self) -> None:
        self._done += 1
        self._tell(self._done, self._total)

    def more(self, number: int) -> None:
        self._total += number


Failing: TypeAlias = tuple[tuple[str, ...], FailingKind]


def _grouped(before: Assessed) -> list[tuple[Failing, tuple[str, ...]]]:
    """Each kind of failure once, with the others that are interchangeable with it."""
    alike = classes(before.index)
    groups: dict[Hashable, list[Failing]] = defaultdict(list)
    for names, kind in _that_may_fail(before):
        groups[kind, tuple([alike[name] for name in names])].append((names, kind))
    return [(of[0], tuple(["+".join(names) for names, _ in of[1:]])) for of in groups.values()]


def _that_may_fail(before: Assessed) -> Iterator[Failing]:
    """Everything whose failure would silence something, and what fails together."""
    index = before.index
    driving = {b.id: b for b in before.branches.values() if b.live and b.sections}
    amplifiers = {branch.amplifier.id for branch in driving.values()}
    yield from (((name,), "channel") for name in driving)
    yield from (((name,), "amplifier") for name in index.amplifiers if name in amplifiers)
    for rack in index.rig.racks:
        if any(amplifier.id in amplifiers for amplifier in rack.amplifiers):
            yield (rack.id,), "rack"
    for circuit in before.circuits.values():
        if circuit.state == "ok" and amplifiers.intersection(circuit.amplifiers):
            yield (circuit.id,), "circuit"
    heard = {section.cabinet for section in before.sections.values() if section.channel is not None}
    yield from (((line.id,), "line") for line in index.lines.values() if line.to in heard)
    played = {branch.result.feed for branch in driving.values()}
    yield from (((name,), "feed") for name in index.feeds if name in played)
    for name, amplifier in index.amplifiers.items():
        circuit = index.circuits.get(amplifier.circuit)  # type: ignore[assignment]
        if name in amplifiers and circuit is not None and circuit.state == "ok":
            yield (name, circuit.id), "pair"


def best_for(before: Assessed, rig: Rig, names: Iterable[str]) -> tuple[Search, Verdict]:
    """The best plan for a failure of the rig that `before` is of."""
    search = Search(Task(before, assess(fail(rig, names), before)), proof=False)
    return search, search.best()


def _rehearsed(
    before: Assessed, names: tuple[str, ...], kind: FailingKind, like: tuple[str, ...]
) -> Rehearsed:
    search, verdict = best_for(before, before.index.rig, names)
    task, cabinets = search.task, before.index.cabinets
    plan = search.plan(verdict, ("most complete",) if verdict.moves else ("leave it",))
    of = dict.fromkeys(before.sections[n].cabinet for n in plan.silent)
    return Rehearsed(
        name="+".join(names),
        kind=kind,
        like=like,
        lost=task.lost,
        broken=search.leave.criteria,
        plan=plan,
        for_good=tuple(cabinet for cabinet in of if cabinets[cabinet].priority_of("full") == 1),
    )


# --- what one more spare would do ---------------------------------------------------------------------


class _Offer(NamedTuple):
    """The rig with one more spare."""

    kind: Literal["channel", "cable", "amplifier"]
    what: str
    model: str
    """Of the amplifier or the cable."""
    rack: str
    rig: Rig


def _offers(rig: Rig, before: Assessed) -> Iterator[_Offer]:
    """A channel in each rack, an amplifier of each model, a length of each cable that links or runs, all as in use."""
    for rack in rig.racks:
        if rack.amplifiers:
            model = Counter(amplifier.model for amplifier in rack.amplifiers).most_common(1)[0][0]
            yield _Offer("channel", model, model, rack.id, _with_channel(rig, rack, model, before))
    for model in dict.fromkeys(amplifier.model for amplifier in rig.amplifiers()):
        yield _Offer("amplifier", model, model, "", _with_spare(rig, Spare(amplifier=model)))
    for cable in _cables(rig, before):
        shortest = min(
            (line.length for line in rig.lines if line.cable == cable), key=lambda length: length.value
        )
        spare = Spare(cable=cable, length=shortest)
        yield _Offer("cable", spare.id, cable, "", _with_spare(rig, spare))


def _cables(rig: Rig, before: Assessed) -> list[str]:
    """Of each number of cores the cable that is used most."""
    used = Counter(line.cable for line in rig.lines)
    cores = {name: before.index.cable_models[name].cores for name in used}
    return list({cores[name]: name for name, _ in reversed(used.most_common())}.values())


def _with_spare(rig: Rig, spare: Spare) -> Rig:
    known = any(other.id == spare.id for other in rig.spares)
    more = tuple(replace(s, count=s.count + 1) if s.id == spare.id else s for s in rig.spares)
    return replace(rig, spares=more if known else (*more, spare))


def _with_channel(rig: Rig, rack: Rack, model: str, before: Assessed) -> Rig:
    """The rig with an amplifier of which one channel works, over the top of a rack and on no circuit."""
    name = "SPARE"
    while before.index.place(name):
        name += "-"
    count = before.index.amplifier_models[model].channels
    channels = (Channel(), *[Channel(state="failed")] * (count - 1))
    spare = Amplifier(id=name, model=model, unit=rack.height + 1, channels=channels)
    racks = tuple(replace(r, amplifiers=(*r.amplifiers, spare)) if r.id == rack.id else r for r in rig.racks)
    return replace(rig, racks=racks)


def _eased_by(before: Assessed, offer: _Offer, failures: Iterable[Rehearsed]) -> list[Rehearsed]:
    """The failures that a spare may ease: those that leave something silent, or where none do, something quieter."""
    open_ones = [f for f in failures if f.best.silence] or [f for f in failures if f.best.loss]
    index = before.index
    if offer.kind == "channel":
        there = {name for name, rack in index.rack_of.items() if rack.id == offer.rack}
        roots = {f.name: {index.root(before.sections[n].cabinet) for n in f.lost} for f in open_ones}
        return [f for f in open_ones if roots[f.name] & there and f.name != offer.rack]
    if offer.kind == "amplifier":
        model = index.amplifier_models[offer.model]
        least = {rack.id: [a.id for a in rack.amplifiers] for rack in index.rig.racks}
        channels = {
            f.name: min(
                index.amplifier_models[index.amplifiers[name].model].channels
                for name in least.get(f.name, [f.name])
            )
            for f in open_ones
            if f.kind in ("amplifier", "rack")
        }
        return [f for f in open_ones if channels.get(f.name, model.channels + 1) <= model.channels]
    return [f for f in open_ones if any(_may_link(before, offer, name) for name in f.lost)]


def _may_link(before: Assessed, offer: _Offer, section: str) -> bool:
    """Whether a cable has a pole pair for a section, and a cabinet whose line starts at the same rack plays its feed."""
    index = before.index
    cabinet = before.sections[section].cabinet
    wiring = wired_sections(index.cabinets[cabinet], index.loudspeaker_models[index.cabinets[cabinet].model])
    pairs = [pair for pair, names in enumerate(wiring) if before.sections[section].section in names]
    model = index.cable_models[offer.model]
    if not pairs or pairs[0] >= pairs_carried(model, 1):
        return False
    feed = before.channels[before.sections[section].channel or ""].feed
    racks = {root: index.rack_of[root].id for root in index.sockets}
    own = racks.get(index.root(cabinet) or "")
    return any(
        other.cabinet != cabinet
        and other.channel is not None
        and before.channels[other.channel].feed == feed
        and racks.get(index.root(other.cabinet) or "") == own
        for other in before.sections.values()
    )


def _worth(offer: _Offer, failures: list[Rehearsed], count: _Count, prior: Assessed) -> SpareWorth:
    before = assess(offer.rig, prior) if failures else prior
    eased: list[tuple[float, float, str, float]] = []
    for failure in failures:
        _, verdict = best_for(before, offer.rig, failure.names)
        count.one()
        silent = failure.best.silence - verdict.criteria.silence
        loss = failure.best.loss - verdict.criteria.loss
        if silent > 0 or (silent == 0 and loss > 0):
            eased.append((silent, loss, failure.name, verdict.criteria.loss))
    eased.sort(reverse=True)
    return SpareWorth(
        kind=offer.kind,
        what=offer.what,
        rack=offer.rack,
        helps=tuple([name for _, _, name, _ in eased]),
        silent=sum([silent for silent, _, _, _ in eased]),
        loss=round(sum([left for _, _, _, left in eased]), 1),
    )
