"""The order in which the rig is switched on and off, as a list to tick: amplifiers last on and first off.

A breaker's groups are `mains.switch_on`'s. Holds no search, and nothing of what has failed: what is dead is left out.
"""

from collections.abc import Iterator

from rackwright.engine import mains, outage
from rackwright.engine.assess import Assessed
from rackwright.engine.findings.registry import listed
from rackwright.engine.recovery.failure import baseline
from rackwright.engine.recovery.night_state import free, with_night
from rackwright.model.mains import Board
from rackwright.model.rig import FRONT_OF_HOUSE, NightList, Rig, Step, StepKind
from rackwright.units import reading

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
    yield _step(
        "mute", "Mute every output of the processor, then switch on processor and desk", FRONT_OF_HOUSE
    )
    yield from (
        _step("switch on", f"Switch on {board.id}{_rated(board)}", board.id) for board in _boards(now)
    )
    for circuit in now.circuits.values():
        order = mains.switch_on(circuit, now.amplifiers)
        for group in order.groups:
            inrush = mains.group_inrush(group, now.amplifiers)
            told = f"inrush {reading(inrush, 'A')}, {circuit.id} may trip from {reading(order.limit, 'A')}"
            yield _step(
                "switch on",
                f"Switch on {listed(group)} on {circuit.id} ({told}). Wait {BETWEEN} s",
                _racks(now, group),
                group,
            )
        for name in order.over:
            told = f"its inrush alone may trip {circuit.id}: {reading(now.amplifiers[name].inrush, 'A')} of {reading(order.limit, 'A')}"
            yield _step(
                "check",
                f"Leave {name} off until an electrician has looked at {circuit.id}: {told}",
                _racks(now, (name,)),
                (name,),
            )
    yield _step("unmute", "Unmute the outputs one after the other, at low level", FRONT_OF_HOUSE)


def _off(now: Assessed) -> Iterator[Step]:
    yield _step("mute", "Mute every output of the processor", FRONT_OF_HOUSE)
    for circuit in reversed([*now.circuits.values()]):
        if names := circuit.amplifiers if circuit.live else ():
            yield _step(
                "switch off", f"Switch off {listed(names)} on {circuit.id}", _racks(now, names), names
            )
    told = f"Wait until every amplifier is dark, {BETWEEN} s at least. Switch off processor and desk"
    yield _step("switch off", told, FRONT_OF_HOUSE)
    yield from (_step("switch off", f"Switch off {board.id}", board.id) for board in reversed(_boards(now)))


def _boards(now: Assessed) -> list[Board]:
    """Those that have power, each after what feeds it."""
    live = [board for board in now.index.rig.boards if outage.of_circuit(now.index, board) is None]
    return sorted(live, key=lambda board: len(now.index.boards_above(board)))


def _rated(board: Board) -> str:
    return f" ({board.rating})" if board.rating else ""


def _racks(now: Assessed, amplifiers: tuple[str, ...]) -> str:
    return listed(list(dict.fromkeys(now.index.rack_of[name].id for name in amplifiers)))


def _step(kind: StepKind, words: str, where: str, at: tuple[str, ...] = ()) -> Step:
    return Step(kind=kind, words=words, where=where, at=at)
