"""Papers as files in a folder, by the command and by the console's key: what is replaced, what is left alone, what is told."""

import errno
import json
import os
from datetime import datetime
from pathlib import Path

import pytest
from msgspec.structs import replace
from pypdf import PdfReader

from console.hand import opened
from rackwright.cli import main
from rackwright.engine.assess import assess
from rackwright.model.lines import Stock
from rackwright.model.readings import Reading
from rackwright.model.rig import Rig
from rackwright.papers import identity
from rackwright.papers.identity import header_of, revision
from rackwright.papers.output import unprinted, write_papers
from rackwright.store import output_folder, rig_file
from rackwright.store.safe import atomic_write
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.stock import own_stock
from rackwright.store.toml.read import RigFileError
from rackwright.units import Length
from rigs import changed
from shipped import preset


@pytest.fixture
def rig() -> Rig:
    return preset("small-room")


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as ended:
        main(words)
    out, err = capsys.readouterr()
    assert isinstance(ended.value.code, int)
    return ended.value.code, " ".join(out.split()), " ".join(err.split())


# --- the command ----------------------------------------------------------------------------------------


def test_the_chosen_sheets_are_written_in_the_chosen_formats(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(
        capsys, "papers", "small-room", "--out", "p", "--only", "patch,lines", "--format", "txt,csv"
    )
    assert status == 0
    assert "Wrote 5 papers" in out
    found = {path.name for path in Path("p").iterdir()} - {output_folder.LIST}
    assert found == {"patch.txt", "patch.csv", "lines.txt", "lines.csv", "lines-cabinets.csv"}


def test_earlier_papers_are_replaced_and_named(capsys: pytest.CaptureFixture[str]) -> None:
    words = ("papers", "small-room", "--out", "p", "--only", "patch", "--format", "txt")
    run(capsys, *words)
    status, out, _ = run(capsys, *words)
    assert (status, "Replaced earlier ones: patch.txt" in out) == (0, True)


@pytest.mark.parametrize("foreign_first", [True, False])
def test_what_others_wrote_or_changed_is_left_alone_and_nothing_is_written(
    capsys: pytest.CaptureFixture[str], foreign_first: bool
) -> None:
    words = ("papers", "small-room", "--out", "p", "--format", "txt")
    if foreign_first:
        Path("p").mkdir()
    else:
        run(capsys, *words, "--only", "patch")
    Path("p/patch.txt").write_text("mine")
    status, out, err = run(capsys, *words)
    assert (status, out) == (3, "")
    assert "patch.txt" in err
    assert Path("p/patch.txt").read_text() == "mine"
    assert not Path("p/lines.txt").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [(("--only", "pach"), 'There is no "pach"'), (("--format", "doc"), 'There is no "doc"')],
)
def test_a_name_that_is_not_known_is_told(
    capsys: pytest.CaptureFixture[str], words: tuple[str, ...], told: str
) -> None:
    status, _, err = run(capsys, "papers", "small-room", "--out", "p", *words)
    assert (status, told in err, Path("p").exists()) == (64, True, False)


def test_a_folder_that_is_a_file_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    Path("p").write_text("mine")
    status, _, err = run(capsys, "papers", "small-room", "--out", "p", "--format", "txt")
    assert (status, "a folder is needed" in err) == (3, True)


# --- revision, stock, the list in the folder --------------------------------------------------------------


def test_a_full_disk_leaves_no_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(atomic_write.os, "fsync", full)
    (tmp_path / "own").mkdir()
    with pytest.raises(SaveError, match="full"):
        output_folder.write(tmp_path / "own" / "shows" / "papers", {"lines.txt": b"C1"})
    assert list((tmp_path / "own").iterdir()) == []


def test_the_revision_follows_the_wiring_and_not_the_readings(rig: Rig) -> None:
    read = replace(rig, readings=(Reading(line=rig.lines[0].id, ohms="5.9 ohm"),))
    longer = changed(rig, rig.lines[0].id, length=Length.parse("99 m"))
    assert revision(read) == revision(rig)
    assert revision(longer) != revision(rig)
    header = header_of(rig, datetime(2026, 5, 1, 14, 30), revision(rig), 3)
    assert (header.date, header.revision) == ("2026-05-01 14:30", f"3, {revision(rig)}")
    known = identity.read(header.words)
    assert known == (identity.title(rig), header.date, header.revision, revision(rig))


def test_a_revision_has_a_number_that_counts_up_with_every_change(rig: Rig) -> None:
    longer = changed(rig, rig.lines[0].id, length=Length.parse("99 m"))
    numbers = [
        write_papers(assess(each), "p", ("pull",), ("txt",)).revision.partition(",")[0]
        for each in (rig, rig, longer, rig)
    ]
    assert numbers == ["1", "1", "2", "3"]
    assert f"revision 3, {revision(rig)}" in Path("p/pull.txt").read_text()


