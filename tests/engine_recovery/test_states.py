"""The states that recovery brought to the rig: spares, a muted cabinet, a circuit that has failed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

import rigs
from engine import drawn
from rackwright.engine.assess import assess
from rackwright.engine.recovery import fail
from rackwright.model import edits
from rackwright.model.diff import difference
from rackwright.model.lines import Spare
from rackwright.model.rules import check
from rackwright.store.rig_file import dumps, loads
from rackwright.units import Length

from .small import LINK, SPARE_DUO

CHAIN = rigs.rig(
    rigs.amplifier("A1", "sub", "sub"),
    rigs.socket("S1", "A1.1", "A1.2"),
    rigs.line("L1", "S1", "C1"),
    rigs.line("L2", "C1", "C2"),
    rigs.cabinet("C1", "double", "split"),
    rigs.cabinet("C2", "double", "split"),
    spares=(LINK, SPARE_DUO),
)


def told(rig, severity):
    return {(f.code, f.at) for f in assess(rig).findings if f.severity == severity}


class TestMuted:
    def test_leaves_no_load_and_no_warning(self):
        rig = edits.change(CHAIN, "C2", muted=True)
        after = assess(rig)
        assert after.channels["A1.1"].load_nominal == pytest.approx(8.0)
        assert after.sections["C2.upper"].channel is None
        assert ("cabinet-muted", "C2") in told(rig, "note")
        assert not any(at.startswith("C2") for _, at in told(rig, "warn"))

    def test_silences_what_hangs_on_its_link_and_says_so(self):
        rig = edits.change(CHAIN, "C1", muted=True)
        after = assess(rig)
        assert [s.channel for s in after.sections.values()] == [None] * 4
        assert told(rig, "warn") == set()
        message = next(f.message for f in after.findings if f.code == "cabinet-muted")
        assert message == "C1 is muted: its plug is pulled, and C2 behind it is silent too."


class TestCircuit:
    def test_takes_its_amplifiers_down_and_draws_nothing(self):
        after = assess(fail(CHAIN, ["P1"]))
        assert after.channels["A1.1"].state == "failed"
        assert after.sections["C1.upper"].channel is None
        assert after.circuits["P1"].programme_current == 0.0

    def test_is_told_once_and_not_for_each_channel(self):
        broken = fail(CHAIN, ["P1"])
        assert told(broken, "stop") == {("circuit-failed", "P1")}
        message = next(f.message for f in assess(broken).findings if f.code == "circuit-failed")
        assert message.startswith("P1 has failed: A1 has no power, and 2 cabinets are silent for it.")


@given(st.data())
def test_an_assessment_after_a_failure_is_the_same_with_and_without_the_one_before(data):
    before = data.draw(drawn.wired())
    after = before
    for cabinet in before.cabinets:
        if data.draw(st.booleans()):
            after = edits.change(after, cabinet.id, muted=True)
    if data.draw(st.booleans()):
        after = fail(after, [data.draw(st.sampled_from([c.id for c in before.circuits]))])
    warm, cold = assess(after, assess(before)), assess(after)
    assert warm.sections == cold.sections
    assert warm.circuits == cold.circuits
    assert set(warm.findings) == set(cold.findings)


class TestSpares:
    def test_are_saved_and_read_as_typed(self):
        text = dumps(CHAIN)
        assert '[[spares]]\ncable = "4x2.5"\nlength = "5 m"\n' in text
        assert '[[spares]]\namplifier = "duo"\n' in text
        assert loads(text) == CHAIN

    def test_bring_the_equipment_they_name_with_them(self):
        bare = replace(CHAIN, equipment=replace(CHAIN.equipment, amplifiers=CHAIN.equipment.amplifiers[:1]))
        named = replace(bare, spares=(Spare(amplifier="quad"),))
        rig = loads(dumps(named), library=rigs.EQUIPMENT)
        assert "quad" in {model.id for model in rig.equipment.amplifiers}

    def test_a_change_of_their_count_is_told(self):
        after = edits.change_settings(CHAIN, spares=(replace(LINK, count=0), SPARE_DUO))
        assert [str(change) for change in difference(CHAIN, after)] == ["4x2.5 5 m quantity: 1 → 0"]

    @pytest.mark.parametrize(
        ("spare", "words"),
        [
            (Spare(), "A spare is a cable or an amplifier"),
            (Spare(cable="4x2.5", amplifier="duo"), "A spare is a cable or an amplifier"),
            (Spare(cable="none", length=Length.parse("5 m")), 'There is no cable "none"'),
            (Spare(amplifier="none"), 'There is no amplifier model "none"'),
            (Spare(cable="4x2.5"), "The spare 4x2.5 has no length"),
            (
                Spare(amplifier="duo", length=Length.parse("5 m")),
                "The spare duo is an amplifier and has a length",
            ),
            (replace(LINK, count=-1), "Count -1 is outside 0 to 999"),
        ],
    )
    def test_that_break_a_rule_are_told(self, spare, words):
        problems = check(replace(CHAIN, spares=(spare,)))
        assert [problem.wrong for problem in problems] == [words]
        assert problems[0].path[:2] == ("spares", 0)

    def test_listed_twice_are_told(self):
        (problem,) = check(replace(CHAIN, spares=(LINK, LINK)))
        assert problem.wrong == "The spare 4x2.5 5 m is listed twice"
