"""The undo list: every state of the rig since it was opened, what each edit brought, and the way to any of them."""

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import Vertical

from rackwright.console.editor import Editor
from rackwright.console.keymap import Command
from rackwright.console.rows import history as view
from rackwright.console.rows.row import Row, words
from rackwright.console.screens import comparison
from rackwright.console.screens.table import BACK, HELP, REDO, UNDO, RigTable, bindings
from rackwright.console.widgets.pane import Pane
from rackwright.console.widgets.status import OVER, Foot, Said
from rackwright.engine.assess import Assessed, assess
from rackwright.model.rig import Rig
from rackwright.store.safe.undo_log import Moment, UndoError

GO = Command(
    "enter", "edit", "go there", "Undo or redo all edits up to this state", "Table", in_show=True, edits=True
)
FIGURES = Command("k", "figures", "compare", "Show each figure as it was there → now", "Table", in_show=True)
COMPARE = Command(
    "enter", "edit", "differences", "List what differs from there to now", "Table", in_show=True
)
DIFFERS = Command(
    "equals_sign",
    "differs",
    "differences",
    "List what differs from there to now",
    "Table",
    in_show=True,
    shown_key="=",
)


class HistoryTable(RigTable):
    """The states over what the edit did that led to the one under the cursor."""

    KEYS: tuple[Command, ...] = (GO, FIGURES, DIFFERS, UNDO, REDO, BACK, HELP)
    BINDINGS = bindings(KEYS)

    HEADING = "Undo list of"

    def __init__(self, editor: Editor) -> None:
        super().__init__(f"{self.HEADING} {editor.session.rig.title}", editor)
        self._judged: dict[int, Assessed] = {}

    def compose(self) -> ComposeResult:
        with Vertical(id="panes"):
            yield Pane(self.heading, self.glyphs, "table")
            yield Pane("What it changed", self.glyphs, "results", reads=True, covered=OVER)
        yield Said(self.glyphs)
        yield Foot(self.glyphs, "keys")

    def on_mount(self) -> None:
        """The cursor on the rig as it is now."""
        self.place = str(self.session.history.here)
        self.query_one("#table", Pane).focus()

    @property
    def states(self) -> Sequence[Moment]:
        """Every state, the oldest first."""
        return self.session.history.states(self.session.rig)

    def rows(self, width: int) -> list[Row]:
        return view.states(self.states, self.session.history.here, width)

    def redraw(self, place: str | None = None) -> None:
        """Show the list as it is now, and what led to the state under the cursor."""
        self._judged = {self.session.history.here: self.session.assessment}
        super().redraw(place)
        self._tell()

    def on_pane_selected(self, message: Pane.Selected) -> None:
        if message.pane.id == "table":
            super().on_pane_selected(message)
            self._tell()

    @property
    def _away(self) -> int:
        """By how many edits the rig is past the state under the cursor."""
        return self.session.history.here - int(self.place or 0)

    @property
    def offered(self) -> list[Command]:
        """Without going where the rig is, or where the edit lock lets nobody."""
        goes = self._away and self.session.may_undo(self._away)
        return [each for each in self.KEYS if each is not GO or goes]

    def _tell(self) -> None:
        number = int(self.place or 0)
        effect = self.query_one("#results", Pane)
        effect.show(lambda width: self._effect(number, width))
        effect.to_top()

    def _effect(self, number: int, width: int) -> list[Row]:
        if not number:
            return [words("Nothing led here: undo goes back no further.", "dim")]
        try:
            return view.effect(self._assessed(number - 1), self._assessed(number), width, self.glyphs)
        except UndoError as error:
            return [words(str(error), "warn")]

    def _assessed(self, number: int) -> Assessed:
        """A state as the engine judges it."""
        if number not in self._judged:
            self._judged[number] = assess(self.states[number].was(), self.session.assessment)
        return self._judged[number]

    def _state(self) -> tuple[Rig, str] | None:
        """The rig under the cursor, and what to call it; None, and said so, where it can't be read."""
        state = self.states[int(self.place or 0)]
        try:
            return state.was(), view.called(state)
        except UndoError as error:
            self.say(str(error), "yellow")
            return None

    def action_edit(self) -> None:
        """Undo or redo up to there."""
        if by := self._away:
            self.editor.undo(by)
            self.redraw()
        else:
            self.say("The rig is in this state now.")

    def action_figures(self) -> None:
        if found := self._state():
            self.dismiss(None)
            comparison.keep(self.editor, *found)

    def action_differs(self) -> None:
        if found := self._state():
            comparison.show(self.editor, *found)


class Moments(HistoryTable):
    """The same to compare with one of them: enter changes nothing."""

    KEYS = (COMPARE, FIGURES, BACK, HELP)
    HEADING = "Compare with a moment of"

    def action_edit(self) -> None:
        self.action_differs()
