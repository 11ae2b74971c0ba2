"""`meter`: the sheet, filled and judged, the readings kept in a rig."""

import csv
import json
import re
import resource
from pathlib import Path

import pytest
from msgspec.structs import replace

from rackwright.engine import cautions
from rackwright.engine.meter_check import checked
from rackwright.model.index import Index
from rackwright.store import presets
from rackwright.store.rig_file import load, save
from rackwright.units import Length
from rigs import changed
from shipped import preset

from .conftest import Run


def fill(path: str, **readings: str) -> None:
    """Write readings into a sheet; `C1_1` is line C1, pair 1."""
    with open(path, newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        row["reading"] = readings.get(f"{row['line']}_{row['pair']}", row["reading"])
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def test_the_sheet_lists_every_pole_pair_with_its_limits_and_the_caution(run: Run) -> None:
    told = run("meter", "small-room")
    assert told.status == 0
    row = next(line for line in told.out.splitlines() if line.startswith("C1 "))
    assert row.split() == ["C1", "1", "R1-1", "SUB-L1", "5.91", "ohm", "5.35", "to", "6.48", "-", "-"]
    assert cautions.METER in " ".join(told.out.split())


def test_a_filled_sheet_is_judged(run: Run) -> None:
    run("meter", "small-room", "--csv", "sheet.csv")
    fill("sheet.csv", C1_1="5.7", C1_2="5.9 ohm")
    told = run("meter", "small-room", "--readings", "sheet.csv")
    assert told.status == 0
    assert "2 of 8 measured" in told.out
    fill("sheet.csv", C2_1="open")
    told = run("meter", "small-room", "--readings", "sheet.csv")
    assert told.status == 1
    assert "1 wrong" in told.out
    assert "open in C2 or its plugs; or open in SUB-R1:" in told.out
    assert "Next: Unplug SUB-R1" in told.out


def test_the_report_says_of_every_pole_pair_what_the_page_does(run: Run) -> None:
    run("meter", "small-room", "--csv", "sheet.csv")
    fill("sheet.csv", C1_1="5.7", C2_1="open")
    told = run("meter", "small-room", "--readings", "sheet.csv", "--json")
    report = json.loads(told.out)
    assert (told.status, report["format"], len(report["pairs"])) == (1, 1, 8)
    pairs = {(each["line"], each["pair"]): each for each in report["pairs"]}
    good, failed, unread = pairs["C1", 1], pairs["C2", 1], pairs["C1", 2]
    assert [round(good[key], 2) for key in ("lowest_ohm", "expected_ohm", "highest_ohm")] == [
        5.35,
        5.91,
        6.48,
    ]
    assert (good["status"], good["reading"]["measured_ohm"]) == ("as expected", 5.7)
    assert (failed["status"], failed["reading"]["as_read"], failed["reading"]["measured_ohm"]) == (
        "wrong",
        "open",
        None,
    )
    assert failed["explanations"][0]["words"].startswith("open in C2")
    assert failed["next_test"].startswith("Unplug SUB-R1")
    assert (unread["status"], unread["reading"], unread["next_test"]) == ("not tested", None, None)


def test_a_sheet_round_trips_through_the_rig_it_is_kept_in(run: Run) -> None:
    run("meter", "small-room", "--csv", "sheet.csv")
    fill("sheet.csv", C1_1="5.7", C2_1="5R7")
    assert run("meter", "small-room", "--readings", "sheet.csv", "--apply", "mine.toml").status == 0
    kept = load("mine.toml")
    assert [(reading.id, reading.ohms) for reading in kept.readings] == [("C1/1", "5.7 ohm"), ("C2/1", "5R7")]
    assert all(reading.when for reading in kept.readings)
    run("meter", "mine.toml", "--csv", "again.csv")
    run("meter", "small-room", "--readings", "again.csv", "--apply", "twice.toml")
    assert load("twice.toml") == kept


def test_a_sheet_of_a_spreadsheet_with_semicolons_and_decimal_commas_is_read(run: Run) -> None:
    Path("sheet.csv").write_text("Line;Pair;Reading;leads\r\nC1;1;5,9;0,2\r\n", encoding="utf-8-sig")
    assert run("meter", "small-room", "--readings", "sheet.csv", "--apply", "mine.toml").status == 0
    assert load("mine.toml").readings[0].lead_resistance.value == 0.2


def test_every_row_that_can_t_be_used_is_told_and_nothing_is_kept(run: Run) -> None:
    Path("sheet.csv").write_text("line,pair,reading\nC1,1,5.7\nC1,1x,6\nC9,1,6\nC2,1,six\n")
    told = run("meter", "small-room", "--readings", "sheet.csv", "--apply", "mine.toml")
    assert told.status == 3
    assert all(f"row {number}" in told.err for number in (3, 4))
    assert "row 5, column C (reading):" in told.err
    assert not Path("mine.toml").exists()


def test_no_file_is_overwritten(run: Run) -> None:
    Path("sheet.csv").write_text("mine")
    assert run("meter", "small-room", "--csv", "sheet.csv").status == 3
    assert Path("sheet.csv").read_text() == "mine"


def test_a_sheet_that_the_disk_has_no_room_for_leaves_nothing_in_its_place(run: Run) -> None:
    former = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (64, former[1]))
    try:
        told = run("meter", "small-room", "--csv", "sheet.csv")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, former)
    assert told.status == 3
    assert "Nothing was written" in told.err
    assert list(Path().iterdir()) == []


