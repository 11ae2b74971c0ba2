"""The mains tree on the whole screen, walked with arrows: built, moved, failed and measured where the cursor stands.

What is selected here is selected in the workplace too. Beside the tree, or behind tab, stand the results of the selection.
"""

import datetime

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.events import Resize
from textual.geometry import Size

from rackwright.console.editor import Editor
from rackwright.console.forms import settings
from rackwright.console.forms.rig_sheets import Sheets
from rackwright.console.forms.several import sheet_for_all, sheet_to_move
from rackwright.console.forms.sheet import Sheet
from rackwright.console.keymap import COMMANDS, Command, on_figures
from rackwright.console.related import KINDS, kind_of, related
from rackwright.console.rows import mains, results
from rackwright.console.screens.night_list import ListTable
from rackwright.console.screens.pages import working_page
from rackwright.console.screens.table import (
    ADD,
    BACK,
    EDIT,
    HELP,
    REDO,
    REMOVE,
    UNDO,
    RigTable,
    bindings,
    editing,
)
from rackwright.console.widgets import status
from rackwright.console.widgets.dialog import Question
from rackwright.console.widgets.fields import Option
from rackwright.console.widgets.form import Form
from rackwright.console.widgets.pane import MakeRows, Pane
from rackwright.console.widgets.status import OVER, Foot, Said
from rackwright.engine import limits, recovery
from rackwright.engine.assess import Assessed
from rackwright.engine.findings.tree import duty_to_count
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.night import MINUTE, moment
from rackwright.units import figure as number

BROAD = 124
"""Columns from which the results stand beside the tree."""

MOVE = editing("m", "move", "move", "Move it, or all chosen, to another circuit or board")
CLAMP = editing("c", "measure", "clamp", "Note what a clamp meter shows of a circuit", in_show=True)
FAIL = editing("f", "fail", "fail", "Mark it, or all chosen, failed or working; see the plans", in_show=True)
WHY = Command("w", "why", "why", "Show the working of its loading, or of the figure", "Table", in_show=True)
ORDER = editing("o", "order", "on/off", "Switch all on, or off, by a list to tick", in_show=True)
CHOOSE = Command(
    "space",
    "choose",
    "choose",
    "Choose it, go down a row; for one move, edit, failure",
    "Table",
    in_show=True,
)
ALL = editing("e", "edit_all", "edit all", "Edit all chosen at once")
COPY = editing("d", "duplicate", "duplicate", "Add a copy of it, or of each that is chosen")
OTHER = Command("tab", "other", "results", "Go to the results, or back to the tree", "Table", in_show=True)

ADDED = {
    "board": "a distribution board",
    "circuit": "with its breaker and supply cable",
    "load": "lights, backline, catering: it counts in full",
    "amplifier": "into the last rack",
}
"""What can be added to the tree."""


