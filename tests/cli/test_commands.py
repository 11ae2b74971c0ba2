"""The other commands, and how every command answers what is off."""

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import pytest

from engine_working import odd
from rackwright.cli import circuits
from rackwright.cli.group import commands
from rackwright.cli.help import TOPICS
from rackwright.engine import recovery
from rackwright.engine.cautions import PLANNING
from rackwright.units.text_table import cells

from .conftest import Run

PRESETS = ("small-room", "hall", "outdoor-stage", "faults")
PAGES = [
    *((command, name) for command in ("check", "circuits", "meter") for name in PRESETS),
    *(
        ("recover", name, "--failed", failed)
        for name, failed in zip(PRESETS, ("C1", "A1", "A14", "C5"), strict=True)
    ),
    ("rehearse", "small-room", "--quick"),  # words and columns of another rig are the same
    ("check", "hall", "--coil", "150 degC"),
    ("circuits", "faults", "--fewest"),
    ("why", "outdoor-stage", "supply"),
    ("why", "faults", "P1"),
    ("why", "faults", "A1.1"),
    ("why", "outdoor-stage", "supply", "neutral"),
    ("why", "faults", "SUB-L2.upper", "decay"),
    ("diff", "faults", "hall"),
    ("explain",),
    ("schema",),
    *(("help", topic) for topic in TOPICS if topic != "keys"),  # of which one is a question mark
    ("help",),
    ("help", "unit"),
    ("explain", "touch-voltage"),
    ("explain", "tuch-voltage"),
    ("presets",),
    ("equipment",),
    ("equipment", "show", "amp-2ch-1800"),
    ("venue", "list"),
    ("papers", "faults", "--out", "p", "--format", "txt,md"),
    ("check", "nowhere"),
    ("check", "hall", "--coil", "40"),
    ("why", "hall", "A1", "none"),
]
HELP = [*((command, "--help") for command in commands.list_commands(click.Context(commands))), ("--help",),
    *((group, command, "--help") for group in ("venue", "equipment", "presets") for command in ("list",))]  # fmt: skip


def once(function: Callable[..., Any]) -> Callable[..., Any]:
    """Works out what the first call asks for, and answers every other with that."""
    found: list[Any] = []

    def call(*args: Any, **options: Any) -> Any:
        if not found:
            found.append(function(*args, **options))
        return found[0]

    return call


