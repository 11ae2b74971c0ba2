"""The shipped presets, read once, and what there is to do for their failures, searched once."""

import functools
from collections.abc import Callable

import pytest

from rackwright.engine.recovery import Recovery, recover
from rackwright.model.rig import Rig
from rackwright.store.presets import shipped_folder
from shipped import preset

Recovered = Callable[..., Recovery]


@pytest.fixture(scope="session")
def presets() -> dict[str, Rig]:
    return {path.stem: preset(path.stem) for path in shipped_folder().glob("*.toml")}


@pytest.fixture(scope="session")
def recovered(presets: dict[str, Rig]) -> Recovered:
    """What `recover` finds for a preset and the names of what has failed of it: all of it is immutable."""
    return functools.cache(lambda preset, *names: recover(presets[preset], names))
