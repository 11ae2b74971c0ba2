"""The shipped presets, read once."""

from pathlib import Path

import pytest

from rackwright.model.rig import Rig
from rackwright.store.rig_file import load

FOLDER = Path(__file__).parents[2] / "presets"


@pytest.fixture(scope="session")
def presets() -> dict[str, Rig]:
    return {path.stem: load(path) for path in FOLDER.glob("*.toml")}
