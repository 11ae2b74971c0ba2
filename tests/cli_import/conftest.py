"""A user's folder and a working folder of each test's own."""

from pathlib import Path

import pytest

from rackwright.store.home import VARIABLE


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's folder, empty; the working folder, empty too."""
    home, here = tmp_path / "home", tmp_path / "here"
    here.mkdir()
    monkeypatch.setenv(VARIABLE, str(home))
    monkeypatch.chdir(here)
    return home
