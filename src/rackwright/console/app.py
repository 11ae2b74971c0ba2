"""The app: opens rigs and puts the workplace on the screen. Everything on it belongs to the screens."""

import asyncio
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Self

from rich.text import Text
from textual.actions import ActionParseResult
from textual.app import ComposeResult
from textual.binding import Binding
from textual.dom import DOMNode
from textual.driver import Driver
from textual.events import Event, Key, Resize
from textual.filter import LineFilter
from textual.geometry import Size
from textual.reactive import Reactive
from textual.screen import ModalScreen
from textual.scrollbar import ScrollBar
from textual.widgets import Static

from rackwright.console import document as documents
from rackwright.console import leftovers
from rackwright.console.document import Document
from rackwright.console.rows.row import words
from rackwright.console.screens.start import Picked, Start, when_words
from rackwright.console.session import Refused
from rackwright.console.terminal.glyphs import ASCII, UNICODE, Glyphs
from rackwright.console.terminal.input import MOST, InputDriver
from rackwright.console.terminal.key_queue import KeyQueue
from rackwright.console.terminal.safe_text import SafeText
from rackwright.console.terminal.screen_diff import DiffDriver, Painting
from rackwright.console.widgets.dialog import Page, Question
from rackwright.console.widgets.pane import PlainBar
from rackwright.console.widgets.screen import ConsoleScreen
from rackwright.console.widgets.status import under_way
from rackwright.console.workplace import Workplace
from rackwright.model.edits import EditError
from rackwright.model.equipment import Equipment
from rackwright.store import log
from rackwright.store.library import user_library
from rackwright.store.presets import Preset
from rackwright.store.safe.journal import JournalError
from rackwright.store.toml.read import RigFileError
from rackwright.units.typography import ascii_only

_SAFE_TEXT = SafeText()


LEAST = (60, 16)
"""Columns and rows under which no dialog shows all that its keys do."""


SAID = 150
"""Signs that are said at once at most: two lines of a small window."""


class TooSmall(ModalScreen[None], ConsoleScreen[None]):
    """Stands before all else while the window is too small: no key may act on what is not on the screen."""

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__()
        told = f"Make the window at least {LEAST[0]} × {LEAST[1]}. In this one only ctrl+q works: it quits and keeps unsaved work."
        self.told = glyphs.spelt(told)

    def compose(self) -> ComposeResult:
        yield Static(self.told)

    def on_screen_resume(self) -> None:
        """Something stood over it: there may be room meanwhile."""
        if self.is_current and not too_small(self.app.size):
            self.dismiss()


def too_small(size: Size) -> bool:
    """Whether the window is."""
    return size.width < LEAST[0] or size.height < LEAST[1]


def _gist(notes: str) -> str:
    """The first sentences of notes, as many as there is room to say."""
    told = " ".join(notes.split())
    return told if len(told) <= SAID else f"{told[:SAID].rpartition('. ')[0]}.".removeprefix(".")


class Trouble(Page):
    """What went wrong inside the program."""


