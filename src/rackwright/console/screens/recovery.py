"""When something fails mid-show: mark it, see the plans at once, take one, tick its steps, and return.

What a plan is and does is `engine.recovery`'s to say; edits go through the editor, so that undo, journal and locks
hold here as they do there, and the edit lock lets them through.
"""

import datetime
from collections.abc import Callable, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.events import Resize

from rackwright.console.background import begin
from rackwright.console.calm import Calm
from rackwright.console.editor import Editor
from rackwright.console.keymap import Command
from rackwright.console.rows import recovery as view
from rackwright.console.rows.row import Row, heading, words, wrap
from rackwright.console.screens.reading import help_page
from rackwright.console.screens.table import BACK, HELP, REDO, UNDO, RigTable, bindings
from rackwright.console.session import kind_of
from rackwright.console.widgets import status
from rackwright.console.widgets.dialog import Picker, Question
from rackwright.console.widgets.fields import Option
from rackwright.console.widgets.pane import Pane
from rackwright.console.widgets.status import Foot
from rackwright.engine import recovery
from rackwright.engine.findings.registry import listed
from rackwright.engine.recovery import PLANS, Plan, Recovery
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.readings import stamp
from rackwright.model.rig import Checklist, Rig

LOOKING = "Looking for plans …"
ALL_DONE = "All done. Press esc to close; after the repair, b for the return."
WIDE = 110
"""Columns from which the steps stand beside what a plan does."""

TAKE = Command("enter", "take", "take", "Take this plan: one edit, then its list to tick", "Plans")
CHOOSE = Command("up", "step", "compare", "Go from plan to plan", "Plans", shown_key="up down")
ROLL = Command("pagedown", "roll", "scroll", "Scroll what the plan does", "Plans", shown_key="page up down")

DONE = Command("enter", "edit", "done", "Tick the step and go on to the next", "List")
UNDONE = Command("space", "untick", "tick", "Tick the step, or untick it", "List")
REPAIRED = Command(
    "b", "way_back", "return", "Return to the state before the failure: it is repaired", "List"
)
PUT_AWAY = Command("delete", "put_away", "remove", "Remove the list", "List", shown_key="del")


def mark(editor: Editor) -> None:
    """Mark what is selected failed and show the plans; where it is failed, working again, or by its list's return."""
    session = editor.session
    place, assessment = session.place, session.assessment
    if kind_of(assessment, place) not in ("channel", "amplifier", "rack", "circuit"):
        return
    names = _failing(session.rig, place)
    if not names:
        editor.say(f"{place} has no channel that could fail.", "yellow")
        return
    if not session.failed_here:
        if editor.make(f"mark {place} failed", lambda rig: recovery.fail(rig, [place]), place, in_show=True):
            editor.app.push_screen(Plans(editor))
        return
    checklists = recovery.lists_for(session.rig, names)
    if not checklists:
        _working(editor, place, names)
        return
    checklist = checklists[-1]
    told = f"{place} is marked failed, and its list is: {checklist.title}."
    answers = [("c", "show the list"), ("s", "mark it working and keep the patch as it is now")]
    if len(checklists) > 1:
        told = f"{place} has several failures, each with its own list and return. Press R for the lists."
        answers = answers[1:]
    elif refusal := _no_return(session.rig, checklist):
        told += f" Its return can't be taken now. {refusal}"
    else:
        answers.insert(0, ("b", _repaired(session.rig, checklist)))

    def answered(answer: str | None) -> None:
        if answer == "b":
            take_return(editor, checklist)
        elif answer == "c":
            editor.app.push_screen(Ticking(editor, checklist.id))
        elif answer == "s":
            _working(editor, place, names)

    editor.app.push_screen(Question(told, answers, editor.glyphs), answered)


def _failing(rig: Rig, place: str) -> tuple[str, ...]:
    """The circuit, or the channels, that fail with a place."""
    return recovery.failed(recovery.fail(recovery.repaired(rig), [place]))


def _no_return(rig: Rig, checklist: Checklist) -> str:
    """Why the return of a list can't be taken from how the rig is now; empty where it can."""
    try:
        recovery.go_back(rig, checklist.id)
    except EditError as error:
        return str(error)
    return ""


def _repaired(rig: Rig, checklist: Checklist) -> str:
    """What a list's return is for: all that the list is."""
    names = recovery.named(rig, checklist.failed)
    return f"{listed(names)} {'is' if len(names) == 1 else 'are'} repaired and tested: take the return"


