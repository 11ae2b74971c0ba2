"""A rig at the mains: worked examples, what draws and what doesn't, sums, and every finding on circuits and supply."""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.engine import mains
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.finding import Finding
from rackwright.engine.workings import explain
from rackwright.model import edits, rules
from rackwright.model.mains import PHASES
from rackwright.model.racks import Amplifier, Channel
from rackwright.model.rig import Rig, Targets
from rackwright.units import ApparentPower, Current, Power, Temperature, Voltage
from rigs import circuit

from .rigs import EQUIPMENT, KILO, amplifier, rig

CLOSE = 1e-3
"""Of a figure worked with ideal cables: those of the rigs take some ten thousandths."""


def findings(assessed: Assessed, code: str) -> list[Finding]:
    return [finding for finding in assessed.findings if finding.code == code]


def one(assessed: Assessed, code: str) -> Finding:
    (finding,) = findings(assessed, code)
    return finding


# --- worked examples ----------------------------------------------------------------------------------


def test_single_phase_worked_by_hand():
    """Worked here from the definitions.

    Two amplifiers of 2 × 1000 W, idle 60 W, 80 %, power factor 0.65, at 230 V: each takes 60 + 2000/8/0.8 = 372.5 W at
    programme and 60 + 2000 · 0.3333/0.8 = 893.25 W driven hard; of that 250 W and 666.6 W leave on the lines.
    """
    assessed = assess(rig((circuit("P1"),), amplifier("A1", "P1"), amplifier("A2", "P1")))
    p1, supply = assessed.circuits["P1"], assessed.supply
    assert p1.idle_power == pytest.approx(120)
    assert p1.programme_power == pytest.approx(745, rel=CLOSE)
    assert p1.programme_current == pytest.approx(745 / (230 * 0.65), rel=CLOSE)
    assert p1.heavy_current == pytest.approx(2 * 893.25 / (230 * 0.65), rel=CLOSE)
    assert p1.loading == pytest.approx(p1.programme_current / 16)
    assert p1.inrush == pytest.approx(90 / math.sqrt(2))
    assert assessed.racks["RA1"].heat == pytest.approx(372.5 - 250, rel=CLOSE)
    assert assessed.racks["RA1"].heat_heavy == pytest.approx(893.25 - 666.6, rel=CLOSE)
    assert supply.heat == pytest.approx(245, rel=CLOSE)
    assert supply.heat_btu == pytest.approx(245 * 3.412, rel=CLOSE)
    assert supply.apparent == pytest.approx(745 / 0.65, rel=CLOSE)
    assert (supply.imbalance, supply.neutral) == (None, None)


def test_three_phases_worked_by_hand():
    """Computed here: 2, 1 and 1 amplifiers of 2.492 A; mean 3.322 A, so 50 % uneven; neutral √(2² + 1 + 1) of uncorrected ones."""
    circuits = tuple(
        circuit(name, phase=phase) for name, phase in zip(("P1", "P2", "P3"), PHASES, strict=True)
    )
    placed = [amplifier(f"A{i}", name) for i, name in enumerate(("P1", "P1", "P2", "P3"))]
    assessed = assess(rig(circuits, *placed))
    each = 372.5 / (230 * 0.65)
    assert [p.programme_current for p in assessed.phases.values()] == pytest.approx(
        [2 * each, each, each], rel=CLOSE
    )
    assert assessed.supply.imbalance == pytest.approx(0.5)
    assert assessed.supply.neutral == pytest.approx(6**0.5 * each, rel=CLOSE)
    corrected = assess(rig(circuits, *(replace(a, model="corrected") for a in placed))).supply
    assert corrected.neutral == pytest.approx(each * 0.65 / 0.98, rel=CLOSE)


def test_drop_of_the_feed_as_in_the_description_of_the_report():
    """4.2 A through 30 m of 2.5 mm² at 30 °C: 0.9 % of 230 V, the rig format's own sample."""
    supply = rig((), ambient=Temperature.parse("30 degC")).supply
    resistance = mains.supply_cable_resistance(circuit("P1", feed=("30 m", "2.5 mm2")), supply)
    assert resistance is not None
    assert mains.supply_cable_drop(4.2, resistance, 230) == pytest.approx(0.9, abs=0.05)


