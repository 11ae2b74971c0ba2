"""An app with nothing on it but the screen under test, in the console's own look."""

from pathlib import Path
from typing import Any

from textual.screen import Screen

from console.hand import quiet, resized, send, settled
from rackwright import console
from rackwright.console.terminal.key_queue import KeyQueue


class Alone(KeyQueue):
    """One screen, and what it gave when it was left."""

    CSS_PATH = Path(console.__file__).parent / "console.tcss"
    ENABLE_COMMAND_PALETTE = False

    def __init__(self, screen: Screen) -> None:
        super().__init__(ansi_color=True)
        self.animation_level = "none"
        self.shown = screen
        self.given: list[Any] = []

    def on_mount(self) -> None:
        self.theme = "ansi-dark"
        self.push_screen(self.shown, self.given.append)

    async def press(self, *keys: str) -> None:
        """Press keys by their names, one after the other; the last is seen on the screen."""
        for key in keys:
            send(self, key)
            await quiet(self)
        await settled(self)

    async def resize(self, width: int, height: int) -> None:
        """Make the window another size."""
        await resized(self, width, height)
        await settled(self)

    def lines(self) -> list[str]:
        """What stands on the screen, with the frame that is due."""
        if self.screen._update_timer._active.is_set():
            self.screen._on_timer_update()
        return [strip.text.rstrip() for strip in self.screen._compositor.render_strips()]

    def text(self) -> str:
        """The same without frames, in one piece."""
        return " ".join(line.strip(" ┃|") for line in self.lines())
