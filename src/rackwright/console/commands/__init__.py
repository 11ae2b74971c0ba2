"""What the keys of the workplace do, a module for each subject: each function names its key in `keymap.command`."""

from rackwright.console.commands import edits, files, look, panes, show
from rackwright.console.keymap import COMMANDS

__all__ = ["COMMANDS", "edits", "files", "look", "panes", "show"]
