"""The app: opens a rig and puts the workplace on the screen. Everything on it belongs to the screens."""

from textual.app import App
from textual.binding import Binding

from rackwright.console.glyphs import Glyphs, fitting
from rackwright.console.session import Session
from rackwright.console.workplace import Workplace
from rackwright.model.equipment import Equipment
from rackwright.model.rig import Rig


class Console(App[None]):
    """The console."""

    CSS_PATH = "console.tcss"
    TITLE = "Rackwright"
    BINDINGS = [
        Binding("ctrl+q", "leave", show=False, priority=True),
        Binding("ctrl+c", "leave", show=False, priority=True),
    ]
    ENABLE_COMMAND_PALETTE = False

    def __init__(
        self, session: Session | None = None, library: Equipment | None = None, glyphs: Glyphs | None = None
    ) -> None:
        super().__init__(ansi_color=True)
        self.animation_level = "none"
        self.glyphs = glyphs or fitting()
        self.library = library or Equipment()
        self.first = session

    def on_mount(self) -> None:
        """Put the workplace up."""
        self.theme = "ansi-dark"
        session = self.first or Session(Rig(name="New rig"))
        self.push_screen(Workplace(session, self.library, self.glyphs))

    def action_leave(self) -> None:
        """Quit by way of the workplace, which asks where something is unsaved."""
        for screen in self.screen_stack:
            if isinstance(screen, Workplace):
                screen.action_leave()
                return
        self.exit()