@pytest.mark.parametrize("words", PAGES, ids=" ".join)
def test_fits_the_width_parts_no_word_and_is_ascii_where_that_is_asked_for(
    run: Run, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Which words there are doesn't hang on the width: none is parted at 60 columns, nor in a pipe, which takes 80."""
    monkeypatch.setenv("RACKWRIGHT_ASCII", "1")
    for where, name in ((circuits, "propose"), (recovery, "recover")):
        monkeypatch.setattr(where, name, once(getattr(where, name)))
    stages = recovery.stages
    rehearsed = once(lambda *of, **more: [*stages(*of, **more)])
    monkeypatch.setattr(recovery, "stages", lambda *of, **more: iter(rehearsed(*of, **more)))
    pages = {}
    for columns in ("100", "60", ""):
        monkeypatch.setenv("COLUMNS", columns)
        shutil.rmtree("p", ignore_errors=True)
        done = run(*words)
        said = done.out + done.err
        assert [line for line in done.out.splitlines() if cells(line) > int(columns or 80)] == []
        assert said.isascii()
        assert "?" not in said.replace("Did you mean", "").replace('"?', "")
        assert "\x1b" not in said
        assert not any(line.endswith(" ") for line in said.splitlines())
        pages[columns] = set(said.split())
    assert pages["100"] == pages["60"] == pages[""]
    for paper in Path().glob("p/*.*"):
        text = paper.read_text("ascii")
        assert "?" not in text


@pytest.mark.parametrize("columns", ["60", "80"])
@pytest.mark.parametrize("words", HELP, ids=" ".join)
def test_help_fits_and_every_summary_is_whole(
    run: Run, words: tuple[str, ...], columns: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    out = run(*words).out
    assert [line for line in out.splitlines() if cells(line) > int(columns)] == []
    assert out.isascii()
    assert "..." not in out.replace("[ARGS]...", "").replace("COMMAND [", "")


def test_fits_80_columns_with_ids_of_any_length(run: Run) -> None:
    long = odd.RIG.replace('"B1"', f'"{"left-" * 12}"').replace('"P1"', f'"{"wall-" * 9}"')
    Path("long.toml").write_text(long, "utf-8")
    for words in (("check", "long.toml"), ("circuits", "long.toml"), ("why", "long.toml", "wall-" * 9)):
        assert [line for line in run(*words).out.splitlines() if cells(line) > 80] == []


def test_lets_no_control_sign_through(run: Run) -> None:
    text = odd.RIG.replace('name = "Odds and ends"', 'name = "Odd \\u001b[2J\\u0007 \\u202e rig"')
    Path("odd.toml").write_text(text, "utf-8")
    out = run("check", "odd.toml").out
    assert out.startswith("Odd \\u001b[2J\\u0007 \\u202e rig\n")


@pytest.mark.parametrize(
    ("former", "now"),
    [
        (("linetest", "small-room"), ("meter", "small-room")),
        (("venue", "split", "hall", "--out", "a.toml"), ("venue", "save", "hall", "--out", "b.toml")),
        (
            ("venue", "join", "hall", "tannery", "--out", "c.toml"),
            ("venue", "apply", "hall", "tannery", "--out", "d.toml"),
        ),
    ],
)
def test_a_former_name_is_read_with_a_note(run: Run, former: tuple[str, ...], now: tuple[str, ...]) -> None:
    old, new = run(*former), run(*now)
    assert (old.status, old.out.replace(former[-1], now[-1])) == (new.status, new.out)
    assert "is its old name" in old.err
    assert former[0] not in run("--help").out or former[0] == "venue"
    assert not {"split", "join"} & set(run("venue", "--help").out.split())


class TestWhy:
    def test_lists_the_figures_of_a_place(self, run: Run) -> None:
        out = run("why", "hall", "P1").out
        names = [line.split()[-1] for line in out.splitlines()[2:] if not line.startswith(" ")]
        assert {"loading", "drop", "inrush", "heat_btu"} <= set(names)

    def test_tells_which_figures_a_place_has_not_and_why(self, run: Run) -> None:
        assert "None of generator, generator_loading" in run("why", "hall", "supply").out

    def test_shows_steps_with_their_sources(self, run: Run) -> None:
        out = run("why", "outdoor-stage", "P6", "loading").out
        assert out.startswith("P6: Loading, programme = 25.5 %\n")
        assert out.count("source: ") == out.count(". ", 0) == 4

    @pytest.mark.parametrize(
        ("place", "figure"), [("P1", "inrush"), ("A1.1", "touch_voltage"), ("supply", "heat")]
    )
    def test_of_mains_and_touch_carries_the_caution(self, run: Run, place: str, figure: str) -> None:
        assert run("why", "hall", place, figure).out.splitlines()[-1] == PLANNING

    def test_of_a_section_carries_none(self, run: Run) -> None:
        assert PLANNING not in run("why", "hall", "SUB-L1.upper", "loss").out

    @pytest.mark.parametrize(
        ("words", "told"),
        [
            (("hall", "sub-l1.uper"), 'Did you mean "SUB-L1.upper"?'),
            (("hall", "A1.1", "voltge"), 'Did you mean "voltage"?'),
            (("hall", "A11.4", "power"), "nothing is connected"),
        ],
    )
    def test_amiss_is_told_on_standard_error(self, run: Run, words: tuple[str, ...], told: str) -> None:
        outcome = run("why", *words)
        assert (outcome.status, outcome.out) == (64, "")
        assert told in outcome.err


class TestPresetsAndEquipment:
    def test_presets_tell_the_first_line_of_their_notes(self, run: Run) -> None:
        out = " ".join(run("presets").out.split())
        assert (
            "Open-air stage, generator. 161 loudspeaker sections on eight racks, invented for the demo."
            in out
        )

    def test_a_preset_is_copied_out_once(self, run: Run) -> None:
        assert run("presets", "copy", "hall").status == 0
        assert run("check", "hall.toml").status == 0
        again = run("presets", "copy", "hall")
        assert (again.status, again.out) == (3, "")
        assert "exists already" in again.err

    def test_an_entry_is_shown_as_toml(self, run: Run) -> None:
        assert 'id = "amp-2ch-1800"' in run("equipment", "show", "amp-2ch-1800").out

    def test_an_entry_amiss_names_the_nearest(self, run: Run) -> None:
        told = run("equipment", "show", "amp-2ch-180")
        assert (told.status, told.out) == (64, "")
        assert 'Did you mean "amp-2ch-1800"?' in told.err


class TestDiff:
    def test_of_a_rig_with_itself_is_nothing(self, run: Run) -> None:
        assert run("diff", "hall", "hall") == (0, "The two rigs are the same.\n", "")

    def test_of_two_is_status_1(self, run: Run) -> None:
        assert run("diff", "hall", "small-room").status == 1


class TestWhatIsOff:
    @pytest.mark.parametrize("command", ["check", "circuits", "why"])
    @pytest.mark.parametrize(
        ("rig", "told"),
        [
            ("gone.toml", "gone.toml: There is no such file"),
            ("folder", "folder: This is a folder"),
            ("halll", 'Did you mean "hall"?'),
            ("rubbish", "Presets: faults, hall, outdoor-stage, small-club, small-room"),
            ("mine", 'Did you mean "mine.toml"?'),
            ("broken.toml", "broken.toml, line 2"),
            ("latin.toml", "not UTF-8 text"),
            ("x" * 300, "There is no file and no preset"),
            ("a\0b", "There is no"),
            ("", "There is no such file"),
        ],
    )
    def test_a_rig_that_can_t_be_used_is_status_3_and_no_output(
        self, run: Run, command: str, rig: str, told: str
    ) -> None:
        Path("folder").mkdir()
        Path("mine.toml").write_text(odd.RIG, "utf-8")
        Path("broken.toml").write_text('format = 1\nname = "x\n', "utf-8")
        Path("latin.toml").write_bytes('format = 1\nname = "é"\n'.encode("latin-1"))
        outcome = run(command, rig, *(("A1.1",) if command == "why" else ()))
        assert (outcome.status, outcome.out) == (3, "")
        assert told in outcome.err

    def test_a_preset_is_found_beside_a_folder_of_its_name(self, run: Run) -> None:
        Path("hall").mkdir()
        assert run("check", "hall").status == 0

    @pytest.mark.parametrize(
        ("words", "told"),
        [
            (("check",), "Missing argument"),
            (("check", "hall", "--jsno"), "--json"),
            (("check", "hall", "--coil", "40"), 'Did you mean "40 degC"?'),
            (("check", "hall", "--coil", "40 ohm"), "temperature"),
            (("check", "hall", "--coil", "9000 degC"), "above 350"),
            (("check", "hall", "--coil", "90 degC", "--json"), "leave out --json"),
            (("circuits", "hall", "--apply"), "--apply"),
            (("chek", "hall"), 'Did you mean "check"?'),
        ],
    )
    def test_words_that_are_off_are_status_64_and_no_output(
        self, run: Run, words: tuple[str, ...], told: str
    ) -> None:
        outcome = run(*words)
        assert (outcome.status, outcome.out) == (64, "")
        assert told in outcome.err

    @pytest.mark.parametrize("words", [("--help",), ("check", "-h"), ("--version",)])
    def test_help_and_version_are_status_0(self, run: Run, words: tuple[str, ...]) -> None:
        assert run(*words).status == 0

    def test_ctrl_c_is_quiet(self, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
        def interrupted(*_: object) -> None:
            raise KeyboardInterrupt

        monkeypatch.setattr("rackwright.cli.check.assess", interrupted)
        outcome = run("check", "hall")
        assert (outcome.status, outcome.out, outcome.err.strip()) == (130, "", "")
