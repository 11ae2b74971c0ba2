"""The mains tree: currents, neutrals and drops against an independent nodal solution and by hand, what a change leaves alone,
and every finding above the circuits."""

import cmath
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.engine import mains
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.finding import Finding
from rackwright.engine.findings.tree import duty_to_count
from rackwright.engine.recovery import fail
from rackwright.engine.workings import explain, known_places, places
from rackwright.model import edits, rules, venue
from rackwright.model.mains import PHASES, Board, Circuit, Load, Measured, Supply, SupplyCable, phases_of
from rackwright.model.rig import Rig, Targets
from rackwright.units import (
    ApparentPower,
    ConductorSize,
    Current,
    Length,
    Power,
    ResidualCurrent,
    Temperature,
    Voltage,
)
from rigs import circuit

from .rigs import EQUIPMENT, KILO, amplifier
from .rigs import rig as with_amplifiers

TURNS = dict(zip(PHASES, (0, -120, 120), strict=True))


def cable(length: str, size: str = "2.5 mm2", **more: Any) -> SupplyCable:
    return SupplyCable(length=Length.parse(length), size=ConductorSize.parse(size), **more)


def board(name: str, rating: str | None = None, **more: Any) -> Board:
    return Board(id=name, rating=Current.parse(rating) if rating else None, **more)


def load(name: str, on: str, current: str = "", **more: Any) -> Load:
    more |= {"current": Current.parse(current)} if current else {}
    return Load(id=name, circuit=on, **more)


def tree(*things: Board | Circuit | Load, **supply: Any) -> Rig:
    """A rig of these, which keeps every rule."""
    kinds = {Board: "boards", Circuit: "circuits", Load: "loads"}
    tables: dict[str, list[Any]] = {key: [] for key in kinds.values()}
    for thing in things:
        tables[kinds[type(thing)]].append(thing)
    made = Rig(name="trial", supply=Supply(**supply), **{key: tuple(held) for key, held in tables.items()})
    assert rules.check(made) == ()
    return made


def found(assessed: Assessed, code: str) -> list[tuple[str, str]]:
    return [(finding.at, finding.severity) for finding in assessed.findings if finding.code == code]


def one(assessed: Assessed, code: str) -> Finding:
    (finding,) = (finding for finding in assessed.findings if finding.code == code)
    return finding


def lines(assessed: Assessed, name: str) -> list[float]:
    return [line.programme_current for line in assessed.boards[name].lines]


TWO_AND_BETWEEN = (
    board("D1"),
    circuit("P1", board="D1"),
    circuit("P2", board="D1", phase="L2"),
    circuit("P12", board="D1", phase="L1-L2"),
)
"""A board with a circuit on each of two phases, and one between the two."""


# --- by hand ------------------------------------------------------------------------------------------


def test_what_hangs_line_to_line_stands_at_30_degrees_on_its_two_phases() -> None:
    """3 kW between L1 and L2 at √3 · 230 V takes 7.53 A, 30° ahead on L1 and 30° behind on L2; each beside 10 A to neutral.

    By hand: |10 + 7.53∠±30°| = √((10 + 6.522)² + 3.765²) = 16.95 A.
    """
    assessed = assess(
        tree(
            *TWO_AND_BETWEEN,
            load("A", "P1", "10 A"),
            load("B", "P2", "10 A"),
            load("MOTOR", "P12", power=Power.parse("3 kW")),
            phases=3,
        )
    )
    assert assessed.circuits["P12"].programme_current == pytest.approx(3000 / (math.sqrt(3) * 230))
    assert lines(assessed, "D1") == pytest.approx([16.95, 16.95, 0], abs=0.005)
    assert assessed.boards["D1"].neutral == pytest.approx(
        10
    )  # 10∠0 + 10∠−120: the load line to line adds nothing
    assert assessed.supply.apparent == pytest.approx(2 * 2300 + 3000)


def test_split_phase() -> None:
    """120/240 V, legs 180° apart: 20 A and 12 A corrected leave 8 A in the neutral, 2.4 kW across both legs adds 10 A to each."""
    assessed = assess(
        tree(
            *TWO_AND_BETWEEN,
            load("A", "P1", "20 A"),
            load("B", "P2", "12 A"),
            load("OVEN", "P12", power=Power.parse("2.4 kW")),
            phases=2,
            voltage=Voltage.parse("120 V"),
            rules="us",
        )
    )
    assert lines(assessed, "D1") == pytest.approx([30, 22])
    assert assessed.boards["D1"].neutral == pytest.approx(8)
    assert assessed.supply.imbalance == pytest.approx(4 / 26)
    assert assessed.supply.phases == 2