def test_at_half_the_voltage_twice_the_current():
    here, there = (
        assess(rig((circuit("P1"),), amplifier("A1", "P1"), voltage=Voltage.parse(volts))).circuits["P1"]
        for volts in ("230 V", "115 V")
    )
    assert there.heavy_current == pytest.approx(2 * here.heavy_current)
    assert there.heavy_power == here.heavy_power


# --- what draws ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("channels", "live"),
    [
        ((Channel(feed="sub"), Channel(feed="sub")), 2),
        ((Channel(feed="sub"), Channel(feed="sub", state="failed")), 1),
        ((Channel(feed="sub"), Channel()), 1),
        ((Channel(), Channel(state="failed")), 0),
    ],
)
def test_a_channel_failed_or_without_a_feed_draws_nothing(channels, live):
    assessed = assess(rig((), amplifier("A1", channels=channels)))
    assert assessed.amplifiers["A1"].output == pytest.approx(1000 * live, rel=CLOSE)
    assert assessed.amplifiers["A1"].programme_power == pytest.approx(60 + live * 125 / 0.8, rel=CLOSE)


def test_a_channel_that_nothing_hangs_on_draws_nothing():
    wired = rig((), amplifier("A1"))
    assert assess(replace(wired, lines=wired.lines[:1])).amplifiers["A1"].output == pytest.approx(
        1000, rel=CLOSE
    )


def test_a_bridged_pair_draws_once():
    """Two times 8 Ω of each half: 2 · P(4 Ω), which a single 8 Ω rating holds to its current: 44.7 V · 11.18 A · 2 = 1000 W."""
    bridged = rig((), amplifier("A1", mode="bridged"))
    assert assess(replace(bridged, lines=bridged.lines[:1])).amplifiers["A1"].output == pytest.approx(
        1000, rel=CLOSE
    )


def test_channels_in_parallel_mode_both_draw():
    parallel = amplifier("A1", mode="parallel", channels=(Channel(feed="sub"), Channel()))
    assert assess(rig((), parallel)).amplifiers["A1"].output == pytest.approx(2000, rel=CLOSE)


# --- sums ---------------------------------------------------------------------------------------------

CIRCUITS = (circuit("P1"), circuit("P2", phase="L2"), circuit("P3", phase="L3"), circuit("P4", phase="L1"))
NAMES = [c.id for c in CIRCUITS]
PLACED = st.lists(
    st.tuples(st.sampled_from(NAMES), st.sampled_from(["kilo", "corrected", "small"])), min_size=1, max_size=6
)


def with_amplifiers(placed: list[tuple[str, str]], **supply: object) -> Rig:
    return rig(CIRCUITS, *(amplifier(f"A{i}", *each) for i, each in enumerate(placed)), **supply)


@given(PLACED)
def test_phases_sum_to_the_total_and_so_do_racks(placed):
    assessed = assess(with_amplifiers(placed))
    for figure in mains.FIELDS:
        parts = assessed.phases, assessed.circuits, assessed.racks, assessed.amplifiers
        first, *others = [sum(getattr(part, figure) for part in each.values()) for each in parts]
        assert others == pytest.approx([first] * 3)
        if not figure.endswith("current"):
            assert getattr(assessed.supply, figure) == pytest.approx(first)
    for figure in ("apparent", "apparent_heavy"):
        total = pytest.approx(getattr(assessed.supply, figure))
        assert sum(getattr(part, figure) for part in assessed.phases.values()) == total
        assert sum(getattr(part, figure) for part in assessed.racks.values()) == total


