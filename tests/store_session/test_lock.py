"""The lock on a rig file, against other processes, and on disks that hold none."""

import errno
import fcntl
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from rackwright.store.safe.file_lock import Held, Lock, acquire

OTHER_SESSION = """
import sys
from rackwright.store.safe.file_lock import acquire
lock = acquire(sys.argv[1])
print(type(lock).__name__, flush=True)
sys.stdin.read()
"""


def refusing(number: int):
    def refuse(*_args, **_kwargs):
        raise OSError(number, os.strerror(number))

    return refuse


@pytest.fixture
def rig(tmp_path) -> Path:
    file = tmp_path / "venue.toml"
    file.write_text("")
    return file


@pytest.fixture
def holder(rig):
    """Another process, which holds the lock."""
    with subprocess.Popen(
        [sys.executable, "-c", OTHER_SESSION, rig],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"Lock\n"
        yield process
        process.kill()


def taken(answer: Lock | Held) -> Lock:
    assert isinstance(answer, Lock)
    return answer


def test_a_second_session_is_told_who_has_the_file_until_that_one_is_killed(rig, holder):
    answer = acquire(rig)
    assert isinstance(answer, Held)
    told = rf"\S+ on {re.escape(os.uname().nodename)}, process {holder.pid}, since \d\d:\d\d"
    assert re.fullmatch(told, answer.who)
    holder.kill()
    holder.wait()
    assert taken(acquire(rig)).trouble == ""


def test_a_session_of_another_day_is_told_with_its_date(rig, holder, home):
    (file,) = (home / "locks").iterdir()
    content = json.loads(file.read_bytes())
    file.write_text(json.dumps(content | {"since": "2020-02-29T12:00:00Z"}))
    answer = acquire(rig)
    assert isinstance(answer, Held)
    assert re.search(r"since 2020-\d\d-\d\d \d\d:\d\d$", answer.who)


def test_every_way_of_naming_the_file_meets_the_same_lock(rig, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "link.toml").symlink_to(rig)
    (tmp_path / "folder").symlink_to(tmp_path, target_is_directory=True)
    lock = taken(acquire(rig))
    for name in ("venue.toml", "./folder/venue.toml", f"folder/../{tmp_path.name}/venue.toml", "link.toml"):
        assert isinstance(acquire(name), Held)
    assert isinstance(acquire("other.toml"), Lock)
    lock.release()
    assert isinstance(acquire("link.toml"), Lock)


def test_a_file_that_is_not_there_yet_can_be_locked(tmp_path):
    lock = taken(acquire(tmp_path / "new.toml"))
    assert isinstance(acquire(tmp_path / "new.toml"), Held)
    lock.release()


def test_a_lock_replaced_by_a_save_still_holds(rig):
    lock = taken(acquire(rig))
    fresh = rig.with_name("fresh")
    fresh.write_text("saved")
    fresh.replace(rig)
    assert isinstance(acquire(rig), Held)
    lock.release()


def test_releasing_twice_takes_nothing_from_the_next(rig, home):
    lock = taken(acquire(rig))
    lock.release()
    assert list((home / "locks").iterdir()) == []
    following = taken(acquire(rig))
    lock.release()
    assert isinstance(acquire(rig), Held)
    following.release()


def test_a_lock_file_that_its_holder_removes_just_now_locks_nothing(rig, monkeypatch):
    former = taken(acquire(rig))
    whole = fcntl.flock

    def just_released(handle, how):
        former.release()
        whole(handle, how)

    with monkeypatch.context() as patch:
        patch.setattr(fcntl, "flock", just_released)
        lock = taken(acquire(rig))
    assert isinstance(acquire(rig), Held)
    lock.release()


@pytest.mark.parametrize("content", [b"", b"\xff\0", b"{}", b'{"owner": 1}'])
def test_a_lock_file_left_behind_is_no_obstacle(content, rig, home):
    taken(acquire(rig)).release()
    lock = taken(acquire(rig))
    (file,) = (home / "locks").iterdir()
    os.close(lock._grip.handle)  # as when the process ends
    file.write_bytes(content)
    assert taken(acquire(rig)).trouble == ""


def test_a_holder_that_could_not_sign_still_holds(rig, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(os, "pwrite", refusing(errno.ENOSPC))
        lock = taken(acquire(rig))
    assert lock.trouble == ""
    assert acquire(rig) == Held("another session")
    lock.release()


def test_where_the_disk_holds_no_locks_that_is_told_and_the_process_itself_is_asked(rig, holder, monkeypatch):
    monkeypatch.setattr(fcntl, "flock", refusing(errno.ENOLCK))
    answer = acquire(rig)
    assert isinstance(answer, Held)
    assert f"process {holder.pid}" in answer.who
    holder.kill()
    holder.wait()
    lock = taken(acquire(rig))
    assert "lock files" in lock.trouble
    lock.release()


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS, errno.EACCES])
def test_where_no_lock_file_can_be_made_that_is_told(number, rig, monkeypatch):
    monkeypatch.setattr(os, "open", refusing(number))
    lock = taken(acquire(rig))
    assert os.strerror(number) in lock.trouble
    lock.release()
