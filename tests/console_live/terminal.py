"""A program in a real pseudo-terminal: keys go in as bytes, what it paints is kept by a terminal emulator (pyte).

Holds no knowledge of the program. Whatever is waited for is waited for by looking at the screen, never by a fixed time.
"""

import contextlib
import fcntl
import os
import select
import signal
import struct
import subprocess
import termios
import time
from collections.abc import Callable, Mapping
from typing import Protocol

import pyte

PATIENCE = 30.0
"""Seconds after which a test gives up; a machine may be busy with other things."""

KEYS = {
    "enter": "\r", "escape": "\x1b", "tab": "\t", "shift+tab": "\x1b[Z", "space": " ", "backspace": "\x7f",
    "up": "\x1b[A", "down": "\x1b[B", "right": "\x1b[C", "left": "\x1b[D", "home": "\x1b[H", "end": "\x1b[F",
    "pageup": "\x1b[5~", "pagedown": "\x1b[6~", "delete": "\x1b[3~",
    "ctrl+u": "\x15", "ctrl+p": "\x10", "ctrl+q": "\x11",
}  # fmt: skip
"""What an xterm sends for a key; a key of one letter sends itself."""


class Gone(Exception):
    """The program has ended while something was still awaited."""


class Process(Protocol):
    """What `subprocess.Popen` tells of a process."""

    pid: int

    def poll(self) -> int | None: ...
    def wait(self, timeout: float, /) -> int: ...
    def send_signal(self, number: int, /) -> None: ...
    def kill(self) -> None: ...


Start = Callable[[int, Mapping[str, str], str], Process]
"""Starts a program on the terminal of that handle, with that environment, in that folder."""


def command(*words: str) -> Start:
    """Starts that command."""

    def start(terminal: int, environment: Mapping[str, str], folder: str) -> Process:
        return subprocess.Popen(
            words,
            stdin=terminal, stdout=terminal, stderr=terminal,
            env=environment,
            cwd=folder,
            start_new_session=True,
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
        )  # fmt: skip

    return start


class _Screen(pyte.Screen):
    """pyte answers what it is asked; the answers matter to nobody here, and one of them takes no private marks."""

    _rows: dict[int, str]

    def report_device_status(self, mode: int, **_private: bool) -> None:
        """Say nothing."""

    def text(self) -> str:
        """What stands there; only rows that were written on since are read again."""
        if len(self.dirty) >= self.lines:
            self._rows = {}
        for y in self.dirty:
            self._rows[y] = "".join(self.buffer[y][x].data for x in range(self.columns)).rstrip()
        self.dirty.clear()
        return "\n".join(self._rows[y] for y in range(self.lines))


class Terminal:
    """A terminal of `columns` by `rows` with one program in it."""

    def __init__(
        self,
        start: Start,
        environment: Mapping[str, str],
        *,
        columns: int = 100,
        rows: int = 40,
        cwd: str | os.PathLike[str] | None = None,
    ) -> None:
        self.screen = _Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)
        self.taken = bytearray()
        """Every byte the program has sent."""
        self._shown = 0
        """How many of them stand on the screen."""
        self._master, slave = os.openpty()
        self._tell_size(columns, rows)
        self.began = time.monotonic()
        self.process = start(slave, {"TERM": "xterm-256color", **environment}, os.fspath(cwd or os.getcwd()))
        os.close(slave)

    def __enter__(self) -> "Terminal":
        return self

    def __exit__(self, *_: object) -> None:
        self.end(signal.SIGKILL)

    # --- looking ---

    @property
    def text(self) -> str:
        """What stands on the screen."""
        return self.screen.text()

    def read(self, wait: float = 0.0) -> int:
        """Put on the screen what the program has sent, waiting so long for something; how many bytes came.

        Raises Gone where it has ended.
        """
        came = self.take(wait)
        self.show()
        return came

    def show(self) -> None:
        """Put on the screen what was taken, which takes longer than the program took to send it."""
        self._stream.feed(bytes(self.taken[self._shown :]))
        self._shown = len(self.taken)

    def take(self, wait: float = 0.0) -> int:
        """Take in what the program has sent, and leave the screen as it was. Raises Gone where it has ended."""
        if not select.select([self._master], [], [], wait)[0]:
            return 0
        try:
            part = os.read(self._master, 1 << 16)
        except OSError:  # EIO: nobody has the other end any more
            part = b""
        if not part:
            raise Gone(self.text)
        self.taken += part
        return len(part)

    def until(self, seen: str | Callable[[str], bool], patience: float = PATIENCE) -> str:
        """Wait until that stands on the screen; gives the screen. Raises AssertionError with the screen as it was."""
        met = seen if callable(seen) else lambda text: seen in text
        last = time.monotonic() + patience
        while not met(self.text):
            if time.monotonic() > last:
                raise AssertionError(f"waited in vain for {seen!r} on the screen:\n{self.text}")
            self.read(0.1)
        return self.text

    def settled(self, quiet: float = 0.15) -> str:
        """Wait until nothing more comes for a while; gives the screen."""
        while self.read(quiet):
            pass
        return self.text

    # --- doing ---

    def press(self, *keys: str) -> None:
        """Send keys by their names; a text of several letters that is no key's name is typed."""
        for key in keys:
            self.send(KEYS.get(key, key))

    def paste(self, text: str) -> None:
        """Send text as a terminal hands on what is pasted (xterm's bracketed paste)."""
        self.send(f"\x1b[200~{text}\x1b[201~")

    def send(self, text: str) -> None:
        """Send text as it is."""
        self.send_bytes(text.encode())

    def send_bytes(self, sent: bytes) -> None:
        """Send bytes, which may be no text."""
        os.write(self._master, sent)

    def resize(self, columns: int, rows: int) -> None:
        """Make the window another size, as a person does by dragging."""
        self.screen.resize(rows, columns)
        self._tell_size(columns, rows)

    def _tell_size(self, columns: int, rows: int) -> None:
        fcntl.ioctl(self._master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def end(self, number: signal.Signals) -> int:
        """Send the program a signal and wait until it has ended; its status as `Popen` gives it."""
        if self.process.poll() is None:
            self.process.send_signal(number)
        status = self.ended()
        if self._master >= 0:
            os.close(self._master)
            self._master = -1
        return status

    def ended(self) -> int:
        """Wait until the program has ended, taking what it paints; its status as `Popen` gives it."""
        last = time.monotonic() + PATIENCE
        while (status := self.process.poll()) is None and time.monotonic() < last:
            with contextlib.suppress(Gone):
                self.read(0.02)  # one that paints into a full terminal would wait for us for ever
        if status is None:
            self.process.kill()
            raise AssertionError(f"the program did not end:\n{self.text}")
        with contextlib.suppress(Gone):  # what it said last
            while self._master >= 0 and self.read(0.05):
                pass
        return status
