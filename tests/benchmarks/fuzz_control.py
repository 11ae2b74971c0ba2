"""Several consoles on one rig that ask for control, give it, take it, edit, tick and die at any call: counts what was wrong.

Run on request: `python tests/benchmarks/fuzz_control.py`. Wrong is two consoles in control at once, an edit, a tick or
the edit lock that was seen and is gone, and a console that follows and shows another rig. The exit status is 1 where
anything was found.
"""

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from console_live.consoles import play
from rackwright.store.home import VARIABLE


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--games", type=int, default=100)
    parser.add_argument("--steps", type=int, default=60)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    begun, found = time.monotonic(), []
    for number in range(options.games):
        seed = options.seed * 1000 + number
        with tempfile.TemporaryDirectory() as folder:
            os.environ[VARIABLE] = str(Path(folder, "home"))
            found += [f"game {seed}, {told}" for told in play(Path(folder), seed, options.steps)]
    print(f"{options.games} games of {options.steps} steps: {len(found)} found", *found, sep="\n  ")
    print(f"{time.monotonic() - begun:.0f} s")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