def test_stock_in_the_rig_goes_before_the_users_own(rig: Rig, own_home: Path) -> None:
    own_home.mkdir()
    (own_home / "stock.toml").write_text(
        '[[stock]]\ncable = "flex-4x2.5"\nlength = "33 m"\ncount = 50\n', encoding="utf-8"
    )
    write_papers(assess(rig), "a", ("pull",), ("txt",))
    assert "33 m" in Path("a/pull.txt").read_text(encoding="utf-8")
    own = replace(rig, stock=(Stock(cable=rig.lines[0].cable, length=Length.parse("44 m"), count=50),))
    write_papers(assess(own), "b", ("pull",), ("txt",))
    text = Path("b/pull.txt").read_text(encoding="utf-8")
    assert ("44 m" in text, "33 m" in text) == (True, False)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[[stock]]\ncable = "flex-4x25"\nlength = "5 m"\n', 'Did you mean "flex-4x2.5"?'),
        ('[[stock]]\ncable = "flex-4x2.5"\nlength = 5\n', "line 3"),
        ('[[stock]]\ncable = "flex-4x2.5"\nlength = "5 m"\ncount = -1\n', "Count -1 is outside 0 to 99999"),
        ('[[stock]]\ncable = "flex-4x2.5"\nlength = "5 m"\n' * 2, "listed twice"),
    ],
)
def test_what_is_wrong_with_the_list_of_stock_is_told(own_home: Path, text: str, told: str) -> None:
    own_home.mkdir()
    (own_home / "stock.toml").write_text(text, encoding="utf-8")
    with pytest.raises(RigFileError) as refused:
        own_stock()
    assert told in str(refused.value)


def test_a_rig_with_stock_reads_back_as_it_was(rig: Rig) -> None:
    own = replace(rig, stock=(Stock(cable=rig.lines[0].cable, length=Length.parse("50 ft"), count=3),))
    assert rig_file.loads(rig_file.dumps(own)) == own
    from rackwright.model.diff import difference

    assert [str(change) for change in difference(rig, own)] == [
        f"Added stocked cable {rig.lines[0].cable} 50 ft: cable {rig.lines[0].cable}, length 50 ft, quantity 3"
    ]


def test_a_list_that_cant_be_read_makes_every_file_foreign(tmp_path: Path) -> None:
    output_folder.write(tmp_path / "p", {"a.txt": b"1"})
    (tmp_path / "p" / output_folder.LIST).write_text("{")
    with pytest.raises(SaveError):
        output_folder.write(tmp_path / "p", {"a.txt": b"2"})
    assert (tmp_path / "p" / "a.txt").read_bytes() == b"1"
    assert output_folder.write(tmp_path / "p", {"b.txt": b"2"}).new == ("b.txt",)
    assert set(json.loads((tmp_path / "p" / output_folder.LIST).read_text())["files"]) == {"b.txt"}


def test_a_folder_holds_one_revision(tmp_path: Path) -> None:
    """What is ours goes, what was changed or is another's stays; what was changed is named."""
    folder = tmp_path / "p"
    output_folder.write(folder, {"patch.txt": b"1", "lines.txt": b"1", "test.csv": b"1"}, "aa")
    assert output_folder.write(folder, {"pull.txt": b"1"}, "aa").removed == ()
    (folder / "test.csv").write_text("filled in")
    (folder / "notes.txt").write_text("mine")
    written = output_folder.write(folder, {"patch.txt": b"2"}, "bb")
    assert (written.replaced, written.stale) == (("patch.txt",), ("earlier/test 1.csv",))
    assert set(written.removed) == {"lines.txt", "pull.txt"}
    assert {path.name for path in folder.iterdir()} == {
        "patch.txt",
        "earlier",
        "notes.txt",
        output_folder.LIST,
    }
    assert (folder / "earlier/test 1.csv").read_text() == "filled in"


def test_what_was_filled_in_is_moved_aside_for_the_sheet_of_a_new_revision(tmp_path: Path) -> None:
    """Whatever is there already stays; a file that is a link, or that nobody here wrote, stops it all."""
    folder = tmp_path / "p"
    (folder / "earlier").mkdir(parents=True)
    (folder / "earlier/test 1.csv").write_text("older")
    output_folder.write(folder, {"test.csv": b"1"}, "aa")
    (folder / "test.csv").write_text("filled in")
    written = output_folder.write(folder, {"test.csv": b"2"}, "bb")
    assert (written.replaced, written.stale) == ((), ("earlier/test 1 (2).csv",))
    assert (folder / "earlier/test 1 (2).csv").read_text() == "filled in"
    assert (folder / "earlier/test 1.csv").read_text() == "older"
    assert (folder / "test.csv").read_bytes() == b"2"
    (folder / "test.csv").unlink()
    (folder / "test.csv").symlink_to(tmp_path / "not there")
    with pytest.raises(SaveError):
        output_folder.write(folder, {"test.csv": b"3"}, "cc")