def test_a_five_pin_outlet_spreads_over_its_phases() -> None:
    """9 kVA at 230 V: 3 kVA and 13.04 A a phase; corrected it leaves the neutral empty, in pulses √3 times the phase's."""
    three = (board("D1"), circuit("P1", board="D1", phase="L1-L2-L3"))
    smooth, pulsed = (
        assess(tree(*three, load("DIMMER", "P1", power=Power.parse(power), power_factor=factor)))
        for power, factor in (("9 kW", 1.0), ("6.3 kW", 0.7))
    )
    assert lines(smooth, "D1") == pytest.approx([9000 / 690] * 3)
    assert smooth.boards["D1"].neutral == pytest.approx(0, abs=1e-9)
    assert pulsed.boards["D1"].neutral == pytest.approx(math.sqrt(3) * 9000 / 690)


def test_an_amplifier_line_to_line_takes_its_power_at_that_voltage() -> None:
    """2 × 1000 W, idle 60 W, 80 %, power factor 0.65: 372.5 W at programme, at √3 · 120 V."""
    assessed = assess(
        with_amplifiers(
            (circuit("P1", phase="L1-L2"),), amplifier("A1", "P1"), voltage=Voltage.parse("120 V"), phases=3
        )
    )
    expected = 372.5 / 0.65 / (math.sqrt(3) * 120)
    assert assessed.amplifiers["A1"].programme_current == pytest.approx(expected, rel=1e-3)
    assert assessed.supply.apparent == pytest.approx(372.5 / 0.65, rel=1e-3)
    assert [phase.apparent for phase in assessed.phases.values()] == pytest.approx(
        [372.5 / 1.3] * 2, rel=1e-3
    )


@pytest.mark.parametrize(
    ("conductor_class", "ratio"),
    [("", 1 + 0.00393 * -10), ("cord", 1.1572), ("90 degC", 1.2751), ("fixed", 1.1965)],
)
def test_a_cable_is_as_warm_as_its_class(conductor_class: Any, ratio: float) -> None:
    """1 + 0.00393 (T − 20) at 60, 90 and 70 °C, IEC 60028; with no class at the air's 10 °C. 7.98 Ω/km: IEC 60228 class 5."""
    held = circuit("P1")
    held = replace(held, supply_cable=cable("50 m", conductor_class=conductor_class))
    assessed = assess(tree(held, load("URN", "P1", "10 A"), ambient=Temperature.parse("10 degC")))
    assert assessed.circuits["P1"].drop == pytest.approx(100 * 2 * 10 * 0.399 * ratio / 230)


# --- against an independent solution --------------------------------------------------------------------


def solved(
    ways: dict[str, tuple[str, float]], taken: dict[str, dict[str, complex]]
) -> dict[str, dict[str, complex]]:
    """Nodal solution of a tree of four-wire cables: node → phase or N → V, against the origin's.

    `ways` has for each node the one before it ("" the origin) and the ohms of each conductor; `taken` the current that is
    drawn between a phase, or two, and neutral or the other: as currents out of each conductor.
    """
    wires = [*PHASES, "N"]
    at = {(node, wire): i for i, (node, wire) in enumerate((node, wire) for node in ways for wire in wires)}
    conductance, current = np.zeros((len(at), len(at)), complex), np.zeros(len(at), complex)
    for node, (before, ohms) in ways.items():
        for wire in wires:
            i = at[node, wire]
            conductance[i, i] += 1 / ohms
            if before:
                j = at[before, wire]
                conductance[j, j] += 1 / ohms
                conductance[i, j] -= 1 / ohms
                conductance[j, i] -= 1 / ohms
            current[i] = -taken.get(node, {}).get(wire, 0)
    volts = np.linalg.solve(conductance, current)
    return {node: {wire: complex(volts[at[node, wire]]) for wire in wires} for node in ways}


