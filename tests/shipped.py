"""The shipped presets, each read and assessed once: both are immutable, so that all tests share them."""

import functools

from rackwright.engine.assess import Assessed, assess
from rackwright.model.rig import Rig
from rackwright.store.library import built_in
from rackwright.store.presets import shipped_folder
from rackwright.store.rig_file import load


@functools.cache
def preset(name: str) -> Rig:
    """A preset, with no equipment of whoever runs the test."""
    return load(shipped_folder() / f"{name}.toml", built_in())


@functools.cache
def assessed(name: str) -> Assessed:
    return assess(preset(name))
