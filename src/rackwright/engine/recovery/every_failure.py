"""Everything that may fail alone or together, of what is interchangeable one, and the best plan for it.

The search is `recover`'s, so that both say the same. Knows no order and nothing that would help.
"""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator, Sequence
from typing import Literal, NamedTuple, Protocol, TypeAlias, TypeVar

from msgspec import Struct

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.recovery.alike import classes
from rackwright.engine.recovery.criteria import Criteria
from rackwright.engine.recovery.failure import fail
from rackwright.engine.recovery.night_state import planned
from rackwright.engine.recovery.plan import Plan
from rackwright.engine.recovery.planner import meant
from rackwright.engine.recovery.search import Search, Verdict
from rackwright.engine.recovery.task import Task
from rackwright.model.index import Index
from rackwright.model.places import ChannelPlace, Thing

FailingKind: TypeAlias = Literal[
    "channel", "amplifier", "rack", "circuit", "board", "line", "feed", "pair", "connector"
]
"""Things of a kind alone; together an amplifier with its circuit (`pair`), the channels of one connector."""


class Asked(NamedTuple):
    """One thing failing, that a plan is asked for."""

    names: tuple[str, ...]
    kind: FailingKind
    like: tuple[str, ...] = ()
    """Those that are interchangeable with it."""
    proof: bool = False


class Rehearsed(Struct, frozen=True, kw_only=True):
    """One thing failing, and the best there is to do."""

    names: tuple[str, ...]
    """What fails, one by one, as `recover` takes it."""
    kind: FailingKind
    like: tuple[str, ...]
    """Those that are interchangeable with it, itself left out."""
    lost: tuple[str, ...]
    """The sections that fall silent, what matters most first."""
    broken: Criteria
    """Before anything is done."""
    plan: Plan
    """The best one."""
    proven: bool
    """Whether no plan of the moves that are searched is better."""
    for_good: tuple[str, ...]
    """The cabinets of priority 1 of which some section stays silent."""

    @property
    def best(self) -> Criteria:
        """What the best plan is worth."""
        return self.plan.criteria

    @property
    def name(self) -> str:
        """What fails, joined by `+`."""
        return "+".join(self.names)

    @property
    def shown_kind(self) -> str:
        """The kind as a list says it: `both` of an amplifier and its circuit."""
        return "both" if self.kind == "pair" else self.kind

    @property
    def order(self) -> tuple[object, ...]:
        """The worst is the greatest: by the weight of what stays silent, how much quieter, how long, as these are told."""
        return self.best.silence, self.best.level, round(self.plan.seconds), self.broken


def grouped(before: Assessed) -> list[Asked]:
    """Each kind of failure once, with the others that are interchangeable with it."""
    alike = classes(before.index)
    groups: dict[tuple[FailingKind, Hashable], list[tuple[str, ...]]] = defaultdict(list)
    for names, kind in _that_may_fail(before):
        groups[kind, tuple([alike[name] for name in names])].append(names)
    return [Asked(of[0], kind, tuple(map("+".join, of[1:]))) for (kind, _), of in groups.items()]


def _that_may_fail(before: Assessed) -> Iterator[tuple[tuple[str, ...], FailingKind]]:
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
    for board in before.boards.values():
        hung = {a for name in board.circuits for a in before.circuits[name].amplifiers}
        if board.live and amplifiers & hung:
            yield (board.id,), "board"
    heard = {section.cabinet for section in before.sections.values() if section.channel is not None}
    yield from (((line.id,), "line") for line in index.lines.values() if line.to in heard)
    played = {branch.result.feed for branch in driving.values()}
    yield from (((name,), "feed") for name in index.feeds if name in played)
    for name, amplifier in index.amplifiers.items():
        own = index.circuits.get(amplifier.circuit)
        if name in amplifiers and own is not None and own.state == "ok":
            yield (name, own.id), "pair"
    joint = dict.fromkeys(
        tuple([name for name in index.channels_at(socket) if name in driving]) for socket in index.sockets
    )
    whole = [tuple(n for n, b in driving.items() if b.amplifier.id == name) for name in amplifiers]
    yield from (
        (names, "connector") for names in joint if len(names) > 1 and tuple(sorted(names)) not in whole
    )


