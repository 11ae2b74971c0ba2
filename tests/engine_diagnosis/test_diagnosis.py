"""The diagnosis: every fault made in a rig and asked back, what answers say, in which order causes stand, what is refused.

How often things fail, and in which ways, is common practice, no source.
"""

import random
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

import rigs
from engine_diagnosis.asking import Crew, every_fault, followed, heard
from rackwright.engine import recovery
from rackwright.engine.assess import assess
from rackwright.engine.diagnosis import (
    AnswerError,
    Table,
    advice,
    diagnose,
    grouped,
    kept,
    kept_found,
    read_answer,
    read_found,
    whichever,
)
from rackwright.engine.diagnosis.checks import METER, check_of, listen
from rackwright.engine.recovery import fail
from rackwright.model import edits
from rackwright.store.rig_file import load, save
from rackwright.units import Duration
from shipped import preset

ROOM = preset("small-room")
TABLE = Table(ROOM)


def asked(*heard: str, table: Table = TABLE, found: tuple[str, ...] = ()):
    answers = dict(read_answer(table, text) for text in heard)
    return diagnose(table, answers, {c.id: o for text in found for c, o in (read_found(table, text),)})


def names(told) -> list[str]:
    return [suspect.name for suspect in told.suspects]


@pytest.mark.parametrize("name", ["small-room", "faults"])
def test_the_table_holds_every_single_fault(name: str) -> None:
    rig = preset(name)
    assert {cause.name for cause in Table(rig).causes} == {*every_fault(rig)}


SHAPES = rigs.rig(
    rigs.amplifier("A1", "sub", "", mode="bridged"),
    rigs.amplifier("A2", "sub", "mid", mode="parallel", unit=3, circuit="P2"),
    rigs.amplifier("A3", "mid", "high", unit=5, circuit="P2"),
    rigs.amplifier("A4", "mid", "high", unit=7),
    rigs.socket("S1", "A1.1"),
    rigs.socket("S2", "A2.1", "-A2.2"),
    rigs.socket("S3", "A3.1", "A3.2"),
    rigs.socket("S4", "A4.1", "A4.2"),
    rigs.socket("S5", "A2.1", "A2.1"),
    rigs.line("L4", "S1", "SUB1"),
    rigs.line("L5", "S2", "SUB2"),
    rigs.line("L6", "S3", "TOP1"),
    rigs.line("L7", "TOP1", "TOP2", poles=(2, 1)),
    rigs.line("L8", "S4", "TOP3"),
    rigs.line("L9", "TOP3", "TOP4"),
    rigs.line("L10", "S5", "SUB3"),
    rigs.cabinet("SUB1", "double", "joined"),
    rigs.cabinet("SUB2", "double", "strapped"),
    rigs.cabinet("SUB3", "double", "strapped"),
    rigs.cabinet("TOP1", "top"),
    rigs.cabinet("TOP2", "top", "turned"),
    rigs.cabinet("TOP3", "top"),
    rigs.cabinet("TOP4", "top", access="flown"),
    circuits=(rigs.CIRCUIT, replace(rigs.CIRCUIT, id="P2", phase="L2")),
)
"""A bridge, a parallel pair, a section on two channels and one on two pole pairs of a channel, links, one crossed."""


@given(st.lists(st.sampled_from(sorted(every_fault(SHAPES))), max_size=2))
def test_what_a_fault_takes_along_is_what_its_assessment_says(marked: list[str]) -> None:
    """With up to two things marked failed already."""
    rig = fail(SHAPES, marked)
    before = assess(rig)
    takes = {cause.name: cause.at for cause in Table(rig, before).causes}
    for fault in sorted(takes)[len(marked) :: 3]:
        after = assess(fail(rig, [fault]), before)
        assert takes[fault] == {
            name for name, section in before.sections.items()
            if section.channel and heard(before, name) != heard(after, name)
        }, fault  # fmt: skip


