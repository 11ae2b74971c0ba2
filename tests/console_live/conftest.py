"""Each test has a user's folder of its own."""

from pathlib import Path

import pytest

from rackwright.store.home import VARIABLE


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    monkeypatch.setenv(VARIABLE, str(folder))
    return folder
