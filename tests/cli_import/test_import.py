"""Equipment from a spreadsheet, by the command: what is matched, what is told, and that nothing is half-imported."""

import csv
import io
import re
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rackwright.cli import main
from rackwright.engine import recovery
from rackwright.model.equipment import AmplifierModel, Equipment
from rackwright.store import library, library_edits
from rackwright.store.rig_file import load, save
from rackwright.store.spreadsheet.cells import CsvError
from rackwright.store.spreadsheet.equipment import match
from rackwright.store.spreadsheet.sheet import read_sheet
from shipped import preset

AMPLIFIERS = {
    "Model": "amp-a",
    "Description": "Two channels, invented",
    "Ch": "2",
    "Rack units": "2U",
    "Power 8 ohm (W)": "1100",
    "power 4Ω [kW]": "1.8",
    "Bridged 8 ohm (W)": "3600",
    "Damping factor (8 ohm)": "400",
    "Gain (dB)": "32",
    "idle power W": "60",
    "Efficiency (%)": "80",
    "Power factor": "0.62",
    "Inrush current (A)": "45",
    "Terminals": "Exposed",
    "max. current A": "40",
    "weight kg": "14",
    "Shelf": "B3",
}


class Outcome(NamedTuple):
    status: int
    out: str
    err: str


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]):  # type: ignore[no-untyped-def]
    """Write rows as a file, import it, and give what was said in one line."""

    def call(text: str, *words: str) -> Outcome:
        Path("in.csv").write_text(text, encoding="utf-8")
        with pytest.raises(SystemExit) as ended:
            main(("equipment", "import", "in.csv", *words))
        out, err = capsys.readouterr()
        assert isinstance(ended.value.code, int)
        return Outcome(ended.value.code, " ".join(out.split()), " ".join(err.split()))

    return call


def sheet(*rows: dict[str, str], delimiter: str = ",") -> str:
    """Rows as the standard library writes CSV."""
    sink = io.StringIO()
    writer = csv.DictWriter(sink, list(rows[0]), delimiter=delimiter)
    writer.writeheader()
    writer.writerows(rows)
    return sink.getvalue()


def mine() -> Equipment:
    return library.user_library()


def amplifier(**changes: str) -> dict[str, str]:
    row = {**AMPLIFIERS, **{key.replace("_", " "): value for key, value in changes.items()}}
    assert len(row) == len(AMPLIFIERS), "a change names no column"
    return row


# --- what is taken in -----------------------------------------------------------------------------------


def test_heads_with_units_are_matched_and_the_matching_is_shown(run) -> None:  # type: ignore[no-untyped-def]
    done = run(sheet(amplifier()))
    assert (done.status, done.err) == (0, "")
    assert "Rack units height" in done.out
    assert "power 4ohm [kW] rating 4 ohm kW" in done.out
    assert "Shelf not used" in done.out
    (entry,) = mine().amplifiers
    assert (entry.id, entry.channels, entry.height, entry.efficiency) == ("amp-a", 2, 2, 0.8)
    assert [(r.load.value, r.power.value) for r in entry.ratings] == [(8.0, 1100.0), (4.0, 1800.0)]
    assert [(r.load.value, r.power.value) for r in entry.bridged] == [(8.0, 3600.0)]
    assert (entry.damping_factor.value, entry.damping_factor.load.value) == (400, 8.0)
    assert (entry.weight.value, entry.terminals, entry.max_current.value) == (14.0, "exposed", 40.0)


