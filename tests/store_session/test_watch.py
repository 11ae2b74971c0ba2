"""Noticing that somebody else changed a file."""

import os

import pytest

from model.rigs import RIG
from rackwright.store import rig_file
from rackwright.store.safe.fingerprint import fingerprint, fingerprint_of


def test_a_saved_rig_has_the_fingerprint_of_what_was_written(tmp_path):
    rig_file.save(RIG, tmp_path / "a.toml")
    assert fingerprint(tmp_path / "a.toml") == fingerprint_of(rig_file.dumps(RIG).encode())


def test_a_change_shows_whatever_the_files_time_says(tmp_path):
    file = tmp_path / "a.toml"
    file.write_text("length = 20")
    before, times = fingerprint(file), file.stat()
    file.write_text("length = 25")
    os.utime(file, ns=(times.st_atime_ns, times.st_mtime_ns))
    assert fingerprint(file) != before
    file.write_text("length = 20")
    assert fingerprint(file) == before


def test_a_file_that_vanished_has_none(tmp_path):
    (tmp_path / "loose.toml").symlink_to("nowhere")
    (tmp_path / "file").touch()
    for name in ("never.toml", "loose.toml", "file/below.toml"):
        assert fingerprint(tmp_path / name) is None


def test_a_file_that_cannot_be_read_is_told(tmp_path):
    with pytest.raises(IsADirectoryError):
        fingerprint(tmp_path)
