"""A list of the night, ticked off in order by keys, and the return. Edits go through the editor, past the edit lock."""

import datetime
from typing import ClassVar

from textual.binding import BindingType

from rackwright.console.editor import Editor
from rackwright.console.keymap import Command
from rackwright.console.rows import recovery as view
from rackwright.console.rows.row import Row, words
from rackwright.console.screens.table import BACK, HELP, REDO, UNDO, RigTable, bindings
from rackwright.console.session import Refused
from rackwright.console.widgets import status
from rackwright.console.widgets.dialog import Prompt, Question
from rackwright.console.widgets.pane import Pane
from rackwright.console.widgets.status import Foot
from rackwright.engine import recovery
from rackwright.engine.findings.registry import listed
from rackwright.model.edits import EditError
from rackwright.model.readings import stamp
from rackwright.model.rig import NightList, Rig

ALL_DONE = "All done. Press esc to close; after the repair, b for the return."
LOOK = 15.0
"""s after which the clock in the title is looked at again."""

DONE = Command("enter", "edit", "done", "Tick the step and go on to the next", "List")
UNDONE = Command("space", "untick", "tick", "Tick the step, or untick it", "List")
REPAIRED = Command(
    "b", "go_back", "repaired", "It is repaired: return now, later, or keep it as it is", "List"
)
PUT_AWAY = Command("delete", "put_away", "remove", "Remove the list", "List", shown_key="del")


class ListTable(RigTable):
    """A list, ticked off by keys."""

    IN_SHOW = True
    KEYS = (DONE, UNDONE, REPAIRED, PUT_AWAY, BACK, UNDO, REDO, HELP)
    BINDINGS: ClassVar[list[BindingType]] = bindings(KEYS)

    def __init__(self, editor: Editor, name: str) -> None:
        super().__init__("List", editor)
        self.id_ = name
        self.place = str(self.shown.following) if self.shown else ""

    @property
    def shown(self) -> NightList | None:
        """The list as it is now; None where it has gone."""
        return next((each for each in self.session.rig.lists if each.id == self.id_), None)

    def on_mount(self) -> None:
        self.set_interval(LOOK, self._look_at_the_clock)
        if self.session.initials is None and self.session.path is not None:

            def answered(text: str | None) -> None:
                self.session.initials = (text or "").strip()

            self.app.push_screen(Prompt("Your initials, for the night log", self.glyphs), answered)

    def _look_at_the_clock(self) -> None:
        if (shown := self.shown) is not None:
            self.query_one(Pane).entitle(
                view.title(shown, recovery.begun(self.session.rig, shown), datetime.datetime.now())
            )

    def rows(self, width: int) -> list[Row]:
        shown = self.shown
        if shown is None:
            return [words("The list is closed.", "dim")]
        told = [words(""), words(ALL_DONE, "ok")] if shown.done and not shown.returns else []
        return [*view.steps(shown.steps, width), *told, *view.caution(width)]

    def redraw(self, place: str | None = None) -> None:
        """Show the list; its title, how far it is and for how long in the frame."""
        self._look_at_the_clock()
        super().redraw(place)
        if (shown := self.shown) is not None:
            acting = [c for c in self.KEYS if c is not (REPAIRED if shown.returns else PUT_AWAY)]
            self.query_one("#keys", Foot).say(status.keys(acting, self.session, self.size.width))

    def action_edit(self) -> None:
        """Tick the step and go on; one that is ticked stays so."""
        shown = self.shown
        if shown is not None and self.place and shown.steps[int(self.place)].done:
            self.say(f"Step {int(self.place) + 1} is ticked. Press space to untick it.", "yellow")
        else:
            self.action_untick()

    def action_untick(self) -> None:
        """Tick the step and go on, asking first where one before it is open; or untick it."""
        shown = self.shown
        if shown is None or not self.place:
            return
        number = int(self.place)
        if shown.steps[number].done or number <= shown.following:
            self._tick(number)
            return

        def answered(answer: str | None) -> None:
            if answer == "y":
                self._tick(number)

        first = shown.following
        told = f"Step {first + 1} is not done: {shown.steps[first].words}"
        answers = [("y", f"tick step {number + 1} all the same")]
        self.app.push_screen(Question(told, answers, self.glyphs), answered)

    def _tick(self, number: int) -> None:
        before = self.shown
        try:
            self.session.tick(lambda rig: recovery.tick(rig, self.id_, number))
        except (Refused, EditError) as error:
            self.say(str(error), "yellow")
            return
        after = self.shown
        self.say("")
        self.editor.host.redraw()
        if after is None:
            self.dismiss(None)
            self.editor.host.say(closed(self.session.rig))
            return
        unticked = before is not None and before.steps[number].done
        self.redraw(str(number if unticked else after.following))

    def action_go_back(self) -> None:
        """It is repaired: ask what becomes of its plan."""
        shown = self.shown
        if shown is None or shown.returns:
            self.say("This list is the return already.", "yellow")
            return
        ask_what_now(self.editor, shown.failed, f"{shown.title}, since {shown.when}.{_left(shown)}", self)

    def action_put_away(self) -> None:
        """Remove the list, after asking where steps are open."""
        shown = self.shown
        if shown is None:
            return

        def answered(answer: str | None) -> None:
            removes = f"remove {shown.title}"
            if answer == "y" and self.make(removes, lambda rig: recovery.put_away(rig, self.id_)):
                self.dismiss(None)

        told = f"{len(shown.steps) - shown.ticked} of {len(shown.steps)} steps are not done."
        self.app.push_screen(Question(told, [("y", "remove the list")], self.glyphs), answered)


