"""The key for recurring venues: apply a saved venue to the rig, or save the facts of the one where the rig is.

What a venue is and how its facts meet a rig is in `model.venue`, where venues are kept in `store.venues`.
"""

import sys
from collections.abc import Mapping, Sequence
from typing import Any

from msgspec.structs import replace
from textual.binding import Binding

from rackwright.console.document import file_name
from rackwright.console.editor import Editor
from rackwright.console.rows.row import Row, heading, words
from rackwright.console.screens.pages import FlowingPage
from rackwright.console.widgets.dialog import Question
from rackwright.console.widgets.fields import FieldError, Option, Words
from rackwright.console.widgets.form import Form
from rackwright.engine.assess import assess
from rackwright.model import rules
from rackwright.model.diff import difference
from rackwright.model.edits import EditError, change_settings
from rackwright.model.rig import Rig
from rackwright.model.venue import VenueFacts, join, split
from rackwright.store import venues
from rackwright.store.safe.atomic_write import SaveError
from rackwright.units.text_table import wrap

CHOICES = (
    Option("Apply a venue", "its circuits, line lengths and positions"),
    Option("Save this venue", "circuits, line lengths, positions, notes, contacts"),
)

WHOSE = {"yours": "yours", "shipped": "invented for the demo"}


def ask_for_venue(editor: Editor) -> None:
    """Ask which of the two, and do it."""
    does = {CHOICES[0].value: _pick_venue, CHOICES[1].value: _ask_to_save}
    editor.pick("Venue", CHOICES, lambda picked: does[picked](editor))


# --- applying ---


class Foreseen(FlowingPage):
    """What applying a venue would change. Gives True where it is to be applied."""

    HINT = "enter apply   arrows scroll   esc close"
    BINDINGS = [Binding("enter", "go", "apply", priority=True)]

    def action_go(self) -> None:
        self.dismiss(True)


def _pick_venue(editor: Editor) -> None:
    if editor.locked():
        return
    known = {kept.name: kept for kept in venues.listed()}
    options = [
        Option(name, kept.error or f"{kept.title}, {WHOSE[kept.origin]}".removeprefix(", "))
        for name, kept in known.items()
    ]

    def picked(name: str) -> None:
        if (facts := known[name].facts) is None:
            editor.say(known[name].error, "yellow")
        else:
            _foresee(editor, facts, facts.venue.name or name)

    editor.pick("Apply which venue?", options, picked)


def at_venue(rig: Rig, facts: VenueFacts) -> Rig:
    """The rig at the venue; itself where nothing is different there. Raises EditError where the two don't fit."""
    joined = join(rig, facts).rig
    if problems := rules.check(joined):
        raise EditError(f"This venue does not fit the rig: {problems[0]}")
    return rig if joined == rig else joined


def _foresee(editor: Editor, facts: VenueFacts, title: str) -> None:
    """Show what it would do there; take it there where that is wanted."""
    session = editor.session
    try:
        there = at_venue(session.rig, facts)
    except EditError as error:
        editor.say(str(error), "yellow")
        return
    if there is session.rig:
        editor.say(f"Nothing to change: the rig has the facts of {title} already.")
        return
    page = Foreseen(
        f"Apply venue {title}",
        lambda width: _consequence(editor, facts, there, width),
        editor.glyphs,
    )

    def done(go: bool | None) -> None:
        if go and editor.make(f"apply venue {title}", lambda rig: at_venue(rig, facts)):
            editor.say(f"{title} is applied. Press u to undo.")

    editor.app.push_screen(page, done)


