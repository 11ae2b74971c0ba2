"""`venue`: a hall's facts written, another rig brought there."""

import json
from datetime import datetime
from pathlib import Path

from msgspec.structs import replace

from rackwright.engine.recovery import fail, failed, repaired
from rackwright.model.rig import Venue
from rackwright.store import nights
from rackwright.store.presets import find
from rackwright.store.rig_file import load
from rackwright.store.venues import folder

from .conftest import Run


def test_a_rig_split_and_joined_is_as_it_was(run: Run) -> None:
    run("presets", "copy", "hall", "hall.toml")
    assert run("venue", "save", "hall.toml", "--out", "here.toml", "--name", "A hall").status == 0
    assert '[venue]\nname = "A hall"' in Path("here.toml").read_text()
    assert run("venue", "apply", "hall.toml", "here.toml", "--out", "show.toml").status == 0
    assert load("show.toml") == replace(load("hall.toml"), venue=Venue(name="A hall"))


def test_another_rig_at_a_kept_venue_is_told_what_has_no_match(run: Run) -> None:
    folder().mkdir(parents=True)
    assert run("venue", "save", "hall", "--out", str(folder() / "old-mill.toml")).status == 0
    told = run("venue", "apply", "small-room", "old-mill", "--out", "show.toml")
    assert told.status == 0
    words = " ".join(told.out.split())
    assert "The venue also knows lines C5, C6, C7" in words
    assert "Lines C2, C3, C4 lead to other cabinets at the venue" in words
    show, alone = load("show.toml"), find("small-room")
    assert alone is not None
    lengths = [{line.id: line.length.text for line in rig.lines} for rig in (show, load(alone.path))]
    assert lengths[0] == {**lengths[1], "C1": "10 m"}
    assert len(show.circuits) == 6


def test_a_venue_that_does_not_fit_is_refused_and_nothing_written(run: Run) -> None:
    Path("odd.toml").write_text('[[circuits]]\nid = "C1"\nbreaker = "16 A"\n')
    told = run("venue", "apply", "small-room", "odd.toml", "--out", "show.toml")
    assert told.status == 3
    assert 'The id "C1" is taken' in told.err
    assert not Path("show.toml").exists()


def test_a_venue_file_is_never_overwritten_and_a_slip_in_it_is_told(run: Run) -> None:
    Path("here.toml").write_text('[[mains]]\namplifier = "A1"\ncircuit = "P9"\n')
    assert run("venue", "save", "hall", "--out", "here.toml").status == 3
    told = run("venue", "apply", "hall", "here.toml", "--out", "show.toml")
    assert told.status == 3
    assert 'There is no circuit "P9"' in told.err


def test_the_list_tells_the_users_and_the_shipped_venues(run: Run) -> None:
    folder().mkdir(parents=True)
    out = str(folder() / "old-mill.toml")
    assert run("venue", "save", "small-room", "--out", out, "--name", "The old mill").status == 0
    told = run("venue", "list")
    assert told.status == 0
    rows = {line.split()[0]: line.split() for line in told.out.splitlines() if line[:1].strip()}
    assert rows["old-mill"][1] == "yours"
    assert rows["old-mill"][-3:] == ["2", "4", "4"]
    assert "The old mill" in told.out
    assert rows["tannery"][1] == rows["cellar"][1] == "shipped"
    assert "Invented for the demo." in " ".join(told.out.split())
    assert run("venue", "apply", "hall", "tannery", "--out", "show.toml").status == 0
    assert run("check", "show.toml").status == 0


def test_what_failed_tonight_and_the_plan_for_it_are_no_facts_of_the_venue(run: Run) -> None:
    run("presets", "copy", "hall", "hall.toml")
    assert run("recover", "hall.toml", "--failed", "P2", "--apply", "tonight.toml").status in (0, 1)
    tonight = load("tonight.toml")
    assert tonight.lists
    run("venue", "save", "tonight.toml", "--out", "tonight-here.toml")
    run("venue", "save", "hall.toml", "--out", "here.toml")
    assert Path("tonight-here.toml").read_text() == Path("here.toml").read_text()
    told = run("venue", "apply", "tonight.toml", "tannery", "--out", "there.toml")
    assert "Plans for failures and their lists are not carried over" in " ".join(told.out.split())
    run("venue", "apply", "hall.toml", "tannery", "--out", "plain.toml")
    assert load("there.toml") == load("plain.toml")


