"""The crash journal in a session that lives: what it keeps, what it tells, and the disk failing under it."""

import errno
import fcntl
import os
import random
import shutil
import stat
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from msgspec.structs import replace

from model.rigs import RIG
from rackwright.console.session import Session
from rackwright.model import edits
from rackwright.model.rig import Rig
from rackwright.store.safe import journal, journal_record
from rackwright.store.safe import process as owner
from rackwright.store.safe.journal import Journal, JournalError, recoverable, take_over
from rackwright.store.safe.journal_record import framed
from rackwright.store.safe.undo_log import Moment
from strategies import rigs

from .edits import rigs_of

HALF_A_CHARACTER = "\ud800"


def left_behind(rig: Rig = RIG, path: str | Path | None = None) -> None:
    """Leave a journal as a session does that ended with this rig unsaved."""
    keeper = Journal(path)
    keeper.record(rig)
    keeper.close()


def only_file(home: Path) -> Path:
    (file,) = (home / "journal").iterdir()
    return file


def refusing(number: int):
    def refuse(*_args, **_kwargs):
        raise OSError(number, os.strerror(number))

    return refuse


# ---- What it keeps -------------------------------------------------------------------------------------


@given(first=rigs(), second=rigs())
def test_any_rig_comes_back_equal(first, second):
    keeper = Journal()
    for rig in (first, second):
        keeper.record(rig)
    keeper.close()
    (found,) = recoverable()
    assert found.rig() == second
    take_over(found).discard()


def test_nothing_comes_back_of_what_was_discarded():
    keeper = Journal()
    keeper.discard()
    keeper.record(RIG)
    keeper.discard()
    keeper.close()
    assert recoverable() == ()


def test_records_after_a_discard_come_back():
    keeper = Journal()
    for rig in rigs_of(RIG, 1, 3):
        keeper.record(rig)
    keeper.discard()
    keeper.record(RIG)
    keeper.close()
    assert [found.rig() for found in recoverable()] == [RIG]


def test_a_session_writes_each_edit_down(tmp_path):
    session = Session(RIG, tmp_path / "venue.toml", Journal(tmp_path / "venue.toml"), saved=RIG)
    session.apply("mark A1.1 failed", lambda rig: edits.change(rig, "A1.1", state="failed"))
    session.recorder.close()
    assert session.journal_trouble == ""
    (found,) = recoverable()
    assert (found.rig(), found.path) == (session.rig, tmp_path / "venue.toml")