def test_apply_needs_readings(run: Run) -> None:
    assert run("meter", "small-room", "--apply", "mine.toml").status == 64


def judged(run: Run, *rows: str, heads: str = "line,pair,reading,leads,polarity,heard") -> tuple[int, str]:
    """What is said of a sheet of those rows, in one line, and the exit status."""
    Path("sheet.csv").write_text("\n".join((heads, *rows)) + "\n", encoding="utf-8")
    told = run("meter", "small-room", "--readings", "sheet.csv")
    return told.status, " ".join((told.out + told.err).split())


@pytest.mark.parametrize(
    ("ticks", "found"),
    [("no,", "C1 pole pair 1: polarity reversed"), (",no", "C1 pole pair 1: not heard as it should be")],
)
@pytest.mark.parametrize("reading", ["5.7", ""])
def test_a_no_is_a_fault_and_never_as_expected(run: Run, reading: str, ticks: str, found: str) -> None:
    status, said = judged(run, f"C1,1,{reading},,{ticks}")
    assert (status, found in said, "as expected" in said) == (1, True, False)
    assert "1 wrong" in said
    assert judged(run, f"C1,1,5.7,,{ticks.replace('no', 'yes')}")[0] == 0


def test_the_paper_says_what_is_wrong_and_what_proves_a_line(run: Run) -> None:
    judged(run, "C1,1,5.7,,no,", "C3,1,6.5,,,")
    run("meter", "small-room", "--readings", "sheet.csv", "--apply", "mine.toml")
    run("papers", "mine.toml", "--out", "p", "--only", "meter", "--format", "txt")
    said = " ".join(Path("p/meter.txt").read_text(encoding="utf-8").split())
    assert (said.count("WRONG:"), said.count("PROVED")) == (1, 1)
    assert "CAUTION: C3 pole pair 1: Don't power it yet. Touch a small battery" in said


def test_a_tick_of_the_first_version_s_sheet_is_read_and_its_no_too(run: Run) -> None:
    status, said = judged(run, "C1,1,5.7,no", heads="line,pair,reading,polarity_ok")
    assert (status, "polarity reversed" in said) == (1, True)


