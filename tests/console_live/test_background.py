"""Work behind the screen that raises or never ends: said, noted, left by a key, and ended by the system's signals."""

import signal
from pathlib import Path

import pytest

from rackwright.store import presets
from rackwright.store.safe import file_lock, journal

from .running import console, environment
from .terminal import Terminal

RAISES = "import rackwright.engine.recovery as r\ndef broken(*_, **__):\n raise KeyError('A14.3')\n yield\nr.in_turn = broken"
HANGS = "import rackwright.engine.recovery as r\ndef endless(*_, **__):\n while True: pass\n yield\nr.in_turn = endless\n"
HANGS += "from rackwright.console.terminal import key_queue\nkey_queue.GRACE = 0.1"
BLOCKS = "from rackwright.console.session import Session\ndef endless(*_):\n while True: pass\nSession.keep = endless\n"
BLOCKS += "from rackwright.console import run\nrun.LAST = 0.3"
FAILS = "import rackwright.console.{0}\ndef broken(*_): raise KeyError('A14.3')\nrackwright.console.{0}.{1} = broken"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "venue.toml"
    presets.copy_out("small-room", path)
    return path


def started(file: Path, home: Path, first: str) -> Terminal:
    terminal = Terminal(console(str(file), first=first), environment(home), columns=120, rows=36)
    terminal.until(lambda text: "? help" in text or "unsaved work" in text)
    return terminal


def fail(terminal: Terminal) -> None:
    terminal.press("/")
    terminal.paste("A1 amplifier")
    terminal.press("enter", "f")


def test_a_search_that_raises_says_so_and_can_be_left_also_once_recovered(file: Path, home: Path) -> None:
    with started(file, home, RAISES) as terminal:
        fail(terminal)
        told = terminal.until("The search for plans failed: KeyError ('A14.3')")
        assert "log.txt" in " ".join(told.split())
        terminal.press("enter", "escape")
        terminal.until("A1 stays marked failed")
        terminal.end(signal.SIGKILL)
    log = (home / "log.txt").read_text()
    assert "the search for plans" in log
    assert "KeyError: 'A14.3'" in log
    with started(file, home, RAISES) as terminal:
        terminal.press("r")
        terminal.until("unsaved")
        terminal.press("R")
        terminal.until("The search for plans failed")
        terminal.press("escape")
        terminal.until("A1 stays marked failed")


def test_a_search_without_an_end_is_left_by_escape_also_behind_other_keys(file: Path, home: Path) -> None:
    with started(file, home, HANGS) as terminal:
        fail(terminal)
        terminal.until("A1 failed: looking for plans")
        terminal.press("escape")
        terminal.until("A1 stays marked failed")
        terminal.press("R")
        terminal.until("A1 failed: looking for plans")
        terminal.press("down", "enter", "down", "escape")
        terminal.until("A1 stays marked failed")
        terminal.press("?")
        terminal.until("Keys")


def test_an_answer_stands_there_before_it_is_known_what_agrees_with_it(file: Path, home: Path) -> None:
    with started(
        file,
        home,
        HANGS.replace("recovery", "diagnosis").replace("in_turn", "diagnose").replace(" yield\n", ""),
    ) as terminal:
        terminal.press("/")
        terminal.paste("TOP-R1 cabinet")
        terminal.press("enter", "h", "down", "s", "down", "p")
        terminal.until("What is heard: 2 answered")
        terminal.until("Finding what agrees")
        terminal.press("n", "escape")
        terminal.until(lambda text: "What is heard" not in text)


@pytest.mark.parametrize(
    ("number", "first"),
    [(signal.SIGHUP, HANGS), (signal.SIGTERM, BLOCKS)],
    ids=["HUP behind the screen", "TERM in the screen's own thread"],
)
def test_a_signal_ends_it_whatever_it_is_at(
    number: signal.Signals, first: str, file: Path, home: Path
) -> None:
    with started(file, home, first) as terminal:
        if first == HANGS:
            fail(terminal)
            terminal.until("A1 failed: looking for plans")
        else:
            terminal.press("k")
            terminal.settled()
        assert terminal.end(number) == 128 + number
        given_back = [(b"1049h", b"1049l")]
        if first == HANGS:
            given_back += [(b"25l", b"25h"), (b"1003h", b"1003l")]
        for on, off in given_back:
            assert terminal.taken.rfind(b"\x1b[?" + off) > terminal.taken.rfind(b"\x1b[?" + on) >= 0, (
                "the shell finds the main screen; a cursor and no mouse reports where there was time for it"
            )
    taken = file_lock.acquire(file)
    assert isinstance(taken, file_lock.Lock)
    taken.release()
    assert not any(found.owner_alive for found in journal.recoverable())


def test_a_key_that_raises_says_so_and_the_next_is_heard(file: Path, home: Path) -> None:
    broken = {
        ("session", "Session.keep"): "k",
        ("workplace", "Workplace.go_to"): "/A1\r",
        ("workplace", "Workplace.on_paste"): "\x1b[200~3 m\x1b[201~",
        ("screens.pages", "help_page"): "?",
    }
    with started(file, home, "\n".join(FAILS.format(*where) for where in broken)) as terminal:
        for keys in broken.values():
            for _ in range(2):
                terminal.send(keys)
                terminal.until("failed: KeyError ('A14.3')")
                terminal.press("escape")
                terminal.until(lambda text: "KeyError" not in text)
        terminal.press("v")
        terminal.until("Findings")
        terminal.press("escape", "q")
        assert terminal.ended() == 0


def test_what_can_t_go_on_ends_with_a_sentence_and_a_status_and_keeps_the_work(
    file: Path, home: Path
) -> None:
    first = "import rackwright.console.widgets.pane as p\nwhole = p.Pane._line\n"
    first += "def broken(self, *of):\n if '!' in self._titles[0]: raise KeyError('A14.3')\n return whole(self, *of)\n"
    first += "p.Pane._line = broken"
    with started(file, home, first) as terminal:
        terminal.press("t", "Settings", "enter")
        terminal.until("Notes")
        terminal.press("end", "!", "enter")
        assert terminal.ended() == 70
        told = bytes(terminal.taken).rpartition(b"\x1b[?1049l")[2].decode()
        assert "The console failed: KeyError ('A14.3')." in told
        assert "Traceback" not in told
    (found,) = journal.recoverable()
    assert found.rig().name.endswith("!")
