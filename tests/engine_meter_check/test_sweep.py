"""An impedance sweep against the model's curve: a box written as masses, springs and air, healthy and not."""

import math
from random import Random

import numpy as np
import pytest
from msgspec.structs import replace

from engine_meter_check.meter import COPPER
from rackwright.engine.assess import assess
from rackwright.engine.meter_check import checked, judge_sweep, modulus, pair_tests
from rackwright.model import edits
from rackwright.model.index import Index
from rackwright.model.rig import Rig
from shipped import preset

FREQUENCY = np.geomspace(10, 2000, 300)
LOOP = 0.12
"""Ω of line and contacts, about those of the line measured."""


@pytest.fixture(scope="module")
def room() -> Rig:
    return preset("small-room")


def swept(rig: Rig, noise: float = 0.0, **other: float) -> tuple[tuple[float, float, float], ...]:
    """The sweep of SUB-L1's left woofer, measured on a vented box of the mechanical and acoustical elements.

    Small, "Vented-Box Loudspeaker Systems Part I", JAES 21(5), 1973, with the analogies of Beranek, "Acoustics", ch. 3:
    Z = Re + jωLe + Bl²/(jωM + R + 1/jωC + S²/(jωCab + 1/Ral + 1/jωMap)). `other` stands in for the data sheet's values.
    """
    model = next(model for model in rig.equipment.loudspeakers if model.id == "sub-double-15")
    section = model.sections[0]
    d = section.driver
    assert d is not None and d.fb is not None and d.alpha is not None  # noqa: PT018
    sheet = {"fs": d.fs.value, "qms": d.qms, "qes": d.qes, "alpha": d.alpha, "fb": d.fb.value, "ql": d.ql}
    data = sheet | other
    re = section.dc_resistance.value * (1 + COPPER * (rig.supply.ambient.value - 20))
    mass, area, ws, wb = 0.15, 0.09, 2 * math.pi * data["fs"], 2 * math.pi * data["fb"]
    spring = 1 / (ws**2 * mass)
    force = ws * mass * section.dc_resistance.value / data["qes"]
    air = spring * area**2 / data["alpha"]
    s = 2j * np.pi * FREQUENCY
    port = 0 if math.isinf(data["fb"]) else wb**2 * air / s
    leak = (2 * math.pi * sheet["fb"]) * air / data["ql"]
    box = area**2 / (s * air + leak + port)
    ohms = np.abs(
        re + LOOP + s * d.le.value + force / (s * mass + ws * mass / data["qms"] + 1 / (s * spring) + box)
    )
    random = Random(1)
    measured = [float(z) * (1 + random.gauss(0, noise)) for z in ohms]
    return tuple((round(float(f), 3), round(z, 4), 0.0) for f, z in zip(FREQUENCY, measured, strict=True))


def said(rig: Rig, sweep: tuple[tuple[float, float, float], ...]) -> str:
    index = Index(rig)
    return judge_sweep(index, pair_tests(index)[0], sweep).verdict


def test_the_model_s_curve_is_the_independent_box_s(room: Rig) -> None:
    index = Index(room)
    curve = modulus(index, pair_tests(index)[0], FREQUENCY)
    assert curve == pytest.approx([ohms for _, ohms, _ in swept(room)], rel=0.02)


@pytest.mark.parametrize("noise", [0.0, 0.02])
def test_a_good_box_fits(room: Rig, noise: float) -> None:
    assert said(room, swept(room, noise)) == "as the model's"


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"fb": math.inf}, "look for a blocked port"),
        ({"ql": 1.2}, "look for a leak"),
        ({"fb": 30.0}, "the dip between the peaks, fb, is at"),
        ({"fs": 60.0}, "over ±10 %"),
        ({"qms": 2.0}, "over ±25 %"),
    ],
)
def test_what_direct_current_can_t_find_is_found(room: Rig, other: dict[str, float], words: str) -> None:
    assert words in said(room, swept(room, 0.01, **other))


def test_a_driver_that_is_not_there_is_found_with_and_without_its_data(room: Rig) -> None:
    """A dead high driver behind a capacitor reads open by direct current, as a good one does."""
    dead = tuple((round(float(f), 3), 5000.0, 0.0) for f in FREQUENCY)
    index = Index(room)
    for name in ("C1/1", "C3/2"):
        test = next(test for test in pair_tests(index) if test.id == name)
        assert "look for a dead driver" in judge_sweep(index, test, dead).verdict
    high = next(test for test in pair_tests(index) if test.id == "C3/2")
    about = tuple((f, 9.5, 0.0) for f, _, _ in dead)
    assert judge_sweep(index, high, about).verdict == "peaks not judged: no driver data of high"


def test_a_sweep_that_differs_is_a_stop_and_belongs_to_its_line(room: Rig) -> None:
    blocked = edits.note_reading(room, "C1", 1, sweep=swept(room, fb=math.inf))
    findings = [(f.code, f.severity, f.at) for f in assess(blocked).findings if f.code.startswith("line-")]
    assert findings == [("line-wrong", "stop", "C1/1")]
    good = edits.note_reading(room, "C1", 1, sweep=swept(room))
    assert not [f for f in assess(good).findings if f.code.startswith("line-")]
    assert checked(Index(good))[0].status == "not tested"
    longer = edits.change(
        good,
        "C1",
        cores_per_pole=1,
        cable=good.lines[0].cable,
        length=replace(good.lines[0].length, value=90.0),
    )
    assert checked(Index(longer))[0].sweep is None
