"""The working of every figure of every place: it ends in the figure reported, and says why one is absent."""

import math
import re
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

import shipped
from engine import drawn
from engine_working import odd
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.workings import NoWorkingError, Place, explain, known_places, places
from rackwright.model import edits
from rackwright.model.equipment import Assumable
from rackwright.model.mains import Supply
from rackwright.model.rig import Rig, Targets
from rackwright.store.rig_file import loads
from rackwright.units import ApparentPower, LimiterSetting, Temperature

PRESETS = ("small-room", "hall", "outdoor-stage", "faults")


def assessed(name: str) -> Assessed:
    if name == "odd":
        return assess(loads(odd.RIG))
    return shipped.assessed(name)


@pytest.fixture(scope="module", params=[*PRESETS, "odd"])
def rig(request: pytest.FixtureRequest) -> Assessed:
    return assessed(request.param)


@pytest.fixture(scope="module")
def odds() -> Assessed:
    return assessed("odd")


@pytest.fixture(scope="module")
def hall() -> Assessed:
    return assessed("hall")


def everything(rig: Assessed) -> list[Place]:
    return [found for place in known_places(rig) for found in places(rig, place)]


def agrees(rig: Assessed) -> int:
    """How many figures there are, each of whose workings ends in the figure reported."""
    count = 0
    for place in everything(rig):
        for shown in place.shown:
            if shown.value is None:
                continue
            steps = place.explainers[shown.figure.name]()
            last = steps[-1]
            assert math.isclose(last.value, shown.value, rel_tol=1e-9, abs_tol=1e-12), (
                place.name,
                shown,
                last,
            )
            assert last.unit == shown.figure.unit, (place.name, shown.figure)
            assert all(step.what and step.formula and step.numbers and step.source for step in steps)
            count += 1
    return count


SOURCED = re.compile(
    r"common practice, no source|from memory|(IEC|AES|ASTM|BS 7671|NEC|NEMA|UL|NIST|JAES|JASA)\b|Ohm's law|conservation|definition"
    r"|arithmetic|a sum of phasors|a difference|a search|no driver data|series|a sine's peak|0 dBu|data sheet|rig file|lowest frequency"
    r"|rating|rated|its (own |[\w-]+ connector|cable,|breaker|board)|terminals of|height of|limiter as set|the breaker|usual$|its class"
)
"""A published source, one of the two marks, a definition, or what the user's own rig and equipment state."""


class TestEveryFigure:
    def test_says_where_its_formulas_and_its_limit_are_from(self, rig: Assessed) -> None:
        figures = [(place, shown) for place in everything(rig) for shown in place.shown]
        said = {shown.limit.why for _, shown in figures if shown.limit}
        for place, shown in figures:
            if shown.value is not None:
                said |= {step.source for step in place.explainers[shown.figure.name]()}
        assert [words for words in sorted(said) if not SOURCED.search(words)] == []

    def test_ends_in_what_is_reported(self, rig: Assessed) -> None:
        assert agrees(rig) > 100

    @given(drawn.wired(), st.booleans())
    def test_of_any_rig(self, drawn_rig: Rig, generator: bool) -> None:
        supply = replace(drawn_rig.supply, generator=ApparentPower.parse("40 kVA") if generator else None)
        agrees(assess(replace(drawn_rig, supply=supply)))

    def test_that_is_absent_says_why(self, rig: Assessed) -> None:
        for place in everything(rig):
            for shown in place.shown:
                if shown.value is None:
                    told = place.absent(shown.figure.name)
                    asked = place.name.partition(" ")[0]
                    with pytest.raises(NoWorkingError) as raised:
                        explain(rig, asked, shown.figure.name)
                    assert told in str(raised.value)
                    assert len(told.split()) > 2

    def test_of_the_table_has_a_working(self, rig: Assessed) -> None:
        for place in everything(rig):
            if place.explainers:
                assert {shown.figure.name for shown in place.shown} == set(place.explainers), place.name