def _working(editor: Editor, place: str, names: tuple[str, ...]) -> None:
    def change(rig: Rig) -> Rig:
        if any(circuit.id == place for circuit in rig.circuits):
            return edits.change(rig, place, state="ok")
        return edits.change(rig, names, state="ok")

    if editor.make(f"mark {place} working again", change, place, in_show=True):
        editor.say(f"{place} is marked working again.")


def ask(editor: Editor) -> None:
    """Show the plans or the checklist there is; where there are several, ask which."""
    rig = editor.session.rig
    fresh = recovery.unplanned(rig)
    options = [
        Option(
            f"list {checklist.id}", f"{checklist.title}, {checklist.ticked} of {len(checklist.steps)} done"
        )
        for checklist in reversed(rig.checklists)
    ]
    if fresh:
        options.insert(0, Option("plans", f"for {', '.join(recovery.named(rig, fresh))}"))
    if not options:
        editor.say("Nothing has failed. Select a channel, an amplifier, a rack or a circuit and press f.")
        return

    def picked(value: str | None) -> None:
        if value == "plans":
            editor.app.push_screen(Plans(editor))
        elif value is not None:
            editor.app.push_screen(Ticking(editor, value.removeprefix("list ")))

    if len(options) == 1:
        picked(options[0].value)
    else:
        editor.app.push_screen(Picker("Continue which?", options, editor.glyphs), picked)


def take_return(editor: Editor, checklist: Checklist) -> None:
    """Take the return plan as one edit, and show its list."""
    label = f"return for {', '.join(recovery.named(editor.session.rig, checklist.failed))}"
    if editor.make(label, lambda rig: recovery.go_back(rig, checklist.id), in_show=True):
        editor.app.push_screen(Ticking(editor, checklist.id))


