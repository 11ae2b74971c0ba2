"""Curves over frequency against circuit solutions, nodal analysis, and the figures that are read off them."""

import math

import numpy as np
import pytest
import scipy  # whose parts load when they are used
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

import rigs
from engine import drawn, nodal
from engine_curves import ngspice
from rackwright.engine import frequency_response
from rackwright.engine.assess import assess
from rackwright.engine.channel import Branch
from rackwright.engine.network import Node
from rackwright.model.equipment import Driver
from rackwright.units import Capacitance, Frequency, Inductance, LineInductance, Resistance, Temperature

FINE = np.geomspace(15, 120, 4001)
OUTPUT = 8 / 400
"""Ω: the invented amplifier's damping factor of 400 at 8 Ω (IEC 60268-3)."""
LINE = 2 * 50 * 7.98e-3 + 4 * 2e-3
"""Ω of 50 m of 2.5 mm², IEC 60228 class 5, there and back, and four contacts of 2 mΩ."""


def branch_of(rig, channel: str = "A1.1") -> Branch:
    return assess(rig).branches[channel]


def one_sub(feed: str = "sub") -> Branch:
    """One vented woofer at the end of 50 m."""
    return branch_of(
        rigs.rig(
            rigs.amplifier("A1", feed),
            rigs.socket("S1", "A1.1"),
            rigs.line("L1", "S1", "SUB1", "50 m"),
            rigs.cabinet("SUB1", "double", "split"),
        )
    )


CHAIN = rigs.rig(
    rigs.amplifier("A1", "sub"),
    rigs.socket("S1", "A1.1"),
    rigs.line("L1", "S1", "W1", "25 m"),
    rigs.line("L2", "W1", "W2", "10 m"),
    rigs.line("L3", "W2", "W3", "40 m", "8x4"),
    *(rigs.cabinet(f"W{number}", "woofer") for number in (1, 2, 3)),
)
"""Three woofers without driver data, linked one to the next."""


def bands(low: float = 20, high: float = 5000):
    """Bands that start from `low` to `high` Hz."""
    return st.tuples(st.floats(low, high), st.floats(1.05, 40)).map(lambda pair: (pair[0], pair[0] * pair[1]))


@given(bands())
def test_frequencies_span_the_band_and_an_octave_each_side(band):
    found = frequency_response.frequencies_around(band)
    assert found[0] == pytest.approx(band[0] / 2)
    assert found[-1] == pytest.approx(band[1] * 2)
    steps = np.log2(found[1:] / found[:-1])
    assert steps.min() > 0
    assert steps.max() <= 1 / 24 + 1e-9
    assert all(np.isclose(found, end).any() for end in band)


# From an independent solution of the circuit of Small (JAES 21(5), 1973), its frequencies read to about 0.1 Hz. Where
# the modulus has an extreme the impedance is all but real, so that the line's resistance simply adds to it.
EXTREMES = [(15, 30, np.argmax, 56.6, 21.3), (45, 80, np.argmax, 50.8, 57.4), (25, 50, np.argmin, 7.31, 35.5)]


@pytest.mark.parametrize(("low", "high", "extreme", "ohms", "frequency"), EXTREMES)
def test_a_vented_sub_has_its_two_peaks_and_the_dip_between_through_the_line(
    low, high, extreme, ohms, frequency
):
    inside = FINE[(low <= FINE) & (high >= FINE)]
    modulus = frequency_response.impedance_modulus(one_sub().circuit, inside)
    at = extreme(modulus)
    assert inside[at] == pytest.approx(frequency, abs=0.15)
    assert modulus[at] == pytest.approx(ohms + LINE, rel=2e-3)


@pytest.mark.parametrize(("low", "high", "extreme", "ohms", "frequency"), EXTREMES)
def test_level_at_an_extreme_is_that_of_a_voltage_divider(low, high, extreme, ohms, frequency):
    # V = E·Z/(Z + R), Kirchhoff's voltage law.
    (level,) = frequency_response.section_levels(one_sub().circuit, np.array([frequency]))
    assert level[0] == pytest.approx(20 * math.log10(ohms / (ohms + LINE + OUTPUT)), abs=0.01)