class TestTheSteps:
    """Figures worked here from published constants, not by the engine."""

    def test_of_a_run_are_the_handbook_s(self, hall: Assessed) -> None:
        """10 m of 2.5 mm² at 30 °C, two connectors of 2 mΩ a contact. 7.98 Ω/km: IEC 60228 class 5; 0.00393: IEC 60028."""
        core, copper, whole = explain(hall, "C1", "resistance")[0].steps
        assert core.value == pytest.approx(7.98e-3)
        assert copper.value == pytest.approx(2 * 10 * 7.98e-3 * (1 + 0.00393 * 10))
        assert whole.value == pytest.approx(copper.value + 4 * 0.002)

    def test_of_a_gauge_are_the_handbook_s(self, odds: Assessed) -> None:
        """12 AWG: 1.588 Ω per 1000 ft at 20 °C, NBS Handbook 100; 1.02 for strands; 86 °F is 30 °C. 65 ft there and back."""
        copper = explain(odds, "L1", "resistance")[0].steps[1]
        assert copper.value == pytest.approx(1.588 * 1.02 * 0.130 * (1 + 0.00393 * 10), rel=1e-3)

    def test_of_a_circuit(self, odds: Assessed) -> None:
        """A3 alone is on P3, its one fed channel has failed: 100 W idle at 120 V and a power factor of 0.95, on 30 A."""
        *_, total, loading = explain(odds, "P3", "loading")[0].steps
        assert total.value == pytest.approx(100 / (120 * 0.95))
        assert loading.value == pytest.approx(100 / (120 * 0.95) / 30)

    def test_of_a_feed_s_drop(self, odds: Assessed) -> None:
        """20 m of 3 mm² takes the resistance–area product of 2.5 mm² (IEC 60228): 7.98 · 2.5/3 Ω/km, as warm as its class: 60 °C."""
        current, _, drop = explain(odds, "P3", "drop")[0].steps
        resistance = 2 * 20 * 7.98e-3 * 2.5 / 3 * (1 + 0.00393 * 40)
        assert drop.value == pytest.approx(100 * current.value * resistance / 120)

    def test_of_a_generator(self, odds: Assessed) -> None:
        """One phase: all current at 120 V over 20 kVA; 8 % of dip in proportion."""
        whole = sum(a.programme_current for a in odds.amplifiers.values())
        assert explain(odds, "supply", "dip")[0].value == pytest.approx(8 * 120 * whole / 20e3)

    def test_of_heat_in_btu(self, hall: Assessed) -> None:
        """1 W is 3.412 BTU/h: NIST SP 811."""
        heat, btu = (explain(hall, "R1", name)[0].value for name in ("heat", "heat_btu"))
        assert btu / heat == pytest.approx(1 / 0.2930711, rel=1e-6)

    def test_of_a_bridged_pair_s_touch_voltage(self, odds: Assessed) -> None:
        """Twice the 95 V that one channel is stated at, over the 174 V of the bridge's rating."""
        assert explain(odds, "A2.1", "touch_voltage")[0].value == 190
        assert "ES3" in explain(odds, "A2.1", "touch_voltage")[0].steps[-1].what

    def test_of_a_socket_are_its_worst_channel_s(self, odds: Assessed) -> None:
        assert explain(odds, "S2", "touch_voltage")[0].value == 190


class TestSources:
    def test_a_default_is_cited_as_usual_whether_stated_or_not_and_another_value_as_the_rig_s(
        self, hall: Assessed
    ) -> None:
        warmer = replace(hall.index.rig.supply, ambient=Temperature.parse("41 degC"))
        stated = assess(replace(hall.index.rig, supply=warmer, targets=Targets(damping_factor=35)))
        usual = assess(
            replace(hall.index.rig, supply=replace(warmer, ambient=Supply().ambient), targets=Targets())
        )
        assert hall.index.rig.targets == usual.index.rig.targets  # the hall's file states them
        for rig, said in ((usual, "usual"), (stated, "from the rig file")):
            assert explain(rig, "C1", "resistance")[0].steps[1].source.startswith(f"IEC 60028; T: {said}")
            (place,) = places(rig, "SUB-L1.upper")
            (limit,) = [shown.limit for shown in place.shown if shown.figure.name == "damping_factor"]
            assert limit is not None
            assert said in limit.why

    def test_a_bridged_rating_that_is_derived_is_not_cited_as_the_data_sheet_s(self) -> None:
        """P_bridged(Z) = 2·P(Z/2): each half sees half the load."""
        rig = loads(odd.RIG)
        models = tuple(replace(model, bridged=()) for model in rig.equipment.amplifiers)
        derived = assess(replace(rig, equipment=replace(rig.equipment, amplifiers=models)))
        for found, said in ((assess(rig), "data sheet"), (derived, "bridged: 2 · P of one channel")):
            for figure in ("voltage", "touch_voltage"):
                assert any(step.source.startswith(said) for step in explain(found, "A2.1", figure)[0].steps)

    def test_the_strands_of_a_gauge_are_in_formula_and_source(self, odds: Assessed) -> None:
        core = explain(odds, "L1", "resistance")[0].steps[0]
        assert "1.02" in core.formula
        assert "1.02" in core.numbers
        assert "1.02 for strands: common practice, no source" in core.source


