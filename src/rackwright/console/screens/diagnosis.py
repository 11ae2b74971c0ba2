"""From what is heard to what has failed, on one screen: answers by a key each, the causes that agree beside them, the next test.

What agrees and what a test would show is `engine.diagnosis`'s to say. A cause is marked failed by an edit, past the edit
lock; what was answered stays with the rig until then.
"""

import datetime
from collections.abc import Callable
from typing import ClassVar

from msgspec.structs import replace
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.events import Resize
from textual.geometry import Size
from textual.widgets import Static

from rackwright.console.background import begin
from rackwright.console.editor import Editor
from rackwright.console.keymap import Command
from rackwright.console.rows import diagnosis as view
from rackwright.console.rows.row import Row, words
from rackwright.console.screens.pages import keys_of
from rackwright.console.screens.plans import Plans
from rackwright.console.screens.table import BACK, HELP
from rackwright.console.session import Refused
from rackwright.console.widgets import status
from rackwright.console.widgets.dialog import Picker, Question, styled
from rackwright.console.widgets.fields import Option
from rackwright.console.widgets.pane import Pane
from rackwright.console.widgets.screen import RigScreen
from rackwright.console.widgets.status import Foot, Said
from rackwright.engine import cautions, diagnosis, recovery
from rackwright.engine.diagnosis import HEARD, OUTCOMES, Diagnosis, Suspect, Table
from rackwright.model.night import moment
from rackwright.units.text_table import wrap

LOOKING = "Trying every single fault …"
FINDING = "Finding what agrees …"
MOST_AT_ONCE = 30
"""Causes that are planned for all at once, at most: with more nothing would be left to play."""
WIDE, HIGH = 110, 30
"""Columns from which causes stand beside what is heard, lines from which the next test has more room."""
LOW_TEST, HIGH_TEST = 5, 9
"""Lines for the next test and what to heed, in a low window and a high one."""

GROUP = "Diagnosis"
KEYS_OF = {
    "plays": "p", "quiet": "q", "silent": "s", "distorted": "x", "humming": "h", "dull": "d", "thin": "t",
}  # fmt: skip
ANSWERS = tuple(
    Command(key, f"answer('{word}')", word, f"Answer: {HEARD[word]}", GROUP, in_show=True)  # type: ignore[index]
    for word, key in KEYS_OF.items()
)
UNKNOWN = Command(
    "delete", "answer('')", "unknown", "Clear the answer: unknown", GROUP, in_show=True, shown_key="del"
)
PICK = Command("enter", "mark", "answer", "On what is heard: pick an answer from a list", GROUP, in_show=True)
MARK = Command(
    "enter",
    "mark",
    "mark failed",
    "On a cause: mark it failed, see the plans",
    GROUP,
    in_show=True,
    edits=True,
)
NEXT = Command("n", "next", "next test", "Go to the next test, or say what it showed", GROUP, in_show=True)
WHICHEVER = Command("w", "whichever", "plans for all", "Mark all causes failed: plans that work for each", GROUP, in_show=True, edits=True)  # fmt: skip
OTHER = Command("tab", "other", "lists", "Go from what is heard to the causes and back", GROUP, in_show=True)
FIND = Command("slash", "find", "find", "Go to a place by its id", GROUP, in_show=True, shown_key="/")
FORGET = Command("c", "forget", "clear", "Clear all answers", GROUP, in_show=True)


