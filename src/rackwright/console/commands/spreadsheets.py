"""The key for spreadsheets: import equipment, stock, lines or readings, seen before it is done; export any of them.

What a spreadsheet holds is `store.spreadsheet`'s to say; it is read beside the screen, for a workbook takes its time.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from textual.binding import Binding

from rackwright.console.background import begin
from rackwright.console.commands.file_names import ask_for_file, unless_there
from rackwright.console.document import file_name
from rackwright.console.editor import Editor
from rackwright.console.rows.row import Row, heading, words
from rackwright.console.screens.pages import FlowingPage
from rackwright.console.widgets.fields import Option
from rackwright.model.diff import difference
from rackwright.model.equipment import Equipment
from rackwright.model.rig import Rig
from rackwright.store.library import user_library
from rackwright.store.rig_file import RigFileError, SaveError
from rackwright.store.spreadsheet.cells import CsvError, WorksheetError
from rackwright.store.spreadsheet.sheet import (
    KINDS,
    READINGS,
    KindError,
    Sheet,
    assumed,
    into_own,
    unprinted,
)
from rackwright.units.text_table import wrap

if TYPE_CHECKING:
    from rackwright.papers.imported import Imported
    from rackwright.store.spreadsheet.columns import Column

IMPORT, EXPORT = "Import a spreadsheet", "Export a spreadsheet"
CHOICES = (
    Option(IMPORT, "CSV or workbook: equipment, stock, lines, readings"),
    Option(EXPORT, "CSV, to change there and import again"),
)
MOST_TROUBLES = 200


class Foreseen(FlowingPage):
    """What an import would bring, or what is wrong. Gives `rig` or `own`, where to take it; nothing where it is left."""

    BINDINGS = [
        Binding("enter", "take('rig')", "import into this rig", priority=True),
        Binding("l", "take('own')", show=False),
    ]
    lists = False
    """Whether the user's own lists can take it too."""

    def action_take(self, where: str) -> None:
        if where == "rig" or self.lists:
            self.dismiss(where)


def ask_for_spreadsheet(editor: Editor) -> None:
    """Ask which of the two, and do it."""
    editor.pick(
        "Spreadsheet", CHOICES, lambda picked: (_ask_to_import if picked == IMPORT else _pick_export)(editor)
    )


# --- importing ------------------------------------------------------------------------------------------


def _ask_to_import(editor: Editor) -> None:
    ask_for_file(editor, "Import which file?", lambda path: _read(editor, str(path)), "lengths.xlsx")


def _read(editor: Editor, file: str, kind: str = "", worksheet: str = "") -> None:
    rig, known = editor.session.rig, editor.options.known
    editor.say(f"Reading {file} …")
    begin(
        editor.app,
        "reading a spreadsheet",
        lambda: _imported(rig, known, file, kind, worksheet),
        lambda taken: _seen(editor, file, kind, worksheet, taken),
        lambda said: editor.say(said, "bold red"),
    )


def _imported(rig: Rig, known: Equipment, file: str, kind: str, worksheet: str) -> "Imported | CsvError":
    from rackwright.papers.imported import imported

    try:
        return imported(rig, known, file, kind, worksheet)
    except CsvError as error:
        return error


def _seen(editor: Editor, file: str, kind: str, worksheet: str, taken: "Imported | CsvError") -> None:
    """Show what was read; ask for what is open."""
    editor.say("")
    if isinstance(taken, WorksheetError):
        options = tuple(map(Option, taken.worksheets))
        editor.pick("Read which worksheet?", options, lambda name: _read(editor, file, kind, name))
    elif isinstance(taken, KindError):
        editor.pick(
            "What does it hold?",
            tuple(map(Option, KINDS)),
            lambda picked: _read(editor, file, picked, worksheet),
        )
    elif isinstance(taken, CsvError):
        _refused(editor, str(taken).splitlines())
    elif taken.sheet.wrong:
        _refused(
            editor,
            [f"{file} can't be used, so nothing was taken from it:", *taken.sheet.wrong[:MOST_TROUBLES]],
        )
    else:
        _offer(editor, file, taken)