class TestAsking:
    @pytest.mark.parametrize("asked", ["damping_factor", "damping-factor", "Damping Factor"])
    def test_takes_a_name_as_it_is_typed(self, hall: Assessed, asked: str) -> None:
        assert explain(hall, "SUB-L1.upper", asked)[0].label == "Damping factor"

    @pytest.mark.parametrize(
        ("place", "key", "name"),
        [
            ("A1.1", "power_w", "power"),
            ("P1", "drop_percent", "drop"),
            ("R1", "heat_btu_h", "heat_btu"),
            ("supply", "neutral_a", "neutral"),
            ("supply.L2", "apparent_va", "apparent"),
            ("A1", "inrush_a", "inrush"),
        ],
    )
    def test_takes_the_key_of_the_report(self, hall: Assessed, place: str, key: str, name: str) -> None:
        assert explain(hall, place, key) == explain(hall, place, name)

    def test_gives_each_pole_pair_of_a_line(self, hall: Assessed) -> None:
        assert [working.place for working in explain(hall, "C1", "loss")] == [
            "C1 pole pair 1",
            "C1 pole pair 2",
        ]

    @pytest.mark.parametrize(
        ("place", "figure", "told"),
        [
            ("a1.1", "power", 'Did you mean "A1.1"?'),
            ("SUB-L1.uper", "power", 'Did you mean "SUB-L1.upper"?'),
            ("suply", "neutral", 'Did you mean "supply"?'),
            ("A1.1", "curent", 'Did you mean "current"?'),
            ("P1", "in rush", 'Did you mean "inrush"?'),
            ("SUB-L1", "power", "SUB-L1.upper, SUB-L1.lower"),
            ("R1-1", "power", "shrouded socket"),
            ("sub", "power", "such as A1.1"),
        ],
    )
    def test_amiss_names_the_nearest(self, hall: Assessed, place: str, figure: str, told: str) -> None:
        with pytest.raises(NoWorkingError) as raised:
            explain(hall, place, figure)
        assert told in str(raised.value)

    @pytest.mark.parametrize(
        ("place", "figure", "told"),
        [
            ("B6.low", "power", "it is silent: A3.1 failed"),
            ("B6.high", "power", "A3.2, which it is patched to, has no feed"),
            ("B7.low", "power", "no channel is patched to it"),
            ("A1.2", "touch_voltage", "listed as A1.1"),
            ("P2", "drop", "supply cable is not stated"),
            ("supply", "neutral", "single phase"),
            ("B1.high", "q_total", "no driver data"),
            ("B1.low", "advised_capacitor", "a high section with a channel of its own"),
        ],
    )
    def test_for_what_is_absent_tells_the_reason(
        self, odds: Assessed, place: str, figure: str, told: str
    ) -> None:
        with pytest.raises(NoWorkingError) as raised:
            explain(odds, place, figure)
        assert told in str(raised.value)


# --- the mains ----------------------------------------------------------------------------------------


def why(rig: Assessed, place: str, figure: str) -> str:
    (working,) = explain(rig, place, figure)
    return "\n".join(f"{step.what}: {step.numbers}; {step.source}" for step in working.steps)


def test_of_a_dead_circuit_and_what_hangs_on_it_the_working_ends_in_the_figure(hall):
    dead = assess(edits.change(hall.index.rig, "P2", state="failed"))
    assert agrees(dead) > 0
    assert "P2 has failed" in why(dead, "A3", "programme_current")
    assert "P2 has failed and carries nothing" in why(dead, "P2", "programme_current")
    assert dead.amplifiers["A3"].programme_current == hall.amplifiers["A3"].programme_current > 0