def test_the_file_it_belongs_to_may_change_and_may_have_any_name(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    keeper = Journal()
    keeper.record(RIG)
    odd = os.fsdecode(b"Stra\xdfe.toml")  # Latin-1, as on an old disk: no UTF-8
    keeper.path = Path(odd)
    keeper.record(RIG)
    keeper.close()
    left_behind(path="sub/../plain.toml")
    assert {found.path for found in recoverable()} == {Path(odd), tmp_path / "plain.toml"}


def test_nobody_else_may_read_it(home):
    old = os.umask(0)
    try:
        left_behind()
    finally:
        os.umask(old)
    assert stat.S_IMODE(only_file(home).stat().st_mode) == 0o600
    assert stat.S_IMODE((home / "journal").stat().st_mode) == 0o700


def test_a_person_can_read_it(home):
    left_behind(replace(RIG, notes="load-in at eight"))
    assert b"load-in at eight" in only_file(home).read_bytes()


def test_rigs_larger_than_a_slot_come_back_too_with_what_undo_goes_back_to(monkeypatch):
    monkeypatch.setattr(journal_record, "SLOT", 8192)
    for seed in range(4):
        chance = random.Random(seed)
        keeper, before = Journal(), RIG
        for number in range(12):
            rig = replace(RIG, name=str(number), notes="a line of notes\n" * chance.choice([0, 10, 2000]))
            keeper.record(rig, (*keeper.undo[0], Moment(f"edit {number}", before)))
            keeper.close()
            (found,) = recoverable()
            assert found.rig() == rig
            keeper = take_over(found)
            assert [moment.label for moment in keeper.undo[0]] == [f"edit {i}" for i in range(number + 1)]
            assert keeper.undo[0][-1].was() == before
            before = rig
        keeper.discard()


# ---- Torn writes ---------------------------------------------------------------------------------------


def test_a_power_cut_in_the_midst_of_a_write_leaves_the_last_rig_or_the_new_one_and_what_undo_goes_back_to(
    home,
):
    chance = random.Random(3)
    keeper = Journal()
    before = b""
    sequence = rigs_of(RIG, 5, 8)
    past = [Moment(f"edit {number}", rig) for number, rig in enumerate(sequence)]
    for number, rig in enumerate(sequence):
        keeper.record(rig, past[:number])
        file = only_file(home)
        after = file.read_bytes()
        for _ in range(8 if before else 0):
            file.write_bytes(some_blocks(before, after, chance))
            ((found, undo),) = recovered_elsewhere(file, home)
            assert found in (sequence[number - 1], rig)
            at_least = number - 1  # the line that was being written may be gone, none that stood there before
            assert [(m.label, m.was()) for m in undo] in (
                [(m.label, m.rig) for m in past[:length]] for length in (at_least, at_least + 1)
            )
        before = after
        file.write_bytes(after)


def some_blocks(before: bytes, after: bytes, chance: random.Random, block: int = 512) -> bytes:
    """What the disk may hold when it wrote only some of the blocks."""
    share = chance.random()
    size = chance.choice([len(before), len(after)])
    parts = []
    for start in range(0, size, block):
        old, new = before[start : start + block], after[start : start + block]
        parts.append((new if old != new and chance.random() < share else old).ljust(block, b"\0"))
    return b"".join(parts)[:size]


def recovered_elsewhere(file: Path, home: Path) -> list[tuple[Rig, tuple[Moment, ...]]]:
    """What another session finds, in a copy of the folder that nobody holds, and what it can undo."""
    copy = home.with_name("copy")
    shutil.rmtree(copy, ignore_errors=True)
    (copy / "journal").mkdir(parents=True)
    shutil.copy(file, copy / "journal")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("RACKWRIGHT_HOME", str(copy))
        return [(found.rig(), take_over(found).undo[0]) for found in recoverable()]


def test_a_record_is_on_the_disk_before_it_has_its_name_and_before_the_session_goes_on(monkeypatch):
    done = []

    def noted(word, call):
        def called(*args):
            done.append(word)
            return call(*args)

        return called

    monkeypatch.setattr(os, "pwrite", noted("write", os.pwrite))
    monkeypatch.setattr(os, "replace", noted("name", os.replace))
    monkeypatch.setattr(journal_record, "_sync", noted("settle", journal_record._sync))
    keeper = Journal()
    keeper.record(RIG)
    monkeypatch.setattr("rackwright.store.safe.state_folder.settle", noted("settle folder", lambda _: None))
    keeper.record(RIG)
    keeper.discard()
    keeper.record(RIG)
    assert done == ["write", "settle", "name", "write", "settle", "settle folder", "write", "settle", "name", "settle folder"]  # fmt: skip


# ---- The disk fails ------------------------------------------------------------------------------------


def half_then_full(handle, data, offset, pwrite=os.pwrite):
    """A disk that fills up in the midst of a write."""
    if len(data) < 2000:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    return pwrite(handle, data[: len(data) // 2], offset)


@pytest.mark.parametrize("recorded", [1, 2, 3])
def test_on_a_full_disk_the_rig_before_is_safe_and_a_later_one_is_recorded(recorded, monkeypatch):
    before = rigs_of(RIG, 2, recorded)
    keeper = Journal()
    for rig in before:
        keeper.record(rig)
    with monkeypatch.context() as patch:
        patch.setattr(os, "pwrite", half_then_full)
        for _ in range(3):
            with pytest.raises(OSError, match=os.strerror(errno.ENOSPC)):
                keeper.record(replace(RIG, name="too much"))
    keeper.close()
    (found,) = recoverable()
    assert found.rig() == before[-1]
    keeper = take_over(found)
    keeper.record(RIG)
    keeper.close()
    assert [found.rig() for found in recoverable()] == [RIG]


def test_a_large_rig_is_safe_while_a_small_one_is_written_after_it(monkeypatch):
    monkeypatch.setattr(journal_record, "SLOT", 8192)
    large = replace(RIG, notes="a line of notes\n" * 2000)
    keeper = Journal()
    keeper.record(large)
    with monkeypatch.context() as patch:
        patch.setattr(os, "pwrite", half_then_full)
        with pytest.raises(OSError, match=os.strerror(errno.ENOSPC)):
            keeper.record(RIG)
    keeper.close()
    assert [found.rig() for found in recoverable()] == [large]


@pytest.mark.parametrize("call", ["mkdir", "open", "pwrite", "fsync", "replace"])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS, errno.EACCES])
def test_a_first_record_that_fails_leaves_nothing_and_the_next_goes_well(call, number, monkeypatch):
    keeper = Journal()
    with monkeypatch.context() as patch:
        patch.setattr(os, call, refusing(number))
        patch.setattr(journal_record, "_sync", os.fsync)
        with pytest.raises(OSError, match=os.strerror(number)):
            keeper.record(replace(RIG, name="never written"))
    assert recoverable() == ()
    keeper.record(RIG)
    keeper.close()
    assert [found.rig() for found in recoverable()] == [RIG]


def test_when_only_the_folder_cannot_be_settled_the_next_record_still_counts(monkeypatch):
    keeper = Journal()
    with monkeypatch.context() as patch:
        patch.setattr("rackwright.store.safe.state_folder.settle", refusing(errno.EIO))
        with pytest.raises(OSError, match=os.strerror(errno.EIO)):
            keeper.record(replace(RIG, name="first"))
    keeper.record(replace(RIG, name="second"))
    keeper.close()
    assert [found.name for found in recoverable()] == ["second"]


def test_a_disk_that_stops_settling_leaves_the_rig_before_or_the_new_one(monkeypatch):
    keeper = Journal()
    keeper.record(RIG)
    monkeypatch.setattr(journal_record, "_sync", refusing(errno.EIO))
    with pytest.raises(OSError, match=os.strerror(errno.EIO)):
        keeper.record(replace(RIG, name="new"))
    keeper.close()
    (found,) = recoverable()
    assert found.rig() in (RIG, replace(RIG, name="new"))


def test_a_users_folder_that_is_a_file_is_told(home):
    home.write_text("in the way")
    with pytest.raises(OSError, match=os.strerror(errno.ENOTDIR)):
        Journal().record(RIG)


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_that_may_not_be_written_is_told(home):
    (home / "journal").mkdir(parents=True, mode=0o500)
    with pytest.raises(PermissionError):
        Journal().record(RIG)


def test_what_no_rig_file_can_hold_comes_back_all_the_same():
    odd = replace(RIG, notes=HALF_A_CHARACTER)
    left_behind(odd)
    assert [found.rig() for found in recoverable()] == [odd]


def test_a_journal_that_vanished_is_begun_again(home):
    keeper = Journal()
    keeper.record(RIG)
    shutil.rmtree(home)
    keeper.record(replace(RIG, name="again"))
    keeper.close()
    assert [found.name for found in recoverable()] == ["again"]


def test_a_discard_that_the_disk_refuses_leaves_the_journal_in_use(monkeypatch):
    keeper = Journal()
    keeper.record(RIG)
    with monkeypatch.context() as patch:
        patch.setattr(os, "unlink", refusing(errno.EROFS))
        keeper.discard()
    keeper.record(replace(RIG, name="after"))
    keeper.close()
    assert [found.name for found in recoverable()] == ["after"]
    take_over(*recoverable()).discard()
    assert recoverable() == ()


# ---- The clock -----------------------------------------------------------------------------------------


class SetBack(datetime):
    """A clock that somebody sets back by a day each time it is read."""

    days = 0

    @classmethod
    def now(cls, tz=None):
        cls.days += 1
        return datetime.now(tz) - timedelta(days=cls.days)


def test_a_clock_set_back_changes_neither_what_comes_back_nor_the_order(monkeypatch):
    monkeypatch.setattr(journal, "datetime", SetBack)
    for name in ("first", "second", "third"):
        keeper = Journal()
        for number in range(3):
            keeper.record(replace(RIG, name=f"{name} {number}"))
        keeper.close()
    assert [found.name for found in recoverable()] == ["third 2", "second 2", "first 2"]
    assert recoverable()[0].when < recoverable()[2].when


def test_the_newest_is_the_one_last_recorded_not_the_one_last_begun():
    early, late = Journal(), Journal()
    early.record(replace(RIG, name="begun first"))
    late.record(replace(RIG, name="begun second"))
    early.record(replace(RIG, name="recorded last"))
    early.close()
    late.close()
    assert [found.name for found in recoverable()] == ["recorded last", "begun second"]


def test_a_later_run_of_the_machine_is_newer_whatever_its_clocks_say(monkeypatch):
    for number, boot in enumerate(["run-c", "run-a", "run-b"]):
        monkeypatch.setattr(owner, "_boot", lambda boot=boot: boot)
        monkeypatch.setattr("time.monotonic", lambda number=number: 1000.0 - 100 * number)
        left_behind(replace(RIG, name=boot))
    assert [found.name for found in recoverable()] == ["run-b", "run-a", "run-c"]


# ---- Damage --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "content",
    [b"", b"\0" * 5000, b"rackwright-journal 1 5 ", b"rackwright-journal 2 3 abc\nxyz", random.Random(1).randbytes(9000)],
    ids=["empty", "zeros", "cut", "later version", "noise"],
)  # fmt: skip
def test_a_damaged_journal_is_told_and_kept_and_hides_no_other(content, home):
    left_behind(replace(RIG, name="sound"))
    bad = home / "journal" / "0123456789abcdef.journal"
    bad.write_bytes(content)
    sound, damaged = recoverable()
    assert (sound.name, sound.damage) == ("sound", "")
    assert str(bad) in damaged.damage
    with pytest.raises(JournalError, match="damaged"):
        damaged.rig()
    with pytest.raises(JournalError, match="damaged"):
        take_over(damaged)
    left_behind(replace(RIG, name="after"))
    assert bad.read_bytes() == content


