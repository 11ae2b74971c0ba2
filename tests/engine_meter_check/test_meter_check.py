"""The meter check: every fault simulated by an independent circuit is among those listed, and none is hidden."""

import math
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from msgspec.structs import replace

from engine_meter_check.meter import PER_METRE, Amiss, shown
from rackwright.engine import meter_check
from rackwright.engine.meter_check import LIKELIEST, Judgement, checked, judge, pair_tests, progress
from rackwright.model import edits
from rackwright.model.index import Index
from rackwright.model.rig import Reading, Rig
from rackwright.store.rig_file import load, loads
from rackwright.units import Length, Resistance

SPREAD = 0.07
METER = (0.01, 0.1)
"""The tolerances of physics.md 8: common practice, no source."""

EQUIPMENT = """
[[equipment.connectors]]
id = "plug"
pole_pairs = 2
contact_resistance = "2 mohm"
max_current = "30 A"
shrouded = true
"""


@st.composite
def benches(draw) -> Rig:
    """A rack socket, one line of one or two pole pairs, one to four cabinets in a chain."""
    cores = draw(st.sampled_from([2, 4]))
    count = draw(st.integers(1, 4))
    dc = [draw(st.sampled_from([3.0, 5.4, 6.4, 11.5])) for _ in range(3)]
    size = draw(st.sampled_from(sorted(PER_METRE)))
    wiring = draw(
        st.sampled_from(['[["low", "also"], ["high"]]', '[["low"], ["high"]]', '[["low"], ["also"]]'])
    )
    lengths = [draw(st.sampled_from([2, 5, 10, 20, 50])) for _ in range(count)]
    sections = "".join(
        f'[[equipment.loudspeakers.sections]]\nid = "{name}"\nkind = "{"high" if name == "high" else "low"}"\nnominal = "8 ohm"\n'
        f'dc_resistance = "{ohms} ohm"\ncontinuous = "100 W"\nlowest = "50 Hz"\n'
        for name, ohms in zip(("low", "also", "high"), dc, strict=True)
    )
    lines = "".join(
        f'[[lines]]\nid = "L{n}"\nfrom = "{f"C{n - 1}" if n > 1 else "S1"}"\nto = "C{n}"\ncable = "flex"\n'
        f'length = "{length} m"\n'
        for n, length in enumerate(lengths, start=1)
    )
    cabinets = "".join(f'[[cabinets]]\nid = "C{n + 1}"\nmodel = "box"\nwiring = "w"\n' for n in range(count))
    text = (
        'format = 1\nname = "bench"\n'
        f'[supply]\nambient = "{draw(st.sampled_from([20, 35]))} degC"\n'
        '[[racks]]\nid = "R1"\nheight = 4\n[[racks.sockets]]\nid = "S1"\nconnector = "plug"\n'
        f"{lines}{cabinets}{EQUIPMENT}"
        f'[[equipment.cables]]\nid = "flex"\ncores = {cores}\nsize = "{size}"\nmax_current = "20 A"\n'
        f'[[equipment.loudspeakers]]\nid = "box"\nconnector = "plug"\n{sections}'
        f"[equipment.loudspeakers.wirings]\nw = {wiring}\n"
    )
    return loads(text)


def drivers_on(rig: Rig, pair: int) -> list[tuple[str, str]]:
    wiring = rig.equipment.loudspeakers[0].wirings["w"]
    return [(cabinet.id, name) for cabinet in rig.cabinets for name in wiring[pair - 1]]


def measured(draw, rig: Rig, pair: int, amiss: Amiss) -> float:
    """What the meter shows, drivers and meter each anywhere within their tolerance."""
    names = ("low", "also", "high")
    boxes = [cabinet.id for cabinet in rig.cabinets]
    factor = st.floats(1 - SPREAD, 1 + SPREAD)
    spread = {(box, name): draw(factor) for box in (*boxes, *(f"{b} extra" for b in boxes)) for name in names}
    true = shown(rig, "L1", pair, amiss, spread)
    if math.isinf(true):
        return true
    # of the reading, as a meter's data sheet states it, so that reading·(1 ± 1 %) ± 0.1 Ω holds the true value
    sign = draw(st.floats(-0.99, 0.99))
    return max(0.0, (true + sign * METER[1]) / (1 - sign * METER[0]))


def judged(rig: Rig, pair: int, ohms: float) -> Judgement:
    index = Index(rig)
    test = next(test for test in pair_tests(index) if test.id == f"L1/{pair}")
    return judge(index, test, ohms)


def kinds(judgement: Judgement) -> list[str]:
    return [explanation.kind for explanation in judgement.explanations]


def pairs_of(rig: Rig) -> int:
    return rig.equipment.cables[0].cores // 2