@pytest.mark.parametrize(
    ("where", "added"), [(("P1", "P4"), True), (("P1", "P2"), False), (("P1", ""), False)]
)
def test_amperes_of_several_phases_are_never_added(where, added):
    """P1 and P4 are on L1, P2 on L2; where one without a circuit goes is not known. VA are added all the same."""
    two = rig(CIRCUITS, *(amplifier(f"A{i}", name) for i, name in enumerate(where)))
    first, second = two.racks
    one_rack = replace(
        two,
        racks=(
            replace(first, amplifiers=(*first.amplifiers, replace(second.amplifiers[0], unit=3))),
            replace(second, amplifiers=()),
        ),
    )
    assessed = assess(one_rack)
    rack, each = assessed.racks["RA0"], assessed.amplifiers["A0"]
    for whole in (rack, assessed.supply):
        assert whole.apparent == pytest.approx(2 * 230 * each.programme_current)
        currents = (whole.idle_current, whole.programme_current, whole.heavy_current)
        assert currents == (
            pytest.approx((2 * each.idle_current, 2 * each.programme_current, 2 * each.heavy_current))
            if added
            else (None, None, None)
        )


@given(PLACED, st.sampled_from(NAMES))
def test_an_amplifier_more_lowers_no_current(placed, name):
    before = assess(with_amplifiers(placed)).circuits
    after = assess(with_amplifiers([*placed, (name, "kilo")])).circuits
    for each in NAMES:
        assert after[each].idle_current >= before[each].idle_current
        assert after[each].programme_current >= before[each].programme_current
        assert after[each].heavy_current >= before[each].heavy_current
    assert after[name].heavy_current > before[name].heavy_current


@given(PLACED, st.sampled_from(NAMES))
def test_a_move_changes_its_two_circuits_only(placed, to):
    before = with_amplifiers(placed)
    here, there = assess(before), assess(edits.change(before, "A0", circuit=to))
    changed = {name for name in NAMES if here.circuits[name] != there.circuits[name]}
    assert changed == ({placed[0][0], to} if placed[0][0] != to else set())
    assert there.supply.apparent == pytest.approx(here.supply.apparent)


@given(PLACED)
def test_what_comes_in_goes_out_as_heat_or_sound(placed):
    assessed = assess(with_amplifiers(placed))
    for amp in assessed.amplifiers.values():
        assert amp.heat + 0.125 * amp.output == pytest.approx(amp.programme_power)
        assert amp.heat_heavy + 0.3333 * amp.output == pytest.approx(amp.heavy_power)
        assert amp.idle_power < amp.heat < amp.heat_heavy


def test_an_amplifier_without_a_circuit_counts_in_the_whole():
    assessed = assess(rig((circuit("P1"),), amplifier("A1", "P1"), amplifier("A2")))
    assert assessed.supply.heavy_current == pytest.approx(2 * assessed.circuits["P1"].heavy_current)


EDITS = (
    lambda r: edits.change(r, "A0", circuit="P2"),
    lambda r: edits.change(r, "A0.1", state="failed"),
    lambda r: edits.change(r, "P1", breaker=Current.parse("32 A")),
    lambda r: edits.change_settings(r, supply=replace(r.supply, voltage=Voltage.parse("200 V"))),
    lambda r: edits.change_settings(r, targets=Targets(heavy_duty=0.5)),
    lambda r: edits.with_equipment(r, replace(KILO, idle_power=Power.parse("90 W"))),
    lambda r: edits.remove(r, "P1", with_dependents=True),
    lambda r: edits.remove(r, "RA0", with_dependents=True),
    lambda r: edits.change(r, "RA0", height=9),
    lambda r: edits.change(r, "P1", state="failed"),
    lambda r: edits.change_settings(r, supply=replace(r.supply, phases=3)),
)


@pytest.mark.parametrize("change", EDITS)
def test_what_is_taken_over_from_before_an_edit_is_as_if_calculated_again(change):
    before = with_amplifiers([("P1", "kilo"), ("P1", "small"), ("P2", "kilo")])
    after = change(before)
    assert after != before
    quick, anew = assess(after, assess(before)), assess(after)
    for part in ("amplifiers", "circuits", "phases", "supply", "racks", "touch", "findings"):
        assert getattr(quick, part) == getattr(anew, part)


# --- findings on circuits -----------------------------------------------------------------------------


