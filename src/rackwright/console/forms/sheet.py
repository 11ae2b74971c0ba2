"""What a sheet is: the content of a form."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from rackwright.console.widgets.fields import Field, Values
from rackwright.model.rig import Rig


class Sheet(NamedTuple):
    """A form's content: its title, fields, values now, and the edit that new values make."""

    title: str
    label: str
    """What undo calls the edit."""
    fields: Sequence[Field]
    values: Mapping[str, Any]
    make: Callable[[Rig, Values], Rig]
    """Raises EditError."""
    leads_to: Callable[[Values], str]
    """The place to select afterwards."""
    begin: str = ""
    """The field most likely to be changed of what is there; the first where empty, as for all that is new."""
    tells: Callable[[Rig], str] = lambda _edited: ""
    """What to say of the rig that the edit makes, where the fields don't show it."""
    adds: bool = False
    """Whether it makes something new, which is shown where it stands."""

    def called(self, given: Values) -> str:
        """What undo calls the edit that these values make."""
        return f"{self.label} {given['id']}" if self.adds and "id" in given else self.label