class MainsTree(RigTable):
    """Intake, boards, circuits and what hangs on them."""

    KEYS = (
        EDIT,
        ADD,
        MOVE,
        CLAMP,
        FAIL,
        WHY,
        ORDER,
        BACK,
        OTHER,
        REMOVE,
        CHOOSE,
        ALL,
        COPY,
        UNDO,
        REDO,
        HELP,
    )
    BINDINGS = bindings(KEYS)

    def __init__(self, editor: Editor) -> None:
        super().__init__(f"Mains of {editor.session.rig.title}", editor)
        self.place = editor.session.place
        self._reads = False
        """Whether the results are in front."""
        self._made: tuple[Assessed, MakeRows] | None = None

    # --- drawing ---

    def compose(self) -> ComposeResult:
        with Horizontal(id="panes"):
            yield Pane(self.heading, self.glyphs, "table", covered=OVER)
            yield Pane("Results", self.glyphs, "results", reads=True, covered=OVER)
        yield Said(self.glyphs)
        yield Foot(self.glyphs, "status")
        yield Foot(self.glyphs, "keys")

    def on_mount(self) -> None:
        self.drawn, self.results = self.query_one("#table", Pane), self.query_one("#results", Pane)
        self._front()

    def classes_in(self, size: Size) -> dict[str, bool]:
        return {**super().classes_in(size), "narrow": size.width < BROAD}

    def on_resize(self, event: Resize) -> None:
        self.redraw()

    def on_screen_resume(self) -> None:
        """What was open over it may have changed the rig."""
        if hasattr(self, "drawn"):
            self.redraw()

    def _front(self) -> None:
        for pane, front in ((self.drawn, not self._reads), (self.results, self._reads)):
            pane.set_class(front, "front")
        self.set_focus(self.results if self._reads else self.drawn)

    @property
    def _rows(self) -> MakeRows:
        """What makes the tree of the rig as it is now: the same as long as that is, so that no move of the cursor makes it anew."""
        assessment = self.session.assessment
        if self._made is None or self._made[0] is not assessment:
            self._made = assessment, lambda width: mains.rows(assessment, width, self.glyphs)
        return self._made[1]

    def redraw(self, place: str | None = None) -> None:
        """Show tree, results, counts and keys as they are now."""
        session, wanted = self.session, self.place if place is None else place
        lit = related(session.assessment, wanted) - {""}
        self.drawn.show(self._rows, lit, session.chosen, wanted, near=True)
        moved = self.drawn.place != self.place
        self.place = session.place = self.drawn.place
        self._show_results(moved)
        self.query_one("#status", Foot).say(status.standing(session))
        self.query_one("#keys", Foot).say(self.foot)

    @property
    def offered(self) -> list[Command]:
        left_out = [] if self.session.chosen else [ALL]
        left_out += [] if self.editable() else [COPY, REMOVE]
        keys = [each for each in self.KEYS if each not in left_out]
        return on_figures(keys) if self._reads else keys

    def _show_results(self, from_top: bool) -> None:
        assessment, place = self.session.assessment, self.place
        self.results.show(
            lambda width: results.rows(assessment, place, width, self.glyphs, self.session.kept)
        )
        if from_top:
            self.results.to_top()

    def on_pane_selected(self, message: Pane.Selected) -> None:
        """The results follow the cursor in the tree."""
        if message.pane is self.drawn and message.place != self.place:
            self.redraw(message.place)

    def form_of(self, sheet: Sheet) -> Form:
        """A form that tells first how full circuits would be."""
        foreseen = self.editor.foresee(sheet, mains=True)
        return Form(sheet.title, sheet.fields, sheet.values, self.glyphs, foreseen, sheet.begin)

    # --- keys ---

    @property
    def sheets(self) -> Sheets:
        """What forms ask; of a circuit all there is to say."""
        return Sheets(self.editor.options, whole_mains=True)

    def action_edit(self) -> None:
        """Edit the node in its form; in the results show the working."""
        kind = kind_of(self.session.assessment, self.place)
        if self._reads:
            self.action_why()
        elif kind not in (*KINDS, "rig"):
            self.say(f"{self.place} has nothing to edit. Press enter on Intake for the supply.", "yellow")
        elif not self.editor.locked() and (
            sheet := self.sheets.of(self.place) if self.place else settings.intake(self.editor.options)
        ):
            self.open_sheet(sheet)

    def action_add(self) -> None:
        """Ask what comes where the cursor stands, the likeliest first, then show its form."""
        kind = kind_of(self.session.assessment, self.place)
        likely = "circuit" if kind in ("rig", "phase", "board") else "load"
        options = [Option(each, told) for each, told in ADDED.items()]
        options.sort(key=lambda option: option.value != likely)

        def picked(what: str) -> None:
            try:
                sheet = self.sheets.new(what, self.place)
            except EditError as error:
                self.say(str(error), "yellow")
                return
            self.open_sheet(sheet)

        if not self.editor.locked():
            self.editor.pick(f"Add what, at {self.place or 'the intake'}?", options, picked)

    def action_move(self) -> None:
        """Show where else it may hang, and what that would do."""
        if self.editor.locked():
            return
        meant = self.session.meant
        if meant and (sheet := sheet_to_move(self.sheets, meant)):
            self.open_sheet(sheet)
        else:
            self.say("Move amplifiers and loads, or circuits, or boards: choose one of these.", "yellow")

    def action_edit_all(self) -> None:
        kinds = {kind_of(self.session.assessment, place) for place in self.session.chosen}
        if self.editor.locked():
            return
        if len(kinds) == 1 and (sheet := sheet_for_all(self.sheets, kinds.pop(), self.session.chosen)):
            self.open_sheet(sheet)
        else:
            self.say("Choose things of one kind with space, then press e.", "yellow")

    def action_choose(self) -> None:
        if self.place:
            self.session.choose()
            self.redraw()
            self.drawn.action_step(1)

    def action_remove(self) -> None:
        """Remove it, or all chosen."""
        if (places := self.copied_or_removed()) and not self.editor.locked():
            self.editor.remove(places, self.make)

    def editable(self) -> tuple[str, ...]:
        """What is chosen in the tree, else what the cursor is on; what is chosen elsewhere is not seen here."""
        shown = [row.place for row in self.drawn.rows if row.place]
        chosen = tuple([place for place in self.session.chosen if place in shown])
        kinds = {kind_of(self.session.assessment, place) for place in chosen or (self.place,)}
        return (chosen or (self.place,)) if kinds <= {*KINDS} else ()

    def action_fail(self) -> None:
        """As the key of the workplace does, which is not imported from here."""
        self.editor.do(next(each for each in COMMANDS if each.action == "fail"))

    def action_why(self) -> None:
        """The working of the figure under the cursor; in the tree that of the first that has a limit."""
        row = self.results.row if self._reads else None
        if row is not None and row.figure:
            target = row.place, row.figure
        else:
            shown = [
                each for _, group in results.groups(self.session.assessment, self.place)[:1] for each in group
            ]
            known = [each for each in shown if each.value is not None]
            known.sort(key=lambda each: each.limit is None)
            if not known:
                self.say("There is no figure here to show the working of.", "yellow")
                return
            target = self.place, known[0].figure.name
        self.app.push_screen(working_page(self.session.assessment, *target, self.glyphs))

    def action_other(self) -> None:
        self._reads = not self._reads
        self._front()
        self.redraw()

    def action_measure(self) -> None:
        """Note what a clamp meter shows of the circuit that the cursor is on, or hangs on."""
        index, place = self.session.assessment.index, self.place
        hung = index.amplifiers.get(place) or index.loads.get(place)
        circuit = hung.circuit if hung else place
        if circuit not in index.circuits:
            self.say("Go to a circuit, or to what hangs on one, and press c.", "yellow")
            return
        sheet = settings.measured(self.editor.options, circuit, moment(datetime.datetime.now())[:MINUTE])
        self.open_sheet(sheet, in_show=True, then=self._ask_for_duty)

    def _ask_for_duty(self) -> None:
        """Where what was measured means more than programme is counted with, ask whether to count with that here."""
        assessment, rig = self.session.assessment, self.session.rig
        duty = assessment.supply.measured_duty
        counted = duty_to_count(rig, duty)
        if duty is None or counted is None:
            return

        def answered(answer: str | None) -> None:
            if answer == "y":
                now = replace(rig.supply, measured_duty=counted)
                label = f"count programme at {number(counted)}"
                self.make(label, lambda rig: edits.change_settings(rig, supply=now), in_show=True)

        limit = limits.measured_duty(rig.programme_duty)
        told = f"What was measured means a duty of {number(duty)}, over the {number(limit.value)} that programme is counted with."
        most = ", as driven hard" if counted < duty else ""
        answers = [("y", f"count programme with {number(counted)}{most} at this venue")]
        self.app.push_screen(Question(told, answers, self.glyphs), answered)

    def action_order(self) -> None:
        """Open the list for switching on or off, made anew where the last is done."""

        def picked(which: str) -> None:
            on, now, when = which == "on", self.session.assessment, moment(datetime.datetime.now())
            label = f"list: switch {which}"
            self.editor.make(label, lambda rig: recovery.with_switching(rig, now, on, when), in_show=True)
            if made := recovery.switching(self.session.rig, on):
                self.app.push_screen(ListTable(self.editor, made.id))

        options = [
            Option("on", "processor and desk, boards, then group after group"),
            Option("off", "amplifiers first, boards last"),
        ]
        self.editor.pick("Switch which way?", options, picked)

    def action_back(self) -> None:
        """Close it; what is selected here is so in the workplace."""
        self.editor.host.go_to(self.place)
        super().action_back()
