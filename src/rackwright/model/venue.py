"""What belongs to a venue and comes back with it: the mains with what else hangs on them, where cabinets stand, how long the lines to them are.

`split` takes these facts out of a rig, `join` puts a venue's facts into a rig, so that one rig opens at another venue and
another rig at the same one. Things are matched by id; where ids differ `proposed` finds what stands in the same place or is of the
same model, which is asked once and kept with the facts. Readings prove only lines of the rig that they were taken on. What
has failed tonight and what a plan changed for it are no facts of a venue. Holds no equipment and reads no file.
"""

from collections.abc import Iterable
from typing import Any, NamedTuple, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from rackwright.model import rules
from rackwright.model.edits import EditError
from rackwright.model.lines import Access, Cabinet, Depth, Line, Role, Side, Spare
from rackwright.model.mains import Board, Circuit, Load, Supply
from rackwright.model.racks import Amplifier, Rack, channel_name
from rackwright.model.readings import Reading
from rackwright.model.rig import FORMAT, Rig, Venue
from rackwright.units import Length

M = TypeVar("M", Board, Circuit, Load)
_PLACED = ("side", "depth", "role", "access", "links_to")
"""What of a cabinet is a fact of the venue beside its position."""


class LineLength(Struct, frozen=True, kw_only=True, gc=False):
    """How long a line of that id is here."""

    line: str
    to: str = ""
    """Id of the cabinet it leads to: another rig's line of that id that leads elsewhere is another one. Any where empty."""
    length: Length


class Position(Struct, frozen=True, kw_only=True, gc=False):
    """Where a cabinet of that id stands here; what is None isn't known, and stays as the rig has it."""

    cabinet: str
    model: str = ""
    position: str = ""
    side: Side | None = None
    depth: Depth | None = None
    role: Role | None = None
    access: Access | None = None
    links_to: tuple[str, ...] | None = None


class Hookup(Struct, frozen=True, kw_only=True, gc=False):
    """The circuit that an amplifier of that id is plugged into here."""

    amplifier: str
    model: str = ""
    place: str = ""
    """Rack and unit, `R1/3`."""
    circuit: str


class Match(Struct, frozen=True, kw_only=True, gc=False):
    """What a person said once of two ids: which thing of a rig has the facts of which that the venue knows."""

    rig: str
    """Name of the rig."""
    known: str
    """The venue's id."""
    here: str = ""
    """The rig's; nothing where it is none of the rig's."""


class Reach(Struct, frozen=True, kw_only=True, gc=False):
    """The circuits that the mains leads of a rack or an amplifier of that id get to here."""

    thing: str
    circuits: tuple[str, ...]


class VenueFacts(Struct, frozen=True, kw_only=True, gc=False):
    """The facts of one venue, as one rig found them: those of another rig stand in a file of their own."""

    format: int = FORMAT
    rig: str = ""
    """Name of the rig that they were taken from; empty where they were written by hand."""
    notes: str = ""
    wet: bool = False
    venue: Venue = Venue()
    supply: Supply = Supply()
    boards: tuple[Board, ...] = ()
    circuits: tuple[Circuit, ...] = ()
    loads: tuple[Load, ...] = ()
    lines: tuple[LineLength, ...] = ()
    positions: tuple[Position, ...] = ()
    mains: tuple[Hookup, ...] = ()
    reaches: tuple[Reach, ...] = ()
    readings: tuple[Reading, ...] = ()
    """Of the meter check: they prove lines of that rig only, and only as they were."""
    matches: tuple[Match, ...] = ()
    """Of other rigs, or of this one since its ids were changed."""

    @property
    def title(self) -> str:
        """What the venue is called, and the rig by which it is known: two rigs' facts of one venue differ in it."""
        return ", as found by ".join(part for part in (self.venue.name, self.rig) if part)


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
            for a, place in _amplifiers(rig)
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


def _amplifiers(rig: Rig) -> list[tuple[Amplifier, str]]:
    """Each amplifier with its rack and unit."""
    return [(each, f"{rack.id}/{each.unit}") for rack in rig.racks for each in rack.amplifiers]


def join(rig: Rig, facts: VenueFacts) -> Joined:
    """The rig with the venue's facts in place of its own; what matches by id, or is kept as a match, is taken, the rest is listed."""
    facts = _in_words_of(rig, facts)
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
    return replace(rig, night=(), **mains, **before)


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


# --- what has another id here ---------------------------------------------------------------------------


class Proposal(NamedTuple):
    """A thing of the rig that may be what the venue knows under another id."""

    known: str
    here: str
    why: str
    """`the same position`."""


