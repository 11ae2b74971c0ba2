"""The rules of the mains tree: boards that lead to the supply, phases that what feeds them has, loads that say what they draw."""

from collections.abc import Iterator

from rackwright.model.fields import fields
from rackwright.model.index import Index
from rackwright.model.mains import Board, Circuit, SupplyCable
from rackwright.model.readings import is_date
from rackwright.model.rig import Rig
from rackwright.model.rules.problem import Path, Problem, missing, within


def check_mains(rig: Rig, index: Index) -> Iterator[Problem]:
    """Every breach in supply, boards, circuits and loads."""
    yield from _supply(rig, index)
    for i, board in enumerate(rig.boards):
        path: Path = ("boards", i)
        if board.source and board.source not in index.boards:
            yield Problem((*path, "from"), *missing("board", board.source, index.boards))
        elif any(above.source == board.id for above in (board, *index.boards_above(board))):
            yield Problem(
                (*path, "from"),
                f"{board.id} is fed from itself: {', '.join(b.id for b in (board, *index.boards_above(board)))}",
                "Name the board that it is fed from, or leave from out where that is the supply.",
            )
            continue
        yield from _fed(path, board, board.source, index)
        yield from _cable(path, board.supply_cable)
    for i, circuit in enumerate(rig.circuits):
        path = ("circuits", i)
        if circuit.board and circuit.board not in index.boards:
            yield Problem((*path, "board"), *missing("board", circuit.board, index.boards))
        yield from _fed(path, circuit, circuit.board, index)
        yield from _cable(path, circuit.supply_cable)
        if circuit.measured and circuit.measured.when and not is_date(circuit.measured.when):
            yield Problem(
                (*path, "measured", "when"),
                f'"{circuit.measured.when}" is not a date and time',
                'Write "2026-05-01 21:00".',
            )
    for i, load in enumerate(rig.loads):
        path = ("loads", i)
        yield from within(path, load)
        if load.circuit and load.circuit not in index.circuits:
            yield Problem((*path, "circuit"), *missing("circuit", load.circuit, index.circuits))
        if (load.power is None) == (load.current is None):
            yield Problem(
                path,
                f"The load {load.id} has {'neither power nor' if load.power is None else 'both power and'} current",
                'Write one of the two, a power such as "1.2 kW" or a current such as "6 A".',
            )


def _supply(rig: Rig, index: Index) -> Iterator[Problem]:
    supply = rig.supply
    yield from within(("supply",), supply)
    used = sorted(index.used_phases)
    if supply.phases == 1 and len(used) > 1:
        yield Problem(
            ("supply", "phases"),
            f"The supply has a single phase and circuits are on {' and '.join(used)}",
            "Write phases = 3, or put every circuit on one phase.",
        )


def _fed(path: Path, thing: Circuit | Board, source: str, index: Index) -> Iterator[Problem]:
    """Phases that what feeds it lacks; that a single-phase supply has one only is said once, of the supply."""
    board = index.boards.get(source)
    there = index.phases_at(board) if board else index.supply_phases
    lacking = [phase for phase in index.phases_at(thing) if phase not in there]
    if lacking and (board or index.rig.supply.phases == 2):
        feeds = f"{board.id}, which feeds it," if board else "the split-phase supply"
        yield Problem(
            (*path, "phase"),
            f"{thing.id} is on {' and '.join(lacking)}, and {feeds} has {' and '.join(there)}",
            "Name phases of those, or feed it from where the others are.",
        )


def _cable(path: Path, cable: SupplyCable | None) -> Iterator[Problem]:
    if cable is None:
        return
    path = (*path, "supply_cable")
    yield from within(path, cable)
    for key, laid in ((field.name, field.only[1]) for field in fields(SupplyCable) if field.only[0]):
        if getattr(cable, key) is not None and cable.laid != laid:
            yield Problem(
                (*path, key),
                f"{key.capitalize()} is stated of a cable that isn't laid as {laid}",
                f'Write laid = "{laid}" too, or leave it out.',
            )
