"""What belongs to a venue and comes back with it: supply, circuits, where cabinets stand, how long the runs to them are.

`split` takes these facts out of a rig, `join` puts a venue's facts into a rig, so that one rig opens at another venue and
another rig at the same one; `renewed` keeps the facts of several rigs in one venue. Things are matched by id. Contacts are free text. Holds no equipment and reads no file.
"""

from collections.abc import Callable
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import replace

from rackwright.model.rig import FORMAT, Amplifier, Cabinet, Circuit, Line, Rack, Reading, Rig, Supply
from rackwright.units import Length

T = TypeVar("T")


class VenueRun(Struct, frozen=True, kw_only=True, gc=False):
    """How long the run of a line of that id is here."""

    line: str
    to: str = ""
    """Id of the cabinet it leads to: another rig's line of that id that leads elsewhere is another run. Any where empty."""
    length: Length


class Place(Struct, frozen=True, kw_only=True, gc=False):
    """Where a cabinet of that id stands here."""

    cabinet: str
    position: str


class Hookup(Struct, frozen=True, kw_only=True, gc=False):
    """The circuit that an amplifier of that id is plugged into here."""

    amplifier: str
    circuit: str


class Venue(Struct, frozen=True, kw_only=True, gc=False):
    """The facts of one venue."""

    format: int = FORMAT
    venue: str = ""
    """Its name."""
    notes: str = ""
    contacts: str = ""
    """Who to call, as free text."""
    supply: Supply = Supply()
    circuits: tuple[Circuit, ...] = ()
    runs: tuple[VenueRun, ...] = ()
    places: tuple[Place, ...] = ()
    hookups: tuple[Hookup, ...] = ()
    readings: tuple[Reading, ...] = ()
    """Of the line test: they hold for these runs only."""


class Joined(Struct, frozen=True):
    """A rig at a venue, and in sentences what of the two found no match."""

    rig: Rig
    unmatched: tuple[str, ...]


def split(rig: Rig, venue: str = "", contacts: str = "") -> tuple[Venue, Rig]:
    """The venue's facts of a rig, and the rig without them: `join` puts the two together again as they were.

    The rig keeps its notes, and the last known length of each line: a length made up would make its figures look better
    than they are.
    """
    facts = Venue(
        venue=venue,
        contacts=contacts,
        supply=rig.supply,
        circuits=rig.circuits,
        runs=tuple(VenueRun(line=line.id, to=line.to, length=line.length) for line in rig.lines),
        places=tuple(Place(cabinet=c.id, position=c.position) for c in rig.cabinets if c.position),
        hookups=tuple(Hookup(amplifier=a.id, circuit=a.circuit) for a in rig.amplifiers() if a.circuit),
        readings=rig.readings,
    )
    bare = replace(
        rig,
        supply=Supply(),
        circuits=(),
        readings=(),
        cabinets=tuple(replace(cabinet, position="") for cabinet in rig.cabinets),
        racks=_hooked_up(rig.racks, {}),
    )
    return facts, bare


def join(rig: Rig, venue: Venue) -> Joined:
    """The rig with the venue's facts in place of its own; what matches by id is taken, what doesn't is told."""
    positions = {place.cabinet: place.position for place in venue.places}
    circuits = {hookup.amplifier: hookup.circuit for hookup in venue.hookups}
    lines = {line.id for line in rig.lines} - _led_elsewhere(rig, venue).keys()
    cabinets = {cabinet.id for cabinet in rig.cabinets}
    joined = replace(
        rig,
        supply=venue.supply,
        circuits=venue.circuits,
        lines=tuple(_measured(line, venue) for line in rig.lines),
        cabinets=tuple(_placed(cabinet, positions) for cabinet in rig.cabinets),
        racks=_hooked_up(rig.racks, circuits),
        readings=tuple(
            replace(reading, sounded=tuple(name for name in reading.sounded if name in cabinets))
            for reading in venue.readings
            if reading.line in lines
        ),
    )
    return Joined(joined, tuple(_unmatched(rig, venue)))


