"""What a new thing is proposed to be: like the one that is selected, else like the last of its kind."""

import re
from collections.abc import Callable, Sequence
from functools import cache, partial
from typing import Any

from msgspec.structs import replace

from rackwright.console.forms.options import Options
from rackwright.console.forms.purpose import called, role_of
from rackwright.console.related import kind_of
from rackwright.console.widgets.fields import Values
from rackwright.engine.assess import assess
from rackwright.model import edits
from rackwright.model.lines import Cabinet, Line
from rackwright.model.mains import Board, Circuit, Load
from rackwright.model.racks import Amplifier, Feed, Rack, Socket
from rackwright.units import Current

MOST_TRIED = 6
"""Circuits that a new amplifier is tried on, one by one."""
ADDABLE = {
    "rack": "a rack to put amplifiers and sockets in",
    "amplifier": "into the selected rack",
    "socket": "on the selected rack's output panel",
    "cabinet": "a loudspeaker",
    "line": "a cable to a cabinet",
    "feed": "a signal from the processor",
    "circuit": "a mains circuit of the venue",
    "board": "a distribution board between supply and circuits",
    "load": "lights, backline, catering: what else hangs on a circuit",
}
"""What can be added, and where it comes."""


def proposed(options: Options, kind: str, near: str) -> Any:
    """A new thing of that kind beside the place `near`. Raises EditError where there is nowhere for it yet."""
    rig = options.rig
    match kind:
        case "rack":
            return Rack(id=_next_id(options, rig.racks, "R1"), height=12)
        case "amplifier":
            return _amplifier(options, near, "")
        case "socket":
            return _socket(options, near)
        case "cabinet":
            there = options.index.cabinets.get(options.index.thing_at(near))
            if like := there or next(reversed(rig.cabinets), None):
                return edits.working(replace(like, id=edits.next_id(rig, like.id)))
            new = Cabinet(id="", model=options.known.loudspeakers[0].id)
            return replace(new, id=_cabinet_id(options, new, new.model))
        case "line":
            return _line(options, near)
        case "feed":
            return _feed(options, near)
        case "board":
            board = Board(id=_next_id(options, rig.boards, "D1"))
            return replace(_like(options, rig.boards, board), source=_fed_at(options, near)[0])
        case "load":
            return Load(id=_next_id(options, rig.loads, "LOAD1"), circuit=_fed_at(options, near)[1])
        case _:
            circuit = Circuit(id=_next_id(options, rig.circuits, "P1"), breaker=Current.parse("16 A"))
            return replace(_like(options, rig.circuits, circuit), board=_fed_at(options, near)[0])


def _like(options: Options, existing: tuple[Any, ...], new: Any) -> Any:
    """A new one like the last of its kind, where there is one."""
    return edits.working(replace(existing[-1], id=new.id)) if existing else new


def _fed_at(options: Options, near: str) -> tuple[str, str]:
    """The ids of the board and of the circuit that the place `near` is on; nothing where it is on none."""
    index, name = options.index, options.index.thing_at(near)
    if name in index.boards:
        return name, ""
    hung = index.amplifiers.get(name) or index.loads.get(name)
    circuit = index.circuits.get(hung.circuit if hung else name)
    return (circuit.board, circuit.id) if circuit else ("", "")


def _next_id(options: Options, existing: tuple[Any, ...], first: str) -> str:
    """The next id in the pattern of the last of a kind; `first`, or the next after it, where there is none."""
    if existing:
        return edits.next_id(options.rig, existing[-1].id)
    return _free(options, first)


def rack_near(options: Options, near: str) -> str:
    """The rack that `near` is in, else the last. Raises EditError where there is none."""
    index = options.index
    name = index.thing_at(near)
    if name in index.racks:
        return name
    if name in index.rack_of:
        return index.rack_of[name].id
    if options.rig.racks:
        return options.rig.racks[-1].id
    raise edits.EditError("There is no rack for it yet. Add a rack first.")