class DiagnosisScreen(RigScreen[None]):
    """What is heard in one list, what may have failed in another, the next test below."""

    KEYS = (PICK, MARK, NEXT, WHICHEVER, OTHER, FIND, FORGET, BACK, HELP)
    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(each.key, each.action, show=False) for each in (*ANSWERS, UNKNOWN)),
        *(Binding(each.key, each.action, show=False, priority=each.key in ("tab", "enter")) for each in KEYS),
    ]

    def __init__(self, editor: Editor) -> None:
        super().__init__(editor.session, editor.glyphs)
        self.editor = editor
        self.table: Table | None = None
        """None while it is made."""
        self.told: Diagnosis | None = None
        self.judged: dict[str, str] | None = None
        """The answers that it is about; None before anything is found."""
        self.groups: tuple[tuple[Suspect, ...], ...] = ()
        self.finding = False
        """Whether what agrees is looked for, beside the screen."""
        self.waiting: Callable[[], None] | None = None
        """What a key does once that is found."""
        self.asked: list[view.Asked] = []
        self.takes_keys = False

    def compose(self) -> ComposeResult:
        """The caution above everything; the two lists below or beside one another; the next test."""
        caution = Static(Text(self.glyphs.spelt(cautions.SMOKE), "bold"), id="smoke")
        caution.styles.height = 1
        yield caution
        with Vertical(id="panes"):
            with Vertical(id="lists"):
                yield Pane("What is heard", self.glyphs, "heard")
                yield Pane(LOOKING, self.glyphs, "causes")
            test = Static("", id="test")
            test.styles.height = 0
            yield test
        yield Said(self.glyphs)
        yield Foot(self.glyphs, "status")
        yield Foot(self.glyphs, "keys")

    def on_mount(self) -> None:
        self.heard, self.causes = self.query_one("#heard", Pane), self.query_one("#causes", Pane)
        self.heard.focus()
        self._look()

    def _look(self) -> None:
        """Have the table made for the rig as it is."""
        self.table, self.takes_keys = None, False
        self.causes.entitle(LOOKING)
        rig, prior = self.session.rig, self.session.assessment
        begin(self.app, "the table of faults", lambda: Table(rig, prior), self._made, self._not_made)

    def _made(self, table: Table) -> None:
        self.table, self.takes_keys = table, True
        self.asked = view.places(table)
        self.judged = None
        self.redraw(self._begin_at(table))

    def _not_made(self, told: str) -> None:
        self.takes_keys = True
        self.causes.entitle("No causes")
        self.causes.show(lambda width: [words(part, "stop") for part in wrap(told, width)])
        self.query_one("#keys", Foot).say(status.keys([BACK], self.session, self.size.width))

    def _begin_at(self, table: Table) -> str:
        """The place that is selected, or the first section that it is or that hangs on it; its cabinet where that has no other."""
        place = self.session.place
        known = {each.place for each in self.asked}
        hung = [name for name, section in table.meant.items() if place and place in (name, section.channel)]
        wanted = [place, *hung, *(table.meant[name].cabinet for name in hung)]
        return next((name for name in wanted if name in known), "")

    def _find(self, table: Table) -> None:
        """Have what agrees with the answers found beside the screen."""
        self.finding, heard = True, self.session.rig.heard
        self.causes.entitle(FINDING)

        def work() -> Diagnosis:
            return diagnosis.diagnose(table, diagnosis.kept(table, heard), diagnosis.kept_found(table, heard))

        def found(told: Diagnosis) -> None:
            self.told, self.groups = told, diagnosis.grouped(table, told)
            self._found(table, heard)

        def not_found(said: str) -> None:
            self.told, self.groups, self.waiting = None, (), None
            self._found(table, heard)
            self._not_made(said)

        begin(self.app, "the diagnosis", work, found, not_found)

    def _found(self, table: Table, heard: dict[str, str]) -> None:
        """Show what agrees with that, or look again where something else is answered, or the rig another, by now."""
        self.finding, self.judged = False, heard if table is self.table else None
        if not self.is_attached or self.table is None:
            return
        self.causes.to_top()
        self.redraw()
        if not self.finding:
            waiting, self.waiting, self.takes_keys = self.waiting, None, True
            if waiting is not None:
                waiting()

    def _once_found(self, act: Callable[[], None]) -> None:
        """Do what depends on what agrees as soon as that stands there; escape leaves meanwhile."""
        if self.finding:
            self.waiting, self.takes_keys = act, False
        else:
            act()

    def redraw(self, place: str | None = None) -> None:
        """Show both lists and the next test."""
        table, told, rig = self.table, self.told, self.session.rig
        if table is None:
            return
        if replace(rig, night=()) != replace(table.rig, night=()):  # another console has changed it
            self._look()
            return
        answers, found = diagnosis.kept(table, rig.heard), diagnosis.kept_found(table, rig.heard)
        asked, number = self.asked, len(answers) + len(found)
        self.heard.entitle(f"What is heard: {number} answered" if number else "What is heard")
        self.heard.show(
            lambda width: view.heard(asked, answers, found, width, self.glyphs, self.size.width >= WIDE),
            place=place or None,
            near=True,
        )
        self._say_keys()
        if self.judged != rig.heard:
            if not self.finding:
                self._find(table)
        elif told is not None:
            groups = self.groups
            self.causes.entitle(view.title(told))
            self.causes.show(lambda width: view.causes(told, groups, width, self.glyphs))
            rows: list[Row] = view.next_test(table, told, max(self.size.width - 2, 40), self._lines)
            test = self.query_one("#test", Static)
            test.update(styled(rows, self.glyphs))
            test.styles.height = len(rows)

    def _say_keys(self) -> None:
        width = self.size.width
        self.query_one("#status", Foot).say(status.keys([*ANSWERS, UNKNOWN], self.session, width))
        other = MARK if self.heard.has_focus else PICK
        self.query_one("#keys", Foot).say(
            status.keys([each for each in self.KEYS if each is not other], self.session, width)
        )

    def classes_in(self, size: Size) -> dict[str, bool]:
        return {**super().classes_in(size), "broad": size.width >= WIDE}

    def on_resize(self, event: Resize) -> None:
        self.redraw()

    @property
    def _lines(self) -> int:
        """Lines that the next test and what to heed may take: none before anything is answered."""
        if not self.session.rig.heard:
            return 0
        return HIGH_TEST if self.app.size.height >= HIGH else LOW_TEST

    def on_pane_selected(self) -> None:
        """The focus may have moved to the other list, where enter does something else."""
        self._say_keys()

    def on_pane_activated(self) -> None:
        self.action_mark()

    # --- answers ---

    def _here(self) -> str:
        """The row of what is heard that the cursor is on; nothing, and said so, where the other list has the focus."""
        if not self.heard.has_focus:
            self.say("Press tab: what is heard is answered in the other list.", "yellow")
            return ""
        return self.heard.place

    def action_answer(self, word: str) -> None:
        place = self._here()
        if not place or self.table is None:
            return
        if word and place not in {each.place for each in self.asked}:
            self.say("This is a test. Press n for the next one, or del to remove its outcome.", "yellow")
            return
        if not word:
            self._note({each: said for each, said in self.session.rig.heard.items() if each != place})
            return
        possible = diagnosis.words_for(self.table, place)
        if word not in possible:
            self.say(f'"{word}" is not said of {place}: {", ".join(possible)}.', "yellow")
            return
        self._note(self.session.rig.heard | {place: word})

    def _note(self, heard: dict[str, str]) -> None:
        """Have the rig hold that as what is heard; like a tick it is not undone, but taken back here."""
        try:
            self.session.tick(lambda rig: recovery.hear(rig, heard))
        except Refused as error:
            self.say(str(error), "yellow")
            return
        self.editor.host.redraw()
        self.redraw()

    def action_find(self) -> None:
        options = [Option(each.place, each.note) for each in self.asked]

        def picked(place: str | None) -> None:
            if place:
                self.heard.focus()
                self.redraw(place)

        self.app.push_screen(Picker("Go to which?", options, self.glyphs), picked)

    def action_forget(self) -> None:
        self._note({})

    def action_other(self) -> None:
        (self.causes if self.heard.has_focus else self.heard).focus()

    def action_next(self) -> None:
        """Go to the place to listen to, or ask what the test showed."""
        self._once_found(self._next)

    def _next(self) -> None:
        test = self.told.next_test if self.told else None
        if test is None:
            self.say("There is no next test: answer what you hear.", "yellow")
            return
        check = test.check
        if check.kind == "listen":
            self.heard.focus()
            self.redraw(check.place)
            return
        outcomes = OUTCOMES[check.kind]
        keys = {str(number): outcome for number, outcome in enumerate(outcomes, start=1)}

        def answered(key: str | None) -> None:
            if key is not None:
                self._note(self.session.rig.heard | {check.id: keys[key]})

        caution = {"meter": cautions.METER, "lights": cautions.POWER_DOWN}.get(
            check.kind, cautions.REPATCHING
        )
        told = f"{check.words}\n\n{caution}\n\nWhat does it show?"
        asked = [(key, outcomes[outcome]) for key, outcome in keys.items()]
        self.app.push_screen(Question(told, asked, self.glyphs), answered)

    # --- what follows ---

    def action_mark(self) -> None:
        """On a cause: mark it failed and see the plans. On what is heard: pick an answer."""
        if self.table is not None and self.heard.has_focus:
            self._pick_answer(self.table)
        else:
            self._once_found(self._mark)

    def _mark(self) -> None:
        if not (place := self.causes.place):
            return
        alike = self.groups[int(place)]

        def picked(name: str | None) -> None:
            for suspect in alike:
                if suspect.name == name:
                    called = " and ".join(recovery.named(self.session.rig, suspect.names))
                    self._plan(f"mark {called} failed", suspect.names)

        if len(alike) == 1:
            picked(alike[0].name)
        else:
            options = [Option(suspect.name, ", ".join(suspect.at)) for suspect in alike]
            self.app.push_screen(Picker("Mark which failed?", options, self.glyphs), picked)

    def _pick_answer(self, table: Table) -> None:
        place = self.heard.place
        if not place or place in self.session.rig.heard.keys() - {each.place for each in self.asked}:
            return
        options = [Option(word, HEARD[word]) for word in diagnosis.words_for(table, place)]

        def picked(word: str | None) -> None:
            if word is not None:
                self.action_answer(word)

        now = self.session.rig.heard.get(place, "")
        self.app.push_screen(Picker(f"What is heard of {place}?", options, self.glyphs, now), picked)

    def action_whichever(self) -> None:
        self._once_found(self._whichever)

    def _whichever(self) -> None:
        told = self.told
        if told is None or told.nothing_new or not told.suspects:
            self.say("There is nothing to plan for: answer what you hear.", "yellow")
            return
        names = diagnosis.whichever(told)
        if len(names) > MOST_AT_ONCE:
            self.say(f"{len(names)} causes agree: answer more, or take the next test, before planning for all.", "yellow")  # fmt: skip
            return
        self._plan(f"mark {len(names)} possible causes failed", names)

    def _plan(self, label: str, names: tuple[str, ...]) -> None:
        """Mark those failed and show the plans; what was answered has led there and is let go."""
        editor, when = self.editor, moment(datetime.datetime.now())
        if editor.make(label, lambda rig: recovery.hear(recovery.mark(rig, names, when), {}), in_show=True):
            self.dismiss()
            editor.app.push_screen(Plans(editor))

    def action_help(self) -> None:
        self.app.push_screen(keys_of("what is heard", (*ANSWERS, UNKNOWN, *self.KEYS), self.glyphs))

    def action_back(self) -> None:
        self.dismiss()
