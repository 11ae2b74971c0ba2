"""Decay and the kick against time-domain solutions of the same transfer functions by scipy.signal."""

import numpy as np
import pytest
import scipy  # whose parts load when they are used
from hypothesis import example, given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.engine import decay
from rackwright.model.equipment import Driver
from rackwright.units import Frequency, Inductance, Resistance
from rigs import SUB_SECTION

RE = 5.4


def driver(fs, qms, qes, box="sealed", **vented):
    tuned = {"fb": Frequency("", vented.pop("fb")), **vented} if box == "vented" else {}
    return Driver(fs=Frequency("", fs), qms=qms, qes=qes, le=Inductance.parse("0 mH"), box=box, **tuned)


VENTED = driver(34, 6.5, 0.38, "vented", fb=36, alpha=1.1, ql=7)
SEALED = driver(60, 5, 0.5)


def section(of):
    return replace(SUB_SECTION, driver=of, dc_resistance=Resistance("", RE))


@pytest.mark.parametrize(
    ("of", "resistance", "milliseconds"),
    [
        (VENTED, 0, 33.8),
        (VENTED, 0.19, 33.3),
        (VENTED, 0.5, 32.3),
        (VENTED, 2.97, 20.6),
        (SEALED, 0, 10.4),
        (SEALED, 3, 10.1),
    ],
)
def test_worked_values(of, resistance, milliseconds):
    """Found with scipy.signal.lsim and a sum of squares over a fine grid."""
    assert 1000 * decay.decay(section(of), resistance) == pytest.approx(milliseconds, abs=0.1)


boxes = st.one_of(
    st.builds(driver, st.floats(25, 120), st.floats(2, 10), st.floats(0.2, 1.5)),
    st.builds(
        driver,
        st.floats(25, 60),
        st.floats(2, 10),
        st.floats(0.2, 0.8),
        st.just("vented"),
        fb=st.floats(25, 60),
        alpha=st.floats(0.4, 3),
        ql=st.floats(5, 15),
    ),
)


def simulated(numerator, made, time, signal):
    """What becomes of a signal that begins at 0, held straight between its points: as of scipy.signal.cont2discrete."""
    system = (numerator, made.denominator)
    over, under, _ = scipy.signal.cont2discrete(system, (time[1] - time[0]) / made.time, method="foh")
    return scipy.signal.lfilter(over.ravel(), under, signal)


@given(boxes, st.floats(0, 3), st.floats(30, 90))
@example(driver(40, 1.0, 1.0), 0.0, 40.0)  # Q = 1/2: both poles in one place
def test_decay_agrees_with_a_simulation(of, resistance, low):
    found = decay.decay(section(of), resistance, low)
    made = decay.system(of, RE, resistance)
    stop = decay.CYCLES / low
    step = 1 / (low * 200)
    time = np.arange(0, stop + 12 * found, step)
    signal = np.where(time < stop - step / 2, np.sin(2 * np.pi * low * time), 0)
    after = simulated(made.pressure, made, time, signal)[round(stop / step) :]
    energy = scipy.integrate.cumulative_trapezoid(after[::-1] ** 2, initial=0)[::-1]
    assert np.argmax(energy <= 0.01 * energy[0]) * step == pytest.approx(found, rel=0.02)


@given(boxes, st.floats(0, 3), st.floats(30, 90))
@example(driver(40, 1.0, 1.0), 0.0, 40.0)
def test_a_kick_agrees_with_a_simulation(of, resistance, low):
    time = np.linspace(0, 8 / low, 801)
    kick = decay.kick(of, RE, resistance, low, time)
    window = np.where(time <= 4 / low, (1 - np.cos(np.pi * low / 2 * time)) / 2, 0)
    assert kick.signal == pytest.approx(window * np.sin(2 * np.pi * low * time), abs=1e-9)
    made = decay.system(of, RE, resistance)
    for numerator, found in ((made.pressure, kick.pressure), (made.motion, kick.motion)):
        assert found == pytest.approx(simulated(numerator, made, time, kick.signal), abs=2e-3)


def test_a_section_without_driver_data_has_no_decay():
    assert decay.decay(replace(SUB_SECTION, driver=None), 0.1) is None


def cutoff(made, fs):
    """Hz at which the pressure is 3 dB down, far above which it is 1."""

    def over(f):
        s = 2j * np.pi * f * made.time
        return abs(np.polyval(made.pressure, s) / np.polyval(made.denominator, s)) ** 2 - 0.5

    grid = np.geomspace(fs / 10, fs * 10, 4001)
    last = max(np.flatnonzero([over(f) < 0 for f in grid]))
    return scipy.optimize.brentq(over, grid[last], grid[last + 1])


class TestAlignments:
    """Where the known alignments are 3 dB down. The tables are written down from memory."""

    @pytest.mark.parametrize(
        ("f3", "f3_over_fb", "alpha", "qt"),
        [
            (2.68, 1.34, 10.48, 0.180),  # QB3
            (2.28, 1.32, 7.48, 0.209),  # QB3
            (1.77, 1.25, 4.46, 0.259),  # QB3
            (1.45, 1.18, 2.95, 0.303),  # QB3
            (1.000, 1.000, 1.414, 0.383),  # B4
            (0.867, 0.935, 1.055, 0.415),  # C4
            (0.729, 0.879, 0.729, 0.466),  # C4
            (0.641, 0.847, 0.559, 0.518),  # C4
            (0.600, 0.838, 0.485, 0.557),  # C4
        ],
    )
    def test_vented_without_losses(self, f3, f3_over_fb, alpha, qt):
        """Thiele, JAES 19(5), 1971, Table I: f3/fs, f3/fb, CAS/CAB, QT, which Small 1973 builds on."""
        fs = 40.0
        of = driver(fs, 1e6, qt, "vented", fb=fs * f3 / f3_over_fb, alpha=alpha, ql=1e6)
        assert cutoff(decay.system(of, RE, 0.0), fs) / fs == pytest.approx(f3, rel=0.01)

    def test_a_butterworth_of_the_fourth_order_with_losses(self):
        """QL = 7, h = 1, α = 1.061, QT = 0.405 (Small, JAES 21(5), 1973): 3 dB down at fs, the coefficients Butterworth's."""
        made = decay.system(driver(40, 1e6, 0.4052, "vented", fb=40, alpha=1.061, ql=7), RE, 0.0)
        assert cutoff(made, 40.0) == pytest.approx(40, rel=0.01)
        assert made.denominator == pytest.approx(scipy.signal.butter(4, 1, analog=True)[1], rel=0.01)

    @pytest.mark.parametrize(("q", "f3"), [(0.5, 1.554), (0.577, 1.272), (0.7071, 1.0), (1.0, 0.786)])
    def test_sealed(self, q, f3):
        """f3/fc by QTC (Small, JAES 20(10), 1972)."""
        made = decay.system(driver(50, 1e6, q), RE, 0.0)
        assert cutoff(made, 50.0) / 50 == pytest.approx(f3, rel=0.005)

    @given(st.floats(0.3, 1.2), st.floats(0, 4))
    def test_more_resistance_before_it_is_a_higher_q(self, q, resistance):
        """Small 1972: QES' = QES (Re + R)/Re, here with no mechanical loss."""
        made = decay.system(driver(50, 1e6, q), RE, resistance)
        assert 1 / made.denominator[1] == pytest.approx(q * (RE + resistance) / RE, rel=1e-5)