def uneven() -> Assessed:
    """An uneven tree of two boards with what hangs to neutral and line to line; 3.30 and 7.98 Ω/km: IEC 60228 class 5 at 20 °C."""
    return assess(
        tree(
            board("D1", supply_cable=cable("40 m", "6 mm2")),
            board("D2", source="D1", supply_cable=cable("25 m")),
            replace(circuit("P1", board="D2"), supply_cable=cable("20 m")),
            circuit("P2", board="D2", phase="L2"),
            circuit("P3", board="D1", phase="L3"),
            circuit("P23", board="D2", phase="L2-L3"),
            load("A", "P1", "11 A"),
            load("B", "P2", "4 A"),
            load("C", "P3", "7 A"),
            load("D", "P23", "6 A"),
            phases=3,
        )
    )


def test_currents_and_drops_are_those_of_a_three_phase_load_flow() -> None:
    """pandapower 3.5.6, `runpp_3ph`, of the same four-wire tree: zero-sequence resistances four times the positive, for a
    neutral as thick as a phase; powers stepped until each load took its amperes at the angle of the source's voltage."""
    assessed = uneven()
    assert lines(assessed, "D1") == pytest.approx([11, 9.673118, 12.55970], rel=1e-6)
    assert lines(assessed, "D2") == pytest.approx([11, 9.673118, 6], rel=1e-6)
    assert [assessed.boards[each].neutral for each in ("D1", "D2")] == pytest.approx(
        [6.082762, 9.643651], rel=1e-6
    )
    drops = [assessed.circuits[each].drop for each in ("P1", "P2", "P3", "P23")]
    assert drops == pytest.approx([4.20835, 0.90838, 0.67126, 1.48770], abs=6e-6)
    assert [assessed.boards[each].drop for each in ("D1", "D2")] == pytest.approx(
        [0.94696, 2.68174], abs=6e-6
    )


def test_a_split_phase_tree_is_that_of_lcapy() -> None:
    """Legs 180° apart are a circuit of direct current, here solved by lcapy's nodal analysis; 12 AWG: ASTM B258, IEC 60028.

    20 A on one leg, 7 A on the other and 9 A across both behind 75 ft, and 5 A more on the second behind 40 ft of these.
    """
    from lcapy import Circuit  # slow to load, for the one worker that runs this

    held = replace(circuit("P2", board="D1", phase="L2"), supply_cable=cable("40 ft", "12 AWG"))
    assessed = assess(
        tree(
            board("D1", supply_cable=cable("75 ft", "12 AWG")),
            circuit("P1", board="D1"),
            held,
            circuit("P3", board="D1", phase="L2"),
            circuit("P12", board="D1", phase="L1-L2"),
            *(load(f"X{p}", p, a) for p, a in (("P1", "20 A"), ("P2", "5 A"), ("P3", "7 A"), ("P12", "9 A"))),
            phases=2,
            voltage=Voltage.parse("120 V"),
            rules="us",
        )
    )
    per_foot = 0.3048 * 1.02 * 17.241e-3 / (math.pi / 4 * (0.127 * 92 ** ((36 - 12) / 39)) ** 2)
    far, near = 75 * per_foot, 40 * per_foot
    solved_ = Circuit(
        f"""V1 1 0 {{120}}; V2 0 2 {{120}}
        R1 1 11 {{{far}}}; R2 2 12 {{{far}}}; R0 0 10 {{{far}}}
        R3 12 22 {{{near}}}; R4 10 20 {{{near}}}
        I1 10 11 {{20}}; I2 22 20 {{5}}; I3 12 10 {{7}}; I4 12 11 {{9}}""".replace("; ", "\n")
    )
    volts = {node: float(solved_[node].V.dc.expr) for node in ("10", "11", "12", "20", "22")}
    assert assessed.boards["D1"].neutral == pytest.approx(abs(volts["10"]) / far)
    assert lines(assessed, "D1") == pytest.approx([(120 - volts["11"]) / far, (volts["12"] + 120) / far])
    across = {
        "P1": (volts["11"] - volts["10"]) / 120,
        "P2": (volts["20"] - volts["22"]) / 120,
        "P3": (volts["10"] - volts["12"]) / 120,
        "P12": (volts["11"] - volts["12"]) / 240,
    }
    for name, share in across.items():
        assert assessed.circuits[name].drop == pytest.approx(100 * (1 - share), abs=1e-6)


