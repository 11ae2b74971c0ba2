"""Mains cables: what they carry, whether their breaker protects them, and whether it trips on a fault at the far end."""

from typing import Any

import pytest

from rackwright.engine.allocation import arrangement
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.mains import cable_capacity, fault_current
from rackwright.engine.mains.cable_capacity import Laying, capacity
from rackwright.model.mains import Circuit, SupplyCable
from rackwright.units import ConductorSize, Current, Length, Resistance

from .rigs import amplifier, rig


def size(text: str) -> ConductorSize:
    return ConductorSize.parse(text)


@pytest.mark.parametrize(
    ("text", "cable_class", "loaded", "lowest", "highest"),
    [
        ("1.5 mm2", "cord", 2, 16, 16),  # BS 7671 Table 4F3A
        ("2.5 mm2", "cord", 3, 20, 20),
        ("1.25 mm2", "cord", 3, 10, 10),  # no entry: that of 1 mm²
        ("2.5 mm2", "60 degC", 2, 26, 26),  # DIN VDE 0298-4 Table 11, from memory; 4F1A begins at 4 mm²
        ("6 mm2", "60 degC", 2, 39, 44),
        ("35 mm2", "60 degC", 3, 102, 135),
        ("16 mm2", "90 degC", 3, 89, 89),  # Table 4F2A
        ("6 mm2", "fixed", 3, 34, 41),  # IEC 60364-5-52, methods B2 and C
        ("4 mm2", "", 2, 30, 42),
        ("12 AWG", "", 2, 25, 26),  # 3.31 mm²: as 2.5 mm²
    ],
)
def test_a_cable_carries_what_the_tables_say(text, cable_class, loaded, lowest, highest):
    found = capacity(size(text), Laying(cable_class, "free air"), loaded, 20.0, "iec")
    assert (found.lowest, found.highest) == (lowest, highest)


@pytest.mark.parametrize(
    ("text", "cable_class", "loaded", "expected"),
    [
        ("12 AWG", "cord", 2, 25),  # NEC Table 400.5(A)(1), from memory
        ("10 AWG", "90 degC", 3, 25),
        ("2.5 mm2", "", 2, 18),  # 2.5 mm² lies between 13 and 14 AWG
        ("12 AWG", "fixed", 2, 20),  # NEC 240.4(D), from memory
        ("2 AWG", "", 2, 95),
    ],
)
def test_us_rules_have_tables_of_their_own(text, cable_class, loaded, expected):
    found = capacity(size(text), Laying(cable_class), loaded, 20.0, "us")
    assert (found.lowest, found.highest) == (expected, expected)


@pytest.mark.parametrize(
    ("laying", "air", "expected"),
    [
        (Laying("cord", "free air"), 40.0, 25 * 0.82),  # notes to BS 7671 Table 4F1A
        (Laying("cord", "free air"), 37.5, 25 * 0.865),
        (Laying("cord", "drum", layers=2), 20.0, 25 * 0.65),
        (Laying("cord", "drum"), 35.0, 25 * 0.45 * 0.91),  # layers not stated: three
        (Laying("cord", "grouped", grouped=6), 20.0, 25 * 0.57),  # IEC 60364-5-52, from memory
        (Laying("fixed", "clipped"), 50.0, 24 * 0.71),
        (Laying("", "conduit"), 20.0, 20),
        (Laying("cord", "conduit"), 20.0, 20),  # the lower of its own table and of method B2
    ],
)
def test_warm_air_and_laying_take_their_share(laying, air, expected):
    assert capacity(size("2.5 mm2"), laying, 2, air, "iec").lowest == pytest.approx(expected)


@pytest.mark.parametrize(
    ("text", "laying", "air", "missing"),
    [
        ("6 mm2", Laying("cord"), 20.0, "6 mm²"),
        ("1.5 mm2", Laying("90 degC"), 20.0, "1.5 mm²"),
        ("2.5 mm2", Laying("cord"), 56.0, "air of 56 °C"),
        ("2.5 mm2", Laying("cord", "grouped", grouped=9), 20.0, "9 cables grouped"),
        ("2.5 mm2", Laying("cord", "drum", layers=7), 20.0, "7 layers"),
    ],
)
def test_what_is_outside_the_tables_is_said_to_be(text, laying, air, missing):
    found = capacity(size(text), laying, 2, air, "iec")
    assert not found.ratings
    assert missing in found.missing


