"""Asking for the name of a file, and before one that is there is written over. Knows nothing of what it holds."""

import os
from collections.abc import Callable
from pathlib import Path

from rackwright.console.editor import Editor
from rackwright.console.widgets.dialog import Prompt, Question
from rackwright.console.widgets.fields import FieldError


def ask_for_file(
    editor: Editor,
    title: str,
    then: Callable[[Path], None],
    example: str,
    proposed: str = "",
    read: Callable[[Path], None] = lambda _path: None,
) -> None:
    """Ask for the name of a file, no folder, `~` standing for the user's own; then do `then` with it.

    `read` raises FieldError where the file won't do.
    """

    def path_of(text: str) -> Path:
        return Path(os.path.expanduser(text.strip()))

    def checked(text: str) -> None:
        if not text.strip():
            raise FieldError(f"Write a file name, such as {example}")
        if os.path.isdir(path_of(text)):
            raise FieldError(f"{text} is a folder: write a file name in it")
        read(path_of(text))

    def done(text: str | None) -> None:
        if text is not None:
            then(path_of(text))

    hint = "" if proposed else f"such as {example}, with its path if in another folder"
    editor.app.push_screen(Prompt(title, editor.glyphs, proposed, checked, hint), done)


def unless_there(editor: Editor, path: Path, write: Callable[[], None]) -> None:
    """Do `write`; where the file is there, only once it is said that it is to be written over."""
    if not os.path.exists(path):
        write()
        return
    question = Question(f"{path} exists already.", [("o", "save over it")], editor.glyphs)
    editor.app.push_screen(question, lambda answer: write() if answer == "o" else None)
