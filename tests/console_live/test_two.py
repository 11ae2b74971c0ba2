"""Two consoles on one rig, and one that comes back: what the first has done is seen, what it locked stays locked."""

import signal
from pathlib import Path

import pytest

from rackwright.engine.recovery.failure import failed
from rackwright.store import presets, rig_file
from rackwright.store.safe import journal
from shipped import preset

from .running import console, environment
from .terminal import Terminal

OFTEN = "import rackwright.console.workplace as w\nw.LOOK = 0.1"
"""How often a console looks at what the others on the rig do."""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "venue.toml"
    presets.copy_out("small-room", path)
    return path


def started(
    file: Path | None, home: Path, first: str = OFTEN, columns: int = 170, rows: int = 36
) -> Terminal:
    terminal = Terminal(
        console(*[str(file)] if file else [], first=first), environment(home), columns=columns, rows=rows
    )
    terminal.until(lambda text: "? help" in text or "unsaved work" in text or "n new rig" in text)
    return terminal


def fail(terminal: Terminal, name: str) -> None:
    terminal.press("/")
    terminal.paste(f"{name} amplifier")
    terminal.press("enter", "f", "escape")
    terminal.until(f"undo mark {name} failed")


def test_the_second_sees_what_the_first_does_and_changes_nothing(file: Path, home: Path) -> None:
    with started(file, home) as first:
        fail(first, "A1")
        with started(file, home) as second:
            told = second.until("read-only")
            assert told.count("failed") >= 2, "from the start, though it stands in no file yet"
            before = second.until("failed").count("failed")
            fail(first, "A2")
            second.until(lambda text: text.count("failed") > before)
            first.press("L")
            second.until("EDIT LOCK")
            first.press("L", "u", "u")
            second.until(lambda text: "failed" not in text)
            second.press("/", "SUB-L1 cabinet", "enter", "d")
            second.until("open read-only")
            first.end(signal.SIGKILL)
            second.until("has ended. Press C to take control")
            second.press("q")
            assert second.ended() == 0


def test_the_second_tells_what_the_first_has_not_saved_and_is_asked_nothing(file: Path, home: Path) -> None:
    with started(file, home) as first:
        fail(first, "A1")
        with started(file, home) as second:
            assert "unsaved" in second.until("read-only")
            first.press("s")
            second.until(lambda text: "saved" in text and "unsaved" not in text)
            first.press("u")
            second.until("unsaved")
            second.press("q")
            assert second.ended() == 0


def test_recovered_work_is_kept_where_another_session_has_the_rig(file: Path, home: Path) -> None:
    with started(file, home) as ended:
        fail(ended, "A1")
        ended.end(signal.SIGKILL)
    with started(file, home) as first:
        first.press("o")
        first.until("? help")
        with started(None, home) as second:
            second.press("enter")
            second.until("read-only")
            fail(first, "A2")
            second.settled(0.5)
            assert "unsaved" in second.text
            second.press("q", "k")
            assert second.ended() == 0
            assert any(failed(left.rig())[0] == "A1" for left in journal.recoverable())


def test_what_failed_stays_on_the_second_screen_when_the_first_session_dies(file: Path, home: Path) -> None:
    with started(file, home) as first:
        fail(first, "A1")
        with started(file, home) as second:
            before = second.until("failed").count("failed")
            first.end(signal.SIGKILL)
            assert second.until("has ended. Press C to take control").count("failed") >= before


@pytest.mark.parametrize(
    ("number", "edited"),
    [(signal.SIGKILL, False), (signal.SIGHUP, True)],
    ids=["KILL with nothing unsaved", "HUP with unsaved work"],
)
def test_a_lock_against_edits_outlives_the_connection(
    number: signal.Signals, edited: bool, file: Path, home: Path
) -> None:
    with started(file, home) as terminal:
        if edited:
            fail(terminal, "A1")
        terminal.press("L")
        terminal.until("EDIT LOCK")
        terminal.end(number)
    with started(None, home) as terminal:
        terminal.until("n new rig")
        assert ("unsaved work" in terminal.text) is edited, "that a rig is locked is no work to recover"
    with started(file, home) as terminal:
        assert ("unsaved work" in terminal.text) is edited
        if edited:
            terminal.press("r")
        terminal.until("EDIT LOCK")
        terminal.end(number)
    with started(file, home) as terminal:
        if edited:
            terminal.press("o")
        terminal.until("EDIT LOCK")
        terminal.press("L")
        terminal.until(lambda text: "EDIT LOCK" not in text)
        terminal.press("q")
        assert terminal.ended() == 0
    assert len(journal.recoverable()) == edited, "the work stays, which nobody took"
    assert rig_file.load(file) == preset("small-room")


def test_a_lock_outlives_a_save(file: Path, home: Path) -> None:
    with started(file, home) as terminal:
        fail(terminal, "A1")
        terminal.press("s")
        terminal.until("Saved ")
        terminal.press("L")
        terminal.until("EDIT LOCK")
        fail(terminal, "A2")
        terminal.press("L", "s")
        terminal.until("Saved ")
        terminal.press("L")
        terminal.until("EDIT LOCK")
        terminal.end(signal.SIGKILL)
    with started(file, home) as terminal:
        terminal.until("EDIT LOCK")
        assert "unsaved" not in terminal.text
