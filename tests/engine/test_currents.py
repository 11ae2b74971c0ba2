"""The current through terminals, cables and connectors, and the rms limiters that hold it under their ratings."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.finding import Finding
from rackwright.engine.recovery import criteria
from rackwright.model.rig import Rig
from rackwright.units import Current, Trim
from rigs import changed

from .test_findings import AMPS_6, ONE, limited

WEAK = changed(ONE, "four", max_current=AMPS_6)
"""ONE with connectors of 6.5 A: 11.5 A at full power, 6.63 A of it lasting when driven hard."""


def found(rig: Rig) -> Finding | None:
    (finding,) = [f for f in assess(rig).findings if f.code == "current-over-rating"] or [None]
    return finding


def severity(rig: Rig) -> str:
    finding = found(rig)
    return finding.severity if finding else ""


def trimmed(rig: Rig, typed: str) -> Rig:
    first, second = rig.racks[0].amplifiers[0].channels
    return changed(rig, "A1", channels=(replace(first, trim=Trim.parse(typed)), second))


@given(volts=st.floats(5.0, 200.0), rating=st.floats(1.0, 20.0), trim=st.floats(-20.0, 0.0))
def test_an_rms_limiter_takes_from_what_is_told_all_that_it_holds_and_no_more(
    volts: float, rating: float, trim: float
) -> None:
    """By Ohm's law: the voltage that the limiter lets through over the load that the terminals see."""
    level = (
        20 * math.log10(volts / 0.7746) - 32 - trim
    )  # ITU-R V.574, from memory; the amplifier's gain is 32 dB
    rig = trimmed(changed(ONE, "four", max_current=Current.parse(f"{rating!r} A")), f"{trim!r} dB")
    unlimited, told = severity(rig), severity(limited(rig, rms=f"{level!r} dBu"))
    channel = assess(rig).channels["A1.1"]
    assert channel.voltage
    assert channel.load_terminal
    held = min(volts, channel.voltage) / channel.load_terminal <= rating
    assert told == ("note" if unlimited and held else unlimited)


def test_it_returns_with_the_limiter_gone_or_the_trim_turned_up() -> None:
    """0.7746 V · 10^((10 + 32 − 6)/20) = 48.9 V, 5.98 A into 8.1676 Ω; without the trim twice that."""
    held = limited(trimmed(WEAK, "-6 dB"), rms="10 dBu")
    assert severity(held) == "note"
    assert severity(trimmed(held, "0 dB")) == "stop"
    assert severity(changed(held, "sub", limiter_rms=None)) == "stop"


def test_volts_of_which_it_is_not_said_where_hold_for_the_lowest_gain() -> None:
    """50 V set for a channel trimmed by 6 dB are 99.8 V at the one that is not."""
    both = changed(WEAK, "S1", poles=("A1.1", "A1.2"))
    first, second = both.racks[0].amplifiers[0].channels
    quieter = changed(both, "A1", channels=(first, replace(second, feed="sub", trim=Trim.parse("-6 dB"))))
    pair = changed(quieter, "C1", model="double", wiring="split")
    told = {f.message: f.severity for f in assess(limited(pair, rms="50 V")).findings if f.at == "L1"}
    assert sorted(told.values()) == ["note", "stop"]
    named = changed(limited(pair, rms="50 V"), "sub", limiter_at="A1.1")
    assert {f.severity for f in assess(named).findings if f.at == "L1"} == {"note"}


def test_an_advised_limiter_that_holds_it_is_advised_and_changes_nothing_until_it_is_set() -> None:
    """√(800 W·8 Ω) = 80 V: 9.79 A into 8.1676 Ω."""
    rig = changed(ONE, "four", max_current=Current.parse("10 A"))
    finding = found(rig)
    assert finding
    assert finding.severity == "warn"
    assert finding.advice.startswith("Set the rms limiter of sub to 80 V or less, which holds it at 9.79 A.")
    assert severity(limited(rig, rms="80 V")) == "note"
    weaker = found(WEAK)
    assert weaker
    assert "limiter" not in weaker.advice


def test_a_plan_that_leaves_the_limiter_behind_makes_a_stop() -> None:
    """What holds the current moves with feed and trim, and so does the stop that no plan may make."""
    held = assess(limited(trimmed(WEAK, "-6 dB"), rms="10 dBu"))
    turned_up: Assessed = assess(trimmed(held.index.rig, "0 dB"))
    assert [f.at for f in criteria.new_stops(held, turned_up)] == ["L1"]
    assert not [*criteria.new_stops(held, held)]


@pytest.mark.parametrize("kind", ["rms", "peak"])
def test_a_limiter_over_full_power_is_none(kind: str) -> None:
    assert severity(limited(WEAK, **{kind: "200 V"})) == "stop"
