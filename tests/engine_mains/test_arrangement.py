"""Better arrangements against exhaustive search on small rigs, their order simulated step by step."""

import random

import numpy as np
import pytest
from msgspec.structs import replace
from scipy.optimize import LinearConstraint, milp

from rackwright.engine import limits
from rackwright.engine.allocation import arrangement
from rackwright.engine.allocation.arrangement import ArrangementError, Move
from rackwright.engine.assess import Assessed, assess
from rackwright.model import edits
from rackwright.model.mains import PHASES, Board, Load
from rackwright.model.rig import Rig
from rackwright.units import Current, Voltage
from rigs import circuit

from .exhaustive import allowed, best, random_rig, worth
from .rigs import EQUIPMENT, KILO, amplifier, rig

ASSUMED = replace(EQUIPMENT, amplifiers=(replace(KILO, assumed=("inrush",)), *EQUIPMENT.amplifiers[1:]))


@pytest.mark.parametrize("seed", range(40))
def test_of_a_small_rig_the_best_arrangement_is_proposed_and_no_step_to_it_overloads(seed):
    """Every arrangement assessed; then each printed step carried out and assessed anew."""
    now = random_rig(seed)
    before = assess(now)
    made = arrangement.propose(before)
    assert allowed(before, made.assessment)
    if made.proven:
        mine = worth(before, made.assessment, len(made.unplaced), len(made.moves))
        assert mine == pytest.approx(best(now), rel=1e-4, abs=1e-4)
    limit, result = limits.loading_stop(now.supply.rules).value, before
    for step in made.steps:
        now = edits.change(now, step.amplifier, circuit=step.to)
        result = assess(now)
        assert step.most == pytest.approx(max(c.loading for c in result.circuits.values()))
        if step.to:
            assert step.there == pytest.approx(result.circuits[step.to].loading)
        for name, c in result.circuits.items():
            assert c.loading <= max(limit, before.circuits[name].loading) + 1e-9
        if before.supply.generator_loading and result.supply.generator_loading:
            assert result.supply.generator_loading <= max(1, before.supply.generator_loading) + 1e-9
    assert now == made.assessment.index.rig


@pytest.mark.parametrize("seed", [98, 106, 124, 129, 130, 151, 233])
def test_an_assumed_inrush_is_weighed_as_the_note_that_check_makes_of_it(seed):
    now = random_rig(seed, equipment=ASSUMED)
    before = assess(now)
    made = arrangement.propose(before)
    assert allowed(before, made.assessment)
    mine = worth(before, made.assessment, len(made.unplaced), len(made.moves))
    assert mine == pytest.approx(best(now), rel=1e-4, abs=1e-4)