@pytest.mark.parametrize("name", ["small-room", "faults", "hall"])
def test_a_fault_that_is_made_and_asked_back_is_among_the_causes(name: str) -> None:
    """Answered for every section at once; the whole of it, all presets, in benchmarks/every_fault.py."""
    rig, dice = preset(name), random.Random(name)
    table, before = Table(rig), assess(rig)
    made = sorted(every_fault(rig))[:: {"small-room": 1, "faults": 4, "hall": 24}[name]]
    for fault in made:
        answers = Crew(before, [fault], dice).answers_all()
        assert (fault,) in {suspect.names for suspect in diagnose(table, answers).suspects}, fault


@pytest.mark.parametrize("name", ["small-room", "faults", "shapes"])
def test_each_next_test_shows_what_was_predicted_until_none_helps(name: str) -> None:
    rig, dice = SHAPES if name == "shapes" else preset(name), random.Random(name)
    table, before = Table(rig), assess(rig)
    for fault in sorted(every_fault(rig))[::9]:
        crew = Crew(before, [fault], dice)
        wrong = {place: heard for place, heard in crew.answers_all().items() if heard != "plays"}
        if wrong:
            place = dice.choice(sorted(wrong))
            assert followed(table, crew, {place: wrong[place]}) == []


def test_two_faults_at_once_are_among_the_pairs_where_no_single_one_agrees() -> None:
    before, dice = assess(ROOM), random.Random(1)
    made = ["C1/1", "SUB-R1.left", "TOP-L1.high=distorted", "A2.3", "A1.2=input"]
    for two in combinations(made, 2):
        answers = Crew(before, [*two], dice).answers_all()
        told = diagnose(TABLE, answers)
        single = {suspect.names for suspect in told.suspects if len(suspect.names) == 1}
        assert told.paired is not bool(single)
        if told.paired:
            assert {*two} in [{*suspect.names} for suspect in told.suspects], two
    crew = Crew(before, ["C1/1", "A2.3"], dice)
    assert followed(TABLE, crew, crew.answers_all()) == []


def test_nothing_that_still_plays_changes_by_more_than_anyone_hears() -> None:
    """1 dB: common practice, no source. So that silence and distortion are all that the table must hold."""
    for name in ("small-room", "faults"):
        rig = preset(name)
        before = assess(rig)
        for fault in every_fault(rig):
            after = assess(fail(rig, [fault]), before)
            for section, was in before.sections.items():
                now = after.sections[section].gain
                assert was.gain is None or now is None or abs(now - was.gain) < 1, (fault, section)


def test_answers_of_several_sections_say_what_is_heard_of_them_together() -> None:
    """An open driver of two in a box: quiet as a cabinet, one of the two silent as sections."""
    assert "SUB-L1.left" in names(asked("SUB-L1=quiet"))
    assert "SUB-L1.left" in names(asked("SUB-L1.left=silent", "SUB-L1.right=plays"))
    assert "SUB-L1.left" not in names(asked("SUB-L1=silent"))
    assert "SUB-L1" in names(asked("SUB-L1=silent"))
    assert "sub" in names(asked("sub=silent"))
    assert "SUB-L1" not in names(asked("sub=silent"))
    assert "SUB-L1.left=distorted" in names(asked("sub=distorted"))


def test_a_side_that_is_dull_has_a_high_section_silent_or_quiet() -> None:
    rig = edits.change(ROOM, ["SUB-R1", "TOP-R1"], side="right")
    rig = edits.change(rig, ["SUB-L1", "TOP-L1"], side="left")
    told = names(asked("right=dull", table=Table(rig)))
    assert {"TOP-R1.high", "C4", "C4/2", "top-high"} <= {*told}
    assert not {"TOP-L1.high", "C3", "TOP-R1.low", "C4/1"} & {*told}


def test_plug_and_line_come_before_driver_before_channel_before_amplifier() -> None:
    told = names(asked("TOP-R1.high=silent"))
    order = ["C4/2", "R1-4/2", "TOP-R1.high", "A2.4", "A2", "R1"]
    assert sorted(order, key=told.index) == order


