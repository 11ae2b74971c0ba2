"""A home of its own for each test, and no frame drawn that nobody looks at."""

from pathlib import Path

import pytest
from textual.screen import Screen

from console.hand import not_drawn


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's folder, empty."""
    home = tmp_path / "home"
    monkeypatch.setenv("RACKWRIGHT_HOME", str(home))
    return home


@pytest.fixture(autouse=True)
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Frames are drawn only where a test looks at the screen."""
    monkeypatch.setattr(Screen, "_compositor_refresh", not_drawn)
