"""The meter check: every fault simulated by an independent circuit is among those listed, and none is hidden."""

import math
from random import Random

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from msgspec.structs import replace

from engine_meter_check.generated import (
    EQUIPMENT,
    METER,
    bench,
    judged,
    kinds,
    on_the_meter,
    pairs_of,
    possible,
    study,
    within_tolerance,
)
from engine_meter_check.meter import Amiss, Nature, shown
from rackwright.engine import meter_check
from rackwright.engine.assess import assess
from rackwright.engine.meter_check import LIKELIEST, checked, judge, pair_tests, progress
from rackwright.model import edits
from rackwright.model.index import Index
from rackwright.model.readings import Reading
from rackwright.model.rig import Rig
from rackwright.store.rig_file import loads
from rackwright.units import Length, Resistance, Temperature
from shipped import preset

chances = st.randoms(use_true_random=False)


def stated(rig: Rig) -> Nature:
    """Everything as the sheet says."""
    return Nature({}, rig.supply.ambient.value)


class TestDiagnosis:
    @given(chances)
    def test_the_true_fault_is_always_listed(self, chance: Random) -> None:
        rig = bench(chance)
        pair = chance.randint(1, pairs_of(rig))
        can = possible(chance, rig, pair)
        kind = chance.choice(list(can))
        true = shown(rig, "L1", pair, chance.choice(can[kind]), within_tolerance(chance, rig))
        assert kind in kinds(judged(rig, pair, on_the_meter(chance, true)))

    @given(chances)
    def test_as_expected_is_never_claimed_alone_where_a_fault_fits(self, chance: Random) -> None:
        """Any fault that alone, with every driver as stated, makes a reading the meter could show for the right line."""
        rig = bench(chance)
        pair = chance.randint(1, pairs_of(rig))
        ohms = on_the_meter(chance, shown(rig, "L1", pair, Amiss(), within_tolerance(chance, rig)))
        told = kinds(judged(rig, pair, ohms))
        can = possible(chance, rig, pair)
        kind = chance.choice(list(can))
        faulty = shown(rig, "L1", pair, chance.choice(can[kind]), stated(rig))
        if kind != "as expected" and abs(faulty - ohms) <= METER[0] * ohms + METER[1] * 0.999:
            assert kind in told
            assert told[0] == "as expected"
            assert len(told) > 1

    @given(chances)
    def test_a_line_with_its_pairs_exchanged_is_never_as_expected_where_they_drive_unlike_sections(
        self, chance: Random
    ) -> None:
        rig = bench(chance)
        wiring = rig.equipment.loudspeakers[0].wirings["w"]
        assume(pairs_of(rig) == 2 and wiring[1] == ("high",))
        nature = within_tolerance(chance, rig)
        for pair in (1, 2):
            ohms = on_the_meter(chance, shown(rig, "L1", pair, Amiss(exchanged=(1, 2)), nature))
            rig = edits.note_reading(rig, "L1", pair, ohms="open" if math.isinf(ohms) else f"{ohms:.9f} ohm")
        found = checked(Index(rig))
        assert {item.status for item in found if item.test.line == "L1"} <= {"wrong", "not proved"}
        for item in found:
            assert (item.status == "not proved") == bool(item.proof)

    @given(chances, st.floats(0, 30))
    def test_explanations_come_in_the_stated_order(self, chance: Random, ohms: float) -> None:
        told = kinds(judged(bench(chance), 1, ohms))
        assert told == [kind for kind in LIKELIEST if kind in told]

    @given(chances, st.floats(-10, 60))
    def test_expected_is_the_independent_circuit_s(self, chance: Random, coil: float) -> None:
        rig = bench(chance)
        for test in pair_tests(Index(rig), coil):
            if test.line == "L1":
                ohms = shown(rig, "L1", test.pair, Amiss(), Nature({}, coil))
                assert test.expected.likely == pytest.approx(ohms, rel=1e-5)

    def test_many_lines_measured_as_in_life(self) -> None:
        """A part of what `benchmarks/bench_meter_check.py` asks about ten times as many."""
        found = study(600)
        assert found.share_listed >= 0.995
        assert found.median_rank == 1
        assert found.share_rejected <= 0.01
        assert found.harmless == 0