def faults(draw, rig: Rig, pair: int) -> tuple[str, Amiss]:
    """One of physics.md 8's faults that this line can have, with what it is listed as."""
    chain = [line.id for line in rig.lines[1:]]
    can = [
        ("as expected", Amiss()), ("open", Amiss(broken=True)), ("near short", Amiss(near_short=True)),
        ("far short", Amiss(far_short=True)),
        *(("short along it", Amiss(crushed_at=share)) for share in (0.1, 0.5, 0.9)),
    ]  # fmt: skip
    can += [("cabinets", Amiss(unplugged=link)) for link in chain]
    can += [("cabinets", Amiss(extra_on=cabinet.id)) for cabinet in rig.cabinets]
    if pairs_of(rig) == 2:
        can.append(("wrong pole pair", Amiss(exchanged=(1, 2))))
    if len(drivers_on(rig, pair)) > 1:
        can += [("driver open", Amiss(open_driver=driver)) for driver in drivers_on(rig, pair)]
    can += [("cable", Amiss(size=size)) for size in PER_METRE if size != rig.equipment.cables[0].size.text]
    can += [("cable", Amiss(length=m)) for m in (5.0, 15.0, 30.0, 50.0) if m != rig.lines[0].length.value]
    return draw(st.sampled_from(can))


class TestDiagnosis:
    @given(st.data())
    def test_the_true_fault_is_always_listed(self, data: st.DataObject) -> None:
        rig = data.draw(benches())
        pair = data.draw(st.integers(1, pairs_of(rig)))
        kind, amiss = faults(data.draw, rig, pair)
        ohms = measured(data.draw, rig, pair, amiss)
        assert kind in kinds(judged(rig, pair, ohms))

    @given(st.data())
    def test_as_expected_is_never_claimed_alone_where_a_fault_fits(self, data: st.DataObject) -> None:
        """Any fault that alone, with every driver as stated, makes a reading the meter could show for the right line."""
        rig = data.draw(benches())
        pair = data.draw(st.integers(1, pairs_of(rig)))
        ohms = measured(data.draw, rig, pair, Amiss())
        told = kinds(judged(rig, pair, ohms))
        kind, amiss = faults(data.draw, rig, pair)
        faulty = shown(rig, "L1", pair, amiss, {})
        if kind != "as expected" and abs(faulty - ohms) <= METER[0] * ohms + METER[1] * 0.999:
            assert kind in told
            assert told[0] == "as expected"
            assert len(told) > 1

    @given(st.data())
    def test_a_line_with_its_pairs_exchanged_is_never_as_expected_where_they_drive_unlike_sections(
        self, data: st.DataObject
    ) -> None:
        rig = data.draw(benches())
        wiring = rig.equipment.loudspeakers[0].wirings["w"]
        assume(pairs_of(rig) == 2 and wiring[1] == ("high",))
        for pair in (1, 2):
            ohms = measured(data.draw, rig, pair, Amiss(exchanged=(1, 2)))
            rig = edits.note_reading(rig, "L1", pair, ohms="open" if math.isinf(ohms) else f"{ohms:.9f} ohm")
        found = checked(Index(rig))
        assert {item.status for item in found if item.test.line == "L1"} <= {"wrong", "not proved"}
        for item in found:
            assert (item.status == "not proved") == bool(item.proof)

    @given(st.data())
    def test_explanations_come_in_the_stated_order(self, data: st.DataObject) -> None:
        rig = data.draw(benches())
        told = kinds(judged(rig, 1, data.draw(st.floats(0, 30))))
        assert told == [kind for kind in LIKELIEST if kind in told]

    @given(benches())
    def test_expected_is_the_independent_circuit_s(self, rig: Rig) -> None:
        for test in pair_tests(Index(rig)):
            if test.line == "L1":
                assert test.expected.likely == pytest.approx(
                    shown(rig, "L1", test.pair, Amiss(), {}), rel=1e-5
                )


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
    assert first.expected.low == pytest.approx(0.806 + 6 * 0.93)
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
    assert kinds(judge(index, test, 6.8, ["C1"])) == ["as expected", "cable"]


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
    rig = load(Path(__file__).parents[2] / "presets" / "hall.toml")
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
    rig = load(Path(__file__).parents[2] / "presets" / "hall.toml")
    when = "2026-05-01 14:30"
    rig = edits.note_reading(rig, "C10", 2, ohms=ohms, lead_resistance=Resistance.parse(leads), when=when)
    (item,) = [item for item in checked(Index(rig)) if item.reading is not None]
    assert ("resistance of the meter's leads" in item.caution) is told


def test_a_reading_of_a_pair_that_the_line_has_no_more_is_not_wrong() -> None:
    """As after a cable of fewer cores: no list shows such a pair, so nobody could find it."""
    rig = load(Path(__file__).parents[2] / "presets" / "hall.toml")
    line = rig.lines[0].id
    wrong = replace(rig, readings=(Reading(line=line, pair=1, ohms="99 ohm"),))
    gone = replace(rig, readings=(Reading(line=line, pair=9, ohms="99 ohm"),))
    assert meter_check.wrong_pairs(Index(wrong)) == (f"{line}/1",)
    assert meter_check.wrong_pairs(Index(gone)) == ()


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