@pytest.mark.parametrize(
    ("heard", "may", "may_not"),
    [
        ("humming", {"A2.4=input", "A2.4", "A2", "top-high"}, {"C4/2", "TOP-R1.high", "P2"}),
        (
            "distorted",
            {"C4/2", "R1-4/2", "TOP-R1.high=distorted", "A2.4"},
            {"A2.4=input", "TOP-R1.high", "P2"},
        ),
        ("quiet", {"C4/2", "A2.4=input", "TOP-R1.high=distorted", "A2.4"}, {"TOP-R1.high", "A2", "P2"}),
        (
            "silent",
            {"C4/2", "A2.4=input", "TOP-R1.high", "TOP-R1.high=shorted", "P2"},
            {"TOP-R1.high=distorted"},
        ),
    ],
)
def test_what_is_heard_of_a_section_tells_which_things_may_do_that(
    heard: str, may: set[str], may_not: set[str]
) -> None:
    """Common practice, no source: a lost screen hums, a dirty contact crackles, a coil that rubs distorts, an open one is silent."""
    told = {*names(asked(f"TOP-R1.high={heard}"))}
    assert may <= told
    assert not may_not & told


def test_a_whole_circuit_comes_first_where_all_of_it_is_silent() -> None:
    told = names(asked("TOP-L1=silent", "TOP-R1=silent"))
    assert told[0] == "P2"
    assert names(asked("TOP-L1=silent"))[0] != "P2"


def test_an_amplifier_alone_on_its_circuit_stays_about_as_likely_as_the_circuit() -> None:
    """Both are silent alike, and which it is no ear can tell; of a circuit with two amplifiers one alone leaves the other playing."""
    alone = {suspect.name: suspect.share for suspect in asked("TOP-L1=silent", "TOP-R1=silent").suspects}
    assert alone["A2"] > alone["P2"] / 3
    amplifiers = (rigs.amplifier("A1", "sub"), rigs.amplifier("A2", "sub", unit=3))
    both = rigs.rig(
        *amplifiers,
        *(rigs.socket(f"S{n}", f"A{n}.1") for n in (1, 2)),
        *(rigs.line(f"L{n}", f"S{n}", f"C{n}") for n in (1, 2)),
        *(rigs.cabinet(f"C{n}", "woofer") for n in (1, 2)),
    )
    together = asked("C1=silent", "C2=silent", table=Table(both))
    assert together.suspects[0].name == "P1"
    assert together.suspects[0].share > 0.9


def test_what_is_marked_failed_explains_what_it_explains() -> None:
    table = Table(fail(ROOM, ["A2"]))
    assert asked("TOP-L1=silent", table=table).nothing_new
    told = asked("TOP-L1=silent", "SUB-L1=silent", table=table)
    assert not told.nothing_new
    assert "C1" in names(told)
    assert "A2" not in names(told)


def test_a_load_that_may_be_shorted_is_unplugged_and_never_swapped_to_a_healthy_channel() -> None:
    told = asked("TOP-R1.high=silent", "TOP-R1.low=plays", "TOP-L1=plays")
    line = TABLE.index.root_line("TOP-R1")
    assert line is not None
    assert any(
        each.startswith(f"TOP-R1 may be shorted: unplug line {line.id} at {line.source} ")
        for each in advice(TABLE, told)
    )
    assert any(each.startswith("A2 may be in protection: switch it off") for each in advice(TABLE, told))
    known: tuple[str, ...] = ("lights A2.4=protect",)
    told = asked("TOP-R1.high=silent", "TOP-R1.low=plays", "TOP-L1=plays", found=known)
    assert {*names(told)} == {"A2.4", "TOP-R1.high=shorted"}
    assert told.next_test is not None
    assert told.next_test.check.kind == "unplug"
    assert "its" not in told.next_test.check.words.split()
    assert (
        "look at the protect lights of A2.3 and A2.4; plug it in again if it stays, and turn A2.3 and A2.4 up."
        in told.next_test.check.words
    )
    assert {split.outcome: split.names for split in told.next_test.splits} == {
        "protect": ("A2.4",),
        "clear": ("TOP-R1.high=shorted",),
    }


