"""A list of the night, ticked off in order by keys, and the return. Edits go through the editor, past the edit lock."""

import datetime
from collections.abc import Callable, Sequence
from typing import ClassVar

from textual.binding import BindingType

from rackwright.console.editor import Editor
from rackwright.console.keymap import Command
from rackwright.console.rows import recovery as view
from rackwright.console.rows.row import Row, words
from rackwright.console.screens.table import BACK, HELP, REDO, UNDO, RigTable, bindings
from rackwright.console.session import Refused
from rackwright.console.widgets.dialog import Picker, Prompt, Question
from rackwright.console.widgets.fields import Option
from rackwright.console.widgets.pane import Pane
from rackwright.engine import recovery
from rackwright.engine.recovery import TimeTaken
from rackwright.model.edits import EditError
from rackwright.model.night import MINUTE, NightList, Step, moment
from rackwright.model.rig import Rig
from rackwright.units.text_table import wrap
from rackwright.units.wording import few, listed

ALL_DONE = "All done. Press esc to close; after the repair, b for the return."
DONE_ROW = "done"
"""The place of that row: the cursor goes on to it from the last step, so that it is seen."""
LOOK = 15.0
"""s after which the clock in the title is looked at again."""

DONE = Command("enter", "edit", "done", "Tick the step and go on to the next", "List", in_show=True)
NO = Command("enter", "edit", "no: go on", "On a question: no, go on with the list", "List", in_show=True)
YES = Command(
    "y",
    "answer_yes",
    "yes: stop",
    "On a question: yes, the rest of the list is not done",
    "List",
    in_show=True,
    edits=True,
)
UNDONE = Command("space", "untick", "untick", "Untick the step, or tick it", "List", in_show=True)
REPAIRED = Command(
    "b",
    "go_back",
    "repaired",
    "It is repaired: return now, later, or keep it as it is",
    "List",
    in_show=True,
    edits=True,
)
PUT_AWAY = Command(
    "delete", "put_away", "remove", "Remove the list", "List", in_show=True, edits=True, shown_key="del"
)
TIMES = Command("t", "keep_times", "keep times", "Keep what steps really took as the crew's times", "List")
INITIALS = Command(
    "i", "initials", "initials", "Change your initials, for the night log", "List", in_show=True
)