def test_two_pairs_that_read_exactly_exchanged_are_not_proved_until_a_driver_is_heard(run: Run) -> None:
    """TOP-L1's low and high drivers differ by less than spread and meter: each reads what the other should."""
    low, high = (
        item.test.expected.likely for item in checked(Index(preset("small-room"))) if item.test.line == "C3"
    )
    rows = f"C3,1,{high:.2f},,,", f"C3,2,{low:.2f},,,"
    status, said = judged(run, *rows)
    assert (status, "2 not proved" in said) == (1, True)
    assert (
        "Don't power it yet. Touch a small battery to pole pair 1 of C3 for a moment: the low driver" in said
    )
    status, said = judged(run, f"{rows[0]}yes", rows[1])
    assert (status, "not proved" in said) == (0, False)


def test_a_good_line_lists_no_harmless_alternative(run: Run) -> None:
    """Another cable fits the reading, and the two pairs of a sub of two like drivers may be exchanged: neither matters."""
    status, said = judged(run, "C1,1,5.7,,,", "C1,2,5.7,,,")
    assert (status, "or " in said.partition("5.7 ohm")[2].partition("C2")[0]) == (0, False)


@pytest.mark.parametrize(
    ("heads", "rows", "told"),
    [
        ("line,pair,reading,note", ['C1,1,5.7,"left', "C1,2,open,x", "C2,1,5.7,y"], ["row 2: A quote is not closed"]),
        ("line,pair,reading,note", ['C1,1,5.7,"left', 'C2,1,open,"'], ["row 2, column D (note): A quote swallows what follows"]),
        ("line,pair,reading,leads", ["C1,1,5,7"], ["row 2, column D (leads):", "Write 5.7 as the reading"]),
        ("line,pair,reading,leads", ["C1,1,5,7,"], ["row 2: There are more cells than heads: 5 under 4"]),
        ("line,pair,reading,reading", ["C1,1,5.7,open"], ['row 1, column D (reading): Two columns are called "reading"']),
        ("line,pair,reading", ["C1,1,5.7,open"], ["row 2: There are more cells than heads"]),
        ("line,pair,reading", ["C1,1,1.200"], ["row 2, column C (reading):", "Write 1200 or 1.2."]),
        ("line,pair,reading", [f"C1,1,{'9' * 1900}"], ["row 2, column C (reading):", "is not a number"]),
        ("line,pair,reading,leads", ["C1,1,²,²"], ["row 2, column C (reading):"]),
        ("line,pair,reading,leads", [f"C1,1,5,{'9' * 1900}"], ["row 2, column D (leads):"]),
        ("line,pair,reading,polarity", ["C1,1,5.7,perhaps"], ["row 2, column D (polarity):", "neither yes nor no"]),
        ("line,pair,reading,polarty", ["C1,1,5.7,no"], ['Did you mean "polarity"?']),
        ("line,pair,reading", ["C1,1,5.7", "C1,1,open"], ["row 3: C1/1 is in row 2 already"]),
        ("line,pair,reading,note", [f"C1,1,5.7,{'x' * 200_000}"], ["row 2: A cell is far too long"]),
        ("line,pair,reading,", ["C1,1,5.7,no"], ["row 2, column D: \"no\" stands in a column that has no head"]),
    ],
)  # fmt: skip
def test_what_can_t_be_read_for_sure_is_told_with_its_row_and_nothing_is_guessed(
    run: Run, heads: str, rows: list[str], told: list[str]
) -> None:
    status, said = judged(run, *rows, "C9,1,6", heads=heads)
    assert status == 3
    assert said.startswith("sheet.csv can't be used")
    assert all(words in said for words in told), said
    assert "The rig has no pole pair C9/1" in said  # the later rows are told in the same round


def test_all_that_is_wrong_with_every_row_of_readings_is_told_in_one_round(run: Run) -> None:
    rows = "C9,1,x,99,y,maybe,none,soon", "C1,1,5.7,99,,,none,soon", "C1,1,1.200,99,,,,soon"
    _, said = judged(run, *rows, heads="line,pair,reading,leads,coil,polarity,heard,when")
    found = re.findall(r"rows? ([\d, and]*\d)(?:, column (.))?", said.replace("is in row", ""))
    told = [f"{column}{row}" for rows, column in found for row in re.findall(r"\d+", rows)]
    assert sorted(told) == sorted(
        ["A2", "C2", "D2", "E2", "F2", "G2", "H2", "D3", "G3", "H3", "4", "C4", "D4", "H4"]
    )


