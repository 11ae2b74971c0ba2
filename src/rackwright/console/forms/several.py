"""One form for several things of a kind: the fields they can share, a field left empty staying as it is; lines to them all."""

from collections.abc import Iterable, Sequence
from typing import Any

from msgspec.structs import replace

from rackwright.console.forms.fields import lengths_to
from rackwright.console.forms.rig_sheets import Sheets
from rackwright.console.forms.sheet import Sheet
from rackwright.console.widgets.fields import Choice, Field, Measure, Option, Values, fixed
from rackwright.model import edits
from rackwright.model.fields import referring
from rackwright.model.lines import Cabinet, Line
from rackwright.model.mains import Board, Circuit, Load
from rackwright.model.racks import Amplifier, Channel, Feed, Rack, Socket
from rackwright.model.rig import Rig
from rackwright.units import Length
from rackwright.units.wording import few, so_many

MOST_PAIRS = 8
"""Pole pairs of a socket that a table shows."""
SHARED = {
    "line": ("cable", "length", "cores_per_pole"),
    "channel": ("feed", "trim", "state", "input_state"),
    "cabinet": ("model", "wiring", "priority", "position", "side", "depth", "role", "access"),
    "amplifier": ("model", "circuit", "reaches"),
    "rack": ("height", "reaches"),
    "socket": ("connector",),
    "board": ("source", "rating", "curve", "phase", "rcd"),
    "circuit": ("board", "phase", "breaker", "curve", "rcd"),
    "load": ("circuit", "power", "current", "power_factor", "leakage", "inrush"),
    "feed": ("polarity", "limiter_rms", "limiter_peak", "limiter_peak_scale", "side", "substitute_for"),
}
COLUMNS = {**SHARED, "socket": ("connector", *(f"pole{p}" for p in range(MOST_PAIRS)))}
"""The fields that each of several things can be given in its row of a table, its own too."""
THINGS = {
    kind.__name__.lower(): kind
    for kind in (Amplifier, Board, Cabinet, Channel, Circuit, Feed, Line, Load, Rack, Socket)
}
KEEP = "as it is"


def sheet_for_all(sheets: Sheets, kind: str, places: Sequence[str]) -> Sheet | None:
    """The sheet that edits all `places`, things of one kind; None where they share no field."""
    shared = SHARED.get(kind)
    if shared is None:
        return None
    each = [sheet for place in places if (sheet := sheets.of(place)) is not None]
    fields = [_maybe(field) for field in each[0].fields if field.name in shared]
    values = {
        field.name: _common(
            [sheet.values.get(field.name) for sheet in each], KEEP if isinstance(field, Choice) else None
        )
        for field in fields
    }

    def make(rig: Rig, given: Values) -> Rig:
        of = {field.name: field.of for field in referring(THINGS[kind])}
        changed = {name: value for name, value in given.items() if value not in (None, KEEP)}
        for name, value in changed.items():
            if table := of.get(name):
                rig = sheets.options.with_entry(rig, table, value)
        return edits.change(rig, places, **changed) if changed else rig

    many, begin = so_many(len(places), kind), begin_of(each[0], fields)
    return Sheet(f"{many} at once", f"edit {many}", fields, values, make, lambda _given: places[0], begin)


def begin_of(sheet: Sheet, fields: Sequence[Field]) -> str:
    """Which of some fields of a sheet to begin on: its own, else the first that is typed; the first where it names none."""
    if not sheet.begin or any(field.name == sheet.begin for field in fields):
        return sheet.begin
    return next((field.name for field in fields if not isinstance(field, Choice)), "")


EACH, CHAIN = "from a socket each", "each linked from the one before"


def sheet_of_lines(sheets: Sheets, cabinets: tuple[str, ...], as_shown: bool = True) -> Sheet:
    """The sheet that lays a line to each of several cabinets, in that order. Raises EditError where none can be laid.

    It says so where the screen does not have them in that order, which is `as_shown`.
    """
    first = sheets.new("line", cabinets[0])
    options = tuple(option for option in sheets.options.sources(cabinets[0]) if option.value not in cabinets)
    asked = {field.name: field for field in first.fields}
    length = asked["length"]
    assert isinstance(length, Measure)
    start = next((o.value for o in options if o.value in sheets.index.sockets), options[0].value)

    def lengths(given: Values) -> str:
        """What the lines are proposed to be: of a chain the first, then the links."""
        ends = [given["source"], *cabinets[:-1]] if given["laid"] == CHAIN else [given["source"]]
        return each.text(tuple(sheets.options.usual_line(end)[1] for end in ends))

    each = lengths_to(cabinets, length)
    fields = (
        replace(each, likely=lengths),
        Choice("source", "From", lambda _values: options),
        Choice("laid", "Laid", fixed(EACH, CHAIN)),
        asked["cable"],
    )
    values = {
        "source": start,
        "laid": EACH,
        "cable": sheets.options.usual_line(start)[0],
        "lengths": (sheets.options.usual_line(start)[1],),
    }

    def make(rig: Rig, given: Values) -> Rig:
        rig = sheets.options.with_entry(rig, "cables", given["cable"])
        if given["laid"] == CHAIN:
            sources: Sequence[str] = (given["source"], *cabinets[:-1])
        else:
            sources = edits.next_free_sockets(rig, given["source"], len(cabinets))
        if len(sources) < len(cabinets):
            raise edits.EditError(
                f"Free sockets from {given['source']} on: {len(sources)}, for {len(cabinets)} lines. "
                "Add sockets, or link the cabinets."
            )
        return _laid(rig, first.values["id"], zip(sources, cabinets, given["lengths"], strict=True), given)

    title = f"Lines to {', '.join(cabinets)}"
    order = "" if as_shown else "In the order in which they were chosen, not as on the screen."
    return Sheet(
        title,
        f"lay {len(cabinets)} lines",
        fields,
        values,
        make,
        lambda _given: first.values["id"],
        tells=lambda _edited: order,
        adds=True,
    )


