"""One form for several things of a kind: the fields they can share, a field left empty staying as it is."""

from collections.abc import Sequence
from typing import Any

from msgspec.structs import replace

from rackwright.console.forms.sheets import Sheet, Sheets
from rackwright.console.widgets.fields import Choice, Field, Option, Values
from rackwright.model import edits
from rackwright.model.fields import referring
from rackwright.model.rig import Amplifier, Cabinet, Channel, Circuit, Feed, Line, Rack, Rig, Socket

SHARED = {
    "line": ("cable", "length", "cores_per_pole"),
    "channel": ("feed", "trim", "state", "input_state"),
    "cabinet": ("model", "wiring", "priority", "position", "side", "depth", "role", "access"),
    "amplifier": ("model", "circuit", "reaches"),
    "rack": ("height", "reaches"),
    "socket": ("connector",),
    "circuit": ("phase", "breaker", "curve"),
    "feed": ("polarity", "limiter_rms", "limiter_peak", "side", "substitute_for"),
}
THINGS = {
    kind.__name__.lower(): kind for kind in (Amplifier, Cabinet, Channel, Circuit, Feed, Line, Rack, Socket)
}
KEEP = "as it is"


def sheet_for_all(sheets: Sheets, kind: str, places: Sequence[str]) -> Sheet | None:
    """The sheet that edits all `places`, things of one kind; None where they share no field."""
    shared = SHARED.get(kind)
    if shared is None:
        return None
    each = [sheet for place in places if (sheet := sheets.of(place)) is not None]
    fields = [_maybe(field) for field in each[0].fields if field.name in shared]
    values = {field.name: _common([sheet.values.get(field.name) for sheet in each]) for field in fields}

    def make(rig: Rig, given: Values) -> Rig:
        of = {field.name: field.of for field in referring(THINGS[kind])}
        changed = {name: value for name, value in given.items() if value not in (None, KEEP)}
        for name, value in changed.items():
            if table := of.get(name):
                rig = sheets.options.with_entry(rig, table, value)
        return edits.change(rig, places, **changed) if changed else rig

    label = f"edit {len(places)} {kind}s"
    return Sheet(f"{len(places)} {kind}s at once", label, fields, values, make, lambda _given: places[0])


def _common(values: Sequence[Any]) -> Any:
    return values[0] if all(value == values[0] for value in values) else None


def _maybe(field: Field) -> Field:
    if not isinstance(field, Choice):
        return replace(field, empty=KEEP, blank=None)
    options = field.options

    def offered(values: Values) -> Sequence[Option]:
        return (Option(KEEP, "each keeps its value"), *options(values))

    return Choice(field.name, field.label, offered)
