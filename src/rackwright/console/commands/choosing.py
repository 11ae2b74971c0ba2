"""The keys that choose several things: one by one, a range, all that are like one."""

from functools import partial

from rackwright.console import narrowing
from rackwright.console.alike import alike, of_kind
from rackwright.console.commands.edits import EDITABLE
from rackwright.console.editor import Editor
from rackwright.console.keymap import command
from rackwright.console.related import kind_of
from rackwright.console.widgets.fields import Option
from rackwright.units.wording import runs

build = partial(command, "Build")
CHOOSABLE = EDITABLE | {"line pair", "phase"}


@build(
    "space",
    "choose",
    "Choose it, go down a row; keys act on all chosen",
    CHOOSABLE,
    in_show=True,
    also="mark select",
)
def choose(editor: Editor) -> None:
    """Go on to the next row: several in a row are a key each."""
    editor.session.choose()
    editor.host.redraw()
    editor.host.step(1)


@build(
    "comma",
    "",
    "Choose all of a kind from the last chosen to here",
    CHOOSABLE,
    in_show=True,
    shown_key=",",
    also="mark select range",
)
def choose_range(editor: Editor) -> None:
    session, places = editor.session, editor.host.places
    last = next((place for place in reversed(session.chosen) if place in places), "")
    if not last or session.place not in places:
        editor.say("Choose one end with space first, then press , at the other.", "yellow")
        return
    ends = sorted((places.index(last), places.index(session.place)))
    kind = kind_of(session.assessment, last)
    between = places[ends[0] : ends[1] + 1]
    session.choose(*(place for place in between if kind_of(session.assessment, place) == kind))
    editor.host.redraw()


@build(
    "asterisk",
    "alike",
    "Choose all like this, such as of the same feed or rack",
    CHOOSABLE,
    in_show=True,
    shown_key="*",
    also="mark select filter model",
)
def choose_alike(editor: Editor) -> None:
    """Of what is shown, in the order in which the pane in front has them."""
    session = editor.session
    assessment, everywhere = session.assessment, of_kind(session.assessment, session.kind)
    shown = set(narrowing.shown(assessment, session.only, everywhere))
    found = {
        words: [place for place in places if place in shown]
        for words, places in alike(assessment, session.place).items()
    }
    at = {place: number for number, place in enumerate(editor.host.places)}

    def picked(words: str) -> None:
        session.choose(*sorted(found[words], key=lambda place: at.get(place, len(at))))
        editor.host.redraw()

    options = [Option(words, f"{len(places)}: {runs(places)}") for words, places in found.items()]
    editor.pick(f"Choose all like {session.place} by", options, picked)
