"""The mains tree: intake, boards and circuits with their breakers, RCDs and supply cables, how loaded each is, and what hangs on it."""

from collections.abc import Iterator, Sequence

from rackwright.engine.assess import Assessed
from rackwright.engine.demand import Meeting
from rackwright.model.mains import Board, Circuit, Supply
from rackwright.papers.drawing import Node, Said, Strip, heading, named, paragraphs, tree, under
from rackwright.papers.marks import Marks
from rackwright.papers.typeface import BOLD
from rackwright.units import Current, percent, short

SHARES = (0.44, 0.24)
"""Of a row: the device, its supply cable; the rest is for what it carries."""
ABREAST = 4
"""Amplifiers and loads of a circuit."""
HEADS = "Device; supply cable; amperes of the most loaded phase and loading, programme and driven hard"


def mains_tree(assessment: Assessed) -> tuple[Strip, ...]:
    """Everything that is fed, once, below what feeds it."""
    index, marks = assessment.index, Marks(assessment)
    supply, result = index.rig.supply, assessment.supply
    device = (
        f"{supply.voltage}, {supply.frequency}, {'-'.join(index.supply_phases)}",
        supply.device(supply.rating, supply.curve),
    )
    fed = tuple(_fed(assessment, marks, ""))
    intake = (*named("Intake", marks.supply()), *paragraphs(*device))
    roots = [Node((intake, (), _carries(result)), fed, SHARES)]
    homeless = [a.id for a in index.rig.amplifiers() if not a.circuit]
    idle = [load.id for load in index.rig.loads if not load.circuit]
    if homeless or idle:
        roots.append(Node((named("On no circuit yet", ()),), _on(assessment, marks, homeless, idle)))
    return under(heading(*paragraphs(HEADS)), tree(roots))


def _fed(assessment: Assessed, marks: Marks, source: str) -> Iterator[Node]:
    """What hangs on a board, on the intake where `source` is empty: boards, then circuits."""
    index, supply = assessment.index, assessment.index.rig.supply
    for board in index.rig.boards:
        if board.source == source:
            result = assessment.boards[board.id]
            name = named(board.id, marks.board(board.id))
            device = (*name, *_device(supply, board, "-".join(result.phases), board.rating))
            carries = _carries(result) if result.live else ()
            below = tuple(_fed(assessment, marks, board.id))
            yield Node((device, _cable(board), carries), below, SHARES)
    for circuit in index.rig.circuits:
        if circuit.board == source:
            carried = assessment.circuits[circuit.id]
            name = named(circuit.id, marks.circuit(circuit.id))
            device = (*name, *_device(supply, circuit, circuit.phase, circuit.breaker))
            amperes = (
                _amperes(carried.programme_current, carried.loading),
                f"hard: {_amperes(carried.heavy_current, carried.loading_heavy)}",
            )
            carries = paragraphs(*amperes) if carried.live else ()
            below = _on(assessment, marks, carried.amplifiers, carried.loads)
            yield Node((device, _cable(circuit), carries), below, SHARES)


def _device(supply: Supply, thing: Board | Circuit, phases: str, rating: Current | None) -> tuple[Said, ...]:
    """Its phases, its breaker and its RCD, as far as they are stated."""
    guard = f"{supply.guard} {thing.rcd}" if thing.rcd else ""
    return paragraphs(", ".join(filter(None, (phases, supply.device(rating, thing.curve), guard))))


def _cable(thing: Board | Circuit) -> tuple[Said, ...]:
    cable = thing.supply_cable
    return paragraphs(f"{cable.length}, {cable.size}", cable.made_and_laid) if cable else ()


def _carries(point: Meeting) -> tuple[Said, ...]:
    """What a point of the tree carries on its most loaded phase, and how much that is of its rating."""
    hard = _amperes(point.fullest_heavy, point.loading_heavy)
    return paragraphs(_amperes(point.fullest, point.loading), f"hard: {hard}")


def _amperes(current: float, share: float | None) -> str:
    return f"{short(current)} A" + ("" if share is None else f", {percent(share)} %")


def _on(
    assessment: Assessed, marks: Marks, amplifiers: Sequence[str], loads: Sequence[str]
) -> tuple[Node, ...]:
    """Amplifiers with their racks and other loads with what they draw, some abreast."""
    index = assessment.index
    said = [
        *(
            (
                _name(f"{name} ({index.rack_of[name].id})"),
                *paragraphs(*marks.amplifier(name), style=BOLD),
            )
            for name in amplifiers
        ),
        *(
            (
                _name(name),
                *paragraphs(*marks.own(name), style=BOLD),
                *paragraphs(
                    index.loads[name].name, f"{index.loads[name].power or index.loads[name].current}"
                ),
            )
            for name in loads
        ),
    ]
    return tuple(
        Node(part, shares=(1 / ABREAST,) * (len(part) - (len(part) == ABREAST)))
        for part in (tuple(said[i : i + ABREAST]) for i in range(0, len(said), ABREAST))
    )


def _name(words: str) -> Said:
    return Said(words, BOLD, (13.0, 12.0, 11.0))