def test_a_unit_in_the_cell_goes_before_that_of_the_head(run) -> None:  # type: ignore[no-untyped-def]
    run(sheet(amplifier(weight_kg="31 lb")))
    # 1 lb = 0.45359237 kg, NIST SP 811
    assert mine().amplifiers[0].weight.value == pytest.approx(31 * 0.45359237)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_the_ways_in_which_spreadsheets_save(delimiter: str, encoding: str, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    text = f"Hire stock{delimiter * 16}\n\n" + sheet(amplifier(weight_kg="14,5"), delimiter=delimiter)
    path.write_bytes(text.encode(encoding))
    (entry,) = read_sheet(path, library.built_in()).entries.amplifiers
    assert (entry.weight.value, len(entry.ratings)) == (14.5, 2)


def test_a_loudspeaker_has_a_row_for_each_section(run) -> None:  # type: ignore[no-untyped-def]
    heads = "model,connector,weight (kg),kind,impedance (ohm),dc resistance (ohm),continuous power (W),lowest (Hz)\n"
    done = run(f"{heads}top-x,4-pole,31,Mid,8,6.1,400,90\ntop-x,4-pole,31,High,16,11,80,1200\n")
    assert done.status == 0
    (entry,) = mine().loudspeakers
    assert [(s.id, s.kind, s.nominal.value, s.lowest.value) for s in entry.sections] == [
        ("mid", "mid", 8.0, 90.0),
        ("high", "high", 16.0, 1200.0),
    ]
    assert entry.wirings == {"standard": (("mid",), ("high",))}


def test_a_pole_pair_that_is_none_is_told_and_not_dropped(run) -> None:  # type: ignore[no-untyped-def]
    heads = "model,connector,kind,pair,impedance (ohm),dc resistance (ohm),continuous power (W),lowest (Hz)\n"
    done = run(f"{heads}top-x,4-pole,mid,0,8,6.1,400,90\n")
    assert (done.status, 'row 2, column D (pair): "0" is not a pole pair' in done.out) == (3, True)


def test_cables_and_connectors(run) -> None:  # type: ignore[no-untyped-def]
    assert run("id,cores,size (mm2),max current (A)\ncab-x,4,2.5,25\ncab-y,2,12 AWG,20\n").status == 0
    done = run("id,pole pairs,contact resistance (mohm),max current (A),shrouded\nplug-x,2,2,30,yes\n")
    assert done.status == 0, done
    assert [(c.id, c.cores, c.size.text) for c in mine().cables] == [
        ("cab-x", 4, "2.5 mm2"),
        ("cab-y", 2, "12 AWG"),
    ]
    (plug,) = mine().connectors
    assert (plug.contact_resistance.value, plug.shrouded) == (pytest.approx(0.002), True)


def test_what_an_earlier_import_brought_is_replaced_and_said(run) -> None:  # type: ignore[no-untyped-def]
    run(sheet(amplifier()))
    done = run(sheet(amplifier(weight_kg="15"), amplifier(Model="amp-b")))
    assert "amp-a Two channels, invented replaces yours" in done.out
    assert [(e.id, e.weight.value) for e in mine().amplifiers] == [("amp-a", 15.0), ("amp-b", 14.0)]


def test_a_name_that_cant_be_printed_is_told_on_its_way_into_the_library(run) -> None:  # type: ignore[no-untyped-def]
    done = run(sheet(amplifier(Model="amp-á"), amplifier(Model="amp-山"), amplifier(Model="amp-川")))
    assert (done.status, len(mine().amplifiers)) == (0, 3)
    assert "山 (U+5C71)" in done.out
    assert "and 1 more text can't. Write it in Latin, Greek or Cyrillic letters" in done.out


def test_a_dry_run_shows_and_writes_nothing(run, own_home: Path) -> None:  # type: ignore[no-untyped-def]
    done = run(sheet(amplifier()), "--dry-run")
    assert (done.status, "Nothing is written" in done.out, "amp-a" in done.out) == (0, True, True)
    assert not own_home.exists()


# --- what is refused ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"weight_kg": "heavy"}, 'row 3, column P (weight kg): "heavy'),
        ({"weight_kg": "14 m"}, "row 3, column P (weight kg):"),
        ({"Rack_units": ""}, "row 3, column D (Rack units): It is blank. Write one such as 2."),
        ({"Ch": "two"}, 'row 3, column C (Ch): "two" is not a whole number'),
        ({"Efficiency_(%)": "800"}, "row 3, column K (Efficiency (%)): Efficiency 8 is outside 0.05 to 1"),
        ({"Terminals": "screw"}, "row 3, column N (Terminals):"),
        ({"Model": "amp-a"}, '"amp-a" is listed twice'),
        ({"Model": ""}, "row 3, column A (Model): It is blank"),
        ({"Power_8_ohm_(W)": "1,100"}, "row 3, column E (Power 8 ohm (W)):"),
    ],
)
def test_one_bad_row_keeps_all_out_and_is_told_by_its_line(  # type: ignore[no-untyped-def]
    run, own_home: Path, changes: dict[str, str], told: str
) -> None:
    done = run(sheet(amplifier(), amplifier(**{"Model": "amp-b", **changes})))
    assert done.status == 3
    assert told in done.out
    assert "Nothing is imported" in done.out
    assert not own_home.exists()


