"""What a form asks for each kind of thing, and the edit that its values make.

One description a kind: its fields, its values now, and how values become a rig.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from msgspec.structs import replace

from rackwright.console.forms import settings
from rackwright.console.forms.defaults import likely, proposed, rack_near
from rackwright.console.forms.fields import Known, Span, asked
from rackwright.console.forms.options import Options
from rackwright.console.forms.sheet import Sheet
from rackwright.console.related import kind_of
from rackwright.console.widgets.fields import Choice, Field, Option, Values, Whole, fixed
from rackwright.model import edits
from rackwright.model.index import pole_or_none
from rackwright.model.lines import Cabinet, Line
from rackwright.model.mains import Board, Circuit, Load, SupplyCable
from rackwright.model.racks import NO_CHANNEL, Amplifier, Channel, Feed, Rack, Socket, read_pole
from rackwright.model.rig import Rig
from rackwright.units import Frequency

_TIMES = Whole("times", "How many like this", 1, 99)
_EACH_SIDE = Option("each side", "one left, one right")

_BEGIN = {
    "rack": "name",
    "amplifier": "circuit",
    "socket": "pole0",
    "line": "length",
    "cabinet": "position",
    "feed": "band",
    "circuit": "breaker",
    "board": "rating",
    "load": "power",
}
"""Kind → the field most likely to be changed of a thing that is there. The form of a new one begins at its top, whatever it is."""
_ABOUT = {
    "units-overlap": "unit",
    "rack-overfull": "unit",
    "cable-unprotected": "size",
    "feed-drop": "size",
    "fault-current-low": "size",
    "cable-capacity-unknown": "max_current",
    "rcd-leakage": "rcd",
    "band-too-low": "band",
    "band-misses-section": "band",
    "polarity-mixed": "polarity",
    "limiter-for-one-gain": "limiter_at",
    "over-power-without-limiter": "limiter_rms",
    "limiter-too-high": "limiter_rms",
}
"""Finding → the field that it is about, which what is wrong with begins on; what is put right first stands first."""
_ONE_OF_A_KIND = ("feed", "line", "board")
"""Kinds of which no two are alike but for what is counted on."""


class Sheets:
    """Makes sheets for one state of a rig and one library of equipment."""

    def __init__(self, options: Options, whole_mains: bool = False) -> None:
        """With `whole_mains` a circuit is asked for all there is to say of it, as where the rig has boards."""
        self.whole_mains = whole_mains or bool(options.rig.boards)
        self.options, self.assessment, self.index, self.rig = (
            options,
            options.assessment,
            options.index,
            options.rig,
        )

    def of(self, place: str) -> Sheet | None:
        """The sheet to edit a place with, None where there is nothing to edit."""
        match kind_of(self.assessment, place):
            case "":
                return None
            case "rig":
                return settings.settings(self.options)
            case "channel":
                return self._channel(place)
            case "pole":
                return self._pole(place)
            case "section":
                return self._cabinet(self.index.cabinets[self.assessment.sections[place].cabinet])
            case kind:
                sheet: Sheet = getattr(self, f"_{kind}")(getattr(self.index, f"{kind}s")[place])
                return sheet

    def new(self, kind: str, near: str) -> Sheet:
        """The sheet to add a thing of that kind with, its defaults taken from what is selected. Raises EditError."""
        into = {"rack": rack_near(self.options, near)} if kind in ("amplifier", "socket") else {}
        thing = proposed(self.options, kind, near)
        sheet: Sheet = getattr(self, f"_{kind}")(thing, new=True, **into)
        follows = likely(self.options, kind, thing, near)

        def make(rig: Rig, given: Values) -> Rig:
            """A circuit that somebody chose is for all that are added; the one proposed goes on to those with the fewest on them."""
            made = sheet.make(rig, given)
            if kind == "cabinet" and given["side"] == _EACH_SIDE.value:
                new = [each.id for each in made.cabinets if each.id not in self.index.cabinets]
                return edits.to_other_side(made, new)[0]
            if kind != "amplifier" or given["circuit"] == follows["circuit"](given):
                return made
            new = [each.id for each in made.amplifiers() if each.id not in self.index.amplifiers]
            return edits.change(made, new, circuit=given["circuit"])

        return sheet._replace(
            fields=[
                replace(each, likely=follows[each.name]) if each.name in follows else each
                for each in sheet.fields
            ],
            make=make,
        )

    def _thing(
        self,
        kind: str,
        thing: Any,
        fields: Sequence[Field],
        new: bool,
        rack: str | None = None,
        special: Mapping[str, Any] | None = None,
        build: Callable[[Any, Values], Any] = lambda item, _given: item,
    ) -> Sheet:
        """The sheet of a thing of the rig, each field being its attribute of that name.

        But for those in `special`, which has their values now: these `build` puts into the thing.
        """
        special = special or {}
        fields = sorted(fields, key=lambda field: field.name != "model")  # from it much else follows
        plain = [field.name for field in fields if field.name not in special]
        several = new and kind not in _ONE_OF_A_KIND

        def make(rig: Rig, given: Values) -> Rig:
            item = build(replace(thing, **{name: given[name] for name in plain}), given)
            rig = self.options.equipped(rig, item)
            if new:
                return edits.duplicate_times(edits.add(rig, item, rack), item.id, given.get("times", 1) - 1)[
                    0
                ]
            return edits.change(
                rig, thing.id, **{name: getattr(item, name) for name in item.__struct_fields__}
            )

        title = f"New {kind}" if new else f"{kind.capitalize()} {thing.id}"
        label = f"add {kind}" if new else f"edit {thing.id}"
        values = {**{name: getattr(thing, name) for name in plain}, **special}
        if several:
            fields, values = (*fields, _TIMES), {**values, "times": 1}
        begin = "" if new else self._wrong(thing.id, fields) or _BEGIN[kind]
        return Sheet(
            title, label, fields, values, make, lambda given: given["id"], begin, self._told_of_several, new
        )

    def _wrong(self, place: str, fields: Sequence[Field]) -> str:
        """The field of a thing that is to be put right first; empty where no finding there is about one."""
        playing = self.assessment.playing(place)
        at = {place, *(b.id for b in playing), *(each.id for b in playing for each in b.sections)}
        codes = {finding.code for finding in self.assessment.findings if finding.at in at}
        names = {field.name for field in fields}
        return next((name for code, name in _ABOUT.items() if code in codes and name in names), "")

    def _told_of_several(self, edited: Rig) -> str:
        """What drives each of several new sockets; which circuits several new amplifiers go on, where not on one; on which
        side each of several new cabinets is."""
        sockets = [each for each in edited.sockets() if each.id not in self.index.sockets]
        amplifiers = [each for each in edited.amplifiers() if each.id not in self.index.amplifiers]
        if len(sockets) > 1:
            return "; ".join(f"{s.id}: {self._driven(s) or 'not wired'}" for s in sockets)
        if len({each.circuit for each in amplifiers}) > 1:
            return "; ".join(f"{each.id} on {each.circuit or 'no circuit'}" for each in amplifiers)
        cabinets = [each for each in edited.cabinets if each.id not in self.index.cabinets]
        if len(cabinets) > 1 and any(each.side for each in cabinets):
            return "; ".join(f"{each.id} {each.side}" for each in cabinets)
        return ""

    def _driven(self, socket: Socket) -> str:
        """What drives its pole pairs, with the feeds."""
        branches = self.assessment.branches
        names = [(text, pole.name) for text in socket.poles if (pole := pole_or_none(text))]
        return ", ".join(f"{text} {branches[name].result.feed or 'no feed'}" for text, name in names)

    def _rack(self, rack: Rack, new: bool = False) -> Sheet:
        return self._thing("rack", rack, asked(Rack, reaches=self._circuits), new)

    @property
    def _circuits(self) -> Known:
        return Known("circuit", self.index.circuits)

    def _amplifier(self, amplifier: Amplifier, new: bool = False, rack: str | None = None) -> Sheet:
        known = {model.id: model.channels for model in self.options.known.amplifiers}
        count = max(known.values())
        pairs = (count + 1) // 2
        modes = fixed("dual", "parallel", "bridged")
        fields: tuple[Field, ...] = (
            *asked(
                Amplifier,
                *("id", "model", "unit", "circuit"),
                model=self.options.models(self.options.known.amplifiers),
                circuit=self.options.circuits(),
            ),
            *(
                Choice(
                    f"mode{p}",
                    f"Mode of channels {2 * p + 1}+{2 * p + 2}",
                    _only(known, "model", 2 * p, modes),
                )
                for p in range(pairs)
            ),
            *(
                Choice(f"feed{c}", f"Feed of channel {c + 1}", _only(known, "model", c, self.options.feeds()))
                for c in range(count)
            ),
            *asked(Amplifier, "reaches", reaches=self._circuits),
        )
        special: dict[str, Any] = {f"mode{p}": amplifier.pair_mode(2 * p) for p in range(pairs)}
        special |= {f"feed{c}": amplifier.channel(c).feed for c in range(count)}

        def build(item: Amplifier, given: Values) -> Amplifier:
            has = known.get(item.model, count)
            chosen = tuple(given[f"mode{p}"] or "dual" for p in range((has + 1) // 2))
            listed = [replace(amplifier.channel(c), feed=given[f"feed{c}"]) for c in range(has)]
            while len(listed) > len(amplifier.channels) and listed[-1] == NO_CHANNEL:
                listed.pop()
            same = all(mode == amplifier.pair_mode(2 * p) for p, mode in enumerate(chosen))
            mode = amplifier.mode if same else chosen[0] if len(set(chosen)) == 1 else chosen
            return replace(item, mode=mode, channels=tuple(listed))

        return self._thing("amplifier", amplifier, fields, new, rack, special, build)

    def _channel(self, name: str) -> Sheet:
        branch = self.assessment.branches[name]
        channel = branch.amplifier.channel(branch.channel)
        fields = asked(Channel, feed=self.options.feeds())
        values = {field.name: getattr(channel, field.name) for field in fields}
        return Sheet(
            f"Channel {name}",
            f"edit {name}",
            fields,
            values,
            lambda rig, given: edits.change(rig, name, **given),
            lambda _given: name,
        )

    def _socket(self, socket: Socket, new: bool = False, rack: str | None = None) -> Sheet:
        known = {connector.id: connector.pole_pairs for connector in self.options.known.connectors}
        channels = self.options.channels()
        reversed_ = (Option(f"-{o.value}", f"reversed: {o.words}") for o in channels if o.value)
        either_way = (*channels, *reversed_)
        pairs = max(known.values())
        fields: tuple[Field, ...] = (
            *asked(Socket, connector=self.options.models(self.options.known.connectors)),
            *(
                Choice(
                    f"pole{p}", f"Pole pair {p + 1}", _only(known, "connector", p, lambda _values: either_way)
                )
                for p in range(pairs)
            ),
        )
        special = {f"pole{p}": socket.poles[p] if p < len(socket.poles) else "" for p in range(pairs)}

        def build(item: Socket, given: Values) -> Socket:
            wired = [given[f"pole{p}"] for p in range(known.get(item.connector, pairs))]
            while len(wired) > len(socket.poles) and not wired[-1]:
                wired.pop()
            return replace(item, poles=tuple(wired))

        return self._thing("socket", socket, fields, new, rack, special, build)

    def _pole(self, place: str) -> Sheet:
        pair = self.index.pole_pairs[place]
        pole = read_pole(self.index.sockets[pair.socket].pole(pair.pair))
        channels = self.options.channels()
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
        """Its length stands first: the rest is said by where it was asked for."""
        waiting, cables = self.options.unfed(line.to), self.options.cables()
        fields = asked(
            Line,
            source=lambda values: self.options.sources(values["to"]),
            to=lambda _values: waiting,
            cable=lambda _values: cables,
        )
        fields = tuple(sorted(fields, key=lambda field: field.name != "length"))
        return self._thing("line", line, fields, new)

    def _cabinet(self, cabinet: Cabinet, new: bool = False) -> Sheet:
        loudspeakers = self.options.models(self.options.known.loudspeakers)
        others = Known("cabinet", [name for name in self.index.cabinets if name != cabinet.id])
        fields = asked(Cabinet, model=loudspeakers, wiring=self.options.wirings, links_to=others)
        if not new:
            return self._thing("cabinet", cabinet, fields, new)
        (side,) = asked(Cabinet, "side")
        assert isinstance(side, Choice)
        side = replace(side, options=lambda given, of=side.options: (*of(given), _EACH_SIDE))
        fields = tuple(side if each.name == "side" else each for each in fields)

        def build(item: Cabinet, given: Values) -> Cabinet:
            own = edits.side_told(item.id) or "left" if given["side"] == _EACH_SIDE.value else given["side"]
            return replace(item, side=own)

        return self._thing("cabinet", cabinet, fields, new, special={"side": cabinet.side}, build=build)

    def _circuit(self, circuit: Circuit, new: bool = False) -> Sheet:
        names = () if self.whole_mains else ("id", "phase", "breaker", "curve")
        fields = asked(Circuit, *names, board=self.options.boards())
        return self._supplied("circuit", circuit, fields, new)

    def _board(self, board: Board, new: bool = False) -> Sheet:
        return self._supplied("board", board, asked(Board, source=self.options.boards(but=(board.id,))), new)

    def _load(self, load: Load, new: bool = False) -> Sheet:
        return self._thing("load", load, asked(Load, circuit=self.options.circuits()), new)

    def _supplied(self, kind: str, thing: Circuit | Board, fields: Sequence[Field], new: bool) -> Sheet:
        """The sheet of what has a supply cable: its length and size, and of a board's all that there is to say of it."""
        whole = self.whole_mains or isinstance(thing, Board)
        of_cable = asked(SupplyCable, *(() if whole else ("length", "size")))
        special = {field.name: getattr(thing.supply_cable, field.name, None) for field in of_cable}

        def build(item: Any, given: Values) -> Any:
            if (given["length"] is None) != (given["size"] is None):
                raise edits.EditError("Give the supply cable both a length and a size, or neither.")
            said = {field.name: given[field.name] for field in of_cable}
            had = item.supply_cable
            cable = None if said["length"] is None else replace(had, **said) if had else SupplyCable(**said)
            return replace(item, supply_cable=cable)

        return self._thing(kind, thing, (*fields, *of_cable), new, special=special, build=build)

    def _feed(self, feed: Feed, new: bool = False) -> Sheet:
        feeds = Known("feed", [name for name in self.index.feeds if name != feed.id])
        channels = (Option("", "each channel"), *self.options.channels()[1:])
        name, *others = asked(Feed, substitute_for=feeds, limiter_at=lambda _values: channels)
        band = Span("band", "Band", Frequency, example="35-90")
        return self._thing("feed", feed, (name, band, *others), new)


def _only(
    sizes: Mapping[str, int], chosen: str, place: int, options: Callable[[Values], Sequence[Option]]
) -> Callable[[Values], Sequence[Option]]:
    """Options for the place of that index (from 0), none where the model chosen in field `chosen` has no such place."""

    def offered(values: Values) -> Sequence[Option]:
        return options(values) if place < sizes.get(values.get(chosen, ""), place + 1) else ()

    return offered
