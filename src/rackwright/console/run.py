"""Starting the console, and keeping Python's search for unreachable cycles out of its way.

That search goes through all that is alive, again and again while modules load and screens are built: it took a third
of a key's time. Knows nothing of what the console shows.
"""

import gc
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rackwright.store.presets import Preset

SELDOM = (20_000, 20, 20)
"""How much must come and go before the search; the values of a rig form no cycles, only screens do."""


def run(path: Path | None = None, preset: "Preset | None" = None) -> None:
    """Run the console on a rig file, on a preset as a new rig, or from the start."""
    gc.disable()
    from rackwright.console.app import Console

    Console(path, preset, on_first_screen=search_seldom).run()


def search_seldom() -> None:
    """Search again, but not what is there for good."""
    gc.freeze()
    gc.set_threshold(*SELDOM)
    gc.enable()
