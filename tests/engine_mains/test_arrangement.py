"""Better arrangements against exhaustive search on small tasks and mixed-integer programming on larger ones."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from rackwright.engine import arrangement, spread
from rackwright.engine.arrangement import ArrangementError, Move
from rackwright.engine.assess import assess
from rackwright.engine.spread import NOWHERE, Task
from rackwright.model.rig import PHASES

from .rigs import amplifier, circuit, rig

LEAST = ("over", "uneven", "inrush", "worst", "imbalance", "moves")
FEW = ("over", "uneven", "inrush", "moves", "worst", "imbalance")


def judged(task: Task, places: tuple[int, ...]) -> tuple[float, ...]:
    """What an arrangement is worth, reckoned here apart from the program, in the order that it is compared."""
    circuits = range(len(task.breakers))
    on = [[i for i, place in enumerate(places) if place == c] for c in circuits]
    loads = [sum(task.currents[i] for i in each) for each in on]
    worst = max(load / breaker for load, breaker in zip(loads, task.breakers, strict=True))
    imbalance = 0.0
    if task.phases:
        sums = [sum(loads[c] for c in circuits if task.phases[c] == phase) for phase in range(3)]
        imbalance = max(abs(each - sum(sums) / 3) for each in sums) / (sum(sums) / 3)
    figures = {
        "over": max(0, worst - task.comfortable),
        "uneven": max(0, imbalance - task.even),
        "inrush": sum(sum(task.inrushes[i] for i in on[c]) > task.bands[c] for c in circuits),
        "worst": worst,
        "imbalance": imbalance,
        "moves": sum(home != place for home, place in zip(task.homes, places, strict=True)),
    }
    return tuple(round(figures[name], 8) for name in (FEW if task.few_moves else LEAST))


@st.composite
def tasks(draw: st.DrawFn, loads: int = 5, circuits: int = 4) -> Task:
    """Currents in steps of half an ampere, so that what is equal is so exactly."""
    n, m = draw(st.integers(1, loads)), draw(st.integers(1, circuits))
    kinds = draw(
        st.lists(st.tuples(st.integers(1, 20), st.sampled_from([20.0, 45.0, 90.0])), min_size=1, max_size=n)
    )
    chosen = [draw(st.sampled_from(kinds)) for _ in range(n)]
    breakers = tuple(draw(st.sampled_from([16.0, 32.0])) for _ in range(m))
    return Task(
        currents=tuple(current / 2 for current, _ in chosen),
        inrushes=tuple(inrush for _, inrush in chosen),
        homes=tuple(draw(st.integers(NOWHERE, m - 1)) for _ in range(n)),
        breakers=breakers,
        bands=tuple(5 * breaker for breaker in breakers),
        phases=draw(st.none() | st.tuples(*[st.integers(0, 2)] * m)),
        comfortable=0.8,
        even=0.2,
        few_moves=draw(st.booleans()),
    )


@settings(max_examples=50)
@given(tasks())
def test_small_tasks_are_solved_as_exhaustion_solves_them(task):
    places, proven = spread.solve(task)
    everything = itertools.product(range(len(task.breakers)), repeat=len(task.currents))
    assert proven
    assert judged(task, places) == min(judged(task, each) for each in everything)


@given(tasks(loads=8, circuits=6))
def test_nothing_has_a_lower_worst_loading_than_the_bound(task):
    places, _ = spread.solve(task)
    assert task.score(places).worst >= task.bound - 1e-9


@settings(max_examples=20)
@given(tasks(loads=30, circuits=8))
def test_every_load_has_a_place_and_no_task_ends_worse_than_it_began(task):
    homes = tuple(0 if home == NOWHERE else home for home in task.homes)
    task = task._replace(homes=homes)
    places, _ = spread.solve(task)
    assert set(places) <= set(range(len(task.breakers)))
    assert judged(task, places) <= judged(task, homes)


def large(seed: int, loads: int, circuits: int, phases: bool = False) -> Task:
    random = np.random.default_rng(seed)
    breakers = tuple(float(b) for b in random.choice([16, 32], circuits))
    room = sum(breakers) * 0.6 / loads
    return Task(
        currents=tuple((room * random.uniform(0.3, 1.7, loads)).tolist()),
        inrushes=(0.0,) * loads,
        homes=tuple(random.integers(0, circuits, loads).tolist()),
        breakers=breakers,
        bands=tuple(5 * breaker for breaker in breakers),
        phases=tuple(c % 3 for c in range(circuits)) if phases else None,
        comfortable=0.8,
        even=0.2,
    )


def least_worst_by_programming(task: Task) -> tuple[float, float]:
    """The least worst loading, and the solver's bound on it: scipy's mixed-integer solver (HiGHS), two seconds."""
    n, m = len(task.currents), len(task.breakers)
    cost = np.zeros(n * m + 1)
    cost[-1] = 1
    placed = np.zeros((n, n * m + 1))
    fits = np.zeros((m, n * m + 1))
    for i, c in itertools.product(range(n), range(m)):
        placed[i, i * m + c] = 1
        fits[c, i * m + c] = task.currents[i]
    fits[:, -1] = [-breaker for breaker in task.breakers]
    constraints = [LinearConstraint(placed, 1, 1), LinearConstraint(fits, -np.inf, 0)]
    if task.phases is not None:
        mean = sum(task.currents) / 3
        sums = np.zeros((3, n * m + 1))
        for i, c in itertools.product(range(n), range(m)):
            sums[task.phases[c], i * m + c] = task.currents[i]
        constraints.append(LinearConstraint(sums, mean * (1 - task.even), mean * (1 + task.even)))
    solved = milp(
        cost,
        constraints=constraints,
        integrality=np.append(np.ones(n * m), 0),
        bounds=Bounds(0, np.append(np.ones(n * m), np.inf)),
        options={"time_limit": 2, "mip_rel_gap": 1e-6},
    )
    return float(solved.fun), float(solved.mip_dual_bound)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("loads", "circuits", "phases"), [(12, 4, False), (18, 6, True), (40, 9, True)])
def test_larger_tasks_come_close_to_what_programming_finds(seed, loads, circuits, phases):
    task = large(seed, loads, circuits, phases)
    places, proven = spread.solve(task)
    worst = task.score(places).worst
    found, bound = least_worst_by_programming(task)
    assert task.score(places).uneven == 0
    assert worst >= bound - 1e-6
    assert worst <= found * (1 + 1e-6 if proven else 1.04)


def test_a_large_rig_is_solved_well_and_evenly():
    task = large(1, 250, 60, phases=True)
    places, _ = spread.solve(task)
    score = task.score(places)
    assert score.worst <= 1.05 * task.bound
    assert score.uneven == 0


def test_where_one_load_sets_the_worst_loading_the_rest_even_the_phases():
    """12 A alone are 0.75 of 16 A, and so the 41 A over three phases are at best 12, 14 and 15 A, where L3 has one breaker."""
    task = Task(
        currents=(12.0, *(1.0,) * 29),
        inrushes=(0.0,) * 30,
        homes=(0,) * 30,
        breakers=(16.0,) * 9,
        bands=(80.0,) * 9,
        phases=(0, 0, 0, 0, 0, 1, 1, 1, 2),
        comfortable=0.8,
        even=0.2,
    )
    score = task.score(spread.solve(task)[0])
    assert score.worst == pytest.approx(0.75)
    assert score.imbalance == pytest.approx((41 / 3 - 12) / (41 / 3))


# --- on a rig -----------------------------------------------------------------------------------------

CIRCUITS = tuple(circuit(f"P{i + 1}", "16 A", phase=PHASES[i]) for i in range(3))


def crowded(count: int = 3):
    """All on one of three circuits, curve D so that inrush is no matter."""
    wide = tuple(circuit(f"P{i + 1}", "16 A", phase=PHASES[i], curve="D") for i in range(3))
    return rig(wide, *(amplifier(f"A{i}", "P1") for i in range(count)))


def test_three_alike_on_one_circuit_are_spread_over_three():
    proposal = arrangement.propose(assess(crowded()))
    assert proposal.proven
    assert sorted(move.to for move in proposal.moves) == ["P2", "P3"]
    assert {move.source for move in proposal.moves} == {"P1"}
    assert proposal.after.worst == pytest.approx(proposal.before.worst / 3)
    assert proposal.after.imbalance == pytest.approx(0)


def test_applied_it_gives_the_loading_it_promised_and_mends_the_finding():
    before = crowded(7)
    assessed = assess(before)
    assert "circuit-overloaded" in {finding.code for finding in assessed.findings}
    proposal = arrangement.propose(assessed)
    after = assess(arrangement.apply(before, proposal))
    assert "circuit-overloaded" not in {finding.code for finding in after.findings}
    assert {name: c.loading for name, c in after.circuits.items()} == pytest.approx(
        dict(proposal.loading_after)
    )
    assert {name: c.loading for name, c in assessed.circuits.items()} == dict(proposal.loading_before)
    assert arrangement.propose(after).moves == ()


def test_applying_is_a_pure_edit_of_the_circuits_alone():
    before = crowded()
    after = arrangement.apply(before, arrangement.propose(assess(before)))
    assert [a.circuit for a in before.amplifiers()] == ["P1"] * 3
    assert (after.lines, after.cabinets, after.circuits) == (before.lines, before.cabinets, before.circuits)


def test_an_amplifier_with_no_circuit_is_given_one():
    lone = rig(CIRCUITS[:1], amplifier("A1"))
    assert arrangement.propose(assess(lone)).moves == (Move("A1", "", "P1"),)


def test_few_moves_stop_where_nothing_is_left_to_be_told():
    """Four amplifiers of 2.49 A and 5.97 A driven hard: 23.9 A on a breaker of 16 A, two of which must go."""
    wide = tuple(circuit(f"P{i + 1}", "16 A", curve="D") for i in range(4))
    full = rig(wide, *(amplifier(f"A{i}", "P1") for i in range(4)))
    few = arrangement.propose(assess(full), few_moves=True)
    assert len(few.moves) == 2
    assert len(arrangement.propose(assess(full)).moves) == 3
    after = assess(arrangement.apply(full, few))
    assert not [f for f in after.findings if f.code.startswith("circuit-") and f.severity != "note"]


def test_inrush_is_kept_under_the_bands_where_it_can_be():
    """Two amplifiers of 45 A on a C 16 of 80 A and one on a C 32: exchanged so that each breaker bears its own."""
    tight = (circuit("P1", "16 A"), circuit("P2", "32 A"))
    before = rig(tight, amplifier("A0", "P1"), amplifier("A1", "P1"), amplifier("A2", "P2"))
    proposal = arrangement.propose(assess(before))
    assert (proposal.before.inrush_over, proposal.after.inrush_over) == (1, 0)


@pytest.mark.parametrize("nothing", [rig((), amplifier("A1")), rig(CIRCUITS)])
def test_nothing_to_arrange_is_said(nothing):
    with pytest.raises(ArrangementError, match="first"):
        arrangement.propose(assess(nothing))


def test_the_bound_is_the_even_spread_or_the_largest_alone():
    """Worked here: 12 A over 16 + 32 A is 0.25; 12 A alone on 32 A is 0.375."""
    many = Task((4.0,) * 3, (0.0,) * 3, (0,) * 3, (16.0, 32.0), (80.0, 160.0), None, 0.8, 0.2)
    alone = many._replace(currents=(12.0,), inrushes=(0.0,), homes=(0,))
    assert many.bound == pytest.approx(0.25)
    assert alone.bound == pytest.approx(0.375)
    assert math.isclose(alone.score((1,)).worst, 0.375)
