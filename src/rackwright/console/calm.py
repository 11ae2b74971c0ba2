"""Screens that are painted once for all that a key sets off.

The toolkit paints a screen each time that anything of it changed or was laid out anew, and all of it when the focus
goes from one widget to another: opening a dialog painted up to eight times. What is on a screen is not known here.
"""

from typing import ClassVar, Generic

from textual.events import Resize
from textual.message import Message
from textual.reactive import Reactive
from textual.screen import Screen, ScreenResultType
from textual.widget import Widget

ROOMY, LOW = (80, 24), 20
"""Columns and rows from which frames fit; rows from which the strip does."""


class Calm(Screen[ScreenResultType], Generic[ScreenResultType]):
    """A screen that paints only at the end of a frame, once its layout rests."""

    PATIENCE: ClassVar[int] = 4
    """Frames that a painting is put off at most, while each of them lays the screen out anew."""

    focused: Reactive[Widget | None] = Reactive(None, repaint=False)  # widgets paint their own focus
    _unpainted = False
    _put_off = 0

    def on_resize(self, event: Resize) -> None:
        """Where there is little room frames go first, then the strip."""
        self.set_class(event.size.width < ROOMY[0] or event.size.height < ROOMY[1], "small")
        self.set_class(event.size.height < LOW, "low")

    async def _dispatch_message(self, message: Message) -> None:
        """Handle a message; what a handler raises is told, and the screen goes on taking the next."""
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
        if laid_out and self._put_off < self.PATIENCE:
            self._put_off += 1
            self._update_timer.resume()
            return
        self._unpainted, self._put_off = False, 0
        self._update_timer.pause()
        super()._compositor_refresh()