def test_drops_are_those_of_a_nodal_solution() -> None:
    """Solved here by nodal analysis: ideal current sinks along the source's voltages."""
    assessed = uneven()
    unit = {phase: cmath.rect(1, math.radians(turn)) for phase, turn in TURNS.items()}
    between = (unit["L2"] - unit["L3"]) / abs(unit["L2"] - unit["L3"])
    a, b, c, d = 11 * unit["L1"], 4 * unit["L2"], 7 * unit["L3"], 6 * between
    volts = solved(
        {"D1": ("", 0.040 * 3.30), "D2": ("D1", 0.025 * 7.98), "P1": ("D2", 0.020 * 7.98)},
        {"P1": {"L1": a, "N": -a}, "D2": {"L2": b + d, "L3": -d, "N": -b}, "D1": {"L3": c, "N": -c}},
    )

    def dropped(node: str, phase: str) -> float:
        lost = volts[node]["N"] - volts[node][phase]
        return 100 * (lost * unit[phase].conjugate()).real / 230

    assert assessed.circuits["P1"].drop == pytest.approx(dropped("P1", "L1"))
    assert assessed.circuits["P2"].drop == pytest.approx(dropped("D2", "L2"))
    assert assessed.circuits["P3"].drop == pytest.approx(dropped("D1", "L3"))
    assert assessed.boards["D2"].drop == pytest.approx(max(dropped("D2", phase) for phase in PHASES))
    across = (volts["D2"]["L3"] - volts["D2"]["L2"]) * between.conjugate()
    assert assessed.circuits["P23"].drop == pytest.approx(100 * across.real / (math.sqrt(3) * 230))
    neutral = abs(sum([a, b, c]))
    assert assessed.boards["D1"].neutral == pytest.approx(neutral)


# --- properties ---------------------------------------------------------------------------------------

OUTLETS = ("L1", "L2", "L3", "L1-L2", "L2-L3", "L1-L3", "L1-L2-L3")


@st.composite
def trees(draw: Any) -> Rig:
    """Boards D1 > D2 and D3, circuits of any kind on them or on the supply, loads of any power factor on these."""
    phases = draw(st.sampled_from([2, 3]))
    outlets = [outlet for outlet in OUTLETS if phases == 3 or "L3" not in outlet]
    boards = (board("D1", "63 A"), board("D2", "32 A", source="D1"), board("D3", "32 A"))
    circuits = [
        circuit(
            f"P{i}", board=draw(st.sampled_from(["", "D1", "D2", "D3"])), phase=draw(st.sampled_from(outlets))
        )
        for i in range(5)
    ]
    loads = [
        load(
            f"LOAD{i}",
            f"P{draw(st.integers(0, 4))}",
            f"{draw(st.integers(1, 200)) / 10} A",
            power_factor=factor,
        )
        for i, factor in enumerate(draw(st.lists(st.sampled_from([1.0, 0.95, 0.6]), min_size=1, max_size=6)))
    ]
    return tree(*boards, *circuits, *loads, phases=phases)


def currents(assessed: Assessed) -> dict[str, list[float]]:
    every = {name: lines(assessed, name) for name in assessed.boards}
    return every | {"supply": [phase.programme_current for phase in assessed.phases.values()]}


@given(trees(), st.sampled_from(["P0", "P1", "P2", "P3", "P4"]), st.sampled_from([1.0, 0.6]))
def test_a_load_more_lowers_no_phase_s_current(rig: Rig, on: str, factor: float) -> None:
    before = currents(assess(rig))
    after = currents(assess(edits.add(rig, load("MORE", on, "3 A", power_factor=factor))))
    for name, each in before.items():
        assert all(b >= a - 1e-9 for a, b in zip(each, after[name], strict=True))


@given(trees(), st.sampled_from(["P0", "P1", "P2", "P3", "P4"]))
def test_a_move_changes_the_two_ways_alone(rig: Rig, to: str) -> None:
    before, moved = assess(rig), edits.change(rig, "LOAD0", circuit=to)
    after = assess(moved)
    assert assess(moved, before).circuits == after.circuits
    index = before.index
    ends = {index.loads["LOAD0"].circuit, to}
    ways = {board.id for end in ends for board in index.boards_above(index.circuits[end])}
    for name in before.boards:
        assert name in ways or before.boards[name] == after.boards[name]
    for name in before.circuits:
        assert name in ends or before.circuits[name] == after.circuits[name]