def loaded(share: float, count: int = 1, rule: str = "iec", **more: object) -> Assessed:
    """An amplifier or several on P1, whose breaker is such that programme loads it to `share`; P2 stands empty."""
    amplifiers = [amplifier(f"A{i}", "P1") for i in range(count)]
    trial = rig((circuit("P1"),), *amplifiers)
    breaker = f"{assess(trial).circuits['P1'].programme_current / share:.6f} A"
    return assess(rig((circuit("P1", breaker), circuit("P2", breaker)), *amplifiers, rules=rule, **more))


@pytest.mark.parametrize(
    ("rule", "share", "code", "severity"),
    [
        ("iec", 1.01, "circuit-overloaded", "stop"),
        ("iec", 0.99, "circuit-near-limit", "warn"),
        ("iec", 0.81, "circuit-near-limit", "warn"),
        ("iec", 0.79, "circuit-heavy-overload", "warn"),
        ("iec", 0.5, "circuit-heavy-overload", "note"),
        ("iec", 0.4, None, None),
        ("us", 0.81, "circuit-overloaded", "stop"),
        ("us", 0.79, "circuit-heavy-overload", "warn"),
        ("us", 0.4, None, None),
    ],
)
def test_a_circuit_against_its_breaker(rule, share, code, severity):
    """Over the breaker and over 80 % (common practice, no source); NEC 210.20(A) for three hours or more, from memory.

    Driven hard these draw 893.25/372.5 = 2.4 times the programme current: at 79 % that is 1.89 × the breaker, which is
    sure to trip (IEC 60898-1 1.45, UL 489 1.35, from memory), at 50 % 1.2 ×, which may hold.
    """
    told = [f for f in loaded(share, rule=rule).findings if f.code.startswith("circuit-") and f.at == "P1"]
    assert [(f.code, f.severity) for f in told] == ([(code, severity)] if code else [])


def test_an_overloaded_circuit_says_what_to_move_and_that_mends_it():
    assessed = loaded(1.2, count=3)
    told = one(assessed, "circuit-overloaded")
    assert "Move A0 to P2" in told.advice
    mended = assess(edits.change(assessed.index.rig, "A0", circuit="P2"))
    assert not findings(mended, "circuit-overloaded")


def test_with_no_room_elsewhere_it_asks_for_a_circuit():
    full = loaded(1.2)
    crowded = edits.remove(full.index.rig, "P2")
    assert "another circuit" in one(assess(crowded), "circuit-overloaded").advice


def test_relief_is_the_best_of_all_single_moves():
    """Against every move tried one by one."""
    placed = [("P1", "kilo"), ("P1", "small"), ("P1", "corrected"), ("P2", "small"), ("P3", "kilo")]
    power = assess(with_amplifiers(placed))
    full = power.circuits["P1"]
    bounds = mains.Bounds(0.8, 1.0)
    roomiest = mains.roomiest(power.power, 1.0, "heavy")
    found = mains.relief(full, roomiest, power.amplifiers, bounds, "heavy", lambda *_: True)
    assert found is not None

    def fuller(name: str, to: str) -> float:
        moved = assess(edits.change(power.index.rig, name, circuit=to)).circuits
        return max(moved["P1"].loading_heavy, moved[to].loading_heavy)

    best = min(fuller(name, to) for name, to in itertools.product(full.amplifiers, ("P2", "P3", "P4")))
    assert max(found.left, found.there) == pytest.approx(best)


@pytest.mark.parametrize(
    ("rule", "length", "severity"),
    [
        ("iec", "300 m", "warn"),
        ("iec", "200 m", "note"),
        ("iec", "115 m", None),
        ("us", "180 m", "warn"),
        ("us", "100 m", "note"),
        ("us", "70 m", None),
    ],
)
def test_supply_cable_drop_against_the_limits(rule, length, severity):
    """IEC 60364-5-52 Annex G, 5 %, and the 3 % of NEC 210.19's note, from memory.

    Worked here: 2.492 A and 5.975 A at 2 · 7.98 mΩ a metre are 0.0173 % and 0.0415 % of 230 V a metre:
    5 % at 289 m and 121 m, 3 % at 174 m and 72 m.
    """
    long = circuit("P1", feed=(length, "2.5 mm2"))
    told = findings(assess(rig((long,), amplifier("A1", "P1"), rules=rule)), "feed-drop")
    assert [finding.severity for finding in told] == ([severity] if severity else [])


