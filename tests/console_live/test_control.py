"""Control of a rig that two consoles have open: asked for and given, offered, refused, taken from one that is gone or hangs."""

import signal
from pathlib import Path

import pytest

from console.hand import opened
from rackwright.engine.recovery.failure import failed
from rackwright.store import night_log, presets, rig_file
from rackwright.store.home import VARIABLE
from rackwright.store.safe import file_lock, journal

from .consoles import play, rig_with_a_list
from .terminal import Terminal
from .test_two import OFTEN, fail, started

IMPATIENT = f"{OFTEN}\nimport rackwright.console.control as c\nc.SILENCE, c.PATIENCE = 0.0, 60.0"
"""Nobody waits for an answer to a request,"""
AT_ONCE = f"{IMPATIENT}\nc.PATIENCE = 0.0"
"""nor for what insisting on it brings."""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "venue.toml"
    presets.copy_out("small-room", path)
    return path


def has_control(terminal: Terminal) -> None:
    terminal.until(lambda text: "read-only" not in text and "? help" in text)


def test_control_is_asked_for_and_given_with_undo_lock_and_selection_and_back(file: Path, home: Path) -> None:
    with started(file, home) as first, started(file, home) as second:
        fail(first, "A1")
        first.press("L")
        second.until("EDIT LOCK")
        second.press("V")
        second.until("open read-only")
        second.press("C")
        first.until("asks for control. Press C to answer")
        first.press("C", "y")
        first.until("has control now. This console follows")
        assert "asks for control" not in first.settled()
        first.until("read-only")
        has_control(second)
        second.until("undo mark A1 failed")
        second.until("EDIT LOCK")
        second.until("Amplifier A1")
        second.press("u")
        first.until(lambda text: "failed" not in text)
        fail(second, "A2")
        first.until("failed")
        first.press("f")
        first.until("open read-only")
        first.press("C")
        second.until("asks for control")
        second.press("C", "y")
        has_control(first)
        first.until("undo mark A2 failed")
        first.press("L", "s")
        first.until("Saved ")
    assert failed(rig_file.load(file))[0] == "A2"
    assert journal.recoverable() == ()


def test_control_is_refused_and_offered(file: Path, home: Path) -> None:
    with started(file, home) as first, started(file, home) as second:
        second.press("C")
        first.until("asks for control. Press C to answer")
        first.press("C", "n")
        first.until("Control stays here")
        second.until("keeps control")
        fail(first, "A1")
        first.press("C")
        first.until("offer control: who")
        first.press("o")
        second.until("offers control. Press C to take it")
        second.press("C")
        has_control(second)
        first.until("read-only")


@pytest.mark.parametrize("edited", [True, False])
def test_control_is_taken_from_one_that_is_gone(edited: bool, file: Path, home: Path) -> None:
    with started(file, home) as first, started(file, home) as second:
        fail(first, "A1")
        if not edited:
            first.press("s")
            first.until("Saved ")
        first.end(signal.SIGHUP)
        second.until("has ended. Press C to take control")
        second.press("C")
        second.until("that had it has ended.")
        second.press("t")
        has_control(second)
        if edited:
            second.until("undo mark A1 failed")
        with started(file, home) as third:
            third.until("read-only")
        fail(second, "A2")
        second.press("s")
        second.until("Saved ")
    assert {name.partition(".")[0] for name in failed(rig_file.load(file))} == {"A1", "A2"}


def test_one_that_gives_no_sign_gives_control_or_is_ended(file: Path, home: Path) -> None:
    with started(file, home) as first, started(file, home, IMPATIENT) as second:
        fail(first, "A1")
        second.press("C")
        second.until("No answer from")
        second.press("C", "t")
        first.until("has control now. This console follows")
        has_control(second)
        fail(second, "A2")
        first.press("q")
        assert first.ended() == 0, "nothing is unsaved here"
    assert len(journal.recoverable()) == 1


def test_one_that_hangs_is_ended_and_nothing_is_lost(file: Path, home: Path) -> None:
    with started(file, home) as first, started(file, home, AT_ONCE) as second:
        fail(first, "A1")
        first.process.send_signal(signal.SIGSTOP)
        second.press("C")
        second.until("No answer from")
        second.press("C", "t")
        assert first.process.wait(20) == -signal.SIGKILL
        has_control(second)
        fail(second, "A2")
        second.press("s")
        second.until("Saved ")
    assert {name.partition(".")[0] for name in failed(rig_file.load(file))} == {"A1", "A2"}


