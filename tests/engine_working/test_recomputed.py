"""The printed working of every figure of every preset, evaluated anew from the numbers printed: it gives the figure.

Evaluated by the formulae that stand here, not by the engine's, as a reader would on a calculator: to within a unit of the
result's last digit.
"""

import itertools
import math
import re
from collections.abc import Callable

import numpy as np
import pytest
import scipy  # whose parts load when they are used

from engine_working import odd
from rackwright.engine.assess import assess
from rackwright.engine.workings import Step, known_places, places
from rackwright.store.rig_file import loads
from rackwright.units.formatting import LEAST
from shipped import assessed

SCALES = {
    "mΩ": 1e-3,
    "mohm": 1e-3,
    "kW": 1e3,
    "kVA": 1e3,
    "kHz": 1e3,
    "ms": 1e-3,
    "mH": 1e-3,
    "µH": 1e-6,
    "uH": 1e-6,
    "µF": 1e-6,
    "uF": 1e-6,
}
UNIT = r"(?:Ω·mm²/km|Ω/m|mm²|mm2|mΩ|mohm|Ω|ohm|kVA|VA|kW|W|kHz|Hz|V peak|V²|V|A|dBu peak|dBu sine|dBu|dB|kg|BTU/h|cycles|mH|µH|uH|ms|m|s|µF|uF|F|%|U)"
NUMBER = re.compile(rf"(?<![\w.])(\d+(?:\.\d+)?)(?: ({UNIT})(?![\w²]))?")
TABLE = {
    0.5: 39.0,
    0.75: 26.0,
    1: 19.5,
    1.5: 13.3,
    2.5: 7.98,
    4: 4.95,
    6: 3.30,
    10: 1.91,
    16: 1.21,
    25: 0.780,
    35: 0.554,
}
"""mm² → Ω/km: IEC 60228, class 5."""


def parallel(*loads: float) -> float:
    return 1 / sum(1 / load for load in loads)


def limited(*numbers: float) -> float:
    """Where the load line V = Z·I meets the line through the rated points (V, I, Z), at the ends level in V and in I."""
    *rated, load = numbers
    points = sorted(zip(rated[0::3], rated[1::3], rated[2::3], strict=True), key=lambda point: -point[2])
    if load >= points[0][2]:
        return points[0][0]
    for (v1, i1, _), (v2, i2, z2) in itertools.pairwise(points):
        if load >= z2 - 1e-9:
            slope = (v2 - v1) / (i2 - i1)
            return load * (v1 - slope * i1) / (load - slope)
    return load * points[-1][1]


def opened(v1: float, i1: float, _z1: float, *second: float) -> float:
    if not second:
        return v1
    v2, i2, _z2 = second
    return min(max(v1 + (v1 - v2) / (i2 - i1) * i1, v1), 1.15 * v1)


def phasors(i1: float, i2: float, i3: float) -> float:
    return math.sqrt(max(i1**2 + i2**2 + i3**2 - i1 * i2 - i2 * i3 - i3 * i1, 0.0))


def neutral(*numbers: float) -> float:
    every, pulsed = numbers[:3], numbers[3:]
    smooth = [max(t - u, 0.0) for t, u in zip(every, pulsed, strict=True)]
    return min(math.hypot(*every), phasors(*smooth) + math.hypot(*pulsed))


def legs(t1: float, t2: float, u1: float, u2: float) -> float:
    return abs((t1 - u1) - (t2 - u2)) + abs(u1 - u2)


def uneven(*numbers: float) -> float:
    *currents, mean = numbers
    return max(abs(current - mean) for current in currents) / mean


def decayed(low: float, fs: float, qms: float, qes: float, re: float, r: float, *vented: float) -> float:
    """Small's high-pass functions as state equations, the energy still to come by Lyapunov's equation."""
    qe = qes * (re + r) / re
    q = qe * qms / (qe + qms)
    if vented:
        alpha, fb, ql = vented
        h = fb / fs
        root = math.sqrt(h)
        slope = (1 / (root * q) + root / ql, (alpha + 1) / h + h + 1 / (ql * q), 1 / (root * ql) + root / q)
    else:
        root, slope = 1.0, (1 / q,)
    unit = 2 * math.pi * fs * root
    a = scipy.linalg.companion([1, *slope, 1])
    b, c = np.eye(len(a))[:, :1], -np.array([[*slope, 1]])
    w, last = 2 * math.pi * low / unit, 10 / low * unit
    steady = np.linalg.solve(1j * w * np.eye(len(a)) - a, b).imag
    rates, modes = np.linalg.eig(a)
    shares = np.linalg.solve(modes, steady) * (1 - np.exp(rates * last))[:, None]
    weight = scipy.linalg.solve_continuous_lyapunov(a.T, -c.T @ c)

    def energy(t: float) -> float:
        state = (modes @ (shares * np.exp(rates * t)[:, None])).real
        return float((state.T @ weight @ state).item())

    return float(scipy.optimize.brentq(lambda t: energy(t) - energy(0) / 100, 0, 1000)) / unit


def driver_impedance(
    f: float, re: float, le: float, fs: float, qms: float, qes: float, *vented: float
) -> float:
    """Small's equivalent circuits, element by element."""
    w, ws, res = 2 * math.pi * f, 2 * math.pi * fs, re * qms / qes
    mass, spring = 1j * w * qes / (ws * re), 1 / (1j * w * re / (ws * qes))
    box = 0j
    if vented:
        alpha, fb, ql = vented
        lceb, wb = re / (ws * qes) / alpha, 2 * math.pi * fb
        box = 1 / (1j * w * lceb + wb**2 * lceb / (1j * w) + wb * lceb / ql)
    return abs(re + 1j * w * le + 1 / (1 / res + mass + spring + box))


