"""The night log: appended to beside the rig's file and on the disk before the screen shows it, whatever becomes of the rig."""

import datetime
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.console import document
from rackwright.engine import recovery
from rackwright.model.rig import Venue
from rackwright.store import night_log, nights, rig_file
from rackwright.store.home import VARIABLE
from rackwright.store.night_log import Event
from rackwright.store.safe.atomic_write import SaveError
from shipped import preset
from strategies import texts


@pytest.fixture
def hall(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "home"))
    path = tmp_path / "hall.toml"
    rig_file.save(preset("hall"), path)
    return path


def test_what_happens_is_on_the_disk_before_it_is_shown(hall: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    opened = document.opened(hall)
    session = opened.session
    session.initials = "AB"
    synced: list[int] = []
    real = os.fsync

    def noted(descriptor: int) -> None:
        assert not recovery.failed(session.rig), "shown before it was noted"
        synced.append(descriptor)
        real(descriptor)

    monkeypatch.setattr(os, "fsync", noted)
    session.apply("fail", lambda rig: recovery.mark(rig, ["A9.1"]), allowed_in_show=True)
    assert synced
    monkeypatch.setattr(os, "fsync", real)
    found = recovery.recover(session.rig)
    plan = found.best
    session.apply(
        "plan",
        lambda rig: recovery.take(rig, ("A9.1",), plan.moves, plan.title, "2026-05-01 21:40"),
        allowed_in_show=True,
    )
    session.tick(lambda rig: recovery.tick(rig, "1", 0))
    session.undo()
    opened.close()
    log = night_log.read(night_log.path_of(hall))
    assert [(event.by, event.event) for event in log] == [
        ("AB", "failed"), ("AB", "plan"), ("AB", "done"), ("AB", "list closed"),
    ]  # fmt: skip
    assert log[0].place == "A9.1"
    assert log[2].words.startswith("Turn channel")


@given(
    st.lists(
        st.builds(Event, time=texts(), by=texts(), event=texts(), place=texts(), words=texts()), max_size=4
    )
)
def test_events_are_read_as_they_were_written_and_a_torn_line_costs_only_itself(
    tmp_path_factory, events
) -> None:
    path = tmp_path_factory.mktemp("night") / "hall.night.jsonl"
    for event in events:
        night_log.append(path, [event])
    assert night_log.read(path) == tuple(events)
    with open(path, "ab") as file:
        file.write(b'{"time": "2026')
    night_log.append(path, events)
    assert night_log.read(path) == (*events, *events)


def test_closing_files_rig_and_log_with_the_venue_and_overwrites_none(hall: Path) -> None:
    rig = replace(rig_file.load(hall), venue=Venue(name="Tannery", date="2026-05-01"))
    log = night_log.path_of(hall)
    for number in (1, 2):
        night_log.append(log, [Event(time="21:40", event="failed", place="A1.1")])
        filed = nights.close(rig, hall, f"note {number}", datetime.datetime(2026, 5, 1 + number, 0, 50), "AB")
        assert not log.exists()
        assert filed.rig() == rig
        assert [event.place for event in filed.events()] == ["A1.1"]
    nights.close(rig, None, "", datetime.datetime(2026, 5, 2, 1, 0))  # of a rig that was never saved
    past = nights.past()
    assert [night.path.name for night in past] == [
        "tannery-2026-05-03.night.jsonl", "tannery-2026-05-02-2.night.jsonl", "tannery-2026-05-02.night.jsonl",
    ]  # fmt: skip
    assert [(night.day, night.closed.venue, night.closed.words, night.closed.by) for night in past[::2]] == [
        ("2026-05-01", "Tannery", "note 2", "AB"),
        ("2026-05-01", "Tannery", "note 1", "AB"),
    ]


def test_a_log_that_an_earlier_version_filed_is_listed_and_a_torn_one_left_out(hall: Path) -> None:
    nights.folder().mkdir(parents=True)
    night_log.append(
        nights.folder() / "the-mill-2026-05-01.night.jsonl",
        [Event(time="2026-05-02T00:10:00", event="failed")],
    )
    (nights.folder() / "odd.night.jsonl").write_bytes(b'{"time')
    (former,) = nights.past()
    assert (former.closed.venue, former.day, len(former.events())) == ("the-mill", "2026-05-02", 1)


def test_a_night_that_can_t_be_filed_stays_in_its_log(hall: Path) -> None:
    log = night_log.path_of(hall)
    night_log.append(log, [Event(time="21:40", event="failed", place="A1.1")])
    nights.folder().parent.mkdir(parents=True)
    nights.folder().write_text("no folder")
    with pytest.raises(SaveError):
        nights.close(rig_file.load(hall), hall, "", datetime.datetime(2026, 5, 2))
    assert len(night_log.read(log)) == 1
    assert nights.past() == ()