def test_a_console_that_follows_ticks_and_tells_what_it_hears(file: Path, home: Path) -> None:
    rig_file.save(rig_with_a_list(), file)
    with started(file, home) as first, started(file, home) as second:
        for terminal in (first, second):
            terminal.press("R")
            terminal.until("Your initials")
            terminal.press(*("AB" if terminal is first else "MK"), "enter")
            terminal.until("0 of 5 done")
        assert "b repaired" in first.settled()
        assert "b repaired" not in second.settled(), "only who has control returns a plan"
        second.press("enter")
        second.until("1 of 5 done")
        first.until("MK: step 1 done")
        first.until("1 of 5 done")
        first.press("down", "enter")
        second.until("2 of 5 done")
        second.press("delete", "y")
        second.until("open read-only")
        first.press("escape")
        first.until("control: you")
        first.end(signal.SIGKILL)
        second.until("Press C to take control")
        second.press("escape", "R", "enter")
        second.until("3 of 5 done")
        second.press("escape", "C", "t")
        has_control(second)
        second.press("s")
        second.until("Saved ")
        log = night_log.path_of(file)
        second.until(lambda _text: night_log.open_reports(night_log.read(log)) == ())
    (taken,) = rig_file.load(file).lists
    assert taken.ticked == 3
    events = night_log.read(log)
    assert [(each.by, each.event) for each in events if each.event != "taken over"] == [
        ("MK", "done"), ("AB", "done"), ("MK", "done"),
    ]  # fmt: skip


async def test_where_nothing_can_be_kept_no_console_is_seen_and_nothing_is_said_of_it(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "no folder").write_text("")
    monkeypatch.setenv(VARIABLE, str(tmp_path / "no folder" / "home"))
    async with opened(file) as hand:
        before = hand.words
        hand.workplace.follow()
        await hand.settle()
        assert hand.words == before
        await hand.press("C")
        assert "no other has the rig open" in hand.words


@pytest.mark.parametrize("number", [signal.SIGHUP, signal.SIGKILL], ids=["HUP", "KILL"])
def test_lock_list_and_cursor_outlive_a_link_that_drops_while_ticking(
    number: signal.Signals, file: Path, home: Path
) -> None:
    rig_file.save(rig_with_a_list(), file)
    with started(file, home) as first:
        first.press("/")
        first.paste("TOP-L1 cabinet")
        first.press("enter", "L")
        first.until("EDIT LOCK")
        first.press("R", "A", "B", "enter", "enter", "enter")
        first.until("2 of 5 done")
        first.end(number)
    with started(file, home) as again:
        again.press("r")
        again.until("EDIT LOCK")
        again.until("A list is not done")
        again.until(
            lambda text: "TOP-L1" in text.partition("3 Results")[2].partition("\n")[2].partition("\n")[0]
        )
        again.press("R")
        again.until("The night log goes on noting AB")
        again.until("2 of 5 done")
        again.until(lambda text: any("▶" in line for line in text.splitlines() if "[ ] 3." in line))
        again.press("enter")
        again.until("3 of 5 done")


async def test_what_another_console_hears_is_answered_here(file: Path) -> None:
    async with opened(file) as hand:
        await hand.press("h")
        heard = night_log.Event(time="21:40", event="heard", place="TOP-L1.high", words="quiet", report="1")
        night_log.append(night_log.path_of(file), [heard])
        hand.workplace.follow()
        await hand.settle()
        assert hand.rig.heard == {"TOP-L1.high": "quiet"}
        assert "The other console: TOP-L1.high quiet" in hand.words
        assert "1 answered" in hand.words
        hand.workplace.follow()
        assert len(night_log.read(night_log.path_of(file))) == 2, "told once, taken over once"


@pytest.mark.parametrize("seed", [1, 2])
def test_whichever_console_dies_whenever_one_has_control_and_nothing_is_lost(
    seed: int, tmp_path: Path
) -> None:
    assert list(play(tmp_path, seed, 25)) == []


def test_two_in_control_at_once_would_be_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def locks_nothing(path: Path) -> file_lock.Lock:
        return file_lock.Lock(None, None)

    monkeypatch.setattr(file_lock, "acquire", locks_nothing)
    games = (told for seed in (4, 7, 1, 2) for told in play(tmp_path, seed, 25))
    assert any("2 consoles in control" in told for told in games), "not every game has two open at once"
