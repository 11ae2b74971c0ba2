"""The key for recurring venues: apply a saved venue to the rig, save the facts of the one where the rig is, close its night.

What a venue is and how its facts meet a rig is in `model.venue`, where venues are kept in `store.venues`, nights in `store.nights`.
"""

import datetime
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from msgspec.structs import replace
from textual.binding import Binding

from rackwright.console.document import file_name
from rackwright.console.editor import Editor
from rackwright.console.rows.nights import counted
from rackwright.console.rows.row import Row, heading, words
from rackwright.console.screens.pages import FlowingPage
from rackwright.console.screens.past_nights import pick_night
from rackwright.console.widgets.dialog import SCROLLS, Question
from rackwright.console.widgets.fields import FieldError, Option, Words
from rackwright.console.widgets.form import Form
from rackwright.engine import recovery
from rackwright.engine.assess import assess
from rackwright.model.diff import difference
from rackwright.model.edits import EditError, change_settings
from rackwright.model.rig import Rig, Venue
from rackwright.model.venue import at_venue, join, split
from rackwright.model.venue_facts import VenueFacts
from rackwright.model.venue_ids import Proposal, matched, proposed
from rackwright.store import nights, venues
from rackwright.store.nights import Past
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.toml.read import RigFileError
from rackwright.units.text_table import wrap

CHOICES = (
    Option("Apply a venue", "its circuits, line lengths and positions"),
    Option("Save this venue", "circuits, line lengths, positions, notes, contacts"),
    Option("Close the night", "save the venue, file rig, log and notes for next time"),
    Option("Past nights", "what was noted, changed and measured here before"),
)

WHOSE = {"yours": "yours", "shipped": "invented for the demo"}


def ask_for_venue(editor: Editor) -> None:
    """Ask which of them, and do it."""
    actions = (_pick_venue, _ask_to_save, _ask_to_close, _browse)
    does = {choice.value: action for choice, action in zip(CHOICES, actions, strict=True)}
    editor.pick("Venue", CHOICES, lambda picked: does[picked](editor))


# --- applying ---


class Foreseen(FlowingPage):
    """What applying a venue would change. Gives True where it is to be applied."""

    HINT: tuple[str, ...] = ("enter apply", SCROLLS, "esc close")
    BINDINGS = [
        Binding("enter", "go", "apply", priority=True),
        Binding("m", "match", show=False),
    ]

    agreed = True
    """Whether things that have other ids at the venue are matched as proposed."""
    matching = False

    def action_go(self) -> None:
        self.dismiss(True)

    def action_match(self) -> None:
        """Match as proposed, or by id alone."""
        if self.matching:
            self.agreed = not self.agreed
            self._flow(self.app.size.width)


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
            _foresee(editor, facts, name)

    editor.pick("Apply which venue?", options, picked)


def _foresee(editor: Editor, facts: VenueFacts, name: str) -> None:
    """Show what it would do there; take it there where that is wanted."""
    session, title = editor.session, facts.venue.name or name
    proposals = proposed(session.rig, facts)

    def taken(agreed: bool) -> VenueFacts:
        return matched(session.rig, facts, proposals, agreed)

    try:
        there = {agreed: at_venue(session.rig, taken(agreed)) for agreed in (True, False)}
    except EditError as error:
        editor.say(str(error), "yellow")
        return
    if there[True] is there[False] is session.rig:
        editor.say(f"Nothing to change: the rig has the facts of {title} already.")
        return
    page = Foreseen(
        f"Apply venue {title}",
        lambda width: [
            *_matching(proposals, page.agreed, width),
            *_consequence(editor, taken(page.agreed), there[page.agreed], width),
        ],
        editor.glyphs,
    )
    if proposals:
        page.matching, page.HINT = True, ("enter apply", "m other match", SCROLLS, "esc close")

    def done(go: bool | None) -> None:
        if not go:
            return
        agreed = taken(page.agreed)
        if editor.make(f"apply venue {title}", lambda rig: at_venue(rig, agreed)):
            editor.say(f"{title} is applied. Press u to undo.")
        if proposals:
            _remember(editor, agreed, name)

    editor.app.push_screen(page, done)


def _matching(proposals: Sequence[Proposal], agreed: bool, width: int) -> list[Row]:
    """What has another id at the venue, and whether it is taken for the same."""
    if not proposals:
        return []
    told = [f"{each.here} is {each.known} there: {each.why}" for each in proposals]
    asked = (
        "Matched so, and remembered with the venue. Press m to match by id alone."
        if agreed
        else "Matched by id alone, and remembered with the venue. Press m to match these."
    )
    return [
        heading("Other ids at the venue"),
        *_lines(told, width),
        *_lines([asked], width, "warn"),
        words(""),
    ]


def _remember(editor: Editor, facts: VenueFacts, name: str) -> None:
    """Keep what was said of other ids, so that it is asked once."""
    try:
        venues.keep(facts, name, over=True)
    except SaveError as error:
        editor.say(str(error), "bold red")


def _consequence(editor: Editor, facts: VenueFacts, there: Rig, width: int) -> list[Row]:
    from rackwright.console.rows.history import findings

    before = editor.session.assessment
    found = findings(before.findings, assess(there, before).findings, width, editor.glyphs)
    unmatched = join(editor.session.rig, facts).unmatched
    told = (
        ("No match", unmatched or ("Everything matches.",)),
        ("Notes", facts.notes.split("\n")),
    )
    changes = [str(change) for change in difference(editor.session.rig, there)]
    rows = [heading("Findings: + added, ~ changed, − gone"), *found]
    rows += [words(""), heading("What changes"), *_lines(changes, width)]
    for title, texts in told:
        if any(text.strip() for text in texts):
            rows += [words(""), heading(title), *_lines(texts, width)]
    leaves = "This replaces the rig's supply, circuits, line lengths, positions and readings. Save them as a venue first if you need them."
    return [*rows, words(""), *_lines([leaves], width, "dim")]


