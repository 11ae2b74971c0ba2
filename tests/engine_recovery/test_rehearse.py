"""Every failure in turn."""

import pytest
from msgspec.structs import replace

import rigs
from rackwright.engine.recovery import recover, rehearse

from .small import LINK

ONE_RACK = rigs.rig(
    rigs.amplifier("A1", "sub", "sub"),
    rigs.amplifier("A2", "mid", "high"),
    rigs.socket("S1", "A1.1", "A1.2"),
    rigs.socket("S2", "A2.1", "A2.2"),
    rigs.line("L1", "S1", "SUB"),
    rigs.line("L2", "S2", "TOP"),
    replace(rigs.cabinet("SUB", "double", "split"), priority=2),
    rigs.cabinet("TOP", "top", "straight"),
)
(RACK,) = ONE_RACK.racks
RIG = replace(
    ONE_RACK,
    racks=tuple(
        replace(RACK, id=f"R{i + 1}", amplifiers=RACK.amplifiers[i : i + 1], sockets=RACK.sockets[i : i + 1])
        for i in range(2)
    ),
)
"""Two racks on one circuit. A woofer can share a channel on the other; nothing in reach plays what the top plays."""


@pytest.fixture(scope="module")
def found():
    return rehearse(RIG)


def test_fails_everything_that_drives_something_once(found):
    assert sorted((f.kind, name) for f in found.failures for name in (f.name, *f.like)) == sorted(
        [
            ("amplifier", "A1"),
            ("amplifier", "A2"),
            ("channel", "A1.1"),
            ("channel", "A1.2"),
            ("channel", "A2.1"),
            ("channel", "A2.2"),
            ("circuit", "P1"),
            ("feed", "high"),
            ("feed", "mid"),
            ("feed", "sub"),
            ("line", "L1"),
            ("line", "L2"),
            ("pair", "A1+P1"),
            ("pair", "A2+P1"),
            ("rack", "R1"),
            ("rack", "R2"),
        ]
    )


def test_tells_the_worst_first(found):
    costs = [f.best[:5] for f in found.failures]
    assert costs == sorted(costs, reverse=True)
    assert {failure.name for failure in found.failures[:3]} == {"P1", "A1+P1", "A2+P1"}


def test_tells_which_failure_silences_a_cabinet_of_priority_1_for_good(found):
    assert set(found.for_good) == {"TOP"}
    alone = {"A2", "A2.1", "A2.2", "P1", "R2", "L2", "mid", "high"}
    assert set(found.for_good["TOP"]) == {*alone, "A1+P1", "A2+P1"}


def test_each_is_as_good_as_recover_says(found):
    for failure in found.failures:
        assert failure.plan.moves == recover(RIG, failure.names).best.moves


def test_a_channel_in_the_rack_helps_where_one_channel_fails_and_an_amplifier_where_all_do(found):
    helps = {(spare.kind, spare.rack): set(spare.helps) for spare in found.spares}
    assert helps["channel", "R2"] == {"A2.1", "A2.2", "A2", "P1", "A1+P1", "A2+P1"}
    assert helps["channel", "R1"] == {"A1", "P1", "A1+P1", "A2+P1"}
    assert helps["amplifier", ""] == {"A1", "A2"}
    assert all(spare.kind != "cable" for spare in found.spares), "nothing else plays what the top plays"


def test_a_spare_in_stock_is_used(found):
    stocked = rehearse(replace(RIG, spares=(LINK, type(LINK)(amplifier="duo"))))
    best = {failure.name: failure.best for failure in stocked.failures}
    assert best["A2"].full
    assert next(f.best for f in found.failures if f.name == "A2").silence == 2.0


def test_tells_how_far_it_is():
    told = []
    rehearse(RIG, progress=lambda done, total: told.append((done, total)))
    assert [done for done, _ in told] == list(range(1, len(told) + 1))
    assert told[-1][0] == told[-1][1]