def test_any_one_byte_changed_is_noticed(home):
    keeper = Journal()
    keeper.record(RIG)
    keeper.close()
    file = only_file(home)
    content = file.read_bytes()
    for place in range(0, len(content), 61):
        file.write_bytes(content[:place] + bytes([content[place] ^ 1]) + content[place + 1 :])
        (found,) = recoverable()
        assert found.damage


def test_a_record_of_a_later_version_is_told(home):
    left_behind()
    sign_anew(only_file(home), b'"count"', b'"tally"')
    assert recoverable()[0].damage


def test_a_rig_of_a_later_version_is_told_with_what_is_new(home):
    left_behind()
    sign_anew(only_file(home), b'"cabinets"', b'"cupboards"')
    with pytest.raises(JournalError, match=r"another version.*cupboards"):
        recoverable()[0].rig()


def sign_anew(file: Path, old: bytes, new: bytes) -> None:
    """Change a record and its checksum with it."""
    _, _, body = file.read_bytes().partition(b"\n")
    body = body.replace(old, new)
    file.write_bytes(framed(body))


# ---- Other sessions ------------------------------------------------------------------------------------

OTHER_SESSION = """
import sys
from rackwright.store import rig_file
from rackwright.store.safe.journal import Journal
keeper = Journal()
keeper.record(rig_file.load(sys.argv[1]))
print(flush=True)
sys.stdin.read()
"""