@given(trees())
def test_volt_amperes_add_up_and_each_figure_has_a_working(rig: Rig) -> None:
    assessed = assess(rig)
    assert sum(phase.apparent for phase in assessed.phases.values()) == pytest.approx(
        assessed.supply.apparent
    )
    assert sum(circuit.apparent for circuit in assessed.circuits.values()) == pytest.approx(
        assessed.supply.apparent
    )
    for place in known_places(assessed):
        for shown in places(assessed, place)[0].shown:
            if shown.value is not None:
                (working,) = explain(assessed, place, shown.figure.name)
                assert working.value == pytest.approx(shown.value, abs=1e-9), (place, shown.figure.name)
                assert all(step.source for step in working.steps)


@given(trees(), st.sampled_from(["D1", "D2", "D3"]))
def test_a_dead_board_carries_nothing_and_takes_along_what_is_below_it(rig: Rig, name: str) -> None:
    before, dark = assess(rig), fail(rig, [name])
    after = assess(dark)
    taken_over = assess(dark, before)
    assert (taken_over.circuits, taken_over.boards) == (after.circuits, after.boards)
    assert lines(after, name) == pytest.approx([0] * rig.supply.phases)
    below = {
        c
        for c in before.circuits
        if name in {b.id for b in before.index.boards_above(before.index.circuits[c])}
    }
    assert {c for c, result in after.circuits.items() if not result.live} == below
    assert after.supply.apparent == pytest.approx(before.supply.apparent)  # it has to be plugged in somewhere
    assert found(after, "circuit-failed") == []
    assert [at for at, _ in found(after, "board-failed")] == [name]


# --- findings -----------------------------------------------------------------------------------------


def spread(amperes: float, device: str, breaker: str = "32 A", **more: Any) -> Rig:
    """That current on L1 of a board, from two circuits."""
    return tree(
        board("D1", device),
        circuit("P1", breaker, board="D1"),
        circuit("P2", breaker, board="D1"),
        load("A", "P1", f"{amperes / 2:g} A"),
        load("B", "P2", f"{amperes / 2:g} A"),
        **more,
    )


@pytest.mark.parametrize(
    ("amperes", "expected"),
    [(25, []), (26, [("D1", "warn")]), (32, [("D1", "warn")]), (33, [("D1", "stop")])],
)
def test_a_board_is_judged_like_a_circuit(amperes: float, expected: list[tuple[str, str]]) -> None:
    assessed = assess(spread(amperes, "32 A"))
    assert found(assessed, "board-overloaded") + found(assessed, "board-near-limit") == expected


def test_an_intake_is_judged_where_no_board_explains_it() -> None:
    alone = assess(spread(60, "125 A", "63 A", rating=Current.parse("63 A")))
    assert found(alone, "intake-near-limit") == [("supply", "warn")]
    assert "P1 takes 30 A of it" in one(alone, "intake-near-limit").advice
    below = assess(spread(60, "63 A", "63 A", rating=Current.parse("63 A")))
    assert found(below, "intake-near-limit") == []
    assert found(below, "board-near-limit") == [("D1", "warn")]
    graver = assess(spread(60, "63 A", "63 A", rating=Current.parse("50 A")))
    assert found(graver, "intake-overloaded") == [("supply", "stop")]


def started(*boards: Board, intake: str | None = None) -> Assessed:
    """Three amplifiers of 45 A peak, 31.8 A rms, on a C 16 each, of which P1 and P2 share a phase and a board."""
    on = {"P1": "L1", "P2": "L1", "P3": "L2"}
    held = tuple(circuit(name, "16 A", board="D1", phase=phase) for name, phase in on.items())
    hung = [amplifier(f"A{n}", f"P{n}") for n in (1, 2, 3)]
    rated = Current.parse(intake) if intake else None
    return assess(replace(with_amplifiers(held, *hung, phases=3, rating=rated), boards=boards))


def test_what_comes_on_at_once_is_held_against_every_device_on_the_way() -> None:
    """B devices may trip at once from three times their rating (IEC 60898-1, from memory): 48 A of 16 A, 60 A of 20 A."""
    tight = started(board("D1", "16 A", curve="B"))
    assert found(tight, "inrush-over-band") == [("D1", "warn")]
    assert tight.boards["D1"].inrush == pytest.approx(2 * 45 / math.sqrt(2))
    assert found(started(board("D1", "32 A", curve="B")), "inrush-over-band") == []
    intake = started(board("D1", "63 A"), intake="12 A")
    assert found(intake, "inrush-over-band") == [("supply", "warn")]
    above = started(board("D1", "16 A", curve="B"), intake="12 A")
    assert found(above, "inrush-over-band") == [("D1", "warn")]


