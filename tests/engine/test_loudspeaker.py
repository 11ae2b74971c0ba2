"""A section's impedance and alignment against circuit solutions and Small's relations."""

import math
from fractions import Fraction

import numpy as np
import pytest
import scipy  # whose parts load when they are used
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.engine import loudspeaker
from rackwright.engine.frequency_response import Circuit, lowest_modulus, ripples
from rackwright.engine.network import Node
from rackwright.model.equipment import Driver, Section
from rackwright.units import Frequency, Inductance, Resistance
from rigs import SUB_SECTION, VENTED, WEDGE, section

NO_INDUCTANCE = Inductance.parse("0 mH")
RE = SUB_SECTION.dc_resistance.value


def of(driver: Driver, coil: float = RE) -> Section:
    return replace(SUB_SECTION, driver=driver, dc_resistance=Resistance("as measured", coil))


def hertz(value: float) -> Frequency:
    return Frequency("as measured", value)


def modulus(section: Section, frequency: float) -> float:
    return abs(loudspeaker.impedance(section, np.array([frequency]))[0])


SEALED = Driver(fs=hertz(48), qms=5.2, qes=0.61, le=Inductance.parse("0.9 mH"))

drivers = st.builds(
    Driver,
    fs=st.floats(20, 120).map(hertz),
    qms=st.floats(1.5, 12),
    qes=st.floats(0.2, 1.2),
    le=st.just(NO_INDUCTANCE),
    box=st.sampled_from(["sealed", "free air"]),
)


class TestAgainstACircuitSolver:
    """The equivalent circuits of Small (JAES 20(5), 1972; 21(5), 1973), element by element, as lcapy solves them."""

    frequencies = np.geomspace(10, 2000, 60)

    def test_sealed(self):
        ws, res = 2 * math.pi * 48, RE * 5.2 / 0.61
        circuit = f"""
            R1 1 2 {_exactly(RE)}
            L1 2 3 {_exactly(0.9e-3)}
            R2 3 0 {_exactly(res)}
            C1 3 0 {_exactly(0.61 / (ws * RE))}
            L2 3 0 {_exactly(RE / (ws * 0.61))}"""
        ours = loudspeaker.impedance(of(SEALED), self.frequencies)
        np.testing.assert_allclose(ours, _solved(circuit, self.frequencies), rtol=1e-6)

    def test_vented(self):
        ws, wb, res = 2 * math.pi * 34, 2 * math.pi * 36, RE * 6.5 / 0.38
        box_inductance = RE / (ws * 0.38) / 1.1
        circuit = f"""
            R1 1 2 {_exactly(RE)}
            L1 2 3 {_exactly(1.4e-3)}
            R2 3 0 {_exactly(res)}
            C1 3 0 {_exactly(0.38 / (ws * RE))}
            L2 3 0 {_exactly(RE / (ws * 0.38))}
            L3 3 4 {_exactly(box_inductance)}
            C2 4 5 {_exactly(1 / (wb**2 * box_inductance))}
            R3 5 0 {_exactly(wb * box_inductance / 7)}"""
        ours = loudspeaker.impedance(of(VENTED), self.frequencies)
        np.testing.assert_allclose(ours, _solved(circuit, self.frequencies), rtol=1e-6)


def _exactly(value: float) -> str:
    return f"{{{Fraction(value).limit_denominator(10**12)}}}"


def _solved(circuit: str, frequencies: np.ndarray) -> np.ndarray:
    """Impedance between nodes 1 and 0, as lcapy's nodal analysis has it."""
    from lcapy import Circuit  # slow to load, for the one worker that runs this

    lines = "\n".join(line.strip() for line in circuit.strip().splitlines())
    ratio = Circuit(lines).impedance(1, 0).as_expr().sympy
    (s,) = ratio.free_symbols
    over, under = ratio.together().as_numer_denom()
    coefficients = [[float(c) for c in part.as_poly(s).all_coeffs()] for part in (over, under)]
    at = 2j * np.pi * frequencies
    return np.polyval(coefficients[0], at) / np.polyval(coefficients[1], at)


@pytest.mark.parametrize(
    ("low", "high", "sign", "ohms", "frequency"),
    # From an independent solution of the circuit, its frequencies read to about 0.1 Hz.
    [(10, 30, -1, 56.6, 21.3), (45, 80, -1, 50.8, 57.4), (25, 50, 1, 7.31, 35.5)],
)
def test_peaks_and_minimum_of_the_vented_example(low, high, sign, ohms, frequency):
    found = scipy.optimize.minimize_scalar(
        lambda f: sign * modulus(SUB_SECTION, f), bounds=(low, high), method="bounded"
    )
    assert found.x == pytest.approx(frequency, abs=0.1)
    assert modulus(SUB_SECTION, found.x) == pytest.approx(ohms, rel=1e-3)