@pytest.fixture
def other_session(tmp_path, tmp_path_factory):
    """A session in another process, with the rig in its journal."""
    from rackwright.store import rig_file

    rig_file.save(RIG, tmp_path / "start.toml")
    with subprocess.Popen(
        [sys.executable, "-c", OTHER_SESSION, tmp_path / "start.toml"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"\n"
        yield process
        process.kill()


def test_a_living_session_can_be_looked_at_but_not_taken_over(other_session):
    (found,) = recoverable()
    assert found.owner_alive
    assert str(other_session.pid) in str(found.owner)
    assert found.rig() == RIG
    with pytest.raises(JournalError, match=str(other_session.pid)):
        take_over(found)
    other_session.kill()
    other_session.wait()
    (found,) = recoverable()
    assert not found.owner_alive
    take_over(found)


def test_where_the_disk_holds_no_files_the_process_itself_is_asked(other_session, monkeypatch):
    monkeypatch.setattr(fcntl, "flock", refusing(errno.ENOLCK))
    (found,) = recoverable()
    assert found.owner_alive
    with pytest.raises(JournalError, match=str(other_session.pid)):
        take_over(found)
    other_session.kill()
    other_session.wait()
    (found,) = recoverable()
    assert not found.owner_alive
    keeper = take_over(found)
    keeper.record(replace(RIG, name="after"))
    assert recoverable() == (), "its own journal is none to recover"
    keeper.close()


def test_a_session_does_not_offer_its_own_journal():
    keeper = Journal()
    keeper.record(RIG)
    assert recoverable() == ()
    keeper.close()
    assert len(recoverable()) == 1


def test_only_one_session_takes_a_journal_over():
    left_behind()
    (found,) = recoverable()
    first = take_over(found)
    with pytest.raises(JournalError, match="in another session first"):
        take_over(found)
    first.close()
    again = take_over(found)
    again.record(replace(RIG, name="on from there"))
    again.close()
    with pytest.raises(JournalError, match="another session"):
        take_over(found)
    take_over(*recoverable()).discard()
    with pytest.raises(JournalError, match="saved or discarded elsewhere"):
        take_over(found)


def test_a_new_session_leaves_the_journal_of_an_old_one_alone(tmp_path):
    left_behind(replace(RIG, name="old"), tmp_path / "venue.toml")
    keeper = Journal(tmp_path / "venue.toml")
    keeper.record(replace(RIG, name="new"))
    keeper.discard()
    assert [found.name for found in recoverable()] == ["old"]
