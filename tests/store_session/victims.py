"""Sessions that are killed: processes that record rigs as the console does, and what each had done when it died.

Run as a program, so that it can fork with no thread about. Writes its results as JSON, a list for each victim of the
marks it left: `begun 3` before it recorded the third rig, `done 3` after.
"""

import json
import os
import random
import select
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from rackwright.model.rig import Rig
from rackwright.store import rig_file
from rackwright.store.home import VARIABLE
from rackwright.store.safe import journal, journal_record

from .edits import rigs_of

Mark = Callable[[str], None]
Kill = Callable[[int, int], bytes]
"""Ends the process of that number, whose marks come from that handle; gives the marks it has read itself."""


def victim(home: Path, life: Callable[[Mark], None], kill: Kill) -> list[str]:
    """Fork a process that leads `life` with that user's folder, let `kill` end it, and give the marks it left."""
    reader, writer = os.pipe()
    number = os.fork()
    if number == 0:
        signal.signal(signal.SIGHUP, signal.SIG_DFL)  # who runs the tests may have told them to ignore it
        os.environ[VARIABLE] = str(home)
        try:
            life(lambda text: os.write(writer, f"{text}\n".encode()) and None)
            os._exit(0)
        finally:
            os._exit(70)
    os.close(writer)
    read = kill(number, reader)
    _, status = os.waitpid(number, 0)
    with open(reader, "rb") as file:
        marks = (read + file.read()).decode().split("\n")[:-1]
    if os.WIFEXITED(status):
        marks.append(f"exit {os.WEXITSTATUS(status)}")
    return marks


def records(rigs: list[Rig], mark: Mark, keeper: journal.Journal | None = None) -> None:
    keeper = keeper or journal.Journal("venue.toml")
    for number, rig in enumerate(rigs, 1):
        mark(f"begun {number}")
        keeper.record(rig)
        mark(f"done {number}")


# ---- The ways to die -----------------------------------------------------------------------------------


def after_each_step(base: Path, rigs: list[Rig], name: str) -> list[Any]:
    """For each number of rigs, one that is killed by that signal once it has recorded so many and is waiting."""

    def life(count: int) -> Callable[[Mark], None]:
        def live(mark: Mark) -> None:
            records(rigs[:count], mark)
            mark("waits")
            time.sleep(600)

        return live

    def kill(number: int, reader: int) -> bytes:
        seen = read_until(reader, b"waits")
        os.kill(number, signal.Signals[name])
        return seen

    return [victim(base / str(n), life(n), kill) for n in range(1, len(rigs) + 1)]


def read_until(reader: int, text: bytes) -> bytes:
    seen = b""
    while text not in seen:
        ready, _, _ = select.select([reader], [], [], 60)
        part = os.read(reader, 4096) if ready else b""
        if not part:
            raise SystemExit(f"the victim left no mark {text!r} but {seen!r}")
        seen += part
    return seen


def one_life_after_another(base: Path, rigs: list[Rig]) -> list[Any]:
    """Each takes over what the one before it left, records one rig more and is killed; all in one user's folder."""

    def live(mark: Mark) -> None:
        left = journal.recoverable()
        keeper = journal.take_over(left[0]) if left else journal.Journal("venue.toml")
        number = rigs.index(left[0].rig()) + 1 if left else 0
        mark(f"found {number}")
        keeper.record(rigs[number])
        mark("waits")
        time.sleep(600)

    def kill(number: int, reader: int) -> bytes:
        seen = read_until(reader, b"waits")
        os.kill(number, signal.SIGKILL)
        return seen

    return [victim(base / "one", live, kill) for _ in rigs]


def at_any_moment(base: Path, rigs: list[Rig], rounds: int) -> list[Any]:
    """Killed at moments drawn by chance while recording one rig after the other without a pause."""
    chance = random.Random(4)

    def kill(number: int, reader: int) -> bytes:
        seen = read_until(reader, b"begun %d\n" % chance.randint(1, len(rigs)))
        time.sleep(chance.uniform(0, 0.01))
        os.kill(number, signal.SIGKILL)
        return seen

    return [victim(base / str(n), lambda mark: records(rigs, mark), kill) for n in range(rounds)]


CALLS = ("open", "mkdir", "pwrite", "ftruncate", "fsync", "replace", "unlink", "close")


def at_each_call(base: Path, rigs: list[Rig]) -> list[Any]:
    """For each call to the system that recording makes, one that is killed just there; and in the middle of each write."""
    deaths: list[Any] = []
    while not deaths or not deaths[-1][-1].startswith("exit"):
        deaths.append(victim(base / str(len(deaths)), dying_at(len(deaths), rigs), lambda *_: b""))
    return deaths


def dying_at(last: int, rigs: list[Rig]) -> Callable[[Mark], None]:
    left = [last]

    def step() -> None:
        if left[0] == 0:
            os.kill(os.getpid(), signal.SIGKILL)
        left[0] -= 1

    def live(mark: Mark) -> None:
        for name in CALLS:
            setattr(os, name, guarded(getattr(os, name), step))
        whole = os.pwrite
        os.pwrite = lambda handle, data, at: whole(handle, data[: len(data) // 2 + 1], at)
        journal_record._sync = guarded(journal_record._sync, step)
        keeper = journal.Journal("venue.toml")
        records(rigs, mark, keeper)
        mark("discards")
        keeper.discard()
        mark("discarded")

    return live


def guarded(call: Callable[..., Any], step: Callable[[], None]) -> Callable[..., Any]:
    def called(*args: Any, **kwargs: Any) -> Any:
        step()
        return call(*args, **kwargs)

    return called


def main() -> None:
    way, base, start, seed, count, *rest = sys.argv[1:]
    rigs = rigs_of(rig_file.load(start), int(seed), int(count))
    ways: dict[str, Callable[[], list[Any]]] = {
        "after_each_step": lambda: after_each_step(Path(base), rigs, *rest),
        "one_life_after_another": lambda: one_life_after_another(Path(base), rigs),
        "at_any_moment": lambda: at_any_moment(Path(base), rigs, int(rest[0])),
        "at_each_call": lambda: at_each_call(Path(base), rigs),
    }
    print(json.dumps(ways[way]()))


if __name__ == "__main__":
    main()