def test_an_amplifier_that_failed_is_still_failed_at_the_next_venue_and_its_plan_is_not_there(
    run: Run,
) -> None:
    run("presets", "copy", "hall", "hall.toml")
    assert run("recover", "hall.toml", "--failed", "A3", "--apply", "tonight.toml").status in (0, 1)
    run("venue", "apply", "tonight.toml", "tannery", "--out", "there.toml")
    run("venue", "apply", "hall.toml", "tannery", "--out", "plain.toml")
    there = load("there.toml")
    assert failed(there) == failed(fail(load("hall.toml"), ["A3"])) != ()
    assert repaired(there) == load("plain.toml")


def test_every_page_of_a_joined_rig_says_the_venue(run: Run) -> None:
    run("venue", "apply", "hall", "tannery", "--out", "show.toml")
    assert load("show.toml").venue.name == "Tannery"
    for words in (["check"], ["circuits"], ["meter"]):
        assert "at Tannery" in run(*words, "show.toml").out.splitlines()[0], words
    run("papers", "show.toml", "--out", "p", "--format", "txt")
    sheets = [path.read_text(encoding="utf-8") for path in Path("p").glob("*.txt")]
    assert sheets
    assert all("at Tannery" in sheet for sheet in sheets)


def test_a_command_s_old_name_is_still_read_and_the_new_one_told(run: Run) -> None:
    old, new = (
        run("venue", "split", "hall", "--out", "a.toml"),
        run("venue", "save", "hall", "--out", "b.toml"),
    )
    assert (old.status, new.err) == (0, "")
    assert "rackwright venue save: split is its old name" in old.err
    assert "rackwright meter: linetest is its old name" in run("linetest", "hall").err
    assert (
        "Write --only meter: test is its old name"
        in run("papers", "small-room", "--out", "p", "--only", "test").err
    )
    assert [each.name for each in Path("p").glob("*.pdf")] == ["meter.pdf"]


def test_what_has_other_ids_at_a_venue_is_proposed_and_matched_where_told_to(run: Run) -> None:
    run("presets", "copy", "small-room", "room.toml")
    run("venue", "save", "room.toml", "--out", "here.toml", "--name", "The old mill")
    Path("other.toml").write_text(Path("room.toml").read_text().replace('"SUB-L1"', '"S1"'))
    asked = run("venue", "apply", "other.toml", "here.toml", "--out", "show.toml").out
    assert "S1 may be SUB-L1 there: the same position." in asked
    assert not load("show.toml").cabinets[0].position
    assert (
        "S1 is SUB-L1 there"
        in run("venue", "apply", "other.toml", "here.toml", "--out", "more.toml", "--match").out
    )
    assert load("more.toml").cabinets[0].position == load("room.toml").cabinets[0].position


def test_the_nights_that_are_over_are_listed_with_their_notes(run: Run) -> None:
    assert "No night is closed here yet" in run("venue", "nights").out
    run("presets", "copy", "small-room", "room.toml")
    nights.close(load("room.toml"), Path("room.toml"), "Door 2 m wide.", datetime(2027, 5, 1, 23))
    assert "2027-05-01 Small room Small room Door 2 m wide." in " ".join(run("venue", "nights").out.split())
    assert "No night is closed here yet" in run("venue", "nights", "Elsewhere").out
    told = json.loads(run("venue", "list", "--json").out)
    assert [(each["name"], each["circuits"]) for each in told["venues"]] == [("cellar", 2), ("tannery", 6)]
    assert [(each["date"], each["notes"]) for each in told["nights"]] == [("2027-05-01", "Door 2 m wide.")]
