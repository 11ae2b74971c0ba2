"""Better arrangements against exhaustive search on small tasks and mixed-integer programming on larger ones."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from scipy.optimize import Bounds, LinearConstraint, milp

from rackwright.engine import limits
from rackwright.engine.allocation import arrangement
from rackwright.engine.allocation.arrangement import ArrangementError, Move
from rackwright.engine.allocation.solver import solve
from rackwright.engine.allocation.task import NOWHERE, Task
from rackwright.engine.assess import assess
from rackwright.model import edits
from rackwright.model.rig import PHASES
from rackwright.units import ApparentPower
from rigs import circuit

from .rigs import amplifier, rig

FIRST = ("unplaced", "new heavy", "over", "near", "heavy", "generator", "drop", "uneven", "inrush")


def allowed(task: Task, places: tuple[int, ...]) -> bool:
    """Whether nothing loses its power, and no breaker comes over its limit that is not over it today, or goes further."""
    if any(place == NOWHERE != home for place, home in zip(places, task.homes, strict=True)):
        return False
    for c, breaker in enumerate(task.breakers):
        today, then = (
            sum(amps for amps, place in zip(task.currents, at, strict=True) if place == c)
            for at in (task.homes, places)
        )
        if then > max(task.limit * breaker, today) + 1e-9:
            return False
    return generated(task, places) <= max(task.generator, generated(task, task.homes)) + 1e-9


def generated(task: Task, places: tuple[int, ...]) -> float:
    """A of all, or three times those of the fullest phase."""
    placed = [(a, place) for a, place in zip(task.currents, places, strict=True) if place != NOWHERE]
    phases = task.phases or ()
    on = [sum(a for a, place in placed if phases and phases[place] == phase) for phase in range(3)]
    return max(sum(a for a, _ in placed), *(3 * each for each in on))


def judged(task: Task, places: tuple[int, ...]) -> tuple[float, ...]:
    """What an arrangement is worth, reckoned here apart from the program, in the order that it is compared."""
    circuits = range(len(task.breakers))

    def on(figures: tuple[float, ...], at: tuple[int, ...]) -> list[float]:
        return [sum(f for f, place in zip(figures, at, strict=True) if place == c) for c in circuits]

    def excess(figures: list[float], limits: list[float]) -> float:
        return sum(max(0, figure - limit) for figure, limit in zip(figures, limits, strict=True))

    def share(amps: list[float]) -> list[float]:
        return [amp / breaker for amp, breaker in zip(amps, task.breakers, strict=True)]

    loads, hard, n = on(task.currents, places), on(task.heavies, places), len(task.breakers)
    sums, hard_sums = (
        [sum(amps[c] for c in circuits if task.phases and task.phases[c] == phase) for phase in range(3)]
        for amps in (loads, hard)
    )
    mean = sum(sums) / 3
    imbalance = max(abs(each - mean) for each in sums) / mean if mean else 0.0
    accepted = max(task.even, 0.025 * max(task.breakers) / mean) if mean else 0.0
    programme, driven = (
        max(sum(all_), *(3 * s for s in each)) / task.generator
        for all_, each in ((loads, sums), (hard, hard_sums))
    )
    figures = {
        "unplaced": places.count(NOWHERE),
        "new heavy": excess(share(hard), [max(1, today) for today in share(on(task.heavies, task.homes))]),
        "over": excess(share(loads), [task.limit] * n),
        "near": excess(share(loads), [task.comfortable] * n),
        "heavy": excess(share(hard), [1] * n),
        "generator": max(0, programme - task.generator_near) + max(0, driven - 1),
        "drop": excess([amp / cable for amp, cable in zip(hard, task.cables, strict=True)], [1] * n),
        "uneven": max(0, imbalance - accepted),
        "inrush": excess(on(task.inrushes, places), list(task.bands)),
        "worst": max(share(loads)),
        "imbalance": imbalance,
        "moves": sum(home != place for home, place in zip(task.homes, places, strict=True)),
    }
    last = ("moves", "worst", "imbalance") if task.few_moves else ("worst", "imbalance", "moves")
    return tuple(round(figures[name], 7) for name in (*FIRST, *last))


@st.composite
def tasks(draw: st.DrawFn, loads: int = 5, circuits: int = 4) -> Task:
    """Currents in steps of half an ampere, so that what is equal is so exactly."""
    n, m = draw(st.integers(1, loads)), draw(st.integers(1, circuits))
    one = st.tuples(st.integers(1, 20), st.sampled_from([2.0, 2.5]), st.sampled_from([20.0, 45.0, 90.0]))
    kinds = draw(st.lists(one, min_size=1, max_size=n))
    chosen = [draw(st.sampled_from(kinds)) for _ in range(n)]
    breakers = tuple(draw(st.sampled_from([16.0, 32.0])) for _ in range(m))
    return Task(
        currents=tuple(current / 2 for current, _, _ in chosen),
        heavies=tuple(current / 2 * factor for current, factor, _ in chosen),
        inrushes=tuple(inrush for _, _, inrush in chosen),
        homes=tuple(draw(st.integers(NOWHERE, m - 1)) for _ in range(n)),
        breakers=breakers,
        bands=tuple(5 * breaker for breaker in breakers),
        phases=draw(st.none() | st.tuples(*[st.integers(0, 2)] * m)),
        limit=draw(st.sampled_from([0.8, 1.0])),
        comfortable=0.8,
        even=0.2,
        cables=tuple(draw(st.sampled_from([math.inf, 12.0])) for _ in range(m)),
        generator=draw(st.sampled_from([math.inf, 30.0])),
        generator_near=0.8,
        few_moves=draw(st.booleans()),
    )


@given(tasks())
def test_small_tasks_are_solved_as_exhaustion_solves_them(task):
    places, proven = solve(task)
    everything = itertools.product(range(NOWHERE, len(task.breakers)), repeat=len(task.currents))
    assert proven
    assert allowed(task, places)
    assert judged(task, places) == min(judged(task, each) for each in everything if allowed(task, each))


@given(tasks(loads=8, circuits=6))
def test_no_spread_of_all_has_a_lower_worst_loading_than_the_bound(task):
    places, _ = solve(task)
    assert NOWHERE in places or task.score(places).worst >= task.bound - 1e-9


@given(tasks(loads=16, circuits=6))
def test_no_task_ends_worse_than_it_began_and_no_fewer_moves_need_more(task):
    even_task, few_task = (task._replace(few_moves=few) for few in (False, True))
    least, _ = solve(even_task)
    few, _ = solve(few_task, [least])
    for asked, places in ((even_task, least), (few_task, few)):
        assert allowed(asked, places)
        assert judged(asked, places) <= judged(asked, task.homes)
    if NOWHERE not in (*least, *few):
        assert task.score(few).moves <= task.score(least).moves


def large(seed: int, loads: int, circuits: int, phases: bool = False) -> Task:
    random = np.random.default_rng(seed)
    breakers = tuple(float(b) for b in random.choice([16, 32], circuits))
    room = sum(breakers) * 0.6 / loads
    return Task(
        currents=tuple((room * random.uniform(0.3, 1.7, loads)).tolist()),
        heavies=(0.0,) * loads,
        inrushes=(0.0,) * loads,
        homes=tuple(random.integers(0, circuits, loads).tolist()),
        breakers=breakers,
        bands=tuple(5 * breaker for breaker in breakers),
        phases=tuple(c % 3 for c in range(circuits)) if phases else None,
        limit=1.0,
        comfortable=0.8,
        even=0.2,
    )


def least_worst_by_programming(task: Task) -> tuple[float, float]:
    """The least worst loading, and the solver's bound on it: scipy's mixed-integer solver (HiGHS), one second."""
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
        options={"time_limit": 1, "mip_rel_gap": 1e-6},
    )
    return float(solved.fun), float(solved.mip_dual_bound)


@pytest.mark.parametrize(
    ("seed", "loads", "circuits", "phases"),
    [(0, 12, 4, False), (1, 12, 4, False), (0, 15, 6, True), (1, 40, 9, True)],
)
def test_larger_tasks_come_close_to_what_programming_finds(seed, loads, circuits, phases):
    task = large(seed, loads, circuits, phases)
    places, proven = solve(task)
    worst = task.score(places).worst
    found, bound = least_worst_by_programming(task)
    assert task.score(places).uneven == 0
    assert worst >= bound - 1e-6
    assert worst <= found * (1 + 1e-6 if proven else 1.04)


def test_a_large_rig_is_solved_well_and_evenly():
    task = large(1, 250, 60, phases=True)
    places, _ = solve(task)
    score = task.score(places)
    assert score.worst <= 1.05 * task.bound
    assert score.uneven == 0


def test_where_one_load_sets_the_worst_loading_the_rest_even_the_phases():
    """12 A alone are 0.75 of 16 A, and so the 41 A over three phases are at best 12, 14 and 15 A, where L3 has one breaker."""
    task = Task(
        currents=(12.0, *(1.0,) * 29),
        heavies=(0.0,) * 30,
        inrushes=(0.0,) * 30,
        homes=(NOWHERE,) * 30,
        breakers=(16.0,) * 9,
        bands=(80.0,) * 9,
        phases=(0, 0, 0, 0, 0, 1, 1, 1, 2),
        limit=1.0,
        comfortable=0.8,
        even=0.2,
    )
    score = task.score(solve(task)[0])
    assert score.worst == pytest.approx(0.75)
    assert score.imbalance == pytest.approx((41 / 3 - 12) / (41 / 3))


def test_what_no_band_bears_is_spread_all_the_same():
    """Worked here: of 85 A each alone is over the 80 A of a C 16, so that 5 A of excess a breaker are least."""
    four = (2.0,) * 4
    task = Task(four, four, (85.0,) * 4, (0, 1, 2, 3), (16.0,) * 4, (80.0,) * 4, None, 1.0, 0.8, 0.2)
    for few in (False, True):
        assert solve(task._replace(few_moves=few))[0] == (0, 1, 2, 3)


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
    assert (proposal.before.inrush, proposal.after.inrush) == (10, 0)


def test_nothing_is_put_on_a_dead_circuit_and_what_hung_there_goes_elsewhere():
    """Two amplifiers of 2.49 A on a dead P2: one each to P1 and P3, which carry one already."""
    dead = (CIRCUITS[0], replace(CIRCUITS[1], state="failed"), CIRCUITS[2])
    before = rig(dead, *(amplifier(f"A{i}", f"P{at}") for i, at in enumerate([1, 2, 2, 3])))
    proposal = arrangement.propose(assess(before))
    assert {(move.amplifier, move.source) for move in proposal.moves} == {("A1", "P2"), ("A2", "P2")}
    assert {move.to for move in proposal.moves} == {"P1", "P3"}
    assert proposal.loading_after["P2"] == proposal.loading_before["P2"] == 0
    after = assess(arrangement.apply(before, proposal))
    assert all(section.channel for section in after.sections.values())
    assert {name: c.loading for name, c in after.circuits.items()} == pytest.approx(
        dict(proposal.loading_after)
    )


def test_what_finds_no_room_stays_without_power_and_overloads_nothing():
    """Seven amplifiers of 2.49 A on a 16 A breaker would be 17.4 A; six are 14.9 A."""
    full = rig(CIRCUITS[:1], *(amplifier(f"A{i}", "P1" if i else "") for i in range(7)))
    proposal = arrangement.propose(assess(full))
    assert (proposal.unplaced, proposal.moves) == (("A0",), ())


AMPLIFIERS = st.lists(
    st.tuples(st.sampled_from(["kilo", "small", "corrected"]), st.integers(-1, 3)), min_size=1, max_size=7
)


@given(
    AMPLIFIERS,
    st.lists(
        st.tuples(st.sampled_from(["6 A", "10 A", "16 A"]), st.integers(0, 2), st.booleans()),
        min_size=2,
        max_size=4,
    ),
    st.sampled_from(["iec", "us"]),
    st.none() | st.sampled_from(["1500 VA", "4 kVA"]),
    st.booleans(),
)
def test_on_any_small_rig_no_step_overloads_and_check_finds_nothing_graver(
    hung, breakers, rule, generator, few
):
    """Each printed step is carried out and assessed anew."""
    circuits = tuple(
        circuit(f"P{i}", breaker, phase=PHASES[phase], state="ok" if i == 0 or live else "failed")
        for i, (breaker, phase, live) in enumerate(breakers)
    )
    at = [f"P{home}" if 0 <= home < len(circuits) else "" for _, home in hung]
    supply = {"generator": ApparentPower.parse(generator)} if generator else {}
    now = rig(
        circuits,
        *(amplifier(f"A{i}", home, model) for i, ((model, _), home) in enumerate(zip(hung, at, strict=True))),
        rules=rule,
        **supply,
    )
    before = assess(now)
    made = arrangement.propose(before, few_moves=few)
    powered = {c for c in before.circuits if before.circuits[c].live}
    limit = limits.loading_stop(rule).value
    result = before
    for step in made.steps:
        now = edits.change(now, step.amplifier, circuit=step.to)
        result = assess(now)
        assert step.to in {*powered, ""}
        if step.to:
            assert step.there == pytest.approx(result.circuits[step.to].loading)
        for name, c in result.circuits.items():
            assert c.loading <= max(limit, before.circuits[name].loading) + 1e-9
        if before.supply.generator_loading and result.supply.generator_loading:
            assert result.supply.generator_loading <= max(1, before.supply.generator_loading) + 1e-9
    assert now == arrangement.apply(before.index.rig, made)
    silent = [sum(not section.channel for section in each.sections.values()) for each in (before, result)]
    assert silent[1] <= silent[0]
    over = [
        {f.at for f in each.findings if f.code in ("circuit-overloaded", "generator-overloaded")}
        for each in (before, result)
    ]
    assert over[1] <= over[0]


@pytest.mark.parametrize("count", [30, 1000])
def test_a_thousand_amplifiers_on_one_circuit_are_arranged_without_a_fall(count):
    crowd = rig(CIRCUITS, *(amplifier(f"A{i}", "P1", "small") for i in range(count)))
    assessed = assess(crowd)
    assert len(assessed.circuits["P1"].amplifiers) == count
    assert arrangement.propose(assessed).after.over <= arrangement.propose(assessed).before.over


DEAD = (replace(CIRCUITS[0], state="failed"),)


@pytest.mark.parametrize(
    "nothing", [rig((), amplifier("A1")), rig(CIRCUITS), rig(DEAD, amplifier("A1", "P1"))]
)
def test_nothing_to_arrange_is_said(nothing):
    with pytest.raises(ArrangementError, match="first"):
        arrangement.propose(assess(nothing))


def test_the_bound_is_the_even_spread_or_the_largest_alone():
    """Worked here: 12 A over 16 + 32 A is 0.25; 12 A alone on 32 A is 0.375."""
    none = (0.0,) * 3
    many = Task((4.0,) * 3, none, none, (0,) * 3, (16.0, 32.0), (80.0, 160.0), None, 1.0, 0.8, 0.2)
    alone = many._replace(currents=(12.0,), heavies=(0.0,), inrushes=(0.0,), homes=(0,))
    assert many.bound == pytest.approx(0.25)
    assert alone.bound == pytest.approx(0.375)
    assert math.isclose(alone.score((1,)).worst, 0.375)
