"""Which cabinet gets which spare channel, against scipy's assignment and mixed-integer programming.

An amplifier with a cabinet on each channel dies; beside it stand spare channels of which each bears one cabinet, and some
only those of 8 Ω. What a pairing loses is taken from `assess` of that pairing alone.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from scipy.optimize import Bounds, LinearConstraint, linear_sum_assignment, milp

import rigs
from rackwright.engine.assess import assess
from rackwright.engine.recovery import criteria, recover
from rackwright.model.equipment import LoudspeakerModel
from rackwright.model.rig import Rig

FORBIDDEN = 1e3
"""dB that stand for a pairing under the channel's lowest load."""


def _cabinet_model(name: str, nominal: str) -> LoudspeakerModel:
    section = rigs.section("cone", "low", nominal, "800 W", "30 Hz")
    return LoudspeakerModel(id=name, connector="four", sections=(section,), wirings={"only": (("cone",),)})


def _source(name: str, load: str, power: str):
    return replace(rigs.DUO, id=name, channels=1, height=1, ratings=rigs.ratings((load, power)))


SOURCES = {
    f"{load}-{power}": _source(f"{load}-{power}", f"{load} ohm", f"{power} W")
    for load in (5, 8)
    for power in (300, 600, 1200)
}
"""Rated at one load only, so that two cabinets together are always under it."""

EQUIPMENT = replace(
    rigs.EQUIPMENT,
    amplifiers=(*rigs.EQUIPMENT.amplifiers, *SOURCES.values()),
    loudspeakers=(
        *rigs.EQUIPMENT.loudspeakers,
        _cabinet_model("five", "5 ohm"),
        _cabinet_model("eight", "8 ohm"),
    ),
)


def rig_of(cabinets: list[tuple[str, int]], sources: list[str]) -> Rig:
    """A quad that drives `cabinets` (model, priority), and a spare channel of each of `sources`."""
    things = [rigs.amplifier("A0", *["sub"] * 4, model="quad")]
    things += [
        rigs.amplifier(f"A{j}", "sub", model=name, unit=1 + j) for j, name in enumerate(sources, start=1)
    ]
    for i, (model, priority) in enumerate(cabinets):
        things.append(rigs.socket(f"S{i}", f"A0.{i + 1}"))
        things.append(rigs.line(f"L{i}", f"S{i}", f"C{i}"))
        things.append(replace(rigs.cabinet(f"C{i}", model), priority=priority))
    return rigs.rig(*things, equipment=EQUIPMENT)


def losses(rig: Rig, cabinets: int, sources: int) -> np.ndarray:
    """dB that each cabinet loses on each spare channel, from the assessment of that one re-patch."""
    before = assess(rig)
    table = np.full((cabinets, sources), FORBIDDEN)
    for i in range(cabinets):
        for j in range(sources):
            patched = rigs.changed(rig, f"S{i}", poles=(f"A{j + 1}.1",))
            after = assess(patched)
            if not any(f.severity == "stop" for f in after.findings):
                now, was = (told.sections[f"C{i}.cone"].voltage for told in (after, before))
                table[i, j] = max(0.0, 20 * math.log10(was / now))
    return table


def least_silent(weights: np.ndarray, loss: np.ndarray) -> float:
    """The least weight left silent: a maximum-weight assignment (scipy.optimize.linear_sum_assignment)."""
    gains = np.where(loss < FORBIDDEN, weights[:, None], 0.0)
    rows, columns = linear_sum_assignment(gains, maximize=True)
    return float(weights.sum() - gains[rows, columns].sum())


def least_loss(weights: np.ndarray, loss: np.ndarray, silent: float) -> float:
    """The least largest loss among assignments that leave no more than `silent` (scipy.optimize.milp)."""
    n, m = loss.shape
    count = n * m + 1
    limits = []
    for i in range(n):
        row = np.zeros(count)
        row[i * m : (i + 1) * m] = 1
        limits.append(LinearConstraint(row, 0, 1))
    for j in range(m):
        row = np.zeros(count)
        row[j : n * m : m] = 1
        limits.append(LinearConstraint(row, 0, 1))
    for at, each in enumerate(loss.ravel()):
        row = np.zeros(count)
        row[at], row[-1] = each, -1
        limits.append(LinearConstraint(row, -np.inf, 0))
    heard = np.append(np.repeat(weights, m), 0.0)
    limits.append(LinearConstraint(heard, weights.sum() - silent - 1e-9, np.inf))
    upper = np.append(np.where(loss.ravel() < FORBIDDEN, 1.0, 0.0), FORBIDDEN)
    goal = np.append(np.zeros(n * m), 1.0)
    solved = milp(
        goal,
        constraints=limits,
        bounds=Bounds(0, upper),
        integrality=np.append(np.ones(n * m), 0),
        options={"mip_rel_gap": 0},
    )
    assert solved.success, solved.message
    return float(solved.fun)


@given(
    st.lists(st.tuples(st.sampled_from(["five", "eight"]), st.integers(1, 3)), min_size=1, max_size=4),
    st.lists(st.sampled_from(sorted(SOURCES)), min_size=1, max_size=4),
)
def test_assigns_as_well_as_scipy(cabinets, sources):
    rig = rig_of(cabinets, sources)
    loss = losses(rig, len(cabinets), len(sources))
    weights = np.array([0.5 ** (priority - 1) for _, priority in cabinets])
    best = recover(rig, ["A0"]).best
    silent = least_silent(weights, loss)
    assert best.criteria.silence == pytest.approx(silent)
    least = criteria.rounded(least_loss(weights, loss, silent), criteria.LEVEL)
    assert best.criteria.loss == pytest.approx(least)
