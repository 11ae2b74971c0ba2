"""Consoles forked from a parent that has imported all of them: most of a start is the reading of modules.

What is forked is a process of its own on a terminal of its own, with the environment it is given; it runs the
command's `main` and ends by itself. Tests of the start itself, and of a remote end, start the command cold instead.
"""

import atexit
import fcntl
import functools
import importlib
import json
import os
import signal
import socket
import subprocess
import sys
import termios
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import rackwright

_PARENT = "from console_live.warm import next_console; exec(next_console({})); from rackwright.cli import main; main()"
_LONGEST = 1 << 16
"""Bytes of an order."""


class Forked:
    """One console, told of as `subprocess.Popen` tells of a process."""

    def __init__(self, pid: int) -> None:
        self.pid = pid
        self._status: int | None = None

    def poll(self) -> int | None:
        """Its status once it has ended: less than zero where a signal ended it."""
        if self._status is None:
            self._status = _asked({"ended": self.pid})
        return self._status

    def wait(self, timeout: float, /) -> int:
        """Its status. Raises TimeoutError where it has none after that many seconds."""
        last = time.monotonic() + timeout
        while (status := self.poll()) is None:
            if time.monotonic() > last:
                raise TimeoutError(f"process {self.pid} goes on")
            time.sleep(0.005)
        return status

    def send_signal(self, number: int, /) -> None:
        """Send it, unless it has ended."""
        if self.poll() is None:
            os.kill(self.pid, number)

    def kill(self) -> None:
        """End it at once."""
        self.send_signal(signal.SIGKILL)


def fork(
    words: Sequence[str], first: str, terminal: int, environment: Mapping[str, str], folder: str
) -> Forked:
    """A console of these words on the terminal of that handle; `first` is run in it before."""
    order = {"words": words, "first": first, "environment": environment, "folder": folder}
    pid = _asked(order, [terminal])
    assert pid
    return Forked(pid)


def _asked(order: Mapping[str, Any], handles: Sequence[int] = ()) -> int | None:
    parent = _parent()
    socket.send_fds(parent, [json.dumps(order).encode()], handles)
    answer: int | None = json.loads(parent.recv(_LONGEST))
    return answer


@functools.cache
def _parent() -> socket.socket:
    """Where the parent takes orders; it ends when that is closed, as it is with this process."""
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    places = [str(Path(file).parents[1]) for file in (rackwright.__file__, __file__)]
    with theirs:
        parent = subprocess.Popen(
            [sys.executable, "-c", _PARENT.format(theirs.fileno())],
            pass_fds=[theirs.fileno()],
            env={"LANG": "C.UTF-8", "PATH": os.environ["PATH"], "PYTHONPATH": os.pathsep.join(places)},
        )
    atexit.register(lambda: (ours.close(), parent.wait()))
    return ours


# --- in the parent, and in what it forks -----------------------------------------------------------------


def next_console(handle: int) -> str:
    """Take orders; comes back only in a process forked for one, with what that is to run first."""
    _import_all()
    with socket.socket(fileno=handle) as orders:
        while True:
            message, handles, *_ = socket.recv_fds(orders, _LONGEST, 1)
            if not message:
                os._exit(0)
            order = json.loads(message)
            answer = _status(order["ended"]) if "ended" in order else os.fork()
            if answer == 0 and handles:
                break
            for given in handles:
                os.close(given)
            orders.send(json.dumps(answer).encode())
    _move_to(handles[0])
    os.chdir(order["folder"])
    os.environ.clear()
    os.environ.update(order["environment"])
    sys.argv = ["rackwright", *order["words"]]
    return str(order["first"])


def _import_all() -> None:
    """As the console imports it: what the toolkit reads of its environment then is set before."""
    from rackwright.console import run

    os.environ |= {"TEXTUAL_FPS": run.FRAMES, "ESCDELAY": run.ESCAPE}
    for name in ("app", *run.LATER):
        importlib.import_module(f"rackwright.console.{name}")


def _status(process: int) -> int | None:
    ended, status = os.waitpid(process, os.WNOHANG)
    return os.waitstatus_to_exitcode(status) if ended else None


def _move_to(terminal: int) -> None:
    os.setsid()
    fcntl.ioctl(terminal, termios.TIOCSCTTY, 0)
    for stream in range(3):
        os.dup2(terminal, stream)
    os.close(terminal)
