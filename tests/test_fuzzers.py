"""The fuzzing scripts themselves: that a short run ends well, and that they would see what they look for."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))

import fuzz_files
import fuzz_journals

from rackwright.cli.page import Page
from rackwright.store.home import VARIABLE
from rackwright.store.safe import journal, journal_record


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(VARIABLE, str(tmp_path / "home"))


def test_a_short_run_finds_nothing() -> None:
    said: list[str] = []
    kinds = len(fuzz_files.kinds())
    assert fuzz_files.fuzzed(66, 5, said.append) == 0, said
    assert fuzz_journals.fuzzed(60, 5, said.append) == 0, said
    assert len(said) == kinds + 5


@pytest.mark.parametrize("odd", ["\x1b[2J", None])
def test_what_steers_and_what_breaks_is_found(odd: str | None, monkeypatch: pytest.MonkeyPatch) -> None:
    all_kinds = fuzz_files.kinds()[:1]
    monkeypatch.setattr(fuzz_files, "kinds", lambda: all_kinds)
    monkeypatch.setattr(fuzz_files, "damaged", lambda chance, kind: kind.good)

    def prints(self: Page) -> None:
        print(odd) if odd else 1 / 0

    monkeypatch.setattr(Page, "print", prints)
    assert fuzz_files.fuzzed(3, 1, lambda _: None) == 3


def test_a_journal_that_breaks_the_console_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journal_record, "_whole", lambda content, slot: 1 / 0)
    monkeypatch.setattr(fuzz_journals, "sample", lambda: fuzz_journals.signed(b"{}", b"{}"))
    (journal.home() / "journal").mkdir(parents=True)
    assert fuzz_journals.fuzzed(3, 1, lambda _: None) == 3
