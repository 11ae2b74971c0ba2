"""Starting the console, with Python and the toolkit set so that a key is answered at once.

Python's search for unreachable cycles goes through all that is alive, again and again while modules load and screens
are built: it took a third of a key's time. The toolkit waits for the next of so many frames a second before it paints,
and after escape for the rest of a longer key. Knows nothing of what the console shows.
"""

import asyncio
import gc
import importlib
import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rackwright.store import log

if TYPE_CHECKING:
    from rackwright.console.app import Console
    from rackwright.store.presets import Preset

FRAMES = "1000"
"""A second. Nothing moves by itself here, so this is no work, only a shorter wait; a slow link still gets one frame a key."""
ESCAPE = "20"
"""Milliseconds to wait after an escape for the rest of a key, which a terminal writes, and SSH sends, in one piece (common practice, no source)."""
SELDOM = (20_000, 20, 20)
"""How much must come and go before the search; the values of a rig form no cycles, only screens do."""
LATER = (
    "widgets.form",
    "screens.table",
    "screens.pages",
    "screens.graph",
    "commands.failure",
    "commands.control",
    "screens.meter_check",
    "screens.amplifier_position",
    "forms.several",
    "commands.venue",
    "commands.papers",
    "screens.equipment",
)
"""What the console loads only for a key of its own, the soonest wanted first."""
PAUSE = 0.01
"""Seconds in which a key comes between two of them."""
LAST = 3.0
"""Seconds from a signal that ends the console until it ends whatever still goes on."""

_loading: set[asyncio.Task[None]] = set()
"""Held here because asyncio holds its tasks only weakly."""


def run(path: Path | None = None, preset: "Preset | None" = None) -> int:
    """Run the console on a rig file, on a preset as a new rig, or from the start; its exit status."""
    gc.disable()
    os.environ.setdefault("TEXTUAL_FPS", FRAMES)
    os.environ.setdefault("ESCDELAY", ESCAPE)
    try:
        from rackwright.console import background
        from rackwright.console.app import Console

        console = Console(path, preset, on_first_screen=begin_loading)
        with ending(console):
            console.run()
            if console.document is not None:
                console.document.close()  # what it leaves the next console can go on from, undo and all
    except Exception as error:
        print(log.sentence("the console", error), file=sys.stderr)
        return log.STATUS
    status = log.STATUS if console.crashed else console.return_code or 0
    if background.going_on:
        leave(status)
    return status


def leave(status: int) -> None:
    """End at once: a solver that is still at work beside the screen aborts the process where Python ends under it."""
    for stream in (sys.stdout, sys.stderr):
        with suppress(Exception):
            stream.flush()
    os._exit(status)


@contextmanager
def ending(console: "Console") -> Iterator[None]:
    """Have HUP and TERM end the console whatever it is at: in good order, else, a little later, at once.

    The status is the shell's for a signal, 128 and its number.
    """

    def end(number: int, _frame: Any) -> None:
        threading.Thread(target=at_last, args=(number,), daemon=True).start()
        if console.loop is not None:
            console.loop.call_soon_threadsafe(lambda: console.exit(return_code=128 + number))

    def at_last(number: int) -> None:
        time.sleep(LAST)
        with suppress(Exception):  # as much of the terminal as can be given back, in a second at most
            restoring = threading.Thread(target=console.give_terminal_back, daemon=True)
            restoring.start()
            restoring.join(1)
        os._exit(128 + number)

    numbers = (signal.SIGHUP, signal.SIGTERM)
    before = [signal.signal(number, end) for number in numbers]
    try:
        yield
    finally:
        for number, handler in zip(numbers, before, strict=True):
            signal.signal(number, handler)


def begin_loading() -> None:
    """The first screen stands: load the rest while nobody waits."""
    _loading.add(asyncio.create_task(load_later()))


async def load_later() -> None:
    """Load what keys will ask for, bit by bit, then search again, but not through what is there for good."""
    try:
        for name in LATER:
            await asyncio.sleep(PAUSE)
            importlib.import_module(f"rackwright.console.{name}")
    except Exception as error:  # the key that needs it says so; here is what for
        log.note("loading what keys ask for", error)
    finally:
        gc.freeze()
        gc.set_threshold(*SELDOM)
        gc.enable()
