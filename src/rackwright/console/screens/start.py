"""The start: unsaved work to recover, recent rigs, venues with the nights that are over, presets, a new rig. Gives what was picked."""

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from textual.app import ComposeResult
from textual.binding import Binding
from textual.events import Resize
from textual.widgets import Static

from rackwright.console.rows.row import Row, fit, heading, words, wrapped
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.dialog import styled
from rackwright.console.widgets.pane import Pane
from rackwright.console.widgets.screen import ConsoleScreen
from rackwright.model.rig import Rig
from rackwright.model.venue_facts import VenueFacts
from rackwright.store import nights, presets, recent, venues
from rackwright.store.nights import Past
from rackwright.store.safe.journal import Recoverable
from rackwright.units.wording import so_many

WELCOME = (
    "In a rig arrows move, tab changes the pane, enter edits what is selected.",
    "a adds: a rack, an amplifier, a socket, a cabinet, the line between them.",
    "Every edit shows its effect at once; u undoes it.",
    "v lists what is wrong, enter goes there; w shows how a figure is calculated.",
    "? shows every key. s saves; nothing is lost if the link drops.",
)
"""What a new user needs, in five lines."""
NAME = 29
"""Cells for a name where there is little room: beside it stands whole what a preset of two figures of loudspeakers holds."""
FIRST = "equipment, mains, venue"


class Picked(NamedTuple):
    """What to open: `first`, `new`, `recent`, `preset`, `recover`, or `again` or `today` of a night that is over; and which."""

    kind: str
    which: Any = None