def renewed(known: Venue, now: Venue) -> Venue:
    """`now`, and what `known` tells of circuits, runs, places and hookups that `now` doesn't tell of: those of other rigs.

    Notes and contacts that `now` leaves blank stay as known.
    """
    return replace(
        now,
        notes=now.notes if now.notes.strip() else known.notes,
        contacts=now.contacts if now.contacts.strip() else known.contacts,
        circuits=_and_others(now.circuits, known.circuits, lambda circuit: circuit.id),
        runs=_and_others(now.runs, known.runs, lambda run: (run.line, run.to)),
        places=_and_others(now.places, known.places, lambda place: place.cabinet),
        hookups=_and_others(now.hookups, known.hookups, lambda hookup: hookup.amplifier),
    )


def _and_others(now: tuple[T, ...], known: tuple[T, ...], key: Callable[[T], object]) -> tuple[T, ...]:
    told = {key(item) for item in now}
    return (*now, *(item for item in known if key(item) not in told))


def _fits(run: VenueRun, line: Line) -> bool:
    return run.line == line.id and run.to in ("", line.to)


def _led_elsewhere(rig: Rig, venue: Venue) -> dict[str, str]:
    """Lines of the rig that the venue has runs of to other cabinets: line id → the last of those cabinets."""
    lines = {line.id: line for line in rig.lines}
    return {run.line: run.to for run in venue.runs if run.line in lines and not _fits(run, lines[run.line])}


def _measured(line: Line, venue: Venue) -> Line:
    return replace(line, length=next((run.length for run in venue.runs if _fits(run, line)), line.length))


def _placed(cabinet: Cabinet, positions: dict[str, str]) -> Cabinet:
    return replace(cabinet, position=positions.get(cabinet.id, ""))


def _hooked_up(racks: tuple[Rack, ...], circuits: dict[str, str]) -> tuple[Rack, ...]:
    def amplifier_at(amplifier: Amplifier) -> Amplifier:
        return replace(amplifier, circuit=circuits.get(amplifier.id, ""))

    return tuple(
        replace(rack, amplifiers=tuple(amplifier_at(amplifier) for amplifier in rack.amplifiers))
        for rack in racks
    )


def _unmatched(rig: Rig, venue: Venue) -> list[str]:
    """What the rig has and the venue knows nothing of, then the reverse: a sentence for each kind of thing."""
    elsewhere = _led_elsewhere(rig, venue)
    fitting = {line.id for line in rig.lines for run in venue.runs if _fits(run, line)}
    others = [name for name in elsewhere if name not in fitting]
    kinds = (
        ("line", [line.id for line in rig.lines], [run.line for run in venue.runs]),
        ("cabinet", [c.id for c in rig.cabinets], [p.cabinet for p in venue.places]),
        ("amplifier", [a.id for a in rig.amplifiers()], [h.amplifier for h in venue.hookups]),
    )
    lacking = {kind: [name for name in ours if name not in known] for kind, ours, known in kinds}
    spare = {kind: [name for name in dict.fromkeys(known) if name not in ours] for kind, ours, known in kinds}
    told = (
        ("line", lacking["line"], "keeps its own length: measure it", "keep their own lengths: measure them"),
        (
            "line",
            others,
            "leads to another cabinet at the venue, so it keeps its own length: measure it",
            "lead to other cabinets at the venue, so they keep their own lengths: measure them",
        ),
        (
            "cabinet",
            lacking["cabinet"],
            "has no position here: place it",
            "have no position here: place them",
        ),
        (
            "amplifier",
            lacking["amplifier"],
            "hangs on no circuit here: plug it into one",
            "hang on no circuit here: plug them into one",
        ),
    )
    return [
        *(
            f"{_named(kind.capitalize(), names)} {one if len(names) == 1 else many}."
            for kind, names, one, many in told
            if names
        ),
        *(
            f"The venue also knows {_named(kind, names)}, which the rig has not."
            for kind, names in spare.items()
            if names
        ),
    ]


def _named(kind: str, names: list[str]) -> str:
    return f"{kind}{'s' if len(names) > 1 else ''} {', '.join(names)}"
