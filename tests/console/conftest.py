"""A user's folder, a working folder and a terminal of its own for each test."""

from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's folder, empty; the working folder, empty too; no setting of this machine's terminal."""
    home, here = tmp_path / "home", tmp_path / "here"
    here.mkdir()
    monkeypatch.setenv("RACKWRIGHT_HOME", str(home))
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.chdir(here)
    return home
