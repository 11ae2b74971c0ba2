"""What comes in from outside ends in a sentence; what goes out steers no terminal."""

import csv
import io
import json
import os
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.cli.page import Page
from rackwright.store import rig_file
from rackwright.store.home import VARIABLE
from rackwright.store.presets import shipped_folder

from .conftest import Run

STEERS = [chr(n) for n in (0, 7, 8, 9, 0x0D, 0x1B, 0x7F, 0x85, 0x9B, 0x9D, 0x61C, 0x200E, 0x200F)]
STEERS += [chr(n) for n in (0x2028, 0x2029, *range(0x202A, 0x202F), *range(0x2066, 0x206A))]
"""ECMA-48 control functions, and Bidi_Control and the line ends of Unicode (UAX 9, UAX 14)."""
odd = st.text(st.sampled_from([*STEERS, *"aA1-=[];"]), min_size=1, max_size=8)


def steers(text: str) -> bool:
    return any(sign in text for sign in STEERS)


@given(
    words=st.lists(odd, min_size=1, max_size=3),
    command=st.sampled_from(["", "check", "why", "presets", "diff"]),
)
def test_no_word_of_the_command_line_steers(run: Run, words: list[str], command: str) -> None:
    said = run(*filter(None, (command, *words)))
    assert said.status
    assert not steers(said.out + said.err)
    assert len(said.err) > 3


KEPT = [sign for sign in STEERS if not sign.isspace()]
"""Those that an id may hold."""


@pytest.mark.parametrize(
    ("tail", "status"),
    [("a".join(KEPT), 0), ("[2J;".join(KEPT[:9]), 0), ("".join(STEERS), 3)],
    ids=["all", "sent", "refused"],
)
def test_no_field_of_a_rig_steers(run: Run, tail: str, status: int) -> None:
    """Every id and text of a rig, put into its file, through every command that prints."""
    path = Path("odd.toml")
    text = (shipped_folder() / "small-room.toml").read_text()
    data = tomllib.loads(text)
    ids = [each["id"] for kind in ("circuits", "feeds", "cabinets", "lines", "racks") for each in data[kind]]
    written = json.dumps(tail)[1:-1].replace("\x7f", "\\u007f")
    for each in ids:
        text = text.replace(f'"{each}"', f'"{each}{written}"')
    path.write_text(text.replace('name = "', f'name = "{written}', 1))
    assert run("check", "odd.toml").status == status
    for words in (
        ("check", path),
        ("check", path, "--json"),
        ("circuits", path),
        ("meter", path),
        ("rehearse", path, "--quick"),
        ("recover", path, "--circuit", ids[0] + tail),
        ("recover", path, "--circuit", "none"),
        ("diff", path, "small-room"),
    ):
        said = run(*map(str, words))
        assert not steers(said.out + said.err), words


def test_json_and_toml_read_back_what_they_hold(run: Run, own_home: Path) -> None:
    rig = replace(rig_file.load(shipped_folder() / "small-room.toml"), name="a\x9b\u202eb\x1b")
    rig_file.save(rig, "odd.toml")
    assert not steers(Path("odd.toml").read_text(encoding="utf-8"))
    assert rig_file.load("odd.toml") == rig
    assert json.loads(run("check", "odd.toml", "--json").out)["rig"] == rig.name


def test_a_user_s_folder_of_nobody_is_told(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    Path("own.toml").write_bytes((shipped_folder() / "hall.toml").read_bytes())
    monkeypatch.setenv(VARIABLE, "~nobody-of-this-name/rackwright")
    for words in (
        ("presets",),
        ("equipment",),
        ("check", "hall"),
        ("venue", "list"),
        ("hall",),
        (),
        ("own.toml",),
    ):
        status, out, err = run(*words)
        assert (status, out) == (3, ""), words
        assert err.startswith(
            'RACKWRIGHT_HOME is "~nobody-of-this-name/rackwright", and there is no such user.'
        )
    assert run("--help").status == 0


def test_what_nobody_foresaw_is_a_sentence_a_log_entry_and_a_status(
    run: Run, own_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(self: Page) -> None:
        raise KeyError("A14.3")

    monkeypatch.setattr(Page, "print", fails)
    status, out, err = run("check", "small-room")
    assert (status, out) == (70, "")
    assert err.startswith("Rackwright check small-room failed: KeyError ('A14.3').")
    log = (own_home / "log.txt").read_text()
    assert "rackwright check small-room" in log
    assert "KeyError: 'A14.3'" in log


@pytest.mark.parametrize("words", ["check P", "diff P P", "venue apply hall P --out new.toml", "meter hall --readings P",
    "equipment import P", "recover P --failed A1", "papers small-room --out P --format txt", "hall P"])  # fmt: skip
@pytest.mark.parametrize("kind", ["pipe", "/dev/zero", "nothing/there", "dangling", "folder"])
def test_what_is_no_file_is_told(run: Run, words: str, kind: str) -> None:
    os.mkfifo("pipe")
    os.mkdir("folder")
    os.symlink("gone", "dangling")
    if "papers" in words and kind in ("nothing/there", "folder"):
        return  # a folder is what it writes into
    status, out, err = run(*words.replace("P", kind).split())
    assert status in (3, 64), err
    assert err
    assert not out


def test_a_meter_sheet_runs_no_formula_and_reads_back(run: Run) -> None:
    """Ids, ends and notes that a spreadsheet would run, and one that steers; the readings come back to their lines."""
    text = (shipped_folder() / "small-room.toml").read_text()
    first, second = (line["id"] for line in tomllib.loads(text)["lines"][:2])
    text = text.replace(f'"{first}"', '"=1+1"').replace(f'"{second}"', '"@\\u009b"')
    Path("odd.toml").write_text(text)
    assert run("meter", "odd.toml", "--csv", "sheet.csv").status in (0, 1)
    sheet = Path("sheet.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(sheet)))
    assert not steers(sheet.replace("\n", ""))
    assert not any(cell.startswith(("=", "+", "-", "@")) for row in rows for cell in row.values())
    for row in rows:
        row |= {"reading": "5", "note": "'=bad"}
    with open("filled.csv", "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    assert run("meter", "odd.toml", "--readings", "filled.csv", "--apply", "read.toml").status in (0, 1)
    kept = rig_file.load("read.toml").readings
    assert {"=1+1", "@\x9b"} <= {reading.line for reading in kept}
    assert {reading.note for reading in kept} == {"=bad"}