def test_a_quoted_decimal_comma_is_a_figure(run: Run) -> None:
    assert judged(run, 'C1,1,"5,7","0,2",,')[0] == 0


def test_a_column_of_one_s_own_is_named_as_not_read(run: Run) -> None:
    status, said = judged(run, "C1,1,5.7,Ann", heads="line,pair,reading,initials")
    assert (status, "Columns not read: initials." in said) == (0, True)


def test_a_blank_cell_takes_nothing_away(run: Run) -> None:
    judged(run, "C1,1,5.7,,,")
    run("meter", "small-room", "--readings", "sheet.csv", "--apply", "mine.toml")
    Path("later.csv").write_text("line,pair,reading,polarity\nC1,1,,no\n")
    run("meter", "mine.toml", "--readings", "later.csv", "--apply", "again.toml")
    (kept,) = load("again.toml").readings
    assert (kept.ohms, kept.polarity) == ("5.7 ohm", "no")


def test_readings_don_t_prove_the_lines_of_another_rig_or_another_length(run: Run) -> None:
    judged(run, "C1,1,5.7,,,", "C2,1,5.7,,,")
    run("meter", "small-room", "--readings", "sheet.csv", "--apply", "mine.toml")
    text = Path("mine.toml").read_text(encoding="utf-8")
    line = text.index('id = "C1"')
    at = text.index("length = ", line)
    end = text.index("\n", at)
    Path("longer.toml").write_text(text[:at] + 'length = "60 m"' + text[end:], encoding="utf-8")
    told = run("meter", "longer.toml")
    assert "1 of 8 measured" in told.out
    assert "line changed since: test again" in " ".join(told.out.split())

    run("venue", "save", "mine.toml", "--out", "here.toml", "--name", "Mill")
    run("venue", "apply", "mine.toml", "here.toml", "--out", "back.toml")
    assert "2 of 8 measured" in run("meter", "back.toml").out
    Path("other.toml").write_text(text.replace('name = "Small room"', 'name = "Other"', 1), encoding="utf-8")
    told = run("venue", "apply", "other.toml", "here.toml", "--out", "show.toml")
    assert "Its readings prove nothing of this rig's lines" in " ".join(told.out.split())
    assert "0 of 8 measured" in run("meter", "show.toml").out
    assert run("meter", "show.toml").out.startswith("Meter check: Other at Mill")


def test_a_cabinet_heard_is_read_whatever_its_id_holds(run: Run) -> None:
    found = presets.find("small-room")
    assert found is not None
    text = Path(found.path).read_text(encoding="utf-8").replace("SUB-L1", "SUB,C1").replace("SUB-R1", "SUB")
    Path("odd.toml").write_text(text.replace("TOP-L1", "TOP;L,1"), encoding="utf-8")
    Path("sheet.csv").write_text(
        'line,pair,reading,heard\nC4,1,6.7,"TOP;L,1, SUB,C1 SUB"\n', encoding="utf-8"
    )
    run("meter", "odd.toml", "--readings", "sheet.csv", "--apply", "mine.toml")
    run("meter", "mine.toml", "--csv", "again.csv")
    run("meter", "odd.toml", "--readings", "again.csv", "--apply", "twice.toml")
    assert load("twice.toml").readings[0].heard_from == ("TOP;L,1", "SUB,C1", "SUB")


