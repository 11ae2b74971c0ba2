"""The lists of equipment: the user's own library, and what the rig carries.

The library is written entry by entry as each form is applied. What the rig carries is edited as the rig is, with undo;
a rig keeps its own copy of every entry, so that a change in the library does not change a rig behind the crew's back.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from msgspec.structs import replace

from rackwright.console.editor import Editor
from rackwright.console.forms.equipment_sheets import sentences, sheet
from rackwright.console.forms.purpose import searched
from rackwright.console.forms.sheet import Sheet
from rackwright.console.keymap import Command
from rackwright.console.rows import tables as view
from rackwright.console.rows.row import Row, words
from rackwright.console.rows.tables import MINE, Known
from rackwright.console.screens.equipment_form import EquipmentForm, free_name
from rackwright.console.screens.table import (
    BACK,
    DUPLICATE,
    EDIT,
    HELP,
    REDO,
    REMOVE,
    UNDO,
    RigTable,
    bindings,
    editing,
    under_lock,
)
from rackwright.console.widgets.dialog import Picker, Question
from rackwright.console.widgets.fields import FieldError, Option
from rackwright.model import edits
from rackwright.model.equipment import EQUIPMENT_KINDS, Equipment, EquipmentEntry, equipment_kind, noun
from rackwright.model.index import equipment_uses
from rackwright.model.rig import Rig
from rackwright.store import library_edits
from rackwright.store.library import breaches, built_in, user_library
from rackwright.store.library_edits import RigFileError, SaveError
from rackwright.store.rig_file import told_aside
from rackwright.units.printable import INSTEAD, lacking

NEW = Command("a", "add", "new", "Add an entry of this kind, from a data sheet", "Table")
COPY = DUPLICATE._replace(help="Add an entry, starting from this one")
ENTRY = EDIT._replace(help="Edit your own entry; of any other, a copy for your library")
DELETE = REMOVE._replace(help="Remove an entry of your own")
TAKE = editing("a", "add", "from library", "Copy an entry from the library, replacing the rig's of that id")
KEEP = Command("m", "keep", "to my library", "Write this entry into my library", "Table", in_show=True)
UNUSED = REMOVE._replace(help="Remove an entry that nothing of the rig uses")


class EntryTable(RigTable):
    """What the two lists share: finding the entry under the cursor, writing the library."""

    def __init__(self, title: str, editor: Editor) -> None:
        super().__init__(title, editor)
        self.own = Equipment()
        self.trouble = ""
        self.read_own()

    def read_own(self) -> None:
        """Read the user's entries; where they can't be read, say so and go on without."""
        try:
            self.own, self.trouble = user_library(), ""
        except RigFileError as error:
            self.own, self.trouble = Equipment(), _briefly(error)

    def on_mount(self) -> None:
        self.say(self.trouble, "yellow")

    def known(self) -> list[Known]:
        """All that is listed."""
        raise NotImplementedError

    def here(self) -> Known | None:
        """The entry under the cursor."""
        return next((item for item in self.known() if item.place == self.place), None)

    def write(self, write: Callable[[], Path | None], done: str) -> str:
        """Write the library, take it into use and say it is `done`; what stood in the way, empty where nothing did."""
        try:
            aside = write()
        except SaveError as error:
            return str(error)
        except RigFileError as error:
            return f"Nothing was written. {_briefly(error)}"
        self.read_own()
        self.editor.own = self.own
        self.say(f"{done} {told_aside(aside)}".rstrip())
        self.redraw()
        return ""

    def whole(self) -> Equipment:
        """Every entry there is, for the connectors to choose from."""
        return self.session.rig.equipment.over(self.own.over(built_in()))


class Library(EntryTable):
    """The user's own library over the built-in catalogue."""

    KEYS = under_lock(ENTRY, NEW, COPY, DELETE, BACK, HELP)
    BINDINGS = bindings(KEYS)

    def __init__(self, editor: Editor) -> None:
        super().__init__("My equipment library", editor)

    def known(self) -> list[Known]:
        """The user's entries, the built-in ones, those that only the rig has."""
        return view.in_library(self.own, built_in(), self.session.rig.equipment)

    def rows(self, width: int) -> Sequence[Row]:
        return view.equipment(self.known(), width, self.glyphs)

    def action_edit(self) -> None:
        """Edit one's own entry, or a copy of another."""
        item = self.here()
        if item is None:
            return
        if item.origin == MINE:
            self._ask(f"{noun(item.kind).capitalize()} {item.entry.id}", item.kind, item.entry, item.entry.id)
        else:
            self.action_duplicate()

    @property
    def offered(self) -> list[Command]:
        """It says which kind `a` adds, and offers to remove only what is the user's own."""
        here = self.here()
        return [
            each._replace(label=f"new {noun(self._kind)}") if each.key == NEW.key else each
            for each in self.KEYS
            if each.key != DELETE.key or (here and here.origin == MINE)
        ]

    @property
    def _kind(self) -> str:
        """The kind of what the cursor is on."""
        return self.place.partition(" ")[0] or next(iter(EQUIPMENT_KINDS))

    def action_add(self) -> None:
        """One of the kind that the cursor is on."""
        self._ask(f"New {noun(self._kind)}", self._kind, None)

    def action_duplicate(self) -> None:
        """A form with a copy under an id of its own."""
        item = self.here()
        if item is None:
            return
        taken = {known.entry.id for known in self.known() if known.kind == item.kind}
        wanted = f"{item.entry.id}-mine"
        name = free_name(taken, item.entry.id) if item.origin == MINE or wanted in taken else wanted
        self._ask(f"New {noun(item.kind)}, as {item.entry.id}", item.kind, _called(item.entry, name))

    def action_remove(self) -> None:
        item = self.here()
        if item is None:
            return
        name = item.entry.id
        if item.origin != MINE:
            self.say(f"{name} is {item.origin}: only entries of your own can be removed here.", "yellow")
            return

        def done(answer: str | None) -> None:
            if answer == "y":
                trouble = self.write(
                    lambda: library_edits.remove_entry(item.kind, name), f"{name} is removed."
                )
                if trouble:
                    self.say(trouble, "yellow")

        question = f"{name} is in your library. Rigs that use it keep their copy."
        self.app.push_screen(Question(question, [("y", f"remove {name}")], self.glyphs), done)

    def _ask(self, title: str, kind: str, entry: EquipmentEntry | None, former: str = "") -> None:
        """The form of an entry; applied, it is saved, in the place of the one called `former`."""
        form = sheet(kind, entry, self.whole())

        def consequence(values: Mapping[str, Any]) -> Sequence[Row]:
            built = form.build(values)
            self._refuse(kind, built, former)
            told = lacking([f"{built.id} {built.name}"])
            return [
                words(_takes_the_place(kind, built.id), "dim"),
                *(words(line, "warn") for line in (told, INSTEAD) if told),
            ]

        def save(values: Mapping[str, Any]) -> str:
            built = form.build(values)
            self.place = view.place_of(kind, built.id, MINE)
            return self.write(
                lambda: library_edits.save_entry(built, former), f"{built.id} is saved in your library."
            )

        self.app.push_screen(EquipmentForm(title, form, self.session, self.glyphs, consequence, save))

    def _refuse(self, kind: str, entry: EquipmentEntry, former: str) -> None:
        """Raise FieldError where the library could not stand with that entry."""
        if entry.id != former and any(known.id == entry.id for known in getattr(self.own, kind)):
            raise FieldError(f'You have {_a(noun(kind))} "{entry.id}" already. Give this one another id.')
        changed = library_edits.with_entry(self.own, entry, former)
        if problems := breaches(changed, built_in()):
            raise FieldError(sentences(problems))


