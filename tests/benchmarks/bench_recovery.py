"""How long the first plan, its proof and all plans take for every kind of failure of the shipped presets, and a rehearsal.

Run on request: `python tests/benchmarks/bench_recovery.py`. The rig as it was is assessed already, as in the console; the
first plan is what the console shows at once; after its proof no other becomes the first. Times are of the processor, so
that a busy machine matters less; of a rehearsal first those in one process, then by the clock in several.
Nothing is asserted of a time.
"""

import argparse
import itertools
import os
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import median

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.recovery import Rehearsal, fail, in_turn, recover, stages
from rackwright.model.rig import Rig
from rackwright.store.rig_file import load
from rackwright.workers import Workers

PRESETS = Path(__file__).parents[2] / "presets"
NAMES = ("small-room", "hall", "outdoor-stage")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--no-rehearsal", action="store_true", help="leave the rehearsals out")
    parser.add_argument("--every", type=int, default=1, help="of each kind only every so many")
    parser.add_argument("--no-proof", action="store_true", help="leave the proofs out")
    options = parser.parse_args()
    print(
        f"{'rig':>14}  {'fails':>9}  {'n':>4}  {'first ms':>8}  {'worst':>6}  {'':>10}"
        f"  {'proof ms':>8}  {'worst':>6}  {'':>10}  {'all ms':>8}  {'worst':>6}"
    )
    for name in NAMES:
        rig = load(PRESETS / f"{name}.toml")
        _tell(name, rig, options.every, not options.no_proof)
    for name in () if options.no_rehearsal else NAMES:
        _rehearse(name, load(PRESETS / f"{name}.toml"))
    print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


def _tell(name: str, rig: Rig, every: int, proof: bool) -> None:
    prior = assess(rig)
    of: dict[str, list[tuple[list[float], str]]] = defaultdict(list)
    recover(rig, [next(iter(prior.branches))], prior)  # what is loaded once
    for kind, failing in _failures(rig, prior).items():
        for failed in failing[::every]:
            of[kind].append((_times(fail(rig, [failed]), prior, proof), failed))
    for kind, times in of.items():
        print(f"{name:>14}  {kind:>9}  {len(times):4}", end="")
        for answer in (0, 2, 3) if proof else (0,):
            took = [(each[min(answer, len(each) - 1)], failed) for each, failed in times]
            worst, failed = max(took)
            print(f"  {median([each for each, _ in took]):8.0f}  {worst:6.0f}  {failed:>10}", end="")
        print(flush=True)


def _times(rig: Rig, prior: Assessed, proof: bool) -> list[float]:
    """ms of the processor until each answer."""
    began = time.process_time()
    answers = in_turn(rig, prior)
    return [(time.process_time() - began) * 1e3 for _ in (answers if proof else itertools.islice(answers, 1))]


def _rehearse(name: str, rig: Rig) -> None:
    """Say what each stage takes, and where a rehearsal doesn't say what `recover` says."""
    prior = assess(rig)
    _stages(f"rehearse {name}, of the processor", stages(rig, prior), time.process_time)
    with Workers() as workers:
        several = stages(rig, prior, answers=workers.answers)
        found = _stages(f"rehearse {name} in {workers.count}, by the clock", several, time.monotonic)
    for failure in found.failures:
        best = recover(rig, failure.names, prior).best
        if (best.moves, best.criteria) != (failure.plan.moves, failure.best):
            print(f"recover says another thing of {failure.name}: {best.criteria}, not {failure.best}")


def _stages(what: str, told: Iterator[Rehearsal], clock: Callable[[], float]) -> Rehearsal:
    """The last stage; say when each has begun, what helps left out."""
    began, stage = clock(), ""
    for found in told:
        if found.stage != stage:
            print(f"{what}, {clock() - began:.1f} s: {found.stage}", flush=True)
            stage = found.stage
        if stage == "what would help":
            break
    print(f"{what}, {clock() - began:.1f} s: {len(found.failures)} kinds of failures")
    return found


def _failures(rig: Rig, prior: Assessed) -> dict[str, list[str]]:
    return {
        "channel": list(prior.branches),
        "amplifier": [amplifier.id for amplifier in rig.amplifiers()],
        "line": [line.id for line in rig.lines],
        "circuit": [circuit.id for circuit in rig.circuits],
        "rack": [rack.id for rack in rig.racks],
    }


if __name__ == "__main__":
    main()
