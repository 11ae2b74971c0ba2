"""The wiring of a channel against independent nodal analyses, and the identities that any such network keeps."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

import rigs
from rackwright.engine import network
from rackwright.engine.assess import assess
from rackwright.engine.network import Node
from rackwright.model.rig import Rig
from rackwright.units import LimiterSetting
from rigs import amplifier, cabinet, changed, line, rig, socket

from . import drawn, nodal

CASES = {
    "single run": rig(
        amplifier("A1", "sub"),
        socket("S1", "A1.1"),
        line("L1", "S1", "C1", "25 m"),
        cabinet("C1", "woofer"),
    ),
    "chain of three": rig(
        amplifier("A1", "sub", "sub"),
        socket("S1", "A1.1", "A1.2"),
        line("L1", "S1", "C1", "20 m"),
        line("L2", "C1", "C2", "5 m"),
        line("L3", "C2", "C3", "7.5 m", cable="4x12"),
        cabinet("C1"),
        cabinet("C2"),
        cabinet("C3"),
    ),
    "split at the socket": rig(
        amplifier("A1", "full"),
        socket("S1", "A1.1"),
        line("L1", "S1", "C1", "10 m", cable="2x2.5"),
        line("L2", "S1", "C2", "40 m", cable="2x2.5"),
        cabinet("C1", "wedge"),
        cabinet("C2", "woofer"),
    ),
    "crossed pole pairs": rig(
        amplifier("A1", "mid", "high"),
        socket("S1", "A1.1", "-A1.2"),
        line("L1", "S1", "C1", "20 m"),
        line("L2", "C1", "C2", "10 m", poles=(2, 1)),
        cabinet("C1", "top"),
        cabinet("C2", "top"),
    ),
    "cores in parallel": rig(
        amplifier("A1", "sub", "sub"),
        socket("S1", "A1.1", "A1.2"),
        line("L1", "S1", "C1", "60 m", cable="8x4", cores=2),
        line("L2", "C1", "C2", "8 m"),
        cabinet("C1"),
        cabinet("C2"),
    ),
    "tree of three levels": rig(
        amplifier("A1", "full"),
        socket("S1", "A1.1", connector="eight"),
        line("L1", "S1", "C1", "30 m", cable="8x4"),
        line("L2", "C1", "C2", "5 m"),
        line("L3", "C1", "C3", "6 m"),
        line("L4", "C3", "C4", "4 m", cable="2x2.5"),
        line("L5", "C3", "C5", "9 m", cable="2x2.5"),
        cabinet("C1", "woofer"),
        cabinet("C2", "wedge"),
        cabinet("C3", "double", "joined"),
        cabinet("C4", "woofer"),
        cabinet("C5", "wedge"),
    ),
    "two taps, one turned": rig(
        amplifier("A1", "sub"),
        socket("S1", "A1.1"),
        socket("S2", "", "-A1.1"),
        line("L1", "S1", "C1", "15 m"),
        line("L2", "S2", "C2", "35 m"),
        cabinet("C1", "woofer"),
        cabinet("C2", "woofer", "second"),
    ),
    "bridged": rig(
        amplifier("A1", "sub", mode="bridged"),
        socket("S1", "A1.1"),
        line("L1", "S1", "C1", "50 m"),
        cabinet("C1", "double", "joined"),
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_agrees_with_lcapy(case):
    """lcapy's nodal analysis, in exact fractions; and our own of `nodal`, which goes on to check many more."""
    told = assess(CASES[case])
    for name in told.channels:
        resistors = nodal.circuit(CASES[case], name, case == "bridged")
        if told.channels[name].load_nominal is None:
            assert len(resistors) == 1
            continue
        by_lcapy, ours = nodal.solve_by_lcapy(resistors), nodal.solve(resistors)
        assert ours.currents == pytest.approx(by_lcapy.currents, rel=1e-7)
        _hold_against(told, name, by_lcapy)


@given(drawn.wired(strapped=False))
def test_agrees_with_nodal_analysis_of_any_wiring(any_rig):
    told = assess(any_rig)
    for name, channel in told.channels.items():
        if channel.load_nominal is not None:
            resistors = nodal.circuit(any_rig, name, channel.mode == "bridged")
            _hold_against(told, name, nodal.solve(resistors))