class Rehearser:
    """A rig as it stands, to fail one thing after the other of."""

    def __init__(self, now: Assessed, between: Callable[[], None] = lambda: None) -> None:
        """`between` is called before each solve: what it raises ends the search."""
        self.now, self.rig, self.between = now, now.index.rig, between
        self.planned = planned(self.rig)
        self._meant = assess(meant(self.rig), now)
        self._task: Task | None = None
        for index in (self.now.index, self._meant.index):
            index.place("")  # made here, what it looks through is taken over by each index after it

    def best(self, names: tuple[str, ...], proof: bool) -> tuple[Search, Verdict]:
        """The search that `recover` makes for those, and the best plan."""
        broken = assess(fail(self.rig, names, self.now.index), self.now)
        self._task = Task(self._meant, broken, self.planned, self.between, self._task)
        search = Search(self._task, proof)
        return search, search.best()

    def rehearsed(self, asked: Asked) -> Rehearsed:
        """The best plan for what fails."""
        cabinets, sections = self.now.index.cabinets, self.now.sections
        search, verdict = self.best(asked.names, asked.proof)
        plan = search.plan(verdict, ("most complete",) if verdict.moves else ("leave it",))
        of = dict.fromkeys(sections[n].cabinet for n in plan.silent)
        return Rehearsed(
            names=asked.names,
            kind=asked.kind,
            like=asked.like,
            lost=tuple([name for name in search.task.lost if sections[name].channel]),
            broken=search.leave.criteria,
            plan=plan,
            proven=asked.proof and search.proven,
            for_good=tuple(cabinet for cabinet in of if cabinets[cabinet].priority_of("full") == 1),
        )


Q = TypeVar("Q")
A = TypeVar("A")


class Answers(Protocol):
    """Has a function of a rehearser answer each question; with each answer comes the number of its question, in whatever order."""

    def __call__(
        self, answer: Callable[[Rehearser, Q], A], rehearser: Rehearser, asked: Sequence[Q]
    ) -> Iterator[tuple[int, A]]: ...


def one_by_one(
    answer: Callable[[Rehearser, Q], A], rehearser: Rehearser, asked: Sequence[Q]
) -> Iterator[tuple[int, A]]:
    """One after the other."""
    return ((number, answer(rehearser, each)) for number, each in enumerate(asked))


def by_rack(now: Assessed, answers: Answers = one_by_one) -> dict[str, tuple[Rehearsed, ...]]:
    """Rack → what may fail of it, or of what feeds it or hangs on it, each by itself, with the first plan found for it."""
    alone = [Asked(*each) for each in _that_may_fail(now) if each[1] not in ("feed", "pair", "connector")]
    racks = {each: _racks_of(now.index, each.names[0]) for each in alone}
    asked = [each for each in alone if racks[each]]
    answered = dict(answers(Rehearser.rehearsed, Rehearser(now), asked))
    found: dict[str, list[Rehearsed]] = {rack.id: [] for rack in now.index.rig.racks}
    for number, each in enumerate(asked):
        for rack in racks[each]:
            found[rack].append(answered[number])
    return {rack: tuple(failures) for rack, failures in found.items() if failures}


def _racks_of(index: Index, name: str) -> set[str]:
    """The racks that a thing is in, or feeds, or starts from."""
    match index.place(name):
        case ChannelPlace(amplifier=amplifier):
            return {index.rack_of[amplifier].id}
        case Thing(kind="line"):
            root = index.root(index.lines[name].to)
            return {index.rack_of[root].id} if root else set()
        case Thing(kind="circuit"):
            return {index.rack_of[each.id].id for each in index.amplifiers.values() if each.circuit == name}
        case Thing(kind="rack"):
            return {name}
        case Thing(kind="amplifier"):
            return {index.rack_of[name].id}
        case _:
            return set()