def _laid(rig: Rig, name: str, lines: Iterable[tuple[str, str, Length]], given: Values) -> Rig:
    """The rig with lines from, to and of that length, of the cable given; the first has that id."""
    for source, to, long in lines:
        rig = edits.add(rig, Line(id=name, source=source, to=to, cable=given["cable"], length=long))
        name = edits.next_id(rig, name)
    return rig


def sheet_from_sockets(sheets: Sheets, sockets: Sequence[str], cabinets: Sequence[str]) -> Sheet:
    """The sheet that lays a line from each of several sockets to as many cabinets, in that order.

    Where no cabinets are named, to those that no line leads to: what a socket plays goes to what takes it, or on in order
    from the one that is picked. Sockets that are too many get no line, which it says. Raises EditError where none can be laid.
    """
    first = sheets.new("line", sockets[0])
    asked, index = {field.name: field for field in first.fields}, sheets.index
    waiting = [index.cabinets[option.value] for option in sheets.options.unfed()]
    pairs = dict(zip(sockets, cabinets, strict=True)) if cabinets else _fitting(sheets, sockets, waiting)
    from_, ids = tuple(pairs), [cabinet.id for cabinet in waiting]
    in_order = [(ids[at:] + ids[:at])[: len(pairs)] for at in range(len(ids))]
    runs = dict.fromkeys(", ".join(run) for run in ([*pairs.values()], *([] if cabinets else in_order)))
    length = asked["length"]
    assert isinstance(length, Measure)
    cable, long = sheets.options.usual_line(sockets[0])
    fields = (
        lengths_to(from_, length),
        Choice("to", "To", fixed(*runs)),
        replace(asked["cable"], likely=None),
    )
    values = {"to": next(iter(runs)), "cable": cable, "lengths": (long,)}
    left = [name for name in sockets if name not in pairs]
    told = f"{few(left, 3)} stay{'s' if len(left) == 1 else ''} free: {so_many(len(ids), 'cabinet')} without a line."

    def make(rig: Rig, given: Values) -> Rig:
        rig = sheets.options.with_entry(rig, "cables", given["cable"])
        lines = zip(from_, given["to"].split(", "), given["lengths"], strict=True)
        return _laid(rig, first.values["id"], lines, given)

    def tells(edited: Rig) -> str:
        new = ", ".join(f"{line.source} to {line.to}" for line in edited.lines if line.id not in index.lines)
        return f"{new}. {told}" if left else f"{new}."

    return Sheet(
        f"Lines from {', '.join(from_)}",
        f"lay {so_many(len(pairs), 'line')}",
        fields,
        values,
        make,
        lambda _given: first.values["id"],
        tells=tells,
        adds=True,
    )


def _fitting(sheets: Sheets, sockets: Sequence[str], waiting: Sequence[Cabinet]) -> dict[str, str]:
    """Socket → the first cabinet left that takes what it plays, else the first left; without sockets for which none is."""
    left, found = list(waiting), dict[str, str]()
    for fits in (sheets.options.suits, lambda _socket, _cabinet: True):
        for name in sockets:
            socket = sheets.index.sockets[name]
            to = next((each for each in left if name not in found and fits(socket, each)), None)
            if to is not None:
                left.remove(to)
                found[name] = to.id
    return {name: found[name] for name in sockets if name in found}


def sheet_to_move(sheets: Sheets, places: Sequence[str]) -> Sheet | None:
    """The sheet that plugs amplifiers and loads in elsewhere, or feeds circuits or boards from elsewhere; None for a mixture."""
    index, options = sheets.index, sheets.options
    field: Field
    if all(place in index.amplifiers or place in index.loads for place in places):
        field = Choice("circuit", "To circuit", options.circuits(options.reached(places)))
    elif all(place in index.circuits for place in places):
        field = Choice("board", "To board", options.boards())
    elif all(place in index.boards for place in places):
        field = Choice("source", "To board", options.boards(but=places))
    else:
        return None
    field = _maybe(field) if len(places) > 1 else field
    each = [sheet for place in places if (sheet := sheets.of(place)) is not None]
    value = _common([sheet.values[field.name] for sheet in each], KEEP)
    what = places[0] if len(places) == 1 else f"{len(places)} at once"

    def make(rig: Rig, given: Values) -> Rig:
        return rig if given[field.name] == KEEP else edits.change(rig, places, **given)

    return Sheet(
        f"Move {what}", f"move {what}", (field,), {field.name: value}, make, lambda _given: places[0]
    )


def _common(values: Sequence[Any], unlike: Any) -> Any:
    """What all have, `unlike` where they differ."""
    return values[0] if all(value == values[0] for value in values) else unlike


def _maybe(field: Field) -> Field:
    if not isinstance(field, Choice):
        return replace(field, empty=KEEP, blank=None)
    options = field.options

    def offered(values: Values) -> Sequence[Option]:
        return (Option(KEEP, "each keeps its value"), *options(values))

    return Choice(field.name, field.label, offered)