def test_the_cable_s_own_rating_goes_before_the_tables():
    assert capacity(size("6 mm2"), Laying("cord", "drum"), 2, 40.0, "iec", 50.0).lowest == 50


@pytest.mark.parametrize(
    ("text", "laying", "breaker", "current", "expected"),
    [
        ("2.5 mm2", Laying("cord"), 25, 20, "yes"),
        ("2.5 mm2", Laying("cord"), 32, 5, "no"),
        ("6 mm2", Laying("60 degC"), 40, 5, "between"),  # 39 to 44 A
        ("2.5 mm2", Laying("cord", "drum"), 16, 10, "unroll"),  # 11.25 A on the drum
        ("2.5 mm2", Laying("cord", "drum"), 16, 12, "no"),
        ("2.5 mm2", Laying("cord", "drum"), 10, 10, "yes"),
    ],
)
def test_a_breaker_protects_a_cable_that_carries_it(text, laying, breaker, current, expected):
    assert capacity(size(text), laying, 2, 20.0, "iec").protected_by(breaker, current) == expected


@pytest.mark.parametrize(
    ("breaker", "curve", "impedance"),
    [(16, "B", 2.73), (32, "B", 1.37), (16, "C", 1.37), (32, "C", 0.68), (63, "C", 0.35), (16, "D", 0.68)],
)
def test_the_largest_loop_at_which_a_breaker_is_sure_to_trip_is_the_table_s(breaker, curve, impedance):
    """BS 7671 Table 41.3: largest earth fault loop impedance for 0.4 s at 230 V, of breakers to BS EN 60898; from memory."""
    for ohms, expected in ((impedance - 0.01, None), (impedance + 0.01, "warn")):
        current = fault_current.at_far_end(230.0, ohms, ()).earth
        assert fault_current.severity(current, breaker, curve, "iec", None) == expected


@pytest.mark.parametrize(
    ("times", "rcd", "expected"),
    [
        (4.9, None, "stop"), (4.9, 0.3, "stop"), (4.9, 0.03, "warn"),
        (9.9, None, "warn"), (9.9, 0.03, "note"), (10, None, None),
    ],
)  # fmt: skip
def test_an_rcd_for_persons_makes_a_low_fault_current_less_grave(times, rcd, expected):
    """Band of curve C: IEC 60898-1, from memory."""
    assert fault_current.severity(16.0 * times, 16.0, "C", "iec", rcd) == expected
    assert fault_current.severity(16.0 * times, 16.0, "C", "us", rcd) is None


def test_a_fault_is_driven_by_what_is_left_of_the_voltage_through_the_whole_loop():
    """100 m of 2.5 mm² with an earth of 1.5 mm²: 7.98 and 13.3 Ω/km at 20 °C (IEC 60228), × 1.1572 at 60 °C (IEC 60028)."""
    way = fault_current.loop(size("2.5 mm2"), size("1.5 mm2"), 100.0, 60.0)
    found = fault_current.at_far_end(230.0, 0.35, [way])
    assert found.neutral == pytest.approx(0.95 * 230 / (0.35 + 2 * 0.798 * 1.1572), rel=1e-6)
    assert found.earth == pytest.approx(0.95 * 230 / (0.35 + (0.798 + 1.33) * 1.1572), rel=1e-6)
    assert not found.at_best
    assert fault_current.at_far_end(230.0, None, [way]).at_best


def test_conductors_count_as_warm_as_their_class_allows():
    warm = {
        each: cable_capacity.conductor_temperature(Laying(each, "free air")) for each in ("cord", "fixed", "")
    }
    assert warm == {"cord": 60.0, "fixed": 70.0, "": 90.0}


# --- in a rig -------------------------------------------------------------------------------------------


def wired(breaker: str, *ways: SupplyCable | None, source: str | None = None, **more: Any) -> Assessed:
    """Seven amplifiers of 2.49 A on P1, which is too much for 16 A; P2 and on, one for each further cable, are empty."""
    circuits = tuple(
        Circuit(id=f"P{n}", breaker=Current.parse(breaker), supply_cable=way, **more)
        for n, way in enumerate(ways, start=1)
    )
    impedance = {"source_impedance": Resistance.parse(source)} if source else {}
    return assess(rig(circuits, *(amplifier(f"A{n}", "P1") for n in range(7)), **impedance))


def way(text: str, length: str = "5 m", **more: Any) -> SupplyCable:
    return SupplyCable(length=Length.parse(length), size=size(text), **more)


