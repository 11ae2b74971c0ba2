"""What there is to choose from in a form: for one state of a rig, and one library of equipment."""

from collections.abc import Callable, Collection, Sequence

from msgspec import Struct

from rackwright.console.widgets.fields import Option, Values
from rackwright.engine.assess import Assessed
from rackwright.model import edits
from rackwright.model.equipment import Equipment, EquipmentEntry
from rackwright.model.fields import referring
from rackwright.model.mains import Circuit
from rackwright.model.rig import Rig
from rackwright.units.formatting import whole_percent


class Options:
    """What the fields of forms can be given."""

    def __init__(self, assessment: Assessed, library: Equipment) -> None:
        self.assessment, self.index = assessment, assessment.index
        self.rig = self.index.rig
        self.known = self.rig.equipment.over(library)
        self.library = library

    def models(self, entries: Sequence[EquipmentEntry]) -> Callable[[Values], Sequence[Option]]:
        """Equipment entries of a kind."""
        options = tuple(Option(entry.id, entry.name) for entry in entries)
        return lambda _values: options

    def feeds(self) -> Callable[[Values], Sequence[Option]]:
        """Every feed with its band."""
        options = (
            _none("feed", self.rig.feeds),
            *(Option(f.id, f"{f.band[0]} to {f.band[1]}") for f in self.rig.feeds),
        )
        return lambda _values: options

    def circuits(self, names: Collection[str] | None = None) -> Callable[[Values], Sequence[Option]]:
        """Every circuit, or those named, with its phase, breaker and loading."""
        known = (each for each in self.rig.circuits if names is None or each.id in names)
        options = (
            _none("circuit", self.rig.circuits),
            *(Option(each.id, self._loading(each)) for each in known),
        )
        return lambda _values: options

    def _loading(self, circuit: Circuit) -> str:
        state = "failed, " if circuit.state == "failed" else ""
        loading = whole_percent(self.assessment.circuits[circuit.id].loading)
        rated = self.rig.supply.rated(circuit.breaker, circuit.curve)
        return f"{state}{circuit.phase} {rated}, {loading}"

    def reached(self, places: Sequence[str]) -> set[str] | None:
        """The circuits that the mains leads of all amplifiers among those places reach; None where nothing is known of any."""
        found: set[str] | None = None
        for amplifier in filter(None, map(self.index.amplifiers.get, places)):
            if within := amplifier.reaches or self.index.rack_of[amplifier.id].reaches:
                there = {*within, amplifier.circuit}
                found = there if found is None else found & there
        return found

    def boards(self, but: Collection[str] = ()) -> Callable[[Values], Sequence[Option]]:
        """Every board with its rating, without those in `but` and what they feed."""
        boards = (
            board
            for board in self.rig.boards
            if not {board.id, *(above.id for above in self.index.boards_above(board))} & {*but}
        )
        options = (
            Option("", "the supply"),
            *(Option(b.id, f"{b.phase} {b.rating or ''}".strip()) for b in boards),
        )
        return lambda _values: options

    def channels(self) -> tuple[Option, ...]:
        """Every channel, with what it plays and drives."""
        return (
            Option("", "not wired"),
            *(Option(b.id, _channel_words(b.id, self.assessment)) for b in self.assessment.branches.values()),
        )

    def sources(self, but: str = "") -> tuple[Option, ...]:
        """Every end that a line can start from, those with no line yet first; `but` left out."""
        ends = [
            *(
                (
                    s.id,
                    f"socket {s.connector}, {', '.join(pole or 'not wired' for pole in s.poles) or 'not wired'}",
                )
                for s in self.rig.sockets()
            ),
            *((c.id, f"link of {c.model}") for c in self.rig.cabinets if c.id != but),
        ]
        lines = {name: [line.id for line in self.index.lines_from.get(name, ())] for name, _ in ends}
        told = [
            Option(name, f"{words}, has {', '.join(lines[name])}" if lines[name] else words)
            for name, words in ends
        ]
        return tuple(sorted(told, key=lambda option: bool(lines[option.value])))

    def unfed(self, also: str = "") -> tuple[Option, ...]:
        """The cabinets that no line leads to, and `also`."""
        return tuple(
            Option(c.id, f"{c.model} {c.position}".strip())
            for c in self.rig.cabinets
            if c.id not in self.index.line_to or c.id == also
        )

    def wirings(self, values: Values) -> Sequence[Option]:
        """The wirings of the loudspeaker model that the other fields say."""
        model = next((m for m in self.known.loudspeakers if m.id == values.get("model")), None)
        if model is None:
            return ()
        return tuple(
            Option(name, "; ".join(f"{i}: {' + '.join(pair) or 'none'}" for i, pair in enumerate(pairs, 1)))
            for name, pairs in model.wirings.items()
        )

    def cables(self) -> tuple[Option, ...]:
        """Every cable model with its cores."""
        return tuple(Option(c.id, f"{c.cores} × {c.size}  {c.size.equivalent()}") for c in self.known.cables)

    def carried(self, rig: Rig, entry: EquipmentEntry) -> Rig:
        """The rig carrying that equipment entry, and what it refers to."""
        return edits.with_equipment(self.equipped(rig, entry), entry)

    def equipped(self, rig: Rig, thing: Struct) -> Rig:
        """The rig carrying the equipment that a thing refers to, from the library what it has not."""
        for field in referring(type(thing)):
            if name := getattr(thing, field.name):
                rig = self.with_entry(rig, field.of, name)
        return rig

    def with_entry(self, rig: Rig, kind: str, name: str) -> Rig:
        """The rig carrying the equipment entry of that kind and id, from the library where it has none."""
        if any(entry.id == name for entry in getattr(rig.equipment, kind)):
            return rig
        entry = next((entry for entry in getattr(self.library, kind) if entry.id == name), None)
        if entry is None:
            raise edits.EditError(f'There is no equipment "{name}". Choose one of the list.')
        return self.carried(rig, entry)

    @property
    def usual_cable(self) -> str:
        """What a line is of where nothing tells."""
        return _usual("flex-4x2.5", self.known.cables)

    @property
    def usual_connector(self) -> str:
        """What a socket has where nothing tells."""
        return _usual("4-pole", self.known.connectors)


def _none(kind: str, there: Sequence[Struct]) -> Option:
    """None of a kind; where none is there, how to get one."""
    return Option("", f"no {kind}" if there else "none yet: apply, then a adds one")


def _usual(name: str, entries: Sequence[EquipmentEntry]) -> str:
    names = [entry.id for entry in entries]
    return name if name in names else names[0]


def _channel_words(name: str, assessment: Assessed) -> str:
    branch = assessment.branches[name]
    cabinets = list(dict.fromkeys(section.cabinet for section in branch.sections))
    taps = assessment.index.taps.get((branch.amplifier.id, branch.channel), ())
    sockets = list(dict.fromkeys(socket.id for socket, _, _ in taps))
    unheard = f"on {', '.join(sockets)}, drives no cabinet" if sockets else "unused"
    drives = f"drives {', '.join(cabinets[:3])}{' …' if len(cabinets) > 3 else ''}" if cabinets else unheard
    state = "failed, " if branch.result.state == "failed" else ""
    return f"{branch.result.feed or 'no feed'}, {state}{drives}"
