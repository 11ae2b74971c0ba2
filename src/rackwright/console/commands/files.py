"""The keys that have to do with files: save, save under another name, as a preset; venue, papers, spreadsheets; open; quit."""

from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import Any

from rackwright.console import document
from rackwright.console.commands.file_names import ask_for_file, unless_there
from rackwright.console.document import file_name
from rackwright.console.editor import Editor
from rackwright.console.keymap import command
from rackwright.console.rows.row import Row, words
from rackwright.console.session import Session
from rackwright.console.widgets.dialog import Question
from rackwright.console.widgets.fields import Words
from rackwright.engine import recovery
from rackwright.model.edits import change_settings
from rackwright.model.rig import Rig
from rackwright.store import presets, rig_file
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.toml.read import RigFileError

file = partial(command, "File")


def _saves(session: Session) -> str:
    return "save" if session.unsaved else ""


KEPT = (
    "The edit lock is on. Marks, plans and ticks are kept as you make them; press L, then s saves the file."
)


@file("s", "save", "Save", now=_saves, locked=KEPT, also="write store ctrl+s")
def save(editor: Editor, then: Callable[[], None] | None = None) -> None:
    """Asks for a name where there is none, and what to do where others wrote the file."""
    session = editor.session
    if session.path is None:
        save_as(editor, then)
    elif session.held_by:
        editor.say(session.why_read_only, "yellow")
    elif editor.document.changed_by_others:
        _changed_by_others(editor, then)
    else:
        _write(editor, None, then)


def _changed_by_others(editor: Editor, then: Callable[[], None] | None) -> None:
    path = editor.session.path
    answers = [
        ("d", "show what differs"),
        ("o", "save over it"),
        ("n", "save this under another name"),
        ("t", "use theirs instead of this; undo brings this back"),
    ]

    def done(answer: str | None) -> None:
        if answer == "d" and path is not None:
            _show_theirs(editor, path, then)
        elif answer == "o":
            _write(editor, None, then)
        elif answer == "n":
            save_as(editor, then)
        elif answer == "t" and path is not None:
            _take_theirs(editor, path)

    text = f"{path} was changed by someone else since it was opened here."
    editor.app.push_screen(Question(text, answers, editor.glyphs), done)


def _show_theirs(editor: Editor, path: Path, then: Callable[[], None] | None) -> None:
    from rackwright.console.screens import comparison

    try:
        theirs = rig_file.load(path)
    except RigFileError as error:
        editor.say(str(error), "yellow")
        return
    comparison.show(editor, theirs, "the file", lambda: _changed_by_others(editor, then))


def _take_theirs(editor: Editor, path: Path) -> None:
    try:
        theirs, read = document.read(path)
    except RigFileError as error:
        editor.say(str(error), "yellow")
        return
    mine = editor.session.rig

    def edit(rig: Rig) -> Rig:
        """Theirs; of the rig that a night returns to, that of theirs."""
        return theirs if rig is mine else recovery.baseline(theirs)

    if editor.make("load the file as others saved it", edit):
        editor.document.follows(theirs, read)
        editor.host.redraw()


@file("S", "save as", "Save under another name", also="copy rename")
def save_as(editor: Editor, then: Callable[[], None] | None = None) -> None:
    session = editor.session
    proposed = str(session.path) if session.path else f"{file_name(session.rig.name)}.toml"

    def named(path: Path) -> None:
        path = path if path.suffix else path.with_suffix(".toml")
        if editor.document.is_own(path):
            save(editor, then)
        else:
            unless_there(editor, path, lambda: _write(editor, path, then))

    title = "Save as, which names the rig, too" if _nameless(session) else "Save as"
    ask_for_file(editor, title, named, "my-rig.toml", proposed)


def _nameless(session: Session) -> bool:
    """Whether nobody has named the rig, and somebody may."""
    free = session.path is None and not session.edit_locked and not session.held_by
    return free and session.rig.name == document.UNNAMED


def _write(editor: Editor, path: Path | None, then: Callable[[], None] | None) -> None:
    """A rig that nobody has named gets the name that it is first saved under."""
    session, named = editor.session, ""
    if path is not None and _nameless(session):
        name = path.stem.replace("-", " ")
        name = name[:1].upper() + name[1:]
        if editor.make(f"name the rig {name}", lambda rig: change_settings(rig, name=name)):
            named = f" The rig is called {name} now; u undoes that."
    try:
        said = editor.document.save(path)
    except SaveError as error:
        editor.say(str(error), "bold red")
        return
    editor.host.redraw()
    editor.say(said + named)
    if then is not None:
        then()


