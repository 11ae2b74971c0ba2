"""The technician's trial: five faults put into the hall's lines, measured on a circuit of the test's own, each found."""

import csv
import re
from pathlib import Path

import pytest

from engine_meter_check.seeded import CROSSED, LEADS, SEEDED, measure
from rackwright.model.rig import Rig
from rackwright.store import rig_file
from shipped import preset

from .conftest import Run

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


@pytest.fixture
def hall() -> Rig:
    return preset("hall")


def heard(hall: Rig, row: dict[str, str]) -> str:
    """What sounds on a good pair: the cabinet that the line is really in; nobody listens where the meter says no."""
    if row["should be heard"] == "–" or (row["line"], int(row["pair"])) in SEEDED:
        return ""
    return CROSSED.get(row["line"], row["should be heard"])


def test_five_seeded_faults_are_found_from_the_paper_sheet_filled_in(run: Run, hall: Rig) -> None:
    run("papers", "hall", "--out", "p", "--only", "meter", "--format", "csv")
    with open("p/meter.csv", newline="", encoding="utf-8") as file:
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
    run("papers", "proven.toml", "--out", "q", "--only", "meter", "--format", "txt,csv")
    assert Path("q/meter.txt").read_text(encoding="utf-8").count("WRONG") == len(FOUND)
    run("meter", "hall", "--readings", "q/meter.csv", "--apply", "again.toml")
    assert rig_file.load("again.toml").readings == rig_file.load("proven.toml").readings
