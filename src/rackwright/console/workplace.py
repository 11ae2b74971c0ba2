"""The workplace: three panes on one rig, and the keys that build it.

Takes keys, asks with forms and pickers, gives edits to the session, and has the panes redrawn. What a thing
asks for is in `forms`, what rows say is in `rows`.
"""

import functools
from collections.abc import Callable
from typing import Any

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.content import Content
from textual.events import Key, Paste, Resize

from rackwright.console import keymap
from rackwright.console.calm import Calm
from rackwright.console.commands.files import Filing
from rackwright.console.document import Document
from rackwright.console.editor import Editor
from rackwright.console.forms.sheets import ADDABLE
from rackwright.console.rows import lines, racks, results
from rackwright.console.rows.row import Row
from rackwright.console.session import EDIT_LOCK, ENDED, Session, kind_of, related
from rackwright.console.terminal.glyphs import Glyphs, plain
from rackwright.console.widgets import status
from rackwright.console.widgets.dialog import Picker, Question
from rackwright.console.widgets.fields import Option
from rackwright.console.widgets.pane import MakeRows, Pane
from rackwright.console.widgets.status import OVER, Foot, Said
from rackwright.engine.assess import Assessed
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.equipment import Equipment
from rackwright.model.index import pole_or_none
from rackwright.model.places import PolePair
from rackwright.model.rig import Rig
from rackwright.store import log
from rackwright.units import Length, QuantityError

PANES = ("1 Racks", "2 Lines", "3 Results")
NARROW = 110
FOLLOW = 1.0
"""Seconds from one look to the next at what the session that has the rig does."""


