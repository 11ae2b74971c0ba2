"""Files that can't be read, and saving that never loses what was there before."""

import errno
import os
import signal
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rackwright.model.rig import Rig
from rackwright.store import files, library, output_folder, presets, recent, stock, venues
from rackwright.store.home import home
from rackwright.store.rig_file import RigFileError, SaveError, load, loads, save
from rackwright.store.safe import atomic_write, file_lock, fingerprint
from rackwright.store.safe.os_lock import is_held, take
from rackwright.store.spreadsheet.cells import CsvError
from rackwright.store.spreadsheet.sheet import read_sheet
from store import sample

RIG = loads(sample.WHOLE)
OTHER = Rig(name="Other")


def in_home(name: str, read: Callable[[], object]) -> Callable[[Path], object]:
    """A reader of the file that the user's folder holds under that name."""

    def reader(path: Path) -> object:
        place = home() / name
        place.parent.mkdir(parents=True, exist_ok=True)
        path.rename(place)
        return read()

    reader.__name__ = name
    return reader


READERS = (
    load,
    venues.load,
    fingerprint.fingerprint,
    is_held,
    take,
    output_folder._digest,
    lambda path: output_folder._known(path).files,
    file_lock._holder,
    lambda path: read_sheet(path, library.built_in()),
    in_home(
        "presets/mine.toml", lambda: [p for p in presets.listed() if p.origin == "yours" and not p.error]
    ),
    in_home("venues/mine.toml", lambda: [v for v in venues.listed() if v.origin == "yours" and not v.error]),
    in_home("equipment/mine.toml", library.library),
    in_home("stock.toml", stock.own_stock),
    in_home("recent.json", recent.recent),
)


def told(path: str | Path) -> str:
    """The message that loading a path gives."""
    with pytest.raises(RigFileError) as caught:
        load(path)
    assert caught.value.path == str(path)
    assert len(caught.value.problems) == 1
    return str(caught.value)


# ---- Reading -------------------------------------------------------------------------------------------


def test_a_missing_file_is_told_with_the_name_it_resembles(tmp_path: Path) -> None:
    save(RIG, tmp_path / "boathouse.toml")
    message = told(tmp_path / "boat-house.toml")
    assert "There is no such file" in message
    assert f'Did you mean "{tmp_path / "boathouse.toml"}"?' in message


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    assert "There is no such file. Check the name" in told(tmp_path / "none" / "rig.toml")


def test_a_folder_is_told(tmp_path: Path) -> None:
    assert "This is a folder" in told(tmp_path)


def test_a_file_that_may_not_be_read_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    save(RIG, tmp_path / "rig.toml")
    monkeypatch.setattr(os, "open", refuse)
    assert "You may not read this file" in told(tmp_path / "rig.toml")


def test_names_no_system_takes_are_told(tmp_path: Path) -> None:
    assert "can't be read" in told("a\x00b")
    assert "can't be read" in told(tmp_path / ("x" * 5000))


def test_text_that_is_no_utf8_is_told_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    path.write_bytes('name = "x"\nnotes = "Bühne"\n'.encode("latin-1"))
    assert f"{path}, line 2: The file is not UTF-8 text: byte FC hex" in told(path)


