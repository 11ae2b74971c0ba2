"""The night log: appended to beside the rig's file and on the disk before the screen shows it, whatever becomes of the rig."""

import datetime
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rackwright.console import document
from rackwright.engine import recovery
from rackwright.store import night_log, rig_file
from rackwright.store.home import VARIABLE
from rackwright.store.night_log import Event
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


def test_closing_files_the_log_with_the_venue_and_overwrites_none(hall: Path) -> None:
    log = night_log.path_of(hall)
    day = datetime.datetime(2026, 5, 1, 23, 50)
    for name in ("tannery-2026-05-01.night.jsonl", "tannery-2026-05-01-2.night.jsonl"):
        night_log.append(log, [Event(time="21:40", event="failed", place="A1.1")])
        assert night_log.close(log, "Tannery", day).name == name
        assert not log.exists()
    assert len(list(night_log.history().iterdir())) == 2
