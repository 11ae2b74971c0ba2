"""Comparing the rig with another: findings that come and go, and what is changed; from here on each figure too, if wanted.

Which other, `commands.comparison` asks.
"""

from collections.abc import Callable

from textual.binding import Binding

from rackwright.console.editor import Editor
from rackwright.console.rows import history as view
from rackwright.console.screens.pages import FlowingPage
from rackwright.console.widgets.dialog import SCROLLS
from rackwright.engine.assess import assess
from rackwright.model.rig import Rig


class Comparison(FlowingPage):
    """What leads from another rig to this one. Gives True where each figure is to be shown as before and now."""

    HINT = ("k compare figures", SCROLLS, "esc close")
    BINDINGS = [Binding("k", "figures", "figures")]

    def action_figures(self) -> None:
        self.dismiss(True)


def show(editor: Editor, rig: Rig, called: str, then: Callable[[], None] = lambda: None) -> None:
    """Show what leads from that rig to the one worked on; `then` follows when that is read."""
    session = editor.session
    before, after = assess(rig, session.assessment), session.assessment

    def done(figures: bool | None) -> None:
        if figures:
            keep(editor, rig, called)
        then()

    title = f"From {called} to this rig"
    page = Comparison(title, lambda width: view.effect(before, after, width, editor.glyphs), editor.glyphs)
    editor.app.push_screen(page, done)


def keep(editor: Editor, rig: Rig, called: str) -> None:
    """Show each figure as it is in that rig and now."""
    editor.session.keep(rig, called)
    editor.host.redraw()
    editor.say(f"Comparing with {called}: changed figures show before → now in the results. Press k to stop.")