def test_resistors_agree_with_lcapy_where_inductance_counts_for_nothing():
    branch = branch_of(CHAIN)
    low = np.array([0.01])
    solved = nodal.solve_by_lcapy(nodal.circuit(CHAIN, "A1.1", False))
    assert frequency_response.impedance_modulus(branch.circuit, low) == pytest.approx(solved.load(), rel=1e-7)
    levels = frequency_response.section_levels(branch.circuit, low)
    assert [section.id for section in branch.sections] == ["W1.cone", "W2.cone", "W3.cone"]
    for section, level in zip(branch.sections, levels, strict=True):
        assert level == pytest.approx(20 * math.log10(solved.voltages["section", section.id]), rel=1e-6)


def with_capacitors(rig):
    """The rig with a capacitor in series with every section whose name is in the table, and one cable of its own inductance."""
    kinds = {"horn": "10 uF", "upper": "470 uF", "cone": "1 mF"}
    speakers = tuple(
        replace(
            model,
            sections=tuple(
                replace(s, capacitor=Capacitance.parse(kinds[s.id])) if s.id in kinds else s
                for s in model.sections
            ),
        )
        for model in rig.equipment.loudspeakers
    )
    cables = tuple(
        replace(cable, inductance=LineInductance.parse(f"{0.4 + 0.3 * number} uH/m"))
        for number, cable in enumerate(rig.equipment.cables)
    )
    return replace(rig, equipment=replace(rig.equipment, loudspeakers=speakers, cables=cables))


@settings(max_examples=max(40, settings().max_examples))
@given(drawn.wired(strapped=False), st.booleans(), st.floats(15, 20e3))
def test_any_network_agrees_with_nodal_analysis_of_its_elements(rig, capacitors, frequency):
    """Impedance and level of networks of resistors, inductances and capacitors, element by element."""
    rig = with_capacitors(rig) if capacitors else rig
    for branch in assess(rig).branches.values():
        if not branch.models:
            continue
        solved = nodal.alternating(rig, branch.id, branch.mode == "bridged", frequency)
        at = np.array([frequency])
        (modulus,) = frequency_response.impedance_modulus(branch.circuit, at)
        assert modulus == pytest.approx(abs(solved.load), rel=1e-6)
        levels = frequency_response.section_levels(branch.circuit, at)[:, 0]
        for result, level in zip(branch.sections, levels, strict=True):
            assert level == pytest.approx(20 * math.log10(abs(solved.sections[result.id])), abs=1e-6)


def test_the_nodal_analysis_of_elements_agrees_with_lcapy():
    rig = with_capacitors(CHAIN)
    ours = nodal.alternating(rig, "A1.1", False, 1234.0)
    assert nodal.load_by_lcapy(rig, "A1.1", False, 1234.0) == pytest.approx(ours.load, rel=1e-6)


class TestCableInductance:
    """0.65 µH a metre of pair: common practice, no source."""

    line = rigs.rig(
        rigs.amplifier("A1", "full"),
        rigs.socket("S1", "A1.1"),
        rigs.line("L1", "S1", "W1", "50 m", "2x2.5"),
        rigs.cabinet("W1", "woofer"),
    )

    def loss(self, top, **cable):
        rig = rigs.changed(self.line, "full", band=(Frequency("", 20), Frequency("", top)))
        bare = tuple(replace(c, contact_resistance=Resistance("", 0)) for c in rig.equipment.connectors)
        cables = tuple(replace(c, **cable) for c in rig.equipment.cables)
        equipment = replace(rig.equipment, connectors=bare, cables=cables)
        supply = replace(rig.supply, ambient=Temperature("", 20))
        return assess(replace(rig, supply=supply, equipment=equipment)).sections["W1.cone"].band_top_loss

    @pytest.mark.parametrize(("top", "decibels"), [(30, 0.83), (16e3, 1.39)])
    def test_50_m_into_8_ohm(self, top, decibels):
        """By hand: R = 2·50·7.98 mΩ (IEC 60228, class 5), L = 32.5 µH; 20·log10 |8 + R + jωL|/8."""
        assert self.loss(top) == pytest.approx(decibels, abs=0.005)

    def test_a_cable_may_state_its_own(self):
        assert self.loss(16e3, inductance=LineInductance.parse("0.1 uH/m")) == pytest.approx(0.84, abs=0.005)

    def test_cores_in_parallel_halve_it(self):
        lines = tuple(replace(line, cable="4x2.5", cores_per_pole=2) for line in self.line.lines)
        node = branch_of(replace(self.line, lines=lines)).nodes[0]
        assert node.inductance == pytest.approx(50 * 0.65e-6 / 2)


