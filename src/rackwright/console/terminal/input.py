"""What a terminal sends, taken apart so that nothing of it can end the program, make it deaf, or act as a key nobody pressed.

Bytes become text, text becomes units: a sign, a control sequence (ECMA-48, 5.4 and 5.6), a paste. Only a whole unit is
handed to the toolkit's parser; a report that it doesn't know is left out, never typed. Knows nothing of what keys mean.
"""

import asyncio
import codecs
import contextlib
import os
import re
import select
import signal
import threading
import time
import unicodedata
from collections.abc import Iterator
from typing import IO, Any

from textual import constants
from textual._xterm_parser import XTermParser
from textual.driver import Driver
from textual.events import Key, MouseEvent, Paste
from textual.message import Message
from textual.messages import TerminalSupportsSynchronizedOutput

LOOK = 0.1
"""Seconds from one look to the next whether the app ends; what was begun is given up when its time has come."""
HALF = 0.5
"""Seconds that the first bytes of a sign wait for the rest, which a link may part (common practice, no source)."""
SEQUENCE = 1.0
"""Seconds that a control sequence without an end waits for it (common practice, no source)."""
PASTE = 2.0
"""Seconds after which a paste is over of which no more came than keys send, though its end never came."""
TYPED = 16
"""Bytes at once that may be a key's; more come from a paste."""
LONGEST = 4096
"""Signs of a control sequence that are kept."""
MOST = 1000
"""Columns, and rows, of the largest window: what says it is larger is wrong."""

_PASTE_BEGINS, _PASTE_ENDS = "\x1b[200~", "\x1b[201~"
_SEQUENCE = re.compile(
    r"(?:\x1b\[|\x9b)(?:\[[ -~]|M[^\x1b]{3}|[ -?]*[@-LN-Z\\-~]|[ -?]+[M\[])"  # CSI; Linux' F1; X10's mouse
    r"|\x1bO[ -~]"  # SS3
    r"|\x1b[\]P_^X](?:[^\x07\x1b]|\x1b(?!\\))*(?:\x07|\x1b\\)"  # OSC, DCS, APC, PM, SOS
)
_BEGUN = re.compile(
    r"(?:\x1b\[|\x9b)(?:\[|M[^\x1b]{0,2}|[ -?]*)\Z|\x1bO?\Z|\x1b[\]P_^X](?:[^\x07\x1b]|\x1b(?!\\))*\Z"
)
_KEY = re.compile(r"(?:\x1b[\[O]|\x9b).{1,30}", re.DOTALL)
"""What may be a key's, or the mouse's: longer ones the toolkit would type."""
_STRING = re.compile(r"\x1b[\]P_^X]")
_UNPRINTED = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff]")


def _latin(error: UnicodeError) -> tuple[str, int]:
    """Bytes that are no UTF-8, as a terminal set to Latin-1 sends its letters."""
    if not isinstance(error, UnicodeDecodeError):
        raise error
    return error.object[error.start : error.end].decode("latin-1"), error.end


codecs.register_error("rackwright-latin", _latin)


class Units:
    """Text from a terminal, taken apart into signs, whole control sequences and pastes."""

    def __init__(self) -> None:
        self._rest = ""
        self._pasted: list[str] | None = None
        """What has come of a paste, None where none has begun."""

    @property
    def pasting(self) -> bool:
        """Whether a paste has begun and not ended."""
        return self._pasted is not None

    def feed(self, text: str) -> Iterator[str | Paste]:
        """What is whole with this text."""
        self._rest += text
        while self._rest:
            if self._pasted is not None:
                before, end, after = self._rest.partition(_PASTE_ENDS)
                if not end:
                    kept = len(_PASTE_ENDS) - 1
                    self._pasted.append(self._rest[:-kept])
                    self._rest = self._rest[-kept:]
                    return
                self._rest = before
                yield self.end_paste()
                self._rest = after
                continue
            size = self._size()
            if not size:
                if (
                    len(self._rest) > LONGEST
                ):  # forget what it said, not that it goes on: its rest are no keys
                    self._rest = f"{self._rest[:2]} " if _STRING.match(self._rest) else "\x1b[?"
                return
            unit, self._rest = self._rest[:size], self._rest[size:]
            if unit == _PASTE_BEGINS:
                self._pasted = []
            elif unit[0] not in "\x1b\x9b":
                yield unit
            elif _SEQUENCE.fullmatch(unit):
                if _KEY.fullmatch(unit):
                    yield unit.replace("\x9b", "\x1b[")
            elif len(unit) < 3 and unit[1:] != "[":  # the escape key, and a key close behind it
                yield from unit

    def _size(self) -> int:
        """How much of the rest is a unit; 0 where its end has not come yet."""
        rest = self._rest
        if rest[0] not in "\x1b\x9b":
            return 1
        if whole := _SEQUENCE.match(rest):
            return whole.end()
        if _BEGUN.match(rest):
            return 0
        if rest[:2] in ("\x1b[", "\x1bO") or rest[0] == "\x9b":  # broken off by what can't be in it
            return max(2, len(re.match(r"(?:\x1b\[|\x9b|\x1bO)[ -?]*", rest)[0]))  # type: ignore[index]
        return 1 if rest[1] == "\x1b" else 2

    def end_paste(self) -> Paste:
        """What came of the paste, which is over now."""
        text = "".join([*(self._pasted or ()), self._rest])
        self._pasted, self._rest = None, ""
        return Paste(_UNPRINTED.sub("", text.replace(_PASTE_BEGINS, "")))

    def patience(self) -> float | None:
        """Seconds that what has begun may wait for its end; None where nothing has."""
        if not self._rest or self.pasting:
            return None
        return constants.ESCAPE_DELAY if len(self._rest) < 3 and self._rest[-1] not in "[\x9b" else SEQUENCE

    def give_up(self) -> Iterator[str | Paste]:
        """What has begun goes no further: the escape key, perhaps with a key behind it, or nothing."""
        begun, self._rest = self._rest, ""
        if len(begun) < 3 and begun.startswith("\x1b"):
            yield from begun