def test_inrush_over_the_band_gives_an_order_that_stays_under_it():
    """45 A peak each, 31.8 A rms; a C 10 may trip at once from 50 A (IEC 60898-1, from memory), which holds for one at a time."""
    assessed = assess(rig((circuit("P1", "10 A"),), *(amplifier(f"A{i}", "P1") for i in range(3))))
    assert "A0, then A1, then A2" in one(assessed, "inrush-over-band").advice
    bears_all = edits.change(assessed.index.rig, "P1", curve="D")
    assert not findings(assess(bears_all), "inrush-over-band")


def test_inrush_over_the_band_by_assumed_figures_alone_is_a_note_that_says_which_to_enter():
    """45 A peak each, 31.8 A rms; a C 10 may trip at once from 50 A (IEC 60898-1, from memory)."""
    equipment = replace(
        EQUIPMENT, amplifiers=(*EQUIPMENT.amplifiers, replace(KILO, id="own", assumed=("inrush", "weight")))
    )
    for models, severity in (
        (("own", "own"), "note"), (("kilo", "own"), "note"), (("kilo", "kilo", "own"), "warn"), (("kilo", "kilo"), "warn"),
    ):  # fmt: skip
        hung = [amplifier(f"A{n}", "P1", model) for n, model in enumerate(models)]
        found = one(assess(rig((circuit("P1", "10 A"),), *hung, equipment=equipment)), "inrush-over-band")
        assert found.severity == severity, models
        told = "Enter the inrush of own, which is assumed, from its data sheet. Switch on A0, then A1"
        assert found.advice.startswith(told if "own" in models else "Switch on A0, then A1")


def test_a_stated_peak_is_held_against_the_band_over_the_square_root_of_two():
    """A C 16 may trip at once from 80 A rms (IEC 60898-1, from memory): 110 A peak are 77.8 A rms, 110 A rms are over."""
    for kind, expected in (("peak", 110 / math.sqrt(2)), ("rms", 110.0)):
        model = replace(KILO, inrush=Current.parse("110 A"), inrush_kind=kind)
        assessed = assess(
            rig((circuit("P1"),), amplifier("A1", "P1"), equipment=replace(EQUIPMENT, amplifiers=(model,)))
        )
        assert assessed.amplifiers["A1"].inrush == assessed.circuits["P1"].inrush == pytest.approx(expected)
        assert bool(findings(assessed, "inrush-over-band")) == (kind == "rms")
        (step,) = explain(assessed, "P1", "inrush")[0].steps[:1]
        assert step.value == pytest.approx(expected)


def test_under_us_rules_inrush_is_given_without_a_verdict():
    """UL 489 has no bands of instantaneous tripping: from memory."""
    crowd = (amplifier(f"A{i}", "P1") for i in range(5))
    assessed = assess(rig((circuit("P1", "15 A"),), *crowd, rules="us"))
    assert assessed.circuits["P1"].inrush > 150
    assert assessed.circuits["P1"].inrush_limit is None
    assert not findings(assessed, "inrush-over-band")


def test_an_amplifier_whose_inrush_alone_is_too_much_is_told():
    heavy = replace(
        EQUIPMENT,
        amplifiers=(
            replace(KILO, inrush=Current.parse("85 A"), inrush_kind="rms"),
            *EQUIPMENT.amplifiers[1:],
        ),
    )
    assessed = assess(
        rig((circuit("P1"),), amplifier("A0", "P1"), amplifier("A1", "P1", "small"), equipment=heavy)
    )
    sequence = mains.switch_on(assessed.circuits["P1"], assessed.amplifiers)
    assert (sequence.groups, sequence.over) == ((("A1",),), ("A0",))
    assert "A0 exceeds it alone" in one(assessed, "inrush-over-band").advice


