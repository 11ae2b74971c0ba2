"""The plans for what has failed, at once and beside one another; one taken is an edit, with its list.

What a plan is and does is `engine.recovery`'s to say.
"""

import datetime
from collections.abc import Callable, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.events import Resize
from textual.geometry import Size
from textual.widgets import Static

from rackwright.console.background import Left, begin
from rackwright.console.editor import Editor
from rackwright.console.keymap import Command
from rackwright.console.rows import recovery as view
from rackwright.console.rows.row import Row, heading, words
from rackwright.console.screens.night_list import ListTable
from rackwright.console.screens.pages import keys_of
from rackwright.console.screens.table import BACK, HELP
from rackwright.console.widgets import status
from rackwright.console.widgets.dialog import styled
from rackwright.console.widgets.pane import Pane
from rackwright.console.widgets.screen import ConsoleScreen
from rackwright.console.widgets.status import Foot
from rackwright.engine import recovery
from rackwright.engine.recovery import Proposal, Recovery
from rackwright.model.night import moment
from rackwright.units.text_table import wrap
from rackwright.units.wording import listed

PROVING = "Plan 1 is the best found so far; better ones are looked for …"
BETTER = "A better plan has been found: close and press R to see it."
NOTHING_TO_TICK = "No steps. Take it, and the night log notes it as decided."
LEFT = "Decided and noted in the night log: {} left as it is. Press f on it once it is repaired."
PAINTED = 0.02
"""Seconds in which it stands there that plans are looked for, which would have to share the processor with the search."""
WIDE = 110
"""Columns from which the steps stand beside what a plan does."""

TAKE = Command(
    "enter",
    "take",
    "take",
    "Take this plan: one edit, then its list to tick",
    "Plans",
    in_show=True,
    edits=True,
)
CHOOSE = Command(
    "up",
    "step",
    "compare",
    "Go from plan to plan; its number goes to one",
    "Plans",
    in_show=True,
    shown_key="up/down",
)
ROLL = Command(
    "pagedown", "roll", "scroll", "Scroll what the plan does", "Plans", in_show=True, shown_key="page up/down"
)