class Plans(Calm[None]):
    """The plans in a list; of the one under the cursor what it does, and its steps."""

    PATIENCE = 0  # it says that it looks for plans, then does
    KEYS = (CHOOSE, TAKE, ROLL, BACK, HELP)
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "take", show=False, priority=True),
        Binding("pagedown", "roll(1)", show=False, priority=True),
        Binding("pageup", "roll(-1)", show=False, priority=True),
        *(Binding(str(number), f"go({number})", show=False) for number in range(1, 10)),
        Binding("escape", "back", show=False),
        Binding("question_mark", "help", show=False),
    ]

    def __init__(self, editor: Editor) -> None:
        super().__init__(classes="ascii" if editor.glyphs.ascii else None)
        self.editor, self.glyphs = editor, editor.glyphs
        self.found: Recovery | None = None
        """The plans for what has failed and has none yet; None while they are looked for."""
        self.takes_keys = False
        """Whether the plans stand there, or that there are none."""

    @property
    def failed(self) -> tuple[str, ...]:
        """What they are for, as a person names it."""
        rig = self.editor.session.rig
        return recovery.named(rig, recovery.unplanned(rig) or (self.found.failed if self.found else ()))

    def compose(self) -> ComposeResult:
        """The list; below it what the plan does and, where there is room, its steps."""
        with Vertical(id="panes"):
            plans = Pane(LOOKING, self.glyphs, "plans")
            plans.styles.height = PLANS + 3
            yield plans
            with Horizontal(id="beside"):
                yield Pane("Results: before, failed, after", self.glyphs, "does", reads=True)
                steps = Pane("Steps", self.glyphs, "steps", reads=True)
                steps.display = self.app.size.width >= WIDE
                yield steps
        yield Foot(self.glyphs, "strip")
        yield Foot(self.glyphs, "keys")

    def on_mount(self) -> None:
        """Begin with the best."""
        self.plans, self.does, self.steps = (
            self.query_one(f"#{name}", Pane) for name in ("plans", "does", "steps")
        )
        self.does.can_focus = self.steps.can_focus = False
        self.plans.focus()
        self._say_keys([BACK])
        rig, prior = self.editor.session.rig, self.editor.session.assessment
        begin(
            self.app,
            "the search for plans",
            lambda: recovery.recover(rig, prior=prior, standing=recovery.standing(rig)),
            self._show_found,
            self._show_failure,
        )

    def _show_found(self, found: Recovery) -> None:
        """Show the plans; leave where nothing is lost."""
        self.found, self.takes_keys = found, True
        if found.lost:
            self.redraw()
        elif self.is_current:
            self.editor.say(f"{', '.join(self.failed)} marked failed: nothing is silent.")
            self.dismiss()

    def _show_failure(self, told: str) -> None:
        """Nothing was found: that stands there until it is left; what failed stays marked."""
        self.takes_keys = True
        self.plans.entitle("No plans")
        self.plans.show(lambda width: _read_only([words(part, "stop") for part in wrap(told, width)]))

    def _say_keys(self, commands: Sequence[Command]) -> None:
        said = status.keys(list(commands), self.editor.session, self.app.size.width)
        self.query_one("#keys", Foot).say(said)

    def on_resize(self, event: Resize) -> None:
        """The steps beside what the plan does, or below it."""
        self.steps.display = event.size.width >= WIDE
        self.call_after_refresh(self.redraw)

    def on_pane_selected(self, message: Pane.Selected) -> None:
        """Another plan."""
        if message.pane is self.plans and self.found is not None:
            self._draw_plan(self.found)
            self.does.to_top()
            self.steps.to_top()

    def on_pane_activated(self) -> None:
        """A double click takes it."""
        self.action_take()

    def _plan(self, found: Recovery) -> Plan:
        """The plan under the cursor."""
        place = self.plans.place
        return found.plans[int(place) if place else 0]

    def redraw(self) -> None:
        """Show the list and the plan."""
        found = self.found
        if found is None or not found.lost or self not in self.app.screen_stack:
            return
        self.plans.entitle(view.failed(found, self.failed))
        self.plans.show(lambda width: view.plans(found, width))
        self.query_one("#strip", Foot).say([(view.sure(found), "dim")])
        self._say_keys(self.KEYS)
        self._draw_plan(found)

    def _draw_plan(self, found: Recovery) -> None:
        plan, beside = self._plan(found), bool(self.steps.display)

        def steps(width: int) -> list[Row]:
            return _read_only([*view.steps(plan.checklist, width), *view.caution(width)])

        def does(width: int) -> list[Row]:
            rows = _read_only(view.comparison(found, plan, width, self.glyphs))
            return rows if beside else [*rows, words(""), heading("Steps"), *steps(width)]

        self.does.show(does)
        self.steps.show(steps)

    def action_roll(self, by: int) -> None:
        """Scroll what the plan does, and its steps."""
        for pane in (self.does, self.steps):
            pane.scroll_relative(y=by * max(1, pane.size.height - 3), animate=False)

    def action_go(self, number: int) -> None:
        """Go to a plan by its number."""
        self.plans.move_to(
            next((i for i, row in enumerate(self.plans.rows) if row.place == str(number - 1)), -1)
        )

    def action_take(self) -> None:
        """Take the plan as one edit, and show its checklist."""
        found = self.found
        if found is None or not found.lost:
            return
        plan, now = self._plan(found), stamp(datetime.datetime.now())
        number = found.plans.index(plan) + 1
        editor = self.editor
        self.dismiss()
        taken = recovery.take(plan, now)
        if editor.make(f"plan {number}, {taken.checklists[-1].title}", lambda _: taken, in_show=True):
            editor.app.push_screen(Ticking(editor, taken.checklists[-1].id))

    def action_help(self) -> None:
        """Every key, by group."""
        self.app.push_screen(help_page(self.glyphs))

    def action_back(self) -> None:
        """Leave the plans; what failed stays marked."""
        names = self.failed
        stay = "stays" if len(names) == 1 else "stay"
        self.editor.say(
            f"{listed(names)} {stay} marked failed. Press R for the plans, or f on it to mark it working."
        )
        self.dismiss()


def _read_only(rows: list[Row]) -> list[Row]:
    """Rows that no cursor stops at."""
    return [row._replace(selectable=False) for row in rows]


class Ticking(RigTable):
    """A checklist, ticked off by keys."""

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
        """A row for each step."""
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

    def _make(self, label: str, change: Callable[[Rig], Rig], place: str | None = None) -> bool:
        made = self.editor.make(label, change, in_show=True)
        self.take_over()
        self.redraw(place if made else None)
        return made

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
        self._make(label, lambda rig: recovery.tick(rig, self.id_, number), following)
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
        if refusal := _no_return(self.session.rig, checklist):
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
        answers = [("b", _repaired(self.session.rig, checklist))]
        self.app.push_screen(Question(told, answers, self.glyphs), answered)

    def _put_away(self, checklist: Checklist) -> None:
        if self._make(f"remove {checklist.title}", lambda rig: recovery.put_away(rig, self.id_)):
            self.dismiss(None)

    def _go_back(self, checklist: Checklist) -> None:
        names = ", ".join(recovery.named(self.session.rig, checklist.failed))
        self._make(f"return for {names}", lambda rig: recovery.go_back(rig, self.id_), "0")

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
