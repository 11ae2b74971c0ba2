"""Every test of the store has a user's folder of its own, so that none reads the tester's."""

from pathlib import Path

import pytest

from rackwright.store.home import VARIABLE


@pytest.fixture(autouse=True)
def own_home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder that stands for the user's."""
    folder = tmp_path_factory.mktemp("home")
    monkeypatch.setenv(VARIABLE, str(folder))
    return folder