@file("P", "save preset", "Save as a preset, with notes", also="template")
def save_preset(editor: Editor) -> None:
    """A rig that has no name of its own yet is called as its file, or as what is typed."""
    rig, path = editor.session.rig, editor.session.path
    named = rig.name != document.UNNAMED
    fields = (
        Words("name", "Preset's name", True),
        Words("title", "Rig's name", named, empty="" if named else "made of the preset's name", blank=""),
        Words("notes", "Notes", lines=4),
    )
    values = {
        "name": file_name(path.stem if path is not None and not named else rig.name),
        "title": rig.name if named else "",
        "notes": rig.notes,
    }

    def title(given: Mapping[str, Any]) -> str:
        return given["title"] or file_name(given["name"]).replace("-", " ").capitalize()

    def offered(given: Mapping[str, Any]) -> list[Row]:
        return [words(f"Offered as {file_name(given['name'])}: {title(given)}", "dim")]

    def done(given: Mapping[str, Any] | None) -> None:
        if given is None:
            return
        name = file_name(given["name"])
        if (taken := presets.find(name)) is not None:
            mine = taken.origin == "yours"
            told = f"There is a preset {name} of yours already." if mine else f"{name} is a shipped preset."
            answers = [("o", "save over it" if mine else "use yours instead")]
            question = Question(told, answers, editor.glyphs)
            editor.app.push_screen(
                question, lambda a: _write_preset(editor, name, title(given), given) if a == "o" else None
            )
        else:
            _write_preset(editor, name, title(given), given)

    from rackwright.console.widgets.form import Form

    editor.app.push_screen(Form("Save as a preset", fields, values, editor.glyphs, offered), done)


def _write_preset(editor: Editor, name: str, title: str, given: Mapping[str, Any]) -> None:
    """What is typed belongs to the open rig, too, saved where that was; so does a title made of the preset's name, where nobody has named the rig."""
    session = editor.session
    rig, was_saved = session.rig, session.path is not None and not session.unsaved
    own = change_settings(
        rig, name=title if _nameless(session) else given["title"] or None, notes=given["notes"]
    )
    what = "notes" if own.name == rig.name else "name and notes"
    noted = own != rig and editor.make(f"change {what}", lambda _rig: own)
    try:
        said = document.save_preset(change_settings(own, name=title), name)
    except SaveError as error:
        editor.say(str(error), "bold red")
        return
    editor.say(f"{said} The open rig has its {what}, too: s saves it." if noted else said)
    if noted and was_saved:
        save(editor, lambda: editor.say(f"{said} Saved {session.path}, too: it has the same {what}."))


@file("V", "venue", "Apply or save a venue, close a night, look back", also="place house history last time")
def venue(editor: Editor) -> None:
    from rackwright.console.commands.venue import ask_for_venue

    ask_for_venue(editor)


@file(
    "x",
    "papers",
    "Write the crew's papers, such as patch, lines and labels",
    in_show=True,
    also="print pdf sheets labels",
)
def papers(editor: Editor) -> None:
    from rackwright.console.commands.papers import ask_for_papers

    ask_for_papers(editor)


@file(
    "I",
    "spreadsheet",
    "Import or export equipment, stock, lines or readings",
    also="csv xlsx ods xls workbook lengths import export",
)
def spreadsheet(editor: Editor) -> None:
    from rackwright.console.commands.spreadsheets import ask_for_spreadsheet

    ask_for_spreadsheet(editor)


@file("o", "open", "Open another rig or preset, or start a new one", also="load file new start")
def open_another(editor: Editor) -> None:
    _leave(editor, editor.host.open_another)


@file("q", "quit", "Quit; asks first if something is unsaved", in_show=True, also="exit close end")
def leave(editor: Editor) -> None:
    def quit_() -> None:
        editor.document.close()
        editor.app.exit()

    _leave(editor, quit_)


def _leave(editor: Editor, then: Callable[[], None]) -> None:
    """Do `then`, first asking about unsaved work."""
    session, editor.document.given_up = editor.session, False
    if not session.unsaved or session.untouched:
        session.recorder.discard()
        then()
        return
    answers = [
        ("s", "save it"),
        ("k", "leave it unsaved: the next start can recover it"),
        ("d", "discard the changes"),
    ]

    def done(answer: str | None) -> None:
        if answer == "s":
            save(editor, then)
        elif answer == "k":
            then()
        elif answer == "d":
            editor.document.given_up = True
            then()

    editor.app.push_screen(Question("This rig has changes that are not saved.", answers, editor.glyphs), done)
