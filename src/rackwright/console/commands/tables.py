"""The key that opens a table: feeds, mains, settings, equipment, spares, stock."""

from rackwright.console.editor import Editor
from rackwright.console.forms import settings
from rackwright.console.widgets.fields import Option

TABLES = (
    Option("Feeds", "bands, polarities, limiters"),
    Option("Mains", "intake, boards, circuits, loads"),
    Option("Settings", "name, notes, supply, targets"),
    Option("Equipment of this rig", "data used in the calculation"),
    Option("My equipment library", "make new models here, yours for every rig"),
    Option("Spares", "spare cables and amplifiers, for a failure"),
    Option("Stock", "cables that the company owns, for the pull list"),
    Option("Times", "what the crew takes for a mute, a plug, a walk"),
)
"""What `open_table` opens."""


def open_table(editor: Editor, name: str) -> None:
    """Open the table, or the form, of that name in TABLES."""
    from rackwright.console.screens.table import FeedTable, OwnedStock, Spares

    match name:
        case "Feeds":
            editor.app.push_screen(FeedTable(editor))
        case "Mains":
            from rackwright.console.screens.mains import MainsTree

            editor.app.push_screen(MainsTree(editor))
        case "Spares":
            editor.app.push_screen(Spares(editor))
        case "Stock":
            editor.app.push_screen(OwnedStock(editor))
        case "Settings":
            editor.open_sheet(settings.settings(editor.options))
        case "Times":
            editor.open_sheet(settings.times(editor.options))
        case _:
            from rackwright.console.screens.equipment import Library, RigEquipment

            editor.app.push_screen((Library if name.startswith("My") else RigEquipment)(editor))