def found(assessed: Assessed) -> list[tuple[str, str, str]]:
    codes = ("cable-unprotected", "cable-on-drum", "cable-capacity-unknown", "fault-current-low")
    return [(f.code, f.at, f.severity) for f in assessed.findings if f.code in codes]


@pytest.mark.parametrize(
    ("cable", "expected"),
    [
        (way("1 mm2"), []),  # as in version 1: nothing is asked of it
        (way("2.5 mm2", conductor_class="cord"), []),
        (way("1 mm2", conductor_class="cord"), [("cable-unprotected", "P1", "stop")]),  # 10 A
        (way("2.5 mm2", laid="drum"), [("cable-on-drum", "P1", "stop")]),  # 11.3 to 11.7 A, and 17.4 A flow
        (way("2.5 mm2", conductor_class="90 degC"), [("cable-capacity-unknown", "P1", "note")]),
        (way("2.5 mm2", max_current=Current.parse("13 A")), [("cable-unprotected", "P1", "stop")]),
        (way("2.5 mm2", "90 m", conductor_class="cord"), [("fault-current-low", "P1", "warn")]),  # 131 A
        (way("1.5 mm2", "90 m", conductor_class="cord"), [("fault-current-low", "P1", "stop")]),  # 78.9 A
    ],
)  # fmt: skip
def test_a_cable_whose_making_or_laying_is_stated_is_checked(cable, expected):
    """A C breaker of 16 A: sure to trip at 160 A, not at all under 80 A (IEC 60898-1, from memory)."""
    assert found(wired("16 A", cable)) == expected


def test_a_fault_current_without_the_source_is_one_at_best():
    cable = way("2.5 mm2", "90 m", conductor_class="cord")
    told = [
        next(f for f in each.findings if f.code == "fault-current-low")
        for each in (wired("16 A", cable), wired("16 A", cable, source="0.4 ohm"))
    ]
    assert ["at best" in finding.message for finding in told] == [True, False]
    assert told[1].figure < told[0].figure


@pytest.mark.parametrize("breaker", ["25 A", "32 A", "40 A"])
def test_the_cable_advised_passes_the_checks(breaker):
    before = wired(breaker, way("2.5 mm2", "40 m", laid="free air"), source="0.2 ohm")
    advised = before.cables["P1"].thicker()
    assert found(before)
    assert (
        str(advised)
        in next(
            f for f in before.findings if f.code == "cable-unprotected" or f.code == "fault-current-low"
        ).advice
    )
    assert not found(wired(breaker, way(str(advised), "40 m", laid="free air"), source="0.2 ohm"))


@pytest.mark.parametrize(("own", "made"), [("13.7 A", "13 A"), ("6.55 A", "6 A"), ("4.2 A", None)])
def test_the_breaker_advised_is_one_that_is_made(own: str, made: str | None) -> None:
    """Preferred rated currents of IEC 60898-1, from memory: 6, 8, 10, 13, 16 A."""
    cable = way("2.5 mm2", max_current=Current.parse(own))
    (finding,) = [each for each in wired("16 A", cable).findings if each.code == "cable-unprotected"]
    assert (f"have a breaker of {made} or less fitted" in finding.advice) is (made is not None)
    assert ("breaker" in finding.advice) is (made is not None)
    if made:
        assert not found(wired(made, cable))


def test_nothing_is_moved_to_where_a_cable_fails_its_checks():
    """P2 is empty and its cable carries 10 A behind 16 A; P3, as empty, has a good one."""
    bad, good = way("1 mm2", conductor_class="cord"), way("2.5 mm2", conductor_class="cord")
    one, two = wired("16 A", good, bad), wired("16 A", good, bad, good)
    for assessed, to in ((one, set()), (two, {"P3"})):
        advice = next(f.advice for f in assessed.findings if f.code == "circuit-overloaded")
        assert ("to P3" if to else "Ask for another circuit") in advice
        assert {move.to for move in arrangement.propose(assessed).moves} == to
    told = next(f for f in two.findings if f.code == "circuit-empty" and f.at == "P2")
    assert "Plug nothing into it" in told.advice


def test_an_arrangement_stays_under_what_a_drum_carries():
    """11.25 A at most on P2's drum: four amplifiers of 2.49 A, and so P1 keeps three or more."""
    drum = way("2.5 mm2", conductor_class="cord", laid="drum")
    made = arrangement.propose(wired("16 A", None, drum))
    assert made.moves
    assert made.assessment.circuits["P2"].programme_current <= 11.25
    assert ("cable-on-drum", "P2", "stop") not in found(made.assessment)
