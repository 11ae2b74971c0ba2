"""`venue`: a hall's facts written, another rig brought there."""

from pathlib import Path

from rackwright.store.presets import find
from rackwright.store.rigfile import load
from rackwright.store.venues import folder

from .conftest import Run


def test_a_rig_split_and_joined_is_as_it_was(run: Run) -> None:
    run("presets", "copy", "hall", "hall.toml")
    assert run("venue", "split", "hall.toml", "--out", "here.toml", "--name", "A hall").status == 0
    assert 'venue = "A hall"' in Path("here.toml").read_text()
    assert run("venue", "join", "hall.toml", "here.toml", "--out", "show.toml").status == 0
    assert load("show.toml") == load("hall.toml")


def test_another_rig_at_a_kept_venue_is_told_what_has_no_match(run: Run) -> None:
    folder().mkdir(parents=True)
    assert run("venue", "split", "hall", "--out", str(folder() / "old-mill.toml")).status == 0
    told = run("venue", "join", "small-room", "old-mill", "--out", "show.toml")
    assert told.status == 0
    words = " ".join(told.out.split())
    assert "The venue also knows lines L5, L6, L7" in words
    assert "Lines L2, L3, L4 lead to other cabinets at the venue" in words
    show, alone = load("show.toml"), find("small-room")
    assert alone is not None
    lengths = [{line.id: line.length.text for line in rig.lines} for rig in (show, load(alone.path))]
    assert lengths[0] == {**lengths[1], "L1": "10 m"}
    assert len(show.circuits) == 6


def test_a_venue_that_does_not_fit_is_refused_and_nothing_written(run: Run) -> None:
    Path("odd.toml").write_text('[[circuits]]\nid = "L1"\nbreaker = "16 A"\n')
    told = run("venue", "join", "small-room", "odd.toml", "--out", "show.toml")
    assert told.status == 3
    assert 'The id "L1" is taken' in told.err
    assert not Path("show.toml").exists()


def test_a_venue_file_is_never_overwritten_and_a_slip_in_it_is_told(run: Run) -> None:
    Path("here.toml").write_text('[[hookups]]\namplifier = "A1"\ncircuit = "P9"\n')
    assert run("venue", "split", "hall", "--out", "here.toml").status == 3
    told = run("venue", "join", "hall", "here.toml", "--out", "show.toml")
    assert told.status == 3
    assert 'There is no circuit "P9"' in told.err


def test_the_list_tells_the_users_and_the_shipped_venues(run: Run) -> None:
    folder().mkdir(parents=True)
    out = str(folder() / "old-mill.toml")
    assert run("venue", "split", "small-room", "--out", out, "--name", "The old mill").status == 0
    told = run("venue", "list")
    assert told.status == 0
    rows = {line.split()[0]: line.split() for line in told.out.splitlines() if line[:1].strip()}
    assert rows["old-mill"][1] == "yours"
    assert rows["old-mill"][-3:] == ["2", "4", "4"]
    assert "The old mill" in told.out
    assert rows["tannery"][1] == rows["cellar"][1] == "shipped"
    assert "Invented for the demo." in " ".join(told.out.split())
    assert run("venue", "join", "hall", "tannery", "--out", "show.toml").status == 0
    assert run("check", "show.toml").status == 0
