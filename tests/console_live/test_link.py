"""What goes over the link: nothing while nobody does anything, the whole screen where it was lost, no foreign commands."""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from rackwright.model import edits
from rackwright.store import rig_file
from shipped import preset

from .running import console, environment
from .terminal import Terminal


@pytest.fixture
def terminal(home: Path) -> Iterator[Terminal]:
    with Terminal(console("small-room"), environment(home), columns=120, rows=36) as running:
        running.until("? help")
        running.settled()
        yield running


def sent_while_idle(terminal: Terminal) -> int:
    """Bytes that come in a stretch longer than from one blink to the next; the last paints of a busy machine may come before it."""
    for _ in range(4):
        before = len(terminal.taken)
        time.sleep(0.6)
        terminal.read()
        if len(terminal.taken) == before:
            break
    return len(terminal.taken) - before


def test_nothing_is_sent_while_nobody_does_anything(terminal: Terminal) -> None:
    assert sent_while_idle(terminal) == 0
    terminal.press("/")
    terminal.paste("SUB-L1 cabinet")
    terminal.press("enter", "enter")
    terminal.until("Priority")
    assert sent_while_idle(terminal) == 0, "nor by a cursor in a form"
    terminal.press("escape", "t", "Settings", "enter")
    terminal.until("Notes")
    terminal.press("up")
    assert sent_while_idle(terminal) == 0, "nor by one in a text of several lines"


def test_ctrl_l_brings_back_a_screen_that_something_else_wrote_on(terminal: Terminal) -> None:
    whole = terminal.text
    terminal._stream.feed(b"\x1b[3;1HBroadcast message from the caretaker\x1b[10;1H\x1b[J")
    assert terminal.text != whole
    terminal.send("\x0c")
    terminal.until(lambda text: text == whole)


def test_another_size_at_any_moment(terminal: Terminal) -> None:
    """What is painted in the new size is what a session begun in that size paints."""
    terminal.press("down", "down")
    for columns, rows in ((80, 24), (140, 45), (40, 10), (120, 36)):
        terminal.screen.reset()
        terminal.resize(columns, rows)
        if columns < 60:
            terminal.until("Make the window at least 60 × 16")
            continue
        terminal.until(lambda text: "help" in text.splitlines()[-1])
        before = terminal.settled()
        assert len(before.splitlines()) == rows
        assert max(map(len, before.splitlines())) == columns
        assert "A2 amp-4ch-600" in before
        terminal.send("\x0c")
        assert terminal.settled() == before


def test_a_name_in_a_file_is_shown_and_not_obeyed(home: Path, tmp_path: Path) -> None:
    """Control functions (ECMA-48) in a file that someone sent: clear the screen, another title, colours, a bell."""
    rig = preset("small-room")
    rig = edits.change_settings(rig, name="Ev\x1b[2Jil", notes="\x1b]0;owned\x07")
    rig = edits.change(rig, rig.racks[0].id, name="le\x9b2Jft\x1b[41m\t!")
    rig = edits.change(rig, "SUB-L1", position="the\x1b[5mre\r\b\u202e")
    rig_file.save(rig, tmp_path / "sent.toml")
    with Terminal(console(str(tmp_path / "sent.toml")), environment(home), columns=120, rows=36) as terminal:
        terminal.until("? help")
        terminal.press("/")
        terminal.paste("SUB-L1 cabinet")
        terminal.press("enter", "enter")
        terminal.until("Priority")
        terminal.press("escape")
        terminal.until(lambda text: "Priority" not in text)
        terminal.press("1")
        terminal.until("le2Jft")
        terminal.press("t", "Settings", "enter")
        terminal.until("Notes")
        sent = terminal.taken.decode(errors="replace")  # the last sign may still be on its way
    for obeyed in ("\x1b[2J", "\x9b", "\x1b[41m", "\x1b[5m", "\x1b]0;owned", "\u202e", "\b\u202e"):
        assert obeyed not in sent.replace("[2Jil", "")