class Workplace(Calm[None]):
    """The main screen."""

    BINDINGS = [Binding(c.key, c.action, c.help, show=False) for c in keymap.COMMANDS]

    def __init__(
        self,
        document: Document,
        library: Equipment,
        glyphs: Glyphs,
        open_another: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(classes="ascii" if glyphs.ascii else None)
        self.glyphs = glyphs
        self.editor = Editor(document, library, glyphs, self)
        self.open_another = open_another
        self.filing = Filing(self.editor)
        self.greeting = ("", "")
        """What is said first, and its style."""
        self.front = 0
        """Which pane has the focus, or had it last."""
        self._told = ""
        """The place that the results are about."""
        self._makers: dict[Any, tuple[Assessed, MakeRows]] = {}

    @property
    def document(self) -> Document:
        """The rig as a file."""
        return self.editor.document

    @property
    def session(self) -> Session:
        """The rig being worked on."""
        return self.editor.session

    # --- drawing ---

    def compose(self) -> ComposeResult:
        """Three panes, a line for what is said, two lines at the foot."""
        with Horizontal(id="panes"):
            for title, name in zip(PANES, ("racks", "lines", "results"), strict=True):
                yield Pane(title, self.glyphs, name, reads=name == "results", covered=OVER)
        yield Said(self.glyphs)
        yield Foot(self.glyphs, "strip")
        yield Foot(self.glyphs, "keys")

    def on_mount(self) -> None:
        """Begin in the racks."""
        self.panes = [self.query_one(f"#{name}", Pane) for name in ("racks", "lines", "results")]
        self.bring_forward(0)
        self.say(*self.greeting)
        if self.session.held_by:
            self.set_interval(FOLLOW, self.follow)

    def follow(self) -> None:
        """Show what the session that has the rig has made of it since."""
        try:
            if self.session.held_by and self.document.follow():
                self.redraw()
                if self.session.held_by == ENDED:
                    self.say(self.session.why_read_only, "yellow")
        except Exception as error:
            log.note("following the session that has the rig", error)
            self.say("What the other session does can't be followed just now.", "yellow")

    def on_resize(self, event: Resize) -> None:
        """Three panes where they fit, one where not."""
        width = event.size.width
        self.set_class(width < NARROW, "narrow")
        self.bring_forward(self.front)
        self.redraw()

    def bring_forward(self, number: int) -> None:
        """Focus a pane, and show it where only one fits."""
        self.front = number
        for index, pane in enumerate(self.panes):
            pane.set_class(index == number, "front")
        self.set_focus(self.panes[number])
        self._draw_frame()

    def redraw(self) -> None:
        """Show the session as it is now."""
        session = self.session
        assessment, place = session.assessment, session.place
        lit = related(assessment, place) - {""}
        racks_pane, lines_pane, results_pane = self.panes
        racks_pane.entitle(f"1 Racks: {session.rig.title}")
        lines_pane.entitle(f"2 Lines at {session.rig.venue.name}" if session.rig.venue.name else PANES[1])
        for pane, view in ((racks_pane, racks), (lines_pane, lines)):
            pane.show(self._maker(view.rows), lit, session.marked, place)
        kept = session.kept
        results_pane.show(lambda width: results.rows(assessment, place, width, self.glyphs, kept))
        if place != self._told:
            self._told = place
            results_pane.to_top()
        self._draw_frame()
        self.query_one("#strip", Foot).say(status.standing(session))
        self._draw_keys()

    def _maker(self, rows: Callable[[Assessed, int, Glyphs], list[Row]]) -> MakeRows:
        """What makes the rows of the rig as it is now: another only where the rig has changed."""
        assessment = self.session.assessment
        known = self._makers.get(rows)
        if known is None or known[0] is not assessment:
            make = functools.partial(_made, rows, assessment, self.glyphs)
            known = self._makers[rows] = (assessment, make)
        return known[1]

    def _draw_frame(self) -> None:
        """Where only one pane fits, say which others there are; and what the keys act on, where this one does not show it."""
        place, pane = self.session.place, self.panes[self.front]
        others = "  ".join(PANES[i] for i in range(3) if i != self.front)
        unseen = self.front < 2 and place and pane.cursor < 0
        told = f"{place} is selected  {others}" if unseen else others
        told = told if self.has_class("narrow") else ""
        if told != (pane.border_subtitle or ""):
            pane.border_subtitle = Content(told) if told else None

    def _draw_keys(self) -> None:
        session = self.session
        kind = kind_of(session.assessment, session.place)
        acting = keymap.acting(kind, session.edit_locked, session.failed_here)
        self.query_one("#keys", Foot).say(status.keys(acting, session, self.size.width))

    def _shown(self, text: str) -> str:
        return plain(text) if self.glyphs.ascii else text

    def say(self, text: str, style: str = "") -> None:
        """Say something above the foot until the next key; that edits are not safe is said as long as it is so."""
        trouble = self.session.journal_trouble
        self.query_one(Said).say(f"{text} {trouble}".strip(), "bold red" if trouble else style)

    def take_said(self) -> Text:
        """What is said above the foot, which is then said no longer."""
        said = self.query_one(Said).told
        self.say("")
        return said

    # --- selection ---

    def on_pane_selected(self, message: Pane.Selected) -> None:
        """What is selected in racks or lines is selected everywhere; a pane that was clicked into comes forward."""
        if message.pane.has_focus and message.pane is not self.panes[self.front]:
            self.bring_forward(self.panes.index(message.pane))
        if message.pane is self.panes[2] or not message.place or message.place == self.session.place:
            return
        self.session.place = message.place
        self.redraw()

    def on_pane_activated(self, message: Pane.Activated) -> None:
        """A double click edits, or in the results shows the working."""
        if message.pane is self.panes[2]:
            self.action_why()
        else:
            self.action_edit()

    def go_to(self, place: str) -> None:
        """Select a place and bring the pane forward that shows it."""
        kind = kind_of(self.session.assessment, place)
        self.session.place = place if kind else ""
        self.redraw()
        if kind in ("socket", "pole", "line", "cabinet", "section"):
            self.bring_forward(1)
        elif kind in ("feed", "circuit") and self.has_class("narrow"):
            self.bring_forward(2)  # only there it can be seen
        else:
            self.bring_forward(0)

    def action_whole_rig(self) -> None:
        """Let go of what is chosen; with nothing chosen, of what is selected: the results are about the whole rig."""
        if self.session.marked:
            self.session.marked = ()
        else:
            self.session.place = ""
        self.redraw()

    def action_next_pane(self) -> None:
        """The next pane."""
        self.bring_forward((self.front + 1) % 3)

    def action_previous_pane(self) -> None:
        """The pane before."""
        self.bring_forward((self.front - 1) % 3)

    def action_pane(self, number: int) -> None:
        """A pane by its number."""
        self.bring_forward(number)

    # --- edits ---

    def action_edit(self) -> None:
        """Edit what is selected; on a figure, show its working."""
        if self.front == 2:
            self.action_why()
            return
        if self.editor.locked():
            return
        sheet = self.editor.maker.of(self.session.place)
        if sheet is not None:
            self.editor.open_sheet(sheet)

    def action_add(self) -> None:
        """Ask what to add, the likeliest first."""
        if self.editor.locked():
            return
        options = [Option(kind, words_) for kind, words_ in self._addable()]
        self.app.push_screen(Picker("Add what?", options, self.glyphs), self._add)

    def _addable(self) -> list[tuple[str, str]]:
        near = kind_of(self.session.assessment, self.session.place)
        rig = self.session.rig
        likely = {
            "rack": "amplifier",
            "amplifier": "amplifier",
            "channel": "amplifier",
            "socket": "socket",
            "pole": "line",
            "cabinet": "cabinet",
            "feed": "feed",
            "circuit": "circuit",
            "section": "cabinet",
            "line": "line",
        }
        first = "rack" if not rig.racks else likely.get(near, "rack")
        told = {
            "rack": "a rack to put amplifiers and sockets in",
            "amplifier": "into the selected rack",
            "socket": "on the selected rack's output panel",
            "cabinet": "a loudspeaker",
            "line": "a cable to a cabinet",
            "feed": "a signal from the processor",
            "circuit": "a mains circuit of the venue",
        }
        return sorted(((kind, told[kind]) for kind in ADDABLE), key=lambda item: item[0] != first)

    def _add(self, kind: str | None) -> None:
        if kind is None:
            return
        try:
            sheet = self.editor.maker.new(kind, self.session.place)
        except EditError as error:
            self.say(str(error), "yellow")
            return
        self.editor.open_sheet(sheet)

    def action_duplicate(self) -> None:
        """Duplicate what is selected, and select the copy."""
        place = self.session.place
        if kind_of(self.session.assessment, place) not in keymap.THINGS:
            return
        copy = edits.next_id(self.session.rig, place)
        if self.editor.make(f"duplicate {place}", lambda rig: edits.duplicate(rig, place), copy):
            self.go_to(copy)
            self.say(f"{place} is duplicated as {copy}.")

    def action_remove(self) -> None:
        """Remove what is selected; where others depend on it, ask."""
        place = self.session.place
        if kind_of(self.session.assessment, place) not in keymap.THINGS or self.editor.locked():
            return
        found = edits.dependents(self.session.rig, place)
        if not found:
            self.editor.make(f"remove {place}", lambda rig: edits.remove(rig, place), "")
            return
        told = "\n".join(f"  {d.words}" for d in found[:8]) + (
            f"\n  and {len(found) - 8} more" if len(found) > 8 else ""
        )

        def done(answer: str | None) -> None:
            if answer == "y":
                self.editor.make(
                    f"remove {place}", lambda rig: edits.remove(rig, place, with_dependents=True), ""
                )

        question = f"{place} is in use:\n{told}"
        self.app.push_screen(
            Question(question, [("y", f"remove {place} and unpatch or remove these too")], self.glyphs), done
        )

    def action_undo(self) -> None:
        """Undo the last edit."""
        self.editor.undo()

    def action_redo(self) -> None:
        """Redo."""
        self.editor.redo()

    def action_patch(self) -> None:
        """Pick the channel of a pole pair, or the pole pair of a channel."""
        if self.editor.locked():
            return
        place, kind = self.session.place, kind_of(self.session.assessment, self.session.place)
        index = self.session.assessment.index
        if kind in ("socket", "pole"):
            pair = PolePair(place, 0) if kind == "socket" else index.pole_pairs[place]
            self.editor.pick(
                f"Drive pole pair {pair.pair + 1} of {pair.socket} from",
                self.editor.maker.channels(),
                lambda pole: self._patch(pair, pole, str(pair)),
            )
        elif kind == "channel":
            poles = [
                Option(name, index.sockets[pair.socket].pole(pair.pair) or "not wired")
                for name, pair in index.pole_pairs.items()
            ]
            self.editor.pick(
                f"Patch {place} to", poles, lambda name: self._patch(index.pole_pairs[name], place, place)
            )

    def _patch(self, pair: PolePair, pole: str, select: str) -> None:
        self.editor.make(
            f"patch {pair.socket} pole pair {pair.pair + 1}",
            lambda rig: edits.patch(rig, pair.socket, pair.pair + 1, pole),
            select,
        )

    def action_reverse(self) -> None:
        """Turn a pole pair's polarity."""
        index = self.session.assessment.index
        pair = index.pole_pairs.get(self.session.place)
        pole = pole_or_none(index.sockets[pair.socket].pole(pair.pair)) if pair else None
        if pair and pole:
            self._patch(pair, pole._replace(sign=-pole.sign).text, self.session.place)

    def action_connect(self) -> None:
        """Pick both ends of a line, from what is selected."""
        if self.editor.locked():
            return
        place = self.session.assessment.index.thing_at(self.session.place)
        maker = self.editor.maker
        if kind_of(self.session.assessment, place) == "line":
            self._reconnect(place)
            return
        index = self.session.assessment.index
        if place in index.cabinets and place not in index.line_to:
            self.editor.pick(
                f"Connect a line to {place} from",
                maker.sources(place),
                lambda near: self._connected(near, place),
            )
            return
        waiting = [option for option in maker.unfed() if option.value != place]
        if not waiting:
            self.say("Every cabinet has its line. Add a cabinet first: press a.", "yellow")
            return
        self.editor.pick(f"Connect a line from {place} to", waiting, lambda to: self._connected(place, to))

    def _connected(self, source: str, to: str) -> None:
        try:
            sheet = self.editor.maker.new("line", source)
        except EditError as error:
            self.say(str(error), "yellow")
            return
        self.editor.open_sheet(sheet._replace(values={**sheet.values, "source": source, "to": to}))

    def _reconnect(self, line: str) -> None:
        there = self.session.assessment.index.lines[line]

        def reconnect(source: str, to: str) -> None:
            self.editor.make(
                f"reconnect {line}", lambda rig: edits.change(rig, line, source=source, to=to), line
            )

        def pick_far_end(source: str) -> None:
            ends = self.editor.maker.unfed(there.to)
            self.editor.pick(f"{line} from {source} to", ends, lambda to: reconnect(source, to), there.to)

        self.editor.pick(f"{line} from", self.editor.maker.sources(), pick_far_end, there.source)

    # --- moving an amplifier ---

    def action_move(self) -> None:
        """Let the arrows move the selected amplifier until enter."""
        if kind_of(self.session.assessment, self.session.place) != "amplifier" or self.editor.locked():
            return
        from rackwright.console.screens.amplifier_position import Moving

        amplifier = self.session.place

        def done(target: tuple[str, int] | None) -> None:
            if target is not None:
                rack, unit = target
                self.editor.make(
                    f"move {amplifier}",
                    lambda rig: edits.move_amplifier(rig, amplifier, rack, unit),
                    amplifier,
                )

        self.app.push_screen(Moving(self.session.assessment, amplifier, self.glyphs), done)

    # --- several at once ---

    def action_choose(self) -> None:
        """Choose or unchoose what is selected, and go on to the next row."""
        place = self.session.place
        if not place:
            return
        marked = self.session.marked
        self.session.marked = tuple(m for m in marked if m != place) if place in marked else (*marked, place)
        self.redraw()
        self.panes[self.front].action_step(1)

    def action_edit_chosen(self) -> None:
        """One form for all that is chosen: the fields they share."""
        if self.editor.locked():
            return
        chosen = self.session.marked or ((self.session.place,) if self.session.place else ())
        kinds = {kind_of(self.session.assessment, place) for place in chosen}
        if len(kinds) != 1:
            self.say(
                "Choose things of one kind with space, then press e."
                if not chosen
                else "Choose things of one kind only: lines, or channels, or cabinets …",
                "yellow",
            )
            return
        from rackwright.console.forms.several import sheet_for_many

        sheet = sheet_for_many(self.editor.maker, kinds.pop(), chosen)
        if sheet is None:
            self.say("These have no field in common to edit.", "yellow")
            return
        self.editor.open_sheet(sheet, lets_go=True)

    def action_paste_hint(self) -> None:
        """Say how to paste."""
        self.say(
            "Paste lengths with your terminal's own paste key: one length for all chosen lines, or one a line in order."
        )

    def on_paste(self, event: Paste) -> None:
        """Lengths for the chosen lines: one for all, or one a line in the order chosen."""
        chosen = self.session.marked or (self.session.place,)
        names = [place for place in chosen if kind_of(self.session.assessment, place) == "line"]
        texts = [text for text in event.text.replace("\t", "\n").splitlines() if text.strip()]
        if not names or not texts:
            self.say("Select or choose lines first, then paste their lengths.", "yellow")
            return
        try:
            lengths = [Length.parse(text) for text in texts]
        except QuantityError as error:
            self.say(str(error), "yellow")
            return
        if len(lengths) == 1:
            lengths *= len(names)
        if len(lengths) != len(names):
            self.say(
                f"{len(lengths)} lengths were pasted for {len(names)} lines. Paste one, or as many as are chosen.",
                "yellow",
            )
            return

        def change(rig: Rig) -> Rig:
            for name, length in zip(names, lengths, strict=True):
                rig = edits.change(rig, name, length=length)
            return rig

        self.editor.make(f"paste {len(names)} length{'s' if len(names) > 1 else ''}", change)

    def action_tables(self) -> None:
        """Feeds, circuits, settings, equipment: pick one, then its screen."""
        from rackwright.console.commands.tables import TABLES, open_table

        self.editor.pick("Edit which?", TABLES, lambda name: open_table(self.editor, name))

    # --- looking ---

    def action_findings(self) -> None:
        """List every finding; go to the one picked."""
        from rackwright.console.screens.reading import FindingsList

        self.app.push_screen(
            FindingsList(self.session.assessment.findings, self.glyphs),
            lambda at: self.go_to(at) if at else None,
        )

    def action_why(self) -> None:
        """The working of the figure under the cursor, or of one picked."""
        from rackwright.console.screens.reading import working_page

        target = self.panes[2].place if self.front == 2 else ""
        if target:
            place, _, figure = target.partition("\t")
            self.app.push_screen(working_page(self.session.assessment, place, figure, self.glyphs))
            return
        self.bring_forward(2)
        self.say("Go to a figure and press w or enter to see its working.")

    def action_graph(self) -> None:
        """Plot impedance and level over frequency for the selection."""
        from rackwright.console.screens.graph import Graph

        self.app.push_screen(
            Graph(self.session.assessment, self.session.place, self.glyphs, self.session.kept)
        )

    def action_meter_check(self) -> None:
        """Walk every line with a meter."""
        from rackwright.console.screens.meter_check import MeterCheck

        self.app.push_screen(MeterCheck(self.editor))

    def action_compare(self) -> None:
        """Keep this state to compare with, or stop comparing."""
        if self.session.kept is None:
            self.session.keep()
            self.say("Comparing: each figure shows before → now. Press k to stop.")
        else:
            self.session.kept = None
            self.say("Comparing is off.")
        self.redraw()

    def action_find(self) -> None:
        """Go to a thing by its id."""
        assessment = self.session.assessment
        index = assessment.index
        options = [
            *(Option(r.id, f"rack {r.name}") for r in index.racks.values()),
            *(Option(a.id, f"amplifier {a.model}") for a in index.amplifiers.values()),
            *(Option(b.id, f"channel {b.result.feed}") for b in assessment.branches.values()),
            *(Option(s.id, "socket") for s in index.sockets.values()),
            *(Option(n.id, f"line to {n.to}") for n in index.lines.values()),
            *(Option(c.id, f"cabinet {c.model} {c.position}") for c in index.cabinets.values()),
            *(Option(c.id, f"circuit {c.phase} {c.breaker}") for c in index.circuits.values()),
            *(Option(f.id, f"feed {f.band[0]} to {f.band[1]}") for f in index.feeds.values()),
        ]
        self.editor.pick("Go to", options, self.go_to)

    def action_help(self) -> None:
        """Every key, by group."""
        from rackwright.console.screens.reading import help_page

        self.app.push_screen(help_page(self.glyphs))

    def action_command_palette(self) -> None:
        """Find a command by name and run it."""
        kind = kind_of(self.session.assessment, self.session.place)
        options = [Option(c.help, c.key_words) for c in keymap.acting(kind, self.session.edit_locked)]
        by_help = {c.help: c for c in keymap.COMMANDS}

        def run(help_text: str) -> None:
            self.call_later(self.run_action, by_help[help_text].action)

        self.editor.pick("Command", options, run)

    # --- files ---

    def action_save(self) -> None:
        """Save."""
        self.filing.save()

    def action_save_as(self) -> None:
        """Save under another name."""
        self.filing.save_as()

    def action_save_preset(self) -> None:
        """Save as a preset."""
        self.filing.save_preset()

    def action_venue(self) -> None:
        """Take the rig to a venue, or keep the facts of this one."""
        from rackwright.console.commands.venue import ask_for_venue

        ask_for_venue(self.editor)

    def action_papers(self) -> None:
        """Write the sheets that the crew wires from."""
        from rackwright.console.commands.papers import ask_for_papers

        ask_for_papers(self.editor)

    def action_differences(self) -> None:
        """What differs from the saved rig or a preset."""
        self.filing.differences()

    def action_open(self) -> None:
        """Open another rig."""
        self.filing.leave(self.open_another)

    def action_leave(self) -> None:
        """Quit, asking where something is unsaved."""

        def quit_() -> None:
            self.document.close()
            self.app.exit()

        self.filing.leave(quit_)

    # --- the show ---

    def action_fail(self) -> None:
        """Mark what is selected failed and show what can be done; or working again."""
        from rackwright.console.screens.recovery import mark

        mark(self.editor)

    def action_recover(self) -> None:
        """Plans for what has failed, or the checklist of a plan taken."""
        from rackwright.console.screens.recovery import ask

        ask(self.editor)

    def action_edit_lock(self) -> None:
        """Lock the rig against edits, or unlock."""
        self.session.lock_edits(not self.session.edit_locked)
        self.say(
            "Edit lock on: only failures, plans and ticks change the rig now."
            if self.session.edit_locked
            else "Edit lock off."
        )
        self.redraw()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Only what acts on the selection and, under the edit lock, what that leaves."""
        command = next((c for c in keymap.COMMANDS if c.action.partition("(")[0] == action), None)
        return command is None or not self._why_not(command)

    def _why_not(self, command: keymap.Command) -> str:
        """Why a command does not act now, empty where it does."""
        if self.session.edit_locked and not command.in_show:
            return EDIT_LOCK
        kind = kind_of(self.session.assessment, self.session.place)
        if command.kinds and kind not in command.kinds:
            acts_on = ", ".join(sorted(command.kinds - {"rig"}))
            chosen = (
                f"{self.session.place} is a {kind.replace('pole', 'pole pair')}"
                if kind != "rig"
                else "nothing is selected"
            )
            return f"{command.key_words} ({command.label}) acts on: {acts_on}. Here {chosen}."
        return ""

    def on_key(self, event: Key) -> None:
        """A key wipes what was said; one that does not act here says why."""
        command = next((c for c in keymap.COMMANDS if c.key in (event.key, event.character)), None)
        self.say(self._why_not(command) if command else "", "yellow")

    def on_screen_suspend(self) -> None:
        """A dialog is up: its keys act, not these."""
        self.query_one("#keys", Foot).say([])

    def on_screen_resume(self) -> None:
        """The dialog is gone."""
        if hasattr(self, "panes"):
            self._draw_keys()


def _made(
    rows: Callable[[Assessed, int, Glyphs], list[Row]], assessment: Assessed, glyphs: Glyphs, width: int
) -> list[Row]:
    return rows(assessment, width, glyphs)