def proposed(rig: Rig, facts: VenueFacts) -> tuple[Proposal, ...]:
    """What of the rig may be what of the venue, where ids differ and nobody said yet: by position, then by model.

    By model only where there are as many left on either side, in the order in which they stand. A line goes with the cabinet that it
    leads to.
    """
    said = [match for match in facts.matches if match.rig == rig.name]
    facts, settled_ = _in_words_of(rig, facts), {match.known for match in said}

    def paired(known: list[tuple[str, str, str]], here: list[tuple[str, str, str]]) -> list[Proposal]:
        """Of ids with position and model, each side without what the other has too."""
        left = [each for each in known if each[0] not in {name for name, *_ in here} | settled_]
        mine = [each for each in here if each[0] not in {name for name, *_ in known}]
        found = []
        for at, why in ((1, "the same position"), (2, "the same model")):
            for value in dict.fromkeys(each[at].casefold() for each in mine):
                ours = [each for each in mine if each[at].casefold() == value]
                theirs = [each for each in left if each[at].casefold() == value]
                if value and len(ours) == len(theirs) and (at == 2 or len(ours) == 1):
                    found += [Proposal(a[0], b[0], why) for a, b in zip(theirs, ours, strict=True)]
                    left = [each for each in left if each not in theirs]
                    mine = [each for each in mine if each not in ours]
        return found

    cabinets = paired(
        [(each.cabinet, each.position, each.model) for each in facts.positions],
        [(each.id, each.position, each.model) for each in rig.cabinets],
    )
    amplifiers = paired(
        [(each.amplifier, each.place, each.model) for each in facts.mains],
        [(each.id, place, each.model) for each, place in _amplifiers(rig)],
    )
    stands_for = {each.known: each.here for each in cabinets}
    fitting = {(known.line, line.id) for known in facts.lines for line in rig.lines if _fits(known, line)}
    taken, measured = {one for one, _ in fitting}, {other for _, other in fitting}
    led = {
        stands_for.get(known.to, known.to): known.line
        for known in facts.lines
        if known.line not in taken | settled_
    }
    lines = [
        Proposal(led[line.to], line.id, f"the line to {line.to}")
        for line in rig.lines
        if line.id not in measured and line.to in led and led[line.to] != line.id
    ]
    return (*cabinets, *lines, *amplifiers)


def matched(rig: Rig, facts: VenueFacts, proposals: Iterable[Proposal], agreed: bool) -> VenueFacts:
    """The facts with what was said of the proposals, so that it is never asked again: those ids are one thing, or are not."""
    said = (Match(rig=rig.name, known=each.known, here=each.here if agreed else "") for each in proposals)
    return replace(facts, matches=(*facts.matches, *said))


def _in_words_of(rig: Rig, facts: VenueFacts) -> VenueFacts:
    """The facts under the ids that this rig has for them; what an id stands for that is another thing here is left out."""
    names = {match.known: match.here for match in facts.matches if match.rig == rig.name and match.here}
    if not names:
        return facts
    others = set(names.values()) - names.keys()

    def renamed(things: Iterable[Any], key: str) -> tuple[Any, ...]:
        known = ((each, getattr(each, key)) for each in things)
        return tuple(
            replace(each, **{key: names.get(name, name)}) for each, name in known if name not in others
        )

    lines = tuple(
        replace(each, line=names.get(each.line, each.line), to=names.get(each.to, each.to))
        for each in facts.lines
        if each.line not in others
    )
    positions = tuple(
        replace(each, links_to=tuple(names.get(name, name) for name in each.links_to))
        if each.links_to
        else each
        for each in renamed(facts.positions, "cabinet")
    )
    return replace(
        facts,
        lines=lines,
        positions=positions,
        mains=renamed(facts.mains, "amplifier"),
        reaches=renamed(facts.reaches, "thing"),
        readings=renamed(facts.readings, "line"),
    )


# --- matching -------------------------------------------------------------------------------------------


def _fits(known: LineLength, line: Line) -> bool:
    return known.line == line.id and known.to in ("", line.to)


def _led_elsewhere(rig: Rig, facts: VenueFacts) -> dict[str, str]:
    """Lines of the rig that at the venue lead to other cabinets: line id → the last of those cabinets."""
    lines = {line.id: line for line in rig.lines}
    return {
        known.line: known.to
        for known in facts.lines
        if known.line in lines and not _fits(known, lines[known.line])
    }


def _measured(line: Line, facts: VenueFacts) -> Line:
    return replace(
        line, length=next((known.length for known in facts.lines if _fits(known, line)), line.length)
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
    fitting = {line.id for line in rig.lines for known in facts.lines if _fits(known, line)}
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