@pytest.mark.parametrize("content", [b"", b"\n \n", b"\xef\xbb\xbf"])
def test_an_empty_file_is_told(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "rig.toml"
    path.write_bytes(content)
    assert "The file is empty. Start from a preset" in told(path)


@pytest.mark.parametrize("link", ["rig.toml", "elsewhere/rig.toml"])
def test_a_link_that_leads_nowhere_is_told_as_one(tmp_path: Path, link: str) -> None:
    path = tmp_path / "rig.toml"
    path.symlink_to(tmp_path / link)
    message = told(path)
    assert "link" in message
    assert "Did you mean" not in message


def given_or_said(read: Callable[[Path], object], path: Path) -> object:
    """What a reader gives, or the words of its error."""
    try:
        return read(path)
    except (RigFileError, CsvError, OSError) as error:
        return str(error)


@pytest.mark.parametrize("read", READERS, ids=lambda read: read.__name__)
def test_no_reader_waits_for_a_pipe(tmp_path: Path, read: Callable[[Path], object]) -> None:
    path = tmp_path / "pipe.toml"
    os.mkfifo(path)
    signal.alarm(60)  # one that waits is stopped, and the run with it
    given = given_or_said(read, path)
    signal.alarm(0)
    assert not given or "a pipe or a device, not a file" in str(given)


def test_a_huge_file_and_one_without_end_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    path.write_bytes(b"#" * (files.LARGEST + 1))
    assert "larger than 5 MB" in told(path)
    if Path("/dev/zero").exists():
        assert "a pipe or a device, not a file" in told("/dev/zero")


# ---- Saving --------------------------------------------------------------------------------------------


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A rig file on disk, with nothing beside it."""
    path = tmp_path / "rig.toml"
    save(RIG, path)
    assert list(tmp_path.iterdir()) == [path]
    return path


def failing(number: int) -> Callable[..., Any]:
    """A system call that reports that error."""

    def call(*_: Any, **__: Any) -> Any:
        raise OSError(number, os.strerror(number))

    return call


class _FullDisk:
    """A file that takes half of what it is given."""

    def __init__(self, file: Any) -> None:
        self.file = file

    def __enter__(self) -> "_FullDisk":
        return self

    def __exit__(self, *_: object) -> None:
        self.file.close()

    def write(self, content: bytes) -> None:
        self.file.write(content[: len(content) // 2])
        self.file.flush()
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize("call", ["open", "fdopen", "fsync", "fchmod", "replace"])
@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "the disk is full. The file on disk is as it was. Make room"),
        (errno.EROFS, "the disk can only be read. The file on disk is as it was. Save on another"),
        (errno.EACCES, "you may not write here. The file on disk is as it was. Save in another folder"),
        (errno.EIO, "the disk reports an error"),
        (errno.EBUSY, os.strerror(errno.EBUSY)),
    ],
)
def test_at_whatever_step_a_save_fails_the_former_file_stands_and_nothing_is_left_beside(
    path: Path, monkeypatch: pytest.MonkeyPatch, call: str, number: int, words: str
) -> None:
    before = path.read_bytes()
    with monkeypatch.context() as patch:
        patch.setattr(os, call, failing(number))
        with pytest.raises(SaveError) as caught:
            save(OTHER, path)
    assert str(caught.value).startswith(f"{path} is not saved: ")
    assert words in str(caught.value)
    assert path.read_bytes() == before
    assert list(path.parent.iterdir()) == [path]


def test_a_disk_that_fills_up_half_way_leaves_the_former_file(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, fdopen = path.read_bytes(), os.fdopen
    with monkeypatch.context() as patch:
        patch.setattr(os, "fdopen", lambda *args: _FullDisk(fdopen(*args)))
        with pytest.raises(SaveError, match="the disk is full"):
            save(OTHER, path)
    assert path.read_bytes() == before
    assert list(path.parent.iterdir()) == [path]


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_an_interrupted_save_leaves_the_former_file(
    path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    def interrupt(*_: Any) -> None:
        raise KeyboardInterrupt

    before = path.read_bytes()
    with monkeypatch.context() as patch:
        patch.setattr(os, call, interrupt)
        with pytest.raises(KeyboardInterrupt):
            save(OTHER, path)
    assert path.read_bytes() == before
    assert list(path.parent.iterdir()) == [path]


def test_the_content_is_safe_on_the_disk_before_the_rename_and_the_folder_after(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The order that the rename of POSIX.1-2017 needs to be all or nothing across a power cut."""
    steps: list[str] = []
    fsync, replace = os.fsync, os.replace

    def watched_fsync(handle: int) -> None:
        steps.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "file")
        fsync(handle)

    def watched_replace(old: Any, new: Any) -> None:
        assert load(old) == OTHER
        assert load(new) == RIG
        steps.append("rename")
        replace(old, new)

    monkeypatch.setattr(os, "fsync", watched_fsync)
    monkeypatch.setattr(os, "replace", watched_replace)
    save(OTHER, path)
    assert steps == ["file", "rename", "folder"]


def test_a_folder_that_can_not_be_made_sure_of_is_no_failure(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        atomic_write, "_settle", lambda folder, settle=atomic_write._settle: settle(folder / "none")
    )
    save(OTHER, path)
    assert load(path) == OTHER


@pytest.mark.parametrize("mode", [0o600, 0o664])
def test_the_mode_is_kept(path: Path, mode: int) -> None:
    path.chmod(mode)
    save(OTHER, path)
    assert stat.S_IMODE(path.stat().st_mode) == mode


def test_a_new_file_has_the_mode_the_user_has_set_for_new_files(tmp_path: Path) -> None:
    former = os.umask(0o027)
    try:
        save(OTHER, tmp_path / "rig.toml")
    finally:
        os.umask(former)
    assert stat.S_IMODE((tmp_path / "rig.toml").stat().st_mode) == 0o640