class ListTable(RigTable):
    """A list, ticked off by keys."""

    IN_SHOW = True
    KEYS = (DONE, NO, YES, UNDONE, REPAIRED, PUT_AWAY, BACK, UNDO, REDO, TIMES, INITIALS, HELP)
    BINDINGS: ClassVar[list[BindingType]] = bindings([each for each in KEYS if each is not NO])

    def __init__(self, editor: Editor, name: str) -> None:
        super().__init__("List", editor)
        self.id_ = name
        self.taken: tuple[TimeTaken, ...] | None = None
        """What steps of the night took otherwise than planned, looked up at the list's end and offered once."""
        self.ended = "The list is closed."
        self.place = self._following
        self._gone = False
        """Whether the list was not there when it was last drawn."""

    @property
    def shown(self) -> NightList | None:
        """The list as it is now; None where it has gone."""
        return next((each for each in self.session.rig.lists if each.id == self.id_), None)

    @property
    def _following(self) -> str:
        """The place of the first open step."""
        shown = self.shown
        if shown is None:
            return ""
        return DONE_ROW if shown.done and not shown.returns else str(shown.following)

    @property
    def _number(self) -> int | None:
        """Which step the cursor is on, from 0; None where it is on none."""
        return int(self.place) if self.place.isdigit() else None

    @property
    def _question(self) -> Step | None:
        """The open question that the cursor is on."""
        shown, number = self.shown, self._number
        step = shown.steps[number] if shown and number is not None and not shown.returns else None
        return step if step and step.kind == "check" and not step.done else None

    def on_mount(self) -> None:
        self.set_interval(LOOK, self._look_at_the_clock)
        session = self.session
        if session.initials is not None or session.path is None:
            return
        if former := self.editor.document.notes.former_initials():
            session.initials = former
            self.say(f"The night log goes on noting {former}. Press i for other initials.")
        else:
            self.action_initials()

    def action_initials(self) -> None:
        """Ask who ticks here."""

        def answered(text: str | None) -> None:
            self.session.initials = (text or "").strip()

        prompt = Prompt("Your initials, for the night log", self.glyphs, self.session.initials or "")
        self.app.push_screen(prompt, answered)

    def _look_at_the_clock(self) -> None:
        if (shown := self.shown) is None:
            self.query_one(Pane).entitle("List closed")
        else:
            self.query_one(Pane).entitle(
                *view.title(shown, recovery.begun(self.session.rig, shown), datetime.datetime.now())
            )

    def rows(self, width: int) -> list[Row]:
        shown = self.shown
        times = view.times(self.taken, width, self.session.edit_locked)
        if shown is None:
            return [words(part, "ok") for part in wrap(f"{self.ended} Press esc to close.", width)] + times
        told: list[Row] = []
        if shown.done and not shown.returns:
            first, *more = wrap(ALL_DONE, width)
            below = [Row(((part, "ok"),), DONE_ROW, selectable=False) for part in more]
            told = [words(""), Row(((first, "ok"),), DONE_ROW), *below, *times]
        before = recovery.open_before(self.session.rig, shown)
        above = [*view.first_of_all(width), *view.begins_after(before, width), words("")]
        return [*above, *view.steps(shown.steps, width), *told, *view.caution(width)]

    def redraw(self, place: str | None = None) -> None:
        """Show the list; its title, how far it is and for how long in the frame."""
        shown = self.shown
        if place is None and self._gone:  # the console in control was lost, and has recovered it
            place = self._following
        self._gone = shown is None
        ended = shown is None or (shown.done and not shown.returns)
        if ended and self.taken is None:
            self.taken = self.editor.document.notes.times_to_offer()
        self.taken = self.taken if ended else None
        self._look_at_the_clock()
        super().redraw(place)

    @property
    def offered(self) -> list[Command]:
        """On a question other keys act."""
        shown = self.shown
        keys = self.KEYS if shown else (BACK, TIMES, HELP)
        left_out = [INITIALS, REPAIRED if shown and shown.returns else PUT_AWAY]
        left_out += [] if self.taken else [TIMES]
        ticked = shown is not None and self._number is not None and shown.steps[self._number].done
        left_out += [DONE] if self._question else [NO, YES]
        left_out += [DONE] if ticked or self.place == DONE_ROW else []
        left_out += [] if ticked else [UNDONE]
        return [each for each in keys if each not in left_out]

    def action_keep_times(self) -> None:
        """Keep what steps really took as the crew's times."""
        if not (taken := self.editor.document.notes.times_taken()):
            self.say("No step took much longer or shorter than planned, or too few did.", "yellow")
        elif self.editor.make("keep times taken", lambda rig: recovery.keep_times(rig, taken)):
            self.taken = ()
            self.redraw()
            self.say("Saved as the crew's times: plans count with them now.")

    def action_edit(self) -> None:
        """Tick the step and go on; one that is ticked stays so."""
        shown = self.shown
        number = self._number
        if shown is None or self.place == DONE_ROW:
            self.say("There is nothing left to tick. Press esc to close.")
        elif number is not None and shown.steps[number].done:
            self.say(f"Step {number + 1} is ticked. Press space to untick it.", "yellow")
        else:
            self.action_untick()

    def action_answer_yes(self) -> None:
        """It plays again, or it is the load: the rest of the list is not done. Of several loads ask which."""
        shown, number = self.shown, self._number
        if shown is None or number is None or self._question is None:
            self.say("This step asks nothing: enter ticks it.", "yellow")
            return
        if number > shown.following:
            self.say(f"First step {shown.following + 1}: {shown.steps[shown.following].words}", "yellow")
            return
        try:
            loads = recovery.loads_asked(self.session.rig, self.id_, number)
        except EditError as error:
            self.say(str(error), "yellow")
            return
        if not loads:
            self._plays_again(number)
            return
        options: dict[str, tuple[Sequence[str], Sequence[str], str]] = {}
        for channel, own in loads.items():
            if len(own) > 1:
                every = [section for sections in own.values() for section in sections]
                options[channel] = ([*own], every, f"not known which: {few(every, 3)}")
            for load, sections in own.items():
                options[load] = ([load], sections, f"all of it: {few(sections, 3)}")
                for each in sections if len(sections) > 1 else ():
                    options[each] = ([load], [each], f"the rest of {load} may be good")

        def picked(name: str | None) -> None:
            if name is not None:
                self._is_the_load(number, *options[name][:2])

        if len(options) == 1:
            picked(next(iter(options)))
            return
        told = [Option(name, what) for name, (_, _, what) in options.items()]
        self.app.push_screen(Picker("Which is shorted?", told, self.glyphs), picked)

    def _plays_again(self, number: int) -> None:
        assert self.shown is not None
        works = [each for each in self.shown.steps[number].at if each in self.shown.failed]
        names, when = listed(recovery.named(self.session.rig, works)), moment(datetime.datetime.now())
        works_again = f"{names} {'works' if len(works) == 1 else 'work'} again"
        if self.make(works_again, lambda rig: recovery.plays_again(rig, self.id_, number, when)):
            if self.shown is not None:
                self.redraw(self._following)
                self.say(f"{works_again}: what was switched off for it comes back by this list.")
                return
            self.dismiss(None)
            left = recovery.unplanned(self.session.rig)
            more = f" Press R: plans for {listed(recovery.named(self.session.rig, left))}." if left else ""
            self.editor.say(f"{works_again}: the rest of the list is not done.{more}")

    def _is_the_load(self, number: int, loads: Sequence[str], sections: Sequence[str]) -> None:
        when = moment(datetime.datetime.now())
        if not self.make(
            f"{listed(loads)} shorted",
            lambda rig: recovery.is_the_load(rig, self.id_, number, loads, sections, when),
        ):
            return
        stays = "stays" if len(loads) == 1 else "stay"
        told = f"{listed(sections)} marked shorted: {listed(loads)} {stays} off."
        shown = self.shown
        if shown is None or shown.done:
            self.dismiss(None)
            self.editor.say(f"{told} Press R: plans for what stays silent.")
        else:
            self.redraw(self._following)
            self.say(f"{told} These steps bring the rest back; then R has plans for what stays silent.")

    def action_untick(self) -> None:
        """Tick the step and go on, asking first where one before it is open; or untick it."""
        shown, number = self.shown, self._number
        if shown is None or number is None:
            return
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
        if after is None:  # a return: what follows is said here, so that one key too many does nothing
            self.ended = closed(self.session.rig) if before and before.failed else "All done."
            self.redraw()
            return
        unticked = before is not None and before.steps[number].done
        self.redraw(str(number) if unticked else self._following)

    def action_go_back(self) -> None:
        """It is repaired: ask what becomes of its plan."""
        shown = self.shown
        if shown is None or shown.returns:
            self.say("This list is the return already.", "yellow")
            return
        ask_what_now(self.editor, shown.failed, f"{shown.title}, since {shown.when[:MINUTE]}.", self)

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


