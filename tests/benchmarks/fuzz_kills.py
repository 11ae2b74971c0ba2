"""The console killed over and over, after an edit and in the midst of one: counts what was not there at the next start.

Run on request: `python tests/benchmarks/fuzz_kills.py`. Each life recovers what the one before it left, makes one edit in
a real pseudo-terminal and is ended by KILL, HUP or TERM; the journal must hold the rig as it was seen last, or the one
that was being made. The exit status is 1 where anything was found.
"""

import argparse
import asyncio
import os
import random
import sys
import tempfile
import time
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from console_live.running import console, environment
from console_live.steps import drawn
from console_live.terminal import Terminal
from console_live.test_kill import SIGNALS, SIZE, by_hand, press, recover
from rackwright.store import presets, rig_file
from rackwright.store.home import VARIABLE
from rackwright.store.safe import journal

LIVES = 10
"""On one rig."""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=150)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    begun, found = time.monotonic(), []
    for number, left in enumerate(range(options.kills, 0, -LIVES)):
        with tempfile.TemporaryDirectory() as folder:
            os.environ[VARIABLE] = str(Path(folder, "home"))
            seed = options.seed * 1000 + number
            found += [f"rig {number}, {told}" for told in killed(Path(folder), seed, min(left, LIVES))]
    print(f"{options.kills} kills: {len(found)} found", *found, sep="\n  ")
    print(f"{time.monotonic() - begun:.0f} s")
    return 1 if found else 0


def killed(folder: Path, seed: int, lives: int) -> Iterator[str]:
    """What was found in so many lives."""
    chance, file = random.Random(seed), folder / "venue.toml"
    presets.copy_out("small-room", file)
    steps = list(islice(drawn(seed, rig_file.load(file)), lives))
    rigs = [rig_file.load(file), *asyncio.run(by_hand(file, steps))]
    done = 0
    for life in range(lives):
        midway = chance.random() < 0.5
        with Terminal(
            console(str(file)), environment(folder / "home"), columns=SIZE[0], rows=SIZE[1]
        ) as terminal:
            if journal.recoverable():
                recover(terminal)
            else:
                terminal.until("Results")
            if midway:
                terminal.press(*steps[done].keys)
                time.sleep(chance.uniform(0, 0.6))
            else:
                press(terminal, steps[done])
            terminal.end(chance.choice(SIGNALS))
        left = [each.rig() for each in journal.recoverable()] or [rigs[0]]
        possible = rigs[done : done + 2] if midway else [rigs[done + 1]]
        if len(left) != 1 or left[0] not in possible:
            yield f"life {life}, step {steps[done].label}: {len(left)} journals, not the rig that was seen"
            return
        done += left[0] != rigs[done]


if __name__ == "__main__":
    sys.exit(main())
