"""The boards of a rig: what flows in each of circuits below it, and what is lost on the way there.

A circuit counts in every board above it. What is dead carries nothing. A board stays as it was where what hangs below it
and what is lost on the way to it are the same objects as before.
"""

from collections.abc import Collection, Mapping, Sequence
from operator import attrgetter, is_
from typing import NamedTuple, TypeAlias

from msgspec.structs import replace

from rackwright.engine import outage
from rackwright.engine.demand import BoardResult, CircuitResult, LineCurrent, RcdResult
from rackwright.engine.mains.breaker import Rules, band
from rackwright.engine.mains.circuit import supply_cable_resistance
from rackwright.engine.mains.currents import DUTIES, whole
from rackwright.engine.mains.flow import Fall, Flow, flowing
from rackwright.model.index import Index
from rackwright.model.mains import PHASES, Board, Circuit, Phase, Supply

_CURRENTS = tuple(attrgetter(f"{duty}_current") for duty in DUTIES)


Falls: TypeAlias = tuple[Fall | None, Fall | None]
"""What is lost up to a point at programme and driven hard; None where no cable on the way is stated."""

_NOTHING_LOST: Falls = (None, None)


class Grown(NamedTuple):
    """A board with what its result was worked out from."""

    below: list[CircuitResult]
    before: Falls
    """What is lost up to where its cable begins."""
    flows: tuple[Flow, Flow, Flow]
    falls: Falls
    result: BoardResult


class Tree(NamedTuple):
    """Circuits with what is lost on the way to them counted from the origin, boards, RCDs."""

    circuits: dict[str, CircuitResult]
    boards: dict[str, BoardResult]
    rcds: dict[str, RcdResult]
    own: dict[str, CircuitResult]
    """Circuits with what is lost in their own cables alone."""
    grown: dict[str, Grown]


def flows_of(circuits: Sequence[CircuitResult], split: bool) -> tuple[Flow, Flow, Flow]:
    """What circuits take together, at each of DUTIES.

    By `flow.flowing`, phasors [1]_.

    >>> [round(ampere, 1) for ampere in flows_of(list(hall.circuits.values()), split=False)[1].lines]
    [7.4, 6.6, 5.5]

    .. [1] Ohm's law and Kirchhoff's.
    """
    idle, programme, heavy = (
        flowing([(current(c), c.uncorrected[duty], c.phases) for c in circuits], split)
        for duty, current in enumerate(_CURRENTS)
    )
    return idle, programme, heavy


def grown(
    index: Index,
    circuits: dict[str, CircuitResult],
    leakages: Mapping[str, float],
    earlier: Tree | None = None,
) -> Tree:
    """The tree over circuits; `leakages` is the standing leakage (A) of each.

    `earlier` is that of a rig with the very same supply and boards on the same phases.
    """
    split, voltage = index.rig.supply.phases == 2, index.rig.supply.voltage.value
    above = {name: index.boards_above(circuit) for name, circuit in index.circuits.items()}
    below: dict[str, list[CircuitResult]] = {name: [] for name in index.boards}
    for name, way in above.items():
        for each in way:
            below[each.id].append(circuits[name])
    was = earlier or Tree({}, {}, {}, {}, {})
    nodes: dict[str, Grown] = {}
    for board in _from_the_origin(index):
        name = board.id
        before = nodes[board.source].falls if board.source in nodes else _NOTHING_LOST
        nodes[name] = _grown(index, board, below[name], before, was.grown.get(name), split)
    reached: dict[str, CircuitResult] = {}
    for name, circuit in circuits.items():
        node = nodes.get(circuit.board)
        if circuit is was.own.get(name) and node is was.grown.get(circuit.board):
            reached[name] = was.circuits[name]
        else:
            reached[name] = _reached(circuit, node.falls if node else _NOTHING_LOST, voltage, split)
    boards = {name: nodes[name].result for name in index.boards}
    return Tree(reached, boards, _rcds(index, circuits, above, leakages), circuits, nodes)


def _grown(
    index: Index,
    board: Board,
    below: list[CircuitResult],
    before: Falls,
    was: Grown | None,
    split: bool,
) -> Grown:
    """A board; the same as it `was` where nothing that it depends on is another object."""
    same = was if was and all_same(below, was.below) else None
    if same and same.before is before:
        return same
    flows = same.flows if same else flows_of(below, split)
    falls = _fallen(index, board, before, flows, split)
    return Grown(below, before, flows, falls, _board(index, board, below, flows, falls, split))


def all_same(now: Collection[object], before: Collection[object]) -> bool:
    """Whether both hold the very same objects, in the same order."""
    return len(now) == len(before) and all(map(is_, now, before))


def _from_the_origin(index: Index) -> list[Board]:
    """Every board after the one that feeds it."""
    return sorted(index.boards.values(), key=lambda board: len(index.boards_above(board)))