def tabled(area: float, *_other: float) -> float:
    entry = max(entry for entry in TABLE if entry <= area)
    return TABLE[entry] * entry / area / 1000


NAMED: dict[str, Callable[..., float]] = {
    "V = √(P·Z) at rated loads": limited,
    "I = √(P/Z) at rated loads": limited,
    "V = √(P·Z), the largest": lambda *numbers: max(numbers[0::2]),
    "the two highest rated loads": opened,
    "the larger of the two": max,
    "the smaller of the two": min,
    "r from the table": tabled,
    "as stated": lambda *numbers: numbers[0],
    "all of these added": lambda *numbers: sum(numbers),
    "E(t) = E(0)/100": decayed,
    "Z = Re + jωLe": driver_impedance,
    "Z = nominal + 1/(jωC)": lambda f, *r: abs(math.prod(r[:-1]) + 1 / (2j * math.pi * f * r[-1])),
    "Z = nominal": lambda f, *r: math.prod(r),
    "found by trying": lambda f: f,
    "C = 1/(2π": lambda f, z: 1 / (2 * math.pi * f * z),
    "largest |I": uneven,
    "|I1 + I2": phasors,
    "min(√ΣT²": neutral,
    "|C1 − C2|": legs,
}
"""How a formula begins → what it makes of the numbers printed, in their order."""


def last_digit(text: str, unit: str | None) -> float:
    """A unit of the last digit that counts, of three or as many as are printed; a bare whole number is exact."""
    value = float(text)
    if unit is None and "." not in text:
        return 0.0
    digits = max(3, len(text.replace(".", "").strip("0")))
    return 10 ** (math.floor(math.log10(value)) - digits + 1) if value else 0.0


def numbers_of(step: Step) -> list[float]:
    """Each number printed, in SI."""
    parts = list(NUMBER.finditer(step.numbers))
    if step.formula.startswith("all of these added"):  # the names of what is summed have digits too
        parts = [[*NUMBER.finditer(part)][-1] for part in step.numbers.split(" + ") if NUMBER.search(part)]
    return [float(match[1]) * SCALES.get(match[2], 1.0) for match in parts]


def polar(modulus: float, degrees: float) -> complex:
    return modulus * complex(math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))


def magnitude(value: complex) -> float:
    return abs(value) if isinstance(value, complex) else float(value)


def written_out(step: Step) -> Callable[..., float]:
    """What the printed expression makes of its numbers."""
    count = iter(range(10**6))
    text = step.numbers.replace("log10", "lg").replace("∞ Ω", "inf")
    text = NUMBER.sub(lambda m: f"n[{next(count)}]" + ("**2" if m[2] == "V²" else ""), text)
    text = text.replace(")²", ")**2")
    text = re.sub(r"(n\[\d+\]) ∠ (−?n\[\d+\])°", r"polar(\1, \2)", text)
    text = re.sub(
        r"polar\([^)]*\)(?: ‖ polar\([^)]*\))+", lambda m: f"parallel({m[0].replace(' ‖', ',')})", text
    )
    text = re.sub(r"n\[\d+\](?: ‖ n\[\d+\])+", lambda m: f"parallel({m[0].replace(' ‖', ',')})", text)
    text = text.replace("·", "*").replace("−", "-").replace("√", "sqrt")
    known = {"lg": math.log10, "sqrt": math.sqrt, "parallel": parallel, "max": max, "inf": math.inf}
    known |= {"polar": polar, "j": 1j, "π": math.pi}
    code = compile(text, step.formula, "eval")
    return lambda *numbers: magnitude(eval(code, {"__builtins__": {}}, {**known, "n": numbers}))


def recomputed(step: Step) -> float:
    """The result of a step from what is printed of it."""
    made = next((NAMED[begin] for begin in NAMED if step.formula.startswith(begin)), None) or written_out(
        step
    )
    return made(*numbers_of(step))


@pytest.mark.parametrize("name", ["small-room", "small-club", "hall", "outdoor-stage", "faults", "odd"])
def test_the_printed_working_gives_the_printed_figure(name: str) -> None:
    rig = assess(loads(odd.RIG)) if name == "odd" else assessed(name)
    steps = {
        (step.formula, step.numbers, step.result): step
        for place in known_places(rig)
        for found in places(rig, place)
        for shown in found.shown
        if shown.value is not None
        for step in found.explainers[shown.figure.name]()
    }
    assert len(steps) > 50
    for step in steps.values():
        result = recomputed(step)
        if step.result.startswith("under "):
            assert result < (0.01 if step.unit == "dB" else LEAST), step
            continue
        (printed,) = NUMBER.finditer(step.result.partition(" ∠")[0].lstrip("−"))
        scale = 0.01 if step.unit == "ratio" else SCALES.get(printed[2], 1.0)
        value = float(printed[1]) * scale * (-1 if step.result[0] == "−" else 1)
        last = max(last_digit(printed[1], printed[2] or ""), 0.01 * step.unit.startswith("dB")) * scale
        assert abs(result - value) <= last + 1e-9 * abs(value), (step, result)


def test_a_wrong_factor_would_be_seen() -> None:
    right = Step("", "R = 2·l·r", "2 · 20 m · 0.00798 Ω/m", 0.3192, "Ω", "")
    assert abs(recomputed(right) - 0.3192) <= 0.001
    assert abs(recomputed(right) - 0.3192 * 1.02) > 0.001