class TestSmall1972:
    """Relations of a sealed box, Small, "Direct-Radiator Loudspeaker System Analysis", JAES 20(5), 1972."""

    @given(drivers, st.floats(2, 12))
    def test_at_resonance_it_is_the_coil_and_the_motional_resistance(self, driver, coil):
        # Qms = Qes·Res/Re.
        res = coil * driver.qms / driver.qes
        assert modulus(of(driver, coil), driver.fs.value) == pytest.approx(coil + res, rel=1e-9)

    @given(drivers, st.floats(2, 12))
    def test_measuring_it_gives_the_parameters_back(self, driver, coil):
        """f1·f2 = fs² where |Z| = √(Re·(Re + Res)); Qms = fs·√rc/(f2 − f1), Qes = Qms/(rc − 1), rc = 1 + Res/Re."""
        measured, fs = of(driver, coil), driver.fs.value
        peak = modulus(measured, fs)
        level = math.sqrt(coil * peak)
        f1 = scipy.optimize.brentq(lambda f: modulus(measured, f) - level, fs / 50, fs)
        f2 = scipy.optimize.brentq(lambda f: modulus(measured, f) - level, fs, fs * 50)
        assert f1 * f2 == pytest.approx(fs**2, rel=1e-6)
        qms = fs * math.sqrt(peak / coil) / (f2 - f1)
        assert qms == pytest.approx(driver.qms, rel=1e-6)
        assert qms / (peak / coil - 1) == pytest.approx(driver.qes, rel=1e-6)

    @given(drivers)
    def test_total_q_with_no_source_resistance(self, driver):
        # 1/Qts = 1/Qes + 1/Qms.
        inverse = 1 / driver.qes + 1 / driver.qms
        assert loudspeaker.q_total(driver, RE, 0.0) == pytest.approx(1 / inverse)

    @pytest.mark.parametrize(
        ("source", "q"),
        # By hand: Qes' = 0.38·(5.4 + R)/5.4, in parallel with Qms = 6.5.
        [(0.0, 0.3590), (0.42, 0.3853), (5.4, 0.6804)],
    )
    def test_total_q_worked_by_hand(self, source, q):
        assert loudspeaker.q_total(VENTED, 5.4, source) == pytest.approx(q, abs=5e-5)

    @given(drivers, st.floats(0, 4))
    def test_total_q_is_that_of_the_damped_circuit(self, driver, source):
        """The poles of the motional circuit, the source and the coil in parallel with it, have that Q and fs."""
        ws, coil = 2 * math.pi * driver.fs.value, RE
        res = coil * driver.qms / driver.qes
        capacitance = driver.qes / (ws * coil)
        inductance = coil / (ws * driver.qes)
        conductance = 1 / res + 1 / (coil + source)
        poles = np.roots([capacitance, conductance, 1 / inductance])
        resonance = math.sqrt(abs(np.prod(poles)))
        assert resonance == pytest.approx(ws)
        q = resonance / abs(np.sum(poles))
        assert loudspeaker.q_total(driver, coil, source) == pytest.approx(q)


vented_lossless = st.builds(
    Driver,
    fs=st.floats(25, 60).map(hertz),
    qms=st.just(1e5),
    qes=st.floats(0.25, 0.6),
    le=st.just(NO_INDUCTANCE),
    box=st.just("vented"),
    alpha=st.floats(0.5, 4),
    fb=st.floats(25, 60).map(hertz),
    ql=st.just(1e5),
)


class TestSmall1973:
    """Relations of a vented box with small losses, Small, "Vented-Box Loudspeaker Systems", JAES 21(5), 1973."""

    @given(vented_lossless)
    def test_peaks_and_minimum_give_tuning_and_compliance_back(self, driver):
        measured, fb, fs = of(driver), driver.fb.value, driver.fs.value
        grid = np.geomspace(5, 400, 20001)
        peaks, _ = scipy.signal.find_peaks(np.abs(loudspeaker.impedance(measured, grid)))
        assert len(peaks) == 2
        low, high = grid[peaks]
        lowest = scipy.optimize.minimize_scalar(
            lambda f: modulus(measured, f), bounds=(low, high), method="bounded", options={"xatol": 1e-6}
        )
        assert lowest.x == pytest.approx(fb, rel=1e-3)
        assert low * high == pytest.approx(fs * fb, rel=1e-3)
        alpha = (high**2 - fb**2) * (fb**2 - low**2) / (high * low) ** 2
        assert alpha == pytest.approx(driver.alpha, rel=5e-3)
        # With no loss in the box the port shorts the motional side at its tuning: the coil is left.
        assert modulus(measured, lowest.x) == pytest.approx(RE, rel=0.02)

    def test_a_vented_box_needs_its_tuning(self):
        with pytest.raises(ValueError, match="alpha and fb"):
            loudspeaker.impedance(of(replace(VENTED, fb=None)), np.array([40.0]))


