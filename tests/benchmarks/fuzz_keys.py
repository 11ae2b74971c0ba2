"""Keys by the thousand, and bytes that no keyboard sends: counts what raises, ends or deafens the console.

Run on request: `python tests/benchmarks/fuzz_keys.py`. Keys go into the app without a terminal, and the rig that comes of
them must keep the rules, save and load; bytes go through a real pseudo-terminal, after which a key must still be heard.
The exit status is 1 where anything was found.
"""

import argparse
import asyncio
import os
import random
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import chdir
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from console.hand import opened
from console_live.running import console, environment
from console_live.terminal import KEYS, Gone, Terminal
from console_live.test_monkey import BATCH, SIZES, monkey
from rackwright.store.home import VARIABLE

STARTS = ("small-room", "hall", "outdoor-stage")
LIFE = 400
"""Keys, or pieces of bytes, in one session."""
ODD = (
    b"\xfc", b"\xe4", b"\xff\xfe", b"\0", b"\x1b", b"\x1b[", b"\x1bO", b"\x1b]0;", b"\x1bP", b"\x1b\\", b"\x9b", b"\xc2\x9b",
    b"\x1b[200~", b"\x1b[201~", b"\x1b[I", b"\x1b[O", b"\x1b[M", b"\x1b[[", b"\x1b[?2048;1$y", b"\x1b[24;80R", b"\x07", b";", b"9" * 40,
)  # fmt: skip
FINALS = b"~uMmARtcyqhlnJKH@`z"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--keys", type=int, default=20_000)
    parser.add_argument("--bytes", type=int, default=20_000, help="pieces of bytes")
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as folder, chdir(folder):
        os.environ[VARIABLE] = str(Path(folder, "home"))
        keys = [*fuzz_keys(options.keys, options.seed, Path(folder))]
        print(f"{options.keys} keys: {len(keys)} found", *keys, sep="\n  ", flush=True)
        odd = [*fuzz_bytes(options.bytes, options.seed, Path(folder))]
        print(f"{options.bytes} pieces of bytes: {len(odd)} found", *odd, sep="\n  ")
    print(f"{time.monotonic() - begun:.0f} s")
    return 1 if keys or odd else 0


def fuzz_keys(count: int, seed: int, folder: Path) -> Iterator[str]:
    """What was found in so many keys."""
    for life, left in enumerate(range(count, 0, -LIFE)):
        chance = random.Random(f"{seed} {life}")
        start = chance.choice(STARTS)
        try:
            asyncio.run(_keys(start, chance, max(min(left, LIFE), BATCH), folder))
        except BaseException as error:
            if isinstance(error, KeyboardInterrupt):
                raise
            yield f"life {life}, {start}: {type(error).__name__}: {str(error)[:300]}"


async def _keys(start: str, chance: random.Random, count: int, folder: Path) -> None:
    async with opened(preset=start, size=chance.choice(SIZES)) as hand:
        await monkey(hand, chance, count, folder)


def fuzz_bytes(count: int, seed: int, folder: Path) -> Iterator[str]:
    """What was found in so many pieces."""
    for life, left in enumerate(range(count, 0, -LIFE)):
        chance = random.Random(f"bytes {seed} {life}")
        sent: list[bytes] = []
        with Terminal(console(chance.choice(STARTS)), environment(folder / "home"), cwd=folder) as terminal:
            try:
                terminal.until("? help")
                _bytes(terminal, chance, min(left, LIFE), sent)
            except (Gone, AssertionError, OSError) as error:
                if terminal.process.poll() != 0:  # keys among them may have left it by the way out
                    yield f"life {life}: {type(error).__name__} after {sent[-12:]}"


def _bytes(terminal: Terminal, chance: random.Random, count: int, sent: list[bytes]) -> None:
    for number in range(count):
        sent.append(piece(chance))
        terminal.send_bytes(sent[-1])
        terminal.read()
        if number % BATCH == BATCH - 1:
            time.sleep(2.5)  # what was begun and has no end is given up
            terminal.press(*["escape"] * 10)
            terminal.settled()
            terminal.press("?")
            terminal.until("Keys")
            terminal.press("escape")


def piece(chance: random.Random) -> bytes:
    """A key, something odd, a control sequence with any numbers, or plain noise; at times only a part of it."""
    match chance.randrange(5):
        case 0 | 1:
            name = chance.choice([name for name in KEYS if not name.startswith("ctrl")])
            whole = KEYS[name].encode()
        case 2:
            whole = chance.choice(ODD)
        case 3:
            numbers = ";".join(
                str(chance.choice([0, 1, 7, 65, 2**16, 2**21, 10**20, -3]))
                for _ in range(chance.randrange(5))
            )
            whole = (
                b"\x1b["
                + chance.choice([b"", b"<", b"?", b">"])
                + numbers.encode()
                + bytes([chance.choice(FINALS)])
            )
        case _:
            whole = bytes(chance.choice(range(0x80, 0x100)) for _ in range(chance.randrange(1, 12)))
    return whole[: chance.randrange(1, len(whole) + 1)] if chance.random() < 0.2 else whole


if __name__ == "__main__":
    sys.exit(main())