class Start(ConsoleScreen[Picked | None]):
    """The first screen, and the one to open another rig from."""

    BINDINGS = [
        Binding("enter", "pick", "open", priority=True),
        Binding("n", "new", "new rig"),
        Binding("space", "notes", "notes"),
        Binding("question_mark", "help", show=False),
        Binding("escape", "leave", "back"),
        Binding("q", "leave", show=False),
    ]

    def __init__(self, glyphs: Glyphs, leftovers: Sequence[Recoverable], can_go_back: bool = False) -> None:
        super().__init__(classes="ascii" if glyphs.ascii else None)
        self.glyphs, self.leftovers, self.can_go_back = glyphs, leftovers, can_go_back
        self.choices: dict[str, Picked] = {}
        self.cut: dict[str, str] = {}
        """Row → what it says, where the list has no room for all of it."""

    def compose(self) -> ComposeResult:
        yield Pane("Rackwright", self.glyphs, "start")
        yield Static(id="welcome")
        yield Static(id="keys")

    def on_mount(self) -> None:
        pane = self.query_one(Pane)
        pane.show(self._rows)
        pane.focus()

    def on_resize(self, event: Resize) -> None:
        welcome = self.query_one("#welcome")
        welcome.styles.height = self._told_lines + welcome.gutter.height
        self._tell()

    @property
    def _told_lines(self) -> int:
        """Lines under the list: what it leaves of the window."""
        pane, welcome = self.query_one(Pane), self.query_one("#welcome")
        taken = len(pane.rows) + pane.gutter.height + welcome.gutter.height + 1
        return max(5, self.size.height - taken)

    def on_pane_selected(self) -> None:
        self._tell()

    def _tell(self) -> None:
        """Under the list: a preset's notes, as much of them as there is room for, else what the list cuts and a new user needs; the keys."""
        notes, out = [("space", "notes")] * bool(self._notes), "close" if self.can_go_back else "quit"
        keys = (("enter", "open"), ("n", "new rig"), *notes, ("?", "help"), ("esc", out))
        foot = Row(tuple(part for key, does in keys for part in ((f"{key} ", "head"), (f"{does}  ", ""))))
        self.query_one("#keys", Static).update(styled([foot], self.glyphs))
        cut = self.cut.get(self.query_one(Pane).place)
        lines = [
            part
            for line in self._notes or ([cut, "", *WELCOME] if cut else WELCOME)
            for part in self._wrapped(line, self.size.width - 4)
        ]
        if len(lines) > self._told_lines:
            lines = [
                *lines[: self._told_lines - 1],
                f"… {'space shows the rest' if notes else '? shows every key'}",
            ]
        self.query_one("#welcome", Static).update(styled([words(line) for line in lines], self.glyphs))

    def _wrapped(self, line: str, width: int) -> list[str]:
        return wrapped(line, max(width, 20), self.glyphs) or [""]

    @property
    def _notes(self) -> list[str]:
        """Of the preset that the cursor is on."""
        picked = self.choices.get(self.query_one(Pane).place)
        return picked.which.notes.splitlines() if picked is not None and picked.kind == "preset" else []

    def action_notes(self) -> None:
        """A preset's notes in full."""
        from rackwright.console.screens.pages import FlowingPage

        notes = self._notes

        def rows(width: int) -> list[Row]:
            return [words(part) for line in notes for part in self._wrapped(line, width)]

        if notes:
            title = self.choices[self.query_one(Pane).place].which.title
            self.app.push_screen(FlowingPage(title, rows, self.glyphs))

    def _rows(self, width: int) -> list[Row]:
        self.choices = {}
        rows: list[Row] = []
        if self.leftovers:
            rows.append(heading("Recover unsaved work"))
            for number, found in enumerate(self.leftovers):
                told = (
                    found.damage
                    or f"{when_words(found.when)}, {where(found.path) if found.path else 'never saved'}"
                )
                rows.append(
                    self._row(
                        f"recover{number}",
                        found.name,
                        told,
                        Picked("recover", found),
                        not found.damage,
                    )
                )
            rows.append(words(""))
        rows.append(self._row("first", "A rig in three questions", FIRST, Picked("first")))
        rows.append(self._row("new", "New rig", "an empty one", Picked("new")))
        if known := recent.recent():
            rows += [words(""), heading("Recent")]
            for number, item in enumerate(known):
                told = f"missing: {where(item.path)}" if item.missing else where(item.path)
                rows.append(
                    self._row(
                        f"recent{number}",
                        item.name,
                        told,
                        Picked("recent", item.path),
                        not item.missing,
                    )
                )
        past, saved = nights.past(), self._saved()
        if past or saved:
            rows += [words(""), heading("Venues, and the nights there")]
            for venue in dict.fromkeys(night.closed.venue for night in past):
                last, *more = (night for night in past if night.closed.venue == venue)
                told = f"last on {last.day}" + (f" with {last.closed.rig}" if last.closed.rig else "")
                told = f"{told}, {len(more) + 1} nights" if more else told
                rows.append(self._row(f"venue {venue}", venue, told, Picked("venue", venue)))
            rows += [
                self._row(f"venue {name}", name, "saved, no night closed yet", Picked("venue", name))
                for name in saved
                if all(night.closed.venue != name for night in past)
            ]
        rows += [words(""), heading("Presets, each opened as a new rig")]
        for preset in presets.listed():
            whose = "" if preset.origin == "shipped" else f"yours as {preset.name}, "
            told = preset.error if preset.rig is None else f"{whose}{holds(preset.rig)}"
            rows.append(
                self._row(
                    f"preset {preset.name}",
                    preset.title or preset.name,
                    told,
                    Picked("preset", preset),
                    not preset.error,
                )
            )
        longest = max(len(row.parts[0][0]) for row in rows if row.place)
        room = min(longest + 2, max(NAME, width // 3))
        shown = [_laid(row, room, width) if row.place else row for row in rows]
        self.cut = {
            row.place: ": ".join(words for words, _ in row.parts)
            for row, laid in zip(rows, shown, strict=True)
            if "…" in "".join(words for words, _ in laid.parts)
        }
        return shown

    def _saved(self) -> dict[str, list[VenueFacts]]:
        """What is saved of the user's venues, as each rig found it."""
        found: dict[str, list[VenueFacts]] = {}
        for kept in venues.listed():
            if kept.facts and kept.origin == "yours":
                found.setdefault(kept.facts.venue.name or kept.name, []).append(kept.facts)
        return found

    def _row(self, key: str, name: str, told: str, picked: Picked, usable: bool = True) -> Row:
        self.choices[key] = picked
        return Row(((name, "" if usable else "dim"), (told, "dim")), key, usable)

    def action_pick(self) -> None:
        picked = self.choices.get(self.query_one(Pane).place)
        if picked is not None and picked.kind == "venue":
            self._browse(picked.which)
        elif picked is not None:
            self.dismiss(picked)

    def _browse(self, venue: str) -> None:
        """Show a night of a venue, and open its rig for the next time where that is wanted; what is saved of it where there is none."""
        from rackwright.console.screens.past_nights import pick_night, show_venue

        def chosen(night: Past, how: str) -> None:
            self.dismiss(Picked(how, night))

        here = [night for night in nights.past() if night.closed.venue == venue]
        if not here:
            show_venue(self.app, self.glyphs, venue, self._saved().get(venue, ()))
            return
        pick_night(self.app, self.glyphs, here, chosen)

    def on_pane_activated(self) -> None:
        self.action_pick()

    def action_new(self) -> None:
        self.dismiss(Picked("new"))

    def action_help(self) -> None:
        from rackwright.console.screens.pages import help_page

        self.app.push_screen(help_page(self.glyphs))

    def action_leave(self) -> None:
        self.dismiss(None)


def _laid(row: Row, room: int, width: int) -> Row:
    """A row with so many cells for the name."""
    (name, look), (told, style) = row.parts
    return row._replace(parts=((f"  {fit(name, room)} ", look), (fit(told, width - room - 3), style)))


def holds(rig: Rig) -> str:
    """What a rig holds, in a few words."""
    counts = ((rig.cabinets, "loudspeaker"), (rig.racks, "rack"))
    return ", ".join(so_many(len(each), word) for each, word in counts)


def where(path: Path) -> str:
    """A file and its folder, its name first."""
    return f"{path.name} in {path.parent}"


def when_words(moment: datetime | None) -> str:
    """A moment as a person says it: `today 19:42`."""
    if moment is None:
        return "unknown time"
    local = moment.astimezone()
    today = local.date() == datetime.now().astimezone().date()
    return f"{'today' if today else local.strftime('%Y-%m-%d')} {local.strftime('%H:%M')}"
