"""The keys that go from pane to pane, and those that find a key."""

from functools import partial

from rackwright.console import keymap
from rackwright.console.editor import Editor
from rackwright.console.keymap import command
from rackwright.console.widgets.fields import Option

go = partial(command, "Move", in_show=True)
tell = partial(command, "Help", in_show=True)


@go("tab", "next pane", "Go to the next pane")
def next_pane(editor: Editor) -> None:
    editor.host.bring_forward((editor.host.front + 1) % 3)


@go("shift+tab", "", "Go to the previous pane")
def previous_pane(editor: Editor) -> None:
    editor.host.bring_forward((editor.host.front - 1) % 3)


@go("1", "", "Racks")
def racks(editor: Editor) -> None:
    editor.host.bring_forward(0)


@go("2", "", "Lines")
def lines(editor: Editor) -> None:
    editor.host.bring_forward(1)


@go("3", "", "Results")
def results(editor: Editor) -> None:
    editor.host.bring_forward(2)


@tell("question_mark", "help", "Show every key", shown_key="?", also="keys shortcuts manual")
def help_(editor: Editor) -> None:
    from rackwright.console.screens.pages import help_page

    editor.app.push_screen(help_page(editor.glyphs))


@tell("ctrl+p", "", "Find a command by name", also="command search")
def palette(editor: Editor) -> None:
    """Those found by name before stand first."""
    acting = {c.help: c for c in keymap.acting(editor.session)}
    recent = [c for name in editor.recent for c in acting.values() if c.action == name]
    options = [Option(c.help, c.key_words, c.also) for c in dict.fromkeys((*recent, *acting.values()))]

    def picked(told: str) -> None:
        command = acting[told]
        editor.recent = [command.action, *(each for each in editor.recent if each != command.action)]
        editor.do(command)

    editor.pick("Command", options, picked)
