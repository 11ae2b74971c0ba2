"""The key that compares: which rig with, its file, any other, a preset, what it was before tonight's failures, a moment of the undo list."""

from collections.abc import Callable
from pathlib import Path

from rackwright.console.commands.file_names import ask_for_file
from rackwright.console.editor import Editor
from rackwright.console.screens.comparison import show
from rackwright.console.screens.history import Moments
from rackwright.console.widgets.fields import FieldError, Option
from rackwright.engine import recovery
from rackwright.model.rig import Rig
from rackwright.store import presets, recent, rig_file
from rackwright.store.toml.read import RigFileError


def ask(editor: Editor) -> None:
    """Have the other rig picked, and show what differs."""
    session = editor.session
    others: dict[str, tuple[str, str, Callable[[], Rig]]] = {}
    if (saved := session.saved) is not None:
        others["saved"] = "as the file was saved", "the saved rig", lambda: saved
    if recovery.under_way(session.rig):
        others["tonight"] = (
            "as it was before tonight's failures",
            "before tonight",
            lambda: recovery.baseline(session.rig),
        )
    if session.history.begun:
        others["moment"] = "a moment of the undo list", "", lambda: session.rig
    for preset in presets.listed():
        if not preset.error:
            others.setdefault(
                preset.name, (f"preset: {preset.title}", f"preset {preset.name}", _loading(preset.path))
            )
    for item in recent.recent():
        if not item.missing and not editor.document.is_own(item.path):
            others.setdefault(str(item.path), (item.name, item.path.name, _loading(item.path)))
    others["file"] = "another file, by its name", "", lambda: session.rig

    def picked(name: str) -> None:
        if name == "moment":
            editor.app.push_screen(Moments(editor))
        elif name == "file":
            _ask_for_file(editor)
        else:
            _, called, load = others[name]
            try:
                rig = load()
            except RigFileError as error:
                editor.say(error.first, "yellow")
                return
            show(editor, rig, called)

    editor.pick("Compare this rig with", [Option(name, told) for name, (told, *_) in others.items()], picked)


def _loading(path: Path) -> Callable[[], Rig]:
    return lambda: rig_file.load(path)


def _ask_for_file(editor: Editor) -> None:
    found: list[Rig] = []

    def read(path: Path) -> None:
        try:
            found[:] = [rig_file.load(path)]
        except RigFileError as error:
            raise FieldError(error.first) from None

    title = "Compare this rig with the file"
    ask_for_file(editor, title, lambda path: show(editor, found[0], path.name), "friday.toml", read=read)
