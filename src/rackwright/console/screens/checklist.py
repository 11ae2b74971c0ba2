"""A checklist of the rig, ticked off by keys, and its return. Edits go through the editor, past the edit lock."""

from typing import ClassVar

from textual.binding import BindingType

from rackwright.console.editor import Editor
from rackwright.console.keymap import Command
from rackwright.console.rows import recovery as view
from rackwright.console.rows.row import Row, words
from rackwright.console.screens.table import BACK, HELP, REDO, UNDO, RigTable, bindings
from rackwright.console.widgets import status
from rackwright.console.widgets.dialog import Question
from rackwright.console.widgets.pane import Pane
from rackwright.console.widgets.status import Foot
from rackwright.engine import recovery
from rackwright.engine.findings.registry import listed
from rackwright.model.edits import EditError
from rackwright.model.rig import Checklist, Rig

ALL_DONE = "All done. Press esc to close; after the repair, b for the return."

DONE = Command("enter", "edit", "done", "Tick the step and go on to the next", "List")
UNDONE = Command("space", "untick", "tick", "Tick the step, or untick it", "List")
REPAIRED = Command(
    "b", "way_back", "return", "Return to the state before the failure: it is repaired", "List"
)
PUT_AWAY = Command("delete", "put_away", "remove", "Remove the list", "List", shown_key="del")


def no_return(rig: Rig, checklist: Checklist) -> str:
    """Why the return of a list can't be taken from how the rig is now; empty where it can."""
    try:
        recovery.go_back(rig, checklist.id)
    except EditError as error:
        return str(error)
    return ""


def repaired(rig: Rig, checklist: Checklist) -> str:
    """What a list's return is for: all that the list is."""
    names = recovery.named(rig, checklist.failed)
    return f"{listed(names)} {'is' if len(names) == 1 else 'are'} repaired and tested: take the return"


class ChecklistTable(RigTable):
    """A checklist, ticked off by keys."""

    IN_SHOW = True
    KEYS = (DONE, UNDONE, REPAIRED, PUT_AWAY, BACK, UNDO, REDO, HELP)
    BINDINGS: ClassVar[list[BindingType]] = bindings(KEYS)

    def __init__(self, editor: Editor, checklist: str) -> None:
        super().__init__("List", editor)
        self.id_ = checklist
        self.place = self._next(0)

    @property
    def checklist(self) -> Checklist | None:
        """The list as it is now; None where it has gone."""
        return next((c for c in self.session.rig.checklists if c.id == self.id_), None)

    def _next(self, number: int) -> str:
        """The first step from there that is not done, else the last."""
        steps = self.checklist.steps if self.checklist else ()
        left = (i for i, step in enumerate(steps) if i >= number and not step.done)
        return str(next(left, max(len(steps) - 1, 0)))

    def rows(self, width: int) -> list[Row]:
        checklist = self.checklist
        if checklist is None:
            return [words("The list was removed.", "dim")]
        told = [words(""), words(ALL_DONE, "ok")] if checklist.ticked == len(checklist.steps) else []
        return [*view.steps(checklist.steps, width), *told, *view.caution(width)]

    def redraw(self, place: str | None = None) -> None:
        """Show the list, its title and how far it is in the frame."""
        if (checklist := self.checklist) is not None:
            title = f"{checklist.title}: {checklist.ticked} of {len(checklist.steps)} done"
            self.query_one(Pane).entitle(title)
        super().redraw(place)
        if checklist is not None and not checklist.way_back:
            acting = [command for command in self.KEYS if command is not REPAIRED]
            self.query_one("#keys", Foot).say(status.keys(acting, self.session, self.size.width))

    def action_edit(self) -> None:
        """Tick the step and go on; one that is ticked stays so."""
        checklist = self.checklist
        if checklist is not None and self.place and checklist.steps[int(self.place)].done:
            self.say(f"Step {int(self.place) + 1} is ticked. Press space to untick it.", "yellow")
        else:
            self.action_untick()

    def action_untick(self) -> None:
        """Tick the step and go on; or untick it."""
        checklist = self.checklist
        if checklist is None or not self.place:
            return
        number = int(self.place)
        done = checklist.steps[number].done
        label = f"{'untick' if done else 'tick'} step {number + 1}"
        following = self.place if done else self._next(number + 1)
        self.make(label, lambda rig: recovery.tick(rig, self.id_, number), following)
        after = self.checklist
        if after is not None and not after.way_back and after.ticked == len(after.steps):
            self._put_away(after)
            self.editor.say("All done, as before the failure. The list is removed.")

    def action_way_back(self) -> None:
        """It is repaired: take the return plan, after asking."""
        checklist = self.checklist
        if checklist is None or not checklist.way_back:
            self.say("This list is the return already.", "yellow")
            return
        if refusal := no_return(self.session.rig, checklist):
            self.say(refusal, "yellow")
            return

        def answered(answer: str | None) -> None:
            if answer == "b":
                self._go_back(checklist)

        names = ", ".join(recovery.named(self.session.rig, checklist.failed))
        told = f"{names} failed at {checklist.when}."
        if left := len(checklist.steps) - checklist.ticked:
            told += (
                f" {left} of {len(checklist.steps)} steps are not ticked. The return takes them all as done; "
            )
            told += "for those that were not, undo the plan instead."
        answers = [("b", repaired(self.session.rig, checklist))]
        self.app.push_screen(Question(told, answers, self.glyphs), answered)

    def _put_away(self, checklist: Checklist) -> None:
        if self.make(f"remove {checklist.title}", lambda rig: recovery.put_away(rig, self.id_)):
            self.dismiss(None)

    def _go_back(self, checklist: Checklist) -> None:
        names = ", ".join(recovery.named(self.session.rig, checklist.failed))
        self.make(f"return for {names}", lambda rig: recovery.go_back(rig, self.id_), "0")

    def action_put_away(self) -> None:
        """Put the list away, after asking where it is of use still."""
        checklist = self.checklist
        if checklist is None:
            return

        def answered(answer: str | None) -> None:
            if answer == "y":
                self._put_away(checklist)

        left = len(checklist.steps) - checklist.ticked
        lost = " and its return plan with it" if checklist.way_back else ""
        told = f"{left} of {len(checklist.steps)} steps are not done." if left else "Every step is done."
        answers = [("y", f"remove the list{lost}")]
        self.app.push_screen(Question(told, answers, self.glyphs), answered)
