"""The formulae of the mains against published figures, phasors and waveforms worked here, and standards."""

import cmath
import itertools
import math

import numpy as np
import pytest
import scipy.constants
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from rackwright.engine import mains
from rackwright.engine.demand import BTU_PER_HOUR
from rackwright.model.index import Index
from rackwright.model.mains import Supply
from rackwright.model.rig import Rig
from rackwright.units import Temperature, Voltage
from rigs import circuit

AMPERES = st.floats(0, 500)


def drop_per_ampere_metre(size: str, temperature: str) -> float:
    """mV per ampere and metre of run, there and back."""
    way = circuit("P1", feed=("100 m", size))
    resistance = mains.supply_cable_resistance(way, Supply(ambient=Temperature.parse(temperature)))
    assert resistance is not None
    return 1000 * resistance / 100


def test_input_power_and_current_worked_by_hand():
    """Worked here from the definitions.

    Two channels of 1000 W at 1/8: 60 W + 250 W / 0.8 = 372.5 W; at 230 V and 0.65, 2.492 A.
    """
    power = mains.input_power(60, 2000, 0.8, 1 / 8)
    assert power == pytest.approx(372.5)
    assert mains.input_current(power, 230, 0.65) == pytest.approx(2.4916, rel=1e-4)


@pytest.mark.parametrize(
    ("size", "published"),
    [("1.5 mm2", 29), ("2.5 mm2", 18), ("4 mm2", 11), ("6 mm2", 7.3), ("10 mm2", 4.4), ("16 mm2", 2.8)],
)
def test_drop_per_metre_against_the_tables_for_fixed_wiring(size, published):
    """BS 7671 appendix 4, mV/A/m of two-core cable at 70 °C, single phase; from memory.

    Those are for solid and stranded conductors, whose greatest resistance is some percent under a flexible one's.
    """
    assert published * 0.99 <= drop_per_ampere_metre(size, "70 degC") <= published * 1.11


@pytest.mark.parametrize(
    ("size", "published"), [("14 AWG", 3.14), ("12 AWG", 1.98), ("10 AWG", 1.24), ("8 AWG", 0.778)]
)
def test_resistance_at_75_degrees_against_the_national_electrical_code(size, published):
    """NEC chapter 9, table 8, uncoated stranded copper, Ω per 1000 ft at 75 °C; from memory."""
    there_and_back = drop_per_ampere_metre(size, "75 degC") / 1000
    assert there_and_back / 2 * 304.8 == pytest.approx(published, rel=0.01)


def test_drop_of_a_feed_worked_with_the_national_electrical_code():
    """100 ft of 12 AWG at 16 A and 120 V: 2 · 0.1 · 1.98 Ω · 16 A = 6.34 V, 5.28 % (table 8 of NEC chapter 9, from memory)."""
    supply = Supply(voltage=Voltage.parse("120 V"), ambient=Temperature.parse("75 degC"))
    resistance = mains.supply_cable_resistance(circuit("P1", feed=("100 ft", "12 AWG")), supply)
    assert resistance is not None
    assert mains.supply_cable_drop(16, resistance, 120) == pytest.approx(5.28, rel=0.01)


@given(AMPERES, AMPERES, AMPERES)
def test_neutral_of_corrected_loads_is_the_sum_of_the_phasors(one, two, three):
    """Kirchhoff's current law at the star point, the phases 120° apart."""
    turn = cmath.exp(2j * math.pi / 3)
    expected = abs(one + two / turn + three * turn)
    assert mains.vector_sum(one, two, three) == pytest.approx(expected, abs=1e-6)
    whole = mains.neutral_current((one, two, three), (0, 0, 0))
    assert whole == pytest.approx(min(expected, math.hypot(one, two, three)), abs=1e-6)


@pytest.mark.parametrize(
    ("currents", "expected"),
    [((40, 40, 40), 0), ((25, 0, 0), 25), ((10, 10, 0), 10), ((60, 40, 50), math.sqrt(300))],
)
def test_neutral_of_loads_that_a_textbook_would_take(currents, expected):
    """Worked here: balanced, one phase alone, two phases alike, and 60² + 40² + 50² − 2400 − 2000 − 3000 = 300."""
    assert mains.neutral_current(currents, (0, 0, 0)) == pytest.approx(expected)


def test_what_rounding_leaves_of_balanced_phases_is_no_current():
    assert mains.vector_sum(0.1 + 0.2, 0.3, 0.3) == 0


