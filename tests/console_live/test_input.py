"""What no keyboard sends, through a real terminal: the console goes on, hears the next key, and did nothing for it."""

import contextlib
import os
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from .running import call, console, environment
from .terminal import Terminal, command

SENT = {
    "a byte that is no UTF-8": b"\xfc",
    "half a sign": b"\xe4",
    "an oversized number": b"\x1b[99999999999~",
    "half a surrogate pair": b"\x1b[55296u",
    "a sign beyond Unicode": b"\x1b[;;1114112u",
    "a window without pixels": b"\x1b[48;24;80;0;0t\x1b[<0;3;2M\x1b[<0;3;2m",
    "a window without cells": b"\x1b[48;0;0;0;0t",
    "a window of the size of a city": b"\x1b[48;99999;99999;1;1t",
    "the mouse beyond the window": b"\x1b[<0;999999999999;5M\x1b[<64;5;999999999999M\x1b[<0;0;-7M",
    "what the terminal is": b"\x1b[?64;1;2;6;22c\x1b[>41;330;0c",
    "where its cursor is": b"\x1b[24;80R",
    "that it may report its size": b"\x1b[?2048;1$y",
    "a colour": b"\x1b]11;rgb:dddd/dddd/dddd\x1b\\\x1b]10;rgb:1/2/3\x07",
    "a capability": b"\x1bP1+r544e=787465726d\x1b\\",
    "that the window is left": b"\x1b[O",
    "a long string": b"\x1b_" + b"d" * 9000 + b"\x1b\\",
    "nothing, often": b"\0" * 50,
    "an end of no paste": b"\x1b[201~",
    "the end of input": b"\x04",
    "odd control bytes": bytes(range(0x80, 0xA0)),
}
ENDLESS = {"a control sequence": b"\x1b[1;2", "a string": b"\x1b]0;ddd"}


PATIENCE = 0.2
"""Seconds until the impatient console gives up what has no end."""
IMPATIENT = f"import rackwright.console.terminal.input as i\ni.SEQUENCE = i.PASTE = {PATIENCE}"


@contextlib.contextmanager
def running(home: Path, first: str = "") -> Iterator[Terminal]:
    with Terminal(console("small-room", first=first), environment(home), columns=120, rows=36) as terminal:
        terminal.until("? help")
        yield terminal


@pytest.fixture(scope="module")
def terminal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Terminal]:
    with running(tmp_path_factory.mktemp("input")) as terminal:
        yield terminal


@pytest.fixture(scope="module")
def impatient(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Terminal]:
    with running(tmp_path_factory.mktemp("impatient"), IMPATIENT) as terminal:
        yield terminal


@pytest.fixture(scope="module")
def unchanged(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Terminal, str]]:
    """A console that nothing must change, and its screen once a key was heard."""
    with running(tmp_path_factory.mktemp("unchanged")) as terminal:
        hears(terminal)
        yield terminal, terminal.settled(1)


def hears(terminal: Terminal) -> None:
    """A key is heard, and heard again: it locks the show, and unlocks it."""
    terminal.press("L")
    terminal.until("EDIT LOCK")
    terminal.press("L")
    terminal.until(lambda text: "EDIT LOCK" not in text and "Edit lock off." in text)


@pytest.mark.parametrize("sent", SENT.values(), ids=SENT)
def test_it_neither_ends_nor_changes_anything(sent: bytes, unchanged: tuple[Terminal, str]) -> None:
    terminal, screen = unchanged
    terminal.send_bytes(sent)
    hears(terminal)
    terminal.until(lambda text: text == screen)
    assert terminal.process.poll() is None


@pytest.mark.parametrize("sent", ENDLESS.values(), ids=ENDLESS)
def test_what_has_no_end_is_given_up_once_it_was_waited_for(sent: bytes, impatient: Terminal) -> None:
    """A busy machine may be late to wait, and take the key for more of it; another for help changes nothing."""
    impatient.send_bytes(sent)
    for _ in range(10):
        time.sleep(PATIENCE + 0.1)
        impatient.press("?")
        with contextlib.suppress(AssertionError):
            impatient.until("Show every key", 1)
            break
    impatient.press("escape")
    hears(impatient)