def test_every_problem_is_told_at_once(run) -> None:  # type: ignore[no-untyped-def]
    """A row that can't be read at all hides nothing of the others."""
    wrong = amplifier(Model="c", weight_kg="heavy"), amplifier(Model="b"), amplifier(**{"Model": "d", "Efficiency_(%)": "800"})  # fmt: skip
    done = run(sheet(amplifier(Ch="two"), amplifier(Model="b"), *wrong))
    told = re.findall(r"row \d, column \w", done.out)
    assert told == ["row 2, column C", "row 4, column P", "row 5, column A", "row 6, column K"]


def test_missing_columns_are_named_and_no_figure_is_guessed(run) -> None:  # type: ignore[no-untyped-def]
    row = {key: value for key, value in AMPLIFIERS.items() if key not in ("Ch", "Terminals")}
    done = run(sheet(row))
    assert (done.status, "Columns are missing: channels; terminals." in done.out) == (3, True)


def test_a_figure_that_is_blank_or_has_no_column_is_assumed_and_said_to_be(run) -> None:  # type: ignore[no-untyped-def]
    def without(row: dict[str, str]) -> dict[str, str]:
        return {key: value for key, value in row.items() if key not in ("Gain (dB)", "idle power W")}

    done = run(sheet(without(amplifier(Ch="4", weight_kg="")), without(amplifier(Model="amp-b"))))
    assert done.status == 0
    assert (
        "amp-a: blank or assumed, and counted with: gain 32 dB, idle power 200 W and weight 24 kg."
        in done.out
    )
    assert "amp-b: blank or assumed, and counted with: gain 32 dB and idle power 100 W." in done.out
    first, second = mine().amplifiers
    assert (first.assumed, second.assumed) == (("gain", "idle_power", "weight"), ("gain", "idle_power"))
    assert (first.gain.text, first.idle_power.text, first.weight.text) == ("32 dB", "200 W", "24 kg")


def test_a_figure_is_assumed_that_its_cell_says_to_be(run) -> None:  # type: ignore[no-untyped-def]
    done = run(
        sheet(
            amplifier(
                **{"weight_kg": "15 kg (assumed)", "Gain_(dB)": "assumed", "Efficiency_(%)": "80 % Assumed"}
            )
        )
    )
    (entry,) = mine().amplifiers
    assert (done.status, entry.assumed) == (0, ("gain", "efficiency", "weight"))
    assert (entry.weight.text, entry.gain.text, entry.efficiency) == ("15 kg", "32 dB", 0.8)


def test_what_must_be_known_is_not_assumed_whatever_its_cell_says(run) -> None:  # type: ignore[no-untyped-def]
    done = run(sheet(amplifier(Ch="2 (assumed)")))
    assert (done.status, '"2 (assumed)" is not a whole number' in done.out) == (3, True)


def test_a_bare_number_without_a_unit_anywhere_is_told(run) -> None:  # type: ignore[no-untyped-def]
    row = {("weight" if key == "weight kg" else key): value for key, value in AMPLIFIERS.items()}
    done = run(sheet(row))
    assert done.status == 3
    assert (
        'row 2, column P (weight): There is no unit. Write "14 kg", or for all rows the head "weight (kg)".'
        in " ".join(done.out.split())
    )


def test_what_is_the_same_of_several_rows_of_a_column_is_told_once(run) -> None:  # type: ignore[no-untyped-def]
    row = {("weight" if key == "weight kg" else key): value for key, value in AMPLIFIERS.items()}
    rows = [{**row, "Model": f"own-{n}", "weight": f"{14 + n}"} for n in range(12)]
    told = " ".join(run(sheet(*rows[:3])).out.split())
    assert "rows 2, 3 and 4, column P (weight): There is no unit." in told
    assert "rows 2, 3, 4, 5, 6, 7 and 6 more, column P (weight)" in " ".join(run(sheet(*rows)).out.split())