def test_what_only_an_assumed_figure_tells_hides_no_warning_above_it() -> None:
    """31.8 A rms each, as above: P1 would trip by what is assumed, D1 from 24 A by the known amplifier on P3 alone."""
    known, own = KILO, replace(KILO, id="own", assumed=("inrush",))
    held = (circuit("P1", "10 A", board="D1", curve="B"), circuit("P3", "16 A", board="D1"))
    made = with_amplifiers(held, amplifier("A1", "P1", "own"), amplifier("A3", "P3"))
    made = replace(
        made,
        boards=(board("D1", "8 A", curve="B"),),
        equipment=replace(made.equipment, amplifiers=(known, own)),
    )
    assert found(assess(made), "inrush-over-band") == [("D1", "warn"), ("P1", "note")]


def test_groups_stay_under_the_lowest_band_on_the_way() -> None:
    """Two of 31.8 A rms on a circuit whose own band begins at 80 A, behind a board that may trip from 60 A."""
    hung = [amplifier(f"A{n}", "P1") for n in (1, 2)]
    rig = with_amplifiers((circuit("P1", "16 A", board="D1"),), *hung)
    rig = replace(rig, boards=(board("D1", "20 A", curve="B"),))
    assessed = assess(rig)
    order = mains.switch_on(assessed.circuits["P1"], assessed.amplifiers)
    assert (order.edge, order.groups) == (("D1", 60), (("A1",), ("A2",)))
    exact = replace(KILO, inrush=Current.parse("30 A"), inrush_kind="rms")
    rig = replace(rig, equipment=replace(rig.equipment, amplifiers=(exact,)))
    assessed = assess(rig)
    strictly = mains.switch_on(assessed.circuits["P1"], assessed.amplifiers)
    assert strictly.groups == (("A1",), ("A2",)), "a group at the edge is not under it"


def test_a_private_supply_may_lose_more() -> None:
    """5 % of the public mains, 8 % behind a generator: IEC 60364-5-52 Annex G, from memory. 10 A through 80 m of 2.5 mm² at 60 °C: 6.4 %."""
    held = replace(circuit("P1"), supply_cable=cable("80 m", conductor_class="cord"))
    rig = tree(held, load("URN", "P1", "10 A"), phases=1)
    assert 5 < (assess(rig).circuits["P1"].drop or 0) < 8
    assert found(assess(rig), "feed-drop") == [("P1", "warn")]
    private = replace(rig, supply=replace(rig.supply, generator=ApparentPower.parse("20 kVA")))
    assert found(assess(private), "feed-drop") == []


def test_a_neutral_is_held_against_its_rating() -> None:
    """Three phases of 12 A in pulses put √3 · 12 A = 20.8 A on a neutral of 16 A."""
    things = [circuit(f"P{i}", "16 A", board="D1", phase=phase) for i, phase in enumerate(PHASES)]
    loads = [load(f"X{i}", f"P{i}", "12 A", power_factor=0.6) for i in range(3)]
    assessed = assess(tree(board("D1", "32 A", neutral=Current.parse("16 A")), *things, *loads))
    assert found(assessed, "neutral-overloaded") == [("D1", "stop")]
    assert "20.8 A" in one(assessed, "neutral-overloaded").message
    assert found(assess(tree(board("D1", "32 A"), *things, *loads)), "neutral-overloaded") == []


@pytest.mark.parametrize(
    ("rules_", "rating", "leakage", "over"),
    [("iec", "30 mA", "9 mA", False), ("iec", "30 mA", "9.5 mA", True), ("us", "5 mA", "3.9 mA", False), ("us", "5 mA", "4.5 mA", True)],
)  # fmt: skip
def test_what_leaks_behind_an_rcd(rules_: Any, rating: str, leakage: str, over: bool) -> None:
    """30 % of the rating, IEC 60364-5-53; UL 943 trips between 4 and 6 mA: both from memory."""
    held = circuit("P1", rcd=ResidualCurrent.parse(rating))
    assessed = assess(
        tree(held, load("URN", "P1", "6 A", leakage=ResidualCurrent.parse(leakage)), rules=rules_)
    )
    assert found(assessed, "rcd-leakage") == ([("P1", "warn")] if over else [])