def _left(rig: Rig, names: Sequence[str]) -> str:
    """What of the plans for those is not ticked."""
    plans = (each for each in rig.lists if not each.returns and {*each.failed} & {*names})
    steps = [step.done for each in plans for step in each.steps]
    if not (left := steps.count(False)):
        return ""
    return f"{left} of {len(steps)} steps are not ticked: the return counts them as done. If they are not, undo the plan. "


def closed(rig: Rig) -> str:
    """What to say once a return is ticked off."""
    if not recovery.under_way(rig):
        return "All done: the rig is as before the failure."
    left, spares = recovery.failed(rig), recovery.stood_in_for(rig)
    failed = f" Still failed: {listed(recovery.named(rig, left))}." if left else ""
    return f"All done.{failed}" + (
        f" A spare stands in for {listed(recovery.named(rig, spares))}." if spares else ""
    )


def ask_what_now(
    editor: Editor,
    names: tuple[str, ...],
    told: str,
    over: ListTable | None = None,
    also: tuple[str, str, Callable[[], None]] | None = None,
) -> None:
    """Those are repaired: return in the interval, now, or never; what the return silences is said. `also` is one answer more."""
    rig = editor.session.rig
    title, are = _titled(rig, names)
    lists = [each for each in recovery.lists_for(rig, names) if each.steps]
    silenced = _silenced(rig, names)
    now = f"{title} {are} repaired and tested: return now"
    if waiting := [name for name in recovery.pending(rig) if name not in names]:
        now += f", with {few(recovery.named(rig, waiting))}"
    answers = [
        ("l", f"{title} {are} repaired: return later, in the interval"),
        ("b", now),
        ("k", f"{title} {are} repaired: keep the patch as it is now"),
        *([("c", "show the list")] if lists and over is None else []),
        *([also[:2]] if also else []),
    ]

    def answered(answer: str | None) -> None:
        if also and answer == also[0]:
            also[2]()
        elif answer == "c":
            editor.app.push_screen(ListTable(editor, lists[-1].id))
        elif answer == "b":
            take_return(editor, names, over)
        elif answer == "l":
            made = editor.make(f"{title} repaired", lambda rig: recovery.repair(rig, names), in_show=True)
            if made:
                editor.say(f"{title} {are} repaired. The return is pending for the interval: press R then.")
        elif answer == "k":
            _keep(editor, names, over)

    told = f"{told} {_left(rig, names)}{silenced}".strip()
    editor.app.push_screen(Question(told, answers, editor.glyphs), answered)


