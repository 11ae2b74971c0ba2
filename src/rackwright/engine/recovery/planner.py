"""`recover`: a rig and what has failed in, plans that bring the sound back out, the best first.

How they are found is `search`'s. Holds no move and no wording.
"""

import contextlib
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence

from msgspec import Struct
from msgspec.structs import asdict

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.recovery.failure import baseline, fail, failed
from rackwright.engine.recovery.plan import Proposal, Role
from rackwright.engine.recovery.rewiring import apply
from rackwright.engine.recovery.search import Search, Verdict
from rackwright.engine.recovery.task import Task
from rackwright.engine.results import Assessment
from rackwright.model.edits import EditError
from rackwright.model.rig import Rig
from rackwright.units.wording import listed

UNSEARCHED = (
    "a link beyond a link",
    "a spare line where a re-patch is quicker",
    "swapping two plugs",
    "moving three plugs in a chain",
    "bridging channels that both play",
    "another circuit for an amplifier with power",
    "the further channels of a larger spare amplifier",
    "other trims for neighbours that cover",
)
"""Moves, or depths of them, that no plan is made of."""


class Recovery(Struct, frozen=True, kw_only=True):
    """What has failed, and what can be done."""

    failed: tuple[str, ...]
    """What is marked failed."""
    before: Assessed
    """With everything working."""
    broken: Assessed
    lost: tuple[str, ...]
    """The sections that are silent for it, those that matter most first."""
    just_lost: tuple[str, ...]
    """Those of them that play again once what no plan was taken for yet works."""
    plans: tuple[Proposal, ...]
    """The best first. The last resort, to leave things as they are, is among them."""
    proven: bool
    """Whether no plan of the moves that are searched is better than the first."""

    @property
    def best(self) -> Proposal:
        """The best plan."""
        return self.plans[0]

    @property
    def unsearched(self) -> str:
        """What a better plan might still be made of, in a sentence; empty where none is looked for, for nothing is silent."""
        return f"Not searched: {listed(UNSEARCHED)}." if self.just_lost else ""

    @property
    def told(self) -> str:
        """What the first plan is worth, and how sure it is that none is better."""
        lost = "leaves some silent" if self.best.silent else "plays all, not all as loud as before"
        sure = "of the moves searched none is better" if self.proven else "a better one may exist"
        return f"Plan 1 {'loses nothing' if self.best.full else lost}; {sure}."


def recover(
    rig: Rig,
    names: Iterable[str] = (),
    prior: Assessment | None = None,
    *,
    planned: Collection[str] = (),
    proof: bool = True,
    between: Callable[[], None] = lambda: None,
) -> Recovery:
    """Plans for what is marked failed in the rig, and for those things besides.

    `prior`, an assessment of much the same rig, only saves time. `planned` is what has failed that an earlier plan was taken
    for. Without `proof` the plans that are found at once: nothing that plays is moved or given up to make room. `between` is
    called before each solve: what it raises ends the search. Raises EditError where a name is of nothing that can fail.
    """
    return planned_for(task_of(rig, names, prior, planned, between), proof)


def task_of(
    rig: Rig,
    names: Iterable[str] = (),
    prior: Assessment | None = None,
    planned: Collection[str] = (),
    between: Callable[[], None] = lambda: None,
) -> Task:
    """The rig as it is meant to be, and the rig with those failed besides what is marked."""
    before = assess(meant(rig), prior)
    return Task(before, assess(fail(rig, names), before), planned, between)


def meant(rig: Rig) -> Rig:
    """The rig as it was before the night, with what was meant by hand for it."""
    found = baseline(rig)
    for each in rig.lists:
        if not each.failed:
            with contextlib.suppress(EditError):
                found = apply(found, each.moves or ())
    return found


def planned_for(task: Task, proof: bool = True) -> Recovery:
    """The plans for a task."""
    search = Search(task, proof)
    return _recovery(search, search.told())


def in_turn(
    rig: Rig,
    prior: Assessment | None = None,
    *,
    planned: Collection[str] = (),
    between: Callable[[], None] = lambda: None,
) -> Iterator[Recovery]:
    """What `recover` says, as it is known: the most complete plan that is found at once, then the others that are, then the proof of
    the first, then what is better for the others.
    """
    search = Search(task_of(rig, (), prior, planned, between), proof=False)
    yield _recovery(search, search.told_first())
    if search.task.just_lost:
        yield _recovery(search, search.told())
        for widen in (search.widen, search.widen_others):
            widen()
            yield _recovery(search, search.told())


def _recovery(search: Search, told: Sequence[tuple[Verdict, tuple[Role, ...]]]) -> Recovery:
    task = search.task
    return Recovery(
        failed=failed(task.index.rig),
        before=task.before,
        broken=task.broken,
        lost=task.lost,
        just_lost=task.just_lost,
        plans=tuple(
            [Proposal(**asdict(search.plan(each, roles)), assessment=each.assessment) for each, roles in told]
        ),
        proven=search.proven,
    )
