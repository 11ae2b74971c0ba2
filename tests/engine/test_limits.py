"""Limits and findings: a finding carries the figure that is past its limit, and findings and bars hold one figure to one limit."""

import math

import pytest

from rackwright.engine import figures, limits
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.finding import Limit
from rackwright.model.mains import Supply
from rackwright.units import ApparentPower
from rigs import SOUND, SUB_SECTION
from shipped import assessed

CHANNEL = assess(SOUND).branches["A1.1"]

JUDGED = {
    "load-below-minimum": "load_nominal",
    "cable-loss": "loss",
    "damping-low": "damping_factor",
    "over-power-without-limiter": "power",
}


@pytest.fixture(scope="module")
def faulty() -> Assessed:
    return assessed("faults")


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
    [
        # NEC 210.20(A): a breaker is rated for 125 % of a load of three hours or more. From memory.
        (limits.loading_stop("us"), 1 / 1.25, 0.81),
        (limits.loading_stop("iec"), 1.0, 1.01),
        (limits.loading_heavy(), 1.0, 1.01),
        (limits.generator_full(), 1.0, 1.01),
        # NEC 210.19, informational note; IEC 60364-5-52 Annex G, other uses than lighting, from the public mains and from a
        # private supply. From memory.
        (limits.drop(Supply(rules="us")), 3.0, 3.1),
        (limits.drop(Supply()), 5.0, 5.1),
        (limits.drop(Supply(generator=ApparentPower.parse("60 kVA"))), 8.0, 8.1),
        # IEC 60038: 230 V less a tenth is 207 V. From memory.
        (limits.lowest_voltage(), 100 * (1 - 207 / 230), 10.1),
        # Common practice, no source: four fifths; a fifth, or a fortieth of the breaker on phases that carry little.
        (limits.loading_near("iec"), 0.8, 0.81),
        (limits.loading_near("us"), 0.8, 0.81),
        (limits.generator_near(), 0.8, 0.81),
        (limits.imbalance(16.0, 32.0), 0.2, 0.21),
        (limits.imbalance(1.0, 32.0), 0.8, 0.81),
        # Common practice, no source: half the rating is too little, twice without a limiter too much (3.01 dB).
        (limits.headroom_short(), 10 * math.log10(0.51), 10 * math.log10(0.5)),
        (limits.power(CHANNEL, SUB_SECTION), 1.99 * 800.0, 2.0 * 800.0),
        # IEC 62368-1 Table E.1, from memory.
        (limits.touch_voltage(71.1), 71.0, 71.1),
        (limits.touch_voltage(120.1), 120.0, 120.1),
    ],
)
def test_limits_as_published(limit: Limit, inside: float, past: float) -> None:
    assert not limit.broken_by(inside)
    assert limit.broken_by(past)


@pytest.mark.parametrize(
    ("limit", "inside", "past"),
    [(Limit("at most", 10.0, ""), 10.0, 10.1), (Limit("at least", 4.0, ""), 4.0, 3.9)],
)
def test_at_the_limit_is_within_it(limit: Limit, inside: float, past: float) -> None:
    assert not limit.broken_by(inside)
    assert limit.margin(inside) == pytest.approx(0.0)
    assert limit.broken_by(past)
    assert limit.margin(past) < 0


def test_a_run_bears_what_its_weakest_part_does() -> None:
    run = CHANNEL.roots[0]
    least = min(
        run.cable.max_current.value, run.near_connector.max_current.value, run.far_connector.max_current.value
    )
    assert limits.run_current(run).value == least < max(each.value for each in limits.run_currents(run))


def test_a_voltage_at_the_edge_of_a_class_is_in_it() -> None:
    """IEC 62368-1 Table E.1, from memory: ES2 up to 120 V, so that at 120 V only the 71 V of ES1 are passed."""
    assert [limits.touch_voltage(volts).value for volts in (72.0, 120.0, 120.1)] == [71.0, 71.0, 120.0]