def test_places_with_nothing_on_them_and_amplifiers_with_no_place():
    assessed = assess(rig((circuit("P1"), circuit("P2", "32 A")), amplifier("A1", "P1"), amplifier("A2")))
    assert one(assessed, "circuit-empty").at == "P2"
    unplaced = one(assessed, "amplifier-without-circuit")
    assert (unplaced.at, unplaced.severity) == ("A2", "warn")
    assert "P2" in unplaced.advice


def test_a_rig_with_no_circuits_is_told_once():
    assessed = assess(rig((), amplifier("A1"), amplifier("A2")))
    assert one(assessed, "no-circuits").severity == "note"
    assert not findings(assessed, "amplifier-without-circuit")


# --- a dead circuit -----------------------------------------------------------------------------------


def dead(*amplifiers: Amplifier) -> Assessed:
    """P1 of 10 A is live, P2 of 32 A dead."""
    return assess(rig((circuit("P1", "10 A"), circuit("P2", "32 A", state="failed")), *amplifiers))


def test_a_dead_circuit_carries_nothing_and_what_hangs_on_it_counts_at_what_it_would_draw():
    here, there = dead(amplifier("A1", "P1")), dead(amplifier("A1", "P2"))
    circuit_there = there.circuits["P2"]
    assert circuit_there.amplifiers == ("A1",)
    assert (circuit_there.heavy_current, circuit_there.loading, circuit_there.inrush) == (0, 0, 0)
    assert mains.switch_on(circuit_there, there.amplifiers).groups == ()
    assert there.amplifiers["A1"] == replace(here.amplifiers["A1"], circuit="P2")
    assert there.supply.apparent == here.supply.apparent
    told = one(there, "circuit-failed")
    assert (told.severity, told.at) == ("stop", "P2")
    assert "A1 has no power" in told.message
    assert "573 VA at programme" in told.message


def test_no_advice_names_a_dead_circuit_with_room():
    """Three of 2.49 A, 5.97 A driven hard, are over 10 A on P1; an amplifier on no circuit finds no room beside them."""
    assessed = dead(*(amplifier(f"A{i}", "P1") for i in range(3)), amplifier("A9"))
    assert not findings(assessed, "circuit-empty")
    assert not [f for f in assessed.findings if "P2" in f.advice]
    assert "another circuit" in one(assessed, "amplifier-without-circuit").advice
    assert one(assessed, "circuit-failed").severity == "note"


def test_a_thousand_amplifiers_on_one_circuit_are_switched_on_in_order():
    crowd = assess(rig((circuit("P1", "32 A"),), *(amplifier(f"A{i}", "P1") for i in range(1000))))
    order = mains.switch_on(crowd.circuits["P1"], crowd.amplifiers)
    assert sorted(name for group in order.groups for name in group) == sorted(crowd.amplifiers)
    assert {len(group) for group in order.groups} == {5}, "five of 31.8 A rms stay under 160 A"


# --- findings on the supply ---------------------------------------------------------------------------


def test_phases_uneven_by_less_than_matters_are_not_told():
    """One amplifier that idles at 60 W, 0.4 A: all on one phase, and under 2.5 % of 32 A from the mean."""
    idle = amplifier("A1", "P1", channels=(Channel(), Channel()))
    assert not findings(assess(rig((circuit("P1", "32 A"),), idle, phases=3)), "phases-uneven")


def test_uneven_phases_are_told_and_even_ones_are_not():
    uneven = with_amplifiers([("P1", "kilo"), ("P2", "kilo")])
    assert one(assess(uneven), "phases-uneven").at == "supply"
    even = with_amplifiers([("P1", "kilo"), ("P2", "kilo"), ("P3", "kilo")])
    assert not findings(assess(even), "phases-uneven")


def test_harmonics_are_told_of_supplies_without_correction_only():
    even = [("P1", "kilo"), ("P2", "kilo"), ("P3", "kilo")]
    told = one(assess(with_amplifiers(even)), "neutral-harmonics")
    assert "up to 4.32 A at programme" in told.message  # √3 × 372.5/(230 × 0.65)
    assert not findings(
        assess(with_amplifiers([(name, "corrected") for name, _ in even])), "neutral-harmonics"
    )


