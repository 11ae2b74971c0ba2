"""The workplace: three panes on one rig. Lays them out, has them redrawn, and hands each key to its command.

What the keys do is in `commands`, what a thing asks for in `forms`, what rows say in `rows`.
"""

from collections.abc import Callable, Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.content import Content
from textual.events import Paste, Resize
from textual.screen import ModalScreen

from rackwright.console import narrowing
from rackwright.console.commands import COMMANDS
from rackwright.console.commands.connect import paste_lengths
from rackwright.console.document import Document
from rackwright.console.editor import Editor
from rackwright.console.keymap import acting, on_figures
from rackwright.console.related import kind_of, related
from rackwright.console.rows import lines, racks, results
from rackwright.console.rows.columns import View, Wishes, shares
from rackwright.console.rows.rear import Rear
from rackwright.console.session import ENDED
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets import status
from rackwright.console.widgets.pane import AROUND, Pane
from rackwright.console.widgets.screen import ROOMY, RigScreen
from rackwright.console.widgets.status import OVER, Foot, Said
from rackwright.engine.assess import Assessed
from rackwright.model.equipment import Equipment
from rackwright.store import log

PANES = ("1 Racks", "2 Lines", "3 Results")
RESULTS, REAR = 2, 3
LOOK = 1.0
"""Seconds from one look to the next at what other consoles on the rig do."""


def _pane_of(kind: str) -> int:
    """The pane that shows a thing of that kind, the racks for the whole rig."""
    if kind in ("socket", "pole", "line", "line pair", "cabinet", "section"):
        return 1
    return RESULTS if kind in ("feed", "circuit", "phase", "board", "load") else 0


def _room(needs: Sequence[int]) -> int:
    """The cells that panes take side by side."""
    return sum(needs) + AROUND * len(needs)


