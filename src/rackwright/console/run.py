"""Starting the console, with Python and the toolkit set so that a key is answered at once.

Python's search for unreachable cycles goes through all that is alive, again and again while modules load and screens
are built: it took a third of a key's time. The toolkit waits for the next of so many frames a second before it paints,
and after escape for the rest of a longer key. Knows nothing of what the console shows.
"""

import asyncio
import gc
import importlib
import os
import selectors
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rackwright.store.presets import Preset

FRAMES = "240"
"""A second. Nothing moves by itself here, so this is no work, only a shorter wait; a slow link still gets one frame a key."""
ESCAPE = "50"
"""Milliseconds to wait after an escape for the rest of a key, which a link seldom parts (common practice, no source)."""
LOOK = 0.02
"""Seconds from one look to the next whether that time is over; the toolkit's tenth made escape the slowest key."""
SELDOM = (20_000, 20, 20)
"""How much must come and go before the search; the values of a rig form no cycles, only screens do."""
LATER = (
    "reading",
    "graph",
    "recovering",
    "line_test",
    "moving",
    "many",
    "visiting",
    "papering",
    "equipment_screens",
)
"""What the console loads only for a key of its own, the soonest wanted first."""
PAUSE = 0.01
"""Seconds in which a key comes between two of them."""

_loading: set[asyncio.Task[None]] = set()
"""Held here because asyncio holds its tasks only weakly."""


def run(path: Path | None = None, preset: "Preset | None" = None) -> None:
    """Run the console on a rig file, on a preset as a new rig, or from the start."""
    gc.disable()
    os.environ.setdefault("TEXTUAL_FPS", FRAMES)
    os.environ.setdefault("ESCDELAY", ESCAPE)
    from rackwright.console.app import Console

    look_often()
    Console(path, preset, on_first_screen=begin_loading).run()


class _Looking(selectors.SelectSelector):
    """Waits for keys, but not past the next look."""

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        """What is there to be read."""
        return super().select(LOOK if timeout is None else min(timeout, LOOK))


def look_often() -> None:
    """Have the toolkit's thread that reads keys wait no longer than `LOOK`: it has no setting for that."""
    from textual.drivers import linux_driver

    waiting = SimpleNamespace(SelectSelector=_Looking, EVENT_READ=selectors.EVENT_READ)
    vars(linux_driver)["selectors"] = waiting


def begin_loading() -> None:
    """The first screen stands: load the rest while nobody waits."""
    _loading.add(asyncio.create_task(load_later()))


async def load_later() -> None:
    """Load what keys will ask for, bit by bit, then search again, but not through what is there for good."""
    try:
        for name in LATER:
            await asyncio.sleep(PAUSE)
            importlib.import_module(f"rackwright.console.{name}")
    finally:
        gc.freeze()
        gc.set_threshold(*SELDOM)
        gc.enable()
