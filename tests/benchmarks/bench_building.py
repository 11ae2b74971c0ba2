"""How many keys, and how long, Harvest Shed takes to build from nothing at 80×24, step by step.

Run on request: `python tests/benchmarks/bench_building.py`. The whole app without a terminal, the keys of each step at
once. Prints each step's keys and processor time; that the rig comes out right is a test's to say.
"""

import asyncio
import os
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from console.hand import opened
from console.harvest_shed import STEPS, keys


async def main() -> None:
    total = 0
    async with opened(size=(80, 24)) as hand:
        for what, step in STEPS:
            pressed, begun = list(keys(step)), time.process_time()
            await hand.burst(*pressed)
            total += len(pressed)
            print(f"{len(pressed):>4} keys {time.process_time() - begun:>6.2f} s cpu  {what}")
    print(f"{total:>4} keys")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        os.environ["RACKWRIGHT_HOME"] = folder
        os.chdir(folder)
        asyncio.run(main())
