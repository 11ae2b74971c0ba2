"""A disk that is full, closed, gone, or written by others, and a clock set back: told plainly, and nothing is lost."""

import errno
import os
import shutil
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from console.hand import Hand, opened
from rackwright.console import document as documents
from rackwright.console import leftovers
from rackwright.model import edits
from rackwright.model.rig import Rig
from rackwright.store import presets, rig_file
from rackwright.store.home import home
from rackwright.store.safe import atomic_write, file_lock, journal
from shipped import preset


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "shows" / "venue.toml"
    path.parent.mkdir()
    rig_file.save(preset("small-room"), path)
    return path


def refuse(monkeypatch: pytest.MonkeyPatch, number: int, where: Path) -> None:
    """Have the system refuse every write into that folder."""
    whole = os.open

    def opening(path: object, flags: int, *more: object, **options: object) -> int:
        inside = Path(os.fsdecode(path)).absolute().is_relative_to(where)
        if inside and flags & (os.O_WRONLY | os.O_RDWR):
            raise OSError(number, os.strerror(number), os.fsdecode(path))
        return whole(path, flags, *more, **options)

    def handing(handle: int, *_: object) -> int:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(atomic_write.os, "open", opening)
    if where == home():
        monkeypatch.setattr(journal.os, "pwrite", handing)


async def duplicate(hand: Hand, name: str = "SUB-L1") -> Rig:
    await hand.find(name)
    await hand.press("d")
    assert hand.session.unsaved
    return hand.rig