HALL = """
format = 1
name = "one line"
[[racks]]
id = "R1"
height = 4
[[racks.sockets]]
id = "S1"
connector = "plug"
[[lines]]
id = "L1"
from = "S1"
to = "C1"
cable = "flex"
length = "50 m"
[[cabinets]]
id = "C1"
model = "box"
{equipment}
[[equipment.cables]]
id = "flex"
cores = 4
size = "2.5 mm2"
max_current = "20 A"
[[equipment.loudspeakers]]
id = "box"
connector = "plug"
[[equipment.loudspeakers.sections]]
id = "low"
kind = "low"
nominal = "8 ohm"
dc_resistance = "6 ohm"
continuous = "100 W"
lowest = "50 Hz"
[equipment.loudspeakers.wirings]
w = [["low"]]
"""


@pytest.fixture
def one_line() -> Rig:
    return loads(HALL.format(equipment=EQUIPMENT))


def test_a_worked_example(one_line: Rig) -> None:
    """By hand: 2 · 50 m · 7.98 mΩ/m (IEC 60228 class 5) + 4 · 2 mΩ + 6 Ω = 6.806 Ω; the other pair has nothing on it."""
    first, second = pair_tests(Index(one_line))
    assert first.expected.likely == pytest.approx(6.806)
    assert first.expected.low == pytest.approx(0.806 * 0.95 + 6 * 0.93)
    assert first.cabinets == ("C1",)
    assert math.isinf(second.expected.likely)


def test_the_next_test_tells_a_break_in_the_line_from_one_in_the_cabinet(one_line: Rig) -> None:
    said = judged(one_line, 1, math.inf)
    assert kinds(said) == ["open", "wrong pole pair"]
    assert said.next_test is not None
    assert said.next_test.words == "Measure pole pair 2 of L1."
    assert dict(said.next_test.predictions) == {"open": "open", "wrong pole pair": "6.81 Ω"}


def test_a_short_is_near_or_far_by_the_copper_between(one_line: Rig) -> None:
    """0.806 Ω of copper: beyond the meter's ±0.1 Ω, so a near short and a far one read apart."""
    assert kinds(judged(one_line, 1, 0.0)) == ["near short", "short along it"]
    assert kinds(judged(one_line, 1, 0.4)) == ["short along it"]
    assert kinds(judged(one_line, 1, 0.8)) == ["far short", "short along it"]


def test_what_nothing_explains_is_said_to_be_so(one_line: Rig) -> None:
    said = judged(one_line, 1, 200.0)
    assert said.explanations == ()
    assert said.verdict == "no single fault fits"
    assert said.next_test is not None


def test_what_sounded_rules_faults_out(one_line: Rig) -> None:
    index = Index(one_line)
    test = pair_tests(index)[0]
    assert "wrong pole pair" in kinds(judge(index, test, math.inf))
    assert kinds(judge(index, test, 6.8, ["C1"])) == ["as expected", "bad contact", "cable"]


def test_a_line_in_another_cabinet_is_told_by_what_sounded(one_line: Rig) -> None:
    """C2 is the same as C1, so that the meter alone says nothing; its own line is not there."""
    second = replace(one_line.cabinets[0], id="C2")
    index = Index(replace(one_line, cabinets=(*one_line.cabinets, second)))
    test = pair_tests(index)[0]
    said = judge(index, test, 6.8, ["C2"])
    assert said.verdict == "wrong cabinet"
    assert said.explanations[0].words == "L1 in C2 instead of C1"
    assert kinds(judge(index, test, 0.8, ["C2"])) == []


def test_a_line_is_not_thought_into_the_cabinet_that_it_comes_from(one_line: Rig) -> None:
    """Nothing feeds C2, and yet it was heard: the link in its own cabinet would be a circle."""
    second, link = replace(one_line.cabinets[0], id="C2"), replace(one_line.lines[0], source="C2")
    index = Index(replace(one_line, cabinets=(*one_line.cabinets, second), lines=(link,)))
    assert "wrong cabinet" not in kinds(judge(index, pair_tests(index)[0], 6.8, ["C2"]))