def test_a_list_that_names_a_file_elsewhere_removes_nothing_there(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_bytes(b"1")
    output_folder.write(tmp_path / "p", {"a.txt": b"1"}, "aa")
    digest = json.loads((tmp_path / "p" / output_folder.LIST).read_text())["files"]["a.txt"]
    listed = {"revision": "aa", "files": {"../mine.txt": digest, str(tmp_path / "mine.txt"): digest}}
    (tmp_path / "p" / output_folder.LIST).write_text(json.dumps(listed))
    assert output_folder.write(tmp_path / "p", {"b.txt": b"2"}, "bb").removed == ()
    assert (tmp_path / "mine.txt").exists()


def test_older_sheets_are_removed_and_named(capsys: pytest.CaptureFixture[str], rig: Rig) -> None:
    rig_file.save(rig, "a.toml")
    rig_file.save(replace(rig, name="Another"), "b.toml")
    run(capsys, "papers", "a.toml", "--out", "p", "--only", "patch,lines", "--format", "txt")
    _, out, _ = run(capsys, "papers", "b.toml", "--out", "p", "--only", "patch", "--format", "txt")
    assert "Removed sheets of an earlier revision: lines.txt." in out
    assert not Path("p/lines.txt").exists()


# --- the console ------------------------------------------------------------------------------------------


async def test_the_key_writes_papers_beside_the_rig_file(rig: Rig) -> None:
    rig_file.save(rig, "friday.toml")
    async with opened(Path("friday.toml")) as hand:
        await hand.press("x")
        assert "Papers for the crew" in hand.text
        await hand.fill(None, "txt", "patch lines")
        await hand.press("enter")
        await hand.settle()
        await hand.settle()
        assert "Wrote 2 papers" in hand.text
    assert Path("friday-papers/patch.txt").exists()


async def test_papers_of_a_show_go_into_a_folder_of_venue_and_date_on_the_paper_that_is_chosen(
    rig: Rig,
) -> None:
    """ANSI/ASME Y14.1: letter is 8.5 × 11 in, 612 × 792 points."""
    at = replace(rig, venue=replace(rig.venue, name="The Cellar", date="2026-05-01"))
    rig_file.save(at, "friday.toml")
    async with opened(Path("friday.toml")) as hand:
        await hand.press("x")
        assert "the-cellar-2026-05-01" in hand.words
        await hand.fill(None, "pdf", "patch", None)
        await hand.choose("letter")
        await hand.press("enter")
        await hand.settle()
        await hand.settle()
        assert "Wrote 1 paper" in hand.words
    page = PdfReader("friday-papers/the-cellar-2026-05-01/patch.pdf").pages[0]
    assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx((612, 792), abs=0.5)
    assert "The Cellar" in page.extract_text()


async def test_the_key_tells_what_is_wrong_and_leaves_the_folder_alone(rig: Rig) -> None:
    rig_file.save(rig, "friday.toml")
    Path("friday-papers").write_text("mine")
    async with opened(Path("friday.toml")) as hand:
        await hand.press("x")
        await hand.fill(None, "doc")
        assert 'There is no "doc"' in hand.words
        await hand.press("up")
        await hand.write("txt")
        await hand.press("enter")
        await hand.settle()
        await hand.settle()
        assert "a folder is needed" in hand.words
    assert Path("friday-papers").read_text() == "mine"


@pytest.mark.parametrize("name", [output_folder.LIST, "a.txt"])
@pytest.mark.parametrize("target", ["precious", "not there"])
def test_nothing_is_written_through_a_link(tmp_path: Path, name: str, target: str) -> None:
    folder, precious = tmp_path / "p", tmp_path / "precious"
    output_folder.write(folder, {"a.txt": b"1"})
    precious.write_bytes((folder / name).read_bytes())
    before = precious.read_bytes()
    (folder / name).unlink()
    (folder / name).symlink_to(tmp_path / target)
    with pytest.raises(SaveError):
        output_folder.write(folder, {"a.txt": b"2"})
    assert precious.read_bytes() == before
    assert not (tmp_path / "not there").exists()


def test_a_list_of_a_name_that_can_be_none_is_passed_over(tmp_path: Path) -> None:
    (tmp_path / output_folder.LIST).write_text(
        json.dumps({"revision": "old", "files": {"\ud800": "0", "x" * 999: "0"}})
    )
    assert output_folder.write(tmp_path, {"a.txt": b"1"}, "new").new == ("a.txt",)


def test_a_list_nested_without_end_counts_as_none(tmp_path: Path) -> None:
    (tmp_path / output_folder.LIST).write_text("[" * 200_000)
    assert output_folder.write(tmp_path, {"a.txt": b"1"}).new == ("a.txt",)


def test_what_changed_since_the_papers_were_written_is_known_from_their_folder(
    rig: Rig, tmp_path: Path
) -> None:
    assert unprinted(rig, tmp_path / "none") is None
    write_papers(assess(rig), tmp_path, ("patch",), ("txt",))
    read = replace(rig, readings=(Reading(line=rig.lines[0].id, ohms="6 ohm"),))
    assert unprinted(read, tmp_path) == ()
    (change,) = unprinted(replace(rig, notes="Other"), tmp_path) or ()
    assert "notes" in str(change)
