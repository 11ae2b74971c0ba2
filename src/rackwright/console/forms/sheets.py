"""What a form asks for each kind of thing, and the edit that its values make.

One description a kind: its fields, its values now, and how values become a rig. Pure, but for asking the
library for equipment that the rig does not carry yet.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from rackwright.console.forms.fields import asked
from rackwright.console.session import kind_of
from rackwright.console.widgets.fields import Choice, Field, Measure, Option, Values, Words, fixed
from rackwright.engine.assess import Assessed
from rackwright.model import edits
from rackwright.model.equipment import Equipment, EquipmentEntry
from rackwright.model.fields import referring
from rackwright.model.rig import (
    NO_CHANNEL,
    Amplifier,
    Cabinet,
    Channel,
    Circuit,
    Feed,
    Line,
    Rack,
    Rig,
    Socket,
    Spare,
    Stock,
    Supply,
    SupplyCable,
    Targets,
    read_pole,
)
from rackwright.units import (
    Current,
    Frequency,
    Length,
)

PHASE_COUNTS = (Option("", "from the circuits"), Option("1", "single-phase"), Option("3", "three-phase"))

ADDABLE = ("rack", "amplifier", "socket", "cabinet", "line", "feed", "circuit")


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


class Maker:
    """Makes sheets for one state of a rig and one library of equipment."""

    def __init__(self, assessment: Assessed, library: Equipment) -> None:
        self.assessment, self.index = assessment, assessment.index
        self.rig = self.index.rig
        self.known = self.rig.equipment.over(library)
        self.library = library

    # --- options ---

    def _models(self, entries: Sequence[EquipmentEntry]) -> Callable[[Values], Sequence[Option]]:
        options = tuple(Option(entry.id, entry.name) for entry in entries)
        return lambda _values: options

    def _feeds(self) -> Callable[[Values], Sequence[Option]]:
        options = (
            Option("", "no feed"),
            *(Option(f.id, f"{f.band[0]} to {f.band[1]}") for f in self.rig.feeds),
        )
        return lambda _values: options

    def _circuits(self) -> Callable[[Values], Sequence[Option]]:
        options = (
            Option("", "no circuit"),
            *(
                Option(c.id, f"{'failed, ' if c.state == 'failed' else ''}{c.phase} {c.breaker} {c.curve}")
                for c in self.rig.circuits
            ),
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

    def _wirings(self, values: Values) -> Sequence[Option]:
        model = next((m for m in self.known.loudspeakers if m.id == values.get("model")), None)
        if model is None:
            return ()
        return tuple(
            Option(name, "; ".join(f"{i}: {' + '.join(pair) or 'none'}" for i, pair in enumerate(pairs, 1)))
            for name, pairs in model.wirings.items()
        )

    def _cables(self) -> tuple[Option, ...]:
        return tuple(Option(c.id, f"{c.cores} × {c.size}  {c.size.equivalent()}") for c in self.known.cables)

    # --- equipment ---

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

    # --- sheets ---

    def of(self, place: str) -> Sheet | None:
        """The sheet to edit a place with, None where there is nothing to edit."""
        index = self.index
        match kind_of(self.assessment, place):
            case "rack":
                return self._rack(index.racks[place])
            case "amplifier":
                return self._amplifier(index.amplifiers[place])
            case "channel":
                return self._channel(place)
            case "socket":
                return self._socket(index.sockets[place])
            case "pole":
                return self._pole(place)
            case "line":
                return self._line(index.lines[place])
            case "cabinet":
                return self._cabinet(index.cabinets[place])
            case "section":
                return self._cabinet(index.cabinets[self.assessment.sections[place].cabinet])
            case "circuit":
                return self._circuit(index.circuits[place])
            case "feed":
                return self._feed(index.feeds[place])
            case "rig":
                return self.settings()
            case _:
                return None

    def new(self, kind: str, near: str) -> Sheet:
        """The sheet to add a thing of that kind with, its defaults taken from what is selected."""
        match kind:
            case "rack":
                return self._rack(Rack(id=self._after(self.rig.racks, "R1"), height=12), new=True)
            case "amplifier":
                return self._amplifier(self._new_amplifier(near), new=True, rack=self._rack_near(near))
            case "socket":
                return self._socket(self._new_socket(near), new=True, rack=self._rack_near(near))
            case "cabinet":
                last = self.rig.cabinets[-1] if self.rig.cabinets else None
                near_cabinet = self.index.cabinets.get(self.index.thing_at(near)) or last
                blank = Cabinet(id="CAB-1", model=self.known.loudspeakers[0].id)
                like = near_cabinet or blank
                name = edits.next_id(self.rig, like.id) if near_cabinet else like.id
                return self._cabinet(replace(like, id=name), new=True)
            case "line":
                return self._line(self._new_line(near), new=True)
            case "feed":
                return self._feed(Feed(id=self._after(self.rig.feeds, "feed1")), new=True)
            case _:
                like_circuit = (
                    self.rig.circuits[-1]
                    if self.rig.circuits
                    else Circuit(id="P0", breaker=Current.parse("16 A"))
                )
                return self._circuit(
                    replace(like_circuit, id=edits.next_id(self.rig, like_circuit.id), state="ok"), new=True
                )

    def _after(self, existing: Sequence[Rack] | Sequence[Feed], first: str) -> str:
        """The next id in the pattern of the last of a kind; `first`, or the next after it, where there is none."""
        if existing:
            return edits.next_id(self.rig, existing[-1].id)
        return edits.next_id(self.rig, first) if kind_of(self.assessment, first) else first

    def _rack_near(self, near: str) -> str:
        index = self.index
        name = index.thing_at(near)
        if name in index.racks:
            return name
        if name in index.rack_of:
            return index.rack_of[name].id
        if self.rig.racks:
            return self.rig.racks[-1].id
        raise edits.EditError("There is no rack for it yet. Add a rack first.")

    def _new_amplifier(self, near: str) -> Amplifier:
        rack = self.index.racks[self._rack_near(near)]
        existing = self.rig.amplifiers()
        like = self.index.amplifiers.get(self.index.thing_at(near)) or (existing[-1] if existing else None)
        model = like.model if like else self.known.amplifiers[0].id
        height = next(m.height for m in self.known.amplifiers if m.id == model)
        name = edits.next_id(self.rig, like.id) if like else "A1"
        live = [circuit.id for circuit in self.rig.circuits if circuit.state == "ok"]
        circuit = like.circuit if like and like.circuit in live else "" if like else next(iter(live), "")
        unit = edits.next_free_unit(self.rig, rack.id, height) or 1
        return Amplifier(id=name, model=model, unit=unit, circuit=circuit)

    def _new_socket(self, near: str) -> Socket:
        rack = self.index.racks[self._rack_near(near)]
        existing = rack.sockets
        name = edits.next_id(self.rig, existing[-1].id) if existing else f"{rack.id}-1"
        sockets = self.rig.sockets()
        connector = (existing or sockets)[-1].connector if sockets else self._usual_connector()
        return Socket(id=name, connector=connector)

    def _usual_connector(self) -> str:
        names = [c.id for c in self.known.connectors]
        return "4-pole" if "4-pole" in names else names[0]

    def _new_line(self, near: str) -> Line:
        sources, waiting = self.sources(), self.unfed()
        if not sources:
            raise edits.EditError("There is no socket to connect a line to. Add a socket to a rack first.")
        if not waiting:
            raise edits.EditError("Every cabinet has its line. Add a cabinet first.")
        start = self.index.thing_at(near)
        if start in self.index.lines:
            start = self.index.lines[start].to
        source = start if any(o.value == start for o in sources) else self._free_socket() or sources[0].value
        to = next((o.value for o in waiting if o.value != source), waiting[0].value)
        last = self.rig.lines[-1] if self.rig.lines else None
        return Line(
            id=edits.next_id(self.rig, last.id) if last else "C1",
            source=source,
            to=to,
            cable=last.cable if last else self._usual_cable(),
            length=last.length if last else Length.parse("20 m"),
        )

    def _free_socket(self) -> str:
        return next((s.id for s in self.rig.sockets() if not self.index.lines_from.get(s.id)), "")

    def _usual_cable(self) -> str:
        names = [c.id for c in self.known.cables]
        return "flex-4x2.5" if "flex-4x2.5" in names else names[0]

    def _saver(
        self,
        old: str | None,
        build: Callable[[Values], Any],
        rack: str | None = None,
    ) -> Callable[[Rig, Values], Rig]:
        """An edit that adds what `build` gives, or sets every field of the thing called `old` to it."""

        def make(rig: Rig, values: Values) -> Rig:
            item = build(values)
            rig = self.equipped(rig, item)
            if old is None:
                return edits.add(rig, item, rack)
            return edits.change(rig, old, **{name: getattr(item, name) for name in item.__struct_fields__})

        return make

    def _rack(self, rack: Rack, new: bool = False) -> Sheet:
        return self._plain("rack", rack, new, asked(Rack))

    def _plain(self, kind: str, item: Any, new: bool, fields: Sequence[Field]) -> Sheet:
        """The sheet of a thing whose form asks for its own fields as they are."""
        values = {field.name: getattr(item, field.name) for field in fields}
        make = self._saver(None if new else item.id, lambda given: replace(item, **given))
        return self._sheet(kind, item.id, new, fields, values, make)

    def _sheet(
        self,
        kind: str,
        name: str,
        new: bool,
        fields: Sequence[Field],
        values: Values,
        make: Callable[[Rig, Values], Rig],
    ) -> Sheet:
        title = f"New {kind}" if new else f"{kind.capitalize()} {name}"
        label = f"add {kind}" if new else f"edit {name}"
        return Sheet(title, label, fields, values, make, lambda given: given["id"])

    def _amplifier(self, amplifier: Amplifier, new: bool = False, rack: str | None = None) -> Sheet:
        known = {model.id: model.channels for model in self.known.amplifiers}
        count = max(known.values())
        pairs = (count + 1) // 2
        modes: list[Field] = [
            Choice(
                f"mode{p}",
                f"Mode of channels {2 * p + 1}+{2 * p + 2}",
                _only(known, "model", 2 * p, fixed("dual", "parallel", "bridged")),
            )
            for p in range(pairs)
        ]
        feeds: list[Field] = [
            Choice(f"feed{c}", f"Feed of channel {c + 1}", _only(known, "model", c, self._feeds()))
            for c in range(count)
        ]
        fields: tuple[Field, ...] = (
            *asked(Amplifier, model=self._models(self.known.amplifiers), circuit=self._circuits()),
            *modes,
            *feeds,
        )
        values: dict[str, Any] = {
            name: getattr(amplifier, name) for name in ("id", "model", "unit", "circuit")
        }
        values |= {f"mode{p}": amplifier.pair_mode(2 * p) for p in range(pairs)}
        values |= {f"feed{c}": amplifier.channel(c).feed for c in range(count)}

        def build(given: Values) -> Amplifier:
            has = known.get(given["model"], count)
            chosen = tuple(given[f"mode{p}"] or "dual" for p in range((has + 1) // 2))
            listed = [replace(amplifier.channel(c), feed=given[f"feed{c}"]) for c in range(has)]
            while len(listed) > len(amplifier.channels) and listed[-1] == NO_CHANNEL:
                listed.pop()
            same = all(mode == amplifier.pair_mode(2 * p) for p, mode in enumerate(chosen))
            mode = amplifier.mode if same else chosen[0] if len(set(chosen)) == 1 else chosen
            return replace(
                amplifier, id=given["id"], model=given["model"], unit=given["unit"], circuit=given["circuit"],
                mode=mode, channels=tuple(listed),
            )  # fmt: skip

        make = self._saver(None if new else amplifier.id, build, rack)
        return self._sheet("amplifier", amplifier.id, new, fields, values, make)

    def _channel(self, name: str) -> Sheet:
        branch = self.assessment.branches[name]
        channel = branch.amplifier.channel(branch.channel)
        fields = asked(Channel, feed=self._feeds())
        values = {"feed": channel.feed, "state": channel.state}
        return Sheet(
            f"Channel {name}",
            f"edit {name}",
            fields,
            values,
            lambda rig, given: edits.change(rig, name, feed=given["feed"], state=given["state"]),
            lambda _given: name,
        )

    def _socket(self, socket: Socket, new: bool = False, rack: str | None = None) -> Sheet:
        known = {connector.id: connector.pole_pairs for connector in self.known.connectors}
        channels = self.channels()
        either_way = (
            *channels,
            *(Option(f"-{o.value}", f"reversed: {o.words}") for o in channels if o.value),
        )
        pairs = max(known.values())
        poles: list[Field] = [
            Choice(f"pole{p}", f"Pole pair {p + 1}", _only(known, "connector", p, lambda _values: either_way))
            for p in range(pairs)
        ]
        fields: tuple[Field, ...] = (
            *asked(Socket, connector=self._models(self.known.connectors)),
            *poles,
        )
        values = {"id": socket.id, "connector": socket.connector}
        values |= {f"pole{p}": socket.poles[p] if p < len(socket.poles) else "" for p in range(pairs)}

        def build(given: Values) -> Socket:
            wired = [given[f"pole{p}"] for p in range(known.get(given["connector"], pairs))]
            while len(wired) > len(socket.poles) and not wired[-1]:
                wired.pop()
            return replace(socket, id=given["id"], connector=given["connector"], poles=tuple(wired))

        make = self._saver(None if new else socket.id, build, rack)
        return self._sheet("socket", socket.id, new, fields, values, make)

    def _pole(self, place: str) -> Sheet:
        pair = self.index.pole_pairs[place]
        pole = read_pole(self.index.sockets[pair.socket].pole(pair.pair))
        channels = self.channels()
        fields = (
            Choice("channel", "Channel", lambda _values: channels),
            Choice("polarity", "Polarity", fixed("normal", "reversed")),
        )
        values = {
            "channel": pole.name if pole else "",
            "polarity": "reversed" if pole and pole.sign < 0 else "normal",
        }

        def make(rig: Rig, given: Values) -> Rig:
            sign = "-" if given["polarity"] == "reversed" and given["channel"] else ""
            return edits.patch(rig, pair.socket, pair.pair + 1, sign + given["channel"])

        title = f"Pole pair {pair.pair + 1} of {pair.socket}"
        return Sheet(title, f"patch {place}", fields, values, make, lambda _given: place)

    def _line(self, line: Line, new: bool = False) -> Sheet:
        sources, waiting, cables = self.sources(), self.unfed(line.to), self._cables()
        fields = asked(
            Line, source=lambda _values: sources, to=lambda _values: waiting, cable=lambda _values: cables
        )
        return self._plain("line", line, new, fields)

    def _cabinet(self, cabinet: Cabinet, new: bool = False) -> Sheet:
        fields = asked(Cabinet, model=self._models(self.known.loudspeakers), wiring=self._wirings)
        return self._plain("cabinet", cabinet, new, fields)

    def _circuit(self, circuit: Circuit, new: bool = False) -> Sheet:
        own, cable_fields, cable = asked(Circuit), asked(SupplyCable), circuit.supply_cable
        values = {field.name: getattr(circuit, field.name) for field in own}
        values |= {field.name: getattr(cable, field.name, None) for field in cable_fields}

        def build(given: Values) -> Circuit:
            if (given["length"] is None) != (given["size"] is None):
                raise edits.EditError("Give the supply cable both a length and a size, or neither.")
            cable = (
                SupplyCable(length=given["length"], size=given["size"])
                if given["length"] is not None
                else None
            )
            return replace(circuit, supply_cable=cable, **{field.name: given[field.name] for field in own})

        make = self._saver(None if new else circuit.id, build)
        return self._sheet("circuit", circuit.id, new, (*own, *cable_fields), values, make)

    def _feed(self, feed: Feed, new: bool = False) -> Sheet:
        own = asked(Feed)
        edges = Measure("start", "Band starts at", Frequency), Measure("end", "Band ends at", Frequency)
        fields = (own[0], *edges, *own[1:])
        values = {field.name: getattr(feed, field.name) for field in own}
        values |= {"start": feed.band[0], "end": feed.band[1]}

        def build(given: Values) -> Feed:
            kept = {field.name: given[field.name] for field in own}
            return replace(feed, band=(given["start"], given["end"]), **kept)

        return self._sheet("feed", feed.id, new, fields, values, self._saver(None if new else feed.id, build))

    def owned(self, item: Spare | Stock, new: bool = False) -> Sheet:
        """The sheet of what stands by for a failure, or of what the company owns; these have no id of their own."""
        table, kind = ("stock", "stock") if isinstance(item, Stock) else ("spares", "spare")
        cables, is_cable = self._cables(), bool(item.cable)
        if is_cable:
            fields = asked(type(item), "cable", "length", "count", cable=lambda _values: cables)
        else:
            fields = asked(Spare, "amplifier", "count", amplifier=self._models(self.known.amplifiers))
        values = {field.name: getattr(item, field.name) for field in fields}

        def make(rig: Rig, given: Values) -> Rig:
            now, held = replace(item, **given), getattr(rig, table)
            rig = self.equipped(rig, now)
            listed: Any = (*held, now) if new else tuple(now if each.id == item.id else each for each in held)
            return (
                edits.change_settings(rig, stock=listed)
                if kind == "stock"
                else edits.change_settings(rig, spares=listed)
            )

        what = f"{kind} {'cable' if is_cable else 'amplifier'}" if kind == "spare" else "stocked cable"
        title = f"New {what}" if new else f"{what.capitalize()} {item.id}"
        label = f"add {what}" if new else f"edit {what} {item.id}"
        return Sheet(title, label, fields, values, make, lambda given: replace(item, **given).id)

    def new_owned(self, kind: str) -> Sheet:
        """The sheet to add a thing with: kind `stock`, `cable` or `amplifier`, the last two being spares.

        It proposes the first that the rig uses and the list has not.
        """
        used: list[Spare | Stock]
        if kind == "amplifier":
            models = [
                *(a.model for a in self.rig.amplifiers()),
                *(model.id for model in self.known.amplifiers),
            ]
            used = [Spare(amplifier=model) for model in models]
        else:
            made = Stock if kind == "stock" else Spare
            own = [(line.cable, line.length) for line in self.rig.lines]
            usual = (self._usual_cable(), Length.parse("20 m"))
            used = [made(cable=cable, length=length) for cable, length in (*own, usual)]
        held = {item.id for item in (self.rig.stock if kind == "stock" else self.rig.spares)}
        return self.owned(next((item for item in used if item.id not in held), used[0]), new=True)

    def settings(self) -> Sheet:
        """The sheet of the rig's own settings: name, notes, supply, targets."""
        supply, targets = self.rig.supply, self.rig.targets
        measured, targeted = asked(Supply, phases=lambda _values: PHASE_COUNTS), asked(Targets)
        fields = (*asked(Rig, "name"), *measured, *targeted, Words("notes", "Notes", lines=4))
        names_s, names_t = [f.name for f in measured], [f.name for f in targeted]
        values = {"name": self.rig.name, "notes": self.rig.notes}
        values |= {name: getattr(supply, name) for name in names_s} | {
            name: getattr(targets, name) for name in names_t
        }
        values["phases"] = str(supply.phases or "")

        def make(rig: Rig, given: Values) -> Rig:
            phases = int(given["phases"]) if given["phases"] else None
            chosen = {name: given[name] for name in names_s} | {"phases": phases}
            new_supply: Supply = replace(rig.supply, **chosen)
            new_targets: Targets = replace(rig.targets, **{name: given[name] for name in names_t})
            same_supply, same_targets = new_supply == rig.supply, new_targets == rig.targets
            return edits.change_settings(
                rig,
                name=given["name"],
                notes=given["notes"],
                supply=None if same_supply else new_supply,
                targets=None if same_targets else new_targets,
            )

        return Sheet(
            f"Settings of {self.rig.title}", "edit settings", fields, values, make, lambda _given: ""
        )


def _only(
    sizes: Mapping[str, int], chosen: str, place: int, options: Callable[[Values], Sequence[Option]]
) -> Callable[[Values], Sequence[Option]]:
    """Options for the place of that index (from 0), none where the model chosen in field `chosen` has no such place."""

    def offered(values: Values) -> Sequence[Option]:
        return options(values) if place < sizes.get(values.get(chosen, ""), place + 1) else ()

    return offered


def _channel_words(name: str, assessment: Assessed) -> str:
    branch = assessment.branches[name]
    cabinets = list(dict.fromkeys(section.cabinet for section in branch.sections))
    drives = f"drives {', '.join(cabinets[:3])}{' …' if len(cabinets) > 3 else ''}" if cabinets else "unused"
    state = "failed, " if branch.result.state == "failed" else ""
    return f"{branch.result.feed or 'no feed'}, {state}{drives}"


def with_notes(rig: Rig, name: str, notes: str) -> Rig:
    """The rig under that name with those notes."""
    return edits.change_settings(rig, name=name, notes=notes)
