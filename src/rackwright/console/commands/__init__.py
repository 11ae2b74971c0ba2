"""What the keys of the workplace do, a module for each subject: each function names its key in `keymap.command`."""

from rackwright.console.commands import choosing, edits, files, look, panes, show
from rackwright.console.keymap import COMMANDS

__all__ = ["COMMANDS", "choosing", "edits", "files", "look", "panes", "show"]