@pytest.mark.parametrize(
    ("heard", "kept"),
    [
        ("TOP-L1.low", ("yes", ())),
        ("TOP-L1.high", ("no", ())),
        ("TOP-R1.low", ("", ("TOP-R1",))),
        ("TOP-R1.low TOP-R1.high", ("", ("TOP-R1",))),
        ("TOP-L1", ("", ("TOP-L1",))),
    ],
)
def test_a_driver_heard_is_yes_on_its_own_pole_pair_and_no_on_another_of_its_cabinet(
    run: Run, heard: str, kept: tuple[str, tuple[str, ...]]
) -> None:
    """Pole pair 1 of the small room's C3 drives the low section of TOP-L1, pole pair 2 the high one."""
    Path("sheet.csv").write_text(f"line,pair,reading,heard\nC3,1,6.8,{heard}\n", encoding="utf-8")
    run("meter", "small-room", "--readings", "sheet.csv", "--apply", "mine.toml")
    (reading,) = load("mine.toml").readings
    assert (reading.heard, reading.heard_from) == kept


def test_a_sheet_of_another_rig_or_venue_is_recognised_and_one_of_another_revision_told(run: Run) -> None:
    rig = preset("small-room")
    elsewhere = replace(rig, venue=replace(rig.venue, name="The Cellar"))
    longer = changed(rig, rig.lines[0].id, length=Length.parse("99 m"))
    save(elsewhere, "elsewhere.toml")
    save(longer, "longer.toml")
    run("meter", "small-room", "--csv", "sheet.csv")
    fill("sheet.csv", C2_1="5.7")
    told = run("meter", "elsewhere.toml", "--readings", "sheet.csv", "--apply", "mine.toml")
    assert (told.status, "of another rig or venue: Small room" in told.err) == (3, True)
    assert not Path("mine.toml").exists()
    assert "The sheet is of revision" in run("meter", "longer.toml", "--readings", "sheet.csv").out
    assert "The sheet is of revision" not in run("meter", "small-room", "--readings", "sheet.csv").out


def test_coils_are_as_hot_as_is_stated_for_all_or_in_a_row(run: Run) -> None:
    """5.4 Ω at 20 °C (copper, 0.393 % per kelvin: IEC 60028) is 6.25 Ω at 60 °C: with the line too much for 30 °C."""
    assert judged(run, "C1,1,6.6,,,")[0] == 1
    Path("sheet.csv").write_text("line,pair,reading\nC1,1,6.6\n", encoding="utf-8")
    told = run("meter", "small-room", "--readings", "sheet.csv", "--coil", "60 degC", "--apply", "hot.toml")
    assert told.status == 0
    assert "voice coils at 60 degC, cables at 30 degC" in " ".join(told.out.split())
    (kept,) = load("hot.toml").readings
    assert kept.coil_temperature is not None
    assert kept.coil_temperature.value == 60
    rows = ("C1,1,6.6,,,,60", "C1,2,6.6,,,,140 degF")
    status, said = judged(run, *rows, heads="line,pair,reading,leads,polarity,heard,coil")
    assert (status, "2 of 8 measured, 0 heard" in said) == (0, True)
    status, said = judged(run, "C1,1,6.6,,,,warm", heads="line,pair,reading,leads,polarity,heard,coil")
    assert (status, "(coil):" in said) == (3, True)
    run("meter", "hot.toml", "--csv", "again.csv")
    run("meter", "small-room", "--readings", "again.csv", "--apply", "twice.toml")
    assert load("twice.toml").readings == load("hot.toml").readings


def test_a_sweep_is_judged_and_kept(run: Run) -> None:
    Path("flat.txt").write_text("Hz ohm deg\n" + "\n".join(f"{20 * 1.2**n:.1f} 40 0" for n in range(30)))
    told = run("meter", "small-room", "--sweep", "C1/1=flat.txt", "--apply", "mine.toml")
    assert told.status == 1
    assert "sweep: the lowest impedance is 40 ohm" in " ".join(told.out.split())
    assert "sweep differs" in told.out  # the table; in full below it
    assert len(load("mine.toml").readings[0].sweep) == 30
    assert run("check", "mine.toml").status == 2
    told = run("meter", "small-room", "--sweep", "C9/1=flat.txt")
    assert (told.status, "names no pole pair" in told.err) == (64, True)
    told = run("meter", "small-room", "--sweep", "C1/1=none.txt")
    assert (told.status, "none.txt can't be read" in told.err) == (3, True)
