"""The list of rigs worked on last."""

import errno
import os

import pytest

from rackwright.store.recent import MOST, Recent, forget, recent, remember
from rackwright.store.safe.atomic_write import SaveError


def test_there_are_none_at_first():
    assert recent() == ()


def test_the_newest_comes_first_and_each_once(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in ("a.toml", "b.toml", "a.toml"):
        (tmp_path / name).touch()
        remember(name, f"rig {name}")
    remember("b.toml", "renamed")
    remember("./a.toml", "rig a.toml")
    assert recent() == (
        Recent(tmp_path / "a.toml", "rig a.toml", False),
        Recent(tmp_path / "b.toml", "renamed", False),
    )


def test_only_the_last_few_are_kept(tmp_path):
    for number in range(MOST + 3):
        remember(tmp_path / f"{number}.toml", str(number))
    assert [entry.name for entry in recent()] == [str(n) for n in range(MOST + 2, 2, -1)]


def test_a_missing_file_stays_and_is_marked(tmp_path):
    file = tmp_path / "stick" / "a.toml"
    remember(file, "a")
    assert recent() == (Recent(file, "a", True),)
    file.parent.mkdir()
    file.touch()
    assert recent() == (Recent(file, "a", False),)


def test_one_can_be_forgotten(tmp_path):
    remember(tmp_path / "a.toml", "a")
    remember(tmp_path / "b.toml", "b")
    forget(tmp_path / "b.toml")
    assert [entry.name for entry in recent()] == ["a"]


def test_a_name_that_is_no_text_comes_back(tmp_path):
    odd = tmp_path / os.fsdecode(b"Stra\xdfe.toml")
    remember(odd, "ß Ω \ud800")
    assert recent() == (Recent(odd, "ß Ω \ud800", True),)


@pytest.mark.parametrize(
    "content",
    [b"", b"\xff\xfe", b"{", b"null", b'{"path": "/x"}', b"[" * 100_000, b'[1, {"path": 2, "name": "x"}, {"path": "\\u0000", "name": ""}]'],
)  # fmt: skip
def test_a_damaged_list_counts_as_empty_and_is_begun_again(content, home, tmp_path):
    home.mkdir()
    (home / "recent.json").write_bytes(content)
    assert recent() == ()
    remember(tmp_path / "a.toml", "a")
    assert [entry.name for entry in recent()] == ["a"]


def test_what_can_be_read_of_a_damaged_list_is_kept(home):
    home.mkdir()
    (home / "recent.json").write_text('[{"path": "/a"}, {"path": "/b", "name": "b", "later": 1}]')
    assert [entry.name for entry in recent()] == ["b"]


def test_a_full_disk_is_told_and_the_list_before_stays(tmp_path, monkeypatch):
    remember(tmp_path / "a.toml", "a")

    def full(*_args):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SaveError, match="full"):
        remember(tmp_path / "b.toml", "b")
    assert [entry.name for entry in recent()] == ["a"]
