"""The rehearsal: everything failing in turn, one at a time and what fails together, each from the rig as it stands.

For all of them the first plans, then, the worst first, the proof, then what would help before the show. What fails is
`every_failure`'s to say, what would help `preparation`'s.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Literal, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.assess import assess
from rackwright.engine.recovery import preparation
from rackwright.engine.recovery.every_failure import Rehearsed, Rehearser, grouped
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
        """What would help most, in sentences; that nothing does, or that it isn't known yet."""
        if self.stage != "what would help":
            return ["Looked for once the plans are proved."]
        return [advised(each) for each in self.helps[:MOST_TOLD]] or ["No spare and no exchange would help."]

    @property
    def for_good(self) -> dict[str, tuple[str, ...]]:
        """Cabinet of priority 1 → the failures that would silence a section of it for good."""
        found: dict[str, list[str]] = defaultdict(list)
        for failure in self.failures:
            for cabinet in failure.for_good:
                found[cabinet].append(failure.name)
        return {cabinet: tuple(names) for cabinet, names in found.items()}


def stages(rig: Rig, prior: Assessment | None = None, proof: bool = True) -> Iterator[Rehearsal]:
    """What is known after each search: the first plans of all, then the proofs, then what would help.

    Without `proof` the first plans count. `prior`, an assessment of much the same rig, only saves time.
    """
    before = assess(rig, prior)
    groups, rehearser = grouped(before), Rehearser(before)
    failures: list[Rehearsed] = []
    for failing, like in groups:
        failures.append(rehearser.rehearsed(failing, like, proof=False))
        yield _told(failures, "first plans", len(failures), len(groups))
    if proof:
        worst = sorted(failures, key=lambda failure: failure.order, reverse=True)
        for done, failure in enumerate(worst, start=1):
            proved = rehearser.rehearsed((failure.names, failure.kind), failure.like, proof=True)
            failures[failures.index(failure)] = proved
            yield _told(failures, "proof", done, len(worst))
    found = _told(failures, "what would help", 1, 1)
    yield found
    for helps, done, total in preparation.helps(before, found.failures):
        yield replace(found, helps=helps, done=done, total=total)


def _told(failures: Sequence[Rehearsed], stage: Stage, done: int, total: int) -> Rehearsal:
    worst = sorted(failures, key=lambda failure: failure.order, reverse=True)
    return Rehearsal(failures=tuple(worst), stage=stage, done=done, total=total)