class Console(KeyQueue):
    """The console."""

    CSS_PATH = "console.tcss"
    TITLE = "Rackwright"
    BINDINGS = [
        Binding("ctrl+q", "leave", show=False, priority=True),
        Binding("ctrl+c", "leave", show=False, priority=True),
        Binding("ctrl+l", "paint_anew", show=False, priority=True),
        Binding("C", "control", show=False),
    ]
    ENABLE_COMMAND_PALETTE = False
    theme: Reactive[str] = Reactive(
        "ansi-dark"
    )  # from the start: a change of it reads every style sheet again

    def __init__(
        self,
        path: Path | None = None,
        preset: Preset | None = None,
        glyphs: Glyphs | None = None,
        on_first_screen: Callable[[], None] | None = None,
    ) -> None:
        self.on_first_screen = on_first_screen
        self.painting = Painting()
        super().__init__(ansi_color=True)  # from the start: only then does NO_COLOR leave no colour
        self._disable_notifications = self._disable_tooltips = True
        self.animation_level = "none"
        self.glyphs = glyphs or (ASCII if ascii_only() else UNICODE)
        ScrollBar.renderer = PlainBar
        self.path, self.preset = path, preset
        self.library_trouble = ""
        self.begun = self.crashed = False
        self.keys_taken = 0
        """How many keys came so far."""
        self.document: Document | None = None
        """The last that was opened."""
        self.loop: asyncio.AbstractEventLoop | None = None
        self.driver: Driver | None = None
        """What writes to the terminal, and reads from it; it names itself."""
        self.faults: list[Exception] = []
        """What was raised inside the program and told."""

    def _own_equipment(self) -> Equipment:
        try:
            return user_library()
        except RigFileError as error:
            self.library_trouble = f"Your equipment library can't be used: {error}"
            return Equipment()

    def get_driver_class(self) -> type[Driver]:
        """The driver of this system, made to send only what changed."""
        return type("ConsoleDriver", (DiffDriver, InputDriver, super().get_driver_class()), {})

    def get_line_filters(self) -> Sequence[LineFilter]:
        """What every line drawn goes through."""
        return [*super().get_line_filters(), _SAFE_TEXT]

    def refresh(self, *, repaint: bool = True, layout: bool = False, recompose: bool = False) -> Self:
        """Redraw the screen; not lay it out anew, which the toolkit asks for when one over it has gone."""
        return self if layout else super().refresh(repaint=repaint, recompose=recompose)

    def action_paint_anew(self) -> None:
        """Send the whole screen again: something else has written on it."""
        self.painting.forget()
        self.screen.refresh()

    # --- what must not happen ---

    def trouble(self, doing: str, error: Exception) -> None:
        """Say that something inside the program went wrong, and go on: the rig is as it was, and in the journal."""
        self.faults.append(error)
        self.tell(log.sentence(doing, error))

    def tell(self, text: str) -> None:
        """Say what went wrong on the screen in front, whichever it is."""
        if callable(say := getattr(self.screen, "say", None)) and self.screen.is_mounted:
            say(text, "bold red")
        elif not isinstance(self.screen, Trouble):
            self.push_screen(Trouble("Something went wrong", [words(text)], self.glyphs))

    async def _check_bindings(self, key: str, priority: bool = False) -> bool:
        """Do what a key stands for; where that is nothing, it is said."""
        done = await super()._check_bindings(key, priority)
        if not (done or priority) and isinstance(self.screen, ConsoleScreen) and self.screen.is_mounted:
            self.screen.idle(key.replace("_", " "))
        return done

    async def run_action(
        self,
        action: "str | ActionParseResult",
        default_namespace: DOMNode | None = None,
        namespaces: Mapping[str, DOMNode] | None = None,
    ) -> bool:
        """Do what a key stands for; what that raises is told."""
        try:
            return await super().run_action(action, default_namespace, namespaces)
        except Exception as error:
            self.trouble(f'the key\'s "{action if isinstance(action, str) else action[1]}"', error)
            return True

    def push_screen(self, screen: Any, callback: Any = None, *args: Any, **options: Any) -> Any:
        """Show a screen; what is done with its answer may raise, which is told. Its widgets are styled for this window at once."""
        screen.update_classes(screen.classes_in(self.size), update=False)
        return super().push_screen(screen, callback and self._guarded(callback), *args, **options)

    def _guarded(self, callback: Callable[[Any], Any]) -> Callable[[Any], Any]:
        def guarded(answer: Any) -> None:
            try:
                callback(answer)
            except Exception as error:
                self.trouble("what the answer sets off", error)

        return guarded

    def _fatal_error(self) -> None:
        """Nothing can go on: end with a sentence, not with a screen of code; the journal holds the work."""
        self.crashed = True
        told = log.sentence("the console", sys.exc_info()[1] or RuntimeError())
        self.panic(Text(f"{told} Start it again: it offers the work that was not saved."))

    def give_terminal_back(self) -> None:
        """Leave the terminal as it was, from any thread: the screen's own does not answer."""
        if self.driver is not None:
            self.driver.stop_application_mode()
            self.driver.close()

    def on_load(self) -> None:
        """From now on there is a loop that others can have something done by."""
        self.loop = asyncio.get_running_loop()

    def on_ready(self) -> None:
        if self.on_first_screen is not None:
            self.call_after_refresh(self.on_first_screen)

    async def on_event(self, event: Event) -> None:
        """A window of no size, or larger than any screen, is a wrong report."""
        if isinstance(event, Resize):
            columns, rows = (min(max(1, cells), MOST) for cells in event.size)
            event = Resize.from_dimensions((columns, rows), None)
        self.keys_taken += isinstance(event, Key)
        await super().on_event(event)

    def on_resize(self, event: Resize) -> None:
        """What stands on the screen after the window changed is the terminal's to know."""
        self.painting.resize(*event.size)
        if self.begun:
            self._cover_where_too_small(event.size)

    def _cover_where_too_small(self, size: Size) -> None:
        if not too_small(size):
            if isinstance(
                self.screen, TooSmall
            ):  # at once: what is under it is to be seen, and takes the next key
                self.screen.dismiss()
        elif not any(isinstance(screen, TooSmall) for screen in self.screen_stack):
            self.push_screen(TooSmall(self.glyphs))

    def on_mount(self) -> None:
        self._open_first()
        self.begun = True
        self._cover_where_too_small(self.size)

    def _open_first(self) -> None:
        self.set_class(self.glyphs.ascii, "ascii")
        if self.preset is not None:
            preset = self.preset
            self._try(lambda: documents.from_preset(preset))
            return
        if self.path is None:
            self._start(can_go_back=False)
            return
        path, left = self.path, leftovers.leftover_of(self.path)
        if left is None or leftovers.no_work(left):
            self._try(lambda: documents.opened(path))
            return
        told = f"There is unsaved work on {path.name}, from {when_words(left.when)}."
        answers = [
            ("r", "recover it"),
            ("o", "open the file as it was saved; the work stays to be recovered"),
        ]

        def answered(answer: str | None) -> None:
            if answer is None:
                self._start(can_go_back=False)
            else:
                self._try(lambda: documents.recovered(left) if answer == "r" else documents.opened(path))

        self.push_screen(Question(told, answers, self.glyphs), answered)

    def _start(self, can_go_back: bool) -> None:
        self.push_screen(Start(self.glyphs, leftovers.leftovers(), can_go_back), self._picked)

    def _picked(self, picked: Picked | None) -> None:
        if picked is None:
            if self.workplace is None:
                self.exit()
            return
        former = self.workplace.document if self.workplace else None
        if picked.kind == "first":
            self._first_rig()
            return
        openers: dict[str, Callable[[], Document]] = {
            "new": documents.fresh,
            "recent": lambda: documents.opened(picked.which, former),
            "preset": lambda: documents.from_preset(picked.which),
            "recover": lambda: documents.recovered(picked.which),
            "again": lambda: documents.again(picked.which),
            "today": lambda: documents.as_today(picked.which, former),
        }
        self._try(openers[picked.kind])

    def _first_rig(self) -> None:
        """Ask what the rig is to be; back at the start where that is left."""
        from rackwright.console.commands import first_rig

        back = self.workplace is not None
        first_rig.ask(
            self,
            self.glyphs,
            lambda rig: self._try(lambda: documents.fresh(rig)),
            lambda: self._start(can_go_back=back),
        )

    def _try(self, opener: Callable[[], Document]) -> None:
        """Open, or say why not and show the start again."""
        try:
            document = opener()
        except (RigFileError, JournalError, EditError, Refused, OSError) as error:
            said = [words(line) for line in str(error).splitlines()]
            self.push_screen(Page("This can't be opened", said, self.glyphs), lambda _: self._start_if_bare())
            return
        if (former := self.workplace) is not None:
            former.document.close()
            self.pop_screen()
        self.document = document
        workplace = Workplace(document, self._own_equipment(), self.glyphs, self.open_another)
        trouble = " ".join(
            filter(None, (self.library_trouble, document.lock.trouble if document.lock else ""))
        )
        notes = _gist(document.session.rig.notes)
        listed = under_way(document.session.rig)
        if listed:
            notes = f"A list is not done: {listed[-1].title}. Press R to continue it."
        if trouble or listed or (notes and document.session.path is None):
            workplace.greeting = (trouble or notes, "yellow" if trouble else "")
        self.push_screen(workplace)

    def _start_if_bare(self) -> None:
        if self.workplace is None:
            self._start(can_go_back=False)

    def open_another(self) -> None:
        """Show the start over the workplace."""
        self._start(can_go_back=True)

    @property
    def workplace(self) -> Workplace | None:
        """The workplace on the screen stack, if there is one."""
        return next((screen for screen in self.screen_stack if isinstance(screen, Workplace)), None)

    def action_leave(self) -> None:
        """Quit by way of the workplace, which asks where something is unsaved."""
        workplace = self.workplace
        if workplace is None or isinstance(self.screen, TooSmall):
            self.exit()
            return
        while self.screen is not workplace:
            self.pop_screen()
        workplace.action_command("leave")

    def action_control(self) -> None:
        """Answer who asks for control, on any screen that takes keys for itself but no text."""
        if self.workplace is not None:
            self.workplace.action_command("control")