class Messages:
    """What units are to the toolkit: keys, pastes, and what the mouse does within the window."""

    def __init__(self) -> None:
        self._parser = XTermParser()

    def of(self, unit: str | Paste, columns: int, rows: int) -> Iterator[Message]:
        """The messages of a unit in a window of that size."""
        if isinstance(unit, Paste):
            yield unit
            return
        if unit == "\x1b":
            yield Key("escape", "\x1b")
            return
        try:
            found = list(self._parser.feed(unit))
        except Exception:  # a number that no sign, or no place in memory, has
            found = []
        if (
            unit[0] == "\x1b"
        ):  # it may still wait for more of what it doesn't know, and divides by pixels it was told of
            self._parser = XTermParser()
        yield from (message for message in found if _plausible(message, columns, rows))


def _plausible(message: Message, columns: int, rows: int) -> bool:
    """Whether a person can have done that. The window's size and focus are not the terminal's to say here."""
    match message:
        case Paste() | TerminalSupportsSynchronizedOutput():
            return True
        case Key(key=name, character=None):
            return name.isascii() and name.isprintable()
        case Key(character=str(sign)):
            return sign < " " or sign == "\x7f" or sign.isprintable() or unicodedata.category(sign[0]) == "Zs"
        case MouseEvent():
            return 0 <= message.x < columns and 0 <= message.y < rows
    return False


class Outlet:
    """The terminal to write to: what it doesn't take is let go, as the toolkit's writer would end and block the program."""

    def __init__(self, file: IO[str]) -> None:
        self._file = file

    def write(self, text: str) -> None:
        """Write what can be written."""
        with contextlib.suppress(OSError, ValueError):
            self._file.write(text.encode("utf-8", "replace").decode("utf-8"))

    def flush(self) -> None:
        """Send it."""
        with contextlib.suppress(OSError, ValueError):
            self._file.flush()

    def fileno(self) -> int:
        """The number that the system knows the terminal by."""
        return self._file.fileno()


class InputDriver(Driver):
    """Makes a driver of the toolkit take whatever a terminal sends: to be mixed in before one."""

    fileno: int
    exit_event: threading.Event

    def __init__(self, app: Any, **options: Any) -> None:
        super().__init__(app, **options)
        self.app, self.loop, self.stopped = app, asyncio.get_running_loop(), False
        app.driver = self
        self._file: Any = Outlet(self._file)
        # by way of the loop: a signal comes in the midst of anything, such as writing to the terminal
        for number, act in ((signal.SIGTSTP, self._stop), (signal.SIGCONT, self._go_on)):
            signal.signal(number, lambda *_, act=act: self.loop.call_soon_threadsafe(act))

    def _stop(self) -> None:
        """Give the terminal back, and stop the process."""
        self.suspend_application_mode()
        self.stopped = True
        os.kill(os.getpid(), signal.SIGSTOP)

    def _go_on(self) -> None:
        """The process was stopped, with or without being told before: take the terminal anew, once, and paint all of it."""
        if not self.stopped:
            self.suspend_application_mode()
        self.stopped = False
        self.resume_application_mode()
        self.app.action_paint_anew()

    def send_message(self, message: Message) -> None:
        """Give a message to the app: the toolkit would start a task for it first."""
        self.loop.call_soon_threadsafe(self.app.post_message, message)

    def run_input_thread(self) -> None:
        """Hand on what comes until the app ends; end the app where the terminal has gone."""
        units, messages = Units(), Messages()
        decoder = codecs.getincrementaldecoder("utf-8")("rackwright-latin")
        came = swelled = time.monotonic()
        # of what was typed before the terminal was taken, it has made each CR of the enter key an LF (POSIX, ICRNL)
        ahead = bool(select.select([self.fileno], [], [], 0)[0])

        def hand_on(found: Iterator[str | Paste]) -> None:
            for unit in found:
                for message in messages.of(unit, *self.app.size):
                    self.process_message(message)

        while not self.exit_event.is_set():
            patience = units.patience()
            wait = LOOK if patience is None else min(max(came + patience - time.monotonic(), 0), LOOK)
            ready = select.select([self.fileno], [], [], wait)[0]
            now = time.monotonic()
            if ready:
                try:
                    data = os.read(self.fileno, 1 << 12)
                except OSError:  # EIO: hung up
                    data = b""
                if not data:
                    self.loop.call_soon_threadsafe(self.app.exit)
                    return
                came, swelled = now, now if len(data) > TYPED or not units.pasting else swelled
                hand_on(units.feed(decoder.decode(data.replace(b"\n", b"\r") if ahead else data)))
                ahead = False
            elif decoder.getstate()[0] and now - came > HALF:
                hand_on(units.feed(decoder.decode(b"", final=True)))
                decoder.reset()
            if units.pasting and now - swelled > PASTE:
                hand_on(iter([units.end_paste()]))
            elif patience is not None and now - came >= patience and not ready:
                hand_on(units.give_up())