def test_a_duty_of_one_s_own_is_no_standard_s(hall):
    """1/8 is that of IEC 62368-1 Annex E, from memory; no other is."""
    targets = replace(hall.index.rig.targets, programme_duty=0.2, heavy_duty=0.5)
    own = assess(edits.change_settings(hall.index.rig, targets=targets))
    for figure, usual in (
        ("programme_current", "Annex E"),
        ("heavy_current", "duty: common practice, no source"),
    ):
        assert usual in why(hall, "A1", figure)
        assert usual not in why(own, "A1", figure)
        assert "duty: from the rig file" in why(own, "A1", figure)


@pytest.mark.parametrize(("dip", "stated"), [(0.05, False), (0.08, True)])
def test_the_usual_dip_of_a_generator_is_not_said_to_be_the_rig_s(hall, dip, stated):
    supply = replace(hall.index.rig.supply, generator=ApparentPower.parse("10 kVA"), generator_dip=dip)
    told = why(assess(edits.change_settings(hall.index.rig, supply=supply)), "supply", "dip").splitlines()[-1]
    assert ("from the rig file" in told) == stated
    assert ("dip at its rating: usual, common practice, no source;" in told) == (not stated)


@pytest.mark.parametrize(
    ("rating", "figure", "reason"),
    [
        ("10 kVA", "programme_current", "never added"),
        ("3 kVA", "dip", "past its rating"),
    ],
)
def test_what_is_not_known_of_a_supply_is_said(hall, rating, figure, reason):
    supply = replace(hall.index.rig.supply, generator=ApparentPower.parse(rating))
    with pytest.raises(NoWorkingError, match=reason):
        explain(assess(edits.change_settings(hall.index.rig, supply=supply)), "supply", figure)


def test_a_fault_names_the_devices_further_up_that_may_let_go_first() -> None:
    """Curve C begins at 5 times the rated current (IEC 60898-1, from memory); UL 489 has no bands."""
    stage = shipped.preset("outdoor-stage")

    def told(rig: Rig) -> dict[str, float]:
        (working,) = explain(assess(rig), "P1", "fault_current")
        return {step.what: step.value for step in working.steps if "may let go" in step.what}

    assert told(stage) == {
        "Where D1, C 63 A, may let go too, perhaps first": 315.0,
        "Where the intake, C 80 A, may let go too, perhaps first": 400.0,
    }
    assert not told(replace(stage, supply=replace(stage.supply, rules="us")))


def with_limiters_in_dbu(rig: Rig) -> Rig:
    """Then what a limiter leaves rests on the gain, too."""
    feeds = (replace(feed, limiter_rms=LimiterSetting.parse("2 dBu"), limiter_at="") for feed in rig.feeds)
    return replace(rig, feeds=tuple(feeds))


def with_first_model(rig: Rig, **changes: object) -> Assessed:
    name = rig.amplifiers()[0].model
    amplifiers = (replace(m, **changes) if m.id == name else m for m in rig.equipment.amplifiers)
    return assess(replace(rig, equipment=replace(rig.equipment, amplifiers=tuple(amplifiers))))


@pytest.mark.parametrize("name", get_args(Assumable))
@pytest.mark.parametrize("preset", ["hall", "outdoor-stage"])
def test_whatever_rests_on_an_assumed_figure_is_marked_and_its_working_says_so(
    preset: str, name: str
) -> None:
    """The figure is turned up by 5 %: what changes, rests on it."""
    rig = with_limiters_in_dbu(shipped.preset(preset))
    (value,) = {getattr(m, name) for m in rig.equipment.amplifiers if m.id == rig.amplifiers()[0].model}
    more = (
        value * 1.05
        if isinstance(value, float)
        else type(value).parse(f"{value.value * 1.05:.6g} {value.unit}")
    )
    known, turned, assumed = (
        with_first_model(rig, **changes) for changes in ({}, {name: more}, {"assumed": (name,)})
    )
    marked = 0
    for one, other, place in zip(everything(known), everything(turned), everything(assumed), strict=True):
        for before, after, shown in zip(one.shown, other.shown, place.shown, strict=True):
            figure = shown.figure.name
            assert (shown.value, before.assumed) == (before.value, False)
            assert shown.assumed or before.value == after.value, (place.name, figure)
            if shown.assumed and shown.value is not None:
                for working in explain(assumed, place.name.split(" ")[0], figure):
                    assert any("assumed" in step.source for step in working.steps), (place.name, figure)
                marked += 1
    assert marked or name == "max_current"  # a limit, whose words say it