def _fallen(
    index: Index,
    board: Board,
    before: Falls,
    flows: tuple[Flow, ...],
    split: bool,
) -> Falls:
    """What is lost up to a board."""
    loop = supply_cable_resistance(board, index.rig.supply)
    if loop is None:
        return before
    programme, heavy = (
        (fall or Fall()).through(loop / 2, flow, split) for fall, flow in zip(before, flows[1:], strict=True)
    )
    return programme, heavy


def _reached(circuit: CircuitResult, falls: Falls, voltage: float, split: bool) -> CircuitResult:
    """The circuit with its drop counted from the origin."""
    if falls[0] is None or falls[1] is None or not circuit.live:
        return circuit
    own, own_heavy = circuit.own_drop
    way = [fall.drop(circuit.phases, voltage, split) for fall in falls if fall]
    return replace(circuit, drop=(own or 0.0) + way[0], drop_heavy=(own_heavy or 0.0) + way[1])


def _board(
    index: Index,
    board: Board,
    below: list[CircuitResult],
    flows: tuple[Flow, ...],
    falls: Falls,
    split: bool,
) -> BoardResult:
    phases, voltage = index.phases_at(board), index.rig.supply.voltage.value
    drops = [
        max([fall.drop((phase,), voltage, split) for phase in phases]) if fall else None for fall in falls
    ]
    return BoardResult(
        id=board.id,
        source=board.source,
        phases=phases,
        state="failed" if outage.of_circuit(index, board) else "ok",
        circuits=tuple([circuit.id for circuit in below]),
        lines=lines_of(flows, phases),
        drop=drops[0],
        drop_heavy=drops[1],
        **meeting(flows, phases, board, len(phases) > 1, split),  # type: ignore[arg-type]
        **inrush(below, phases, board, index.rig.supply.rules),  # type: ignore[arg-type]
        **whole(below, one_phase=len(phases) == 1),  # type: ignore[arg-type]
    )


def meeting(
    flows: tuple[Flow, ...], phases: Sequence[Phase], point: Board | Supply, several: bool, split: bool
) -> dict[str, float | None]:
    """The figures of a Meeting, by name, of the flows at each of DUTIES; a neutral has some where there are several phases."""
    _, programme, heavy = flows
    rating, neutral = point.rating, point.neutral or point.rating
    on = [PHASES.index(phase) for phase in phases]
    fullest, fullest_heavy = (max([lines[k] for k in on]) for lines in (programme.lines, heavy.lines))
    return {
        "rating": rating.value if rating else None,
        "fullest": fullest,
        "fullest_heavy": fullest_heavy,
        "loading": fullest / rating.value if rating else None,
        "loading_heavy": fullest_heavy / rating.value if rating else None,
        "neutral": programme.neutral(split) if several else None,
        "neutral_heavy": heavy.neutral(split) if several else None,
        "neutral_rating": neutral.value if neutral and several else None,
    }


def inrush(
    circuits: Sequence[CircuitResult], phases: Sequence[Phase], point: Board | Supply, rules: Rules
) -> dict[str, float | None]:
    """What flows on the fullest phase of a point where all below it is switched on at once, what is known of it, and where its band begins.

    All peaks as if they met: common practice, no source.

    >>> inrush(list(hall.circuits.values()), ["L1"], index.rig.supply, "iec")["inrush_limit"]
    160.0
    """
    each = [sum([c.inrush for c in circuits if phase in c.phases]) for phase in phases]
    known = [sum([c.known_inrush for c in circuits if phase in c.phases]) for phase in phases]
    edges = band(point.rating.value, point.curve, rules) if point.rating else None
    return {
        "inrush": max(each, default=0.0),
        "known_inrush": max(known, default=0.0),
        "inrush_limit": edges[0] if edges else None,
    }


def lines_of(flows: tuple[Flow, ...], phases: tuple[Phase, ...]) -> tuple[LineCurrent, ...]:
    """The current of each of those phases, `flows` being those at each of DUTIES."""
    idle, programme, heavy = (flow.lines for flow in flows)
    return tuple(
        LineCurrent(id=phase, idle_current=idle[k], programme_current=programme[k], heavy_current=heavy[k])
        for phase in phases
        for k in (PHASES.index(phase),)
    )


def _rcds(
    index: Index,
    circuits: Mapping[str, CircuitResult],
    above: Mapping[str, tuple[Board, ...]],
    leakages: Mapping[str, float],
) -> dict[str, RcdResult]:
    """Each RCD with the arithmetic sum of what leaks behind it: an upper bound, for leakages of different phases don't add up so."""
    every: tuple[Board | Circuit, ...] = (*index.boards.values(), *index.circuits.values())
    leaking = {thing.id: 0.0 for thing in every if thing.rcd}
    for name, boards in above.items():
        for node in (name, *[board.id for board in boards]) if circuits[name].live else ():
            if node in leaking:
                leaking[node] += leakages.get(name, 0.0)
    return {
        thing.id: RcdResult(id=thing.id, rating=thing.rcd.value, leakage=leaking[thing.id])
        for thing in every
        if thing.rcd
    }
