"""The command as a process of its own: streams, pipes, locales, terminals."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import rackwright

from .conftest import start


def ended(process: "subprocess.Popen[bytes]") -> tuple[int, bytes, bytes]:
    out, err = process.communicate(timeout=60)
    return process.returncode, out, err


class TestWhereSignsAreFew:
    @pytest.mark.parametrize(
        "env",
        [
            {"PYTHONIOENCODING": "ascii"},
            {"LC_ALL": "C"},
            {"LC_ALL": "", "LC_CTYPE": "", "LANG": "de_DE.ISO-8859-1"},
            {"LC_ALL": "C.UTF-8"},
        ],
        ids=lambda env: " ".join(map("=".join, env.items())),
    )
    def test_they_are_spelled_out(self, env: dict[str, str]) -> None:
        """In each such locale, and in one of UTF-8 for a pipe."""
        status, out, err = ended(start(("check", "hall"), **env))
        assert (status, err) == (0, b"")
        assert out.isascii()
        assert b"ohm" in out
        assert b"?" not in out

    def test_an_error_is_told_all_the_same(self) -> None:
        status, out, err = ended(start(("check", "hall", "--coil", "40"), PYTHONIOENCODING="ascii"))
        assert (status, out) == (64, b"")
        assert b"30 degC" in err
        assert b"Traceback" not in err

    def test_the_report_stays_utf_8(self) -> None:
        """RFC 8259: JSON between programs is UTF-8."""
        status, out, _ = ended(start(("check", "faults", "--json"), PYTHONIOENCODING="ascii"))
        assert status == 2
        assert any("Ω" in found["message"] for found in json.loads(out.decode("utf-8"))["findings"])


class TestWhereNobodyListens:
    def test_a_closed_pipe_is_quiet(self) -> None:
        process = start(("check", "outdoor-stage"))
        assert process.stdout is not None
        process.stdout.close()
        status, _, err = process.wait(60), None, process.stderr and process.stderr.read()
        assert (status, err) == (141, b"")

    @pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no full device")
    @pytest.mark.parametrize(
        "words", [("check", "small-room"), ("--help",), ("papers", "-h"), ("--version",)]
    )
    def test_a_full_disk_is_told(self, words: tuple[str, ...]) -> None:
        with open("/dev/full", "wb") as full:
            status, _, err = ended(start(words, stdout=full.fileno()))
        assert status == 74
        assert err == b"The output can't be written: No space left on device.\n"

    @pytest.mark.parametrize("closed", ["<&-", ">&-", "2>&-", "<&- >&- 2>&-"])
    def test_closed_streams_raise_nothing(self, closed: str) -> None:
        for words in ("check", "--help", "check small-room") if closed == ">&-" else ("", "check small-room"):
            done = subprocess.run(
                ["sh", "-c", f"exec {sys.executable} -m rackwright {words} {closed}"],
                stdin=subprocess.DEVNULL,
                capture_output=True,
                env={**os.environ, "PYTHONPATH": str(Path(rackwright.__file__).parents[1])},
            )
            assert done.returncode in {0, 1, 3, 64, 74}, (words, done)
            assert b"Traceback" not in done.stdout + done.stderr


@pytest.mark.skipif(os.name != "posix", reason="needs a pseudo terminal")
class TestOnATerminal:
    def screen(self, **env: str) -> str:
        import pty

        ours, theirs = pty.openpty()
        process = start(("why", "small-room", "P1", "loading"), stdout=theirs, **{"TERM": "xterm", **env})
        os.close(theirs)
        shown = b""
        try:
            while chunk := os.read(ours, 65536):
                shown += chunk
        except OSError:
            pass  # the way in which a pseudo terminal tells its end
        os.close(ours)
        assert process.wait(60) == 0
        assert process.stderr is not None
        process.stderr.close()
        return shown.decode("utf-8")

    def test_there_is_colour(self) -> None:
        assert "\x1b[1m" in self.screen()

    def test_typography_is_full_in_utf_8_and_ascii_where_that_is_asked_for(self) -> None:
        assert "·" in self.screen(LC_ALL="C.UTF-8")
        assert self.screen(LC_ALL="C.UTF-8", RACKWRIGHT_ASCII="1").isascii()

    @pytest.mark.parametrize("env", [{"NO_COLOR": "1"}, {"TERM": "dumb"}])
    def test_there_is_none_where_it_is_not_wanted(self, env: dict[str, str]) -> None:
        assert "\x1b" not in self.screen(**env)


PROGRAMME = """
from rackwright.engine.recovery.choices import Choices
from rackwright.engine.recovery.planner import task_of
from rackwright.store import presets, rig_file
choices = Choices(task_of(rig_file.load(presets.find("faults").path), ["A3", "P1"]))
print(choices.program._rows, choices.columns.moves)
"""
"""Whatever a plan for two failures may be made of: the solver takes many seconds, and gives the same for the same."""


@pytest.mark.parametrize(
    "words",
    [("-c", PROGRAMME), ("-m", "rackwright", "recover", "hall", "--failed", "A9.1")],
    ids=["programme", "plans"],
)
def test_the_same_failure_has_the_same_plans_in_whatever_order_a_set_comes(words: tuple[str, ...]) -> None:
    """Two consoles tell the crew the same: Python orders a set of names anew in each process."""
    env = {**os.environ, "PYTHONPATH": str(Path(rackwright.__file__).parents[1])}
    one, other = (
        subprocess.run([sys.executable, *words], capture_output=True, env={**env, "PYTHONHASHSEED": seed})
        for seed in ("0", "1")
    )
    assert len(one.stdout) > 1000
    assert one.stdout == other.stdout


def test_a_report_of_a_rig_that_works_does_without_the_search_for_plans() -> None:
    """Reading its modules takes as long as the rest of `check`."""
    found = "import rackwright.cli.check, sys; sys.exit('rackwright.engine.recovery' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", found], timeout=60).returncode == 0


def test_the_console_starts_without_tls_and_whoever_wants_it_later_has_it() -> None:
    started = "import rackwright.cli.open as it, sys; it.import_asyncio(); import rackwright.console.app"
    then = "sys.exit(bool({'ssl', '_hashlib'} & {*sys.modules}) or not __import__('ssl').OPENSSL_VERSION)"
    assert subprocess.run([sys.executable, "-c", f"{started}; {then}"], check=False).returncode == 0