def test_one_phase_of_a_three_phase_supply_is_as_uneven_as_can_be():
    """All on one of three: the mean is a third, the largest deviation two thirds."""
    assessed = assess(rig((circuit("P1"),), amplifier("A1", "P1"), phases=3))
    assert assessed.supply.imbalance == pytest.approx(2)
    assert assessed.supply.neutral == pytest.approx(assessed.amplifiers["A1"].programme_current)


@pytest.mark.parametrize(
    ("rating", "code"),
    [
        ("570 VA", "generator-overloaded"),
        ("700 VA", "generator-near-limit"),
        ("1100 VA", "generator-near-limit"),
        ("1400 VA", None),
    ],
)
def test_a_generator_against_its_rating(rating, code):
    """Worked here: 372.5 W / 0.65 = 573 VA at programme, 893.25 W / 0.65 = 1374 VA driven hard; near from 80 %."""
    assessed = assess(rig((circuit("P1"),), amplifier("A1", "P1"), generator=ApparentPower.parse(rating)))
    told = [f.code for f in assessed.findings if f.code.startswith("generator")]
    assert told == ([code] if code else [])


def test_a_phase_bears_a_third_of_a_generator():
    assessed = assess(
        rig((circuit("P1"),), amplifier("A1", "P1"), generator=ApparentPower.parse("1500 VA"), phases=3)
    )
    assert assessed.supply.generator_loading == pytest.approx(573.1 / 500, rel=CLOSE)
    assert findings(assessed, "generator-overloaded")


def test_a_generator_at_its_rating_loses_what_it_is_said_to():
    assessed = assess(
        rig(
            (circuit("P1"),),
            amplifier("A1", "P1"),
            generator=ApparentPower.parse("573.08 VA"),
            generator_dip=0.06,
        )
    )
    assert assessed.supply.dip == pytest.approx(6, rel=CLOSE)
    assert assess(rig((circuit("P1"),), amplifier("A1", "P1"))).supply.dip is None


@pytest.mark.parametrize(
    ("rating", "words"), [("1400 VA", "leave "), ("1200 VA", "at least"), ("500 VA", "at least")]
)
def test_past_the_rating_the_dip_is_not_known_and_the_low_voltage_is_told_still(rating, words):
    """1374 VA driven hard. With the feed's 6.22 % the 5 % at the rating are over the 10 % of IEC 60038, from memory."""
    long = (circuit("P1", feed=("150 m", "2.5 mm2")),)
    assessed = assess(rig(long, amplifier("A1", "P1"), generator=ApparentPower.parse(rating)))
    assert words in one(assessed, "supply-voltage-low").message
    assert (assessed.supply.dip_heavy is None) == (rating != "1400 VA")
    assert (assessed.supply.dip is None) == (rating == "500 VA")


@pytest.mark.parametrize(("length", "told"), [("150 m", True), ("100 m", False)])
def test_dip_and_drop_together_against_the_lowest_voltage(length, told):
    """IEC 60038, ±10 %, from memory. Driven hard the feed takes 0.0415 % a metre, the generator 0.05 · 1374/1400 = 4.9 %."""
    supply = {"generator": ApparentPower.parse("1400 VA")}
    long = rig((circuit("P1", feed=(length, "2.5 mm2")),), amplifier("A1", "P1"), **supply)
    assert bool(findings(assess(long), "supply-voltage-low")) == told


# --- rules --------------------------------------------------------------------------------------------


def test_a_single_phase_supply_has_no_circuits_on_two():
    (problem,) = rules.check(rig((circuit("P1"), circuit("P2", phase="L2")), phases=1))
    assert problem.path == ("supply", "phases")
    assert not rules.check(rig((circuit("P1"), circuit("P2", phase="L2")), phases=3))


def test_a_generator_that_loses_half_its_voltage_is_a_slip():
    (problem,) = rules.check(rig((), generator_dip=0.5))
    assert problem.path == ("supply", "generator_dip")