@pytest.mark.parametrize("seed", range(4))
def test_of_a_large_rig_no_fewer_moves_would_do(seed: int) -> None:
    """An assignment of our own words in scipy.optimize.milp: under 80 % at programme and 100 % driven hard, by fewest moves."""
    chance = random.Random(seed)
    amplifiers, circuits = chance.randint(16, 30), chance.randint(8, 12)
    wide = [circuit(f"P{n}", chance.choice(["16 A", "32 A"]), curve="D") for n in range(1, circuits + 1)]
    models = [chance.choice(["kilo", "corrected", "small"]) for _ in range(amplifiers)]
    homes = [chance.randint(1, circuits // 2) for _ in models]
    hung = [amplifier(f"A{n}", f"P{homes[n]}", model) for n, model in enumerate(models)]
    now = assess(rig(tuple(wide), *hung))
    shape = (amplifiers, circuits)
    move = np.array([[home != n for n in range(1, circuits + 1)] for home in homes], dtype=float)
    drawn = now.amplifiers.values()
    programme = np.array([a.programme_current for a in drawn]), 0.8
    rows = [np.eye(amplifiers)[n][:, None] * np.ones(shape) for n in range(amplifiers)]
    least, most = [1.0] * amplifiers, [1.0] * amplifiers
    for draws, part in (programme, (np.array([a.heavy_current for a in drawn]), 1.0)):
        for at, each in enumerate(now.circuits.values()):
            rows.append(draws[:, None] * np.eye(circuits)[at])
            least.append(-np.inf)
            most.append(part * each.breaker)
    held = LinearConstraint(np.array([row.ravel() for row in rows]), least, most)
    fewest = milp(move.ravel(), constraints=held, integrality=np.ones(move.size), bounds=(0, 1))
    made = arrangement.propose(now)
    assert made.proven
    assert not made.added
    assert len(made.moves) == pytest.approx(fewest.fun)
    assert {f.severity for f in made.assessment.findings if f.code.startswith("circuit-")} <= {"note"}


CIRCUITS = tuple(circuit(f"P{i + 1}", "16 A", phase=PHASES[i]) for i in range(3))


def crowded(count: int = 3, model: str = "kilo"):
    """All on one of three circuits, curve D so that inrush is no matter."""
    wide = tuple(circuit(f"P{i + 1}", "16 A", phase=PHASES[i], curve="D") for i in range(3))
    return rig(wide, *(amplifier(f"A{i}", "P1", model) for i in range(count)))


def test_three_alike_on_one_circuit_are_spread_over_three():
    """Without power-factor correction a note on the neutral would stay, of which nothing is proven."""
    proposal = arrangement.propose(assess(crowded(3, "corrected")))
    assert proposal.proven
    assert sorted(move.to for move in proposal.moves) == ["P2", "P3"]
    assert {move.source for move in proposal.moves} == {"P1"}
    assert proposal.after.worst == pytest.approx(proposal.before.worst / 3)
    assert proposal.after.imbalance == pytest.approx(0)


def test_applied_it_fixes_the_overload_and_leaves_nothing_to_move():
    before = crowded(7)
    proposal = arrangement.propose(assess(before))
    assert "circuit-overloaded" in {finding.code for finding in proposal.fixed}
    after = assess(proposal.assessment.index.rig)
    assert "circuit-overloaded" not in {finding.code for finding in after.findings}
    assert arrangement.propose(after).moves == ()


def test_applying_is_a_pure_edit_of_the_circuits_alone():
    before = crowded()
    after = arrangement.propose(assess(before)).assessment.index.rig
    assert [a.circuit for a in before.amplifiers()] == ["P1"] * 3
    assert (after.lines, after.cabinets, after.circuits) == (before.lines, before.cabinets, before.circuits)


def test_an_amplifier_with_no_circuit_is_given_one():
    lone = rig(CIRCUITS[:1], amplifier("A1"))
    assert arrangement.propose(assess(lone)).moves == (Move("A1", "", "P1"),)


def test_few_moves_stop_where_nothing_is_left_to_be_told():
    """Four amplifiers of 2.49 A and 5.97 A driven hard: 23.9 A on a breaker of 16 A, two of which must go."""
    wide = tuple(circuit(f"P{i + 1}", "16 A", curve="D") for i in range(4))
    full = rig(wide, *(amplifier(f"A{i}", "P1") for i in range(4)))
    few = arrangement.propose(assess(full))
    assert len(few.moves) == 2
    assert not [f for f in few.assessment.findings if f.code.startswith("circuit-") and f.severity != "note"]


def test_an_amplifier_goes_only_where_its_lead_reaches():
    """P3 and P4 are empty; of four on P1 each reaches one of them, by its own or by its rack's word."""
    wide = tuple(circuit(f"P{i + 1}", "16 A", curve="D") for i in range(4))
    full = rig(wide, *(amplifier(f"A{i}", "P1", reaches=("P1", "P3") if i else ()) for i in range(4)))
    near = tuple(replace(rack, reaches=("P4",)) if rack.id == "RA0" else rack for rack in full.racks)
    moved = {move.amplifier: move.to for move in arrangement.propose(assess(replace(full, racks=near))).moves}
    assert moved == {"A0": "P4", **{name: "P3" for name in moved if name != "A0"}}
    assert len(moved) == 2


RMS = replace(EQUIPMENT, amplifiers=(replace(KILO, inrush_kind="rms"),))


def test_inrush_is_kept_under_the_bands_where_it_can_be():
    """Two amplifiers of 45 A rms on a C 16 of 80 A and one on a C 32: exchanged so that each breaker carries its own."""
    tight = (circuit("P1", "16 A"), circuit("P2", "32 A"))
    before = rig(tight, amplifier("A0", "P1"), amplifier("A1", "P1"), amplifier("A2", "P2"), equipment=RMS)
    proposal = arrangement.propose(assess(before))
    assert (proposal.before.inrush, proposal.after.inrush) == (10, 0)


def test_nothing_is_put_on_a_dead_circuit_and_what_hung_there_goes_elsewhere():
    """Two amplifiers of 2.49 A on a dead P2: one each to P1 and P3, which carry one already and are of curve D."""
    one, two, three = (replace(each, curve="D") for each in CIRCUITS)
    dead = (one, replace(two, state="failed"), three)
    before = rig(dead, *(amplifier(f"A{i}", f"P{at}") for i, at in enumerate([1, 2, 2, 3])))
    proposal = arrangement.propose(assess(before))
    assert {(move.amplifier, move.source) for move in proposal.moves} == {("A1", "P2"), ("A2", "P2")}
    assert {move.to for move in proposal.moves} == {"P1", "P3"}
    assert all(section.channel for section in proposal.assessment.sections.values())


def test_what_finds_no_room_stays_without_power_and_overloads_nothing():
    """Seven amplifiers of 2.49 A on a 16 A breaker would be 17.4 A; six are 14.9 A."""
    full = rig(CIRCUITS[:1], *(amplifier(f"A{i}", "P1" if i else "") for i in range(7)))
    proposal = arrangement.propose(assess(full))
    assert (proposal.unplaced, proposal.moves) == (("A0",), ())


def test_a_thousand_alike_on_one_circuit_are_arranged():
    crowd = rig(CIRCUITS, *(amplifier(f"A{i}", "P1", "small") for i in range(1000)))
    made = arrangement.propose(assess(crowd))
    assert made.after.over <= made.before.over


DEAD = (replace(CIRCUITS[0], state="failed"),)


@pytest.mark.parametrize(
    "nothing", [rig((), amplifier("A1")), rig(CIRCUITS), rig(DEAD, amplifier("A1", "P1"))]
)
def test_nothing_to_arrange_is_said(nothing):
    with pytest.raises(ArrangementError, match="first"):
        arrangement.propose(assess(nothing))


# --- boards, and what may hang where ------------------------------------------------------------------


def on_boards(*hung: str, **more: object) -> Rig:
    """P1 and P2 on board D1 of 16 A, P3 from the supply; curve D so that inrush is no matter; amplifiers of 2.49 A."""
    circuits = tuple(
        replace(circuit(f"P{n}", "32 A", curve="D"), board="D1" if n < 3 else "") for n in (1, 2, 3)
    )
    board = Board(id="D1", rating=Current.parse("16 A"), **more)
    return replace(rig(circuits, *(amplifier(f"A{n}", at) for n, at in enumerate(hung))), boards=(board,))


def told(assessed: Assessed, code: str) -> list[str]:
    return [finding.at for finding in assessed.findings if finding.code == code]


def test_a_board_that_is_overloaded_is_relieved_by_what_hangs_elsewhere():
    """Seven of 2.49 A are 17.4 A; 80 % of 16 A are 12.8 A: two must leave the board, and driven hard (5.97 A) five."""
    before = assess(on_boards(*["P1"] * 4, *["P2"] * 3))
    assert told(before, "board-overloaded") == ["D1"]
    made = arrangement.propose(before)
    assert {move.to for move in made.moves} == {"P3"}
    assert len(made.moves) == 5
    assert not [f for f in made.assessment.findings if f.code.startswith("board-")]


def test_no_arrangement_overloads_the_board_above():
    """P3 is over its 32 A driven hard with six; the board takes two driven hard, so that one of P1 and P2 is not enough."""
    before = assess(on_boards(*["P3"] * 6))
    made = arrangement.propose(before)
    assert made.moves
    assert not [f for f in made.assessment.findings if f.code.startswith("board-")]


def test_no_advised_move_overloads_the_board_above():
    """P3 has 16 A here; P2 has room, but the board that feeds it carries 14 A of lights."""
    full = on_boards(*["P3"] * 7)
    tight = tuple(replace(c, breaker=Current.parse("16 A")) if c.id == "P3" else c for c in full.circuits)
    lights = Load(id="LIGHTS", circuit="P1", current=Current.parse("14 A"))
    free, filled = (assess(replace(full, circuits=tight, loads=loads)) for loads in ((), (lights,)))
    advice = [
        next(f.advice for f in each.findings if f.code == "circuit-overloaded") for each in (free, filled)
    ]
    assert advice[0].startswith("Move ")
    assert advice[1].startswith("Ask for another circuit")


def test_what_hangs_below_a_dead_board_goes_elsewhere():
    made = arrangement.propose(assess(on_boards("P1", "P2", "P3", state="failed")))
    assert {(move.amplifier, move.to) for move in made.moves} == {("A0", "P3"), ("A1", "P3")}


def test_an_amplifier_goes_nowhere_where_its_mains_voltage_is_not():
    """P2 is line to line: 398 V for an amplifier of 100 to 240 V."""
    model = replace(KILO, mains=(Voltage.parse("100 V"), Voltage.parse("240 V")))
    two = (circuit("P1", "16 A", curve="D"), replace(circuit("P2", "32 A", curve="D"), phase="L2-L3"))
    full = rig(two, *(amplifier(f"A{n}", "P1") for n in range(7)), phases=3)
    narrow = replace(full, equipment=replace(full.equipment, amplifiers=(model,)))
    assert arrangement.propose(assess(full)).moves
    assert not arrangement.propose(assess(narrow)).moves
    assert "to P2" not in next(f.advice for f in assess(narrow).findings if f.code == "circuit-overloaded")


@pytest.mark.parametrize("seed", [108, 124, 137, 269, 332, 458, 646, 811, 835, 1220, 1229])
def test_what_no_gauge_shows_costs_no_better_arrangement(seed):
    """A neutral over its rating, or a voltage too low behind uneven phases: refused, the next best is still found."""
    now = random_rig(seed)
    before = assess(now)
    made = arrangement.propose(before)
    assert allowed(before, made.assessment)
    mine = worth(before, made.assessment, len(made.unplaced), len(made.moves))
    assert mine == pytest.approx(best(now), rel=1e-4, abs=1e-4)
