"""How long `assess` takes, cold and after an edit, on rigs of 10 to 10 000 sections; and the same networks through ngspice.

Run on request: `python tests/benchmarks/bench_assess.py`. Every size is run in a process of its own, so that nothing
is kept from the one before. Nothing is asserted of a time; figures are held against ngspice where it is installed.
"""

import argparse
import gc
import json
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median
from typing import Any

import generate
from msgspec.structs import replace

from rackwright.engine.assess import assess
from rackwright.model.rig import Rig
from rackwright.units import Length

SIZES = (10, 100, 1_000, 10_000)
EDITS = 9


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sizes", type=int, nargs="*", default=SIZES, help="numbers of sections")
    parser.add_argument("--one", choices=("distinct", "stocked"), help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.one:
        (size,) = options.sizes
        print(json.dumps(measured(size, options.one == "distinct")))
        return
    for lengths in ("distinct", "stocked"):
        rows = [_in_own_process(size, lengths) for size in options.sizes]
        print(_table(lengths, rows))


def _in_own_process(size: int, lengths: str) -> dict[str, Any]:
    command = [sys.executable, __file__, str(size), "--one", lengths]
    return json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def measured(size: int, distinct: bool) -> dict[str, Any]:
    """Times in ms and memory in MB of one rig, in a process that has assessed nothing yet."""
    rig = generate.rig(size, distinct)
    gc.collect()
    before = _peak_memory()
    start = time.perf_counter()
    told = assess(rig)
    cold = _since(start)
    peak = _peak_memory()
    edits = []
    for i in range(EDITS):
        edited = _longer(rig, i)
        start = time.perf_counter()
        told_of_edited = assess(edited, told)
        edits.append(_since(start))
    del told_of_edited
    return {
        "sections": len(told.sections),
        "cold": cold,
        "edit": median(edits),
        "edit_most": max(edits),
        "assess_mb": peak - before,
        "process_mb": peak,
    } | _through_ngspice(rig, told)


def _longer(rig: Rig, i: int) -> Rig:
    """One line longer than any other: the edit that nothing kept can serve."""
    place = (i * 7919) % len(rig.lines)
    line = replace(rig.lines[place], length=Length.parse(f"{2000 + i} m"))
    return replace(rig, lines=(*rig.lines[:place], line, *rig.lines[place + 1 :]))


def _since(start: float) -> float:
    return (time.perf_counter() - start) * 1e3


def _peak_memory() -> float:
    """Highest resident memory of this process so far, in MB. Linux counts in kB, macOS in bytes."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)


def _through_ngspice(rig: Rig, told: Any) -> dict[str, Any]:
    """The operating point of the same resistors: time of the process in ms, and the largest difference in voltage."""
    program = shutil.which("ngspice")
    if program is None:
        return {}
    with tempfile.TemporaryDirectory() as folder:
        deck, out = Path(folder, "rig.cir"), Path(folder, "out.raw")
        deck.write_text(_netlist(rig, told, out), encoding="ascii")
        start = time.perf_counter()
        subprocess.run([program, "-b", str(deck)], check=True, capture_output=True)
        spent = _since(start)
        volts = _voltages(out)
    apart = [
        abs(volts[_node(section.cabinet, pair)] / section.voltage - 1)
        for section in told.sections.values()
        for pair in ({"upper": 1, "lower": 2}[section.section],)
    ]
    return {"spice": spent, "apart": max(apart)}


def _netlist(rig: Rig, told: Any, out: Path) -> str:
    """A source for each pole pair at its channel's full voltage, a resistor for each run and each section.

    Written from the rig and the data sheets of `generate`: 2.5 mm² is 7.98 mΩ/m (IEC 60228 class 5), a line has four
    contacts of 2 mΩ, a section has 8 Ω. The amplifier's limit is taken from the assessment: ngspice has no such source.
    """
    deck = ["* " + rig.name]
    for socket in rig.sockets():
        for pair, channel in enumerate(socket.poles, start=1):
            deck.append(f"V{socket.id}_{pair} {_node(socket.id, pair)} 0 {told.channels[channel].voltage!r}")
    for line in rig.lines:
        loop = 2 * line.length.value * 7.98e-3 + 4 * 2e-3
        for pair in (1, 2):
            deck.append(f"R{line.id}_{pair} {_node(line.source, pair)} {_node(line.to, pair)} {loop!r}")
    nodes = [_node(cabinet.id, pair) for cabinet in rig.cabinets for pair in (1, 2)]
    deck += [f"R{node} {node} 0 8" for node in nodes]
    return "\n".join(
        [*deck, ".control", "set filetype=ascii", "op", f"write {out}", "quit", ".endc", ".end", ""]
    )


def _node(place: str, pair: int) -> str:
    return f"{place}_{pair}".lower()


def _voltages(out: Path) -> dict[str, float]:
    """Read the one point of a raw file in ASCII: the names in order, then the values in the same order."""
    head, _, values = out.read_text(encoding="ascii").partition("Values:")
    names = [line.split()[1] for line in head.partition("\nVariables:")[2].splitlines() if line.strip()]
    figures = values.split()[1:]
    volts = zip(names, figures, strict=True)
    return {name[2:-1]: float(figure) for name, figure in volts if name.startswith("v(")}


def _table(lengths: str, rows: list[dict[str, Any]]) -> str:
    heads = ("sections", "cold ms", "µs/section", "edit ms", "most", "assess MB", "process MB")
    heads += ("ngspice ms", "apart") if "spice" in rows[0] else ()
    lines = [f"Runs of {lengths} lengths", "  ".join(f"{head:>10}" for head in heads)]
    for row in rows:
        cells = [
            str(row["sections"]),
            f"{row['cold']:.2f}",
            f"{row['cold'] / row['sections'] * 1e3:.1f}",
            f"{row['edit']:.2f}",
            f"{row['edit_most']:.2f}",
            f"{row['assess_mb']:.1f}",
            f"{row['process_mb']:.1f}",
        ]
        cells += [f"{row['spice']:.1f}", f"{row['apart']:.1e}"] if "spice" in row else []
        lines.append("  ".join(f"{cell:>10}" for cell in cells))
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