def test_leakage_adds_up_over_everything_behind_an_rcd_and_is_reported_once() -> None:
    """An amplifier counts with 1 mA unless its data sheet says more."""
    strict = replace(KILO, id="strict", leakage=ResidualCurrent.parse("4 mA"))
    equipment = replace(EQUIPMENT, amplifiers=(*EQUIPMENT.amplifiers, strict))
    held = circuit("P1", board="D1", rcd=ResidualCurrent.parse("10 mA"))
    rig = with_amplifiers(
        (held,), amplifier("A1", "P1"), amplifier("A2", "P1", "strict"), equipment=equipment
    )
    rig = replace(rig, boards=(board("D1", rcd=ResidualCurrent.parse("10 mA")),))
    assessed = assess(rig)
    assert {name: rcd.leakage for name, rcd in assessed.rcds.items()} == pytest.approx(
        {"D1": 0.005, "P1": 0.005}
    )
    assert found(assessed, "rcd-leakage") == [("P1", "warn")]


def test_in_the_wet_one_warning_asks_for_an_rcd() -> None:
    rig = spread(10, "32 A")
    assert found(assess(rig), "rcd-missing") == []
    wet = replace(rig, wet=True)
    assert found(assess(wet), "rcd-missing") == [("supply", "warn")]
    slow = edits.change(wet, "D1", rcd=ResidualCurrent.parse("300 mA"))
    assert found(assess(slow), "rcd-missing") == [("supply", "warn")]
    guarded = edits.change(wet, "D1", rcd=ResidualCurrent.parse("30 mA"))
    assert found(assess(guarded), "rcd-missing") == []


def test_a_measured_current_tells_its_duty_and_asks_for_it_where_it_is_higher() -> None:
    """Two channels of 1000 W, idle 60 W, 80 %, power factor 0.65 beside a load of 3 A: d = ((I − 3)·V·pf − 60)·0.8/2000."""
    held = replace(circuit("P1"), measured=Measured(current=Current.parse("7 A")))
    rig = replace(with_amplifiers((held,), amplifier("A1", "P1")), loads=(load("URN", "P1", "3 A"),))
    assessed = assess(rig)
    duty = ((7 - 3) * 230 * 0.65 - 60) * 0.8 / 2000
    assert assessed.circuits["P1"].measured_duty == pytest.approx(duty, rel=1e-3)
    assert found(assessed, "measured-over-programme") == [("P1", "warn")]
    quiet = edits.change(rig, "P1", measured=Measured(current=Current.parse("4 A")))
    assert found(assess(quiet), "measured-over-programme") == []
    (working,) = explain(assessed, "P1", "measured_duty")
    assert working.value == pytest.approx(duty, rel=1e-3)


def test_a_duty_taken_over_from_a_measurement_raises_programme_at_that_venue_and_leaves_driven_hard() -> None:
    """By hand: 60 W + 0.2 · 2000 W / 0.8 = 560 W at 230 V and 0.65 are 3.746 A; a duty under that of the rig lowers nothing."""
    rig = with_amplifiers((circuit("P1"),), amplifier("A1", "P1"))
    before = assess(rig)
    raised = replace(rig, supply=replace(rig.supply, measured_duty=0.2))
    after = assess(raised)
    assert after.circuits["P1"].programme_current == pytest.approx(560 / 230 / 0.65, rel=1e-3)
    assert after.circuits["P1"].heavy_current == before.circuits["P1"].heavy_current
    kept = replace(raised, targets=replace(raised.targets, programme_duty=0.25))
    assert kept.programme_duty == 0.25
    facts, bare = venue.split(raised)
    assert bare.programme_duty == rig.programme_duty
    assert venue.join(bare, facts).rig.programme_duty == 0.2


def test_a_duty_is_counted_with_rounded_up_and_never_past_driven_hard() -> None:
    assert mains.countable_duty(0.1701, 0.3333) == 0.171
    assert mains.countable_duty(0.171, 0.3333) == 0.171
    assert mains.countable_duty(0.5, 0.3333) == 0.3333


