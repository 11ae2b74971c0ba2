"""How long plans for a failure take on the shipped presets and on rigs of 40 to 2560 sections, and how long a rehearsal does.

Run on request: `python tests/benchmarks/bench_recovery.py`. The rig as it was is assessed already, as in the console.
Nothing is asserted of a time.
"""

import argparse
import os
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

import generate

from rackwright.engine.assess import assess
from rackwright.engine.recovery import recover, rehearse
from rackwright.model.rig import Rig
from rackwright.store.rig_file import load

PRESETS = Path(__file__).parents[2] / "presets"
CASES = {
    "small-room": ("A1.1", "A2", "P1"),
    "hall": ("A1.1", "A4.1", "A9.1", "A3", "P2"),
    "outdoor-stage": ("A1.1", "A8.1", "A11.1", "A1", "A7", "P1", "P7", "R3"),
}
SIZES = (40, 160, 640, 2560)
TIMES = 5


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--no-rehearsal", action="store_true", help="leave the rehearsals out")
    options = parser.parse_args()
    print(f"{'rig':>14}  {'failed':>6}  {'ms':>7}  {'cpu ms':>7}  plans  proven  best")
    for name, failures in CASES.items():
        rig = load(PRESETS / f"{name}.toml")
        for failed in failures:
            _tell(name, rig, failed)
    for size in SIZES:
        _tell(f"{size} sections", generate.rig(size, distinct=True), "A0.1")
    for name in () if options.no_rehearsal else CASES:
        rig = load(PRESETS / f"{name}.toml")
        spent, cpu, found = _timed(lambda rig=rig: rehearse(rig), 1)
        print(
            f"rehearse {name}: {spent / 1e3:.1f} s, {cpu / 1e3:.1f} s of it on the processor, {len(found.failures)} failures"
        )
    print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


def _tell(name: str, rig: Rig, failed: str) -> None:
    prior = assess(rig)
    spent, cpu, found = _timed(lambda: recover(rig, [failed], prior), TIMES)
    best = found.best
    print(
        f"{name:>14}  {failed:>6}  {spent:7.1f}  {cpu:7.1f}  {len(found.plans):5}  {found.proven!s:>6}  "
        f"{best.rank.silent:g} silent, {best.rank.loss:g} dB, {best.rank.moves} moves"
    )


def _timed(work: Callable[[], Any], times: int) -> tuple[float, float, Any]:
    """Median ms of wall clock and of processor time, and what the work gives."""
    walls, cpus = [], []
    for _ in range(times):
        wall, cpu = time.perf_counter(), time.process_time()
        found = work()
        walls.append((time.perf_counter() - wall) * 1e3)
        cpus.append((time.process_time() - cpu) * 1e3)
    return median(walls), median(cpus), found


if __name__ == "__main__":
    main()
