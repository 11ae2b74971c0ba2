"""`night`: the log printed, how the rig stands, and the night closed once nothing is open."""

from pathlib import Path

from msgspec.structs import replace

from rackwright.engine import recovery
from rackwright.store import night_log, venues
from rackwright.store.night_log import Event
from rackwright.store.rig_file import load, save
from rackwright.units import Length

from .conftest import Run


def test_the_night_is_printed_and_closed_when_all_is_returned(run: Run) -> None:
    run("presets", "copy", "hall", "hall.toml")
    night_log.append(
        night_log.path_of("hall.toml"),
        [Event(time="2026-05-01T21:40:05", by="AB", event="failed", place="A9.1")],
    )
    save(recovery.mark(load("hall.toml"), ["A9.1"]), "hall.toml")
    first = run("night", "hall.toml")
    assert "2026-05-01 21:40:05 AB failed: A9.1" in first.out
    assert "Still failed: A9.1." in first.out
    run("recover", "hall.toml", "--apply", "hall.toml")
    assert run("night", "hall.toml", "--close").status == 64
    back = recovery.go_back(recovery.repair(load("hall.toml"), ["A9.1"]))
    while back.lists:
        back = recovery.tick(back, back.lists[0].id, back.lists[0].following)
    save(back, "hall.toml")
    closed = run("night", "hall.toml", "--close")
    assert closed.status == 0
    assert not Path("hall.night.jsonl").exists()
    assert "Nothing is noted." in run("night", "hall.toml").out


def test_what_was_found_at_the_venue_is_there_the_next_time(run: Run) -> None:
    run("venue", "apply", "hall", "tannery", "--out", "show.toml")
    rig = load("show.toml")
    save(
        replace(rig, lines=(replace(rig.lines[0], length=Length.parse("18 m")), *rig.lines[1:])), "show.toml"
    )
    night_log.append(night_log.path_of("show.toml"), [Event(time="2026-05-01T21:40:05", event="heard")])
    assert run("night", "show.toml", "--close", "--note", "C1 was short.").status == 0
    run("venue", "apply", "hall", "tannery", "--out", "next.toml")
    assert load("next.toml").lines[0].length.text == "18 m"
    notes = venues.notes_of("Tannery", rig.name)
    assert notes.startswith("C1 was short.")
    assert "Nothing may hang from the old beams." in notes


def test_nothing_of_a_night_is_told_twice(run: Run) -> None:
    run("presets", "copy", "hall", "hall.toml")
    events = [
        Event(time="2026-05-01T21:40:05", event="plan", place="A9.1, A1.1", words="A9.1 and A1.1: leave it"),
        Event(time="2026-05-01T21:41:00", event="heard", place="top-high", words="dull", report="1f"),
        Event(
            time="2026-05-01T21:41:01", event="taken over", place="top-high", words="heard dull", answers="1f"
        ),
    ]
    night_log.append(night_log.path_of("hall.toml"), events)
    told = run("night", "hall.toml").out.splitlines()
    assert told[1:3] == [
        "2026-05-01 21:40:05 plan: A9.1 and A1.1: leave it",
        "2026-05-01 21:41:00 heard: top-high: dull",
    ]
    assert "taken over" not in " ".join(told)


def test_a_preset_has_no_night(run: Run) -> None:
    assert "is a preset, which has no night log" in run("night", "hall").err


def test_what_steps_really_took_is_told_and_kept(run: Run) -> None:
    run("presets", "copy", "hall", "hall.toml")
    times = ["21:40:00", "21:40:34", "21:41:10", "21:41:45"]
    events = [
        Event(time=f"2026-05-01T{time}", event="done", list="1", step=number, takes="repatch")
        for number, time in enumerate(times)
    ]
    night_log.append(night_log.path_of("hall.toml"), events)
    assert "Re-patch a pole pair: took 35 s, median of 3; planned 20 s." in run("night", "hall.toml").out
    assert run("night", "hall.toml", "--keep-times").status == 0
    assert load("hall.toml").targets.times.repatch.value == 35.0
    assert "median" not in run("night", "hall.toml").out
