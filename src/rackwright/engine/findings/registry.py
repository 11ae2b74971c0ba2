"""The registry of judgements: one small function each, entered by a decorator.

A function decorated `judges_branch` looks at one channel and its wiring, one decorated `judges_feed` at a feed with the
channels that play it, one decorated `judges_rig` at the rig as a whole; each yields findings. What the first two found is
kept as long as what they looked at is. To add a finding, add a function. Computes no figure that the subject modules don't.
"""

import functools
import itertools
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from operator import is_
from typing import NamedTuple

from rackwright.engine.channel import Branch
from rackwright.engine.circuit_room import takes
from rackwright.engine.finding import SEVERITIES, Finding
from rackwright.engine.mains import Cable, Mains, barred
from rackwright.engine.meter_check import Checked
from rackwright.engine.results import SectionResult, TouchResult
from rackwright.model.equipment import Section
from rackwright.model.index import Index
from rackwright.model.racks import Feed


class Played(NamedTuple):
    """A feed with the channels that drive something from it."""

    feed: Feed
    branches: tuple[Branch, ...]
    findings: tuple[tuple[Finding, ...], ...]
    """What each judgement on feeds found, in the order in which they are entered."""


class Named(NamedTuple):
    """A part of a rig, and the texts in it that can't be printed."""

    part: object
    unprinted: tuple[tuple[str, str], ...]
    """Where each stands, empty where that is nothing on the crew's tape, and the text."""


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
    played: Sequence[Played]
    """The feeds that something plays."""
    wrong_readings: Sequence[Checked]
    """The pole pairs that the meter check found other than as expected."""
    named: Mapping[str, Named]
    """Each part of the rig that holds names."""

    def takes(self, circuit: str, amplifier: str) -> bool:
        """Whether an amplifier may be put on a circuit: everything on the way passes its checks then too."""
        return takes(self.index, self.mains, self.cables, self.barred, amplifier, circuit)

    @functools.cached_property
    def barred(self) -> frozenset[str]:
        """The circuits that nothing may be put on: a cable on the way fails a check."""
        return barred(self.index, self.cables)

    @functools.cached_property
    def silent(self) -> list[SectionResult]:
        """The sections that nothing drives, whatever the reason."""
        return [section for section in self.sections.values() if section.channel is None]

    @functools.cached_property
    def exposed(self) -> list[TouchResult]:
        """The contacts that a finger reaches."""
        return [contact for contact in self.touch.values() if contact.exposed]


BranchJudgement = Callable[[Branch], Iterator[Finding]]
FeedJudgement = Callable[[Index, Feed, Sequence[Branch]], Iterator[Finding]]
RigJudgement = Callable[[Survey], Iterator[Finding]]

BRANCH_JUDGEMENTS: list[BranchJudgement] = []
FEED_JUDGEMENTS: list[FeedJudgement] = []
RIG_JUDGEMENTS: list[RigJudgement] = []


def judges_branch(judgement: BranchJudgement) -> BranchJudgement:
    """Enter a judgement on one channel's branch in the registry."""
    BRANCH_JUDGEMENTS.append(judgement)
    return judgement


def judges_feed(judgement: FeedJudgement) -> FeedJudgement:
    """Enter a judgement on a feed in the registry; among those on the rig it is told what it found on each."""
    place = len(FEED_JUDGEMENTS)
    FEED_JUDGEMENTS.append(judgement)

    def of_each(survey: Survey) -> Iterator[Finding]:
        return itertools.chain.from_iterable([played.findings[place] for played in survey.played])

    judges_rig(of_each)
    return judgement


def judges_rig(judgement: RigJudgement) -> RigJudgement:
    """Enter a judgement on the whole rig in the registry."""
    RIG_JUDGEMENTS.append(judgement)
    return judgement


def of_branch(branch: Branch) -> tuple[Finding, ...]:
    """Every finding on a channel and what hangs on it."""
    return tuple(finding for judgement in BRANCH_JUDGEMENTS for finding in judgement(branch))


def feeds_played(
    index: Index, branches: Iterable[Branch], earlier: Sequence[Played] = ()
) -> tuple[Played, ...]:
    """Each feed that something plays, judged; those of an `earlier` rig that the very same branches play stay."""
    playing: dict[str, list[Branch]] = defaultdict(list)
    for branch in branches:
        if branch.feed is not None and branch.result.voltage is not None:
            playing[branch.feed.id].append(branch)
    kept = {each.feed.id: each for each in earlier}
    return tuple([_played(index, index.feeds[feed], of, kept.get(feed)) for feed, of in playing.items()])


def _played(index: Index, feed: Feed, branches: list[Branch], was: Played | None) -> Played:
    if was and len(was.branches) == len(branches) and all(map(is_, was.branches, branches)):
        return was
    found = [tuple(judgement(index, feed, branches)) for judgement in FEED_JUDGEMENTS]
    return Played(feed, tuple(branches), tuple(found))


def of_rig(survey: Survey) -> tuple[Finding, ...]:
    """Every finding that takes the whole rig to see."""
    return tuple(finding for judgement in RIG_JUDGEMENTS for finding in judgement(survey))


def gravest_first(findings: Iterator[Finding]) -> tuple[Finding, ...]:
    """By severity; within one, in the order found."""
    every = list(findings)
    return tuple([finding for severity in SEVERITIES for finding in every if finding.severity == severity])


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
