"""The mains tree as a value: what a file may say of it, what it means where it says nothing, and what edits do to it."""

import pytest

from rackwright.model import edits
from rackwright.model.index import Index
from rackwright.model.mains import Board, Circuit, Load
from rackwright.model.rig import Rig
from rackwright.store.rig_file import RigFileError, dumps, loads
from rackwright.units import Current

TREE = """
format = 2
name = "trial"
wet = true

[supply]
phases = 3
rating = "63 A"
source_impedance = "0.35 ohm"

[[boards]]
id = "D1"
rating = "32 A"
rcd = "30 mA"
supply_cable = { length = "25 m", size = "6 mm2", class = "60 degC", laid = "drum", layers = 2 }

[[boards]]
id = "D2"
from = "D1"
rating = "16 A"
phase = "L2"

[[circuits]]
id = "P1"
board = "D2"
phase = "L2"
breaker = "16 A"
measured = { current = "7.2 A", when = "2026-05-01 21:00" }

[[circuits]]
id = "P2"
board = "D1"
phase = "L1-L3"
breaker = "16 A"

[[loads]]
id = "LIGHTS"
circuit = "P2"
power = "1.2 kW"
leakage = "3 mA"
"""


def test_what_a_file_says_of_the_mains_is_what_is_saved() -> None:
    rig = loads(TREE)
    assert loads(dumps(rig)) == rig
    saved = dumps(rig)
    for line in filter(None, TREE.splitlines()):
        assert line in saved, line


@pytest.mark.parametrize(
    ("old", "new", "where", "words"),
    [
        ('from = "D1"', 'from = "D9"', 'board "D2" › from', 'There is no board "D9"'),
        ('id = "D1"', 'id = "D1"\nfrom = "D2"', 'board "D1" › from', "D1 is fed from itself: D1, D2, D1."),
        ('board = "D2"', 'board = "D7"', 'circuit "P1" › board', 'There is no board "D7"'),
        ('board = "D2"\nphase = "L2"', 'board = "D2"\nphase = "L3"', 'circuit "P1" › phase', "P1 is on L3, and D2, which feeds it, has L2."),
        ("phases = 3", "phases = 2", 'circuit "P2" › phase', "P2 is on L3, and D1, which feeds it, has L1 and L2."),
        ('circuit = "P2"', 'circuit = "P3"', 'load "LIGHTS" › circuit', 'There is no circuit "P3"'),
        ('power = "1.2 kW"', "", 'load "LIGHTS"', "has neither power nor current"),
        ('power = "1.2 kW"', 'power = "1.2 kW"\ncurrent = "6 A"', 'load "LIGHTS"', "has both power and current"),
        ('rcd = "30 mA"', 'rcd = "30 A"', 'board "D1" › rcd', '"30 A" is above 10 A'),
        ('laid = "drum"', 'laid = "clipped"', 'board "D1" › supply_cable › layers', 'Write laid = "drum" too'),
        ("21:00", "9 pm", 'circuit "P1" › measured › when', "is not a date and time"),
        ('id = "LIGHTS"', 'id = "D1"', 'load "D1" › id', 'The id "D1" is taken by a board already'),
    ],
)  # fmt: skip
def test_what_is_wrong_with_the_mains_is_told_with_its_place(
    old: str, new: str, where: str, words: str
) -> None:
    assert old in TREE
    with pytest.raises(RigFileError) as raised:
        loads(TREE.replace(old, new, 1))
    message = str(raised.value)
    assert where in message
    assert words in message


def test_a_board_has_the_phases_of_what_feeds_it_where_it_names_none() -> None:
    index = Index(loads(TREE))
    assert index.phases_at(index.boards["D1"]) == ("L1", "L2", "L3")
    assert index.phases_at(index.boards["D2"]) == ("L2",)
    assert [board.id for board in index.boards_above(index.circuits["P1"])] == ["D2", "D1"]


def test_a_board_that_is_renamed_or_removed_takes_along_what_refers_to_it() -> None:
    rig = loads(TREE)
    renamed = edits.change(rig, "D1", id="MAIN")
    assert (renamed.boards[1].source, renamed.circuits[1].board) == ("MAIN", "MAIN")
    assert [dependent.id for dependent in edits.dependents(rig, "D2")] == ["P1"]
    removed = edits.remove(rig, "D2", with_dependents=True)
    assert removed.circuits[0].board == "D1"
    assert edits.remove(rig, "P2", with_dependents=True).loads[0].circuit == ""


def test_a_rig_that_names_none_of_this_writes_none_of_it() -> None:
    """A circuit of the first version means what it meant, the cable under its former key too."""
    old = 'format = 1\nname = "trial"\n[[circuits]]\nid = "P1"\nbreaker = "16 A"\nfeed = { length = "30 m", size = "2.5 mm2" }\n'
    rig = loads(old)
    assert rig.circuits[0].supply_cable is not None
    new = old.replace("format = 1", "format = 2").replace("feed", "supply_cable")
    assert [*filter(None, dumps(rig).splitlines())] == new.splitlines()


def test_a_load_and_a_board_are_things_like_others() -> None:
    rig = edits.add(Rig(name="trial"), Board(id="D1"))
    rig = edits.add(rig, Circuit(id="P1", board="D1", breaker=Current.parse("16 A")))
    rig = edits.add(rig, Load(id="URN", circuit="P1", current=Current.parse("9 A")))
    assert [load.id for load in edits.duplicate(rig, "URN").loads] == ["URN", "URN2"]
    with pytest.raises(edits.EditError, match="no board"):
        edits.change(rig, "P1", board="D3")
