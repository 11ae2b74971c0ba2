"""Nights that are over: a list of them, and a page of what is known of each, or of a venue that has none. Opens no rig: it gives which, and how.

What is filed of a night is in `store.nights`.
"""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from msgspec.structs import replace
from textual.app import App
from textual.binding import Binding

from rackwright.console.rows import nights as view
from rackwright.console.rows.nights import Part
from rackwright.console.rows.row import words
from rackwright.console.screens.pages import FlowingPage
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.dialog import SCROLLS, Page, Picker
from rackwright.console.widgets.fields import Option
from rackwright.model.edits import EditError
from rackwright.model.rig import Rig
from rackwright.model.venue import for_next_time
from rackwright.model.venue_facts import VenueFacts
from rackwright.store import nights, rig_file
from rackwright.store.nights import Past
from rackwright.store.toml.read import RigFileError
from rackwright.units.text_table import wrap

AGAIN, TODAY, COMPARE = "again", "today", "compare"
"""What is to be done with a night: its rig as it was for the next time, its rig as its file is today, or compare with it."""


class PastNight(FlowingPage):
    """What is known of a night. Gives what is to be done with it."""

    BINDINGS = [
        Binding("enter", "go", show=False, priority=True),
        Binding("t", "today", show=False),
    ]

    def __init__(self, title: str, parts: Sequence[Part], glyphs: Glyphs, does: str, today: bool) -> None:
        super().__init__(title, lambda width: view.rows(parts, width), glyphs)
        self.does, self.today = does, today
        first = "compare with it" if does == COMPARE else "same as last time"
        own = ("t rig of today",) if today else ()
        self.HINT = (f"enter {first}", *own, SCROLLS, "esc close")

    def action_go(self) -> None:
        self.dismiss(self.does)

    def action_today(self) -> None:
        """Its rig as the file is today, where there is one that differs."""
        if self.today:
            self.dismiss(TODAY)


def pick_night(
    app: App[Any],
    glyphs: Glyphs,
    past: Sequence[Past],
    then: Callable[[Past, str], None],
    *,
    compares: bool = False,
) -> None:
    """Have one of these nights picked, show what is known of it, and do what is chosen."""
    named: dict[str, Past] = {}
    for night in past:
        name = f"{night.day} {night.closed.rig or night.path.stem}"
        named[name if name not in named else f"{name}, {night.path.name.partition('.')[0]}"] = night
    options = [
        Option(name, ". ".join(filter(None, (night.closed.venue, night.closed.words.partition("\n")[0]))))
        for name, night in named.items()
    ]

    def picked(name: str | None) -> None:
        if name is not None:
            _show(app, glyphs, named[name], then, compares)

    if options:
        app.push_screen(Picker("Which night?", options, glyphs), picked)
        return
    told = "No night is closed yet. After a show press V in its rig, and choose Close the night."
    app.push_screen(FlowingPage("Past nights", lambda width: [words(t) for t in wrap(told, width)], glyphs))


def show_venue(app: App[Any], glyphs: Glyphs, name: str, found: Sequence[VenueFacts]) -> None:
    """What is saved of a venue where no night is closed yet."""
    parts = [part for facts in found for part in view.of_venue(facts)]
    page = FlowingPage(name, lambda width: view.rows(parts, width), glyphs)
    page.HINT = ("open a rig, then V applies this venue to it", SCROLLS, "esc close")
    app.push_screen(page)


def _show(
    app: App[Any], glyphs: Glyphs, night: Past, then: Callable[[Past, str], None], compares: bool
) -> None:
    title = f"{night.closed.venue}, {night.day}, {night.closed.rig}".removesuffix(", ")
    try:
        rig = night.rig()
    except RigFileError as error:
        lines = [f"{event.time}  {event.event}: {event.place} {event.words}" for event in night.events()]
        said = [*(words(line) for line in lines), *(words(line, "warn") for line in str(error).splitlines())]
        app.push_screen(Page(title, said, glyphs))
        return
    parts = view.of_night(night.closed.words, night.events(), rig)
    if before := _before(night):
        before = replace(before, venue=replace(before.venue, date=rig.venue.date))  # the title tells
        parts.append(view.changes("Changed since the time before", before, rig))
    was, today = for_next_time(rig), None if compares else _today(night)
    if today is not None:
        name = Path(night.closed.file).name
        parts.insert(1, view.changes(f"What differs in {name} today, taken there", was, today))

    def done(answer: str | None) -> None:
        if answer is not None:
            then(night, answer)

    does = COMPARE if compares else AGAIN
    app.push_screen(PastNight(title, parts, glyphs, does, today is not None), done)


def _before(night: Past) -> Rig | None:
    """The same rig the last time that it was there before."""
    key = (night.closed.venue, night.closed.rig)
    for each in nights.past():
        if each.closed.time < night.closed.time and (each.closed.venue, each.closed.rig) == key:
            return _read(each.rig_path)
    return None


def _today(night: Past) -> Rig | None:
    """The rig as its file has it now, at the venue of that night; None where it has gone or doesn't fit."""
    rig = _read(Path(night.closed.file)) if night.closed.file else None
    try:
        return for_next_time(night.there(rig)) if rig else None
    except (EditError, RigFileError):
        return None


def _read(path: Path) -> Rig | None:
    try:
        return rig_file.load(path)
    except RigFileError:
        return None
