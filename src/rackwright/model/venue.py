"""What belongs to a venue and comes back with it: supply, circuits, where cabinets stand, how long the runs to them are.

`split` takes these facts out of a rig, `join` puts a venue's facts into a rig, so that one rig opens at another venue and
another rig at the same one. Things are matched by id. Contacts are free text. Holds no equipment and reads no file.
"""

from msgspec import Struct
from msgspec.structs import replace

from rackwright.model.rig import FORMAT, Amplifier, Cabinet, Circuit, Line, Rack, Reading, Rig, Supply
from rackwright.units import Length


class VenueRun(Struct, frozen=True, kw_only=True, gc=False):
    """How long the run of a line of that id is here."""

    line: str
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
        runs=tuple(VenueRun(line=line.id, length=line.length) for line in rig.lines),
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
    lengths = {run.line: run.length for run in venue.runs}
    positions = {place.cabinet: place.position for place in venue.places}
    circuits = {hookup.amplifier: hookup.circuit for hookup in venue.hookups}
    lines = {line.id for line in rig.lines}
    cabinets = {cabinet.id for cabinet in rig.cabinets}
    joined = replace(
        rig,
        supply=venue.supply,
        circuits=venue.circuits,
        lines=tuple(_measured(line, lengths) for line in rig.lines),
        cabinets=tuple(_placed(cabinet, positions) for cabinet in rig.cabinets),
        racks=_hooked_up(rig.racks, circuits),
        readings=tuple(
            replace(reading, sounded=tuple(name for name in reading.sounded if name in cabinets))
            for reading in venue.readings
            if reading.line in lines
        ),
    )
    return Joined(joined, tuple(_unmatched(rig, venue)))


def _measured(line: Line, lengths: dict[str, Length]) -> Line:
    return replace(line, length=lengths.get(line.id, line.length))


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
    """What the rig has and the venue knows nothing of, and the reverse."""
    told = []
    for kind, ours, known, missing in (
        (
            "line",
            [line.id for line in rig.lines],
            [run.line for run in venue.runs],
            "keeps its own length: measure it",
        ),
        (
            "cabinet",
            [c.id for c in rig.cabinets],
            [p.cabinet for p in venue.places],
            "has no position here: place it",
        ),
        (
            "amplifier",
            [a.id for a in rig.amplifiers()],
            [h.amplifier for h in venue.hookups],
            "hangs on no circuit here: plug it into one",
        ),
    ):
        told += [f"{kind.capitalize()} {name} {missing}." for name in ours if name not in known]
        told += [
            f"The venue knows {kind} {name}, which the rig has not." for name in known if name not in ours
        ]
    return told
