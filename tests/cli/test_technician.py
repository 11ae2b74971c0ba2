"""The technician's trial: five faults put into the hall's lines, measured on a circuit of the test's own, each found."""

import csv
import math
import re
from pathlib import Path

import pytest
from msgspec.structs import replace
from tests.engine_meter_check.meter import Amiss, Nature, shown

from rackwright.model.rig import Rig
from rackwright.store import presets, rig_file

from .conftest import Run

SEEDED = {
    ("C6", 2): Amiss(broken=True),
    ("C13", 1): Amiss(exchanged=(1, 2)),
    ("C13", 2): Amiss(exchanged=(1, 2)),
    ("C9", 1): Amiss(far_short=True),
    ("C3", 2): Amiss(open_drivers=frozenset({("SUB-L3", "lower")})),
}
"""Open core, pole pairs exchanged, short in the far plug, one of two woofers dead."""
CROSSED = {"C10": "SUB-R3", "C11": "SUB-R2"}
"""The fifth: these two lines each in the other's cabinet, which no meter tells."""
FOUND = {
    ("C6", 2): "open in C6 or its plugs",
    ("C13", 1): "pole pairs 1 and 2 exchanged",
    ("C13", 2): "pole pairs 2 and 1 exchanged",
    ("C9", 1): "shorted in the far plug of C9",
    ("C3", 2): "open in SUB-L3",
    ("C10", 1): "C10 in SUB-R3 instead of SUB-R2",
    ("C10", 2): "C10 in SUB-R3 instead of SUB-R2",
    ("C11", 1): "C11 in SUB-R2 instead of SUB-R3",
    ("C11", 2): "C11 in SUB-R2 instead of SUB-R3",
}
LEADS = 0.3
"""Ω of the meter's own leads."""


@pytest.fixture
def hall() -> Rig:
    preset = presets.find("hall")
    assert preset is not None
    return rig_file.load(preset.path)


def measure(hall: Rig, line: str, pair: int) -> str:
    """What the meter shows on the hall as it was plugged, coils off their data sheet by up to 4 %, leads included."""
    plugged = replace(hall, lines=tuple(replace(one, to=CROSSED.get(one.id, one.to)) for one in hall.lines))
    sections = [
        (cabinet.id, section.id)
        for cabinet in hall.cabinets
        for model in hall.equipment.loudspeakers
        if model.id == cabinet.model
        for section in model.sections
    ]
    spread = {name: 1 + 0.04 * math.sin(place) for place, name in enumerate(sections)}
    ohms = shown(
        plugged, line, pair, SEEDED.get((line, pair), Amiss()), Nature(spread, hall.supply.ambient.value)
    )
    return "OL" if ohms > 1e5 else f"{ohms + LEADS:.2f}"


def heard(hall: Rig, row: dict[str, str]) -> str:
    """What sounds on a good pair: the cabinet that the line is really in; nobody listens where the meter says no."""
    if row["should be heard"] == "–" or (row["line"], int(row["pair"])) in SEEDED:
        return ""
    return CROSSED.get(row["line"], row["should be heard"])


def test_five_seeded_faults_are_found_from_the_paper_sheet_filled_in(run: Run, hall: Rig) -> None:
    run("papers", "hall", "--out", "p", "--only", "test", "--format", "csv")
    with open("p/test.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        row["reading"], row["leads"] = measure(hall, row["line"], int(row["pair"])), f"{LEADS}"
        row["polarity"], row["heard"] = "x", heard(hall, row)
    with open("filled.csv", "w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)

    told = run("meter", "hall", "--readings", "filled.csv", "--apply", "proven.toml")
    assert told.status == 1
    assert f"{len(rows)} of {len(rows)} measured, {len(FOUND)} wrong" in told.out
    whole = " ".join(told.out.split())
    for (line, pair), words in FOUND.items():
        said = whole.partition(f"{line} pole pair {pair}: ")[2].partition(" is expected")[2]
        assert words in re.split(r"C\d+ pole pair \d", said)[0], (line, pair, said)

    assert all(reading.polarity == "yes" for reading in rig_file.load("proven.toml").readings)
    run("papers", "proven.toml", "--out", "q", "--only", "test", "--format", "txt,csv")
    assert Path("q/test.txt").read_text(encoding="utf-8").count("WRONG") == len(FOUND)
    run("meter", "hall", "--readings", "q/test.csv", "--apply", "again.toml")
    assert rig_file.load("again.toml").readings == rig_file.load("proven.toml").readings