def test_kept_readings_are_judged_with_their_leads_taken_off(one_line: Rig) -> None:
    from rackwright.model.edits import note_reading
    from rackwright.units import Resistance

    rig = note_reading(one_line, "L1", 1, ohms="7.9 ohm", lead_resistance=Resistance.parse("1.1 ohm"))
    rig = note_reading(rig, "L1", 2, ohms="0.8 ohm")
    first, second = checked(Index(rig))
    assert first.judgement is not None
    assert first.judgement.ohms == pytest.approx(6.8)
    assert first.judgement.as_expected
    assert second.judgement is not None
    assert not second.judgement.as_expected
    assert progress((first, second))[:3] == (2, 1, 2)
    assert note_reading(rig, "L1", 2, ohms="").readings == rig.readings[:1]


def test_a_muted_cabinet_s_line_reads_open(one_line: Rig) -> None:
    muted = replace(one_line, cabinets=tuple(replace(cabinet, muted=True) for cabinet in one_line.cabinets))
    assert all(math.isinf(test.expected.likely) for test in meter_check.pair_tests(Index(muted)))


def test_two_pairs_that_each_read_as_the_other_are_exchanged_before_anything_else() -> None:
    rig = preset("hall")
    by_id = {item.test.id: item.test.expected.likely for item in checked(Index(rig))}
    rig = edits.note_reading(rig, "C5", 1, ohms=f"{by_id['C5/2']:.2f} ohm", when="2026-05-01 14:30")
    alone = {item.test.id: item for item in checked(Index(rig))}
    rig = edits.note_reading(rig, "C5", 2, ohms=f"{by_id['C5/1']:.2f} ohm", when="2026-05-01 14:31")
    found = {item.test.id: item for item in checked(Index(rig))}
    for name in ("C5/1", "C5/2"):
        judgement = found[name].judgement
        assert judgement is not None
        assert judgement.explanations[0].kind == "wrong pole pair"
        assert "Don't power it" in found[name].caution
    assert alone["C5/2"].judgement is None


@pytest.mark.parametrize(
    ("ohms", "leads", "told"), [("0.2 ohm", "0 ohm", True), ("0.4 ohm", "0.2 ohm", False)]
)
def test_a_short_with_the_leads_not_taken_off_says_that_its_place_is_not_known(
    ohms: str, leads: str, told: bool
) -> None:
    rig = preset("hall")
    when = "2026-05-01 14:30"
    rig = edits.note_reading(rig, "C10", 2, ohms=ohms, lead_resistance=Resistance.parse(leads), when=when)
    (item,) = [item for item in checked(Index(rig)) if item.reading is not None]
    assert ("resistance of the meter's leads" in item.caution) is told


def test_a_reading_of_a_pair_that_the_line_has_no_more_is_not_wrong() -> None:
    """As after a cable of fewer cores: no list shows such a pair, so nobody could find it."""
    rig = preset("hall")
    line = rig.lines[0].id
    wrong = replace(rig, readings=(Reading(line=line, pair=1, ohms="99 ohm"),))
    gone = replace(rig, readings=(Reading(line=line, pair=9, ohms="99 ohm"),))
    assert [item.test.id for item in meter_check.wrong_readings(Index(wrong))] == [f"{line}/1"]
    assert meter_check.wrong_readings(Index(gone)) == ()


def test_what_a_reading_was_taken_on_goes_with_it_and_another_length_makes_it_history(one_line: Rig) -> None:
    rig = edits.note_reading(one_line, "L1", 1, ohms="6.8 ohm", polarity="yes")
    (kept,) = rig.readings
    assert (kept.model, kept.cable, kept.length) == ("box", "flex", rig.lines[0].length)
    longer = edits.change(rig, "L1", length=Length.parse("30 m"))
    item = checked(Index(longer))[0]
    assert (item.status, item.reading, item.earlier) == ("not tested", None, kept)
    again = edits.note_reading(longer, "L1", 1, ohms="6.5 ohm")
    assert [(r.ohms, r.polarity) for r in again.readings] == [("6.5 ohm", "")]
    assert checked(Index(again))[0].status == "as expected"