def _takes_the_place(kind: str, name: str) -> str:
    if any(entry.id == name for entry in getattr(built_in(), kind)):
        return "It overrides the built-in entry of that id."
    return ""


def _called(entry: Any, name: str) -> Any:
    return replace(entry, id=name)


def _a(thing: str) -> str:
    return f"an {thing}" if thing[0] in "aeiou" else f"a {thing}"


def _briefly(error: RigFileError) -> str:
    """The first of the problems of a file."""
    first, _, rest = str(error).partition("\n\n")
    return f"{first} And {rest.count(chr(10) * 2) + 1} more." if rest else first


class RigEquipment(EntryTable):
    """What the rig carries: data used in the calculation."""

    KEYS = (EDIT, TAKE, KEEP, UNUSED, BACK, UNDO, REDO, HELP)
    BINDINGS = bindings(KEYS)

    def __init__(self, editor: Editor) -> None:
        super().__init__(f"Equipment of {editor.session.rig.title}", editor)

    def known(self) -> list[Known]:
        """What the rig carries, each as it compares with the library."""
        return view.in_rig(self.session.rig.equipment, self.own, built_in())

    @property
    def offered(self) -> list[Command]:
        """It offers to remove only what nothing of the rig uses."""
        here = self.here()
        used = {(kind, name) for kind, name, _ in equipment_uses(self.session.rig)}
        return [
            each
            for each in super().offered
            if each != UNUSED or (here and (here.kind, here.entry.id) not in used)
        ]

    def rows(self, width: int) -> Sequence[Row]:
        rig = self.session.rig
        playing = replace(rig, spares=(), stock=(), equipment=Equipment())
        used = Counter((kind, name) for kind, name, _ in equipment_uses(playing))
        models = {model.id: model for model in rig.equipment.loudspeakers}
        used.update(("connectors", models[cabinet.model].connector) for cabinet in rig.cabinets)
        spare: Counter[tuple[str, str]] = Counter()
        for each in rig.spares:
            spare["cables" if each.cable else "amplifiers", each.cable or each.amplifier] += each.count
        return view.equipment(self.known(), width, self.glyphs, used, spare)

    def action_edit(self) -> None:
        """Edit the rig's copy; all that uses it changes with it."""
        item = self.here()
        if item is None or self.editor.locked():
            return
        form = sheet(item.kind, item.entry, self.whole())
        name = item.entry.id

        def make(rig: Rig, values: Mapping[str, Any]) -> Rig:
            return self.editor.options.carried(rig, form.build({**values, "id": name}))

        title, fields = f"{noun(item.kind).capitalize()} {name} of this rig", form.fields[1:]
        asked = Sheet(title, f"edit {name}", fields, form.values, make, lambda _values: item.place)
        self.open_sheet(asked)

    def form_of(self, sheet: Sheet) -> EquipmentForm:
        """An equipment form, which tells what findings its values would bring."""
        from rackwright.console.forms.fields import PartSheet

        asked = PartSheet(tuple(sheet.fields), sheet.values, lambda values: values)
        return EquipmentForm(sheet.title, asked, self.session, self.glyphs, self.editor.foresee(sheet))

    def action_add(self) -> None:
        if self.editor.locked():
            return
        library = self.own.over(built_in())
        offered = {
            f"{noun(kind)} {entry.id}": entry for kind in EQUIPMENT_KINDS for entry in getattr(library, kind)
        }

        def picked(value: str | None) -> None:
            if value is not None:
                entry = offered[value]
                place = view.place_of(equipment_kind(entry), entry.id)
                self.make(
                    f"copy {entry.id} from the library",
                    lambda rig: self.editor.options.carried(rig, entry),
                    place,
                )

        options = [Option(value, view.described(entry), searched(entry)) for value, entry in offered.items()]
        self.app.push_screen(Picker("Copy what from the library?", options, self.glyphs), picked)

    def action_keep(self) -> None:
        """Write the rig's entry into the library; where that has one of the id, ask."""
        item = self.here()
        if item is None:
            return

        name = item.entry.id

        def write(answer: str | None) -> None:
            if answer == "y":
                trouble = self.write(
                    lambda: library_edits.save_entry(item.entry), f"{name} is saved in your library."
                )
                if trouble:
                    self.say(trouble, "yellow")

        if all(known.id != name for known in getattr(self.own, item.kind)):
            write("y")
            return
        question = f"Your library has {_a(noun(item.kind))} {name}."
        self.app.push_screen(Question(question, [("y", "replace it by the rig's")], self.glyphs), write)

    def action_remove(self) -> None:
        """Remove an entry that nothing uses; of another, tell what does."""
        item = self.here()
        if item is None or self.editor.locked():
            return
        self.make(
            f"remove {item.entry.id}", lambda rig: edits.without_equipment(rig, item.kind, item.entry.id)
        )
