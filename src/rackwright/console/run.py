"""Starting the console, with Python and the toolkit set so that a key is answered at once.

Python's search for unreachable cycles goes through all that is alive, again and again while modules load and screens
are built: it took a third of a key's time. The toolkit waits for the next of so many frames a second before it paints.
Knows nothing of what the console shows.
"""

import gc
import os
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rackwright.store.presets import Preset

FRAMES = "240"
"""A second. Nothing moves by itself here, so this is no work, only a shorter wait; a slow link still gets one frame a key."""
SELDOM = (20_000, 20, 20)
"""How much must come and go before the search; the values of a rig form no cycles, only screens do."""


def run(path: Path | None = None, preset: "Preset | None" = None) -> None:
    """Run the console on a rig file, on a preset as a new rig, or from the start."""
    gc.disable()
    os.environ.setdefault("TEXTUAL_FPS", FRAMES)
    from rackwright.console.app import Console

    Console(path, preset, on_first_screen=search_seldom).run()


def search_seldom() -> None:
    """Search again, but not what is there for good."""
    gc.freeze()
    gc.set_threshold(*SELDOM)
    gc.enable()