def left() -> list[Rig]:
    return [found.rig() for found in journal.recoverable()] + [
        found.rig() for file in journal._files() if (found := journal._look(file)) and found.owner_alive
    ]


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EACCES, "you may not write here"),
        (errno.EROFS, "the disk can only be read"),
        (errno.EIO, "the disk reports an error"),
    ],
)
async def test_a_save_that_the_disk_refuses(
    number: int, said: str, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = file.read_bytes()
    async with opened(file) as hand:
        rig = await duplicate(hand)
        with monkeypatch.context() as patch:
            refuse(patch, number, file.parent)
            await hand.press("s")
        assert f"is not saved: {said}. The file on disk is as it was." in hand.words
        assert hand.session.unsaved
        assert file.read_bytes() == before
        assert rig in left()
        assert [p.name for p in file.parent.iterdir()] == [file.name]
        await hand.press("s")
        assert "Saved" in hand.words
    assert rig_file.load(file) == rig


async def test_a_journal_that_the_disk_refuses(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(file) as hand:
        first = await duplicate(hand)
        with monkeypatch.context() as patch:
            refuse(patch, errno.ENOSPC, home())
            second = await duplicate(hand, "SUB-R1")
            assert (
                "The crash journal can't be written (No space left on device): save the rig now."
                in hand.words
            )
            assert hand.rig == second, "the edit is made all the same"
            assert first in left(), "the edit before it is safe still"
            await hand.press("s")
        assert "Saved" in hand.words
        assert rig_file.load(file) == second
        third = await duplicate(hand, "TOP-L1")
        assert "can't be written" not in hand.words
        assert left() == [third]


async def test_a_user_folder_that_is_a_file(file: Path, home: Path) -> None:
    """Nothing can be kept there; the rig can be edited and saved all the same."""
    home.write_text("in the way")
    async with opened(file) as hand:
        assert "Make sure that no other session edits this rig: it can't be locked" in hand.words
        rig = await duplicate(hand)
        assert "The crash journal can't be written" in hand.words
        await hand.press("s")
        assert "Saved" in hand.words
        await hand.press("P", "enter", "o")
        assert "is not saved" in hand.words
    assert rig_file.load(file) == rig


async def test_a_file_that_vanished_is_written_anew(file: Path) -> None:
    async with opened(file) as hand:
        rig = await duplicate(hand)
        file.unlink()
        await hand.press("s")
        assert "Saved" in hand.words
    assert rig_file.load(file) == rig


async def test_a_folder_that_vanished(file: Path, tmp_path: Path) -> None:
    async with opened(file) as hand:
        rig = await duplicate(hand)
        shutil.rmtree(file.parent)
        await hand.press("s")
        assert (
            "there is no such folder. Nothing was written. Make the folder first, or save in another."
            in hand.words
        )
        assert rig in left()
        await hand.press("S")
        await hand.write(str(tmp_path / "elsewhere.toml"))
        await hand.press("enter")
        assert "Saved" in hand.words
        assert left() == []
    assert rig_file.load(tmp_path / "elsewhere.toml") == rig


async def test_the_journal_folder_cleared_by_someone(file: Path) -> None:
    async with opened(file) as hand:
        await duplicate(hand)
        shutil.rmtree(home() / "journal")
        rig = await duplicate(hand, "SUB-R1")
        assert left() == [rig]


# --- a file that others wrote -------------------------------------------------------------------------


def write_theirs(file: Path) -> Rig:
    theirs = edits.change_settings(rig_file.load(file), name="Theirs")
    rig_file.save(theirs, file)
    return theirs


async def test_a_change_by_others_is_noticed_and_can_be_looked_at(file: Path) -> None:
    async with opened(file) as hand:
        rig = await duplicate(hand)
        theirs = write_theirs(file)
        await hand.press("s")
        assert "was changed by someone else since it was opened here." in hand.words
        await hand.press("d")
        assert "From the file to this rig" in hand.words
        assert "Theirs" in hand.words
        await hand.press("escape")
        assert "was changed by someone else" in hand.words
        await hand.press("escape")
        assert rig_file.load(file) == theirs
        await hand.press("s", "o")
        assert "Saved" in hand.words
        assert rig_file.load(file) == rig
        await duplicate(hand, "SUB-R1")
        await hand.press("s")
        assert "Saved" in hand.words, "what this session wrote itself is no change by others"


async def test_a_change_by_others_is_noticed_by_its_name_too(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Save as, with the name that stands there already: another way to write over the same file."""
    monkeypatch.chdir(file.parent)
    async with opened(file) as hand:
        await duplicate(hand)
        theirs = write_theirs(file)
        for name in (str(file), file.name):
            await hand.press("S")
            await hand.write(name)
            await hand.press("enter")
            assert "was changed by someone else" in hand.words
            await hand.press("escape")
        assert rig_file.load(file) == theirs


async def test_a_change_made_between_a_crash_and_its_recovery_is_noticed(file: Path) -> None:
    document = documents.opened(file)
    document.session.apply("duplicate", lambda rig: edits.duplicate(rig, "SUB-L1"))
    rig = document.session.rig
    document.close()
    theirs = write_theirs(file)
    async with opened(file) as hand:
        await hand.press("r")
        assert hand.rig == rig
        await hand.press("s")
        assert "was changed by someone else" in hand.words
        assert rig_file.load(file) == theirs


async def test_a_file_that_others_broke(file: Path) -> None:
    async with opened(file) as hand:
        rig = await duplicate(hand)
        file.write_text("no rig = [")
        await hand.press("s", "d")
        assert "line 1, column 4: A key has no value." in hand.words
        assert hand.rig == rig
        await hand.press("s", "o")
        assert "Saved" in hand.words
    assert rig_file.load(file) == rig


async def test_a_file_that_can_not_be_read_any_more_is_asked_about(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(file) as hand:
        await duplicate(hand)

        def closed(_path: object) -> str:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

        monkeypatch.setattr(documents, "fingerprint", closed)
        await hand.press("s")
        assert "was changed by someone else" in hand.words


# --- other sessions -----------------------------------------------------------------------------------


async def test_a_second_session_only_reads_and_can_not_save_over_the_first(
    file: Path, tmp_path: Path
) -> None:
    first = documents.opened(file)
    before = file.read_bytes()
    async with opened(file) as hand:
        await hand.find("SUB-L1")
        await hand.press("d")
        assert "This rig is open read-only" in hand.words
        assert f"process {os.getpid()}" in hand.words
        for key in ("s", "S"):
            await hand.press(key)
            if key == "S":
                await hand.press("enter")
            assert "open read-only" in hand.words
        assert file.read_bytes() == before
        await hand.press("S")
        await hand.write(str(tmp_path / "copy"))
        await hand.press("enter")
        assert "Saved" in hand.words
        await duplicate(hand)
    first.close()
    assert file.read_bytes() == before
    assert (tmp_path / "copy.toml").is_file()


def test_a_save_that_fails_leaves_the_lock_where_it_was(file: Path, tmp_path: Path) -> None:
    document = documents.opened(file)
    with pytest.raises(atomic_write.SaveError):
        document.save(tmp_path / "nowhere" / "rig.toml")
    assert isinstance(file_lock.acquire(file), file_lock.Held)
    untaken = file_lock.acquire(tmp_path / "nowhere" / "rig.toml")
    assert isinstance(untaken, file_lock.Lock)
    untaken.release()
    document.save(tmp_path / "copy.toml")
    assert isinstance(file_lock.acquire(tmp_path / "copy.toml"), file_lock.Held)
    assert isinstance(file_lock.acquire(file), file_lock.Lock)
    document.close()


# --- leaving ------------------------------------------------------------------------------------------


async def test_work_given_up_for_another_rig_stays_until_that_is_open(file: Path) -> None:
    """Coming back from the start without having opened anything, the changes are still there, and safe."""
    async with opened(file) as hand:
        rig = await duplicate(hand)
        await hand.press("o", "d", "escape")
        assert hand.rig == rig
        assert left() == [rig]
        await hand.press("o", "d", "n")
        assert hand.rig.name == "New rig"
        assert left() == []


async def test_work_recovered_but_never_saved_is_asked_about_again() -> None:
    document = documents.from_preset(presets.find("small-room"))
    document.session.apply("duplicate", lambda rig: edits.duplicate(rig, "SUB-L1"))
    document.close()
    async with opened() as hand:
        assert "Recover unsaved work" in hand.text
        await hand.press("enter", "q")
        assert "This rig has changes that are not saved." in hand.words
        await hand.press("k")
    assert [found.rig() for found in leftovers.leftovers()] == [document.session.rig]


# --- the clock ----------------------------------------------------------------------------------------


async def test_a_clock_set_back_between_two_edits(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The last edit is the one that comes back, whatever the clock says of it."""

    class Early(datetime):
        @classmethod
        def now(cls, tz: object = None) -> datetime:
            return datetime.now(tz) - timedelta(days=400)

    document = documents.opened(file)
    document.session.apply("first", lambda rig: edits.change_settings(rig, name="First"))
    monkeypatch.setattr(journal, "datetime", Early)
    monkeypatch.setattr(file_lock, "datetime", Early)
    document.session.apply("second", lambda rig: edits.change_settings(rig, name="Second"))
    document.close()
    other = documents.fresh()
    other.session.apply("other", lambda rig: edits.change_settings(rig, name="Another rig, worked on later"))
    other.close()
    async with opened() as hand:
        offered = [line for line in hand.text.splitlines() if "Another rig" in line or "Second" in line]
        assert "Another rig" in offered[0], "the newest first"
        assert "Second" in offered[1]
        await hand.press("down", "enter")
        assert hand.rig.name == "Second"
        await hand.press("s")
        assert "Saved" in hand.words
    assert rig_file.load(file).name == "Second"