def test_a_rig_file_of_the_first_version_says_of_its_readings_what_they_were_taken_on(one_line: Rig) -> None:
    old = '\n[[readings]]\nline = "L1"\nohms = "6.8 ohm"\npolarity_ok = {ok}\nsounded = ["C1"]\n'
    for ok, polarity in (("true", "yes"), ("false", "")):
        (kept,) = loads(HALL.format(equipment=EQUIPMENT) + old.format(ok=ok)).readings
        assert (kept.polarity, kept.heard, kept.heard_from) == (polarity, "", ("C1",))
        assert (kept.model, kept.cable, kept.length) == ("box", "flex", one_line.lines[0].length)


def test_coils_have_the_temperature_that_is_stated_and_that_of_the_air_else(one_line: Rig) -> None:
    """Copper, 0.393 % per kelvin (IEC 60028): 6 Ω at 20 °C is 6.9432 Ω at 60 °C; cables stay in the air of 20 °C."""
    index = Index(one_line)
    assert pair_tests(index)[0].expected.likely == pytest.approx(6.806)
    assert pair_tests(index, 60.0)[0].expected.likely == pytest.approx(0.806 + 6.9432)
    rig = edits.note_reading(one_line, "L1", 1, ohms="7.75 ohm")
    assert checked(Index(rig))[0].status == "wrong"
    hot = edits.note_reading(rig, "L1", 1, coil_temperature=Temperature.parse("60 degC"))
    assert checked(Index(hot))[0].status == "as expected"


TWO_WAYS = HALL.replace("""[["low"]]""", """[["low"], ["high"]]""").replace(
    "[equipment.loudspeakers.wirings]",
    """[[equipment.loudspeakers.sections]]
id = "high"
kind = "high"
nominal = "8 ohm"
dc_resistance = "6.2 ohm"
continuous = "50 W"
lowest = "1 kHz"
[equipment.loudspeakers.wirings]""",
)


CODES = ("line-wrong", "line-not-proved", "line-drifted")


def found(rig: Rig) -> list[tuple[str, str, str]]:
    return [(f.code, f.severity, f.at) for f in assess(rig).findings if f.code in CODES]


def test_what_the_meter_check_finds_is_a_finding() -> None:
    rig = loads(TWO_WAYS.format(equipment=EQUIPMENT))
    assert found(rig) == []
    read = edits.note_reading(rig, "L1", 1, ohms="6.9 ohm")
    assert found(read) == [("line-not-proved", "warn", "L1/1")]
    assert found(edits.note_reading(read, "L1", 1, heard="yes")) == []
    assert found(edits.note_reading(read, "L1", 1, heard="yes", polarity="no")) == [
        ("line-wrong", "stop", "L1/1")
    ]
    opened = edits.note_reading(read, "L1", 1, ohms="open")
    assert found(opened) == [("line-wrong", "stop", "L1/1")]
    assert found(edits.change(opened, "L1", length=Length.parse("30 m"))) == []


def test_a_finding_is_the_same_when_taken_over_from_the_assessment_before() -> None:
    before = assess(edits.note_reading(loads(TWO_WAYS.format(equipment=EQUIPMENT)), "L1", 1, ohms="open"))
    for rig in (
        edits.change(before.index.rig, "L1", length=Length.parse("30 m")),
        edits.change(before.index.rig, "C1", position="left"),
        edits.note_reading(before.index.rig, "L1", 1, ohms="6.9 ohm"),
    ):
        assert assess(rig, before).findings == assess(rig).findings


def test_what_is_marked_failed_since_leaves_what_a_meter_should_show(one_line: Rig) -> None:
    """The meter is to find it: a driver marked open that reads as it should is not open."""
    rig = edits.note_reading(one_line, "L1", 1, ohms="6.8 ohm")
    marked = edits.change(rig, "C1", faults={"low": "open"})
    broken = edits.change(rig, "L1", failed_pairs=(1,))
    for each in (marked, broken):
        assert checked(Index(each))[0].status == "as expected"
        assert found(each) == []


