"""A better arrangement proposed: the rig rearranged and assessed, and what findings on the mains that fixes and adds."""

from typing import NamedTuple

from rackwright.engine.allocation import arrangement
from rackwright.engine.allocation.arrangement import Arrangement, Move
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.findings.power import SUPPLY
from rackwright.engine.results import SEVERITIES, Finding
from rackwright.model.rig import Rig


class Variant(NamedTuple):
    """An arrangement, the rig rearranged, and what that does."""

    made: Arrangement
    rig: Rig
    after: Assessed

    @property
    def proven(self) -> bool:
        """Whether no arrangement is better by any finding that is left on the mains."""
        return self.made.proven and {f.code for f in mains_findings(self.after)} <= arrangement.JUDGED

    @property
    def moves(self) -> tuple[Move, ...]:
        """What to move."""
        return self.made.moves


class Proposal(NamedTuple):
    """What to move, once for the least loading and once with the fewest moves."""

    chosen: Variant
    fewest: Variant
    """The moves it takes to keep every limit that can be kept."""


def proposed(rig: Rig, assessment: Assessed, fewest: bool = False) -> Proposal:
    """The arrangement of least loading, or of fewest moves where that is asked for. Raises ArrangementError."""

    def variant(made: Arrangement) -> Variant:
        rearranged = arrangement.apply(rig, made)
        return Variant(made, rearranged, assess(rearranged, assessment))

    least = arrangement.propose(assessment)
    few = variant(arrangement.propose(assessment, few_moves=True, known=[least]))
    return Proposal(few if fewest else variant(least), few)


def mains_findings(assessment: Assessed) -> list[Finding]:
    """The findings on circuits and supply."""
    places = {*assessment.circuits, SUPPLY}
    return [f for f in assessment.findings if f.at in places or f.code == "amplifier-without-circuit"]


def fixed_and_added(before: Assessed, after: Assessed) -> tuple[list[Finding], list[Finding]]:
    """The findings on the mains that moves fix or make less grave, and those that they add or make graver."""
    was = {(f.code, f.at): f for f in mains_findings(before)}
    now = {(f.code, f.at): f for f in mains_findings(after)}
    return (
        [f for key, f in was.items() if _graver(f, now.get(key))],
        [f for key, f in now.items() if _graver(f, was.get(key))],
    )


def _graver(one: Finding, other: Finding | None) -> bool:
    return other is None or SEVERITIES.index(one.severity) < SEVERITIES.index(other.severity)