@pytest.mark.parametrize(
    ("programme", "heavy", "measured", "counted"),
    [
        (0.125, 0.3333, 0.2, 0.2),
        (0.125, 0.3333, 0.5, 0.3333),
        (0.125, 0.3333, 0.125, None),
        (0.3333, 0.3333, 0.5, None),
        (0.05, 0.1, 0.2, None),
    ],
)
def test_a_duty_is_asked_for_where_programme_counts_with_less_and_less_than_driven_hard(
    programme: float, heavy: float, measured: float, counted: float | None
) -> None:
    """Under music just below clipping, an eighth (IEC 62368-1 Annex E, from memory), nothing is asked for."""
    targets = Targets(programme_duty=programme, heavy_duty=heavy)
    assert duty_to_count(replace(with_amplifiers((circuit("P1"),)), targets=targets), measured) == counted


def test_a_generator_is_short_of_power_before_it_is_short_of_volt_amperes() -> None:
    """8.5 kVA of corrected loads on 10 kVA: 85 % of its kVA, and over the 8 kW that it has at a power factor of 0.8."""
    rig = tree(
        circuit("P1", "63 A"), load("OVEN", "P1", power=Power.parse("8.5 kW")), generator=ApparentPower.parse("10 kVA"), phases=1
    )  # fmt: skip
    assessed = assess(rig)
    assert assessed.supply.generator_loading == pytest.approx(0.85)
    assert assessed.supply.generator_real_loading == pytest.approx(8.5 / 8)
    assert found(assessed, "generator-overloaded") == [("supply", "stop")]
    assert "8 kW" in one(assessed, "generator-overloaded").message
    assert assessed.supply.dip is None


def test_an_amplifier_for_another_voltage_is_a_stop() -> None:
    model = replace(KILO, id="wide", mains=(Voltage.parse("100 V"), Voltage.parse("240 V")))
    equipment = replace(EQUIPMENT, amplifiers=(*EQUIPMENT.amplifiers, model))
    circuits = (circuit("P1"), circuit("P2", phase="L1-L2"))
    rig = with_amplifiers(
        circuits, amplifier("A1", "P1", "wide"), amplifier("A2", "P2", "wide"), equipment=equipment, phases=3
    )
    assert found(assess(rig), "mains-voltage") == [("A2", "stop")]


def test_a_drop_is_reported_where_it_comes_about() -> None:
    """30 A through 60 m of 2.5 mm² take 12 %: said of the board, not of each circuit behind it."""
    rig = spread(30, "63 A")
    rig = edits.change(rig, "D1", supply_cable=cable("60 m"))
    assert found(assess(rig), "feed-drop") == [("D1", "warn")]
    fat = edits.change(rig, "D1", supply_cable=cable("10 m", "16 mm2"))
    far = edits.change(fat, "P2", supply_cable=cable("60 m"))
    assert found(assess(far), "feed-drop") == [("P2", "warn")]


def test_no_amplifier_is_sent_to_a_board_that_has_no_room() -> None:
    """P1 is over its breaker; P2 has room, but 25 A flow on its board of 32 A already. On the supply itself it may go."""
    circuits = (circuit("P1", "6 A"), circuit("P2", "32 A", board="D1"), circuit("P3", "32 A", board="D1"))
    rig = with_amplifiers(circuits, amplifier("A1", "P1"), amplifier("A2", "P1"), amplifier("A3", "P1"))
    rig = replace(rig, boards=(board("D1", "32 A"),), loads=(load("OVEN", "P3", "25 A"),))
    assert "to P2" not in one(assess(rig), "circuit-overloaded").advice
    assert "to P2" in one(assess(edits.change(rig, "P2", board="")), "circuit-overloaded").advice


def test_under_us_rules_a_branch_may_lose_3_percent_and_all_of_the_way_5() -> None:
    """NEC 210.19, informational note, from memory. 10 A at 120 V: 1.2 V lost a 0.06 Ω of loop are 1 %."""
    held = replace(circuit("P1"), supply_cable=cable("75 ft", "12 AWG"))
    rig = tree(held, load("URN", "P1", "16 A"), voltage=Voltage.parse("120 V"), rules="us")
    assert 3 < (assess(rig).circuits["P1"].drop or 0) < 5
    assert found(assess(rig), "feed-drop") == [("P1", "warn")]
    behind = edits.change(edits.add(rig, board("D1", supply_cable=cable("10 ft", "6 AWG"))), "P1", board="D1")
    assert found(assess(behind), "feed-drop") == []


def test_every_phase_set_is_known() -> None:
    assert [phases_of(outlet) for outlet in OUTLETS] == [tuple(outlet.split("-")) for outlet in OUTLETS]  # type: ignore[arg-type]
