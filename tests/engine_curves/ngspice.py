"""Forty random networks as ngspice solves them: how they were drawn, written as netlists, and kept in `ngspice.json`.

The kept figures are of ngspice 39.3. To make them again where ngspice is installed: python tests/engine_curves/ngspice.py
"""

import itertools
import json
import math
import random
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

KEPT = Path(__file__).with_suffix(".json")
FREQUENCIES = (21.3, 34.0, 56.6, 180.0, 1234.0, 16e3)
"""Hz."""
Tree = dict[str, Any]
"""A run: `ohms` and `henries` there and back, the `sections` at its end, the `links` that go on."""


class Kept(NamedTuple):
    """A network and what ngspice says of it."""

    output_resistance: float
    roots: list[Tree]
    impedance: list[list[float]]
    """Re, Im in Ω at the terminals, for each frequency."""
    volts: list[list[float]]
    """|V| past its capacitor for 1 V behind the output resistance, of each section, for each frequency."""


def kept() -> list[Kept]:
    return [Kept(**each) for each in json.loads(KEPT.read_text())]


# --- drawing ---


def drawn(seed: int) -> tuple[float, list[Tree]]:
    draw = random.Random(seed)
    return round(draw.uniform(0.01, 0.2), 4), [_run(draw, 0) for _ in range(draw.choice([1, 1, 2]))]


def _run(draw: random.Random, deep: int) -> Tree:
    sections = [_section(draw) for _ in range(draw.choice([1, 1, 2]))]
    links = [_run(draw, deep + 1) for _ in range(draw.choice([0, 1, 1, 2]) if deep < 2 else 0)]
    return {
        "ohms": round(draw.uniform(0.02, 1.5), 4),
        "henries": round(draw.uniform(1e-6, 60e-6), 8),
        "sections": sections,
        "links": links,
    }


def _section(draw: random.Random) -> dict[str, Any]:
    box = draw.choice(["", "sealed", "vented", "vented"])
    found: dict[str, Any] = {"nominal": draw.choice([4.0, 8.0, 16.0])}
    if draw.random() < 0.4:
        found["capacitor"] = draw.choice([4.7e-6, 33e-6, 220e-6, 680e-6])
    if box:
        found["coil"] = round(found["nominal"] * draw.uniform(0.62, 0.8), 3)
        driver = {"fs": (20, 90), "qms": (2, 12), "qes": (0.25, 0.8), "le": (0.2e-3, 2e-3)}
        if box == "vented":
            driver |= {"alpha": (0.6, 3), "fb": (25, 60), "ql": (5, 20)}
        found["driver"] = {name: float(f"{draw.uniform(*ends):.4g}") for name, ends in driver.items()}
    return found


# --- as a netlist ---


def netlist(output_resistance: float, roots: list[Tree]) -> tuple[list[str], list[tuple[str, str]]]:
    """Its elements, 1 V behind the output resistance at node t, and the nodes that each section is across."""
    count, lines = itertools.count(1), ["V1 e 0 AC 1", f"Rout e t {output_resistance}"]
    drivers: list[tuple[str, str]] = []

    def put(kind: str, plus: str, minus: str, value: float) -> None:
        lines.append(f"{kind}{len(lines)} {plus} {minus} {value!r}")

    def run(near: str, tree: Tree) -> None:
        between, far = f"n{next(count)}", f"n{next(count)}"
        put("R", near, between, tree["ohms"])
        put("L", between, far, tree["henries"])
        for each in tree["sections"]:
            section(far, each)
        for link in tree["links"]:
            run(far, link)

    def section(plus: str, of: dict[str, Any]) -> None:
        if "capacitor" in of:
            plus, before = f"n{next(count)}", plus
            put("C", before, plus, of["capacitor"])
        drivers.append((plus, "0"))
        if "driver" in of:
            for element in small(of["coil"], of["driver"], plus, *(f"n{next(count)}" for _ in range(4))):
                put(*element)
        else:
            put("R", plus, "0", of["nominal"])

    for root in roots:
        run("t", root)
    return lines, drivers


def small(
    coil: float, driver: dict[str, float], plus: str, a: str, b: str, c: str, d: str
) -> Iterator[tuple[str, str, str, float]]:
    """The elements of a driver in its box: Small, JAES 20(5), 1972, and JAES 21(5), 1973."""
    ws, qes = 2 * math.pi * driver["fs"], driver["qes"]
    lces = coil / (ws * qes)
    yield "R", plus, a, coil
    yield "L", a, b, driver["le"]
    yield "R", b, "0", coil * driver["qms"] / qes
    yield "C", b, "0", qes / (ws * coil)
    yield "L", b, "0", lces
    if "fb" in driver:
        wb, lceb = 2 * math.pi * driver["fb"], lces / driver["alpha"]
        yield "L", b, c, lceb
        yield "C", c, d, 1 / (wb**2 * lceb)
        yield "R", d, "0", wb * lceb / driver["ql"]


def solved(seed: int) -> Kept:
    """By ngspice, an AC analysis at each frequency."""
    output, roots = drawn(seed)
    lines, drivers = netlist(output, roots)
    asked = ["v(t)", "i(v1)", *(f"v({plus})" for plus, _ in drivers)]
    control = [".control", "set numdgt=12"]
    for frequency in FREQUENCIES:
        control += [f"ac lin 1 {frequency} {frequency}", *(f"print {each}" for each in asked)]
    text = "\n".join([f"network {seed}", *lines, *control, ".endc", ".end", ""])
    said = subprocess.run(
        ["ngspice", "-b", "/dev/stdin"], input=text, capture_output=True, text=True, timeout=60
    )
    told = re.findall(r"^\S+ = (\S+),(\S+)$", said.stdout, re.M)
    values = [complex(float(real), float(imaginary)) for real, imaginary in told]
    rows = [values[at : at + len(asked)] for at in range(0, len(values), len(asked))]
    assert len(rows) == len(FREQUENCIES), said.stdout + said.stderr
    loads = [-volts / current for volts, current, *_ in rows]
    return Kept(
        output,
        roots,
        [[float(f"{part:.9g}") for part in (load.real, load.imag)] for load in loads],
        [[float(f"{abs(volts):.9g}") for volts in row[2:]] for row in rows],
    )


if __name__ == "__main__":
    networks = [json.dumps(solved(seed)._asdict()) for seed in range(40)]
    KEPT.write_text("[\n" + ",\n".join(networks) + "\n]\n")
