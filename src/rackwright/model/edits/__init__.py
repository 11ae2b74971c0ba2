"""Edits: pure functions from a rig to a rig.

What an edit does not touch is shared with the rig it came from, and an edit that changes nothing returns the very
rig it was given. No edit breaks a rule of `rules.check` that its rig kept: it raises EditError with that rule's
words instead. Holds no undo and no clipboard (a caller keeps the values it wants back) and judges nothing
electrical: an overfull rack or an overload is a finding, the engine's to say.
"""

from rackwright.model.edits.check import refuse_new_breach, unchecked
from rackwright.model.edits.copies import (
    duplicate,
    duplicate_all,
    duplicate_times,
    next_circuit,
    next_free_sockets,
    next_free_unit,
    next_id,
    poles_for_new,
    working,
)
from rackwright.model.edits.edits import (
    add,
    change,
    change_settings,
    move_amplifier,
    move_amplifiers,
    note_reading,
    patch,
    remove,
    remove_all,
    units_from,
    with_equipment,
    without_equipment,
)
from rackwright.model.edits.references import Dependent, InUse, dependents
from rackwright.model.edits.sharing import EditError, things
from rackwright.model.edits.sides import on_side_of, side_told, to_other_side

__all__ = [
    "Dependent",
    "EditError",
    "InUse",
    "add",
    "change",
    "change_settings",
    "dependents",
    "duplicate",
    "duplicate_all",
    "duplicate_times",
    "move_amplifier",
    "move_amplifiers",
    "next_circuit",
    "next_free_sockets",
    "next_free_unit",
    "next_id",
    "note_reading",
    "on_side_of",
    "patch",
    "poles_for_new",
    "refuse_new_breach",
    "remove",
    "remove_all",
    "side_told",
    "things",
    "to_other_side",
    "unchecked",
    "units_from",
    "with_equipment",
    "without_equipment",
    "working",
]