class Workplace(RigScreen[None]):
    """The main screen."""

    BINDINGS = [Binding(c.key, f"command('{c.action}')", c.help, show=False) for c in COMMANDS]

    def __init__(
        self,
        document: Document,
        own: Equipment,
        glyphs: Glyphs,
        open_another: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(document.session, glyphs)
        self.document, self.open_another = document, open_another
        self.editor = Editor(document, own, glyphs, self)
        self.greeting = ("", "")
        """What is said first, and its style."""
        self.front = 0
        """Which pane has the focus, or had it last."""
        self._told = ""
        """The place that the results are about."""
        self.listed = 0
        """Which of racks and lines stands beside the results where two panes fit."""
        self.shown: tuple[int, ...] = ()
        """The panes that there is room for."""
        self._arranged: object = None
        self._seen: tuple[Assessed, str, tuple[View, ...]] | None = None
        self._only: frozenset[str] = frozenset()
        """What racks, lines and rear panel are narrowed to; nothing where they show all."""
        self._panels: tuple[Assessed, Rear] | None = None

    # --- drawing ---

    def compose(self) -> ComposeResult:
        with Horizontal(id="panes"):
            for title, name in zip(PANES, ("racks", "lines", "results"), strict=True):
                yield Pane(title, self.glyphs, name, reads=name == "results", covered=OVER)
                if name == "racks":
                    yield Pane("Rear panel", self.glyphs, "rear", reads=True)
        yield Said(self.glyphs)
        yield Foot(self.glyphs, "status")
        yield Foot(self.glyphs, "keys")

    def on_mount(self) -> None:
        self.panes = [self.query_one(f"#{name}", Pane) for name in ("racks", "lines", "results")]
        self.rear = self.query_one("#rear", Pane)
        self.rear.can_focus = False
        self.bring_forward(_pane_of(self.session.kind))
        self.say(*self.greeting)
        self.set_interval(LOOK, self.follow)

    def follow(self) -> None:
        """Show what the console in control has made of the rig since, and what became of control."""
        session, before = self.session, (self.session.control, self.session.held_by)
        if self.document.closed:
            return
        try:
            new = self.document.follow()
            taken = self.document.notes.take_reports()
            keys: int = self.app.keys_taken  # type: ignore[attr-defined]
            said = self.document.control.look(keys, busy=isinstance(self.app.screen, ModalScreen))
        except Exception as error:
            log.note("following the other consoles on the rig", error)
            self.say("What the other console does can't be followed just now.", "yellow")
            return
        if new or taken or before != (session.control, session.held_by):
            for screen in self.app.screen_stack:
                if isinstance(screen, RigScreen) and screen.stands:
                    screen.redraw()
        if session.held_by == ENDED and before[1] not in ("", ENDED):
            said = said or session.why_read_only
        if said:
            self.editor.say(said, "yellow")
        elif told := taken or self.document.control.waits:
            self.editor.remind(told, "yellow")

    def on_resize(self, event: Resize) -> None:
        self.bring_forward(self.front)
        self.redraw()

    def bring_forward(self, number: int) -> None:
        """Focus a pane, and show it where not all fit."""
        self.front = number
        self.listed = self.listed if number == RESULTS else number
        self._arrange()
        self.set_focus(self.panes[number])
        self._draw_frame()
        self._draw_keys()

    def _arrange(self) -> None:
        """All panes where none of them cuts a name or a figure, the rear panel beside them where it costs no column that they like; else two, else the one in front."""
        width, wishes = (
            self.app.size.width,
            [results.WISHES] * len(PANES),
        )  # no two fit, whatever stands in them
        if width > ROOMY[0]:
            wishes = [*(view.wishes for view in self._views), results.WISHES]
            beside, sockets = (
                [*wishes, self._rear.wishes],
                any(rack.sockets for rack in self.session.rig.racks),
            )
            if sockets and _room([each.like for each in beside]) <= width:
                wishes = beside
        if (asked := (width, wishes, self.front, self.listed)) == self._arranged:
            return
        self._arranged = asked
        listed = Wishes(*map(max, *wishes[:RESULTS]))
        if _room([each.need for each in wishes]) <= width:
            self.shown = tuple(range(len(wishes)))
        elif _room([listed.need, results.NEED]) <= width:
            self.shown, wishes[self.listed] = (self.listed, RESULTS), listed
        else:
            self.shown = (self.front,)
        room = shares(width - AROUND * len(self.shown), [wishes[number] for number in self.shown])
        for number, pane in enumerate((*self.panes, self.rear)):
            pane.display = number in self.shown
            if pane.display:
                pane.styles.width = AROUND + room[self.shown.index(number)]

    def redraw(self) -> None:
        """Show the session as it is now."""
        session = self.session
        if not session.exists(session.place):
            session.place = self._beside(session.place)
        assessment, place = session.assessment, session.place
        if session.only and place and not any(place in view.places for view in self._views):
            session.only = ""  # what is selected is to be seen
        if not place and self._seen is not None and self._seen[1] != session.only:
            for pane in self.panes[:RESULTS]:
                pane.to_first_line()  # of what is shown now
        lit = related(assessment, place) - {""}
        racks_pane, lines_pane, results_pane = self.panes
        racks_pane.entitle(f"1 Racks: {session.rig.title}")
        lines_pane.entitle(f"2 Lines at {session.rig.venue.name}" if session.rig.venue.name else PANES[1])
        for pane, view in zip(self.panes, self._views, strict=False):
            pane.show(view.rows, lit, session.chosen, place)
        kept = session.kept
        another, self._told = place != self._told, place
        results_pane.show(
            lambda width: results.rows(assessment, place, width, self.glyphs, kept),
            nth=0 if another else None,
        )
        if another:
            results_pane.to_first_line()
        self._arrange()
        if REAR in self.shown:
            rear, only = self._rear, self._only
            self.rear.show(lambda width: rear.rows(width, place, lit, only))
        self._draw_frame()
        self.query_one("#status", Foot).say(status.standing(session, self._only))
        self._draw_keys()

    def _beside(self, gone: str) -> str:
        """What stood after a place that is gone, else before it, of its kind where there is any, of what is still shown."""
        before = self._seen[0] if self._seen else self.session.assessment
        shown = set().union(*(view.places for view in self._views)) - {""}
        for pane in sorted(self.panes[:RESULTS], key=lambda pane: pane is not self.panes[self.listed]):
            listed = [row.place for row in pane.rows if row.selectable]
            if gone in listed:
                at, kind = listed.index(gone), kind_of(before, gone)
                near = [each for each in (*listed[at:], *listed[at::-1]) if each in shown]
                return min(near, key=lambda each: kind_of(before, each) != kind, default="")
        return ""

    @property
    def _views(self) -> tuple[View, ...]:
        """Racks and lines of the rig as it is now: others only where the rig has changed, or what of it is shown."""
        session = self.session
        assessment = session.assessment
        if self._seen is None or self._seen[0] is not assessment or self._seen[1] != session.only:
            whole = racks.view(assessment, self.glyphs), lines.view(assessment, self.glyphs)
            self._only = frozenset()
            shown = self._narrowed(*whole) if session.only else whole
            self._seen = assessment, session.only, shown
        return self._seen[2]

    @property
    def _rear(self) -> Rear:
        """The rear panels of the rig as it is now."""
        assessment = self.session.assessment
        if self._panels is None or self._panels[0] is not assessment:
            self._panels = assessment, Rear(assessment, self.glyphs)
        return self._panels[1]

    def _narrowed(self, *views: View) -> tuple[View, ...]:
        places = self._only = narrowing.places(self.session.assessment, self.session.only)
        return tuple(view.only(places, f"None of {self.session.only} here. O shows all.") for view in views)

    def _draw_frame(self) -> None:
        """Where not all panes fit, say which others there are; and what the keys act on, where this one does not show it."""
        place, front = self.session.place, self.panes[self.front]
        others = "  ".join(PANES[i] for i in range(3) if i not in self.shown)
        unseen = self.front < 2 and place and front.cursor < 0
        told = f"{place} is selected  {others}" if unseen and others else others
        for pane in self.panes:
            title = told if pane is front else ""
            if title != (pane.border_subtitle or ""):
                pane.border_subtitle = Content(title) if title else None

    def _draw_keys(self) -> None:
        session = self.session
        found = on_figures(acting(session)) if self.front == RESULTS else acting(session)
        self.query_one("#keys", Foot).say(status.keys(found, session, self.size.width))

    # --- selection ---

    def on_pane_selected(self, message: Pane.Selected) -> None:
        """What is selected in racks or lines is selected everywhere; a pane that was clicked into comes forward."""
        if message.pane.has_focus and message.pane is not self.panes[self.front]:
            self.bring_forward(self.panes.index(message.pane))
        place = message.place
        if message.pane is self.panes[RESULTS] or not place or place == self.session.place:
            return
        self.session.place = place
        self.redraw()

    def on_pane_activated(self) -> None:
        self.action_command("edit_selected")

    def go_to(self, place: str, added: bool = False) -> None:
        """Select a place and bring the pane forward that shows it, whatever that has been narrowed to.

        What only the results tell of brings these forward where it was asked for; what was `added`, and what the pane in front does not
        list, stands under the racks where these do.
        """
        kind = kind_of(self.session.assessment, place)
        self.session.place = place if kind else ""
        self.redraw()
        pane = _pane_of(kind)
        unlisted = self.front != RESULTS and RESULTS in self.shown and self.panes[self.front].cursor < 0
        if pane == RESULTS and (added or unlisted) and self.panes[0].cursor >= 0:
            pane = 0
        if pane != RESULTS or RESULTS not in self.shown or unlisted:
            self.bring_forward(pane)

    # --- keys ---

    @property
    def figure(self) -> tuple[str, str] | None:
        """The place and the name of the figure that the cursor is on, None where it is on none."""
        row = self.panes[RESULTS].row if self.front == RESULTS else None
        return (row.place, row.figure) if row is not None else None

    @property
    def places(self) -> list[str]:
        """The places that the pane in front lists, in order."""
        return [row.place for row in self.panes[self.front].rows if row.selectable]

    def step(self, by: int) -> None:
        """Go so many rows on in the pane in front."""
        self.panes[self.front].action_step(by)

    def action_command(self, action: str) -> None:
        commands = on_figures(COMMANDS) if self.front == RESULTS else COMMANDS
        self.editor.do(next(c for c in commands if c.action == action))

    def on_paste(self, event: Paste) -> None:
        paste_lengths(self.editor, event.text)

    def on_screen_suspend(self) -> None:
        """A dialog is up: its keys act, not these."""
        self.query_one("#keys", Foot).say([])

    def on_screen_resume(self) -> None:
        if hasattr(self, "panes"):
            self._draw_keys()