def test_a_loudspeakers_section_is_told_by_its_own_line(run) -> None:  # type: ignore[no-untyped-def]
    heads = "model,connector,kind,impedance (ohm),dc resistance (ohm),continuous power (W),lowest (Hz)\n"
    done = run(
        f"{heads}top-x,4-pole,mid,8,6.1,400,90\ntop-x,4-pole,treble,16,11,80,1200\ntop-y,plug-z,full,8,6,9,90\n"
    )
    assert done.status == 3
    assert "row 3, column C (kind)" in done.out
    assert "row 2" not in done.out
    done = run(f"{heads}top-y,plug-z,full,8,6,9,90\n")
    assert 'row 2, column B (connector): There is no connector "plug-z"' in done.out


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "no row of column heads"),
        ("red,green,blue\n1,2,3\n", "fit no one kind. Name it: amplifiers"),
        ("id,cores,size (mm2),max current (A)\n", "There is no row under the heads"),
        ("id,cores,size (mm2),max current (A)\na,2,2.5,20,9\n", "more cells than heads"),
    ],
)
def test_a_file_that_is_no_list_of_equipment_is_told(run, text: str, told: str) -> None:  # type: ignore[no-untyped-def]
    done = run(text)
    assert done.status == 3
    assert told in done.out + done.err


