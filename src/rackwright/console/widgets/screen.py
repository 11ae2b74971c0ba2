"""What all screens of the console share: they go on after an error, and are painted once for all that a key sets off.

The toolkit paints a screen each time that anything of it changed or was laid out anew: opening a dialog painted up to
eight times. Its public `batch_update` round a key sends as many bytes, but what is under a dialog that goes was then
seen in pieces.
"""

from typing import Any, ClassVar, Generic

from textual.events import Key, Resize, ScreenResume
from textual.geometry import Region, Size
from textual.message import Message
from textual.reactive import Reactive
from textual.screen import Screen, ScreenResultType
from textual.strip import Strip
from textual.widget import Widget

from rackwright.console.session import Session
from rackwright.console.terminal.composing import Composer
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.terminal.handlers import KnowsHandlers
from rackwright.console.widgets.pane import hollow
from rackwright.console.widgets.status import Said

ROOMY, LOW = (80, 24), 20
"""Columns and rows from which frames fit; rows from which the status line does."""


class ConsoleScreen(KnowsHandlers, Screen[ScreenResultType], Generic[ScreenResultType]):
    """A screen that paints only at the end of a frame, once its layout rests."""

    PATIENCE: ClassVar[int] = 4
    """Frames that a painting is put off at most, while each of them lays the screen out anew."""
    LOOKS_AHEAD: ClassVar[int] = 96
    """Frames that a painting is put off at most while keys are dealt with."""

    focused: Reactive[Widget | None] = Reactive(None, repaint=False)  # widgets paint their own focus
    _unpainted = False
    _put_off = 0

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._compositor = Composer()

    @property
    def is_current(self) -> bool:
        """Whether it is painted: only the foremost is, as each covers what is under it."""
        return self.is_active

    def idle(self, key: str) -> None:
        """Say, where there is a line for it, that a key does nothing here."""

    def classes_in(self, size: Size) -> dict[str, bool]:
        """By which the style sheet tells windows apart: where there is little room frames go first, then the status line.

        All change at once, and stand before the first widget does: each change styles every widget anew.
        """
        return {"small": size.width < ROOMY[0] or size.height < ROOMY[1], "low": size.height < LOW}

    def render_lines(self, crop: Region) -> list[Strip]:
        """Lines of the ground, as the toolkit asks for them."""
        return hollow(self.region.height, crop, super().render_lines)

    async def _dispatch_message(self, message: Message) -> None:
        """Handle a message; what a handler raises is told, and the screen goes on taking the next.

        A screen that comes to the front is not styled again: it was when it was mounted, and no theme changes meanwhile.
        """
        if isinstance(message, ScreenResume):
            message.refresh_styles = False
        if isinstance(message, Resize):
            self.update_classes(self.classes_in(message.size))
        try:
            await super()._dispatch_message(message)
        except Exception as error:
            self.app.trouble("showing this", error)  # type: ignore[attr-defined]

    def _compositor_refresh(self) -> None:
        """Keep in mind that there is something to paint; what of it changed the compositor knows."""
        self._unpainted = True
        self._update_timer.resume()

    def _on_timer_update(self) -> None:
        """A frame: lay out, gather what changed, and paint it; after a layout only in the next, as it may move again."""
        laid_out = self._layout_required
        super()._on_timer_update()
        if not self._unpainted:
            return
        patience = self.LOOKS_AHEAD if getattr(self.app, "at_a_key", False) else self.PATIENCE * laid_out
        if self._put_off < patience:
            self._put_off += 1
            self._update_timer.resume()
            return
        self._unpainted, self._put_off = False, 0
        self._update_timer.pause()
        super()._compositor_refresh()


class RigScreen(ConsoleScreen[ScreenResultType]):
    """A screen on a rig, with a line for what is said of it above the foot."""

    def __init__(self, session: Session, glyphs: Glyphs) -> None:
        super().__init__(classes="ascii" if glyphs.ascii else None)
        self.session, self.glyphs = session, glyphs

    def say(self, text: str, style: str = "") -> None:
        """Say something until the next key; that edits are not safe is said as long as it is so."""
        trouble = self.session.journal_trouble
        self.query_one(Said).say(f"{text} {trouble}".strip(), "bold red" if trouble else style)

    def idle(self, key: str) -> None:
        self.say(f"{key} does nothing here. Press ? for the keys.")

    @property
    def says(self) -> bool:
        """Whether something is said."""
        return bool(self.query_one(Said).told.plain)

    @property
    def stands(self) -> bool:
        """Whether it has its widgets. One that was only just opened has none to say or show anything in; it draws itself soon."""
        return self.is_mounted

    def redraw(self) -> None:
        """Show the session as it is now."""

    def on_key(self, event: Key) -> None:
        self.say("")
