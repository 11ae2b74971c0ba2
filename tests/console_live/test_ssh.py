"""Over a real OpenSSH connection: a rig from nothing by keys alone, the link dropped in mid-edit, the work recovered."""

import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from rackwright.store import presets, rig_file
from rackwright.store.safe import file_lock, journal

from .running import call, environment
from .server import NoServer, Server
from .terminal import PATIENCE, Terminal, command

DOWN, UP = "down", "up"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    try:
        running = Server(tmp_path_factory.mktemp("ssh") / "server")
    except NoServer as error:
        pytest.skip(str(error))
    yield running
    running.stop()


class Link:
    """One person's connection, with the console at the other end."""

    def __init__(self, server: Server, home: Path, *arguments: str) -> None:
        setting = [f"{name}={value}" for name, value in environment(home).items()]
        there = server.command(["env", "-C", str(home.parent), *setting, *call(*arguments)])
        self.terminal = Terminal(command(*there), environment(home), columns=120, rows=36)

    def __enter__(self) -> Terminal:
        return self.terminal

    def __exit__(self, *_: object) -> None:
        self.terminal.end(signal.SIGKILL)


def build(terminal: Terminal) -> None:
    """One amplifier of which two channels play, a socket, a double subwoofer, a line between them."""
    terminal.until("New rig")
    terminal.press("n")
    terminal.until("No rack yet")
    add(terminal, "rack", DOWN, DOWN, "4")
    add(terminal, "amplifier", "a", "mp-4ch-12", "enter")
    add(terminal, "socket", DOWN, DOWN, "A", "1.1", "enter", DOWN, "A", "1.2", "enter")
    add(terminal, "cabinet", "s", "ub-d", "enter", DOWN, "SUB-L1", DOWN, "s", "plit", "enter")
    terminal.press("/", "R1-1", "enter", "c", "SUB-L1", "enter", "20 m", "enter")
    terminal.until("undo add line C1")


def add(terminal: Terminal, kind: str, *keys: str) -> None:
    """Add a thing, filling its form from the top with those keys; a field is written over as it is typed into."""
    terminal.press("a", kind, "enter", *keys, "enter")
    terminal.until(f"undo add {kind}")


def soon(met: Callable[[], object]) -> None:
    """Wait until that is so: a session may take a moment to notice that its link is gone."""
    last = time.monotonic() + PATIENCE
    while not met():
        assert time.monotonic() < last, "the session at the other end lives on"
        time.sleep(0.05)


def test_build_save_drop_the_link_and_recover(server: Server, home: Path, tmp_path: Path) -> None:
    file = tmp_path / "venue.toml"
    with Link(server, home) as terminal:
        build(terminal)
        terminal.press("s")
        terminal.until("Save as")
        terminal.press("ctrl+u", "venue", "enter")
        terminal.until("Saved")
        saved = rig_file.load(file)
        assert [(line.source, line.to) for line in saved.lines] == [("R1-1", "SUB-L1")]
        terminal.press("/", "C1", "enter", "enter", "33 m", "enter")
        terminal.until("undo edit C1")
        terminal.press("enter", "44")  # a form is open, half filled in
        terminal.until("44")
        terminal.end(signal.SIGKILL)
    soon(lambda: any(not each.owner_alive for each in journal.recoverable()))
    (found,) = journal.recoverable()
    (line,) = found.rig().lines
    assert line.length.text == "33 m"
    assert rig_file.load(file) == saved

    with Link(server, home, "venue.toml") as terminal:
        terminal.until("There is unsaved work on venue.toml")
        terminal.press("r")
        terminal.until("1 Racks")
        terminal.press("2")
        terminal.until("33 m")
        terminal.press("s")
        terminal.until("Saved")
        terminal.press("q")
        assert terminal.process.wait(PATIENCE) == 0
    assert rig_file.load(file) == found.rig()
    assert journal.recoverable() == ()


def test_a_second_session_reads_only_and_says_who_has_the_file_until_that_link_drops(
    server: Server, home: Path, tmp_path: Path
) -> None:
    presets.copy_out("small-room", tmp_path / "venue.toml")
    with Link(server, home, "venue.toml") as first:
        first.until("Results")
        (holder,) = (home / "locks").iterdir()
        who = file_lock._holder(holder)
        assert who is not None
        with Link(server, home, "venue.toml") as second:
            second.until("read-only")
            second.press("/", "SUB-L1 cabinet", "enter", "d")
            told = second.until("This rig is open read-only")
            assert str(who.owner) in " ".join(told.split())
            first.press("/", "SUB-L1 cabinet", "enter", "d")
            first.until("undo duplicate SUB-L1")
            first.press("s")
            first.until("Saved")
            second.press("d")
            assert "undo duplicate" not in second.settled(0.5)
            first.end(signal.SIGKILL)
        soon(lambda: file_lock.holder(tmp_path / "venue.toml") == "")
        assert journal.recoverable() == (), (
            "where the link drops while nothing is unsaved, nothing is offered"
        )