def _refused(editor: Editor, told: Sequence[str]) -> None:
    page = FlowingPage("Nothing is imported", lambda width: _sentences(told, width), editor.glyphs)
    editor.app.push_screen(page)


def _sentences(told: Sequence[str], width: int) -> list[Row]:
    return [words(line) for each in told for line in wrap(each, width, "  ")]


def _offer(editor: Editor, file: str, taken: "Imported") -> None:
    """Show what it would bring, and bring it where that is wanted."""
    page = Foreseen(f"Import {taken.sheet.kind}", lambda width: _rows(taken, width), editor.glyphs)
    page.lists = not isinstance(taken.sheet.entries, Rig) and taken.sheet.kind != READINGS
    own = ("l import into my lists",) if page.lists else ()
    page.HINT = ("enter import into this rig", *own, "esc close")

    def done(where: str | None) -> None:
        if where == "own":
            _into_own(editor, taken.sheet)
        elif where == "rig" and not editor.locked():
            label = f"import {taken.sheet.kind} of {Path(file).name}"
            if editor.make(label, taken.edit):
                editor.say(f"Imported {taken.sheet.kind}. Press u to undo.")

    editor.app.push_screen(page, done)


def _rows(taken: "Imported", width: int) -> list[Row]:
    used = [column for column in taken.sheet.columns if column.key]
    unused = [column.head for column in taken.sheet.columns if column.head and not column.key]
    changes = [str(change) for change in difference(taken.before, taken.after)]
    rows = _sentences((*taken.notes, *assumed(taken.sheet)), width)
    if told := unprinted(taken.sheet):
        rows += [words(line, "warn") for line in wrap(told, width, "  ")]
    if used:
        rows += [
            *([words("")] if rows else []),
            heading("Columns"),
            *_sentences([", ".join(map(_meant, used))], width),
        ]
    if unused:
        rows += _sentences([f"Not used: {', '.join(unused)}."], width)
    none = ["None: the rig has all of it already."]
    return [*rows, words(""), heading("What changes in this rig"), *_sentences(changes or none, width)]


def _meant(column: "Column") -> str:
    """A column by its head, and what it is taken for where that says something else."""
    key = column.key.replace("_", " ")
    return column.head if column.head.lower() == key else f"{column.head} as {key}"


def _into_own(editor: Editor, sheet: Sheet) -> None:
    """Write it into the user's own lists, have forms offer it, and say so."""
    try:
        told = into_own(sheet)
        editor.own = user_library()
    except (RigFileError, SaveError) as error:
        editor.say(str(error).partition("\n\n")[0], "bold red")
    else:
        editor.say(told)


# --- exporting ------------------------------------------------------------------------------------------


def _pick_export(editor: Editor) -> None:
    editor.pick("Export what?", tuple(map(Option, KINDS)), lambda kind: _ask_to_export(editor, kind))


def _ask_to_export(editor: Editor, kind: str) -> None:
    session = editor.session
    beside = session.path.parent if session.path else Path()
    proposed = str(beside / f"{file_name(session.rig.name)}-{kind}.csv")

    def named(path: Path) -> None:
        unless_there(editor, path, lambda: _write(editor, kind, path))

    ask_for_file(editor, f"Export {kind} to", named, f"{kind}.csv", proposed)


def _write(editor: Editor, kind: str, path: Path) -> None:
    from rackwright.papers.readings import exported
    from rackwright.store.safe import atomic_write
    from rackwright.store.stock import own_stock

    rig = editor.session.rig
    try:
        stock = rig.stock or (own_stock(rig.equipment) if kind == "stock" else ())
        atomic_write.write(path, exported(kind, rig.equipment, stock, rig).encode())
    except (RigFileError, SaveError) as error:
        editor.say(str(error).partition("\n\n")[0], "bold red")
        return
    editor.say(f"Wrote {kind} to {path}.")
