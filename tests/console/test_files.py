"""Rigs as files, by keys: saving, names that are taken, others who write or hold the file, leaving, recovering."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from rackwright.cli import opening
from rackwright.console import document, leftovers
from rackwright.console.screens.start import Start
from rackwright.console.widgets.dialog import Prompt, Question
from rackwright.engine import recovery
from rackwright.model import edits
from rackwright.store import presets, recent, rig_file

from .hand import Hand, opened


@pytest.fixture
def friday() -> Path:
    """A rig file in the working folder."""
    path = Path("friday.toml")
    shutil.copy(next(p.path for p in presets.listed() if p.name == "small-room"), path)
    return path


async def edit(hand: Hand) -> None:
    """Some edit."""
    await hand.find("C2")
    await hand.paste("44 m")


def length(path: Path) -> str:
    """What a file says of the line that `edit` edits."""
    return rig_file.load(path).lines[1].length.text


# --- saving ---


def test_a_preset_is_opened_as_it_was_read() -> None:
    """Reading it again takes a tenth of the start."""
    source = opening.opened("hall")
    assert source.preset is not None
    opened_from = document.from_preset(source.preset)
    opened_from.close()
    assert opened_from.session.rig is source.rig


async def test_what_is_saved_is_the_rig_and_the_strip_says_so(friday: Path) -> None:
    async with opened(friday) as hand:
        assert "unsaved" not in hand.foot
        await edit(hand)
        assert "unsaved" in hand.foot
        await hand.press("s")
        assert "Saved friday.toml" in hand.text
        assert "unsaved" not in hand.foot
        assert rig_file.load(friday) == hand.rig
        await hand.press("u")
        assert "unsaved" in hand.foot


async def test_a_former_text_with_comments_is_kept_beside(friday: Path) -> None:
    before = friday.read_text("utf-8")
    async with opened(friday) as hand:
        await edit(hand)
        await hand.press("s")
        assert "with its comments, is saved in" in hand.words
    assert before in {path.read_text("utf-8") for path in Path().iterdir() if path != friday}


async def test_a_new_rig_asks_for_its_name_and_adds_the_ending(own_home: Path) -> None:
    async with opened() as hand:
        await hand.press("n")
        await hand.add("rack")
        await hand.press("enter", "s")
        assert isinstance(hand.screen, Prompt)
        assert "Save as, which names the rig, too" in hand.words
        assert "new-rig.toml" in hand.words
        await hand.write("saturday")
        await hand.press("enter")
        assert hand.session.path == Path("saturday.toml")
        assert rig_file.load("saturday.toml") == hand.rig
        assert hand.rig.name == "Saturday"
        assert "The rig is called Saturday now; u undoes that." in hand.words
        await hand.press("u")
        assert hand.rig.name == "New rig"
    assert [item.name for item in recent.recent()] == ["Saturday"]


async def test_another_name_leaves_the_first_file_as_it_was(friday: Path) -> None:
    async with opened(friday) as hand:
        await edit(hand)
        await hand.press("S")
        await hand.write("saturday.toml")
        await hand.press("enter")
        assert hand.session.path == Path("saturday.toml")
    assert (length(friday), length(Path("saturday.toml"))) == ("15 m", "44 m")


async def test_a_name_that_is_taken_is_asked_about(friday: Path) -> None:
    Path("taken.toml").write_text("mine", "utf-8")
    async with opened(friday) as hand:
        await edit(hand)
        for answer, content in (("escape", "mine"), ("o", None)):
            await hand.press("S")
            await hand.write("taken.toml")
            await hand.press("enter")
            assert "exists already" in hand.words
            await hand.press(answer)
            if content is not None:
                assert Path("taken.toml").read_text("utf-8") == content
        assert length(Path("taken.toml")) == "44 m"


async def test_using_what_others_saved_during_a_night_keeps_the_rig_to_return_to(friday: Path) -> None:
    async with opened(friday) as hand:
        good, amplifier = hand.rig, hand.rig.amplifiers()[0]
        other = next(each.id for each in good.circuits if each.id != amplifier.circuit)
        hand.session.apply(
            "use another circuit", lambda rig: edits.change(rig, amplifier.id, circuit=other), tonight=True
        )
        theirs = edits.change_settings(hand.rig, notes="written by others")
        rig_file.save(theirs, friday)
        await hand.press("s", "t")
        assert hand.rig == theirs
        assert recovery.baseline(hand.rig).racks == good.racks


async def test_a_name_that_is_none_is_refused_where_it_is_typed(friday: Path) -> None:
    async with opened(friday) as hand:
        await hand.press("S")
        for name, said in ("", "Write a file name"), (".", "is a folder"):
            await hand.write(name)
            await hand.press("enter")
            assert isinstance(hand.screen, Prompt)
            assert said in hand.words


async def test_a_name_that_the_disk_refuses_is_told_and_nothing_is_lost(friday: Path) -> None:
    async with opened(friday) as hand:
        await edit(hand)
        for name in ("x" * 300, "~nobody-of-that-name/friday", "nowhere/friday.toml"):
            await hand.press("S")
            await hand.write(name)
            await hand.press("enter")
            assert name[:20] in hand.words
            await hand.press("escape")
            assert "unsaved" in hand.foot
            assert hand.session.path == friday


async def test_a_preset_of_a_name_that_is_taken_is_asked_about(own_home: Path) -> None:
    async with opened(preset="small-room") as hand:
        for title, answers, kept in (
            ("One", (), "One"),
            ("Two", ("escape",), "One"),
            ("Three", ("o",), "Three"),
        ):
            await hand.press("P")
            await hand.field("name")
            await hand.fill("cellar", title)
            await hand.press("enter")
            assert bool(answers) == ("There is a preset cellar of yours already." in hand.words)
            await hand.press(*answers)
            assert rig_file.load(own_home / "presets" / "cellar.toml").name == kept


async def test_a_preset_of_a_rig_that_nobody_named_is_called_as_its_file_or_as_what_is_typed(
    own_home: Path,
) -> None:
    async with opened() as hand:
        await hand.burst("n", "P")
        await hand.write("Barn 2")
        assert "Offered as barn-2: Barn 2" in hand.words
        await hand.press("enter")
        assert rig_file.load(own_home / "presets" / "barn-2.toml").name == hand.rig.name == "Barn 2"
        assert "The open rig has its name" in hand.words
        await hand.press("u", "S")
        await hand.write("harvest-shed")
        await hand.press("enter", "u", "P")
        assert "Offered as harvest-shed: Harvest shed" in hand.words
        await hand.press("enter")
        assert rig_file.load(own_home / "presets" / "harvest-shed.toml").name == "Harvest shed"
        assert hand.rig.name != "Harvest shed"


async def test_notes_typed_for_a_preset_are_the_open_rigs_too_and_can_be_undone(own_home: Path) -> None:
    async with opened(preset="small-room") as hand:
        before = hand.rig
        await hand.press("P")
        await hand.field("notes")
        await hand.write("Mains behind the bar.")
        await hand.press("enter", "o")
        kept = rig_file.load(own_home / "presets" / "small-room.toml").notes
        assert hand.rig.notes.startswith("Mains behind the bar.")
        assert kept == hand.rig.notes
        assert "The open rig has its notes, too: s saves it." in hand.words
        assert "undo change notes" in hand.foot
        await hand.press("u")
        assert hand.rig == before
        await hand.press("P", "enter", "o")
        assert "The open rig" not in hand.words
        assert hand.rig is before or hand.rig == before


async def test_notes_typed_for_a_preset_are_saved_where_the_rig_was(friday: Path) -> None:
    async with opened(friday) as hand:
        await note(hand, "In the yard.", "keep")
        assert rig_file.load(friday) == hand.rig
        assert hand.rig.notes.startswith("In the yard.")
        assert "Saved friday.toml, too: it has the same notes." in hand.words
        assert "unsaved" not in hand.foot
        friday.write_text(friday.read_text("utf-8").replace("15 m", "99 m"), "utf-8")
        await note(hand, "Behind the bar.", "keep", "o")
        assert isinstance(hand.screen, Question)
        assert "was changed by someone else" in hand.words
        await hand.press("escape")
        assert "99 m" in friday.read_text("utf-8")
        assert "unsaved" in hand.foot


async def test_work_that_is_not_saved_yet_stays_so_when_a_preset_is_made_of_it(friday: Path) -> None:
    async with opened(friday) as hand:
        before = friday.read_bytes()
        await edit(hand)
        await note(hand, "In the yard.", "keep")
        assert "The open rig has its notes, too: s saves it." in hand.words
        assert friday.read_bytes() == before


async def note(hand: Hand, text: str, name: str, *answers: str) -> None:
    """Save as a preset of that name, with notes."""
    await hand.press("P")
    await hand.field("name")
    await hand.fill(name)
    await hand.field("notes")
    await hand.write(text)
    await hand.press("enter", *answers)


# --- others ---


async def test_a_file_that_others_changed_is_not_overwritten_unasked(friday: Path) -> None:
    async with opened(friday) as hand:
        await edit(hand)
        theirs = friday.read_text("utf-8").replace("15 m", "99 m")
        friday.write_text(theirs, "utf-8")
        await hand.press("s")
        assert isinstance(hand.screen, Question)
        assert "was changed by someone else" in hand.words
        await hand.press("d")
        assert "99 m" in hand.words
        assert "44 m" in hand.words
        await hand.press("escape")
        assert "was changed by someone else" in hand.words
        await hand.press("escape")
        assert friday.read_text("utf-8") == theirs
        assert "unsaved" in hand.foot
        await hand.press("s", "n")
        await hand.write("mine.toml")
        await hand.press("enter")
        assert friday.read_text("utf-8") == theirs
        assert length(Path("mine.toml")) == "44 m"


async def test_a_file_as_others_left_it_is_taken_and_given_back(friday: Path) -> None:
    async with opened(friday) as hand:
        await edit(hand)
        theirs = friday.read_text("utf-8").replace("15 m", "99 m")
        friday.write_text(theirs, "utf-8")
        await hand.press("s", "t")
        assert hand.rig.lines[1].length.text == "99 m"
        assert "unsaved" not in hand.foot
        await hand.press("u")
        assert hand.rig.lines[1].length.text == "44 m"
        await hand.press("s")
        assert "was changed" not in hand.text
        assert length(friday) == "44 m"


async def test_a_file_that_others_changed_is_overwritten_where_one_says_so(friday: Path) -> None:
    async with opened(friday) as hand:
        await edit(hand)
        friday.write_text(friday.read_text("utf-8").replace("15 m", "99 m"), "utf-8")
        await hand.press("s", "o")
        assert length(friday) == "44 m"
        await hand.press("u", "s")
        assert "was changed" not in hand.text
        assert length(friday) == "15 m"


@pytest.fixture
def held(friday: Path) -> Iterator[document.Document]:
    """The file open in another session."""
    other = document.opened(friday)
    yield other
    other.close()


async def test_a_second_session_is_read_only_and_says_who_has_it(
    friday: Path, held: document.Document
) -> None:
    async with opened(friday) as hand:
        before = hand.rig
        assert "read-only" in hand.foot
        assert "add" not in hand.foot
        for place, keys in {
            "A1": ("enter", "a", "d", "delete", "m", "f", "u", "e"),
            "A1.1": ("enter", "p", "f"),
            "R1-1/1": ("enter", "p", "r"),
            "C1": ("enter", "c", "delete", "U"),
        }.items():
            hand.workplace.go_to(place)
            for key in keys:
                await hand.press(key)
                assert "open read-only" in hand.words, (place, key)
                assert "process" in hand.words, (place, key)
        await hand.paste("3 m")
        assert hand.rig is before
        await hand.press("s")
        assert "S to save a copy" in hand.words
        await hand.press("v")
        assert "Findings:" in hand.words


async def test_a_read_only_session_can_save_a_copy_and_edit_that(
    friday: Path, held: document.Document
) -> None:
    async with opened(friday) as hand:
        await hand.press("S")
        await hand.write("copy.toml")
        await hand.press("enter")
        assert "read-only" not in hand.foot
        await edit(hand)
        await hand.press("s")
    assert (length(friday), length(Path("copy.toml"))) == ("15 m", "44 m")


async def test_a_file_that_is_open_elsewhere_is_not_saved_over(friday: Path, held: document.Document) -> None:
    async with opened(preset="hall") as hand:
        await hand.press("S")
        await hand.write("friday.toml")
        await hand.press("enter", "o")
        assert "open elsewhere" in hand.words
    assert length(friday) == "15 m"


# --- leaving and opening ---


@pytest.mark.parametrize(("answer", "saved", "left"), [("s", "44 m", 0), ("k", "15 m", 1), ("d", "15 m", 0)])
async def test_leaving_with_unsaved_changes_asks(friday: Path, answer: str, saved: str, left: int) -> None:
    async with opened(friday) as hand:
        await edit(hand)
        await hand.press("q")
        assert "changes that are not saved" in hand.words
        await hand.press("escape")
        assert hand.screen is hand.workplace
        await hand.press("q", answer)
        assert not hand.app.is_running
    assert length(friday) == saved
    assert len(leftovers.leftovers()) == left


async def test_leaving_with_nothing_unsaved_asks_nothing(friday: Path) -> None:
    async with opened(friday) as hand:
        await hand.press("q")
        assert not hand.app.is_running
    assert not leftovers.leftovers()


async def test_ctrl_q_leaves_from_anywhere_and_asks(friday: Path) -> None:
    async with opened(friday) as hand:
        await edit(hand)
        for where in ("enter",), ("v",), ("t", "enter"):
            await hand.press(*where, "ctrl+q")
            assert "changes that are not saved" in hand.words
            await hand.press("escape")
            assert hand.screen is hand.workplace


async def test_left_work_is_offered_at_the_start_and_is_as_it_was(friday: Path) -> None:
    async with opened(friday) as hand:
        await edit(hand)
        rig = hand.rig
        await hand.press("q", "k")
    async with opened() as hand:
        assert isinstance(hand.screen, Start)
        assert "Recover unsaved work" in hand.text
        await hand.press("enter")
        assert hand.rig == rig
        assert hand.session.path == friday.absolute()
        assert "unsaved" in hand.foot
        assert (hand.session.place, hand.app.focused) == ("C2", hand.pane("lines"))
        await hand.press("s")
    assert length(friday) == "44 m"
    assert not leftovers.leftovers()


async def test_recovered_work_does_not_overwrite_a_file_that_others_broke_unasked(friday: Path) -> None:
    async with opened(friday) as hand:
        await edit(hand)
        await hand.press("q", "k")
    friday.write_text("half a hand's work", "utf-8")
    async with opened() as hand:
        await hand.press("enter", "s")
        assert "changed by someone else" in hand.words
        assert friday.read_text("utf-8") == "half a hand's work"


async def test_opening_a_file_with_left_work_asks_which(friday: Path) -> None:
    async with opened(friday) as hand:
        await edit(hand)
        await hand.press("q", "k")
    async with opened(friday) as hand:
        assert "unsaved work on friday.toml" in hand.words
        await hand.press("r")
        assert hand.rig.lines[1].length.text == "44 m"


async def test_recovered_work_that_was_never_saved_is_not_lost_by_leaving_again() -> None:
    async with opened(preset="small-room") as hand:
        await edit(hand)
        await hand.press("q", "k")
    async with opened() as hand:
        await hand.press("enter")
        await hand.press("q")
        assert "changes that are not saved" in hand.words
        await hand.press("k")
    assert len(leftovers.leftovers()) == 1


async def test_another_rig_is_opened_over_the_workplace_and_left_again(friday: Path) -> None:
    async with opened(friday) as hand:
        await hand.press("o")
        assert isinstance(hand.screen, Start)
        await hand.press("escape")
        assert hand.screen is hand.workplace
        assert hand.session.path == friday
        await hand.press("o", "n")
        assert hand.session.path is None
        assert hand.rig.racks == ()
    other = document.opened(friday)
    assert not other.session.held_by
    other.close()


async def test_the_file_that_is_open_can_be_opened_again(friday: Path) -> None:
    async with opened(friday) as hand:
        await edit(hand)
        await hand.press("o")
        assert "quit" not in hand.words
        await hand.press("d")
        await hand.press("down", "down", "enter")
        assert hand.session.path == friday.absolute()
        assert "read-only" not in hand.foot
        assert hand.rig.lines[1].length.text == "15 m"


async def test_a_file_that_cant_be_read_is_told_and_leads_to_the_start() -> None:
    Path("broken.toml").write_text("format = 1\nname = 3\n", "utf-8")
    async with opened("broken.toml") as hand:
        assert "This can't be opened" in hand.words
        assert "name" in hand.words
        await hand.press("escape")
        assert isinstance(hand.screen, Start)
        await hand.press("escape")
        assert not hand.app.is_running
