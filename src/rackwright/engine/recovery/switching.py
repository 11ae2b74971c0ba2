"""The order in which the rig is switched on and off, as a list to tick: boards, other loads, desk, amplifiers; and back.

A breaker's groups are `mains.switch_on`'s. Holds no search, and nothing of what has failed: what is dead is left out.
"""

from collections.abc import Iterator, Mapping, Sequence

from rackwright.engine import mains, outage
from rackwright.engine.assess import Assessed
from rackwright.engine.demand import Plugged, point_name
from rackwright.engine.recovery.failure import baseline
from rackwright.engine.recovery.night_state import free, with_night
from rackwright.model.mains import Board
from rackwright.model.night import NightList, Step, StepKind
from rackwright.model.rig import FRONT_OF_HOUSE, Rig
from rackwright.units import reading
from rackwright.units.wording import listed

BETWEEN = 5
"""s between two groups: common practice, no source."""
ON, OFF = "Switch on", "Switch off"


def with_switching(rig: Rig, now: Assessed, on: bool, when: str = "") -> Rig:
    """The rig with a list for switching all on, or off; one that is begun goes on."""
    old, steps = switching(rig, on), tuple(_on(now) if on else _off(now))
    if old and (old.ticked or old.steps == steps):
        return rig
    kept = (each for each in rig.lists if each is not old)
    new = NightList(id=free(rig), title=ON if on else OFF, when=when, moves=(), steps=steps, returns=True)
    return with_night(rig, baseline(rig), (*kept, new))


def switching(rig: Rig, on: bool) -> NightList | None:
    """The list for switching on, or off; None where there is none."""
    title = ON if on else OFF
    return next((each for each in rig.lists if each.returns and each.title == title), None)


def _on(now: Assessed) -> Iterator[Step]:
    for board in _boards(now):
        yield _step("switch on", f"Switch on {board.id}{_rated(board)}, amplifiers behind it off", board.id)
    yield from _groups(now, now.working_loads)
    told = "Switch on processor and desk, and mute every output of the processor"
    yield _step("mute", told, FRONT_OF_HOUSE)
    yield from _groups(now, now.amplifiers)
    yield _step("unmute", "Unmute the outputs one after the other, at low level", FRONT_OF_HOUSE)


def _groups(now: Assessed, things: Mapping[str, Plugged]) -> Iterator[Step]:
    """Circuit after circuit, each in as few groups as every band on the way to it allows."""
    for circuit in now.circuits.values():
        order = mains.switch_on(circuit, things)
        edge = f"; {point_name(order.edge.at)} may trip from {reading(order.edge.current, 'A')}"
        trips = edge if circuit.inrush_limit else ""
        for group in order.groups:
            inrush = mains.group_inrush(group, things)
            told = f" (inrush {reading(inrush, 'A')} rms{trips})" if inrush else ""
            yield _step(
                "switch on",
                f"Switch on {_named(now, group)} on {circuit.id}{told}. Wait {BETWEEN} s",
                _where(now, group),
                group,
            )
        for name in order.over:
            alone = reading(things[name].inrush, "A")
            yield _step(
                "check",
                f"Leave {name} off until an electrician has looked at {circuit.id}: its inrush alone is {alone} rms{trips}",
                _where(now, (name,)),
                (name,),
            )


def _off(now: Assessed) -> Iterator[Step]:
    yield _step("mute", "Mute every output of the processor", FRONT_OF_HOUSE)
    yield from _circuits_off(now, now.amplifiers)
    told = f"Wait until every amplifier is dark, {BETWEEN} s at least. Switch off processor and desk"
    yield _step("switch off", told, FRONT_OF_HOUSE)
    yield from _circuits_off(now, now.working_loads)
    yield from (_step("switch off", f"Switch off {board.id}", board.id) for board in reversed(_boards(now)))


def _circuits_off(now: Assessed, things: Mapping[str, Plugged]) -> Iterator[Step]:
    for circuit in reversed([*now.circuits.values()]):
        on_it = (*circuit.amplifiers, *circuit.loads) if circuit.live else ()
        if names := tuple([name for name in on_it if name in things]):
            told = f"Switch off {_named(now, names)} on {circuit.id}"
            yield _step("switch off", told, _where(now, names), names)


def _named(now: Assessed, names: Sequence[str]) -> str:
    """Loads with what they are."""
    loads = now.index.loads
    return listed([f"{n} ({loads[n].name})" if n in loads and loads[n].name else n for n in names])


def _boards(now: Assessed) -> list[Board]:
    """Those that have power, each after what feeds it."""
    live = [board for board in now.index.rig.boards if outage.of_circuit(now.index, board) is None]
    return sorted(live, key=lambda board: len(now.index.boards_above(board)))


def _rated(board: Board) -> str:
    return f" ({board.rating})" if board.rating else ""


def _where(now: Assessed, names: tuple[str, ...]) -> str:
    """The racks of amplifiers, the places of loads."""
    index = now.index
    places = (index.rack_of[n].id if n in index.rack_of else index.loads[n].position for n in names)
    return listed([place for place in dict.fromkeys(places) if place] or [*names])


def _step(kind: StepKind, words: str, where: str, at: tuple[str, ...] = ()) -> Step:
    return Step(kind=kind, words=words, where=where, at=at)
