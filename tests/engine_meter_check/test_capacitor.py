"""What a meter sees of sections behind a capacitor: nothing, and the sheet says so."""

import math

import pytest
from msgspec.structs import replace

import rigs
from engine_meter_check.meter import PER_METRE
from rackwright.engine.meter_check import Judgement, judge, pair_tests
from rackwright.model.equipment import LoudspeakerModel
from rackwright.model.index import Index
from rackwright.units import Capacitance


class TestBehindACapacitor:
    """A capacitor passes no direct current: a good line reads open, and a cabinet without one is all that is seen."""

    def expected(self, *capacitors: bool) -> Judgement:
        """The first line of a chain of horns of 10.8 Ω, some behind a capacitor, judged at an open reading."""
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
        index = Index(replace(made, equipment=replace(made.equipment, loudspeakers=boxes)))
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
