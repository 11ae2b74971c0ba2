"""`linetest`: the sheet, filled and judged, the readings kept in a rig."""

import csv
from pathlib import Path

from rackwright.store.rigfile import load

from .conftest import Run


def fill(path: str, **readings: str) -> None:
    """Write readings into a sheet; `L1_1` is line L1, pair 1."""
    with open(path, newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        row["reading"] = readings.get(f"{row['line']}_{row['pair']}", row["reading"])
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def test_the_sheet_lists_every_pole_pair_with_its_limits_and_the_caution(run: Run) -> None:
    told = run("linetest", "small-room")
    assert told.status == 0
    row = next(line for line in told.out.splitlines() if line.startswith("L1 "))
    assert row.split() == ["L1", "1", "R1-1", "SUB-L1", "5.69", "Ω", "5.15", "to", "6.25", "Ω"]
    assert "Amplifiers off" in told.out


def test_a_filled_sheet_is_judged(run: Run) -> None:
    run("linetest", "small-room", "--csv", "sheet.csv")
    fill("sheet.csv", L1_1="5.7", L1_2="5.9 ohm")
    told = run("linetest", "small-room", "--readings", "sheet.csv")
    assert told.status == 0
    assert "2 of 8 measured" in told.out
    fill("sheet.csv", L2_1="open")
    told = run("linetest", "small-room", "--readings", "sheet.csv")
    assert told.status == 1
    assert "1 amiss" in told.out
    assert "open in L2 or its plugs; or open in SUB-R1." in told.out
    assert "Next: Unplug SUB-R1" in told.out


def test_a_sheet_round_trips_through_the_rig_it_is_kept_in(run: Run) -> None:
    run("linetest", "small-room", "--csv", "sheet.csv")
    fill("sheet.csv", L1_1="5.7", L4_2="6R3")
    assert run("linetest", "small-room", "--readings", "sheet.csv", "--apply", "mine.toml").status == 0
    kept = load("mine.toml")
    assert [(reading.id, reading.ohms) for reading in kept.readings] == [("L1/1", "5.7 ohm"), ("L4/2", "6R3")]
    assert all(reading.when for reading in kept.readings)
    run("linetest", "mine.toml", "--csv", "again.csv")
    run("linetest", "small-room", "--readings", "again.csv", "--apply", "twice.toml")
    assert load("twice.toml") == kept


def test_a_sheet_of_a_spreadsheet_with_semicolons_and_decimal_commas_is_read(run: Run) -> None:
    Path("sheet.csv").write_text("Line;Pair;Reading;leads\r\nL1;1;5,9;0,2\r\n", encoding="utf-8-sig")
    assert run("linetest", "small-room", "--readings", "sheet.csv", "--apply", "mine.toml").status == 0
    assert load("mine.toml").readings[0].lead_resistance.value == 0.2


def test_every_row_that_can_t_be_used_is_told_and_nothing_is_kept(run: Run) -> None:
    Path("sheet.csv").write_text("line,pair,reading\nL1,1,5.7\nL1,1x,6\nL9,1,6\nL2,1,six\n")
    told = run("linetest", "small-room", "--readings", "sheet.csv", "--apply", "mine.toml")
    assert told.status == 3
    assert all(f"row {number}:" in told.err for number in (3, 4, 5))
    assert not Path("mine.toml").exists()


def test_no_file_is_overwritten(run: Run) -> None:
    Path("sheet.csv").write_text("mine")
    assert run("linetest", "small-room", "--csv", "sheet.csv").status == 3
    assert Path("sheet.csv").read_text() == "mine"


def test_apply_needs_readings(run: Run) -> None:
    assert run("linetest", "small-room", "--apply", "mine.toml").status == 64