def likely(options: Options, kind: str, thing: Any, near: str) -> dict[str, Callable[[Values], str]]:
    """Field of the new `thing` → what it is proposed to be for the model that its form says: a model has its circuit, its role."""
    match kind:
        case "amplifier":
            most = max(model.channels for model in options.known.amplifiers)
            new = cache(lambda model: thing if model == thing.model else _amplifier(options, near, model))
            return {
                "unit": lambda given: str(new(given["model"]).unit),
                "circuit": lambda given: new(given["model"]).circuit,
                **{f"feed{first + 1}": partial(_of_the_first, first) for first in range(0, most, 2)},
            }
        case "cabinet":
            like = cache(partial(_like_cabinet, options, thing))
            roles = {each.id: role_of(each) for each in options.known.loudspeakers}
            roles |= {each.model: each.role for each in (*options.rig.cabinets, thing)}
            return {
                **{each: partial(_as_like, like, each) for each in ("wiring", "priority", "depth", "access")},
                "role": lambda given: roles.get(given["model"], "audience"),
                "id": lambda given: _cabinet_id(options, thing, given["model"]),
                "side": lambda given: _side(like(given["model"]), given["id"]),
                "position": lambda given: edits.on_side_of(like(given["model"]), given["id"]).position,
            }
        case "line":
            return {
                "cable": lambda given: options.usual_line(given["source"])[0],
                "length": lambda given: options.usual_line(given["source"])[1].text,
            }
    return {}


def _of_the_first(first: int, given: Values) -> str:
    """The feed of the first channel of a pair, for the second; none where the pair has one signal anyway."""
    dual = given[f"mode{first // 2}"] in ("", "dual")
    return given[f"feed{first}"] if dual else ""


def _like_cabinet(options: Options, new: Cabinet, model: str) -> Cabinet:
    """What a new cabinet of that model is like: the one proposed where it is of it, else the last of it; else nothing there is."""
    cabinets = options.rig.cabinets
    if cabinets and new.model == model:
        return new
    last = next((each for each in reversed(cabinets) if each.model == model), None)
    return edits.working(last) if last else Cabinet(id="", model=model)


def _side(like: Cabinet, name: str) -> str:
    """The side of a new cabinet of that id: as it tells; where it is like one, and tells none, of that."""
    return edits.on_side_of(like, name).side if like.id else edits.side_told(name)


def _as_like(like: Callable[[str], Cabinet], field: str, given: Values) -> str:
    return str(getattr(like(given["model"]), field) or "")


def _cabinet_id(options: Options, new: Cabinet, model: str) -> str:
    """The next id after the last cabinet of that model, or kind; the first of its kind in the pattern of the first cabinet."""
    rig = options.rig
    if new.model == model and rig.cabinets:
        return new.id
    known = next(each for each in options.known.loudspeakers if each.id == model)
    kind = called(known)
    alike = [each.id for each in rig.cabinets if each.model == model]
    alike = alike or [
        each.id for each in rig.cabinets if re.match(rf"{kind}(?![a-z])", each.id, re.IGNORECASE)
    ]
    if alike:
        return edits.next_id(rig, alike[-1])
    pattern = re.fullmatch(r"[A-Za-z]+([-_]?)(L?)(\d*)", rig.cabinets[0].id) if rig.cabinets else None
    between, left, number = pattern.groups() if pattern else ("", "", "")
    side = left if role_of(known) == "audience" else ""
    return _free(options, f"{kind}{between}{side}{'' if side and not number else '1'.zfill(len(number))}")


def _free(options: Options, name: str) -> str:
    """That id, or the next after it that is free."""
    return edits.next_id(options.rig, name) if kind_of(options.assessment, name) else name


def _amplifier(options: Options, near: str, model: str) -> Amplifier:
    """A new one of that model; where empty of the usual one, first of one whose terminals nobody can touch."""
    rig, index, rack = options.rig, options.index, rack_near(options, near)
    here = (*rig.amplifiers(), *index.racks[rack].amplifiers)
    like = index.amplifiers.get(index.thing_at(near)) or next(reversed(here), None)
    safe_first = sorted(options.known.amplifiers, key=lambda each: each.terminals == "exposed")
    model = model or (like.model if like else safe_first[0].id)
    height = next(m.height for m in options.known.amplifiers if m.id == model)
    name = edits.next_id(rig, like.id) if like else "A1"
    known = [circuit.id for circuit in rig.circuits if circuit.state == "ok"]
    circuit = next(iter(known), "")
    if like is not None:
        circuit = edits.next_circuit(rig, index.racks[rack], like)
        if circuit == like.circuit and circuit not in known:
            known, circuit = [], ""
        elif circuit in known:
            known = [*dict.fromkeys((circuit, *_alike(options, like)))]
    unit = edits.next_free_unit(rig, rack, height) or 1
    new = Amplifier(id=name, model=model, unit=unit, circuit=circuit)
    return replace(new, circuit=_calmest(options, rack, new, known))