def test_the_owner_is_kept_where_that_is_allowed(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    given: list[tuple[int, int]] = []
    monkeypatch.setattr(os, "geteuid", lambda: 12345)
    monkeypatch.setattr(os, "fchown", lambda handle, user, group: given.append((user, group)))
    save(OTHER, path)
    assert given == [(path.stat().st_uid, path.stat().st_gid)]


def test_a_link_stays_a_link_and_its_target_is_written(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    target, link = tmp_path / "there" / "rig.toml", tmp_path / "link.toml"
    save(RIG, target)
    link.symlink_to(target)
    save(OTHER, link)
    assert link.is_symlink()
    assert load(target) == OTHER
    assert sorted(item.name for item in tmp_path.rglob("*")) == ["link.toml", "rig.toml", "there"]


def test_a_link_that_leads_nowhere_yet_gets_its_target(tmp_path: Path) -> None:
    link = tmp_path / "link.toml"
    link.symlink_to(tmp_path / "rig.toml")
    save(OTHER, link)
    assert link.is_symlink()
    assert load(tmp_path / "rig.toml") == OTHER


def test_a_write_protected_file_is_left_alone(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(SaveError, match="you may not write here"):
        save(OTHER, path)
    assert load(path) == RIG


def test_places_that_take_no_file_are_told(tmp_path: Path) -> None:
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    (tmp_path / "file").write_text("x = 1")
    os.mkfifo(tmp_path / "pipe")
    for name, words in (
        (".", "this is a folder"),
        ("none/rig.toml", "there is no such folder. Nothing was written."),
        ("file/rig.toml", "a part of its path is not a folder"),
        ("loop", "the links lead in a circle"),
        ("pipe", "this is a device"),
        ("x" * 300, "the name is too long"),
        ("a\x00b", "null"),
    ):
        with pytest.raises(SaveError) as caught:
            save(RIG, f"{tmp_path}/{name}")
        assert words in str(caught.value)
    assert sorted(item.name for item in tmp_path.iterdir()) == ["file", "loop", "pipe"]


def test_half_a_character_is_told_before_anything_is_written(path: Path) -> None:
    for text in ("\ud800", "\ud800\n"):
        with pytest.raises(SaveError, match=r"half a character \(U\+D800\)"):
            save(Rig(name="x", notes=text), path)
    assert load(path) == RIG


# ---- Comments ------------------------------------------------------------------------------------------


def test_the_text_of_a_file_with_comments_is_kept_aside_once(path: Path) -> None:
    written = f"# Ask the house about P1.\n{sample.WHOLE}"
    path.write_text(written)
    path.chmod(0o600)
    aside = path.with_name("rig.before-save.toml")
    assert save(OTHER, path) == aside
    assert aside.read_text() == written
    assert stat.S_IMODE(aside.stat().st_mode) == 0o600
    assert save(RIG, path) is None
    assert sorted(path.parent.iterdir()) == [aside, path]


def test_comments_written_later_are_kept_aside_under_another_name(path: Path) -> None:
    names = []
    for comment in ("# one", "# two", "# one"):
        path.write_text(f"{comment}\n{sample.WHOLE}")
        aside = save(OTHER, path)
        assert aside is not None
        assert aside.read_text().startswith(comment)
        names.append(aside.name)
    assert names == ["rig.before-save.toml", "rig.before-save-2.toml", "rig.before-save.toml"]


@pytest.mark.parametrize(
    ("content", "kept"),
    [
        (b'name = "x"\nnotes = "# none"\n', False),
        (b"", False),
        (b"name = '# none' # one", True),
        (b'name = """\n# none"""', False),
        (b"name = ", True),
        (b"\xff\xfe\x00", True),
    ],
)
def test_only_what_a_save_would_lose_is_kept_aside(tmp_path: Path, content: bytes, kept: bool) -> None:
    path = tmp_path / "rig.toml"
    path.write_bytes(content)
    aside = save(OTHER, path)
    assert (aside is not None) == kept
    assert aside is None or aside.read_bytes() == content


def test_where_the_comments_can_not_be_kept_the_file_is_left_alone(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path.write_text(f"# comment\n{sample.WHOLE}")
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", failing(errno.ENOSPC))
        with pytest.raises(SaveError) as caught:
            save(OTHER, path)
    assert f"{path} is not saved: its comments can't be saved in rig.before-save.toml, because" in str(
        caught.value
    )
    assert path.read_text().startswith("# comment")
    assert list(path.parent.iterdir()) == [path]


def test_a_text_too_long_to_be_read_again_is_not_saved(path: Path) -> None:
    before = path.read_bytes()
    with pytest.raises(SaveError, match="could not be read again"):
        save(Rig(name="x" * 100_001), path)
    assert path.read_bytes() == before
    save(Rig(name="x" * 100_000), path)
    assert load(path).name == "x" * 100_000
