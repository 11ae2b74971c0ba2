"""The key for recurring venues: take the rig to a venue that is known, or keep the facts of the one where it stands.

What a venue is and how its facts meet a rig is in `model.venue`, where venues are kept in `store.venues`.
"""

import sys
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace
from textual.binding import Binding

from rackwright.console.dialogs import Question
from rackwright.console.fields import FieldError, Option, Words
from rackwright.console.filing import file_name
from rackwright.console.forms import Form
from rackwright.console.reading import Flowing
from rackwright.console.views.row import Row, heading, words, wrap
from rackwright.engine.assess import assess
from rackwright.model import rules
from rackwright.model.diff import difference
from rackwright.model.edit import EditError
from rackwright.model.rig import Rig
from rackwright.model.venue import Venue, join, renewed, split
from rackwright.store import venues
from rackwright.store.atomic import SaveError

if TYPE_CHECKING:
    from rackwright.console.workplace import Workplace

CHOICES = (
    Option("Take this rig to a venue", "circuits, runs, positions of there"),
    Option("Keep this venue's facts", "with notes and contacts"),
)

WHOSE = {"yours": "yours", "shipped": "invented for the demo"}


def ask_for_venue(workplace: "Workplace") -> None:
    """Ask which of the two, and do it."""
    does = {CHOICES[0].value: _pick_venue, CHOICES[1].value: _ask_to_keep}
    workplace.pick("Venue", CHOICES, lambda picked: does[picked](workplace))


# --- going ---


class Foreseen(Flowing):
    """What going to a venue would do. Gives True where the rig is to go there."""

    HINT = "enter takes the rig there   arrows scroll   esc leaves"
    BINDINGS = [Binding("enter", "go", "go", priority=True)]

    def action_go(self) -> None:
        """Go."""
        self.dismiss(True)


def _pick_venue(workplace: "Workplace") -> None:
    if workplace.locked():
        return
    known = {kept.name: kept for kept in venues.listed()}
    options = [
        Option(name, kept.error or f"{kept.title}, {WHOSE[kept.origin]}".removeprefix(", "))
        for name, kept in known.items()
    ]

    def picked(name: str) -> None:
        if (venue := known[name].venue) is None:
            workplace.say(known[name].error, "yellow")
        else:
            _foresee(workplace, venue, venue.venue or name)

    workplace.pick("Take this rig to", options, picked)


def at_venue(rig: Rig, venue: Venue) -> Rig:
    """The rig at the venue; itself where nothing is different there. Raises EditError where the two don't fit."""
    joined = join(rig, venue).rig
    if problems := rules.check(joined):
        raise EditError(f"This venue does not fit the rig: {problems[0]}")
    return rig if joined == rig else joined


def _foresee(workplace: "Workplace", venue: Venue, title: str) -> None:
    """Show what it would do there; take it there where that is wanted."""
    session = workplace.session
    try:
        there = at_venue(session.rig, venue)
    except EditError as error:
        workplace.say(str(error), "yellow")
        return
    if there is session.rig:
        workplace.say(f"This rig stands as it does at {title} already.")
        return
    page = Foreseen(
        f"Take this rig to {title}",
        lambda width: _consequence(workplace, venue, there, width),
        workplace.glyphs,
    )

    def done(go: bool | None) -> None:
        if go and workplace.make(f"go to {title}", lambda rig: at_venue(rig, venue)):
            workplace.say(f"The rig stands at {title}. Press u to take it back.")

    workplace.app.push_screen(page, done)


def _consequence(workplace: "Workplace", venue: Venue, there: Rig, width: int) -> list[Row]:
    from rackwright.console.workplace import foreseen

    before = workplace.session.assessment
    found = foreseen(before.findings, assess(there, before).findings, most=sys.maxsize)
    unmatched = join(workplace.session.rig, venue).unmatched
    told = (
        ("What has no match", unmatched or ("Nothing: rig and venue know the same things.",)),
        ("Notes", venue.notes.split("\n")),
        ("Contacts", venue.contacts.split("\n")),
    )
    changes = [str(change) for change in difference(workplace.session.rig, there)]
    rows = [heading("Findings that come (+) and go (-)"), *found]
    rows += [words(""), heading("What changes"), *_lines(changes, width)]
    for title, texts in told:
        if any(text.strip() for text in texts):
            rows += [words(""), heading(title), *_lines(texts, width)]
    leaves = "The rig's present supply, circuits, run lengths, positions and readings go. Keep them first, if you will need them."
    return [*rows, words(""), *_lines([leaves], width, "dim")]


