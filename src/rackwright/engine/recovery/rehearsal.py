"""The rehearsal: everything failing in turn, one at a time and what fails together, each from the rig as it stands.

For all of them the first plans, then, the worst first, the proof, then what would help before the show. What fails is
`every_failure`'s to say, what would help `preparation`'s.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from typing import Literal, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.assess import assess
from rackwright.engine.recovery import preparation
from rackwright.engine.recovery.every_failure import Answers, Rehearsed, Rehearser, grouped, one_by_one
from rackwright.engine.recovery.preparation import Help, advised
from rackwright.engine.results import Assessment
from rackwright.model.rig import Rig

Stage: TypeAlias = Literal["first plans", "proof", "what would help"]
MOST_TOLD = 8
"""Of what helps, in sentences."""


class Rehearsal(Struct, frozen=True, kw_only=True):
    """Every failure there may be, as far as it is known, and what would help."""

    failures: tuple[Rehearsed, ...]
    """The worst first; of those that are interchangeable one."""
    helps: tuple[Help, ...] = ()
    """What helps most first; only what helps."""
    stage: Stage
    done: int
    """Of `total`, in this stage."""
    total: int

    @property
    def advice(self) -> list[str]:
        """What would help most, in sentences; that nothing does or need, or that it isn't known yet."""
        if self.stage != "what would help":
            return ["Looked for once the plans are proved."]
        if not self.failures:
            return ["Nothing plays that a failure could silence."]
        return [advised(each) for each in self.helps[:MOST_TOLD]] or ["No spare and no exchange would help."]

    @property
    def for_good(self) -> dict[str, tuple[str, ...]]:
        """Cabinet of priority 1 → the failures that would silence a section of it for good."""
        found: dict[str, list[str]] = defaultdict(list)
        for failure in self.failures:
            for cabinet in failure.for_good:
                found[cabinet].append(failure.name)
        return {cabinet: tuple(names) for cabinet, names in found.items()}


def stages(
    rig: Rig,
    prior: Assessment | None = None,
    proof: bool = True,
    between: Callable[[], None] = lambda: None,
    answers: Answers = one_by_one,
) -> Iterator[Rehearsal]:
    """What is known after each search: the first plans of all, then the proofs, then what would help.

    Without `proof` the first plans count. `prior`, an assessment of much the same rig, only saves time. `between` is called
    before each solve: what it raises ends the rehearsal. `answers` may have plans found side by side.
    """
    before = assess(rig, prior)
    asked, rehearser = grouped(before), Rehearser(before, between)
    failures: dict[int, Rehearsed] = {}
    for done, (number, failure) in enumerate(answers(Rehearser.rehearsed, rehearser, asked), start=1):
        failures[number] = failure
        yield _told(failures, "first plans", done, len(asked))
    if proof:
        worst = sorted(sorted(failures), key=lambda number: failures[number].order, reverse=True)
        again = [asked[number]._replace(proof=True) for number in worst]
        proofs = answers(Rehearser.rehearsed, rehearser, again)
        for done, (number, failure) in enumerate(proofs, start=1):
            failures[worst[number]] = failure
            yield _told(failures, "proof", done, len(worst))
    found = _told(failures, "what would help", 1, 1)
    yield found
    for helps, done, total in preparation.helps(rehearser, found.failures, answers):
        yield replace(found, helps=helps, done=done, total=total)


def _told(failures: Mapping[int, Rehearsed], stage: Stage, done: int, total: int) -> Rehearsal:
    """In the order of the rig where they are as bad, whichever was known first."""
    in_order = [failures[number] for number in sorted(failures)]
    worst = sorted(in_order, key=lambda failure: failure.order, reverse=True)
    return Rehearsal(failures=tuple(worst), stage=stage, done=done, total=total)
