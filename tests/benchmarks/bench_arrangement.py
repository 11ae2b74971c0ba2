"""Arrangements of 1 400 small random rigs against every other arrangement of each, which `check` judges one by one.

Run it by itself. Prints how many are as good as any, how many of them proven, and how long the search took; ends with
status 1 where one is refused by `check`, or is proven and yet not the best.
"""

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from engine_mains.exhaustive import allowed, best, random_rig, worth
from rackwright.engine.allocation import arrangement
from rackwright.engine.assess import assess

COUNT = 1400


def main() -> int:
    """Status 1 where something is wrong."""
    equal = proven = wrong = 0
    seconds = 0.0
    for seed in range(COUNT):
        rig = random_rig(seed)
        before = assess(rig)
        began = time.process_time()
        made = arrangement.propose(before)
        seconds += time.process_time() - began
        mine = worth(before, made.assessment, len(made.unplaced), len(made.moves))
        same = all(abs(a - b) <= 1e-4 * (1 + abs(b)) for a, b in zip(mine, best(rig), strict=True))
        equal, proven = equal + same, proven + made.proven
        if not allowed(before, made.assessment) or (made.proven and not same):
            wrong += 1
            print(f"rig {seed}: {made.moves}")
    print(
        f"{COUNT} rigs, {equal} arranged as well as can be, {proven} with a proof, {wrong} wrong; {seconds:.1f} s of search"
    )
    return bool(wrong)


if __name__ == "__main__":
    sys.exit(main())
