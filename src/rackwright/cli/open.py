"""`open`: the console, on a rig where one is named."""

import os
import sys

import click

from rackwright.cli.opening import Refusal, opened
from rackwright.cli.words import RIG
from rackwright.store.home import home

NO_SCREEN = ("", "dumb", "unknown")
"""What TERM says of a terminal that only prints."""


def import_asyncio() -> None:
    """Import it as where Python is built without TLS: that takes 4 MB and part of the start, and the console opens no connection."""
    if "asyncio" not in sys.modules and "ssl" not in sys.modules:
        sys.modules["ssl"] = None  # type: ignore[assignment]
        try:
            import asyncio  # noqa: F401
        finally:
            del sys.modules["ssl"]


@click.command("open")
@click.argument("rig", type=RIG, required=False)
def command(rig: str | None = None) -> int:
    """Open the console: build and change a rig by keys."""
    home()  # where there is none, it is said before the screen is the console's
    found = opened(rig) if rig else None
    # closed ones are None; the screen is drawn on standard error
    if not all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr)):
        raise Refusal("The console needs a terminal. Try: rackwright check RIG")
    if os.environ.get("TERM", "") in NO_SCREEN:
        raise Refusal(
            "The console needs a terminal that can place text on a screen, and TERM says that this one can't. "
            "Set TERM to what it is, such as xterm-256color, or try: rackwright check RIG"
        )

    import_asyncio()
    from rackwright.console.run import run

    return run(found.file, found.preset) if found else run()