def test_what_to_do_first_names_everything_that_it_is_to_be_done_to() -> None:
    """Somebody at the rack hears it over a radio, and has no list of the causes."""
    table = Table(preset("hall"))
    told = asked("right=dull", table=table)
    causes = [cause for suspect in told.suspects for each in suspect.suspicions for cause in each]
    lines = [
        table.index.root_line(table.index.sections[c.place].cabinet) for c in causes if c.kind == "shorted"
    ]
    assert len({*lines}) > 1
    said = " ".join(advice(table, told))
    assert all(line and f"{line.id} at {line.source}" in said for line in lines)
    assert all(c.name in said for c in causes if c.kind == "circuit")


def test_the_test_that_gains_most_bits_per_second_is_told_with_its_seconds() -> None:
    """Listening takes two mutes, 6 s as usual; the lights are looked at once listening tells nothing more."""
    told = asked("TOP-R1.high=silent")
    assert told.next_test is not None
    assert (told.next_test.check.kind, told.next_test.check.seconds) == ("listen", 6.0)
    assert sum(split.share for split in told.next_test.splits) == pytest.approx(1)
    told = asked("TOP-R1.high=silent", "TOP-R1.low=plays", "TOP-L1=plays")
    assert told.next_test is not None
    assert told.next_test.check.id == "lights A2.4"
    at_the_rack = Table(replace(ROOM, targets=replace(ROOM.targets, crew_at="R1")))
    told = asked("TOP-R1.high=silent", "TOP-R1.low=plays", "TOP-L1=plays", table=at_the_rack)
    assert told.next_test is not None
    assert told.next_test.check.seconds < 60


@pytest.mark.parametrize(
    ("place", "at", "seconds", "words"),
    [
        ("top-mid", "front of house", 6, "In a song gap mute all but top-mid."),
        ("TOP-R2", "front of house", 66, "Go to TOP-R2; in a song gap mute all but top-mid, top-high; hear TOP-R2."),
        ("TOP-R2", "R1", 66, "Go to TOP-R2; in a song gap mute all but top-mid, top-high; hear TOP-R2."),
        ("right", "R1", 6, "In a song gap mute all but its 7 feeds; hear right."),
        ("MON-1", "front of house", 66, "Go to MON-1; in a song gap mute all but mix1-low, mix1-high; hear MON-1."),
    ],
)  # fmt: skip
def test_who_can_hear_it_from_front_of_house_need_not_go_there(place, at, seconds, words) -> None:
    """The desk is always manned: one tells the sides apart there, not one top of a side from the next. Common practice, no source."""
    hall = preset("hall")
    check = listen(Table(replace(hall, targets=replace(hall.targets, crew_at=at))), place)
    assert (check.seconds, check.words) == (seconds, words)


def test_the_way_to_a_cabinet_to_measure_starts_where_the_crew_stands() -> None:
    times = replace(ROOM.targets.times, to_rack=Duration.parse("90 s"))
    for at, way in (("front of house", 90), ("R1", 60)):
        table = Table(replace(ROOM, targets=replace(ROOM.targets, crew_at=at, times=times)))
        assert check_of(table, "meter TOP-R1.high").seconds == way + 2 * 15 + METER