def simulated_neutral(corrected, uncorrected, widths) -> float:
    """A rms of three phases: sines for corrected loads, and pulses about the peaks, of a width in degrees, for others.

    Each phase is sampled over one period and turned by 120°; the neutral is what they add up to at each instant.
    """
    angle = np.linspace(0, 2 * np.pi, 3600, endpoint=False)
    neutral = np.zeros_like(angle)
    for phase in range(3):
        wave = np.cos(angle - phase * 2 * np.pi / 3)
        pulse = np.sign(wave) * (np.abs(wave) > np.cos(np.radians(widths[phase] / 2)))
        neutral += math.sqrt(2) * corrected[phase] * wave
        neutral += uncorrected[phase] * pulse / np.sqrt(np.mean(pulse**2))
    return float(np.sqrt(np.mean(neutral**2)))


THREE = st.tuples(*[st.just(0.0) | st.floats(0.1, 100)] * 3)


@given(THREE, THREE, st.tuples(*[st.floats(30, 120)] * 3))
def test_no_simulated_current_loads_the_neutral_by_more(corrected, uncorrected, widths):
    """Simulated here with numpy; the widths are those of rectifiers with a capacitor: common practice, no source."""
    bound = mains.neutral_current(corrected, uncorrected)
    assert simulated_neutral(corrected, uncorrected, widths) <= bound * (1 + 1e-3) + 1e-9


@pytest.mark.parametrize(
    ("corrected", "uncorrected"),
    [
        ((0, 0, 0), (10, 10, 10)),
        ((0, 0, 0), (20, 5, 1)),
        ((0, 0, 0), (12, 12, 0)),
        ((10, 10, 10), (0, 0, 0)),
        ((7, 3, 3), (0, 0, 0)),
    ],
)
def test_pulses_under_60_degrees_load_the_neutral_by_that_much(corrected, uncorrected):
    """Simulated here: such pulses never meet, so that the neutral's mean square is the phases'; sines add as phasors."""
    bound = mains.neutral_current(corrected, uncorrected)
    assert simulated_neutral(corrected, uncorrected, (55, 55, 55)) == pytest.approx(bound, rel=2e-3, abs=1e-6)


def test_imbalance_worked_by_hand():
    """100, 90 and 110 A: the mean is 100 A and the largest deviation 10 A."""
    assert mains.imbalance([100, 90, 110]) == pytest.approx(0.1)
    assert mains.imbalance([0, 0, 0]) == 0


def test_heat_in_british_units():
    """NIST SP 811 appendix B: 1 Btu(IT)/h = 2.930711 E−01 W. CODATA by scipy says the same."""
    assert pytest.approx(1 / 2.930711e-1, rel=1e-6) == BTU_PER_HOUR
    assert pytest.approx(3600 / scipy.constants.Btu, rel=1e-6) == BTU_PER_HOUR


@pytest.mark.parametrize(
    ("breaker", "over", "shortest", "longest"),
    [
        (16, 1.13, 3600, math.inf),
        (16, 1.45, 0, 3600),
        (63, 1.45, 0, 3600),
        (80, 1.13, 7200, math.inf),
        (80, 1.45, 0, 7200),
        (32, 2.55, 0, 60),
        (40, 2.55, 0, 120),
    ],
)
def test_conventional_currents(breaker, over, shortest, longest):
    """IEC 60898-1: 1.13 In held for the conventional time, 1.45 In tripped within it, 2.55 In within a minute or two.

    The conventional time is one hour up to 63 A, two above; from memory.
    """
    under, past = (mains.endurance(over * breaker * by, breaker, "C", "iec") for by in (1 - 1e-9, 1 + 1e-9))
    if longest == math.inf:
        assert under.shortest >= shortest > past.shortest
    else:
        assert past.longest == longest < under.longest


@pytest.mark.parametrize(("rules", "over"), [("iec", 1.1), ("iec", 1.3), ("us", 1.2)])
def test_that_a_breaker_bears_an_overload_is_no_promise(rules, over):
    """IEC 60898-1 (1.13 and 1.45) and UL 489 (1.35), from memory, bound the time to trip from one side alone."""
    words = mains.endurance(over * 16, 16, "C", rules).words
    assert words.startswith("may trip")
    assert "hold" not in words


