"""The keys that have to do with files: save, save under another name, as a preset; open; differences; quit."""

import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from rackwright.console import document
from rackwright.console.editor import Editor
from rackwright.console.forms.sheets import with_notes
from rackwright.console.widgets.dialog import Picker, Prompt, Question
from rackwright.console.widgets.fields import FieldError, Option, Words
from rackwright.console.widgets.form import Form
from rackwright.store import presets, rig_file
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.toml.read import RigFileError


class Filing:
    """File commands on the rig being worked on."""

    def __init__(self, editor: Editor) -> None:
        self.editor = editor

    @property
    def document(self) -> document.Document:
        """The rig as a file."""
        return self.editor.document

    def save(self, then: Callable[[], None] | None = None) -> None:
        """Save; ask for a name where there is none, and what to do where others wrote the file."""
        session = self.document.session
        if session.path is None:
            self.save_as(then)
        elif session.held_by:
            self.editor.say(session.why_read_only, "yellow")
        elif self.document.changed_by_others:
            self._changed_by_others(then)
        else:
            self._write(None, then)

    def _changed_by_others(self, then: Callable[[], None] | None) -> None:
        path = self.document.session.path
        answers = [
            ("d", "show what differs"),
            ("o", "save over it"),
            ("n", "save this under another name"),
            ("t", "use theirs instead of this; undo brings this back"),
        ]

        def done(answer: str | None) -> None:
            if answer == "d" and path is not None:
                self._show_theirs(path, then)
            elif answer == "o":
                self._write(None, then)
            elif answer == "n":
                self.save_as(then)
            elif answer == "t" and path is not None:
                self._take_theirs(path)

        text = f"{path} was changed by someone else since it was opened here."
        self.editor.app.push_screen(Question(text, answers, self.editor.glyphs), done)

    def _show_theirs(self, path: Path, then: Callable[[], None] | None) -> None:
        from rackwright.console.screens.reading import differences_page

        try:
            theirs = rig_file.load(path)
        except RigFileError as error:
            self.editor.say(str(error), "yellow")
            return
        page = differences_page(
            theirs, self.document.session.rig, "From the file to this rig", self.editor.glyphs
        )
        self.editor.app.push_screen(page, lambda _: self._changed_by_others(then))

    def _take_theirs(self, path: Path) -> None:
        try:
            theirs, read = document.read(path)
        except RigFileError as error:
            self.editor.say(str(error), "yellow")
            return
        if self.editor.make("load the file as others saved it", lambda _: theirs):
            self.document.follows(theirs, read)
            self.editor.host.redraw()

    def save_as(self, then: Callable[[], None] | None = None) -> None:
        """Ask for a name and save."""
        session = self.document.session
        proposed = str(session.path) if session.path else f"{file_name(session.rig.name)}.toml"

        def read(text: str) -> None:
            if not text.strip():
                raise FieldError("Write a file name, such as my-rig.toml")
            if os.path.isdir(os.path.expanduser(text)):
                raise FieldError(f"{text} is a folder: write a file name in it")

        def done(text: str | None) -> None:
            if text is None:
                return
            path = Path(os.path.expanduser(text.strip()))
            path = path if path.suffix else path.with_suffix(".toml")
            if self.document.is_own(path):
                self.save(then)
            elif os.path.exists(path):
                question = Question(f"{path} exists already.", [("o", "save over it")], self.editor.glyphs)
                self.editor.app.push_screen(
                    question, lambda answer: self._write(path, then) if answer == "o" else None
                )
            else:
                self._write(path, then)

        self.editor.app.push_screen(Prompt("Save as", self.editor.glyphs, proposed, read), done)

    def _write(self, path: Path | None, then: Callable[[], None] | None) -> None:
        try:
            said = self.document.save(path)
        except SaveError as error:
            self.editor.say(str(error), "bold red")
            return
        self.editor.host.redraw()
        self.editor.say(said)
        if then is not None:
            then()

    def save_preset(self) -> None:
        """Ask for name and notes, and save as the user's preset."""
        rig = self.document.session.rig
        fields = (
            Words("name", "Preset's name", True),
            Words("title", "Rig's name", True),
            Words("notes", "Venue notes", lines=4),
        )
        values = {"name": file_name(rig.name), "title": rig.name, "notes": rig.notes}

        def done(given: Mapping[str, Any] | None) -> None:
            if given is None:
                return
            name = file_name(given["name"])
            if (taken := presets.find(name)) is not None:
                mine = taken.origin == "yours"
                told = (
                    f"There is a preset {name} of yours already." if mine else f"{name} is a shipped preset."
                )
                answers = [("o", "save over it" if mine else "use yours instead")]
                question = Question(told, answers, self.editor.glyphs)
                self.editor.app.push_screen(
                    question, lambda a: self._write_preset(name, given) if a == "o" else None
                )
            else:
                self._write_preset(name, given)

        self.editor.app.push_screen(Form("Save as a preset", fields, values, self.editor.glyphs), done)

    def _write_preset(self, name: str, given: Mapping[str, Any]) -> None:
        try:
            said = document.save_preset(
                with_notes(self.document.session.rig, given["title"], given["notes"]), name
            )
        except SaveError as error:
            self.editor.say(str(error), "bold red")
            return
        self.editor.say(said)

    def differences(self) -> None:
        """Compare with the saved rig or with a preset."""
        from rackwright.console.screens.reading import differences_page

        session = self.document.session
        options = [Option("saved", "as the file was saved")] if session.saved is not None else []
        found = {preset.name: preset for preset in presets.listed() if not preset.error}
        options += [Option(name, f"preset: {preset.title}") for name, preset in found.items()]

        def done(picked: str | None) -> None:
            if picked is None:
                return
            if picked == "saved" and session.saved is not None:
                before, title = session.saved, "From the saved rig to this"
            else:
                before, title = rig_file.load(found[picked].path), f"From the preset {picked} to this rig"
            self.editor.app.push_screen(differences_page(before, session.rig, title, self.editor.glyphs))

        if len(options) == 1:
            done(options[0].value)
        else:
            self.editor.app.push_screen(Picker("Compare this rig with", options, self.editor.glyphs), done)

    def leave(self, then: Callable[[], None]) -> None:
        """Do `then`, first asking about unsaved work."""
        session, self.document.given_up = self.document.session, False
        if not session.unsaved or session.untouched:
            session.recorder.discard()
            then()
            return
        answers = [
            ("s", "save it"),
            ("k", "quit without saving: the next start offers to recover it"),
            ("d", "discard the changes"),
        ]

        def done(answer: str | None) -> None:
            if answer == "s":
                self.save(then)
            elif answer == "k":
                then()
            elif answer == "d":
                self.document.given_up = True
                then()

        self.editor.app.push_screen(
            Question("This rig has changes that are not saved.", answers, self.editor.glyphs), done
        )


def file_name(words: str) -> str:
    """A name fit for a file: letters, digits and - in place of anything else."""
    kept = "".join(c if c.isalnum() else "-" for c in words.strip().lower())
    return "-".join(part for part in kept.split("-") if part) or "rig"
