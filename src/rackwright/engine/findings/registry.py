"""The registry of judgements: one small function each, entered by a decorator.

A function decorated `judges_branch` looks at one channel and its wiring, one decorated `judges_rig` at the
rig as a whole; each yields findings. To add a finding, add a function. Computes no figure that the
subject modules don't.
"""

import functools
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from rackwright.engine.channel import Branch
from rackwright.engine.circuit_room import takes
from rackwright.engine.finding import SEVERITIES, Finding
from rackwright.engine.mains import Cable, Mains, barred
from rackwright.engine.meter_check import Checked
from rackwright.engine.results import SectionResult, TouchResult
from rackwright.model.equipment import Section
from rackwright.model.index import Index
from rackwright.model.racks import Feed


@dataclass(frozen=True)
class Survey:
    """What the judgements on the whole rig look at."""

    index: Index
    branches: Mapping[str, Branch]
    sections: Mapping[str, SectionResult]
    joined: Mapping[str, tuple[str, ...]]
    """The sections that several channels are patched to, and those channels."""
    mains: Mains
    touch: Mapping[str, TouchResult]
    cables: Mapping[str, Cable]
    """Of circuits and boards, those that can be checked."""
    wrong_readings: Sequence[Checked]
    """The pole pairs that the meter check found other than as expected."""

    def takes(self, circuit: str, amplifier: str) -> bool:
        """Whether an amplifier may be put on a circuit: everything on the way passes its checks then too."""
        return takes(self.index, self.mains, self.cables, self.barred, amplifier, circuit)

    @functools.cached_property
    def barred(self) -> frozenset[str]:
        """The circuits that nothing may be put on: a cable on the way fails a check."""
        return barred(self.index, self.cables)

    @functools.cached_property
    def played(self) -> list[tuple[Feed, list[Branch]]]:
        """Each feed with the channels that drive something from it."""
        playing: dict[str, list[Branch]] = defaultdict(list)
        for branch in self.branches.values():
            if branch.feed is not None and branch.result.voltage is not None:
                playing[branch.feed.id].append(branch)
        return [(self.index.feeds[feed], branches) for feed, branches in playing.items()]

    @functools.cached_property
    def silent(self) -> list[SectionResult]:
        """The sections that nothing drives, whatever the reason."""
        return [section for section in self.sections.values() if section.channel is None]

    @functools.cached_property
    def exposed(self) -> list[TouchResult]:
        """The contacts that a finger reaches."""
        return [contact for contact in self.touch.values() if contact.exposed]


BranchJudgement = Callable[[Branch], Iterator[Finding]]
RigJudgement = Callable[[Survey], Iterator[Finding]]

_RANK = {severity: rank for rank, severity in enumerate(SEVERITIES)}

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
    return tuple(sorted(findings, key=lambda finding: _RANK[finding.severity]))


def too_low(feed: Feed, section: Section) -> bool:
    return feed.band[0].value < section.lowest.value


def misses(feed: Feed, section: Section) -> bool:
    start, end = feed.band
    above = section.highest is not None and start.value >= section.highest.value
    return above or end.value <= section.lowest.value


def fits(feed: Feed, sections: list[Section]) -> bool:
    return not any(
        misses(feed, section) or (section.kind in ("high", "mid") and too_low(feed, section))
        for section in sections
    )


def misfed(branch: Branch) -> bool:
    """Whether a branch's feed does not fit one of its sections."""
    return branch.feed is not None and not fits(branch.feed, list(branch.models))