def _alike(options: Options, like: Amplifier) -> list[str]:
    """The circuits like its own and in its reach, its own first."""
    own, within = options.index.circuits[like.circuit], options.reached([like.id])
    return [
        each.id
        for each in dict.fromkeys((own, *options.rig.circuits))
        if each.state == "ok"
        and (each.board, len(each.phase)) == (own.board, len(own.phase))
        and (within is None or each.id in within)
    ]


def _calmest(options: Options, rack: str, new: Amplifier, known: Sequence[str]) -> str:
    """The circuit of those on which a new amplifier brings the fewest stops, then warnings; its own where all are alike.

    Its own too where there are too many to try each.
    """
    if not 1 < len(known) <= MOST_TRIED:
        return new.circuit
    rig = options.equipped(options.rig, new)

    def brings(circuit: str) -> tuple[int, int]:
        found = assess(edits.add(rig, replace(new, circuit=circuit), rack), options.assessment).findings
        return sum(f.severity == "stop" for f in found), sum(f.severity == "warn" for f in found)

    try:
        return min((new.circuit, *(name for name in known if name != new.circuit)), key=brings)
    except edits.EditError:
        return new.circuit


def _feed(options: Options, near: str) -> Feed:
    """A new one; beside a loudspeaker, or a channel that drives one, with the band of its first section that has no feed.

    Else it begins where the last one ends, where no other does and an octave is left.
    """
    feeds = options.rig.feeds
    new = Feed(id=_next_id(options, feeds, "feed1"))
    if feeds and (ends := feeds[-1].band[1]) not in [feed.band[0] for feed in feeds]:
        top = new.band[1]
        new = replace(new, band=(ends if 2 * ends.value <= top.value else new.band[0], top))
    waiting = (
        each
        for each in options.assessment.sections.values()
        if each.channel is None and near in (each.id, each.cabinet, each.patched)
    )
    if (first := next(waiting, None)) is None:
        return new
    cabinet = options.index.loudspeaker_models[options.index.cabinets[first.cabinet].model]
    section = next(each for each in cabinet.sections if each.id == first.section)
    return replace(new, band=(section.lowest, section.highest or new.band[1]))


def _socket(options: Options, near: str) -> Socket:
    rack = options.index.racks[rack_near(options, near)]
    name = edits.next_id(options.rig, rack.sockets[-1].id) if rack.sockets else f"{rack.id}-1"
    like = next(reversed(rack.sockets or options.rig.sockets()), None)
    usual = like.connector if like else options.usual_connector
    connector = next(each for each in options.known.connectors if each.id == usual)
    return Socket(id=name, connector=usual, poles=edits.poles_for_new(options.rig, rack, like, connector))


def _line(options: Options, near: str) -> Line:
    rig, index = options.rig, options.index
    sources, waiting = options.sources(), options.unfed()
    if not sources:
        raise edits.EditError("There is no socket to connect a line to. Add a socket to a rack first.")
    if not waiting:
        raise edits.EditError("Every cabinet has its line. Add a cabinet first.")
    start = index.thing_at(near)
    if start in index.lines:
        start = index.lines[start].to
    if all(option.value != start for option in sources):
        free = (socket.id for socket in rig.sockets() if not index.lines_from.get(socket.id))
        start = next(free, sources[0].value)
    waiting = options.unfed(source=start)
    to = next((o.value for o in waiting if o.value != start), waiting[0].value)
    last = next(reversed(rig.lines), None)
    cable, length = options.usual_line(start)
    return Line(
        id=edits.next_id(rig, last.id) if last else "C1", source=start, to=to, cable=cable, length=length
    )
