"""Damaging files by chance, the same way for the same seed: their bytes, pieces of their text, the values in them.

For tests and for the fuzzing scripts of `benchmarks`. Knows nothing of who reads them. `fuzz` runs such a script.
"""

import argparse
import contextlib
import copy
import os
import random
import shutil
import signal
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from rackwright.store.home import VARIABLE

PIECES = (
    *'"\n\r\t[]{}=.,#\\\'+- \x00\ufeffΩ', '"""', "'''", "[[", "]]", "lines", "racks", "[[racks]]\n", "[[racks.amplifiers]]\n",
    'id = "A1"\n', "unit", "1", "1e999", "nan", "true", "1979-05-27", "99999999999999999999", "0x" + "f" * 50, "[[[[", "{a={a={",
)  # fmt: skip
"""What means something in TOML."""

MORE = (
    *PIECES, ";", "\t", "'=1", "inf", "-inf", "1,5", "1.234,5", "yes", "\x1b[2J", "\x9b", "\u202e", "\ud7ff", "é", "x" * 300,
    "a." * 200, "9" * 5000, '"a\n', "open", "0", "-1", "1e400", "A1.1", "P1", "20 m", "10^9 m", "1e-320 ohm", "0 ohm", "🔊",
)  # fmt: skip

VALUES = (
    None, True, False, 0, -1, 1, 2, 10**6, 2**62, 2**63, -(2**64), 10**400, 0.0, -0.5, 1e308, float("nan"), float("inf"),
    "", " ", "\x00", "\x1b[2J", "\u202e", "A1.1", "A1", "P1", "R1-1", "-A1.1", "20 m", "0 m", "-1 m", "4 ohm", "0 ohm", "inf ohm",
    "9" * 200, "1e400 m", "#99999999999", "bridged", "open", "x" * 70_000, [], {}, [[]], [{}], {"id": "A1"}, ["A1.1", ""],
)  # fmt: skip


def spoilt(chance: random.Random, content: bytes) -> bytes:
    """The bytes with a few pieces cut out, put in, doubled or flipped."""
    text = content
    for _ in range(chance.choice((1, 1, 1, 2, 3, 8))):
        at = chance.randrange(len(text) + 1)
        cut = chance.choice((0, 0, 1, 1, 2, 10, 200))
        match chance.randrange(5):
            case 0:
                new = chance.randbytes(chance.choice((1, 1, 2, 9)))
            case 1:
                other = chance.randrange(len(text) + 1)
                new = text[other : other + chance.choice((5, 40, 400))]
            case 2:
                new = b""
            case _:
                new = chance.choice(MORE).encode("utf-8", "surrogatepass")
        text = text[:at] + new + text[at + cut :]
    return text


def places(data: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every path in plain data."""
    inside = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    return [
        *([path] if path else []),
        *(deeper for key, value in inside for deeper in places(value, (*path, key))),
    ]


def at(data: Any, path: tuple[Any, ...]) -> Any:
    """What stands at a path."""
    for step in path:
        data = data[step]
    return data


def swapped(chance: random.Random, data: Any) -> Any:
    """Plain data with a few values taken out, put elsewhere, or changed for others."""
    made = copy.deepcopy(data)
    for _ in range(chance.choice((1, 1, 2, 4))):
        known = places(made)
        if not known:
            return made
        path = chance.choice(known)
        holder, key = at(made, path[:-1]), path[-1]
        match chance.randrange(5):
            case 0:
                holder[key] = copy.deepcopy(at(made, chance.choice(known)))
            case 1:
                del holder[key]
            case 2 if isinstance(holder, list):
                holder.append(copy.deepcopy(holder[key]))
            case 2:
                holder[f"{key}{chance.choice(('', 's', 'x'))}"] = holder.pop(key)
            case _:
                holder[key] = copy.deepcopy(chance.choice(VALUES))
    return made


class Endless(BaseException):
    """Something took too long; no `except Exception` on the way catches it."""


@contextlib.contextmanager
def watched(seconds: float) -> Iterator[None]:
    """Raise Endless where what is done takes more of the processor's time; how busy the machine is doesn't count."""

    def bark(*_: object) -> None:
        raise Endless

    former = signal.signal(signal.SIGPROF, bark)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, former)


def fuzz(told: str | None, what: str, fuzzed: Callable[[int, int], int]) -> int:
    """Run a fuzzer for so many and with the seed that the command line names, in a folder of its own, where what is found stays.

    Gives the exit status: 1 where anything was found.
    """
    parser = argparse.ArgumentParser(description=told)
    parser.add_argument("count", type=int, nargs="?", default=20_000)
    parser.add_argument("seed", type=int, nargs="?", default=1)
    asked = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="rackwright-fuzz-"))
    os.environ[VARIABLE] = str(folder / "home")
    os.chdir(folder)
    begun = time.monotonic()
    found = fuzzed(asked.count, asked.seed)
    print(f"{asked.count} {what} in {time.monotonic() - begun:.0f} s, seed {asked.seed}: {found} found")
    if found:
        print(f"They are in {folder}.")
        return 1
    shutil.rmtree(folder)
    return 0