def _lines(texts: Sequence[str], width: int, style: str = "") -> list[Row]:
    return [words(line, style) for text in texts if text.strip() for line in wrap(text, width, "  ")]


# --- saving and closing ---


def _ask_to_save(editor: Editor) -> None:
    """Ask for name, notes and contacts, and save the venue's facts as this rig found them."""
    _ask(editor, "Save this venue", (Words("notes", "Notes", lines=4),), lambda facts: _keep(editor, facts))


def _ask_to_close(editor: Editor) -> None:
    """Ask for notes for next time; save the venue's facts and file the night."""
    session = editor.session
    if session.held_by:
        editor.say(session.why_read_only, "yellow")
    elif recovery.to_return(session.rig) or any(not each.done for each in session.rig.lists):
        editor.say("The night isn't over: a list or a return is open. Press R to finish it.", "yellow")
    elif not editor.locked():
        fields = (Words("date", "Date of the show"), Words("notes", "Notes for next time", lines=4))
        _ask(editor, "Close the night", fields, lambda facts: _close(editor, facts))


def _ask(editor: Editor, title: str, more: tuple[Words, ...], then: Callable[[VenueFacts], None]) -> None:
    """Ask what a rig doesn't say of its venue; after a night that is closed the venue is another one, until it is named."""
    facts, _ = split(editor.session.rig)
    venue = Venue() if any(night.is_of(editor.session.rig) for night in nights.past()) else facts.venue

    def kept(name: str) -> VenueFacts:
        known = venues.of_rig(name, facts.rig)
        return known.facts if known and known.facts else VenueFacts()

    fields = (_Name("name", "Venue's name", True), *more, Words("contacts", "Contacts", lines=4))
    values = {
        "name": venue.name,
        "date": venue.date or f"{datetime.date.today()}",
        "notes": venues.notes_of(venue.name, facts.rig).strip(),
        "contacts": venue.contacts.strip(),
    }

    def done(given: Mapping[str, Any] | None) -> None:
        if given is None:
            return
        known = kept(given["name"])
        told = {key: given[key] for key in ("name", "date", "contacts") if key in given}
        if given["name"] != venue.name:  # what is left empty is as it was known there
            given = {**given, "notes": given["notes"] or venues.notes_of(given["name"], facts.rig)}
            told["contacts"] = told["contacts"] or known.venue.contacts
        then(replace(facts, venue=replace(venue, **told), notes=given["notes"], matches=known.matches))

    editor.app.push_screen(Form(f"{title}: {counted(facts)}", fields, values, editor.glyphs), done)


def _close(editor: Editor, facts: VenueFacts) -> None:
    name, _ = venues.own_name(facts)
    next_time = replace(facts, venue=replace(facts.venue, date="", times=""))
    if not _write(editor, next_time, name, facts.venue, over=True):
        return
    session = editor.session
    rig = replace(session.rig, venue=facts.venue)
    try:
        filed = nights.close(rig, session.path, facts.notes, datetime.datetime.now(), session.initials or "")
    except SaveError as error:
        editor.say(str(error), "bold red")
        return
    editor.say(
        f"The night of {filed.day} at {facts.venue.name} is closed. The start screen, key o, opens its rig for the next time."
    )


# --- looking back ---


def _browse(editor: Editor) -> None:
    """Show a past night; the rig is compared with that of then where that is wanted."""
    venue = editor.session.rig.venue.name
    past = nights.past()
    here = [night for night in past if night.closed.venue == venue] or past

    def opened(night: Past, answer: str) -> None:
        try:
            editor.session.keep(night.rig(), night.day)
        except RigFileError as error:
            editor.say(str(error), "yellow")
            return
        editor.host.redraw()
        editor.say(f"Comparing with the rig of {night.day}.")

    pick_night(editor.app, editor.glyphs, here, opened, compares=True)


class _Name(Words):
    """A venue's name, and the file's that it makes."""

    def read(self, text: str) -> str:
        """The name. Raises FieldError for one that leaves no file name."""
        if not text.strip():
            raise FieldError("Write its name")
        if not any(sign.isalnum() for sign in super().read(text)):
            raise FieldError("Write a name with a letter in it")
        return text.strip()

    def note(self, text: str) -> str:
        """What it is picked by."""
        return f"saved as {file_name(text)}"


def _keep(editor: Editor, facts: VenueFacts) -> None:
    """Keep them beside those that other rigs found there; ask before this rig's own are written over."""
    name, known = venues.own_name(facts)
    if not known:
        _write(editor, facts, name, facts.venue)
        return

    def done(answer: str | None) -> None:
        if answer == "o":
            _write(editor, facts, name, facts.venue, over=True)

    told = f"This rig's facts of {facts.venue.name} are saved already."
    editor.app.push_screen(Question(told, [("o", "replace them")], editor.glyphs), done)


def _write(editor: Editor, facts: VenueFacts, name: str, here: Venue, *, over: bool = False) -> bool:
    """Save the facts, name in the rig the venue `here` as it is tonight, and say so; whether they are saved."""
    try:
        path = venues.keep(facts, name, over=over)
    except SaveError as error:
        editor.say(str(error), "bold red")
        return False
    if editor.session.rig.venue != here and not (editor.session.edit_locked or editor.session.held_by):
        editor.make(f"name venue {here.name}", lambda rig: change_settings(rig, venue=here))
    editor.say(f"Saved {counted(facts)} as {path}.")
    return True
