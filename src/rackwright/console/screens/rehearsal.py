"""The rehearsal: every failure in turn, the first plans as they are found, then the proofs, then what would help before the show.

It is worked out beside the screen and goes no further once the screen is left. Changes nothing of the rig.
"""

import time

from textual.events import Key

from rackwright.console.background import Left, begin
from rackwright.console.editor import Editor
from rackwright.console.keymap import Command
from rackwright.console.rows import rehearsal as view
from rackwright.console.rows.row import Row, words
from rackwright.console.screens.pages import FlowingPage
from rackwright.console.screens.table import BACK, HELP, TableScreen, bindings
from rackwright.console.widgets.pane import Pane
from rackwright.engine import recovery
from rackwright.engine.recovery import Rehearsal
from rackwright.units.text_table import wrap
from rackwright.workers import Workers

BEGINNING = "Failing everything in turn …"
MOMENT = 1.0
"""s from one painting of how far it is to the next: over a slow link each costs as much as a key."""

OPEN = Command("enter", "edit", "plan", "Show the plan and its steps", "Table", in_show=True)
HELPS = Command(
    "end",
    "edge(1)",
    "legend, what would help",
    "Go to what the columns count, and what would help before the show",
    "Table",
    in_show=True,
)


class RehearsalTable(TableScreen):
    """What fails in a table, the worst first; enter shows the plan."""

    KEYS = (OPEN, HELPS, BACK, HELP)
    BINDINGS = bindings(KEYS)

    def __init__(self, editor: Editor) -> None:
        super().__init__(BEGINNING, editor.session, editor.glyphs)
        self.found: Rehearsal | None = None
        self.trouble = ""
        self._left = self._chosen = False

    def on_mount(self) -> None:
        super().on_mount()
        rig, prior = self.session.rig, self.session.assessment
        self.before = prior

        def work() -> Rehearsal | None:
            last: Rehearsal | None = None
            painted = 0.0
            with Workers() as workers:
                stages = recovery.stages(rig, prior, between=self._go_on, answers=workers.answers)
                for found in stages:
                    if last is None or found.stage != last.stage or time.monotonic() - painted > MOMENT:
                        self.app.call_from_thread(self._show, found)
                        painted = time.monotonic()
                    last = found
            return last

        begin(self.app, "the rehearsal", work, self._show, self._failed)

    def on_key(self, event: Key) -> None:
        super().on_key(event)
        self._chosen = True

    def _go_on(self) -> None:
        """Work no further once the screen is left."""
        if self._left:
            raise Left

    def on_unmount(self) -> None:
        self._left = True

    def _show(self, found: Rehearsal | None) -> None:
        if found is not None and self.is_attached:
            self.found = found
            self.heading, *shorter = view.title(found)
            self.query_one(Pane).entitle(self.heading, *shorter)
            worst = next((failure.name for failure in found.failures), None)
            self.redraw(None if self._chosen else worst)
            if not self._chosen:
                self.query_one(Pane).to_top()

    def _failed(self, told: str) -> None:
        if self.is_attached:
            self.trouble = told
            self.redraw()

    def rows(self, width: int) -> list[Row]:
        trouble = [words(part, "stop") for part in wrap(self.trouble, width)] if self.trouble else []
        return [*trouble, *(view.failures(self.found, width, self.glyphs) if self.found else ())]

    def action_edit(self) -> None:
        failures = self.found.failures if self.found else ()
        failure = next((each for each in failures if each.name == self.place), None)
        if failure is not None:
            fails = (
                f"{failure.name} fail" if len(failure.names) > 1 else f"{failure.kind} {failure.name} fails"
            )
            title = f"If {fails}"
            self.app.push_screen(
                FlowingPage(title, lambda width: view.told(failure, self.before, width), self.glyphs)
            )