def test_a_cabinet_linked_on_or_unplugged_since_makes_a_reading_history(one_line: Rig) -> None:
    second = replace(one_line.cabinets[0], id="C2")
    link = replace(one_line.lines[0], id="L2", source="C1", to="C2")
    chain = replace(one_line, cabinets=(*one_line.cabinets, second), lines=(*one_line.lines, link))
    read = edits.note_reading(chain, "L1", 1, ohms="4.2 ohm")
    assert checked(Index(read))[0].status == "as expected"
    pulled = edits.change(read, "C2", muted=True)
    assert checked(Index(pulled))[0].earlier is not None
    assert found(pulled) == []
    assert found(edits.change(read, "C2", id="OTHER")) == []
    assert checked(Index(edits.change(read, "C2", id="OTHER")))[0].status == "as expected"


def test_a_plug_that_is_pulled_since_makes_no_reading_wrong(one_line: Rig) -> None:
    """A plan that mutes a cabinet is none that adds a stop."""
    read = edits.note_reading(one_line, "L1", 1, ohms="6.8 ohm")
    muted = edits.change(read, "C1", muted=True)
    assert checked(Index(muted))[0].earlier is not None
    assert found(muted) == []
    assert checked(Index(edits.note_reading(muted, "L1", 1, ohms="open")))[0].status == "as expected"


def test_what_it_read_on_an_earlier_day_narrows_the_limits_and_shows_what_drifts(one_line: Rig) -> None:
    """By hand: 6.7 Ω ±2 % is 6.566 to 6.834, which a meter of ±(1 % + 0.1 Ω) shows as (6.566 − 0.1)/1.01 to (6.834 + 0.1)/0.99."""
    spring = edits.note_reading(one_line, "L1", 1, ohms="6.7 ohm", when="2026-05-01 14:30", heard="yes")
    slip = edits.note_reading(spring, "L1", 1, ohms="6.8 ohm", when="2026-05-01 14:31")
    assert slip.readings[0].last is None
    autumn = edits.note_reading(spring, "L1", 1, ohms="6.8 ohm", when="2026-10-01 10:00")
    (item, _) = checked(Index(autumn))
    assert item.limits == pytest.approx((6.466 / 1.01, 6.934 / 0.99))
    assert (item.status, item.drift) == ("as expected", "")
    worn = edits.note_reading(autumn, "L1", 1, ohms="7.2 ohm", when="2026-10-01 10:05")
    (item, _) = checked(Index(worn))
    assert item.status == "drifted"
    assert "0.5 Ω more than it should by the reading of 2026-05-01 14:30" in item.drift
    assert found(worn) == [("line-drifted", "warn", "L1/1")]
    hot = edits.note_reading(worn, "L1", 1, coil_temperature=Temperature.parse("45 degC"))
    assert checked(Index(hot))[0].status == "as expected"


def test_a_wrong_last_reading_narrows_nothing(one_line: Rig) -> None:
    wrong = edits.note_reading(one_line, "L1", 1, ohms="9.9 ohm", when="2026-05-01 14:30")
    now = edits.note_reading(wrong, "L1", 1, ohms="6.8 ohm", when="2026-05-02 14:30")
    assert checked(Index(now))[0].status == "as expected"


@pytest.mark.parametrize(
    ("ohms", "words"),
    [
        ("8.4 ohm", "a bad contact of 1 to 2 Ω in the plugs of L1"),
        ("12.8 ohm", "half of C1.low open, if its drivers are in parallel"),
        ("3.8 ohm", "half of C1.low shorted, if its drivers are in series"),
    ],
)
def test_the_fault_is_named_with_its_place_and_size(one_line: Rig, ohms: str, words: str) -> None:
    (item, _) = checked(Index(edits.note_reading(one_line, "L1", 1, ohms=ohms)))
    assert item.judgement is not None
    assert words in " ".join(each.words for each in item.judgement.listed)
