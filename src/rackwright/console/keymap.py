"""Every key of the console in one table: the footer, the help screen and the command palette are made from it."""

from typing import NamedTuple

ANY: frozenset[str] = frozenset()


class Command(NamedTuple):
    """A command: its key, the action it calls, and its words."""

    key: str
    action: str
    label: str
    """In the footer: a word or two."""
    help: str
    group: str
    kinds: frozenset[str] = ANY
    """What must be selected for it to act; anything where empty."""
    in_show: bool = False
    """Whether it acts under the edit lock."""
    shown_key: str = ""

    @property
    def key_words(self) -> str:
        """How the key is written for a person."""
        return self.shown_key or self.key


def _kinds(*names: str) -> frozenset[str]:
    return frozenset(names)


THINGS = _kinds("rack", "amplifier", "socket", "line", "cabinet", "feed", "circuit")
EDITABLE = THINGS | _kinds("channel", "pole", "section", "rig")

COMMANDS: tuple[Command, ...] = (
    Command("enter", "edit", "edit", "Edit what is selected, in a form", "Build", EDITABLE),
    Command("a", "add", "add", "Add a rack, amplifier, line, cabinet, feed …", "Build"),
    Command("u", "undo", "undo", "Undo the last edit", "Build", in_show=True),
    Command("d", "duplicate", "duplicate", "Duplicate it, a rack whole, a cabinet with its line", "Build", THINGS),
    Command("delete", "remove", "remove", "Remove it; lists what depends on it first", "Build", THINGS, shown_key="del"),
    Command("m", "move", "move", "Move an amplifier to another unit or rack by arrows", "Build", _kinds("amplifier")),
    Command("p", "patch", "patch", "Patch a pole pair to a channel, or the reverse", "Build", _kinds("pole", "channel", "socket")),
    Command("r", "reverse", "reverse", "Reverse the polarity of a pole pair", "Build", _kinds("pole")),
    Command("c", "connect", "connect", "Connect a line from here: pick both ends", "Build", _kinds("socket", "pole", "cabinet", "line", "section")),
    Command("space", "choose", "choose", "Choose several for one edit", "Build", EDITABLE - {"rig"}),
    Command("e", "edit_chosen", "edit all", "Edit all chosen at once: feed, cable, length …", "Build"),
    Command("ctrl+v", "paste_hint", "", "Paste lengths: one for all chosen, or one a line", "Build", shown_key="paste"),
    Command("t", "tables", "tables", "Tables: feeds, circuits, spares, stock, equipment", "Build"),
    Command("U", "redo", "redo", "Redo", "Build", in_show=True),
    Command("v", "findings", "findings", "List every finding; enter jumps to its place", "Look", in_show=True),
    Command("w", "why", "why", "Show the working of a figure", "Look", in_show=True),
    Command("g", "graph", "graph", "Plot impedance and level over frequency", "Look", in_show=True),
    Command("k", "compare", "compare", "Compare: show each figure as before → now, or stop", "Look", in_show=True),
    Command("i", "meter_check", "meter", "Check the lines with a meter, see which faults fit", "Look", in_show=True),
    Command("equals_sign", "differences", "differences", "List what differs from the saved rig", "Look", in_show=True, shown_key="="),
    Command("slash", "find", "find", "Go to a thing by its id", "Look", in_show=True, shown_key="/"),
    Command("f", "fail", "fail", "Mark it failed and see the plans; or mark it working", "Show", _kinds("channel", "amplifier", "rack", "circuit"), in_show=True),
    Command("R", "recover", "recover", "Plans for a failure, the list of one taken, the return", "Show", in_show=True),
    Command("L", "edit_lock", "lock", "Lock the rig against edits during the show, or unlock", "Show", in_show=True),
    Command("s", "save", "save", "Save", "File"),
    Command("S", "save_as", "save as", "Save under another name", "File"),
    Command("P", "save_preset", "save preset", "Save as a preset, with notes", "File"),
    Command("V", "venue", "venue", "Apply a venue to the rig, or save this venue", "File"),
    Command("x", "papers", "papers", "Write the crew's papers: patch, lines, labels …", "File", in_show=True),
    Command("o", "open", "open", "Open another rig or preset, or start a new one", "File"),
    Command("tab", "next_pane", "next pane", "Go to the next pane", "Move", in_show=True),
    Command("shift+tab", "previous_pane", "", "Go to the previous pane", "Move", in_show=True),
    Command("1", "pane(0)", "", "Racks", "Move", in_show=True),
    Command("2", "pane(1)", "", "Lines", "Move", in_show=True),
    Command("3", "pane(2)", "", "Results", "Move", in_show=True),
    Command("question_mark", "help", "help", "Show every key", "Help", in_show=True, shown_key="?"),
    Command("ctrl+p", "command_palette", "", "Find a command by name", "Help", in_show=True),
    Command("escape", "whole_rig", "", "Show the figures of the whole rig", "Look", in_show=True, shown_key="esc"),
    Command("q", "leave", "quit", "Quit; asks first if something is unsaved", "File", in_show=True),
)  # fmt: skip

MOVES = (
    ("up, down", "Move in a pane"),
    ("home, end", "First, last"),
    ("page up, page down", "A page at a time"),
    ("ctrl+l", "Redraw the screen"),
)
"""Keys that every pane knows and no command stands behind."""

SIGNS = (
    ("4 Ω +0.5 dB", "A channel's load; full power over the rating"),
    ("967 W −0.2 dB", "Full power at a section; loss in the cable"),
    ("D 42", "Damping factor of a section"),
    ("███░░░", "How close a figure is to its limit: full = at the limit"),
    ("P1 60%", "Loading: programme current over the breaker rating"),
)
"""What the short figures on the panes are."""


def acting(kind: str, edit_locked: bool, failed: bool = False) -> list[Command]:
    """The commands that act on a selection of that kind; those for a failure first under the edit lock, and on a failure."""
    found = [c for c in COMMANDS if (not c.kinds or kind in c.kinds) and (c.in_show or not edit_locked)]
    return sorted(found, key=lambda c: c.group != "Show") if edit_locked or failed else found
