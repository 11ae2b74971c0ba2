"""How long the first plan and the proof take for every kind of failure of the shipped presets, and how long a rehearsal does.

Run on request: `python tests/benchmarks/bench_recovery.py`. The rig as it was is assessed already, as in the console; the
first plan is what the console shows at once. Times are of the processor, so that a busy machine matters less.
Nothing is asserted of a time.
"""

import argparse
import os
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.recovery import fail, in_turn, recover, stages
from rackwright.model.rig import Rig
from rackwright.store.rig_file import load

PRESETS = Path(__file__).parents[2] / "presets"
NAMES = ("small-room", "hall", "outdoor-stage")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--no-rehearsal", action="store_true", help="leave the rehearsals out")
    parser.add_argument("--every", type=int, default=1, help="of each kind only every so many")
    parser.add_argument("--no-proof", action="store_true", help="leave the proofs out")
    options = parser.parse_args()
    print(
        f"{'rig':>14}  {'fails':>9}  {'n':>4}  {'first ms':>8}  {'worst':>6}  {'':>10}  {'proof ms':>8}  {'worst':>6}"
    )
    for name in NAMES:
        rig = load(PRESETS / f"{name}.toml")
        _tell(name, rig, options.every, not options.no_proof)
    for name in () if options.no_rehearsal else NAMES:
        _rehearse(name, load(PRESETS / f"{name}.toml"))
    print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


def _tell(name: str, rig: Rig, every: int, proof: bool) -> None:
    prior = assess(rig)
    of: dict[str, list[tuple[float, float, str]]] = defaultdict(list)
    recover(rig, [next(iter(prior.branches))], prior)  # what is loaded once
    for kind, failing in _failures(rig, prior).items():
        for failed in failing[::every]:
            first, _ = _timed(lambda failed=failed: next(in_turn(fail(rig, [failed]), prior)))
            whole = _timed(lambda failed=failed: recover(rig, [failed], prior))[0] if proof else 0.0
            of[kind].append((first, whole, failed))
    for kind, times in of.items():
        firsts, wholes = ([each[i] for each in times] for i in (0, 1))
        print(
            f"{name:>14}  {kind:>9}  {len(times):4}  {median(firsts):8.0f}  {max(firsts):6.0f}  {max(times)[2]:>10}  "
            f"{median(wholes):8.0f}  {max(wholes):6.0f}"
        )


def _rehearse(name: str, rig: Rig) -> None:
    """Say what each stage takes of the processor, and where a rehearsal doesn't say what `recover` says."""
    prior = assess(rig)
    began, stage = time.process_time(), ""
    for found in stages(rig, prior):
        if found.stage != stage:
            print(f"rehearse {name}, {time.process_time() - began:.1f} s: {found.stage}", flush=True)
            stage = found.stage
        if stage == "what would help":
            break
    print(f"rehearse {name}, {time.process_time() - began:.1f} s: {len(found.failures)} kinds of failures")
    for failure in found.failures:
        best = recover(rig, failure.names, prior).best
        if (best.moves, best.criteria) != (failure.plan.moves, failure.best):
            print(f"recover says another thing of {failure.name}: {best.criteria}, not {failure.best}")


def _failures(rig: Rig, prior: Assessed) -> dict[str, list[str]]:
    return {
        "channel": list(prior.branches),
        "amplifier": [amplifier.id for amplifier in rig.amplifiers()],
        "line": [line.id for line in rig.lines],
        "circuit": [circuit.id for circuit in rig.circuits],
        "rack": [rack.id for rack in rig.racks],
    }


def _timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """ms of the processor, and what the work gives."""
    began = time.process_time()
    found = work()
    return (time.process_time() - began) * 1e3, found


if __name__ == "__main__":
    main()