@pytest.mark.parametrize(("curve", "holds", "trips"), [("B", 3, 5), ("C", 5, 10), ("D", 10, 20)])
def test_instantaneous_bands(curve, holds, trips):
    """IEC 60898-1 bands of instantaneous tripping, from memory: not at once under the first, within 0.1 s at the second."""
    assert mains.endurance(holds * 16 * 0.99, 16, curve, "iec").shortest > 0
    assert mains.endurance(holds * 16 * 1.01, 16, curve, "iec").shortest == 0
    assert mains.endurance(trips * 16 * 0.99, 16, curve, "iec").longest > 0.1
    assert mains.endurance(trips * 16 * 1.01, 16, curve, "iec").longest <= 0.1
    on_it = mains.of_circuit(circuit("P1", "16 A", curve=curve), (), Index(Rig(name="")))
    assert on_it.inrush_limit == pytest.approx(holds * 16)


@pytest.mark.parametrize(
    ("over", "shortest", "longest"), [(1.04, 7200, math.inf), (1.2, 0, math.inf), (1.3, 0, 7200)]
)
def test_a_large_device_is_an_industrial_one(over, shortest, longest):
    """IEC 60947-2, from memory: over 125 A it holds 1.05 for two hours and trips within two at 1.30."""
    endured = mains.endurance(over * 160, 160, "C", "iec")
    assert (endured.shortest, endured.longest) == (shortest, longest)


@pytest.mark.parametrize(
    ("breaker", "over", "longest"),
    [(20, 1.35, 3600), (60, 1.35, 7200), (30, 2, 120), (50, 2, 240), (100, 2, 360)],
)
def test_calibration_of_moulded_breakers(breaker, over, longest):
    """UL 489, from memory: 135 % within an hour, two above 50 A; 200 % within 2, 4 and 6 minutes up to 30, 50 and 100 A."""
    assert mains.endurance(over * breaker * (1 + 1e-9), breaker, "C", "us").longest == longest
    assert mains.endurance(over * breaker * 0.99, breaker, "C", "us").longest > longest


@given(
    st.floats(0.1, 2000),
    st.floats(1, 3),
    st.floats(1, 125),
    st.sampled_from("BCD"),
    st.sampled_from(["iec", "us"]),
)
def test_no_breaker_holds_more_for_longer(current, factor, breaker, curve, rules):
    less, more = (mains.endurance(c, breaker, curve, rules) for c in (current, current * factor))
    assert more.shortest <= less.shortest
    assert more.longest <= less.longest
    assert less.shortest <= less.longest


# --- switching on -------------------------------------------------------------------------------------

SIZES = st.lists(st.integers(1, 100), max_size=7).map(lambda sizes: sorted(map(float, sizes), reverse=True))


def fewest_by_exhaustion(sizes: list[float], capacity: float) -> int:
    for count in range(len(sizes) + 1):
        for places in itertools.product(range(count), repeat=len(sizes)):
            filled = [0.0] * count
            for size, place in zip(sizes, places, strict=True):
                filled[place] += size
            if all(load <= capacity for load in filled):
                return count
    raise AssertionError("each in a group of its own fits")


@given(SIZES)
def test_groups_are_as_few_as_exhaustion_finds(sizes):
    groups, proven = mains.pack(sizes, 100.0)
    assert proven
    assert sorted(i for group in groups for i in group) == list(range(len(sizes)))
    assert all(sum(sizes[i] for i in group) <= 100 for group in groups)
    assert len(groups) == fewest_by_exhaustion(sizes, 100.0)


@pytest.mark.parametrize("seed", range(4))
def test_groups_are_as_few_as_linear_programming_finds(seed):
    """scipy's mixed-integer solver (HiGHS) on the packing of 14 inrush currents."""
    sizes = sorted(np.random.default_rng(seed).integers(12, 60, 14).astype(float).tolist(), reverse=True)
    groups, proven = mains.pack(sizes, 100.0)
    assert len(groups) == fewest_by_programming(sizes, 100.0)
    assert proven


def fewest_by_programming(sizes: list[float], capacity: float) -> int:
    n = len(sizes)
    cost = np.concatenate([np.ones(n), np.zeros(n * n)])
    placed = np.zeros((n, n + n * n))
    fits = np.zeros((n, n + n * n))
    for item, group in itertools.product(range(n), repeat=2):
        placed[item, n + item * n + group] = 1
        fits[group, n + item * n + group] = sizes[item]
    fits[np.arange(n), np.arange(n)] = -capacity
    solved = milp(
        cost,
        constraints=[LinearConstraint(placed, 1, 1), LinearConstraint(fits, -np.inf, 0)],
        integrality=np.ones(len(cost)),
        bounds=Bounds(0, 1),
    )
    return round(solved.fun)