def _hold_against(told, name, solved):
    """Every figure of a channel's network. The amplifier's limit voltage, tested elsewhere, is taken as told."""
    channel = told.channels[name]
    assert channel.load_terminal == pytest.approx(solved.load(), rel=1e-6)
    per_volt = channel.voltage / solved.terminals
    assert channel.current == pytest.approx(solved.currents["output",] * per_volt, rel=1e-6)
    sections = {place[1]: volts for place, volts in solved.voltages.items() if place[0] == "section"}
    for place, volts in sections.items():
        result = told.sections[place]
        assert result.patched is not None
        if result.channel != name:
            continue
        assert result.voltage == pytest.approx(abs(volts) * per_volt, rel=1e-6)
        assert result.polarity == math.copysign(1, volts) * _of_feed(told, name)
        assert result.damping_factor == pytest.approx(abs(volts) / (1 - abs(volts)), rel=1e-6)
        assert result.loss == pytest.approx(20 * math.log10(solved.terminals / abs(volts)), abs=1e-6)
    runs = {(run.line, run.far): run for runs in told.runs.values() for run in runs if run.channel == name}
    conductors = [place for place in solved.currents if place[0] == "line" and place[3] == "go"]
    assert set(runs) == {(place[1], int(place[2])) for place in conductors}
    for place in conductors:
        run = runs[place[1], int(place[2])]
        assert run.current == pytest.approx(abs(solved.currents[place]) * per_volt, rel=1e-6, abs=1e-9)
    assert channel.sections == len(sections)


def _of_feed(told, name):
    feed = told.index.feeds[told.channels[name].feed]
    return -1 if feed.polarity == "inverted" else 1


class TestFullPower:
    """The terminals stand at the amplifier's limit for the load seen there, cable included."""

    def test_worked_by_hand(self):
        # 25 m of 2.5 mm² there and back, four contacts: 2·25·7.98 mΩ + 4·2 mΩ = 0.407 Ω before 8 Ω. Over 8 Ω the
        # limit is 93.81 V: 11.16 A, 89.27 V and 996 W at the section, 20 log10(8.407/8) = 0.431 dB lost.
        # Source resistance 0.407 + 0.02 = 0.427 Ω: damping factor 18.7.
        told = assess(CASES["single run"])
        channel, cone = told.channels["A1.1"], told.sections["C1.cone"]
        assert (channel.load_nominal, channel.load_terminal) == pytest.approx((8, 8.407))
        assert (channel.voltage, channel.current) == pytest.approx((93.81, 11.158), rel=1e-4)
        assert channel.power == pytest.approx(93.81**2 / 8.407, rel=1e-4)
        assert (cone.voltage, cone.power, cone.loss) == pytest.approx((89.27, 996.1, 0.431), rel=1e-3)
        assert (cone.source_resistance, cone.damping_factor) == pytest.approx((0.427, 18.735), rel=1e-4)

    @pytest.mark.parametrize(
        ("limiter", "watts"),
        [("50 V", (50 * 8 / 8.407) ** 2 / 8), ("93 V", 978.9), ("120 V", 996.1), (None, None)],
    )
    def test_what_the_limiter_leaves_worked_by_hand(self, limiter, watts):
        # The same wiring, P = V²/R (Ohm's law): at 50 V the section has 50·8/8.407 = 47.58 V and 283 W, at 93 V 88.50 V
        # and 979 W; a limiter over the 93.81 V at which the amplifier itself limits leaves all that it gives.
        single = CASES["single run"]
        told = assess(changed(single, "sub", limiter_rms=limiter and LimiterSetting.parse(limiter)))
        assert told.sections["C1.cone"].limited_power == (watts and pytest.approx(watts, rel=1e-3))
        assert told.sections["C1.cone"].power == pytest.approx(996.1, rel=1e-3)

    @given(drawn.wired(strapped=False))
    def test_power_at_the_terminals_is_that_of_sections_and_conductors(self, any_rig):
        told = assess(any_rig)
        for name, channel in told.channels.items():
            driven = [s for s in told.sections.values() if s.channel == name]
            if not driven or len(driven) < channel.sections:
                continue
            runs = [run for runs in told.runs.values() for run in runs if run.channel == name]
            spent = sum(s.power for s in driven) + sum(run.current**2 * run.resistance for run in runs)
            assert channel.power == pytest.approx(spent, rel=1e-9)
            assert channel.power == pytest.approx(channel.voltage * channel.current)


resistances, outputs = st.floats(0.001, 5), st.floats(0.001, 0.5)
sections = st.lists(
    st.sampled_from([*rigs.SUB.sections, *rigs.TOP.sections, *rigs.WEDGE.sections]), max_size=3
)
leaves = st.builds(Node, resistances, sections.filter(bool).map(tuple), st.just(()))
nodes = st.recursive(
    leaves,
    lambda below: st.builds(
        Node, resistances, sections.map(tuple), st.lists(below, min_size=1, max_size=3).map(tuple)
    ),
    max_leaves=6,
)
trees = st.lists(nodes, min_size=1, max_size=2).map(tuple)