def _left(shown: NightList) -> str:
    left = len(shown.steps) - shown.ticked
    if not left:
        return ""
    return f" {left} of {len(shown.steps)} steps are not ticked: the return takes them as done; else undo the plan."


def closed(rig: Rig) -> str:
    """What to say once a return is ticked off."""
    if not recovery.under_way(rig):
        return "All done: the rig is full, as before the failure."
    left = recovery.failed(rig)
    return f"All done. Still failed: {listed(recovery.named(rig, left))}." if left else "All done."


def ask_what_now(editor: Editor, names: tuple[str, ...], told: str, over: ListTable | None = None) -> None:
    """Those are repaired: return now, later or never."""
    rig = editor.session.rig
    title = listed(recovery.named(rig, names)) if names else "what was changed for tonight"
    are = "is" if len(recovery.named(rig, names)) == 1 else "are"
    answers = [
        ("b", f"{title} {are} repaired and tested: return now" if names else "return now"),
        ("l", f"{title} {are} repaired: return later, in the interval"),
        ("k", f"{title} {are} repaired: keep the patch as it is now"),
        ("c", "show the list"),
    ]
    lists = recovery.lists_for(rig, names)
    shown = [
        each for each in answers if (each[0] != "c" or (lists and over is None)) and (names or each[0] == "b")
    ]

    def answered(answer: str | None) -> None:
        when = stamp(datetime.datetime.now())
        if answer == "c":
            editor.app.push_screen(ListTable(editor, lists[-1].id))
        elif answer == "b":
            take_return(editor, names, over)
        elif answer == "l":
            made = editor.make(f"{title} repaired", lambda rig: recovery.repair(rig, names), in_show=True)
            if made:
                editor.say(f"{title} {are} repaired. The return is pending: press R when there is time.")
        elif answer == "k" and editor.make(
            f"keep {title} as it is", lambda rig: recovery.keep(rig, names, when), in_show=True
        ):
            _show_last(editor, over)

    editor.app.push_screen(Question(told, shown, editor.glyphs), answered)


def take_return(editor: Editor, names: tuple[str, ...] = (), over: ListTable | None = None) -> None:
    """Return all that is repaired, those besides, and show the list."""
    when = stamp(datetime.datetime.now())

    def change(rig: Rig) -> Rig:
        return recovery.go_back(recovery.repair(rig, names), when)

    title = ", ".join(recovery.named(editor.session.rig, (*names, *recovery.pending(editor.session.rig))))
    if editor.make(f"return for {title}", change, in_show=True):
        _show_last(editor, over)


def _show_last(editor: Editor, over: ListTable | None) -> None:
    """Show the list that an edit just made; say so where there is nothing to do."""
    if over is not None:
        over.dismiss(None)
    lists = editor.session.rig.lists
    if lists and lists[-1].returns:
        editor.app.push_screen(ListTable(editor, lists[-1].id))
    else:
        editor.say(closed(editor.session.rig))
