"""What no keyboard sends, through a real terminal: the console goes on, hears the next key, and did nothing for it."""

import os
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from rackwright.console.terminal.input import PASTE

from .running import console, environment
from .terminal import Terminal

SENT = {
    "a byte that is no UTF-8": b"\xfc",
    "half a sign": b"\xe4",
    "an oversized number": b"\x1b[99999999999~",
    "half a surrogate pair": b"\x1b[55296u",
    "a sign beyond Unicode": b"\x1b[;;1114112u",
    "a window without pixels": b"\x1b[48;24;80;0;0t\x1b[<0;3;3M\x1b[<0;3;3m",
    "a window without cells": b"\x1b[48;0;0;0;0t",
    "a window of the size of a city": b"\x1b[48;99999;99999;1;1t",
    "the mouse beyond the window": b"\x1b[<0;999999999999;5M\x1b[<64;5;999999999999M\x1b[<0;0;-7M",
    "what the terminal is": b"\x1b[?64;1;2;6;22c\x1b[>41;330;0c",
    "where its cursor is": b"\x1b[24;80R",
    "that it may report its size": b"\x1b[?2048;1$y",
    "a colour": b"\x1b]11;rgb:dddd/dddd/dddd\x1b\\\x1b]10;rgb:1/2/3\x07",
    "a capability": b"\x1bP1+r544e=787465726d\x1b\\",
    "that the window is left": b"\x1b[O",
    "a control sequence without an end": b"\x1b[1;2",
    "a string without an end": b"\x1b]0;ddd",
    "a long string": b"\x1b_" + b"d" * 9000 + b"\x1b\\",
    "nothing, often": b"\0" * 50,
    "an end of no paste": b"\x1b[201~",
    "the end of input": b"\x04",
    "odd control bytes": bytes(range(0x80, 0xA0)),
}


@pytest.fixture(scope="module")
def terminal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Terminal]:
    home = tmp_path_factory.mktemp("input") / "home"
    with Terminal(console("small-room"), environment(home), columns=120, rows=36) as running:
        running.until("? help")
        yield running


def hears(terminal: Terminal) -> None:
    """A key is heard: the help comes, wholly, and goes. A window made too small at once would still eat the escape."""
    terminal.press("?")
    terminal.until(lambda text: "Keys" in text and "? help" not in text)
    terminal.press("escape")
    terminal.until("? help")


@pytest.mark.parametrize("sent", SENT.values(), ids=SENT)
def test_it_neither_ends_nor_changes_anything(sent: bytes, terminal: Terminal) -> None:
    before = terminal.settled()
    terminal.send_bytes(sent)
    if sent in (SENT["a control sequence without an end"], SENT["a string without an end"]):
        time.sleep(1.2)  # it is given up only once it was waited for
    hears(terminal)
    assert terminal.text.splitlines()[-2:] == before.splitlines()[-2:]
    assert terminal.process.poll() is None


def test_each_sequence_may_come_in_any_pieces(terminal: Terminal) -> None:
    for sent in (b"\x1b[B", b"\x1b[<65;3;3M", "ü".encode(), b"\x1b[200~3 m\x1b[201~"):
        for byte in sent:
            terminal.send_bytes(bytes([byte]))
    hears(terminal)


def test_a_paste_without_an_end_is_over_when_no_more_of_it_comes(terminal: Terminal) -> None:
    terminal.press("/")
    terminal.until("Go to")
    terminal.send_bytes(b"\x1b[200~" + b"SUB-L1 cabinet, and much more")
    terminal.until("SUB-L1 cabinet, and", PASTE + 20)
    terminal.press("escape")
    hears(terminal)


def test_a_letter_of_a_terminal_set_to_latin_1_is_that_letter(terminal: Terminal) -> None:
    terminal.press("/")
    terminal.until("Go to")
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
    with Terminal(console("hall"), environment(tmp_path / "home"), columns=120, rows=36) as running:
        running.press("/", "A14", "enter", "?")
        running.until("Show every key")


def threads(terminal: Terminal) -> int:
    return len(list(Path(f"/proc/{terminal.process.pid}/task").iterdir()))


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="the system doesn't tell of threads")
def test_stopped_and_continued_it_is_as_it_was(terminal: Terminal) -> None:
    """CONT alone, too: one that listens twice hands out every second key to nobody."""
    before = threads(terminal)
    for numbers in ((signal.SIGCONT,), (signal.SIGSTOP, signal.SIGCONT), (signal.SIGTSTP, signal.SIGCONT)):
        for number in numbers:
            terminal.process.send_signal(number)
            time.sleep(0.3)
        terminal.until("? help")
        hears(terminal)
        assert threads(terminal) <= before


@pytest.mark.parametrize("term", ["dumb", "unknown", ""])
def test_a_terminal_that_only_prints_is_not_drawn_on(term: str, tmp_path: Path) -> None:
    with Terminal(console("hall"), environment(tmp_path / "home") | {"TERM": term}) as running:
        assert running._ended() == 3
        assert b"Set TERM to what it is" in running.taken
        assert b"\x1b" not in running.taken


def test_with_standard_input_closed_it_says_what_it_needs(tmp_path: Path) -> None:
    command = ["sh", "-c", 'exec "$@" <&-', "sh", *console("hall")]
    with Terminal(command, environment(tmp_path / "home")) as running:
        assert running._ended() == 3
        assert b"The console needs a terminal." in running.taken
        assert b"Traceback" not in running.taken


def test_it_ends_when_the_terminal_is_gone(tmp_path: Path) -> None:
    with Terminal(console("small-room"), environment(tmp_path / "home")) as running:
        running.until("? help")
        os.close(running._master)
        running._master = -1
        assert running.process.wait(20) is not None