class TestIdentities:
    """Of any tree of runs, as the description of the physics has them."""

    @staticmethod
    def voltages(tree: tuple[Node, ...], output: float) -> list[float]:
        """Each section's voltage for an EMF of 1 V behind `output`."""
        solution = network.solve_nominal(tree)
        return [transfer / (1 + output * solution.admittance) for transfer in solution.transfers]

    @classmethod
    def dampings(cls, tree: tuple[Node, ...], output: float) -> list[float]:
        solution = network.solve_nominal(tree)
        return [network.damping_factor(t, solution.admittance, output) for t in solution.transfers]

    @given(trees, outputs)
    def test_one_plus_one_over_damping_is_the_level_lost(self, tree, output):
        for volts, damping in zip(self.voltages(tree, output), self.dampings(tree, output), strict=True):
            assert 20 * math.log10(1 + 1 / damping) == pytest.approx(-20 * math.log10(volts))

    @given(trees, outputs, st.floats(0.001, 5), st.data())
    def test_resistance_added_upstream_never_helps(self, tree, output, added, data):
        place = data.draw(st.integers(0, _count(tree) - 1))
        worse = _with(tree, place, lambda node: replace(node, resistance=node.resistance + added))
        upstream = _behind(tree, place)
        before = zip(self.voltages(tree, output), self.dampings(tree, output), strict=True)
        after = zip(self.voltages(worse, output), self.dampings(worse, output), strict=True)
        for i, ((volts, damping), (volts_then, damping_then)) in enumerate(zip(before, after, strict=True)):
            if i in upstream:
                assert volts_then < volts
                assert damping_then < damping

    @given(trees, outputs, st.floats(0.001, 0.5))
    def test_a_higher_output_resistance_never_helps(self, tree, output, added):
        for better, worse in zip(
            self.dampings(tree, output), self.dampings(tree, output + added), strict=True
        ):
            assert worse < better

    @given(trees, outputs, st.floats(0.01, 0.99), st.data())
    def test_a_run_in_two_parts_is_the_same_run(self, tree, output, share, data):
        place = data.draw(st.integers(0, _count(tree) - 1))

        def parted(node: Node) -> Node:
            rest = replace(node, resistance=node.resistance * (1 - share))
            return Node(node.resistance * share, (), (rest,))

        apart = _with(tree, place, parted)
        assert network.solve_nominal(apart).admittance == pytest.approx(
            network.solve_nominal(tree).admittance
        )
        assert self.voltages(apart, output) == pytest.approx(self.voltages(tree, output))
        assert self.dampings(apart, output) == pytest.approx(self.dampings(tree, output))

    @given(st.integers(1, 12), resistances, outputs)
    def test_equal_drivers_at_the_end_of_one_run_have_the_factor_of_the_trade(self, count, run, output):
        """(Z/n)/R, R being all that is in series: common practice, no source."""
        cone = rigs.WOOFER.sections[0]
        for damping in self.dampings((Node(run, (cone,) * count, ()),), output):
            assert damping == pytest.approx((8 / count) / (run + output))

    @given(trees)
    def test_currents_join_at_every_branching(self, tree):
        """Kirchhoff: a run carries what its sections and the runs behind it take."""
        solution = network.solve_nominal(tree)
        in_order = zip(solution.currents, solution.far_ends, strict=True)

        def carried(node: Node) -> float:
            current, volts = next(in_order)
            taken = sum(volts / section.nominal.value for section in node.sections)
            assert current == pytest.approx(taken + sum(carried(link) for link in node.links))
            return current

        assert sum(carried(root) for root in tree) == pytest.approx(solution.admittance)

    @given(trees)
    def test_over_frequency_it_is_the_same_network(self, tree):
        """With nominal resistances instead of impedances the solve over frequency gives the other's figures."""
        over = network.solve_over(tree, lambda s: np.full(2, network.conductance(s) + 0j), np.ones(2))
        nominal = network.solve_nominal(tree)
        np.testing.assert_allclose(over.admittance, nominal.admittance)
        np.testing.assert_allclose(np.array(over.transfers)[:, 1], nominal.transfers)


def _flat(tree: tuple[Node, ...]):
    for node in tree:
        yield node
        yield from _flat(node.links)


def _count(tree: tuple[Node, ...]) -> int:
    return len(list(_flat(tree)))


def _with(tree: tuple[Node, ...], place: int, change) -> tuple[Node, ...]:
    """The tree with its node number `place`, depth first, changed."""
    made = []
    for node in tree:
        size = _count((node,))
        if 0 <= place < size:
            node = change(node) if place == 0 else replace(node, links=_with(node.links, place - 1, change))
        place -= size
        made.append(node)
    return tuple(made)


def _behind(tree: tuple[Node, ...], place: int) -> range:
    """The numbers of the sections behind node number `place`, counted as a solution counts them."""
    flat = list(_flat(tree))
    before = sum(len(node.sections) for node in flat[:place])
    return range(before, before + sum(len(node.sections) for node in _flat((flat[place],))))


def test_a_section_on_two_pole_pairs_of_one_channel_is_one_load():
    strapped: Rig = rig(
        amplifier("A1", "sub"),
        socket("S1", "A1.1", "A1.1"),
        line("L1", "S1", "C1"),
        cabinet("C1", "double", "strapped"),
    )
    told = assess(strapped)
    assert told.channels["A1.1"].load_nominal == 8
    assert told.channels["A1.1"].sections == 1