class Plans(ConsoleScreen[None]):
    """The plans in a list; of the one under the cursor what it does, and its steps."""

    KEYS = (CHOOSE, TAKE, ROLL, BACK, HELP)
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "take", show=False, priority=True),
        Binding("pagedown", "roll(1)", show=False, priority=True),
        Binding("pageup", "roll(-1)", show=False, priority=True),
        *(Binding(str(number), f"go({number})", show=False) for number in range(1, 10)),
        Binding("escape", "back", show=False),
        Binding("question_mark", "help", show=False),
    ]

    def __init__(self, editor: Editor, again: Sequence[str] = ()) -> None:
        """`again` is what has a plan already that leaves something silent."""
        super().__init__(classes="ascii" if editor.glyphs.ascii else None)
        self.editor, self.glyphs = editor, editor.glyphs
        rig, self.again = editor.session.rig, tuple(again)
        self.names = self.again or recovery.to_plan_for(editor.session.assessment) or recovery.unplanned(rig)
        """What they are for."""
        self.found: Recovery | None = None
        """The plans for what has failed and has none yet; None while they are looked for."""
        self.takes_keys = False
        """Whether the plans stand there, or that there are none."""
        self.searching = True
        """Whether one better than the first is looked for."""
        self._left = False
        self.said = ""
        """What the last key had said."""

    @property
    def failed(self) -> tuple[str, ...]:
        """What they are for, as a person names it."""
        return recovery.named(
            self.editor.session.rig, self.names or (self.found.failed if self.found else ())
        )

    def compose(self) -> ComposeResult:
        """The list; below it what the plan does and, where there is room, its steps."""
        with Vertical(id="panes"):
            yield Pane("", self.glyphs, "plans", whole=True)
            with Horizontal(id="beside"):
                yield Pane("Results: before, failed, after", self.glyphs, "does", reads=True)
                yield Pane("Steps", self.glyphs, "steps", reads=True)
        yield Static(id="status")
        yield Foot(self.glyphs, "keys")

    def on_mount(self) -> None:
        self.plans, self.does, self.steps = (
            self.query_one(f"#{name}", Pane) for name in ("plans", "does", "steps")
        )
        self.does.can_focus = self.steps.can_focus = False
        self.plans.entitle(*view.looking(self.failed))
        self.plans.focus()
        self._say_keys([BACK])
        rig, prior = self.editor.session.rig, self.editor.session.assessment
        planned = [name for name in recovery.failed(rig) if name not in self.names]
        self._told = recovery.in_turn(rig, prior, planned=planned, between=self._go_on)
        self.set_timer(PAINTED, lambda: self._search(self._show_first))

    def _search(self, then: Callable[[Recovery], None]) -> None:
        """Look on for plans: for the first, for those besides that are found at once, then whether there are better ones."""
        begin(self.app, "the search for plans", lambda: next(self._told), then, self._show_failure)

    def _go_on(self) -> None:
        """Search no further once the plans are left: what is done next would have to share the processor with it."""
        if self._left:
            raise Left

    def on_unmount(self) -> None:
        self._left = True

    def _show_first(self, found: Recovery) -> None:
        """Show the first plan, that keys wait for the others of; leave where nothing is lost."""
        self.found = found
        if found.just_lost:
            self.redraw()
            self._search(self._show_found)
        else:
            self.takes_keys = True
            if self.is_current:
                more = " more" if found.lost else ""
                self.editor.say(f"{', '.join(self.failed)} marked failed: nothing{more} is silent.")
                self.dismiss()

    def _show_found(self, found: Recovery) -> None:
        """Show the plans that are found at once."""
        self.found, self.takes_keys = found, True
        self.redraw()
        self._search(self._show_proof)

    def _show_proof(self, found: Recovery) -> None:
        """Show how sure it is that none is better than the first."""
        self.searching = False
        self._show_better(found)
        self._search(self._show_better)

    def _show_better(self, found: Recovery) -> None:
        """Show better plans, but where one of those that stand there is being read already: then it is said."""
        assert self.found is not None
        same = [plan.moves for plan in found.plans] == [plan.moves for plan in self.found.plans]
        if same or self.plans.place in (None, "0"):
            self.found = found
            self.redraw()
        elif self in self.app.screen_stack:
            self._say(BETTER, "warn")

    def _show_failure(self, told: str) -> None:
        """Nothing was found: that stands there until it is left; what failed stays marked."""
        self.searching = False
        if self.found is not None:
            self.redraw()
            return
        self.takes_keys = True
        self.plans.entitle("No plans")
        self.plans.show(lambda width: _read_only([words(part, "stop") for part in wrap(told, width)]))

    def _say(self, told: str, style: str) -> None:
        """Say this above the keys, in as many lines as it takes."""
        self.query_one("#status", Static).update(styled([words(told, style)], self.glyphs))

    def _say_keys(self, commands: Sequence[Command]) -> None:
        said = status.keys(list(commands), self.editor.session, self.app.size.width)
        self.query_one("#keys", Foot).say(said)

    def classes_in(self, size: Size) -> dict[str, bool]:
        """Beside one another only where there is room: else what a plan does stands under the plans, in one frame."""
        return {**super().classes_in(size), "stacked": size.width < WIDE}

    def on_resize(self, event: Resize) -> None:
        self.redraw()

    def on_pane_selected(self, message: Pane.Selected) -> None:
        if message.pane is self.plans and self.found is not None:
            self._draw_plan(self.found)
            self.does.to_top()
            self.steps.to_top()

    def on_pane_activated(self) -> None:
        self.action_take()

    def _plan(self, found: Recovery) -> Proposal:
        """The plan under the cursor."""
        place = self.plans.place
        return found.plans[int(place) if place else 0]

    def redraw(self) -> None:
        """Show the list and the plan."""
        found = self.found
        if found is None or not found.just_lost or self not in self.app.screen_stack:
            return
        self.plans.entitle(*view.failed(found, self.failed))
        self.plans.show(lambda width: view.plans(found, width))
        sure = PROVING if self.searching else found.told
        self._say(self.said or sure, "" if self.said else "dim")
        self._say_keys(self.KEYS)
        self._draw_plan(found)

    def _draw_plan(self, found: Recovery) -> None:
        plan, stacked = self._plan(found), self.has_class("stacked")

        def steps(width: int) -> list[Row]:
            listed = view.steps(plan.steps, width) if plan.steps else [words(NOTHING_TO_TICK)]
            return _read_only([*listed, *view.caution(width)])

        def beside(width: int) -> list[Row]:
            return [*view.first_of_all(width), words(""), *steps(width)]

        def does(width: int) -> list[Row]:
            head, more = view.costs(plan, width)
            figures = view.comparison(found, plan, width, self.glyphs)
            if not stacked:
                return _read_only([*head, *more, words(""), *figures])
            above = [words(""), *view.first_of_all(width), *head, heading("Steps")]
            return _read_only([*above, *steps(width), words(""), *more, *figures])

        self.does.show(does)
        self.steps.show(beside)

    def on_key(self) -> None:
        if self.said:
            self.said = ""
            self.redraw()

    def idle(self, key: str) -> None:
        self.said = f"{key} does nothing here: esc closes the plans."
        self.redraw()

    def action_roll(self, by: int) -> None:
        for pane in (self.does, self.steps):
            pane.scroll_relative(y=by * max(1, pane.size.height - 3), animate=False)

    def action_go(self, number: int) -> None:
        self.plans.move_to(
            next((i for i, row in enumerate(self.plans.rows) if row.place == str(number - 1)), -1)
        )

    def action_take(self) -> None:
        found = self.found
        if found is None or not found.just_lost:
            return
        plan, now = self._plan(found), moment(datetime.datetime.now())
        number = found.plans.index(plan) + 1
        editor = self.editor
        self.dismiss()
        names = self.names
        title = f"plan {number}, {', '.join(self.failed)}: {plan.title[:1].lower()}{plan.title[1:]}"
        if editor.make(
            title, lambda rig: recovery.take(rig, names, plan.moves, plan.title, now), in_show=True
        ):
            if plan.steps:
                editor.app.push_screen(ListTable(editor, editor.session.rig.lists[-1].id))
            else:
                editor.say(LEFT.format(listed(recovery.named(editor.session.rig, names))))

    def action_help(self) -> None:
        self.app.push_screen(keys_of("Plans", self.KEYS, self.glyphs))

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