def ask_for_return(editor: Editor) -> None:
    """Return what is pending; where that silences something, ask whether it is time."""
    rig = editor.session.rig
    names = recovery.pending(rig)
    if not (silenced := _silenced(rig, names)):
        take_return(editor)
        return
    title, are = _titled(rig, names)
    answers = [("b", "it is time: return now"), ("l", "later")]
    answers += [("k", "keep the patch as it is now")] if names else []

    def answered(answer: str | None) -> None:
        if answer == "b":
            take_return(editor)
        elif answer == "k":
            _keep(editor, names)

    told = f"{title} {are} {'repaired' if names else 'to be returned'}. {_left(rig, names)}{silenced}"
    editor.app.push_screen(Question(told, answers, editor.glyphs), answered)


def _titled(rig: Rig, names: tuple[str, ...]) -> tuple[str, str]:
    """Those as a person names them, and `is` or `are`."""
    named = recovery.named(rig, names)
    return listed(named) if names else "what was changed for tonight", "are" if len(named) > 1 else "is"


def _silenced(rig: Rig, names: tuple[str, ...]) -> str:
    """What a return would silence; nothing where there is none to take, which is said when it is asked for."""
    try:
        return recovery.silenced_by_return(rig, names)
    except EditError:
        return ""


def _keep(editor: Editor, names: tuple[str, ...], over: ListTable | None = None) -> None:
    when, title = moment(datetime.datetime.now()), _titled(editor.session.rig, names)[0]
    if editor.make(f"keep {title} as it is", lambda rig: recovery.keep(rig, names, when), in_show=True):
        _show_last(editor, over)


def take_return(editor: Editor, names: tuple[str, ...] = (), over: ListTable | None = None) -> None:
    """Return all that is repaired, those besides, and show the list."""
    when = moment(datetime.datetime.now())

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
