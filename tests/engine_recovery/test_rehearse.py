"""Every failure in turn."""

import pytest
from msgspec.structs import replace

import rigs
from rackwright.engine.recovery import advised, recover, stages
from rackwright.model.mains import Board

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


def parted(rig):
    """The rig with a rack for each amplifier, in which its sockets are as well."""
    (rack,) = rig.racks
    each = len(rack.sockets) // len(rack.amplifiers)
    racks = (
        replace(
            rack, id=f"R{i + 1}", amplifiers=(amplifier,), sockets=rack.sockets[i * each : (i + 1) * each]
        )
        for i, amplifier in enumerate(rack.amplifiers)
    )
    return replace(rig, racks=tuple(racks))


RIG = parted(ONE_RACK)
"""Two racks on one circuit. A woofer can share a channel on the other; nothing in reach plays what the top plays."""


@pytest.fixture(scope="module")
def told():
    return [*stages(RIG)]


@pytest.fixture
def found(told):
    return told[-1]


def rehearsed(rig, proof=True):
    return [*stages(rig, proof=proof)][-1]


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
    costs = [(f.best.silence, f.best.level, round(f.plan.seconds)) for f in found.failures]
    assert costs == sorted(costs, reverse=True)
    assert {failure.name for failure in found.failures[:3]} == {"P1", "A1+P1", "A2+P1"}


def test_tells_which_failure_silences_a_cabinet_of_priority_1_for_good(found):
    assert set(found.for_good) == {"TOP"}
    alone = {"A2", "A2.1", "A2.2", "P1", "R2", "L2", "mid", "high"}
    assert set(found.for_good["TOP"]) == {*alone, "A1+P1", "A2+P1"}


def test_each_is_as_good_as_recover_says(found):
    for failure in found.failures:
        best = recover(RIG, failure.names).best
        assert (failure.plan.moves, failure.best) == (best.moves, best.criteria)


def test_a_channel_in_the_rack_helps_where_one_channel_fails_and_an_amplifier_where_all_do(found):
    helps = {(each.kind, each.rack): set(each.helps) for each in found.helps}
    assert helps["channel", "R2"] == {"A2.1", "A2.2", "A2", "P1", "A1+P1", "A2+P1"}
    assert helps["channel", "R1"] == {"A1", "P1", "A1+P1", "A2+P1"}
    assert helps["amplifier", ""] == {"A1", "A2"}
    assert all(each.kind != "cable" for each in found.helps), "nothing else plays what the top plays"


def test_a_spare_in_stock_is_used(found):
    stocked = rehearsed(replace(RIG, spares=(LINK, type(LINK)(amplifier="duo"))))
    best = {failure.name: failure.best for failure in stocked.failures}
    assert best["A2"].full
    assert next(f.best for f in found.failures if f.name == "A2").silence == 2.0


def test_the_first_plans_of_all_come_before_any_proof_and_what_helps_last(told):
    assert [each.stage for each in told] == sorted((each.stage for each in told), key=ORDER.index)
    of = [each for each in told if each.stage == "first plans"]
    assert [each.done for each in of] == list(range(1, len(of) + 1))
    assert of[-1].done == of[-1].total == len(of[-1].failures)
    assert not any(failure.proven for failure in of[-1].failures)
    assert all(failure.proven for failure in told[-1].failures)
    assert told[-1].done == told[-1].total
    assert of[0].advice == ["Looked for once the plans are proved."]
    assert told[-1].advice[0] == advised(told[-1].helps[0])


ORDER = ("first plans", "proof", "what would help")

SIDED = parted(
    rigs.rig(
        *(rigs.amplifier(f"A{n}", "mid", "high", unit=2 * n) for n in (1, 2)),
        *(rigs.socket(f"S{n}{k}", f"A{n}.1", f"A{n}.2") for n in (1, 2) for k in "ab"),
        *(rigs.line(f"L{n}{k}", f"S{n}{k}", f"TOP{n}{k}") for n in (1, 2) for k in "ab"),
        *(
            replace(rigs.cabinet(f"TOP{n}{k}", "top", "straight"), side=("left", "right")[n - 1])
            for n in (1, 2)
            for k in "ab"
        ),
    )
)
"""One rack drives the left side, one the right."""


def test_plugs_exchanged_so_that_no_rack_drives_a_side_alone_are_advised():
    best = next(each for each in rehearsed(SIDED).helps if each.kind == "plugs")
    assert best.exchanged == (("S1b", "S2b"),)
    assert {*best.helps} == {"A1", "A2", "R1", "R2"}
    assert best.silent == 0.0
    assert best.balance == 4 * 20.0, "a silent side counts as 20 dB down, common practice, no source"
    assert advised(best).startswith("Exchange the plugs at S1b with S2b, if the cables reach: 4 failures")


def test_the_channels_of_one_connector_fail_together():
    rig = rigs.rig(
        rigs.amplifier("A1", "mid", "mid"),
        rigs.amplifier("A2", "high", "high"),
        *(rigs.socket(f"S{n}", f"A1.{n}", f"A2.{n}") for n in (1, 2)),
        *(rigs.line(f"L{n}", f"S{n}", f"TOP{n}") for n in (1, 2)),
        *(rigs.cabinet(f"TOP{n}", "top", "straight") for n in (1, 2)),
    )
    (connector,) = (
        failure for failure in rehearsed(rig, proof=False).failures if failure.kind == "connector"
    )
    assert connector.names == ("A1.1", "A2.1")
    assert connector.like == ("A1.2+A2.2",)


def test_a_board_takes_along_what_hangs_below_it():
    """P1 feeds both racks, from SUB behind MAIN: each of the two is as bad as the circuit, and there is no other."""
    boards = (Board(id="MAIN"), Board(id="SUB", source="MAIN"), Board(id="EMPTY"))
    rig = replace(RIG, boards=boards, circuits=tuple(replace(c, board="SUB") for c in RIG.circuits))
    failures = {name: f for f in rehearsed(rig, proof=False).failures for name in (f.name, *f.like)}
    assert {name for name, f in failures.items() if f.kind == "board"} == {"MAIN", "SUB"}
    assert set(failures["MAIN"].lost) == set(failures["SUB"].lost) == set(failures["P1"].lost)
    assert failures["SUB"].best == failures["P1"].best
