"""What belongs to a venue and comes back with it: the mains with what else hangs on them, where cabinets stand, how long the lines to them are.

`split` takes these facts out of a rig, `join` puts a venue's facts into a rig, so that one rig opens at another venue and
another rig at the same one. Things are matched by id, or as `venue_ids` says. Readings prove only lines of the rig that they were taken
on. What has failed tonight and what a plan changed for it are no facts of a venue. Holds no equipment and reads no file.
"""

from collections.abc import Iterable
from typing import Any, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from rackwright.model import rules
from rackwright.model.edits import EditError
from rackwright.model.lines import Cabinet, Line, Spare
from rackwright.model.mains import Board, Circuit, Load, Supply
from rackwright.model.racks import Amplifier, Rack, channel_name
from rackwright.model.readings import of_lines
from rackwright.model.rig import Rig, Venue
from rackwright.model.venue_facts import Hookup, LineLength, Position, Reach, VenueFacts
from rackwright.model.venue_ids import amplifiers_with_place, in_words_of

M = TypeVar("M", Board, Circuit, Load)
_PLACED = ("side", "depth", "role", "access", "links_to")
"""What of a cabinet is a fact of the venue beside its position."""


class Joined(Struct, frozen=True):
    """A rig at a venue, and in sentences what of the two found no match."""

    rig: Rig
    unmatched: tuple[str, ...]


def split(rig: Rig, name: str = "") -> tuple[VenueFacts, Rig]:
    """The venue's facts of a rig, and the rig without them: `join` puts the two together again.

    The rig keeps its notes, and the last known length of each line: a length made up would make its figures look better
    than they are. Where a plan for a failure is in force, both are as before it: see `settled`.
    """
    rig = settled(rig)
    facts = VenueFacts(
        rig=rig.name,
        wet=rig.wet,
        venue=replace(rig.venue, name=name or rig.venue.name),
        supply=_live(rig.supply),
        boards=rig.boards,
        circuits=rig.circuits,
        loads=rig.loads,
        lines=tuple(LineLength(line=line.id, to=line.to, length=line.length) for line in rig.lines),
        positions=tuple(_position(cabinet) for cabinet in rig.cabinets),
        mains=tuple(
            Hookup(amplifier=a.id, model=a.model, place=place, circuit=a.circuit)
            for a, place in amplifiers_with_place(rig)
            if a.circuit
        ),
        reaches=tuple(
            Reach(thing=name, circuits=circuits)
            for rack in rig.racks
            for name, circuits in ((rack.id, rack.reaches), *((a.id, a.reaches) for a in rack.amplifiers))
            if circuits
        ),
        readings=rig.readings,
    )
    bare = replace(
        rig,
        wet=False,
        venue=Venue(),
        supply=Supply(),
        boards=(),
        circuits=(),
        loads=(),
        readings=(),
        cabinets=tuple(
            replace(cabinet, position="", side="", depth="", access="ground", links_to=())
            for cabinet in rig.cabinets
        ),
        racks=_hooked_up(rig.racks, {}, {}),
    )
    return facts, bare


def join(rig: Rig, facts: VenueFacts) -> Joined:
    """The rig with the venue's facts in place of its own; what matches by id, or is kept as a match, is taken, the rest is listed."""
    facts = in_words_of(rig, facts)
    here = settled(rig)
    positions = {item.cabinet: item for item in facts.positions}
    circuits = {hookup.amplifier: hookup.circuit for hookup in facts.mains}
    reaches = {reach.thing: reach.circuits for reach in facts.reaches}
    lines = {line.id for line in here.lines} - _led_elsewhere(here, facts).keys()
    cabinets = {cabinet.id for cabinet in here.cabinets}
    proofs = [reading for reading in facts.readings if facts.rig == rig.name and reading.stated]
    joined = replace(
        here,
        wet=facts.wet,
        venue=facts.venue,
        supply=_live(facts.supply),
        boards=_all_working(facts.boards),
        circuits=_all_working(facts.circuits),
        loads=_all_working(facts.loads),
        lines=tuple(_measured(line, facts) for line in here.lines),
        cabinets=tuple(_placed(cabinet, positions.get(cabinet.id), cabinets) for cabinet in here.cabinets),
        racks=_hooked_up(here.racks, circuits, reaches),
        readings=tuple(
            replace(reading, heard_from=tuple(name for name in reading.heard_from if name in cabinets))
            for reading in proofs
            if reading.line in lines
        ),
    )
    return Joined(joined, (*_left_behind(rig), *_of_another(rig, facts), *_unmatched(here, facts)))


