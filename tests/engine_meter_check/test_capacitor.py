"""What a meter sees of sections behind a capacitor: nothing, and the sheet says so."""

import math

import pytest
from msgspec.structs import replace

import rigs
from engine_meter_check.meter import PER_METRE
from rackwright.engine.assess import assess
from rackwright.engine.meter_check import Judgement, checked, clean, judge, pair_tests
from rackwright.engine.recovery.known_good import by_answers, since
from rackwright.model import edits
from rackwright.model.equipment import LoudspeakerModel
from rackwright.model.index import Index
from rackwright.model.night import Failure, Night
from rackwright.model.rig import Rig
from rackwright.units import Capacitance


class TestBehindACapacitor:
    """A capacitor passes no direct current: a good line reads open, and a cabinet without one is all that is seen."""

    def chain(self, *capacitors: bool) -> Rig:
        """A chain of horns of 10.8 Ω, some behind a capacitor."""
        horn = rigs.section("horn", "high", "16 ohm", "100 W", "1 kHz")
        boxes = tuple(
            LoudspeakerModel(
                id=f"box{number}",
                connector="four",
                sections=(replace(horn, capacitor=Capacitance.parse("10 uF") if fitted else None),),
                wirings={"only": (("horn",),)},
            )
            for number, fitted in enumerate(capacitors)
        )
        made = rigs.rig(
            rigs.amplifier("A1", "high"),
            rigs.socket("S1", "A1.1"),
            *(
                rigs.line(f"C{n}", f"B{n - 1}" if n else "S1", f"B{n}", "20 m" if not n else "5 m")
                for n in range(len(boxes))
            ),
            *(rigs.cabinet(f"B{n}", box.id) for n, box in enumerate(boxes)),
        )
        return replace(made, equipment=replace(made.equipment, loudspeakers=boxes))

    def expected(self, *capacitors: bool) -> Judgement:
        """Its first line, judged at an open reading."""
        index = Index(self.chain(*capacitors))
        first = next(test for test in pair_tests(index) if test.id == "C0/1")
        return judge(index, first, math.inf)

    def test_a_good_line_reads_open_and_the_sheet_says_why(self) -> None:
        found = self.expected(True)
        assert str(found.test.expected) == "open (capacitor)"
        assert found.as_expected

    def test_one_without_is_what_the_meter_sees(self) -> None:
        found = self.expected(True, False)
        copper = 2 * 25 * PER_METRE["2.5 mm2"] + 8 * 2e-3  # at 20 °C; eight contacts
        assert found.test.expected.likely == pytest.approx(copper + 10.8, abs=0.01)
        assert not found.as_expected

    @pytest.mark.parametrize("capacitors", [(True,), (True, False)])
    def test_no_reading_proves_it_until_somebody_listened(self, capacitors: tuple[bool, ...]) -> None:
        """Open or not, the meter shows the same: the line is not proved, and the finding names the listening test."""

        def codes(rig: Rig) -> list[tuple[str, str]]:
            return [(f.code, f.at) for f in assess(rig).findings if f.code.startswith("line-")]

        rig = self.chain(*capacitors)
        shows = "open" if all(capacitors) else f"{pair_tests(Index(rig))[0].expected.likely:.2f} ohm"
        read = edits.note_reading(rig, "C0", 1, ohms=shows)
        item = checked(Index(read))[0]
        assert item.status == "not proved"
        assert "B0.horn behind a capacitor" in item.verdict
        assert "small battery to pole pair 1 of C0" in item.proof
        assert not clean((item,))
        assert codes(read) == [("line-not-proved", "C0/1")]
        heard = edits.note_reading(read, "C0", 1, heard="yes")
        assert clean(checked(Index(heard))[:1])
        assert codes(heard) == []

    def test_an_answer_of_the_meter_proves_only_what_it_sees(self) -> None:
        for fitted, good in ((True, ()), (False, ("C0/1",))):
            told = by_answers(assess(self.chain(fitted, False)), {"meter C0/1": "expected"})
            assert told == good

    def test_a_reading_after_a_failure_does_not_make_it_known_to_be_good(self) -> None:
        when = "2026-05-01 20:00"
        rig = edits.note_reading(self.chain(True), "C0", 1, ohms="open", when=when)
        night = (Night(failures=(Failure(what="C0", when=when),)),)
        broken = assess(replace(rig, night=night))
        assert "C0/1" not in since(broken, "C0")
        heard = edits.note_reading(rig, "C0", 1, heard="yes", when=when)
        assert "C0/1" in since(assess(replace(heard, night=night)), "C0")

    def test_a_reading_of_the_minute_before_a_failure_says_nothing_of_after_it(self) -> None:
        read = {"ohms": "open", "heard": "yes", "when": "2026-05-01 20:00:30"}
        rig = edits.note_reading(self.chain(True), "C0", 1, **read)
        for failed, good in (("20:00:10", True), ("20:00:30", True), ("20:00:40", False), ("20:00", True)):
            night = (Night(failures=(Failure(what="C0", when=f"2026-05-01 {failed}"),)),)
            assert ("C0/1" in since(assess(replace(rig, night=night)), "C0")) is good, failed