def test_a_spreadsheet_file_and_a_missing_one_are_told(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(b"PK\x03\x04rest")
    with pytest.raises(CsvError, match="Save it as CSV"):
        read_sheet(path, Equipment())
    with pytest.raises(CsvError, match="can't be read"):
        read_sheet(tmp_path / "none.csv", Equipment())


def test_an_entry_that_stands_in_another_file_of_the_user_keeps_all_out(run, own_home: Path) -> None:  # type: ignore[no-untyped-def]
    run(sheet(amplifier()))
    library_edits.own_file().rename(own_home / "equipment" / "other.toml")
    done = run(sheet(amplifier(Model="amp-b"), amplifier()))
    assert (done.status, "other.toml" in done.err) == (3, True)
    assert [entry.id for entry in mine().amplifiers] == ["amp-a"]


# --- round trip, and matching -----------------------------------------------------------------------------


def as_row(entry: AmplifierModel) -> dict[str, str]:
    """An entry as a hire company might keep it."""
    return {
        "Item": entry.id,
        "Name": entry.name,
        "Channels": f"{entry.channels}",
        "Height (U)": f"{entry.height}",
        **{f"Power {r} ohm": "" for r in (8, 4, 2)},
        **{f"Power {r.load.value:g} ohm": r.power.text for r in entry.ratings},
        **{f"Bridged power {r} ohm": "" for r in (8, 4)},
        **{f"Bridged power {r.load.value:g} ohm": r.power.text for r in entry.bridged},
        "Damping factor": f"{entry.damping_factor.value:g}",
        "Damping load": entry.damping_factor.load.text,
        "Gain": entry.gain.text,
        "Idle power": entry.idle_power.text,
        "Efficiency": f"{entry.efficiency}",
        "Power factor": f"{entry.power_factor}",
        "Inrush": entry.inrush.text,
        "Terminals": entry.terminals,
        "Max current": entry.max_current.text,
        "Weight": entry.weight.text,
        "Open voltage": entry.open_voltage.text if entry.open_voltage else "",
    }


def test_the_shipped_amplifiers_survive_the_way_through_a_spreadsheet(tmp_path: Path) -> None:
    shipped = library.built_in().amplifiers
    path = tmp_path / "a.csv"
    path.write_text(sheet(*map(as_row, shipped)), encoding="utf-8")
    assert read_sheet(path, Equipment()).entries.amplifiers == shipped


@given(st.permutations(list(AMPLIFIERS)))
def test_the_order_of_columns_does_not_matter(heads: list[str]) -> None:
    taken = {column.head: column.key for column in match(heads, "amplifiers")}
    assert taken == {column.head: column.key for column in match(list(AMPLIFIERS), "amplifiers")}


@given(st.text(max_size=200))
def test_any_text_at_all_is_read_or_refused_in_words(
    tmp_path_factory: pytest.TempPathFactory, text: str
) -> None:
    path = tmp_path_factory.mktemp("odd") / "a.csv"
    path.write_bytes(("id,cores,size,max current\n" + text).encode("utf-8", "replace"))
    try:
        read = read_sheet(path, Equipment(), "cables")
    except CsvError:
        return
    assert bool(read.entries.entries()) != bool(read.troubles)


@pytest.mark.parametrize(
    ("head", "cell", "told"),
    [
        ("Ch", "inf", 'row 2, column C (Ch): "inf" is not a whole number'),
        ("Ch", "nan", 'row 2, column C (Ch): "nan" is not a whole number'),
        ("Ch", "1e400", "row 2, column C (Ch):"),
        ("Ch", "2.5", 'row 2, column C (Ch): "2.5" is not a whole number'),
        ("Damping factor (8 ohm)", "inf", 'row 2, column H (Damping factor (8 ohm)): "inf" is not a number'),
        ("Power 8 ohm (W)", "1.200", "row 2, column E (Power 8 ohm (W)): \"1.200\" may be thousands or decimals. Write 1200 or 1.2."),
        ("Power 8 ohm (W)", "1.200 W", "may be thousands or decimals"),
        ("Power 8 ohm (W)", "1.200.000", "may be thousands or decimals"),
        ("Damping factor (8 ohm)", "1.200", "may be thousands or decimals"),
        ("Shelf", "x" * 200_000, "row 2: A cell is far too long"),
        ("Shelf", "x" * 5_000, "row 2, column Q (Shelf): A quote swallows what follows"),
    ],
)  # fmt: skip
def test_a_figure_that_is_none_or_may_be_two_is_told(run, head: str, cell: str, told: str) -> None:  # type: ignore[no-untyped-def]
    done = run(sheet(amplifier(**{head: cell}), amplifier(Model="amp-b", **{"weight kg": "heavy"})))
    assert (done.status, told in done.out, "row 3, column P (weight kg):" in done.out) == (3, True, True), (
        done.out
    )
    assert mine() == Equipment()


def test_a_head_that_is_far_too_long_is_told(run) -> None:  # type: ignore[no-untyped-def]
    done = run(sheet(amplifier() | {"9" * 1_900: "1"}))
    assert (done.status, "is far too long for the head of a column" in " ".join(done.out.split())) == (
        3,
        True,
    ), done.out


def test_a_load_that_is_none_names_no_rating(run) -> None:  # type: ignore[no-untyped-def]
    done = run(sheet(amplifier()).replace("Power 8 ohm (W)", "Power 1e999 ohm (W)"))
    assert "999 ohm" not in done.out.replace("1e999 ohm", ""), done.out


def test_an_unclosed_quote_loses_no_row_in_silence(run) -> None:  # type: ignore[no-untyped-def]
    heads = "id,name,cores,size (mm2),max current (A)\n"
    done = run(f'{heads}cab-x,"Cable,4,2.5,25\ncab-y,,2,2.5,often\n')
    assert "row 2: A quote is not closed" in done.out
    assert "row 3, column E (max current (A)):" in done.out


def test_lines_of_another_rig_are_recognised_before_they_are_read(capsys: pytest.CaptureFixture[str]) -> None:
    def call(*words: str) -> Outcome:
        with pytest.raises(SystemExit) as ended:
            main(words)
        return Outcome(int(str(ended.value.code)), *capsys.readouterr())

    assert call("export", "lines", "a.csv", "--of", "small-room").status == 0
    assert call("import", "a.csv", "--into", "small-room", "--apply", "same.toml").status == 0
    assert call("diff", "small-room", "same.toml").status == 0
    done = call("import", "a.csv", "--into", "hall", "--dry-run")
    assert (done.status, "is of another rig or venue" in done.err, done.out) == (3, True, "")


def test_the_return_undoes_no_import_of_the_night(capsys: pytest.CaptureFixture[str]) -> None:
    found = recovery.recover(preset("outdoor-stage"), ["C1"], proof=False)
    plan = found.best
    save(recovery.take(found.broken.index.rig, plan.failed, plan.moves, plan.title), "night.toml")
    Path("in.csv").write_text("line,length (m)\nC1,41\nC1-SPARE,9\nC2,42\n", encoding="utf-8")
    with pytest.raises(SystemExit, match=r"^0$"):
        main(("import", "in.csv", "--into", "night.toml", "--apply", "night.toml"))
    tonight = load("night.toml")
    returned = recovery.go_back(recovery.repair(tonight, ["C1"]))
    lengths = [{each.id: each.length.value for each in rig.lines} for rig in (tonight, returned)]
    assert [lengths[0][name] for name in ("C1-SPARE", "C2")] == [9, 42]
    assert [lengths[1][name] for name in ("C1", "C2")] == [41, 42]
