"""Words that a shell completes: what is offered, that it is taken, and how a shell is told to ask."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from rackwright.cli.group import SUMMARIES
from rackwright.cli.status import COMPLETING
from rackwright.store import presets

from .conftest import Run


@pytest.fixture
def offers(run: Run, monkeypatch: pytest.MonkeyPatch):
    """What bash is offered for the last of these words; `=` is a word of its own there."""

    def ask(*words: str) -> list[str]:
        with monkeypatch.context() as asked:
            asked.setenv(COMPLETING, "bash_complete")
            asked.setenv("COMP_WORDS", "\n".join(["rackwright", *words]))
            asked.setenv("COMP_CWORD", str(len(words)))
            asked.setattr(sys, "stderr", sys.stderr)
            status, out, err = run()
        assert (status, err) == (0, "")
        return [line.removeprefix("plain,") for line in out.splitlines() if line]

    return ask


def test_the_first_word_is_a_command_a_preset_or_a_rig_file(offers) -> None:
    presets.copy_out("small-room", "mine.toml")
    assert {*SUMMARIES, *presets.names(), "mine.toml"} == {*offers("")}
    assert offers("mi") == ["mine.toml"]
    assert offers("check", "mi") == ["mine.toml"]
    assert offers("check", "nothing-here") == ["file,nothing-here"]
    Path("shows").mkdir()
    Path("mine.toml").rename("shows/a.toml")
    assert offers("diff", "hall", "shows/") == ["shows/a.toml"]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("presets", ""), {"copy", "list"}),
        (("presets", "copy", "h"), {"hall"}),
        (("venue", "apply", "hall", "t"), {"tannery"}),
        (("equipment", "show", "sub-d"), {"sub-double-15"}),
        (("papers", "hall", "--only", "patch,la"), {"patch,labels"}),
        (("papers", "hall", "--only", "patch,patc"), set()),
        (("papers", "hall", "--paper", ""), {"a4", "letter"}),
        (("why", "small-room", "A1.1", "limiter_peak"), {"limiter_peak", "limiter_peak_dbu", "limiter_peak_sine_dbu"}),
        (("recover", "small-room", "--circuit", ""), {"P1", "P2"}),
        (("diagnose", "small-room", "--heard", "left", "=", "q"), {"quiet"}),
        (("diagnose", "small-room", "--heard", "left=q"), {"quiet"}),
        (("why", "no-such-rig", ""), set()),
        (("chekc", "small-room", ""), set()),
    ],
)  # fmt: skip
def test_what_may_follow(offers, words: tuple[str, ...], expected: set[str]) -> None:
    assert {*offers(*words)} >= expected
    assert expected or not offers(*words)


def test_every_place_that_is_offered_is_taken(offers, run: Run) -> None:
    places = offers("why", "small-room", "")
    assert {"A1.1", "TOP-L1.high", "C1", "P1", "R1", "supply"} <= {*places}
    for place in places:
        assert run("why", "small-room", place).status == 0, place
    failed = offers("recover", "small-room", "--failed", "")
    assert {"A1", "A1.1", "C1", "P1", "R1-1", "SUB-L1", "TOP-L1.high", "sub", "R1"} <= {*failed}
    shown = [word for name in failed for word in ("--failed", name)]
    assert run("recover", "small-room", *shown).status in (0, 1)
    heard = [each for each in offers("diagnose", "small-room", "--heard", "") if each.endswith("=plays")]
    assert {"TOP-L1.high=plays", "SUB-L1=plays", "sub=plays", "left=plays"} <= {*heard}
    assert run("diagnose", "small-room", *(f"--heard={each}" for each in heard)).status == 0


@pytest.mark.parametrize(("shell", "start"), [("bash", ".bashrc"), ("zsh", ".zshrc"), ("fish", None)])
def test_installed_it_is_read_when_the_shell_starts_and_nothing_else_is_changed(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, shell: str, start: str | None
) -> None:
    for variable in ("ZDOTDIR", "XDG_CONFIG_HOME"):
        monkeypatch.delenv(variable, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("SHELL", f"/usr/bin/{shell}")
    if start:
        (tmp_path / start).write_text("alias a=b")
    for _ in range(2):
        status, out, _err = run("completion", "--install")
        assert status == 0
    script = Path(out.split("Wrote:\n")[1].splitlines()[0].strip())
    assert COMPLETING in script.read_text()
    if start is None:
        assert script == tmp_path / ".config/fish/completions/rackwright.fish"
        return
    own, line = (tmp_path / start).read_text().splitlines()
    assert (own, str(script) in line) == ("alias a=b", True)


def test_a_start_file_that_cannot_be_written_is_told(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    (tmp_path / ".bashrc").mkdir()
    status, _, err = run("completion", "bash", "--install")
    assert (status, ".bashrc can't be written" in err) == (3, True)
    monkeypatch.setenv("SHELL", "/bin/sh")
    status, _, err = run("completion")
    assert (status, err.startswith("Name the shell: bash, zsh, fish.")) == (64, True)


@pytest.mark.skipif(not shutil.which("bash"), reason="there is no bash here")
def test_bash_puts_in_what_is_offered(run: Run, tmp_path: Path) -> None:
    script = tmp_path / "script"
    script.write_text(run("completion", "bash").out)
    program = tmp_path / "rackwright"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m rackwright "$@"\n')
    program.chmod(0o755)
    words = f'compopt() {{ :; }}; . "{script}"; COMP_WORDS=({program} ch); COMP_CWORD=1'
    asked = f'{words}; _rackwright_completion "{program}"; echo "${{COMPREPLY[*]}}"'
    told = subprocess.run(["bash", "--norc", "-c", asked], capture_output=True, text=True, timeout=60)
    assert (told.stdout, told.stderr) == ("check\n", "")
