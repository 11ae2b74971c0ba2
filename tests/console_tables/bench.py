"""An app that holds the workplace and nothing else, and a hand on its keys."""

from pathlib import Path

from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Static

import rackwright.console
from console.hand import filling, instead, quiet, send, settled
from rackwright.console.document import Document
from rackwright.console.session import Session
from rackwright.console.terminal.glyphs import UNICODE, Glyphs
from rackwright.console.terminal.key_queue import KeyQueue
from rackwright.console.widgets.pane import Pane
from rackwright.console.workplace import Workplace
from rackwright.model.rig import Rig
from rackwright.store import library, rig_file

SHEET = Path(rackwright.console.__file__).with_name("console.tcss")
FEEDS, MAINS, SETTINGS, IN_RIG, LIBRARY, SPARES, STOCK = range(7)
"""The tables, in the order of the list that t opens."""


class Bench(KeyQueue):
    """The workplace on a rig, with the user's library as it is on disk."""

    CSS_PATH = SHEET
    ENABLE_COMMAND_PALETTE = False

    def __init__(self, rig: Rig, glyphs: Glyphs = UNICODE) -> None:
        super().__init__(ansi_color=True)
        self.animation_level = "none"
        self.session, self.glyphs = Session(rig), glyphs

    def on_mount(self) -> None:
        """Put the workplace up."""
        self.theme = "ansi-dark"
        self.set_class(self.glyphs.ascii, "ascii")
        self.push_screen(Workplace(Document(self.session), library.user_library(), self.glyphs))


def hall() -> Rig:
    """The shipped hall preset."""
    return rig_file.load(Path(__file__).parents[2] / "presets" / "hall.toml")


async def press(pilot: Pilot[None], *keys: str) -> None:
    """Press keys, each one dealt with before the next; the last is seen on the screen."""
    for key in keys:
        send(pilot.app, key)
        await quiet(pilot.app)
    await settled(pilot.app)


async def burst(pilot: Pilot[None], *keys: str) -> None:
    """Press keys all at once."""
    for key in keys:
        send(pilot.app, key)
    await settled(pilot.app)


async def write(pilot: Pilot[None], text: str) -> None:
    """Replace what stands in the field by `text`."""
    await burst(pilot, *instead(text))


async def fill(pilot: Pilot[None], *texts: str | None) -> None:
    """Fill in fields one after the other, None leaving one as it is; ends on the field after the last."""
    await burst(pilot, *filling(texts))


async def open_table(pilot: Pilot[None], number: int) -> None:
    """Open one of the tables from the workplace."""
    await burst(pilot, "t", *["down"] * number, "enter")


def shown(screen: Screen[object]) -> str:
    """The text on the screen."""
    return "\n".join(strip.text.rstrip() for strip in screen._compositor.render_strips())


def said(screen: Screen[object]) -> str:
    """What the line above the foot says."""
    return str(screen.query_one("#said", Static).content)


def rows_of(screen: Screen[object]) -> list[str]:
    """The rows of a table."""
    return ["".join(text for text, _ in row.parts) for row in screen.query_one(Pane).rows]