class TestGrid:
    @given(st.floats(10, 1000), st.floats(1.01, 1000))
    def test_covers_the_band_at_24_points_an_octave_or_finer(self, low, times):
        grid = loudspeaker.frequencies(low, low * times)
        assert grid[0] == pytest.approx(low)
        assert grid[-1] == pytest.approx(low * times)
        assert np.max(np.diff(np.log2(grid))) <= (1 / 24) * (1 + 1e-9)

    def test_admittance_is_one_over_the_impedance(self):
        grid = loudspeaker.frequencies(30.0, 90.0)
        product = loudspeaker.admittance(SUB_SECTION, 30.0, 90.0) * loudspeaker.impedance(SUB_SECTION, grid)
        np.testing.assert_allclose(product, 1)


class TestWithoutDriverData:
    (bare,) = WEDGE.sections

    @given(st.floats(20, 20e3))
    def test_it_is_a_resistor(self, frequency):
        assert loudspeaker.impedance(self.bare, np.array([frequency]))[0] == self.bare.nominal.value

    def test_its_lowest_modulus_is_80_percent_of_nominal(self):
        """IEC 60268-5: the lowest value of the modulus in the rated range is not under 80 % of the rated impedance."""
        alone = Circuit((Node(0.0, (self.bare,), ()),), 0.02, (20.0, 20e3))
        assert lowest_modulus(alone).value == pytest.approx(0.8 * 12)
        assert [ripple.spread for ripple in ripples(alone)] == [0.0]

    def test_beside_one_with_driver_data_it_counts_at_80_percent(self):
        pair = (Node(0.0, (self.bare, SUB_SECTION), ()),)
        grid = np.geomspace(32.0, 90.0, 100_001)
        together = 1 / (1 / (0.8 * 12) + 1 / loudspeaker.impedance(SUB_SECTION, grid))
        lowest = lowest_modulus(Circuit(pair, 0.02, (32.0, 90.0)))
        assert lowest.value == pytest.approx(np.abs(together).min(), rel=1e-6)


def test_ripple_is_the_spread_of_the_divider_of_source_and_section():
    """|Z/(Z + R)| over the band, R being the amplifier's 20 mΩ and 0.4 Ω of cable, worked from the impedance alone."""
    (ripple,) = ripples(Circuit((Node(0.4, (SUB_SECTION,), ()),), 0.02, (32.0, 90.0)))
    z = loudspeaker.impedance(SUB_SECTION, np.geomspace(32.0, 90.0, 100_001))
    levels = 20 * np.log10(np.abs(z / (z + 0.42)))
    assert ripple.spread == pytest.approx(levels.max() - levels.min(), rel=1e-6)
    assert ripple.spread > 0.3


@pytest.mark.parametrize(
    ("celsius", "ohms"),
    # Copper, IEC 60028: 0.393 % a kelvin over 5.4 Ω at 20 °C.
    [(20, 5.4), (120, 5.4 * 1.393), (220, 5.4 * 1.786)],
)
def test_a_hot_coil_has_more_resistance(celsius, ohms):
    assert loudspeaker.hot_resistance(5.4, celsius) == pytest.approx(ohms)


def test_a_coil_measured_warm_is_counted_from_there():
    assert loudspeaker.hot_resistance(5.4, 30.0, reference=30.0) == pytest.approx(5.4)


def test_sections_of_other_coils_are_told_apart():
    """What is kept for one section must not serve another that differs in one figure."""
    other = section(
        "upper", "low", "8 ohm", "800 W", "28 Hz", driver=VENTED, dc_resistance=Resistance.parse("6 ohm")
    )
    ours, theirs = (loudspeaker.admittance(s, 30.0, 90.0) for s in (SUB_SECTION, other))
    assert np.abs(ours - theirs).max() > 1e-4