class TestExtremes:
    """Lowest impedance and ripple against scipy's search over a fine grid of the same curves."""

    @given(bands(20, 400), st.sampled_from(["", "100 uF"]))
    def test_each_and_its_frequency_to_a_hundredth_of_a_percent(self, band, capacitor):
        circuit = self.circuit(band, capacitor)
        fine = np.geomspace(*band, 20_001)

        def modulus(f):
            return float(frequency_response.impedance_modulus(circuit, np.array([f]))[0])

        found = frequency_response.lowest_modulus(circuit)
        self.hold(found, fine, frequency_response.impedance_modulus(circuit, fine), modulus)
        levels = frequency_response.section_levels(circuit, fine)
        for place, (row, ripple) in enumerate(zip(levels, frequency_response.ripples(circuit), strict=True)):

            def level(f, place=place):
                return float(frequency_response.section_levels(circuit, np.array([f]))[place, 0])

            self.hold(ripple.lowest, fine, row, level)
            above = frequency_response.At(ripple.highest.frequency, -ripple.highest.value)
            self.hold(above, fine, -row, lambda f, level=level: -level(f))

    def circuit(self, band, capacitor):
        branch = one_sub()
        (root,) = branch.nodes
        of = replace(root.sections[0], capacitor=Capacitance.parse(capacitor) if capacitor else None)
        chained = Node(0.1, (of,), (Node(0.3, (of, of), (), 4e-6),), 30e-6)
        return frequency_response.Circuit((chained,), OUTPUT, band)

    def hold(self, found, fine, values, at):
        place = int(values.argmin())
        ends = fine[max(place - 2, 0)], fine[min(place + 2, len(fine) - 1)]
        best = scipy.optimize.minimize_scalar(at, bounds=ends, method="bounded", options={"xatol": 1e-8})
        least = min(best.fun, at(fine[0]), at(fine[-1]))
        assert found.value == pytest.approx(least, rel=1e-4, abs=1e-6)
        assert at(found.frequency) == pytest.approx(least, rel=1e-6, abs=1e-7)
        if 2 < place < len(fine) - 3:
            assert found.frequency == pytest.approx(best.x, rel=1e-4)


def test_sections_without_driver_data_are_named():
    assert branch_of(CHAIN).undescribed == ("W1.cone", "W2.cone", "W3.cone")
    assert one_sub().undescribed == ()


def _node(tree: ngspice.Tree) -> Node:
    sections = tuple(
        rigs.section(
            "s",
            "full",
            f"{of['nominal']} ohm",
            "500 W",
            "20 Hz",
            dc_resistance=Resistance("", of.get("coil", 1)),
            capacitor=Capacitance("", of["capacitor"]) if "capacitor" in of else None,
            driver=_driver(**of["driver"]) if "driver" in of else None,
        )
        for of in tree["sections"]
    )
    return Node(tree["ohms"], sections, tuple(map(_node, tree["links"])), tree["henries"])


def _driver(fs: float, le: float, fb: float | None = None, **more: float) -> Driver:
    box = "vented" if fb else "sealed"
    tuned = Frequency("", fb) if fb else None
    return Driver(fs=Frequency("", fs), le=Inductance("", le), fb=tuned, box=box, **more)


def test_forty_networks_agree_with_ngspice() -> None:
    """AC analysis by ngspice 39.3: impedance to 0.001 %, level of each section to 0.0001 dB."""
    known = ngspice.kept()
    assert len(known) == 40
    at = np.array(ngspice.FREQUENCIES)
    for network in known:
        circuit = frequency_response.Circuit(
            tuple(map(_node, network.roots)), network.output_resistance, (20.0, 20e3)
        )
        ohms = np.hypot(*np.array(network.impedance).T)
        assert frequency_response.impedance_modulus(circuit, at) == pytest.approx(ohms, rel=1e-5)
        levels = 20 * np.log10(np.array(network.volts).T)
        assert frequency_response.section_levels(circuit, at) == pytest.approx(levels, abs=1e-4)
