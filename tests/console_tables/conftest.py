"""A home of its own for each test."""

from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's folder, empty."""
    home = tmp_path / "home"
    monkeypatch.setenv("RACKWRIGHT_HOME", str(home))
    return home