def _consequence(editor: Editor, facts: VenueFacts, there: Rig, width: int) -> list[Row]:
    from rackwright.console.rows.consequence import foreseen

    before = editor.session.assessment
    found = foreseen(before.findings, assess(there, before).findings, most=sys.maxsize)
    unmatched = join(editor.session.rig, facts).unmatched
    told = (
        ("No match", unmatched or ("Everything matches.",)),
        ("Notes", facts.notes.split("\n")),
        ("Contacts", facts.venue.contacts.split("\n")),
    )
    changes = [str(change) for change in difference(editor.session.rig, there)]
    rows = [heading("Findings added (+) and gone (-)"), *found]
    rows += [words(""), heading("What changes"), *_lines(changes, width)]
    for title, texts in told:
        if any(text.strip() for text in texts):
            rows += [words(""), heading(title), *_lines(texts, width)]
    leaves = "This replaces the rig's supply, circuits, line lengths, positions and readings. Save them as a venue first if you need them."
    return [*rows, words(""), *_lines([leaves], width, "dim")]


def _lines(texts: Sequence[str], width: int, style: str = "") -> list[Row]:
    return [words(line, style) for text in texts if text.strip() for line in wrap(text, width, "  ")]


# --- saving ---


def _ask_to_save(editor: Editor) -> None:
    """Ask for name, notes and contacts, and save the venue's facts as this rig found them."""
    facts, _ = split(editor.session.rig)
    fields = (
        _Name("name", "Venue's name", True),
        Words("notes", "Notes", lines=4),
        Words("contacts", "Contacts", lines=4),
    )
    known = venues.of_rig(facts.venue.name, facts.rig)
    values = {
        "name": facts.venue.name,
        "notes": known.facts.notes.strip() if known and known.facts else "",
        "contacts": facts.venue.contacts.strip(),
    }

    def done(given: Mapping[str, Any] | None) -> None:
        if given is not None:
            venue = replace(facts.venue, name=given["name"], contacts=given["contacts"])
            _keep(editor, replace(facts, venue=venue, notes=given["notes"]))

    title = f"Save this venue: {_counted(facts)}"
    editor.app.push_screen(Form(title, fields, values, editor.glyphs), done)


class _Name(Words):
    """A venue's name, and the file's that it makes."""

    def read(self, text: str) -> str:
        """The name. Raises FieldError for one that leaves no file name."""
        if not any(sign.isalnum() for sign in text):
            raise FieldError("Write a name with a letter in it")
        return text.strip()

    def note(self, text: str) -> str:
        """What it is picked by."""
        return f"saved as {file_name(text)}"


def _keep(editor: Editor, facts: VenueFacts) -> None:
    """Keep them beside those that other rigs found there; ask before this rig's own are written over."""
    first, beside = file_name(facts.venue.name), file_name(f"{facts.venue.name} {facts.rig}")
    known = {kept.name: kept.facts for kept in venues.listed()}
    names = (first, beside, *(f"{beside}-{number}" for number in range(2, len(known) + 3)))
    own = next((name for name in names if (there := known.get(name)) and there.rig == facts.rig), None)
    if own is None:
        _write(editor, facts, next(name for name in names if name not in known))
        return

    def done(answer: str | None) -> None:
        if answer == "o":
            _write(editor, facts, own, over=True)

    told = f"This rig's facts of {facts.venue.name} are saved already."
    editor.app.push_screen(Question(told, [("o", "replace them")], editor.glyphs), done)


def _write(editor: Editor, facts: VenueFacts, name: str, *, over: bool = False) -> None:
    try:
        path = venues.keep(facts, name, over=over)
    except SaveError as error:
        editor.say(str(error), "bold red")
        return
    if editor.session.rig.venue != facts.venue and not (editor.session.edit_locked or editor.session.held_by):
        editor.make(f"name venue {facts.venue.name}", lambda rig: change_settings(rig, venue=facts.venue))
    editor.say(f"Saved {_counted(facts)} as {path}.")


def _counted(facts: VenueFacts) -> str:
    counts = ((facts.circuits, "circuit"), (facts.lines, "line length"), (facts.positions, "position"))
    return ", ".join(f"{len(each)} {word}{'' if len(each) == 1 else 's'}" for each, word in counts)