def test_each_sequence_may_come_in_any_pieces(terminal: Terminal) -> None:
    for sent in (b"\x1b[B", b"\x1b[<65;3;3M", "ü".encode(), b"\x1b[200~3 m\x1b[201~"):
        for byte in sent:
            terminal.send_bytes(bytes([byte]))
    hears(terminal)


def test_a_paste_without_an_end_is_over_when_no_more_of_it_comes(impatient: Terminal) -> None:
    impatient.press("/")
    impatient.until("Find")
    impatient.send_bytes(b"\x1b[200~" + b"SUB-L1 cabinet, and much more")
    impatient.until("SUB-L1 cabinet, and")
    impatient.press("escape")
    hears(impatient)


def test_a_letter_of_a_terminal_set_to_latin_1_is_that_letter(terminal: Terminal) -> None:
    terminal.press("/")
    terminal.until("Find")
    terminal.send_bytes(b"\xfcx\xe4")
    terminal.until("üxä")
    terminal.press("escape")
    hears(terminal)


@pytest.mark.parametrize(("columns", "rows"), [(1, 1), (0, 0), (3, 2), (1000, 3), (5, 300)])
def test_a_window_of_any_size(columns: int, rows: int, terminal: Terminal) -> None:
    terminal._tell_size(columns, rows)
    terminal.settled()
    terminal.resize(120, 36)
    terminal.settled()
    terminal.send("\x0c")
    terminal.until("? help")
    hears(terminal)


def test_enter_typed_before_the_console_stands_is_enter(tmp_path: Path) -> None:
    """The system's terminal hands it on as LF then, which is ctrl+j."""
    with Terminal(command(*call("hall")), environment(tmp_path / "home"), columns=120, rows=36) as running:
        running.press("/", "A11", "enter", "?")
        running.until("type to search")


def threads(terminal: Terminal) -> int:
    return len(list(Path(f"/proc/{terminal.process.pid}/task").iterdir()))


def stopped(terminal: Terminal) -> bool:
    return Path(f"/proc/{terminal.process.pid}/stat").read_text().rpartition(") ")[2].startswith("T")


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="the system doesn't tell of threads")
def test_stopped_and_continued_it_is_as_it_was(terminal: Terminal) -> None:
    """CONT alone, too: one that listens twice hands out every second key to nobody."""
    before = threads(terminal)
    for number in (None, signal.SIGSTOP, signal.SIGTSTP):
        if number:
            terminal.process.send_signal(number)
            while not stopped(terminal):
                terminal.read(0.01)
        terminal.settled()
        terminal.screen.reset()
        terminal.process.send_signal(signal.SIGCONT)
        terminal.until("? help")
        hears(terminal)
        assert threads(terminal) <= before


@pytest.mark.parametrize("term", ["dumb", "unknown", ""])
def test_a_terminal_that_only_prints_is_not_drawn_on(term: str, tmp_path: Path) -> None:
    with Terminal(console("hall"), environment(tmp_path / "home") | {"TERM": term}) as running:
        assert running.ended() == 3
        assert b"Set TERM to what it is" in running.taken
        assert b"\x1b" not in running.taken


def test_with_standard_input_closed_it_says_what_it_needs(tmp_path: Path) -> None:
    closed = ["sh", "-c", 'exec "$@" <&-', "sh", *call("hall")]
    with Terminal(command(*closed), environment(tmp_path / "home")) as running:
        assert running.ended() == 3
        assert b"The console needs a terminal." in running.taken
        assert b"Traceback" not in running.taken


def test_it_ends_when_the_terminal_is_gone(tmp_path: Path) -> None:
    with Terminal(console("small-room"), environment(tmp_path / "home")) as running:
        running.until("? help")
        os.close(running._master)
        running._master = -1
        assert running.process.wait(20) is not None