def at_venue(rig: Rig, facts: VenueFacts) -> Rig:
    """The rig at the venue; itself where nothing is different there. Raises EditError where the two don't fit."""
    joined = join(rig, facts).rig
    if problems := rules.check(joined):
        raise EditError(f"This venue does not fit the rig: {problems[0]}")
    return rig if joined == rig else joined


def for_next_time(rig: Rig) -> Rig:
    """The rig of a night that is over, for the next one at the same place: no date, and nothing of that night but what still is failed."""
    return replace(settled(rig), venue=replace(rig.venue, date="", times=""))


def _left_behind(rig: Rig) -> list[str]:
    """What of tonight doesn't travel."""
    kinds: tuple[tuple[str, list[str]], ...] = (
        ("Board", [board.id for board in rig.boards if board.state == "failed"]),
        ("Circuit", [circuit.id for circuit in rig.circuits if circuit.state == "failed"]),
        ("Load", [load.id for load in rig.loads if load.state == "failed"]),
        ("Phase", [*rig.supply.failed_phases]),
    )
    said = [
        f"{_named(kind, names)} failed at the venue before: not carried over."
        for kind, names in kinds
        if names
    ]
    if rig.lists:
        said.append("Plans for failures and their lists are not carried over.")
    return said


def _of_another(rig: Rig, facts: VenueFacts) -> list[str]:
    """What to mind of facts that weren't taken from this rig."""
    said = []
    if facts.rig not in ("", rig.name):
        said.append(f"These facts are of the rig {facts.rig}: check lengths, positions and circuits on site.")
    if facts.rig != rig.name and facts.readings:
        said.append("Its readings prove nothing of this rig's lines and are left out: measure them.")
    return said


# --- tonight left out -----------------------------------------------------------------------------------


def settled(rig: Rig) -> Rig:
    """The rig as it was before the plans that are in force: nothing of the mains failed, no list, what they changed as before.

    What was changed by hand since stays so. Channels that failed stay marked, also where a spare stands in for them: they
    travel with the rig.
    """
    planned = {name for each in rig.lists for name in each.failed}
    things: tuple[Any, ...] = (
        *rig.feeds,
        *rig.racks,
        *rig.amplifiers(),
        *rig.sockets(),
        *rig.lines,
        *rig.cabinets,
    )
    now = {thing.id: thing for thing in things}

    def settled_(item: Any) -> Any:
        if isinstance(item, Rack):
            inside = {key: tuple(map(settled_, getattr(item, key))) for key in ("amplifiers", "sockets")}
            item = replace(item, **inside)
        return item if isinstance(item, Spare) else _still_failed(item, now.get(item.id), planned)

    before = {
        name: tuple(map(settled_, table))
        for night in rig.night
        for name in night.baseline.__struct_fields__
        if (table := getattr(night.baseline, name) or getattr(rig, name))
    }
    mains: dict[str, Any] = {
        name: _all_working(getattr(rig, name)) for name in ("boards", "circuits", "loads")
    }
    readings = of_lines(rig.readings, before.get("lines", rig.lines))
    return replace(rig, night=(), readings=readings, **mains, **before)


