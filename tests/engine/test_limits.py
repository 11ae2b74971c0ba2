"""Limits and findings: a finding carries the figure that is past its limit, and findings and bars hold one figure to one limit."""

import pytest

from rackwright.engine import figures
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.results import Limit
from rackwright.store import presets, rig_file

JUDGED = {
    "load-below-minimum": "load_nominal",
    "cable-loss": "loss",
    "damping-low": "damping_factor",
    "over-power-without-limiter": "power",
}


@pytest.fixture(scope="module")
def faulty() -> Assessed:
    return assess(rig_file.load(presets.find("faults").path))


def test_what_a_finding_carries_is_past_its_limit(faulty: Assessed) -> None:
    carried = [finding for finding in faulty.findings if finding.limit is not None]
    assert len(carried) > 10
    for finding in carried:
        assert finding.limit.broken_by(finding.figure), finding
        assert finding.excess > 0, finding


def test_a_bar_is_past_its_limit_exactly_where_the_finding_is(faulty: Assessed) -> None:
    """Each figure of a channel or section that a finding judges, against the limit that its bar shows."""
    found = {(finding.at, JUDGED.get(finding.code)) for finding in faulty.findings}
    past = set()
    for branch in faulty.branches.values():
        shown = [(branch.id, figure) for figure in figures.of_channel(branch)]
        for index, result in enumerate(branch.sections):
            shown += [(result.id, figure) for figure in figures.of_section(branch, index)]
        for at, figure in shown:
            if figure.figure.name in JUDGED.values() and figure.limit and figure.value is not None:
                assert figure.limit.broken_by(figure.value) == ((at, figure.figure.name) in found), (
                    at,
                    figure,
                )
                past |= {figure.figure.name} if figure.limit.broken_by(figure.value) else set()
    assert len(past) >= 3


@pytest.mark.parametrize(
    ("limit", "inside", "past"),
    [(Limit("at most", 10.0, ""), 10.0, 10.1), (Limit("at least", 4.0, ""), 4.0, 3.9)],
)
def test_at_the_limit_is_within_it(limit: Limit, inside: float, past: float) -> None:
    assert not limit.broken_by(inside)
    assert limit.margin(inside) == pytest.approx(0.0)
    assert limit.broken_by(past)
    assert limit.margin(past) < 0