def _lines(texts: Sequence[str], width: int, style: str = "") -> list[Row]:
    return [words(line, style) for text in texts if text.strip() for line in wrap(text, width, "  ")]


# --- keeping ---


def _ask_to_keep(workplace: "Workplace") -> None:
    """Ask for name, notes and contacts, and keep the venue; where one of that name is kept, ask what becomes of it."""
    facts, _ = split(workplace.session.rig)
    fields = (
        _Name("name", "Venue's name", True),
        Words("notes", "Notes", lines=4),
        Words("contacts", "Contacts", lines=4),
    )
    values = {"name": "", "notes": "", "contacts": ""}
    if (standing := _likeliest(facts)) is not None:
        name, venue = standing
        values = {
            "name": venue.venue or name,
            "notes": venue.notes.strip(),
            "contacts": venue.contacts.strip(),
        }

    def done(given: Mapping[str, Any] | None) -> None:
        if given is not None:
            _keep(
                workplace,
                replace(facts, venue=given["name"], notes=given["notes"], contacts=given["contacts"]),
            )

    title = f"Keep the facts of this venue: {_counted(facts)}"
    workplace.app.push_screen(Form(title, fields, values, workplace.glyphs), done)


class _Name(Words):
    """A venue's name, and the file's that it makes."""

    def read(self, text: str) -> str:
        """The name. Raises FieldError for one that leaves no file name."""
        if not any(sign.isalnum() for sign in text):
            raise FieldError("Write a name with a letter in it")
        return text.strip()

    def note(self, text: str) -> str:
        """What it is picked by."""
        return f"kept as {file_name(text)}"


def _keep(workplace: "Workplace", venue: Venue) -> None:
    name = file_name(venue.venue)
    taken = next((kept for kept in venues.listed() if kept.name == name), None)
    if taken is None:
        _write(workplace, venue, name)
        return
    mine = taken.origin == "yours"
    answers = [("o", "write over it" if mine else "hide it behind yours")]
    if taken.venue is not None:
        answers.insert(0, ("a", "renew what this rig tells of it, keep the rest"))
    told = f"There is a venue {name} of yours already." if mine else f"{name} is a shipped venue."

    def done(answer: str | None) -> None:
        if answer == "a" and taken.venue is not None:
            _write(workplace, renewed(taken.venue, venue), name, over=mine)
        elif answer == "o":
            _write(workplace, venue, name, over=mine)

    workplace.app.push_screen(Question(told, answers, workplace.glyphs), done)


def _write(workplace: "Workplace", venue: Venue, name: str, *, over: bool = False) -> None:
    try:
        path = venues.keep(venue, name, over=over)
    except SaveError as error:
        workplace.say(str(error), "bold red")
        return
    workplace.say(f"Kept {_counted(venue)} as {path}.")


def _counted(venue: Venue) -> str:
    counts = ((venue.circuits, "circuit"), (venue.runs, "run"), (venue.places, "position"))
    return ", ".join(f"{len(each)} {word}{'' if len(each) == 1 else 's'}" for each, word in counts)


def _likeliest(facts: Venue) -> tuple[str, Venue] | None:
    """The venue known, with its name, that tells most of these facts too, and more than half: where the rig was taken."""
    wanted = {*facts.circuits, *facts.runs, *facts.places, *facts.hookups}

    def common(venue: Venue) -> int:
        return len(wanted & {*venue.circuits, *venue.runs, *venue.places, *venue.hookups})

    known = [(kept.name, kept.venue) for kept in venues.listed() if kept.venue is not None]
    best = max(known, key=lambda each: common(each[1]), default=None)
    return best if best is not None and common(best[1]) * 2 > len(wanted) else None