def _still_failed(item: Any, now: Any, planned: set[str]) -> Any:
    """A thing as it was before a plan, marked failed as it is now, and where the plan is for its failure."""
    kept = {name: getattr(now, name) for name in ("state", "failed_pairs", "faults") if hasattr(now, name)}
    if "state" in kept and item.id in planned:
        kept["state"] = "failed"
    if isinstance(item, Amplifier):
        was = now or item
        kept["channels"] = tuple(
            replace(
                channel,
                state="failed" if channel_name(item.id, i) in planned else was.channel(i).state,
                input_state=was.channel(i).input_state,
            )
            for i, channel in enumerate(item.channels)
        )
    return replace(item, **kept)


def _all_working(things: Iterable[M]) -> tuple[M, ...]:
    return tuple(replace(thing, state="ok") for thing in things)


# --- matching -------------------------------------------------------------------------------------------


def _led_elsewhere(rig: Rig, facts: VenueFacts) -> dict[str, str]:
    """Lines of the rig that at the venue lead to other cabinets: line id → the last of those cabinets."""
    lines = {line.id: line for line in rig.lines}
    return {
        known.line: known.to
        for known in facts.lines
        if known.line in lines and not known.fits(lines[known.line])
    }


def _measured(line: Line, facts: VenueFacts) -> Line:
    return replace(
        line, length=next((known.length for known in facts.lines if known.fits(line)), line.length)
    )


def _position(cabinet: Cabinet) -> Position:
    told = {name: getattr(cabinet, name) for name in _PLACED}
    return Position(cabinet=cabinet.id, model=cabinet.model, position=cabinet.position, **told)


def _placed(cabinet: Cabinet, here: Position | None, cabinets: set[str]) -> Cabinet:
    """The cabinet where it stands here; one that the venue doesn't know stands nowhere."""
    if here is None:
        return replace(cabinet, position="")
    known = {name: value for name in _PLACED if (value := getattr(here, name)) is not None}
    if "links_to" in known:
        known["links_to"] = tuple(name for name in known["links_to"] if name in cabinets)
    return replace(cabinet, position=here.position, **known)


def _hooked_up(
    racks: tuple[Rack, ...], circuits: dict[str, str], reaches: dict[str, tuple[str, ...]]
) -> tuple[Rack, ...]:
    def amplifier_at(amplifier: Amplifier) -> Amplifier:
        name = amplifier.id
        return replace(amplifier, circuit=circuits.get(name, ""), reaches=reaches.get(name, ()))

    return tuple(
        replace(
            rack,
            reaches=reaches.get(rack.id, ()),
            amplifiers=tuple(amplifier_at(amplifier) for amplifier in rack.amplifiers),
        )
        for rack in racks
    )


def _live(supply: Supply) -> Supply:
    return replace(supply, failed_phases=())


def _unmatched(rig: Rig, facts: VenueFacts) -> list[str]:
    """What the rig has and the venue knows nothing of, then the reverse: a sentence for each kind of thing."""
    elsewhere = _led_elsewhere(rig, facts)
    fitting = {line.id for line in rig.lines for known in facts.lines if known.fits(line)}
    others = [name for name in elsewhere if name not in fitting]
    kinds = (
        ("line", [line.id for line in rig.lines], [known.line for known in facts.lines]),
        ("cabinet", [c.id for c in rig.cabinets], [p.cabinet for p in facts.positions if p.position]),
        ("amplifier", [a.id for a in rig.amplifiers()], [h.amplifier for h in facts.mains]),
    )
    lacking = {kind: [name for name in ours if name not in known] for kind, ours, known in kinds}
    spare = {kind: [name for name in dict.fromkeys(known) if name not in ours] for kind, ours, known in kinds}
    lacks = (
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
            "is on no circuit here: plug it into one",
            "are on no circuit here: plug them into one",
        ),
    )
    return [
        *(
            f"{_named(kind.capitalize(), names)} {one if len(names) == 1 else many}."
            for kind, names, one, many in lacks
            if names
        ),
        *(
            f"The venue also knows {_named(kind, names)}, which the rig doesn't have."
            for kind, names in spare.items()
            if names
        ),
    ]


def _named(kind: str, names: list[str]) -> str:
    return f"{kind}{'s' if len(names) > 1 else ''} {', '.join(names)}"