def test_whichever_it_is_marks_all_that_agree_and_of_one_driver_the_short() -> None:
    told = asked("TOP-R1.high=silent", "TOP-R1.low=plays", "TOP-L1=plays")
    marked = fail(ROOM, whichever(told))
    assert next(c for c in marked.cabinets if c.id == "TOP-R1").faults == {"high": "shorted"}
    assert {"C4/2", "R1-4/2", "A2.4"} <= {*whichever(told)}


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("TOP-R1.high", '"TOP-R1.high" is no answer: write what was heard behind it'),
        ("TOP-R1.hig=quiet", 'Did you mean "TOP-R1.high"?'),
        ("A1.1=silent", "A1.1 is a channel, which nobody hears"),
        ("C1/1=silent", "C1/1 is a line pair"),
        ("TOP-R1.high=loud", 'nothing is heard as "loud"'),
        ("TOP-R1.high=siletn", 'Did you mean "silent"?'),
        ("TOP-R1.high=dull", "For TOP-R1.high write one of: plays, quiet, silent, distorted, humming."),
        ("=quiet", '"=quiet" is no answer'),
    ],
)
def test_a_bad_answer_is_named_with_what_was_expected(typed: str, says: str) -> None:
    with pytest.raises(AnswerError) as error:
        read_answer(TABLE, typed)
    assert says in str(error.value)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("lights A9.1=dark", 'can\'t be tested at "A9.1". Name a channel'),
        ("lights A1.1=green", "Write one of: dark, protect, no signal, signal."),
        ("lamp A1.1=dark", "begin with one of listen, lights"),
        ("lights A1.1", "says no outcome"),
        ("swap R9=moves", "Name a socket"),
    ],
)
def test_a_bad_outcome_of_a_test_is_named_with_what_was_expected(typed: str, says: str) -> None:
    with pytest.raises(AnswerError) as error:
        read_found(TABLE, typed)
    assert says in str(error.value)


def test_a_side_with_nothing_on_it_is_said() -> None:
    bare = edits.change(ROOM, [cabinet.id for cabinet in ROOM.cabinets], side="")
    with pytest.raises(AnswerError, match="Nothing is marked as on the right"):
        read_answer(Table(bare), "right=dull")


def test_what_is_heard_stays_with_the_rig_through_the_night_and_its_file(tmp_path: Path) -> None:
    said = {"TOP-R1.high": "silent", "lights A2.4": "signal"}
    heard_of = recovery.hear(ROOM, said)
    save(heard_of, tmp_path / "rig.toml")
    assert load(tmp_path / "rig.toml").heard == said
    told = [(each.event, each.place, each.words) for each in recovery.happened(ROOM, heard_of)]
    assert told == [("heard", place, word) for place, word in said.items()]
    failed = recovery.mark(heard_of, ["A1.1"])
    plan = recovery.recover(failed).plans[0]
    taken = recovery.take(failed, ["A1.1"], plan.moves, plan.title)
    back = recovery.go_back(recovery.repair(taken, ["A1.1"]))
    assert failed.heard == taken.heard == back.heard == said
    assert not recovery.under_way(heard_of)
    assert recovery.hear(heard_of, {}) == ROOM
    assert recovery.with_ticks_of(ROOM, heard_of).heard == said
    let_go = recovery.hear(failed, {})
    assert recovery.with_ticks_of(heard_of, let_go).heard == said
    assert recovery.with_ticks_of(heard_of, ROOM).heard == {}


def test_what_the_rig_no_longer_has_is_left_out_of_what_it_holds_as_heard() -> None:
    said = {"TOP-R1.high": "silent", "TOP-R9": "silent", "lights A9.1": "dark", "lights A2.4": "signal"}
    assert kept(TABLE, said) == {"TOP-R1.high": "silent"}
    assert kept_found(TABLE, said) == {"lights A2.4": "signal"}


def test_each_cause_is_in_one_group_with_those_of_its_kind() -> None:
    told = asked("top-high=quiet")
    groups = grouped(TABLE, told)
    assert sorted(s.name for of in groups for s in of) == sorted(names(told))
    assert len(groups) < len(told.suspects)
    assert all(len({s.kinds for s in of}) == 1 for of in groups)


def test_of_three_loads_that_may_be_shorted_on_one_channel_the_third_is_unplugged_too() -> None:
    rig = rigs.rig(
        rigs.amplifier("A1", "mid", "high"),
        *(rigs.socket(f"S{n}", "A1.1", "A1.2") for n in (1, 2, 3)),
        *(rigs.line(f"L{n}", f"S{n}", f"TOP{n}") for n in (1, 2, 3)),
        *(rigs.cabinet(f"TOP{n}", "top", "straight") for n in (1, 2, 3)),
    )
    found = ("lights A1.1=protect", "unplug L1=protect", "unplug L2=protect")
    told = asked("TOP1.mid=silent", "high=plays", table=Table(rig), found=found)
    assert told.next_test is not None
    assert told.next_test.check.id == "unplug L3"
