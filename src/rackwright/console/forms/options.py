"""What there is to choose from in a form: for one state of a rig, and one library of equipment."""

import math
from collections.abc import Callable, Collection, Sequence

from msgspec import Struct

from rackwright.console.forms.purpose import searched
from rackwright.console.rows.tables import described
from rackwright.console.widgets.fields import Option, Values
from rackwright.engine.assess import Assessed
from rackwright.engine.limits import LOADINGS
from rackwright.model import edits
from rackwright.model.equipment import Equipment, EquipmentEntry, Section
from rackwright.model.fields import referring
from rackwright.model.index import pole_or_none
from rackwright.model.lines import Cabinet
from rackwright.model.mains import Circuit
from rackwright.model.racks import Socket, pole_shown
from rackwright.model.rig import Rig
from rackwright.units import Length
from rackwright.units.formatting import whole_percent

MOSTLY = 0.55
"""Share of octaves that a band and a range have in common, of all that either has, from which they are meant for each other."""
ENDS = {"low": 120.0, "mid": 5e3, "high": 20e3, "full": 20e3}
"""Kind of a section → where it ends, Hz, where no data sheet says so. Both are common practice, no source."""


class Options:
    """What the fields of forms can be given."""

    def __init__(self, assessment: Assessed, library: Equipment) -> None:
        self.assessment, self.index = assessment, assessment.index
        self.rig = self.index.rig
        self.known = self.rig.equipment.over(library)
        self.library = library

    def models(self, entries: Sequence[EquipmentEntry]) -> Callable[[Values], Sequence[Option]]:
        """Equipment entries of a kind, each with what it is chosen by, then its name."""
        options = tuple(Option(entry.id, described(entry), searched(entry)) for entry in entries)
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
        loading = whole_percent(self.assessment.circuits[circuit.id].loading, *LOADINGS)
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

    def poles(self) -> tuple[Option, ...]:
        """Every pole pair of a socket, with what drives it."""
        pairs, sockets = self.index.pole_pairs.items(), self.index.sockets
        leads = {name: ", ".join(line.to for line in lines) for name, lines in self.index.lines_from.items()}
        return tuple(
            Option(name, _driven(sockets[p.socket].pole(p.pair)) + (f", line to {to}" if to else ""))
            for name, p in pairs
            for to in (leads.get(p.socket, ""),)
        )

    def sources(self, to: str = "") -> tuple[Option, ...]:
        """Every end that a line can start from, the likeliest for the cabinet `to` first, those that have a line last."""
        sockets = (
            Option(
                s.id,
                f"socket {s.connector}, {', '.join(map(_driven, s.poles or ('',)))}",
            )
            for s in self.rig.sockets()
        )
        links = (Option(c.id, f"link of {c.model}") for c in self.rig.cabinets if c.id != to)
        ends = sorted((*sockets, *links), key=lambda option: self._unlikely(option.value, to))
        lines = {end.value: [line.id for line in self.index.lines_from.get(end.value, ())] for end in ends}
        return tuple(
            end._replace(words=f"{end.words}, has {', '.join(lines[end.value])}") if lines[end.value] else end
            for end in ends
        )

    def _unlikely(self, end: str, to: str) -> int:
        """How unlikely it is that a line to the cabinet `to` starts at that end."""
        if self.index.lines_from.get(end):
            return 4
        cabinet = self.index.cabinets.get(to)
        if socket := self.index.sockets.get(end):
            return 0 if cabinet is not None and self.suits(socket, cabinet) else 2
        linked = cabinet is not None and self.index.cabinets[end].model == cabinet.model
        return 1 if linked and end in self.index.line_to else 3

    def suits(self, socket: Socket, cabinet: Cabinet) -> bool:
        """Whether the band that each pole pair of a socket plays is about the range of what hangs on it in a cabinet."""
        model = self.index.loudspeaker_models[cabinet.model]
        pairs = model.wirings[cabinet.wiring or next(iter(model.wirings))]
        sections = {section.id: section for section in model.sections}
        return all(
            self._plays(socket.pole(number), [sections[name] for name in pair])
            for number, pair in enumerate(pairs)
            if pair
        )

    def _plays(self, text: str, sections: Sequence[Section]) -> bool:
        pole = pole_or_none(text)
        branch = self.assessment.branches.get(pole.name) if pole else None
        if branch is None or branch.feed is None:
            return False
        low, high = (edge.value for edge in branch.feed.band)
        bottom = min(each.lowest.value for each in sections)
        top = max(each.highest.value if each.highest else ENDS[each.kind] for each in sections)
        both, either = min(high, top) / max(low, bottom), max(high, top) / min(low, bottom)
        return both > 1 and math.log(both) > MOSTLY * math.log(either)

    def unfed(self, also: str = "", source: str = "") -> tuple[Option, ...]:
        """The cabinets that no line leads to, and `also`; the likeliest for a line from `source` first."""
        waiting = [c for c in self.rig.cabinets if c.id not in self.index.line_to or c.id == also]
        if socket := self.index.sockets.get(source):
            waiting.sort(key=lambda cabinet: not self.suits(socket, cabinet))
        elif linked := self.index.cabinets.get(source):
            waiting.sort(key=lambda cabinet: cabinet.model != linked.model)
        return tuple(Option(c.id, ", ".join(filter(None, (c.model, c.position)))) for c in waiting)

    def usual_line(self, source: str) -> tuple[str, Length]:
        """Cable and length of a new line from there: of the last from a socket, or of the last link; 20 m and 2 m at first (common practice, no source)."""
        linked, lines = source in self.index.cabinets, self.rig.lines
        last = next(reversed(lines), None)
        like = next((n for n in reversed(lines) if (n.source in self.index.cabinets) == linked), None)
        cable = like.cable if like else last.cable if last else self.usual_cable
        if like is not None:
            return cable, like.length
        in_metres = last is None or last.length.text.endswith("m")
        first = ("2 m" if in_metres else "6 ft") if linked else ("20 m" if in_metres else "60 ft")
        return cable, Length.parse(first)

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
        return tuple(Option(c.id, f"{c.cores} × {c.size}, {c.size.equivalent()}") for c in self.known.cables)

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
    return Option("", f"no {kind}" if there else "none yet: add one later")


def _usual(name: str, entries: Sequence[EquipmentEntry]) -> str:
    names = [entry.id for entry in entries]
    return name if name in names else names[0]


def _driven(pole: str) -> str:
    """What drives a pole pair."""
    return pole_shown(pole) or "not wired"


def _channel_words(name: str, assessment: Assessed) -> str:
    branch = assessment.branches[name]
    cabinets = list(dict.fromkeys(section.cabinet for section in branch.sections))
    taps = assessment.index.taps.get((branch.amplifier.id, branch.channel), ())
    sockets = list(dict.fromkeys(socket.id for socket, _, _ in taps))
    unheard = f"on {', '.join(sockets)}, drives no cabinet" if sockets else "unused"
    drives = f"drives {', '.join(cabinets[:3])}{' …' if len(cabinets) > 3 else ''}" if cabinets else unheard
    state = "failed, " if branch.result.state == "failed" else ""
    return f"{branch.result.feed or 'no feed'}, {state}{drives}"
