"""A user's folder of its own for each test, and no setting of this machine's terminal."""

from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's folder, empty."""
    monkeypatch.setenv("RACKWRIGHT_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("NO_COLOR", raising=False)
    return tmp_path / "home"
