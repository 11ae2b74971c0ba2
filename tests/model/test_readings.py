"""Readings of the meter check: their text, and what becomes of them when their line or cabinet does."""

import math

import pytest
from hypothesis import given

from rackwright.model import edits, rules
from rackwright.model.readings import as_kept, is_date, ohms_of
from rackwright.units import QuantityError
from strategies import rigs

"""A whole rig takes long to draw."""


@pytest.mark.parametrize(
    ("typed", "ohms", "kept"),
    [("5.9", 5.9, "5.9 ohm"), ("5,9", 5.9, "5,9 ohm"), ("6.", 6, "6 ohm"), (".5", 0.5, ".5 ohm"),
     ("4R7", 4.7, "4R7"), ("120 mohm", 0.12, "120 mohm"), ("OL", math.inf, "open"), ("o", math.inf, "open")],
)  # fmt: skip
def test_what_a_meter_shows_is_read(typed: str, ohms: float, kept: str) -> None:
    assert ohms_of(typed) == pytest.approx(ohms)
    assert as_kept(typed) == kept
    assert ohms_of(kept) == pytest.approx(ohms)


@pytest.mark.parametrize("typed", ["six", "5 V", "-2 ohm", "1.2.3"])
def test_what_no_meter_shows_is_refused(typed: str) -> None:
    with pytest.raises(QuantityError, match="Write the meter's figure"):
        ohms_of(typed)


def test_a_date_has_one_form() -> None:
    assert is_date("2026-05-01 14:30:05")
    assert is_date("2026-05-01 14:30")
    assert is_date("2026-05-01")
    assert not is_date("1.5.2026")
    assert not is_date("2026-5-1")


@given(rigs(cabinets=3))
def test_readings_follow_their_line_and_go_with_it(rig) -> None:
    for line in rig.lines:
        renamed = edits.change(rig, line.id, id="other")
        assert [r.line == "other" for r in renamed.readings] == [r.line == line.id for r in rig.readings]
        left = edits.remove(rig, line.id)
        assert left.readings == tuple(r for r in rig.readings if r.line != line.id)


@given(rigs(cabinets=3))
def test_no_reading_dangles_once_a_cabinet_is_gone(rig) -> None:
    for cabinet in rig.cabinets:
        without = edits.remove(rig, cabinet.id, with_dependents=True)
        assert rules.check(without) == ()
        assert all(cabinet.id not in reading.heard_from for reading in without.readings)
